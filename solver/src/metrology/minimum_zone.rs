//! The minimum zone: two concentric circles, least radial distance apart, that hold the whole profile.

use super::least_squares::circle_through;
use super::{Circle, MetrologyError, Profile, distances, limits};

/// The minimum-zone circle of the points, with proof.
///
/// About a trial centre the distances are linear in a small shift `x` of the centre to first order,
/// `d_i - u_i . x - R`, with `u_i` the direction of point `i`: a Chebyshev fit in three unknowns. `{1, cos, sin}`
/// is a Haar system on the circle, so four points carry the answer, alternately farthest and nearest, and the
/// exchange of single points (Remez; Stiefel 1959, from memory) ends after finitely many steps because the levelled error
/// rises with each. The fit is then repeated about the shifted centre with true distances until it stays; the error of
/// the shift is of second order, so a few rounds do. The levelled error of the four points is a lower bound and the
/// width about the centre an upper bound; they are compared before the answer is given.
///
/// The zone is least among the centres near the least-squares one. Profiles far from round (width comparable with the
/// radius) can have further local minima.
///
/// # Errors
/// [`MetrologyError::Degenerate`] when the points lie in too few directions, [`MetrologyError::NotProven`] when the
/// two bounds do not meet, [`MetrologyError::NotFinite`] for a reading that is not a number.
pub fn minimum_zone(profile: &Profile) -> Result<Circle, MetrologyError> {
    let points = profile.points();
    if let Some(index) = points.iter().position(|p| !(p[0] + p[1]).is_finite()) {
        return Err(MetrologyError::NotFinite { index });
    }
    let start = circle_through(&points);
    let n = points.len();
    if n == 3 {
        return Ok(start);
    }
    let mut fit = Fit::about(&points, start.centre);
    let mut reference = [0, n / 4, n / 2, 3 * n / 4];
    let mut best_lower = 0.0;
    for _ in 0..60 {
        let solution = fit.solve(&mut reference)?;
        let rounding = 64.0 * f64::EPSILON * fit.mean.abs();
        best_lower = 2.0 * solution.level;
        if fit.width() <= best_lower + rounding + 1e-12 * best_lower {
            return Ok(fit.circle());
        }
        // A long shift may leave the range of the first-order model: shorten it until the true width falls.
        let mut fraction = 1.0;
        let next = loop {
            let trial = Fit::about(
                &points,
                [
                    fit.centre[0] + fraction * solution.shift[0],
                    fit.centre[1] + fraction * solution.shift[1],
                ],
            );
            if trial.width() < fit.width() {
                break Some(trial);
            }
            fraction *= 0.5;
            if fraction < 1e-6 {
                break None;
            }
        };
        match next {
            Some(next) => fit = next,
            // Rounding keeps the width from falling: the bounds have met as closely as they can, or they have not.
            None if fit.width() <= best_lower * (1.0 + 1e-9) + 4.0 * rounding => {
                return Ok(fit.circle());
            }
            None => break,
        }
    }
    Err(MetrologyError::NotProven {
        width: fit.width(),
        lower_bound: best_lower,
    })
}

/// The first-order model about one centre.
struct Fit {
    centre: [f64; 2],
    mean: f64,
    low: f64,
    high: f64,
    /// Direction and departure of each point: `[u_x, u_y, d - mean]`.
    rows: Vec<[f64; 3]>,
}

struct Solution {
    shift: [f64; 2],
    /// Half width of the best zone of the model.
    level: f64,
}

impl Fit {
    fn about(points: &[[f64; 2]], centre: [f64; 2]) -> Self {
        let d = distances(points, centre);
        let mean = d.iter().sum::<f64>() / d.len() as f64;
        let (low, high) = limits(&d);
        let rows = points
            .iter()
            .zip(&d)
            .map(|(p, &d)| {
                let inverse = if d > 0.0 { 1.0 / d } else { 0.0 };
                [
                    (p[0] - centre[0]) * inverse,
                    (p[1] - centre[1]) * inverse,
                    d - mean,
                ]
            })
            .collect();
        Self {
            centre,
            mean,
            low,
            high,
            rows,
        }
    }

    fn width(&self) -> f64 {
        self.high - self.low
    }

    fn circle(&self) -> Circle {
        Circle {
            centre: self.centre,
            radius: 0.5 * (self.high + self.low),
            roundness: self.width(),
        }
    }

    /// Exchanges points of the reference until no point departs by more than its levelled error.
    fn solve(&self, reference: &mut [usize; 4]) -> Result<Solution, MetrologyError> {
        let mut levelled = self.level(*reference);
        for _ in 0..self.rows.len() + 100 {
            let Some(current) = &levelled else {
                // a reference in too few directions: any better one will do
                return self.solve_from_spread(reference);
            };
            let (worst, size) = self.worst(current);
            if size <= current.level {
                break;
            }
            let replaced = (0..4)
                .filter(|_| !reference.contains(&worst))
                .filter_map(|k| {
                    let mut candidate = *reference;
                    candidate[k] = worst;
                    self.level(candidate).map(|l| (candidate, l))
                })
                .max_by(|a, b| a.1.level.total_cmp(&b.1.level));
            match replaced {
                Some((candidate, better)) if better.level > current.level => {
                    *reference = candidate;
                    levelled = Some(better);
                }
                _ => break,
            }
        }
        levelled
            .map(|l| Solution {
                shift: l.shift,
                level: l.level,
            })
            .ok_or(MetrologyError::Degenerate)
    }

    /// Starts again from four points chosen one by one to span the most directions.
    fn solve_from_spread(&self, reference: &mut [usize; 4]) -> Result<Solution, MetrologyError> {
        let n = self.rows.len();
        let mut chosen = vec![0];
        while chosen.len() < 4 {
            let far = |i: usize| {
                chosen
                    .iter()
                    .map(|&j| {
                        let (a, b) = (self.rows[i], self.rows[j]);
                        (a[0] - b[0]).hypot(a[1] - b[1])
                    })
                    .fold(f64::INFINITY, f64::min)
            };
            let next = (0..n)
                .max_by(|&a, &b| far(a).total_cmp(&far(b)))
                .ok_or(MetrologyError::Degenerate)?;
            chosen.push(next);
        }
        let spread = [chosen[0], chosen[1], chosen[2], chosen[3]];
        if spread == *reference || self.level(spread).is_none() {
            return Err(MetrologyError::Degenerate);
        }
        *reference = spread;
        self.solve(reference)
    }

    fn worst(&self, at: &Levelled) -> (usize, f64) {
        let mut worst = (0, f64::NEG_INFINITY);
        for (i, row) in self.rows.iter().enumerate() {
            let size = (row[2] - row[0] * at.shift[0] - row[1] * at.shift[1] - at.radius).abs();
            if size > worst.1 {
                worst = (i, size);
            }
        }
        worst
    }

    /// The fit whose error is equal in size at four points: its multipliers are the minors of the 3 by 4 matrix of
    /// `(u_x, u_y, 1)`, its error their weighted departure. `None` if three of the directions coincide.
    fn level(&self, at: [usize; 4]) -> Option<Levelled> {
        let p = at.map(|i| self.rows[i]);
        let minor = |a: usize, b: usize, c: usize| {
            (p[b][0] - p[a][0]) * (p[c][1] - p[a][1]) - (p[c][0] - p[a][0]) * (p[b][1] - p[a][1])
        };
        let w = [
            minor(1, 2, 3),
            -minor(0, 2, 3),
            minor(0, 1, 3),
            -minor(0, 1, 2),
        ];
        let total: f64 = w.iter().map(|w| w.abs()).sum();
        // Four neighbours of 3,600 still give 1e-8: only coinciding directions are refused.
        if total < 1e-13 {
            return None;
        }
        let error: f64 = (0..4).map(|k| w[k] * p[k][2]).sum::<f64>() / total;
        let e: [f64; 4] = std::array::from_fn(|k| p[k][2] - error * w[k].signum());
        // Solve for the shift on the three points with the largest determinant.
        let skip = (0..4).max_by(|&a, &b| w[a].abs().total_cmp(&w[b].abs()))?;
        let mut kept = (0..4).filter(|&k| k != skip);
        let (a, b, c) = (kept.next()?, kept.next()?, kept.next()?);
        let det = minor(a, b, c);
        let (abx, aby, abe) = (p[b][0] - p[a][0], p[b][1] - p[a][1], e[b] - e[a]);
        let (acx, acy, ace) = (p[c][0] - p[a][0], p[c][1] - p[a][1], e[c] - e[a]);
        let shift = [(abe * acy - ace * aby) / det, (abx * ace - acx * abe) / det];
        Some(Levelled {
            shift,
            radius: e[a] - p[a][0] * shift[0] - p[a][1] * shift[1],
            level: error.abs(),
        })
    }
}

struct Levelled {
    shift: [f64; 2],
    radius: f64,
    level: f64,
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use std::f64::consts::TAU;

    /// The zone of the model by trying every set of four points: the largest levelled error is the answer of a Chebyshev
    /// fit (de la Vallee Poussin, common knowledge), repeated about the moved centre.
    fn by_all_fours(points: &[[f64; 2]]) -> f64 {
        let mut centre = circle_through(points).centre;
        let n = points.len();
        for _ in 0..40 {
            let fit = Fit::about(points, centre);
            let mut best: Option<Levelled> = None;
            for a in 0..n {
                for b in a + 1..n {
                    for c in b + 1..n {
                        for d in c + 1..n {
                            if let Some(l) = fit.level([a, b, c, d])
                                && best.as_ref().is_none_or(|best| l.level > best.level)
                            {
                                best = Some(l);
                            }
                        }
                    }
                }
            }
            let best = best.unwrap();
            centre = [centre[0] + best.shift[0], centre[1] + best.shift[1]];
        }
        Fit::about(points, centre).width()
    }

    #[test]
    fn agrees_with_every_set_of_four_points_on_random_profiles() {
        let mut state = 12345_u64;
        let mut random = || {
            state = state
                .wrapping_mul(6364136223846793005)
                .wrapping_add(1442695040888963407);
            (state >> 11) as f64 / (1_u64 << 53) as f64
        };
        for _ in 0..12 {
            let n = 16;
            let angles: Vec<f64> = (0..n)
                .map(|k| TAU * (f64::from(k) + 0.8 * random()) / f64::from(n))
                .collect();
            let radii: Vec<f64> = (0..n).map(|_| 20.0 + 0.1 * random()).collect();
            let profile = Profile::new(&angles, &radii).unwrap();
            let zone = minimum_zone(&profile).unwrap();
            let brute = by_all_fours(&profile.points());
            assert!((zone.roundness - brute).abs() < 1e-12, "{zone:?} {brute}");
            // and no centre of a fine grid round it does better
            for i in -20..=20 {
                for j in -20..=20 {
                    let c = [
                        zone.centre[0] + 1e-3 * f64::from(i),
                        zone.centre[1] + 1e-3 * f64::from(j),
                    ];
                    assert!(profile.roundness_about(c) >= zone.roundness - 1e-13);
                }
            }
        }
    }

    #[test]
    fn a_perfect_circle_has_no_width() {
        let radii = vec![25.0; 360];
        let zone = minimum_zone(&Profile::equal(&radii)).unwrap();
        assert!(zone.roundness < 1e-13 && (zone.radius - 25.0).abs() < 1e-13);
    }

    #[test]
    fn bad_readings_are_errors() {
        let radii = [1.0, f64::NAN, 1.0, 1.0];
        assert!(matches!(
            minimum_zone(&Profile::equal(&radii)),
            Err(MetrologyError::NotFinite { index: 1 })
        ));
        let (angles, radii) = ([0.3; 5], [1.0, 1.1, 1.2, 1.3, 1.4]);
        assert!(minimum_zone(&Profile::new(&angles, &radii).unwrap()).is_err());
    }
}
