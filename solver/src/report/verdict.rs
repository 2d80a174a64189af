//! The verdict in words: is the part round enough, by how much not, and what would help.

use super::document::{StepDocument, Verdict};
use super::units::{Units, percent};
use crate::case::{Case, FREE};
use crate::geometry::Surface;
use crate::process::Outcome;

/// Judges the last step.
pub(super) fn verdict(case: &Case, outcome: &Outcome, steps: &[StepDocument]) -> Verdict {
    let units = Units::new(case.inch);
    let mut says = Vec::new();
    let mut in_tolerance = None;
    if let Some(last) = steps.last() {
        let cut = last.surfaces_cut();
        match case.tolerance.roundness {
            Some(limit) if !cut.is_empty() => {
                let mut all = true;
                for &surface in &cut {
                    let (good, words) = judge(last, surface, limit, units);
                    all &= good;
                    says.push(words);
                }
                in_tolerance = Some(all);
            }
            Some(_) => says.push(
                "Roundness limit not judged: the last step cuts nothing, and the limit holds for surfaces cut in it."
                    .into(),
            ),
            None => says.extend(cut.iter().map(|&s| plain(last, s, units))),
        }
        if let (Some(back), Some(limit)) = (outcome.back_off, case.tolerance.roundness) {
            says.push(format!(
                "For {} hold at {} of this force: solved again at that force, the roundness is {}.",
                units.small(limit),
                percent(back.fraction),
                units.small(back.roundness)
            ));
        }
        let held_by_something = last.hold != FREE;
        if in_tolerance == Some(false) && outcome.back_off.is_none() && held_by_something {
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
        if let Some(margin) = step.held.yield_margin
            && margin < 0.0
        {
            says.push(format!(
                "Step {}: the stress away from loaded edges, {}, is above yield.",
                n + 1,
                units.stress(step.held.von_mises_away)
            ));
        }
    }
    says.push("Grip: NOT CHECKED. Whether the hold is safe is not judged.".into());
    Verdict {
        in_tolerance,
        safe: None,
        says,
    }
}

/// Whether a surface is within the limit, and the words for it.
fn judge(step: &StepDocument, surface: Surface, limit: f64, units: Units) -> (bool, String) {
    let roundness = step.released_shape(surface).roundness_minimum_zone;
    let good = roundness <= limit;
    let mut words = format!(
        "The {} is {}: roundness after release {}, zone {} radial",
        surface.name(),
        if good {
            "in tolerance"
        } else {
            "OUT OF TOLERANCE"
        },
        units.small(roundness),
        units.small(limit)
    );
    if !good {
        words.push_str(&format!(", over by {}", units.small(roundness - limit)));
    }
    if let Some(error) = step.estimate.relative_error
        && (roundness - limit).abs() <= error * roundness
    {
        words.push_str(&format!(
            "; too close to call, since the mesh alone may be off by {}",
            percent(error)
        ));
    }
    words.push('.');
    (good, words)
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
