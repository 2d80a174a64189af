//! What a part is solved with on its mesh.
//!
//! A round ring has a factor by substructuring. A nearly round one is solved with that of its mean ring (`contact::NearRing`,
//! `linear::solve_near`), corrected until the true mesh is in equilibrium, so no sparse factor is made and none is held in memory. What is
//! not served so, or does not settle, has its sparse factor.

use std::sync::Arc;

use super::ProcessError;
use super::sample::mean;
use super::statics::sparse;
use super::step::{Against, Setting};
use crate::contact::{
    Clamp, Clamped, ContactError, HeldSurfaces, KeptCompliances, NearRing, RingSurfaces,
    fix_rigid_body_modes,
};
use crate::element::PlaneStress;
use crate::geometry::{Outline, PerSurface, Surface};
use crate::linear::{
    Cholesky, Elements, Factor, LinearError, SETTLED, Substructured, internal_forces, solve_near,
};
use crate::mesh::Mesh;
use crate::watch::Progress;

/// Most that an outline may differ from its mean circle, as a share of the mean wall, for the mean ring to be tried. At 1440x8 a held blank
/// uneven by a sixth still takes 0.6 of the time with the sparse factor, a cut of it 0.95 with the corrections given up on the way.
const MOST_UNEVEN: f64 = 0.2;

/// Share of the wall by which it may vary within a step, and most walls there are: bending goes with the cube of the wall, and a factor in
/// steps takes half the corrections that the mean ring's would; more of them cost more than they save.
const STEP: f64 = 0.03;
const MOST_WALLS: f64 = 6.0;

/// Columns that share a width, in the mean, for the mean ring's factor to be worth its dense blocks.
const ALIKE: usize = 8;

/// Widths that differ by less (rad) are one.
const SAME_WIDTH: f64 = 1e-12;

/// What a part on a lattice is solved with. Its nodes may move; whoever moves them says so.
#[derive(Default)]
pub(super) struct OnMesh {
    /// The factor of the round ring that it is, and a hold on it of which the surfaces alone were asked for.
    round: Option<Arc<Substructured>>,
    surfaces: Option<RingSurfaces>,
    /// The factor of the round ring that it nearly is.
    near: Option<Near>,
    /// Its sparse factor, made where there is neither.
    sparse: Option<Cholesky>,
    /// Whether that is of the part as it stands.
    fresh: bool,
    /// Compliances of the last hold, by the factor of the part as it stands.
    kept: KeptCompliances,
    /// Where it is clamped again and again until an outline has settled: what each time may leave out of the root of the energy, as a share. The
    /// next starts from what it left.
    in_cut: Option<f64>,
}

/// A mean ring, and the contact on it once there is any.
struct Near {
    ring: Mesh,
    factor: Arc<Substructured>,
    contact: Option<NearRing>,
}

/// The part as it stands, with the nodal forces of its residual stress (N).
#[derive(Clone, Copy)]
pub(super) struct Standing<'a> {
    pub mesh: &'a Mesh,
    pub law: &'a PlaneStress,
    pub load: Option<&'a [[f64; 2]]>,
}

impl<'a> Standing<'a> {
    fn elements(self) -> Elements<'a> {
        Elements {
            mesh: self.mesh,
            law: self.law,
        }
    }
}

impl OnMesh {
    /// For the body of a setting, on this mesh of it.
    ///
    /// # Errors
    /// If it cannot be factored.
    pub fn of_body(setting: &Setting, part: Standing) -> Result<Self, ProcessError> {
        let round = Surface::BOTH
            .into_iter()
            .all(|s| setting.body.outlines.get(s).as_round().is_some());
        let mut made = Self::default();
        if !round {
            made.stand_near(part, &radii_of(part.mesh))?;
            return Ok(made);
        }
        match Substructured::new(part.mesh, part.law) {
            Err(LinearError::ManySubstructures) => {}
            factor => made.round = Some(Arc::new(factor?)),
        }
        Ok(made)
    }

    /// Takes the mean ring of outlines (mm, at the mesh's angles) that the part is going to have, where that serves.
    ///
    /// # Errors
    /// If the mean ring has no wall.
    pub fn stand_near(
        &mut self,
        part: Standing,
        radii: &PerSurface<Vec<f64>>,
    ) -> Result<(), ProcessError> {
        (self.round, self.surfaces, self.near) = (None, None, None);
        self.stale();
        let means = PerSurface::from_fn(|s| mean(radii.get(s)));
        let wall = means.outer - means.bore;
        let off = |s: Surface| {
            let m = means.get(s);
            let radii = radii.get(s).iter();
            radii.fold(0.0_f64, |most, r| most.max((r - m).abs()))
        };
        let uneven = off(Surface::Outer).max(off(Surface::Bore));
        if uneven > MOST_UNEVEN * wall || !are_alike(part.mesh) {
            return Ok(());
        }
        let law = *part.law;
        #[cfg(test)]
        let Some(law) = tests::ring_law(&law) else {
            return Ok(());
        };
        let outlines = PerSurface::from_fn(|s| Outline::round(*means.get(s)));
        let mut ring = part.mesh.clone();
        ring.fit(&outlines)?;
        let factor = match steps(radii, &means) {
            Some(walls) => Substructured::stepped(&ring, &law, &walls),
            None => Substructured::new(&ring, &law),
        };
        // what cannot be factored so is the sparse factor's to solve or to refuse
        self.near = factor.ok().map(|factor| Near {
            factor: Arc::new(factor),
            ring,
            contact: None,
        });
        Ok(())
    }

    /// The part's nodes have moved, in an iteration of a cut that may leave out a share of the root of the energy.
    pub fn moved(&mut self, within: f64) {
        self.stale();
        self.in_cut = Some(within);
    }

    /// What the last iteration of a cut may have left out.
    pub fn left_out(&self) -> f64 {
        self.near.as_ref().and(self.in_cut).unwrap_or_default()
    }

    /// What was made of the part as it stood is of no use any more.
    fn stale(&mut self) {
        self.fresh = false;
        self.kept = KeptCompliances::default();
    }

    /// Clamps the part; arguments as for [`Setting::clamped`].
    ///
    /// # Errors
    /// See [`ProcessError`].
    pub fn clamped(
        &mut self,
        setting: &Setting,
        clamp: &Clamp,
        part: Standing,
        start: Option<&Clamped>,
        at: &Progress,
    ) -> Result<Clamped, ProcessError> {
        if !NearRing::serves(clamp) {
            self.near = None;
        }
        let settled = self.in_cut.unwrap_or(SETTLED);
        if let Some(near) = &mut self.near {
            match near.clamped(
                setting,
                clamp,
                part,
                start,
                at,
                settled,
                self.in_cut.is_none(),
            ) {
                Ok(Some(held)) => {
                    #[cfg(test)]
                    tests::closed();
                    return Ok(held);
                }
                Err(ContactError::Stopped(stop)) => {
                    return Err(setting.contact(ContactError::Stopped(stop), at));
                }
                // what a mean ring has no answer to may have one, and the sparse factor has the last word
                Ok(None) | Err(_) => self.near = None,
            }
        }
        let mut kept = std::mem::take(&mut self.kept);
        let against = Against {
            factor: self.factor(part)?,
            mesh: part.mesh,
            load: part.load,
        };
        let held = setting.clamped(clamp, against, &mut kept, start, at);
        self.kept = kept;
        held
    }

    /// Clamps the part for its surfaces alone; arguments as for [`OnMesh::clamped`]. `None` where the whole part is to be solved for.
    ///
    /// The answer does not depend on what was asked before.
    ///
    /// # Errors
    /// See [`ProcessError`].
    pub fn surfaces(
        &mut self,
        setting: &Setting,
        clamp: &Clamp,
        part: Standing,
        start: Option<&Clamped>,
        at: &Progress,
    ) -> Result<Option<HeldSurfaces>, ProcessError> {
        let Some(round) = &self.round else {
            return Ok(None);
        };
        if part.load.is_some() || !RingSurfaces::serves(clamp) {
            return Ok(None);
        }
        setting.tell(at)?;
        let gap_surface = |s: Surface, t: f64| setting.body.outlines.get(s).radius(t);
        let rounds = |round: usize| setting.watch.at(&Progress { round, ..*at });
        let kept = self.surfaces.take();
        let close = || {
            let mut known = kept;
            if let Some(ring) = &mut known
                && !ring.set(clamp, part.mesh, &gap_surface)?
            {
                known = None;
            }
            let mut ring = match known {
                Some(ring) => ring,
                None => RingSurfaces::new(clamp, Arc::clone(round), part.mesh, &gap_surface)?,
            };
            let held = ring.clamp(clamp, start, &rounds)?;
            Ok((ring, held))
        };
        let (ring, held) = close().map_err(|e| setting.contact(e, at))?;
        self.surfaces = Some(ring);
        Ok(Some(held))
    }

    /// Displacement of both surfaces at the mesh's lines (mm) under some pressures (by their numbers, MPa) of the hold whose surfaces were asked for last, alone
    /// but for a rigid motion; `None` where none were.
    pub fn surfaces_under(
        &mut self,
        pressures: &[(usize, f64)],
    ) -> Option<PerSurface<Vec<[f64; 2]>>> {
        Some(self.surfaces.as_mut()?.under(pressures))
    }

    /// Displacement (mm) under a load on every node that balances (N), but for a rigid motion; `settled` of the root of its energy may be
    /// missing.
    ///
    /// # Errors
    /// See [`ProcessError`].
    pub fn solve(
        &mut self,
        part: Standing,
        load: &[[f64; 2]],
        settled: f64,
    ) -> Result<Vec<[f64; 2]>, ProcessError> {
        if let Some(near) = &self.near {
            if let Some(u) = solve_near(&near.factor, part.elements(), load, settled)? {
                return Ok(u);
            }
            self.near = None;
        }
        Ok(self.factor(part)?.solve(load)?)
    }

    /// The same to all digits, rigid-body modes fixed by the rule of [`fix_rigid_body_modes`].
    ///
    /// # Errors
    /// See [`ProcessError`].
    pub fn free(
        &mut self,
        part: Standing,
        load: &[[f64; 2]],
    ) -> Result<Vec<[f64; 2]>, ProcessError> {
        let mut u = self.solve(part, load, SETTLED)?;
        fix_rigid_body_modes(part.mesh, &mut u);
        Ok(u)
    }

    /// `K u`, N.
    ///
    /// # Errors
    /// If an element is inverted.
    pub fn forces(&self, part: Standing, u: &[[f64; 2]]) -> Result<Vec<[f64; 2]>, ProcessError> {
        Ok(match (&self.round, &self.sparse) {
            (Some(factor), _) => factor.forces(u),
            (_, Some(factor)) if self.fresh => factor.forces(u),
            _ => internal_forces(part.mesh, part.law, u)?,
        })
    }

    /// The factor of the part as it stands.
    ///
    /// # Errors
    /// If it cannot be factored.
    pub fn factor(&mut self, part: Standing) -> Result<&dyn Factor, ProcessError> {
        if let Some(round) = &self.round {
            return Ok(&**round);
        }
        match &mut self.sparse {
            Some(_) if self.fresh => {}
            made => {
                sparse(made, part.mesh, part.law)?;
            }
        }
        self.fresh = true;
        Ok(self.sparse.as_ref().expect("made above"))
    }
}

impl Near {
    #[expect(
        clippy::too_many_arguments,
        reason = "they are what any clamping needs, and how far it is to go"
    )]
    fn clamped(
        &mut self,
        setting: &Setting,
        clamp: &Clamp,
        part: Standing,
        start: Option<&Clamped>,
        at: &Progress,
        settled: f64,
        held_anew: bool,
    ) -> Result<Option<Clamped>, ContactError> {
        setting.watch.at(at).map_err(ContactError::Stopped)?;
        let gap_surface = |s: Surface, t: f64| setting.body.outlines.get(s).radius(t);
        let known = match self.contact.take() {
            Some(mut contact) if held_anew => contact
                .set(clamp, &self.ring, &gap_surface)?
                .then_some(contact),
            known => known,
        };
        let contact = match known {
            Some(contact) => contact,
            None => NearRing::new(clamp, Arc::clone(&self.factor), &self.ring, &gap_surface)?,
        };
        let contact = self.contact.insert(contact);
        let rounds = |round: usize| setting.watch.at(&Progress { round, ..*at });
        contact.clamp(clamp, part.elements(), part.load, start, &rounds, settled)
    }
}

/// The walls of a ring in steps, as they vary (radii of the bore and the outside of each column, mm, about the mean of both); `None` where
/// they hardly do.
fn steps(radii: &PerSurface<Vec<f64>>, means: &PerSurface<f64>) -> Option<Vec<[f64; 2]>> {
    let columns = radii.outer.len() / 2;
    let wall = |c: usize| radii.outer[2 * c + 1] - radii.bore[2 * c + 1];
    let walls: Vec<f64> = (0..columns).map(wall).collect();
    let least = walls.iter().copied().fold(f64::INFINITY, f64::min);
    let most = walls.iter().copied().fold(0.0, f64::max);
    let spread = (most - least) / (means.outer - means.bore);
    if spread.is_nan() || spread < STEP {
        return None;
    }
    let count = (spread / STEP).ceil().min(MOST_WALLS);
    let middle = 0.5 * (means.outer + means.bore);
    let step = |wall: &f64| {
        let k = ((wall - least) / (most - least) * count)
            .floor()
            .min(count - 1.0);
        let half = 0.5 * (least + (k + 0.5) / count * (most - least));
        [middle - half, middle + half]
    };
    Some(walls.iter().map(step).collect())
}

/// Whether columns are mostly of a few widths.
fn are_alike(mesh: &Mesh) -> bool {
    let angles = mesh.angles();
    let width = |c: usize| ((angles[2 * c + 1] - angles[2 * c]) / SAME_WIDTH).round() as u64;
    let mut widths: Vec<u64> = (0..mesh.around()).map(width).collect();
    widths.sort_unstable();
    widths.dedup();
    widths.len() * ALIKE <= mesh.around()
}

/// Radii of both surfaces at the angles of a mesh, mm.
fn radii_of(mesh: &Mesh) -> PerSurface<Vec<f64>> {
    let radius = |n: usize| mesh.coords()[n][0].hypot(mesh.coords()[n][1]);
    PerSurface::from_fn(|s| mesh.boundary(s).into_iter().map(radius).collect())
}

#[cfg(test)]
mod tests;
