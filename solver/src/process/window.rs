//! Between which forces a step holds the part and leaves it sound: the force at which it slips, leaves its tolerance, marks or yields, each found by solving the step
//! again with other forces, and all steps after it.
//!
//! Every limit is a share that is close to linear in the force: a secant finds the force at which it is used up, and what is told was solved.

mod farther;
mod slices;
mod trial;

use super::forces::{is_forced_in_plane, set_forces};
use super::rerun::over_yield;
use super::{
    Advice, BandEnds, Bound, ForceWindow, GripOutcome, LimitedBy, NotChecked, ProcessError,
    StepOutcome,
};
use crate::case::Case;
use crate::grip::SpeedFactors;
use crate::scheme::Supports;
pub(super) use slices::Slices;
pub(super) use trial::{Left, Resolve, Trial};

/// Solves spent on each side of the window.
const SOLVES: usize = 6;

/// Factor on a force that meets its limits narrowly, at which it is seen whether more force uses up more.
const PROBE: f64 = 1.08;

/// A force is near enough its limit when it uses up this share of it.
const NEAR: f64 = 0.97;

/// Factors on the forces of the case between which a limit is looked for.
const FACTORS: [f64; 2] = [1e-3, 500.0];

/// Solves that are spent on the lower side where none has held yet.
const MOST_SOLVES: usize = 9;

/// A factor on the forces that leaves as good as no force.
const LITTLE: f64 = 0.05;

/// Puts what both ends of the band of its forces leave, and the window of every step beside its grip; without `advice` no window.
///
/// # Errors
/// [`ProcessError`] if a surface cannot be measured.
pub(super) fn windows(
    case: &Case,
    resolve: &dyn Resolve,
    steps: &mut [StepOutcome],
    advice: bool,
) -> Result<(), ProcessError> {
    for step in 0..steps.len() {
        let search = Search {
            case,
            resolve,
            step,
        };
        search.ends_of_band(&mut steps[step].grip)?;
        if !advice {
            continue;
        }
        let found = search.window(steps)?;
        match found {
            Ok(mut window) => {
                if !window.is_open() {
                    window.tried = resolve.alternative(step, &window)?;
                }
                steps[step].grip.window = Some(window);
            }
            Err(open) => steps[step].grip.open.extend(open),
        }
    }
    Ok(())
}

/// Puts the upper end of each window where a search for other forces has gone farther: both stop within their reach of the limit.
pub(super) fn meet(steps: &mut [StepOutcome], advice: &[Advice]) {
    for advice in advice {
        let (Some(found), Some(window)) = (&advice.whole_hold, &mut steps[advice.step].grip.window)
        else {
            continue;
        };
        let met = found.roundness <= found.limit && !found.yields;
        let factor = found.factor / window.spread[1];
        if let Some(high) = window
            .high
            .as_mut()
            .filter(|h| met && h.by != LimitedBy::Chuck)
        {
            high.factor = high.factor.max(factor);
        }
    }
}

/// The window of one step.
struct Search<'a> {
    case: &'a Case,
    resolve: &'a dyn Resolve,
    step: usize,
}

impl Search<'_> {
    /// The window; or why there is none to look for.
    fn window(
        &self,
        steps: &[StepOutcome],
    ) -> Result<Result<ForceWindow, Option<NotChecked>>, ProcessError> {
        let (names, supports) = self.resolve.hold(self.step);
        let outcome = &steps[self.step];
        let forced = supports.iter().any(is_forced_in_plane)
            || supports.iter().any(|s| s.end_clamp.is_some());
        let Some(last) = steps.last().filter(|_| forced && !outcome.cuts.is_empty()) else {
            return Ok(Err(None));
        };
        let stresses = steps[self.step..]
            .iter()
            .flat_map(|s| std::iter::once(&s.cut_in().stress).chain(s.stress_after_cuts()));
        let now = Trial::of(
            1.0,
            &Left {
                case: self.case,
                step: self.step,
                sections: &|surface| last.judged(surface),
                yields: over_yield(stresses),
                states: [
                    Some(outcome.cut_in().contacts.as_slice()),
                    outcome.after_cut.as_ref().map(|a| a.contacts.as_slice()),
                ],
                grip: &outcome.grip,
            },
        )?;
        let spread = self.spread();
        let high = self.high(now)?.map(|b| b.times(1.0 / spread[1]));
        let cap = self
            .rated(outcome, spread[1])
            .map_or(f64::INFINITY, |b| b.factor);
        let mut low = self.low(now, outcome.grip.turning.let_go_at())?;
        for other in [self.speed(&outcome.grip), self.steady(outcome, spread[0])] {
            low = match (low, other) {
                (Some(a), Some(b)) if b.factor > a.factor && !a.not_enough => Some(b),
                (None, _) => None,
                (a, _) => a,
            };
        }
        let rated = self.rated(outcome, spread[1]);
        let high = match (high, rated) {
            (Some(a), Some(b)) => Some(if b.factor < a.factor && !a.not_enough {
                b
            } else {
                a
            }),
            (a, b) => a.or(b),
        };
        let (low, high) = self.farther(&now, (low, high), (cap, spread[1]))?;
        let low = self.sound_from(&now, low, high.as_ref())?;
        let scale = self.case.steps[self.step].force_scale;
        let set = names
            .iter()
            .zip(supports)
            .flat_map(|(name, support)| set_forces(name, support, scale))
            .next();
        let set_by = supports.iter().find_map(|s| s.set_by.clone());
        Ok(match set {
            Some(set) => Ok(ForceWindow {
                set,
                set_by,
                low,
                high,
                most: cap,
                several: supports.len() > 1,
                spread,
                tried: None,
            }),
            None => Err(None),
        })
    }

    /// Least and largest factor on the forces, where those are known within a band.
    fn spread(&self) -> [f64; 2] {
        let all = self.supports().iter().map(|s| s.force_spread);
        all.fold([1.0_f64; 2], |[a, b], [c, d]| [a.min(c), b.max(d)])
    }

    /// Solves the step at both ends of what its forces are known within: the worst of them counts.
    fn ends_of_band(&self, grip: &mut GripOutcome) -> Result<(), ProcessError> {
        let spread = self.spread();
        if spread == [1.0; 2] {
            return Ok(());
        }
        let as_set = |s: &Supports| Supports {
            force_spread: [1.0; 2],
            ..s.clone()
        };
        let as_set: Vec<Supports> = self.supports().iter().map(as_set).collect();
        let mut ends = BandEnds {
            spread,
            roundness: None,
            yields: None,
        };
        let most = |a: Option<f64>, b: Option<f64>| match (a, b) {
            (Some(a), Some(b)) => Some(f64::max(a, b)),
            (a, b) => a.or(b),
        };
        for factor in spread {
            let Some(trial) = self.solve(factor, &as_set)? else {
                continue;
            };
            ends.roundness = most(ends.roundness, trial.shares[0]);
            ends.yields = most(ends.yields, trial.shares[1]);
            if let (Some(safety), Some(used)) = (&mut grip.safety, trial.slip) {
                safety[0] = safety[0].min(1.0 / used[0]);
                safety[1] = safety[1].max(1.0 / used[1]);
            }
        }
        grip.band = Some(ends);
        Ok(())
    }

    fn supports(&self) -> &[Supports] {
        self.resolve.hold(self.step).1
    }

    /// The step with all its forces times a factor, and all after it; `None` for what cannot be solved so.
    fn solve(&self, factor: f64, supports: &[Supports]) -> Result<Option<Trial>, ProcessError> {
        let mut step = self.case.steps[self.step].clone();
        step.force_scale *= factor;
        self.resolve.solve(self.step, (&step, supports), factor)
    }

    /// The largest force that meets every limit from above; `None` if there is no limit. Where none that is tried meets them, the least that was tried.
    fn high(&self, now: Trial) -> Result<Option<Bound>, ProcessError> {
        let Some((share, _)) = now.above() else {
            return Ok(None);
        };
        let own = self.supports();
        let above = |t: &Trial| t.above().map_or(0.0, |a| a.0);
        let aim = 0.5 * (1.0 + NEAR);
        let mut missed_before: Option<Trial> = None;
        let mut met_before: Option<Trial> = None;
        let (mut meets, mut misses) = match share <= 1.0 {
            true => (Some(now), None),
            false => (None, Some(now)),
        };
        // below this the part is loose or a jaw has let go; above it cuts through or does not settle
        let [mut floor, mut roof] = FACTORS;
        let mut next = aim / share.max(1e-9);
        for _ in 0..SOLVES {
            let near = meets.as_ref().filter(|m| above(m) >= NEAR);
            if let Some(m) = near {
                // a limit that is used up less by more force is none from above
                if misses.as_ref().is_some_and(|b| b.factor > m.factor) {
                    break;
                }
                next = PROBE * m.factor;
            }
            let solved = meets.as_ref().or(misses.as_ref()).map_or(1.0, |t| t.factor);
            if !next.is_finite() || 1.02 * floor >= 0.98 * roof {
                break;
            }
            next = next.clamp(1.02 * floor, 0.98 * roof);
            match self.solve(next, own)? {
                Some(trial) if above(&trial) <= 1.0 => {
                    met_before = meets.filter(|m| m.factor < trial.factor);
                    meets = Some(trial);
                }
                Some(trial) => {
                    missed_before = misses;
                    misses = Some(trial);
                }
                None if next < solved => floor = next,
                None => roof = next,
            }
            let known = Known {
                meets,
                met_before,
                misses,
                missed_before,
            };
            next = match next_above(&known, aim, [floor, roof]) {
                Some(next) => next,
                None => break,
            };
        }
        Ok(match (meets, misses) {
            (Some(m), _) if m.factor >= 0.9 * FACTORS[1] => None,
            (Some(m), misses) => {
                let by = misses.as_ref().and_then(Trial::above).or(m.above());
                by.map(|by| Bound::at(m.factor, by.1))
            }
            // as good as no force leaves it so, or the part comes loose first
            (None, Some(b)) if b.factor < LITTLE || b.factor < 1.1 * floor => {
                b.above().map(|by| Bound {
                    not_enough: true,
                    ..Bound::at(b.factor, by.1)
                })
            }
            (None, Some(_)) => None,
            (None, None) => None,
        })
    }

    /// The least force at which the hold takes what the cut asks; `None` where that is not known. Where nothing that is tried does, the most that was tried.
    ///
    /// What the hold takes of what is asked grows with the force close to a straight line from where the jaws let go: `let_go`, a factor on the forces.
    fn low(&self, now: Trial, let_go: f64) -> Result<Option<Bound>, ProcessError> {
        let Some([used, _]) = now.slip.filter(|s| s[0] > 0.0) else {
            return Ok(None);
        };
        let own = self.supports();
        let takes = |t: &Trial| t.slip.map_or(0.0, |s| 1.0 / s[0]);
        let aim = 0.5 * (1.0 + 1.0 / NEAR);
        let mut tried = vec![now];
        let mut next = match used.is_finite() {
            true => let_go + (1.0 - let_go) * used * aim,
            false => 2.0 * let_go.max(1.0),
        };
        let (mut floor, mut roof) = (let_go.max(FACTORS[0]), FACTORS[1]);
        for solves in 0..MOST_SOLVES {
            let near = |t: &Trial| (1.0..=1.0 / NEAR).contains(&takes(t));
            let holds = tried.iter().any(|t| takes(t) >= 1.0);
            if tried.iter().any(near) || (holds && solves >= SOLVES) {
                break;
            }
            if !next.is_finite() || 1.01 * floor >= 0.99 * roof {
                break;
            }
            next = next.clamp(1.01 * floor, 0.99 * roof);
            match self.solve(next, own)? {
                Some(trial) => tried.push(trial),
                None => {
                    // so little holds nothing; so much cuts through
                    let [least, most] = ends(&tried);
                    next = match next < least {
                        true => {
                            floor = next;
                            between(floor, least)
                        }
                        false => {
                            roof = next;
                            between(most, roof)
                        }
                    };
                    continue;
                }
            }
            tried.sort_by(|a, b| (takes(a) - aim).abs().total_cmp(&(takes(b) - aim).abs()));
            let nearest = &tried[0];
            let other = tried[1..].iter().find(|t| takes(t) > 0.0);
            next = match other {
                Some(b) if takes(nearest) > 0.0 => {
                    let slope = (takes(b) - takes(nearest)) / (b.factor - nearest.factor);
                    nearest.factor + (aim - takes(nearest)) / slope
                }
                // one that is known, and the force at which nothing is held
                _ if takes(nearest) > 0.0 => {
                    let base = floor.min(nearest.factor);
                    base + (nearest.factor - base) * aim / takes(nearest)
                }
                _ => 2.0 * nearest.factor,
            };
        }
        let held = tried.iter().filter(|t| takes(t) >= 1.0);
        let best = held.min_by(|a, b| a.factor.total_cmp(&b.factor));
        let most = tried.iter().max_by(|a, b| a.factor.total_cmp(&b.factor));
        // what was tried last is told as too little only where nothing larger can be solved
        let most = most.filter(|t| t.factor > 0.7 * roof);
        Ok(best.or(most).map(|t| Bound {
            not_enough: best.is_none(),
            ..Bound::at(t.factor, LimitedBy::Slip)
        }))
    }

    /// The force that the guideline's factors ask for at the speed of the step.
    fn speed(&self, grip: &GripOutcome) -> Option<Bound> {
        let turning = &grip.turning;
        let at_rest: f64 = turning.gripped?;
        let jaws = turning.jaws?;
        let needed = jaws.force_at_rest(turning.needed?, turning.speed?, SpeedFactors::default());
        finite(Bound::at(needed / at_rest, LimitedBy::Speed))
    }

    /// The least force that the chuck holds steadily.
    fn steady(&self, outcome: &StepOutcome, spread: f64) -> Option<Bound> {
        let lowest = self.case.chuck.lowest_steady_force?;
        self.of_chuck(outcome, lowest / spread)
    }

    /// The largest force that the chuck is rated for.
    fn rated(&self, outcome: &StepOutcome, spread: f64) -> Option<Bound> {
        let rated = self.case.chuck.rated_force?;
        self.of_chuck(outcome, rated / spread)
    }

    fn of_chuck(&self, outcome: &StepOutcome, force: f64) -> Option<Bound> {
        let driven = outcome.held.contacts.iter();
        let all: f64 = driven
            .filter(|c| c.set_force.is_some())
            .map(|c| c.force)
            .sum();
        (all > 0.0)
            .then_some(Bound::at(force / all, LimitedBy::Chuck))
            .and_then(finite)
    }
}

/// What is known of a limit from above: the last trials that meet it, and that miss it.
struct Known {
    meets: Option<Trial>,
    met_before: Option<Trial>,
    misses: Option<Trial>,
    missed_before: Option<Trial>,
}

/// The factor that is tried next for a limit from above to be used up to `aim`, between those at which nothing could be solved; `None` if nothing is known.
fn next_above(known: &Known, aim: f64, [floor, roof]: [f64; 2]) -> Option<f64> {
    let above = |t: &Trial| t.above().map_or(0.0, |a| a.0);
    Some(match (&known.meets, &known.misses) {
        (Some(a), Some(b)) => {
            let slope = (above(b) - above(a)) / (b.factor - a.factor);
            a.factor + (aim - above(a)) / slope
        }
        (Some(a), None) if roof < FACTORS[1] => between(a.factor, roof),
        // more force uses up less
        (Some(a), None)
            if known
                .met_before
                .as_ref()
                .is_some_and(|b| above(b) > above(a)) =>
        {
            2.0 * a.factor
        }
        (Some(a), None) => a.factor * (aim / above(a)).min(10.0),
        (None, Some(b)) if floor > FACTORS[0] => between(floor, b.factor),
        (None, Some(b)) => match &known.missed_before {
            // pressures of narrow zones grow with a root of the force
            Some(a) => {
                let power = (above(a) / above(b)).ln() / (a.factor / b.factor).ln();
                b.factor * (0.95 / above(b)).powf(1.0 / power.clamp(0.3, 1.0))
            }
            None => b.factor * 0.9 / above(b),
        },
        (None, None) => return None,
    })
}

/// Least and largest factor that was tried.
fn ends(tried: &[Trial]) -> [f64; 2] {
    let factors = tried.iter().map(|t| t.factor);
    factors.fold([f64::INFINITY, 0.0], |[a, b], f| [a.min(f), b.max(f)])
}

/// A factor between two: midway, of factors far apart on a logarithm.
fn between(a: f64, b: f64) -> f64 {
    if b > 4.0 * a {
        (a * b).sqrt()
    } else {
        0.5 * (a + b)
    }
}

/// A bound that is a number: of forces that may be zero there is none.
fn finite(bound: Bound) -> Option<Bound> {
    (bound.factor.is_finite() && bound.factor > 0.0).then_some(bound)
}
