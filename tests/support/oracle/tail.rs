//! What a sum over lobes leaves of the displacement under patches, in closed form.
//!
//! Waves far shorter than the wall see a half-plane: a pressure `p cos(n t)` on radius `r` moves the surface by `2 p r / (E n)` (plane stress). Of a patch of
//! half-angle `h` that is `2 F / (pi L E sin h)` times the sum of `sin(n h) cos(n t) / n^2`, whose whole is `(Cl(h + t) + Cl(h - t)) / 2` with Clausen's
//! function `Cl(x) = sum sin(n x) / n^2`. A patch a degree wide leaves half a thousandth to 3,000 terms.

use std::f64::consts::{PI, TAU};
use std::sync::OnceLock;

use ringwright_solver::geometry::Surface;

use super::series::{Annulus, RadialLoad};

/// The terms of the half-plane beyond so many on a surface.
pub struct Tail {
    /// Middle, half-angle and size (mm) of each patch.
    patches: Vec<[f64; 3]>,
    /// Cosine and sine parts of the first terms of them all, mm.
    first: Vec<[f64; 2]>,
}

impl Tail {
    /// Of the patches that lie on the surface.
    pub fn new(annulus: &Annulus, loads: &[RadialLoad], surface: Surface, terms: u32) -> Self {
        let of = |l: &RadialLoad| {
            let size =
                2.0 * l.force / (PI * annulus.length * annulus.young_modulus * l.half_angle.sin());
            [l.angle, l.half_angle, -surface.outward() * size]
        };
        let own = |l: &&RadialLoad| l.surface == surface && l.half_angle > 0.0;
        let patches: Vec<[f64; 3]> = loads.iter().filter(own).map(of).collect();
        let term = |n: f64| {
            patches.iter().fold([0.0, 0.0], |sum, [angle, half, size]| {
                let wave = size * (n * half).sin() / (n * n);
                let (s, c) = (n * angle).sin_cos();
                [sum[0] + wave * c, sum[1] + wave * s]
            })
        };
        Self {
            first: (1..=terms).map(|n| term(f64::from(n))).collect(),
            patches,
        }
    }

    /// Radial displacement at an angle, mm.
    pub fn at(&self, angle: f64) -> f64 {
        if self.patches.is_empty() {
            return 0.0;
        }
        let whole: f64 = self
            .patches
            .iter()
            .map(|[middle, half, size]| {
                let t = angle - middle;
                0.5 * size * (clausen(half + t) + clausen(half - t))
            })
            .sum();
        let (s, c) = angle.sin_cos();
        let (mut x, mut y) = (c, s);
        let mut first = 0.0;
        for [a, b] in &self.first {
            first += a * x + b * y;
            (x, y) = (x * c - y * s, x * s + y * c);
        }
        whole - first
    }
}

/// Coefficients of the powers of Clausen's function: `zeta(2 n) / (n (2 n + 1))` from `n = 1` on, and the same times `2^(2 n) - 1`.
fn coefficients() -> &'static [[f64; 2]] {
    static ALL: OnceLock<Vec<[f64; 2]>> = OnceLock::new();
    ALL.get_or_init(|| {
        // the sum with its integral and half its next term: what is left is below 1e-15
        let zeta = |n: i32| {
            let sum: f64 = (1..400).rev().map(|k| f64::from(k).powi(-n)).sum();
            sum + 400_f64.powi(1 - n) / f64::from(n - 1)
                + 0.5 * 400_f64.powi(-n)
                + f64::from(n) / 12.0 * 400_f64.powi(-n - 1)
        };
        let of = |n: i32| {
            let c = zeta(2 * n) / f64::from(n * (2 * n + 1));
            [c, c * (4_f64.powi(n) - 1.0)]
        };
        (1..40).map(of).collect()
    })
}

/// Clausen's function, `sum over n of sin(n x) / n^2`, from the power series of its derivative `-log(2 sin(x / 2))` about 0 and about `pi`
/// (Abramowitz and Stegun, 27.8; the terms derived here).
fn clausen(x: f64) -> f64 {
    let x = x - TAU * (x / TAU).round();
    let (sign, x) = (x.signum(), x.abs());
    if x == 0.0 {
        return 0.0;
    }
    let sum = |column: usize, y: f64| -> f64 {
        let square = (y / TAU).powi(2);
        let terms = coefficients().iter().rev();
        terms.fold(0.0, |sum, c| square * (c[column] + sum))
    };
    let value = if x < 0.5 * PI {
        // log(2 sin(t / 2)) = log t - sum of zeta(2 n) (t / 2 pi)^(2 n) / n
        x * (1.0 - x.ln() + sum(0, x))
    } else {
        // log(2 cos(t / 2)) = log 2 - sum of (2^(2 n) - 1) zeta(2 n) (t / 2 pi)^(2 n) / n
        let y = PI - x;
        y * (2_f64.ln() - sum(1, y))
    };
    sign * value
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Catalan's constant at a quarter turn; elsewhere the sum itself, whose error is below `1 / (n^2 x)`.
    #[test]
    fn clausens_function_is_its_sum() {
        assert!((clausen(0.5 * PI) - 0.915_965_594_177_219).abs() < 1e-14);
        for x in [1e-3, 0.3, 1.5, 1.6, 2.9, 4.0, -0.7] {
            let sum: f64 = (1..400_000)
                .rev()
                .map(f64::from)
                .map(|n| (n * x).sin() / (n * n))
                .sum();
            assert!((clausen(x) - sum).abs() < 1e-8, "{x}: {} {sum}", clausen(x));
        }
    }
}
