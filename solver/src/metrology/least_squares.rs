//! The least-squares circle: the sum of squared radial departures is least.

use super::{Circle, Profile, distances, limits};

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
    circle_through(&profile.points())
}

pub(super) fn circle_through(points: &[[f64; 2]]) -> Circle {
    let mut centre = algebraic_centre(points);
    let mut last_step = f64::INFINITY;
    for _ in 0..100 {
        let state = Derivatives::at(points, centre);
        let [dx, dy] = state.step();
        let size = dx.hypot(dy);
        if !size.is_finite() {
            break;
        }
        let mut fraction = 1.0;
        // Close in, rounding hides the fall of the sum, and Newton's step needs no check.
        if size > 1e-6 * state.radius {
            while fraction > 1e-9 {
                let trial = [centre[0] + fraction * dx, centre[1] + fraction * dy];
                if Derivatives::at(points, trial).sum < state.sum {
                    break;
                }
                fraction *= 0.5;
            }
        } else if size >= last_step {
            break;
        }
        centre = [centre[0] + fraction * dx, centre[1] + fraction * dy];
        if size < 1e-16 * state.radius {
            break;
        }
        last_step = size;
    }
    let d = distances(points, centre);
    let radius = d.iter().sum::<f64>() / d.len() as f64;
    let (low, high) = limits(&d);
    Circle {
        centre,
        radius,
        roundness: high - low,
    }
}

/// Centre of the algebraic fit (linear least squares of `x^2 + y^2 = 2 a x + 2 b y + c`): a start, not an answer.
fn algebraic_centre(points: &[[f64; 2]]) -> [f64; 2] {
    let n = points.len() as f64;
    let mean = points
        .iter()
        .fold([0.0, 0.0], |m, p| [m[0] + p[0] / n, m[1] + p[1] / n]);
    let (mut xx, mut xy, mut yy, mut xz, mut yz) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for p in points {
        let (x, y) = (p[0] - mean[0], p[1] - mean[1]);
        let z = x * x + y * y;
        xx += x * x;
        xy += x * y;
        yy += y * y;
        xz += x * z;
        yz += y * z;
    }
    let det = xx * yy - xy * xy;
    if det <= 1e-14 * (xx + yy).powi(2) {
        return mean;
    }
    [
        mean[0] + 0.5 * (yy * xz - xy * yz) / det,
        mean[1] + 0.5 * (xx * yz - xy * xz) / det,
    ]
}

struct Derivatives {
    radius: f64,
    sum: f64,
    gradient: [f64; 2],
    /// xx, xy, yy of the Gauss-Newton matrix.
    first_order: [f64; 3],
    /// What the curvature of the distances adds to it.
    curvature: [f64; 3],
}

impl Derivatives {
    fn at(points: &[[f64; 2]], centre: [f64; 2]) -> Self {
        let n = points.len() as f64;
        let d = distances(points, centre);
        let radius = d.iter().sum::<f64>() / n;
        let (mut sum, mut g, mut a, mut k, mut m) = (0.0, [0.0; 2], [0.0; 3], [0.0; 3], [0.0; 2]);
        for (p, &d) in points.iter().zip(&d) {
            if d == 0.0 {
                continue;
            }
            let (x, y) = ((p[0] - centre[0]) / d, (p[1] - centre[1]) / d);
            let e = d - radius;
            sum += e * e;
            g[0] -= e * x;
            g[1] -= e * y;
            m[0] += x;
            m[1] += y;
            let (xx, xy, yy) = (x * x, x * y, y * y);
            a[0] += xx;
            a[1] += xy;
            a[2] += yy;
            let q = e / d;
            k[0] += q * (1.0 - xx);
            k[1] -= q * xy;
            k[2] += q * (1.0 - yy);
        }
        Self {
            radius,
            sum,
            gradient: g,
            first_order: [
                a[0] - m[0] * m[0] / n,
                a[1] - m[0] * m[1] / n,
                a[2] - m[1] * m[1] / n,
            ],
            curvature: k,
        }
    }

    fn step(&self) -> [f64; 2] {
        let full = [
            self.first_order[0] + self.curvature[0],
            self.first_order[1] + self.curvature[1],
            self.first_order[2] + self.curvature[2],
        ];
        let [xx, xy, yy] = if full[0] > 0.0 && full[0] * full[2] - full[1] * full[1] > 0.0 {
            full
        } else {
            self.first_order
        };
        let det = xx * yy - xy * xy;
        let [gx, gy] = self.gradient;
        [-(yy * gx - xy * gy) / det, -(xx * gy - xy * gx) / det]
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
