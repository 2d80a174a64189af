//! What a solved case is written as: `result.json`, `profiles.csv`, of a tube `stations.csv`, `shape.svg` and VTK files.
//!
//! Read [`mod@document`] first: it holds every figure that the other outputs and the program's summary show.
//! [`files::Folder`] takes all of it, or nothing.

pub mod along;
pub mod csv;
pub mod document;
pub mod files;
pub mod grip;
pub mod msh;
pub mod svg;
pub mod units;
pub mod vtk;
pub mod words;

mod caution;
pub(crate) mod json;
mod refusal;
#[cfg(test)]
mod sample;
mod verdict;

use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};

pub use document::{Program, ResultDocument, document};
pub use files::write_all;
pub use units::Units;
pub(crate) use verdict::caution_of_hold;

/// Why an output could not be made.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
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
    #[error("cannot write {}: {}", shown(path), in_words(source))]
    Write {
        /// The file or folder.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// A file that would be written is one that is read.
    #[error(
        "{} is not written: it is the same file as the input {}; give another name or folder for the output",
        shown(output),
        shown(input)
    )]
    IsInput {
        /// The output.
        output: PathBuf,
        /// The input.
        input: PathBuf,
    },
    /// A file that a run would replace was not written by one.
    #[error(
        "{} was not written by ringwright and is left as it is; choose another place, or move it away",
        shown(path)
    )]
    Foreign {
        /// The file.
        path: PathBuf,
    },
    /// Another run has the folder.
    #[error(
        "{} is being written by another run ({holder}); wait for its end, or choose another folder",
        shown(path)
    )]
    InUse {
        /// The folder.
        path: PathBuf,
        /// Who has it.
        holder: String,
    },
    /// The process was asked to end.
    #[error("interrupted; nothing was written")]
    Interrupted,
    /// The document could not be put into words of its format.
    #[error("cannot encode {what}: {why}")]
    Encode {
        /// The output.
        what: String,
        /// The encoder's words.
        why: String,
    },
}

impl ReportError {
    /// A file or folder that could not be written.
    pub fn write(path: &Path, source: io::Error) -> Self {
        Self::Write {
            path: path.to_owned(),
            source,
        }
    }

    fn is_input(output: &Path, input: &Path) -> Self {
        Self::IsInput {
            output: output.to_owned(),
            input: input.to_owned(),
        }
    }
}

/// A path in a message; of a very long one the middle is left out.
fn shown(path: &Path) -> String {
    const MOST: usize = 300;
    let text: Vec<char> = path.to_string_lossy().chars().collect();
    if text.len() <= MOST {
        return text.into_iter().collect();
    }
    let half = |part: &[char]| part.iter().collect::<String>();
    let (start, end) = (&text[..MOST / 2], &text[text.len() - MOST / 2..]);
    format!("{} ... {}", half(start), half(end))
}

/// What the system said, and what would help.
fn in_words(error: &io::Error) -> String {
    let words = match error.kind() {
        ErrorKind::StorageFull => "the disk is full; free some space or choose another disk",
        ErrorKind::QuotaExceeded => {
            "your share of the disk is used up; free some space or choose another disk"
        }
        ErrorKind::FileTooLarge => "the file would be larger than the system allows",
        ErrorKind::PermissionDenied => "permission denied; choose a folder that you may write to",
        ErrorKind::ReadOnlyFilesystem => "the disk is read-only; choose another one",
        ErrorKind::NotADirectory => "there is a file where a folder is needed; choose another name",
        ErrorKind::IsADirectory => "this names a folder; give the name of a file",
        ErrorKind::NotFound => "the folder that it is to be in is not there",
        ErrorKind::InvalidFilename => "the name is too long for this disk, or cannot be a name",
        ErrorKind::Unsupported => "the disk cannot do what is needed for that; choose another one",
        _ => return error.to_string(),
    };
    words.to_owned()
}
