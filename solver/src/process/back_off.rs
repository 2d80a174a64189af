//! What other forces would do about a roundness that misses its limit: the step at fault and all after it are solved again.
//!
//! Three things are found: the largest share of all forces of the step that meets the limit, the best force of one scheme while the
//! others stay, and what a tenth of the forces leaves, where force is not what makes the part out of round.

use super::forces::{is_forced_in_plane, scaled, set_forces};
use super::rerun::{Again, over_yield, rerun};
use super::step::Job;
use super::{Advice, LEAST_SHARE, ProcessError, Radii, Recomputed, SetForce, StepOutcome};
use crate::case::Case;
use crate::geometry::{PerSurface, Surface};
use crate::metrology::Profile;

/// Solves spent on finding a share of all forces that meets the limit.
const SHARE_SOLVES: usize = 6;

/// Solves spent on the force of one scheme.
const SCHEME_SOLVES: usize = 5;

/// The first other force of one scheme that is tried, as a factor: the shape is close to linear in it.
const PROBE: f64 = 1.1;

/// Factors within which the force of one scheme is searched for: nobody asked to set a screw to 300 N should be told to try 1500.
const FACTORS: [f64; 2] = [0.2, 3.0];

/// What a trial is charged for every share of yield that it passes, against roundness over limit: enough that none that yields wins.
const YIELDING: f64 = 100.0;

/// A force of one scheme that leaves more than this share of the roundness is not worth a word unless it meets the limit.
const WORTH_SAYING: f64 = 0.5;

/// Which forces of a step are changed.
#[derive(Clone, Copy)]
enum Change {
    All,
    One(usize),
}

/// A surface and how its roundness stands to its limit.
#[derive(Clone, Copy)]
pub(super) struct Worst {
    pub surface: Surface,
    pub roundness: f64,
    pub limit: f64,
    /// Largest von Mises stress over yield strength; 0 where that is not known.
    stress: f64,
}

impl Worst {
    /// Roundness over limit, or stress over yield where that is more: a force that bends the part for good is no advice.
    pub fn share(self) -> f64 {
        (self.roundness / self.limit).max(self.stress)
    }

    /// What the search for the force of one scheme makes least: roundness over limit, and never a part that yields.
    fn cost(self) -> f64 {
        self.roundness / self.limit + YIELDING * (self.stress - 1.0).max(0.0)
    }
}

/// The finished part under other forces.
struct Trial {
    factor: f64,
    part: Radii,
    worst: Worst,
    /// What one of the bodies meant carries after the cut, N.
    left: Option<f64>,
}

/// One step with the surfaces that its forces may have left out of round.
struct Fault<'a> {
    job: Job<'a>,
    chain: &'a [Again],
    step: usize,
    surfaces: Vec<Surface>,
}

/// What other forces would do about every limit that the finished part misses, one entry a step at fault.
pub(super) fn advise(
    job: Job,
    chain: &[Again],
    steps: &[StepOutcome],
) -> Result<Vec<Advice>, ProcessError> {
    let case = job.case;
    let Some(finished) = steps.last().map(|s| &s.released) else {
        return Ok(Vec::new());
    };
    let mut at_fault: PerSurface<Option<usize>> = PerSurface::default();
    for surface in Surface::BOTH {
        let found = roundness(case, finished, surface)?;
        if found.is_some_and(|w| w.share() > 1.0) {
            let cut_in = case.last_to_cut(surface);
            *at_fault.get_mut(surface) = cut_in.map(|k| set_by_force(case, chain, k));
        }
    }
    let of = |step: usize| -> Vec<Surface> {
        let here = |s: &Surface| *at_fault.get(*s) == Some(step);
        Surface::BOTH.into_iter().filter(here).collect()
    };
    let mut all = Vec::new();
    for step in 0..chain.len() {
        let surfaces = of(step);
        if !surfaces.is_empty() {
            let fault = Fault {
                job,
                chain,
                step,
                surfaces,
            };
            let states = steps[step..].iter().flat_map(|s| {
                let after = s.stress_after_cuts();
                std::iter::once(&s.held.stress).chain(after)
            });
            all.extend(fault.advice(finished, over_yield(states))?);
        }
    }
    Ok(all)
}

/// The step whose forces may mend what a step leaves out of round: itself; or, where no force shapes the part in it (a plug fills a bore
/// that came lobed), the nearest before it that cuts under a force.
fn set_by_force(case: &Case, chain: &[Again], step: usize) -> usize {
    let forced = |k: &usize| {
        let cuts = !case.steps[*k].cuts.is_empty();
        cuts && chain[*k].supports.iter().any(is_forced_in_plane)
    };
    (0..=step).rev().find(forced).unwrap_or(step)
}

/// How a surface stands to its roundness limit; `None` where it has none.
pub(super) fn roundness(
    case: &Case,
    part: &Radii,
    surface: Surface,
) -> Result<Option<Worst>, ProcessError> {
    let Some(wanted) = case.roundness_limit(surface) else {
        return Ok(None);
    };
    let profile = Profile::equal(part.get(surface));
    let roundness = wanted.about.of(&profile)?;
    Ok(Some(Worst {
        surface,
        roundness,
        limit: wanted.most,
        stress: 0.0,
    }))
}

impl Fault<'_> {
    fn hold(&self) -> &Again {
        &self.chain[self.step]
    }

    fn advice(&self, finished: &Radii, stress: f64) -> Result<Option<Advice>, ProcessError> {
        let Some(full) = self.worst(finished, stress)? else {
            return Ok(None);
        };
        let forced = |k: usize| !self.forces(Change::One(k), 1.0).is_empty();
        let members: Vec<usize> = (0..self.hold().supports.len())
            .filter(|&k| forced(k))
            .collect();
        let in_plane = |k: &usize| is_forced_in_plane(&self.hold().supports[*k]);
        let by_force = members.iter().any(in_plane);
        let mut advice = Advice {
            step: self.step,
            surface: full.surface,
            by_force,
            whole_hold: None,
            one_scheme: None,
            least: None,
        };
        if !by_force {
            return Ok(Some(advice));
        }
        // the first scheme is what grips; those after it support, and leave the grip as it is when they are set otherwise
        for &member in members.iter().filter(|k| **k > 0 && in_plane(k)) {
            let found = self.one_scheme(member, finished, full);
            let better = |a: &Recomputed| {
                let now = advice.one_scheme.as_ref();
                now.is_none_or(|b| a.roundness / a.limit < b.roundness / b.limit)
            };
            if let Some(found) = found.filter(better) {
                advice.one_scheme = Some(found);
            }
        }
        let met = |r: &Recomputed| r.roundness <= r.limit;
        if !advice.one_scheme.as_ref().is_some_and(met) {
            (advice.whole_hold, advice.least) = self.whole_hold(full);
        }
        Ok(Some(advice))
    }

    /// Of the surfaces at fault, the one that is worst against its limit, beside this stress over yield.
    fn worst(&self, part: &Radii, stress: f64) -> Result<Option<Worst>, ProcessError> {
        let mut worst: Option<Worst> = None;
        for &surface in &self.surfaces {
            if let Some(found) = roundness(self.job.case, part, surface)?
                && worst.is_none_or(|w| found.share() > w.share())
            {
                worst = Some(Worst { stress, ..found });
            }
        }
        Ok(worst)
    }

    /// The chain with other forces in the step at fault. What cannot be solved so is no advice, and costs no more than that.
    fn solved(&self, change: Change, factor: f64) -> Option<Trial> {
        let mut step = self.job.case.steps[self.step].clone();
        let mut supports = self.hold().supports.clone();
        let mut share = 1.0;
        match change {
            Change::All => {
                step.force_scale *= factor;
                share = factor;
            }
            Change::One(k) => supports[k] = scaled(&supports[k], factor),
        }
        let again = rerun(
            self.job,
            self.chain,
            self.step,
            (&step, &supports),
            Some(share),
        )?;
        let worst = self.worst(&again.released, again.stress).ok()??;
        Some(Trial {
            left: self.left(change, &again.first.left()),
            part: again.released,
            factor,
            worst,
        })
    }

    /// What one of the bodies that a change is about carries after the cut, N: the mean of the first scheme that is set by force.
    fn left(&self, change: Change, carried: &[f64]) -> Option<f64> {
        let mut first = 0;
        for (k, support) in self.hold().supports.iter().enumerate() {
            let bodies = support.bodies.len();
            let set = bodies > 0 && support.drive.set_force(0).is_some();
            let meant = match change {
                Change::All => set,
                Change::One(member) => set && k == member,
            };
            if meant {
                let these = carried.get(first..first + bodies)?;
                return Some(these.iter().sum::<f64>() / bodies as f64);
            }
            first += support.faces().len();
        }
        None
    }

    fn recomputed(&self, change: Change, trial: &Trial) -> Recomputed {
        Recomputed {
            factor: trial.factor,
            forces: self.forces(change, trial.factor),
            roundness: trial.worst.roundness,
            limit: trial.worst.limit,
            yields: trial.worst.stress > 1.0,
            left_after_cut: trial.left,
        }
    }

    /// The largest whole percentage of all forces that meets the limits; or what the least leaves, if that does not.
    fn whole_hold(&self, full: Worst) -> (Option<Recomputed>, Option<Recomputed>) {
        let at = |percent: i32| self.solved(Change::All, f64::from(percent) / 100.0);
        let told = |trial: &Trial| Some(self.recomputed(Change::All, trial));
        // of a hold that has let go at a tenth of its force there may be something to say at more
        let least = (100.0 * LEAST_SHARE).round() as i32;
        let shares = (least..100).step_by(20);
        let Some((least, found)) = shares.filter_map(|p| Some((p, at(p)?))).next() else {
            return (None, None);
        };
        if found.worst.share() > 1.0 {
            return (None, told(&found));
        }
        // one percentage that meets the limit below, one that misses it above; roundness and stress are close to proportional to
        // force, so a secant between the two finds the gap in two or three solves; where they are not, a guess that missed is
        // followed by one halfway, else the secant creeps down from above
        let (mut meets, mut misses) = ((least, found), (100, full));
        let mut missed = false;
        for _ in 0..SHARE_SOLVES {
            let (low, high) = (meets.1.worst.share(), misses.1.share());
            if misses.0 - meets.0 <= 1 || low > 0.95 {
                break;
            }
            let share = if missed {
                0.5
            } else {
                (0.99 - low) / (high - low)
            };
            let guess = meets.0 + (share * f64::from(misses.0 - meets.0)).floor() as i32;
            let percent = guess.clamp(meets.0 + 1, misses.0 - 1);
            match at(percent) {
                Some(found) if found.worst.share() <= 1.0 => {
                    meets = (percent, found);
                    missed = false;
                }
                Some(found) => {
                    misses = (percent, found.worst);
                    missed = true;
                }
                None => break,
            }
        }
        (told(&meets.1), None)
    }

    /// The force of one scheme that leaves the part roundest and does not bend it for good. The shape is close to linear in it, so the
    /// next force is read off the line through the two best shapes, and then solved.
    fn one_scheme(&self, member: usize, finished: &Radii, full: Worst) -> Option<Recomputed> {
        let change = Change::One(member);
        let mut tried = vec![Trial {
            factor: 1.0,
            part: finished.clone(),
            worst: full,
            left: None,
        }];
        let mut next = PROBE;
        for _ in 0..SCHEME_SOLVES {
            let Some(trial) = self.solved(change, next) else {
                break;
            };
            tried.push(trial);
            tried.sort_by(|a, b| a.worst.cost().total_cmp(&b.worst.cost()));
            next = (100.0 * self.best_on_line(&tried[0], &tried[1])).round() / 100.0;
            if tried.iter().any(|t| (t.factor - next).abs() < 0.5e-2) {
                break;
            }
        }
        let best = tried.into_iter().next()?;
        let found = best.worst;
        let helps = found.roundness <= found.limit || found.cost() <= WORTH_SAYING * full.cost();
        let offered = best.factor != 1.0 && found.stress <= 1.0 && helps;
        offered.then(|| self.recomputed(change, &best))
    }

    /// Factor at which the line through two shapes is roundest: the roundness of a sum of shapes is convex, so thirds close in on it.
    fn best_on_line(&self, a: &Trial, b: &Trial) -> f64 {
        let value = |factor: f64| {
            let share = (factor - a.factor) / (b.factor - a.factor);
            let part = PerSurface::from_fn(|s| {
                let ends = a.part.get(s).iter().zip(b.part.get(s));
                ends.map(|(x, y)| x + share * (y - x)).collect()
            });
            let stress = a.worst.stress + share * (b.worst.stress - a.worst.stress);
            let worst = self.worst(&part, stress).ok().flatten();
            worst.map_or(f64::INFINITY, Worst::cost)
        };
        let [mut low, mut high] = FACTORS;
        while high - low > 2e-3 * high {
            let third = (high - low) / 3.0;
            if value(low + third) <= value(high - third) {
                high -= third;
            } else {
                low += third;
            }
        }
        0.5 * (low + high)
    }

    /// The forces of the step at fault as a change sets them.
    fn forces(&self, change: Change, factor: f64) -> Vec<SetForce> {
        let scale = factor * self.job.case.steps[self.step].force_scale;
        let hold = self.hold();
        let members = hold.names.iter().zip(&hold.supports).enumerate();
        members
            .filter(|(k, _)| match change {
                Change::All => true,
                Change::One(member) => *k == member,
            })
            .flat_map(|(_, (name, support))| set_forces(name, support, scale))
            .collect()
    }
}
