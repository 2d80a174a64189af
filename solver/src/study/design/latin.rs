//! Latin hypercubes: of every factor each of as many equal parts of its range as there are points has one point.

use super::{hashed, unit};

/// A Latin hypercube (McKay, Beckman and Conover, Technometrics 21 (1979) 239), points at random in their parts.
#[derive(Clone, Debug)]
pub struct LatinHypercube {
    seed: u64,
    /// The part of each point, one list a factor.
    parts: Vec<Vec<u32>>,
}

impl LatinHypercube {
    /// So many points of so many factors.
    pub fn new(points: u32, factors: usize, seed: u64) -> Self {
        let part = |factor: usize| {
            let mut order: Vec<u32> = (0..points).collect();
            // keys that happen to be alike are told apart by the point
            order.sort_by_key(|&k| (hashed(&[seed, 1, factor as u64, u64::from(k)]), k));
            order
        };
        Self {
            seed,
            parts: (0..factors).map(part).collect(),
        }
    }

    /// A point, each coordinate between 0 and 1.
    pub fn point(&self, index: u32) -> Vec<f64> {
        let coordinate = |(factor, parts): (usize, &Vec<u32>)| {
            let within = unit(hashed(&[self.seed, 2, factor as u64, u64::from(index)]));
            (f64::from(parts[index as usize]) + within) / parts.len() as f64
        };
        self.parts.iter().enumerate().map(coordinate).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_part_has_one_point() {
        for (points, seed) in [(1, 0), (7, 1), (64, 2), (1000, 3)] {
            let design = LatinHypercube::new(points, 5, seed);
            for factor in 0..5 {
                let part = |k| (design.point(k)[factor] * f64::from(points)).floor() as u32;
                let mut parts: Vec<u32> = (0..points).map(part).collect();
                parts.sort_unstable();
                assert!(parts.into_iter().eq(0..points), "{points} {factor}");
            }
        }
        let [a, b] = [1, 2].map(|seed| LatinHypercube::new(64, 2, seed).point(5));
        assert_ne!(a, b);
    }
}
