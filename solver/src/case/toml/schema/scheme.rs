//! The table of a scheme in a hold, as a schema: its parameters as the scheme describes them.

use serde_json::{Value, json};

use super::form::{band, object, quantity};
use crate::case::check::values::{default_value, dimension};
use crate::case::quantity::Dimension;
use crate::scheme::{self, Bounds, HoldingScheme, Need, Parameter, ParameterKind};

pub(super) fn member(scheme: &dyn HoldingScheme) -> Value {
    let mut table = object(scheme.summary(), [], &[]);
    table["properties"]["scheme"] = json!({ "const": scheme.name() });
    let mut required = vec!["scheme"];
    for p in scheme.parameters().iter().chain(scheme::grip_of(scheme)) {
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
        ParameterKind::Flag => json!({ "type": "boolean" }),
        ParameterKind::Count => {
            json!({ "type": "integer", "minimum": 1, "maximum": Bounds::MOST_BODIES })
        }
        kind => {
            // limits in mm, N or MPa would be wrong in a file of inches, so those only the reader knows
            let as_typed = matches!(dimension(kind), Dimension::Plain | Dimension::Angle);
            let own = p.bounds().expect("words are done with");
            let mut bounds = kind.bounds().expect("words are done with");
            if as_typed {
                bounds = own;
            } else if own.least == 0.0 {
                // zero is zero in every unit
                bounds.least = own.least;
                bounds.above = own.above;
            }
            let mut one = quantity(dimension(kind), bounds);
            if p.is_whole() {
                one["anyOf"][0]["type"] = json!("integer");
            }
            // numbers of a list have no bands of their own
            let item = one.clone();
            if p.band {
                one = json!({ "anyOf": [one, band(dimension(kind), bounds)] });
            }
            if *kind == ParameterKind::Friction {
                one = json!({ "anyOf": [one, { "enum": scheme::FRICTION_WORDS }] });
            }
            if p.may_be_unknown() {
                one = json!({ "anyOf": [one, { "const": scheme::UNKNOWN }] });
            }
            if kind.takes_list() {
                let list = json!({ "type": "array", "items": item, "minItems": 1, "maxItems": Bounds::MOST_BODIES });
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
        Some(scheme::Value::Flag(flag)) => value["default"] = json!(flag),
        Some(scheme::Value::Numbers(_) | scheme::Value::Band(_)) | None => {}
    }
    value
}
