//! What a solved case holds: plain data, from which every output is written.

mod advice;
mod cut;
mod forces;
mod grip;
mod tube;

pub use advice::*;
pub use cut::*;
pub use forces::*;
pub use grip::*;
pub use tube::*;

use std::sync::Arc;

use super::Caution;
use crate::case::Support;
use crate::geometry::{PerSurface, Surface};
use crate::mesh::Mesh;
use crate::metrology::{Gauge, ProfileError};
use crate::scheme::Placing;

/// A solved case. It cannot be made without every step having converged.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Outcome {
    /// One entry a step.
    pub steps: Vec<StepOutcome>,
    /// What has to be known of it.
    pub cautions: Vec<Caution>,
    /// What other forces would do about missed roundness limits: one entry a step at fault, in order.
    pub advice: Vec<Advice>,
    /// Surfaces that did not clean up in their last cut.
    pub clean_up: Vec<CleanUp>,
    /// The finished part of a plastic as the modulus that is left after a long hold makes it; `None` where the case gives none.
    pub long_time: Option<LongTime>,
    /// What measuring does to the finished part, if the inspection names a force or a support that flexes it.
    pub inspection: Option<GaugeFlex>,
}

/// A second answer for a plastic, with the modulus that is left after a long hold: as if it had had that from the start.
#[derive(Clone, Debug, PartialEq)]
pub struct LongTime {
    /// That modulus, MPa.
    pub modulus: f64,
    /// How long it is held at most, minutes; `None` where the case does not say.
    pub minutes: Option<f64>,
    /// Shape of the finished part; `None` where it gives way so far that there is no answer.
    pub released: Option<Radii>,
}

/// Flexing of the finished, free part by what measures and carries it, read in the middle of the wall: the dent under a contact
/// is left out.
#[derive(Clone, Debug, Default, PartialEq)]
#[non_exhaustive]
pub struct GaugeFlex {
    /// One entry for each surface that the gauge of the inspection reaches; empty without a measuring force.
    pub force: Vec<ForceFlex>,
    /// Own weight; `None` where the part lies on its face, or without a density.
    pub weight: Option<WeightFlex>,
    /// What was asked for and not computed, and which input is missing.
    pub not_computed: Vec<NotComputed>,
    /// Largest left-over of `K u - f` at a node, N.
    pub balance: f64,
}

/// What an inspection asks for and was not computed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum NotComputed {
    /// The part's own weight: the material has no density.
    Weight,
}

/// What the force of a gauge does to its reading.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub struct ForceFlex {
    /// The gauge.
    pub gauge: Gauge,
    /// Surface measured.
    pub surface: Surface,
    /// Force of its indicator, or of each of its contacts where they face each other, N.
    pub force: f64,
    /// Change of the reading by the force, mean over a turn of the part, mm; negative: it reads less.
    pub change: f64,
    /// Largest less smallest change over the turn, mm: what of it shows as lobes.
    pub variation: f64,
    /// Estimated error of both, mm: the difference from a mesh half as fine; `None` where none was solved.
    pub error: Option<f64>,
}

/// What standing does to the part, the worst way up. The wall bends as a whole, so this holds for both surfaces.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub struct WeightFlex {
    /// What carries the part.
    pub support: Support,
    /// Weight, N.
    pub weight: f64,
    /// Part angle that is on top, degrees.
    pub up_deg: f64,
    /// Out-of-roundness about the least-squares circle that a round part would show, mm.
    pub out_of_roundness: f64,
    /// Change of the vertical diameter, mm.
    pub vertical: f64,
    /// Change of the horizontal diameter, mm.
    pub horizontal: f64,
    /// Estimated error of the three, mm: the difference from a mesh half as fine; `None` where none was solved.
    pub error: Option<f64>,
}

/// Radii (mm) at `PROFILE_POINTS` equal reference angles from 0, one list a surface.
pub type Radii = PerSurface<Vec<f64>>;

/// Points at which profiles are sampled.
pub const PROFILE_POINTS: usize = 3600;

/// One clamping from touch to release.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct StepOutcome {
    /// Name of the hold.
    pub hold: String,
    /// How the part lay in it; where any way was allowed, the worst.
    pub placing: Placing,
    /// The force that was found from what the ring shows, where a scheme of the hold is set by that.
    pub from_squeeze: Option<FromSqueeze>,
    /// Where the spindle axis lay in the part's frame, mm.
    pub spindle: [f64; 2],
    /// Shape when the step starts, free of holds.
    pub stock: Radii,
    /// Equilibrium before the first cut, at rest.
    pub held: HeldState,
    /// The same at the speed of the step, where that changes what the jaws press with: the cuts are made in it.
    pub held_at_speed: Option<HeldState>,
    /// The cuts in order.
    pub cuts: Vec<CutOutcome>,
    /// Von Mises stress of the part still held after each cut but the last.
    pub stress_between_cuts: Vec<StressSummary>,
    /// The finished part still held; `None` if the step has no cut.
    pub after_cut: Option<AfterCut>,
    /// True distance of the moved surface points from the spindle axis after the last cut, by reference angle;
    /// `None` if the step has no cut.
    pub cut: Option<Radii>,
    /// Shape after release.
    pub released: Radii,
    /// Wall along the radius after release.
    pub wall: WallExtremes,
    /// How far to trust the driving quantity.
    pub estimate: Estimate,
    /// How far to trust every other figure; `None` when the user asked for no second mesh.
    pub errors: Option<FigureErrors>,
    /// Fields for review, empty when none were asked for.
    pub fields: Vec<FieldState>,
    /// Elements round and through the mesh that gave the answer; of a tube along and through.
    pub mesh_size: [usize; 2],
    /// The part along its length; `None` where a slice stands for it.
    pub tube: Option<TubeOutcome>,
    /// What the cuts ask of the hold, and what it takes.
    pub grip: GripOutcome,
}

impl StepOutcome {
    /// Puts what the hold is at rest, as another solution of this step without its cuts has it, in place of what it is at speed, which stands beside it from then on.
    pub(super) fn held_at_rest_in(&mut self, at_rest: Self) {
        self.held_at_speed = Some(std::mem::replace(&mut self.held, at_rest.held));
        if let (Some(own), Some(rest)) = (&mut self.errors, at_rest.errors) {
            own.held = rest.held;
            own.contacts = rest.contacts;
        }
        let is_held = |f: &FieldState| f.stage == Stage::Held;
        if let Some(rest) = at_rest.fields.into_iter().find(is_held)
            && let Some(own) = self.fields.iter_mut().find(|f| f.stage == Stage::Held)
        {
            *own = rest;
        }
        if let (Some(own), Some(rest)) = (&mut self.tube, at_rest.tube) {
            own.hold_as(rest.fields, rest.states);
            for (own, rest) in own.stations.iter_mut().zip(rest.stations) {
                own.held = rest.held;
                own.held_displacement = rest.held_displacement;
            }
        }
    }

    /// The equilibrium in which the first cut is made: at the speed of the step, where that is another than at rest.
    pub fn cut_in(&self) -> &HeldState {
        self.held_at_speed.as_ref().unwrap_or(&self.held)
    }

    /// Sections that a surface of the released part is judged by: of a slice the one there is, of a tube those where it is most out of round, largest and smallest.
    pub(in crate::process) fn judged(&self, surface: Surface) -> Vec<&Radii> {
        match &self.tube {
            Some(tube) => {
                let stations = tube.judged.get(surface).iter();
                stations.map(|station| &station.released).collect()
            }
            None => vec![&self.released],
        }
    }

    /// Von Mises stress of the part still held after each cut.
    pub fn stress_after_cuts(&self) -> impl Iterator<Item = &StressSummary> {
        let last = self.after_cut.iter().map(|a| &a.stress);
        self.stress_between_cuts.iter().chain(last)
    }
}

/// Equilibrium of a held body.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct HeldState {
    /// Radius plus radial displacement at the reference angle.
    pub shape: Radii,
    /// Radial displacement from the stock shape, mm, at 360 equal reference angles from 0.
    pub displacement: Radii,
    /// One entry a body, in order of schemes and bodies.
    pub contacts: Vec<Contact>,
    /// Dead loads, in order of schemes.
    pub loads: Vec<DeadLoad>,
    /// Axial force of end plates, N.
    pub axial_force: f64,
    /// Rigid-body modes that nothing resists and no load drives, in the user's words.
    pub rigid_body_modes: Vec<String>,
    /// Von Mises stress.
    pub stress: StressSummary,
    /// Balance of the contact and dead forces with `K u`: force residual (N) and moment residual (N mm).
    pub balance: Balance,
    /// Strain energy of the held body, N mm: half the work of the loads (without residual stress and growth by an end clamp).
    pub energy: f64,
}

/// The finished part, still held: equilibrium after the last cut of a step.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct AfterCut {
    /// One entry a body, in order of schemes and bodies.
    pub contacts: Vec<Contact>,
    /// Von Mises stress.
    pub stress: StressSummary,
}

/// Von Mises stress of one state of the held part, with the axial stress of an end clamp.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub struct StressSummary {
    /// Largest, MPa; `None` where a pad edge or a point carries load, since it has no bound there.
    pub von_mises_max: Option<f64>,
    /// Largest farther than a tenth of the wall from loaded edges and points, MPa.
    pub von_mises_away: f64,
    /// Where that stands.
    pub at: StressPlace,
    /// Yield strength over `von_mises_away`, minus 1; `None` without a yield strength, and where there is no stress.
    pub yield_margin: Option<f64>,
}

impl StressSummary {
    /// Whether it passes yield, as far as a yield strength is known.
    pub fn yields(&self) -> bool {
        self.yield_margin.is_some_and(|margin| margin < 0.0)
    }
}

/// A place in the section, in the stress-free shape.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct StressPlace {
    /// Part angle, degrees from 0 to 360.
    pub angle_deg: f64,
    /// Distance from the part's axis, mm.
    pub radius: f64,
    /// Where along a tube, mm from the end that is gripped in a step that is not flipped; `None` in a slice.
    pub z: Option<f64>,
    /// How far that angle may be off, degrees: an element of the coarser mesh and what the two are apart, or an element where there is one. Of
    /// places elsewhere that are stressed as much within the error of stress nothing is said.
    pub within_deg: f64,
}

/// Residual force and moment on the held body, summed from `K u`.
#[derive(Clone, Copy, Debug, Default)]
pub struct Balance {
    /// Largest component of the residual force, N.
    pub force: f64,
    /// Residual moment about the part axis, N mm.
    pub moment: f64,
}

/// What one body does.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Contact {
    /// Scheme's name.
    pub scheme: String,
    /// What a body of it is called: jaw, screw.
    pub called: String,
    /// Number from 1 within its scheme.
    pub body: usize,
    /// Direction of its axis, degrees.
    pub angle_deg: f64,
    /// Surface it presses on.
    pub surface: Surface,
    /// Half of the arc it covers, degrees.
    pub half_angle_deg: f64,
    /// Resultant along its axis, N.
    pub force: f64,
    /// Approach, mm: how far its mount has moved past first touch, and its face too unless the mount is elastic.
    pub approach: f64,
    /// Integral of the pressure over the area that it acts on, edge forces included, N: what friction would act on.
    pub pressure_integral: f64,
    /// Largest pressure, MPa; `None` where the edge of a pad without an elastic layer is loaded.
    pub peak_pressure: Option<f64>,
    /// Force per axial length within a tenth of the part's wall of each loaded pad edge, the larger, N/mm; `None`
    /// when no edge is loaded.
    pub edge_force_per_length: Option<f64>,
    /// Loaded arcs `[start, end]`, part angles in degrees, start < end.
    pub arcs: Vec<[f64; 2]>,
    /// Pressure where it touches: part angle (degrees, rising) and pressure (MPa), linear between the places, zero between two
    /// arcs; without the line forces at pad edges.
    pub pressure: Vec<[f64; 2]>,
    /// Least gap to what it faces, mm; zero where it touches.
    pub gap: f64,
    /// Whether it goes round the part (a full circle, a sleeve): its force is then the integral of its pressure.
    pub round: bool,
    /// Force that the case sets it to, N; the mean of those that move together; `None` for what stands at a place of its own.
    pub set_force: Option<f64>,
}

/// A load that stays as it is whatever the part does.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct DeadLoad {
    /// Scheme's name.
    pub scheme: String,
    /// What it is called: patch, point.
    pub called: String,
    /// Number from 1 among those of its kind in its scheme.
    pub number: usize,
    /// Surface it presses on.
    pub surface: Surface,
    /// Direction of its middle, degrees.
    pub angle_deg: f64,
    /// Half of the arc it covers, degrees; zero at a point.
    pub half_angle_deg: f64,
    /// Resultant along its middle, N.
    pub force: f64,
}

/// Least and largest wall, mm, and where, degrees.
#[derive(Clone, Copy, Debug, Default)]
pub struct WallExtremes {
    /// Least wall.
    pub min: f64,
    /// Where.
    pub min_angle: f64,
    /// Largest wall.
    pub max: f64,
    /// Where.
    pub max_angle: f64,
}

/// How far the driving quantity can be trusted.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Estimate {
    /// Its name.
    pub quantity: String,
    /// Estimated error as a share of the driving quantity, or of the largest of it, a hundredth of the surface's roundness tolerance
    /// and 1e-5 of its radius; `None` when the user asked for no second mesh.
    pub relative_error: Option<f64>,
    /// The same error, mm.
    pub absolute_error: Option<f64>,
    /// Estimated error of the largest von Mises stress away from places where it has no bound, as a share of it: three times
    /// the difference of two meshes, of the held state that is worst; `None` when the user asked for no second mesh.
    pub stress_relative_error: Option<f64>,
    /// Whether the asked accuracy is known to be reached.
    pub converged: bool,
}

/// Estimated errors of the figures of a step beside the driving quantity: how far the two meshes are apart in each, with what earlier
/// steps leave. Stress has its own in [`Estimate`].
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct FigureErrors {
    /// Of the held shapes.
    pub held: PerSurface<ProfileError>,
    /// Of the released shapes.
    pub released: PerSurface<ProfileError>,
    /// Of the contacts before the first cut, in their order.
    pub contacts: Vec<ContactError>,
    /// Of the contacts after the last cut.
    pub contacts_after_cut: Vec<ContactError>,
    /// Of the cuts in order.
    pub cuts: Vec<CutError>,
    /// Of the wall after release.
    pub wall: WallError,
    /// Of the strain energy, N mm.
    pub energy: f64,
}

/// Estimated errors of a [`Contact`], the largest among the bodies of its scheme.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[non_exhaustive]
pub struct ContactError {
    /// N.
    pub force: f64,
    /// mm.
    pub approach: f64,
    /// N.
    pub pressure_integral: f64,
    /// MPa.
    pub peak_pressure: Option<f64>,
    /// N/mm.
    pub edge_force_per_length: Option<f64>,
    /// Of each end of a loaded arc, degrees.
    pub arcs: f64,
    /// mm.
    pub gap: f64,
}

/// Estimated errors of [`WallExtremes`].
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[non_exhaustive]
pub struct WallError {
    /// Of the least and the largest wall, mm.
    pub size: f64,
    /// Of the place of the least, degrees.
    pub min_angle: f64,
    /// Of the place of the largest, degrees.
    pub max_angle: f64,
}

/// State of the body at which a field was kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Stage {
    /// Held, before the first cut.
    Held,
    /// Held, after the last cut.
    Cut,
    /// Released.
    Released,
}

impl Stage {
    /// The word in file names and `profiles.csv`.
    pub const fn name(self) -> &'static str {
        match self {
            Stage::Held => "held",
            Stage::Cut => "cut",
            Stage::Released => "released",
        }
    }
}

/// Displacement and stress of one state on its mesh.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct FieldState {
    /// Which state.
    pub stage: Stage,
    /// The mesh: the stress-free shape.
    pub mesh: Arc<Mesh>,
    /// Nodal displacement `[ux, uy]` from the stress-free shape, mm.
    pub displacement: Vec<[f64; 2]>,
    /// Nodal stress `[xx, yy, xy]`, MPa, averaged over the elements that meet at the node; without the axial stress of an end
    /// clamp.
    pub stress: Vec<[f64; 3]>,
}
