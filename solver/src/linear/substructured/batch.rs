//! Equal substructures eliminated side by side.
//!
//! Substructures with one factor are the same arc at other places of the ring, so none lies inside another: eight of them are taken through
//! the triangle at once, each in a lane of its own. Every number of the factor is then read once for eight products, and the lanes fill
//! the processor's registers. Each lane sums in the same order whatever stands in the others.

use super::{Substructure, SubstructureFactor};

/// Substructures side by side.
pub(super) const LANES: usize = 8;

/// Rows that are summed in registers at once.
const ROWS: usize = 4;

/// One unknown of every lane.
type Lanes = [f64; LANES];

/// Working memory: the own unknowns of the lanes, and those of the lines at their ends.
#[derive(Default)]
pub(super) struct Batch {
    own: Vec<Lanes>,
    ends: Vec<Lanes>,
}

impl Batch {
    /// `L^-1` of at most [`LANES`] substructures with one factor.
    #[inline(always)]
    pub fn forward(&mut self, factor: &SubstructureFactor, alike: &[&Substructure], x: &mut [f64]) {
        self.gather_own(factor.size, alike, x);
        solve_lower(factor, &mut self.own);
        for (lane, substructure) in alike.iter().enumerate() {
            let range = substructure.own.clone();
            for (v, own) in x[range].iter_mut().zip(&self.own) {
                *v = own[lane];
            }
        }
        self.ends.clear();
        self.ends
            .resize(factor.coupling.len() / factor.size, [0.0; LANES]);
        couple(factor, &self.own, &mut self.ends);
        // lanes may share a line, so their shares are taken off one after the other
        for (lane, substructure) in alike.iter().enumerate() {
            for (ends, &start) in self
                .ends
                .chunks(self.ends.len().div_ceil(2).max(1))
                .zip(&substructure.ends)
            {
                for (v, end) in x[start..].iter_mut().zip(ends) {
                    *v -= end[lane];
                }
            }
        }
    }

    /// `L'^-1` of at most [`LANES`] substructures with one factor.
    #[inline(always)]
    pub fn backward(
        &mut self,
        factor: &SubstructureFactor,
        alike: &[&Substructure],
        x: &mut [f64],
    ) {
        self.gather_own(factor.size, alike, x);
        let count = factor.coupling.len() / factor.size;
        self.ends.clear();
        self.ends.resize(count, [0.0; LANES]);
        for (lane, substructure) in alike.iter().enumerate() {
            for (ends, &start) in self
                .ends
                .chunks_mut(count.div_ceil(2).max(1))
                .zip(&substructure.ends)
            {
                for (end, v) in ends.iter_mut().zip(&x[start..]) {
                    end[lane] = *v;
                }
            }
        }
        uncouple(factor, &self.ends, &mut self.own);
        solve_upper(factor, &mut self.own);
        for (lane, substructure) in alike.iter().enumerate() {
            let range = substructure.own.clone();
            for (v, own) in x[range].iter_mut().zip(&self.own) {
                *v = own[lane];
            }
        }
    }

    #[inline(always)]
    fn gather_own(&mut self, size: usize, alike: &[&Substructure], x: &[f64]) {
        self.own.clear();
        self.own.resize(size, [0.0; LANES]);
        for (lane, substructure) in alike.iter().enumerate() {
            for (own, v) in self.own.iter_mut().zip(&x[substructure.own.clone()]) {
                own[lane] = *v;
            }
        }
    }
}

/// `sum -= numbers[r] * values` in every row `r` of a tile.
#[inline(always)]
fn take_off(sum: &mut [Lanes; ROWS], numbers: [f64; ROWS], values: &Lanes) {
    for (row, number) in sum.iter_mut().zip(numbers) {
        for (s, v) in row.iter_mut().zip(values) {
            *s -= number * v;
        }
    }
}

/// Forward substitution with the lower triangle, tile by tile of rows.
#[inline(always)]
fn solve_lower(factor: &SubstructureFactor, y: &mut [Lanes]) {
    let n = factor.size;
    let mut first = 0;
    while first + ROWS <= n {
        let mut sum: [Lanes; ROWS] = std::array::from_fn(|r| y[first + r]);
        for (k, value) in y[..first].iter().enumerate() {
            let at = k * n + first;
            take_off(&mut sum, tile(&factor.lower[at..at + ROWS]), value);
        }
        for r in 0..ROWS {
            let column = &factor.lower[(first + r) * n + first..];
            for l in 0..LANES {
                sum[r][l] /= column[r];
            }
            for s in r + 1..ROWS {
                for l in 0..LANES {
                    sum[s][l] -= column[s] * sum[r][l];
                }
            }
        }
        y[first..first + ROWS].copy_from_slice(&sum);
        first += ROWS;
    }
    for i in first..n {
        for l in 0..LANES {
            let mut sum = y[i][l];
            for k in 0..i {
                sum -= factor.lower[k * n + i] * y[k][l];
            }
            y[i][l] = sum / factor.lower[i * n + i];
        }
    }
}

/// Back substitution with the transposed triangle, tile by tile of rows from the last.
#[inline(always)]
fn solve_upper(factor: &SubstructureFactor, y: &mut [Lanes]) {
    let n = factor.size;
    let mut end = n;
    while end >= ROWS {
        let first = end - ROWS;
        let mut sum: [Lanes; ROWS] = std::array::from_fn(|r| y[first + r]);
        let columns: [&[f64]; ROWS] =
            std::array::from_fn(|r| &factor.lower[(first + r) * n..(first + r + 1) * n]);
        for (k, value) in y[..n].iter().enumerate().skip(end) {
            take_off(&mut sum, columns.map(|c| c[k]), value);
        }
        for r in (0..ROWS).rev() {
            for l in 0..LANES {
                sum[r][l] /= columns[r][first + r];
            }
            for s in 0..r {
                for l in 0..LANES {
                    sum[s][l] -= columns[s][first + r] * sum[r][l];
                }
            }
        }
        y[first..end].copy_from_slice(&sum);
        end = first;
    }
    for i in (0..end).rev() {
        let column = &factor.lower[i * n..(i + 1) * n];
        for l in 0..LANES {
            let mut sum = y[i][l];
            for k in i + 1..n {
                sum -= column[k] * y[k][l];
            }
            y[i][l] = sum / column[i];
        }
    }
}

/// What the own unknowns pass on to the lines at the ends: `W' y`.
#[inline(always)]
fn couple(factor: &SubstructureFactor, y: &[Lanes], ends: &mut [Lanes]) {
    let n = factor.size;
    let (tiles, rest) = ends.as_chunks_mut::<ROWS>();
    for (t, sum) in tiles.iter_mut().enumerate() {
        let columns: [&[f64]; ROWS] = std::array::from_fn(|r| {
            let at = (ROWS * t + r) * n;
            &factor.coupling[at..at + n]
        });
        let mut taken = [[0.0; LANES]; ROWS];
        for (k, value) in y[..n].iter().enumerate() {
            take_off(&mut taken, columns.map(|c| -c[k]), value);
        }
        *sum = taken;
    }
    let done = ROWS * tiles.len();
    for (t, sum) in rest.iter_mut().enumerate() {
        let column = &factor.coupling[(done + t) * n..(done + t + 1) * n];
        for (w, value) in column.iter().zip(y) {
            for l in 0..LANES {
                sum[l] += w * value[l];
            }
        }
    }
}

/// Takes off the own unknowns what the lines at the ends do to them: `y - W e`.
#[inline(always)]
fn uncouple(factor: &SubstructureFactor, ends: &[Lanes], y: &mut [Lanes]) {
    let n = factor.size;
    let (tiles, rest) = y.as_chunks_mut::<ROWS>();
    for (t, own) in tiles.iter_mut().enumerate() {
        let mut sum = *own;
        for (j, value) in ends.iter().enumerate() {
            let at = j * n + ROWS * t;
            take_off(&mut sum, tile(&factor.coupling[at..at + ROWS]), value);
        }
        *own = sum;
    }
    let done = ROWS * tiles.len();
    for (t, own) in rest.iter_mut().enumerate() {
        for (j, value) in ends.iter().enumerate() {
            let w = factor.coupling[j * n + done + t];
            for l in 0..LANES {
                own[l] -= w * value[l];
            }
        }
    }
}

/// The numbers of a tile that follow each other.
#[inline(always)]
fn tile(numbers: &[f64]) -> [f64; ROWS] {
    [numbers[0], numbers[1], numbers[2], numbers[3]]
}
