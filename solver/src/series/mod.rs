//! Exact Fourier series of a round ring in plane stress.
//!
//! A round ring under tractions on its two surfaces has a closed answer for every lobe count `n`: Airy's function is
//! `phi = r f(s) cos(n theta)` with `s = ln(r / sqrt(ri ro))`, and Michell's four powers (J. H. Michell 1899; Timoshenko
//! and Goodier, *Theory of Elasticity*; Barber, *Elasticity*, chapter on the annulus; formulas from memory, checked by the
//! tests) are the four exponentials `exp(e s)` of `f`, `e = +-(n + 1), +-(n - 1)`. Derived here:
//!
//! - stresses: `r s_rr = f' - (n^2 - 1) f`, `r s_rt = n f'` (times sine), `r s_tt = f'' + f'`; the surface tractions
//!   therefore give `f` and `f'` at `s = +-L`, `L = ln(ro / ri) / 2`, and the even and odd parts of `f` separate into two
//!   systems of two unknowns;
//! - displacements: `E u_r = -(1 + nu)(f' + f) + 4 f1` and `n E u_t = (1 + nu) n^2 f + 4 (f1' - f1)`, where `f1` is
//!   the part with the exponents `n + 1` and `1 - n`, `4 f1' = f'' + 2 f' - (n^2 - 1) f` and
//!   `4 (n^2 - 1) f1 = f''' - (n^2 + 3) f' + 2 (n^2 - 1) f`.
//!
//! The basis is chosen so that nothing cancels in a thin ring (products of `cosh n s`, `sinh n s` with `cosh s`, `sinh s`, and
//! their integrals, with determinants in closed form) and nothing overflows for many lobes (every function is scaled by
//! `exp(-n L)`). Accuracy is about `n` rounding units.
//!
//! Loads that press on one surface only must balance as a whole; the part that does not balance is left out
//! (see [`HarmonicField::new`]), and the free rigid-body modes are fixed by zero mean displacement of the bore.

mod compliance;
mod harmonic;
mod kernel;
mod response;
mod settled;
mod slit;

pub(crate) use compliance::{RingKernel, bending_lobes};
pub use harmonic::{Amplitudes, HarmonicField, Traction};
pub use kernel::BoundaryKernel;
pub use response::{CircleResponse, PointState, RadialLoad, Response};
pub use slit::{SlitRing, opening_from_diameters, opening_from_gap, thin_stress};

use crate::geometry::Surface;

/// A round ring in plane stress.
///
/// All fields must be positive, the bore inside the outside, and Poisson's ratio between 0 and 0.5; the case is checked before it
/// comes here, and other values give numbers without meaning but no panic.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Annulus {
    /// Radius of the bore, mm.
    pub inner_radius: f64,
    /// Radius of the outside, mm.
    pub outer_radius: f64,
    /// Young's modulus, MPa.
    pub young_modulus: f64,
    /// Poisson's ratio.
    pub poisson_ratio: f64,
    /// Axial length, mm.
    pub length: f64,
}

impl Annulus {
    /// Radius of a surface, mm.
    pub fn radius(&self, surface: Surface) -> f64 {
        match surface {
            Surface::Outer => self.outer_radius,
            Surface::Bore => self.inner_radius,
        }
    }

    /// `L = ln(ro / ri) / 2`, half the wall in the logarithmic coordinate.
    pub fn half_log_wall(&self) -> f64 {
        0.5 * ((self.outer_radius - self.inner_radius) / self.inner_radius).ln_1p()
    }

    /// `s = ln(r / sqrt(ri ro))`, exact to rounding at both surfaces of a thin wall.
    fn log_coordinate(&self, r: f64) -> f64 {
        0.5 * (((r - self.inner_radius) / self.inner_radius).ln_1p()
            + ((r - self.outer_radius) / self.outer_radius).ln_1p())
    }

    /// Radial displacement amplitude of `read` for a radial force of 1 N a turn-density `cos(n theta)`, that is the `n`-th
    /// Fourier coefficient of the response to a unit outward line force on `loaded` (`1 / (pi b r)` per unit angle, half of
    /// that for `n = 0`). mm/N.
    pub fn radial_compliance(&self, n: u32, loaded: Surface, read: Surface) -> f64 {
        let share = if n == 0 { 0.5 } else { 1.0 };
        let radial =
            loaded.outward() * share / (std::f64::consts::PI * self.length * self.radius(loaded));
        let traction = Traction {
            radial,
            tangential: 0.0,
        };
        let (outer, bore) = match loaded {
            Surface::Outer => (traction, Traction::default()),
            Surface::Bore => (Traction::default(), traction),
        };
        HarmonicField::new(self, n, outer, bore)
            .at(self.radius(read))
            .radial_displacement
    }
}
