//! Between which forces to hold, in words.

use crate::process::{Bound, ForceWindow, LimitedBy, Outcome};
use crate::report::units::{Units, percent};
use crate::scheme::{SetBy, SetByKind};

/// What goes with a hold in which no force will do.
const CHANGE_FIRST: &str = "Change the hold or the cut first: pads bored to another diameter, wider or more of them, support inside, less feed or depth, or the cuts in \
     another order.";

/// How hard each step may and must be held, one line a step that is set by a force and cuts.
pub(super) fn told(outcome: &Outcome, units: Units) -> Vec<String> {
    let of = outcome.steps.len();
    let steps = outcome.steps.iter().enumerate();
    let windows = steps.filter_map(|(n, s)| Some((n, s.grip.window.as_ref()?)));
    windows
        .map(|(n, window)| {
            let step = match of {
                1 => String::new(),
                _ => format!("Step {}: ", n + 1),
            };
            format!("{step}{}{}", line(window, units), other_pads(window, units))
        })
        .collect()
}

/// A zone that is missed at an end of the band that the forces of a step (from 0) are known within.
pub(super) fn band_missed(outcome: &Outcome, (step, share): (usize, f64)) -> String {
    let ends = outcome.steps[step].grip.band.map_or([1.0; 2], |b| b.spread);
    let [low, high] = ends.map(percent);
    format!(
        "Within the band of its forces ({low} to {high} of those reckoned with) step {} is OUT OF TOLERANCE: at the worse end {} of the roundness zone is used up.",
        step + 1,
        percent(share)
    )
}

/// A window in one line.
fn line(window: &ForceWindow, units: Units) -> String {
    let (low, high) = (&window.low, &window.high);
    let called = &window.set.called;
    match (low, high) {
        (Some(a), high) if a.not_enough => {
            let above = high.as_ref().map_or(String::new(), |b| {
                format!(
                    ", and above {} a {called} {}",
                    at_most(window, b, units),
                    why(b.by)
                )
            });
            format!(
                "No force will do in this hold: even with {} a {called} it slips by this estimate{above}. {CHANGE_FIRST}",
                at_most(window, a, units),
            )
        }
        (Some(a), Some(b)) if a.factor <= b.factor => format!(
            "Hold between {} and {} a {called}{}: below, {}; above, {}.",
            at_least(window, a, units),
            at_most(window, b, units),
            by(window, [Some(a), Some(b)], units),
            why(a.by),
            why(b.by)
        ),
        (Some(a), Some(b)) => format!(
            "No force will do in this hold: below {} a {called} {}, and above {} {}. {CHANGE_FIRST}",
            at_least(window, a, units),
            why(a.by),
            at_most(window, b, units),
            why(b.by)
        ),
        (Some(a), None) => format!(
            "Hold with {} a {called} or more{}: below, {}. How much more the part bears is not known: no limit from above was found.",
            at_least(window, a, units),
            by(window, [Some(a), None], units),
            why(a.by)
        ),
        (None, Some(b)) => format!(
            "Hold with no more than {} a {called}{}: above, {}. How much it needs is not known: see what was not checked.",
            at_most(window, b, units),
            by(window, [None, Some(b)], units),
            why(b.by)
        ),
        (None, None) => "How hard it must be held and how hard it may be is not known: see what was not checked.".into(),
    }
}

/// What other pads would do, that were tried.
fn other_pads(window: &ForceWindow, units: Units) -> String {
    let Some(pads) = &window.other_pads else {
        return String::new();
    };
    let force = force(
        window,
        &Bound {
            factor: pads.factor,
            by: LimitedBy::Slip,
            favourable: None,
            not_enough: false,
        },
        units,
        true,
    );
    let opens = pads.share <= 1.0 && pads.safety.is_none_or(|s| s >= 1.0);
    let comes_out = match opens {
        true => "the part would come out within its zone",
        false => {
            "was the best that was tried, and the part would still not come out within its zone"
        }
    };
    format!(
        " Tried, roughly: {}s with pads cut to {} and {} wide, at {force} each: {} of the zone used up; {comes_out}.",
        pads.called,
        units.size(pads.diameter),
        units.size(pads.width),
        percent(pads.share),
    )
}

/// What happens beyond a bound.
fn why(by: LimitedBy) -> &'static str {
    match by {
        LimitedBy::Slip => "it slips by this estimate",
        LimitedBy::Roundness => "it comes out of its roundness zone",
        LimitedBy::Yield => "the part yields",
        LimitedBy::Marking => "the pads mark it",
        LimitedBy::Speed => {
            "turning takes more of the grip than the guideline's factors allow at this speed"
        }
        LimitedBy::Chuck => "the chuck is not made for it",
    }
}

/// Three figures, so that what is told is on the safe side of what was found.
fn rounded(force: f64, up: bool) -> f64 {
    let unit = 10_f64.powf(force.abs().max(1e-9).log10().floor() - 2.0);
    let steps = force / unit;
    unit * if up { steps.ceil() } else { steps.floor() }
}

fn force(window: &ForceWindow, bound: &Bound, units: Units, up: bool) -> String {
    let [least, most] = window.set.each.map(|f| {
        let of = if units.inch {
            crate::case::quantity::LBF_N
        } else {
            1.0
        };
        of * rounded(f * bound.factor / of, up)
    });
    match (least - most).abs() <= 1e-9 * most {
        true => units.set_force(most),
        false => format!("{} to {}", units.set_force(least), units.set_force(most)),
    }
}

fn at_least(window: &ForceWindow, bound: &Bound, units: Units) -> String {
    force(window, bound, units, true)
}

fn at_most(window: &ForceWindow, bound: &Bound, units: Units) -> String {
    force(window, bound, units, false)
}

/// The same in what the forces were worked out from: ", 12 to 21 N m on this key".
fn by(window: &ForceWindow, bounds: [Option<&Bound>; 2], units: Units) -> String {
    let Some(SetBy {
        called,
        kind,
        value,
        ..
    }) = &window.set_by
    else {
        return String::new();
    };
    let words = |bound: &Bound| {
        let x = value * bound.factor;
        match kind {
            SetByKind::Force => units.force(x),
            SetByKind::Torque => units.torque(x),
            SetByKind::Pressure => units.stress(x),
        }
    };
    let ends: Vec<String> = bounds.into_iter().flatten().map(words).collect();
    format!(", {} {called}", ends.join(" to "))
}
