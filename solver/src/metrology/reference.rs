//! Which circle a roundness is told about.

use super::{
    Circle, Filtered, MetrologyError, Profile, least_squares_circle, maximum_inscribed,
    minimum_circumscribed, minimum_zone,
};

/// The circle about which a profile's out-of-roundness is told (the four of ISO 4291 and ISO 12181-1, titles only).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum ReferenceCircle {
    /// Middle of the two closest concentric circles that hold the profile between them.
    #[default]
    MinimumZone,
    /// Least sum of squares of the distances.
    LeastSquares,
    /// Smallest circle round the profile: a ring gauge on a shaft.
    MinimumCircumscribed,
    /// Largest circle in the profile: a plug gauge in a bore.
    MaximumInscribed,
}

impl ReferenceCircle {
    /// In words.
    pub const fn name(self) -> &'static str {
        match self {
            Self::MinimumZone => "minimum zone",
            Self::LeastSquares => "least-squares circle",
            Self::MinimumCircumscribed => "minimum circumscribed circle",
            Self::MaximumInscribed => "maximum inscribed circle",
        }
    }

    /// Fits it to a profile.
    ///
    /// # Errors
    /// See [`MetrologyError`].
    pub fn fit(self, profile: &Profile) -> Result<Circle, MetrologyError> {
        Ok(match self {
            Self::MinimumZone => minimum_zone(profile)?.circle,
            Self::LeastSquares => least_squares_circle(profile),
            Self::MinimumCircumscribed => minimum_circumscribed(profile)?.circle,
            Self::MaximumInscribed => maximum_inscribed(profile)?.circle,
        })
    }
}

/// What a roundness is told about: a circle, perhaps behind a Gaussian filter.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Roundness {
    /// The circle.
    pub circle: ReferenceCircle,
    /// Cut-off of the filter, undulations per revolution; `None`: unfiltered.
    pub cut_off: Option<f64>,
}

impl Roundness {
    /// Out-of-roundness of a profile, mm.
    ///
    /// # Errors
    /// See [`MetrologyError`].
    pub fn of(self, profile: &Profile) -> Result<f64, MetrologyError> {
        let Some(cut_off) = self.cut_off else {
            return Ok(self.circle.fit(profile)?.roundness);
        };
        let centre = least_squares_circle(profile).centre;
        Filtered::with(profile, centre, cut_off, |smooth| {
            Ok(self.circle.fit(smooth)?.roundness)
        })
    }
}
