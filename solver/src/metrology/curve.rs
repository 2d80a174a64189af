//! A closed smooth curve through readings, on which a contact can slide.

use std::f64::consts::TAU;
use std::sync::OnceLock;

use super::harmonics::with_spectrum;
use super::{
    Circle, Harmonic, MetrologyError, Profile, harmonics, highest_lobe, least_squares_circle,
    limits,
};
use crate::fourier;

/// Nodes a curve has at least: between nodes this close, 50 lobes are off by 2e-5 of their amplitude.
const NODES: usize = 3600;

/// A centre off the origin by less than this share of the radius is on it.
const CENTRED: f64 = 1e-12;

/// Unevenly spaced readings up to this many are joined by the lobes that they show; more lie close enough to be joined
/// one by one, and the fit would be slow.
const JOINED_BY_LOBES: usize = 400;

/// A closed smooth curve through the readings.
///
/// Equally spaced readings are joined by the trigonometric polynomial through them, which is exact for as many lobes as
/// they can show. Unevenly spaced ones, if they are few, give way to their least-squares fit by the lobes that they can show
/// ([`highest_lobe`]). The points so gained are joined by cubics in polar form, so that a circle stays a circle.
#[derive(Clone, Debug)]
pub struct Curve {
    centre: [f64; 2],
    radius: f64,
    about_origin: Polar,
    about_centre: Polar,
    hull: OnceLock<Hull>,
    /// Reach in [`DIRECTIONS`] equal directions from 0, each found when first asked for.
    reach: Vec<OnceLock<f64>>,
    /// Radii about the centre in the same directions.
    even: OnceLock<Vec<f64>>,
    smooth: OnceLock<bool>,
}

/// Directions in which the reach of a curve is kept: tenths of a degree, on which the usual Vs and a trace fall.
pub(super) const DIRECTIONS: usize = 3600;

/// Places of a trace that the first scan skips on smooth curves.
pub(super) const STRIDE: usize = 5;

impl Curve {
    /// The curve through a profile.
    ///
    /// # Errors
    /// [`MetrologyError::NotFinite`] for a reading that is not a number, [`MetrologyError::Degenerate`] when the readings do not
    /// go round their own centre.
    pub fn through(profile: &Profile) -> Result<Self, MetrologyError> {
        Self::about(profile, &least_squares_circle(profile))
    }

    /// The same by one who has the least-squares circle already.
    pub(super) fn about(profile: &Profile, circle: &Circle) -> Result<Self, MetrologyError> {
        let unsound = |i: &usize| !(profile.angle(*i) + profile.radii()[*i]).is_finite();
        if let Some(index) = (0..profile.len()).find(unsound) {
            return Err(MetrologyError::NotFinite { index });
        }
        let about_origin = nodes(profile);
        let [x, y] = circle.centre;
        let about_centre = if x.hypot(y) < CENTRED * circle.radius {
            about_origin.clone()
        } else {
            let place = |([c, s], r): ([f64; 2], &f64)| {
                let (px, py) = (r * c - x, r * s - y);
                // the lengths of a part neither overflow nor vanish
                (py.atan2(px), (px * px + py * py).sqrt())
            };
            let (angles, radii) = (&about_origin.angles, &about_origin.radii);
            let places = if profile.is_even() && profile.len() == angles.len() {
                let directions = profile.directions();
                directions.iter().copied().zip(radii).map(place).collect()
            } else {
                let direction = |t: &f64| [t.cos(), t.sin()];
                angles.iter().map(direction).zip(radii).map(place).collect()
            };
            Polar::through(places).ok_or(MetrologyError::Degenerate)?
        };
        Ok(Self {
            centre: circle.centre,
            radius: circle.radius,
            about_origin,
            about_centre,
            hull: OnceLock::new(),
            reach: vec![OnceLock::new(); DIRECTIONS],
            even: OnceLock::new(),
            smooth: OnceLock::new(),
        })
    }

    /// Whether the curve is a circle, to a millionth of a micrometre.
    pub(super) fn is_round(&self) -> bool {
        let (low, high) = limits(&self.about_centre.radii);
        high - low < 1e-9
    }

    /// Least-squares centre in the axes of the readings, mm.
    pub fn centre(&self) -> [f64; 2] {
        self.centre
    }

    /// Radius of the least-squares circle, mm.
    pub fn radius(&self) -> f64 {
        self.radius
    }

    /// Distance from the origin of the readings at an angle (rad), mm.
    pub fn from_origin(&self, angle: f64) -> f64 {
        self.about_origin.radius(angle)
    }

    /// Distance from the least-squares centre at an angle (rad) about it, mm.
    pub fn from_centre(&self, angle: f64) -> f64 {
        self.about_centre.radius(angle)
    }

    /// How far the curve reaches in a direction (rad) from its least-squares centre: where a flat contact square to it comes to rest,
    /// mm.
    pub(super) fn reach(&self, direction: f64) -> f64 {
        let hull = self.hull.get_or_init(|| Hull::of(&self.about_centre));
        hull.reach(&self.about_centre, direction)
    }

    /// The same in one of [`DIRECTIONS`] equal directions, counted round and round; kept, since gauges share them.
    pub(super) fn reach_at(&self, direction: usize) -> f64 {
        let k = direction % DIRECTIONS;
        *self.reach[k].get_or_init(|| self.reach(TAU * k as f64 / DIRECTIONS as f64))
    }

    /// [`Curve::from_centre`] in one of [`DIRECTIONS`] equal directions; kept, since gauges share them.
    pub(super) fn radius_at(&self, direction: usize) -> f64 {
        self.radii()[direction]
    }

    fn radii(&self) -> &[f64] {
        self.even.get_or_init(|| {
            let angle = |k: usize| TAU * k as f64 / DIRECTIONS as f64;
            (0..DIRECTIONS)
                .map(|k| self.from_centre(angle(k)))
                .collect()
        })
    }

    /// Whether every [`STRIDE`]th of [`DIRECTIONS`] places shows the curve to a thousandth of its height: what lies between them is
    /// then no more than what a cubic through them says.
    pub(super) fn is_smooth(&self) -> bool {
        *self.smooth.get_or_init(|| {
            let n = DIRECTIONS;
            let radii = self.radii();
            let (low, high) = limits(radii);
            // a round curve has no height, only rounding
            let allowed = (1e-3 * (high - low)).max(1e-10 * high);
            let at = |k: usize| radii[k % n];
            (0..n).step_by(STRIDE).all(|k| {
                let (a, b) = (at(k + n - STRIDE), at(k));
                let (c, d) = (at(k + STRIDE), at(k + 2 * STRIDE));
                (1..STRIDE).all(|j| {
                    let x = j as f64 / STRIDE as f64;
                    // Catmull and Rom's cubic through four
                    let bent = x * (2.0 * a - 5.0 * b + 4.0 * c - d + x * (3.0 * (b - c) + d - a));
                    let cubic = b + 0.5 * x * (c - a + bent);
                    (at(k + j) - cubic).abs() <= allowed
                })
            })
        })
    }
}

/// An angle in `[0, 2 pi)`: a tiny negative one rounds up to the whole turn, which is 0.
fn within_turn(angle: f64) -> f64 {
    // nearly every angle asked for lies within a turn of here, and a remainder costs as much as a sine
    let t = match angle {
        a if (0.0..TAU).contains(&a) => return a,
        a if (-TAU..0.0).contains(&a) => a + TAU,
        a if (TAU..2.0 * TAU).contains(&a) => a - TAU,
        a => a.rem_euclid(TAU),
    };
    if t < TAU { t } else { 0.0 }
}

/// Points close enough together to be joined by cubics.
fn nodes(profile: &Profile) -> Polar {
    let n = profile.len();
    let radii = profile.radii();
    let sampled = |radii: Vec<f64>| {
        let count = radii.len();
        let angle = |k: usize| TAU * k as f64 / count as f64;
        Polar::sorted(
            radii
                .into_iter()
                .enumerate()
                .map(|(k, r)| (angle(k), r))
                .collect(),
        )
    };
    match profile.angles {
        None if n < NODES => sampled(finer(radii, NODES.div_ceil(n))),
        None => sampled(radii.to_vec()),
        Some(_) if n <= JOINED_BY_LOBES => {
            let fit = Lobes::of(profile);
            sampled(
                (0..NODES)
                    .map(|k| fit.radius(TAU * k as f64 / NODES as f64))
                    .collect(),
            )
        }
        Some(angles) => Polar::sorted(
            angles
                .iter()
                .map(|&a| within_turn(a))
                .zip(radii.iter().copied())
                .collect(),
        ),
    }
}

/// The trigonometric polynomial through equally spaced values, at `times` as many places.
fn finer(values: &[f64], times: usize) -> Vec<f64> {
    let n = values.len();
    let spectrum = fourier::spectrum(values);
    let mut output = vec![0.0; n * times];
    with_spectrum(&mut output, |wide| {
        for (to, from) in wide.iter_mut().zip(&spectrum) {
            *to = from / n as f64;
        }
        // the highest wave of an even number of readings stands for both of its directions
        if n.is_multiple_of(2) && times > 1 {
            wide[n / 2] *= 0.5;
        }
    });
    output
}

/// The least-squares fit of unevenly spaced readings.
struct Lobes {
    mean: f64,
    terms: Vec<Harmonic>,
}

impl Lobes {
    fn of(profile: &Profile) -> Self {
        let mut fit = Self {
            mean: 0.0,
            terms: harmonics(profile, [0.0, 0.0], highest_lobe(profile).max(1)),
        };
        // what the fit leaves has no mean, so the mean of the readings without their lobes is that of the fit
        let n = profile.len();
        let left = (0..n).map(|k| profile.radii()[k] - fit.radius(profile.angle(k)));
        fit.mean = left.sum::<f64>() / n as f64;
        fit
    }

    fn radius(&self, angle: f64) -> f64 {
        let wave = |h: &Harmonic| {
            h.amplitude * (f64::from(h.count) * (angle - h.angle_deg.to_radians())).cos()
        };
        self.mean + self.terms.iter().map(wave).sum::<f64>()
    }
}

/// Radii over increasing angles in `[0, 2 pi)`, joined by cubics.
#[derive(Clone, Debug)]
struct Polar {
    angles: Vec<f64>,
    radii: Vec<f64>,
    /// `d radius / d angle`, from the parabola through each node and its neighbours.
    slopes: Vec<f64>,
    /// How many nodes lie at or before the start of each of as many equal arcs as there are nodes.
    first: Vec<u32>,
}

impl Polar {
    /// `None` unless the readings go round: every gap below half a turn.
    fn through(readings: Vec<(f64, f64)>) -> Option<Self> {
        let polar = Self::sorted(
            readings
                .into_iter()
                .map(|(t, r)| (within_turn(t), r))
                .collect(),
        );
        let round = (0..polar.angles.len()).all(|k| polar.step(k) < 0.5 * TAU);
        (round && polar.angles.len() >= 3).then_some(polar)
    }

    fn sorted(mut readings: Vec<(f64, f64)>) -> Self {
        readings.sort_by(|a, b| a.0.total_cmp(&b.0));
        // readings at one angle have no curve between them: the first stands
        readings.dedup_by(|b, a| b.0 - a.0 < 1e-12);
        let (angles, radii): (Vec<f64>, Vec<f64>) = readings.into_iter().unzip();
        let n = angles.len();
        let mut polar = Self {
            slopes: vec![0.0; n],
            first: Vec::new(),
            angles,
            radii,
        };
        for k in 0..n {
            let before = (k + n - 1) % n;
            let (h0, h1) = (polar.step(before), polar.step(k));
            let d0 = (polar.radii[k] - polar.radii[before]) / h0;
            let d1 = (polar.radii[(k + 1) % n] - polar.radii[k]) / h1;
            polar.slopes[k] = (d0 * h1 + d1 * h0) / (h0 + h1);
        }
        let mut before = 0;
        polar.first = (0..n)
            .map(|k| {
                let start = TAU * k as f64 / n as f64;
                while before < n && polar.angles[before] <= start {
                    before += 1;
                }
                before as u32
            })
            .collect();
        polar
    }

    /// Angle from a node to the next, rad.
    fn step(&self, node: usize) -> f64 {
        match self.angles.get(node + 1) {
            Some(next) => next - self.angles[node],
            None => self.angles[0] + TAU - self.angles[node],
        }
    }

    fn radius(&self, angle: f64) -> f64 {
        let n = self.angles.len();
        let t = within_turn(angle);
        let arc = ((t * n as f64 / TAU) as usize).min(n - 1);
        let mut next = self.first[arc] as usize;
        // the arc was found by a division, which may round up across its start
        while next > 0 && self.angles[next - 1] > t {
            next -= 1;
        }
        while next < n && self.angles[next] <= t {
            next += 1;
        }
        let node = (next + n - 1) % n;
        let past = t - self.angles[node];
        // before the first node the last one is a turn ahead
        let past = if past < 0.0 { past + TAU } else { past };
        self.within(node, past / self.step(node))[0]
    }

    /// Radius and its first two derivatives by the angle at a share of the way from a node to the next: Hermite's cubic.
    fn within(&self, node: usize, x: f64) -> [f64; 3] {
        let next = (node + 1) % self.angles.len();
        let h = self.step(node);
        let (r0, r1) = (self.radii[node], self.radii[next]);
        let (m0, m1) = (h * self.slopes[node], h * self.slopes[next]);
        let (c2, c3) = (3.0 * (r1 - r0) - 2.0 * m0 - m1, 2.0 * (r0 - r1) + m0 + m1);
        [
            r0 + x * (m0 + x * (c2 + x * c3)),
            (m0 + x * (2.0 * c2 + 3.0 * x * c3)) / h,
            (2.0 * c2 + 6.0 * x * c3) / (h * h),
        ]
    }

    /// The farthest place on the cubics on either side of a node, by Newton's method from the node.
    fn beside(&self, node: usize, direction: f64) -> f64 {
        let n = self.angles.len();
        let (s, c) = (self.angles[node] - direction).sin_cos();
        let forward = self.slopes[node] * c - self.radii[node] * s > 0.0;
        let (from, mut x) = if forward {
            (node, 0.0)
        } else {
            ((node + n - 1) % n, 1.0)
        };
        let h = self.step(from);
        let mut reach = f64::NEG_INFINITY;
        for _ in 0..8 {
            let [radius, slope, bend] = self.within(from, x);
            let (s, c) = (self.angles[from] + x * h - direction).sin_cos();
            reach = radius * c;
            let turn = bend * c - 2.0 * slope * s - radius * c;
            let next = (x - (slope * c - radius * s) / (turn * h)).clamp(0.0, 1.0);
            if (next - x).abs() < 1e-9 || turn >= 0.0 {
                break;
            }
            x = next;
        }
        reach
    }
}

/// The convex hull of a curve's nodes, by which its support function is found: how far it reaches in a direction.
#[derive(Clone, Debug)]
struct Hull {
    /// Counter-clockwise.
    nodes: Vec<usize>,
    /// Direction square to the side from each node to the next, rad, rising: beyond it the next node is the farthest.
    turns: Vec<f64>,
}

impl Hull {
    fn of(curve: &Polar) -> Self {
        let points: Vec<[f64; 2]> = curve
            .angles
            .iter()
            .zip(&curve.radii)
            .map(|(t, r)| [r * t.cos(), r * t.sin()])
            .collect();
        let n = points.len();
        let turns_left = |a: usize, b: usize, c: usize| {
            let ([ax, ay], [bx, by], [cx, cy]) = (points[a], points[b], points[c]);
            (bx - ax) * (cy - ay) - (by - ay) * (cx - ax) > 0.0
        };
        // the farthest node is on the hull, so that one round from it and back needs no second scan
        let start = (0..n)
            .max_by(|&a, &b| curve.radii[a].total_cmp(&curve.radii[b]))
            .unwrap_or(0);
        let mut hull = vec![start];
        for k in 1..=n {
            let node = (start + k) % n;
            while hull.len() >= 2 && !turns_left(hull[hull.len() - 2], hull[hull.len() - 1], node) {
                hull.pop();
            }
            hull.push(node);
        }
        hull.pop();
        let m = hull.len();
        let mut turns = Vec::with_capacity(m);
        let mut before = f64::NEG_INFINITY;
        for k in 0..m {
            let ([ax, ay], [bx, by]) = (points[hull[k]], points[hull[(k + 1) % m]]);
            let mut turn = (ax - bx).atan2(by - ay);
            while turn < before {
                turn += TAU;
            }
            before = turn;
            turns.push(turn);
        }
        Self { nodes: hull, turns }
    }

    /// Reach in a direction (rad), mm.
    fn reach(&self, curve: &Polar, direction: f64) -> f64 {
        let first = self.turns[0];
        let from = first + within_turn(direction - first);
        let at = self.turns.partition_point(|&t| t <= from) % self.nodes.len();
        let node = self.nodes[at];
        let there = curve.radii[node] * (curve.angles[node] - direction).cos();
        there.max(curve.beside(node, direction))
    }
}

#[cfg(test)]
mod tests;
