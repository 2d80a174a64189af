//! The verdict in words: is the part good, by how much not, and what would help. Everything is judged on the finished part, after
//! the last step, and on every state of the held part.

mod advice;
mod holds;
mod limits;
mod size;
mod stress;

use super::document::{LimitDocument, StepDocument, Verdict};
use super::units::{Units, percent};
use crate::case::Case;
use crate::geometry::Surface;
use crate::process::Outcome;

pub(super) use holds::cautions_of_holds;

/// Judges the finished part.
pub(super) fn verdict(case: &Case, outcome: &Outcome, steps: &[StepDocument]) -> Verdict {
    let units = Units::new(case.inch);
    let mut says = Vec::new();
    let mut limits = Vec::new();
    let worst_stress = stress::worst(steps);
    if let Some(last) = steps.last() {
        limits = limits::limits(case, last);
        let (met, missed): (Vec<_>, Vec<_>) = limits.iter().partition(|l| l.is_met());
        let judged = missed.into_iter().chain(met);
        says.extend(judged.map(|l| limits::judged(case, steps, l, units)));
        says.extend(not_judged(case, &limits, last, units));
        says.extend(advice::advice(outcome, steps, units));
        says.extend(advice::not_cut(&limits));
        says.extend(
            Surface::BOTH
                .into_iter()
                .filter_map(|s| size::size(case, steps, &limits, s, units)),
        );
        says.extend(low_spots(steps, units));
    }
    says.extend(worst_stress.map(|worst| stress::told(case, steps, &worst, units)));
    says.push("Grip: NOT CHECKED. Whether the hold is safe is not judged.".into());
    Verdict {
        in_tolerance: (!limits.is_empty()).then(|| limits.iter().all(LimitDocument::is_met)),
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

/// Where the tool did not reach all round, unless a later cut did.
fn low_spots(steps: &[StepDocument], units: Units) -> Vec<String> {
    let one = |surface: Surface| {
        let cuts = steps.iter().flat_map(|s| &s.cuts);
        let last = cuts.rev().find(|c| c.surface == surface)?;
        (last.cleaned_up < 1.0).then(|| {
            format!(
                "The {} DID NOT CLEAN UP ({}): take {} more on the diameter.",
                surface.in_words(),
                percent(last.cleaned_up.min(0.9949)),
                units.small(last.stock_to_clean_up.abs())
            )
        })
    };
    Surface::BOTH.into_iter().filter_map(one).collect()
}
