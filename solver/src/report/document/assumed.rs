//! What was taken for granted, in words.

use crate::case::Case;
use crate::process::{FromSqueeze, Outcome};
use crate::report::units::Units;

/// What was taken for granted: in reading the case, and of forces in solving it.
pub(super) fn assumed(case: &Case, outcome: &Outcome, shown: Units) -> Vec<String> {
    let found = outcome.steps.iter().enumerate().filter_map(|(n, step)| {
        let words = found_force(step.from_squeeze.as_ref()?, shown);
        Some(match outcome.steps.len() {
            1 => words,
            _ => format!("step {}: {words}", n + 1),
        })
    });
    case.assumed.iter().cloned().chain(found).collect()
}

/// "force found from squeeze 0.050 mm (1.97 thou): 812 N (183 lbf) a jaw, 790 N (178 lbf) to 834 N (187 lbf)".
fn found_force(found: &FromSqueeze, shown: Units) -> String {
    let [low, nominal, high] =
        [found.force.low, found.force.nominal, found.force.high].map(|f| shown.set_force(f));
    let band = match found.force.is_exact() {
        true => String::new(),
        false => format!(", {low} to {high}"),
    };
    format!(
        "force found from squeeze {}: {nominal} a {}{band}",
        shown.small(found.squeeze.nominal),
        found.called
    )
}
