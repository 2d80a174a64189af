//! The scheme of rows from which sensitivity indices are estimated.

use super::{MOST_DIMENSIONS, Sobol};

/// Most factors: each takes two dimensions of the sequence.
pub const MOST_FACTORS: usize = MOST_DIMENSIONS / 2;

/// Two samples A and B of as many points each, and for every factor the sample A with that factor's values taken from B: `N (d + 2)` rows of `d` factors.
///
/// A and B are the first and the second half of the dimensions of one scrambled Sobol sequence, which keeps them independent of each other and both balanced. Rows that belong to one point
/// of the sequence stand together: A, A with the first factor from B, ..., A with the last factor from B, B. So any share of a table holds whole groups but for its ends.
///
/// # Source
/// A. Saltelli, P. Annoni, I. Azzini, F. Campolongo, M. Ratto and S. Tarantola, Variance based sensitivity analysis of model output, Comput. Phys. Commun. 181 (2010) 259, sections 3 and 5.
#[derive(Clone, Debug)]
pub struct Saltelli {
    points: Sobol,
    factors: usize,
}

/// Which sample a row is of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sample {
    /// The first sample.
    A,
    /// The first sample with this factor (from 0) from the second.
    Mixed(usize),
    /// The second sample.
    B,
}

impl Saltelli {
    /// Of so many factors, no more than [`MOST_FACTORS`].
    pub fn new(factors: usize, seed: u64) -> Self {
        let factors = factors.min(MOST_FACTORS);
        Self {
            points: Sobol::new(2 * factors, seed),
            factors,
        }
    }

    /// How many factors there are.
    pub fn factors(&self) -> usize {
        self.factors
    }

    /// Rows that belong to one point of the sequence.
    pub fn group(&self) -> u64 {
        self.factors as u64 + 2
    }

    /// The point of the sequence that a row (from 0) belongs to, and the row's sample.
    pub fn place(&self, row: u64) -> (u32, Sample) {
        let point = (row / self.group()) as u32;
        let sample = match (row % self.group()) as usize {
            0 => Sample::A,
            k if k <= self.factors => Sample::Mixed(k - 1),
            _ => Sample::B,
        };
        (point, sample)
    }

    /// The coordinates of a row (from 0), one a factor, each between 0 and 1.
    pub fn point(&self, row: u64) -> Vec<f64> {
        let (point, sample) = self.place(row);
        let both = self.points.point(point);
        let (a, b) = both.split_at(self.factors);
        match sample {
            Sample::A => a.to_vec(),
            Sample::B => b.to_vec(),
            Sample::Mixed(factor) => {
                let mut mixed = a.to_vec();
                mixed[factor] = b[factor];
                mixed
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_factor_at_a_time_comes_from_the_second_sample() {
        let scheme = Saltelli::new(3, 5);
        let plain = Sobol::new(6, 5);
        for point in [0_u32, 1, 17] {
            let rows: Vec<Vec<f64>> = (0..5)
                .map(|k| scheme.point(u64::from(point) * 5 + k))
                .collect();
            let both = plain.point(point);
            assert_eq!((&rows[0][..], &rows[4][..]), (&both[..3], &both[3..]));
            for factor in 0..3 {
                for of in 0..3 {
                    let from = if of == factor { &rows[4] } else { &rows[0] };
                    assert_eq!(rows[factor + 1][of], from[of]);
                }
            }
        }
        assert_eq!(scheme.place(8), (1, Sample::Mixed(2)));
        assert_eq!(scheme.place(9), (1, Sample::B));
    }
}
