//! The one door through which a load case enters: a holding scheme says what touches the part, where, how it
//! pushes and what it can give. It does not solve; the solver alone decides what actually touches.

mod registry;
mod values;

pub use registry::Registry;
pub use values::{Parameter, ParameterKind, Planned, Value, Values};

use crate::geometry::Surface;

/// Nominal section at the start of a step. mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Section {
    /// Nominal outside radius.
    pub outer_radius: f64,
    /// Nominal bore radius.
    pub bore_radius: f64,
    /// Axial length.
    pub length: f64,
}

impl Section {
    /// Nominal radius of a surface.
    pub fn radius(&self, surface: Surface) -> f64 {
        match surface {
            Surface::Outer => self.outer_radius,
            Surface::Bore => self.bore_radius,
        }
    }
}

/// Outline of a rigid face in the section.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Face {
    /// Bored to this radius: the arc curves round the part (mm).
    Concave {
        /// Radius of the bore of the pad.
        radius: f64,
    },
    /// Straight across.
    Flat,
    /// A crown of this radius, curving away from the part (mm).
    Convex {
        /// Radius of the crown.
        radius: f64,
    },
}

/// A rigid body that may touch the part over an arc of one surface.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Body {
    /// The surface it faces: `Outer` bodies push inwards, `Bore` bodies outwards.
    pub surface: Surface,
    /// Direction of its axis, rad.
    pub angle: f64,
    /// Half of the arc it covers, rad; pi for a full circle, which stands about the part's axis.
    pub half_angle: f64,
    /// Outline of its face.
    pub face: Face,
}

/// How the bodies of one scheme are driven while clamping.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Drive {
    /// Every body pushes with this force along its axis and takes the travel it needs (N).
    EqualForce {
        /// Force of one body.
        force: f64,
    },
    /// All bodies share one travel; this is the mean of their forces (N).
    SelfCentring {
        /// Mean force.
        force: f64,
    },
    /// The bodies stand still, this far from first touch (mm); negative: set in past it. A full circle has no travel: its
    /// radius alone says how it fits.
    Fixed {
        /// Distance from first touch.
        gap: f64,
    },
}

impl Body {
    /// Whether the body goes all round.
    pub fn is_full_circle(&self) -> bool {
        self.half_angle >= std::f64::consts::PI
    }
}

/// What stays once the bodies have been driven home.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AfterClamping {
    /// The drive's force stays while metal goes (a power chuck).
    KeepsForce,
    /// The travels stay (a hand-operated scroll).
    KeepsPosition,
}

/// A dead radial load, uniform per radian of reference angle on the nominal surface.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PressurePatch {
    /// The surface it acts on, always towards the metal.
    pub surface: Surface,
    /// Middle of the patch, rad.
    pub angle: f64,
    /// Half of the arc, rad.
    pub half_angle: f64,
    /// Resultant along the axis of the patch, N: `force / (2 sin half_angle)` per radian.
    pub force: f64,
}

/// What one scheme puts against the part.
#[derive(Clone, Debug, PartialEq)]
pub struct Supports {
    /// Rigid bodies, numbered from 1 in this order, counter-clockwise from the first.
    pub bodies: Vec<Body>,
    /// How the bodies are driven.
    pub drive: Drive,
    /// What stays afterwards.
    pub after_clamping: AfterClamping,
    /// Dead loads.
    pub pressures: Vec<PressurePatch>,
    /// What the scheme took for granted, in the user's words.
    pub assumed: Vec<String>,
}

/// Why a scheme cannot be built from the values given.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("{message}")]
pub struct SchemeError {
    /// The parameter at fault, if one is.
    pub parameter: Option<String>,
    /// What is wrong and what would be right.
    pub message: String,
}

/// A way to hold a ring.
pub trait HoldingScheme: Send + Sync {
    /// Name used in case files, lower case with hyphens.
    fn name(&self) -> &str;
    /// One line for lists.
    fn summary(&self) -> &str;
    /// Parameters in the order they are shown.
    fn parameters(&self) -> &[Parameter];
    /// Keys and words that are known but not built yet: a case that uses one is refused by name.
    fn planned(&self) -> &[Planned] {
        &[]
    }
    /// A small case file that uses the scheme and must run.
    fn example(&self) -> &str;
    /// Bodies, loads and drive for a nominal section. `values` has passed the checks of `parameters`.
    ///
    /// # Errors
    /// When the values cannot be used together, naming the parameter at fault.
    fn supports(&self, section: &Section, values: &Values) -> Result<Supports, SchemeError>;
}
