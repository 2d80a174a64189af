//! What goes into a lobed bore or over a lobed outside: a two-point diameter does not tell.

use crate::geometry::Surface;
use crate::report::document::{LimitDocument, StepDocument};
use crate::report::units::Units;

/// Said of a diameter that is inside its limits across every two points, while the largest plug that enters the bore, or the smallest ring
/// that goes over the outside, is not: an odd count of lobes is the same across everywhere (ISO 14405-1 keeps the two-point size and
/// the sizes of the inscribed and the circumscribed circle apart).
pub(super) fn fits(last: &StepDocument, limit: &LimitDocument, units: Units) -> Option<String> {
    if limit.limit != "diameter" {
        return None;
    }
    let read = last.gauges.released.get(limit.surface);
    let [low, high] = limit.allowed;
    let (circle, words) = match limit.surface {
        Surface::Bore => (&read.maximum_inscribed, "largest plug that enters the bore"),
        Surface::Outer => (
            &read.minimum_circumscribed,
            "smallest ring that goes over the outside",
        ),
    };
    let size = 2.0 * circle.as_ref()?.radius;
    let (inside, beyond) = match limit.surface {
        Surface::Bore => (limit.found[0] >= low, size < low),
        Surface::Outer => (limit.found[1] <= high, size > high),
    };
    (inside && beyond).then(|| {
        let side = match limit.surface {
            Surface::Bore => "under the lower limit",
            Surface::Outer => "over the upper limit",
        };
        format!(
            "The {words} is {}: {side}, which two-point diameters do not show.",
            units.size(size)
        )
    })
}
