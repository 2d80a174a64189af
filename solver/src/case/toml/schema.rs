//! The JSON Schema (draft 2020-12) of the case file: its fixed keys, and the keys of each scheme as the scheme describes them.
//!
//! It is for editors and for programs that write cases. What needs more than one value at a time (a bore inside the outside, pads
//! that overlap, a hold that is named) only the reader checks.

use serde_json::{Map, Value, json};

use super::inspection::{CIRCLES, GAUGES, INDICATORS, SUPPORTS, VEE_ANGLE_DEG};
use super::readings::{READS, ROUND, UNITS};
use super::residual::SLIT_SURFACES;
use crate::case::FREE;
use crate::case::check::part::MOST_LOBES;
use crate::case::check::values::{default_value, dimension};
use crate::case::check::{ACCURACIES, AROUND, FILTER_UPR, MOST_ELEMENTS, TEMPERATURES, THROUGH};
use crate::case::most::{
    MOST_CUTS, MOST_HOLDS, MOST_LOBE_TABLES, MOST_NAME, MOST_SCHEMES, MOST_STEPS, MOST_TITLE,
};
use crate::case::quantity::{Dimension, units};
use crate::scheme::{self, Bounds, HoldingScheme, Need, Parameter, ParameterKind, Registry};

/// The JSON Schema of a case file for the schemes of this registry. TOML reads into the same tree as JSON, so any validator of
/// draft 2020-12 can hold a parsed case file against it.
pub fn schema(registry: &Registry) -> Value {
    let names: Vec<&str> = registry.all().iter().map(|s| s.name()).collect();
    let members: Vec<Value> = names
        .iter()
        .map(|n| {
            json!({
                "if": { "properties": { "scheme": { "const": n } } },
                "then": { "$ref": format!("#/$defs/scheme-{n}") },
            })
        })
        .collect();
    let mut root = object(
        "A ring that is held, cut, released and inspected.",
        [
            (
                "title",
                json!({ "type": "string", "description": "Title of the job", "maxLength": MOST_TITLE }),
            ),
            (
                "units",
                json!({
                    "enum": ["mm", "inch"],
                    "default": "mm",
                    "description": "Units of plain numbers: mm, N, MPa; or in, lbf, psi. Angles are degrees in both",
                }),
            ),
            (
                "accuracy",
                number(
                    "Asked relative mesh error of the out-of-roundness",
                    Dimension::Plain,
                    ACCURACIES,
                ),
            ),
            ("tolerance", tolerance()),
            ("part", part()),
            (
                "hold",
                json!({
                    "type": "object",
                    "description": "Holds by name; each is a list of schemes acting together",
                    "propertyNames": { "not": { "const": FREE }, "maxLength": MOST_NAME },
                    "maxProperties": MOST_HOLDS,
                    "additionalProperties": {
                        "type": "array",
                        "minItems": 1,
                        "maxItems": MOST_SCHEMES,
                        "items": {
                            "type": "object",
                            "required": ["scheme"],
                            "properties": { "scheme": { "enum": names } },
                            "allOf": members,
                        },
                    },
                }),
            ),
            (
                "step",
                list(
                    "Clampings in order: hold, cut, release",
                    step(),
                    [1, MOST_STEPS],
                ),
            ),
            ("mesh", mesh()),
            ("inspection", inspection()),
        ],
        &["part", "step"],
    );
    let defs: Map<String, Value> = registry
        .all()
        .iter()
        .map(|s| (format!("scheme-{}", s.name()), member(&**s)))
        .collect();
    root["$schema"] = json!("https://json-schema.org/draft/2020-12/schema");
    root["title"] = json!("ringwright case file");
    root["$defs"] = Value::Object(defs);
    root
}

/// A table that takes these keys alone.
fn object<const N: usize>(about: &str, keys: [(&str, Value); N], required: &[&str]) -> Value {
    let properties: Map<String, Value> = keys.into_iter().map(|(k, v)| (k.into(), v)).collect();
    json!({
        "type": "object",
        "description": about,
        "properties": properties,
        "required": required,
        "additionalProperties": false,
    })
}

fn list(about: &str, items: Value, [least, most]: [usize; 2]) -> Value {
    json!({ "type": "array", "description": about, "items": items, "minItems": least, "maxItems": most })
}

fn text(about: &str) -> Value {
    json!({ "type": "string", "description": about })
}

fn flag(about: &str) -> Value {
    json!({ "type": "boolean", "description": about })
}

fn whole(about: &str, least: u64, most: u64) -> Value {
    json!({ "type": "integer", "minimum": least, "maximum": most, "description": about })
}

fn words(about: &str, words: &[&str]) -> Value {
    json!({ "enum": words, "description": about })
}

const fn above(least: f64, most: f64) -> Bounds {
    let above = true;
    Bounds { least, above, most }
}

const ABOVE_ZERO: Bounds = above(0.0, Bounds::LARGEST);
const ZERO_OR_MORE: Bounds = Bounds {
    above: false,
    ..ABOVE_ZERO
};
const ANY: Bounds = Bounds {
    least: -Bounds::LARGEST,
    ..ZERO_OR_MORE
};

/// A plain number, or text with a number and a unit. The reader also takes other capitals where they mean one thing; a schema is for
/// files that are written as they should be.
fn quantity(dimension: Dimension, bounds: Bounds) -> Value {
    let mut plain = json!({ "type": "number" });
    // ends that say what nobody types are left out: they depend on the file's units
    if bounds.least > -Bounds::LARGEST {
        let key = if bounds.above {
            "exclusiveMinimum"
        } else {
            "minimum"
        };
        plain[key] = json!(bounds.least);
    }
    if bounds.most < Bounds::LARGEST {
        plain["maximum"] = json!(bounds.most);
    }
    let sign = if bounds.least < 0.0 { "[+-]?" } else { "[+]?" };
    let units: Vec<String> = units(dimension)
        .map(|u| u.replace('^', "\\^").replace('.', "[.]"))
        .collect();
    let unit = if units.is_empty() {
        String::new()
    } else {
        format!("( *({}))?", units.join("|"))
    };
    let decimal = "([0-9]+[.]?[0-9]*|[.][0-9]+)([eE][+-]?[0-9]+)?";
    let fraction = "([0-9]+[ -])?[0-9]+/[0-9]+";
    let pattern = format!("^ *{sign}({decimal}|{fraction}){unit} *$");
    json!({ "anyOf": [plain, { "type": "string", "pattern": pattern }] })
}

fn number(about: &str, dimension: Dimension, bounds: Bounds) -> Value {
    let mut value = quantity(dimension, bounds);
    value["description"] = json!(about);
    value
}

fn tolerance() -> Value {
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

fn gauge() -> Value {
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

fn inspection() -> Value {
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

fn offset(about: &str) -> Value {
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

fn part() -> Value {
    let length = |about| number(about, Dimension::Length, ABOVE_ZERO);
    object(
        "The ring as received",
        [
            ("outer_diameter", length("Outside diameter")),
            ("bore_diameter", length("Bore diameter")),
            ("length", length("Length along the axis")),
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
        ],
        &["young_modulus", "poisson_ratio"],
    );
    json!({ "anyOf": [text(&known), given] })
}

fn step() -> Value {
    object(
        "One clamping: hold, cut, release",
        [
            (
                "hold",
                text("Name of a hold, or \"free\": nothing touches the part"),
            ),
            (
                "force_scale",
                number(
                    "Fraction of the hold's forces",
                    Dimension::Plain,
                    ZERO_OR_MORE,
                ),
            ),
            ("flipped", flag("The part turned end for end")),
            (
                "turned",
                json!({
                    "description": "How far the part is turned against the hold; any: the worst case",
                    "anyOf": [{ "const": "any" }, quantity(Dimension::Angle, ANY)],
                }),
            ),
            (
                "centre_on",
                words("What runs true", &["jaws", "outer", "bore"]),
            ),
            (
                "stress_relieved",
                flag("Residual stress set to zero here, the shape kept"),
            ),
            (
                "spindle_offset",
                offset("Where the spindle axis lies in the part's frame"),
            ),
            ("cut", list("Cuts in order", cut(), [0, MOST_CUTS])),
        ],
        &["hold"],
    )
}

fn cut() -> Value {
    object(
        "The tool leaves a circle about the spindle axis",
        [
            ("surface", words("Surface cut", &["outer", "bore"])),
            (
                "diameter",
                number("Diameter of the circle", Dimension::Length, ABOVE_ZERO),
            ),
            (
                "radial_force",
                number(
                    "Steady tool force that pushes the wall away",
                    Dimension::Force,
                    ZERO_OR_MORE,
                ),
            ),
        ],
        &["surface", "diameter"],
    )
}

fn mesh() -> Value {
    object(
        &format!(
            "A fixed section mesh of no more than {MOST_ELEMENTS} elements; without it the mesh is graded and refined"
        ),
        [
            ("around", whole("Elements round", AROUND[0], AROUND[1])),
            (
                "through",
                whole("Elements through the wall", THROUGH[0], THROUGH[1]),
            ),
        ],
        &["around", "through"],
    )
}

fn member(scheme: &dyn HoldingScheme) -> Value {
    let mut table = object(scheme.summary(), [], &[]);
    table["properties"]["scheme"] = json!({ "const": scheme.name() });
    let mut required = vec!["scheme"];
    for p in scheme.parameters() {
        table["properties"][&*p.key] = parameter(p);
        if p.required {
            required.push(&*p.key);
        }
    }
    table["required"] = json!(required);
    let one_of = |n: &Need| {
        let each: Vec<Value> = n.keys.iter().map(|k| json!({ "required": [k] })).collect();
        json!({ "anyOf": each })
    };
    if !scheme.needs().is_empty() {
        table["allOf"] = scheme.needs().iter().map(one_of).collect();
    }
    table
}

fn parameter(p: &Parameter) -> Value {
    let mut value = match &p.kind {
        ParameterKind::Choice(words) => json!({ "enum": words.list() }),
        ParameterKind::Count => {
            json!({ "type": "integer", "minimum": 1, "maximum": Bounds::MOST_BODIES })
        }
        kind => {
            // limits in mm, N or MPa would be wrong in a file of inches, so those only the reader knows
            let as_typed = matches!(dimension(kind), Dimension::Plain | Dimension::Angle);
            let bounds = if as_typed { p.bounds() } else { kind.bounds() };
            let bounds = bounds.expect("words are done with");
            let mut one = quantity(dimension(kind), bounds);
            if p.is_whole() {
                one["anyOf"][0]["type"] = json!("integer");
            }
            if kind.takes_list() {
                let list = json!({ "type": "array", "items": one, "minItems": 1, "maxItems": Bounds::MOST_BODIES });
                json!({ "anyOf": [one, list] })
            } else {
                one
            }
        }
    };
    value["description"] = json!(match p.kind.unit() {
        "" => p.about.to_string(),
        unit => format!("{} ({unit})", p.about),
    });
    match (p.default.as_ref()).and_then(|d| default_value(&p.kind, d)) {
        Some(scheme::Value::Number(x)) => value["default"] = json!(x),
        Some(scheme::Value::Text(t)) => value["default"] = json!(t),
        Some(scheme::Value::Numbers(_)) | None => {}
    }
    value
}
