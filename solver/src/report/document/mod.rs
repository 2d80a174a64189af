//! `result.json`: the figures of a solved case, and the verdict in words.
//!
//! Lengths mm, forces N, stresses MPa, angles degrees. Key order is part of the format: people read it too. The types
//! are here; `build` fills them from an outcome.

mod build;
mod cause;
mod gauge;
mod inspection;

use serde::Serialize;

use super::ReportError;
use super::units::Units;
use crate::geometry::{PerSurface, Surface};

pub use build::document;
pub use cause::{CauseDocument, ShareDocument, cause_documents};
pub use gauge::{
    CircleDocument, ControlDocument, FactorDocument, FilteredDocument, GaugeDocument, GaugeFactor,
    RangeDocument, ReadDocument, ReadingDocument, SpanDocument, UnknownDocument, VeeDocument,
    ZoneDocument, usual_gauges,
};
pub use inspection::{ForceDocument, InspectionDocument, WeightDocument};

/// Stands wherever a clamping force or a grip is reported.
pub const GRIP_CAUTION: &str = "A part that leaves the chuck can kill. These forces are computed for distortion, not for grip: keep to the \
     chuck maker's ratings, local rules and competent practice.";

/// Which program gave the answer.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Program {
    /// Version.
    pub version: String,
    /// Commit it was built from, or "unknown".
    pub commit: String,
}

/// The whole document.
#[derive(Clone, Debug, Serialize)]
pub struct ResultDocument {
    /// Always `ringwright-result-1`.
    pub format: &'static str,
    /// What wrote it.
    pub program: Program,
    /// What was solved.
    pub case: CaseName,
    /// Units of every number.
    pub units: UnitNames,
    /// Which system stands first in words.
    #[serde(skip)]
    pub shown: Units,
    /// The part as received.
    pub part: PartDocument,
    /// What was taken for granted.
    pub assumed: Vec<String>,
    /// How the finished part is looked at.
    pub inspection: InspectionDocument,
    /// One entry a step.
    pub steps: Vec<StepDocument>,
    /// Whether the part is good.
    pub verdict: Verdict,
    /// Warnings.
    pub cautions: Vec<String>,
}

/// Title and fingerprint of the case file.
#[derive(Clone, Debug, Serialize)]
pub struct CaseName {
    /// Title.
    pub title: String,
    /// SHA-256 of its text, lower-case hex.
    pub sha256: String,
}

/// The part as received: nominal sizes and material.
#[derive(Clone, Debug, Serialize)]
pub struct PartDocument {
    /// mm.
    pub outer_diameter: f64,
    /// mm.
    pub bore_diameter: f64,
    /// Along the axis, mm.
    pub length: f64,
    /// What it is made of.
    pub material: MaterialDocument,
    /// Hoop stress at the outside and the bore, MPa; null for none.
    pub residual_hoop_stress: Option<PerSurface<f64>>,
    /// Surfaces whose shape was measured, and how well it is known; null where it is as drawn.
    pub readings: PerSurface<Option<ReadingsDocument>>,
}

/// Readings that a surface of the stock was made from.
#[derive(Clone, Debug, Serialize)]
pub struct ReadingsDocument {
    /// File, or "the case".
    pub source: String,
    /// How many.
    pub points: usize,
    /// What they were read on, in words.
    pub gauge: String,
    /// Highest lobe count of the curve through them.
    pub lobes: u32,
    /// Counts up to that which the gauge does not show.
    pub unseen: Vec<u32>,
    /// Standard error of the curve, root mean square round the turn, mm; null when no reading is left to judge it by.
    pub uncertainty: Option<f64>,
}

/// Material as solved.
#[derive(Clone, Debug, Serialize)]
pub struct MaterialDocument {
    /// Name, or "as given".
    pub name: String,
    /// MPa.
    pub young_modulus: f64,
    /// No unit.
    pub poisson_ratio: f64,
    /// MPa.
    pub yield_strength: Option<f64>,
    /// kg/m3.
    pub density: Option<f64>,
}

/// Unit of each kind of number.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct UnitNames {
    /// mm.
    pub length: &'static str,
    /// N.
    pub force: &'static str,
    /// MPa.
    pub stress: &'static str,
    /// deg.
    pub angle: &'static str,
}

/// One clamping.
#[derive(Clone, Debug, Serialize)]
pub struct StepDocument {
    /// Name of the hold.
    pub hold: String,
    /// Whether the part lay in it turned end for end.
    pub flipped: bool,
    /// How far the part was turned against it, degrees; where any way was allowed, the worst.
    pub turned: f64,
    /// Where the spindle axis lay in the part's frame.
    pub spindle: [f64; 2],
    /// Equilibrium before the first cut.
    pub held: HeldDocument,
    /// What each cut did.
    pub cuts: Vec<CutDocument>,
    /// The finished part still held; left out without cuts.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub after_cut: Option<AfterCutDocument>,
    /// What is left.
    pub released: ReleasedDocument,
    /// How it reads on gauges, before and after release.
    pub gauges: GaugesDocument,
    /// Grip.
    pub grip: GripDocument,
    /// How far to trust the driving quantity.
    pub estimate: EstimateDocument,
    /// The mesh that gave the answer.
    pub mesh: MeshDocument,
}

/// The held part.
#[derive(Clone, Debug, Serialize)]
pub struct HeldDocument {
    /// Outside.
    pub outer: Shape,
    /// Bore.
    pub bore: Shape,
    /// One entry a body.
    pub contacts: Vec<ContactDocument>,
    /// Dead loads.
    pub loads: Vec<LoadDocument>,
    /// Axial force of end plates, N.
    pub axial_force: f64,
    /// Motions that nothing resists.
    pub free_motions: Vec<String>,
    /// Von Mises stress.
    #[serde(flatten)]
    pub stress: StressDocument,
    /// Force (N) and moment (N mm) left over.
    pub balance: BalanceDocument,
    /// Strain energy, N mm.
    pub energy: f64,
}

/// The finished part, still held, after the last cut of a step.
#[derive(Clone, Debug, Serialize)]
pub struct AfterCutDocument {
    /// One entry a body.
    pub contacts: Vec<ContactDocument>,
    /// Von Mises stress.
    #[serde(flatten)]
    pub stress: StressDocument,
}

/// Von Mises stress of a state of the held part.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct StressDocument {
    /// Largest, MPa; null where an edge or a point carries load.
    pub von_mises_max: Option<f64>,
    /// The same away from such places, MPa.
    pub von_mises_away: f64,
    /// Where that stands.
    pub von_mises_at: StressPlaceDocument,
    /// Yield strength over `von_mises_away`, minus 1; null without a yield strength, and where there is no stress.
    pub yield_margin: Option<f64>,
}

/// A place in the section, in the stress-free shape.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct StressPlaceDocument {
    /// Part angle, degrees.
    pub angle: f64,
    /// Distance from the part's axis, mm.
    pub radius: f64,
}

/// Force and moment left over on the held body.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct BalanceDocument {
    /// N.
    pub force: f64,
    /// N mm.
    pub moment: f64,
}

/// The shape of one surface.
#[derive(Clone, Debug, Serialize)]
pub struct Shape {
    /// Radius of the least-squares circle: the mean distance from its centre, mm.
    pub mean_radius: f64,
    /// Its centre, mm.
    pub centre: [f64; 2],
    /// Largest minus smallest distance from that centre, mm.
    pub roundness_least_squares: f64,
    /// Width of the narrowest ring between two concentric circles that holds the profile, mm.
    pub roundness_minimum_zone: f64,
    /// Lobes about the least-squares centre.
    pub harmonics: Vec<HarmonicDocument>,
    /// Radial displacement from the stock shape; held states only.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub displacement: Option<DisplacementDocument>,
    /// The minimum zone's circle, for drawing.
    #[serde(skip)]
    pub minimum_zone: ZoneCircle,
}

/// The circle midway between the two of a minimum zone, mm.
#[derive(Clone, Copy, Debug)]
pub struct ZoneCircle {
    /// Centre.
    pub centre: [f64; 2],
    /// Radius.
    pub radius: f64,
}

/// `amplitude * cos(count * (theta - angle))`.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct HarmonicDocument {
    /// Lobes a turn.
    pub count: u32,
    /// mm, never negative.
    pub amplitude: f64,
    /// Of a crest, degrees.
    pub angle: f64,
}

/// Radial displacement at equal reference angles.
#[derive(Clone, Debug, Serialize)]
pub struct DisplacementDocument {
    /// Degrees from 0.
    pub angles_deg: Vec<f64>,
    /// mm, positive outwards.
    pub radial: Vec<f64>,
}

/// What one body does.
#[derive(Clone, Debug, Serialize)]
pub struct ContactDocument {
    /// Scheme.
    pub scheme: String,
    /// Number from 1 within it.
    pub body: usize,
    /// Direction of its axis, degrees.
    pub angle: f64,
    /// Resultant along the axis, N.
    pub force: f64,
    /// Travel after first touch, mm.
    pub approach: f64,
    /// Integral of the pressure over the area, edge forces included, N: what friction acts on.
    pub pressure_integral: f64,
    /// Largest pressure, MPa; null where an edge carries.
    pub peak_pressure: Option<f64>,
    /// Force a length of the whole arc that reaches a loaded pad edge, the larger of the two edges, N/mm; an arc from edge to edge
    /// counts half to each. The line force in the edge itself is a part of it. Null when no edge carries.
    pub edge_force_per_length: Option<f64>,
    /// Loaded arcs, degrees.
    pub arcs: Vec<[f64; 2]>,
    /// Pressure along them, without the line forces at pad edges.
    pub pressure: PressureDocument,
    /// Surface it presses on.
    pub surface: Surface,
    /// What a body of its scheme is called.
    pub called: String,
    /// Least gap to what it faces, mm; zero where it touches.
    pub gap: f64,
    /// Whether it goes round the part: its force is then the integral of its pressure.
    pub round: bool,
    /// Force that the case sets it to, N; the mean of those that share a travel; null for what stands at a place of its own.
    pub set_force: Option<f64>,
}

/// Contact pressure, linear between the places and zero between two arcs.
#[derive(Clone, Debug, Default, Serialize)]
pub struct PressureDocument {
    /// Part angles, rising, degrees.
    pub angles_deg: Vec<f64>,
    /// MPa.
    pub mpa: Vec<f64>,
}

/// A load that stays as it is whatever the part does.
#[derive(Clone, Debug, Serialize)]
pub struct LoadDocument {
    /// Scheme.
    pub scheme: String,
    /// Patch or point.
    pub called: String,
    /// Number from 1 among those of its kind in its scheme.
    pub number: usize,
    /// Surface it presses on.
    pub surface: Surface,
    /// Direction of its middle, degrees.
    pub angle: f64,
    /// Half of the arc it covers, degrees; zero at a point.
    pub half_angle: f64,
    /// Resultant along its middle, N.
    pub force: f64,
}

/// What one cut did.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct CutDocument {
    /// Surface cut.
    pub surface: Surface,
    /// Diameter of the tool's circle, mm.
    pub diameter: f64,
    /// Share of the reference angle that the tool reached.
    pub cleaned_up: f64,
    /// Least depth, mm.
    pub depth_min: f64,
    /// Largest depth, mm.
    pub depth_max: f64,
    /// Further diameter change that would clean up the rest, mm.
    pub stock_to_clean_up: f64,
    /// Von Mises stress of the part once this cut is taken, still held.
    #[serde(flatten)]
    pub stress: StressDocument,
}

/// The part released.
#[derive(Clone, Debug, Serialize)]
pub struct ReleasedDocument {
    /// Outside.
    pub outer: Shape,
    /// Bore.
    pub bore: Shape,
    /// Twice the mean radii, mm.
    pub average_diameter: PerSurface<f64>,
    /// Full indicator movement on each surface while the part turns about the least-squares centre of the other, mm.
    pub runout: PerSurface<f64>,
    /// Wall along the radius.
    pub wall: WallDocument,
}

/// How each surface reads on the gauges that reach it.
#[derive(Clone, Debug, Serialize)]
pub struct GaugesDocument {
    /// In the hold, before the first cut.
    pub held: PerSurface<ReadDocument>,
    /// Released.
    pub released: PerSurface<ReadDocument>,
}

/// Least and largest wall, mm, and where, degrees.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct WallDocument {
    /// Least.
    pub min: f64,
    /// Where.
    pub min_angle: f64,
    /// Largest.
    pub max: f64,
    /// Where.
    pub max_angle: f64,
}

/// Grip: a figure whose inputs are missing is null, and `not_checked` says which.
#[derive(Clone, Debug, Default, Serialize)]
pub struct GripDocument {
    /// N mm.
    pub torque_available: Option<f64>,
    /// N mm.
    pub torque_needed: Option<f64>,
    /// N.
    pub axial_available: Option<f64>,
    /// N.
    pub axial_needed: Option<f64>,
    /// N mm.
    pub tilt_available: Option<f64>,
    /// N mm.
    pub tilt_needed: Option<f64>,
    /// Unfavourable end.
    pub slip_safety: Option<f64>,
    /// Favourable end.
    pub slip_safety_high: Option<f64>,
    /// N, one a jaw.
    pub force_at_speed: Option<Vec<f64>>,
    /// rev/min.
    pub speed_at_zero_force: Option<f64>,
    /// What limits the hold.
    pub limits: Vec<String>,
    /// What was not checked, and for want of which input.
    pub not_checked: Vec<String>,
}

impl GripDocument {
    /// No grip figure can be given: neither friction, cutting force, speed nor jaw mass is taken in.
    pub fn not_checked() -> Self {
        Self {
            not_checked: [
                "slip under the cutting torque: no friction and no cutting force taken in",
                "axial push-out: no friction and no axial cutting force taken in",
                "tilting out of the jaws: no friction and no overhang taken in",
                "jaw force at speed: no speed, jaw mass and jaw centroid radius taken in",
                "the chuck's own limits: no rated force and rated speed taken in",
            ]
            .map(str::to_owned)
            .to_vec(),
            ..Self::default()
        }
    }
}

/// How far to trust the driving quantity.
#[derive(Clone, Debug, Serialize)]
pub struct EstimateDocument {
    /// Its name.
    pub quantity: String,
    /// Estimated error as a share of the quantity, or of the largest of it, a hundredth of the surface's roundness tolerance and
    /// 1e-5 of its radius; null when no second mesh was asked for.
    pub relative_error: Option<f64>,
    /// The same error, mm.
    pub absolute_error: Option<f64>,
    /// Estimated error of the largest von Mises stress away from singular places, as a share of it, in the worst held state; null
    /// when no second mesh was asked for.
    pub stress_relative_error: Option<f64>,
    /// Whether the asked accuracy was reached.
    pub converged: bool,
}

/// Elements of the mesh.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct MeshDocument {
    /// Round.
    pub around: usize,
    /// Through the wall.
    pub through: usize,
}

/// Whether the part is good.
#[derive(Clone, Debug, Serialize)]
pub struct Verdict {
    /// Whether every limit that could be judged is met; null where there is none, and where all are met as computed but the part yields:
    /// it keeps a set that is not computed.
    pub in_tolerance: Option<bool>,
    /// Each limit by itself.
    pub limits: Vec<LimitDocument>,
    /// Grip safety; null while it is not checked.
    pub safe: Option<bool>,
    /// The largest stress of any state of the held part; null for a part that is nowhere stressed.
    pub worst_stress: Option<WorstStressDocument>,
    /// The same in words.
    pub says: Vec<String>,
}

/// The state of the held part that comes closest to yield, or passes it by most.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct WorstStressDocument {
    /// Step, from 1.
    pub step: usize,
    /// After which of its cuts, from 1; null: held, before the first.
    pub cut: Option<usize>,
    /// Von Mises stress.
    #[serde(flatten)]
    pub stress: StressDocument,
}

/// One limit held against the finished part.
#[derive(Clone, Debug, Serialize)]
pub struct LimitDocument {
    /// The surface.
    pub surface: Surface,
    /// `roundness`, `diameter`, `average_diameter`, `wall_variation` or `runout`.
    pub limit: &'static str,
    /// Lowest and highest allowed, mm; zones start at 0.
    pub allowed: [f64; 2],
    /// Lowest and highest found, mm; the same twice for a single figure.
    pub found: [f64; 2],
    /// By how much the worst figure is outside, on whichever side, mm; 0 when the limit is met.
    pub over: f64,
    /// By how much the lowest figure is below the lowest allowed, mm; 0 when it is not.
    pub under: f64,
    /// The last step that cuts the surface, from 1: the one at fault if a limit is missed; null where no step cuts it.
    pub cut_in_step: Option<usize>,
    /// Gauges on which a roundness that fails would have been missed: what is judged of their reading (half the movement of one that
    /// reads diameters, else all of it) stays within the zone.
    pub missed_on: Vec<String>,
}

impl StressDocument {
    /// Whether it passes yield, as far as a yield strength is known.
    pub fn yields(&self) -> bool {
        self.yield_margin.is_some_and(|margin| margin < 0.0)
    }
}

impl LimitDocument {
    /// Whether it is met.
    pub fn is_met(&self) -> bool {
        self.over <= 0.0
    }

    /// By how much the highest figure is above the highest allowed, mm; 0 when it is not.
    pub fn above(&self) -> f64 {
        (self.found[1] - self.allowed[1]).max(0.0)
    }
}

impl StepDocument {
    /// The held shape of a surface.
    pub fn held_shape(&self, surface: Surface) -> &Shape {
        match surface {
            Surface::Outer => &self.held.outer,
            Surface::Bore => &self.held.bore,
        }
    }

    /// The released shape of a surface.
    pub fn released_shape(&self, surface: Surface) -> &Shape {
        match surface {
            Surface::Outer => &self.released.outer,
            Surface::Bore => &self.released.bore,
        }
    }

    /// Stress of each state of the held part: before the first cut, then after each.
    pub fn stresses(&self) -> impl Iterator<Item = &StressDocument> {
        std::iter::once(&self.held.stress).chain(self.cuts.iter().map(|c| &c.stress))
    }

    /// Surfaces that the step cuts, outside first.
    pub fn surfaces_cut(&self) -> Vec<Surface> {
        Surface::BOTH
            .into_iter()
            .filter(|&s| self.cuts.iter().any(|c| c.surface == s))
            .collect()
    }
}

impl Shape {
    /// The strongest lobing from two lobes up.
    pub fn main_lobes(&self) -> Option<HarmonicDocument> {
        self.harmonics
            .iter()
            .filter(|h| h.count >= 2)
            .copied()
            .reduce(|a, b| if b.amplitude > a.amplitude { b } else { a })
    }
}

impl ResultDocument {
    /// The document as JSON text, ending in a line break: one key a line down to shapes, lists on one line.
    ///
    /// # Errors
    /// [`ReportError::Encode`] if the encoder fails; it has no reason to.
    pub fn to_json(&self) -> Result<String, ReportError> {
        super::json::to_text(self)
    }
}

#[cfg(test)]
mod tests;
