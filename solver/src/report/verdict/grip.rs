//! Whether the grip is safe, in words.

use crate::judge::{ENOUGH, Judgement};
use crate::process::Outcome;
use crate::report::grip::{FORCE_UNKNOWN, NOT_SAFE, STAYS_BENT, not_safe, safety};
use crate::report::units::Units;

/// What stands at the head of every output.
pub(super) fn headlines(judgement: &Judgement) -> Vec<&'static str> {
    let bent = judgement.yields().then_some(STAYS_BENT);
    let unknown = (!judgement.force_unknown.is_empty()).then_some(FORCE_UNKNOWN);
    let all = headline(judgement).into_iter();
    all.chain(unknown).chain(bent).collect()
}

fn headline(judgement: &Judgement) -> Option<&'static str> {
    (!judgement.not_safe.is_empty()).then_some(NOT_SAFE)
}

/// What the first line of the verdict says of a hold that is not safe.
pub(super) fn dangers(judgement: &Judgement, steps: usize, units: Units) -> Option<String> {
    let headline = headline(judgement)?;
    let all = judgement.not_safe.iter();
    let all: Vec<String> = all.map(|found| not_safe(found, steps, units)).collect();
    Some(format!("{headline}: {}.", all.join("; ")))
}

/// How safe the grip is found to be, in one line that begins with `Grip`.
pub(super) fn told(outcome: &Outcome, judgement: &Judgement) -> String {
    let cutting = || outcome.steps.iter().filter(|s| !s.cuts.is_empty());
    let least = cutting()
        .filter_map(|s| s.grip.safety)
        .map(|s| s[0])
        .filter(|s| s.is_finite())
        .reduce(f64::min);
    let open = outcome.steps.iter().any(|s| !s.grip.open.is_empty());
    let Some(least) = least else {
        return match judgement.not_safe.is_empty() {
            true => "Grip: NOT CHECKED. Whether the hold is safe is not judged.".into(),
            false => "Grip, estimated: what is known of it is not enough already.".into(),
        };
    };
    let all = cutting().all(|s| s.grip.safety.is_some());
    let takes = format!(
        "the hold takes {} times what the cuts ask, at the unfavourable ends of what is known",
        safety(least)
    );
    if !judgement.not_safe.is_empty() {
        let some = if all {
            ""
        } else {
            " Of some steps it is not known."
        };
        return format!("Grip, estimated: {takes}.{some}");
    }
    let guideline = match least < ENOUGH {
        true => format!(", less than the {ENOUGH} that the guideline for chucks asks for"),
        false => format!(" (the guideline for chucks asks for {ENOUGH})"),
    };
    let rest = match (all, open) {
        (false, _) => " Of some steps it is not known.",
        (true, true) => " What was not checked stands with each step.",
        (true, false) => "",
    };
    format!("Grip, estimated: {takes}{guideline}.{rest}")
}
