//! A ring slit along its length: how far it opens or closes, and the hoop stress that was in it.
//!
//! **Exact field.** Closing a slit ring through a wedge of angle `b` (positive: slit, the ring had opened by `b`) bends it like a
//! curved bar under end moments, whatever the angle round it: Golovin's solution (Timoshenko and Goodier, *Theory of
//! Elasticity*, articles on pure bending of curved bars and on rings cut and joined again; formula from memory, checked by the
//! tests), `phi = A ln r + B r^2 ln r + C r^2`, whose hoop displacement `4 B r theta / E` grows by `8 pi B r / E` in a turn. So
//! `B = E b / (8 pi)`. With `s = ln(r / sqrt(ri ro))` and `x = ln(ro / ri)` (derived here):
//!
//! - `s_tt = 2 B (1 + s - x (exp(-2 s) + cosh x) / (2 sinh x))`, `s_rr = 2 B (s + x (exp(-2 s) - cosh x) / (2 sinh x))`;
//! - outside `2 B (1 + x - x coth x)`, bore `2 B (1 - x - x coth x)`; half their difference is `E b x / (4 pi)`;
//! - moment per axial length, positive where it presses the outside together: `-integral(s_tt r dr)
//!   = -B ri ro (sinh^2 x - x^2) / sinh x`.
//!
//! **Thin rule.** `E t (1/D0 - 1/D1)` with the mid-wall diameters before and after slitting: the strip's stress when its
//! curvature changes by `2/D0 - 2/D1`. It is the rule of Hatfield and Thirkell as modified by Sachs and Espey (Trans. AIME 147,
//! 1942) to which ASTM E1928 refers (its scope says so and that it is approximate; the formula is from memory), here for a short
//! ring in plane stress; for a long tube it is divided by `1 - nu^2`.
//!
//! **Linear stress that opens as much.** A stock modelled with hoop stress `S (2 r - ri - ro) / t` and nothing else (which is not
//! in equilibrium by itself and settles a little when the ring is whole) is the ring with the locked-in strain `-s / E` round and
//! `nu s / E` along the radius. Slit, it opens by what Betti's reciprocity gives with the Golovin field `g` as the other state: the
//! end tractions of `g` work on the opening, the stress of `g` on the locked-in strain:
//!
//! `b integral(g_tt r dr) = (2 pi / E) integral((g_tt - nu g_rr) s r dr)`
//!
//! where `b` is the opening weighted with `g_tt`, which is all of it away from the lips. With `g_tt = (r g_rr)'` and no traction on
//! either surface, integrating by parts leaves `b = S (4 pi / (E t)) ((2 + nu) R - (1 + nu) (ri + ro) / 2)` with
//! `R = integral(g_rr r^2 dr) / integral(g_rr r dr)`, and these two integrals give, with `L = x / 2` and `k(z) = sinh z - z`,
//! `R = sqrt(ri ro) (4/9) sinh L (k(4 L) + k(2 L)) / (k(2 L) (sinh 2 L + 2 L))`. In a thin ring `R` is the mean radius and `S` the
//! thin rule.

use std::f64::consts::{PI, TAU};

use super::Annulus;

/// A ring that opened by an angle when it was slit (negative: closed).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SlitRing {
    /// The whole ring.
    pub annulus: Annulus,
    /// How far it opened, rad.
    pub opening: f64,
}

/// Opening (rad) of a ring whose mid-wall diameter (mm) was `before` and is `after` slitting: the middle of the wall keeps its
/// length, `before pi = after (2 pi - b) / 2`. `after` is measured square to the line through the slit and the axis, where the
/// opened arc still spans its diameter.
pub fn opening_from_diameters(before: f64, after: f64) -> f64 {
    TAU * (after - before) / after
}

/// The thin rule (see the module): stress (MPa) outside, and with the other sign in the bore, from Young's modulus (MPa), wall
/// and mid-wall diameters (mm).
pub fn thin_stress(young_modulus: f64, wall: f64, before: f64, after: f64) -> f64 {
    young_modulus * wall * (after - before) / (before * after)
}

/// Largest opening or closing for which a gap is solved, rad.
const MOST_OPENING: f64 = 0.5 * PI;

/// Opening (rad) of a ring whose slot is `gap` wide (mm, chord between the lips at the outside) after a saw has taken `saw_width`
/// (mm, at the outside) of its metal; `None` if it is not within a quarter turn either way.
///
/// The metal left, `2 pi` less the saw's arc, is bent to the share `1 - b / (2 pi)` of its angle, on a mid-wall radius larger by
/// the inverse of that share.
pub fn opening_from_gap(annulus: &Annulus, gap: f64, saw_width: f64) -> Option<f64> {
    let (ri, ro) = (annulus.inner_radius, annulus.outer_radius);
    let sawn = 2.0 * (0.5 * saw_width / ro).asin();
    let gap_at = |opening: f64| {
        let share = 1.0 - opening / TAU;
        let outside = 0.5 * (ri + ro) / share + 0.5 * (ro - ri);
        2.0 * outside * (0.5 * (opening + sawn * share)).sin()
    };
    let (mut low, mut high) = (-MOST_OPENING, MOST_OPENING);
    if !(gap_at(low) <= gap && gap <= gap_at(high)) {
        return None;
    }
    // halved until the ends are neighbours in double precision
    for _ in 0..100 {
        let middle = 0.5 * (low + high);
        if gap_at(middle) < gap {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(0.5 * (low + high))
}

/// `sinh z - z`, also where the two are nearly equal.
fn sinh_beyond(z: f64) -> f64 {
    if z.abs() > 1.0 {
        return z.sinh() - z;
    }
    let (mut term, mut sum, mut k) = (z, 0.0, 2.0);
    while term != 0.0 {
        term *= z * z / (k * (k + 1.0));
        let next = sum + term;
        if next == sum {
            break;
        }
        (sum, k) = (next, k + 2.0);
    }
    sum
}

impl SlitRing {
    /// `B` of the Golovin field, MPa.
    fn strength(&self) -> f64 {
        self.annulus.young_modulus * self.opening / (8.0 * PI)
    }

    /// `x = ln(ro / ri)`.
    fn log_wall(&self) -> f64 {
        2.0 * self.annulus.half_log_wall()
    }

    /// Radial and hoop stress (MPa) that the whole ring had at radius `r` (mm), by the exact field.
    pub fn stress(&self, r: f64) -> [f64; 2] {
        let (x, s) = (self.log_wall(), self.annulus.log_coordinate(r));
        let (falling, even) = ((-2.0 * s).exp(), x.cosh());
        let lever = 0.5 * x / x.sinh();
        let twice = 2.0 * self.strength();
        [
            twice * (s + lever * (falling - even)),
            twice * (1.0 + s - lever * (falling + even)),
        ]
    }

    /// Moment per axial length (N) with which slitting relieved the section, negative where it opens.
    pub fn moment(&self) -> f64 {
        let (a, x) = (&self.annulus, self.log_wall());
        let beyond = sinh_beyond(x) * (x.sinh() + x);
        -self.strength() * a.inner_radius * a.outer_radius * beyond / x.sinh()
    }

    /// Mean radius (mm) of the wall after slitting.
    pub fn mean_radius_after(&self) -> f64 {
        0.5 * (self.annulus.inner_radius + self.annulus.outer_radius) / (1.0 - self.opening / TAU)
    }

    /// Stress `S` (MPa) of the linear distribution, `S` outside and `-S` in the bore, with which the modelled ring opens by as
    /// much when it is slit (see the module).
    pub fn linear_stress(&self) -> f64 {
        let (a, half) = (&self.annulus, self.annulus.half_log_wall());
        let (k2, k4) = (sinh_beyond(2.0 * half), sinh_beyond(4.0 * half));
        let radius =
            (a.inner_radius * a.outer_radius).sqrt() * (4.0 / 9.0) * half.sinh() * (k4 + k2)
                / (k2 * ((2.0 * half).sinh() + 2.0 * half));
        let lever = (2.0 + a.poisson_ratio) * radius
            - (1.0 + a.poisson_ratio) * 0.5 * (a.inner_radius + a.outer_radius);
        self.opening * a.young_modulus * (a.outer_radius - a.inner_radius) / (4.0 * PI * lever)
    }
}
