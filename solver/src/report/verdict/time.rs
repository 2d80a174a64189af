//! What heat and time change: size once the part has cooled, and a second answer for a plastic that is held long.

use crate::case::Case;
use crate::geometry::Surface;
use crate::report::document::{LongTimeDocument, StepDocument};
use crate::report::units::Units;

/// Every surface that is cut warm, and what it measures once it is cool: `D (1 - alpha dT)`, the part warm all through and free to shrink.
pub(super) fn cooled(case: &Case, steps: &[StepDocument], units: Units) -> Vec<String> {
    let Some(last) = steps.last() else {
        return Vec::new();
    };
    let cut_warm = |surface: Surface| {
        let step = &case.steps[case.last_to_cut(surface)?];
        let rise = step.temperature_rise.filter(|t| *t != 0.0)?;
        let diameter = 2.0 * last.released_shape(surface).mean_radius;
        let name = surface.in_words();
        let Some(alpha) = case.part.material.thermal_expansion else {
            return Some(format!(
                "The {name} is cut {rise} K warmer than it is measured, and by how much it shrinks is not known: give `thermal_expansion` of the material."
            ));
        };
        let shrinks = diameter * alpha * rise;
        Some(format!(
            "The {name} is cut {rise} K warmer than it is measured: cooled, its diameter is {} {}, {} on average (thermal expansion {:.1}e-6 per K; warm all through).",
            units.small(shrinks.abs()),
            if shrinks > 0.0 { "smaller" } else { "larger" },
            units.size(diameter - shrinks),
            alpha * 1e6
        ))
    };
    Surface::BOTH.into_iter().filter_map(cut_warm).collect()
}

/// The second answer for a plastic, beside the first.
pub(super) fn held_long(
    case: &Case,
    long: Option<&LongTimeDocument>,
    steps: &[StepDocument],
    units: Units,
) -> Vec<String> {
    let (Some(long), Some(last)) = (long, steps.last()) else {
        return Vec::new();
    };
    let held = match long.minutes {
        Some(minutes) => format!("Held for {minutes} minutes"),
        None => "Held long".to_owned(),
    };
    let modulus = units.stress(long.modulus);
    let Some(released) = &long.released else {
        return vec![format!(
            "{held}, by when the modulus is {modulus}, no answer was found: the part gives way too far. Hold it more lightly."
        )];
    };
    let on = |surface: Surface| {
        case.last_to_cut(surface)?;
        let late = released.get(surface).roundness_minimum_zone;
        let soon = last.released_shape(surface).roundness_minimum_zone;
        Some(format!(
            "{held}, by when the modulus is {modulus}, the {} comes out with a roundness of {}, as if it had been so from the start: between {} and that, the longer it is held the \
             nearer.",
            surface.in_words(),
            units.small(late),
            units.small(soon)
        ))
    };
    Surface::BOTH.into_iter().filter_map(on).collect()
}
