//! The zone of few readings to first order in the centre's shift: a Chebyshev fit in three unknowns, solved by exchange of single points.

use crate::metrology::search::{ROUNDING, least_support, plus};
use crate::metrology::{MetrologyError, distances, limits};

/// The zone of a few points, about a centre that no neighbour betters.
pub(super) fn local(
    points: &[[f64; 2]],
    from: [f64; 2],
    reference: &mut [usize; 4],
) -> Result<(ChebyshevFit, Levelled), MetrologyError> {
    let mut fit = ChebyshevFit::about(points, from);
    for _ in 0..100 {
        let levelled = fit.solve(reference)?;
        let rounding = ROUNDING * fit.mean.abs();
        if fit.width() <= 2.0 * levelled.level * (1.0 + 1e-12) + rounding {
            return Ok((fit, levelled));
        }
        // A long shift may leave the range of the first-order model: shorten it until the true width falls.
        let mut fraction = 1.0;
        let next = loop {
            let [x, y] = levelled.shift;
            let trial = ChebyshevFit::about(points, plus(fit.centre, [fraction * x, fraction * y]));
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
            // Rounding keeps the width from falling; whether the bounds have met, the caller sees.
            None => return Ok((fit, levelled)),
        }
    }
    let levelled = fit.solve(reference)?;
    Ok((fit, levelled))
}

/// The first-order model about one centre.
pub(in crate::metrology) struct ChebyshevFit {
    pub(super) centre: [f64; 2],
    pub(super) mean: f64,
    low: f64,
    high: f64,
    /// Direction and departure of each point: `[u_x, u_y, d - mean]`.
    pub(super) rows: Vec<[f64; 3]>,
}

impl ChebyshevFit {
    pub(super) fn about(points: &[[f64; 2]], centre: [f64; 2]) -> Self {
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

    /// The model of rows given: `[u_x, u_y, departure]`.
    pub(in crate::metrology) fn of(rows: Vec<[f64; 3]>) -> Self {
        Self {
            centre: [0.0; 2],
            mean: 0.0,
            low: 0.0,
            high: 0.0,
            rows,
        }
    }

    /// Other departures in the same directions.
    pub(in crate::metrology) fn depart(&mut self, departure: impl Fn(usize) -> f64) {
        for (i, row) in self.rows.iter_mut().enumerate() {
            row[2] = departure(i);
        }
    }

    pub(super) fn width(&self) -> f64 {
        self.high - self.low
    }

    /// Exchanges points of the reference until no point departs by more than its levelled error.
    pub(in crate::metrology) fn solve(
        &self,
        reference: &mut [usize; 4],
    ) -> Result<Levelled, MetrologyError> {
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
        levelled.ok_or(MetrologyError::Degenerate)
    }

    /// Starts again from four points chosen one by one to span the most directions.
    fn solve_from_spread(&self, reference: &mut [usize; 4]) -> Result<Levelled, MetrologyError> {
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

    /// How fast the width of the model grows at least, away from the centre that a reference asks for.
    ///
    /// Its growth with a unit shift `e` is the largest `(u_i - u_o) . e` over its outer and inner readings; the four differences
    /// are the corners of a parallelogram round the origin, and the least growth is the distance of the nearest side.
    pub(super) fn slope(&self, reference: [usize; 4], levelled: &Levelled) -> f64 {
        let of = |outer: bool| {
            (0..4)
                .filter(move |&k| levelled.active[k] && levelled.outer[k] == outer)
                .map(|k| self.rows[reference[k]])
        };
        let (o, i): (Vec<_>, Vec<_>) = (of(true).collect(), of(false).collect());
        if o.len() < 2 || i.len() < 2 {
            return 0.0;
        }
        let corner = |i: [f64; 3], o: [f64; 3]| [i[0] - o[0], i[1] - o[1]];
        least_support(&[
            corner(i[0], o[0]),
            corner(i[0], o[1]),
            corner(i[1], o[1]),
            corner(i[1], o[0]),
        ])
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
    pub(super) fn level(&self, at: [usize; 4]) -> Option<Levelled> {
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
            outer: w.map(|w| (w > 0.0) == (error >= 0.0)),
            active: w.map(|w| w.abs() > 1e-12 * total),
        })
    }
}

/// The fit whose error is equal in size at the four readings of a reference.
pub(in crate::metrology) struct Levelled {
    pub(super) shift: [f64; 2],
    radius: f64,
    /// Half width of the zone of these four, and so at most that of the best zone of the model.
    pub(in crate::metrology) level: f64,
    /// Which of the four depart outwards.
    pub(super) outer: [bool; 4],
    /// Which have a multiplier: all four, unless two lie in one direction.
    pub(super) active: [bool; 4],
}
