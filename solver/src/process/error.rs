//! Why a case has no answer, as data.

use crate::linear::LinearError;
use crate::mesh::MeshError;
use crate::watch::{Progress, Stop};

/// Why a case has no answer.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{message}")]
pub struct ProcessError {
    /// What kind of reason it is.
    pub reason: Reason,
    /// Line of the case file, 0 if unknown.
    pub line: usize,
    /// Key at fault, e.g. `step[0].cut[0].diameter`; empty if no one key is.
    pub field: String,
    /// What is wrong and what would be right.
    pub message: String,
}

/// Kinds of reasons.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Reason {
    /// The input is wrong, found while solving.
    Input,
    /// The hold leaves the part loose.
    Loose,
    /// A cut goes through the wall.
    CutThrough,
    /// The input is right, but the outside program of a scheme failed on it.
    Program,
    /// No trustworthy answer was reached.
    NotConverged,
    /// The answer would take more memory or time than the solver takes on.
    TooLarge,
    /// The time allowed passed first.
    TimeLimit,
    /// More work than is taken on without a time limit.
    WorkLimit,
    /// Somebody ended the run.
    Interrupted,
}

impl ProcessError {
    /// A reason that no one place of the case is to blame for.
    pub(super) fn new(reason: Reason, message: impl std::fmt::Display) -> Self {
        Self {
            reason,
            line: 0,
            field: String::new(),
            message: message.to_string(),
        }
    }

    /// No trustworthy answer was reached.
    pub(super) fn not_converged(message: impl std::fmt::Display) -> Self {
        Self::new(Reason::NotConverged, message)
    }

    /// The run was ended from outside when it was so far.
    pub(super) fn stopped(stop: Stop, at: &Progress) -> Self {
        match stop {
            Stop::Interrupted => Self::new(Reason::Interrupted, format!("interrupted at {at}")),
            Stop::TimeLimit => {
                Self::new(Reason::TimeLimit, format!("the time limit passed at {at}"))
            }
            Stop::WorkLimit => Self::new(
                Reason::WorkLimit,
                format!(
                    "the case takes more work than is taken on without a time limit; it came to {at}"
                ),
            ),
        }
    }

    /// The same with the place of the case that it is about, if it has none yet.
    pub(super) fn at(mut self, line: usize, field: impl FnOnce() -> String) -> Self {
        // who interrupts a run finds no fault with the case
        if self.field.is_empty() && self.reason != Reason::Interrupted {
            self.line = line;
            self.field = field();
        }
        self
    }

    /// Adds what was still open when the time ran out: the innermost that can say it does.
    pub(super) fn still(mut self, open: impl FnOnce() -> String) -> Self {
        let ended = matches!(self.reason, Reason::TimeLimit | Reason::WorkLimit);
        if ended && !self.message.contains(STILL) {
            self.message += STILL;
            self.message += &open();
        }
        self
    }
}

impl From<LinearError> for ProcessError {
    fn from(error: LinearError) -> Self {
        Self::not_converged(error)
    }
}

impl From<MeshError> for ProcessError {
    fn from(error: MeshError) -> Self {
        Self::not_converged(error)
    }
}

/// Between where a run was and what was still open.
const STILL: &str = ": ";
