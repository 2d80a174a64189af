//! One row: the base case with other values, solved.

use std::path::Path;

use super::columns::{Cell, FIGURES, figures};
use super::value::Typed;
use crate::case::{
    Case, Change, Origin, Problem, ProblemKind, in_one_line, read_changed, value_at,
};
use crate::process::{KeepFields, Options, Outcome, ProcessError, Reason, run_watched};
use crate::scheme::Registry;
use crate::watch::Watch;

/// What rows are variants of.
#[derive(Clone, Copy)]
pub struct Base<'a> {
    /// Text of the case file.
    pub text: &'a str,
    /// Changes that every row has.
    pub changes: &'a [Change],
    /// Where files that the case names lie.
    pub folder: Option<&'a Path>,
    /// Schemes that holds are made of.
    pub registry: &'a Registry,
}

impl Base<'_> {
    /// The case with these values.
    ///
    /// # Errors
    /// As [`read_changed`].
    pub fn case(&self, changes: &[Change]) -> Result<(Case, Origin), Vec<Problem>> {
        let all: Vec<Change> = self.changes.iter().chain(changes).cloned().collect();
        read_changed(self.text, &all, self.registry, self.folder)
    }

    /// What the case has under a path, as it is typed.
    pub fn value(&self, path: &str) -> Option<Typed> {
        Typed::read(&value_at(self.text, self.changes, path)?)
    }
}

/// A row of a study.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// First twelve hexadecimal digits of the digest of all that the row depends on; empty where the case cannot be read.
    pub case: String,
    /// `ok`, or `failed: ` with the kind and why.
    pub status: String,
    /// In the order of [`FIGURES`]; all empty of a row that failed.
    pub cells: Vec<Cell>,
}

/// Digits of a digest that name a case.
const DIGITS: usize = 12;

/// The row of a case with these values.
///
/// # Errors
/// [`ProcessError`] if somebody stopped it; a case without an answer is a row that says so.
pub fn evaluate(base: &Base, changes: &[Change], watch: &dyn Watch) -> Result<Row, ProcessError> {
    evaluate_shown(base, changes, watch, &mut |_, _| {})
}

/// As [`evaluate`]; a case with an answer is shown to `see`, before its row is told.
///
/// # Errors
/// As [`evaluate`].
pub fn evaluate_shown(
    base: &Base,
    changes: &[Change],
    watch: &dyn Watch,
    see: &mut dyn FnMut(&Case, &Outcome),
) -> Result<Row, ProcessError> {
    let failed = |case: String, kind: &str, why: String| Row {
        case,
        status: format!("failed: {kind}: {}", why.replace(['\n', '\r'], " ")),
        cells: vec![Cell::Empty; FIGURES.len()],
    };
    let (case, origin) = match base.case(changes) {
        Ok(read) => read,
        Err(problems) => {
            return Ok(failed(
                String::new(),
                kind(&problems),
                in_one_line(&problems),
            ));
        }
    };
    let id: String = origin.sha256.chars().take(DIGITS).collect();
    let options = Options {
        fields: KeepFields::None,
        advice: false,
        ..Options::default()
    };
    let outcome = match run_watched(&case, &options, watch) {
        Ok(outcome) => outcome,
        Err(e) if matches!(e.reason, Reason::Stopped(ref s) if s.by == crate::watch::Stop::Interrupted) =>
        {
            return Err(e);
        }
        Err(e) => {
            let kind = match &e.reason {
                Reason::Input(_) => "input",
                Reason::Loose(_) => "loose",
                Reason::CutThrough { .. } => "cut-through",
                Reason::TooLarge(_) => "too-large",
                Reason::Program(_) => "scheme",
                _ => "not-converged",
            };
            return Ok(failed(id, kind, format!("{}: {e}", e.at)));
        }
    };
    Ok(match figures(&case, &outcome) {
        Ok(cells) => {
            see(&case, &outcome);
            Row {
                case: id,
                status: "ok".into(),
                cells,
            }
        }
        Err(e) => failed(id, "not-converged", e.to_string()),
    })
}

fn kind(problems: &[Problem]) -> &'static str {
    match problems.first().map(|p| p.kind) {
        Some(ProblemKind::Loose) => "loose",
        Some(ProblemKind::CutThrough) => "cut-through",
        Some(ProblemKind::TooLarge) => "too-large",
        Some(ProblemKind::Program) => "scheme",
        _ => "input",
    }
}
