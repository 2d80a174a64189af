//! `--keep profiles`: the shapes of each row that has an answer, a file a row.

use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use ringwright_solver::case::Change;
use ringwright_solver::process::{Kept, Outcome};
use ringwright_solver::report::{ReportError, csv};
use ringwright_solver::study::{Base, Row, evaluate, evaluate_shown};

use crate::commands::make_folder;
use crate::failure::{Failure, FailureKind};
use crate::progress::Watcher;

/// What is kept of each row beside its figures.
pub(super) struct Keep {
    /// Where profiles go; `None` where they are not wanted.
    profiles: Option<PathBuf>,
}

/// Why a row was not worked out.
pub(super) enum NoRow {
    /// A signal came.
    Interrupted,
    /// What is kept of it cannot be written.
    NotKept(Failure),
}

impl Keep {
    /// Readies the folder, before the first row is worked out.
    pub(super) fn open(dir: &Path, profiles: bool) -> Result<Self, Failure> {
        let profiles = profiles.then(|| dir.join("profiles"));
        if let Some(folder) = &profiles {
            make_folder(folder)?;
        }
        Ok(Self { profiles })
    }

    /// The row of a case; what is kept of it is on the disk when it comes back. `others` is what rows share.
    pub(super) fn row(
        &self,
        number: u64,
        base: &Base,
        changes: &[Change],
        watcher: &Watcher,
        others: &Kept,
    ) -> Result<Row, NoRow> {
        let Some(folder) = &self.profiles else {
            return evaluate(base, changes, watcher, others).map_err(|_| NoRow::Interrupted);
        };
        let mut kept = Ok(());
        let row = evaluate_shown(base, changes, watcher, others, &mut |_, outcome| {
            kept = write(folder, number, outcome);
        });
        let row = row.map_err(|_| NoRow::Interrupted)?;
        kept.map_err(|e| NoRow::NotKept(e.into()))?;
        // one of the same row that had an answer once, under another time limit or in another version
        if row.status != "ok" {
            let _ = fs::remove_file(file(folder, number));
        }
        Ok(row)
    }
}

fn file(folder: &Path, number: u64) -> PathBuf {
    folder.join(format!("{number}.csv"))
}

/// Writes the profiles of a row beside their name, then gives them it. The name before that is the same each time, so what is left of one that was killed is written over
/// when the row is worked out again.
fn write(folder: &Path, number: u64, outcome: &Outcome) -> Result<(), ReportError> {
    let text = csv::profiles(outcome)?;
    let path = file(folder, number);
    let part = folder.join(format!(".{number}.csv.part"));
    let put = || -> io::Result<()> {
        let mut file = File::create(&part)?;
        file.write_all(&text)?;
        file.sync_data()?;
        fs::rename(&part, &path)
    };
    put().map_err(|e| {
        let _ = fs::remove_file(&part);
        ReportError::write(&path, e)
    })
}

/// Refuses to mix rows with and without profiles: `before` is what the rows that are there were worked out with.
pub(super) fn agree(dir: &Path, before: bool, now: bool) -> Result<(), Failure> {
    let message = match (before, now) {
        (true, false) => {
            "the rows of this folder have their profiles beside them; go on with --keep profiles, or give another folder with --out"
        }
        (false, true) => {
            "the rows of this folder have no profiles; go on without --keep profiles, or give another folder with --out"
        }
        _ => return Ok(()),
    };
    if !has_rows(dir) {
        return Ok(());
    }
    let name = dir.display().to_string();
    Err(Failure::at(
        FailureKind::Input,
        &name,
        [0, 0],
        message.into(),
    ))
}

/// Whether a folder has a table, whole or begun.
fn has_rows(dir: &Path) -> bool {
    let is_table = |name: &str| {
        name.starts_with("results") && (name.ends_with(".csv") || name.ends_with(".csv.part"))
    };
    let entries = fs::read_dir(dir).into_iter().flatten().flatten();
    let mut names = entries.map(|e| e.file_name());
    names.any(|name| name.to_str().is_some_and(is_table))
}
