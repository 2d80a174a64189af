//! The least-squares circle: the sum of squared radial departures is least.

use super::{Circle, Profile};

/// The least-squares circle of the true distances.
///
/// Minimises `sum (d_i - R)^2` over the centre, with `d_i` the distance of point `i` and `R` their mean, by Newton's
/// method with the exact second derivatives; where these are not positive definite (far from the answer, or a
/// short arc) a step is the Gauss-Newton one, shortened until the sum falls. The answer is geometric, not the
/// algebraic fit of `x^2 + y^2` (Gander, Golub, Strebel 1994, BIT 34:558-578, show how far these can differ).
/// Points on one straight line have no least-squares circle; the best found so far is returned.
pub fn least_squares_circle(profile: &Profile) -> Circle {
    // equal readings are the circle that they lie on, and a search for it would tell rounding
    let radii = profile.radii();
    if radii.iter().all(|r| *r == radii[0]) {
        return Circle {
            centre: [0.0, 0.0],
            radius: radii[0],
            roundness: 0.0,
        };
    }
    let points = Points::new(profile.coordinates());
    let arch = pulp::Arch::new();
    // at equal angles twice the mean along each axis is the centre to first order
    let start = match profile.is_even() {
        true => arch.dispatch(Mean(&points)).map(|m| 2.0 * m),
        false => arch.dispatch(AlgebraicCentre(&points)),
    };
    circle_of(&points, start)
}

/// Share of the radius below which Newton's step leaves nothing that a number can hold: what it leaves goes with its square.
const LAST_STEP: f64 = 1e-9;

#[cfg(test)]
pub(super) fn circle_through(points: &[[f64; 2]]) -> Circle {
    let points = Points::new(points.iter().map(|p| (p[0], p[1])).unzip());
    let start = pulp::Arch::new().dispatch(AlgebraicCentre(&points));
    circle_of(&points, start)
}

/// The circle of points, from a centre near its own, mm.
fn circle_of(points: &Points, mut centre: [f64; 2]) -> Circle {
    let arch = pulp::Arch::new();
    let mut distances = vec![0.0; points.x.len()];
    let mut at = |centre: [f64; 2]| {
        let about = arch.dispatch(About {
            points,
            centre,
            distances: &mut distances,
        });
        let derivatives = Derive {
            points,
            centre,
            radius: about.radius,
            distances: &distances,
        };
        (about, arch.dispatch(derivatives))
    };
    let (mut about, mut derivatives) = at(centre);
    let mut last_step = f64::INFINITY;
    for _ in 0..100 {
        let radius = about.radius;
        let (newton, [dx, dy]) = derivatives.step();
        let size = dx.hypot(dy);
        if !size.is_finite() {
            break;
        }
        let moved = |fraction: f64| [centre[0] + fraction * dx, centre[1] + fraction * dy];
        let mut fraction = 1.0;
        // Close in, rounding hides the fall of the sum, and Newton's step needs no check.
        if size > 1e-6 * radius {
            let mut trial = at(moved(fraction));
            while fraction > 1e-9 && trial.1.sum >= derivatives.sum {
                fraction *= 0.5;
                trial = at(moved(fraction));
            }
            centre = moved(fraction);
            (about, derivatives) = trial;
            last_step = size;
            continue;
        }
        if size >= last_step {
            break;
        }
        centre = moved(fraction);
        if size < 1e-16 * radius || (newton && size < LAST_STEP * radius) {
            about = arch.dispatch(About {
                points,
                centre,
                distances: &mut distances,
            });
            break;
        }
        (about, derivatives) = at(centre);
        last_step = size;
    }
    Circle {
        centre,
        radius: about.radius,
        roundness: about.width,
    }
}

/// Cartesian coordinates of points, mm, filled up with copies of the first to a multiple of [`ABREAST`].
struct Points {
    x: Vec<f64>,
    y: Vec<f64>,
    count: f64,
    /// Weights of the last ones: nothing for copies.
    last: Abreast,
}

impl Points {
    fn new((mut x, mut y): (Vec<f64>, Vec<f64>)) -> Self {
        let count = x.len();
        let padded = count.next_multiple_of(ABREAST);
        x.resize(padded, x[0]);
        y.resize(padded, y[0]);
        let weight = |k: usize| f64::from(u8::from(padded - ABREAST + k < count));
        Self {
            x,
            y,
            count: count as f64,
            last: Abreast(std::array::from_fn(weight)),
        }
    }
}

/// Numbers that are worked on side by side. Sums go in as many parts, whatever the width of the processor's registers: the bits are the same everywhere.
#[derive(Clone, Copy)]
struct Abreast([f64; ABREAST]);
const ABREAST: usize = 4;

impl Abreast {
    const ZERO: Self = Self([0.0; ABREAST]);
    const ONE: Self = Self([1.0; ABREAST]);

    #[inline(always)]
    fn of(x: f64) -> Self {
        Self([x; ABREAST])
    }

    #[inline(always)]
    fn with(self, other: Self, each: impl Fn(f64, f64) -> f64) -> Self {
        Self(std::array::from_fn(|k| each(self.0[k], other.0[k])))
    }

    #[inline(always)]
    fn sqrt(self) -> Self {
        Self(std::array::from_fn(|k| self.0[k].sqrt()))
    }

    #[inline(always)]
    fn sum(self) -> f64 {
        (self.0[0] + self.0[1]) + (self.0[2] + self.0[3])
    }
}

impl std::ops::Add for Abreast {
    type Output = Self;
    #[inline(always)]
    fn add(self, other: Self) -> Self {
        self.with(other, |a, b| a + b)
    }
}

impl std::ops::Sub for Abreast {
    type Output = Self;
    #[inline(always)]
    fn sub(self, other: Self) -> Self {
        self.with(other, |a, b| a - b)
    }
}

impl std::ops::Mul for Abreast {
    type Output = Self;
    #[inline(always)]
    fn mul(self, other: Self) -> Self {
        self.with(other, |a, b| a * b)
    }
}

/// Works on lists side by side, whose lengths are a multiple of [`ABREAST`], each block with its weight. It is no function: a closure that is not inlined would
/// be compiled without the processor's vectors.
macro_rules! abreast {
    ($points:expr, |[$($name:ident = $list:expr),+], $weight:ident| $body:block) => {{
        $(let $name = $list.as_chunks::<ABREAST>().0;)+
        let blocks = $points.x.len() / ABREAST;
        for k in 0..blocks {
            $(let $name = Abreast($name[k]);)+
            let $weight = match k + 1 == blocks {
                true => $points.last,
                false => Abreast::ONE,
            };
            $body
        }
    }};
}

/// The mean of points.
struct Mean<'a>(&'a Points);

impl pulp::NullaryFnOnce for Mean<'_> {
    type Output = [f64; 2];

    #[inline(always)]
    fn call(self) -> [f64; 2] {
        let mut sums = [Abreast::ZERO; 2];
        abreast!(self.0, |[x = self.0.x, y = self.0.y], w| {
            sums[0] = sums[0] + w * x;
            sums[1] = sums[1] + w * y;
        });
        sums.map(|s| s.sum() / self.0.count)
    }
}

/// Centre of the algebraic fit (linear least squares of `x^2 + y^2 = 2 a x + 2 b y + c`): a start, not an answer.
struct AlgebraicCentre<'a>(&'a Points);

impl pulp::NullaryFnOnce for AlgebraicCentre<'_> {
    type Output = [f64; 2];

    #[inline(always)]
    fn call(self) -> [f64; 2] {
        let mean = Mean(self.0).call();
        let [a, b] = mean.map(Abreast::of);
        let mut sums = [Abreast::ZERO; 5];
        abreast!(self.0, |[x = self.0.x, y = self.0.y], w| {
            let (x, y) = (x - a, y - b);
            let (xx, yy) = (w * x * x, w * y * y);
            let z = xx + yy;
            let [s0, s1, s2, s3, s4] = sums;
            sums = [s0 + xx, s1 + w * x * y, s2 + yy, s3 + x * z, s4 + y * z];
        });
        let [xx, xy, yy, xz, yz] = sums.map(Abreast::sum);
        let det = xx * yy - xy * xy;
        if det <= 1e-14 * (xx + yy).powi(2) {
            return mean;
        }
        [
            mean[0] + 0.5 * (yy * xz - xy * yz) / det,
            mean[1] + 0.5 * (xx * yz - xy * xz) / det,
        ]
    }
}

/// The distances of points from a centre.
struct About<'a> {
    points: &'a Points,
    centre: [f64; 2],
    /// Where each is put.
    distances: &'a mut [f64],
}

/// Their mean, and the largest less the smallest.
struct Distances {
    radius: f64,
    width: f64,
}

impl pulp::NullaryFnOnce for About<'_> {
    type Output = Distances;

    #[inline(always)]
    fn call(self) -> Distances {
        let Points { x, y, count, .. } = self.points;
        let [a, b] = self.centre.map(Abreast::of);
        let mut sum = Abreast::ZERO;
        let (mut low, mut high) = (Abreast::of(f64::INFINITY), Abreast::of(f64::NEG_INFINITY));
        let mut distances = self.distances.as_chunks_mut::<ABREAST>().0.iter_mut();
        abreast!(self.points, |[x = x, y = y], w| {
            let (x, y) = (x - a, y - b);
            let d = (x * x + y * y).sqrt();
            sum = sum + w * d;
            low = low.with(d, |low, d| if d < low { d } else { low });
            high = high.with(d, |high, d| if d > high { d } else { high });
            if let Some(place) = distances.next() {
                *place = d.0;
            }
        });
        let low = low.0.into_iter().fold(f64::INFINITY, f64::min);
        let high = high.0.into_iter().fold(f64::NEG_INFINITY, f64::max);
        Distances {
            radius: sum.sum() / count,
            width: high - low,
        }
    }
}

/// The sum of squared departures from a radius about a centre, derived.
struct Derive<'a> {
    points: &'a Points,
    centre: [f64; 2],
    radius: f64,
    distances: &'a [f64],
}

struct Derivatives {
    sum: f64,
    gradient: [f64; 2],
    /// xx, xy, yy of the Gauss-Newton matrix.
    first_order: [f64; 3],
    /// What the curvature of the distances adds to it.
    curvature: [f64; 3],
}

impl pulp::NullaryFnOnce for Derive<'_> {
    type Output = Derivatives;

    #[inline(always)]
    fn call(self) -> Derivatives {
        let Points { x, y, count, .. } = self.points;
        let [a, b] = self.centre.map(Abreast::of);
        let radius = Abreast::of(self.radius);
        let mut all = [Abreast::ZERO; 10];
        let distances = self.distances;
        abreast!(self.points, |[x = x, y = y, d = distances], w| {
            // a point in the centre has no direction
            let per = d.with(w, |d, w| if d > 0.0 { w / d } else { 0.0 });
            let e = d - radius;
            let (x, y) = ((x - a) * per, (y - b) * per);
            let q = e * per;
            let [s0, s1, s2, s3, s4, s5, s6, s7, s8, s9] = all;
            all = [
                s0 + w * e * e,
                s1 - e * x,
                s2 - e * y,
                s3 + x,
                s4 + y,
                s5 + x * x,
                s6 + x * y,
                s7 + q,
                s8 + q * x * x,
                s9 + q * x * y,
            ];
        });
        let [sum, gx, gy, mx, my, xx, xy, q, qxx, qxy] = all.map(Abreast::sum);
        // unit vectors: their squares add up to one
        let n = *count;
        let (yy, qyy) = (n - xx, q - qxx);
        Derivatives {
            sum,
            gradient: [gx, gy],
            first_order: [xx - mx * mx / n, xy - mx * my / n, yy - my * my / n],
            curvature: [q - qxx, -qxy, q - qyy],
        }
    }
}

impl Derivatives {
    /// The step to the least sum, and whether it is Newton's.
    fn step(&self) -> (bool, [f64; 2]) {
        let full = [
            self.first_order[0] + self.curvature[0],
            self.first_order[1] + self.curvature[1],
            self.first_order[2] + self.curvature[2],
        ];
        let newton = full[0] > 0.0 && full[0] * full[2] - full[1] * full[1] > 0.0;
        let [xx, xy, yy] = if newton { full } else { self.first_order };
        let det = xx * yy - xy * xy;
        let [gx, gy] = self.gradient;
        let step = [-(yy * gx - xy * gy) / det, -(xx * gy - xy * gx) / det];
        (newton, step)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_circle_off_centre_is_found_exactly() {
        let points: Vec<[f64; 2]> = (0..720)
            .map(|k| {
                let t = std::f64::consts::TAU * f64::from(k) / 720.0;
                [0.5 + 50.0 * t.cos(), -1.25 + 50.0 * t.sin()]
            })
            .collect();
        let c = circle_through(&points);
        assert!((c.centre[0] - 0.5).abs() < 1e-13 && (c.centre[1] + 1.25).abs() < 1e-13);
        assert!((c.radius - 50.0).abs() < 1e-12 && c.roundness < 1e-13);
    }

    #[test]
    fn points_on_a_line_do_not_hang_or_panic() {
        let c = circle_through(&[[0.0, 0.0], [1.0, 1.0], [2.0, 2.0], [3.0, 3.0]]);
        assert!(c.roundness >= 0.0);
    }
}
