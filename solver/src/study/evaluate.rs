//! One row: the base case with other values, solved.

use std::path::Path;

use super::columns::{Cell, FIGURES, figures, figures_held};
use super::value::Typed;
use crate::case::{
    Case, Change, Origin, Problem, ProblemKind, in_one_line, read_changed, value_at,
};
use crate::metrology::MetrologyError;
use crate::process::{Kept, Options, Outcome, ProcessError, Reason, hold_alone, run_kept};
use crate::scheme::Registry;
use crate::watch::{Stop, Watch};

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

    /// Whether the case has a band under a path, and both its ends; inside `None` of one whose two numbers are not in one unit.
    pub fn band(&self, path: &str) -> Option<Option<[Typed; 2]>> {
        let text = value_at(self.text, self.changes, path)?;
        text.trim_start()
            .starts_with('{')
            .then(|| Typed::band(&text))
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

/// The row of a case with these values; what is kept of other rows makes it quicker and changes nothing.
///
/// # Errors
/// [`ProcessError`] if somebody stopped it; a case without an answer is a row that says so.
pub fn evaluate(
    base: &Base,
    changes: &[Change],
    watch: &dyn Watch,
    kept: &Kept,
) -> Result<Row, ProcessError> {
    row(base, changes, watch, kept, None)
}

/// What is shown a case with an answer.
type See<'a> = &'a mut dyn FnMut(&Case, &Outcome);

/// As [`evaluate`]; a case with an answer is shown to `see`, all of it solved, before its row is told.
///
/// # Errors
/// As [`evaluate`].
pub fn evaluate_shown(
    base: &Base,
    changes: &[Change],
    watch: &dyn Watch,
    kept: &Kept,
    see: &mut dyn FnMut(&Case, &Outcome),
) -> Result<Row, ProcessError> {
    row(base, changes, watch, kept, Some(see))
}

fn row(
    base: &Base,
    changes: &[Change],
    watch: &dyn Watch,
    kept: &Kept,
    see: Option<See>,
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
    match cells(&case, watch, kept, see) {
        Ok(Ok(cells)) => Ok(Row {
            case: id,
            status: "ok".into(),
            cells,
        }),
        Ok(Err(e)) => Ok(failed(id, "not-converged", e.to_string())),
        Err(e) if matches!(e.reason, Reason::Stopped(ref s) if s.by == Stop::Interrupted) => Err(e),
        Err(e) => {
            let kind = match &e.reason {
                Reason::Input(_) => "input",
                Reason::Loose(_) => "loose",
                Reason::CutThrough { .. } => "cut-through",
                Reason::TooLarge(_) => "too-large",
                Reason::Program(_) => "scheme",
                _ => "not-converged",
            };
            Ok(failed(id, kind, format!("{}: {e}", e.at)))
        }
    }
}

/// The figures of a case, solved for as little as they need.
fn cells(
    case: &Case,
    watch: &dyn Watch,
    kept: &Kept,
    see: Option<See>,
) -> Result<Result<Vec<Cell>, MetrologyError>, ProcessError> {
    let options = Options::of_figures();
    if see.is_none()
        && let Some(held) = hold_alone(case, &options, watch, kept)?
    {
        return Ok(Ok(figures_held(&held)));
    }
    let outcome = run_kept(case, &options, watch, kept)?;
    let cells = figures(case, &outcome);
    if let (Some(see), Ok(_)) = (see, &cells) {
        see(case, &outcome);
    }
    Ok(cells)
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
