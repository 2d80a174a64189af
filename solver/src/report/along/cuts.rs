//! What a cut left along the length.

use super::{NOTHING, the};
use crate::report::document::{CutAlongDocument, TubeDocument};
use crate::report::units::Units;

/// A cut ends at an end of the part if it comes as near as this, mm.
const AT_END: f64 = 1e-6;

/// Taper, barrel and range of a cut in a line; `cone`: a cone was asked for.
pub(super) fn line(
    cut: &CutAlongDocument,
    tube: &TubeDocument,
    cone: bool,
    units: Units,
) -> String {
    let whole = cut.from <= AT_END && cut.to >= tube.length - AT_END;
    let stretch = if whole {
        String::new()
    } else {
        format!(
            " from {} to {}",
            units.position(cut.from),
            units.position(cut.to)
        )
    };
    let about = if cone {
        "about the cone asked for"
    } else {
        "about the best coaxial cylinder"
    };
    format!(
        "{} along the length{stretch}, after release: {}; {}; radius varies by {} in all, lobes included, {about}",
        the(cut.surface),
        taper(cut, cone, units),
        barrel(cut, units),
        units.small_within(cut.range, cut.error.map(|e| e.range))
    )
}

fn taper(cut: &CutAlongDocument, cone: bool, units: Units) -> String {
    let beyond = if cone {
        " beyond the cone asked for"
    } else {
        ""
    };
    if cut.taper.abs() < NOTHING {
        return format!("no taper{beyond}");
    }
    let (larger, smaller) = if cut.taper > 0.0 {
        (cut.to, cut.from)
    } else {
        (cut.from, cut.to)
    };
    format!(
        "taper {} on the diameter{beyond}, larger at {} than at {}",
        units.small_within(cut.taper.abs(), cut.error.map(|e| e.taper)),
        units.position(larger),
        units.position(smaller)
    )
}

fn barrel(cut: &CutAlongDocument, units: Units) -> String {
    if cut.barrel.abs() < NOTHING {
        return "straight".into();
    }
    let than = if cut.barrel > 0.0 {
        "larger"
    } else {
        "smaller"
    };
    format!(
        "mean diameter {} {than} in the middle than at the ends",
        units.small_within(cut.barrel.abs(), cut.error.map(|e| e.barrel))
    )
}
