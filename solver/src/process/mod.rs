//! Hold, cut, release, inspect: the main job. [`run`] takes a [`Case`] and gives an [`Outcome`].

mod adapt;
mod alternatives;
mod asked;
mod back_off;
mod caution;
mod clean_up;
mod contact_stress;
mod cut;
mod cutting;
mod dip;
mod error;
mod figures;
mod forces;
mod grip;
mod guess;
mod inspect;
mod marking;
mod measuring;
mod meshed;
mod on_mesh;
mod outcome;
mod placing;
mod plan;
mod prepared;
mod relief;
mod rerun;
mod round;
mod sample;
mod shapes;
mod squeeze;
mod stages;
mod statics;
mod step;
#[cfg(test)]
mod testing;
mod tube;
mod window;

pub use caution::Caution;
pub use error::{
    Looseness, NotConverged, Open, ProcessError, Reason, Squeeze, Stopped, TooLarge, Unfit,
    Unresolved,
};
pub use measuring::gauge_flex;
pub use outcome::*;
pub use prepared::{CutPart, Held, Prepared, Released};
pub use round::Kept;
pub(crate) use shapes::circles;
pub use shapes::{HeldAlone, hold_alone};
pub use tube::{HeldAlong, PreparedTube};

use crate::case::{Case, Place};
use crate::mesh::Mesh;
use crate::watch::{Aim, Bounded, Progress, State, Stop, Unwatched, Watch};
use asked::AskedStep;
use back_off::advise;
use figures::Carried;
use grip::{Found, Gripped};
use inspect::outcome_of;
pub(crate) use inspect::wall;
use prepared::job_of;
use rerun::{Again, KnownDips};
use step::{Job, PartBody, Setting};

/// Most work of a run whose time nobody limits, elements times rounds of contact: one to five minutes on one core, and some seventy times
/// what the largest everyday jobs take.
const MOST_WORK: u64 = 30_000_000;

/// Which states keep their fields for review.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[non_exhaustive]
pub enum KeepFields {
    /// Every state of every step.
    #[default]
    All,
    /// The last step alone.
    Last,
    /// None.
    None,
}

impl KeepFields {
    /// Whether the states of a step of a case keep theirs.
    fn keeps(self, step: usize, case: &Case) -> bool {
        match self {
            KeepFields::All => true,
            KeepFields::Last => step + 1 == case.steps.len(),
            KeepFields::None => false,
        }
    }
}

/// What a step without a mesh of the user's is solved by.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[non_exhaustive]
pub enum Method {
    /// Finite elements alone, graded to the contact.
    Mesh,
    /// For parts that are nearly round the series of the mean ring behind contact, and finite elements for what the outline adds; for
    /// others, and where that does not settle, finite elements alone.
    #[default]
    MeanRing,
}

/// How a case is run.
#[derive(Clone, Copy, Debug)]
pub struct Options {
    /// Which fields to keep.
    pub fields: KeepFields,
    /// Whether to judge a fixed mesh by a second, coarser one.
    pub estimate: bool,
    /// What steps are solved by.
    pub method: Method,
    /// Whether other forces and cuts are tried: force windows, what less force would leave, what would clean up.
    pub advice: bool,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            fields: KeepFields::All,
            estimate: true,
            method: Method::default(),
            advice: true,
        }
    }
}

impl Options {
    /// For figures of cases as they are: without fields, and without other forces and cuts tried.
    pub fn of_figures() -> Self {
        Self {
            fields: KeepFields::None,
            advice: false,
            ..Self::default()
        }
    }
}

/// Runs every step of a case.
///
/// # Errors
/// See [`ProcessError`].
pub fn run(case: &Case, options: &Options) -> Result<Outcome, ProcessError> {
    run_watched(case, options, &Unwatched)
}

/// As [`run`], under the eyes of somebody who hears how far it is and may end it.
///
/// # Errors
/// See [`ProcessError`].
pub fn run_watched(
    case: &Case,
    options: &Options,
    watch: &dyn Watch,
) -> Result<Outcome, ProcessError> {
    run_kept(case, options, watch, &Kept::default())
}

/// The same with what was kept of other cases, and keeping what this one may leave for others. The outcome is the same.
///
/// # Errors
/// See [`ProcessError`].
pub fn run_kept(
    case: &Case,
    options: &Options,
    watch: &dyn Watch,
    kept: &Kept,
) -> Result<Outcome, ProcessError> {
    let thickness = tube::of_slice(case)?;
    let sliced = thickness.map(|(thickness, _)| sliced(case, thickness));
    let case = sliced.as_ref().unwrap_or(case);
    let bounded = Bounded::new(watch, MOST_WORK);
    let job = job_of(case, &bounded, kept, options.method);
    if let Some(tube) = &case.tube {
        let mut outcome = tube::run(job, tube, options)?;
        forget_unknown_forces(case, &mut outcome);
        return Ok(outcome);
    }
    let estimated = grip::with_estimates(case);
    let pushed = match &estimated {
        Some(case) => run_slice(Job { case, ..job }, options),
        None => run_slice(job, options),
    };
    let mut outcome = match pushed {
        // nothing is estimated to push a part that nothing holds against it
        Err(e) if estimated.is_some() && e.is_loose_under_tool() => run_slice(job, options)?,
        pushed => pushed?,
    };
    forget_unknown_forces(case, &mut outcome);
    outcome.long_time = long_time(job, options)?;
    let of_slice = thickness.map(|(thickness, lobes)| Caution::SliceThickness { thickness, lobes });
    outcome.cautions.splice(0..0, of_slice);
    Ok(outcome)
}

/// Takes back what a unit force would say of the grip of steps whose force is not known.
fn forget_unknown_forces(case: &Case, outcome: &mut Outcome) {
    for (step, told) in case.steps.iter().zip(&mut outcome.steps) {
        if grip::members(case, step).iter().any(|m| m.force_unknown) {
            told.grip.forget_force();
        }
    }
    let steps = &outcome.steps;
    outcome.advice.retain(|a| !steps[a.step].grip.force_unknown);
}

/// The second answer for a plastic of which a long-time modulus is known.
fn long_time(job: Job, options: &Options) -> Result<Option<LongTime>, ProcessError> {
    let Some(modulus) = job.case.part.material.long_time_modulus else {
        return Ok(None);
    };
    let mut case = job.case.clone();
    case.part.material.young_modulus = modulus;
    let options = Options {
        fields: KeepFields::None,
        ..*options
    };
    let released = match run_slice(Job { case: &case, ..job }, &options) {
        Ok(outcome) => outcome.steps.last().map(|last| last.released.clone()),
        Err(e) if matches!(e.reason, Reason::Stopped(_)) => return Err(e),
        Err(_) => None,
    };
    let held = job.case.steps.iter().filter_map(|s| s.minutes_held);
    Ok(Some(LongTime {
        modulus,
        minutes: held.reduce(f64::max),
        released,
    }))
}

/// Runs every step of a case on the slice that stands for the part.
fn run_slice(job: Job, options: &Options) -> Result<Outcome, ProcessError> {
    let case = job.case;
    let mut body = PartBody::new(&case.part);
    let (mut steps, mut cautions) = (Vec::new(), Vec::new());
    let mut chain: Vec<Again> = Vec::new();
    for (index, step) in case.steps.iter().enumerate() {
        let AskedStep {
            names,
            supports,
            placing,
            from_squeeze,
        } = AskedStep::of(job, &mut body, index)?;
        let members = grip::members(case, step);
        let turning = grip::turned(members, &supports, step);
        let pressing = turning.as_deref().unwrap_or(&supports);
        let setting = Setting::new(job, &body, step, pressing, index);
        let mut adapted =
            adapt::solve(&setting, case.mesh, options.estimate).map_err(|e| e.in_step(index))?;
        let carried = Carried::by(steps.last().and_then(|s: &StepOutcome| s.errors.as_ref()));
        adapted.estimate = carried.added_to(&adapted.estimate, case.accuracy);
        cautions.extend(caution::of_step(
            &setting,
            case,
            (&names, pressing),
            &adapted,
        ));
        let keep = options.fields.keeps(index, case);
        let mut outcome = outcome_of(&setting, &names, &adapted, placing, &carried, keep);
        if turning.is_some() {
            let uncut = step.without_cuts();
            let setting = Setting::new(job, &body, &uncut, &supports, index);
            let rest = adapt::solve(&setting, case.mesh, options.estimate);
            let rest = rest.map_err(|e| e.in_step(index))?;
            outcome.held_at_rest_in(outcome_of(&setting, &names, &rest, placing, &carried, keep));
        }
        outcome.from_squeeze = from_squeeze;
        outcome.grip = grip::of_step(&Gripped {
            case,
            step,
            index,
            members,
            supports: &supports,
            found: Found::of(&outcome),
        });
        steps.push(outcome);
        chain.push(Again {
            body: body.clone(),
            names,
            supports,
            plan: adapted.coarse,
            dips: KnownDips::of(&adapted.solved.cuts),
            cut_outlines: adapted.solved.cut_outlines,
            added: adapted.solved.added,
        });
        body = adapted.solved.body;
    }
    let told = told_of_forces(job, &chain, &mut steps, options.advice)?;
    cautions.extend(told.cut_short);
    let inspection = measuring::measuring(case, &body)?;
    let flexed = inspection.iter();
    cautions.extend(flexed.flat_map(|flex| measuring::cautions(case, flex)));
    Ok(Outcome {
        steps,
        cautions,
        advice: told.advice,
        clean_up: told.clean_up,
        long_time: None,
        inspection,
    })
}

/// What other forces and cuts would do.
#[derive(Default)]
struct ToldOfForces {
    advice: Vec<Advice>,
    clean_up: Vec<CleanUp>,
    cut_short: Option<Caution>,
}

/// Tries other forces and cuts on steps that were solved, and puts the windows beside their grips.
fn told_of_forces(
    job: Job,
    chain: &[Again],
    steps: &mut [StepOutcome],
    advice: bool,
) -> Result<ToldOfForces, ProcessError> {
    let trying = Job {
        aim: Aim::Advice,
        ..job
    };
    let slices = window::Slices { job: trying, chain };
    window::windows(job.case, &slices, steps, advice)?;
    if !advice {
        return Ok(ToldOfForces::default());
    }
    let advice = advise(trying, chain, steps)?;
    window::meet(steps, &advice);
    let clean_up = clean_up::clean_up(trying, chain, steps);
    let cut_short = match advice.is_empty() && clean_up.is_empty() {
        true => None,
        false => advice_cut_short(trying)?,
    };
    Ok(ToldOfForces {
        advice,
        clean_up,
        cut_short,
    })
}

/// A case whose slice is so thick, mm.
fn sliced(case: &Case, thickness: f64) -> Case {
    let mut sliced = case.clone();
    sliced.part.length = thickness;
    sliced
}

/// Whether advice was still searched for when the time ran out: the answer stands without it.
fn advice_cut_short(job: Job) -> Result<Option<Caution>, ProcessError> {
    let steps = job.case.steps.len();
    let at = Progress {
        step: steps,
        steps,
        aim: job.aim,
        state: State::Held,
        mesh: [0, 0],
        round: 0,
    };
    match job.watch.at(&at) {
        Ok(()) => Ok(None),
        Err(Stop::TimeLimit | Stop::WorkLimit) => Ok(Some(Caution::AdviceCutShort)),
        Err(stop) => Err(ProcessError::stopped(stop, &at)),
    }
}

/// The r-z mesh of a tube on which the first step of its case starts, without a field; `None` for a case of a slice.
///
/// # Errors
/// See [`ProcessError`].
pub fn starting_meridian(
    case: &Case,
    watch: &dyn Watch,
) -> Result<Option<MeridianField>, ProcessError> {
    let kept = Kept::default();
    let job = job_of(case, watch, &kept, Method::default());
    let field = case.tube.as_ref().map(|t| tube::starting_meridian(job, t));
    field.transpose()
}

/// The mesh on which the first step of a case starts: fixed if the case fixes it, else graded to where the pads touch.
///
/// # Errors
/// See [`ProcessError`].
pub fn starting_mesh(case: &Case, watch: &dyn Watch) -> Result<Mesh, ProcessError> {
    let mut body = PartBody::new(&case.part);
    let Some(step) = case.steps.first() else {
        return Err(Reason::Input(Unfit::NoStep).at(Place::Steps));
    };
    let kept = Kept::default();
    let job = job_of(case, watch, &kept, Method::default());
    let asked = AskedStep::of(job, &mut body, 0)?;
    let setting = Setting::new(job, &body, step, &asked.supports, 0);
    adapt::first_mesh(&setting, case.mesh)
}
