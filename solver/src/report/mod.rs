//! What a solved case is written as: `result.json`, `profiles.csv`, `shape.svg` and VTK files.
//!
//! Read [`mod@document`] first: it holds every figure that the other outputs and the program's summary show.
//! [`files::write_all`] puts everything into a folder.

pub mod csv;
pub mod document;
pub mod files;
pub mod svg;
pub mod units;
pub mod vtk;
pub mod words;

mod json;
#[cfg(test)]
mod sample;
mod verdict;

use std::path::PathBuf;

pub use document::{Program, ResultDocument, document};
pub use files::write_all;
pub use units::Units;

/// Why an output could not be made.
#[derive(Debug, thiserror::Error)]
pub enum ReportError {
    /// A figure is not a number. The solver refuses such answers, so this is a defect.
    #[error("{what} is not a finite number; nothing was written for it")]
    NotFinite {
        /// The figure.
        what: String,
    },
    /// A profile could not be measured.
    #[error("{what} could not be measured: {why}")]
    Measure {
        /// The profile.
        what: String,
        /// The measuring error.
        why: String,
    },
    /// A file or folder could not be written.
    #[error("cannot write {}: {source}; choose a folder that you may write to", path.display())]
    Write {
        /// The file or folder.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// The document could not be put into words of its format.
    #[error("cannot encode {what}: {why}")]
    Encode {
        /// The output.
        what: String,
        /// The encoder's words.
        why: String,
    },
}
