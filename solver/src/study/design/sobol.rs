//! The Sobol sequence, scrambled.

use super::directions::DIRECTIONS;
use super::hashed;

/// Most factors.
pub const MOST_DIMENSIONS: usize = DIRECTIONS.len() + 1;

/// Most points: beyond, they repeat.
pub const MOST_POINTS: u64 = 1 << 32;

const BITS: usize = 32;

/// A Sobol sequence in its natural order, scrambled as Owen does it by a hash of each point's digits (Laine and Karras, Stratified sampling for stochastic transparency, 2011;
/// Burley, Practical hash-based Owen scrambling, JCGT 9 (2020) 1, whose constants these are; from memory): every digit is flipped or not by all digits before it, so each power of two of points keeps its balance.
#[derive(Clone, Debug)]
pub struct Sobol {
    seed: Option<u64>,
    /// A direction number a bit of the index, one list a factor.
    directions: Vec<[u32; BITS]>,
}

impl Sobol {
    /// Of so many factors, no more than [`MOST_DIMENSIONS`].
    pub fn new(factors: usize, seed: u64) -> Self {
        Self {
            seed: Some(seed),
            ..Self::plain(factors)
        }
    }

    /// The sequence as it is.
    pub fn plain(factors: usize) -> Self {
        Self {
            seed: None,
            directions: (0..factors.min(MOST_DIMENSIONS)).map(directions).collect(),
        }
    }

    /// A point, each coordinate from 0 to 1, itself left out; those of a scrambled sequence leave 0 out too.
    pub fn point(&self, index: u32) -> Vec<f64> {
        let coordinate = |(factor, directions): (usize, &[u32; BITS])| {
            let bits = (0..BITS).filter(|bit| index >> bit & 1 == 1);
            let digits = bits.fold(0, |x, bit| x ^ directions[bit]);
            let (digits, middle) = match self.seed {
                Some(seed) => (
                    scrambled(digits, hashed(&[seed, 3, factor as u64]) as u32),
                    0.5,
                ),
                None => (digits, 0.0),
            };
            (f64::from(digits) + middle) / (1_u64 << BITS) as f64
        };
        self.directions.iter().enumerate().map(coordinate).collect()
    }
}

/// Direction numbers of a factor, the first binary digit highest.
fn directions(factor: usize) -> [u32; BITS] {
    let mut v = [0_u32; BITS];
    let Some((coefficients, first)) = factor.checked_sub(1).map(|k| DIRECTIONS[k]) else {
        for (bit, v) in v.iter_mut().enumerate() {
            *v = 1 << (BITS - 1 - bit);
        }
        return v;
    };
    let degree = first.len();
    for bit in 0..BITS {
        v[bit] = match first.get(bit) {
            Some(m) => m << (BITS - 1 - bit),
            None => {
                let last = v[bit - degree];
                let between = (1..degree).filter(|k| coefficients >> (degree - 1 - k) & 1 == 1);
                between.fold(last ^ (last >> degree), |x, k| x ^ v[bit - k])
            }
        };
    }
    v
}

/// Flips each binary digit by all that stand before it.
fn scrambled(digits: u32, seed: u32) -> u32 {
    let mut x = digits.reverse_bits();
    x = x.wrapping_add(seed);
    x ^= x.wrapping_mul(0x6c50_b47c);
    x ^= x.wrapping_mul(0xb82f_1e52);
    x ^= x.wrapping_mul(0xc7af_e638);
    x ^= x.wrapping_mul(0x8d22_f6e6);
    x.reverse_bits()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The first points of five factors as SciPy 1.17.1 gives them (`qmc.Sobol(5, scramble=False)`), which counts in Gray code: other program.
    #[test]
    fn the_first_points_are_those_of_another_program() {
        let theirs = [
            [0.0, 0.0, 0.0, 0.0, 0.0],
            [0.5, 0.5, 0.5, 0.5, 0.5],
            [0.75, 0.25, 0.25, 0.25, 0.75],
            [0.25, 0.75, 0.75, 0.75, 0.25],
            [0.375, 0.375, 0.625, 0.875, 0.375],
            [0.875, 0.875, 0.125, 0.375, 0.875],
            [0.625, 0.125, 0.875, 0.625, 0.625],
            [0.125, 0.625, 0.375, 0.125, 0.125],
        ];
        let ours = Sobol::plain(5);
        for (k, point) in (0_u32..).zip(theirs) {
            assert_eq!(ours.point(k ^ (k >> 1)), point, "{k}");
        }
    }

    /// Of any factor, each of 2^k equal parts has one of the first 2^k points, scrambled or not; and so of any next 2^k.
    #[test]
    fn powers_of_two_are_balanced() {
        for sequence in [
            Sobol::plain(MOST_DIMENSIONS),
            Sobol::new(MOST_DIMENSIONS, 7),
        ] {
            for factor in 0..MOST_DIMENSIONS {
                for first in [0_u32, 256] {
                    let part = |k: u32| (sequence.point(k)[factor] * 256.0).floor() as u32;
                    let mut parts: Vec<u32> = (first..first + 256).map(part).collect();
                    parts.sort_unstable();
                    assert!(parts.into_iter().eq(0..256), "{factor} from {first}");
                }
            }
        }
    }

    /// Two factors together: every elementary interval of area 1 / 64 has one of the first 64 points.
    #[test]
    fn pairs_are_balanced_too() {
        let sequence = Sobol::new(2, 3);
        let points: Vec<Vec<f64>> = (0..64).map(|k| sequence.point(k)).collect();
        for split in 0..=6 {
            let (a, b) = (f64::from(1 << split), f64::from(64 >> split));
            let mut cells: Vec<u32> = points
                .iter()
                .map(|p| (p[0] * a).floor() as u32 * (b as u32) + (p[1] * b).floor() as u32)
                .collect();
            cells.sort_unstable();
            assert!(cells.into_iter().eq(0..64), "{split}");
        }
    }
}
