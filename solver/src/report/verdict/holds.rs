//! Cautions about what presses on the part: force lost to the cut or to another scheme, and wide pads without friction.

use crate::process::{Contact, Outcome, StepOutcome};
use crate::report::units::{Units, percent};
use crate::report::words::{alike, numbered};

/// A body that keeps less than this share of its force has lost most of it.
const LOST: f64 = 0.5;

/// A body that keeps less than this share of its force after the cut is worth a caution.
const LOWER: f64 = 0.75;

/// A contact with less than this share of the largest force in the hold carries nothing to speak of.
const NOTHING: f64 = 0.01;

/// Pads that touch over more than this, degrees, feel friction along them.
const WIDE_DEG: f64 = 45.0;

/// Coefficient of friction between pad and part for which the effect is told: dry metal on metal, common practice, no source.
const FRICTION: f64 = 0.15;

/// The cautions of every step.
pub(in crate::report) fn cautions_of_holds(outcome: &Outcome, units: Units) -> Vec<String> {
    let of_step = |(n, step): (usize, &StepOutcome)| {
        let said = unloaded(step, units)
            .into_iter()
            .chain(lost(step, units))
            .chain(wide(step));
        said.map(|words| format!("step {}: {words}", n + 1))
            .collect::<Vec<_>>()
    };
    outcome.steps.iter().enumerate().flat_map(of_step).collect()
}

/// Neighbours in the list that are one scheme's and for which `same` holds.
fn runs<'a>(
    contacts: &'a [Contact],
    same: impl Fn(usize, usize) -> bool,
) -> Vec<std::ops::Range<usize>> {
    let mut runs: Vec<std::ops::Range<usize>> = Vec::new();
    for k in 0..contacts.len() {
        let (a, b): (Option<&'a Contact>, _) =
            (k.checked_sub(1).map(|j| &contacts[j]), &contacts[k]);
        let one_scheme =
            a.is_some_and(|a| a.scheme == b.scheme && a.called == b.called && a.body + 1 == b.body);
        match runs.last_mut() {
            Some(run) if one_scheme && same(k - 1, k) => run.end = k + 1,
            _ => runs.push(k..k + 1),
        }
    }
    runs
}

/// Arc over which a body touches, degrees: a flat pad is wide and touches on a line.
fn touched(contact: &Contact) -> f64 {
    contact.arcs.iter().map(|[from, to]| to - from).sum()
}

fn named(contacts: &[Contact]) -> String {
    match contacts {
        [one] if one.round => format!("the {}", one.called),
        _ => {
            let numbers: Vec<usize> = contacts.iter().map(|c| c.body).collect();
            numbered(&contacts[0].called, &numbers)
        }
    }
}

/// `carry ... each` of several, `carries ...` of one.
fn carry(contacts: &[Contact], force: String) -> String {
    if contacts.len() == 1 {
        format!("carries {force}")
    } else {
        format!("carry {force} each")
    }
}

/// Schemes that carry much less in the closed hold than they were set to.
fn unloaded(step: &StepOutcome, units: Units) -> Vec<String> {
    let contacts = &step.held.contacts;
    let mean = |of: &dyn Fn(&Contact) -> f64, all: &[Contact]| {
        all.iter().map(of).sum::<f64>() / all.len() as f64
    };
    runs(contacts, |_, _| true)
        .into_iter()
        .filter_map(|run| {
            let all: Vec<Contact> = contacts[run]
                .iter()
                .filter(|c| c.set_force.is_some())
                .cloned()
                .collect();
            let set = mean(&|c| c.set_force.unwrap_or_default(), &all);
            let found = mean(&|c| c.force, &all);
            (found < LOST * set).then(|| {
                format!(
                    "set to {}, {} {} in the closed hold: what closes after takes the force away; the grip is that of the smaller \
                     force, and is not checked",
                    units.force(set),
                    named(&all),
                    carry(&all, units.force(found))
                )
            })
        })
        .collect()
}

/// Bodies that lose a good part of their force while metal goes.
fn lost(step: &StepOutcome, units: Units) -> Vec<String> {
    let held = &step.held.contacts;
    let Some(after) = step
        .after_cut
        .as_ref()
        .filter(|a| a.contacts.len() == held.len())
    else {
        return Vec::new();
    };
    let after = &after.contacts;
    let largest = held.iter().map(|c| c.force).fold(0.0, f64::max);
    let gone =
        |k: usize| held[k].force > NOTHING * largest && after[k].force < LOWER * held[k].force;
    let same = |a: usize, b: usize| {
        gone(a) == gone(b)
            && alike(held[a].force, held[b].force)
            && alike(after[a].force, after[b].force)
    };
    // bodies that lose alike are told together, whether or not they stand side by side
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for run in runs(held, same).into_iter().filter(|r| gone(r.start)) {
        let first = run.start;
        let alike = |g: &&mut Vec<usize>| {
            let (a, b) = (&held[g[0]], &held[first]);
            a.scheme == b.scheme && a.called == b.called && same(g[0], first)
        };
        match groups.iter_mut().find(alike) {
            Some(group) => group.extend(run),
            None => groups.push(run.collect()),
        }
    }
    groups
        .into_iter()
        .map(|group| {
            let all: Vec<Contact> = group.iter().map(|&k| held[k].clone()).collect();
            let all = all.as_slice();
            let (first, left) = (&all[0], after[group[0]].force);
            let then = if left > 0.0 {
                carry(all, units.force(left))
            } else if all.len() == 1 {
                "no longer touches".into()
            } else {
                "no longer touch".into()
            };
            format!(
                "after the cut {} {then}, of {} before it: {} of the force goes with the metal; the grip is that of the smaller \
                 force, and is not checked",
                named(all),
                units.force(first.force),
                lost_share(left / first.force)
            )
        })
        .collect()
}

/// What goes of the force of which this share is left.
fn lost_share(left: f64) -> String {
    if left < LOST {
        "most".into()
    } else {
        percent(1.0 - left)
    }
}

/// Pads that touch over so much that friction along them would change how the force goes round the ring.
fn wide(step: &StepOutcome) -> Vec<String> {
    let contacts = &step.held.contacts;
    let is_wide = |c: &Contact| {
        let touched = touched(c);
        c.force > 0.0 && touched > WIDE_DEG && touched < 360.0 - 1e-6
    };
    let same = |a: usize, b: usize| {
        let (a, b) = (&contacts[a], &contacts[b]);
        is_wide(a) == is_wide(b) && alike(touched(a), touched(b))
    };
    runs(contacts, same)
        .into_iter()
        .map(|run| &contacts[run])
        .filter(|all| is_wide(&all[0]))
        .map(|all| {
            let touched = touched(&all[0]);
            let (touch, each) = if all.len() == 1 {
                ("touches", "")
            } else {
                ("touch", " each")
            };
            format!(
                "{} {touch} over {touched:.0} deg{each} and friction is left out: with a coefficient of {FRICTION} the grip is uneven over \
                 the pad by a factor of up to {:.2}, so the true shape lies between this one and that of such a grip",
                named(all),
                (FRICTION * 0.5 * touched.to_radians()).exp()
            )
        })
        .collect()
}
