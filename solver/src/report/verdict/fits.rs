//! What goes into a lobed bore or over a lobed outside, in words.

use crate::geometry::Surface;
use crate::judge::Fit;
use crate::report::units::Units;

pub(super) fn fits(fit: &Fit, units: Units) -> String {
    let (words, side) = match fit.surface {
        Surface::Bore => ("largest plug that enters the bore", "under the lower limit"),
        Surface::Outer => (
            "smallest ring that goes over the outside",
            "over the upper limit",
        ),
    };
    format!(
        "The {words} is {}: {side}, which two-point diameters do not show.",
        units.size(fit.size)
    )
}
