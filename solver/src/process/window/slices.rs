//! Steps of a slice, solved again with other forces.

use super::trial::{Left, Resolve, Trial};
use crate::case::Step;
use crate::process::grip::{self, Found, Gripped};
use crate::process::inspect::Named;
use crate::process::rerun::{Again, rerun};
use crate::process::step::Job;
use crate::process::{Alternative, ForceWindow, ProcessError, alternatives};
use crate::scheme::Supports;

/// The steps of a slice as they were solved.
pub(in crate::process) struct Slices<'a> {
    pub job: Job<'a>,
    pub chain: &'a [Again],
}

impl Resolve for Slices<'_> {
    fn hold(&self, step: usize) -> (&[Named], &[Supports]) {
        let again = &self.chain[step];
        (&again.names, &again.supports)
    }

    fn solve(
        &self,
        index: usize,
        (step, supports): (&Step, &[Supports]),
        factor: f64,
    ) -> Result<Option<Trial>, ProcessError> {
        let case = self.job.case;
        let changed = (step, supports);
        let Some(again) = rerun(self.job, self.chain, index, changed, Some(factor)) else {
            return Ok(None);
        };
        let grip = grip::of_step(&Gripped {
            case,
            step,
            index,
            members: grip::members(case, step),
            supports,
            found: Found::again(&again.first, &again.cuts),
        });
        let left = Left {
            case,
            step: index,
            sections: &|_| vec![&again.released],
            yields: again.stress,
            states: [
                Some(again.first.before.as_slice()),
                again.first.after.as_deref(),
            ],
            grip: &grip,
        };
        Trial::of(factor, &left).map(Some)
    }

    fn alternative(
        &self,
        step: usize,
        window: &ForceWindow,
    ) -> Result<Option<Alternative>, ProcessError> {
        alternatives::tried(self.job, self.chain, (step, window))
    }
}
