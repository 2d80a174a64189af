//! Hold, cut, release, inspect: the main job.

mod outcome;

pub use outcome::*;

use crate::case::Case;
use crate::mesh::Mesh;

/// Which states keep their fields for review.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum KeepFields {
    /// Every state of every step.
    #[default]
    All,
    /// The last step alone.
    Last,
    /// None.
    None,
}

/// How a case is run.
#[derive(Clone, Copy, Debug)]
pub struct Options {
    /// Which fields to keep.
    pub fields: KeepFields,
    /// Whether to judge a fixed mesh by a second, coarser one.
    pub estimate: bool,
}

/// Why a case has no answer.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum ProcessError {
    /// The input is wrong, found while solving.
    #[error("{message}")]
    Input {
        /// Line of the case file, 0 if unknown.
        line: usize,
        /// Key at fault, e.g. `step[0].cut[0].diameter`.
        field: String,
        /// What is wrong and what would be right.
        message: String,
    },
    /// No trustworthy answer was reached.
    #[error("{message}")]
    NotTrustworthy {
        /// Why.
        message: String,
    },
}

/// Runs every step of a case.
///
/// # Errors
/// See [`ProcessError`].
pub fn run(_case: &Case, _options: &Options) -> Result<Outcome, ProcessError> {
    Err(ProcessError::NotTrustworthy {
        message: "the section engine is being built".into(),
    })
}

/// The mesh on which the first step of a case starts: fixed if the case fixes it, else graded to the pads.
///
/// # Errors
/// See [`ProcessError`].
pub fn starting_mesh(_case: &Case) -> Result<Mesh, ProcessError> {
    Err(ProcessError::NotTrustworthy {
        message: "the section engine is being built".into(),
    })
}
