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
    /// All but those and the logarithm, mm/N.
    regular: Table,
}

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
    #[inline]
    fn at(&self, t: f64) -> f64 {
        let x = t * self.density;
        let k = x as usize;
        let f = x - k as f64;
        let (e, g, h) = (f + 1.0, f - 1.0, f - 2.0);
        match self.values.get(k..k + 4) {
            Some(&[a, b, c, d]) => {
                SIXTH * (g * h * (3.0 * e * b - f * a) + e * f * (g * d - 3.0 * h * c))
            }
            _ => f64::NAN,
        }
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
        let values = (-1..=points as i64 / 2 + 2)
            .map(|k| rest[k.rem_euclid(points as i64) as usize] + kernel.regular(step * k as f64))
            .collect();
        Self {
            logarithm: -kernel.logarithm(),
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

    /// Displacement at the angle difference `t` (rad) without the bending lobes, mm/N; infinite at 0 on the loaded surface.
    #[inline]
    pub fn local(&self, t: f64) -> f64 {
        let t = angle(t);
        let regular = self.regular.at(t);
        if self.logarithm == 0.0 {
            regular
        } else {
            regular - self.logarithm * t.ln()
        }
    }

    /// The same without its logarithm, `local(t) + logarithm * ln |t|`, mm/N: finite and nearly even about 0.
    #[inline]
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
#[inline]
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
