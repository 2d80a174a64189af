//! Non-negative pressures, non-negative gaps, one or the other zero, and a given force.

use nalgebra::{DMatrix, DVector};

/// `w = gap + C p - axis d >= 0`, `p >= 0`, `p w = 0`, `weights . p = force`.
pub struct Problem<'a> {
    pub compliance: &'a [Vec<f64>],
    pub gap: &'a [f64],
    pub axis: &'a [f64],
    pub weights: &'a [f64],
    pub force: f64,
}

pub struct Solved {
    pub pressure: Vec<f64>,
    pub approach: f64,
    pub touching: Vec<bool>,
}

impl Problem<'_> {
    /// Guess-and-correct on the set of touching nodes: all offenders change at once; when a set comes back, only the worst does,
    /// which ends cycling. `None` if that does not settle.
    pub fn solve(&self, start: Vec<bool>) -> Option<Solved> {
        let n = self.gap.len();
        let mut touching = start;
        let mut seen: Vec<Vec<bool>> = Vec::new();
        for _ in 0..2000 {
            let (pressure, approach) = self.with_touching(&touching)?;
            let scale_p = pressure.iter().fold(0.0_f64, |m, p| m.max(p.abs()));
            let open: Vec<f64> = (0..n)
                .map(|i| {
                    let u: f64 = self.compliance[i]
                        .iter()
                        .zip(&pressure)
                        .map(|(c, p)| c * p)
                        .sum();
                    self.gap[i] + u - self.axis[i] * approach
                })
                .collect();
            let scale_w = open.iter().fold(approach.abs(), |m, w| m.max(w.abs()));
            // how far each node is on the wrong side, relative to the largest of its kind
            let offence: Vec<f64> = (0..n)
                .map(|i| {
                    if touching[i] {
                        -pressure[i] / scale_p
                    } else {
                        -open[i] / scale_w - 1e-13
                    }
                })
                .collect();
            let worst = (0..n).max_by(|&a, &b| offence[a].total_cmp(&offence[b]))?;
            if offence[worst] <= 0.0 {
                return Some(Solved {
                    pressure,
                    approach,
                    touching,
                });
            }
            let again = seen.contains(&touching);
            seen.push(touching.clone());
            if again {
                touching[worst] = !touching[worst];
            } else {
                for i in 0..n {
                    if offence[i] > 0.0 {
                        touching[i] = !touching[i];
                    }
                }
            }
            if !touching.contains(&true) {
                let nearest = (0..n).min_by(|&a, &b| self.gap[a].total_cmp(&self.gap[b]))?;
                touching[nearest] = true;
            }
        }
        None
    }

    fn with_touching(&self, touching: &[bool]) -> Option<(Vec<f64>, f64)> {
        let set: Vec<usize> = (0..touching.len()).filter(|&i| touching[i]).collect();
        let m = set.len();
        // pressures scaled so that both blocks of the bordered matrix are of one size
        let unit = set
            .iter()
            .fold(0.0_f64, |m, &i| m.max(self.compliance[i][i].abs()));
        let weight = self.weights.iter().fold(0.0_f64, |m, w| m.max(w.abs()));
        let matrix = DMatrix::from_fn(m + 1, m + 1, |i, j| match (i < m, j < m) {
            (true, true) => self.compliance[set[i]][set[j]] / unit,
            (true, false) => -self.axis[set[i]],
            (false, true) => self.weights[set[j]] / weight,
            (false, false) => 0.0,
        });
        let right = DVector::from_fn(m + 1, |i, _| {
            if i < m {
                -self.gap[set[i]]
            } else {
                self.force * unit / weight
            }
        });
        let x = matrix.lu().solve(&right)?;
        let mut pressure = vec![0.0; touching.len()];
        for (k, &i) in set.iter().enumerate() {
            pressure[i] = x[k] / unit;
        }
        Some((pressure, x[m]))
    }
}
