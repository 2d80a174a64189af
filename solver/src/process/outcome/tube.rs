//! What a step of a tube comes to along its length. Axial positions are mm from the end that is gripped in a step that is not flipped, so a place of the
//! part keeps its number from step to step.

use super::{Radii, Stage};
use crate::geometry::{PerSurface, Surface};
use crate::metrology::ProfileError;

/// A tube along its length. The shapes of its [`StepOutcome`](super::StepOutcome) are those of one section, at [`TubeOutcome::section`].
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct TubeOutcome {
    /// Length of the part, mm.
    pub length: f64,
    /// Which end was gripped: whether the part lay end for end.
    pub flipped: bool,
    /// Where the section lies whose shapes the step tells, mm: of all sections the most out of round in what drives the accuracy.
    pub section: f64,
    /// The sections asked for, in their order.
    pub stations: Vec<Station>,
    /// Sections of the finished part that the limits of each surface are held against: where it is most out of round, largest and smallest, over all that
    /// any step has cut of it, or its whole length if none has. Empty but in the last step.
    pub judged: PerSurface<Vec<Station>>,
    /// Where along the part each body presses before the first cut, in the order of the contacts.
    pub grips: Vec<GripAlong>,
    /// The same after the last cut; empty without a cut.
    pub grips_after_cut: Vec<GripAlong>,
    /// What the cuts left along the length, in their order.
    pub along: Vec<CutAlong>,
    /// What end plates do.
    pub plates: Option<PlatesOutcome>,
    /// The surfaces in every state kept for pictures: held, with a cut the finished part still held, released.
    pub states: Vec<TubeState>,
    /// The r-z mesh and its fields, for review; empty when none were asked for.
    pub fields: Vec<MeridianField>,
    /// Elements along and through the mesh that gave the answer.
    pub mesh_size: [usize; 2],
    /// Highest harmonic around the axis that was solved for by finite elements.
    pub harmonics: u32,
}

impl TubeOutcome {
    /// Puts the held state of another solution of the step in place of its own.
    pub(super) fn hold_as(&mut self, fields: Vec<MeridianField>, states: Vec<TubeState>) {
        let fields = fields.into_iter().find(|f| f.stage == Stage::Held);
        if let (Some(other), Some(own)) = (
            fields,
            self.fields.iter_mut().find(|f| f.stage == Stage::Held),
        ) {
            *own = other;
        }
        let states = states.into_iter().find(|s| s.stage == Stage::Held);
        if let (Some(other), Some(own)) = (
            states,
            self.states.iter_mut().find(|s| s.stage == Stage::Held),
        ) {
            *own = other;
        }
    }
}

/// A section of a tube.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Station {
    /// Where, mm.
    pub z: f64,
    /// Shape when the step starts.
    pub stock: Radii,
    /// Equilibrium before the first cut.
    pub held: Radii,
    /// Radial displacement from the stock shape, mm, at 360 equal reference angles from 0.
    pub held_displacement: Radii,
    /// True distance of the moved surface from the spindle axis after the last cut; `None` without a cut.
    pub cut: Option<Radii>,
    /// Shape after release.
    pub released: Radii,
    /// Estimated errors of the held and the released shapes; `None` when the user asked for no second mesh.
    pub errors: Option<[PerSurface<ProfileError>; 2]>,
}

/// Where along the part a body presses.
#[derive(Clone, Debug, Default, PartialEq)]
#[non_exhaustive]
pub struct GripAlong {
    /// Where its pad begins and ends, mm.
    pub reach: [f64; 2],
    /// Centroid of its force, mm; `None` where it does not press.
    pub centroid: Option<f64>,
    /// Share of its force in the quarter of its length that is farthest from the gripped end: the front of the jaw.
    pub front_quarter: f64,
    /// The same in the front tenth, and in the back half.
    pub front_tenth: f64,
    /// See `front_tenth`.
    pub back_half: f64,
    /// Stretches over which it touches anywhere round its arc, mm.
    pub touching: Vec<[f64; 2]>,
    /// Force per length: position (mm) and N/mm, steps of the pressure along the part averaged over each element.
    pub line_force: Vec<[f64; 2]>,
}

/// What a cut left along the length after release, on diameter, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub struct CutAlong {
    /// The surface.
    pub surface: Surface,
    /// Where it was cut, mm.
    pub reach: [f64; 2],
    /// Diameter of the least-squares circle at the end minus that at the start, by the least-squares line through all sections: the taper, less what
    /// was turned on purpose.
    pub taper: f64,
    /// How much larger the mean diameter is between the ends than on the line through its ends: a barrel if positive outside, a waist if negative.
    pub barrel: f64,
    /// Range of the radius about the best coaxial cylinder (of a taper: cone as asked): all lobes, taper and barrel together, on radius.
    pub range: f64,
    /// Estimated errors of the three, mm; `None` when the user asked for no second mesh.
    pub errors: Option<[f64; 3]>,
}

/// What end plates do to a part and what it does to them.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct PlatesOutcome {
    /// Axial force, N.
    pub force: f64,
    /// Friction coefficient given, if any.
    pub friction: Option<f64>,
    /// Whether the ends are taken to slide without friction.
    pub sliding: bool,
    /// How much nearer the plates have come, mm.
    pub approach: f64,
    /// Radial displacement of outside and bore along the length: position and mm, before the first cut.
    pub bulge: PerSurface<Vec<[f64; 2]>>,
    /// Mean pressure of each face, MPa, the gripped end first.
    pub mean_pressure: [f64; 2],
    /// Net radial friction of each face over its force: what holding the ends uses up of the friction coefficient.
    pub friction_used: [f64; 2],
    /// Share of each face that slides.
    pub sliding_share: [f64; 2],
    /// Outer and inner radius of the driven face, mm.
    pub driven_face: [f64; 2],
    /// Torque that one face can take before it slips, N mm, with what the radial hold uses up taken off; `None` without a friction coefficient.
    pub torque: Option<f64>,
    /// Force at which the wall would buckle, N: classical, and with the customary knock-down; `None` for a part that is no plain tube.
    pub buckling: Option<[f64; 2]>,
    /// Whether something locates the part across its axis.
    pub located: bool,
}

/// Both surfaces in one state on a grid: positions along the part and equal angles from 0.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct TubeState {
    /// Which state.
    pub stage: Stage,
    /// Positions along the part, mm, rising.
    pub z: Vec<f64>,
    /// Equal angles round.
    pub angles: usize,
    /// Radius in the stress-free shape, mm: one row a position.
    pub reference: PerSurface<Vec<f64>>,
    /// Displacement `[radial, axial, tangential]` from it, mm.
    pub displacement: PerSurface<Vec<[f64; 3]>>,
}

impl TubeState {
    /// Moved radius at a position (by its number) and angle, mm: reference radius plus radial displacement.
    pub fn radius(&self, surface: Surface, position: usize, angle: usize) -> f64 {
        let k = position * self.angles + angle;
        self.reference.get(surface)[k] + self.displacement.get(surface)[k][0]
    }
}

/// Fields of one state in the plane through the axis at one angle.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct MeridianField {
    /// Which state.
    pub stage: Stage,
    /// The angle, degrees.
    pub angle_deg: f64,
    /// Nodes `[r, z]`, mm.
    pub nodes: Vec<[f64; 2]>,
    /// Eight-node quadrilaterals in VTK's order.
    pub elements: Vec<[usize; 8]>,
    /// Nodes of the two surfaces.
    pub boundary: PerSurface<Vec<usize>>,
    /// Displacement `[radial, axial, tangential]`, mm.
    pub displacement: Vec<[f64; 3]>,
    /// Nodal stress `[rr, zz, hoop, rz, r-theta, z-theta]`, MPa.
    pub stress: Vec<[f64; 6]>,
}
