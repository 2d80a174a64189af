//! The largest stress of any state of the held part, and where it stands.

use crate::case::Case;
use crate::report::document::{StepDocument, WorstStressDocument};
use crate::report::units::{Units, percent};
use crate::report::words;

/// Without a yield strength a stress above this is worth a caution, MPa: grey iron of the softest classes breaks at 140 to 150 in tension
/// (ASTM A48 class 20, EN-GJL-150; from memory).
const WORTH_A_LOOK: f64 = 100.0;

/// A caution where stress is held against no strength.
pub(in crate::report) fn no_strength(
    worst: Option<&WorstStressDocument>,
    units: Units,
) -> Option<String> {
    let stress = worst?.stress;
    let open = stress.yield_margin.is_none() && stress.von_mises_away > WORTH_A_LOOK;
    open.then(|| {
        format!(
            "Stress of {} is held against no strength, since the material has no yield strength: compare it with the tensile strength. \
             A brittle metal such as grey iron cracks there without warning.",
            units.stress_within(stress.von_mises_away, stress.von_mises_error)
        )
    })
}

/// That state in words.
pub(super) fn told(
    case: &Case,
    steps: &[StepDocument],
    worst: &WorstStressDocument,
    units: Units,
) -> String {
    let step = &steps[worst.step - 1];
    let state = match worst.cut {
        None => "held".to_owned(),
        Some(k) => format!("after cut {k}"),
    };
    let in_step = match steps.len() {
        1 => String::new(),
        _ => format!("step {} ", worst.step),
    };
    let drawn = [case.part.stock.outer.radius, case.part.stock.bore.radius];
    let before = steps[..worst.step - 1].iter().flat_map(|s| &s.cuts);
    let cuts = before.chain(step.cuts.iter().take(worst.cut.unwrap_or(0)));
    let radii = words::radii_after(drawn, cuts.map(|c| (&c.surface, c.diameter)));
    let none = match case.part.material.yield_strength {
        Some(_) => "",
        None => "; the material has no yield strength to hold it against",
    };
    // the step tells the angle; here it matters where the part gives way
    let place = if worst.stress.yields() {
        words::place(&worst.stress, radii, units)
    } else {
        words::depth(&worst.stress, radii, units)
    };
    let margin = worst.stress.yield_margin.unwrap_or(f64::INFINITY);
    let doubtful = step
        .estimate
        .stress_relative_error
        .filter(|error| (1.0 / (1.0 + margin) - 1.0).abs() <= *error);
    let close = doubtful.map_or(String::new(), |error| {
        format!(
            "; too close to call, since the mesh alone may be off by {}",
            percent(error)
        )
    });
    format!(
        "Largest von Mises stress {}, {in_step}{state}, {}{none}{close}.",
        words::against_yield(&worst.stress, units),
        place
    )
}
