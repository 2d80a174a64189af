//! Rigid faces against a surface: where a face stands when it first touches, and the gap it leaves.
//!
//! In the frame of a body's axis a face has one parameter, the position `c` of its arc's centre (of the plane itself
//! if it is flat) along the axis, and a polar radius `r(t; c)` at the angle `t` from the axis:
//!
//! - an arc seen from inside (a bored pad on the outside, a crown in a bore): `c cos t + sqrt(rho^2 - c^2 sin^2 t)`;
//! - an arc seen from outside (a crown on the outside): `c cos t - sqrt(rho^2 - c^2 sin^2 t)`;
//! - a plane: `c / cos t`.
//!
//! The gap along the part's radius is `r - R` outside and `R - r` in a bore. Derived here from the intersection of a
//! ray with a circle; the first form is the gap of a bored jaw.

use crate::geometry::Surface;
use crate::scheme::Face;

/// Points across a face that are scanned for the first touch; the best is then refined.
const TOUCH_SAMPLES: usize = 256;

/// Which branch of the circle faces the part.
#[derive(Clone, Copy, PartialEq)]
enum Branch {
    Near(f64),
    Far(f64),
    Plane,
}

fn branch(face: Face, surface: Surface) -> Branch {
    match (face, surface) {
        (Face::Concave { radius }, Surface::Outer) | (Face::Convex { radius }, Surface::Bore) => {
            Branch::Far(radius)
        }
        (Face::Convex { radius }, Surface::Outer) | (Face::Concave { radius }, Surface::Bore) => {
            Branch::Near(radius)
        }
        (Face::Flat, _) => Branch::Plane,
    }
}

/// Polar radius of a face at angle `t` (rad) from its axis, mm. A ray that misses the arc passes by the point where a tangent from
/// the part's axis touches it; that point's distance is taken, which leaves the gap open.
pub fn face_radius(face: Face, surface: Surface, c: f64, t: f64) -> f64 {
    let (s, k) = t.sin_cos();
    match branch(face, surface) {
        Branch::Far(rho) | Branch::Near(rho) if rho < (c * s).abs() => (c * c - rho * rho).sqrt(),
        Branch::Far(rho) => c * k + (rho * rho - c * c * s * s).sqrt(),
        Branch::Near(rho) => c * k - (rho * rho - c * c * s * s).sqrt(),
        Branch::Plane => c / k,
    }
}

/// Position `c` at which a face touches the point of polar radius `r` at angle `t`; NaN where it cannot.
fn touching(face: Face, surface: Surface, r: f64, t: f64) -> f64 {
    let (s, k) = t.sin_cos();
    match branch(face, surface) {
        Branch::Far(rho) => r * k - (rho * rho - r * r * s * s).sqrt(),
        Branch::Near(rho) => r * k + (rho * rho - r * r * s * s).sqrt(),
        Branch::Plane => r * k,
    }
}

/// Position at which a face coming from far away first touches a surface `radius(t)` for `t` between two angles (rad from its
/// axis); `None` if the face is too narrow for its arc (its circle does not reach the edges of the pad).
pub fn first_touch(
    face: Face,
    surface: Surface,
    [from, to]: [f64; 2],
    radius: impl Fn(f64) -> f64,
) -> Option<f64> {
    // outside the face comes inwards, so the largest position touches first; in a bore the smallest
    let sign = surface.outward();
    let at = |t: f64| sign * touching(face, surface, radius(t), t);
    let step = (to - from) / TOUCH_SAMPLES as f64;
    let mut best = (f64::NEG_INFINITY, 0.0);
    for k in 0..=TOUCH_SAMPLES {
        let t = from + step * k as f64;
        let c = at(t);
        if c.is_nan() {
            return None;
        }
        if c > best.0 {
            best = (c, t);
        }
    }
    // golden section between the neighbours of the best sample
    let (mut lo, mut hi) = ((best.1 - step).max(from), (best.1 + step).min(to));
    let ratio = 0.5 * (5.0_f64.sqrt() - 1.0);
    for _ in 0..40 {
        let (a, b) = (hi - ratio * (hi - lo), lo + ratio * (hi - lo));
        if at(a) < at(b) { lo = a } else { hi = b }
    }
    Some(sign * best.0.max(at(0.5 * (lo + hi))))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    /// A crown nearly as wide as its circle turns away so fast that rays to its edges miss it: there the gap is open and a number.
    #[test]
    fn rays_past_a_crown_leave_the_gap_open() {
        for (surface, c) in [(Surface::Outer, 52.5 + 10.0), (Surface::Bore, 52.5 - 10.0)] {
            let gap = |t| {
                let r = face_radius(Face::Convex { radius: 10.0 }, surface, c, t);
                surface.outward() * (r - 52.5)
            };
            assert!(gap(0.0).abs() < 1e-12);
            for k in 1..=19 {
                let (near, far) = (0.01 * f64::from(k - 1), 0.01 * f64::from(k));
                assert!(gap(far) >= gap(near), "{k}");
            }
        }
    }

    /// The closed forms of the first touch on a round ring: at the middle of an oversize bore, at the edges of an
    /// undersize one, at the middle of a flat pad or a crown.
    #[test]
    fn first_touch_of_a_round_ring() {
        let (ro, half) = (52.5, 0.19_f64);
        let touch = |face, surface| first_touch(face, surface, [-half, half], |_| ro).unwrap();
        let over = touch(Face::Concave { radius: 55.0 }, Surface::Outer);
        assert!((over - (ro - 55.0)).abs() < 1e-12);
        let under = touch(Face::Concave { radius: 50.0 }, Surface::Outer);
        let edge = ro * half.cos() - (50.0_f64.powi(2) - (ro * half.sin()).powi(2)).sqrt();
        assert!((under - edge).abs() < 1e-12);
        assert!((touch(Face::Flat, Surface::Outer) - ro).abs() < 1e-12);
        assert!((touch(Face::Convex { radius: 20.0 }, Surface::Outer) - (ro + 20.0)).abs() < 1e-12);
        assert!((touch(Face::Convex { radius: 12.0 }, Surface::Bore) - (ro - 12.0)).abs() < 1e-12);
        for (face, surface, c) in [
            (Face::Concave { radius: 55.0 }, Surface::Outer, over),
            (Face::Concave { radius: 50.0 }, Surface::Outer, under),
        ] {
            let gaps = (0..=40)
                .map(|k| face_radius(face, surface, c, half * f64::from(k - 20) / 20.0) - ro);
            assert!(gaps.fold(f64::INFINITY, f64::min).abs() < 1e-10);
        }
        assert!(
            first_touch(
                Face::Convex { radius: 5.0 },
                Surface::Outer,
                [-half, half],
                |_| ro
            )
            .is_none()
        );
    }
}
