//! What a scheme says of itself.

use super::Fault;
use crate::case::{FREE, default_value};
use crate::scheme::{
    Bounds, HoldingScheme, Limits, Parameter, ParameterKind, Registry, is_reserved,
};

/// Words of lower-case letters and digits, each starting with a letter or digit, joined by `joint`.
fn joined(text: &str, joint: char) -> bool {
    text.starts_with(|c: char| c.is_ascii_lowercase())
        && text.split(joint).all(|word| {
            !word.is_empty()
                && word
                    .bytes()
                    .all(|b| b.is_ascii_lowercase() || b.is_ascii_digit())
        })
}

fn one_line(what: impl Into<String>, text: &str, faults: &mut Vec<Fault>) {
    if text.trim().is_empty() || text.contains(char::is_control) {
        faults.push(Fault::NoWords { what: what.into() });
    }
}

pub(super) fn check(scheme: &dyn HoldingScheme, registry: &Registry) -> Vec<Fault> {
    let mut faults = Vec::new();
    let name = scheme.name();
    if !joined(name, '-') {
        faults.push(Fault::BadName { name: name.into() });
    }
    if name == FREE {
        faults.push(Fault::NameReserved);
    }
    let same = registry.all().iter().filter(|s| s.name() == name).count();
    if same > 1 {
        faults.push(Fault::NameTaken { name: name.into() });
    }
    one_line("the summary", scheme.summary(), &mut faults);
    one_line("the name of a body", scheme.body_name(), &mut faults);
    for r in scheme.recipes() {
        one_line("the name of a recipe", r.name, &mut faults);
        if r.about.trim().is_empty() {
            let what = format!("what recipe {} says", r.name);
            faults.push(Fault::NoWords { what });
        }
    }
    let parameters = scheme.parameters();
    for (k, p) in parameters.iter().enumerate() {
        if !joined(&p.key, '_') || is_reserved(&p.key) {
            faults.push(Fault::BadKey {
                key: p.key.to_string(),
            });
        }
        if parameters[..k].iter().any(|q| q.key == p.key) {
            faults.push(Fault::Twice {
                key: p.key.to_string(),
            });
        }
        one_line(format!("what \"{}\" means", p.key), &p.about, &mut faults);
        kind(p, &mut faults);
        default(p, &mut faults);
    }
    planned(scheme, &mut faults);
    faults
}

fn kind(p: &Parameter, faults: &mut Vec<Fault>) {
    let why = match &p.kind {
        ParameterKind::Choice(words) if words.list().is_empty() => "there is no word to choose",
        ParameterKind::Choice(words) if words.iter().any(|w| !joined(w, '-')) => {
            "its words must be lower case, joined by hyphens"
        }
        ParameterKind::Choice(words)
            if (words.iter().enumerate()).any(|(k, w)| words.iter().take(k).any(|v| v == w)) =>
        {
            "it lists a word twice"
        }
        ParameterKind::Arc { most } if !(*most > 0.0 && *most <= 360.0) => {
            "the most of an arc lies above 0 and within 360 deg"
        }
        ParameterKind::Choice(_) if p.limits != Limits::NONE => "words have no limits",
        ParameterKind::Choice(_) => return,
        _ if p.bounds().is_some_and(|b| nothing_within(b, p.is_whole())) => {
            "no number is within its limits"
        }
        _ => return,
    };
    faults.push(Fault::BadKind {
        key: p.key.to_string(),
        why: why.into(),
    });
}

/// Whether no number, or no whole one, lies within.
fn nothing_within(bounds: Bounds, whole: bool) -> bool {
    if whole {
        bounds.least.ceil() > bounds.most.floor()
    } else {
        bounds.least > bounds.most
    }
}

fn default(p: &Parameter, faults: &mut Vec<Fault>) {
    let Some(text) = &p.default else { return };
    let why = if p.required {
        "is never used, as the parameter is required; drop one of the two".to_owned()
    } else {
        match default_value(&p.kind, text) {
            None => "cannot be read; write it as in a case file".to_owned(),
            Some(value) => match p.check(&value) {
                Ok(()) => return,
                Err(e) => e.message,
            },
        }
    };
    faults.push(Fault::BadDefault {
        key: p.key.to_string(),
        default: text.to_string(),
        why,
    });
}

/// What is planned must not be there yet.
fn planned(scheme: &dyn HoldingScheme, faults: &mut Vec<Fault>) {
    for planned in scheme.planned() {
        let built = scheme.parameters().iter().find(|p| p.key == planned.key);
        let twice = match (built.map(|p| &p.kind), planned.word) {
            (Some(ParameterKind::Choice(words)), Some(word)) => words.has(word),
            (built, None) => built.is_some(),
            (_, Some(_)) => false,
        };
        if twice {
            let key = match planned.word {
                Some(word) => format!("{} = {word}", planned.key),
                None => planned.key.to_owned(),
            };
            faults.push(Fault::Twice { key });
        }
    }
}
