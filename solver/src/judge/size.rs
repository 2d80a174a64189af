//! What the last cut of a surface leaves on average, and what to cut to instead.

use super::Limit;
use crate::case::{Case, Cut};
use crate::geometry::{PerSurface, Surface};
use crate::metrology::Sheet;
use crate::process::Outcome;

/// Cuts closer than this are one on any lathe, mm.
const SAME: f64 = 2e-3;

/// Diameters closer than this are told alike, mm.
const SHOWN: f64 = 5e-4;

/// The average size of a cut surface, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub struct Size {
    /// The surface.
    pub surface: Surface,
    /// Index of the step that cuts it last.
    pub step: usize,
    /// Diameter that it is cut to while held.
    pub cut_to: f64,
    /// Average diameter when released.
    pub released: f64,
    /// What to cut to instead.
    pub aim: Aim,
    /// What a missed size means for the part in hand.
    pub misfit: Misfit,
}

/// What to cut to instead.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub enum Aim {
    /// Leave it: another cut would not be told from it.
    Keep,
    /// No one size meets the limits: the diameters differ by more than they allow.
    NoSize,
    /// Another diameter.
    Other {
        /// Diameter of the cut, mm.
        cut_to: f64,
        /// Average diameter that it leaves when released, mm.
        released: f64,
        /// What that is.
        target: Target,
    },
}

/// What an average diameter is aimed at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Target {
    /// The diameter cut, as there are no limits.
    AsCut,
    /// The middle of the limits.
    Middle,
    /// Inside the limits, whose middle some diameter would not meet.
    Inside,
}

/// What a missed size means for the part in hand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Misfit {
    /// It is not missed.
    None,
    /// Metal is left to cut it again.
    Metal,
    /// None is left.
    NoMetal,
}

/// First order in the change of diameter: a cut that is moved by a little moves the released average by the same. That does not hold
/// where low spots stay, so nothing is said there.
pub(super) fn size(
    case: &Case,
    outcome: &Outcome,
    read: &PerSurface<Sheet>,
    limits: &[Limit],
    surface: Surface,
) -> Option<Size> {
    let step = case.last_to_cut(surface)?;
    let cuts = outcome.steps.get(step)?.cuts.iter();
    let cut = cuts.rev().find(|c| c.surface == surface)?;
    let asked = case.steps.get(step)?.cuts.iter();
    let whole = |c: &Cut| c.is_whole(case.part.length);
    // one figure says nothing of a taper, or of a cut over part of a tube
    if case.tube.is_some()
        && !asked
            .rev()
            .find(|c| c.surface == surface)
            .is_some_and(whole)
    {
        return None;
    }
    if cut.cleaned_up < 1.0 {
        return None;
    }
    let released = 2.0 * read.get(surface).least_squares.radius;
    let own = case.tolerance.surfaces.get(surface);
    let middle = own
        .average_diameter
        .or(own.diameter)
        .map(|[low, high]| 0.5 * (low + high));
    let of_surface = |l: &&Limit| l.surface == surface && l.kind.is_size();
    let sizes: Vec<&Limit> = limits.iter().filter(of_surface).collect();
    let [least, most] = change_that_meets(&sizes);
    let mut change = middle.unwrap_or(cut.diameter) - released;
    let mut target = match middle {
        Some(_) => Target::Middle,
        None => Target::AsCut,
    };
    if !(least..=most).contains(&change) {
        change = 0.5 * (least + most);
        if middle.is_some() {
            target = Target::Inside;
        }
    }
    let to = cut.diameter + change;
    let other = (to - cut.diameter).abs();
    let aim = if least > most {
        Aim::NoSize
    } else if other >= SAME || (middle.is_some() && other >= SHOWN) {
        Aim::Other {
            cut_to: to,
            released: released + change,
            target,
        }
    } else {
        Aim::Keep
    };
    Some(Size {
        surface,
        step,
        cut_to: cut.diameter,
        released,
        aim,
        misfit: misfit(surface, &sizes),
    })
}

/// Changes of diameter, mm, that take every size inside its limits: from the least to the largest; the least is the larger where no
/// change does.
fn change_that_meets(sizes: &[&Limit]) -> [f64; 2] {
    let all = [f64::NEG_INFINITY, f64::INFINITY];
    sizes.iter().fold(all, |[least, most], l| {
        [
            least.max(l.allowed[0] - l.found[0]),
            most.min(l.allowed[1] - l.found[1]),
        ]
    })
}

fn misfit(surface: Surface, sizes: &[&Limit]) -> Misfit {
    let (mut under, mut over) = (0.0_f64, 0.0_f64);
    for limit in sizes {
        under = under.max(limit.under());
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
