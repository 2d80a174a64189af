//! Surfaces that the tool did not reach all round.

use crate::geometry::Surface;
use crate::process::Outcome;
use crate::report::document::{CutDocument, StepDocument};
use crate::report::units::{Units, percent_within};

/// Where the tool did not reach all round, unless a later cut did, and what a larger cut does about it.
pub(super) fn low_spots(outcome: &Outcome, steps: &[StepDocument], units: Units) -> Vec<String> {
    let one = |surface: Surface| {
        let cuts = steps.iter().flat_map(|s| &s.cuts);
        let last = cuts.rev().find(|c| c.surface == surface)?;
        (last.cleaned_up < 1.0).then(|| {
            let mut found = outcome.clean_up.iter().filter(|c| c.surface == surface);
            format!(
                "The {} DID NOT CLEAN UP: {}. {}",
                surface.in_words(),
                untouched(last, units),
                mended(last, found.next().and_then(|c| c.cut_to), units)
            )
        })
    };
    Surface::BOTH.into_iter().filter_map(one).collect()
}

/// How much of the turn was missed, and how low it lies.
fn untouched(cut: &CutDocument, units: Units) -> String {
    // neither all nor nothing while some of it is untouched
    let share = (1.0 - cut.cleaned_up).clamp(0.0051, 1.0);
    format!(
        "{} of the way round untouched, low by up to {} on the diameter while held",
        percent_within(share, cut.error.map(|e| e.cleaned_up)),
        units.small_within(
            cut.stock_to_clean_up.abs(),
            cut.error.map(|e| e.stock_to_clean_up)
        )
    )
}

fn mended(cut: &CutDocument, cut_to: Option<f64>, units: Units) -> String {
    match cut_to {
        Some(to) => format!(
            "Cut to {} it cleans up in this hold (recomputed): {} more on the diameter.",
            units.size(to),
            units.small((to - cut.diameter).abs())
        ),
        None => "No size cleans it up in this hold that leaves half of the wall, stays below yield and inside the drawing's \
                 diameters: squeeze less, or leave more stock."
            .into(),
    }
}
