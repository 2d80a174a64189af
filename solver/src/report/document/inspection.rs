//! How the finished part is looked at, and what looking at it does to it.

use serde::Serialize;

use crate::case::Case;
use crate::geometry::Surface;
use crate::process::{GaugeFlex, NotComputed, Outcome};
use crate::report::words::orientation;

/// What every released figure means: the free state of the drawing standards (ISO 10579 and ASME Y14.5, from memory), in which
/// nothing but weight acts on the part.
const FREE_STATE: &str = "free state: released, unrestrained";

/// How the finished part is looked at.
#[derive(Clone, Debug, Serialize)]
pub struct InspectionDocument {
    /// The state that released figures are about.
    pub state: &'static str,
    /// How the part stands.
    pub orientation: String,
    /// Of part and gauge, deg C; sizes are those at this temperature, nothing is converted.
    pub temperature: f64,
    /// Reference circle where a surface's own roundness limit names none; `[tolerance] roundness` is always the minimum zone, unfiltered.
    pub circle: &'static str,
    /// Cut-off of the Gaussian filter, undulations per revolution; null: unfiltered.
    pub filter_upr: Option<f64>,
    /// The gauge named, in words.
    pub gauge: Option<String>,
    /// What the force of that gauge does to its reading, one entry a surface.
    pub measuring_force: Vec<ForceDocument>,
    /// What the part's own weight does as it stands; null where it lies on its face.
    pub own_weight: Option<WeightDocument>,
    /// What was asked for and not computed, and for want of which input.
    pub not_computed: Vec<String>,
}

/// Flexing by a measuring force; the dent under the contact is left out.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct ForceDocument {
    /// Surface measured.
    pub surface: Surface,
    /// Force of the indicator, or of each of the contacts where they face each other, N.
    pub force: f64,
    /// Change of the reading, mean over a turn, mm; negative: it reads less.
    pub change: f64,
    /// Largest less smallest change over the turn, mm.
    pub variation: f64,
    /// Estimated error of both, mm.
    pub error: Option<f64>,
}

/// Flexing by own weight, the worst way up.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct WeightDocument {
    /// N.
    pub weight: f64,
    /// Part angle that is on top, degrees.
    pub up: f64,
    /// Out-of-roundness that a round part would show, mm.
    pub out_of_roundness: f64,
    /// Change of the vertical diameter, mm.
    pub vertical: f64,
    /// Change of the horizontal diameter, mm.
    pub horizontal: f64,
    /// Estimated error of the three, mm.
    pub error: Option<f64>,
}

impl InspectionDocument {
    pub(super) fn of(case: &Case, outcome: &Outcome) -> Self {
        let inspection = &case.inspection;
        let flex = outcome.inspection.clone().unwrap_or_default();
        Self {
            state: FREE_STATE,
            orientation: orientation(inspection.support),
            temperature: inspection.temperature,
            circle: inspection.circle.name(),
            filter_upr: inspection.filter_upr,
            gauge: inspection.gauge.map(|g| g.to_string()),
            measuring_force: forces(&flex),
            own_weight: flex.weight.map(|w| WeightDocument {
                weight: w.weight,
                up: w.up_deg + 0.0,
                out_of_roundness: w.out_of_roundness,
                vertical: w.vertical,
                horizontal: w.horizontal,
                error: w.error,
            }),
            not_computed: flex.not_computed.iter().map(not_computed).collect(),
        }
    }

    /// Whether every figure is a number.
    pub(super) fn is_finite(&self) -> bool {
        let forces = self
            .measuring_force
            .iter()
            .flat_map(|f| [f.force, f.change, f.variation]);
        let weight = self
            .own_weight
            .iter()
            .flat_map(|w| [w.weight, w.up, w.out_of_roundness, w.vertical, w.horizontal]);
        forces.chain(weight).all(f64::is_finite)
    }
}

fn not_computed(what: &NotComputed) -> String {
    match what {
        NotComputed::Weight => "own weight: the material has no density".to_owned(),
    }
}

fn forces(flex: &GaugeFlex) -> Vec<ForceDocument> {
    flex.force
        .iter()
        .map(|f| ForceDocument {
            surface: f.surface,
            force: f.force,
            change: f.change,
            variation: f.variation,
            error: f.error,
        })
        .collect()
}
