//! The minimum zone: two concentric circles, least radial distance apart, that hold the whole profile.

mod chebyshev;

use super::search::{
    Extremes, LocalMinimum, Objective, ROUNDING, Search, Working, length, minus, plus,
};
use super::{Circle, MetrologyError, Profile, largest_gap, least_squares_circle, sort_by_angle};
pub(super) use chebyshev::ChebyshevFit;
use chebyshev::{Levelled, local};

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
/// all are checked and the worst taken in, until none sticks out of the zone. The four that alternate are the
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
    let mut objective = Widths {
        points,
        working,
        reference: [0, 1, 2, 3],
        found: Vec::new(),
    };
    let minimum = objective.settle(start.centre)?;
    let reach = objective.found[0].reach(points);
    let mut not_proven = None;
    if minimum.free < reach {
        let tolerance = 1e-11 * objective.found[0].extremes.outer;
        not_proven = Search::new(&mut objective, vec![minimum], minimum.centre, reach)
            .lowest(tolerance)
            .err()
            .map(|up| MetrologyError::NotProven {
                width: up.found,
                lower_bound: up.bound,
            });
    }
    let width = |c: &Certified| c.extremes.width();
    let best = objective
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
    fn minimum(&self) -> LocalMinimum {
        LocalMinimum {
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
    fn settle(&mut self, from: [f64; 2]) -> Result<LocalMinimum, MetrologyError> {
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
                let minimum = certified.minimum();
                self.found.push(certified);
                return Ok(minimum);
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

    fn certify(&self, fit: &ChebyshevFit, levelled: &Levelled, extremes: Extremes) -> Certified {
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
                .filter(|&k| levelled.active[k])
                .map(control)
                .collect(),
            slope: fit.slope(self.reference, levelled),
        }
    }
}

impl Objective for Widths<'_> {
    fn bound(&mut self, centre: [f64; 2], reach: f64) -> (f64, [f64; 2]) {
        let fit = ChebyshevFit::about(&self.working.points, centre);
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

    fn evaluate(&mut self, centre: [f64; 2]) -> f64 {
        let extremes = Extremes::of(self.points, centre);
        self.working.take(self.points, extremes.far);
        self.working.take(self.points, extremes.near);
        extremes.width()
    }

    fn descend(&mut self, from: [f64; 2]) -> Option<LocalMinimum> {
        self.settle(from).ok()
    }
}

#[cfg(test)]
mod tests;
