//! Values without meaning: from a case file they are refused by name, and in code a scheme refuses them or gives something
//! sound. Neither panics.

use super::examples::Example;
use super::replies::refusal;
use super::{Fault, calm};
use crate::case;
use crate::scheme::{
    Bounds, HoldingScheme, Parameter, ParameterKind, Registry, Section, Value, Values, ask,
};

pub(super) fn check(
    scheme: &dyn HoldingScheme,
    registry: &Registry,
    examples: &[Example],
) -> Vec<Fault> {
    let Some((section, member)) = examples
        .iter()
        .flat_map(|e| e.members(scheme.name()))
        .next()
    else {
        return Vec::new();
    };
    let mut faults = Vec::new();
    for p in scheme.parameters() {
        for value in refused(p) {
            faults.extend(in_code(scheme, &section, &member.values, p, &value));
            faults.extend(in_a_file(scheme, registry, &examples[0], p, &value));
        }
        for value in extreme(p) {
            let asked = words(p, &value);
            let fault = at_the_edge(scheme, &section, &member.values, p, value);
            let Some(failure) = scheme.restart() else {
                faults.extend(fault);
                continue;
            };
            faults.push(Fault::ProgramFails {
                asked,
                did: failure.did,
            });
            if let Some(why) = failure.down {
                faults.push(Fault::Down { why });
                return faults;
            }
        }
    }
    let empty = Values::default();
    if calm(|| scheme.supports(&section, &empty)).is_none() {
        let asked = "no values at all".to_owned();
        faults.push(Fault::Panics { asked });
    }
    faults
}

fn words(p: &Parameter, value: &Value) -> String {
    let value = match value {
        Value::Number(x) if x.is_finite() && x.abs() >= 1e6 => format!("{x:e}"),
        Value::Number(x) => format!("{x:?}"),
        Value::Numbers(list) => format!("{list:?}"),
        Value::Band(band) => format!("{{ low = {:?}, high = {:?} }}", band.low, band.high),
        Value::Text(t) => format!("\"{t}\""),
        Value::Flag(flag) => flag.to_string(),
    };
    format!("{} = {value}", p.key)
}

/// Values that the parameter does not take.
fn refused(p: &Parameter) -> Vec<Value> {
    let kind = &p.kind;
    let Some(bounds) = p.bounds() else {
        return vec![Value::Text("no-such-word".into()), Value::Number(1.0)];
    };
    let below = if bounds.above {
        bounds.least
    } else {
        bounds.least - 0.01 * bounds.least.abs().max(100.0)
    };
    let mut numbers = vec![
        f64::NAN,
        f64::INFINITY,
        f64::NEG_INFINITY,
        1e300,
        -1e300,
        below,
    ];
    if p.is_whole() {
        numbers.push(bounds.least.max(0.0) + 0.5);
    }
    if bounds.most < Bounds::LARGEST {
        numbers.push(bounds.most + 0.001 * bounds.most.abs().max(1.0));
    }
    let lists = match kind.takes_list() {
        true => vec![
            Value::Numbers(vec![0.0, f64::NAN]),
            Value::Numbers(Vec::new()),
        ],
        false => vec![Value::Numbers(vec![1.0, 1.0])],
    };
    let text = Value::Text("much".into());
    let numbers = numbers.into_iter().map(Value::Number);
    numbers.chain(lists).chain([text]).collect()
}

/// Values at the ends of what the parameter takes.
fn extreme(p: &Parameter) -> Vec<Value> {
    let kind = &p.kind;
    let Some(bounds) = p.bounds() else {
        let ParameterKind::Choice(words) = kind else {
            return vec![Value::Flag(true), Value::Flag(false)];
        };
        return words.iter().map(|w| Value::Text(w.into())).collect();
    };
    let least = if bounds.above {
        bounds.least + 1.0 / Bounds::LARGEST
    } else {
        bounds.least
    };
    let (least, most) = if p.is_whole() {
        (least.ceil(), bounds.most.floor())
    } else {
        (least, bounds.most)
    };
    let mut values = vec![Value::Number(least), Value::Number(most)];
    if kind.takes_list() {
        values.push(Value::Numbers(vec![least; 7]));
    }
    values
}

fn with(values: &Values, p: &Parameter, value: &Value) -> Values {
    let mut values = values.clone();
    values.set(&p.key, value.clone());
    values
}

/// The door refuses by name, and the scheme behind it does not panic.
fn in_code(
    scheme: &dyn HoldingScheme,
    section: &Section,
    values: &Values,
    p: &Parameter,
    value: &Value,
) -> Option<Fault> {
    let (values, asked) = (with(values, p, value), words(p, value));
    // more bodies than memory holds would end the program, not panic; against those there is the door alone
    let fits = p.kind != ParameterKind::Count
        || !matches!(value, Value::Number(n) if *n > f64::from(Bounds::MOST_BODIES));
    if fits && calm(|| scheme.supports(section, &values)).is_none() {
        return Some(Fault::Panics { asked });
    }
    match ask(scheme, section, &values) {
        Ok(_) => Some(Fault::Taken { asked }),
        Err(e) => refusal(scheme, asked, &e),
    }
}

/// Allowed, but far from anything in a shop: refused by name, or something sound.
fn at_the_edge(
    scheme: &dyn HoldingScheme,
    section: &Section,
    values: &Values,
    p: &Parameter,
    value: Value,
) -> Option<Fault> {
    let (values, asked) = (with(values, p, &value), words(p, &value));
    match calm(|| scheme.supports(section, &values)) {
        None => Some(Fault::Panics { asked }),
        Some(Err(e)) => refusal(scheme, asked, &e),
        Some(Ok(s)) => {
            let why = s.check(section).err()?;
            Some(Fault::Unsound { asked, why })
        }
    }
}

/// The example with this value in place of its own: the reader must point at the key.
fn in_a_file(
    scheme: &dyn HoldingScheme,
    registry: &Registry,
    example: &Example,
    p: &Parameter,
    value: &Value,
) -> Option<Fault> {
    let text = rewritten(scheme.name(), &example.text, &p.key, value)?;
    let asked = format!("{} in a case file", words(p, value));
    let Some(answer) = calm(|| case::read(&text, registry)) else {
        return Some(Fault::Panics { asked });
    };
    let key = format!(".{}", p.key);
    let element = format!("{key}[");
    let named = answer.is_err_and(|problems| {
        problems
            .iter()
            .any(|q| q.field.ends_with(&key) || q.field.contains(&element))
    });
    (!named).then_some(Fault::Taken { asked })
}

/// A case file with a key set in the first table of the scheme.
fn rewritten(scheme: &str, text: &str, key: &str, value: &Value) -> Option<String> {
    let mut file: toml::Table = text.parse().ok()?;
    let table = file
        .get_mut("hold")?
        .as_table_mut()?
        .iter_mut()
        .filter_map(|(_, members)| members.as_array_mut())
        .flatten()
        .filter_map(toml::Value::as_table_mut)
        .find(|t| t.get("scheme").and_then(toml::Value::as_str) == Some(scheme))?;
    let value = match value {
        Value::Number(x) => toml::Value::Float(*x),
        Value::Numbers(list) => {
            toml::Value::Array(list.iter().copied().map(toml::Value::Float).collect())
        }
        Value::Band(band) => {
            let ends = [("low", band.low), ("high", band.high)];
            let ends = ends.map(|(k, x)| (k.to_owned(), toml::Value::Float(x)));
            toml::Value::Table(ends.into_iter().collect())
        }
        Value::Text(t) => toml::Value::String(t.clone()),
        Value::Flag(flag) => toml::Value::Boolean(*flag),
    };
    table.insert(key.to_owned(), value);
    toml::to_string(&file).ok()
}
