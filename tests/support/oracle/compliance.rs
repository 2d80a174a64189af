//! Displacement of the loaded surface under a piecewise linear pressure on one half pad, repeated and mirrored round the ring.

use super::series::{Annulus, BoundaryKernel};
use ringwright_solver::geometry::Surface;
use std::f64::consts::{PI, TAU};

/// Points and weights of Gauss's rule on `(-1, 1)`.
pub fn gauss(points: usize) -> Vec<(f64, f64)> {
    let n = points as f64;
    (0..points)
        .map(|k| {
            let mut x = (PI * (k as f64 + 0.75) / (n + 0.5)).cos();
            let mut slope = 1.0;
            for _ in 0..60 {
                // Legendre's three-term recurrence
                let (mut p, mut before) = (1.0, 0.0);
                for j in 0..points {
                    let j = j as f64;
                    (p, before) = (((2.0 * j + 1.0) * x * p - j * before) / (j + 1.0), p);
                }
                slope = n * (x * p - before) / (x * x - 1.0);
                x -= p / slope;
            }
            (x, 2.0 / ((1.0 - x * x) * slope * slope))
        })
        .collect()
}

/// `integral of hat_k cos(n t)` over the half pad, for each node, exactly.
pub fn moments(nodes: &[f64], n: u32) -> Vec<f64> {
    let n = f64::from(n);
    let mut moments = vec![0.0; nodes.len()];
    for (k, pair) in nodes.windows(2).enumerate() {
        let (middle, half) = (0.5 * (pair[0] + pair[1]), 0.5 * (pair[1] - pair[0]));
        let x = n * half;
        // averages over (-1, 1) of cos(x s) and of s sin(x s)
        let (even, odd) = if x.abs() < 1e-2 {
            (
                1.0 - x * x / 6.0 + x.powi(4) / 120.0,
                x / 3.0 - x.powi(3) / 30.0,
            )
        } else {
            (x.sin() / x, (x.sin() - x * x.cos()) / (x * x))
        };
        let (s, c) = (n * middle).sin_cos();
        moments[k] += half * (c * even + s * odd);
        moments[k + 1] += half * (c * even - s * odd);
    }
    moments
}

/// `sum a_k cos(k t)` by Clenshaw's recurrence.
pub fn cosine_sum(a: &[f64], t: f64) -> f64 {
    let c = 2.0 * t.cos();
    let (mut one, mut two) = (0.0, 0.0);
    for a in a.iter().skip(1).rev() {
        (one, two) = (a + c * one - two, one);
    }
    a[0] + 0.5 * c * one - two
}

/// Everything that does not depend on the pressure nodes.
pub struct Compliance {
    pub annulus: Annulus,
    pub surface: Surface,
    pub count: u32,
    kernel: BoundaryKernel,
    rule: Vec<(f64, f64)>,
    far_rule: Vec<(f64, f64)>,
}

impl Compliance {
    pub fn new(annulus: Annulus, surface: Surface, count: u32) -> Self {
        Self {
            annulus,
            surface,
            count,
            kernel: BoundaryKernel::new(&annulus, surface, surface),
            rule: gauss(8),
            far_rule: gauss(4),
        }
    }

    /// Force per radian of a unit pressure, N.
    pub fn force_density(&self) -> f64 {
        self.annulus.length * self.annulus.radius(self.surface)
    }

    /// Lobe counts that the rest of the kernel needs.
    fn rest_counts(&self) -> impl Iterator<Item = u32> {
        (0..self.kernel.rest().len() as u32).step_by(self.count as usize)
    }

    /// Rows of the compliance: displacement towards the metal (mm) at each of `at` for unit pressure at each node.
    pub fn rows(&self, at: &[f64], nodes: &[f64]) -> Vec<Vec<f64>> {
        let mut rows: Vec<Vec<f64>> = at.iter().map(|&t| self.local_row(t, nodes)).collect();
        // the smooth rest is a sum of products; N images twice (mirrored) leave 2 N times the multiples of N
        for n in self.rest_counts() {
            let factor = 2.0 * f64::from(self.count) * self.kernel.rest()[n as usize];
            let moments = moments(nodes, n);
            for (row, t) in rows.iter_mut().zip(at) {
                let value = factor * (f64::from(n) * t).cos();
                for (r, m) in row.iter_mut().zip(&moments) {
                    *r += value * m;
                }
            }
        }
        let density = self.force_density();
        for r in rows.iter_mut().flatten() {
            *r *= density;
        }
        rows
    }

    /// Displacement towards the metal (mm) at each of `at` for a pressure given at the nodes: the product of [`Self::rows`] with it, without
    /// making the rest's matrix.
    pub fn displacements(&self, at: &[f64], nodes: &[f64], pressure: &[f64]) -> Vec<f64> {
        let product = |row: &[f64]| -> f64 { row.iter().zip(pressure).map(|(c, p)| c * p).sum() };
        let rest: Vec<f64> = self
            .rest_counts()
            .map(|n| {
                2.0 * f64::from(self.count)
                    * self.kernel.rest()[n as usize]
                    * product(&moments(nodes, n))
            })
            .collect();
        let density = self.force_density();
        at.iter()
            .map(|&t| {
                let local = product(&self.local_row(t, nodes));
                density * (local + cosine_sum(&rest, f64::from(self.count) * t))
            })
            .collect()
    }

    /// The closed-form part of the kernel, integrated against every shape function.
    fn local_row(&self, t: f64, nodes: &[f64]) -> Vec<f64> {
        let mut row = vec![0.0; nodes.len()];
        let pitch = TAU / f64::from(self.count);
        for image in 0..self.count {
            for mirrored in [1.0, -1.0] {
                let p = mirrored * t + pitch * f64::from(image);
                for (k, pair) in nodes.windows(2).enumerate() {
                    let middle = 0.5 * (pair[0] + pair[1]);
                    // the copy of the reading point nearest to this element
                    let p = p - TAU * ((p - middle) / TAU).round();
                    let [first, second] = self.element(pair[0], pair[1], p);
                    row[k] += first;
                    row[k + 1] += second;
                }
            }
        }
        row
    }

    /// Integral of the local kernel about `p` against the two shape functions of the element from `a` to `b`.
    fn element(&self, a: f64, b: f64, p: f64) -> [f64; 2] {
        let h = b - a;
        let smooth = |rule: &[(f64, f64)], from: f64, to: f64, kernel: &dyn Fn(f64) -> f64| {
            let (middle, half) = (0.5 * (from + to), 0.5 * (to - from));
            rule.iter().fold([0.0; 2], |sum, &(x, w)| {
                let s = middle + half * x;
                let value = w * half * kernel(s - p);
                [sum[0] + value * (b - s) / h, sum[1] + value * (s - a) / h]
            })
        };
        if p < a - h || p > b + h {
            // four points are good to 1e-10 beyond four lengths, eight beyond one
            let far = p < a - 4.0 * h || p > b + 4.0 * h;
            let rule = if far { &self.far_rule } else { &self.rule };
            return smooth(rule, a, b, &|x| self.kernel.local(x));
        }
        // the logarithm exactly, the rest (a kink at p, and x^2 ln x) by quadrature on each side
        let log = self.kernel.logarithm();
        let rest = |x: f64| {
            if x == 0.0 {
                0.0
            } else {
                self.kernel.local(x) - log * x.abs().ln()
            }
        };
        let mut sum = if a < p && p < b {
            let (l, r) = (
                smooth(&self.rule, a, p, &rest),
                smooth(&self.rule, p, b, &rest),
            );
            [l[0] + r[0], l[1] + r[1]]
        } else {
            smooth(&self.rule, a, b, &rest)
        };
        let zeroth = |x: f64| if x == 0.0 { 0.0 } else { x * x.abs().ln() - x };
        let first = |x: f64| {
            if x == 0.0 {
                0.0
            } else {
                0.5 * x * x * x.abs().ln() - 0.25 * x * x
            }
        };
        let i0 = zeroth(b - p) - zeroth(a - p);
        let i1 = (first(b - p) - first(a - p) - (a - p) * i0) / h;
        sum[0] += log * (i0 - i1);
        sum[1] += log * i1;
        sum
    }
}
