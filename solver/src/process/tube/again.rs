//! Steps of a tube, solved again with other forces.

use super::outcome::Telling;
use super::part::TubePart;
use super::setting::TubeSetting;
use super::{judged, recut};
use crate::case::{Step, Tube};
use crate::process::asked::AskedStep;
use crate::process::figures::Carried;
use crate::process::grip::{self, AtSpeed, Found, Gripped};
use crate::process::inspect::Named;
use crate::process::rerun::over_yield;
use crate::process::step::{Job, PartBody, Setting};
use crate::process::window::{Left, Resolve, Trial};
use crate::process::{ProcessError, StepOutcome};
use crate::scheme::Supports;

/// A step as it was solved: enough to solve it again with other forces.
pub(super) struct Kept {
    /// The part when the step starts.
    pub body: PartBody,
    pub part: TubePart,
    /// Its hold, laid against the part.
    pub asked: AskedStep,
}

/// The steps of a tube as they were solved.
pub(super) struct Tubes<'a> {
    pub job: Job<'a>,
    pub tube: &'a Tube,
    pub chain: &'a [Kept],
}

impl Tubes<'_> {
    /// Step `from` as it is given here and all after it as they were, on coarse divisions; `None` for what cannot be solved so.
    fn solved(&self, from: usize, changed: (&Step, &[Supports])) -> Option<Vec<StepOutcome>> {
        let case = self.job.case;
        let kept = self.chain.get(from)?;
        let (mut body, mut part) = (kept.body.clone(), kept.part.clone());
        let mut told = Vec::new();
        for (index, kept) in self.chain.iter().enumerate().skip(from) {
            let (step, supports) = match index == from {
                true => changed,
                false => (&case.steps[index], kept.asked.supports.as_slice()),
            };
            let turning = match grip::at_speed(grip::members(case, step), supports, step) {
                AtSpeed::Changed(all) => Some(all),
                AtSpeed::Same => None,
                AtSpeed::LetGo => return None,
            };
            let pressing = turning.as_deref().unwrap_or(supports);
            let section = Setting::new(self.job, &body, step, pressing, index);
            let setting = TubeSetting::new(section, case, &part);
            let judged = judged::roughly(&setting).ok()?;
            let telling = Telling {
                setting: &setting,
                tube: self.tube,
                names: &kept.asked.names,
                judged: &judged,
                carried: &Carried::default(),
                finished: (index + 1 == case.steps.len()).then_some(&case.steps[..]),
            };
            told.push(telling.step(kept.asked.placing, false).ok()?);
            part = judged.fine.part;
            recut(case, step, &mut body);
        }
        Some(told)
    }
}

impl Resolve for Tubes<'_> {
    fn hold(&self, step: usize) -> (&[Named], &[Supports]) {
        let kept = &self.chain[step];
        (&kept.asked.names, &kept.asked.supports)
    }

    fn solve(
        &self,
        index: usize,
        (step, supports): (&Step, &[Supports]),
        factor: f64,
    ) -> Result<Option<Trial>, ProcessError> {
        let case = self.job.case;
        let Some(told) = self.solved(index, (step, supports)) else {
            return Ok(None);
        };
        let (Some(first), Some(last)) = (told.first(), told.last()) else {
            return Ok(None);
        };
        let grip = grip::of_step(&Gripped {
            case,
            step,
            index,
            members: grip::members(case, step),
            supports,
            found: Found::of(first),
        });
        let stresses = told
            .iter()
            .flat_map(|s| std::iter::once(&s.held.stress).chain(s.stress_after_cuts()));
        let left = Left {
            case,
            step: index,
            sections: &|surface| last.judged(surface),
            yields: over_yield(stresses),
            states: [
                Some(first.held.contacts.as_slice()),
                first.after_cut.as_ref().map(|a| a.contacts.as_slice()),
            ],
            grip: &grip,
        };
        Trial::of(factor, &left).map(Some)
    }
}
