//! Many free keys: an evolution strategy, then a grid around what it finds and one twice as fine.
//!
//! The strategy is CMA-ES (Hansen, *The CMA evolution strategy: a tutorial*, 2016) with active covariance, from `fcmaes-core`: it goes
//! by the order of its points alone, so kinks and places without an answer do not mislead it. It asks and is told, so points are solved
//! side by side here and whoever watches may end it.

use std::cmp::Ordering;

use fcmaes_core::{Cmaes, CmaesParams, Fitness};
use rayon::prelude::*;

use super::grid::{best_of, settle};
use super::search::{Found, Search, SizeError, Tried};
use super::task::Free;
use crate::study::design::Sobol;

/// Points of the first look, as drawn, for each key: a Sobol sequence, whose best are where the strategy starts.
const SCANNED: u32 = 16;

/// Most points that the strategy asks for, for each key. Of 40 functions each of three kinked kinds (the largest of some planes, a jaw-like
/// valley, dips; values and ranges of about 1) nine in ten were within 0.0003 of the optimum after 800 points of 4 keys, 0.004 of 6, and
/// 0.004 after 1,600 of 8.
const POINTS: usize = 150;

/// Points of a generation, and those of them that the next one is made from. 8 and 16 did no better on those functions.
const GENERATION: usize = 12;
const PARENTS: usize = GENERATION / 2;

/// Standard deviation of the first generation, a share of each range.
const FIRST: f64 = 0.15;

/// Starts, of which each lies at least so far (a share of a range) from those before.
const STARTS: usize = 3;
const APART: f64 = 0.25;

/// A run ends when its parents use up the same to within this share.
const ALIKE: f64 = 1e-3;

/// What the strategy is told of a point without an answer: above everything that has one.
const NO_ANSWER: f64 = 1e6;

/// Points are asked for on a lattice of so many steps a range, so that rounding does not decide which they are.
const LATTICE: f64 = 1e6;

/// Seed of the sequence and the strategy: what is found depends on the case alone.
const SEED: u64 = 20_261_201;

/// Steps of the two grids, shares of a range.
const STEPS: [f64; 2] = [0.02, 0.01];

/// From so many times its least value on the range of a key is stepped by ratios, as ranges of forces are wide.
const WIDE: f64 = 10.0;

/// A value of a key by its share of the range.
fn value(free: &Free, share: f64) -> f64 {
    let [low, high] = free.bounds;
    let share = (share.clamp(0.0, 1.0) * LATTICE).round() / LATTICE;
    let x = match is_wide(free) {
        true => low * (high / low).powf(share),
        false => low + (high - low) * share,
    };
    let x = if free.whole { x.round() } else { x };
    x.clamp(low, high)
}

/// The share of the range at which a value lies.
fn share(free: &Free, x: f64) -> f64 {
    let [low, high] = free.bounds;
    match is_wide(free) {
        true => (x / low).ln() / (high / low).ln(),
        false => (x - low) / (high - low),
    }
}

fn is_wide(free: &Free) -> bool {
    let [low, high] = free.bounds;
    !free.whole && low > 0.0 && high > WIDE * low
}

/// Looks for the best; whether no neighbour on the finer grid is better.
pub(super) fn best(search: &Search, found: &mut Found) -> Result<bool, SizeError> {
    let free = &search.task.free;
    let mut left = POINTS * free.len();
    for start in starts(search, found)? {
        if left < GENERATION {
            break;
        }
        run(search, found, &start, &mut left)?;
    }
    let mut confirmed = false;
    for step in STEPS {
        confirmed = settle(search, found, &|key, x, side| {
            value(&free[key], share(&free[key], x) + side * step)
        })?;
    }
    Ok(confirmed)
}

/// Where to start: the best points of a first look, far from each other. The best of them is tried over the spread.
fn starts(search: &Search, found: &mut Found) -> Result<Vec<Vec<f64>>, SizeError> {
    let n = search.task.free.len();
    let sobol = Sobol::new(n, SEED);
    let shares: Vec<Vec<f64>> = (0..SCANNED * n as u32).map(|k| sobol.point(k)).collect();
    let points = shares.iter().map(|s| at(search, s)).collect();
    let drawn = search.drawn(points, found)?;
    let with_answer = shares
        .into_iter()
        .zip(drawn)
        .filter_map(|(share, (at, used))| {
            let used = used?;
            Some((used.most().0, share, at))
        });
    let mut open: Vec<_> = with_answer.collect();
    open.sort_by(|a, b| a.0.total_cmp(&b.0));
    let first = open.first().map(|(.., at)| vec![at.clone()]);
    best_of(search, first.unwrap_or_default(), found)?;
    let mut starts: Vec<Vec<f64>> = Vec::new();
    for (_, share, _) in open {
        let far = |other: &Vec<f64>| {
            let apart = other.iter().zip(&share).map(|(a, b)| (a - b).abs());
            apart.fold(0.0, f64::max) >= APART
        };
        if starts.len() < STARTS && starts.iter().all(far) {
            starts.push(share);
        }
    }
    Ok(starts)
}

/// The point at these shares of the ranges.
fn at(search: &Search, shares: &[f64]) -> Vec<f64> {
    let free = search.task.free.iter().zip(shares);
    free.map(|(f, s)| value(f, *s)).collect()
}

/// One run from a start, until its parents are alike or no points are left.
fn run(
    search: &Search,
    found: &mut Found,
    start: &[f64],
    left: &mut usize,
) -> Result<(), SizeError> {
    let n = start.len();
    let fitness = Fitness::bounded(n, 1, &vec![0.0; n], &vec![1.0; n]);
    let parameters = CmaesParams {
        popsize: GENERATION as i32,
        mu: PARENTS as i32,
        max_evaluations: *left as u64,
        seed: SEED,
        ..CmaesParams::default()
    };
    let mut strategy = Cmaes::new(fitness, start, &[FIRST], &parameters);
    while *left >= GENERATION {
        let points = strategy.ask().iter().map(|s| at(search, s)).collect();
        let told = generation(search, points, found)?;
        *left -= GENERATION;
        let mut parents = told.clone();
        parents.sort_by(f64::total_cmp);
        let (least, most) = (parents[0], parents[PARENTS - 1]);
        if strategy.tell(&told) != 0 || (most < NO_ANSWER && most - least <= ALIKE * least) {
            break;
        }
    }
    Ok(())
}

/// What the points of a generation use up over the spread. Those that cannot be parents, as they use up more as drawn than enough
/// others do over the spread, are told as drawn: nobody asks more of them than to come after the parents.
fn generation(
    search: &Search,
    points: Vec<Vec<f64>>,
    found: &mut Found,
) -> Result<Vec<f64>, SizeError> {
    let drawn = search.drawn(points, found)?;
    let nominal: Vec<f64> = drawn
        .iter()
        .map(|(_, used)| used.as_ref().map_or(NO_ANSWER, |u| u.most().0))
        .collect();
    let mut order: Vec<usize> = (0..drawn.len()).collect();
    order.sort_by(|&a, &b| nominal[a].total_cmp(&nominal[b]));
    let mut told = nominal.clone();
    let over_spread = |keys: &[usize]| -> Result<Vec<(usize, Option<Tried>)>, SizeError> {
        let tried = keys.par_iter().map(|&k| {
            let (at, used) = &drawn[k];
            let tried = used
                .clone()
                .map(|used| search.over_spread(at.clone(), used));
            Ok((k, tried.transpose()?))
        });
        tried.collect()
    };
    let mut take = |tried: Vec<(usize, Option<Tried>)>, told: &mut Vec<f64>| {
        for (k, tried) in tried {
            if let Some(tried) = tried {
                told[k] = tried.share.min(NO_ANSWER);
                found.take(tried);
            }
        }
    };
    let (first, others) = order.split_at(PARENTS);
    take(over_spread(first)?, &mut told);
    let worst = first.iter().map(|&k| told[k]).fold(0.0, f64::max);
    let others: Vec<usize> = others
        .iter()
        .copied()
        .filter(|&k| nominal[k].total_cmp(&worst) == Ordering::Less)
        .collect();
    take(over_spread(&others)?, &mut told);
    Ok(told)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Shares and values are each other's inverse, along a wide range by ratios; whole numbers stay whole.
    #[test]
    fn a_share_of_a_range_is_a_value() {
        let free = |bounds: [f64; 2], whole: bool| Free {
            path: "a.count".into(),
            bounds,
            unit: String::new(),
            whole,
            band: None,
            replaces: None,
        };
        for f in [free([119.0, 121.0], false), free([20.0, 3000.0], false)] {
            for s in [0.0, 0.25, 0.5, 1.0] {
                assert!((share(&f, value(&f, s)) - s).abs() < 1e-6);
            }
        }
        let force = value(&free([20.0, 2000.0], false), 0.5);
        assert!((force - 200.0).abs() < 1e-9, "{force}");
        let count = free([3.0, 6.0], true);
        let values = [0.0, 0.1, 0.2, 0.5, 0.9, 1.0].map(|s| value(&count, s));
        assert_eq!(values, [3.0, 3.0, 4.0, 5.0, 6.0, 6.0]);
    }
}
