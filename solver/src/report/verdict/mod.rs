//! The verdict in words: is the part round enough, by how much not, and what would help.

mod limits;

use super::document::{LimitDocument, StepDocument, Verdict};
use super::units::{Units, percent};
use crate::case::{Case, FREE};
use crate::geometry::Surface;
use crate::process::Outcome;

/// Judges the part as the last step leaves it.
pub(super) fn verdict(case: &Case, outcome: &Outcome, steps: &[StepDocument]) -> Verdict {
    let units = Units::new(case.inch);
    let mut says = Vec::new();
    let mut limits = Vec::new();
    if let Some(last) = steps.last() {
        let cut = last.surfaces_cut();
        limits = limits::limits(case, last);
        says.extend(limits.iter().map(|l| judged(case, last, l, units)));
        if case.tolerance.roundness.is_some() && cut.is_empty() {
            says.push(
                "Roundness limit not judged: the last step cuts nothing, and the limit holds for surfaces cut in it."
                    .into(),
            );
        }
        let no_zone = |s: &Surface| {
            !limits
                .iter()
                .any(|l| l.limit == "roundness" && l.surface == *s)
        };
        says.extend(
            cut.iter()
                .filter(|s| no_zone(s))
                .map(|&s| plain(last, s, units)),
        );
        if let Some(back) = outcome.back_off {
            says.push(format!(
                "For {} hold at {} of this force: solved again at that force, the roundness is {}.",
                units.small(back.limit),
                percent(back.fraction),
                units.small(back.roundness)
            ));
        }
        let held_by_something = last.hold != FREE;
        let too_lobed = limits.iter().any(|l| l.limit == "roundness" && !l.is_met());
        if too_lobed && outcome.back_off.is_none() && held_by_something {
            says.push(
                "No fraction of this force was found that meets the limit: change the pads, the hold or the cut.".into(),
            );
        }
        says.extend(cut.iter().filter_map(|&s| size(last, s, units)));
        for cut in &last.cuts {
            if cut.cleaned_up < 1.0 {
                says.push(format!(
                    "The {} is not cleaned up: the tool reaches {} of it; {} more on the diameter would clean it up.",
                    cut.surface.name(),
                    percent(cut.cleaned_up.min(0.9949)),
                    units.small(cut.stock_to_clean_up.abs())
                ));
            }
        }
    }
    for (n, step) in steps.iter().enumerate() {
        if let Some(margin) = step.held.stress.yield_margin
            && margin < 0.0
        {
            says.push(format!(
                "Step {}: the stress away from loaded edges, {}, is above yield.",
                n + 1,
                units.stress(step.held.stress.von_mises_away)
            ));
        }
    }
    says.push("Grip: NOT CHECKED. Whether the hold is safe is not judged.".into());
    Verdict {
        in_tolerance: (!limits.is_empty()).then(|| limits.iter().all(LimitDocument::is_met)),
        limits,
        safe: None,
        says,
    }
}

/// One limit in words.
fn judged(case: &Case, step: &StepDocument, limit: &LimitDocument, units: Units) -> String {
    let sized = limit.limit.ends_with("diameter");
    let shown = |mm: f64| {
        if sized {
            units.size(mm)
        } else {
            units.small(mm)
        }
    };
    let [low, high] = limit.found;
    let found = if low == high {
        shown(low)
    } else {
        format!("{} to {}", shown(low), shown(high))
    };
    let allowed = if sized {
        let [low, high] = limit.allowed;
        format!("allowed {} to {}", shown(low), shown(high))
    } else if limit.limit == "roundness" {
        format!("zone {} radial", shown(limit.allowed[1]))
    } else {
        format!("allowed {}", shown(limit.allowed[1]))
    };
    let mut words = format!(
        "The {} is {}: {} after release {found}, {allowed}",
        limit.surface.name(),
        if limit.is_met() {
            "in tolerance"
        } else {
            "OUT OF TOLERANCE"
        },
        limits::about(case, limit),
    );
    if !limit.is_met() {
        words.push_str(&format!(", over by {}", units.small(limit.over)));
    }
    if limit.limit == "roundness"
        && let Some(error) = step.estimate.relative_error
        && (high - limit.allowed[1]).abs() <= error * high
    {
        words.push_str(&format!(
            "; too close to call, since the mesh alone may be off by {}",
            percent(error)
        ));
    }
    words.push('.');
    if !limit.missed_on.is_empty() {
        words.push_str(&format!(
            " It would have been missed on: {}.",
            limit.missed_on.join(", ")
        ));
    }
    words
}

fn plain(step: &StepDocument, surface: Surface, units: Units) -> String {
    format!(
        "The {} has a roundness of {} after release; no limit is given.",
        surface.name(),
        units.small(step.released_shape(surface).roundness_minimum_zone)
    )
}

/// What the last cut of a surface leaves on average, and what to cut to for that size. First order in the change of
/// diameter: a cut that is moved by a little moves the released average by the same. That does not hold where low spots
/// stay, so nothing is said there.
fn size(step: &StepDocument, surface: Surface, units: Units) -> Option<String> {
    let cut = step.cuts.iter().rev().find(|c| c.surface == surface)?;
    if cut.cleaned_up < 1.0 {
        return None;
    }
    let released = 2.0 * step.released_shape(surface).mean_radius;
    Some(format!(
        "The {}: cut to {} while held, {} on average when released; for {} released, cut to {}.",
        surface.name(),
        units.size(cut.diameter),
        units.size(released),
        units.size(cut.diameter),
        units.size(2.0 * cut.diameter - released)
    ))
}
