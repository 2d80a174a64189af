//! Everything that is read off one profile: the one place from which roundness is reported.

use super::minimum_zone::zone_or_bound;
use super::one_sided::maximum_inscribed_from;
use super::{
    Circle, Curve, Gauge, Harmonic, MetrologyError, OneSided, Profile, Resolution, Zone, gaussian,
    harmonics, least_squares_circle, maximum_inscribed, minimum_circumscribed,
};

/// Lobe counts evaluated: 1 to this.
pub const MOST_LOBES: u32 = 50;

/// A lobe is worth naming from this share of the strongest one on.
const WORTH_NAMING: f64 = 0.2;

/// A gauge that shows less than this share of the radial height is called insensitive to the profile, and a lobe whose factor is below
/// it is not seen.
pub const BLIND: f64 = 0.2;

/// Gauges that show this share of the largest reading show it as well.
const AS_LARGE: f64 = 0.98;

/// Share of the radius up to which a profile is round to within rounding: what solving leaves on a surface that comes out round.
const ROUND: f64 = 1e-10;

/// What is wanted of a sheet.
#[derive(Clone, Debug, Default)]
pub struct Wanted {
    /// The gauges to put to the profile.
    pub gauges: Vec<Gauge>,
    /// Cut-off of a Gaussian filter, undulations per revolution.
    pub cut_off: Option<f64>,
}

/// A gauge and what it shows over one turn of the profile.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// The gauge.
    pub gauge: Gauge,
    /// Total reading (full indicator movement), mm.
    pub range: f64,
    /// Smallest and largest reading, mm: diameters, heights, growths of the radius, see [`Gauge::trace`](super::Trace).
    pub limits: [f64; 2],
}

/// The sheet of one profile.
#[derive(Clone, Debug)]
pub struct Sheet {
    /// Number of readings.
    pub points: usize,
    /// Least-squares circle.
    pub least_squares: Circle,
    /// Minimum zone.
    pub minimum_zone: Zone,
    /// Why the zone is not known to be the narrowest; `None`: it is. Its width is then what the out-of-roundness is at most.
    pub zone_not_proven: Option<MetrologyError>,
    /// Maximum inscribed circle, or why there is none.
    pub inscribed: Result<OneSided, MetrologyError>,
    /// Minimum circumscribed circle, or why there is none.
    pub circumscribed: Result<OneSided, MetrologyError>,
    /// Lobes about the least-squares centre, 1 to [`MOST_LOBES`] or as many as the points can show.
    pub harmonics: Vec<Harmonic>,
    /// Largest minus smallest distance from the origin of the readings: what an indicator shows that turns about it, mm.
    pub about_origin: f64,
    /// Diameters.
    pub two_point: Reading,
    /// What each gauge shows that was asked for.
    pub readings: Vec<Reading>,
    /// The gauges asked for that give no reading somewhere in the turn, see [`Trace::is_whole`](super::Trace::is_whole).
    pub unread: Vec<Gauge>,
    /// The profile behind a filter, if one was asked for.
    pub filtered: Option<Filtered>,
    /// What the points cannot show.
    pub resolution: Resolution,
    /// Angles of uneven readings, rad.
    angles: Option<Vec<f64>>,
}

/// A profile behind a Gaussian filter.
#[derive(Clone, Debug)]
pub struct Filtered {
    /// Cut-off, undulations per revolution.
    pub cut_off: f64,
    /// Least-squares circle.
    pub least_squares: Circle,
    /// Minimum zone.
    pub minimum_zone: Zone,
    /// Why the zone is not known to be the narrowest; `None`: it is. Its width is then what the out-of-roundness is at most.
    pub zone_not_proven: Option<MetrologyError>,
    /// Maximum inscribed circle, or why there is none.
    pub inscribed: Result<OneSided, MetrologyError>,
    /// Minimum circumscribed circle, or why there is none.
    pub circumscribed: Result<OneSided, MetrologyError>,
}

impl Sheet {
    /// Reads a profile in every way wanted.
    ///
    /// One-sided circles and gauges that cannot be had cost nothing but themselves.
    ///
    /// # Errors
    /// When the profile has no least-squares circle and no zone, or no curve goes through it, see [`MetrologyError`].
    pub fn of(profile: &Profile, wanted: &Wanted) -> Result<Self, MetrologyError> {
        let least_squares = least_squares_circle(profile);
        let (minimum_zone, zone_not_proven) = zone_or_bound(profile, least_squares)?;
        let curve = Curve::about(profile, &least_squares)?;
        let read = |gauge: Gauge| {
            let limits = gauge.limits(&curve)?;
            Some(Reading {
                gauge,
                range: limits[1] - limits[0],
                limits,
            })
        };
        let readings: Vec<Reading> = wanted.gauges.iter().filter_map(|&g| read(g)).collect();
        let is_read = |g: &Gauge| readings.iter().any(|r| r.gauge == *g);
        let two_point = readings
            .iter()
            .find(|r| r.gauge == Gauge::TwoPoint)
            .copied()
            .or_else(|| read(Gauge::TwoPoint))
            .ok_or(MetrologyError::Degenerate)?;
        Ok(Self {
            points: profile.len(),
            inscribed: maximum_inscribed_from(profile, &least_squares),
            circumscribed: minimum_circumscribed(profile),
            harmonics: harmonics(profile, least_squares.centre, MOST_LOBES),
            about_origin: profile.roundness_about([0.0, 0.0]),
            least_squares,
            minimum_zone,
            zone_not_proven,
            two_point,
            unread: wanted
                .gauges
                .iter()
                .copied()
                .filter(|g| !is_read(g))
                .collect(),
            readings,
            filtered: wanted
                .cut_off
                .map(|cut_off| Filtered::of(profile, least_squares.centre, cut_off))
                .transpose()?,
            resolution: Resolution::of(profile),
            angles: profile.angles.map(<[f64]>::to_vec),
        })
    }

    /// Part angle of a reading, by which the readings that control a circle are named, degrees in `[0, 360)`.
    pub fn angle_deg(&self, reading: usize) -> f64 {
        let angle = match &self.angles {
            Some(angles) => angles[reading].to_degrees(),
            None => 360.0 * reading as f64 / self.points as f64,
        };
        let turned = angle.rem_euclid(360.0);
        if turned < 360.0 { turned } else { 0.0 }
    }

    /// What a gauge shows, if it was asked for.
    pub fn reading(&self, gauge: Gauge) -> Option<&Reading> {
        self.readings.iter().find(|r| r.gauge == gauge)
    }

    /// The lobes that make the shape, strongest first: two per revolution or more, at least a fifth of the strongest, and more than
    /// rounding leaves on a round profile.
    pub fn main_lobes(&self) -> Vec<Harmonic> {
        let mut lobes: Vec<Harmonic> = self
            .harmonics
            .iter()
            .filter(|h| h.count >= 2)
            .copied()
            .collect();
        lobes.sort_by(|a, b| {
            b.amplitude
                .total_cmp(&a.amplitude)
                .then(a.count.cmp(&b.count))
        });
        let strongest = lobes.first().map_or(0.0, |h| h.amplitude);
        let least = (WORTH_NAMING * strongest).max(ROUND * self.least_squares.radius);
        lobes.retain(|h| h.amplitude >= least);
        lobes
    }

    /// How many times its radial height (about the least-squares circle) a gauge makes of the profile; `None` for a profile that
    /// is round to within rounding.
    pub fn magnifies(&self, reading: &Reading) -> Option<f64> {
        let Circle {
            roundness, radius, ..
        } = self.least_squares;
        (roundness > ROUND * radius).then(|| reading.range / roundness)
    }

    /// The gauge that shows the profile largest, of those that find their own centre: about a fixed axis the reading grows with
    /// every error of centring instead. Of gauges that show as much, within a fiftieth, the first asked for.
    pub fn best(&self) -> Option<&Reading> {
        let shown = || self.free_of_axis().filter(|r| self.magnifies(r).is_some());
        let largest = shown().map(|r| r.range).fold(0.0, f64::max);
        shown().find(|r| r.range >= AS_LARGE * largest)
    }

    /// The gauges that hardly show the profile: insensitive to it.
    pub fn blind(&self) -> impl Iterator<Item = &Reading> {
        let hardly = |r: &&Reading| self.magnifies(r).is_some_and(|m| m < BLIND);
        self.free_of_axis().filter(hardly)
    }

    fn free_of_axis(&self) -> impl Iterator<Item = &Reading> {
        self.readings.iter().filter(|r| r.gauge != Gauge::Radius)
    }
}

impl Filtered {
    fn of(profile: &Profile, centre: [f64; 2], cut_off: f64) -> Result<Self, MetrologyError> {
        let mut filtered = Self::with(profile, centre, cut_off, |smooth| {
            let least_squares = least_squares_circle(smooth);
            let (minimum_zone, zone_not_proven) = zone_or_bound(smooth, least_squares)?;
            Ok(Self {
                cut_off,
                least_squares,
                minimum_zone,
                zone_not_proven,
                inscribed: maximum_inscribed(smooth),
                circumscribed: minimum_circumscribed(smooth),
            })
        })?;
        // the filter works on the distances from the centre, so the axes have moved there
        let one_sided = [&mut filtered.inscribed, &mut filtered.circumscribed];
        let circles = [
            &mut filtered.least_squares,
            &mut filtered.minimum_zone.circle,
        ];
        for circle in one_sided
            .into_iter()
            .filter_map(|c| c.as_mut().ok())
            .map(|c| &mut c.circle)
            .chain(circles)
        {
            circle.centre = [circle.centre[0] + centre[0], circle.centre[1] + centre[1]];
        }
        Ok(filtered)
    }

    /// The filtered profile of one of equal angles: distances (mm) from the centre that the filter worked about, in axes through it, and that centre.
    ///
    /// # Errors
    /// See [`gaussian`].
    pub fn profile(&self, radii: &[f64]) -> Result<(Vec<f64>, [f64; 2]), MetrologyError> {
        let profile = Profile::equal(radii);
        let centre = least_squares_circle(&profile).centre;
        Ok((gaussian(&profile, centre, self.cut_off)?, centre))
    }

    /// What is read off the filtered profile: distances from `centre` (mm), in axes through it.
    pub(super) fn with<T>(
        profile: &Profile,
        centre: [f64; 2],
        cut_off: f64,
        read: impl FnOnce(&Profile) -> Result<T, MetrologyError>,
    ) -> Result<T, MetrologyError> {
        let radii = gaussian(profile, centre, cut_off)?;
        if profile.is_even() {
            return read(&Profile::equal(&radii));
        }
        let angles: Vec<f64> = (0..profile.len()).map(|k| profile.angle(k)).collect();
        read(&Profile::new(&angles, &radii)?)
    }
}
