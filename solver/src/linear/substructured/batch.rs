//! Equal substructures eliminated side by side.
//!
//! Substructures with one factor are the same arc at other places of the ring, so none lies inside another: as many as the processor's vectors
//! have lanes are taken through the triangle at once, each in a lane of its own. Every number of the factor is then read once for all of
//! them. Each lane sums in the same order whatever stands in the others.

use pulp::Simd;

use super::{Substructure, SubstructureFactor};

/// Rows that are summed in registers at once: products follow each other faster than each of them is ready.
const ROWS: usize = 8;

/// Working memory: the own unknowns of the lanes, and those of the lines at their ends.
pub(super) struct Batch<S: Simd> {
    simd: S,
    own: Vec<S::f64s>,
    ends: Vec<S::f64s>,
}

/// The numbers of all lanes, lane by lane within each.
#[inline(always)]
fn numbers<S: Simd>(vectors: &mut [S::f64s]) -> &mut [f64] {
    pulp::bytemuck::cast_slice_mut(vectors)
}

impl<S: Simd> Batch<S> {
    #[inline(always)]
    pub fn new(simd: S) -> Self {
        Self {
            simd,
            own: Vec::new(),
            ends: Vec::new(),
        }
    }

    /// `L^-1` of at most as many substructures as there are lanes, with one factor.
    #[inline(always)]
    pub fn forward(&mut self, factor: &SubstructureFactor, alike: &[&Substructure], x: &mut [f64]) {
        self.gather_own(factor.size, alike, x);
        self.solve_lower(factor);
        self.scatter_own(alike, x);
        self.couple(factor);
        let line = self.ends.len().div_ceil(2).max(1);
        let ends = numbers::<S>(&mut self.ends);
        // lanes may share a line, so their shares are taken off one after the other
        for (lane, substructure) in alike.iter().enumerate() {
            let sides = ends.chunks(line * S::F64_LANES);
            for (ends, &start) in sides.zip(&substructure.ends) {
                let lane = ends[lane..].iter().step_by(S::F64_LANES);
                for (v, end) in x[start..].iter_mut().zip(lane) {
                    *v -= end;
                }
            }
        }
    }

    /// `L'^-1` of at most as many substructures as there are lanes, with one factor.
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
        self.ends.resize(count, self.simd.splat_f64s(0.0));
        let line = count.div_ceil(2).max(1);
        let ends = numbers::<S>(&mut self.ends);
        for (lane, substructure) in alike.iter().enumerate() {
            let sides = ends.chunks_mut(line * S::F64_LANES);
            for (ends, &start) in sides.zip(&substructure.ends) {
                let lane = ends[lane..].iter_mut().step_by(S::F64_LANES);
                for (end, v) in lane.zip(&x[start..]) {
                    *end = *v;
                }
            }
        }
        self.uncouple(factor);
        self.solve_upper(factor);
        self.scatter_own(alike, x);
    }

    #[inline(always)]
    fn gather_own(&mut self, size: usize, alike: &[&Substructure], x: &[f64]) {
        self.own.clear();
        self.own.resize(size, self.simd.splat_f64s(0.0));
        let own = numbers::<S>(&mut self.own);
        for (lane, substructure) in alike.iter().enumerate() {
            let lane = own[lane..].iter_mut().step_by(S::F64_LANES);
            for (own, v) in lane.zip(&x[substructure.own.clone()]) {
                *own = *v;
            }
        }
    }

    #[inline(always)]
    fn scatter_own(&mut self, alike: &[&Substructure], x: &mut [f64]) {
        let own = numbers::<S>(&mut self.own);
        for (lane, substructure) in alike.iter().enumerate() {
            let lane = own[lane..].iter().step_by(S::F64_LANES);
            for (v, own) in x[substructure.own.clone()].iter_mut().zip(lane) {
                *v = *own;
            }
        }
    }

    /// `a - number * b`.
    #[inline(always)]
    fn less(&self, a: S::f64s, number: f64, b: S::f64s) -> S::f64s {
        let simd = self.simd;
        simd.mul_add_f64s(simd.splat_f64s(-number), b, a)
    }

    /// Forward substitution with the lower triangle, tile by tile of rows.
    #[inline(always)]
    fn solve_lower(&mut self, factor: &SubstructureFactor) {
        let n = factor.size;
        let mut first = 0;
        while first < n {
            let rows = ROWS.min(n - first);
            if rows == ROWS {
                let mut sum: [S::f64s; ROWS] = std::array::from_fn(|r| self.own[first + r]);
                for (k, &value) in self.own[..first].iter().enumerate() {
                    let at = k * n + first;
                    let tile = &factor.lower[at..at + ROWS];
                    for (sum, &number) in sum.iter_mut().zip(tile) {
                        *sum = self.less(*sum, number, value);
                    }
                }
                self.own[first..first + ROWS].copy_from_slice(&sum);
            } else {
                for k in 0..first {
                    let value = self.own[k];
                    for i in first..n {
                        self.own[i] = self.less(self.own[i], factor.lower[k * n + i], value);
                    }
                }
            }
            for k in first..first + rows {
                let column = &factor.lower[k * n..(k + 1) * n];
                let inverse = self.simd.splat_f64s(1.0 / column[k]);
                let value = self.simd.mul_f64s(self.own[k], inverse);
                self.own[k] = value;
                for (i, &number) in column.iter().enumerate().take(first + rows).skip(k + 1) {
                    self.own[i] = self.less(self.own[i], number, value);
                }
            }
            first += rows;
        }
    }

    /// Back substitution with the transposed triangle, tile by tile of rows from the last.
    #[inline(always)]
    fn solve_upper(&mut self, factor: &SubstructureFactor) {
        let n = factor.size;
        let column = |k: usize| &factor.lower[k * n..(k + 1) * n];
        let mut end = n;
        while end > 0 {
            let rows = ROWS.min(end);
            let first = end - rows;
            if rows == ROWS {
                let columns: [&[f64]; ROWS] = std::array::from_fn(|r| column(first + r));
                let mut sum: [S::f64s; ROWS] = std::array::from_fn(|r| self.own[first + r]);
                for k in end..n {
                    let value = self.own[k];
                    for (sum, column) in sum.iter_mut().zip(columns) {
                        *sum = self.less(*sum, column[k], value);
                    }
                }
                self.own[first..end].copy_from_slice(&sum);
            } else {
                for i in first..end {
                    let mut sum = self.own[i];
                    for k in end..n {
                        sum = self.less(sum, column(i)[k], self.own[k]);
                    }
                    self.own[i] = sum;
                }
            }
            for i in (first..end).rev() {
                let mut sum = self.own[i];
                for k in i + 1..end {
                    sum = self.less(sum, column(i)[k], self.own[k]);
                }
                let inverse = self.simd.splat_f64s(1.0 / column(i)[i]);
                self.own[i] = self.simd.mul_f64s(sum, inverse);
            }
            end = first;
        }
    }

    /// What the own unknowns pass on to the lines at the ends: `W' y`.
    #[inline(always)]
    fn couple(&mut self, factor: &SubstructureFactor) {
        let n = factor.size;
        let count = factor.coupling.len() / n;
        let column = |j: usize| &factor.coupling[j * n..(j + 1) * n];
        let zero = self.simd.splat_f64s(0.0);
        self.ends.clear();
        let mut first = 0;
        while first + ROWS <= count {
            let columns: [&[f64]; ROWS] = std::array::from_fn(|r| column(first + r));
            let mut sum = [zero; ROWS];
            for (k, &value) in self.own[..n].iter().enumerate() {
                for (sum, column) in sum.iter_mut().zip(columns) {
                    let number = self.simd.splat_f64s(column[k]);
                    *sum = self.simd.mul_add_f64s(number, value, *sum);
                }
            }
            self.ends.extend_from_slice(&sum);
            first += ROWS;
        }
        for j in first..count {
            let mut sum = zero;
            for (&w, &value) in column(j).iter().zip(&self.own) {
                sum = self.simd.mul_add_f64s(self.simd.splat_f64s(w), value, sum);
            }
            self.ends.push(sum);
        }
    }

    /// Takes off the own unknowns what the lines at the ends do to them: `y - W e`.
    #[inline(always)]
    fn uncouple(&mut self, factor: &SubstructureFactor) {
        let n = factor.size;
        let mut first = 0;
        while first + ROWS <= n {
            let mut sum: [S::f64s; ROWS] = std::array::from_fn(|r| self.own[first + r]);
            for (j, &value) in self.ends.iter().enumerate() {
                let at = j * n + first;
                let tile = &factor.coupling[at..at + ROWS];
                for (sum, &number) in sum.iter_mut().zip(tile) {
                    *sum = self.less(*sum, number, value);
                }
            }
            self.own[first..first + ROWS].copy_from_slice(&sum);
            first += ROWS;
        }
        for i in first..n {
            let mut sum = self.own[i];
            for (j, &value) in self.ends.iter().enumerate() {
                sum = self.less(sum, factor.coupling[j * n + i], value);
            }
            self.own[i] = sum;
        }
    }
}
