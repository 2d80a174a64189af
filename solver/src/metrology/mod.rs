//! Reading a profile: reference circles, roundness and lobes.
//!
//! A profile is a closed set of readings, distance from an origin over angle. Everything here works on the true
//! distances of the points from a trial centre; the usual small-eccentricity (limaçon) shortcut is avoided because it
//! leaves an error of `e^2 / (4 R)` in the radius and in the two-lobe term for an eccentricity `e` (derived here:
//! second-order term of `sqrt(R^2 - e^2 sin^2 t) + e cos t`).
//!
//! The reference circles are those named by ISO 4291:1985 and ISO 12181-1:2011 (titles; the definitions are common
//! practice). Roundness is always the radial width between two concentric circles, never a difference of diameters.

mod harmonics;
mod least_squares;
mod minimum_zone;

pub use harmonics::{Harmonic, harmonics};
pub use least_squares::least_squares_circle;
pub use minimum_zone::minimum_zone;

use std::f64::consts::TAU;

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

/// A closed profile: radii (mm) over angles (rad) about the origin of the readings.
#[derive(Clone, Copy, Debug)]
pub struct Profile<'a> {
    angles: Option<&'a [f64]>,
    radii: &'a [f64],
}

impl<'a> Profile<'a> {
    /// Radii (mm) at equal angles from 0, counter-clockwise.
    ///
    /// # Panics
    /// With fewer than three radii. Readings from outside go through [`Profile::new`], which reports instead.
    pub fn equal(radii: &'a [f64]) -> Self {
        assert!(radii.len() >= 3, "a profile has at least three readings");
        Self {
            angles: None,
            radii,
        }
    }

    /// Radii (mm) at the given angles (rad), in any order.
    ///
    /// # Errors
    /// When the lengths differ, there are fewer than three readings, or one is not finite.
    pub fn new(angles: &'a [f64], radii: &'a [f64]) -> Result<Self, MetrologyError> {
        if angles.len() != radii.len() {
            return Err(MetrologyError::LengthsDiffer {
                angles: angles.len(),
                radii: radii.len(),
            });
        }
        if radii.len() < 3 {
            return Err(MetrologyError::TooFewPoints {
                points: radii.len(),
            });
        }
        if let Some(index) = (0..radii.len()).find(|&i| !(angles[i] + radii[i]).is_finite()) {
            return Err(MetrologyError::NotFinite { index });
        }
        Ok(Self {
            angles: Some(angles),
            radii,
        })
    }

    /// Number of readings.
    pub fn len(&self) -> usize {
        self.radii.len()
    }

    /// Never true: a profile has at least three readings.
    pub fn is_empty(&self) -> bool {
        self.radii.is_empty()
    }

    /// The radii, mm.
    pub fn radii(&self) -> &'a [f64] {
        self.radii
    }

    /// Angle of a reading, rad.
    pub fn angle(&self, index: usize) -> f64 {
        match self.angles {
            Some(angles) => angles[index],
            None => TAU * index as f64 / self.radii.len() as f64,
        }
    }

    /// Largest minus smallest distance from `centre` (mm), mm.
    pub fn roundness_about(&self, centre: [f64; 2]) -> f64 {
        let (low, high) = limits(&distances(&self.points(), centre));
        high - low
    }

    /// Unit vectors of the reference angles.
    fn directions(&self) -> Vec<[f64; 2]> {
        let n = self.len();
        match self.angles {
            Some(angles) => angles.iter().map(|a| [a.cos(), a.sin()]).collect(),
            // A multiple of four readings needs a quarter of the sines, and is symmetric to the last bit.
            None if n.is_multiple_of(4) => {
                let q = n / 4;
                let quarter: Vec<[f64; 2]> = (0..q)
                    .map(|k| {
                        let (s, c) = self.angle(k).sin_cos();
                        [c, s]
                    })
                    .collect();
                (0..n)
                    .map(|k| {
                        let [c, s] = quarter[k % q];
                        [[c, s], [-s, c], [-c, -s], [s, -c]][k / q]
                    })
                    .collect()
            }
            None => (0..n)
                .map(|k| {
                    let (s, c) = self.angle(k).sin_cos();
                    [c, s]
                })
                .collect(),
        }
    }

    /// Cartesian points, mm.
    fn points(&self) -> Vec<[f64; 2]> {
        let mut points = self.directions();
        for (p, r) in points.iter_mut().zip(self.radii) {
            *p = [p[0] * r, p[1] * r];
        }
        points
    }
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
