//! The documents of the small commands. The document of `run` is the report's.

use std::path::Path;

use ringwright_solver::case::material::BuiltIn;
use ringwright_solver::conformance::{Check, Fault, Report, Verdict};
use ringwright_solver::mesh::Mesh;
use ringwright_solver::process::MeridianField;
use std::sync::Arc;

use ringwright_solver::scheme::{GRIP, HoldingScheme, Parameter, ParameterKind, Recipe};
use serde_json::{Value, json};

pub(crate) fn text(value: &Value) -> String {
    format!("{value:#}\n")
}

/// A case without problems.
pub(crate) fn check(assumed: &[String]) -> String {
    text(&json!({ "ok": true, "problems": [], "assumed": assumed }))
}

pub(crate) fn new(file: Option<&Path>, example: &str) -> String {
    text(&json!({ "file": file.map(|f| f.display().to_string()), "text": example }))
}

pub(crate) fn man(files: &[String]) -> String {
    text(&json!({ "files": files }))
}

pub(crate) fn materials(materials: &[&BuiltIn]) -> String {
    text(&json!({
        "units": { "young_modulus": "MPa", "yield_strength": "MPa", "density": "kg/m3" },
        "materials": materials,
    }))
}

pub(crate) fn mesh(file: &Path, mesh: &Mesh) -> String {
    text(&json!({
        "file": file.display().to_string(),
        "around": mesh.around(),
        "through": mesh.through(),
        "elements": mesh.elements(),
        "nodes": mesh.nodes(),
        "boundaries": ["outer", "bore"],
    }))
}

pub(crate) fn meridian(file: &Path, mesh: &MeridianField) -> String {
    text(&json!({
        "file": file.display().to_string(),
        "elements": mesh.elements.len(),
        "nodes": mesh.nodes.len(),
        "boundaries": ["outer", "bore"],
    }))
}

pub(crate) fn conform(found: &[(&str, Report)]) -> String {
    let scheme = |(name, report): &(&str, Report)| {
        let checks: Vec<_> = Check::ALL
            .iter()
            .map(|c| {
                let own = report.faults.iter().filter(|f| f.check() == *c);
                let words: Vec<String> = own.map(Fault::to_string).collect();
                json!({
                    "check": format!("{c:?}").to_lowercase(),
                    "about": c.about(),
                    "left_out": report.verdict(*c) == Verdict::LeftOut,
                    "faults": words,
                })
            })
            .collect();
        json!({ "scheme": name, "conforms": report.faults.is_empty(), "checks": checks, "notes": report.notes })
    };
    text(&json!({ "schemes": found.iter().map(scheme).collect::<Vec<_>>() }))
}

fn recipes(list: &[Recipe]) -> Vec<Value> {
    list.iter()
        .map(|r| json!({ "name": r.name, "about": r.about, "example": r.example }))
        .collect()
}

fn parameters(list: &[Parameter]) -> Vec<Value> {
    let one = |p: &Parameter| {
        let choices = match &p.kind {
            ParameterKind::Choice(words) => json!(words.list()),
            _ => Value::Null,
        };
        json!({
            "key": p.key,
            "unit": p.kind.unit(),
            "takes": super::schemes::takes(p),
            "choices": choices,
            "whole": p.is_whole(),
            "min": p.limits.least,
            "max": p.limits.most,
            "default": p.default.as_ref().map(|d| d.trim_matches('"')),
            "required": p.required,
            "about": p.about,
        })
    };
    list.iter().map(one).collect()
}

/// `free` are the recipes of the built-in hold "free". What every scheme takes that grips along the part is said once.
pub(crate) fn schemes(schemes: &[Arc<dyn HoldingScheme>], free: &[Recipe]) -> String {
    let list: Vec<_> = schemes
        .iter()
        .map(|s| {
            json!({
                "scheme": s.name(),
                "about": s.summary(),
                "parameters": parameters(s.parameters()),
                "grips_along": s.grips_along(),
                "example": s.example(),
                "recipes": recipes(s.recipes()),
            })
        })
        .collect();
    let grip = parameters(GRIP);
    text(&json!({ "schemes": list, "grip": grip, "free": { "recipes": recipes(free) } }))
}
