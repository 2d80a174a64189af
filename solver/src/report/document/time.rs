//! The second answer for a plastic that is held long.

use serde::Serialize;

use crate::geometry::{PerSurface, Surface};
use crate::metrology::{Profile, Sheet, Wanted};
use crate::process::{LongTime, Outcome};
use crate::report::ReportError;

/// The finished part as the modulus that is left after a long hold makes it: as if it had had that from the start.
#[derive(Clone, Debug, Serialize)]
pub struct LongTimeDocument {
    /// That modulus, MPa.
    pub modulus: f64,
    /// How long the part is held at most, minutes; null where the case does not say.
    pub minutes: Option<f64>,
    /// What is left of it; null where it gives way so far that there is no answer.
    pub released: Option<PerSurface<LateShape>>,
}

/// A surface of it.
#[derive(Clone, Copy, Debug, Default, Serialize)]
pub struct LateShape {
    /// Radius of its least-squares circle, mm.
    pub mean_radius: f64,
    /// About the least-squares circle, mm.
    pub roundness_least_squares: f64,
    /// About the minimum zone, mm.
    pub roundness_minimum_zone: f64,
}

impl LongTimeDocument {
    /// The second answer of an outcome, if it has one.
    ///
    /// # Errors
    /// [`ReportError::Measure`] if a surface cannot be measured.
    pub(super) fn of(outcome: &Outcome) -> Result<Option<Self>, ReportError> {
        let Some(LongTime {
            modulus,
            minutes,
            released,
        }) = &outcome.long_time
        else {
            return Ok(None);
        };
        let on = |radii: &[f64]| {
            let profile = Profile::equal(radii);
            let sheet =
                Sheet::of(&profile, &Wanted::default()).map_err(|e| ReportError::Measure {
                    what: "the part held long".into(),
                    why: e.to_string(),
                })?;
            Ok(LateShape {
                mean_radius: sheet.least_squares.radius,
                roundness_least_squares: sheet.least_squares.roundness,
                roundness_minimum_zone: sheet.minimum_zone.circle.roundness,
            })
        };
        let both = released.as_ref().map(|r| {
            Ok(PerSurface {
                outer: on(r.get(Surface::Outer))?,
                bore: on(r.get(Surface::Bore))?,
            })
        });
        Ok(Some(Self {
            modulus: *modulus,
            minutes: *minutes,
            released: both.transpose()?,
        }))
    }
}
