//! A step of a tube that is asked again with other forces, gaps and faces.

use std::sync::{Mutex, PoisonError};

use super::judged::{self, JudgedStep};
use super::part::TubePart;
use super::setting::TubeSetting;
use super::{along, no_outline};
use crate::case::{Case, Place};
use crate::contact::Clamped;
use crate::process::asked::AskedStep;
use crate::process::inspect::contacts;
use crate::process::prepared::job_of;
use crate::process::round::Kept;
use crate::process::step::{PartBody, Setting};
use crate::process::{
    Contact, GripAlong, MOST_WORK, Method, PROFILE_POINTS, ProcessError, Radii, Reason, Unfit,
};
use crate::watch::{Bounded, Unwatched};

/// The first step of a case of a tube, held once to the accuracy asked, with all that does not depend on forces, gaps and faces kept: the r-z mesh, the
/// harmonics, and the compliances between the pressures of its hold. It answers for cases that hold the same part by the same pads.
///
/// Cuts are not made again: they change the body whose harmonics are kept.
pub struct PreparedTube {
    case: Case,
    body: PartBody,
    part: TubePart,
    /// Which pressures are active in the case that it was prepared with: where every search starts.
    active: Vec<bool>,
    solved: Mutex<JudgedStep>,
}

/// A tube in its hold, as a [`PreparedTube`] finds it.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct HeldAlong {
    /// Shape of both surfaces at every station of the case, mm at [`PROFILE_POINTS`] angles from 0.
    pub stations: Vec<Radii>,
    /// What the bodies do.
    pub contacts: Vec<Contact>,
    /// Where along the part they do it.
    pub grips: Vec<GripAlong>,
}

impl PreparedTube {
    /// Holds the part of a case as its first step says.
    ///
    /// # Errors
    /// See [`ProcessError`]; [`Unfit::OtherPart`] for a case without a tube.
    pub fn new(case: &Case) -> Result<Self, ProcessError> {
        let Some(tube) = &case.tube else {
            return Err(Reason::Input(Unfit::OtherPart).at(Place::Part));
        };
        let mut held = case.clone();
        held.steps.truncate(1);
        held.steps.iter_mut().for_each(|s| s.cuts.clear());
        let part = TubePart::new(&held, tube).map_err(no_outline)?;
        let mut body = PartBody::new(&held.part);
        let watch = Bounded::new(&Unwatched, MOST_WORK);
        let kept = Kept::default();
        let job = job_of(&held, &watch, &kept, Method::default());
        let asked = AskedStep::of(job, &mut body, 0)?;
        let step = Setting::new(job, &body, &held.steps[0], &asked.supports, 0);
        let setting = TubeSetting::new(step, &held, &part);
        let solved = judged::solve(&setting).map_err(|e| e.in_step(0))?;
        Ok(Self {
            case: held,
            body,
            part,
            active: solved.fine.held.rest.contact.active.clone(),
            solved: Mutex::new(solved),
        })
    }

    /// Holds the same part by the same pads with other forces, gaps or faces.
    ///
    /// # Errors
    /// See [`ProcessError`]; [`Unfit::OtherPart`] if the part is another or stands otherwise in its hold.
    pub fn hold(&self, case: &Case) -> Result<HeldAlong, ProcessError> {
        let other = || Reason::Input(Unfit::OtherPart).at(Place::Part);
        if case.part != self.case.part || case.tube != self.case.tube || case.steps.is_empty() {
            return Err(other());
        }
        let watch = Bounded::new(&Unwatched, MOST_WORK);
        let kept = Kept::default();
        let job = job_of(case, &watch, &kept, Method::default());
        let asked = AskedStep::of_relieved(job, &self.body, 0)?;
        let step = Setting::new(job, &self.body, &case.steps[0], &asked.supports, 0);
        let setting = TubeSetting::new(step, case, &self.part);
        let clamp = setting.clamp()?;
        let mut solved = self.solved.lock().unwrap_or_else(PoisonError::into_inner);
        let fine = &mut solved.fine;
        if !clamp.presses_alike(&fine.clamp) || setting.reaches != fine.reaches {
            return Err(other());
        }
        let held = &mut fine.held;
        let pair = (&clamp, &mut held.contact);
        held.stage.set(&setting, pair, &fine.pads, &self.part)?;
        let off = held.stage.deviations(&self.part);
        let pair = (&clamp, &mut held.contact);
        let settled = super::step::SETTLED * case.accuracy;
        held.rest = held
            .stage
            .settle(&setting, pair, off.as_ref(), Some(&self.active), settled)?;
        let state: &Clamped = &held.rest.contact.section;
        setting.step.check_held(&clamp, state, false)?;
        let tube = case.tube.as_ref().ok_or_else(other)?;
        Ok(HeldAlong {
            stations: tube
                .stations
                .iter()
                .map(|&z| held.shape(z, PROFILE_POINTS))
                .collect(),
            contacts: contacts(&setting.step, &asked.names, &clamp, state),
            grips: along::grips(&setting, &clamp, held),
        })
    }
}
