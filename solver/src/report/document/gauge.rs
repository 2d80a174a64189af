//! How a profile reads on each gauge: the document of `ringwright gauge`, and the same block for every surface of a result.

mod unseen;

use serde::Serialize;

use super::HarmonicDocument;
use crate::geometry::Surface;
use crate::metrology::{
    Circle, Control, Filtered, Gauge, Harmonic, MetrologyError, OneSided, ReferenceCircle,
    Roundness, Sheet, Side, Vee, Zone,
};

/// `ringwright gauge`: lengths mm, angles degrees.
#[derive(Clone, Debug, Serialize)]
pub struct GaugeDocument {
    /// Always `ringwright-gauge-1`.
    pub format: &'static str,
    /// Number of readings.
    pub points: usize,
    /// Circles and gauges.
    #[serde(flatten)]
    pub read: ReadDocument,
    /// Lobes about the least-squares centre.
    pub harmonics: Vec<HarmonicDocument>,
    /// Warnings.
    pub cautions: Vec<String>,
}

/// Reference circles and gauge readings of one profile.
#[derive(Clone, Debug, Serialize)]
pub struct ReadDocument {
    /// Sum of squared departures least.
    pub least_squares: CircleDocument,
    /// Two concentric circles, least distance apart.
    pub minimum_zone: CircleDocument,
    /// Largest circle with no reading inside it; null with a reason in `unknown`.
    pub maximum_inscribed: Option<CircleDocument>,
    /// Smallest circle round all readings; null with a reason in `unknown`.
    pub minimum_circumscribed: Option<CircleDocument>,
    /// Behind a Gaussian filter; null without one.
    pub filtered: Option<FilteredDocument>,
    /// Diameters.
    pub two_point: SpanDocument,
    /// In a V, indicator on the bisector opposite it; empty for a bore.
    pub vee: Vec<VeeDocument>,
    /// In a V, indicator on the bisector between the flanks; empty for a bore.
    pub rider: Vec<VeeDocument>,
    /// Three-point bore gauge; null for an outside.
    pub three_point: Option<SpanDocument>,
    /// Rolled on a surface plate under a flat foot; null for a bore.
    pub plate: Option<SpanDocument>,
    /// About the origin of the readings.
    pub between_centres: RangeDocument,
    /// Every gauge put to the profile, in words, with what it shows.
    pub readings: Vec<ReadingDocument>,
    /// The strongest lobes and by how much each gauge magnifies them, to first order: for reference, the readings above are
    /// simulated.
    pub factors: Vec<FactorDocument>,
    /// The gauge that is most sensitive to this profile; null where unseen lobes leave that open.
    pub shows_best: Option<String>,
    /// Gauges insensitive to it: they show less than a fifth of its radial height.
    pub blind: Vec<String>,
    /// What of the above is null or only bounded, and why.
    pub unknown: Vec<UnknownDocument>,
}

/// What a circle or a gauge cannot say.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct UnknownDocument {
    /// Key of the circle or figure, or the gauge in words as in `readings`.
    pub what: String,
    /// Why.
    pub reason: String,
}

/// A reference circle.
#[derive(Clone, Debug, Serialize)]
pub struct CircleDocument {
    /// Largest minus smallest distance from the centre.
    pub roundness: f64,
    /// Estimated error of a computed roundness, mm; left out of what was measured, and when no second mesh was asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub error: Option<f64>,
    /// The same of the centre of a one-sided circle, in any direction, mm; as far as it may slide within the error where a centre is loosely held.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub centre_error: Option<f64>,
    /// The same of the radius of a one-sided circle, mm.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub radius_error: Option<f64>,
    /// What the part's own roundness about this circle is at least, where lobes that the readings do not show may add to it (`roundness` is then that of the lobes shown);
    /// left out where there are none such.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lower_bound: Option<f64>,
    /// Centre.
    pub centre: [f64; 2],
    /// Radius; of a minimum zone the mean of its two circles.
    pub radius: f64,
    /// False where other centres do as well (a largest circle inside an oval can slide): the centre and the roundness about it
    /// then mean little, the radius holds.
    pub unique: bool,
    /// The readings that hold the circle where it is: four that lie in turn on the outer and the inner circle of a minimum zone, two or
    /// three on a one-sided circle, none of a least-squares circle.
    pub controlling: Vec<ControlDocument>,
}

/// A reading that a circle rests on.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct ControlDocument {
    /// Part angle, degrees.
    pub angle: f64,
    /// `outer` or `inner` circle.
    pub on: &'static str,
}

/// The circles behind a filter.
#[derive(Clone, Debug, Serialize)]
pub struct FilteredDocument {
    /// Cut-off, undulations per revolution.
    pub filter_upr: f64,
    /// As above.
    pub least_squares: CircleDocument,
    /// As above.
    pub minimum_zone: CircleDocument,
    /// As above.
    pub maximum_inscribed: Option<CircleDocument>,
    /// As above.
    pub minimum_circumscribed: Option<CircleDocument>,
}

/// The minimum zone roundness against a zone.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ZoneDocument {
    /// Radial zone asked for.
    pub zone: f64,
    /// Cut-off of the filter that the roundness is behind, undulations per revolution; null: unfiltered.
    pub filter_upr: Option<f64>,
    /// The roundness; null where the readings give a lower bound only.
    pub roundness: Option<f64>,
    /// That bound; null where the roundness is known.
    pub lower_bound: Option<f64>,
    /// True: in the zone. False: missed, since the roundness or its lower bound is above it. Null: not shown to be in the zone, nor to miss it.
    pub in_zone: Option<bool>,
    /// By how much it is missed, at least; 0 in the zone, null where that is open.
    pub over: Option<f64>,
}

/// Full indicator movement of one turn.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct RangeDocument {
    /// Largest minus smallest reading; null with a reason in `unknown`.
    pub range: Option<f64>,
    /// What it is at least, where unseen lobes keep it from being known; else left out.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lower_bound: Option<f64>,
}

/// Full indicator movement and the sizes between which it moves.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct SpanDocument {
    /// Largest minus smallest reading; null with a reason in `unknown`, as are the others then.
    pub range: Option<f64>,
    /// What it is at least, where unseen lobes keep it from being known; else left out.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lower_bound: Option<f64>,
    /// Smallest.
    pub min: Option<f64>,
    /// Largest.
    pub max: Option<f64>,
}

/// A V.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct VeeDocument {
    /// Included angle, degrees.
    pub angle: f64,
    /// Full indicator movement; null with a reason in `unknown`.
    pub range: Option<f64>,
    /// What it is at least, where unseen lobes keep it from being known; else left out.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lower_bound: Option<f64>,
}

/// What one gauge shows.
#[derive(Clone, Debug, Serialize)]
pub struct ReadingDocument {
    /// The gauge.
    #[serde(skip)]
    pub kind: Gauge,
    /// The gauge in words.
    pub gauge: String,
    /// Full indicator movement; null with a reason in `unknown`.
    pub range: Option<f64>,
    /// Estimated error of what a gauge shows of a computed profile, mm; left out of what was measured, and when no second mesh was asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub error: Option<f64>,
    /// What it is at least, where unseen lobes keep it from being known; else left out.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lower_bound: Option<f64>,
    /// Full indicator movement over the radial height about the least-squares circle; null for a profile that is round or not wholly known.
    pub magnifies: Option<f64>,
}

/// Factors of one lobe count.
#[derive(Clone, Debug, Serialize)]
pub struct FactorDocument {
    /// Lobes per revolution.
    pub count: u32,
    /// One entry a gauge.
    pub gauges: Vec<GaugeFactor>,
}

/// How much of a lobe's radial height a gauge reads.
#[derive(Clone, Debug, Serialize)]
pub struct GaugeFactor {
    /// The gauge in words.
    pub gauge: String,
    /// Full indicator movement over radial height.
    pub factor: f64,
}

/// The gauges that a surface is put to in every result: the usual ones that reach it. `None`: it is not known which surface
/// it is.
pub fn usual_gauges(surface: Option<Surface>) -> Vec<Gauge> {
    Gauge::USUAL
        .into_iter()
        .filter(|g| surface.is_none_or(|s| g.reaches(s)))
        .collect()
}

impl GaugeDocument {
    /// Writes down a sheet. `vees` are the included angles (degrees) asked for, each of which must be among the sheet's gauges
    /// as a summit.
    pub fn of(sheet: &Sheet, vees: &[f64], cautions: Vec<String>) -> Self {
        let asked = |g: &Gauge| match g {
            Gauge::Vee(v) if v.indicator_deg == 0.0 => vees.contains(&v.included_angle_deg),
            _ => true,
        };
        Self {
            format: "ringwright-gauge-1",
            points: sheet.points,
            read: ReadDocument::of(sheet, asked),
            harmonics: lobes(&sheet.harmonics),
            cautions,
        }
    }
}

impl ReadDocument {
    /// Writes down the circles of a sheet, and its gauges so far as they are wanted.
    pub fn of(sheet: &Sheet, wanted: impl Fn(&Gauge) -> bool) -> Self {
        let maximum_inscribed = sheet.inscribed.as_ref();
        let minimum_circumscribed = sheet.circumscribed.as_ref();
        let gauges = || {
            let unread = sheet.unread.iter().map(|&g| (g, None));
            sheet
                .readings
                .iter()
                .map(|r| (r.gauge, Some(r.limits)))
                .chain(unread)
        };
        let range = |limits: Option<[f64; 2]>| limits.map(|[low, high]| high - low);
        let span = |limits: Option<[f64; 2]>| SpanDocument {
            range: range(limits),
            lower_bound: None,
            min: limits.map(|l| l[0]),
            max: limits.map(|l| l[1]),
        };
        let vees = |rides: bool| {
            gauges()
                .filter(|(g, _)| wanted(g))
                .filter_map(|(gauge, limits)| match gauge {
                    Gauge::Vee(v) if v == on_bisector(v.included_angle_deg, rides) => {
                        Some(VeeDocument {
                            angle: v.included_angle_deg,
                            range: range(limits),
                            lower_bound: None,
                        })
                    }
                    _ => None,
                })
                .collect()
        };
        let only = |wanted: Gauge| {
            let mut found = gauges().filter(|(g, _)| *g == wanted);
            found.next().map(|(_, limits)| span(limits))
        };
        Self {
            least_squares: circle(&sheet.least_squares),
            minimum_zone: zone(&sheet.minimum_zone, sheet),
            maximum_inscribed: maximum_inscribed.ok().map(|c| one_sided(c, "inner", sheet)),
            minimum_circumscribed: minimum_circumscribed
                .ok()
                .map(|c| one_sided(c, "outer", sheet)),
            filtered: sheet.filtered.as_ref().map(|f| filtered(f, sheet)),
            two_point: span(Some(sheet.two_point.limits)),
            vee: vees(false),
            rider: vees(true),
            three_point: only(Gauge::ThreePoint),
            plate: only(Gauge::Plate),
            between_centres: RangeDocument {
                range: Some(sheet.about_origin),
                lower_bound: None,
            },
            readings: gauges()
                .map(|(gauge, limits)| ReadingDocument {
                    kind: gauge,
                    gauge: gauge.to_string(),
                    range: range(limits),
                    error: None,
                    lower_bound: None,
                    magnifies: sheet.reading(gauge).and_then(|r| sheet.magnifies(r)),
                })
                .collect(),
            factors: sheet
                .main_lobes()
                .iter()
                .map(|h| factors(h.count, sheet))
                .collect(),
            shows_best: sheet.best().map(|r| r.gauge.to_string()),
            blind: sheet.blind().map(|r| r.gauge.to_string()).collect(),
            unknown: unknown_of(sheet),
        }
    }

    /// The circle that a roundness is told about, behind its filter if it has one; `None` where it is unknown.
    pub fn about(&self, about: Roundness) -> Option<&CircleDocument> {
        let filtered = self.filtered.as_ref().filter(|_| about.cut_off.is_some());
        match (about.circle, filtered) {
            (ReferenceCircle::MinimumZone, None) => Some(&self.minimum_zone),
            (ReferenceCircle::MinimumZone, Some(f)) => Some(&f.minimum_zone),
            (ReferenceCircle::LeastSquares, None) => Some(&self.least_squares),
            (ReferenceCircle::LeastSquares, Some(f)) => Some(&f.least_squares),
            (ReferenceCircle::MinimumCircumscribed, None) => self.minimum_circumscribed.as_ref(),
            (ReferenceCircle::MinimumCircumscribed, Some(f)) => f.minimum_circumscribed.as_ref(),
            (ReferenceCircle::MaximumInscribed, None) => self.maximum_inscribed.as_ref(),
            (ReferenceCircle::MaximumInscribed, Some(f)) => f.maximum_inscribed.as_ref(),
        }
    }

    /// Holds the minimum zone, behind its filter if there is one, against a radial zone (mm).
    pub fn in_zone(&self, zone: f64) -> ZoneDocument {
        let (circle, key, filter_upr) = match &self.filtered {
            Some(f) => (&f.minimum_zone, "filtered.minimum_zone", Some(f.filter_upr)),
            None => (&self.minimum_zone, "minimum_zone", None),
        };
        // a zone that is not proven to be the narrowest is what the roundness is at most
        let at_most = self.unknown.iter().any(|u| u.what == key);
        let known = circle.lower_bound.unwrap_or(circle.roundness);
        let in_zone = if known > zone {
            (!at_most).then_some(false)
        } else {
            circle.lower_bound.is_none().then_some(true)
        };
        ZoneDocument {
            zone,
            filter_upr,
            roundness: circle.lower_bound.is_none().then_some(circle.roundness),
            lower_bound: circle.lower_bound,
            in_zone,
            over: in_zone.map(|good| if good { 0.0 } else { known - zone }),
        }
    }
}

/// Why a gauge may have no reading.
const TOO_FAR_FROM_ROUND: &str = "the part is too far from round for it: somewhere in the turn nothing stands under the indicator, or no place is found where all contacts touch";

/// Circles and gauges of a sheet that cannot be had, and why.
fn unknown_of(sheet: &Sheet) -> Vec<UnknownDocument> {
    let mut unknown = Vec::new();
    let mut note = |what: &str, why: Option<&MetrologyError>| {
        unknown.extend(why.map(|why| unknown_because(what, why)));
    };
    note("minimum_zone", sheet.zone_not_proven.as_ref());
    note("maximum_inscribed", sheet.inscribed.as_ref().err());
    note("minimum_circumscribed", sheet.circumscribed.as_ref().err());
    if let Some(f) = &sheet.filtered {
        note("filtered.minimum_zone", f.zone_not_proven.as_ref());
        note("filtered.maximum_inscribed", f.inscribed.as_ref().err());
        note(
            "filtered.minimum_circumscribed",
            f.circumscribed.as_ref().err(),
        );
    }
    unknown.extend(sheet.unread.iter().map(|g| UnknownDocument {
        what: g.to_string(),
        reason: TOO_FAR_FROM_ROUND.into(),
    }));
    unknown
}

fn unknown_because(what: &str, why: &MetrologyError) -> UnknownDocument {
    UnknownDocument {
        what: what.into(),
        reason: why.to_string(),
    }
}

fn on_bisector(angle: f64, rides: bool) -> Vee {
    if rides {
        Vee::rider(angle)
    } else {
        Vee::summit(angle)
    }
}

fn factors(count: u32, sheet: &Sheet) -> FactorDocument {
    let factor = |g: Gauge| GaugeFactor {
        gauge: g.to_string(),
        factor: g.factor(count),
    };
    FactorDocument {
        count,
        gauges: sheet
            .readings
            .iter()
            .map(|r| r.gauge)
            .chain(sheet.unread.iter().copied())
            .map(factor)
            .collect(),
    }
}

fn circle(c: &Circle) -> CircleDocument {
    CircleDocument {
        roundness: c.roundness,
        error: None,
        centre_error: None,
        radius_error: None,
        lower_bound: None,
        centre: c.centre.map(|x| x + 0.0),
        radius: c.radius,
        unique: true,
        controlling: Vec::new(),
    }
}

fn zone(zone: &Zone, sheet: &Sheet) -> CircleDocument {
    let control = |c: &Control| ControlDocument {
        angle: sheet.angle_deg(c.reading),
        on: match c.side {
            Side::Outer => "outer",
            Side::Inner => "inner",
        },
    };
    CircleDocument {
        controlling: by_angle(zone.controlling.iter().map(control)),
        ..circle(&zone.circle)
    }
}

fn one_sided(c: &OneSided, on: &'static str, sheet: &Sheet) -> CircleDocument {
    let control = |&reading: &usize| ControlDocument {
        angle: sheet.angle_deg(reading),
        on,
    };
    CircleDocument {
        unique: c.unique,
        controlling: by_angle(c.controlling.iter().map(control)),
        ..circle(&c.circle)
    }
}

fn by_angle(controls: impl Iterator<Item = ControlDocument>) -> Vec<ControlDocument> {
    let mut controls: Vec<ControlDocument> = controls.collect();
    controls.sort_by(|a, b| a.angle.total_cmp(&b.angle));
    controls
}

fn filtered(f: &Filtered, sheet: &Sheet) -> FilteredDocument {
    FilteredDocument {
        filter_upr: f.cut_off,
        least_squares: circle(&f.least_squares),
        minimum_zone: zone(&f.minimum_zone, sheet),
        maximum_inscribed: f
            .inscribed
            .as_ref()
            .ok()
            .map(|c| one_sided(c, "inner", sheet)),
        minimum_circumscribed: f
            .circumscribed
            .as_ref()
            .ok()
            .map(|c| one_sided(c, "outer", sheet)),
    }
}

/// Lobes as they are written: angles without the sign of zero.
pub(super) fn lobes(harmonics: &[Harmonic]) -> Vec<HarmonicDocument> {
    harmonics
        .iter()
        .map(|h| HarmonicDocument {
            count: h.count,
            amplitude: h.amplitude,
            angle: h.angle_deg + 0.0,
        })
        .collect()
}
