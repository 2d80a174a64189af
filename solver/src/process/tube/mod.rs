//! The main job along a tube: hold, cut, release, inspect, every step on the body of revolution that stands for the part.

mod again;
mod along;
mod cutting;
mod fields;
mod judged;
mod outcome;
mod part;
mod plan;
mod prepared;
mod sections;
mod setting;
mod stage;
mod step;
mod stress;
mod thickness;

use super::asked::AskedStep;
use super::figures::Carried;
use super::grip::{self, Found, Gripped};
use super::step::{Job, PartBody, Setting};
use super::window;
use super::{
    Aim, Caution, MeridianField, Options, Outcome, ProcessError, Reason, Stage, StepOutcome, Unfit,
    advice_cut_short, measuring,
};
use crate::case::{Case, Place, Step, Tube};
use crate::geometry::MeridianFault;
use crate::scheme::{Placing, Supports};
pub use prepared::{HeldAlong, PreparedTube};
pub(super) use thickness::of_slice;

use again::{Kept, Tubes};
use part::TubePart;
use setting::TubeSetting;

/// Largest mean radius over wall that is solved: there rounding costs some 1e-3, and by the fourth power more beyond.
const MOST_RATIO: f64 = 500.0;

/// Runs every step of a case along the part.
///
/// # Errors
/// See [`ProcessError`].
pub(super) fn run(job: Job, tube: &Tube, options: &Options) -> Result<Outcome, ProcessError> {
    let (case, keep) = (job.case, options.fields);
    let mut body = PartBody::new(&case.part);
    let mut part = TubePart::new(case, tube).map_err(no_outline)?;
    not_too_thin(&part)?;
    let mut steps: Vec<StepOutcome> = Vec::new();
    let mut cautions: Vec<Caution> = Vec::new();
    let mut chain: Vec<Kept> = Vec::new();
    for (index, step) in case.steps.iter().enumerate() {
        let asked = AskedStep::of(job, &mut body, index)?;
        no_sleeve(&asked.supports).map_err(|reason| reason.at(Place::HoldOfStep(index)))?;
        let (supports, placing) = (&asked.supports, asked.placing);
        let members = grip::members(case, step);
        let turning = grip::turned(members, supports, step);
        let pressing = turning.as_deref().unwrap_or(supports);
        let section = Setting::new(job, &body, step, pressing, index);
        let setting = TubeSetting::new(section, case, &part);
        let carried = Carried::by(steps.last().and_then(|step| step.errors.as_ref()));
        let mut judged = judged::solve(&setting).map_err(|e| e.in_step(index))?;
        judged.carry(carried.roundness, case.accuracy);
        let outcome = outcome::Telling {
            setting: &setting,
            tube,
            names: &asked.names,
            judged: &judged,
            carried: &carried,
            finished: (index + 1 == case.steps.len()).then_some(&case.steps[..]),
        };
        let mut told = outcome
            .step(placing, keep.keeps(index, case))
            .map_err(|e| e.in_step(index))?;
        if turning.is_some() {
            let uncut = step.without_cuts();
            let section = Setting::new(job, &body, &uncut, supports, index);
            let setting = TubeSetting::new(section, case, &part);
            let at_rest = solved_at_rest(&setting, &outcome, (placing, keep.keeps(index, case)));
            let at_rest = at_rest.map_err(|e| e.in_step(index))?;
            told.held_at_rest_in(at_rest);
        }
        told.grip = grip::of_step(&Gripped {
            case,
            step,
            index,
            members,
            supports,
            found: Found::of(&told),
        });
        steps.push(told);
        cautions.extend(outcome.cautions());
        chain.push(Kept {
            body: body.clone(),
            part: part.clone(),
            asked,
        });
        part = judged.fine.part;
        recut(case, step, &mut body);
    }
    let tubes = Tubes {
        job: Job {
            aim: Aim::Advice,
            ..job
        },
        tube,
        chain: &chain,
    };
    window::windows(case, &tubes, &mut steps, options.advice)?;
    if options.advice {
        cautions.extend(advice_cut_short(tubes.job)?);
    }
    Ok(Outcome {
        steps,
        cautions,
        advice: Vec::new(),
        clean_up: Vec::new(),
        long_time: None,
        inspection: measuring::measuring(case, &body)?,
    })
}

/// Refuses a sleeve: along a tube none is solved.
fn no_sleeve(supports: &[Supports]) -> Result<(), Reason> {
    match supports.iter().any(|s| s.sleeve.is_some()) {
        true => Err(Reason::Input(Unfit::SleeveOnTube)),
        false => Ok(()),
    }
}

/// A step without its cuts, at rest, told as its cuts are.
fn solved_at_rest(
    setting: &TubeSetting,
    cutting: &outcome::Telling,
    (placing, keep): (Placing, bool),
) -> Result<StepOutcome, ProcessError> {
    let judged = judged::solve(setting)?;
    let at_rest = outcome::Telling {
        setting,
        judged: &judged,
        ..*cutting
    };
    at_rest.step(placing, keep)
}

/// Puts the drawn diameters of cuts that run over the whole length in place of those before.
fn recut(case: &Case, step: &Step, body: &mut PartBody) {
    for cut in &step.cuts {
        if cut.is_whole(case.part.length) {
            *body.nominal.get_mut(cut.surface) = 0.5 * cut.diameter;
        }
    }
}

/// Refuses a wall that is too thin to be solved along the part.
fn not_too_thin(part: &TubePart) -> Result<(), ProcessError> {
    let ratio = plan::thinnest(&part.nominal);
    if ratio <= MOST_RATIO {
        return Ok(());
    }
    let thin = Unfit::TooThinAlong {
        ratio,
        most: MOST_RATIO,
    };
    Err(Reason::Input(thin).at(Place::Part))
}

/// The r-z mesh on which the first step of a case starts, without a field.
///
/// # Errors
/// See [`ProcessError`].
pub(super) fn starting_meridian(job: Job, tube: &Tube) -> Result<MeridianField, ProcessError> {
    let case = job.case;
    let mut body = PartBody::new(&case.part);
    let part = TubePart::new(case, tube).map_err(no_outline)?;
    let Some(step) = case.steps.first() else {
        return Err(Reason::Input(Unfit::NoStep).at(Place::Steps));
    };
    let asked = AskedStep::of(job, &mut body, 0)?;
    let section = Setting::new(job, &body, step, &asked.supports, 0);
    let setting = TubeSetting::new(section, case, &part);
    let fineness = judged::first(&setting)?.finer();
    let mesh = stage::mesh(&setting, &part, fineness);
    Ok(fields::bare(&mesh, Stage::Held, 0.0).filled())
}

/// A part that has no outline: a checked case has one.
fn no_outline(_: MeridianFault) -> ProcessError {
    Reason::Input(Unfit::OtherPart).at(Place::Part)
}
