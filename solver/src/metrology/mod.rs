//! Reading a profile: reference circles, roundness and lobes.
//!
//! A profile is a closed set of readings, distance from an origin over angle. Everything here works on the true
//! distances of the points from a trial centre; the usual small-eccentricity (limaçon) shortcut is avoided because it
//! leaves an error of `e^2 / (4 R)` in the radius and in the two-lobe term for an eccentricity `e` (derived here:
//! second-order term of `sqrt(R^2 - e^2 sin^2 t) + e cos t`).
//!
//! The reference circles are those named by ISO 4291:1985 and ISO 12181-1:2011 (titles; the definitions are common
//! practice). Roundness is always the radial width between two concentric circles, never a difference of diameters.

use std::f64::consts::TAU;

mod cause;
mod curve;
mod filter;
mod gauge;
mod harmonics;
pub mod inversion;
mod least_squares;
mod minimum_zone;
mod one_sided;
mod profile;
pub mod readings;
mod reference;
mod resolution;
mod search;
mod sheet;
mod uncertain;

pub use cause::{Cause, Print, Share, causes};
pub use curve::Curve;
pub use filter::{gaussian, transmission};
pub use gauge::{Gauge, Trace, Vee};
pub use harmonics::{Harmonic, harmonics, highest_lobe};
pub use least_squares::least_squares_circle;
pub use minimum_zone::{Control, Side, Zone, minimum_zone};
pub use one_sided::{OneSided, maximum_inscribed, minimum_circumscribed};
pub use profile::Profile;
pub use reference::{ReferenceCircle, Roundness};
pub use resolution::{Resolution, Shown};
pub use sheet::{BLIND, Filtered, MOST_LOBES, Reading, Sheet, Wanted};
pub use uncertain::{OneSidedError, ProfileError};

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
    #[error("the readings lie in too few directions to fix a circle")]
    Degenerate,
    /// The profile has a gap through which an inscribed circle escapes.
    #[error(
        "the readings leave a gap of {gap_deg:.1} deg: no inscribed circle is held between them, measure the whole turn"
    )]
    Open {
        /// Largest angle without a reading, degrees.
        gap_deg: f64,
    },
    /// A filter's cut-off that is none.
    #[error("a cut-off of {cut_off} undulations per revolution: it must be a number above 0")]
    CutOff {
        /// What was asked for.
        cut_off: f64,
    },
    /// The search for the maximum inscribed circle was given up.
    #[error(
        "the maximum inscribed circle is not proven: one of radius {radius} mm was found, none is larger than {upper_bound} mm"
    )]
    InscribedNotProven {
        /// Radius of the largest circle found, mm.
        radius: f64,
        /// Radius that none can exceed, mm.
        upper_bound: f64,
    },
    /// Exchange or search ended without proof that the zone is the least one.
    #[error(
        "the minimum zone is not proven: one {width} mm wide was found, none is narrower than {lower_bound} mm"
    )]
    NotProven {
        /// Width of the best zone found, mm.
        width: f64,
        /// Lower bound of the width at any centre searched, mm.
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

/// Sorts by direction, counter-clockwise.
fn sort_by_angle<T>(items: &mut [T], vector: impl Fn(&T) -> [f64; 2]) {
    let angle = |item: &T| {
        let [x, y] = vector(item);
        y.atan2(x)
    };
    items.sort_by(|a, b| angle(a).total_cmp(&angle(b)));
}

/// The largest angle (rad) without a point, seen from a centre.
fn largest_gap(points: &[[f64; 2]], centre: [f64; 2]) -> f64 {
    if let Some(gap) = largest_step(points, centre) {
        return gap;
    }
    let mut angles: Vec<f64> = points
        .iter()
        .map(|p| (p[1] - centre[1]).atan2(p[0] - centre[0]))
        .collect();
    // stable: takes what is sorted already as it is
    angles.sort_by(f64::total_cmp);
    gap_of_sorted(&angles)
}

/// The same of points that go round the centre once, one after the other, by less than a quarter of a turn each: one arc tangent in
/// all. `None` of others.
fn largest_step(points: &[[f64; 2]], centre: [f64; 2]) -> Option<f64> {
    let from = |p: &[f64; 2]| [p[0] - centre[0], p[1] - centre[1]];
    let mut before = from(points.last()?);
    let (mut turns, mut largest) = (0, [1.0, 0.0]);
    for p in points {
        let now = from(p);
        let along = before[0] * now[0] + before[1] * now[1];
        let across = before[0] * now[1] - before[1] * now[0];
        if !(along > 0.0 && across > 0.0) {
            return None;
        }
        if across * largest[0] > largest[1] * along {
            largest = [along, across];
        }
        turns += usize::from(before[1] < 0.0 && now[1] >= 0.0);
        before = now;
    }
    (turns == 1).then(|| largest[1].atan2(largest[0]))
}

/// The largest step between neighbours of sorted angles (rad), once round.
fn gap_of_sorted(angles: &[f64]) -> f64 {
    let Some((first, last)) = angles.first().zip(angles.last()) else {
        return TAU;
    };
    let across = first + TAU - last;
    angles.windows(2).fold(across, |g, w| g.max(w[1] - w[0]))
}

/// Least and largest of some values.
pub(crate) fn limits(values: &[f64]) -> (f64, f64) {
    values
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), &v| {
            (low.min(v), high.max(v))
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_gap_is_found_with_and_without_order() {
        let place = |k: usize| {
            let t = 0.1 * k as f64;
            [30.0 * t.cos() + 1.0, 20.0 * t.sin()]
        };
        // the step across the end of the turn is the largest: 0.383
        let ordered: Vec<[f64; 2]> = (0..60).map(place).collect();
        let mixed: Vec<[f64; 2]> = (0..60).map(|k| place(7 * k % 60)).collect();
        let twice: Vec<[f64; 2]> = (0..120).map(|k| place(2 * k)).collect();
        for centre in [[0.0, 0.0], [3.0, -4.0]] {
            let gap = largest_step(&ordered, centre).unwrap_or(f64::NAN);
            assert!((gap - largest_gap(&mixed, centre)).abs() < 1e-14);
            assert!(largest_step(&mixed, centre).is_none());
            assert!(largest_step(&twice, centre).is_none());
        }
        assert!(largest_step(&ordered, [50.0, 0.0]).is_none());
    }
}
