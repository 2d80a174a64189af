//! The radial compliance of both surfaces of a round ring to radial loads on either, fast enough for contact.

use std::f64::consts::TAU;

use realfft::RealFftPlanner;
use realfft::num_complex::Complex;

use super::{Annulus, BoundaryKernel, HarmonicField, Traction};
use crate::geometry::Surface;

/// Decades of `exp(-2 n L)` that the table must show: coefficients beyond are below a ten-thousandth of a millionth.
const DECADES: f64 = 11.5;

/// Table points for each radian of the shortest wave that matters. Cubic interpolation then errs by less than `1e-9` of the whole.
const POINTS_A_WAVE: f64 = 8.0;

/// Least and most points of a table.
const POINTS: [usize; 2] = [4096, 1 << 20];

/// Cells of the table about the load within which the whole kernel is not interpolated: its logarithm is not smooth there.
const NEAR: f64 = 48.0;

/// Radial displacement (mm) over the angle from a unit outward line force (1 N over the length): [`BoundaryKernel`] with its series
/// tabulated.
///
/// One lobe needs a rule, since a single force does not balance. The displacement left out is a rigid shift that depends linearly on the
/// force, chosen so that forces and displacements of the two surfaces exchange; sums over forces that balance are right, with the mean
/// displacement of the bore zero.
#[derive(Clone, Debug)]
pub struct RingKernel {
    kernel: BoundaryKernel,
    /// Coefficient of `-ln |t|`: `2 / (pi b E)` on the loaded surface, zero across the wall. mm/N.
    logarithm: f64,
    /// The series part, mm/N.
    rest: Table,
    /// All of it, right beyond [`NEAR`] cells, mm/N.
    whole: Table,
}

/// An even periodic function at equal angles from 0, with a point before and two after the turn for interpolation.
#[derive(Clone, Debug)]
struct Table {
    values: Vec<f64>,
    /// Points a radian.
    density: f64,
}

impl Table {
    fn new(periodic: &[f64]) -> Self {
        let n = periodic.len();
        let mut values = Vec::with_capacity(n + 4);
        values.push(periodic[n - 1]);
        values.extend_from_slice(periodic);
        values.extend((0..3).map(|k| periodic[k % n]));
        Self {
            values,
            density: n as f64 / TAU,
        }
    }

    /// By the cubic through the four points about `t` in `[0, 2 pi]`.
    #[inline]
    fn at(&self, t: f64) -> f64 {
        let x = t * self.density;
        let k = x as usize;
        let f = x - k as f64;
        let [a, b, c, d] = [0, 1, 2, 3].map(|i| self.values[k + i]);
        let (g, h) = (f - 1.0, f - 2.0);
        let e = f + 1.0;
        -f * g * h * a / 6.0 + e * g * h * b / 2.0 - e * f * h * c / 2.0 + e * f * g * d / 6.0
    }
}

impl RingKernel {
    /// The kernel from forces on `loaded` to displacements of `read`.
    pub fn new(annulus: &Annulus, loaded: Surface, read: Surface) -> Self {
        let kernel = BoundaryKernel::new(annulus, loaded, read);
        let mut coefficients = kernel.rest().to_vec();
        coefficients[1] = one_lobe(annulus, loaded, read);
        let points = POINTS_A_WAVE * DECADES / annulus.half_log_wall();
        let points = (points as usize)
            .next_power_of_two()
            .clamp(POINTS[0], POINTS[1]);
        let mut spectrum = vec![Complex::new(0.0, 0.0); points / 2 + 1];
        for (n, &c) in coefficients.iter().enumerate().take(points / 2) {
            let half = if n == 0 { 1.0 } else { 0.5 };
            spectrum[n].re = half * c;
        }
        let mut values = vec![0.0; points];
        RealFftPlanner::new()
            .plan_fft_inverse(points)
            .process(&mut spectrum, &mut values)
            .expect("lengths agree");
        let rest = Table::new(&values);
        let near = NEAR * TAU / points as f64;
        let whole: Vec<f64> = values
            .iter()
            .enumerate()
            .map(|(k, &r)| {
                let t = TAU * k as f64 / points as f64;
                r + kernel.local(t.clamp(0.1 * near, TAU - 0.1 * near))
            })
            .collect();
        Self {
            logarithm: -kernel.logarithm(),
            whole: Table::new(&whole),
            rest,
            kernel,
        }
    }

    /// Coefficient of `-ln |t|` as `t` goes to 0, mm/N.
    pub fn logarithm(&self) -> f64 {
        self.logarithm
    }

    /// Displacement at the angle difference `t` (rad), mm/N; infinite at 0 on the loaded surface.
    #[inline]
    pub fn at(&self, t: f64) -> f64 {
        let t = angle(t);
        if self.logarithm == 0.0 || t * self.whole.density > NEAR {
            self.whole.at(t)
        } else {
            self.kernel.local(t) + self.rest.at(t)
        }
    }

    /// Displacement without its logarithm, `at(t) + logarithm * ln |t|`, mm/N: finite and nearly even about 0.
    #[inline]
    pub fn regular(&self, t: f64) -> f64 {
        if self.logarithm == 0.0 {
            return self.at(t);
        }
        let t = angle(t).max(f64::MIN_POSITIVE);
        self.at(t) + self.logarithm * t.ln()
    }
}

/// The size of an angle difference, in `[0, pi]`.
#[inline]
fn angle(t: f64) -> f64 {
    (t - TAU * (t / TAU).round()).abs()
}

/// Coefficient of one lobe, mm/N. For the balanced pair of forces `F` on the outside and `-F` in the bore the displacements are `A F`
/// and `B F` with the mean of the bore at rest; `A` on the outside alone and `-B` in the bore alone say the same and exchange.
fn one_lobe(annulus: &Annulus, loaded: Surface, read: Surface) -> f64 {
    if loaded != read {
        return 0.0;
    }
    let on = |r: f64| Traction {
        radial: 1.0 / (std::f64::consts::PI * annulus.length * r),
        tangential: 0.0,
    };
    let pair = HarmonicField::new(
        annulus,
        1,
        on(annulus.outer_radius),
        on(annulus.inner_radius),
    );
    let u = pair.at(annulus.radius(read)).radial_displacement;
    match read {
        Surface::Outer => u,
        Surface::Bore => -u,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

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
                    let (a, b) = (table.at(t), exact.at(t) + lobe * t.cos());
                    assert!(
                        (a - b).abs() < 1e-8 * size,
                        "{wall} {loaded:?} {read:?} {t}: {a} {b}"
                    );
                }
            }
        }
    }
}
