//! Limits of the finished part and how it is inspected, as schemas.

use serde_json::{Value, json};

use super::form::{ABOVE_ZERO, ZERO_OR_MORE, above, number, object, quantity, words};
use crate::case::check::{FILTER_UPR, TEMPERATURES};
use crate::case::quantity::Dimension;
use crate::case::toml::inspection::{CIRCLES, GAUGES, INDICATORS, SUPPORTS, VEE_ANGLE_DEG};

pub(super) fn tolerance() -> Value {
    let length = |about| number(about, Dimension::Length, ABOVE_ZERO);
    object(
        "What the finished part must be",
        [
            (
                "roundness",
                length(
                    "Radial zone (minimum zone, unfiltered) of every surface cut in any step, on the finished part",
                ),
            ),
            (
                "marking_pressure",
                number(
                    "Pressure of contact beyond which a surface counts as marked; left out: 1.67 times the yield strength",
                    Dimension::Stress,
                    ABOVE_ZERO,
                ),
            ),
            ("outer", surface_tolerance("Limits of the outside")),
            ("bore", surface_tolerance("Limits of the bore")),
        ],
        &[],
    )
}

fn surface_tolerance(about: &str) -> Value {
    let length = |about| number(about, Dimension::Length, ABOVE_ZERO);
    let range = |about: &str| {
        json!({
            "type": "array",
            "description": about,
            "items": quantity(Dimension::Length, ABOVE_ZERO),
            "minItems": 2,
            "maxItems": 2,
        })
    };
    object(
        about,
        [
            ("roundness", length("Radial zone about the circle")),
            (
                "diameter",
                range("Lowest and highest of every two-point diameter"),
            ),
            (
                "average_diameter",
                range("Lowest and highest mean of the two-point diameters"),
            ),
            ("wall_variation", length("Largest wall less smallest")),
            (
                "runout",
                length("Full indicator movement about the axis of the other surface"),
            ),
            ("filter_upr", filter()),
            ("circle", circle()),
        ],
        &[],
    )
}

fn circle() -> Value {
    words("Reference circle; left out: minimum-zone", &CIRCLES)
}

fn filter() -> Value {
    let [least, most] = FILTER_UPR;
    let about = "Cut-off of the Gaussian filter, undulations per revolution; left out: unfiltered";
    number(about, Dimension::Plain, above(least, most))
}

fn vee_angle(about: &str) -> Value {
    let mut angle = number(about, Dimension::Angle, ABOVE_ZERO);
    angle["anyOf"][0]["exclusiveMaximum"] = json!(180.0);
    angle["default"] = json!(VEE_ANGLE_DEG);
    angle
}

pub(super) fn gauge() -> Value {
    object(
        "The gauge used",
        [
            ("kind", words("How it reads", &GAUGES)),
            (
                "included_angle",
                vee_angle("Angle between the flanks of its V"),
            ),
            (
                "indicator",
                words(
                    "Opposite its V (summit) or between the flanks (rider)",
                    &INDICATORS,
                ),
            ),
        ],
        &["kind"],
    )
}

pub(super) fn inspection() -> Value {
    let [coldest, warmest] = TEMPERATURES;
    let gauge = gauge();
    let mut table = object(
        "How the finished part is looked at",
        [
            ("circle", circle()),
            ("filter_upr", filter()),
            ("gauge", gauge),
            (
                "measuring_force",
                number(
                    "Force of the gauge's indicator, or of each of its contacts; needs a gauge",
                    Dimension::Force,
                    ZERO_OR_MORE,
                ),
            ),
            (
                "support",
                words(
                    "On its face, on a line of its outside, or in a V",
                    &SUPPORTS,
                ),
            ),
            (
                "vee_angle",
                vee_angle("Angle between the flanks of the V that carries the part"),
            ),
            (
                "temperature",
                number(
                    "Of part and gauge, deg C",
                    Dimension::Plain,
                    above(coldest, warmest),
                ),
            ),
        ],
        &[],
    );
    table["dependentRequired"] = json!({ "measuring_force": ["gauge"], "vee_angle": ["support"] });
    table
}
