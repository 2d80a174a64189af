//! What turning does to the force of jaws, and how fast they may turn: closed forms.

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
    /// Share of the centrifugal force that changes the grip: 1, unless measured stiffnesses of jaw and part share it.
    pub softened: f64,
}

impl TurningJaw {
    /// Centrifugal force at a speed (rev/min), N: `m r omega^2`.
    pub fn centrifugal(&self, speed: f64) -> f64 {
        centrifugal(self.mass * self.centroid_radius, speed)
    }

    /// By how much turning changes its force at a speed (rev/min), N: negative of a jaw that loses. Jaw and part as springs in series share the
    /// centrifugal force by their stiffnesses, `k_part / (k_jaw + k_part)` of it changing the grip (derived here: both move out alike until the forces balance).
    pub fn change_at(&self, speed: f64) -> f64 {
        let sign = if self.inwards { -1.0 } else { 1.0 };
        sign * self.softened * self.centrifugal(speed)
    }

    /// Force left at a speed (rev/min), N, 0 once it has let go.
    pub fn force_at(&self, speed: f64) -> f64 {
        (self.force + self.change_at(speed)).max(0.0)
    }

    /// Speed at which it lets go, rev/min; `None` for one that gains.
    pub fn speed_at_zero_force(&self) -> Option<f64> {
        let arm = self.softened * self.mass * self.centroid_radius * 1e-3;
        (self.inwards && arm > 0.0).then(|| 60.0 / TAU * (self.force / arm).sqrt())
    }
}

/// `m r omega^2`, N, of a mass moment (kg mm) at a speed (rev/min).
fn centrifugal(moment: f64, speed: f64) -> f64 {
    let omega = TAU * speed / 60.0;
    moment * 1e-3 * omega * omega
}

/// Factors that the guideline for the permitted speed of lathe chucks asks for. Source: VDI 3106:2004, as quoted in manuals of lathes and chucks; the
/// guideline itself was not seen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SpeedFactors {
    /// On the force that the cut needs at speed: at least 1.5.
    pub cutting: f64,
    /// On the force that is set at rest, for what a chuck loses: at least 1.5.
    pub gripping: f64,
}

impl Default for SpeedFactors {
    fn default() -> Self {
        Self {
            cutting: 1.5,
            gripping: 1.5,
        }
    }
}

/// The jaws of a chuck together: forces are those of all jaws.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TurningJaws {
    /// Sum of the masses of the jaws times the distances of their centres of mass from the spindle axis, kg mm.
    pub moment: f64,
    /// Whether they grip inwards.
    pub inwards: bool,
}

impl TurningJaws {
    /// Centrifugal force of all jaws at a speed (rev/min), N.
    pub fn centrifugal(&self, speed: f64) -> f64 {
        centrifugal(self.moment, speed)
    }

    /// Force at rest (N) that leaves what a cut needs at a speed (rev/min): `S_sp (S_z F_spz +/- F_c)`, plus for jaws that grip inwards;
    /// zero where turning alone gives it, which leaves nothing at rest.
    pub fn force_at_rest(&self, needed: f64, speed: f64, factors: SpeedFactors) -> f64 {
        let sign = if self.inwards { 1.0 } else { -1.0 };
        let at_speed = factors.cutting * needed + sign * self.centrifugal(speed);
        factors.gripping * at_speed.max(0.0)
    }

    /// Speed (rev/min) up to which a force at rest (N) leaves what a cut needs (N): of jaws that grip inwards; `None` for jaws in the bore, which gain.
    /// Zero if it is too little at rest already.
    pub fn permitted_speed(&self, at_rest: f64, needed: f64, factors: SpeedFactors) -> Option<f64> {
        if !self.inwards || self.moment <= 0.0 {
            return None;
        }
        let spare = at_rest / factors.gripping - factors.cutting * needed;
        Some(60.0 / TAU * (spare.max(0.0) / (self.moment * 1e-3)).sqrt())
    }
}
