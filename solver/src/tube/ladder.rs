//! Which harmonics of a tube are solved for, and how the others follow from them.
//!
//! The stiffness of a harmonic is a polynomial of its number, so what a load does varies smoothly from one to the next; the more so the higher, where a
//! load dents the wall locally and the displacement falls as the wavelength. Low harmonics are solved for one by one, higher ones ever more sparsely;
//! in between the displacement times the number is a cubic of the logarithm of the number. Beyond the last the wall is a half-plane to the load, whose
//! displacement falls as one over the number.

/// Harmonics up to this one are all solved for.
const EVERY: u32 = 12;

/// Beyond that, each is this many times the one before it.
const RATIO: f64 = 1.22;

/// The harmonics that are solved for.
#[derive(Clone, Debug, PartialEq)]
pub struct Ladder {
    rungs: Vec<u32>,
}

impl Ladder {
    /// Every harmonic of the low ones, then ever fewer, up to one that is at least `highest`.
    pub fn up_to(highest: u32) -> Self {
        let mut rungs: Vec<u32> = (0..=EVERY).collect();
        let mut last = EVERY;
        while last < highest {
            last = (f64::from(last) * RATIO).round() as u32;
            rungs.push(last);
        }
        Self { rungs }
    }

    /// The harmonics, rising.
    pub fn rungs(&self) -> &[u32] {
        &self.rungs
    }

    /// The highest of them.
    pub fn highest(&self) -> u32 {
        self.rungs[self.rungs.len() - 1]
    }

    /// What any harmonic takes of those that are solved for: their places and weights.
    pub fn weights(&self, n: u32) -> ([usize; 4], [f64; 4]) {
        let last = self.rungs.len() - 1;
        if n <= EVERY {
            return ([n as usize, 0, 0, 0], [1.0, 0.0, 0.0, 0.0]);
        }
        if n >= self.highest() {
            let falls = f64::from(self.highest()) / f64::from(n);
            return ([last, 0, 0, 0], [falls, 0.0, 0.0, 0.0]);
        }
        let after = self.rungs.partition_point(|&r| r <= n);
        let first = (after - 2).min(last - 3);
        let places = [first, first + 1, first + 2, first + 3];
        let log = |n: u32| f64::from(n).ln();
        let at = places.map(|k| log(self.rungs[k]));
        let weights = std::array::from_fn(|k| {
            let others = (0..4).filter(|&m| m != k);
            let cubic: f64 = others.map(|m| (log(n) - at[m]) / (at[k] - at[m])).product();
            cubic * f64::from(self.rungs[places[k]]) / f64::from(n)
        });
        (places, weights)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A law like a wall's, bending stiffness and dent: what the ladder makes of it in between.
    #[test]
    fn smooth_laws_are_followed() {
        let ladder = Ladder::up_to(96);
        let law = |n: u32| {
            let k = f64::from(n) / 20.0;
            1.0 / (k * (1.0 + 0.3 / (k * k * k)).sqrt()) + (-k).exp()
        };
        for n in 0..=ladder.highest() {
            let (places, weights) = ladder.weights(n);
            let found: f64 = places
                .iter()
                .zip(weights)
                .filter(|(_, w)| *w != 0.0)
                .map(|(&p, w)| w * law(ladder.rungs()[p]))
                .sum();
            let want = law(n);
            assert!(
                n == 0 || (found / want - 1.0).abs() < 3e-4,
                "{n}: {found} {want}"
            );
        }
        assert!(ladder.rungs().len() < 30);
    }
}
