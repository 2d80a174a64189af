//! A hold closed on the mesh of a round ring again and again, where its two surfaces alone are wanted.
//!
//! All loads are reduced once (`linear::Factor::reduce`). The displacement at the pressures then comes from the reduced loads, and that of the
//! surfaces from back substitution of their sum alone: nothing is eliminated any more. What is kept depends on where the pads press and on
//! nothing that was asked before.

use std::sync::Arc;

use super::clamped::{Clamped, Points};
use super::closing::{Closing, Dead};
use super::elastic::{Elastic, Sum};
use super::pressure::PressureDof;
use super::quadratic::Gram;
use super::section::{MeshedWall, Section};
use super::surface::BoreMeans;
use super::winkler::Winkler;
use super::{Clamp, ContactError, Radius, Rounds};
use crate::geometry::{PerSurface, Surface};
use crate::linear::{Substructured, Wanted};
use crate::mesh::Mesh;

/// The pressures of a hold on a round ring, and what has been asked of its factor.
pub(crate) struct RingSurfaces {
    /// The hold that it was made for.
    of: Clamp,
    section: Section<Arc<Substructured>>,
    dofs: Vec<PressureDof>,
    gram: Gram,
    /// Nodes of the bore, then of the outside, line by line.
    surfaces: Wanted,
    /// Where those are, mm.
    coords: Vec<[f64; 2]>,
    bore: BoreMeans,
}

/// A held ring as its surfaces show it.
pub(crate) struct HeldSurfaces {
    /// The contact, without the displacement of a mesh and without nodal forces.
    pub state: Clamped,
    /// Displacement of both surfaces at the mesh's lines, mm.
    pub displacement: PerSurface<Vec<[f64; 2]>>,
}

impl RingSurfaces {
    /// A hold on a round ring, factored on this mesh. Gaps are measured from `gap_surface` (mm over rad).
    ///
    /// # Errors
    /// [`ContactError::NoLine`].
    pub fn new(
        clamp: &Clamp,
        factor: Arc<Substructured>,
        mesh: &Mesh,
        gap_surface: &Radius,
    ) -> Result<Self, ContactError> {
        let dofs = clamp.dofs_on(mesh, gap_surface)?;
        let wall = MeshedWall { mesh, first: 0 };
        let nodes: Vec<usize> = [Surface::Bore, Surface::Outer]
            .into_iter()
            .flat_map(|s| mesh.boundary(s))
            .collect();
        let surfaces = factor.wanted_at(&nodes);
        let coords = nodes.iter().map(|&n| mesh.coords()[n]).collect();
        let mut section = Section::new(factor, &[wall], &dofs, Vec::new());
        section.reduce_all();
        Ok(Self {
            of: clamp.clone(),
            section,
            dofs,
            gram: Gram::default(),
            surfaces,
            coords,
            bore: BoreMeans::new(mesh),
        })
    }

    /// Sets the same pads with other faces and gaps against the ring (arguments as for [`RingSurfaces::new`]); `false` if pressures would act
    /// at other places.
    ///
    /// # Errors
    /// [`ContactError::NoLine`].
    pub fn set(
        &mut self,
        clamp: &Clamp,
        mesh: &Mesh,
        gap_surface: &Radius,
    ) -> Result<bool, ContactError> {
        if !self.of.presses_alike(clamp) {
            return Ok(false);
        }
        self.dofs = clamp.dofs_on(mesh, gap_surface)?;
        Ok(true)
    }

    /// Whether a hold can be closed so: pressed by its bodies alone, without sleeves and dead loads.
    pub fn serves(clamp: &Clamp) -> bool {
        let dead = !clamp.patches().is_empty() || !clamp.points().is_empty();
        clamp.sleeves().is_empty() && !dead && clamp.poisson_expansion() == 0.0
    }

    /// Clamps the ring; `start` and `rounds` as for [`Clamp::clamp`].
    ///
    /// # Errors
    /// See [`ContactError`].
    pub fn clamp(
        &mut self,
        clamp: &Clamp,
        start: Option<&Clamped>,
        rounds: &Rounds,
    ) -> Result<HeldSurfaces, ContactError> {
        let Self {
            section,
            dofs,
            gram,
            ..
        } = self;
        let count = dofs.len();
        let closed = {
            let mut dead = |_: usize| {
                Ok(Dead {
                    weighted: vec![0.0; count],
                    resultant: vec![0.0; 2],
                    size: 0.0,
                })
            };
            let mut layer = Winkler::new(dofs, clamp.bodies());
            let mut bodies: Vec<&mut dyn Elastic> = vec![&mut *section];
            bodies.extend(layer.as_mut().map(|l| l as &mut dyn Elastic));
            let closing = Closing {
                body: &mut Sum::new(bodies),
                dofs,
                gram,
                dead: &mut dead,
                rounds,
            };
            clamp.close(closing, start.map(|s| s.active_like(dofs)))?
        };
        let mut moved = section.displaced(&closed.solution.pressures, &self.surfaces);
        let loads = section.loads().to_vec();
        let dofs = dofs.clone();
        let points = Points {
            coords: &self.coords,
            means: &|u| self.bore.of(|line| u[line]),
        };
        let state = points.settled(clamp, dofs, loads, closed, &mut moved);
        Ok(HeldSurfaces {
            state,
            displacement: self.by_surface(moved),
        })
    }

    /// Displacement of both surfaces at the mesh's lines under some pressures (by their numbers, MPa) alone but for a rigid motion, mm.
    pub fn under(&self, pressures: &[(usize, f64)]) -> PerSurface<Vec<[f64; 2]>> {
        let mut all = vec![0.0; self.dofs.len()];
        for &(h, p) in pressures {
            all[h] += p;
        }
        self.by_surface(self.section.displaced(&all, &self.surfaces))
    }

    fn by_surface(&self, mut moved: Vec<[f64; 2]>) -> PerSurface<Vec<[f64; 2]>> {
        let outer = moved.split_off(self.bore.len());
        PerSurface { outer, bore: moved }
    }
}
