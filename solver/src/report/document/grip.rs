//! Grip: which figures there are, and what was not checked.

use serde::Serialize;

/// Grip: a figure whose inputs are missing is null, and `not_checked` says which.
#[derive(Clone, Debug, Default, Serialize)]
pub struct GripDocument {
    /// N mm.
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

impl GripDocument {
    /// No grip figure can be given: neither friction, cutting force, speed nor jaw mass is taken in.
    pub fn not_checked() -> Self {
        Self {
            not_checked: [
                "slip under the cutting torque: no friction and no cutting force taken in",
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
