//! What turning does to the force of a jaw: closed forms.

use std::f64::consts::TAU;

/// A jaw that the spindle carries round.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TurningJaw {
    /// Force with which it grips at rest, N.
    pub force: f64,
    /// Its mass, kg.
    pub mass: f64,
    /// Distance of its centre of mass from the spindle axis, mm.
    pub centroid_radius: f64,
    /// Whether it grips inwards: then turning takes force from it; a jaw in the bore gains.
    pub inwards: bool,
}

impl TurningJaw {
    /// Centrifugal force at a speed (rev/min), N: `m r omega^2`.
    pub fn centrifugal(&self, speed: f64) -> f64 {
        let omega = TAU * speed / 60.0;
        self.mass * self.centroid_radius * 1e-3 * omega * omega
    }

    /// Force left at a speed (rev/min), N, 0 once it has let go. The whole centrifugal force counts: chuck and part that give way take some of it
    /// back, which only their stiffnesses, measured, could say.
    pub fn force_at(&self, speed: f64) -> f64 {
        let sign = if self.inwards { -1.0 } else { 1.0 };
        (self.force + sign * self.centrifugal(speed)).max(0.0)
    }

    /// Speed at which it lets go, rev/min; `None` for one that gains.
    pub fn speed_at_zero_force(&self) -> Option<f64> {
        let arm = self.mass * self.centroid_radius * 1e-3;
        (self.inwards && arm > 0.0).then(|| 60.0 / TAU * (self.force / arm).sqrt())
    }
}
