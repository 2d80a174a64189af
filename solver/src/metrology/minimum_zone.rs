//! The minimum zone: two concentric circles, least radial distance apart, that hold the whole profile.

use super::search::{
    Extremes, Floor, Landscape, ROUNDING, Search, Working, least_support, length, minus, plus,
};
use super::{
    Circle, MetrologyError, Profile, distances, largest_gap, least_squares_circle, limits,
    sort_by_angle,
};

/// On which of the two circles of a zone a reading lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// On the outer circle: a high spot.
    Outer,
    /// On the inner circle: a low spot.
    Inner,
}

/// A reading that fixes a zone.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Control {
    /// Position in the profile, counted from 0.
    pub reading: usize,
    /// The circle it lies on.
    pub side: Side,
}

/// A minimum zone and what proves it.
#[derive(Clone, Debug, PartialEq)]
pub struct Zone {
    /// Centre, mean radius of the two circles, and their distance as its roundness.
    pub circle: Circle,
    /// Radius of the inner circle, mm.
    pub inner: f64,
    /// Radius of the outer circle, mm.
    pub outer: f64,
    /// The readings that fix the zone, in order of angle about its centre: four, outer and inner by turns. Fewer only when there are no
    /// more places than three, through which one circle goes, or when two readings in one direction are alone as far apart as the zone is
    /// wide.
    pub controlling: Vec<Control>,
}

/// The minimum zone of the points, with proof.
///
/// **Local.** About a trial centre the distances are linear in a small shift `x` of the centre to first order,
/// `d_i - u_i . x - R`, with `u_i` the direction of point `i`: a Chebyshev fit in three unknowns. `{1, cos, sin}`
/// is a Haar system on the circle, so four points carry the answer, alternately farthest and nearest, and the
/// exchange of single points (Remez; Stiefel 1959, from memory) ends after finitely many steps because the levelled error
/// rises with each. The fit is repeated about the shifted centre with true distances until it stays. This is done on a few readings; then
/// all are looked at and the worst taken in, until none sticks out of the zone. The four that alternate are the
/// certificate: a shift to any side brings the outer ones out or the inner ones in.
///
/// **Global.** With `k` the slope of the width in the direction in which it rises least, read off the four points, and `r` the inner radius,
/// the width about a centre at distance `s` is at least `w + k s - s^2 / (2 (r - s))`, because an outer distance is convex
/// in the shift and an inner one falls behind its tangent by at most the last term. So no centre within `2 k r / (1 + 2 k)` is better. On the other
/// hand readings all round leave the zone when the centre moves by more than about `w / cos(gap / 2)`. Where the first circle
/// holds the second, the local answer is the global one; a profile within 1 percent of round mostly shows that at once, since `k` is seldom below 0.01. In all
/// other cases, however far from round, a branch and bound over the centre goes on until no centre has a zone narrower by more than
/// `1e-11 R`; a box is dropped by the linear model's level less the same second-order term. Derived here.
///
/// Centres considered are those within the farthest reading's distance of the local answer's centre; it is only
/// with a gap near half a turn that one farther away could be better.
///
/// # Errors
/// [`MetrologyError::Degenerate`] when the points lie in too few directions, [`MetrologyError::NotProven`] when the
/// bounds do not meet, [`MetrologyError::NotFinite`] for a reading that is not a number.
pub fn minimum_zone(profile: &Profile) -> Result<Zone, MetrologyError> {
    let points = profile.finite_points()?;
    match minimum_zone_from(&points, least_squares_circle(profile))? {
        (zone, None) => Ok(zone),
        (_, Some(not_proven)) => Err(not_proven),
    }
}

/// A zone, and why it is not known to be the narrowest if that could not be proven: then its width is what the out-of-roundness is at most.
pub(super) type Bounded = (Zone, Option<MetrologyError>);

/// The same by one who has the least-squares circle already, with the narrowest zone found where none narrower could be ruled out.
pub(super) fn zone_or_bound(profile: &Profile, start: Circle) -> Result<Bounded, MetrologyError> {
    let points = profile.finite_points()?;
    bounded(minimum_zone_from(&points, start), &points, start.centre)
}

/// A zone that could not be proven is taken about the centre at hand.
fn bounded(
    found: Result<Bounded, MetrologyError>,
    points: &[[f64; 2]],
    centre: [f64; 2],
) -> Result<Bounded, MetrologyError> {
    match found {
        Err(error @ MetrologyError::NotProven { .. }) => {
            let extremes = Extremes::of(points, centre);
            let zone = Certified {
                centre,
                extremes,
                controlling: Vec::new(),
                slope: 0.0,
            };
            Ok((zone.zone(points), Some(error)))
        }
        other => other,
    }
}

fn minimum_zone_from(points: &[[f64; 2]], start: Circle) -> Result<Bounded, MetrologyError> {
    let few = distinct(points);
    if few.len() < 4 {
        return Ok((zone_of_few(points, few, start)?, None));
    }
    let mut working = Working::around(points, start.centre);
    for reading in few {
        working.take(points, reading);
    }
    let mut land = Widths {
        points,
        working,
        reference: [0, 1, 2, 3],
        found: Vec::new(),
    };
    let floor = land.settle(start.centre)?;
    let reach = land.found[0].reach(points);
    let mut not_proven = None;
    if floor.free < reach {
        let tolerance = 1e-11 * land.found[0].extremes.outer;
        not_proven = Search::new(&mut land, vec![floor], floor.centre, reach)
            .lowest(tolerance)
            .err()
            .map(|up| MetrologyError::NotProven {
                width: up.found,
                lower_bound: up.bound,
            });
    }
    let width = |c: &Certified| c.extremes.width();
    let best = land
        .found
        .iter()
        .min_by(|a, b| width(a).total_cmp(&width(b)));
    best.map(|c| (c.zone(points), not_proven))
        .ok_or(MetrologyError::Degenerate)
}

/// Readings at different places, at most four.
fn distinct(points: &[[f64; 2]]) -> Vec<usize> {
    let mut found: Vec<usize> = Vec::new();
    for (i, p) in points.iter().enumerate() {
        if !found.iter().any(|&j| points[j] == *p) {
            found.push(i);
            if found.len() == 4 {
                break;
            }
        }
    }
    found
}

/// The circle through three places.
fn zone_of_few(
    points: &[[f64; 2]],
    mut few: Vec<usize>,
    circle: Circle,
) -> Result<Zone, MetrologyError> {
    if few.len() < 3 || circle.roundness > 1e-9 * circle.radius {
        return Err(MetrologyError::Degenerate);
    }
    sort_by_angle(&mut few, |&i| minus(points[i], circle.centre));
    let sides = [Side::Outer, Side::Inner, Side::Outer];
    Ok(Zone {
        circle,
        inner: circle.radius - 0.5 * circle.roundness,
        outer: circle.radius + 0.5 * circle.roundness,
        controlling: few
            .into_iter()
            .zip(sides)
            .map(|(reading, side)| Control { reading, side })
            .collect(),
    })
}

/// The width as a function of the centre.
struct Widths<'a> {
    points: &'a [[f64; 2]],
    working: Working,
    /// The last four of the working set, a good start for the next.
    reference: [usize; 4],
    found: Vec<Certified>,
}

/// A zone that no neighbouring centre makes narrower.
struct Certified {
    centre: [f64; 2],
    extremes: Extremes,
    controlling: Vec<Control>,
    slope: f64,
}

impl Certified {
    fn floor(&self) -> Floor {
        Floor {
            centre: self.centre,
            value: self.extremes.width(),
            free: 2.0 * self.slope * self.extremes.inner / (1.0 + 2.0 * self.slope),
        }
    }

    /// How far away a better centre can be, mm.
    ///
    /// With `R` and `r` the limits about this centre and `c = cos(gap / 2)`: for every direction there are readings within half a gap
    /// ahead and behind, so at a distance `s` the squares of their distances differ by `4 r s c - (R^2 - r^2)` or more; a width below
    /// `w` needs less than `w` times their sum, which is at most `2 sqrt(R^2 + s^2) + w`.
    fn reach(&self, points: &[[f64; 2]]) -> f64 {
        let Extremes {
            outer: high,
            inner: low,
            ..
        } = self.extremes;
        let width = high - low;
        let cosine = (0.5 * largest_gap(points, self.centre)).cos();
        if cosine <= 0.0 || low <= 0.0 {
            return high;
        }
        let mut reach = high;
        for _ in 0..8 {
            let sum = high + low + 2.0 * high.hypot(reach) + width;
            reach = reach.min(width * sum / (4.0 * low * cosine));
        }
        reach
    }

    fn zone(&self, points: &[[f64; 2]]) -> Zone {
        let mut controlling = self.controlling.clone();
        sort_by_angle(&mut controlling, |c| minus(points[c.reading], self.centre));
        let Extremes { outer, inner, .. } = self.extremes;
        Zone {
            circle: Circle {
                centre: self.centre,
                radius: 0.5 * (outer + inner),
                roundness: outer - inner,
            },
            inner,
            outer,
            controlling,
        }
    }
}

impl Widths<'_> {
    /// The exchange between a few readings and all.
    fn settle(&mut self, from: [f64; 2]) -> Result<Floor, MetrologyError> {
        let mut centre = from;
        for _ in 0..1000 {
            let (fit, levelled) = local(&self.working.points, centre, &mut self.reference)?;
            centre = fit.centre;
            let extremes = Extremes::of(self.points, centre);
            let proven = 2.0 * levelled.level;
            let rounding = ROUNDING * extremes.outer;
            let far = self.working.take(self.points, extremes.far);
            let near = self.working.take(self.points, extremes.near);
            if extremes.width() <= proven * (1.0 + 1e-12) + rounding
                || !(far || near) && extremes.width() <= proven * (1.0 + 1e-9) + 4.0 * rounding
            {
                let certified = self.certify(&fit, &levelled, extremes);
                let floor = certified.floor();
                self.found.push(certified);
                return Ok(floor);
            }
            if !(far || near) {
                return Err(MetrologyError::NotProven {
                    width: extremes.width(),
                    lower_bound: proven,
                });
            }
        }
        Err(MetrologyError::Degenerate)
    }

    fn certify(&self, fit: &Fit, levelled: &Levelled, extremes: Extremes) -> Certified {
        let control = |k: usize| Control {
            reading: self.working.readings[self.reference[k]],
            side: if levelled.outer[k] {
                Side::Outer
            } else {
                Side::Inner
            },
        };
        Certified {
            centre: fit.centre,
            extremes,
            controlling: (0..4)
                .filter(|&k| levelled.carries[k])
                .map(control)
                .collect(),
            slope: fit.slope(self.reference, levelled),
        }
    }
}

impl Landscape for Widths<'_> {
    fn bound(&mut self, centre: [f64; 2], reach: f64) -> (f64, [f64; 2]) {
        let fit = Fit::about(&self.working.points, centre);
        // no distance changes by more than the centre moves; in a valley this says more than the model
        let steepest = fit.width() - 2.0 * reach;
        let Ok(levelled) = fit.solve(&mut self.reference) else {
            return (steepest, centre);
        };
        let nearest = self
            .reference
            .map(|k| fit.rows[k][2] + fit.mean)
            .into_iter()
            .fold(f64::INFINITY, f64::min);
        let lowest = plus(centre, levelled.shift);
        if reach >= nearest {
            return (steepest, lowest);
        }
        let climb =
            fit.slope(self.reference, &levelled) * (length(levelled.shift) - reach).max(0.0);
        let behind = reach * reach / (2.0 * (nearest - reach));
        let modelled = 2.0 * levelled.level + climb - behind;
        (modelled.max(steepest), lowest)
    }

    fn look(&mut self, centre: [f64; 2]) -> f64 {
        let extremes = Extremes::of(self.points, centre);
        self.working.take(self.points, extremes.far);
        self.working.take(self.points, extremes.near);
        extremes.width()
    }

    fn descend(&mut self, from: [f64; 2]) -> Option<Floor> {
        self.settle(from).ok()
    }
}

/// The zone of a few points, about a centre that no neighbour betters.
fn local(
    points: &[[f64; 2]],
    from: [f64; 2],
    reference: &mut [usize; 4],
) -> Result<(Fit, Levelled), MetrologyError> {
    let mut fit = Fit::about(points, from);
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
            let trial = Fit::about(points, plus(fit.centre, [fraction * x, fraction * y]));
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
pub(super) struct Fit {
    centre: [f64; 2],
    mean: f64,
    low: f64,
    high: f64,
    /// Direction and departure of each point: `[u_x, u_y, d - mean]`.
    rows: Vec<[f64; 3]>,
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

    /// The model of rows given: `[u_x, u_y, departure]`.
    pub(super) fn of(rows: Vec<[f64; 3]>) -> Self {
        Self {
            centre: [0.0; 2],
            mean: 0.0,
            low: 0.0,
            high: 0.0,
            rows,
        }
    }

    /// Other departures in the same directions.
    pub(super) fn depart(&mut self, departure: impl Fn(usize) -> f64) {
        for (i, row) in self.rows.iter_mut().enumerate() {
            row[2] = departure(i);
        }
    }

    fn width(&self) -> f64 {
        self.high - self.low
    }

    /// Exchanges points of the reference until no point departs by more than its levelled error.
    pub(super) fn solve(&self, reference: &mut [usize; 4]) -> Result<Levelled, MetrologyError> {
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
    fn slope(&self, reference: [usize; 4], levelled: &Levelled) -> f64 {
        let of = |outer: bool| {
            (0..4)
                .filter(move |&k| levelled.carries[k] && levelled.outer[k] == outer)
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
            outer: w.map(|w| (w > 0.0) == (error >= 0.0)),
            carries: w.map(|w| w.abs() > 1e-12 * total),
        })
    }
}

/// The fit whose error is equal in size at the four readings of a reference.
pub(super) struct Levelled {
    shift: [f64; 2],
    radius: f64,
    /// Half width of the zone of these four, and so at most that of the best zone of the model.
    pub(super) level: f64,
    /// Which of the four depart outwards.
    outer: [bool; 4],
    /// Which have a multiplier: all four, unless two lie in one direction.
    carries: [bool; 4],
}

#[cfg(test)]
mod tests;
