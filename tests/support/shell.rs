//! Thin cylindrical shells, harmonic by harmonic, by Sanders's and Koiter's strains of the middle surface: an answer on pinched tubes that owes nothing to
//! elements through the wall.
//!
//! Displacements of the middle surface are `U cos k theta` along the axis, `V sin k theta` around and `W cos k theta` outwards. Source: Sanders, *An improved
//! first-approximation theory for thin shells*; Koiter, *A consistent first approximation* (strains from memory).

use std::f64::consts::PI;

use nalgebra::{DMatrix, DVector};

/// A shell: lengths in mm, modulus in MPa.
#[derive(Clone, Copy, Debug)]
pub struct Shell {
    /// Radius of the middle surface.
    pub radius: f64,
    /// Wall.
    pub wall: f64,
    /// Length from end to end.
    pub length: f64,
    /// Young's modulus.
    pub young_modulus: f64,
    /// Poisson's ratio.
    pub poisson_ratio: f64,
}

/// A displacement `[U, V, W]` along the axis with its first and second derivatives.
type Jet = [[f64; 3]; 3];

impl Shell {
    /// Strains along, around and of shear, then curvatures along, around and twice the twist.
    fn strains(&self, k: f64, [[u, v, w], [du, dv, dw], [_, _, ddw]]: &Jet) -> [f64; 6] {
        let r = self.radius;
        [
            *du,
            (k * v + w) / r,
            dv - k * u / r,
            -ddw,
            k * (k * w + v) / (r * r),
            2.0 * k * dw / r + 1.5 * dv / r + 0.5 * k * u / (r * r),
        ]
    }

    /// Twice the energy per area of two states.
    fn product(&self, a: &[f64; 6], b: &[f64; 6]) -> f64 {
        let nu = self.poisson_ratio;
        let stretch = self.young_modulus * self.wall / (1.0 - nu * nu);
        let bend = stretch * self.wall * self.wall / 12.0;
        let plate = |a: &[f64], b: &[f64]| {
            a[0] * b[0]
                + a[1] * b[1]
                + nu * (a[0] * b[1] + a[1] * b[0])
                + 0.5 * (1.0 - nu) * a[2] * b[2]
        };
        stretch * plate(&a[..3], &b[..3]) + bend * plate(&a[3..], &b[3..])
    }

    /// `pi`, or `2 pi` where nothing varies around, by the radius.
    fn turn(&self, k: u32) -> f64 {
        self.radius * if k == 0 { 2.0 * PI } else { PI }
    }

    /// Displacement inwards under one of two opposite forces of 1 N half-way between rigid end discs that leave the axis free; its even harmonic `k`. The
    /// sum over half-waves along the axis, each of which is exact.
    pub fn pinched_between_discs(&self, k: u32) -> f64 {
        let kf = f64::from(k);
        let one = |m: u32| {
            let a = f64::from(m) * PI / self.length;
            // U goes with the cosine along the axis, so what is of one kind there stands in one place of a jet
            let states = [
                [[1.0, 0.0, 0.0], [-a, 0.0, 0.0], [0.0; 3]],
                [[0.0, 1.0, 0.0], [0.0, a, 0.0], [0.0; 3]],
                [[0.0, 0.0, 1.0], [0.0, 0.0, a], [0.0, 0.0, -a * a]],
            ]
            .map(|jet| self.strains(kf, &jet));
            let matrix = DMatrix::from_fn(3, 3, |i, j| self.product(&states[i], &states[j]));
            // nothing turns in harmonic 0
            let kept = if k == 0 { vec![0, 2] } else { vec![0, 1, 2] };
            let kept_matrix = matrix.select_rows(&kept).select_columns(&kept);
            let mut load = DVector::zeros(kept.len());
            load[kept.len() - 1] = 1.0;
            let moved = kept_matrix
                .lu()
                .solve(&load)
                .expect("a shell held at its ends is stiff");
            moved[kept.len() - 1]
        };
        let most = 40 * k + 2000;
        let sum: f64 = (1..most).step_by(2).map(one).sum();
        2.0 * sum / (self.turn(k) * 0.5 * self.length)
    }

    /// Displacement inwards under one of two opposite forces of 1 N half-way along a shell with free ends; its even harmonic `k`. Polynomials up to a
    /// degree over half of the length, by least energy.
    pub fn pinched_with_free_ends(&self, k: u32, degree: usize) -> f64 {
        let half = 0.5 * self.length;
        let kf = f64::from(k);
        let count = degree + 1;
        let size = 3 * count;
        // the middle stays in its plane and level; in harmonic 0 nothing turns
        let rules = if k == 0 { 3 } else { 2 };
        let mut matrix = DMatrix::<f64>::zeros(size + rules, size + rules);
        for (x, weight) in gauss(count + 2) {
            let jets = legendre(x, degree, 2.0 / half);
            let states: Vec<[f64; 6]> = (0..size)
                .map(|i| {
                    let mut jet = [[0.0; 3]; 3];
                    for d in 0..3 {
                        jet[d][i / count] = jets[i % count][d];
                    }
                    self.strains(kf, &jet)
                })
                .collect();
            let weight = weight * 0.5 * half * self.turn(k);
            for i in 0..size {
                for j in 0..size {
                    matrix[(i, j)] += weight * self.product(&states[i], &states[j]);
                }
            }
        }
        let scale = matrix[(2 * count, 2 * count)].abs();
        let start = legendre(-1.0, degree, 2.0 / half);
        let mut load = DVector::zeros(size + rules);
        for j in 0..count {
            let rows = [
                (j, start[j][0]),
                (2 * count + j, start[j][1] * half),
                (count + j, start[j][0]),
            ];
            for (rule, (at, value)) in rows.into_iter().take(rules).enumerate() {
                matrix[(size + rule, at)] = scale * value;
                matrix[(at, size + rule)] = scale * value;
            }
            load[2 * count + j] = start[j][0];
        }
        let moved = matrix.lu().solve(&load).expect("a pinched tube is stiff");
        (0..count).map(|j| start[j][0] * moved[2 * count + j]).sum()
    }
}

/// Legendre polynomials up to a degree at `x`, with two derivatives by a variable that runs `slope` times as slowly.
fn legendre(x: f64, degree: usize, slope: f64) -> Vec<[f64; 3]> {
    let mut all = vec![[1.0, 0.0, 0.0], [x, 1.0, 0.0]];
    for n in 1..degree {
        let (a, b) = ((2 * n + 1) as f64, n as f64);
        let [p, q] = [all[n], all[n - 1]];
        let over = 1.0 / (b + 1.0);
        all.push([
            over * (a * x * p[0] - b * q[0]),
            q[1] + a * p[0],
            q[2] + a * p[1],
        ]);
    }
    all.iter_mut().for_each(|jet| {
        jet[1] *= slope;
        jet[2] *= slope * slope;
    });
    all
}

/// Gauss's rule of `n` points on `[-1, 1]`.
fn gauss(n: usize) -> Vec<(f64, f64)> {
    (0..n)
        .map(|i| {
            let mut x = (PI * (i as f64 + 0.75) / (n as f64 + 0.5)).cos();
            for _ in 0..20 {
                let jet = legendre(x, n, 1.0)[n];
                x -= jet[0] / jet[1];
            }
            let slope = legendre(x, n, 1.0)[n][1];
            (x, 2.0 / ((1.0 - x * x) * slope * slope))
        })
        .collect()
}
