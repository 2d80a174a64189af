//! The verdict in words: is the part good, by how much not, and what would help. Everything is judged on the finished part, after
//! the last step, and on every state of the held part.

mod advice;
mod clean_up;
mod fits;
mod holds;
mod limits;
mod size;
mod stress;

use super::document::{LimitDocument, StepDocument, Verdict};
use super::units::Units;
use crate::case::Case;
use crate::geometry::Surface;
use crate::process::Outcome;

pub(super) use holds::cautions_of_holds;
pub(super) use stress::no_strength;

/// Judges the finished part.
pub(super) fn verdict(case: &Case, outcome: &Outcome, steps: &[StepDocument]) -> Verdict {
    let units = Units::new(case.inch);
    let mut says = Vec::new();
    let mut limits = Vec::new();
    let worst_stress = stress::worst(steps);
    let yields = worst_stress.is_some_and(|w| w.stress.yields());
    if let Some(last) = steps.last() {
        limits = limits::limits(case, last);
        let (met, missed): (Vec<_>, Vec<_>) = limits.iter().partition(|l| l.is_met());
        let judged = missed.into_iter().chain(met);
        says.extend(judged.map(|l| limits::judged(case, steps, l, yields, units)));
        says.extend(limits.iter().filter_map(|l| fits::fits(last, l, units)));
        says.extend(not_judged(case, &limits, last, units));
        says.extend(advice::advice(outcome, steps, &limits, units));
        says.extend(advice::not_cut(&limits));
        // the size of a part that keeps a set is not computed
        let sized = Surface::BOTH.into_iter().filter(|_| !yields);
        says.extend(sized.filter_map(|s| size::size(case, steps, &limits, s, units)));
        says.extend(clean_up::low_spots(outcome, steps, units));
    }
    says.extend(worst_stress.map(|worst| stress::told(case, steps, &worst, units)));
    says.push("Grip: NOT CHECKED. Whether the hold is safe is not judged.".into());
    let met = limits.iter().all(LimitDocument::is_met);
    // met as computed is not known to be met by a part that keeps a set
    let open = limits.is_empty() || (met && yields);
    Verdict {
        in_tolerance: (!open).then_some(met),
        limits,
        safe: None,
        worst_stress,
        says,
    }
}

/// What a roundness limit says nothing about: a part that no step cuts, and cut surfaces without a limit.
fn not_judged(
    case: &Case,
    limits: &[LimitDocument],
    last: &StepDocument,
    units: Units,
) -> Vec<String> {
    let cut: Vec<Surface> = Surface::BOTH
        .into_iter()
        .filter(|&s| case.last_to_cut(s).is_some())
        .collect();
    if case.tolerance.roundness.is_some() && cut.is_empty() {
        return vec![
            "Roundness limit not judged: no step cuts anything, and the limit holds for surfaces that are cut."
                .into(),
        ];
    }
    let has_zone = |s: Surface| {
        let mut zones = limits.iter().filter(|l| l.limit == "roundness");
        zones.any(|l| l.surface == s)
    };
    cut.into_iter()
        .filter(|&s| !has_zone(s))
        .map(|s| {
            format!(
                "The {} has a roundness of {} after release; no limit is given.",
                s.in_words(),
                units.small(last.released_shape(s).roundness_minimum_zone)
            )
        })
        .collect()
}
