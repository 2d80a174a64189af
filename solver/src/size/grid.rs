//! Few free keys: every combination of a grid.

use rayon::prelude::*;

use super::search::{Found, MOST_ON_GRID, Search, SizeError};

/// Points of the first grid along each free key, by how many there are.
const GRID: [usize; MOST_ON_GRID] = [33, 11, 7];

/// Times that the neighbourhood of the best is gone through, each time half as wide.
const ROUNDS: usize = 2;

/// Points along each key of a neighbourhood.
const NEAR: usize = 5;

/// Most neighbours of a point on a grid: of five keys all 242, of eight those that differ in one key or two.
const NEIGHBOURS: usize = 250;

/// Times that the best moves to a better neighbour on one grid.
const MOST_MOVES: usize = 12;

/// Points that are tried over the spread side by side: a number of its own, so that what is tried does not depend on the threads.
pub(super) const TOGETHER: usize = 8;

/// Looks for the best; whether no neighbour on the finest grid is better.
pub(super) fn best(search: &Search, found: &mut Found) -> Result<bool, SizeError> {
    let free = &search.task.free;
    let points = GRID[free.len() - 1];
    let mut step: Vec<f64> = Vec::new();
    let lists: Vec<Vec<f64>> = free
        .iter()
        .map(|f| {
            let [low, high] = f.bounds;
            step.push((high - low) / (points - 1) as f64);
            list(low, high, points, f.whole)
        })
        .collect();
    best_of(search, combined(&lists), found)?;
    for _ in 0..ROUNDS {
        let Some(centre) = found.best.as_ref().map(|b| b.at.clone()) else {
            break;
        };
        let near: Vec<Vec<f64>> = free
            .iter()
            .enumerate()
            .map(|(k, f)| {
                let low = (centre[k] - step[k]).max(f.bounds[0]);
                let high = (centre[k] + step[k]).min(f.bounds[1]);
                list(low, high, NEAR, f.whole)
            })
            .collect();
        best_of(search, combined(&near), found)?;
        step.iter_mut().for_each(|s| *s *= 0.5);
    }
    settle(search, found, &|key, x, side| x + side * step[key])
}

/// Goes to a better neighbour as long as there is one; whether the best has none at last. `beside` gives the value of a key a step
/// of the grid away from another, on either side.
pub(super) fn settle(
    search: &Search,
    found: &mut Found,
    beside: &dyn Fn(usize, f64, f64) -> f64,
) -> Result<bool, SizeError> {
    for _ in 0..=MOST_MOVES {
        let Some(centre) = found.best.as_ref().map(|b| b.at.clone()) else {
            return Ok(false);
        };
        let value = |key: usize, side: i32| {
            let free = &search.task.free[key];
            let x = match side {
                0 => return centre[key],
                side if free.whole => centre[key] + f64::from(side),
                side => beside(key, centre[key], f64::from(side)),
            };
            x.clamp(free.bounds[0], free.bounds[1])
        };
        let points = sides(centre.len())
            .into_iter()
            .map(|sides| (0..).zip(sides).map(|(k, side)| value(k, side)).collect())
            .filter(|at: &Vec<f64>| *at != centre)
            .collect();
        if !best_of(search, points, found)? {
            return Ok(true);
        }
    }
    Ok(false)
}

/// Where the neighbours of a point lie, a step away in one key or in several at once: in as many as leave no more than [`NEIGHBOURS`].
fn sides(keys: usize) -> Vec<Vec<i32>> {
    let all: Vec<Vec<i32>> = (0..3_usize.pow(keys as u32))
        .map(|index| {
            let digit = |k: usize| (index / 3_usize.pow(k as u32) % 3) as i32 - 1;
            (0..keys).map(digit).collect()
        })
        .collect();
    let moved = |sides: &Vec<i32>| sides.iter().filter(|s| **s != 0).count();
    let within = |most: usize| all.iter().filter(move |s| (1..=most).contains(&moved(s)));
    let most = (1..=keys)
        .rev()
        .find(|&m| within(m).count() <= NEIGHBOURS)
        .unwrap_or(1);
    within(most).cloned().collect()
}

/// Values between two ends, each once.
fn list(low: f64, high: f64, points: usize, whole: bool) -> Vec<f64> {
    let value = |k: usize| low + (high - low) * k as f64 / (points - 1).max(1) as f64;
    let mut all: Vec<f64> = (0..points).map(value).collect();
    if whole {
        all.iter_mut().for_each(|x| *x = x.round());
    }
    all.dedup();
    all
}

/// Every combination of these values, the first key changing fastest.
fn combined(lists: &[Vec<f64>]) -> Vec<Vec<f64>> {
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
    (0..count).map(point).collect()
}

/// Tries points: all as drawn, then over the spread as long as one may still be better, for it uses up no less there. Whether one was.
pub(super) fn best_of(
    search: &Search,
    points: Vec<Vec<f64>>,
    found: &mut Found,
) -> Result<bool, SizeError> {
    let drawn = search.drawn(points, found)?;
    let with_answer = drawn.into_iter().filter_map(|(at, used)| {
        let used = used?;
        Some((used.most().0, at, used))
    });
    let mut open: Vec<_> = with_answer.collect();
    open.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut better = false;
    for together in open.chunks(TOGETHER) {
        let least = found.best.as_ref().map_or(f64::INFINITY, |b| b.share);
        if together[0].0 >= least {
            break;
        }
        let tried = together
            .par_iter()
            .map(|(_, at, used)| search.over_spread(at.clone(), used.clone()));
        for tried in tried.collect::<Result<Vec<_>, SizeError>>()? {
            better |= found.take(tried);
        }
    }
    Ok(better)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Neighbours are all of few keys, and as many keys at once as stay within bounds of more: `2 C(8,1) + 4 C(8,2) = 128`.
    #[test]
    fn neighbours_stay_within_bounds() {
        let counts = [1, 2, 4, 5, 6, 7, 8].map(|n| sides(n).len());
        assert_eq!(counts, [2, 8, 80, 242, 232, 98, 128]);
        assert!(sides(8).iter().all(|s| s.iter().any(|x| *x != 0)));
    }
}
