//! `[inspection]`: how the finished part is looked at.

use crate::metrology::{Gauge, ReferenceCircle};

/// Standard reference temperature of size (ISO 1, from memory), deg C.
const REFERENCE_TEMPERATURE: f64 = 20.0;

/// How the part stands while it is measured.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[non_exhaustive]
pub enum Support {
    /// On its face, axis upright: its weight does not bend the section.
    #[default]
    Flat,
    /// On one line of its outside, axis level.
    Edge,
    /// In a V, axis level.
    Vee {
        /// Angle between the flanks, degrees.
        included_angle_deg: f64,
    },
}

/// How the finished part is looked at.
#[derive(Clone, Debug, PartialEq)]
pub struct Inspection {
    /// Reference circle where a tolerance names none.
    pub circle: ReferenceCircle,
    /// Cut-off of the Gaussian filter, undulations per revolution; `None`: unfiltered.
    pub filter_upr: Option<f64>,
    /// The gauge used, if one is named.
    pub gauge: Option<Gauge>,
    /// Force of its indicator, or of each of its contacts where they face each other, N; `None`: not looked at.
    pub measuring_force: Option<f64>,
    /// How the part stands.
    pub support: Support,
    /// Temperature of part and gauge, deg C.
    pub temperature: f64,
}

impl Default for Inspection {
    fn default() -> Self {
        Self {
            circle: ReferenceCircle::default(),
            filter_upr: None,
            gauge: None,
            measuring_force: None,
            support: Support::Flat,
            temperature: REFERENCE_TEMPERATURE,
        }
    }
}
