//! What changes its state under a tool force, as a linear complementarity problem in those changes alone.
//!
//! Of what was active in the hold a gap `s >= 0` may open where the pressure would turn to a pull, of what was open a pressure `p >= 0` may arise where
//! the gap would close: with `x` these and `y` the pressures and gaps that they keep from going negative, `y = q + N x >= 0`, `x >= 0`, `x . y = 0`. `N` is
//! what elimination of the active pressures leaves: positive semidefinite, so states can be exchanged until all signs are right. All wrong ones at once
//! while their number falls, else the last of them alone, which ends (block principal pivoting: Judice and Pires, Computers and Operations Research 21
//! (1994) 587; from memory).

use faer::Mat;
use faer::linalg::solvers::{PartialPivLu, Solve};

/// Exchanges that may fail to bring the number of wrong signs down before they are made one by one.
const PATIENCE: usize = 8;

/// Most exchanges.
const MOST: usize = 2000;

/// Share of the scale of each unknown that is rounding.
const ROUNDING: f64 = 1e-10;

/// Why there is no answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum NoPivot {
    /// Some set of changes can grow without bound: nothing holds the part.
    Unbounded,
    /// Signs did not settle; of this unknown last.
    Cycled(usize),
}

/// The changes `x` for which `q + N x` and `x` are not negative and one of each is zero. `scale` is the size of each `y`, `matrix` is `N`;
/// `changed` says which are to be tried as changed first, and comes back as it is in the answer.
pub(super) fn pivoted(
    q: &[f64],
    scale: &[f64],
    matrix: &Mat<f64>,
    changed: &mut [bool],
) -> Result<Vec<f64>, NoPivot> {
    let n = q.len();
    let (mut fewest, mut patience) = (usize::MAX, PATIENCE);
    let mut tried = changed.contains(&true);
    for _ in 0..MOST {
        let set: Vec<usize> = (0..n).filter(|&k| changed[k]).collect();
        let Some(x) = solved(q, &set, matrix) else {
            // what was tried first may hold nothing where another set does
            if tried && !set.is_empty() {
                tried = false;
                changed.fill(false);
                continue;
            }
            return Err(NoPivot::Unbounded);
        };
        let mut y = q.to_vec();
        for &j in &set {
            let column = matrix.col(j).iter();
            y.iter_mut().zip(column).for_each(|(y, n)| *y += n * x[j]);
        }
        let mut wrong = Vec::new();
        for k in 0..n {
            if changed[k] {
                // a state that is back at nothing is no wrong one
                let own = matrix[(k, k)].abs() * x[k];
                if own < -ROUNDING * scale[k] {
                    wrong.push(k);
                }
            } else {
                let y = y[k];
                if y < -ROUNDING * scale[k] {
                    wrong.push(k);
                }
            }
        }
        let Some(&last) = wrong.last() else {
            return Ok(x);
        };
        if wrong.len() < fewest {
            (fewest, patience) = (wrong.len(), PATIENCE);
        } else {
            patience = patience.saturating_sub(1);
        }
        match patience {
            0 => changed[last] = !changed[last],
            _ => wrong.iter().for_each(|&k| changed[k] = !changed[k]),
        }
    }
    Err(NoPivot::Cycled(
        changed.iter().position(|c| *c).unwrap_or(0),
    ))
}

/// The changes of a set that leave nothing of its `y`, the others zero.
fn solved(q: &[f64], set: &[usize], matrix: &Mat<f64>) -> Option<Vec<f64>> {
    let mut x = vec![0.0; q.len()];
    if set.is_empty() {
        return Some(x);
    }
    // unknowns of unlike units: each is told by its own entry
    let sizes: Vec<f64> = set.iter().map(|&k| matrix[(k, k)].abs().sqrt()).collect();
    if sizes.iter().any(|s| *s <= 0.0) {
        return None;
    }
    let m = set.len();
    let scaled = Mat::from_fn(m, m, |i, j| {
        matrix[(set[i], set[j])] / (sizes[i] * sizes[j])
    });
    let sides = Mat::from_fn(m, 1, |i, _| -q[set[i]] / sizes[i]);
    let found = PartialPivLu::new(scaled.as_ref());
    let pivots = found.U();
    let least = (0..m).fold(f64::INFINITY, |least, k| least.min(pivots[(k, k)].abs()));
    if least.is_nan() || least <= SINGULAR {
        return None;
    }
    let found = found.solve(&sides);
    for (i, &k) in set.iter().enumerate() {
        x[k] = found[(i, 0)] / sizes[i];
    }
    Some(x)
}

/// Pivot, of entries about one, at which a set of changes is a motion that nothing holds.
const SINGULAR: f64 = 1e-12;

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use nalgebra::{DMatrix, DVector};

    fn answer(n: &DMatrix<f64>, q: &[f64]) -> Result<Vec<f64>, NoPivot> {
        let n = Mat::from_fn(n.nrows(), n.ncols(), |i, j| n[(i, j)]);
        pivoted(q, &vec![1.0; q.len()], &n, &mut vec![false; q.len()])
    }

    /// Random positive definite problems: signs and complementarity say whether an answer is right, whoever found it.
    #[test]
    fn the_signs_of_random_problems_come_right() {
        let mut state = 7_u64;
        let mut next = || {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1);
            (state >> 33) as f64 / f64::from(1 << 30) - 1.0
        };
        for size in 1..30 {
            let root = DMatrix::from_fn(size, size, |_, _| next());
            let n = &root * root.transpose() + DMatrix::identity(size, size) * 0.01;
            let q: Vec<f64> = (0..size).map(|_| next()).collect();
            let x = answer(&n, &q).unwrap();
            let y = &n * DVector::from_column_slice(&x) + DVector::from_column_slice(&q);
            for k in 0..size {
                assert!(
                    x[k] >= -1e-8 && y[k] >= -1e-8 && (x[k] * y[k]).abs() < 1e-7,
                    "{size}"
                );
            }
        }
    }

    /// Two that yield together without end: nothing holds them.
    #[test]
    fn what_grows_without_bound_is_told() {
        let n = DMatrix::from_row_slice(2, 2, &[1.0, -1.0, -1.0, 1.0]);
        assert_eq!(answer(&n, &[-1.0, -1.0]), Err(NoPivot::Unbounded));
    }
}
