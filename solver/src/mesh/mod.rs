//! Structured O-grid of eight-node quadrilaterals, fitted to both outlines of the section.
//!
//! The lattice has half-steps: position `i` round (even: element ends, odd: element middles) and `j` through
//! the wall from the bore (0) to the outside (`2 * through`). There is a node wherever not both are odd.
//! Boundary nodes lie on the true outlines. Read [`Mesh`] first, then [`Grading`].

mod grading;

pub use grading::{
    Grading, bisected_between, equal_between, graded_between, graded_layers, graded_sizes,
};

use crate::geometry::{Outline, PerSurface, Surface};

/// A mesh that cannot be built.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum MeshError {
    /// The wall folds or vanishes.
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

/// Eight-node quadrilaterals round a wall.
///
/// Nodes are numbered line by line with the angle, from the bore outwards in each line; unknowns are
/// node-major, `[ux0, uy0, ux1, uy1, ...]`. Element `(column, layer)` has number `column * through + layer`.
#[derive(Clone, Debug, PartialEq)]
pub struct Mesh {
    around: usize,
    through: usize,
    closed: bool,
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
            around,
            through,
            closed,
            angles,
            layers: fractions,
            coords: Vec::new(),
        };
        mesh.fit(outlines)?;
        Ok(mesh)
    }

    /// Moves the nodes to new outlines; numbering and lattice stay.
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
        self.coords.reserve(self.lines_nodes());
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

    fn lines_nodes(&self) -> usize {
        self.around * (3 * self.through + 2) + if self.closed { 0 } else { 2 * self.through + 1 }
    }

    /// Elements round the ring.
    pub fn around(&self) -> usize {
        self.around
    }

    /// Elements through the wall.
    pub fn through(&self) -> usize {
        self.through
    }

    /// Whether the last column meets the first.
    pub fn is_closed(&self) -> bool {
        self.closed
    }

    /// Angle of each lattice line, rad: element ends and middles in turn.
    pub fn angles(&self) -> &[f64] {
        &self.angles
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
        self.coords.len()
    }

    /// Number of elements.
    pub fn elements(&self) -> usize {
        self.around * self.through
    }

    /// Node at lattice position `(i, j)`; `i` wraps in a closed ring. Not both may be odd.
    pub fn node(&self, i: usize, j: usize) -> usize {
        let i = if self.closed {
            i % (2 * self.around)
        } else {
            i
        };
        let line = (i / 2) * (3 * self.through + 2);
        if i.is_multiple_of(2) {
            line + j
        } else {
            line + 2 * self.through + 1 + j / 2
        }
    }

    /// Nodes of element `(column, layer)`: corners counter-clockwise, then the middles of the sides in the same
    /// order, as in VTK cell type 23. Side 0 faces the bore, side 2 the outside.
    pub fn element_nodes(&self, column: usize, layer: usize) -> [usize; 8] {
        let (i, j) = (2 * column, 2 * layer);
        // counter-clockwise with the angle: bore side runs against the angle
        [
            self.node(i + 2, j),
            self.node(i, j),
            self.node(i, j + 2),
            self.node(i + 2, j + 2),
            self.node(i + 1, j),
            self.node(i, j + 1),
            self.node(i + 1, j + 2),
            self.node(i + 2, j + 1),
        ]
        .map(|n| n)
    }

    /// Nodes of a surface, one a lattice line, in order of [`Mesh::angles`].
    pub fn boundary(&self, surface: Surface) -> Vec<usize> {
        let j = match surface {
            Surface::Outer => 2 * self.through,
            Surface::Bore => 0,
        };
        (0..self.angles.len()).map(|i| self.node(i, j)).collect()
    }
}
