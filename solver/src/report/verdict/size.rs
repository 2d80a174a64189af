//! What the last cut of a surface leaves on average, and what to cut to instead.

use crate::case::Case;
use crate::geometry::Surface;
use crate::report::document::{LimitDocument, StepDocument};
use crate::report::units::Units;

/// Cuts closer than this are one on any lathe, mm.
const SAME: f64 = 2e-3;

/// Diameters closer than this are told alike, mm.
const SHOWN: f64 = 5e-4;

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
    let of_surface = |l: &&LimitDocument| l.surface == surface && l.limit.ends_with("diameter");
    let sizes: Vec<&LimitDocument> = limits.iter().filter(of_surface).collect();
    let [least, most] = change_that_meets(&sizes);
    let wanted = middle.unwrap_or(cut.diameter);
    let mut change = wanted - released;
    let mut of_limits = ", the middle of the limits";
    if !(least..=most).contains(&change) {
        change = 0.5 * (least + most);
        of_limits = ", which meets the limits";
    }
    let to = cut.diameter + change;
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
    let misfit = misfit(surface, &sizes);
    if least > most {
        words += ". No one size mends that: its diameters differ by more than the limits allow, so it must first be rounder.";
        return Some(words);
    }
    let other = (to - cut.diameter).abs();
    if other >= SAME || (middle.is_some() && other >= SHOWN) {
        words += &format!(
            "; {}for {} released{}, cut to {}",
            if misfit == Misfit::NoMetal {
                "on the next part, "
            } else {
                ""
            },
            units.size(released + change),
            if middle.is_some() { of_limits } else { "" },
            units.size(to)
        );
    }
    words.push('.');
    words += &put_right(surface, misfit, (step, steps.len()));
    Some(words)
}

/// Changes of diameter, mm, that take every size inside its limits: from the least to the largest; the least is the larger where no
/// change does.
fn change_that_meets(sizes: &[&LimitDocument]) -> [f64; 2] {
    let all = [f64::NEG_INFINITY, f64::INFINITY];
    sizes.iter().fold(all, |[least, most], l| {
        [
            least.max(l.allowed[0] - l.found[0]),
            most.min(l.allowed[1] - l.found[1]),
        ]
    })
}

/// What a missed size means for the part in hand.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Misfit {
    None,
    /// Metal is left to cut it again.
    Metal,
    NoMetal,
}

fn misfit(surface: Surface, sizes: &[&LimitDocument]) -> Misfit {
    let (mut under, mut over) = (0.0_f64, 0.0_f64);
    for limit in sizes {
        under = under.max(limit.under);
        over = over.max(limit.above());
    }
    let (recut, scrap) = match surface {
        Surface::Bore => (under, over),
        Surface::Outer => (over, under),
    };
    match (recut > 0.0, scrap > 0.0) {
        (_, true) => Misfit::NoMetal,
        (true, false) => Misfit::Metal,
        (false, false) => Misfit::None,
    }
}

/// Whether metal is left to put the part in hand right, and whether the hold still fits it: only the last step's does.
fn put_right(surface: Surface, misfit: Misfit, (step, steps): (usize, usize)) -> String {
    let (can_be_cut, cannot, cut) = match surface {
        Surface::Bore => ("too small", "too large", "bored"),
        Surface::Outer => ("too large", "too small", "turned"),
    };
    match misfit {
        Misfit::None => String::new(),
        Misfit::NoMetal => format!(" It is {cannot}: no metal is left to put this part right."),
        Misfit::Metal if step + 1 == steps => format!(
            " It is {can_be_cut}: metal is left, so it can be {cut} again in the same hold, put back at the same jaw marks."
        ),
        Misfit::Metal => format!(
            " It is {can_be_cut}: metal is left, so it can be {cut} again: the hold of step {} no longer fits as it did.",
            step + 1
        ),
    }
}
