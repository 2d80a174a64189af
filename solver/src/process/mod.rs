//! Hold, cut, release, inspect: the main job. [`run`] takes a [`Case`] and gives an [`Outcome`].

mod adapt;
mod back_off;
mod clean_up;
mod cut;
mod cutting;
mod error;
mod inspect;
mod measuring;
mod meshed;
mod outcome;
mod placing;
mod plan;
mod relief;
mod round;
mod sample;
mod stages;
mod statics;
mod step;

pub use error::{ProcessError, Reason};
pub use measuring::gauge_flex;
pub use outcome::*;

use crate::case::{Case, FREE, Step, Turned};
use crate::contact::Clamped;
use crate::geometry::Surface;
use crate::mesh::Mesh;
use crate::scheme::{EndClamp, EndCondition, Supports, ask};
use crate::watch::{Aim, Bounded, Progress, State, Stop, Unwatched, Watch};
use back_off::{Again, advise};
use inspect::{Named, outcome_of};
use step::{Body, Job, Setting};

/// Above this share of the wall a displacement is large for a theory of small displacements.
const LARGE_FLEXING: f64 = 0.1;

/// Most work of a run whose time nobody limits, elements times rounds of contact: one to five minutes on one core, and some seventy times
/// what the largest everyday jobs take.
const MOST_WORK: u64 = 30_000_000;

/// Which states keep their fields for review.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum KeepFields {
    /// Every state of every step.
    #[default]
    All,
    /// The last step alone.
    Last,
    /// None.
    None,
}

/// How a case is run.
#[derive(Clone, Copy, Debug)]
pub struct Options {
    /// Which fields to keep.
    pub fields: KeepFields,
    /// Whether to judge a fixed mesh by a second, coarser one.
    pub estimate: bool,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            fields: KeepFields::All,
            estimate: true,
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
    let bounded = Bounded::new(watch, MOST_WORK);
    let kept = round::Kept::default();
    let job = Job {
        case,
        watch: &bounded,
        aim: Aim::Answer,
        kept: &kept,
    };
    let mut body = Body::new(&case.part);
    let mut steps = Vec::new();
    let mut cautions = Vec::new();
    let mut chain: Vec<Again> = Vec::new();
    for (index, step) in case.steps.iter().enumerate() {
        let last = index + 1 == case.steps.len();
        if step.stress_relieved {
            body.relieve(job, index)?;
        }
        let (names, hold) = supports(case, step, &body, index)?;
        let here = |e: ProcessError| e.at(step.line, || format!("step[{index}]"));
        let (supports, placing) = placing::laid(job, step, &body, index, hold).map_err(here)?;
        let setting = Setting::new(job, &body, step, &supports, index);
        let adapted = adapt::solve(&setting, case.mesh, options.estimate).map_err(here)?;
        if adapted.solved.flexing > LARGE_FLEXING {
            cautions.push(format!(
                "step {}: the part moves by {:.2} of its wall while held; above 0.1 a theory of small displacements is \
                 no longer exact",
                index + 1,
                adapted.solved.flexing
            ));
        }
        match adapted.estimate.relative_error {
            None => cautions.push(format!(
                "step {}: no second mesh was solved, so the mesh error is not known",
                index + 1
            )),
            Some(error) if !adapted.estimate.converged => cautions.push(format!(
                "step {}: the fixed mesh does not reach the accuracy asked ({error:.1e}, asked for {:.1e})",
                index + 1,
                case.accuracy
            )),
            Some(_) => {}
        }
        if adapted.unresolved {
            cautions.push(format!(
                "step {}: on the fixed mesh a contact is carried by fewer than four element edges: where it presses, how far it closes and \
                 the stress, so also whether it yields, are not resolved",
                index + 1
            ));
        }
        if step.turned == Turned::Any && case.tolerance.limits_more_than_roundness() {
            cautions.push(format!(
                "step {}: turned = \"any\" looks for the way that leaves most out-of-roundness; wall, runout and diameters may come out \
                 worse another way",
                index + 1
            ));
        }
        cautions.extend(said_of_loads(&supports, index));
        if !step.cuts.is_empty() && supports.iter().any(|s| s.end_clamp.is_some()) {
            cautions.push(format!(
                "step {}: the stress from the end plates is taken as it was before the first cut; where their force stays (hydraulics, a \
                 weight) it rises as the section gets smaller",
                index + 1
            ));
        }
        cautions.extend(spring_passes(step, &adapted.solved.cuts, index));
        cautions.extend(hardly_held(&adapted.solved.held, index));
        cautions.extend(cuts_where_it_grips(step, &names, &supports, index));
        let keep = match options.fields {
            KeepFields::All => true,
            KeepFields::Last => last,
            KeepFields::None => false,
        };
        steps.push(outcome_of(&setting, &names, &adapted, placing, keep));
        chain.push(Again {
            body: body.clone(),
            names,
            supports,
            plan: adapted.coarse,
            cut_outlines: adapted.solved.cut_outlines,
        });
        body = adapted.solved.body;
    }
    let trying = Job {
        aim: Aim::Advice,
        ..job
    };
    let advice = advise(trying, &chain, &steps)?;
    let clean_up = clean_up::clean_up(trying, &chain, &steps);
    if !(advice.is_empty() && clean_up.is_empty()) {
        cautions.extend(advice_cut_short(trying)?);
    }
    let inspection = measuring::measuring(case, &body)?;
    if let Some(flex) = &inspection {
        cautions.extend(measuring::cautions(case, flex));
    }
    Ok(Outcome {
        steps,
        assumed: Vec::new(),
        cautions,
        advice,
        clean_up,
        inspection,
    })
}

/// Whether advice was still looked for when the time ran out: the answer stands without it.
fn advice_cut_short(job: Job) -> Result<Option<String>, ProcessError> {
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
        Err(Stop::TimeLimit | Stop::WorkLimit) => Ok(Some(
            "the limit of time or work passed while other forces and cuts were tried: what is advised about them may be incomplete".into(),
        )),
        Err(stop) => Err(ProcessError::stopped(stop, &at)),
    }
}

/// Cuts that go over a surface again at the same diameter, and what they find there.
fn spring_passes(step: &Step, cuts: &[CutOutcome], index: usize) -> Vec<String> {
    let passes = cuts
        .iter()
        .enumerate()
        .filter(|(k, _)| step.is_spring_pass(*k));
    passes
        .map(|(k, cut)| {
            let found = if cut.depth_max > 0.0 {
                format!("takes what the pass before left, {:.4} mm at most", cut.depth_max)
            } else {
                "finds nothing to take".to_owned()
            };
            format!(
                "step {}, cut {}: a spring pass on the {} {found}: the tool of this model does not push the wall away, so what a real \
                 spring pass takes beyond that is not in these figures",
                index + 1,
                k + 1,
                cut.surface.in_words()
            )
        })
        .collect()
}

/// A hold on the surface that the step cuts: the tool cannot be where it sits.
fn cuts_where_it_grips(
    step: &Step,
    names: &[Named],
    supports: &[Supports],
    index: usize,
) -> Option<String> {
    let cut = |s: Surface| step.cuts.iter().any(|c| c.surface == s);
    let grips = |s: &Supports| s.faces().iter().map(|b| b.surface).find(|&s| cut(s));
    names.iter().zip(supports).find_map(|(name, s)| {
        grips(s).map(|surface| {
            format!(
                "step {}: it cuts the {} that the {} hold by: they are taken to sit on uncut stock beside the tool, though the slice \
                 has them over the full length; see that the tool clears them",
                index + 1,
                surface.in_words(),
                name.scheme
            )
        })
    })
}

/// Share of the pressure that must act across the line of the rest for a hold to restrain the part that way: pads that touch over three
/// degrees either side of one diameter have 0.0009.
const HARDLY_HELD: f64 = 1e-3;

/// A hold that presses along one line alone, like two flat jaws: sideways the part can roll along them.
fn hardly_held(held: &Clamped, index: usize) -> Option<String> {
    let (share, across) = held.weakest()?;
    (share < HARDLY_HELD && held.free_shifts.is_empty()).then(|| {
        format!(
            "step {}: everything presses along one line, so along {:.0} deg only friction, which is left out here, keeps the part from \
             sliding: add a support there, or jaws bored to the part",
            index + 1,
            (10.0 * across.to_degrees()).round().rem_euclid(1800.0) / 10.0
        )
    })
}

/// What the loads of a step leave out or let grow without bound, in the user's words.
fn said_of_loads(supports: &[Supports], index: usize) -> Vec<String> {
    let step = index + 1;
    let mut said = Vec::new();
    if supports
        .iter()
        .any(|s| s.points.iter().any(|p| p.force != 0.0))
    {
        said.push(format!(
            "step {step}: under a point force stress has no maximum, and the displacement right under it grows, slowly, with every \
             finer mesh; elsewhere both are sound"
        ));
    }
    let ends: Vec<EndClamp> = supports.iter().filter_map(|s| s.end_clamp).collect();
    if ends.iter().any(|e| e.ends != EndCondition::Sliding) {
        said.push(format!(
            "step {step}: the slice shows even growth only; ends that stick bulge between the plates"
        ));
    }
    if !ends.is_empty() {
        said.push(format!(
            "step {step}: stress fields are those in the plane; the axial stress of the end clamp is counted in the von Mises \
             figures of the held part, not in the fields"
        ));
    }
    said
}

/// The mesh on which the first step of a case starts: fixed if the case fixes it, else graded to where the pads carry.
///
/// # Errors
/// See [`ProcessError`].
pub fn starting_mesh(case: &Case, watch: &dyn Watch) -> Result<Mesh, ProcessError> {
    let body = Body::new(&case.part);
    let Some(step) = case.steps.first() else {
        return Err(
            ProcessError::new(Reason::Input, "the case has no step").at(0, || "step".into())
        );
    };
    let (_, hold) = supports(case, step, &body, 0)?;
    let kept = round::Kept::default();
    let job = Job {
        case,
        watch,
        aim: Aim::Answer,
        kept: &kept,
    };
    let (supports, _) = placing::laid(job, step, &body, 0, hold)?;
    let setting = Setting::new(job, &body, step, &supports, 0);
    adapt::first_mesh(&setting, case.mesh)
}

/// The schemes of a step's hold and what they put against the part, in order.
fn supports(
    case: &Case,
    step: &Step,
    body: &Body,
    index: usize,
) -> Result<(Vec<Named>, Vec<Supports>), ProcessError> {
    let Some(hold) = case.holds.iter().find(|h| h.name == step.hold) else {
        if step.hold == FREE {
            return Ok((Vec::new(), Vec::new()));
        }
        let message = format!("there is no hold \"{}\" in the case", step.hold);
        return Err(ProcessError::new(Reason::Input, message)
            .at(step.line, || format!("step[{index}].hold")));
    };
    let section = body.section(case.part.length);
    let mut names = Vec::new();
    let mut all = Vec::new();
    for (k, member) in hold.members.iter().enumerate() {
        let supports = ask(member.scheme, &section, &member.values).map_err(|e| {
            let key = e
                .parameter
                .as_ref()
                .map_or(String::new(), |p| format!(".{p}"));
            let reason = match member.scheme.program() {
                Some(_) => Reason::Program,
                None => Reason::Input,
            };
            ProcessError::new(reason, e).at(member.line, || format!("hold.{}[{k}]{key}", hold.name))
        })?;
        names.push(Named {
            scheme: member.scheme.name().to_owned(),
            body: member.scheme.body_name().to_owned(),
        });
        all.push(supports);
    }
    Ok((names, all))
}
