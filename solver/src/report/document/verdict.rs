//! Whether the part is good: limits, the worst stress, and both in words.

use serde::Serialize;

use super::StressDocument;
use crate::geometry::Surface;

/// Whether the part is good.
#[derive(Clone, Debug, Serialize)]
pub struct Verdict {
    /// What stands at the head of every output: `NOT SAFE BY THIS ESTIMATE` where a slip is predicted or a limit of the chuck is passed, and that a part which
    /// yields would stay bent.
    pub headlines: Vec<&'static str>,
    /// Whether every limit that could be judged is met; null where there is none, and where all are met as computed but the part yields:
    /// it keeps a set that is not computed.
    pub in_tolerance: Option<bool>,
    /// Each limit by itself.
    pub limits: Vec<LimitDocument>,
    /// Whether the grip is safe by the estimate: true only if it was checked in every way and has enough; null where that is not known.
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
    /// Share of it that is used up, see [`crate::judge::Limit::used`].
    #[serde(skip)]
    pub used: f64,
    /// Where along a tube the section lies that the limit is held against, the worst of all that is cut of the surface, mm; not there for a slice.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub z: Option<f64>,
    /// The last step that cuts the surface, from 1: the one at fault if a limit is missed; null where no step cuts it.
    pub cut_in_step: Option<usize>,
    /// Gauges on which a roundness that fails would have been missed: what is judged of their reading (half the movement of one that
    /// reads diameters, else all of it) stays within the zone.
    pub missed_on: Vec<String>,
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
