//! The largest stress of any state of the held part.

use crate::process::{Outcome, StressSummary};

/// Stress below this is no stress, MPa.
const NO_STRESS: f64 = 1e-3;

/// The state of the held part that is stressed most.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub struct WorstStress {
    /// Index of the step.
    pub step: usize,
    /// After which of its cuts, by index; `None`: held, before the first.
    pub cut: Option<usize>,
    /// Von Mises stress.
    pub stress: StressSummary,
}

pub(super) fn worst(outcome: &Outcome) -> Option<WorstStress> {
    let all = outcome.steps.iter().enumerate().flat_map(|(step, s)| {
        let states = std::iter::once(&s.held.stress).chain(s.stress_after_cuts());
        states.enumerate().map(move |(k, stress)| WorstStress {
            step,
            cut: k.checked_sub(1),
            stress: *stress,
        })
    });
    let more = |a: &WorstStress, b: &WorstStress| a.stress.von_mises_away > b.stress.von_mises_away;
    // of equal states the first
    all.filter(|w| w.stress.von_mises_away > NO_STRESS)
        .reduce(|a, b| if more(&b, &a) { b } else { a })
}
