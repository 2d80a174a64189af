//! What a step asks of its hold: the schemes are asked, and the part is laid in what they put against it.

use super::inspect::Named;
use super::step::{Job, PartBody};
use super::{ProcessError, Reason, Unfit, placing};
use crate::case::{Case, FREE, Place, Step};
use crate::scheme::{Placing, Supports, ask};

/// The hold of a step as it stands against the part.
pub(super) struct AskedStep {
    pub names: Vec<Named>,
    /// What presses, in the part's frame.
    pub supports: Vec<Supports>,
    pub placing: Placing,
}

impl AskedStep {
    /// Asks the hold of a step of the case, the part relieved of its stress first if the step says so.
    ///
    /// # Errors
    /// See [`ProcessError`].
    pub fn of(job: Job, body: &mut PartBody, index: usize) -> Result<Self, ProcessError> {
        let step = &job.case.steps[index];
        if step.stress_relieved {
            body.relieve(job, index)?;
        }
        Self::of_relieved(job, body, index)
    }

    /// The same of a part that was relieved already, if it is to be.
    ///
    /// # Errors
    /// See [`ProcessError`].
    pub fn of_relieved(job: Job, body: &PartBody, index: usize) -> Result<Self, ProcessError> {
        let step = &job.case.steps[index];
        let (names, hold) = supports(job.case, step, body, index)?;
        let (supports, placing) =
            placing::laid(job, step, body, index, hold).map_err(|e| e.in_step(index))?;
        Ok(Self {
            names,
            supports,
            placing,
        })
    }
}

/// The schemes of a step's hold and what they put against the part, in order.
fn supports(
    case: &Case,
    step: &Step,
    body: &PartBody,
    index: usize,
) -> Result<(Vec<Named>, Vec<Supports>), ProcessError> {
    let Some(hold) = case.holds.iter().find(|h| h.name == step.hold) else {
        if step.hold == FREE {
            return Ok((Vec::new(), Vec::new()));
        }
        let name = step.hold.clone();
        return Err(Reason::Input(Unfit::NoHold { name }).at(Place::HoldOfStep(index)));
    };
    let section = body.section(case.part.length);
    let mut names = Vec::new();
    let mut all = Vec::new();
    for (k, member) in hold.members.iter().enumerate() {
        let supports = ask(&*member.scheme, &section, &member.values).map_err(|e| {
            let at = Place::Scheme {
                hold: hold.name.clone(),
                scheme: k,
                parameter: e.parameter.clone(),
            };
            let reason = match member.scheme.program() {
                Some(_) => Reason::Program(e),
                None => Reason::Input(Unfit::Scheme(e)),
            };
            reason.at(at)
        })?;
        names.push(Named {
            scheme: member.scheme.name().to_owned(),
            body: member.scheme.body_name().to_owned(),
        });
        all.push(supports);
    }
    Ok((names, all))
}
