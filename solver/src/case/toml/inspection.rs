//! `[inspection]`: how the finished part is looked at.

use super::node::{Item, Reader, Table};
use crate::case::check::range::Range;
use crate::case::check::{self, FILTER_UPR, TEMPERATURES};
use crate::case::quantity::Dimension::{Angle, Force, Plain};
use crate::case::{Inspection, Support};
use crate::metrology::{Gauge, ReferenceCircle, Vee};

/// Words for the reference circles.
pub(super) const CIRCLES: [&str; 4] = [
    "minimum-zone",
    "least-squares",
    "minimum-circumscribed",
    "maximum-inscribed",
];
/// Words for the gauges.
pub(super) const GAUGES: [&str; 5] = ["vee", "two-point", "three-point", "radius", "plate"];
/// Words for the place of a V's indicator.
pub(super) const INDICATORS: [&str; 2] = ["summit", "rider"];
/// Words for the supports.
pub(super) const SUPPORTS: [&str; 3] = ["flat", "edge", "vee"];
/// Included angle of a V that is not given, degrees.
pub(super) const VEE_ANGLE_DEG: f64 = 90.0;
pub(super) fn inspection<'a>(
    reader: &mut Reader<'a>,
    root: &Table<'a>,
    assumed: &mut Vec<String>,
) -> Inspection {
    let mut out = Inspection::default();
    let Some(table) = root.get("inspection").and_then(|i| reader.table(&i)) else {
        return out;
    };
    let known = [
        "circle",
        "filter_upr",
        "gauge",
        "measuring_force",
        "support",
        "vee_angle",
        "temperature",
    ];
    reader.check_keys(&table, &known, &[]);
    out.circle = circle(reader, &table).unwrap_or_default();
    out.filter_upr = filter_upr(reader, &table);
    out.gauge = table.get("gauge").and_then(|i| gauge(reader, &i));
    out.measuring_force = reader.optional(&table, "measuring_force", Force, Range::ZeroOrMore);
    if let Some(item) = table.get("measuring_force")
        && table.get("gauge").is_none()
    {
        reader.wrong(&item, check::NO_GAUGE);
    }
    out.support = support(reader, &table, assumed);
    let [low, high] = TEMPERATURES;
    if let Some(t) = reader.optional(&table, "temperature", Plain, Range::AboveUpTo(low, high)) {
        out.temperature = t;
    }
    out
}

/// The reference circle of a table, if it names one.
pub(super) fn circle<'a>(reader: &mut Reader<'a>, table: &Table<'a>) -> Option<ReferenceCircle> {
    let item = table.get("circle")?;
    Some(match reader.choice(&item, &CIRCLES, &[])? {
        "least-squares" => ReferenceCircle::LeastSquares,
        "minimum-circumscribed" => ReferenceCircle::MinimumCircumscribed,
        "maximum-inscribed" => ReferenceCircle::MaximumInscribed,
        _ => ReferenceCircle::MinimumZone,
    })
}

/// The filter of a table, if it names one.
pub(super) fn filter_upr<'a>(reader: &mut Reader<'a>, table: &Table<'a>) -> Option<f64> {
    let [low, high] = FILTER_UPR;
    reader.optional(table, "filter_upr", Plain, Range::AboveUpTo(low, high))
}

fn vee_angle<'a>(reader: &mut Reader<'a>, table: &Table<'a>, key: &str) -> Option<f64> {
    match table.get(key) {
        Some(item) => reader.number(&item, Angle, Range::Between(0.0, 180.0)),
        None => Some(VEE_ANGLE_DEG),
    }
}

/// A gauge as a table names it.
pub(super) fn gauge<'a>(reader: &mut Reader<'a>, item: &Item<'a>) -> Option<Gauge> {
    let table = reader.table(item)?;
    reader.check_keys(&table, &["kind", "included_angle", "indicator"], &[]);
    let kind = reader.required(&table, "kind", "the kind of gauge, like \"two-point\"")?;
    let kind = reader.choice(&kind, &GAUGES, &[])?;
    if kind != "vee" {
        for key in ["included_angle", "indicator"] {
            if let Some(i) = table.get(key) {
                let message = format!("a {kind} gauge has no {key}; it goes with kind = \"vee\"");
                reader.problem(i.key_span.clone(), &i.path, message);
            }
        }
    }
    Some(match kind {
        "vee" => {
            let angle = vee_angle(reader, &table, "included_angle")?;
            let indicator = match table.get("indicator") {
                Some(i) => reader.choice(&i, &INDICATORS, &[])?,
                None => "summit",
            };
            Gauge::Vee(match indicator {
                "rider" => Vee::rider(angle),
                _ => Vee::summit(angle),
            })
        }
        "two-point" => Gauge::TwoPoint,
        "three-point" => Gauge::ThreePoint,
        "plate" => Gauge::Plate,
        _ => Gauge::Radius,
    })
}

fn support<'a>(reader: &mut Reader<'a>, table: &Table<'a>, assumed: &mut Vec<String>) -> Support {
    let word = match table.get("support") {
        Some(item) => reader.choice(&item, &SUPPORTS, &[]),
        None => {
            assumed.push(check::LYING.into());
            Some("flat")
        }
    };
    if let Some(item) = table.get("vee_angle")
        && word != Some("vee")
    {
        let message =
            "goes with support = \"vee\"; the angle of a gauge's own V is its included_angle";
        reader.problem(item.key_span.clone(), &item.path, message);
    }
    match word {
        Some("edge") => Support::Edge,
        Some("vee") => Support::Vee {
            included_angle_deg: vee_angle(reader, table, "vee_angle").unwrap_or(VEE_ANGLE_DEG),
        },
        _ => Support::Flat,
    }
}
