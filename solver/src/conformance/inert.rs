//! Parameters that change nothing: no fault, for one may matter beside other values, but often a slip of the author.

use super::calm;
use super::examples::Example;
use crate::scheme::{HoldingScheme, Parameter, ParameterKind, Section, Supports, Value, Values};

/// A line for each parameter of an outside program that changes nothing of what is put against the part, tried from the values of
/// every example. The built-in schemes have parameters that matter beside another alone, and tests of their own.
pub(super) fn notes(scheme: &dyn HoldingScheme, examples: &[Example]) -> Vec<String> {
    if scheme.program().is_none() {
        return Vec::new();
    }
    let mut notes = Vec::new();
    for p in scheme.parameters() {
        let tried = examples
            .iter()
            .flat_map(|e| e.members(scheme.name()))
            .map(|(section, m)| matters(scheme, &section, &m.values, p));
        let known: Vec<bool> = tried.flatten().collect();
        if !known.is_empty() && !known.contains(&true) {
            notes.push(format!(
                "changing `{}` changes nothing in the answer to the values of the example",
                p.key
            ));
        }
    }
    notes
}

/// Whether another value of a parameter changes the reply, a refusal being a change; `None` if no other value was answered.
fn matters(
    scheme: &dyn HoldingScheme,
    section: &Section,
    values: &Values,
    p: &Parameter,
) -> Option<bool> {
    let reply = |values: &Values| {
        let reply = calm(|| scheme.supports(section, values))?;
        // a program that fails here is started again for the next question
        scheme.restart().is_none().then(|| reply.ok().map(put))
    };
    let usual = reply(values)??;
    let others = others(values, p);
    let replies: Vec<_> = others.iter().filter_map(reply).collect();
    (!replies.is_empty()).then(|| replies.iter().any(|r| r.as_ref() != Some(&usual)))
}

/// What is put against the part, without the words that go with it.
fn put(supports: Supports) -> Supports {
    Supports {
        assumed: Vec::new(),
        ..supports
    }
}

/// The values with near ones of a parameter in place of its own, or with its other words.
fn others(values: &Values, p: &Parameter) -> Vec<Values> {
    let near = match &p.kind {
        ParameterKind::Choice(words) => words.iter().map(|w| Value::Text(w.into())).collect(),
        _ => near(values.number(&p.key), p.is_whole()),
    };
    near.into_iter()
        .filter(|value| p.check(value).is_ok())
        .map(|value| {
            let mut other = values.clone();
            other.set(&p.key, value);
            other
        })
        .filter(|other| other != values)
        .collect()
}

/// Numbers close by, so that they are as likely to be taken.
fn near(number: Option<f64>, whole: bool) -> Vec<Value> {
    let Some(x) = number else { return Vec::new() };
    let step = if whole || x == 0.0 { 1.0 } else { 0.1 * x };
    vec![Value::Number(x + step), Value::Number(x - step)]
}
