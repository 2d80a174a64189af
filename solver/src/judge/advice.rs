//! What to try about a roundness that other forces do not mend.

use super::{Limit, LimitKind};
use crate::geometry::Surface;
use crate::metrology::{Profile, harmonics, least_squares_circle};
use crate::process::{Advice, Contact, Outcome, Recomputed};

/// Lobes that are larger than those the part came with by more than this factor are the hold's.
const LIKE_ITS_OWN: f64 = 2.0;

/// Below this share of the force the hold is wrong for the part, and less force a makeshift.
const LITTLE: f64 = 1.0 / 3.0;

/// Share of the zone below which what no force would leave has to lie for next to no force to meet it.
const WELL_BELOW: f64 = 0.9;

/// Lobe counts that are judged in the released shape.
const MOST_LOBES: u32 = crate::metrology::MOST_LOBES;

/// What goes with one entry of [`Outcome::advice`].
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Remedy {
    /// Whether a force meets the zone: of one scheme, or a share of all.
    pub by_force: bool,
    /// Whether the share of all forces that meets it is so small that the hold should be changed first.
    pub change_hold_first: bool,
    /// Whether next to no force would meet it, though the least that is offered does not.
    pub little_would_do: bool,
    /// Count of the lobes that are the part's own, where those are what is left.
    pub own_lobes: Option<u32>,
    /// What else to try, the first worth most.
    pub levers: Vec<Lever>,
}

/// Something to try where force does not mend it.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Lever {
    /// More stock, so that the surface cleans up.
    MoreStock,
    /// Another size of what goes round the part.
    OtherSize {
        /// What it is called.
        called: String,
    },
    /// Jaws bored to another diameter, wider, or more of them.
    OtherJaws,
    /// Bodies at fixed places set so that they touch.
    SetToTouch {
        /// What one is called.
        called: String,
    },
    /// Other places for bodies at fixed places, or more of them.
    OtherPlaces {
        /// What one is called.
        called: String,
    },
    /// Wider bodies or more of them.
    WiderOrMore {
        /// What one is called.
        called: String,
    },
    /// More or wider dead loads.
    MoreLoads {
        /// What one is called.
        called: String,
    },
}

/// What goes with each advice.
pub(super) fn remedies(outcome: &Outcome, limits: &[Limit]) -> Vec<Remedy> {
    let one = |advice: &Advice| {
        let of_surface = |l: &&Limit| l.surface == advice.surface && l.kind == LimitKind::Roundness;
        let limit = limits.iter().find(of_surface);
        let met = |r: &Recomputed| r.roundness <= r.limit;
        let whole = advice.whole_hold.as_ref();
        Remedy {
            by_force: advice.one_scheme.as_ref().is_some_and(met) || whole.is_some(),
            change_hold_first: whole.is_some_and(|found| found.factor < LITTLE),
            little_would_do: advice
                .least
                .as_ref()
                .zip(limit)
                .is_some_and(|(least, limit)| little_would_do(least, limit)),
            own_lobes: own_lobes(outcome, advice),
            levers: levers(outcome, advice),
        }
    };
    outcome.advice.iter().map(one).collect()
}

/// Whether next to no force would meet the zone: the shape is close to linear in the force.
fn little_would_do(least: &Recomputed, limit: &Limit) -> bool {
    let left_by_none = (least.roundness - least.factor * limit.found[1]) / (1.0 - least.factor);
    left_by_none < WELL_BELOW * limit.allowed[1]
}

/// Lobes of the finished surface that the part came with: as many a turn as the strongest of a surface as received, and not much larger.
fn own_lobes(outcome: &Outcome, advice: &Advice) -> Option<u32> {
    let step = outcome.steps.get(advice.step)?;
    // lobes that stay because the tool did not reach them were not pressed out; nor does anything press where nothing holds
    let reached = step.cuts.iter().all(|c| c.cleaned_up >= 1.0);
    let held = !(step.held.contacts.is_empty() && step.held.loads.is_empty());
    if !(reached && held) {
        return None;
    }
    let released = outcome.steps.last()?.released.get(advice.surface);
    let left = strongest(released, MOST_LOBES)?;
    let stock = &outcome.steps.first()?.stock;
    Surface::BOTH.into_iter().find_map(|s| {
        let came = strongest(stock.get(s), left.0)?;
        let own = came.0 == left.0 && left.1 <= LIKE_ITS_OWN * came.1;
        own.then_some(left.0)
    })
}

/// Count and amplitude, mm, of the strongest lobing of a profile from two lobes up to `most`.
fn strongest(radii: &[f64], most: u32) -> Option<(u32, f64)> {
    let profile = Profile::equal(radii);
    let centre = least_squares_circle(&profile).centre;
    let all = harmonics(&profile, centre, most).into_iter();
    all.filter(|h| h.count >= 2)
        .map(|h| (h.count, h.amplitude))
        .reduce(|a, b| if b.1 > a.1 { b } else { a })
}

/// What to try instead, by what presses on the part.
fn levers(outcome: &Outcome, advice: &Advice) -> Vec<Lever> {
    let mut levers: Vec<Lever> = Vec::new();
    let mut add = |lever: Lever| {
        if !levers.contains(&lever) {
            levers.push(lever);
        }
    };
    let Some(step) = outcome.steps.get(advice.step) else {
        return levers;
    };
    let cut = step.cuts.iter().rev().find(|c| c.surface == advice.surface);
    if cut.is_some_and(|c| c.cleaned_up < 1.0) {
        add(Lever::MoreStock);
    }
    for contact in &step.held.contacts {
        add(of_contact(contact));
    }
    for load in &step.held.loads {
        let called = load.called.clone();
        add(Lever::MoreLoads { called });
    }
    levers
}

/// What one of them is called where it is bored to a diameter.
const BORED: &str = "jaw";

fn of_contact(contact: &Contact) -> Lever {
    let called = contact.called.clone();
    if contact.round {
        return Lever::OtherSize { called };
    }
    match contact.set_force {
        _ if called == BORED => Lever::OtherJaws,
        None if contact.arcs.is_empty() => Lever::SetToTouch { called },
        None => Lever::OtherPlaces { called },
        Some(_) => Lever::WiderOrMore { called },
    }
}
