//! Reading a profile: reference circles, roundness and lobes.
//!
//! A profile is a closed set of readings, distance from an origin over angle. Everything here works on the true
//! distances of the points from a trial centre; the usual small-eccentricity (limaçon) shortcut is avoided because it
//! leaves an error of `e^2 / (4 R)` in the radius and in the two-lobe term for an eccentricity `e` (derived here:
//! second-order term of `sqrt(R^2 - e^2 sin^2 t) + e cos t`).
//!
//! The reference circles are those named by ISO 4291:1985 and ISO 12181-1:2011 (titles; the definitions are common
//! practice). Roundness is always the radial width between two concentric circles, never a difference of diameters.

mod cause;
mod curve;
mod gauge;
mod harmonics;
pub mod inversion;
mod least_squares;
mod minimum_zone;
mod profile;
pub mod readings;

pub use cause::{Cause, Print, Share, causes};
pub use curve::Curve;
pub use gauge::{Gauge, Trace, Vee};
pub use harmonics::{Harmonic, harmonics};
pub use least_squares::least_squares_circle;
pub use minimum_zone::minimum_zone;
pub use profile::Profile;

/// Why a profile cannot be read.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum MetrologyError {
    /// Angles and radii do not pair up.
    #[error("{angles} angles but {radii} radii: every reading needs one of each")]
    LengthsDiffer {
        /// Number of angles.
        angles: usize,
        /// Number of radii.
        radii: usize,
    },
    /// Not enough points for a circle.
    #[error("{points} readings do not fix a circle: at least 3 are needed")]
    TooFewPoints {
        /// Number of readings.
        points: usize,
    },
    /// A reading that is not a number.
    #[error("reading {index} (counted from 0) is not a finite number")]
    NotFinite {
        /// Position of the first such reading.
        index: usize,
    },
    /// The points do not spread over enough directions to fix a zone.
    #[error("the readings lie in too few directions to fix a minimum zone")]
    Degenerate,
    /// The exchange ended without proof that the zone is the least one.
    #[error("minimum zone not proven: width {width} mm, proven lower bound {lower_bound} mm")]
    NotProven {
        /// Width of the best zone found, mm.
        width: f64,
        /// Width that no neighbouring centre can beat, mm.
        lower_bound: f64,
    },
}

/// A reference circle and the profile's departure from it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Circle {
    /// Centre in the axes of the readings, mm.
    pub centre: [f64; 2],
    /// Radius, mm; of a minimum zone the mean of its two circles.
    pub radius: f64,
    /// Largest minus smallest distance of the profile from the centre, mm.
    pub roundness: f64,
}

fn distances(points: &[[f64; 2]], centre: [f64; 2]) -> Vec<f64> {
    // sqrt, not hypot: the lengths of a part neither overflow nor vanish, and hypot is several times slower
    points
        .iter()
        .map(|p| {
            let (x, y) = (p[0] - centre[0], p[1] - centre[1]);
            (x * x + y * y).sqrt()
        })
        .collect()
}

fn limits(values: &[f64]) -> (f64, f64) {
    values
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), &v| {
            (low.min(v), high.max(v))
        })
}
