//! The holding schemes in words, from what each says of itself.

use ringwright_solver::case::FREE;
use ringwright_solver::scheme::{
    GRIP, HoldingScheme, Limits, Parameter, ParameterKind, Planned, Recipe, Registry, grip_of,
};

pub(crate) const FREE_SUMMARY: &str = "a built-in hold, not a scheme: nothing touches the part";

pub(crate) fn list(registry: &Registry) -> String {
    let schemes = registry.all();
    let names = schemes.iter().map(|s| s.name()).chain([FREE]);
    let widest = names.map(str::len).max().unwrap_or(0);
    let mut text = String::new();
    for s in schemes {
        text += &format!("{:widest$}  {}\n", s.name(), s.summary());
    }
    text += &format!("{FREE:widest$}  {FREE_SUMMARY}\n");
    let recipes = schemes
        .iter()
        .flat_map(|s| s.recipes().iter().map(|r| (s.name(), r)))
        .chain(registry.free_recipes().iter().map(|r| (FREE, r)));
    text += "\nWays of the trade that are written with these\n";
    for (name, r) in recipes {
        text += &format!("  {}, with {name}\n      {}\n", r.name, r.about);
    }
    let pressing = schemes.iter().any(|s| s.grips_along());
    if pressing {
        text += &format!(
            "\nCommon to all that press along the part\n{}",
            parameters(GRIP)
        );
    }
    text +=
        "\n`ringwright schemes NAME` shows the parameters, an example and its recipes in full.\n";
    text
}

/// Case files in full, set in from the margin.
fn indented(case: &str) -> String {
    case.lines()
        .map(|l| match l {
            "" => "\n".to_owned(),
            l => format!("  {l}\n"),
        })
        .collect()
}

fn recipes(list: &[Recipe]) -> String {
    list.iter()
        .map(|r| {
            let case = indented(r.example);
            format!("\nRecipe: {}\n  {}\n\n{case}", r.name, r.about)
        })
        .collect()
}

/// The hold "free" and what is written with it.
pub(crate) fn free(registry: &Registry) -> String {
    let recipes = recipes(registry.free_recipes());
    format!("{FREE}: {FREE_SUMMARY}\n{recipes}")
}

/// Whether a parameter must be given, in one word.
pub(crate) fn need(p: &Parameter) -> String {
    match (p.required, &p.default) {
        (true, _) => "required".to_owned(),
        (false, Some(d)) => format!("default {d}"),
        (false, None) => "optional".to_owned(),
    }
}

/// What a parameter takes.
pub(crate) fn takes(p: &Parameter) -> String {
    if p.limits != Limits::NONE
        && let Some(bounds) = p.bounds()
    {
        let list = if p.kind.takes_list() {
            ", or a list with one for each"
        } else {
            ""
        };
        return format!("{}{list}", bounds.in_words(p.is_whole(), p.kind.unit()));
    }
    let takes = match &p.kind {
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
        ParameterKind::Pressure => "pressure, zero or more, MPa".to_owned(),
        ParameterKind::Stiffness => "stiffness above zero, N/mm".to_owned(),
        ParameterKind::Ratio => "number, zero or more".to_owned(),
        ParameterKind::Number => "number".to_owned(),
        ParameterKind::Friction => "number, zero or more, or \"smooth\" or \"serrated\"".to_owned(),
        ParameterKind::Torque => "torque, zero or more, N mm".to_owned(),
        ParameterKind::Mass => "mass above zero, kg".to_owned(),
        ParameterKind::Flag => "true or false".to_owned(),
        ParameterKind::Arc { most } => format!("arc above zero, up to {most}, deg"),
        ParameterKind::Count => "whole number, 1 or more".to_owned(),
        ParameterKind::Choice(words) => words
            .iter()
            .map(|w| format!("\"{w}\""))
            .collect::<Vec<_>>()
            .join(" or "),
    };
    let band = if p.band { ", or a band" } else { "" };
    let unknown = if p.may_be_unknown() {
        ", or \"unknown\""
    } else {
        ""
    };
    format!("{takes}{band}{unknown}")
}

/// A key or a word of later work.
pub(crate) fn planned(p: &Planned) -> String {
    match p.word {
        Some(w) => format!("{} = \"{w}\"", p.key),
        None => p.key.to_owned(),
    }
}

/// Parameters in the order they are shown.
fn parameters(list: &[Parameter]) -> String {
    list.iter()
        .map(|p| {
            format!(
                "  {} ({}; {})\n      {}\n",
                p.key,
                takes(p),
                need(p),
                p.about
            )
        })
        .collect()
}

pub(crate) fn detail(scheme: &dyn HoldingScheme) -> String {
    let mut text = format!("{}: {}\n\nParameters\n", scheme.name(), scheme.summary());
    text += &parameters(scheme.parameters());
    let grip: Vec<&str> = grip_of(scheme).iter().map(|p| &*p.key).collect();
    if !grip.is_empty() {
        text += &format!(
            "\nBesides, as every scheme that presses along the part: {}\n",
            grip.join(", ")
        );
    }
    let later: Vec<_> = scheme.planned().iter().map(planned).collect();
    if !later.is_empty() {
        text += &format!("\nNot supported yet: {}\n", later.join(", "));
    }
    text += &format!("\nExample\n{}", indented(scheme.example()));
    text += &recipes(scheme.recipes());
    text
}
