//! The values that a case gives to a scheme, held against what the scheme says of itself. No scheme is known here by name.

use std::sync::Arc;

use super::range::{Range, wrong_band, wrong_key, wrong_number, wrong_whole, wrong_word};
use super::{Findings, grip, key_path};
use crate::case::problem::{ProblemKind, few_of, nearest, shown};
use crate::case::quantity::{Dimension, UnitSystem, parse};
use crate::scheme::{
    Bounds, FRICTION_WORDS, GRIP, HoldingScheme, Parameter, ParameterKind, Registry, UNKNOWN,
    Value, Values, grip_of, number_in_words,
};

/// Most numbers of a list, as there are bodies.
pub(in crate::case) const MOST_LISTED: u64 = Bounds::MOST_BODIES as u64;

/// The value of a default as a scheme spells it: in mm, N and degrees whatever the file's units.
pub(crate) fn default_value(kind: &ParameterKind, text: &str) -> Option<Value> {
    match kind {
        ParameterKind::Choice(_) => Some(Value::Text(text.trim_matches('"').to_owned())),
        _ => parse(
            text.trim_matches('"'),
            dimension(kind),
            UnitSystem::Millimetre,
        )
        .ok()
        .map(Value::Number),
    }
}

pub(in crate::case) fn dimension(kind: &ParameterKind) -> Dimension {
    match kind {
        ParameterKind::Length | ParameterKind::Offset | ParameterKind::Offsets => Dimension::Length,
        ParameterKind::Force | ParameterKind::Forces => Dimension::Force,
        ParameterKind::Angle | ParameterKind::Angles | ParameterKind::Arc { .. } => {
            Dimension::Angle
        }
        ParameterKind::Modulus | ParameterKind::Pressure => Dimension::Stress,
        ParameterKind::Stiffness => Dimension::Stiffness,
        ParameterKind::Torque => Dimension::Torque,
        ParameterKind::Mass => Dimension::Mass,
        ParameterKind::Ratio
        | ParameterKind::Friction
        | ParameterKind::Flag
        | ParameterKind::Number
        | ParameterKind::Count
        | ParameterKind::Choice(_) => Dimension::Plain,
    }
}

/// The scheme that a case names. Where something went wrong with a program that might have had it, the case may be right.
pub(in crate::case) fn scheme(
    findings: &mut Findings,
    path: &str,
    name: &str,
    registry: &Registry,
) -> Option<Arc<dyn HoldingScheme>> {
    let failed = match registry.find(name) {
        Ok(Some(scheme)) => return Some(scheme),
        Ok(None) => None,
        Err(why) => Some(why),
    };
    let known: Vec<&str> = registry.all().iter().map(|s| s.name()).collect();
    let near = nearest(name, known.iter().copied())
        .map_or(String::new(), |n| format!(" did you mean \"{n}\"?"));
    let message = format!(
        "there is no scheme \"{}\";{near} known: {}",
        shown(name),
        few_of(&known)
    );
    match failed {
        Some(why) => findings.note(ProblemKind::Program, path, format!("{message}; and {why}")),
        None => findings.wrong(path, message),
    }
    None
}

/// Words of a choice that are not supported yet.
pub(in crate::case) fn later_words<'s>(scheme: &'s dyn HoldingScheme, key: &str) -> Vec<&'s str> {
    let planned = scheme.planned().iter().filter(|p| p.key == key);
    planned.filter_map(|p| p.word).collect()
}

/// What is wrong with a list of so many numbers, if anything.
pub(in crate::case) fn wrong_list(numbers: usize) -> Option<String> {
    (numbers == 0 || numbers as u64 > MOST_LISTED).then(|| {
        format!("is a list of {numbers}; give 1 to {MOST_LISTED} numbers, or leave the key out")
    })
}

/// The values of a scheme, with its defaults in place of keys that are left out; what it takes along the part is not among them. Of a key that is given as `None` it is known already
/// that its value is wrong.
pub(in crate::case) fn filled(
    findings: &mut Findings,
    path: &str,
    scheme: &dyn HoldingScheme,
    given: Vec<(&str, Option<Value>)>,
    defaults: &mut Vec<String>,
) -> Option<Values> {
    let parameters = scheme.parameters();
    let known: Vec<&str> = ["scheme"]
        .into_iter()
        .chain(parameters.iter().map(|p| &*p.key))
        .chain(grip_of(scheme).into_iter().map(|p| &*p.key))
        .collect();
    let later: Vec<(&str, &str)> = scheme
        .planned()
        .iter()
        .filter(|p| p.word.is_none())
        .map(|p| (p.key, p.instead.unwrap_or("leave it out")))
        .collect();
    for (key, _) in &given {
        if let Some(message) = wrong_key(key, &known, &later) {
            let of_grip = GRIP.iter().any(|p| p.key == *key);
            let message = match of_grip {
                true => grip::has_no_grip(scheme),
                false => message,
            };
            findings.wrong_key(key_path(path, key), message);
        }
    }
    let has = |key: &str| given.iter().any(|(k, _)| *k == key);
    let mut complete = true;
    for need in scheme.needs() {
        if !need.keys.iter().any(|k| has(k)) {
            let key = need.keys.first().copied().unwrap_or_default();
            findings.wrong(key_path(path, key), need.missing());
            complete = false;
        }
    }
    let mut values = Values::default();
    for p in parameters.iter().filter(|p| !has(&p.key)) {
        match &p.default {
            Some(text) => {
                if let ParameterKind::Choice(words) = &p.kind
                    && words.list().len() > 1
                {
                    let word = text.trim_matches('"');
                    defaults.push(format!("{}: {} {word} (default)", scheme.name(), p.key));
                }
                match default_value(&p.kind, text) {
                    Some(value) => values.set(&p.key, value),
                    None => complete = false,
                }
            }
            None if p.required => {
                let message = format!("missing; give {}", p.about);
                findings.wrong(key_path(path, &p.key), message);
                complete = false;
            }
            None => {}
        }
    }
    for (key, value) in given {
        match value {
            Some(value) => values.set(key, value),
            // a key that nobody knows is wrong by itself, and takes nothing from the rest
            None => complete &= !known.contains(&key),
        }
    }
    complete.then_some(values)
}

/// A value made in code (mm, N, MPa, degrees), if the parameter takes it.
pub(in crate::case) fn taken(
    findings: &mut Findings,
    path: &str,
    scheme: &dyn HoldingScheme,
    parameter: &Parameter,
    value: &Value,
) -> Option<Value> {
    let message = match (&parameter.kind, value) {
        (ParameterKind::Choice(words), Value::Text(word)) => {
            wrong_word(word, &words.list(), &later_words(scheme, &parameter.key))
        }
        (ParameterKind::Choice(_), Value::Number(_)) => {
            Some("is a number; expected text in quotes".to_owned())
        }
        (ParameterKind::Choice(_), Value::Numbers(_)) => {
            Some("is a list; expected text in quotes".to_owned())
        }
        (ParameterKind::Count, Value::Number(x)) if x.fract() == 0.0 => {
            wrong_whole(Some(*x as i128), 1, MOST_LISTED)
        }
        (ParameterKind::Count, Value::Number(x)) => Some(format!(
            "is {}; expected a whole number",
            number_in_words(*x)
        )),
        (ParameterKind::Flag, Value::Flag(_)) => None,
        (ParameterKind::Flag, _) => Some("expected true or false".to_owned()),
        (_, Value::Flag(_)) => Some(format!(
            "is true or false; expected {}",
            dimension(&parameter.kind)
        )),
        (kind, Value::Band(band)) if parameter.band => {
            wrong_band(band, dimension(kind), Range::from(parameter))
        }
        (kind, Value::Band(_)) => Some(format!("is a band; expected {}", dimension(kind))),
        (ParameterKind::Friction, Value::Text(word)) if word.starts_with(char::is_alphabetic) => {
            wrong_word(word, FRICTION_WORDS, &[])
        }
        (_, Value::Text(word)) if word == UNKNOWN && parameter.may_be_unknown() => None,
        (_, Value::Number(x)) => wrong_value(parameter, *x),
        (kind, Value::Numbers(list)) if kind.takes_list() => {
            let wrong = list.iter().find_map(|x| wrong_value(parameter, *x));
            wrong_list(list.len()).or(wrong)
        }
        (kind, Value::Numbers(_)) => Some(format!("is a list; expected {}", dimension(kind))),
        (kind, Value::Text(text)) => {
            // "2.5 kN" says what it is by itself
            return match parse(text, dimension(kind), findings.system) {
                Ok(x) => taken(findings, path, scheme, parameter, &Value::Number(x)),
                Err(e) => {
                    findings.wrong(path, e.to_string());
                    None
                }
            };
        }
    };
    match message {
        Some(message) => {
            findings.wrong(path, message);
            None
        }
        None => Some(value.clone()),
    }
}

fn wrong_value(parameter: &Parameter, x: f64) -> Option<String> {
    let typed = number_in_words(x);
    wrong_number(
        x,
        &typed,
        dimension(&parameter.kind),
        Range::from(parameter),
    )
}
