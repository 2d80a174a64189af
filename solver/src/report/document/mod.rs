//! `result.json`: the figures of a solved case, and the verdict in words.
//!
//! Lengths mm, forces N, stresses MPa, angles degrees. Key order is part of the format: people read it too. The types
//! are here and in the modules named after what they describe; `build` fills them from an outcome.

mod assumed;
mod build;
mod cause;
mod errors;
mod gauge;
mod grip;
mod held;
mod inspection;
mod part;
mod shape;
#[cfg(test)]
mod tests;
mod time;
mod tool;
mod tube;
mod verdict;

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
pub use grip::{GripDocument, RangesDocument, SetByDocument, ToolForceDocument, WindowDocument};
pub use held::{
    AfterCutDocument, BalanceDocument, ContactDocument, ContactErrorDocument, HeldDocument,
    LoadDocument, PressureDocument, StressDocument, StressPlaceDocument,
};
pub use inspection::{ForceDocument, InspectionDocument, WeightDocument};
pub use part::{MaterialDocument, PartDocument, ReadingsDocument};
pub use shape::{
    DisplacementDocument, HarmonicDocument, Shape, ShapeErrorDocument, WallDocument, ZoneCircle,
};
pub use time::{LateShape, LongTimeDocument};
pub use tool::{LiftsOffDocument, ToolDipDocument};
pub use tube::{
    BucklingDocument, BulgeDocument, CutAlongDocument, CutAlongErrorDocument, GripAlongDocument,
    LineForceDocument, PlatesDocument, StationDocument, TubeDocument, TubeMeshDocument,
};
pub use verdict::{LimitDocument, Verdict, WorstStressDocument};

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
    /// The finished part of a plastic after a long hold; left out where no modulus is given for that.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub long_time: Option<LongTimeDocument>,
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

impl UnitNames {
    /// Those of every document.
    pub const OURS: Self = Self {
        length: "mm",
        force: "N",
        stress: "MPa",
        angle: "deg",
    };
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
    /// The same at the speed of the step, in which the cuts are made; left out where turning changes nothing that is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub held_at_speed: Option<HeldDocument>,
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
    /// The sections asked for of a case with `[tube]`; left out of others.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stations: Option<Vec<StationDocument>>,
    /// The part along its length, of a case with `[tube]`; left out of others.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tube: Option<TubeDocument>,
    /// How far to trust the driving quantity.
    pub estimate: EstimateDocument,
    /// The mesh that gave the answer.
    pub mesh: MeshDocument,
}

/// What one cut did.
#[derive(Clone, Debug, Serialize)]
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
    /// Estimated errors of these figures; null when no second mesh was asked for.
    pub error: Option<CutErrorDocument>,
    /// Force of the tool, as given or estimated; left out where nothing is known of it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tool_force: Option<ToolForceDocument>,
    /// Von Mises stress of the part once this cut is taken, still held.
    #[serde(flatten)]
    pub stress: StressDocument,
    /// What the force of the tool did; left out of a cut without one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tool_dip: Option<ToolDipDocument>,
}

/// Estimated errors of the figures of a cut.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct CutErrorDocument {
    /// Of the share that the tool reached.
    pub cleaned_up: f64,
    /// Of both depths, mm.
    pub depth: f64,
    /// mm.
    pub stock_to_clean_up: f64,
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
    /// Estimated errors of these, mm; null when no second mesh was asked for.
    pub average_diameter_error: PerSurface<Option<f64>>,
    /// Full indicator movement on each surface while the part turns about the least-squares centre of the other, mm.
    pub runout: PerSurface<f64>,
    /// Estimated errors of these, mm; null when no second mesh was asked for.
    pub runout_error: PerSurface<Option<f64>>,
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
    /// Round; 0 of a tube, whose mesh lies in the plane through its axis: see `tube.mesh`.
    pub around: usize,
    /// Through the wall.
    pub through: usize,
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

impl ResultDocument {
    /// The document as JSON text, ending in a line break: one key a line down to shapes, lists on one line.
    ///
    /// # Errors
    /// [`ReportError::Encode`] if the encoder fails; it has no reason to.
    pub fn to_json(&self) -> Result<String, ReportError> {
        super::json::to_text(self)
    }
}
