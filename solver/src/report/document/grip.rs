//! Grip: which figures there are, and what was not checked.

use serde::Serialize;

/// Grip: a figure whose inputs are missing is null, and `not_checked` says which.
#[derive(Clone, Debug, Default, Serialize)]
pub struct GripDocument {
    /// N mm; of end plates that of one face, the driven one.
    pub torque_available: Option<f64>,
    /// N mm.
    pub torque_needed: Option<f64>,
    /// N.
    pub axial_available: Option<f64>,
    /// N.
    pub axial_needed: Option<f64>,
    /// N mm.
    pub tilt_available: Option<f64>,
    /// N mm.
    pub tilt_needed: Option<f64>,
    /// Unfavourable end.
    pub slip_safety: Option<f64>,
    /// Favourable end.
    pub slip_safety_high: Option<f64>,
    /// N, one a jaw.
    pub force_at_speed: Option<Vec<f64>>,
    /// rev/min.
    pub speed_at_zero_force: Option<f64>,
    /// What limits the hold.
    pub limits: Vec<String>,
    /// What was not checked, and for want of which input.
    pub not_checked: Vec<String>,
}

/// What is not checked of the torque where nothing is known of it.
const NO_TORQUE: &str = "slip under the cutting torque: no friction and no cutting force taken in";

impl GripDocument {
    /// The torque (N mm) that one face of a part between end plates can take before it slips.
    pub(super) fn put_torque(&mut self, torque: f64) {
        self.torque_available = Some(torque);
        if let Some(words) = self.not_checked.iter_mut().find(|w| *w == NO_TORQUE) {
            "slip under the cutting torque: no cutting force taken in".clone_into(words);
        }
    }

    /// No grip figure can be given: neither friction, cutting force, speed nor jaw mass is taken in.
    pub fn not_checked() -> Self {
        Self {
            not_checked: [
                NO_TORQUE,
                "axial push-out: no friction and no axial cutting force taken in",
                "tilting out of the jaws: no friction and no overhang taken in",
                "jaw force at speed: no speed, jaw mass and jaw centroid radius taken in",
                "the chuck's own limits: no rated force and rated speed taken in",
            ]
            .map(str::to_owned)
            .to_vec(),
            ..Self::default()
        }
    }
}
