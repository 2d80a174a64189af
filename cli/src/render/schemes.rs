//! The holding schemes in words, from what each says of itself.

use ringwright_solver::scheme::{HoldingScheme, Parameter, ParameterKind, Planned};

pub(crate) fn list(schemes: &[&dyn HoldingScheme], planned: &[&str]) -> String {
    let widest = schemes.iter().map(|s| s.name().len()).max().unwrap_or(0);
    let mut text = String::new();
    for s in schemes {
        text += &format!("{:widest$}  {}\n", s.name(), s.summary());
    }
    if !planned.is_empty() {
        text += &format!("\nKnown, but not built yet: {}\n", planned.join(", "));
    }
    text += "\n`ringwright schemes NAME` shows the parameters and an example.\n";
    text
}

/// Whether a parameter must be given, in one word.
pub(crate) fn need(p: &Parameter) -> String {
    match (p.required, p.default) {
        (true, _) => "required".to_owned(),
        (false, Some(d)) => format!("default {d}"),
        (false, None) => "optional".to_owned(),
    }
}

/// What a parameter takes.
pub(crate) fn takes(p: &Parameter) -> String {
    match p.kind {
        ParameterKind::Length => "length above zero, mm".to_owned(),
        ParameterKind::Offset => "length of either sign, mm".to_owned(),
        ParameterKind::Offsets => {
            "length of either sign, mm, or a list with one for each".to_owned()
        }
        ParameterKind::Force => "force, zero or more, N".to_owned(),
        ParameterKind::Forces => "force, zero or more, N, or a list with one for each".to_owned(),
        ParameterKind::Angle => "angle, deg".to_owned(),
        ParameterKind::Angles => "list of angles, deg".to_owned(),
        ParameterKind::Modulus => "modulus above zero, MPa".to_owned(),
        ParameterKind::Stiffness => "stiffness above zero, N/mm".to_owned(),
        ParameterKind::Ratio => "number, zero or more".to_owned(),
        ParameterKind::Number => "number".to_owned(),
        ParameterKind::Arc { most } => format!("arc above zero, up to {most}, deg"),
        ParameterKind::Count => "whole number, 1 or more".to_owned(),
        ParameterKind::Choice(words) => words
            .iter()
            .map(|w| format!("\"{w}\""))
            .collect::<Vec<_>>()
            .join(" or "),
    }
}

/// A key or a word of later work.
pub(crate) fn planned(p: &Planned) -> String {
    match p.word {
        Some(w) => format!("{} = \"{w}\"", p.key),
        None => p.key.to_owned(),
    }
}

pub(crate) fn detail(scheme: &dyn HoldingScheme) -> String {
    let mut text = format!("{}: {}\n\nParameters\n", scheme.name(), scheme.summary());
    for p in scheme.parameters() {
        text += &format!(
            "  {} ({}; {})\n      {}\n",
            p.key,
            takes(p),
            need(p),
            p.about
        );
    }
    let later: Vec<_> = scheme.planned().iter().map(planned).collect();
    if !later.is_empty() {
        text += &format!("\nKnown, but not built yet: {}\n", later.join(", "));
    }
    text += &format!(
        "\nExample\n{}",
        scheme
            .example()
            .lines()
            .map(|l| if l.is_empty() {
                "\n".to_owned()
            } else {
                format!("  {l}\n")
            })
            .collect::<String>()
    );
    text
}
