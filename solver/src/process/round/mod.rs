//! A step on a nearly round ring: the mean ring's series stands behind the contact, finite elements what differs from it.
//!
//! Lobes and cuts are small beside the wall, so the ring is its mean ring and a little more. Contact, and with it everything that is
//! narrow, is solved on the series of the mean ring (exact, no mesh). With `u0` the mean ring's displacement on a mesh and `w` what the
//! true outline adds, `K (u0 + w) = f` is solved by `w <- w + K0^-1 (f - K (u0 + w))`: the mean ring's factor comes from repeated pieces, the
//! true stiffness is applied element by element. `w` is smooth, so the mesh need not resolve the contact; it offsets the gaps and is
//! added to the series' displacement. Outline, `w` and pressures are iterated together (`cutting`).

mod added;
mod body;
mod coarse;
mod fields;
mod kept;
mod marks;
mod nodes;
mod precondition;
mod relaxed;
mod stage;

use super::cut::Unsettled;
use std::sync::Arc;

pub(super) use added::Added;
use body::RoundHeld;
use coarse::CoarseRings;
pub use kept::Kept;
pub(super) use marks::{RoundMarks, TOLD, Zones, find_zones};
use relaxed::Relaxed;
use stage::RoundStage;

use super::guess::Guess;
use super::inspect::StateOf;
use super::plan::Plan;
use super::sample::{Sampler, difference, flexing_of, mean, profile};
use super::shapes::circles;
use super::stages::{CutStages, Release, cut_all, distances, driving, radial};
use super::statics::{ResidualStress, residual_force};
use super::step::{HeldPart, PartBody, Setting, Solved};
use super::{PROFILE_POINTS, ProcessError, Radii, StressSummary};
use crate::contact::{Clamp, Clamped, LockedResponse, RoundContact, Tool};
use crate::geometry::{PerSurface, Surface};
use crate::linear::internal_forces;
use crate::mesh::Mesh;
use crate::scheme::Supports;
use crate::watch::Progress;

/// Most that an outline may differ from its mean circle, as a share of the wall, to be solved as one perturbed.
const MOST_UNEVEN: f64 = 0.3;

/// Thinnest wall in a pad that goes all round, as a share of the radius: its elements are so wide to a thinner one that they would be cut
/// into hundreds of segments each.
const THINNEST_ALL_ROUND: f64 = 0.02;

/// Whether a step can be solved so: outlines near circles about the axis, and no thin wall in a pad that goes all round.
pub(super) fn is_nearly_round(setting: &Setting) -> bool {
    let reference = PerSurface::from_fn(|s| profile(setting.body.outlines.get(s)));
    let [outer, bore] = [&reference.outer, &reference.bore].map(|r| mean(r));
    let thin = outer - bore < THINNEST_ALL_ROUND * outer;
    let serves = |s: &Supports| !(thin && s.faces().iter().any(|b| b.is_full_circle()));
    setting.supports.iter().all(serves) && unevenness(&reference) <= MOST_UNEVEN
}

/// Largest deviation of an outline from its mean circle, as a share of the mean wall.
fn unevenness(radii: &Radii) -> f64 {
    let wall = mean(&radii.outer) - mean(&radii.bore);
    let off = |r: &Vec<f64>| {
        let m = mean(r);
        r.iter().fold(0.0_f64, |most, x| most.max((x - m).abs()))
    };
    off(&radii.outer).max(off(&radii.bore)) / wall
}

/// Whether a step finds the part a round ring without residual stress, of which the series says everything but the field.
fn is_round(setting: &Setting) -> bool {
    let round = |s: Surface| setting.body.outlines.get(s).as_round().is_some();
    setting.body.residual.is_none() && Surface::BOTH.into_iter().all(round)
}

/// The nearly round part as a step finds it, on its mean ring.
pub(in crate::process) struct Start {
    residual: Option<ResidualStress>,
    /// Radii of the stress-free reference at [`PROFILE_POINTS`], mm.
    reference: Radii,
    mesh: Arc<Mesh>,
    sampler: Sampler,
    stage: Arc<RoundStage>,
    relaxed: Option<Relaxed>,
    /// Shape of the free part, mm.
    pub stock: Radii,
}

impl Start {
    pub fn new(setting: &Setting, plan: &Plan) -> Result<Self, ProcessError> {
        setting.tell(&setting.starts(plan))?;
        let residual = setting.residual();
        let reference = PerSurface::from_fn(|s| profile(setting.body.outlines.get(s)));
        let mesh = Mesh::build(&setting.body.outlines, &plan.ends, &plan.layers, true)?;
        let sampler = Sampler::new(&mesh, PROFILE_POINTS);
        let stage = setting.kept.stage(setting, plan, &mean_radii(&reference))?;
        let relaxed = residual
            .as_ref()
            .map(|r| Relaxed::new(setting, &stage, &mesh, &sampler, r))
            .transpose()?;
        let stock = moved(&reference, relaxed.as_ref());
        Ok(Self {
            residual,
            reference,
            mesh: Arc::new(mesh),
            sampler,
            stage,
            relaxed,
            stock,
        })
    }

    /// The hold against the part, and its contact with the element ends of the plan: one that was kept, or a new one.
    fn contact(
        &self,
        setting: &Setting,
        plan: &Plan,
    ) -> Result<(Clamp, RoundContact), ProcessError> {
        let nodes = self.relaxed.as_ref().map(|r| r.displacement.as_slice());
        let clamp = setting.clamp(&self.mesh, nodes)?;
        let gap_surface = |s: Surface, t: f64| setting.body.outlines.get(s).radius(t);
        let pads = plan.pads.as_deref().unwrap_or_default();
        let contact = match setting.kept.take(&clamp, &self.stage.body, pads) {
            Some(mut contact) => contact.set(&clamp, &gap_surface).map(|()| contact),
            None => setting
                .kept
                .contact(&clamp, &self.stage.body, pads, &gap_surface),
        }
        .map_err(|e| setting.contact(e, &setting.starts(plan)))?;
        Ok((clamp, contact))
    }

    /// The part in a hold that has settled.
    fn settled<'a, 'b>(
        &'a self,
        setting: &'a Setting<'b>,
        plan: &'a Plan,
        guess: Option<&Guess>,
    ) -> Result<RoundHeld<'a, 'b>, ProcessError> {
        let (clamp, contact) = self.contact(setting, plan)?;
        let mut body = RoundHeld::new(
            setting,
            plan,
            self.residual.as_ref(),
            &self.sampler,
            Arc::clone(&self.stage),
            contact,
            clamp,
            Mesh::clone(&self.mesh),
        )?;
        body.settle(guess, &setting.starts(plan))?;
        Ok(body)
    }

    /// The reference with both surfaces moved along the radius, mm.
    fn shape(&self, mut moved: impl FnMut(Surface) -> Vec<f64>) -> Radii {
        PerSurface::from_fn(|s| {
            let radii = self.reference.get(s).iter().zip(moved(s));
            radii.map(|(r, u)| r + u).collect()
        })
    }

    /// Holds the part and stops there. A round ring needs no mesh for that: its series says it all.
    pub fn hold(
        &self,
        setting: &Setting,
        plan: &Plan,
        guess: Option<&Guess>,
    ) -> Result<HeldPart, ProcessError> {
        if is_round(setting) {
            return self.hold_round(setting, plan, guess);
        }
        let body = self.settled(setting, plan, guess)?;
        let (clamp, state) = (body.clamp().clone(), body.zones());
        setting.check_held(&clamp, &state, false)?;
        let shape = self.shape(|s| radial(&body.moved(s)));
        let (contact, stages) = body.into_parts();
        setting.kept.put(contact);
        let added = Some(Added {
            mesh: Arc::clone(&self.mesh),
            layers: plan.layers.clone(),
            stages,
        });
        Ok(HeldPart {
            clamp,
            state,
            shape,
            added,
        })
    }

    /// What a tool does to the held part, its hold locked.
    pub fn locked(
        &self,
        setting: &Setting,
        plan: &Plan,
        held: &HeldPart,
        tool: Tool,
    ) -> Result<LockedResponse, ProcessError> {
        let round = |s: Surface| setting.body.outlines.get(s).as_round().is_some();
        let ring = self.stage.body.annulus();
        let rings = match Surface::BOTH.into_iter().all(round) {
            true => None,
            false => Some(CoarseRings::new(setting, ring, &self.reference)?),
        };
        let (clamp, contact) = self.contact(setting, plan)?;
        let outline = rings.as_ref().map(CoarseRings::factors);
        let response = contact.locked(&clamp, held.state.pressed_by(), tool, outline);
        setting.kept.put(contact);
        response.map_err(|e| setting.contact(e, &setting.starts(plan)))
    }

    fn hold_round(
        &self,
        setting: &Setting,
        plan: &Plan,
        guess: Option<&Guess>,
    ) -> Result<HeldPart, ProcessError> {
        let at = setting.starts(plan);
        let (clamp, mut contact) = self.contact(setting, plan)?;
        let start = guess.and_then(|g| g.held).map(|s| contact.active_like(s));
        let rounds = |round: usize| setting.watch.at(&Progress { round, ..at });
        let even = PerSurface::default();
        let state = contact
            .close(&clamp, None, &even, start, &rounds)
            .map_err(|e| setting.contact(e, &at))?;
        let mut moved = contact.profile(&clamp, &state, &even, &Surface::BOTH);
        let zones = contact.zones(&clamp, &state);
        setting.kept.put(contact);
        setting.check_held(&clamp, &zones, false)?;
        let shape = self.shape(|s| std::mem::take(moved.get_mut(s)));
        Ok(HeldPart {
            clamp,
            state: zones,
            shape,
            added: None,
        })
    }

    /// Solves a step that cuts nothing for shapes and contacts.
    fn solve_shapes(
        &self,
        setting: &Setting,
        plan: &Plan,
        guess: Option<&Guess>,
    ) -> Result<Solved, ProcessError> {
        let held = self.hold_round(setting, plan, guess)?;
        let circles = circles(&held.shape);
        let free = (self.stock.clone(), Arc::clone(&self.mesh));
        Solved::of_shapes(setting, held, free, circles, 0.0)
    }

    /// Solves the whole step, its cuts from a guess if there is one.
    pub fn solve(
        &self,
        setting: &Setting,
        plan: &Plan,
        guess: Option<&Guess>,
    ) -> Result<Solved, ProcessError> {
        match setting.shapes_alone && is_round(setting) {
            true => self.solve_shapes(setting, plan, guess),
            false => self.solve_field(setting, plan, guess),
        }
    }

    fn solve_field(
        &self,
        setting: &Setting,
        plan: &Plan,
        guess: Option<&Guess>,
    ) -> Result<Solved, ProcessError> {
        let stock = &self.stock;
        let mut body = self.settled(setting, plan, guess)?;
        let clamp = body.clamp().clone();
        body.finish()?;
        let held = body.clamped()?;
        setting.check_held(&clamp, &held, false)?;
        let held_shape = self.shape(|s| radial(&body.moved(s)));
        let held_displacement =
            PerSurface::from_fn(|s| difference(held_shape.get(s), stock.get(s)));
        let forces = internal_forces(body.mesh(), &setting.law(), &held.displacement)?;
        let balance = residual_force(body.mesh(), &forces, &held);
        let energy = body.energy();
        let stock_mesh = Arc::new(body.mesh().clone());
        let spindle = setting.spindle(&held_shape);
        let mut flexing = flexing_of(&held_displacement, stock);

        body.lock(clamp.after_clamping(&held));
        let held_unsettled = body.unsettled();
        let stress = |b: &RoundHeld, outlines: &PartBody| b.stress(outlines);
        let at = setting.starts(plan);
        let stages = cut_all(setting, at, spindle, &mut body, guess, stress)?;
        setting.check_corners(&clamp, &held)?;
        let mut cut = None;
        let mut relaxed_cut = self.relaxed.as_ref().map(|r| r.displacement.clone());
        let mut released = stock.clone();
        let mut unsettled = Unsettled::everywhere(held_unsettled);
        if !stages.cuts.is_empty() {
            let (state, after) = release(setting, spindle, &stages, &mut body)?;
            (relaxed_cut, released) = (after.relaxed, after.shape);
            flexing = flexing.max(after.flexing);
            cut = Some((state, after.from_spindle));
            unsettled = stages.unsettled;
        }
        let driving = driving(setting, &held_shape, &released);
        let (cut_mesh, clamp_after_clamping) =
            (Arc::new(body.mesh().clone()), body.clamp().clone());
        let (contact, added) = body.into_parts();
        setting.kept.put(contact);
        let added = Added {
            mesh: Arc::clone(&stock_mesh),
            layers: plan.layers.clone(),
            stages: added,
        };
        Ok(Solved {
            mesh: stock_mesh,
            cut_mesh,
            stock: stock.clone(),
            clamp,
            held,
            held_shape,
            held_displacement,
            cuts: stages.cuts,
            cut_outlines: stages.outlines,
            cut_rates: stages.rates,
            cut,
            clamp_after_clamping,
            stress_between_cuts: stages.stress_between_cuts,
            relaxed: relaxed_cut,
            released,
            body: stages.body,
            added: Some(added),
            driving,
            unsettled,
            unsettled_held: held_unsettled,
            held_circles: None,
            unresolved_bound: 0.0,
            flexing,
            balance,
            energy,
            spindle,
        })
    }
}

/// Releases the part after its cuts; also its state while it is still held.
fn release(
    setting: &Setting,
    spindle: [f64; 2],
    stages: &CutStages,
    body: &mut RoundHeld,
) -> Result<(Clamped, Release), ProcessError> {
    body.show_all();
    body.fit(&stages.lines)?;
    body.finish()?;
    let state = body.clamped()?;
    setting.check_corners(body.clamp(), &state)?;
    setting.check_held(body.clamp(), &state, true)?;
    let from_spindle = distances(spindle, &stages.sampled, &|s| body.moved(s));
    let relaxed = body.relaxed()?;
    let shape = moved(&stages.sampled, relaxed.as_ref());
    let flexed = PerSurface::from_fn(|s| radial(&body.moved(s)));
    let release = Release {
        flexing: flexing_of(&flexed, &shape),
        from_spindle,
        relaxed: relaxed.map(|r| r.displacement),
        shape,
    };
    Ok((state, release))
}

/// Radii of the mean ring.
fn mean_radii(radii: &Radii) -> PerSurface<f64> {
    PerSurface::from_fn(|s| mean(radii.get(s)))
}

/// A sampled outline as it lies when its residual stress has come to rest.
fn moved(reference: &Radii, relaxed: Option<&Relaxed>) -> Radii {
    match relaxed {
        None => reference.clone(),
        Some(relaxed) => PerSurface::from_fn(|s| {
            let moved = relaxed.profile.get(s);
            reference
                .get(s)
                .iter()
                .zip(moved)
                .map(|(r, u)| r + u)
                .collect()
        }),
    }
}

impl RoundHeld<'_, '_> {
    /// Von Mises figures of the held part with a body's outlines.
    fn stress(&self, outlines: &PartBody) -> Result<StressSummary, ProcessError> {
        let clamped = self.clamped()?;
        let state = StateOf {
            clamp: self.clamp(),
            clamped: &clamped,
            mesh: self.mesh(),
            body: outlines,
        };
        Ok(state.stress_summary(self.setting()))
    }
}
