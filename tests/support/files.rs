//! Cases written as files, and what `result.json` says of them.

use ringwright_solver::case::{self, Case, Origin};
use ringwright_solver::process::{KeepFields, Options, Outcome, run};
use ringwright_solver::report::{Program, document};
use serde_json::Value;

/// A case file solved, with the document a user gets.
pub struct Solved {
    /// The checked case.
    pub case: Case,
    /// What the solver found.
    pub outcome: Outcome,
    /// `result.json`.
    pub json: Value,
}

/// Reads the text of a case file.
///
/// # Panics
/// If it has problems.
pub fn read(text: &str) -> Case {
    read_with_origin(text).0
}

/// Reads the text of a case file, with what is known of the file.
///
/// # Panics
/// If it has problems.
pub fn read_with_origin(text: &str) -> (Case, Origin) {
    case::read_with_origin(text, &ringwright_plugins::registry(), None)
        .unwrap_or_else(|p| panic!("{p:?}\n{text}"))
}

/// Solves the text of a case file, keeping the fields.
///
/// # Panics
/// If it has problems or no answer.
pub fn solve(text: &str) -> Solved {
    let (case, origin) = read_with_origin(text);
    let options = Options {
        fields: KeepFields::All,
        estimate: true,
        ..Options::default()
    };
    let outcome = run(&case, &options).unwrap_or_else(|e| panic!("{e}\n{text}"));
    let json = written(&case, &origin, &outcome);
    Solved {
        case,
        outcome,
        json,
    }
}

/// The document of an outcome, written and read back.
///
/// # Panics
/// If it cannot be written.
pub fn json(case: &Case, outcome: &Outcome) -> Value {
    written(case, &Origin::default(), outcome)
}

fn written(case: &Case, origin: &Origin, outcome: &Outcome) -> Value {
    let text = document(case, origin, outcome, &Program::default())
        .and_then(|d| d.to_json())
        .expect("every figure is a number");
    serde_json::from_str(&text).expect("the document is JSON")
}

/// A number of a document.
///
/// # Panics
/// If it is not there.
pub fn number(value: &Value, pointer: &str) -> f64 {
    value
        .pointer(pointer)
        .and_then(Value::as_f64)
        .unwrap_or_else(|| panic!("no number at {pointer}"))
}

/// Signed coefficient of `cos(count * theta)` of a `SHAPE`.
///
/// # Panics
/// If the shape does not list the count.
pub fn harmonic(shape: &Value, count: u32) -> f64 {
    let entry = &shape["harmonics"][count as usize - 1];
    assert_eq!(entry["count"], count);
    let angle = number(entry, "/angle").to_radians();
    number(entry, "/amplitude") * (f64::from(count) * angle).cos()
}

/// Head of a case file for a round ring: bore and outside radius (mm), Young's modulus (MPa), Poisson's ratio, length (mm).
pub fn ring(bore: f64, outer: f64, young: f64, nu: f64, length: f64) -> String {
    format!(
        "title = \"Round ring\"\n[part]\nouter_diameter = {}\nbore_diameter = {}\nlength = {length}\n\
         material = {{ young_modulus = {young:?}, poisson_ratio = {nu} }}\n",
        2.0 * outer,
        2.0 * bore,
    )
}
