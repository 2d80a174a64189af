//! What the last cut of a surface leaves on average, and what to cut to instead.

use crate::case::Case;
use crate::geometry::Surface;
use crate::report::document::{LimitDocument, StepDocument};
use crate::report::units::Units;

/// Cuts closer than this are one on any lathe, mm.
const SAME: f64 = 2e-3;

/// First order in the change of diameter: a cut that is moved by a little moves the released average by the same. That does not hold
/// where low spots stay, so nothing is said there.
pub(super) fn size(
    case: &Case,
    steps: &[StepDocument],
    limits: &[LimitDocument],
    surface: Surface,
    units: Units,
) -> Option<String> {
    let step = case.last_to_cut(surface)?;
    let cuts = steps.get(step)?.cuts.iter();
    let cut = cuts.rev().find(|c| c.surface == surface)?;
    if cut.cleaned_up < 1.0 {
        return None;
    }
    let released = 2.0 * steps.last()?.released_shape(surface).mean_radius;
    let own = case.tolerance.surfaces.get(surface);
    let middle = own
        .average_diameter
        .or(own.diameter)
        .map(|[low, high]| 0.5 * (low + high));
    let wanted = middle.unwrap_or(cut.diameter);
    let to = cut.diameter + wanted - released;
    let in_step = match steps.len() {
        1 => String::new(),
        _ => format!(" in step {}", step + 1),
    };
    let mut words = format!(
        "The {}: cut to {} while held{in_step}, {} on average when released",
        surface.in_words(),
        units.size(cut.diameter),
        units.size(released),
    );
    if middle.is_some() || (to - cut.diameter).abs() >= SAME {
        let of_limits = if middle.is_some() {
            ", the middle of the limits"
        } else {
            ""
        };
        words += &format!(
            "; for {} released{of_limits}, cut to {}",
            units.size(wanted),
            units.size(to)
        );
    }
    words.push('.');
    words += &misfit(surface, limits);
    Some(words)
}

/// What a missed size means for the part in hand: whether metal is left to put it right.
fn misfit(surface: Surface, limits: &[LimitDocument]) -> String {
    let sizes = limits
        .iter()
        .filter(|l| l.surface == surface && l.limit.ends_with("diameter"));
    let (mut under, mut over) = (0.0_f64, 0.0_f64);
    for limit in sizes {
        under = under.max(limit.under);
        over = over.max(limit.above());
    }
    let (can_be_cut, cannot) = match surface {
        Surface::Bore => ("too small", "too large"),
        Surface::Outer => ("too large", "too small"),
    };
    let (recut, scrap) = match surface {
        Surface::Bore => (under, over),
        Surface::Outer => (over, under),
    };
    if recut > 0.0 && scrap > 0.0 {
        " It misses the limits both ways: no one size mends that, it must first be rounder."
            .to_owned()
    } else if recut > 0.0 {
        format!(" It is {can_be_cut}: metal is left, so it can be cut again in the same hold.")
    } else if scrap > 0.0 {
        format!(" It is {cannot}: no metal is left to put this part right.")
    } else {
        String::new()
    }
}
