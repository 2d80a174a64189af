//! What is known of how a hold restrains the part against the tool, and of what carries it round.

use crate::grip::Band;

/// Friction between a face and the part.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Friction {
    /// A coefficient, or a band of them.
    Given(Band),
    /// That of a class of faces.
    Of(FaceClass),
}

/// Classes of gripping faces, coarse on purpose: what a hand tells apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FaceClass {
    /// Turned, ground or soft faces.
    Smooth,
    /// Faces with teeth that bite.
    Serrated,
}

/// What is known of the grip of one scheme; what is left out is not checked.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Restraint {
    /// Friction round the part.
    pub friction: Option<Friction>,
    /// Friction along it; `None`: as round it.
    pub friction_axial: Option<Friction>,
    /// Whether the part rests against a stop that takes the feed towards the chuck.
    pub axial_stop: bool,
    /// Mass of one jaw with all that moves with it, kg.
    pub jaw_mass: Option<f64>,
    /// Distance of its centre of mass from the spindle axis, mm.
    pub jaw_centroid_radius: Option<f64>,
    /// Measured stiffnesses of one jaw with what carries it, and of the part under it, N/mm.
    pub stiffness: Option<JawStiffness>,
}

/// Measured stiffnesses along a jaw's axis, N/mm: they share what turning takes from the jaw.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct JawStiffness {
    /// Of the jaw with what carries it.
    pub jaw: f64,
    /// Of the part under it.
    pub part: f64,
}

/// What is known of the tool's force in a cut.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Tool {
    /// Feed, mm a turn; with it, the depth of the cut and the material the force is estimated.
    pub feed: Option<f64>,
    /// Entering angle between the cutting edge and the direction of feed, rad; `None`: a right angle.
    pub entering_angle: Option<f64>,
    /// The user's own force along the turning surface, N.
    pub tangential_force: Option<Band>,
    /// The user's own force along the axis, N.
    pub axial_force: Option<Band>,
    /// The user's own force across the axis that pushes the wall away, N.
    pub radial_force: Option<Band>,
}

impl Tool {
    /// Whether anything is known.
    pub fn is_known(&self) -> bool {
        *self != Self::default()
    }
}

/// What the maker's plate and data sheet say of the chuck; what is left out is not checked.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Chuck {
    /// Largest force of all jaws together, N.
    pub rated_force: Option<f64>,
    /// Highest speed, rev/min.
    pub rated_speed: Option<f64>,
    /// Least force of all jaws together that it holds steadily, N.
    pub lowest_steady_force: Option<f64>,
}
