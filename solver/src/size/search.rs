//! What a search asks: a point, solved over all that cannot be held exactly.

use std::sync::atomic::{AtomicUsize, Ordering};

use rayon::prelude::*;

use super::drawing;
use super::sheet::made;
use super::task::{Free, SizeTask};
use super::told::Sized;
use super::used::{Limit, Used};
use super::{evolve, grid};
use crate::case::{Case, Change};
use crate::process::{Kept, Options, Outcome, ProcessError, Reason, run_kept};
use crate::study::Base;
use crate::watch::{Stop, Watch};

/// Most free keys of which every combination of a grid is tried; of more the neighbourhood of what an evolution strategy finds.
pub(super) const MOST_ON_GRID: usize = 3;

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

/// How the best point was looked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// Every combination of a grid, then the neighbourhood of the best on grids twice and four times as fine.
    Grid,
    /// An evolution strategy, then a grid around the best and one twice as fine.
    Evolution,
}

impl Way {
    /// As documents name it.
    pub const fn name(self) -> &'static str {
        match self {
            Way::Grid => "grid",
            Way::Evolution => "evolution strategy",
        }
    }
}

/// How cases are made and solved.
pub(super) struct Search<'a> {
    pub task: &'a SizeTask,
    pub base: &'a Base<'a>,
    pub watch: &'a dyn Watch,
    pub kept: &'a Kept,
    /// Cases that were asked for.
    pub solved: &'a AtomicUsize,
}

/// A point with what it uses up.
#[derive(Clone, Debug)]
pub(super) struct Tried {
    pub at: Vec<f64>,
    pub share: f64,
    pub by: Limit,
    /// The worst over the spread, and as drawn.
    pub used: [Used; 2],
}

/// A point with what it uses up as drawn; `None` where it has no answer.
pub(super) type Drawn = (Vec<f64>, Option<Used>);

/// What has been found so far.
#[derive(Default)]
pub(super) struct Found {
    pub best: Option<Tried>,
    /// Why the first that has none has no answer.
    pub why: Option<String>,
}

impl Found {
    /// Takes over what is better than the best.
    pub fn take(&mut self, tried: Tried) -> bool {
        let better = self.best.as_ref().is_none_or(|b| tried.share < b.share);
        if better {
            self.best = Some(tried);
        }
        better
    }
}

/// Sizes what a task says is free.
///
/// # Errors
/// [`SizeError`].
pub fn size(task: &SizeTask, base: &Base, watch: &dyn Watch) -> Result<Sized, SizeError> {
    let (kept, solved) = (Kept::of_many(), AtomicUsize::new(0));
    let search = Search {
        task,
        base,
        watch,
        kept: &kept,
        solved: &solved,
    };
    let mut found = Found::default();
    let (way, confirmed) = match task.free.len() {
        0..=MOST_ON_GRID => (Way::Grid, grid::best(&search, &mut found)?),
        _ => (Way::Evolution, evolve::best(&search, &mut found)?),
    };
    let Some(best) = found.best else {
        return Err(SizeError::NoAnswer(found.why.unwrap_or_default()));
    };
    let best = search.rounded(best)?;
    let mut sized = search.told(&best)?;
    (sized.way, sized.confirmed) = (way, confirmed);
    if sized.feasible {
        sized.drawing = drawing::drawn(&search, &best)?;
    }
    sized.solved = solved.into_inner();
    Ok(sized)
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

impl Search<'_> {
    /// Everything as drawn.
    pub fn none_off(&self) -> Vec<f64> {
        vec![0.0; self.task.spread.len()]
    }

    /// The best with values that can be bored and set, where they are no worse by more than a fiftieth or a hundredth of the limit and meet what it meets: all
    /// of them if that goes, else one by one.
    fn rounded(&self, best: Tried) -> Result<Tried, SizeError> {
        let bored = drawing::bored_steps(self, &best.at);
        let step = |f: &Free, bored: Option<f64>| {
            let own = round_step(f.bounds[1] - f.bounds[0]);
            bored.map_or(own, |b| b.max(own))
        };
        let round = |x: f64, f: &Free, step: f64| made(x, step).clamp(f.bounds[0], f.bounds[1]);
        let most = (1.02 * best.share).max(best.share + 0.01);
        let as_good =
            |tried: &Tried| tried.share <= most && (tried.share <= 1.0 || best.share > 1.0);
        let keys = || self.task.free.iter().zip(&bored);
        let all = best.at.iter().zip(keys());
        let all = all.map(|(&x, (f, b))| round(x, f, step(f, *b))).collect();
        if let Some(tried) = self.tried(all)?.filter(as_good) {
            return Ok(tried);
        }
        let mut here = best.clone();
        for (k, (f, b)) in keys().enumerate() {
            let mut steps = vec![step(f, *b), step(f, None)];
            steps.dedup();
            for step in steps {
                let mut at = here.at.clone();
                at[k] = round(at[k], f, step);
                if let Some(tried) = self.tried(at)?.filter(as_good) {
                    here = tried;
                    break;
                }
            }
        }
        Ok(here)
    }

    /// The changes that put a point in, and every key that is spread off by a share of it.
    pub fn changes(&self, at: &[f64], off: &[f64]) -> Vec<Change> {
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

    /// The case of a point; inside why it is none.
    pub fn case(&self, at: &[f64], off: &[f64]) -> Result<Case, String> {
        match self.base.case(&self.changes(at, off)) {
            Ok((case, _)) => Ok(case),
            Err(problems) => Err(problems
                .first()
                .map_or(String::new(), |p| format!("{}: {}", p.field, p.message))),
        }
    }

    /// A case solved; inside why it has no answer.
    pub fn outcome(&self, case: &Case) -> Result<Result<Outcome, String>, SizeError> {
        let solved = self.solved.fetch_add(1, Ordering::Relaxed) + 1;
        let outcome = run_kept(case, &Options::of_figures(), self.watch, self.kept);
        self.watch.solved(solved);
        match outcome {
            Ok(outcome) => Ok(Ok(outcome)),
            Err(e) if matches!(&e.reason, Reason::Stopped(s) if s.by != Stop::WorkLimit) => {
                Err(e.into())
            }
            Err(e) => Ok(Err(format!("{}: {e}", e.at))),
        }
    }

    /// What a point uses up; inside why it has no answer.
    pub fn used(&self, at: &[f64], off: &[f64]) -> Result<Result<Used, String>, SizeError> {
        self.used_with(at, off, &|_| {})
    }

    /// The same of the case with something else about it.
    pub fn used_with(
        &self,
        at: &[f64],
        off: &[f64],
        with: &dyn Fn(&mut Case),
    ) -> Result<Result<Used, String>, SizeError> {
        let mut case = match self.case(at, off) {
            Ok(case) => case,
            Err(why) => return Ok(Err(why)),
        };
        with(&mut case);
        let outcome = match self.outcome(&case)? {
            Ok(outcome) => outcome,
            Err(why) => return Ok(Err(why)),
        };
        let used = Used::of(&case, &outcome).map_err(|e| e.to_string());
        if matches!(&used, Ok(u) if u.tolerance.is_none()) {
            return Err(SizeError::NoLimit);
        }
        Ok(used)
    }

    /// Points as drawn, in their order; of those without an answer the first reason is kept.
    pub fn drawn(&self, points: Vec<Vec<f64>>, found: &mut Found) -> Result<Vec<Drawn>, SizeError> {
        let none = self.none_off();
        let used = points.par_iter().map(|at| self.used(at, &none));
        let used = used.collect::<Result<Vec<_>, SizeError>>()?;
        let mut keep = |used: Result<Used, String>| match used {
            Ok(used) => Some(used),
            Err(why) => {
                found.why.get_or_insert(why);
                None
            }
        };
        Ok(points
            .into_iter()
            .zip(used)
            .map(|(at, used)| (at, keep(used)))
            .collect())
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
    pub fn over_spread(&self, at: Vec<f64>, nominal: Used) -> Result<Tried, SizeError> {
        let (mut share, mut by) = nominal.most();
        let mut worst = nominal.clone();
        for off in &self.corners() {
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
        })
    }

    /// A point over the spread; `None` if it has no answer as drawn.
    pub fn tried(&self, at: Vec<f64>) -> Result<Option<Tried>, SizeError> {
        match self.used(&at, &self.none_off())? {
            Ok(nominal) => self.over_spread(at, nominal).map(Some),
            Err(_) => Ok(None),
        }
    }

    /// Whether a point meets every limit over the spread, with something else about its case.
    pub fn meets_with(&self, at: &[f64], with: &dyn Fn(&mut Case)) -> Result<bool, SizeError> {
        for off in std::iter::once(self.none_off()).chain(self.corners()) {
            match self.used_with(at, &off, with)? {
                Ok(used) if used.most().0 <= 1.0 => {}
                _ => return Ok(false),
            }
        }
        Ok(true)
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
