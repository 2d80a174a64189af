//! What other forces would do, in words, and what to try where force does not do it. Never an order: whether a force still grips is not
//! checked, and every sentence that names a smaller one says so.

use crate::process::{Advice, Outcome, Recomputed, SetForce};
use crate::report::document::{ContactDocument, LimitDocument, StepDocument};
use crate::report::units::{Units, percent};
use crate::report::words::{listed, plural, set_forces};

/// The words that go with every force that is offered.
const NOT_CHECKED: &str = "whether that still grips is not checked";

/// What the forces of each step at fault would do.
pub(super) fn advice(outcome: &Outcome, steps: &[StepDocument], units: Units) -> Vec<String> {
    let one = |a: &Advice| on_step(a, &steps[a.step], units);
    outcome.advice.iter().flat_map(one).collect()
}

/// A zone that is missed on a surface that came so.
pub(super) fn not_cut(limits: &[LimitDocument]) -> Vec<String> {
    let came_so =
        |l: &&LimitDocument| l.limit == "roundness" && !l.is_met() && l.cut_in_step.is_none();
    limits
        .iter()
        .filter(came_so)
        .map(|l| {
            format!(
                "No step cuts the {}: it stays as it was received.",
                l.surface.in_words()
            )
        })
        .collect()
}

fn on_step(advice: &Advice, step: &StepDocument, units: Units) -> Vec<String> {
    let hold = format!("step {}, hold \"{}\"", advice.step + 1, step.hold);
    let of = format!("the roundness of the {}", advice.surface.in_words());
    let mut says = Vec::new();
    let mut done = false;
    if let Some(found) = &advice.one_scheme {
        let met = found.roundness <= found.limit;
        let still = if met { "" } else { ", still over the zone" };
        says.push(format!(
            "With {} instead of {} and the rest as it is ({hold}, recomputed) {of} is {}{still}; {NOT_CHECKED}.",
            set_forces(&found.forces, units),
            as_set(found, units),
            units.small(found.roundness)
        ));
        done |= met;
    }
    if let Some(found) = &advice.whole_hold {
        says.push(format!(
            "At {} of this force ({hold}: {}, recomputed) {of} is {}; {NOT_CHECKED}.",
            percent(found.factor),
            set_forces(&found.forces, units),
            units.small(found.roundness)
        ));
        done = true;
    }
    if !done {
        says.push(format!(
            "{}{}",
            not_by_force(advice, &hold, &of, units),
            levers(advice, step)
        ));
    }
    says
}

/// The forces before they were changed, beside the same bodies named.
fn as_set(found: &Recomputed, units: Units) -> String {
    let before = |f: &SetForce| {
        let [low, high] = f.each.map(|force| units.set_force(force / found.factor));
        if low == high {
            high
        } else {
            format!("{low} to {high}")
        }
    };
    let all: Vec<String> = found.forces.iter().map(before).collect();
    listed(&all, "and")
}

fn not_by_force(advice: &Advice, hold: &str, of: &str, units: Units) -> String {
    match &advice.least {
        Some(least) => format!(
            "Less force is not the lever: at {} of this force ({hold}: {}, recomputed) {of} is still {}, and {NOT_CHECKED}.",
            percent(least.factor),
            set_forces(&least.forces, units),
            units.small(least.roundness)
        ),
        None if advice.by_force => {
            format!("No other force was found that meets the zone ({hold}).")
        }
        None => format!("Force is not the lever: none shapes the part in {hold}."),
    }
}

/// What to try instead, by what presses on the part.
fn levers(advice: &Advice, step: &StepDocument) -> String {
    let mut levers: Vec<String> = Vec::new();
    let mut add = |lever: String| {
        if !levers.contains(&lever) {
            levers.push(lever);
        }
    };
    let cuts = step.cuts.iter().rev();
    let cut = cuts.into_iter().find(|c| c.surface == advice.surface);
    if cut.is_some_and(|c| c.cleaned_up < 1.0) {
        add("more stock, so that it cleans up".into());
    }
    for contact in &step.held.contacts {
        add(of_contact(contact));
    }
    for load in &step.held.loads {
        add(format!("more or wider {}", plural(&load.called)));
    }
    if levers.is_empty() {
        return " Look at the stock and at where the spindle axis lies.".into();
    }
    format!(" Try {}.", levers.join("; or "))
}

fn of_contact(contact: &ContactDocument) -> String {
    let (called, many) = (&contact.called, plural(&contact.called));
    if contact.round {
        return format!("another size of the {called}");
    }
    match (called.as_str(), contact.set_force) {
        ("jaw", _) => "jaws bored to another diameter, wider, or more of them".into(),
        (_, None) if contact.arcs.is_empty() => format!("{many} set so that they touch"),
        (_, None) => format!("other places (gap, set-out) for the {many}, or more of them"),
        _ => format!("wider {many} or more of them"),
    }
}
