//! The JSON Schema (draft 2020-12) of the case file: its fixed keys, and the keys of each scheme as the scheme describes them.
//!
//! It is for editors and for programs that write cases. What needs more than one value at a time (a bore inside the outside, pads
//! that overlap, a hold that is named) only the reader checks.

mod form;
mod inspection;
mod part;
mod process;
mod scheme;
mod tube;

use serde_json::{Map, Value, json};

use crate::case::FREE;
use crate::case::check::ACCURACIES;
use crate::case::most::{MOST_HOLDS, MOST_NAME, MOST_SCHEMES, MOST_STEPS, MOST_TITLE};
use crate::case::quantity::Dimension;
use crate::scheme::Registry;
use form::{list, number, object};
use inspection::{inspection, tolerance};
use part::part;
use process::{chuck, mesh, size, step};
use scheme::member;
use tube::tube;

/// The JSON Schema of a case file for the schemes of this registry. TOML reads into the same tree as JSON, so any validator of
/// draft 2020-12 can hold a parsed case file against it.
pub fn schema(registry: &Registry) -> Value {
    let names: Vec<&str> = registry.all().iter().map(|s| s.name()).collect();
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
            ("hold", holds(&names)),
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
            ("tube", tube()),
            ("chuck", chuck()),
            ("size", size()),
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

/// Holds by name, each a list of schemes; what else a scheme takes depends on its name.
fn holds(names: &[&str]) -> Value {
    let members: Vec<Value> = names
        .iter()
        .map(|n| {
            json!({
                "if": { "properties": { "scheme": { "const": n } } },
                "then": { "$ref": format!("#/$defs/scheme-{n}") },
            })
        })
        .collect();
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
    })
}
