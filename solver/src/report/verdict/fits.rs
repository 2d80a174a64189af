//! What goes into a lobed bore or over a lobed outside, in words.

use crate::geometry::Surface;
use crate::judge::Fit;
use crate::report::document::StepDocument;
use crate::report::units::Units;

pub(super) fn fits(fit: &Fit, last: Option<&StepDocument>, units: Units) -> String {
    let read = last.map(|s| s.gauges.released.get(fit.surface));
    let circle = read.and_then(|r| match fit.surface {
        Surface::Bore => r.maximum_inscribed.as_ref(),
        Surface::Outer => r.minimum_circumscribed.as_ref(),
    });
    let error = circle.and_then(|c| c.radius_error).map(|e| 2.0 * e);
    let (words, side) = match fit.surface {
        Surface::Bore => ("largest plug that enters the bore", "under the lower limit"),
        Surface::Outer => (
            "smallest ring that goes over the outside",
            "over the upper limit",
        ),
    };
    format!(
        "The {words} is {}: {side}, which two-point diameters do not show.",
        units.size_within(fit.size, error)
    )
}
