//! The shape of a surface and the wall between the two.

use serde::Serialize;

/// The shape of one surface.
#[derive(Clone, Debug, Serialize)]
pub struct Shape {
    /// Radius of the least-squares circle: the mean distance from its centre, mm.
    pub mean_radius: f64,
    /// Its centre, mm.
    pub centre: [f64; 2],
    /// Largest minus smallest distance from that centre, mm.
    pub roundness_least_squares: f64,
    /// Width of the narrowest ring between two concentric circles that holds the profile, mm.
    pub roundness_minimum_zone: f64,
    /// Lobes about the least-squares centre.
    pub harmonics: Vec<HarmonicDocument>,
    /// Radial displacement from the stock shape; held states only.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub displacement: Option<DisplacementDocument>,
    /// Estimated errors of these figures; null when no second mesh was asked for.
    pub error: Option<ShapeErrorDocument>,
    /// The minimum zone's circle, for drawing.
    #[serde(skip)]
    pub minimum_zone: ZoneCircle,
}

/// Estimated errors of the figures of a shape, mm.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct ShapeErrorDocument {
    /// Of the mean radius.
    pub mean_radius: f64,
    /// Of the centre, in any direction.
    pub centre: f64,
    /// Of both figures of roundness.
    pub roundness: f64,
    /// Of the amplitude of any lobe from two per revolution up.
    pub harmonics: f64,
    /// Of the radius at any angle.
    pub radius: f64,
}

/// The circle midway between the two of a minimum zone, mm.
#[derive(Clone, Copy, Debug)]
pub struct ZoneCircle {
    /// Centre.
    pub centre: [f64; 2],
    /// Radius.
    pub radius: f64,
}

/// `amplitude * cos(count * (theta - angle))`.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct HarmonicDocument {
    /// Lobes a turn.
    pub count: u32,
    /// mm, never negative.
    pub amplitude: f64,
    /// Of a crest, degrees.
    pub angle: f64,
}

/// Radial displacement at equal reference angles.
#[derive(Clone, Debug, Serialize)]
pub struct DisplacementDocument {
    /// Degrees from 0.
    pub angles_deg: Vec<f64>,
    /// mm, positive outwards.
    pub radial: Vec<f64>,
}

/// Least and largest wall, mm, and where, degrees.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct WallDocument {
    /// Least.
    pub min: f64,
    /// Where.
    pub min_angle: f64,
    /// Largest.
    pub max: f64,
    /// Where.
    pub max_angle: f64,
    /// Estimated error of both, mm; this and the next are null when no second mesh was asked for.
    pub error: Option<f64>,
    /// Estimated error of the place of the least, degrees; where several are equally thin, of the one told.
    pub min_angle_error: Option<f64>,
    /// Estimated error of the place of the largest, degrees.
    pub max_angle_error: Option<f64>,
}

impl Shape {
    /// The strongest lobing from two lobes up.
    pub fn main_lobes(&self) -> Option<HarmonicDocument> {
        self.harmonics
            .iter()
            .filter(|h| h.count >= 2)
            .copied()
            .reduce(|a, b| if b.amplitude > a.amplitude { b } else { a })
    }
}
