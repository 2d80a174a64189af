//! What is told of the best point: the window round it, what roundness depends on, how much of a spread it bears.

use rayon::prelude::*;

use super::search::{Search, SizeError, Tried, Way};
use super::sheet::DrawingDocument;
use super::used::{Limit, Used};

/// Tries that find an end of the window; it is found where no more than this of a limit is left.
const TRIES: usize = 8;
const NEAR_LIMIT: f64 = 0.03;

/// Beyond so much of a limit it does not matter how much more.
const FAR: f64 = 4.0;

/// Halvings that find how much of a spread is borne.
const HALVINGS: usize = 5;

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
    /// How the best was looked for.
    pub way: Way,
    /// Whether no neighbour of the best is better on the finest grid; `false` where the search ended before that was known.
    pub confirmed: bool,
    /// The jaws of the best as a drawing has them, one entry a kind of jaw; none where no point meets every limit.
    pub drawing: Vec<DrawingDocument>,
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

impl Search<'_> {
    /// The window round the best, and what it depends on.
    pub fn told(&self, best: &Tried) -> Result<Sized, SizeError> {
        let feasible = best.share <= 1.0;
        let [worst, nominal] = best.used.clone();
        let keys: Vec<usize> = (0..self.task.free.len()).collect();
        let window = keys
            .par_iter()
            .map(|&k| match feasible {
                true => Ok(Some([self.side(best, k, 0)?, self.side(best, k, 1)?])),
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
                if let (true, Ok(used)) = (moved > 0.0, self.used(&at, &self.none_off())?) {
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
            let mut off = self.none_off();
            let (mut slope, mut most) = (0.0_f64, Some(0.0_f64));
            for side in [-1.0, 1.0] {
                off[k] = side;
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
            best: best.at.clone(),
            worst,
            nominal,
            window,
            sensitivity,
            cost,
            bears,
            way: Way::Grid,
            confirmed: true,
            drawing: Vec::new(),
            solved: 0,
        })
    }

    /// How many times the spread of one key every limit is met, the others as drawn.
    fn bears(&self, at: &[f64], key: usize) -> Result<f64, SizeError> {
        let meets = |times: f64| -> Result<bool, SizeError> {
            let mut off = self.none_off();
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
