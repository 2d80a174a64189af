//! `told.csv`: the rows of points that somebody asked for, each once, in the order in which they were worked out.

use std::collections::BTreeMap;
use std::fs::{File, OpenOptions};
use std::io::{self, BufRead, BufReader, Seek, SeekFrom, Write};
use std::ops::Range;
use std::path::{Path, PathBuf};

use ringwright_solver::report::ReportError;
use ringwright_solver::study::Typed;

use super::table;
use crate::failure::{Failure, FailureKind};
use crate::screen::Screen;

/// Parts the values of a point from each other.
const PARTED: char = '\u{1f}';

/// The table. It is locked as long as this lives.
pub(super) struct Ledger {
    path: PathBuf,
    file: File,
    /// Where the line of a point stands, bytes, by its values.
    lines: BTreeMap<String, Range<u64>>,
    /// Number of the row that comes next.
    pub(super) next: u64,
    end: u64,
}

/// What tells a point from another: its values as they stand in the table.
pub(super) fn key(values: &[Typed]) -> String {
    let cells: Vec<String> = values.iter().map(Typed::to_string).collect();
    cells.join(&PARTED.to_string())
}

impl Ledger {
    /// Opens the table, or begins it; `varies` is how many keys vary. A last line that was cut short is taken away.
    pub(super) fn open(
        path: &Path,
        header: &str,
        varies: usize,
        screen: &mut Screen,
    ) -> Result<Self, Failure> {
        let fail = |e: io::Error| Failure::from(ReportError::write(path, e));
        let wrong = |line: usize, message: &str| {
            let name = path.display().to_string();
            let message = format!("{message}; give another folder with --out");
            Failure::at(FailureKind::Input, &name, [line, 0], message)
        };
        let mut file = OpenOptions::new()
            .read(true)
            .write(true)
            .create(true)
            .truncate(false)
            .open(path)
            .map_err(fail)?;
        if file.try_lock().is_err() {
            screen.note(&format!(
                "ringwright: waiting for another run that writes {}",
                path.display()
            ));
            file.lock().map_err(fail)?;
        }
        let mut lines = BTreeMap::new();
        let (mut next, mut end, mut number) = (0, 0, 0);
        let mut reader = BufReader::new(&mut file);
        let mut line = Vec::new();
        loop {
            line.clear();
            let read = reader.read_until(b'\n', &mut line).map_err(fail)? as u64;
            if read == 0 || line.last() != Some(&b'\n') {
                break;
            }
            number += 1;
            let text = std::str::from_utf8(&line).map_err(|_| wrong(number, "is not UTF-8"))?;
            if number == 1 {
                if text != header {
                    return Err(wrong(1, "has other columns than this study"));
                }
            } else {
                let cells = table::cells(text.trim_end_matches('\n')).unwrap_or_default();
                let row = cells.first().and_then(|c| c.parse::<u64>().ok());
                let (Some(row), Some(values)) = (row, cells.get(2..2 + varies)) else {
                    return Err(wrong(number, "is not as it was written"));
                };
                next = row + 1;
                lines.insert(values.join(&PARTED.to_string()), end..end + read);
            }
            end += read;
        }
        let mut ledger = Self {
            path: path.to_owned(),
            file,
            lines,
            next,
            end,
        };
        if end == 0 {
            ledger.put(header)?;
        }
        Ok(ledger)
    }

    /// Whether a point is there.
    pub(super) fn has(&self, key: &str) -> bool {
        self.lines.contains_key(key)
    }

    /// Rows that are there.
    pub(super) fn len(&self) -> usize {
        self.lines.len()
    }

    /// Adds lines of points, the next rows.
    pub(super) fn add(&mut self, rows: &[(String, String)]) -> Result<(), Failure> {
        let mut end = self.end;
        let text: String = rows.iter().map(|(_, line)| line.as_str()).collect();
        self.put(&text)?;
        for (key, line) in rows {
            let length = line.len() as u64;
            self.lines.insert(key.clone(), end..end + length);
            end += length;
        }
        self.next += rows.len() as u64;
        Ok(())
    }

    /// Writes lines behind the last; what cannot be written whole is taken away again.
    fn put(&mut self, text: &str) -> Result<(), Failure> {
        append(&mut self.file, self.end, text).map_err(|e| ReportError::write(&self.path, e))?;
        self.end += text.len() as u64;
        Ok(())
    }

    /// The line of a point that is there.
    pub(super) fn line(&mut self, key: &str) -> Result<String, Failure> {
        let range = self.lines.get(key).cloned().unwrap_or_default();
        let mut text = vec![0; (range.end - range.start) as usize];
        let mut read = || -> io::Result<()> {
            self.file.seek(SeekFrom::Start(range.start))?;
            io::Read::read_exact(&mut self.file, &mut text)
        };
        read().map_err(|e| {
            let message = format!("cannot read {}: {e}", self.path.display());
            Failure::io(&self.path, message)
        })?;
        Ok(String::from_utf8_lossy(&text).into_owned())
    }
}

/// Writes text at an end of a file (bytes), in place of what stands behind it, and brings it to the disk; what cannot be written whole is taken away again.
///
/// # Errors
/// Why it could not be written.
pub(super) fn append(file: &mut File, end: u64, text: &str) -> io::Result<()> {
    let mut put = || -> io::Result<()> {
        file.set_len(end)?;
        file.seek(SeekFrom::Start(end))?;
        file.write_all(text.as_bytes())?;
        file.sync_data()
    };
    put().inspect_err(|_| {
        let _ = file.set_len(end);
    })
}
