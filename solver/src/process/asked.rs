//! What a step asks of its hold: the schemes are asked, and the part is laid in what they put against it.

use super::forces::scaled;
use super::inspect::Named;
use super::step::{Job, PartBody};
use super::{FromSqueeze, ProcessError, Reason, Unfit, placing, squeeze};
use crate::case::{Case, FREE, Place, Step, Turned};
use crate::scheme::{Placing, Supports, ask};

/// The hold of a step as it stands against the part.
pub(super) struct AskedStep {
    pub names: Vec<Named>,
    /// What presses, in the part's frame.
    pub supports: Vec<Supports>,
    pub placing: Placing,
    /// The force that was found from what the ring shows, if one was.
    pub from_squeeze: Option<FromSqueeze>,
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
        let (names, mut hold) = supports(job.case, step, body, index)?;
        let squeezed = squeeze::member(job.case, &step.hold, &hold)?;
        let find = |supports: &mut [Supports]| match squeezed {
            Some(member) => squeeze::find(job, (step, body, index), (&names, supports), member),
            None => Ok(None),
        };
        if let Some(member) = squeezed
            && step.turned == Turned::Any
        {
            // the worst way to turn the part is looked for under the force of one way, which is near that of any other
            let placing = Placing {
                flipped: step.flipped,
                turned: 0.0,
            };
            let mut laid = placing::apply(placing, &hold);
            if let Some(found) = find(&mut laid)? {
                hold[member] = scaled(&hold[member], found.force.nominal);
            }
        }
        let (mut supports, placing) =
            placing::laid(job, step, body, index, hold).map_err(|e| e.in_step(index))?;
        let from_squeeze = find(&mut supports)?;
        Ok(Self {
            names,
            supports,
            placing,
            from_squeeze,
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
