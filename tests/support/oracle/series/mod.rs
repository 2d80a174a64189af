//! A frozen copy of the closed-form series of a round ring, kept apart from the solver's so that a change there cannot move what the tests
//! measure by. Do not mend it together with `ringwright_solver::series`: `verification::series` holds the two against each other.

mod harmonic;
mod kernel;
mod response;
mod settled;
mod slit;

pub use harmonic::{Amplitudes, HarmonicField, Traction};
pub use kernel::BoundaryKernel;
pub use response::{CircleResponse, PointState, RadialLoad, Response};
pub use slit::{SlitRing, opening_from_diameters, opening_from_gap, thin_stress};

use ringwright_solver::geometry::Surface;

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
