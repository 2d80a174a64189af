//! What has to be known of what presses on the part: force lost to the cut or to another scheme, and wide pads without friction.

use std::ops::Range;

use crate::process::{Contact, Outcome, StepOutcome};

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

/// Figures that differ by less than this share are told as one.
const ALIKE: f64 = 5e-3;

/// Bodies of one scheme of which the same holds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Group {
    /// What one of them is called: jaw, screw.
    pub called: String,
    /// Whether it goes round the part: it then has no number to speak of.
    pub round: bool,
    /// Their numbers, from 1 within their scheme.
    pub bodies: Vec<usize>,
}

/// Something that has to be known of what presses. Steps are indices, from 0; forces N.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum HoldCaution {
    /// Bodies that are set to a force carry much less in the closed hold: what closes after takes it away.
    Unloaded {
        /// The step.
        step: usize,
        /// The bodies.
        group: Group,
        /// Force that one is set to, the mean.
        set: f64,
        /// Force that one carries, the mean.
        carries: f64,
    },
    /// Bodies lose a good part of their force while metal goes.
    LostToCut {
        /// The step.
        step: usize,
        /// The bodies.
        group: Group,
        /// Force of one before the cut.
        before: f64,
        /// Force of one after it; 0 where it no longer touches.
        left: f64,
        /// Whether that is most of it.
        most: bool,
    },
    /// Pads touch over so much that friction along them would change how the force goes round the ring.
    WidePads {
        /// The step.
        step: usize,
        /// The bodies.
        group: Group,
        /// Arc over which one touches, degrees.
        touched_deg: f64,
        /// Coefficient of friction that is reckoned with.
        friction: f64,
        /// By how much the grip is then uneven over the pad: the largest factor (belt friction).
        uneven_by: f64,
    },
}

/// The cautions of every step.
pub(super) fn cautions(outcome: &Outcome) -> Vec<HoldCaution> {
    let of_step = |(n, step): (usize, &StepOutcome)| {
        let all = unloaded(n, step).into_iter();
        all.chain(lost(n, step))
            .chain(wide(n, step))
            .collect::<Vec<_>>()
    };
    outcome.steps.iter().enumerate().flat_map(of_step).collect()
}

fn alike(a: f64, b: f64) -> bool {
    (a - b).abs() <= ALIKE * a.abs().max(b.abs())
}

/// Neighbours in the list that are one scheme's and for which `same` holds.
fn runs(contacts: &[Contact], same: impl Fn(usize, usize) -> bool) -> Vec<Range<usize>> {
    let mut runs: Vec<Range<usize>> = Vec::new();
    for k in 0..contacts.len() {
        let (a, b): (Option<&Contact>, _) = (k.checked_sub(1).map(|j| &contacts[j]), &contacts[k]);
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

fn group<'a>(contacts: impl Iterator<Item = &'a Contact> + Clone) -> Group {
    let first = contacts.clone().next();
    Group {
        called: first.map_or(String::new(), |c| c.called.clone()),
        round: first.is_some_and(|c| c.round) && contacts.clone().count() == 1,
        bodies: contacts.map(|c| c.body).collect(),
    }
}

/// Schemes that carry much less in the closed hold than they were set to.
fn unloaded(step: usize, outcome: &StepOutcome) -> Vec<HoldCaution> {
    let contacts = &outcome.held.contacts;
    let of_run = |run: Range<usize>| {
        let set_ones = contacts[run].iter().filter(|c| c.set_force.is_some());
        let count = set_ones.clone().count() as f64;
        let set = set_ones.clone().filter_map(|c| c.set_force).sum::<f64>() / count;
        let carries = set_ones.clone().map(|c| c.force).sum::<f64>() / count;
        (carries < LOST * set).then(|| HoldCaution::Unloaded {
            step,
            group: group(set_ones),
            set,
            carries,
        })
    };
    let runs = runs(contacts, |_, _| true).into_iter();
    runs.filter_map(of_run).collect()
}

/// Bodies that lose a good part of their force while metal goes.
fn lost(step: usize, outcome: &StepOutcome) -> Vec<HoldCaution> {
    // what turning takes is told apart from what goes with the metal
    let held = &outcome.cut_in().contacts;
    let Some(after) = outcome
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
        .map(|all| {
            let (before, left) = (held[all[0]].force, after[all[0]].force);
            HoldCaution::LostToCut {
                step,
                group: group(all.iter().map(|&k| &held[k])),
                before,
                left,
                most: left / before < LOST,
            }
        })
        .collect()
}

/// Pads that touch over so much that friction along them would change how the force goes round the ring.
fn wide(step: usize, outcome: &StepOutcome) -> Vec<HoldCaution> {
    let contacts = &outcome.held.contacts;
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
            let touched_deg = touched(&all[0]);
            HoldCaution::WidePads {
                step,
                group: group(all.iter()),
                touched_deg,
                friction: FRICTION,
                uneven_by: (FRICTION * 0.5 * touched_deg.to_radians()).exp(),
            }
        })
        .collect()
}
