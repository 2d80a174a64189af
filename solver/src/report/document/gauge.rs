//! How a profile reads on each gauge: the document of `ringwright gauge`, and the same block for every surface of a result.

use serde::Serialize;

use super::HarmonicDocument;
use crate::geometry::Surface;
use crate::metrology::{
    Circle, Control, Filtered, Gauge, Harmonic, OneSided, Reading, Sheet, Side, Vee, Zone,
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
    /// Largest circle inside.
    pub maximum_inscribed: CircleDocument,
    /// Smallest circle around.
    pub minimum_circumscribed: CircleDocument,
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
    /// The gauge that shows this profile largest.
    pub shows_best: Option<String>,
    /// Gauges that show less than a fifth of its radial height.
    pub blind: Vec<String>,
}

/// A reference circle.
#[derive(Clone, Debug, Serialize)]
pub struct CircleDocument {
    /// Largest minus smallest distance from the centre.
    pub roundness: f64,
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
    /// Cut-off, undulations a turn.
    pub filter_upr: f64,
    /// As above.
    pub least_squares: CircleDocument,
    /// As above.
    pub minimum_zone: CircleDocument,
    /// As above.
    pub maximum_inscribed: CircleDocument,
    /// As above.
    pub minimum_circumscribed: CircleDocument,
}

/// Full indicator movement of one turn.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct RangeDocument {
    /// Largest minus smallest reading.
    pub range: f64,
}

/// Full indicator movement and the sizes between which it moves.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct SpanDocument {
    /// Largest minus smallest reading.
    pub range: f64,
    /// Smallest.
    pub min: f64,
    /// Largest.
    pub max: f64,
}

/// A V.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct VeeDocument {
    /// Included angle, degrees.
    pub angle: f64,
    /// Full indicator movement.
    pub range: f64,
}

/// What one gauge shows.
#[derive(Clone, Debug, Serialize)]
pub struct ReadingDocument {
    /// The gauge in words.
    pub gauge: String,
    /// Full indicator movement.
    pub range: f64,
    /// Full indicator movement over the radial height about the least-squares circle; null for a profile that is round.
    pub magnifies: Option<f64>,
}

/// Factors of one lobe count.
#[derive(Clone, Debug, Serialize)]
pub struct FactorDocument {
    /// Lobes a turn.
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
    pub fn of(sheet: &Sheet, vees: &[f64], mut cautions: Vec<String>) -> Self {
        cautions.extend(sheet.unread.iter().map(|g| {
            format!(
                "No reading on a {g}: the part is too far from round for it, somewhere in the turn nothing stands under the indicator. It is \
                 left out."
            )
        }));
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
        let span = |r: &Reading| SpanDocument {
            range: r.range,
            min: r.limits[0],
            max: r.limits[1],
        };
        let vees = |rides: bool| {
            sheet
                .readings
                .iter()
                .filter(|r| wanted(&r.gauge))
                .filter_map(|r| match r.gauge {
                    Gauge::Vee(v) if v == on_bisector(v.included_angle_deg, rides) => {
                        Some(VeeDocument {
                            angle: v.included_angle_deg,
                            range: r.range,
                        })
                    }
                    _ => None,
                })
                .collect()
        };
        Self {
            least_squares: circle(&sheet.least_squares),
            minimum_zone: zone(&sheet.minimum_zone, sheet),
            maximum_inscribed: one_sided(&sheet.inscribed, "inner", sheet),
            minimum_circumscribed: one_sided(&sheet.circumscribed, "outer", sheet),
            filtered: sheet.filtered.as_ref().map(|f| filtered(f, sheet)),
            two_point: span(&sheet.two_point),
            vee: vees(false),
            rider: vees(true),
            three_point: sheet.reading(Gauge::ThreePoint).map(span),
            plate: sheet.reading(Gauge::Plate).map(span),
            between_centres: RangeDocument {
                range: sheet.about_origin,
            },
            readings: sheet
                .readings
                .iter()
                .map(|r| ReadingDocument {
                    gauge: r.gauge.to_string(),
                    range: r.range,
                    magnifies: sheet.magnifies(r),
                })
                .collect(),
            factors: sheet
                .main_lobes()
                .iter()
                .map(|h| factors(h.count, sheet))
                .collect(),
            shows_best: sheet.best().map(|r| r.gauge.to_string()),
            blind: sheet.blind().map(|r| r.gauge.to_string()).collect(),
        }
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
        gauges: sheet.readings.iter().map(|r| factor(r.gauge)).collect(),
    }
}

fn circle(c: &Circle) -> CircleDocument {
    CircleDocument {
        roundness: c.roundness,
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
        maximum_inscribed: one_sided(&f.inscribed, "inner", sheet),
        minimum_circumscribed: one_sided(&f.circumscribed, "outer", sheet),
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
