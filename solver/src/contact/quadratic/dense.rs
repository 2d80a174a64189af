//! A dense symmetric matrix, factored. Large ones are factored by blocks, which threads share: blocks are the same whatever their number, so the bits are.

use faer::dyn_stack::{MemBuffer, MemStack};
use faer::linalg::cholesky::llt;
use faer::linalg::matmul::matmul;
use faer::linalg::triangular_solve::solve_lower_triangular_in_place;
use faer::{Accum, MatMut, MatRef, Par};
use rayon::prelude::*;

/// Columns of a block, rows of one that are divided by its triangle at a time, and the size from which a matrix is factored by blocks.
const BLOCK: usize = 64;
const ROWS: usize = 128;
const LARGE: usize = 256;

/// The Cholesky factor of a symmetric matrix.
#[derive(Clone, Debug)]
pub(super) struct Factor {
    size: usize,
    /// Lower triangle, column by column.
    lower: Vec<f64>,
}

impl Factor {
    /// Factors a matrix given by its lower triangle, column by column; `None` if it is not positive definite, as compliances between independent
    /// loads are.
    pub fn new(size: usize, mut lower: Vec<f64>) -> Option<Self> {
        if size < LARGE {
            factor_whole(MatMut::from_column_major_slice_mut(&mut lower, size, size))?;
        } else {
            factor_by_blocks(size, &mut lower)?;
        }
        Some(Self { size, lower })
    }

    /// Lets go of its memory.
    pub fn into_memory(self) -> Vec<f64> {
        self.lower
    }

    /// Solves for some right-hand sides in place, one after the other in `sides`.
    pub fn solve(&self, sides: &mut [f64]) {
        let n = self.size;
        if n == 0 {
            return;
        }
        let count = sides.len() / n;
        let scratch = llt::solve::solve_in_place_scratch::<f64>(n, count, Par::Seq);
        let mut memory = MemBuffer::new(scratch);
        llt::solve::solve_in_place(
            MatRef::from_column_major_slice(&self.lower, n, n),
            MatMut::from_column_major_slice_mut(sides, n, count),
            Par::Seq,
            MemStack::new(&mut memory),
        );
    }
}

fn factor_whole(matrix: MatMut<f64>) -> Option<()> {
    let scratch =
        llt::factor::cholesky_in_place_scratch::<f64>(matrix.nrows(), Par::Seq, Default::default());
    let mut memory = MemBuffer::new(scratch);
    llt::factor::cholesky_in_place(
        matrix,
        Default::default(),
        Par::Seq,
        MemStack::new(&mut memory),
        Default::default(),
    )
    .ok()?;
    Some(())
}

/// Block column by block column: its triangle is factored, the rows below are divided by it, and what they take off the columns after it is taken off.
fn factor_by_blocks(n: usize, lower: &mut [f64]) -> Option<()> {
    let mut below = Vec::new();
    for first in (0..n).step_by(BLOCK) {
        let end = (first + BLOCK).min(n);
        let width = end - first;
        let (block, after) = lower[first * n..].split_at_mut(width * n);
        let block = MatMut::from_column_major_slice_mut(block, n, width);
        let (_, rows) = block.split_at_row_mut(first);
        let (mut triangle, mut rows) = rows.split_at_row_mut(width);
        factor_whole(triangle.as_mut())?;
        divide(triangle.as_ref(), rows.as_mut());
        if end == n {
            break;
        }
        below.clear();
        for column in rows.as_ref().col_iter() {
            below.extend(column.iter().copied());
        }
        let below = MatRef::from_column_major_slice(&below, n - end, width);
        after
            .par_chunks_mut(BLOCK * n)
            .enumerate()
            .for_each(|(k, columns)| {
                let count = columns.len() / n;
                let columns = MatMut::from_column_major_slice_mut(columns, n, count);
                let (_, columns) = columns.split_at_row_mut(end + k * BLOCK);
                let (_, left) = below.split_at_row(k * BLOCK);
                let right = left.subrows(0, count).transpose();
                matmul(columns, Accum::Add, left, right, -1.0, Par::Seq);
            });
    }
    Some(())
}

/// Divides rows by a lower triangle from the right, its transpose standing there.
fn divide(triangle: MatRef<f64>, rows: MatMut<f64>) {
    if rows.nrows() <= ROWS {
        solve_lower_triangular_in_place(triangle, rows.transpose_mut(), Par::Seq);
        return;
    }
    let half = rows.nrows().div_ceil(2 * ROWS) * ROWS;
    let (above, below) = rows.split_at_row_mut(half);
    rayon::join(|| divide(triangle, above), || divide(triangle, below));
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    /// A matrix large enough for blocks, not a whole number of them: its factor undoes it, and is that of the whole.
    #[test]
    fn blocks_give_the_factor_of_the_whole() {
        let n = 3 * LARGE / 2 + 17;
        let entry = |i: usize, j: usize| {
            let apart = i.abs_diff(j) as f64;
            (-apart / 40.0).exp() + if i == j { 0.3 } else { 0.0 }
        };
        let mut lower = vec![0.0; n * n];
        for j in 0..n {
            for i in j..n {
                lower[j * n + i] = entry(i, j);
            }
        }
        let factor = Factor::new(n, lower.clone()).unwrap();
        factor_whole(MatMut::from_column_major_slice_mut(&mut lower, n, n)).unwrap();
        for j in 0..n {
            for i in j..n {
                let (a, b) = (factor.lower[j * n + i], lower[j * n + i]);
                assert!((a - b).abs() < 1e-13, "{i} {j}: {a} {b}");
            }
        }
        let right: Vec<f64> = (0..n).map(|k| (k as f64).sin()).collect();
        let mut x = right.clone();
        factor.solve(&mut x);
        for (i, right) in right.iter().enumerate() {
            let sum: f64 = x.iter().enumerate().map(|(j, x)| entry(i, j) * x).sum();
            assert!((sum - right).abs() < 1e-11, "{i}");
        }
        let mut spoilt = vec![0.0; n * n];
        for j in 0..n {
            for i in j..n {
                spoilt[j * n + i] = if i == j && i == n - 5 {
                    -1.0
                } else {
                    entry(i, j)
                };
            }
        }
        assert!(Factor::new(n, spoilt).is_none());
    }
}
