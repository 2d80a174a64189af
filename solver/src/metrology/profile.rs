//! Readings of one closed surface: distance from an origin over angle.

use std::cell::RefCell;
use std::f64::consts::TAU;
use std::rc::Rc;

use super::{MetrologyError, distances, limits};

thread_local! {
    /// Of so many equal angles as were asked for last: one profile is read in many ways, and most have as many readings.
    static EQUAL: RefCell<Rc<[[f64; 2]]>> = RefCell::new(Rc::new([]));
}

/// A closed profile: radii (mm) over angles (rad) about the origin of the readings.
#[derive(Clone, Copy, Debug)]
pub struct Profile<'a> {
    pub(super) angles: Option<&'a [f64]>,
    pub(super) radii: &'a [f64],
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

    /// Whether the readings lie at equal angles from 0.
    pub fn is_even(&self) -> bool {
        self.angles.is_none()
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
    pub(super) fn directions(&self) -> Rc<[[f64; 2]]> {
        if let Some(angles) = self.angles {
            return angles.iter().map(|a| [a.cos(), a.sin()]).collect();
        }
        EQUAL.with_borrow_mut(|kept| {
            if kept.len() != self.len() {
                *kept = self.equal_directions();
            }
            Rc::clone(kept)
        })
    }

    fn equal_directions(&self) -> Rc<[[f64; 2]]> {
        let n = self.len();
        match n.is_multiple_of(4) {
            // A multiple of four readings needs a quarter of the sines, and is symmetric to the last bit.
            true => {
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
            false => (0..n)
                .map(|k| {
                    let (s, c) = self.angle(k).sin_cos();
                    [c, s]
                })
                .collect(),
        }
    }

    /// Cartesian points, mm, if all are numbers.
    pub(super) fn finite_points(&self) -> Result<Vec<[f64; 2]>, MetrologyError> {
        let points = self.points();
        match points.iter().position(|p| !(p[0] + p[1]).is_finite()) {
            Some(index) => Err(MetrologyError::NotFinite { index }),
            None => Ok(points),
        }
    }

    /// Cartesian coordinates, all x and all y, mm.
    pub(super) fn coordinates(&self) -> (Vec<f64>, Vec<f64>) {
        let directions = self.directions();
        let pairs = directions.iter().zip(self.radii);
        pairs.map(|(d, r)| (d[0] * r, d[1] * r)).unzip()
    }

    /// Cartesian points, mm.
    pub(super) fn points(&self) -> Vec<[f64; 2]> {
        let directions = self.directions();
        let pairs = directions.iter().zip(self.radii);
        pairs.map(|(d, r)| [d[0] * r, d[1] * r]).collect()
    }
}
