//! The radial compliance of both surfaces of a round ring to radial loads on either, fast enough for contact.

use std::f64::consts::TAU;

use super::{Annulus, BoundaryKernel, HarmonicField, Traction};
use crate::fourier::{self, Complex64};
use crate::geometry::Surface;

/// Decades of `exp(-2 n L)` that the table must show: coefficients beyond are below a ten-thousandth of a millionth.
const DECADES: f64 = 11.5;

/// Table points for each radian of the shortest wave that matters. Cubic interpolation then errs by less than `5e-8` of the whole.
const POINTS_A_WAVE: f64 = 6.0;

/// Bending lobes in the reciprocal of half the wall (of its logarithm).
const BENDING: f64 = 0.4;

/// Least and most points of a table.
const POINTS: [usize; 2] = [2048, 1 << 20];

/// Radial displacement (mm) over the angle from a unit outward line force (1 N over the length): [`BoundaryKernel`] with its series
/// tabulated.
///
/// One lobe needs a rule, since a single force does not balance. The displacement left out is a rigid shift that depends linearly on the
/// force, chosen so that forces and displacements of the two surfaces exchange; sums over forces that balance are right, with the mean
/// displacement of the bore zero.
#[derive(Clone, Debug)]
pub struct RingKernel {
    /// Coefficient of `-ln |t|`: `2 / (pi b E)` on the loaded surface, zero across the wall. mm/N.
    logarithm: f64,
    /// Coefficients of `cos(n t)` from 0, of the lobes that bend the ring far more than they dent it, mm/N.
    bending: Vec<f64>,
    /// The same, each for its cosine and for its sine.
    bending_twice: Vec<f64>,
    /// All but those and the logarithm, mm/N.
    regular: Table,
    /// All but the bending lobes, mm/N, from [`CLEAR`] points of the table on.
    local: Vec<f64>,
}

/// Points of the table from which on the logarithm is smooth enough to be tabulated too: cubic interpolation errs by `3 / 128 * 6 / t^4` of its factor,
/// `t` in points, here `3e-8`.
const CLEAR: usize = 48;

/// A function that is smooth over half a turn, at equal angles from one step before 0.
#[derive(Clone, Debug)]
struct Table {
    values: Vec<f64>,
    /// Points a radian.
    density: f64,
}

/// A division takes longer than all the rest of a look into the table.
const SIXTH: f64 = 1.0 / 6.0;

impl Table {
    /// By the cubic through the four points about `t` in `[0, pi]`.
    #[inline(always)]
    fn at(&self, t: f64) -> f64 {
        let (k, f) = self.place(t);
        cubic(&self.values, k, f)
    }

    /// The point before `t`, and how far on it is.
    #[inline(always)]
    fn place(&self, t: f64) -> (usize, f64) {
        let x = t * self.density;
        // at most 2^19 points: 32 bits are converted in one instruction
        let k = x as i32;
        (k as usize, x - f64::from(k))
    }
}

/// Cubic interpolation between the second and the third of four points from `k` on.
#[inline(always)]
fn cubic(values: &[f64], k: usize, f: f64) -> f64 {
    let (e, g, h) = (f + 1.0, f - 1.0, f - 2.0);
    match values.get(k..k + 4) {
        Some(&[a, b, c, d]) => {
            SIXTH * (g * h * (3.0 * e * b - f * a) + e * f * (g * d - 3.0 * h * c))
        }
        _ => f64::NAN,
    }
}

impl RingKernel {
    /// The kernel from forces on `loaded` to displacements of `read`.
    pub fn new(annulus: &Annulus, loaded: Surface, read: Surface) -> Self {
        let kernel = BoundaryKernel::within(annulus, loaded, read, 2.0 * DECADES);
        let mut coefficients = kernel.rest().to_vec();
        coefficients[1] = one_lobe(annulus, loaded, read);
        let points = POINTS_A_WAVE * DECADES / annulus.half_log_wall();
        let points = (points as usize)
            .next_power_of_two()
            .clamp(POINTS[0], POINTS[1]);
        let bending = bending_lobes(annulus) + 1;
        let mut low: Vec<f64> = coefficients
            .drain(..bending.min(coefficients.len()))
            .collect();
        low.resize(bending, 0.0);
        let mut spectrum = vec![Complex64::new(0.0, 0.0); points / 2 + 1];
        for (n, &c) in (bending..).zip(&coefficients).take(points / 2 - bending) {
            let half = if n == 0 { 1.0 } else { 0.5 };
            spectrum[n].re = half * c;
        }
        let rest = fourier::values(&spectrum, points);
        let step = TAU / points as f64;
        // the rest is even about 0 and half a turn, the closed part goes on smoothly beyond both
        let values: Vec<f64> = (-1..=points as i64 / 2 + 2)
            .map(|k| rest[k.rem_euclid(points as i64) as usize] + kernel.regular(step * k as f64))
            .collect();
        let logarithm = -kernel.logarithm();
        let local = (-1_i64..).zip(&values).map(|(k, v)| match k {
            k if k < CLEAR as i64 - 1 || logarithm == 0.0 => *v,
            k => v - logarithm * (step * k as f64).ln(),
        });
        Self {
            logarithm,
            local: local.collect(),
            bending_twice: low.iter().flat_map(|c| [*c; 2]).collect(),
            bending: low,
            regular: Table {
                values,
                density: points as f64 / TAU,
            },
        }
    }

    /// Coefficient of `-ln |t|` as `t` goes to 0, mm/N.
    pub fn logarithm(&self) -> f64 {
        self.logarithm
    }

    /// Coefficients of `cos(n t)` from 0, mm/N, of the lobes that [`RingKernel::local`] leaves out: those that bend the ring far more than
    /// they dent it. They are told apart because the dents would be lost in their rounding.
    pub fn bending(&self) -> &[f64] {
        &self.bending
    }

    /// [`Self::bending`], each coefficient twice: for its cosine and for its sine.
    #[inline(always)]
    pub fn bending_twice(&self) -> &[f64] {
        &self.bending_twice
    }

    /// Displacement at the angle difference `t` (rad) without the bending lobes, mm/N; infinite at 0 on the loaded surface.
    #[inline(always)]
    pub fn local(&self, t: f64) -> f64 {
        let t = angle(t);
        let (k, f) = self.regular.place(t);
        if k >= CLEAR || self.logarithm == 0.0 {
            return cubic(&self.local, k, f);
        }
        cubic(&self.regular.values, k, f) - self.logarithm * t.ln()
    }

    /// Sum of [`Self::local`] over four angle differences.
    #[inline(always)]
    pub fn local_sum(&self, t: [f64; 4]) -> f64 {
        let t = t.map(angle);
        let least = t[0].min(t[1]).min(t[2].min(t[3]));
        let (nearest, _) = self.regular.place(least);
        let smooth = nearest >= CLEAR || self.logarithm == 0.0;
        let values = match smooth {
            true => &self.local,
            false => &self.regular.values,
        };
        let mut sum = 0.0;
        for t in t {
            let (k, f) = self.regular.place(t);
            sum += cubic(values, k, f);
        }
        if smooth {
            return sum;
        }
        // one logarithm for the four
        sum - self.logarithm * ((t[0] * t[1]) * (t[2] * t[3])).ln()
    }

    /// Sum of [`Self::local`] between the points (rad from a centre, weight) of two loads whose centres are so far apart (rad); no two points are nearer than
    /// `clear`.
    #[inline(always)]
    pub fn local_between(
        &self,
        distance: f64,
        clear: f64,
        a: &[(f64, f64)],
        b: &[(f64, f64)],
    ) -> f64 {
        let (nearest, _) = self.regular.place(clear.min(0.5 * TAU));
        let mut sum = 0.0;
        if nearest >= CLEAR || self.logarithm == 0.0 {
            for (s, v) in a {
                for (t, w) in b {
                    let (k, f) = self.regular.place(angle(distance + t - s));
                    sum += v * w * cubic(&self.local, k, f);
                }
            }
        } else {
            for (s, v) in a {
                for (t, w) in b {
                    sum += v * w * self.local(distance + t - s);
                }
            }
        }
        sum
    }

    /// The same without its logarithm, `local(t) + logarithm * ln |t|`, mm/N: finite and nearly even about 0.
    #[inline(always)]
    pub fn regular(&self, t: f64) -> f64 {
        self.regular.at(angle(t))
    }
}

/// Lobes up to which a ring bends far more than it is dented: bending falls like the fourth power of their number, a dent like the
/// first.
pub fn bending_lobes(annulus: &Annulus) -> usize {
    (BENDING / annulus.half_log_wall()).ceil().clamp(8.0, 400.0) as usize
}

/// The size of an angle difference of less than three turns, in `[0, pi]`.
#[inline(always)]
fn angle(t: f64) -> f64 {
    let t = t.abs();
    let t = if t > 1.5 * TAU { t - TAU } else { t };
    if t > TAU {
        t - TAU
    } else if t > 0.5 * TAU {
        TAU - t
    } else {
        t
    }
}

/// Coefficient of one lobe, mm/N. For the balanced pair of forces `F` on the outside and `-F` in the bore the displacements are `A F`
/// and `B F` with the mean of the bore at rest; `A` on the outside alone and `-B` in the bore alone say the same and exchange.
///
/// To these comes a shift of the whole ring in proportion to the resultant, the same on both surfaces. It adds nothing to balanced loads,
/// and forces are balanced in the end; it makes the compliances of pressures that do not balance positive definite.
fn one_lobe(annulus: &Annulus, loaded: Surface, read: Surface) -> f64 {
    let [outer, bore] = [annulus.outer_radius, annulus.inner_radius];
    let shift = 0.5 * (outer + bore) / ((outer - bore) * annulus.young_modulus * annulus.length);
    if loaded != read {
        return shift;
    }
    let on = |r: f64| Traction {
        radial: 1.0 / (std::f64::consts::PI * annulus.length * r),
        tangential: 0.0,
    };
    let pair = HarmonicField::new(annulus, 1, on(outer), on(bore));
    let u = pair.at(annulus.radius(read)).radial_displacement;
    match read {
        Surface::Outer => shift + u,
        Surface::Bore => shift - u,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The bending lobes and the rest.
    fn whole(kernel: &RingKernel, t: f64) -> f64 {
        let lobes = kernel.bending().iter().enumerate();
        lobes.map(|(n, c)| c * (n as f64 * t).cos()).sum::<f64>() + kernel.local(t)
    }

    #[test]
    fn tables_give_the_kernel() {
        for wall in [0.2, 1.0, 5.0, 20.0] {
            let annulus = Annulus {
                inner_radius: 50.0 - wall,
                outer_radius: 50.0,
                young_modulus: 70_000.0,
                poisson_ratio: 0.33,
                length: 20.0,
            };
            for (loaded, read) in [
                (Surface::Outer, Surface::Outer),
                (Surface::Bore, Surface::Bore),
                (Surface::Outer, Surface::Bore),
                (Surface::Bore, Surface::Outer),
            ] {
                let table = RingKernel::new(&annulus, loaded, read);
                let exact = BoundaryKernel::new(&annulus, loaded, read);
                let size = exact.at(1.0).abs().max(exact.at(0.1).abs());
                // the rule for one lobe is another here
                let lobe = one_lobe(&annulus, loaded, read) - exact.rest()[1];
                for k in 1..400 {
                    let t = 3.1 * (f64::from(k) / 400.0).powi(3);
                    let (a, b) = (whole(&table, t), exact.at(t) + lobe * t.cos());
                    assert!(
                        (a - b).abs() < 5e-8 * size,
                        "{wall} {loaded:?} {read:?} {t}: {a} {b}"
                    );
                }
            }
        }
    }
}
