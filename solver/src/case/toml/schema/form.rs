//! The forms that values of a case file take, as schemas: tables, lists, words, numbers with a unit.

use serde_json::{Map, Value, json};

use crate::case::quantity::{Dimension, units};
use crate::scheme::Bounds;

/// A table that takes these keys alone.
pub(super) fn object<const N: usize>(
    about: &str,
    keys: [(&str, Value); N],
    required: &[&str],
) -> Value {
    let properties: Map<String, Value> = keys.into_iter().map(|(k, v)| (k.into(), v)).collect();
    json!({
        "type": "object",
        "description": about,
        "properties": properties,
        "required": required,
        "additionalProperties": false,
    })
}

pub(super) fn list(about: &str, items: Value, [least, most]: [usize; 2]) -> Value {
    json!({ "type": "array", "description": about, "items": items, "minItems": least, "maxItems": most })
}

pub(super) fn text(about: &str) -> Value {
    json!({ "type": "string", "description": about })
}

pub(super) fn flag(about: &str) -> Value {
    json!({ "type": "boolean", "description": about })
}

pub(super) fn whole(about: &str, least: u64, most: u64) -> Value {
    json!({ "type": "integer", "minimum": least, "maximum": most, "description": about })
}

pub(super) fn words(about: &str, words: &[&str]) -> Value {
    json!({ "enum": words, "description": about })
}

pub(super) const fn above(least: f64, most: f64) -> Bounds {
    let above = true;
    Bounds { least, above, most }
}

pub(super) const ABOVE_ZERO: Bounds = above(0.0, Bounds::LARGEST);

pub(super) const ZERO_OR_MORE: Bounds = Bounds {
    above: false,
    ..ABOVE_ZERO
};

pub(super) const ANY: Bounds = Bounds {
    least: -Bounds::LARGEST,
    ..ZERO_OR_MORE
};

/// A plain number, or text with a number and a unit. The reader also takes other capitals where they mean one thing; a schema is for
/// files that are written as they should be.
pub(super) fn quantity(dimension: Dimension, bounds: Bounds) -> Value {
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

/// A band of plain numbers or texts: its two ends, or its middle and half its width.
pub(super) fn band(dimension: Dimension, bounds: Bounds) -> Value {
    let table = |keys: [&str; 2]| {
        let own = keys.map(|k| (k, quantity(dimension, bounds)));
        let mut table = object("A band", own, &keys);
        table.as_object_mut().map(|t| t.remove("description"));
        table
    };
    json!({ "anyOf": [table(["low", "high"]), table(["nominal", "plus_minus"])] })
}

/// A plain number, a text with a number and a unit, or a band of them.
pub(super) fn uncertain(about: &str, dimension: Dimension, bounds: Bounds) -> Value {
    let either = [quantity(dimension, bounds), band(dimension, bounds)];
    json!({ "anyOf": either, "description": about })
}

pub(super) fn number(about: &str, dimension: Dimension, bounds: Bounds) -> Value {
    let mut value = quantity(dimension, bounds);
    value["description"] = json!(about);
    value
}
