//! `[[hold.NAME]]`: the schemes of each hold, read as the schemes describe themselves. No scheme is known here by name.

use super::node::{Item, Reader, Table};
use crate::case::check;
use crate::case::check::range::Range;
use crate::case::check::restraint::Taken;
use crate::case::check::values::{MOST_LISTED, dimension};
use crate::case::most::{MOST_HOLDS, MOST_SCHEMES};
use crate::case::{Grip, Hold, HoldMember, Restraint};
use crate::scheme::{
    FRICTION_WORDS, HoldingScheme, Parameter, ParameterKind, Registry, UNKNOWN, Value, Values,
    grip_of,
};

/// Holds of the file.
pub(super) struct Holds {
    pub holds: Vec<Hold>,
    /// Names in the file, also of holds left out of `holds` because they have problems.
    pub names: Vec<String>,
    /// Choices that the file left to the defaults, one list a hold.
    pub defaults: Vec<Vec<String>>,
}

/// Reads the holds. `length` is that of the part, mm, if it is known.
pub(super) fn holds<'a>(
    reader: &mut Reader<'a>,
    root: &Table<'a>,
    registry: &Registry,
    length: Option<f64>,
) -> Holds {
    let mut out = Holds {
        holds: Vec::new(),
        names: Vec::new(),
        defaults: Vec::new(),
    };
    let Some(table) = root.get("hold").and_then(|i| reader.table(&i)) else {
        return out;
    };
    let items = table.items();
    if items.len() > MOST_HOLDS {
        let message = format!("{} holds; {MOST_HOLDS} are the most", items.len());
        reader.problem(table.span.clone(), &table.path, message);
    }
    for (name, item) in items.into_iter().take(MOST_HOLDS) {
        if check::hold::name(&mut reader.findings, &item.path, name).is_none() {
            continue;
        }
        out.names.push(name.to_owned());
        let tables = reader.tables(&item, MOST_SCHEMES, "schemes in one hold");
        if tables.is_empty() {
            if matches!(item.value.get_ref(), toml::de::DeValue::Array(_)) {
                check::hold::no_member(&mut reader.findings, &item.path);
            }
            continue;
        }
        let mut defaults = Vec::new();
        let members: Vec<_> = tables
            .iter()
            .map(|t| member(reader, t, (registry, length), &mut defaults))
            .collect();
        if let Some(members) = members.into_iter().collect::<Option<Vec<_>>>() {
            out.holds.push(Hold {
                name: name.to_owned(),
                members,
            });
            out.defaults.push(defaults);
        }
    }
    out
}

fn member<'a>(
    reader: &mut Reader<'a>,
    table: &Table<'a>,
    (registry, length): (&Registry, Option<f64>),
    defaults: &mut Vec<String>,
) -> Option<HoldMember> {
    let item = reader.required(table, "scheme", "the name of a holding scheme")?;
    let name = reader.text(&item)?;
    let scheme = check::values::scheme(&mut reader.findings, &item.path, name, registry)?;
    let beside = beside(reader, table, &*scheme, length);
    let values = values(reader, table, &*scheme, defaults)?;
    let (grip, restraint) = beside;
    Some(HoldMember::new(scheme, values, grip?, restraint?))
}

/// Where along the part the scheme of a table presses, and what is known of its grip.
fn beside<'a>(
    reader: &mut Reader<'a>,
    table: &Table<'a>,
    scheme: &dyn HoldingScheme,
    length: Option<f64>,
) -> (Option<Grip>, Option<Restraint>) {
    let taken: Vec<Taken> = grip_of(scheme)
        .into_iter()
        .filter_map(|p| Some((&*p.key, value(reader, &table.get(&p.key)?, p, scheme))))
        .collect();
    let findings = &mut reader.findings;
    (
        check::grip::of_values(findings, &table.path, &taken, length),
        check::restraint::of_values(findings, &table.path, &taken),
    )
}

/// The values of a table for its scheme, defaults filled in.
fn values<'a>(
    reader: &mut Reader<'a>,
    table: &Table<'a>,
    scheme: &dyn HoldingScheme,
    defaults: &mut Vec<String>,
) -> Option<Values> {
    let typed: Vec<(&str, Option<Value>)> = table
        .items()
        .into_iter()
        .filter(|(key, _)| *key != "scheme" && !grip_of(scheme).iter().any(|p| p.key == *key))
        .map(|(key, item)| {
            let parameter = scheme.parameters().iter().find(|p| p.key == key);
            let value = parameter.and_then(|p| value(reader, &item, p, scheme));
            (key, value)
        })
        .collect();
    check::values::filled(&mut reader.findings, &table.path, scheme, typed, defaults)
}

fn value<'a>(
    reader: &mut Reader<'a>,
    item: &Item<'a>,
    parameter: &Parameter,
    scheme: &dyn HoldingScheme,
) -> Option<Value> {
    match &parameter.kind {
        ParameterKind::Count => {
            let count = reader.whole(item, 1, MOST_LISTED);
            return count.map(|n| Value::Number(n as f64));
        }
        ParameterKind::Choice(words) => {
            let later = check::values::later_words(scheme, &parameter.key);
            return reader
                .choice(item, &words.list(), &later)
                .map(|w| Value::Text(w.to_owned()));
        }
        ParameterKind::Flag => return reader.flag(item).map(Value::Flag),
        ParameterKind::Friction if item.is_word() => {
            return reader
                .choice(item, FRICTION_WORDS, &[])
                .map(|w| Value::Text(w.to_owned()));
        }
        _ if parameter.may_be_unknown() && item.is_text(UNKNOWN) => {
            return Some(Value::Text(UNKNOWN.to_owned()));
        }
        _ => {}
    }
    let range = Range::from(parameter);
    let dimension = dimension(&parameter.kind);
    if parameter.kind.takes_list()
        && let Some(items) = item.list()
    {
        if let Some(message) = check::values::wrong_list(items.len()) {
            reader.wrong(item, message);
            return None;
        }
        let numbers: Vec<_> = items
            .iter()
            .map(|i| reader.number(i, dimension, range))
            .collect();
        return numbers
            .into_iter()
            .collect::<Option<Vec<_>>>()
            .map(Value::Numbers);
    }
    if parameter.band && item.is_table() {
        return reader.band(item, dimension, range).map(Value::Band);
    }
    reader.number(item, dimension, range).map(Value::Number)
}
