//! The memory that a mesh takes, and the most that it may.

use crate::geometry::Surface;
use crate::process::plan::Plan;
use crate::process::step::Setting;
use crate::process::{ProcessError, Reason, TooLarge};

/// Most memory that a graded mesh may take, bytes.
pub(super) const MOST_BYTES: f64 = 2e9;

/// Memory of a run, bytes; of each element; and of the sparse factors of the stock and of the cut part, whose fill grows with the layers
/// through the wall, for each element and layer. Measured: 1.12 GB at 192,294 elements in 27 layers, 2.19 at 116,144 in 122, 2.48 at
/// 140,590 in 85; 0.38 at 87,516 of a round ring that is held alone.
const BYTES_OF_A_RUN: f64 = 200e6;
const BYTES_AN_ELEMENT: f64 = 4e3;
const BYTES_A_LAYER: f64 = 130.0;
const BYTES_A_ROUND_ELEMENT: f64 = 3e3;

/// Memory that a step takes on so many elements in so many layers, bytes.
pub(super) fn bytes(setting: &Setting, elements: usize, through: usize) -> f64 {
    let outlines = &setting.body.outlines;
    let stays_round = setting.step.cuts.is_empty()
        && Surface::BOTH
            .into_iter()
            .all(|s| outlines.get(s).as_round().is_some());
    let each = if stays_round {
        BYTES_A_ROUND_ELEMENT
    } else {
        BYTES_AN_ELEMENT + BYTES_A_LAYER * through as f64
    };
    BYTES_OF_A_RUN + each * elements as f64
}

/// Refuses a plan that takes more memory than a run may, with the figures, before any is taken for it.
pub(super) fn sized(setting: &Setting, plan: Plan) -> Result<Plan, ProcessError> {
    let elements = plan.elements();
    let through = plan.layers.len() - 1;
    let needed = bytes(setting, elements, through);
    if needed <= MOST_BYTES {
        return Ok(plan);
    }
    let share = ((MOST_BYTES - BYTES_OF_A_RUN) / (needed - BYTES_OF_A_RUN)).sqrt();
    let fits = |n: usize| (n as f64 * share).floor().max(1.0) as usize;
    Err(Reason::TooLarge(TooLarge::Mesh {
        elements,
        bytes: needed,
        most_bytes: MOST_BYTES,
        fits: [fits(plan.ends.len()), fits(through)],
    })
    .into())
}
