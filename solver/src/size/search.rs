//! The search.

use rayon::prelude::*;

use super::task::{Free, SizeTask};
use super::used::{Limit, Used};
use crate::case::Change;
use crate::process::{Kept, Options, ProcessError, Reason, run_kept};
use crate::study::Base;
use crate::watch::{Stop, Watch};

/// Points of the first grid along each free key, by how many there are.
const GRID: [usize; 3] = [33, 11, 7];

/// Times that the neighbourhood of the best is gone through, each time half as wide.
const ROUNDS: usize = 2;

/// Points along each key of a neighbourhood.
const NEAR: usize = 5;

/// Tries that find an end of the window; it is found where no more than this of a limit is left.
const TRIES: usize = 8;
const NEAR_LIMIT: f64 = 0.03;

/// Beyond so much of a limit it does not matter how much more.
const FAR: f64 = 4.0;

/// Halvings that find how much of a spread is borne.
const HALVINGS: usize = 5;

/// Points that are tried over the spread side by side: a number of its own, so that what is tried does not depend on the threads.
const TOGETHER: usize = 8;

/// Times the spread up to which it is tried how much the best bears.
const MOST_SPREAD: f64 = 4.0;

/// What sizing comes to.
#[derive(Clone, Debug)]
pub struct Sized {
    /// Whether a point was found that meets every limit over the spread, as far as they are known.
    pub feasible: bool,
    /// The best point, one value a free key.
    pub best: Vec<f64>,
    /// What it uses up over the spread: the worst.
    pub worst: Used,
    /// The limit that is used up most there, and how much of it.
    pub most: (f64, Limit),
    /// What it uses up with everything as drawn.
    pub nominal: Used,
    /// One entry a free key: between which values every limit is met, the others as at the best; `None` where none meets them.
    pub window: Vec<Option<[Side; 2]>>,
    /// Change of roundness with each free key and each that is spread, mm for a unit of it; the larger of both sides.
    pub sensitivity: Vec<(String, f64)>,
    /// What the spread costs, mm of roundness over that as drawn, one entry a key that is spread; `None` where it leaves no answer.
    pub cost: Vec<(String, Option<f64>)>,
    /// How far each key that is spread may be off for every limit to be met, no more than four times what was given; zero where it is not met as drawn.
    pub bears: Vec<(String, f64)>,
    /// Cases that were solved.
    pub solved: usize,
}

/// An end of a window.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Side {
    /// The value.
    pub at: f64,
    /// What limits it there.
    pub by: Limit,
}

/// Why nothing could be sized.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum SizeError {
    /// Somebody stopped it.
    #[error(transparent)]
    Stopped(#[from] ProcessError),
    /// No point has an answer.
    #[error("no point between the bounds has an answer; the first says: {0}")]
    NoAnswer(String),
    /// The case has no limit that could be met.
    #[error("nothing to size by: give [tolerance] with a roundness or a diameter")]
    NoLimit,
}

/// How cases are made and solved.
struct Search<'a> {
    task: &'a SizeTask,
    base: &'a Base<'a>,
    watch: &'a dyn Watch,
    kept: Kept,
}

/// A point with what it uses up.
#[derive(Clone, Debug)]
struct Tried {
    at: Vec<f64>,
    share: f64,
    by: Limit,
    /// The worst over the spread, and as drawn.
    used: [Used; 2],
    solved: usize,
}

/// Sizes what a task says is free.
///
/// # Errors
/// [`SizeError`].
pub fn size(task: &SizeTask, base: &Base, watch: &dyn Watch) -> Result<Sized, SizeError> {
    let kept = Kept::of_many();
    let search = Search {
        task,
        base,
        watch,
        kept,
    };
    let n = task.free.len();
    let mut found = Found::default();
    let points = GRID[n - 1];
    let mut step: Vec<f64> = Vec::new();
    let lists: Vec<Vec<f64>> = task
        .free
        .iter()
        .map(|f| {
            let [low, high] = f.bounds;
            step.push((high - low) / (points - 1) as f64);
            search.list(low, high, points, f.whole)
        })
        .collect();
    search.best_of(&lists, &mut found)?;
    for _ in 0..ROUNDS {
        let Some(centre) = found.best.as_ref().map(|b| b.at.clone()) else {
            break;
        };
        let near: Vec<Vec<f64>> = task
            .free
            .iter()
            .enumerate()
            .map(|(k, f)| {
                let low = (centre[k] - step[k]).max(f.bounds[0]);
                let high = (centre[k] + step[k]).min(f.bounds[1]);
                search.list(low, high, NEAR, f.whole)
            })
            .collect();
        search.best_of(&near, &mut found)?;
        step.iter_mut().for_each(|s| *s *= 0.5);
    }
    let Some(best) = found.best else {
        return Err(SizeError::NoAnswer(found.why.unwrap_or_default()));
    };
    let (best, more) = search.rounded(best)?;
    search.told(best, found.solved + more)
}

/// A step that the values of a free key are rounded to: 1, 2 or 5 of a power of ten, a fiftieth of its range or less.
fn round_step(range: f64) -> f64 {
    let most = range / 50.0;
    let unit = 10_f64.powf(most.log10().floor());
    [5.0, 2.0]
        .into_iter()
        .find(|d| d * unit <= most)
        .unwrap_or(1.0)
        * unit
}

/// What has been found so far.
#[derive(Default)]
struct Found {
    best: Option<Tried>,
    solved: usize,
    /// Why the first that has none has no answer.
    why: Option<String>,
}

impl Search<'_> {
    /// Values between two ends, each once.
    fn list(&self, low: f64, high: f64, points: usize, whole: bool) -> Vec<f64> {
        let value = |k: usize| low + (high - low) * k as f64 / (points - 1).max(1) as f64;
        let mut all: Vec<f64> = (0..points).map(value).collect();
        if whole {
            all.iter_mut().for_each(|x| *x = x.round());
        }
        all.dedup();
        all
    }

    /// Tries every combination of these values: all as drawn, then over the spread as long as one may still be better, for it uses up no less there.
    fn best_of(&self, lists: &[Vec<f64>], found: &mut Found) -> Result<(), SizeError> {
        let count: usize = lists.iter().map(Vec::len).product();
        let point = |index: usize| {
            let mut rest = index;
            let at = lists.iter().map(|list| {
                let x = list[rest % list.len()];
                rest /= list.len();
                x
            });
            at.collect::<Vec<f64>>()
        };
        let none = vec![0.0; self.task.spread.len()];
        let drawn = (0..count).into_par_iter().map(|k| {
            let at = point(k);
            Ok((self.used(&at, &none)?, at))
        });
        let drawn = drawn.collect::<Result<Vec<_>, SizeError>>()?;
        found.solved += count;
        let mut open = Vec::new();
        for (used, at) in drawn {
            match used {
                Ok(used) => open.push((used.most().0, at, used)),
                Err(why) if found.why.is_none() => found.why = Some(why),
                Err(_) => {}
            }
        }
        open.sort_by(|a, b| a.0.total_cmp(&b.0));
        for together in open.chunks(TOGETHER) {
            let least = found.best.as_ref().map_or(f64::INFINITY, |b| b.share);
            if together[0].0 >= least {
                break;
            }
            let tried = together
                .par_iter()
                .map(|(_, at, used)| self.over_spread(at.clone(), used.clone()));
            for tried in tried.collect::<Result<Vec<_>, SizeError>>()? {
                found.solved += tried.solved;
                if found.best.as_ref().is_none_or(|b| tried.share < b.share) {
                    found.best = Some(tried);
                }
            }
        }
        Ok(())
    }

    /// The best with values that can be bored and set, where they are no worse by more than a fiftieth and meet what it meets; and how many cases that took.
    fn rounded(&self, best: Tried) -> Result<(Tried, usize), SizeError> {
        let round = |(x, f): (&f64, &Free)| {
            let step = round_step(f.bounds[1] - f.bounds[0]);
            // dividing keeps decimal fractions such as 129.99 exact
            let value = match step < 1.0 {
                true => (x / step).round() / (1.0 / step).round(),
                false => (x / step).round() * step,
            };
            value.clamp(f.bounds[0], f.bounds[1])
        };
        let at: Vec<f64> = best.at.iter().zip(&self.task.free).map(round).collect();
        let Some(tried) = self.tried(at)? else {
            return Ok((best, 1));
        };
        let solved = 1 + tried.solved;
        let as_good = tried.share <= 1.02 * best.share && (tried.share <= 1.0 || best.share > 1.0);
        Ok((if as_good { tried } else { best }, solved))
    }

    /// The changes that put a point in, and every key that is spread off by a share of it.
    fn changes(&self, at: &[f64], off: &[f64]) -> Vec<Change> {
        let spread = || self.task.spread.iter().zip(off);
        let free = self.task.free.iter().zip(at).map(|(f, &x)| {
            let own = spread().filter(|(s, _)| s.path == f.path);
            f.change(x + own.map(|(s, off)| off * s.by).sum::<f64>())
        });
        let is_free = |path: &str| self.task.free.iter().any(|f| f.path == path);
        let others = spread().filter(|(s, off)| **off != 0.0 && !is_free(&s.path));
        let others = others.map(|(s, &off)| s.change(off * s.by));
        free.chain(others).collect()
    }

    /// What a point uses up; inside why it has no answer.
    fn used(&self, at: &[f64], off: &[f64]) -> Result<Result<Used, String>, SizeError> {
        let case = match self.base.case(&self.changes(at, off)) {
            Ok((case, _)) => case,
            Err(problems) => {
                let words = problems
                    .first()
                    .map_or(String::new(), |p| format!("{}: {}", p.field, p.message));
                return Ok(Err(words));
            }
        };
        let options = Options::of_figures();
        match run_kept(&case, &options, self.watch, &self.kept) {
            Ok(outcome) => {
                let used = Used::of(&case, &outcome).map_err(|e| e.to_string());
                if matches!(&used, Ok(u) if u.tolerance.is_none()) {
                    return Err(SizeError::NoLimit);
                }
                Ok(used)
            }
            Err(e) if matches!(&e.reason, Reason::Stopped(s) if s.by != Stop::WorkLimit) => {
                Err(e.into())
            }
            Err(e) => Ok(Err(format!("{}: {e}", e.at))),
        }
    }

    /// Corners of the spread: of one or two keys every combination, of more each by itself.
    fn corners(&self) -> Vec<Vec<f64>> {
        let n = self.task.spread.len();
        if n == 2 {
            return [[-1.0, -1.0], [-1.0, 1.0], [1.0, -1.0], [1.0, 1.0]]
                .map(|c| c.to_vec())
                .to_vec();
        }
        let corner =
            |k: usize, side: f64| (0..n).map(|j| if j == k { side } else { 0.0 }).collect();
        (0..n)
            .flat_map(|k| [corner(k, -1.0), corner(k, 1.0)])
            .collect()
    }

    /// A point over the spread, of which it is known what it uses up as drawn.
    fn over_spread(&self, at: Vec<f64>, nominal: Used) -> Result<Tried, SizeError> {
        let (mut share, mut by) = nominal.most();
        let mut worst = nominal.clone();
        let corners = self.corners();
        for off in &corners {
            match self.used(&at, off)? {
                Ok(used) => {
                    let (own, limit) = used.most();
                    if own > share {
                        (share, by) = (own, limit);
                    }
                    worst = worse(&worst, &used);
                }
                Err(_) => (share, by) = (f64::INFINITY, Limit::NoAnswer),
            }
        }
        Ok(Tried {
            at,
            share,
            by,
            used: [worst, nominal],
            solved: corners.len(),
        })
    }

    /// A point over the spread; `None` if it has no answer as drawn.
    fn tried(&self, at: Vec<f64>) -> Result<Option<Tried>, SizeError> {
        match self.used(&at, &vec![0.0; self.task.spread.len()])? {
            Ok(nominal) => self.over_spread(at, nominal).map(Some),
            Err(_) => Ok(None),
        }
    }

    /// The window round the best, and what it depends on.
    fn told(&self, best: Tried, mut solved: usize) -> Result<Sized, SizeError> {
        let feasible = best.share <= 1.0;
        let [worst, nominal] = best.used.clone();
        let keys: Vec<usize> = (0..self.task.free.len()).collect();
        let window = keys
            .par_iter()
            .map(|&k| match feasible {
                true => Ok(Some([self.side(&best, k, 0)?, self.side(&best, k, 1)?])),
                false => Ok(None),
            })
            .collect::<Result<Vec<_>, SizeError>>()?;
        let mut sensitivity = Vec::new();
        for (k, free) in self.task.free.iter().enumerate() {
            let h = (free.bounds[1] - free.bounds[0]) / 100.0;
            let h = if free.whole { 1.0 } else { h };
            let mut slope: f64 = 0.0;
            for side in [-1.0, 1.0] {
                let mut at = best.at.clone();
                at[k] = (at[k] + side * h).clamp(free.bounds[0], free.bounds[1]);
                let moved = (at[k] - best.at[k]).abs();
                solved += 1;
                if let (true, Ok(used)) = (
                    moved > 0.0,
                    self.used(&at, &vec![0.0; self.task.spread.len()])?,
                ) {
                    let own = (used.roundness - nominal.roundness) / (at[k] - best.at[k]);
                    if own.abs() > slope.abs() {
                        slope = own;
                    }
                }
            }
            sensitivity.push((free.path.clone(), slope));
        }
        let (mut cost, mut bears) = (Vec::new(), Vec::new());
        for (k, spread) in self.task.spread.iter().enumerate() {
            let mut off = vec![0.0; self.task.spread.len()];
            let (mut slope, mut most) = (0.0_f64, Some(0.0_f64));
            for side in [-1.0, 1.0] {
                off[k] = side;
                solved += 1;
                if let Ok(used) = self.used(&best.at, &off)? {
                    let more = used.roundness - nominal.roundness;
                    most = most.map(|m| m.max(more));
                    let own = more / (side * spread.by);
                    if own.abs() > slope.abs() {
                        slope = own;
                    }
                } else {
                    most = None;
                }
            }
            sensitivity.push((spread.path.clone(), slope));
            cost.push((spread.path.clone(), most));
            bears.push((spread.path.clone(), self.bears(&best.at, k)? * spread.by));
        }
        Ok(Sized {
            feasible,
            most: (best.share, best.by),
            best: best.at,
            worst,
            nominal,
            window,
            sensitivity,
            cost,
            bears,
            solved,
        })
    }

    /// How many times the spread of one key every limit is met, the others as drawn.
    fn bears(&self, at: &[f64], key: usize) -> Result<f64, SizeError> {
        let meets = |times: f64| -> Result<bool, SizeError> {
            let mut off = vec![0.0; self.task.spread.len()];
            for side in [-1.0, 1.0] {
                off[key] = side * times;
                match self.used(at, &off)? {
                    Ok(used) if used.most().0 <= 1.0 => {}
                    _ => return Ok(false),
                }
            }
            Ok(true)
        };
        if meets(MOST_SPREAD)? {
            return Ok(MOST_SPREAD);
        }
        let (mut good, mut bad) = (0.0, MOST_SPREAD);
        for _ in 0..HALVINGS {
            let middle = 0.5 * (good + bad);
            match meets(middle)? {
                true => good = middle,
                false => bad = middle,
            }
        }
        Ok(good)
    }

    /// How far a free key goes from the best towards one of its bounds with every limit met over the spread.
    fn side(&self, best: &Tried, key: usize, end: usize) -> Result<Side, SizeError> {
        let free = &self.task.free[key];
        let bound = free.bounds[end];
        let at = |x: f64| {
            let mut at = best.at.clone();
            at[key] = x;
            at
        };
        // what is used up beyond the limit, and the limit
        let over = |tried: &Option<Tried>| match tried {
            Some(tried) => ((tried.share - 1.0).min(FAR), tried.by),
            None => (FAR, Limit::NoAnswer),
        };
        let (beyond, mut by) = over(&self.tried(at(bound))?);
        if beyond <= 0.0 {
            return Ok(Side {
                at: bound,
                by: Limit::Bound,
            });
        }
        let (mut good, mut bad) = (best.at[key], bound);
        let mut within = best.share - 1.0;
        for _ in 0..TRIES {
            if within > -NEAR_LIMIT || (free.whole && (bad - good).abs() <= 1.0) {
                break;
            }
            // midway; of values far apart, as forces are, on a logarithm
            let x = match good > 0.0 && bad > 0.0 && (good / bad).ln().abs() > 4.0_f64.ln() {
                true => (good * bad).sqrt(),
                false => 0.5 * (good + bad),
            };
            let x = if free.whole { x.round() } else { x };
            let (own, limit) = over(&self.tried(at(x))?);
            match own <= 0.0 {
                true => (good, within) = (x, own),
                false => (bad, by) = (x, limit),
            }
        }
        Ok(Side { at: good, by })
    }
}

/// The worse of two in every respect.
fn worse(a: &Used, b: &Used) -> Used {
    let most = |a: Option<f64>, b: Option<f64>| match (a, b) {
        (Some(a), Some(b)) => Some(f64::max(a, b)),
        _ => None,
    };
    Used {
        tolerance: most(a.tolerance, b.tolerance),
        slip: most(a.slip, b.slip),
        marking: most(a.marking, b.marking),
        yields: most(a.yields, b.yields),
        chuck: a.chuck || b.chuck,
        roundness: a.roundness.max(b.roundness),
        safety: a.safety.zip(b.safety).map(|(a, b)| a.min(b)),
        approach: a.approach.max(b.approach),
    }
}
