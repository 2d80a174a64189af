//! The ring as received, as schemas: sizes, material, residual stress, lobes and readings.

use serde_json::{Value, json};

use super::form::{
    ABOVE_ZERO, ANY, ZERO_OR_MORE, above, flag, list, number, object, quantity, text, whole, words,
};
use super::inspection::gauge;
use crate::case::check::part::MOST_LOBES;
use crate::case::most::MOST_LOBE_TABLES;
use crate::case::quantity::Dimension;
use crate::case::toml::part::FROM_TUBE;
use crate::case::toml::readings::{READS, ROUND, UNITS};
use crate::case::toml::residual::SLIT_SURFACES;
use crate::scheme::Bounds;

pub(super) fn part() -> Value {
    let length = |about| number(about, Dimension::Length, ABOVE_ZERO);
    object(
        "The ring as received",
        [
            ("outer_diameter", length("Outside diameter")),
            ("bore_diameter", length("Bore diameter")),
            ("length", length("Length along the axis")),
            ("section_thickness", section_thickness()),
            ("material", material()),
            ("residual_hoop_stress", residual()),
            (
                "lobes",
                list("Lobes of the stock", lobes(), [0, MOST_LOBE_TABLES]),
            ),
            (
                "bore_offset",
                offset("How far the bore lies off the outside"),
            ),
            ("readings", readings()),
        ],
        &["outer_diameter", "bore_diameter", "length", "material"],
    )
}

fn section_thickness() -> Value {
    let about = "How thick the slice is that stands for the part: a length, or \"from-tube\", as thick as lobes like the part gripped over its grip_length";
    json!({
        "anyOf": [quantity(Dimension::Length, ABOVE_ZERO), { "const": FROM_TUBE }],
        "description": about,
    })
}

fn lobes() -> Value {
    object(
        "A wave of the radius: amplitude * cos(count * (theta - angle))",
        [
            (
                "surface",
                words(
                    "Where; both: the whole wall is bent",
                    &["outer", "bore", "both"],
                ),
            ),
            ("count", whole("Lobes per revolution", 1, MOST_LOBES)),
            (
                "amplitude",
                number(
                    "Amplitude: the radius goes up and down by this much",
                    Dimension::Length,
                    ANY,
                ),
            ),
            ("angle", number("Of the first crest", Dimension::Angle, ANY)),
        ],
        &["count", "amplitude"],
    )
}

fn material() -> Value {
    let names: Vec<&str> = crate::case::material_names().collect();
    let known = format!(
        "A material of the built-in table (`ringwright materials` shows the values), capitals do not matter: {}",
        names.join(", ")
    );
    let mut ratio = number(
        "Poisson's ratio",
        Dimension::Plain,
        Bounds {
            least: -1.0,
            above: true,
            most: Bounds::LARGEST,
        },
    );
    ratio["anyOf"][0]["exclusiveMaximum"] = json!(0.5);
    let given = object(
        "A material of your own",
        [
            ("name", text("What it is called")),
            (
                "young_modulus",
                number("Young's modulus", Dimension::Stress, ABOVE_ZERO),
            ),
            ("poisson_ratio", ratio),
            (
                "yield_strength",
                number("Yield strength", Dimension::Stress, ABOVE_ZERO),
            ),
            (
                "density",
                number("Density, kg/m3", Dimension::Density, ABOVE_ZERO),
            ),
            ("cutting", cutting()),
            (
                "thermal_expansion",
                number("Thermal expansion, 1/K", Dimension::Plain, above(0.0, 1e-2)),
            ),
            (
                "long_time_modulus",
                number(
                    "Of a plastic: Young's modulus that is left once it has been held as long as in a step",
                    Dimension::Stress,
                    ABOVE_ZERO,
                ),
            ),
        ],
        &["young_modulus", "poisson_ratio"],
    );
    json!({ "anyOf": [text(&known), given] })
}

/// Constants of the cutting force.
fn cutting() -> Value {
    object(
        "Constants of the cutting force: kc11 of a chip of 1 mm by 1 mm, and the exponent by which it falls with the chip's thickness in mm",
        [
            (
                "kc11",
                number("Specific cutting force", Dimension::Stress, ABOVE_ZERO),
            ),
            ("mc", number("Exponent", Dimension::Plain, above(0.0, 1.0))),
        ],
        &["kc11", "mc"],
    )
}

pub(super) fn offset(about: &str) -> Value {
    object(
        about,
        [
            (
                "distance",
                number("How far", Dimension::Length, ZERO_OR_MORE),
            ),
            ("angle", number("Which way", Dimension::Angle, ANY)),
        ],
        &["distance"],
    )
}

/// Stress by its two ends, or what a slit ring did.
fn residual() -> Value {
    let stress = |about| number(about, Dimension::Stress, ANY);
    let diameter = |about| number(about, Dimension::Length, ABOVE_ZERO);
    let width = |about| number(about, Dimension::Length, ZERO_OR_MORE);
    let slit = object(
        "A ring of the stock slit along its length: diameter_before and diameter_after, or gap",
        [
            ("diameter_before", diameter("Before slitting")),
            (
                "diameter_after",
                diameter("After slitting, square to the line through the slit and the axis"),
            ),
            ("surface", words("Where the diameters are", &SLIT_SURFACES)),
            ("gap", width("Width of the slot at the outside")),
            ("saw_width", width("What the saw took at the outside")),
        ],
        &[],
    );
    let mut both = object(
        "Hoop stress of the stock, linear through the wall; tension positive: outer and bore, which cancel, or a slit test",
        [
            ("outer", stress("At the outside")),
            ("bore", stress("At the bore")),
            ("slit", slit),
        ],
        &[],
    );
    both["oneOf"] = json!([{ "required": ["slit"] }, { "required": ["outer", "bore"] }]);
    both["properties"]["slit"]["oneOf"] =
        json!([{ "required": ["gap"] }, { "required": ["diameter_before", "diameter_after"] }]);
    both
}

/// The stock as measured.
fn readings() -> Value {
    object(
        "Readings of the stock, in place of lobes",
        [
            ("outer", surface_readings()),
            ("bore", surface_readings()),
            (
                "one_setting",
                flag(
                    "Both surfaces were read about one axis, so the offset of the bore is kept; left out: false",
                ),
            ),
        ],
        &[],
    )
}

/// A file, or a table.
fn surface_readings() -> Value {
    let list = json!({
        "description": "Typed list such as \"0:+0.4 30:-0.1 60:-0.9\", or numbers at equal angles",
        "anyOf": [
            { "type": "string" },
            { "type": "array", "minItems": 3, "items": { "type": "number" } },
        ],
    });
    let mut gauge = gauge();
    gauge["description"] = json!("What they were read on; left out: about an axis");
    let mut table = object(
        "Readings and what they are",
        [
            ("file", text("CSV beside the case file")),
            ("readings", list),
            (
                "reads",
                words("What they are, where no header says so", &READS),
            ),
            (
                "unit",
                words(
                    "Their unit, where no header says so; left out: the file's own, mm or in",
                    &UNITS,
                ),
            ),
            ("gauge", gauge),
            (
                "zero_at",
                number("Part angle of the list's own zero", Dimension::Angle, ANY),
            ),
            (
                "clockwise",
                flag("Whether their angles run clockwise; left out: false"),
            ),
            (
                "lobes",
                whole(
                    "Highest lobe count of the curve through them",
                    2,
                    MOST_LOBES,
                ),
            ),
            (
                "keep_jumps",
                flag("Whether readings that stand far out are taken as they are; left out: false"),
            ),
        ],
        &[],
    );
    table["oneOf"] = json!([{ "required": ["file"] }, { "required": ["readings"] }]);
    json!({
        "anyOf": [text("CSV beside the case file: angle_deg,radius_mm; or \"round\""), table],
        "description": format!(
            "A file, a table that says what the readings are, or \"{ROUND}\": not measured, and round about the centre of the \
             other. A surface left out follows the other: a bent wall of even thickness"
        ),
    })
}
