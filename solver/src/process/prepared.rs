//! A step in stages, each of which can be asked again: prepared, held, cut, released.

use super::adapt;
use super::asked::AskedStep;
use super::dip;
use super::guess::Guess;
use super::inspect::{Named, contacts, wall};
use super::plan::Plan;
use super::round::{Added, Kept};
use super::step::{HeldPart, Job, PartBody, Setting, Solved, Start};
use super::{
    Contact, CutOutcome, FromSqueeze, MOST_WORK, Method, Options, ProcessError, Radii, Reason,
    Unfit, WallExtremes,
};
use crate::case::{Case, Place};
use crate::contact::{Clamped, LockedResponse, RESOLVED};
use crate::geometry::{SampledOutline, Surface};
use crate::scheme::Supports;
use crate::watch::{Aim, Bounded, Unwatched, Watch};

/// A step of a case, solved once to the accuracy asked, with all that does not depend on forces, gaps and faces kept: the elements, the
/// factor, and the compliances between the pressures of its hold.
///
/// It answers for cases of the same part that hold or cut it otherwise in that step. Each answer is that of elements as they were divided
/// for the case that it was prepared with, and does not depend on what was asked before.
///
/// ```
/// use ringwright_solver::case::{CaseBuilder, Step};
/// use ringwright_solver::geometry::Surface;
/// use ringwright_solver::process::{Options, Prepared};
/// use ringwright_solver::scheme::Registry;
///
/// let case = CaseBuilder::ring(110.0, 100.0, 20.0, "aluminium 6061-T6")
///     .lobes([Surface::Bore], 3, 0.02, 0.0)
///     .step(Step::held_by("free").cut(Surface::Bore, 100.5))
///     .build(&Registry::default())?;
/// let prepared = Prepared::new(&case, 0, &Options::default())?;
///
/// let mut deeper = case.clone();
/// deeper.steps[0].cuts[0].diameter = 101.0;
/// let released = prepared.hold(&deeper)?.cut()?.release();
/// assert!((released.shape().bore[0] - 50.5).abs() < 1e-6);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub struct Prepared {
    case: Case,
    index: usize,
    method: Method,
    body: PartBody,
    plan: Plan,
    start: Start,
    kept: Kept,
    /// The contact, the outlines and what they added in the case that it was prepared with: where the search for another answer starts.
    held: Clamped,
    cut_outlines: Vec<SampledOutline>,
    added: Option<Added>,
}

impl Prepared {
    /// Runs the steps of a case up to one (from 0), and that one to the accuracy asked.
    ///
    /// # Errors
    /// See [`ProcessError`]; [`Unfit::NoStep`] if the case has no such step, [`Unfit::OtherPart`] for a tube, which
    /// [`PreparedTube`](super::PreparedTube) prepares.
    pub fn new(case: &Case, step: usize, options: &Options) -> Result<Self, ProcessError> {
        if step >= case.steps.len() {
            return Err(Reason::Input(Unfit::NoStep).at(Place::Steps));
        }
        // a tube is prepared by `PreparedTube`
        if case.tube.is_some() {
            return Err(Reason::Input(Unfit::OtherPart).at(Place::Part));
        }
        let kept = Kept::default();
        let watch = Bounded::new(&Unwatched, MOST_WORK);
        let job = job_of(case, &watch, &kept, options.method);
        let mut body = PartBody::new(&case.part);
        let solve = |body: &mut PartBody, index: usize| {
            let asked = AskedStep::of(job, body, index)?;
            let setting = Setting::new(job, body, &case.steps[index], &asked.supports, index);
            adapt::solve(&setting, case.mesh, options.estimate).map_err(|e| e.in_step(index))
        };
        for index in 0..step {
            body = solve(&mut body, index)?.solved.body;
        }
        let adapted = solve(&mut body, step)?;
        // shapes are asked for, not fields
        let plan = Plan {
            rough: true,
            ..adapted.plan
        };
        let start = Start::new(
            &Setting::new(job, &body, &case.steps[step], &[], step),
            &plan,
        )
        .map_err(|e| e.in_step(step))?;
        let Solved {
            held,
            cut_outlines,
            added,
            ..
        } = adapted.solved;
        Ok(Self {
            case: case.clone(),
            index: step,
            method: options.method,
            body,
            plan,
            start,
            kept,
            held,
            cut_outlines,
            added,
        })
    }

    /// The shape of the part before it is held, mm at [`PROFILE_POINTS`](super::PROFILE_POINTS) angles from 0.
    pub fn stock(&self) -> &Radii {
        self.start.stock()
    }

    /// Holds the part as a case says that has the same part, and other values in this step or its hold. The steps before it are those of the
    /// case that it was prepared with.
    ///
    /// # Errors
    /// See [`ProcessError`]; [`Unfit::OtherPart`] if the part is another.
    pub fn hold(&self, case: &Case) -> Result<Held<'_>, ProcessError> {
        if case.part != self.case.part {
            return Err(Reason::Input(Unfit::OtherPart).at(Place::Part));
        }
        if self.index >= case.steps.len() {
            return Err(Reason::Input(Unfit::NoStep).at(Place::Steps));
        }
        let watch = Bounded::new(&Unwatched, MOST_WORK);
        let job = job_of(case, &watch, &self.kept, self.method);
        let AskedStep {
            names,
            supports,
            from_squeeze,
            ..
        } = AskedStep::of_relieved(job, &self.body, self.index)?;
        let step = &case.steps[self.index];
        let setting = Setting::new(job, &self.body, step, &supports, self.index);
        let guess = Guess {
            share: self.share(case),
            held: Some(&self.held),
            added: self.added.as_ref(),
            ..Guess::NOTHING
        };
        let part = self
            .start
            .hold(&setting, &self.plan, Some(&guess))
            .map_err(|e| e.in_step(self.index))?;
        Ok(Held {
            prepared: self,
            case: case.clone(),
            names,
            supports,
            from_squeeze,
            part,
        })
    }

    /// Share of the forces that it was prepared with, as far as the step's own scale says it.
    fn share(&self, case: &Case) -> f64 {
        let [now, then] = [case, &self.case].map(|c| c.steps[self.index].force_scale);
        if then > 0.0 { now / then } else { 1.0 }
    }
}

pub(super) fn job_of<'a>(
    case: &'a Case,
    watch: &'a dyn Watch,
    kept: &'a Kept,
    method: Method,
) -> Job<'a> {
    Job {
        case,
        watch,
        aim: Aim::Answer,
        kept,
        method,
        shapes_alone: false,
    }
}

/// The part in its hold, before the first cut of the step.
pub struct Held<'p> {
    prepared: &'p Prepared,
    case: Case,
    names: Vec<Named>,
    supports: Vec<Supports>,
    from_squeeze: Option<FromSqueeze>,
    part: HeldPart,
}

impl Held<'_> {
    /// Its shape, mm at [`PROFILE_POINTS`](super::PROFILE_POINTS) angles from 0.
    pub fn shape(&self) -> &Radii {
        &self.part.shape
    }

    /// The force that was found from what the ring shows, where a scheme of the hold is set by that.
    pub fn from_squeeze(&self) -> Option<&FromSqueeze> {
        self.from_squeeze.as_ref()
    }

    /// What each body of the hold does to it.
    pub fn contacts(&self) -> Vec<Contact> {
        let watch = Unwatched;
        let setting = self.setting(&watch);
        contacts(&setting, &self.names, &self.part.clamp, &self.part.state)
    }

    /// Whether every zone of contact has as many element edges as tell its width: where another force or face has moved it off
    /// the elements that were made for it, prepare the case anew.
    pub fn is_resolved(&self) -> bool {
        let state = &self.part.state;
        let least = 1e-9 * state.total_force();
        let bodies = 0..self.part.clamp.bodies().len();
        bodies
            .flat_map(|b| state.contact_zones(b))
            .all(|zone| zone.force <= least || zone.edges >= RESOLVED)
    }

    /// What a tool force (N) on a surface does to it at 72 equal angles from 0, over a degree either side, while all bodies of the hold stay
    /// where they are.
    ///
    /// # Errors
    /// See [`ProcessError`]; [`Looseness::UnderTool`](super::Looseness::UnderTool) where nothing takes such a force.
    pub fn tool_response(
        &self,
        surface: Surface,
        force: f64,
    ) -> Result<LockedResponse, ProcessError> {
        let Prepared { plan, start, .. } = self.prepared;
        let watch = Bounded::new(&Unwatched, MOST_WORK);
        let setting = self.setting(&watch);
        let tool = dip::tool(surface, force);
        match start {
            Start::Ring(start) => start.locked(&setting, plan, &self.part, tool),
            Start::Mesh(start) => start.locked(&setting, plan, &self.part, tool),
        }
    }

    /// Makes the cuts of the step.
    ///
    /// # Errors
    /// See [`ProcessError`].
    pub fn cut(&self) -> Result<CutPart, ProcessError> {
        let Prepared {
            plan,
            start,
            cut_outlines,
            index,
            ..
        } = self.prepared;
        let watch = Bounded::new(&Unwatched, MOST_WORK);
        let setting = self.setting(&watch);
        // outlines to start from where the same surfaces are cut to the same diameters
        let alike = self.case.steps[*index].cuts == self.prepared.case.steps[*index].cuts;
        let guess = Guess {
            cuts: if alike { cut_outlines } else { &[] },
            share: self.prepared.share(&self.case),
            held: Some(&self.part.state),
            added: self.part.added.as_ref(),
            ..Guess::NOTHING
        };
        let solved = start
            .solve(&setting, plan, Some(&guess))
            .map_err(|e| e.in_step(*index))?;
        Ok(CutPart {
            shape: solved.cut.map(|c| c.1),
            cuts: solved.cuts,
            released: solved.released,
        })
    }

    fn setting<'a>(&'a self, watch: &'a dyn Watch) -> Setting<'a> {
        let Prepared {
            body,
            kept,
            method,
            index,
            ..
        } = self.prepared;
        let job = job_of(&self.case, watch, kept, *method);
        let step = &self.case.steps[*index];
        Setting::new(job, body, step, &self.supports, *index)
    }
}

/// The part after the cuts of the step, still held.
#[derive(Clone, Debug)]
pub struct CutPart {
    shape: Option<Radii>,
    cuts: Vec<CutOutcome>,
    released: Radii,
}

impl CutPart {
    /// Distance of its surfaces from the spindle axis, mm at [`PROFILE_POINTS`](super::PROFILE_POINTS) angles from 0; `None` in a step that
    /// cuts nothing.
    pub fn shape(&self) -> Option<&Radii> {
        self.shape.as_ref()
    }

    /// What each cut took.
    pub fn cuts(&self) -> &[CutOutcome] {
        &self.cuts
    }

    /// Lets go of the part.
    pub fn release(self) -> Released {
        Released {
            shape: self.released,
        }
    }
}

/// The free part after the step.
#[derive(Clone, Debug)]
pub struct Released {
    shape: Radii,
}

impl Released {
    /// Its shape, mm at [`PROFILE_POINTS`](super::PROFILE_POINTS) angles from 0.
    pub fn shape(&self) -> &Radii {
        &self.shape
    }

    /// Least and largest wall.
    pub fn wall(&self) -> WallExtremes {
        wall(&self.shape)
    }
}
