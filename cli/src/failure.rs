//! Why a command has no answer: words for people on standard error, and one document for programs with `--json`.

use std::path::Path;

use ringwright_solver::case::{Problem, ProblemKind};
use ringwright_solver::process::{ProcessError, Reason};
use ringwright_solver::report::ReportError;
use ringwright_solver::watch::Stop;
use serde::Serialize;

use crate::commands::{Source, name_of};
use crate::render::diagnostic;
use crate::{Exit, interrupt};

/// Kinds of failures, as scripts tell them apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum FailureKind {
    /// Wrong use of the command line.
    Usage,
    /// The input is wrong.
    Input,
    /// The hold leaves the part loose.
    Loose,
    /// A cut goes through the wall.
    CutThrough,
    /// No trustworthy answer was reached, or not in the time allowed.
    NotConverged,
    /// The answer would take more memory or time than is taken on.
    TooLarge,
    /// An outside scheme failed.
    Scheme,
    /// Reading or writing failed.
    Io,
    /// A signal ended the command.
    Interrupted,
}

/// Why a command has no answer.
#[derive(Debug, Serialize)]
struct ErrorDocument<'a> {
    /// Always `ringwright-error-1`.
    format: &'static str,
    /// Exit status of the program.
    exit: u8,
    /// What kind of failure it is.
    kind: FailureKind,
    /// What is wrong, at least one entry, in the order of the file.
    problems: &'a [ProblemDocument],
}

/// One thing that is wrong. What is not known is null.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub(crate) struct ProblemDocument {
    /// The file or folder as the command line names it, or "standard input".
    pub(crate) file: Option<String>,
    /// Line, from 1.
    pub(crate) line: Option<usize>,
    /// Column in characters, from 1.
    pub(crate) column: Option<usize>,
    /// The key at fault, e.g. `step[0].cut[0].diameter`; the step, e.g. `step[0]`, where no key is.
    pub(crate) key: Option<String>,
    /// What is wrong and what would be right, in words for people.
    pub(crate) message: String,
}

/// Why a command has no answer.
#[derive(Debug)]
pub(crate) struct Failure {
    pub(crate) kind: FailureKind,
    pub(crate) exit: Exit,
    /// What people read.
    pub(crate) words: String,
    /// What programs read: at least one.
    pub(crate) problems: Vec<ProblemDocument>,
}

/// What a command comes to.
pub(crate) type Outcome = Result<Exit, Failure>;

impl Failure {
    /// A failure that no place of a file is to blame for.
    pub(crate) fn new(kind: FailureKind, message: impl Into<String>) -> Self {
        let message = message.into();
        Self {
            words: format!("ringwright: {message}"),
            problems: vec![ProblemDocument {
                message,
                ..ProblemDocument::default()
            }],
            ..Self::of(kind)
        }
    }

    fn of(kind: FailureKind) -> Self {
        Self {
            kind,
            exit: match kind {
                FailureKind::Usage => Exit::Usage,
                FailureKind::Input | FailureKind::Loose | FailureKind::CutThrough => Exit::Input,
                FailureKind::NotConverged | FailureKind::TooLarge => Exit::NotTrustworthy,
                FailureKind::Scheme => Exit::Scheme,
                FailureKind::Io => Exit::Io,
                FailureKind::Interrupted => Exit::Interrupted,
            },
            words: String::new(),
            problems: Vec::new(),
        }
    }

    /// A file that could not be read or written; the message names it.
    pub(crate) fn io(file: &Path, message: String) -> Self {
        let mut failure = Self::new(FailureKind::Io, message);
        for told in &mut failure.problems {
            told.file = Some(name_of(file));
        }
        failure
    }

    /// A fault of one place of a file, said as `file:line:column: message`.
    pub(crate) fn at(
        kind: FailureKind,
        file: &str,
        [line, column]: [usize; 2],
        message: String,
    ) -> Self {
        let place = match (line, column) {
            (0, _) => file.to_owned(),
            (line, 0) => format!("{file}:{line}"),
            (line, column) => format!("{file}:{line}:{column}"),
        };
        Self {
            words: format!("{place}: {message}"),
            problems: vec![ProblemDocument {
                file: Some(file.to_owned()),
                line: known(line),
                column: known(column),
                key: None,
                message,
            }],
            ..Self::of(kind)
        }
    }

    /// The problems of a case file.
    pub(crate) fn of_case(problems: &[Problem], source: &Source) -> Self {
        let kind = kind_of(problems);
        let told = |p: &Problem| ProblemDocument {
            file: Some(source.name.clone()),
            line: known(p.line),
            column: known(p.column),
            key: Some(p.field.clone()).filter(|key| !key.is_empty()),
            message: p.message.clone(),
        };
        Self {
            words: diagnostic::problems(problems, source),
            problems: problems.iter().map(told).collect(),
            // whatever is found at the door is the file's
            exit: match kind {
                FailureKind::TooLarge => Exit::Input,
                kind => Self::of(kind).exit,
            },
            ..Self::of(kind)
        }
    }

    /// Why a case has no answer.
    pub(crate) fn of_solve(error: &ProcessError, source: &Source) -> Self {
        let line = source.origin.line_of(&error.at).unwrap_or(0);
        let key = error.at.to_string();
        let of_case = |kind| {
            let problem = Problem {
                line,
                column: 1,
                field: key.clone(),
                message: error.to_string(),
                kind,
            };
            Self::of_case(&[problem], source)
        };
        let (kind, before, after) = match &error.reason {
            Reason::Input(_) => return of_case(ProblemKind::Input),
            Reason::Loose(_) => return of_case(ProblemKind::Loose),
            Reason::CutThrough { .. } => return of_case(ProblemKind::CutThrough),
            Reason::Program(_) => return of_case(ProblemKind::Program),
            Reason::TooLarge(_) => (FailureKind::TooLarge, "too large: ", ""),
            Reason::Stopped(stopped) => match stopped.by {
                Stop::Interrupted => (FailureKind::Interrupted, "", ""),
                Stop::WorkLimit => (
                    FailureKind::TooLarge,
                    "too large: ",
                    "; give it time with --time-limit SECONDS, or ask for less accuracy, fewer cuts or a coarser [mesh]",
                ),
                Stop::TimeLimit => (
                    FailureKind::NotConverged,
                    "no trustworthy answer: ",
                    "; give more time with --time-limit, or ask for less accuracy",
                ),
            },
            _ => (FailureKind::NotConverged, "no trustworthy answer: ", ""),
        };
        let message = format!("{error}{after}");
        Self {
            words: format!("ringwright: {before}{message}\nNothing was written."),
            problems: vec![ProblemDocument {
                file: Some(source.name.clone()),
                line: known(line),
                column: None,
                key: Some(key).filter(|key| !key.is_empty()),
                message,
            }],
            ..Self::of(kind)
        }
    }

    /// Exit status of the process.
    pub(crate) fn status(&self) -> u8 {
        match self.exit {
            Exit::Interrupted => interrupt::status(),
            exit => exit as u8,
        }
    }

    /// The error document.
    pub(crate) fn document(&self) -> String {
        let document = ErrorDocument {
            format: "ringwright-error-1",
            exit: self.status(),
            kind: self.kind,
            problems: &self.problems,
        };
        // texts and numbers: there is nothing in it that JSON could not say
        serde_json::to_string_pretty(&document).unwrap_or_default() + "\n"
    }
}

/// Why the outputs could not be made.
impl From<ReportError> for Failure {
    fn from(error: ReportError) -> Self {
        match &error {
            ReportError::Write { path, .. }
            | ReportError::Foreign { path }
            | ReportError::InUse { path, .. }
            | ReportError::IsInput { output: path, .. } => Self::io(path, error.to_string()),
            ReportError::Interrupted => interrupt::failure(),
            _ => Self::new(FailureKind::NotConverged, error.to_string()),
        }
    }
}

/// A place that is not known is 0.
fn known(place: usize) -> Option<usize> {
    (place > 0).then_some(place)
}

/// The kind of a case with problems: a program that failed comes first, for its answer may have caused the rest; else what all of
/// them are, or plainly wrong input.
fn kind_of(problems: &[Problem]) -> FailureKind {
    if problems.iter().any(|p| p.kind == ProblemKind::Program) {
        return FailureKind::Scheme;
    }
    let first = problems.first().map(|p| p.kind);
    let alike = problems.iter().all(|p| Some(p.kind) == first);
    match first.filter(|_| alike) {
        Some(ProblemKind::Loose) => FailureKind::Loose,
        Some(ProblemKind::CutThrough) => FailureKind::CutThrough,
        Some(ProblemKind::TooLarge) => FailureKind::TooLarge,
        _ => FailureKind::Input,
    }
}
