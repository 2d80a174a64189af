//! Files that appear whole or not at all, and never in place of somebody else's.
//!
//! [`Folder`] takes the files of a run, [`OneFile`] a file by itself. Both are opened before the work begins, so that what cannot be
//! written is told before a long solve and not after, and both leave everything as it was unless all of their writing succeeds. Where
//! interrupts are handled, [`sweep_all`] takes away what is unfinished. How files appear is told in `commit`.

mod commit;
mod disk;
mod folder;
mod live;
mod lock;
mod names;
mod single;
#[cfg(test)]
mod tests;
mod work;

use std::path::{Path, PathBuf};

pub use folder::Folder;
pub use live::sweep_all;
pub use single::{OneFile, refuse_input};

use super::ReportError;
use super::document::ResultDocument;
use crate::case::Case;
use crate::process::Outcome;

/// Writes every output of a run into `dir`, which is made if needed; see [`Folder::open`] and [`Folder::write`]. A case from a file has
/// the files that it names kept from being replaced; of the case file itself this knows nothing.
///
/// # Errors
/// As those two.
pub fn write_all(
    dir: &Path,
    case: &Case,
    outcome: &Outcome,
    document: &ResultDocument,
) -> Result<Vec<PathBuf>, ReportError> {
    let inputs: Vec<PathBuf> = case.files().map(Path::to_owned).collect();
    Folder::open(dir, &inputs, "")?.write(case, outcome, document)
}
