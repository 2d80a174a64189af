//! The file that rows are added to as they come, and which has its name once all are there.

use std::fs::{self, File, OpenOptions};
use std::io::{self, BufRead, BufReader, Seek, SeekFrom, Write};
use std::ops::Range;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use ringwright_solver::report::ReportError;

use ringwright_solver::study::Plan;

use super::indices::{BEFORE, keys};
use super::{beside, table};
use crate::failure::{Failure, FailureKind};

/// Between two times that what was written is brought to the disk.
const SYNCED: Duration = Duration::from_secs(2);

/// A table in the making: `NAME.part` beside its name. Rows that are there whole survive whatever ends the program; a last line that is cut short is taken away when it is gone on with.
pub(super) struct Journal {
    path: PathBuf,
    part: PathBuf,
    file: File,
    rows: Range<u64>,
    next: u64,
    synced: Instant,
}

impl Journal {
    /// Opens the table for these rows, after those that are there already where that is asked for.
    pub fn open(
        path: &Path,
        header: &str,
        rows: Range<u64>,
        resume: bool,
        plan: &Plan,
    ) -> Result<Self, Failure> {
        let mut part = path.as_os_str().to_owned();
        part.push(".part");
        let part = PathBuf::from(part);
        let fail = |e: io::Error| Failure::from(ReportError::write(&part, e));
        // a table that is whole already is gone on with as one that is not
        if resume && path.exists() && !part.exists() {
            foreign(path)?;
            let mut whole = File::open(path).map_err(fail)?;
            kept(&mut whole, header, path, rows.start, plan)?;
            fs::rename(path, &part).map_err(fail)?;
        }
        let mut file = OpenOptions::new()
            .read(true)
            .write(true)
            .create(true)
            .truncate(false)
            .open(&part)
            .map_err(fail)?;
        if file.try_lock().is_err() {
            let message = format!(
                "{} is being written by another run; wait for it, or give another folder with --out",
                part.display()
            );
            return Err(Failure::io(&part, message));
        }
        foreign(path)?;
        beside::check(path)?;
        let done = kept(&mut file, header, &part, rows.start, plan)?;
        let done = match (resume, done) {
            (true, done) => done,
            (false, Some((n, _))) if n > 0 => {
                let message = format!(
                    "has {n} rows of this study already: go on with --resume, or give another folder with --out"
                );
                return Err(Failure::at(
                    FailureKind::Input,
                    &part.display().to_string(),
                    [0, 0],
                    message,
                ));
            }
            (false, _) => None,
        };
        let done = match done {
            Some((rows_done, end)) => {
                file.set_len(end).map_err(fail)?;
                rows_done
            }
            None => {
                file.set_len(0).map_err(fail)?;
                file.seek(SeekFrom::Start(0)).map_err(fail)?;
                file.write_all(header.as_bytes()).map_err(fail)?;
                0
            }
        };
        file.seek(SeekFrom::End(0)).map_err(fail)?;
        let next = (rows.start + done).min(rows.end);
        Ok(Self {
            path: path.to_owned(),
            part,
            file,
            rows,
            next,
            synced: Instant::now(),
        })
    }

    /// Rows that were there already.
    pub fn done(&self) -> u64 {
        self.next - self.rows.start
    }

    /// Rows that are not there yet.
    pub fn left(&self) -> u64 {
        self.rows.end - self.next
    }

    /// The next rows, no more than so many.
    pub fn next_rows(&self, most: u64) -> Range<u64> {
        self.next..self.rows.end.min(self.next + most)
    }

    /// Adds the lines of the rows up to `end`.
    pub fn add(&mut self, lines: &str, end: u64) -> Result<(), Failure> {
        let written = self.file.write_all(lines.as_bytes()).and_then(|()| {
            if self.synced.elapsed() < SYNCED {
                return Ok(());
            }
            self.synced = Instant::now();
            self.file.sync_data()
        });
        written.map_err(|e| ReportError::write(&self.part, e))?;
        self.next = end;
        Ok(())
    }

    /// That a signal ended it, and how it is gone on with.
    pub fn interrupted(&self) -> Failure {
        let message = format!(
            "interrupted: {} of {} rows are in {}; go on with --resume",
            self.done(),
            self.rows.end - self.rows.start,
            self.part.display()
        );
        Failure::new(FailureKind::Interrupted, message)
    }

    /// Gives the table its name; says what it is.
    pub fn finish(self) -> Result<PathBuf, Failure> {
        self.file
            .sync_all()
            .map_err(|e| ReportError::write(&self.part, e))?;
        beside::clear(&self.path)?;
        let done = fs::rename(&self.part, &self.path);
        done.map_err(|e| ReportError::write(&self.path, e))?;
        Ok(self.path)
    }
}

/// Refuses to put a table in place of a file that is none of a study.
fn foreign(path: &Path) -> Result<(), Failure> {
    let Ok(file) = File::open(path) else {
        return Ok(());
    };
    let mut first = String::new();
    let read = BufReader::new(file).read_line(&mut first);
    match read.is_ok() && (first.is_empty() || first.starts_with("row,status,")) {
        true => Ok(()),
        false => Err(ReportError::Foreign {
            path: path.to_owned(),
        }
        .into()),
    }
}

/// How many whole rows a table has, and where they end; `None` of one that is empty. Rows are numbered one by one from `start`.
fn kept(
    file: &mut File,
    header: &str,
    path: &Path,
    start: u64,
    plan: &Plan,
) -> Result<Option<(u64, u64)>, Failure> {
    let fail = |e: io::Error| Failure::io(path, format!("cannot read {}: {e}", path.display()));
    file.seek(SeekFrom::Start(0)).map_err(fail)?;
    let mut reader = BufReader::new(file);
    let mut line = Vec::new();
    let (mut rows, mut end, mut first) = (0, 0, true);
    loop {
        line.clear();
        let read = reader.read_until(b'\n', &mut line).map_err(fail)? as u64;
        if read == 0 || line.last() != Some(&b'\n') {
            return Ok((!first).then_some((rows, end)));
        }
        match first {
            true if line == header.as_bytes() => first = false,
            true => {
                let message =
                    "has other columns than this study; give another folder with --out".to_owned();
                return Err(Failure::at(
                    FailureKind::Input,
                    &path.display().to_string(),
                    [1, 0],
                    message,
                ));
            }
            false => {
                if let Some(what) = unlike(&line, plan, start + rows) {
                    let message = format!(
                        "{what}; the table was sorted or edited: put it back as it was written, or give another folder with --out"
                    );
                    return Err(Failure::at(
                        FailureKind::Input,
                        &path.display().to_string(),
                        [rows as usize + 2, 0],
                        message,
                    ));
                }
                rows += 1;
            }
        }
        end += read;
    }
}

/// In what a line is not the row of the plan that comes next: its number or what it has other than the base case.
fn unlike(line: &[u8], plan: &Plan, row: u64) -> Option<String> {
    let cells = std::str::from_utf8(line)
        .ok()
        .and_then(|line| table::cells(line.trim_end_matches(['\r', '\n'])));
    let Some(cells) = cells.filter(|cells| cells.first() == Some(&row.to_string())) else {
        return Some(format!("row {row} comes next"));
    };
    let planned = plan.paths().iter().zip(keys(plan, row));
    let found = cells.iter().skip(BEFORE);
    planned.zip(found).find_map(|((path, planned), found)| {
        let same = found.trim() == planned.replace(['\n', '\r'], " ").trim();
        (!same).then(|| format!("{path} is {found}, and {planned} in the plan"))
    })
}
