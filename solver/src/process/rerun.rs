//! A step that was solved, solved again with other forces or cuts, and all steps after it.

use std::sync::{Arc, Mutex};

use super::grip::{self, AtSpeed};
use super::guess::Guess;
use super::inspect::{Named, contacts, dead_loads, stress_of_states};
use super::plan::Plan;
use super::round::Added;
use super::step::{Job, PartBody, Setting, Solved};
use super::{Contact, CutOutcome, DeadLoad, Radii, StressSummary};
use crate::case::Step;
use crate::geometry::SampledOutline;
use crate::scheme::Supports;

/// A step as it was solved: enough to solve it again with other forces.
pub(super) struct Again {
    /// The part when the step starts.
    pub body: PartBody,
    pub names: Vec<Named>,
    /// What presses, laid against the part.
    pub supports: Vec<Supports>,
    /// The coarser mesh that was solved: good enough to search for another force.
    pub plan: Plan,
    pub cut_outlines: Vec<SampledOutline>,
    pub added: Option<Added>,
    /// How the wall gives way to the tools of its cuts, as far as that was solved for.
    pub dips: KnownDips,
}

/// How the walls of a step's cuts give way to their tools under its forces times some factors, mm at equal angles from 0.
///
/// A dip changes with where the jaws touch, little by little, and costs more than all else of a step: steps that are only tried take it from the nearest that was solved.
pub(super) struct KnownDips(Mutex<Vec<(f64, Dips)>>);

/// A dip for each cut of a step; none of a cut without a tool force.
type Dips = Arc<[Option<Vec<f64>>]>;

/// Factor on the forces within which a step takes the dips of another.
const ALIKE: f64 = 1.5;

impl KnownDips {
    /// Of a step that was solved as it is.
    pub fn of(cuts: &[CutOutcome]) -> Self {
        let known = Self(Mutex::new(Vec::new()));
        known.keep(1.0, cuts);
        known
    }

    /// Keeps those of a step that was solved with a factor on its forces; dips that were taken from another are none.
    fn keep(&self, factor: f64, cuts: &[CutOutcome]) {
        let dips = cuts
            .iter()
            .map(|c| Some(c.tool_dip.as_ref()?.finished.clone()));
        let dips: Dips = dips.collect();
        if dips.iter().any(Option::is_some)
            && let Ok(mut all) = self.0.lock()
        {
            all.push((factor, dips));
        }
    }

    /// Those that were solved with the nearest factor.
    pub fn nearest(&self, factor: f64) -> Option<(f64, Dips)> {
        let all = self.0.lock().ok()?;
        let off = |f: f64| (f / factor).ln().abs();
        let nearest = all.iter().min_by(|a, b| off(a.0).total_cmp(&off(b.0)))?;
        Some(nearest.clone())
    }

    /// The same, if the factors are alike.
    fn like(&self, factor: f64) -> Option<Dips> {
        let (found, dips) = self.nearest(factor)?;
        ((found / factor).ln().abs() <= ALIKE.ln()).then_some(dips)
    }
}

/// Stress over yield strength, the largest; 0 where a yield strength is not known.
pub(super) fn over_yield<'a>(states: impl IntoIterator<Item = &'a StressSummary>) -> f64 {
    let margins = states.into_iter().filter_map(|s| s.yield_margin);
    margins.map(|m| 1.0 / (1.0 + m)).fold(0.0, f64::max)
}

/// A step solved again in another way, and all steps after it.
pub(super) struct Rerun {
    /// The finished part.
    pub released: Radii,
    /// The cuts of the first step that was solved again.
    pub cuts: Vec<CutOutcome>,
    /// Largest stress over yield strength; 0 where that is not known.
    pub stress: f64,
    /// What presses in that first step.
    pub first: Pressing,
}

/// What presses on the part in a step, at the speed of the step.
pub(super) struct Pressing {
    /// Before the first cut.
    pub before: Vec<Contact>,
    /// After the last; none where nothing is cut.
    pub after: Option<Vec<Contact>>,
    pub loads: Vec<DeadLoad>,
    /// Axial force of end plates, N.
    pub axial_force: f64,
}

impl Pressing {
    pub fn of(setting: &Setting, names: &[Named], solved: &Solved) -> Self {
        let before = solved.before_cuts(setting);
        let after = solved.after_cuts();
        Self {
            before: contacts(setting, names, before.clamp, before.clamped),
            after: after.map(|a| contacts(setting, names, a.clamp, a.clamped)),
            loads: dead_loads(names, &solved.clamp, setting.supports),
            axial_force: solved.clamp.axial_force(),
        }
    }

    /// What each face carries after the cuts, N; none where nothing is cut.
    pub fn left(&self) -> Vec<f64> {
        let after = self.after.iter().flatten();
        after.map(|c| c.force).collect()
    }
}

/// Solves step `from` of a chain as it is given here, and the steps after it as they were. `share` scales the outlines of its cuts
/// that were found before, to start from. `None` for what cannot be solved so (it is loose, or does not settle).
pub(super) fn rerun(
    job: Job,
    chain: &[Again],
    from: usize,
    (first, first_supports): (&Step, &[Supports]),
    share: Option<f64>,
) -> Option<Rerun> {
    let mut body = chain.get(from)?.body.clone();
    let mut stress: f64 = 0.0;
    let mut done: Option<Rerun> = None;
    for (index, again) in chain.iter().enumerate().skip(from) {
        let (step, supports, share) = if index == from {
            (first, first_supports, share)
        } else {
            (&job.case.steps[index], again.supports.as_slice(), Some(1.0))
        };
        if index > from && step.stress_relieved {
            body.relieve(job, index).ok()?;
        }
        let members = grip::members(job.case, step);
        let turning = match grip::at_speed(members, supports, step) {
            AtSpeed::Changed(all) => Some(all),
            AtSpeed::Same => None,
            AtSpeed::LetGo => return None,
        };
        let pressing = turning.as_deref().unwrap_or(supports);
        let setting = Setting::new(job, &body, step, pressing, index);
        let cuts = &again.cut_outlines;
        let factor = step.force_scale / job.case.steps[index].force_scale;
        let dips = again.dips.like(factor);
        let guess = Guess {
            cuts: if share.is_some() { cuts } else { &[] },
            rates: &[],
            share: share.unwrap_or(1.0),
            held: None,
            added: again.added.as_ref().filter(|_| share.is_some()),
            dips: dips.as_deref().unwrap_or_default(),
        };
        let solved = setting.solve(&again.plan, Some(&guess)).ok()?;
        again.dips.keep(factor, &solved.cuts);
        stress = stress.max(over_yield(&stress_of_states(&setting, &solved)));
        done = Some(match done {
            Some(before) => Rerun {
                released: solved.released,
                stress,
                ..before
            },
            None => Rerun {
                first: Pressing::of(&setting, &again.names, &solved),
                released: solved.released,
                cuts: solved.cuts,
                stress,
            },
        });
        body = solved.body;
    }
    done
}
