//! Hoop stress that is linear through the wall of a whole ring: by how much the ring settles when it lies free.
//!
//! Stress `s = a + b r` round the ring and nothing else is not in equilibrium by itself in a curved wall. With
//! `u'' + u'/r - u/r^2 = (1 - nu^2) s / (E r)` from the equilibrium along the radius, and no traction on either surface (derived
//! here):
//!
//! `u = A r + B / r + k1 r ln(r / ri) + k2 r^2`, `k1 = (1 - nu^2) a / (2 E)`, `k2 = (1 - nu^2) b / (3 E)`,
//! `B = -(k1 (1 + nu) ln(ro / ri) + k2 (2 + nu) (ro - ri)) / ((1 - nu) (1 / ri^2 - 1 / ro^2))`,
//! `A = (B (1 - nu) / ri^2 - k1 - k2 ri (2 + nu)) / (1 + nu)`.

use super::Annulus;
use ringwright_solver::geometry::{PerSurface, Surface};

impl Annulus {
    /// How far each surface moves outwards (mm) while hoop stress that is `outer` and `bore` (MPa) at the surfaces and linear
    /// between them comes to rest.
    pub fn settled(&self, outer: f64, bore: f64) -> PerSurface<f64> {
        let (ri, ro, nu) = (self.inner_radius, self.outer_radius, self.poisson_ratio);
        let slope = (outer - bore) / (ro - ri);
        let each = (1.0 - nu * nu) / self.young_modulus;
        let (k1, k2) = (0.5 * each * (bore - slope * ri), each * slope / 3.0);
        let log = |r: f64| ((r - ri) / ri).ln_1p();
        let left = k1 * (1.0 + nu) * log(ro) + k2 * (2.0 + nu) * (ro - ri);
        let b = -left / ((1.0 - nu) * (ri.powi(-2) - ro.powi(-2)));
        let a = (b * (1.0 - nu) / (ri * ri) - k1 - k2 * ri * (2.0 + nu)) / (1.0 + nu);
        PerSurface::from_fn(|s: Surface| {
            let r = self.radius(s);
            a * r + b / r + k1 * r * log(r) + k2 * r * r
        })
    }
}
