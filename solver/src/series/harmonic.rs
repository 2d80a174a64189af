//! The answer for one lobe count.

use super::Annulus;

/// Stress amplitudes prescribed on one surface: `s_rr = radial cos(n theta)`, `s_rt = tangential sin(n theta)`.
///
/// These are stress components, not tractions along the outward normal: a pressure is a negative `radial` on either surface.
/// For `n = 0` the tangential one is constant round the ring.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Traction {
    /// Amplitude of `s_rr`, MPa.
    pub radial: f64,
    /// Amplitude of `s_rt`, MPa.
    pub tangential: f64,
}

/// Amplitudes at one radius; radial ones and normal stresses go with `cos(n theta)`, tangential ones with `sin(n theta)`.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Amplitudes {
    /// `u_r`, mm.
    pub radial_displacement: f64,
    /// `u_t`, mm.
    pub tangential_displacement: f64,
    /// `s_rr`, MPa.
    pub radial_stress: f64,
    /// `s_tt`, MPa.
    pub hoop_stress: f64,
    /// `s_rt`, MPa.
    pub shear_stress: f64,
}

/// Displacement and stress for one lobe count, anywhere in the wall.
#[derive(Clone, Debug)]
pub struct HarmonicField {
    annulus: Annulus,
    count: u32,
    kind: StressFunction,
}

#[derive(Clone, Debug)]
enum StressFunction {
    /// `s_rr = a + c / r^2`, `s_rt = shear / r^2`.
    Even { a: f64, c: f64, shear: f64 },
    /// `phi = r (ln_part s + cosh cosh 2s + sinh sinh 2s) cos(theta) + force r theta sin(theta)`, plus a shift along x.
    Shift {
        ln_part: f64,
        cosh: f64,
        sinh: f64,
        force: f64,
        shift: f64,
    },
    /// `f = sum c_k basis_k`.
    Lobes([f64; 4]),
}

/// Values of the four basis functions and of their first three derivatives, scaled by `exp(-n L)`.
struct Basis([[f64; 4]; 4]);

impl Basis {
    /// `cosh ns cosh s`, `sinh ns sinh s`, and the integrals from 0 of the two.
    fn at(n: f64, s: f64, half: f64) -> Self {
        let (c, s_n) = if n * s.abs() < 1.0 {
            let scale = (-n * half).exp();
            ((n * s).cosh() * scale, (n * s).sinh() * scale)
        } else {
            let (up, down) = ((n * (s - half)).exp(), (-n * (s + half)).exp());
            (0.5 * (up + down), 0.5 * (up - down))
        };
        let (ch, sh) = (s.cosh(), s.sinh());
        let (e1, e2, o1, o2) = (c * ch, s_n * sh, c * sh, s_n * ch);
        let m = n * n - 1.0;
        let p = (n * o2 - o1) / m;
        let q = if (n + 1.0) * s.abs() < 1.0 {
            small_integral(n, s) * (-n * half).exp()
        } else {
            (n * o1 - o2) / m
        };
        let (e1d, e2d) = (n * o2 + o1, n * o1 + o2);
        let (e1dd, e2dd) = (
            (n * n + 1.0) * e1 + 2.0 * n * e2,
            (n * n + 1.0) * e2 + 2.0 * n * e1,
        );
        let (e1ddd, e2ddd) = (
            (n * n + 1.0) * e1d + 2.0 * n * e2d,
            (n * n + 1.0) * e2d + 2.0 * n * e1d,
        );
        Self([
            [e1, e2, p, q],
            [e1d, e2d, e1, e2],
            [e1dd, e2dd, e1d, e2d],
            [e1ddd, e2ddd, e1dd, e2dd],
        ])
    }

    fn derivative(&self, order: usize, coefficients: &[f64; 4]) -> f64 {
        let row = &self.0[order];
        // even and odd parts first: they are of different size in a thin ring
        (row[0] * coefficients[0] + row[1] * coefficients[1])
            + (row[2] * coefficients[2] + row[3] * coefficients[3])
    }
}

/// `integral of sinh ns sinh s` from 0 by its power series, whose terms are all of one sign.
fn small_integral(n: f64, s: f64) -> f64 {
    let (up, down) = ((n + 1.0) * (n + 1.0), (n - 1.0) * (n - 1.0));
    let mut power = s * s * s / 6.0;
    let mut difference = 4.0 * n;
    let mut lower = down;
    let mut sum = 0.0;
    let mut k = 1.0;
    loop {
        let term = 0.5 * power * difference;
        sum += term;
        if term.abs() <= f64::EPSILON * sum.abs() * 0.1 {
            return sum;
        }
        difference = up * difference + 4.0 * n * lower;
        lower *= down;
        power *= s * s / ((2.0 * k + 2.0) * (2.0 * k + 3.0));
        k += 1.0;
    }
}

/// `(sinh 2nL - n sinh 2L) / (2 (n^2 - 1)) exp(-2nL)`: the determinant of the odd part.
fn odd_determinant(n: f64, half: f64) -> f64 {
    let x = 2.0 * half;
    if n * x < 1.0 {
        // sum of x^(2k+1) n (1 + n^2 + ... + n^(2k-2)) / (2k+1)!
        let mut power = x * x * x / 6.0;
        let mut geometric = 1.0;
        let mut sum = 0.0;
        let mut k = 1.0;
        loop {
            let term = power * geometric * n;
            sum += term;
            if term <= f64::EPSILON * sum * 0.1 {
                return 0.5 * sum * (-n * x).exp();
            }
            geometric = 1.0 + n * n * geometric;
            power *= x * x / ((2.0 * k + 2.0) * (2.0 * k + 3.0));
            k += 1.0;
        }
    }
    let doubled = -(-2.0 * n * x).exp_m1() - n * ((x - n * x).exp() - (-x - n * x).exp());
    0.25 * doubled / (n * n - 1.0)
}

/// `(sinh 2nL + n sinh 2L) / 2 exp(-2nL)`: the determinant of the even part.
fn even_determinant(n: f64, half: f64) -> f64 {
    let x = 2.0 * half;
    0.25 * (-(-2.0 * n * x).exp_m1() + n * ((x - n * x).exp() - (-x - n * x).exp()))
}

impl HarmonicField {
    /// The field for `count` lobes from the stress amplitudes on the two surfaces.
    ///
    /// For one lobe the tractions of the two surfaces must balance, `ro (radial - tangential)` alike on both; what is
    /// over is taken off the outside in equal and opposite parts of `radial` and `tangential`. For none, the torque `r^2
    /// tangential` must balance; the residual is shared by the surfaces. Both rules are linear, so a sum of loads that do not balance
    /// that balance together is exact. The rigid motion is fixed by zero mean displacement of the bore.
    pub fn new(annulus: &Annulus, count: u32, outer: Traction, bore: Traction) -> Self {
        let (ri, ro) = (annulus.inner_radius, annulus.outer_radius);
        let half = annulus.half_log_wall();
        let kind = match count {
            0 => {
                // Lame: a from the two radial stresses
                let area = (ro - ri) * (ro + ri);
                StressFunction::Even {
                    a: (outer.radial * ro * ro - bore.radial * ri * ri) / area,
                    c: (bore.radial - outer.radial) * ri * ri * ro * ro / area,
                    shear: 0.5 * (outer.tangential * ro * ro + bore.tangential * ri * ri),
                }
            }
            1 => {
                let over =
                    ro * (outer.radial - outer.tangential) - ri * (bore.radial - bore.tangential);
                let f_outer = ro * outer.tangential + 0.5 * over;
                let f_bore = ri * bore.tangential;
                let force = 0.5 * ri * (bore.radial - bore.tangential);
                // no dislocation: (kappa - 1) force + (kappa + 1) ln_part = 0, with (kappa - 1)/(kappa + 1) = (1 - nu)/2
                let ln_part = -0.5 * (1.0 - annulus.poisson_ratio) * force;
                let cosh = (f_outer - f_bore) / (4.0 * (2.0 * half).sinh());
                let sinh = (0.5 * (f_outer + f_bore) - ln_part) / (2.0 * (2.0 * half).cosh());
                StressFunction::Shift {
                    ln_part,
                    cosh,
                    sinh,
                    force,
                    shift: 0.0,
                }
            }
            _ => {
                let n = f64::from(count);
                let m = n * n - 1.0;
                let slope = |r: f64, t: Traction| r * t.tangential / n;
                let value = |r: f64, t: Traction| (slope(r, t) - r * t.radial) / m;
                let (f_up, f_down) = (value(ro, outer), value(ri, bore));
                let (d_up, d_down) = (slope(ro, outer), slope(ri, bore));
                let basis = Basis::at(n, half, half);
                let [e1, e2, p, q] = basis.0[0];
                let [e1d, e2d, _, _] = basis.0[1];
                let (f, d) = (0.5 * (f_up + f_down), 0.5 * (d_up - d_down));
                let det = even_determinant(n, half);
                let even = [(f * e2d - d * e2) / det, (d * e1 - f * e1d) / det];
                let (f, d) = (0.5 * (f_up - f_down), 0.5 * (d_up + d_down));
                let det = odd_determinant(n, half);
                let odd = [(f * e2 - d * q) / det, (d * p - f * e1) / det];
                StressFunction::Lobes([even[0], even[1], odd[0], odd[1]])
            }
        };
        let mut field = Self {
            annulus: *annulus,
            count,
            kind,
        };
        if count == 1 {
            let at = field.at(ri);
            if let StressFunction::Shift { shift, .. } = &mut field.kind {
                *shift = -0.5 * (at.radial_displacement - at.tangential_displacement);
            }
        }
        field
    }

    /// Lobes a turn.
    pub fn count(&self) -> u32 {
        self.count
    }

    /// Amplitudes at radius `r` (mm) in the wall.
    pub fn at(&self, r: f64) -> Amplitudes {
        let (e, nu) = (self.annulus.young_modulus, self.annulus.poisson_ratio);
        match &self.kind {
            StressFunction::Even { a, c, shear } => {
                let ri = self.annulus.inner_radius;
                Amplitudes {
                    radial_displacement: ((1.0 - nu) * a * r - (1.0 + nu) * c / r) / e,
                    tangential_displacement: shear * (1.0 + nu) / e * (r / (ri * ri) - 1.0 / r),
                    radial_stress: a + c / (r * r),
                    hoop_stress: a - c / (r * r),
                    shear_stress: shear / (r * r),
                }
            }
            StressFunction::Shift {
                ln_part,
                cosh,
                sinh,
                force,
                shift,
            } => {
                let s = self.annulus.log_coordinate(r);
                let (c2, s2) = ((2.0 * s).cosh(), (2.0 * s).sinh());
                let kappa = (3.0 - nu) / (1.0 + nu);
                let up = 0.5 * (cosh + sinh) * (2.0 * s).exp();
                let down = 0.5 * (cosh - sinh) * (-2.0 * s).exp();
                // Barber's table of Michell displacements (from memory) for r ln r cos and r theta sin; the multivalued
                // parts cancel by the choice of ln_part
                let ln_radial = 0.5 * (-1.0 + (kappa - 1.0) * s);
                let ln_tangential = 0.5 * (-1.0 - (kappa - 1.0) * s);
                let force_radial = 0.5 * (-1.0 + (kappa + 1.0) * s);
                let force_tangential = 0.5 * (-1.0 - (kappa + 1.0) * s);
                let two_mu = e / (1.0 + nu);
                let slope = ln_part + 2.0 * cosh * s2 + 2.0 * sinh * c2;
                let second = 4.0 * cosh * c2 + 4.0 * sinh * s2;
                Amplitudes {
                    radial_displacement: ((kappa - 2.0) * up
                        + down
                        + ln_part * ln_radial
                        + force * force_radial)
                        / two_mu
                        + shift,
                    tangential_displacement: ((kappa + 2.0) * up
                        + down
                        + ln_part * ln_tangential
                        + force * force_tangential)
                        / two_mu
                        - shift,
                    radial_stress: (slope + 2.0 * force) / r,
                    hoop_stress: (second + slope) / r,
                    shear_stress: slope / r,
                }
            }
            StressFunction::Lobes(coefficients) => {
                let n = f64::from(self.count);
                let m = n * n - 1.0;
                let s = self.annulus.log_coordinate(r);
                let basis = Basis::at(n, s, self.annulus.half_log_wall());
                let [f, d1, d2, d3] = std::array::from_fn(|k| basis.derivative(k, coefficients));
                let four_f1 = (d3 - (n * n + 3.0) * d1) / m + 2.0 * f;
                let four_f1_slope = d2 + 2.0 * d1 - m * f;
                Amplitudes {
                    radial_displacement: (four_f1 - (1.0 + nu) * (d1 + f)) / e,
                    tangential_displacement: ((1.0 + nu) * n * n * f + four_f1_slope - four_f1)
                        / (n * e),
                    radial_stress: (d1 - m * f) / r,
                    hoop_stress: (d2 + d1) / r,
                    shear_stress: n * d1 / r,
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ring(ri: f64) -> Annulus {
        Annulus {
            inner_radius: ri,
            outer_radius: 50.0,
            young_modulus: 70_000.0,
            poisson_ratio: 0.33,
            length: 1.0,
        }
    }

    const OUTER: Traction = Traction {
        radial: 1.3,
        tangential: -0.4,
    };
    const BORE: Traction = Traction {
        radial: -0.7,
        tangential: 0.9,
    };

    #[test]
    fn tractions_are_met_on_both_surfaces() {
        for ri in [10.0, 30.0, 45.0, 49.5, 49.95] {
            for n in [2, 3, 4, 7, 20, 100, 1000, 5000] {
                let a = ring(ri);
                let field = HarmonicField::new(&a, n, OUTER, BORE);
                for (r, t) in [(50.0, OUTER), (ri, BORE)] {
                    let at = field.at(r);
                    let tolerance = 1e-11 * f64::from(n).max(10.0);
                    assert!(
                        (at.radial_stress - t.radial).abs() < tolerance,
                        "{ri} {n} {at:?}"
                    );
                    assert!(
                        (at.shear_stress - t.tangential).abs() < tolerance,
                        "{ri} {n} {at:?}"
                    );
                }
            }
        }
    }

    /// Strains from differenced displacements against Hooke's law, and equilibrium from differenced stresses.
    #[test]
    fn fields_obey_hooke_and_equilibrium() {
        let balanced_bore = Traction {
            radial: 0.4,
            tangential: 0.4 - 50.0 / 30.0 * 1.7,
        };
        for (n, bore) in [
            (0, BORE),
            (1, balanced_bore),
            (2, BORE),
            (3, BORE),
            (9, BORE),
        ] {
            let a = ring(30.0);
            let outer = if n == 0 {
                Traction {
                    tangential: bore.tangential * 900.0 / 2500.0,
                    ..OUTER
                }
            } else {
                OUTER
            };
            let field = HarmonicField::new(&a, n, outer, bore);
            let nf = f64::from(n);
            for r in [31.0, 37.0, 44.0, 49.0] {
                let h = 1e-3;
                let (lo, at, hi) = (field.at(r - h), field.at(r), field.at(r + h));
                let slope = |g: fn(&Amplitudes) -> f64| (g(&hi) - g(&lo)) / (2.0 * h);
                let (ur, ut) = (at.radial_displacement, at.tangential_displacement);
                let (err, ett, grt) = (
                    slope(|a| a.radial_displacement),
                    (ur + nf * ut) / r,
                    slope(|a| a.tangential_displacement) - (ut + nf * ur) / r,
                );
                let (e, nu) = (a.young_modulus, a.poisson_ratio);
                let (rr, tt, rt) = (at.radial_stress, at.hoop_stress, at.shear_stress);
                let scale = 1e-6 * (1.0 + rr.abs() + tt.abs() + rt.abs());
                assert!((e * err - (rr - nu * tt)).abs() < scale, "{n} {r}");
                assert!((e * ett - (tt - nu * rr)).abs() < scale, "{n} {r}");
                assert!((e * grt - 2.0 * (1.0 + nu) * rt).abs() < scale, "{n} {r}");
                let radial = slope(|a| a.radial_stress) + (rr - tt + nf * rt) / r;
                let tangential = slope(|a| a.shear_stress) + (2.0 * rt - nf * tt) / r;
                assert!(radial.abs() < scale && tangential.abs() < scale, "{n} {r}");
            }
            for (r, t) in [(50.0, outer), (30.0, bore)] {
                let at = field.at(r);
                assert!((at.radial_stress - t.radial).abs() < 1e-12, "{n}");
                assert!((at.shear_stress - t.tangential).abs() < 1e-12, "{n}");
            }
        }
    }
}
