//! The verdict in words: is the part good, by how much not, and what would help. What is decided is decided in `judge`.

mod advice;
mod clean_up;
mod fits;
mod grip;
mod holds;
mod limits;
mod size;
mod stress;
mod time;
mod window;

use limits::Against;

use super::document::{
    LongTimeDocument, StepDocument, StressDocument, Verdict, WorstStressDocument,
};
use super::units::Units;
use crate::case::Case;
use crate::judge::{Judgement, Limit};
use crate::process::Outcome;

pub(crate) use holds::caution as caution_of_hold;
pub(super) use stress::no_strength;

/// Words a judgement.
pub(super) fn verdict(
    case: &Case,
    outcome: &Outcome,
    judgement: &Judgement,
    (steps, long_time): (&[StepDocument], Option<&LongTimeDocument>),
    units: Units,
) -> Verdict {
    let against = match (judgement.force_unknown.is_empty(), judgement.yields()) {
        (false, _) => Against::UnitForce,
        (true, true) => Against::Yielding,
        (true, false) => Against::Part,
    };
    let limits = &judgement.limits;
    let mut says: Vec<String> = grip::dangers(judgement, steps.len(), units)
        .into_iter()
        .collect();
    says.extend(not_judged(judgement));
    let (met, missed): (Vec<_>, Vec<_>) = limits.iter().partition(|l| l.is_met());
    let in_order = missed.into_iter().chain(met);
    says.extend(in_order.map(|l: &Limit| limits::judged(case, steps, l, against, units)));
    says.extend(
        judgement
            .fits
            .iter()
            .map(|fit| fits::fits(fit, steps.last(), units)),
    );
    if let Some(last) = steps.last() {
        says.extend(unlimited(judgement, last, units));
    }
    let bands = judgement.band_misses.iter();
    says.extend(bands.map(|&miss| window::band_missed(outcome, miss)));
    says.extend(window::told(outcome, units));
    says.extend(window::per_unit_force(case, judgement, steps, units));
    says.extend(advice::advice(outcome, judgement, units));
    says.extend(advice::not_cut(limits));
    let sizes = judgement.sizes.iter();
    says.extend(sizes.map(|size| size::size(size, steps.len(), units)));
    says.extend(time::cooled(case, steps, units));
    says.extend(time::held_long(case, long_time, steps, units));
    says.extend(clean_up::low_spots(outcome, steps, units));
    let worst_stress = judgement.worst_stress.map(|worst| WorstStressDocument {
        step: worst.step + 1,
        cut: worst.cut.map(|k| k + 1),
        stress: StressDocument::of(
            &worst.stress,
            outcome.steps[worst.step].estimate.stress_relative_error,
        ),
    });
    says.extend(worst_stress.map(|worst| stress::told(case, steps, &worst, units)));
    says.push(grip::told(outcome, judgement));
    Verdict {
        headlines: grip::headlines(judgement),
        in_tolerance: judgement.in_tolerance,
        limits: limits.iter().map(limits::document).collect(),
        safe: judgement.safe,
        worst_stress,
        says,
    }
}

/// Roundness limits about a circle that is not known.
fn not_judged(judgement: &Judgement) -> Vec<String> {
    let words = |open: &crate::judge::Unjudged| {
        format!(
            "The roundness of the {} is NOT JUDGED: its {} is not known.",
            open.surface.name(),
            open.circle.name()
        )
    };
    judgement.unjudged.iter().map(words).collect()
}

/// What a roundness limit says nothing about: a part that no step cuts, and cut surfaces without a limit.
fn unlimited(judgement: &Judgement, last: &StepDocument, units: Units) -> Vec<String> {
    if judgement.unlimited.nothing_cut {
        return vec![
            "Roundness limit not judged: no step cuts anything, and the limit holds for surfaces that are cut."
                .into(),
        ];
    }
    let open = judgement.unlimited.surfaces.iter();
    open.map(|&s| {
        let shape = last.released_shape(s);
        format!(
            "The {} has a roundness of {} after release; no limit is given.",
            s.in_words(),
            units.small_within(
                shape.roundness_minimum_zone,
                shape.error.map(|e| e.roundness)
            )
        )
    })
    .collect()
}
