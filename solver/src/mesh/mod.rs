//! Structured O-grid of eight-node quadrilaterals, fitted to both outlines of the section.
//!
//! [`Topology`] says which nodes and elements there are and how they meet; a [`Mesh`] lays one between two outlines: it adds the
//! angles of the columns, the fractions of the layers and the coordinates, with the boundary nodes on the true outlines. [`Grading`]
//! says where columns are fine.

mod grading;
mod meridian;
mod topology;

pub use meridian::{AxialGrading, MeridianMesh, MeridianSizes};
pub use topology::{ELEMENT_NODES, Topology};

pub use grading::{Grading, equal_between, graded_between, graded_layers};
pub(crate) use grading::{bisected_between, graded_sizes};

use std::f64::consts::TAU;

use crate::geometry::{Outline, PerSurface, Surface};

/// A mesh that cannot be built.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum MeshError {
    /// The bore meets the outside.
    #[error(
        "the wall is {thickness:.4} mm thick at {angle_deg:.1} deg: the bore meets the outside there"
    )]
    NoWall {
        /// Where, degrees.
        angle_deg: f64,
        /// Thickness along the radius, mm.
        thickness: f64,
    },
}

/// Eight-node quadrilaterals round a wall: a [`Topology`] with coordinates.
///
/// Unknowns of the plane are node-major, `[ux0, uy0, ux1, uy1, ...]`.
#[derive(Clone, Debug, PartialEq)]
pub struct Mesh {
    topology: Topology,
    angles: Vec<f64>,
    layers: Vec<f64>,
    coords: Vec<[f64; 2]>,
}

impl Mesh {
    /// Builds a mesh whose column ends stand at `ends` (rad, increasing) and whose layer ends stand at `layers`
    /// (fractions of the wall, from 0 at the bore to 1). A closed ring's last column ends at `ends[0]` plus a turn,
    /// which `ends` leaves out; an open one (slit) ends at the last entry.
    ///
    /// # Errors
    /// [`MeshError::NoWall`] where the wall is thinner than a millionth of the radius.
    ///
    /// # Panics
    /// With fewer than two columns in a closed ring, one in an open one, or no layer.
    pub fn build(
        outlines: &PerSurface<Outline>,
        ends: &[f64],
        layers: &[f64],
        closed: bool,
    ) -> Result<Self, MeshError> {
        let around = if closed { ends.len() } else { ends.len() - 1 };
        let through = layers.len() - 1;
        let end = |k: usize| {
            if k < ends.len() {
                ends[k]
            } else {
                ends[0] + std::f64::consts::TAU
            }
        };
        let mut angles = Vec::with_capacity(2 * around + 1);
        for k in 0..around {
            angles.push(end(k));
            angles.push(0.5 * (end(k) + end(k + 1)));
        }
        if !closed {
            angles.push(end(around));
        }
        let mut fractions = Vec::with_capacity(2 * through + 1);
        for l in 0..through {
            fractions.push(layers[l]);
            fractions.push(0.5 * (layers[l] + layers[l + 1]));
        }
        fractions.push(layers[through]);
        let mut mesh = Self {
            topology: Topology::new(around, through, closed),
            angles,
            layers: fractions,
            coords: Vec::new(),
        };
        mesh.fit(outlines)?;
        Ok(mesh)
    }

    /// Moves the nodes to new outlines; the topology stays.
    ///
    /// # Errors
    /// As [`Mesh::build`]; the mesh is then unchanged.
    pub fn fit(&mut self, outlines: &PerSurface<Outline>) -> Result<(), MeshError> {
        let radii = PerSurface::from_fn(|s| {
            self.angles
                .iter()
                .map(|&t| outlines.get(s).radius(t))
                .collect::<Vec<_>>()
        });
        self.fit_radii(&radii)
    }

    /// As [`Mesh::fit`], with the radii (mm) of both surfaces at [`Mesh::angles`].
    ///
    /// # Errors
    /// As [`Mesh::build`].
    pub fn fit_radii(&mut self, radii: &PerSurface<Vec<f64>>) -> Result<(), MeshError> {
        for (i, &t) in self.angles.iter().enumerate() {
            let (bore, outer) = (radii.bore[i], radii.outer[i]);
            let thickness = outer - bore;
            if thickness.is_nan() || thickness < 1e-6 * outer || bore <= 0.0 {
                return Err(MeshError::NoWall {
                    angle_deg: t.to_degrees(),
                    thickness,
                });
            }
        }
        self.coords.clear();
        self.coords.reserve(self.topology.nodes());
        for (i, &t) in self.angles.iter().enumerate() {
            let (s, c) = t.sin_cos();
            let (bore, outer) = (radii.bore[i], radii.outer[i]);
            let step = if i % 2 == 0 { 1 } else { 2 };
            for x in self.layers.iter().step_by(step) {
                let r = bore + x * (outer - bore);
                self.coords.push([r * c, r * s]);
            }
        }
        Ok(())
    }

    /// Which nodes and elements there are and how they meet.
    pub fn topology(&self) -> &Topology {
        &self.topology
    }

    /// Elements round the ring.
    pub fn around(&self) -> usize {
        self.topology.around()
    }

    /// Elements through the wall.
    pub fn through(&self) -> usize {
        self.topology.through()
    }

    /// Whether the last column meets the first.
    pub fn is_closed(&self) -> bool {
        self.topology.is_closed()
    }

    /// Angle of each lattice line, rad: element ends and middles in turn.
    pub fn angles(&self) -> &[f64] {
        &self.angles
    }

    /// Width of the element at an angle, rad.
    pub fn width_at(&self, angle: f64) -> f64 {
        let Some(&start) = self.angles.first() else {
            return TAU;
        };
        let at = start + (angle - start).rem_euclid(TAU);
        // two lattice lines an element
        let line = (self.angles.partition_point(|&a| a <= at) - 1) & !1;
        let end = self.angles.get(line + 2).copied().unwrap_or(start + TAU);
        end - self.angles[line]
    }

    /// Position of each half-layer, as a fraction of the wall from the bore.
    pub fn layers(&self) -> &[f64] {
        &self.layers
    }

    /// Coordinates of the nodes, mm.
    pub fn coords(&self) -> &[[f64; 2]] {
        &self.coords
    }

    /// Number of nodes.
    pub fn nodes(&self) -> usize {
        self.topology.nodes()
    }

    /// Number of elements.
    pub fn elements(&self) -> usize {
        self.topology.elements()
    }

    /// See [`Topology::node`].
    pub fn node(&self, i: usize, j: usize) -> usize {
        self.topology.node(i, j)
    }

    /// See [`Topology::element_nodes`].
    pub fn element_nodes(&self, column: usize, layer: usize) -> [usize; ELEMENT_NODES] {
        self.topology.element_nodes(column, layer)
    }

    /// The nodes of every element, column by column, each from the bore outward.
    pub fn connectivity(&self) -> impl Iterator<Item = [usize; ELEMENT_NODES]> + '_ {
        (0..self.around()).flat_map(move |column| {
            (0..self.through()).map(move |layer| self.element_nodes(column, layer))
        })
    }

    /// Nodes of a surface, one a lattice line, in order of [`Mesh::angles`].
    pub fn boundary(&self, surface: Surface) -> Vec<usize> {
        self.topology.boundary(surface)
    }
}
