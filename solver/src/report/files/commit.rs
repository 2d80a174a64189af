//! How the files of a run appear together in place of those of an earlier one.
//!
//! - Nothing is there yet: the whole folder gets its name in one step.
//! - A folder is there, and ours lies beside it: a second folder, `swap`, is filled with links to everything that the target is to hold,
//!   what is foreign in it included, and changes places with it, in one step. Out of sight the old folder gets its new files, then they
//!   change back. At every moment the name leads to a folder that is wholly old or wholly new, whatever kills the process, and in the
//!   end it is the same folder as before: its owner, its rights, its sub-folders and whoever stands in it keep theirs.
//! - Where the system cannot do that (another file system, no links, a very large folder): old files are moved out and new ones in, one by
//!   one, the document first out and last in. A kill can fall between, so what is to be done is written down before, and the next run
//!   does the rest.
//!
//! Whatever fails is undone, and the target is as it was.

use std::collections::BTreeSet;
use std::fs;
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::disk::{Disk, Out, identity_of, remove, sync_folder};
use super::names::{DOCUMENT, is_of_runs, ours_in};
use super::work::Work;

/// The most entries that are linked; a folder with more is not exchanged, so that the step stays a matter of milliseconds.
const MOST_LINKS: usize = 1000;

/// What a step that has begun is to come to.
#[derive(Debug, Serialize, Deserialize)]
struct Record {
    /// Identity of the target before, if it is exchanged.
    exchanged: Option<[u64; 2]>,
    /// Our names in the target before, the document first.
    old: Vec<String>,
    /// Names of the new files, the document last.
    new: Vec<String>,
}

/// A work folder and its target.
pub(super) struct Commit<'a> {
    pub(super) disk: &'a dyn Disk,
    pub(super) work: &'a Work,
    pub(super) target: &'a Path,
}

/// What failed, and where.
pub(super) type Failed = (PathBuf, io::Error);

/// Why files were not replaced.
struct NotReplaced {
    what: Failed,
    /// Whether all are back in their places.
    undone: bool,
}

fn at(path: &Path) -> impl FnOnce(io::Error) -> Failed {
    let path = path.to_owned();
    move |error| (path, error)
}

impl Commit<'_> {
    /// Puts the files of `new`, of these names, the document last, in place of all of ours in the target.
    ///
    /// # Errors
    /// What could not be moved; the target is then as it was.
    pub(super) fn run(&self, new: Vec<String>) -> Result<(), Failed> {
        sync_folder(&self.work.new);
        if !self.target.exists() {
            let named = self.disk.rename(&self.work.new, self.target);
            return named.map_err(at(self.target)).map(|()| self.settle());
        }
        let mut record = Record {
            exchanged: None,
            old: ours_in(self.target).map_err(at(self.target))?,
            new,
        };
        self.disk
            .create_dir(&self.work.old)
            .map_err(at(self.target))?;
        if self.work.beside && self.fill_swap(&record).is_ok() {
            record.exchanged = identity_of(self.target);
            if record.exchanged.is_some() && self.by_exchange(&record)? {
                return Ok(());
            }
        }
        record.exchanged = None;
        self.one_by_one(&record)
    }

    /// Whether the folders could be exchanged; if not, nothing has happened.
    fn by_exchange(&self, record: &Record) -> Result<bool, Failed> {
        let swap = &self.work.swap;
        self.write(record).map_err(at(self.target))?;
        if self.disk.exchange(self.target, swap).is_err() {
            self.forget().map_err(at(self.target))?;
            return Ok(false);
        }
        if let Err(failed) = self.replace(swap, record) {
            // if this cannot be undone, what stands in the target's place is whole and new, and the next run does the rest
            if !failed.undone || self.disk.exchange(self.target, swap).is_err() {
                return Ok(true);
            }
            let _ = self.forget();
            return Err(failed.what);
        }
        // both folders are whole and new: should this fail, the other one stays
        let _ = self.disk.exchange(self.target, swap);
        rescue(self.disk, swap, self.target, true);
        let _ = self.forget();
        self.settle();
        Ok(true)
    }

    fn one_by_one(&self, record: &Record) -> Result<(), Failed> {
        self.write(record).map_err(at(self.target))?;
        let result = self.replace(self.target, record);
        self.settle();
        // the record stays where the next run has something to finish
        if result.as_ref().err().is_none_or(|failed| failed.undone) {
            let _ = self.forget();
        }
        result.map_err(|failed| failed.what)
    }

    /// Fills `swap` with links to all that the target is to hold.
    fn fill_swap(&self, record: &Record) -> io::Result<()> {
        let (disk, swap) = (self.disk, &self.work.swap);
        let mut left = MOST_LINKS;
        let skip = record.old.iter().map(String::as_str).collect();
        mirror(disk, self.target, swap, &skip, &mut left)?;
        for name in &record.new {
            disk.hard_link(&self.work.new.join(name), &swap.join(name))?;
        }
        fs::set_permissions(swap, fs::metadata(self.target)?.permissions())
    }

    /// Moves the old files of a folder out and the new ones in; if one fails, all are moved back.
    fn replace(&self, folder: &Path, record: &Record) -> Result<(), NotReplaced> {
        let (old, new) = (&self.work.old, &self.work.new);
        let out = record.old.iter().map(|n| (folder.join(n), old.join(n)));
        let into = record.new.iter().map(|n| (new.join(n), folder.join(n)));
        let mut moved: Vec<(PathBuf, PathBuf)> = Vec::new();
        for (from, to) in out.chain(into) {
            if let Err(error) = self.disk.rename(&from, &to) {
                let mut back = moved.iter().rev();
                let name = from.file_name().unwrap_or_default();
                return Err(NotReplaced {
                    what: (self.target.join(name), error),
                    undone: back.all(|(from, to)| self.disk.rename(to, from).is_ok()),
                });
            }
            moved.push((from, to));
        }
        Ok(())
    }

    /// Does the rest of a step that was cut short by the end of its process.
    ///
    /// # Errors
    /// What could not be done; it is tried again by the next run.
    pub(super) fn resume(&self) -> io::Result<()> {
        let Some(record) = self.read()? else {
            return Ok(());
        };
        match record.exchanged {
            // not begun, or done; or the old folder is still out of sight, and what stands in its place is whole and new, and may have been
            // in use since: whatever differs, it is later
            Some(_) => {}
            None if self.target.exists() => self.forward(self.target, &record)?,
            None => {}
        }
        self.settle();
        self.forget()
    }

    /// Brings a folder to what the record says, wherever it stands between old and new.
    fn forward(&self, folder: &Path, record: &Record) -> io::Result<()> {
        let waits = |name: &String| self.work.new.join(name).exists();
        for name in &record.old {
            let stale = !record.new.contains(name);
            if stale || (name == DOCUMENT && waits(name)) {
                remove(self.disk, &folder.join(name))?;
            }
        }
        for name in record.new.iter().filter(|n| waits(n)) {
            self.disk
                .rename(&self.work.new.join(name), &folder.join(name))?;
        }
        Ok(())
    }

    /// Writes the names down for good before what they replace goes.
    fn settle(&self) {
        sync_folder(self.target);
        if let Some(above) = self.target.parent() {
            sync_folder(above);
        }
    }

    fn write(&self, record: &Record) -> io::Result<()> {
        let draft = self.work.draft();
        remove(self.disk, &draft)?;
        let mut file = self.disk.create_new(&draft)?;
        let text = serde_json::to_vec(record)?;
        let mut out = Out {
            disk: self.disk,
            file: &mut file,
            failed: None,
        };
        io::Write::write_all(&mut out, &text)?;
        self.disk.sync(&file)?;
        self.disk.rename(&draft, &self.work.record)?;
        sync_folder(&self.work.folder);
        Ok(())
    }

    fn read(&self) -> io::Result<Option<Record>> {
        // opening a pipe would wait for who writes into it
        if fs::metadata(&self.work.record).is_ok_and(|found| !found.is_file()) {
            return Err(ErrorKind::InvalidInput.into());
        }
        match fs::read(&self.work.record) {
            Ok(text) => serde_json::from_slice(&text).map(Some).map_err(|_| {
                let words = "an earlier run was cut short and what it left cannot be read";
                io::Error::new(ErrorKind::InvalidData, words)
            }),
            Err(e) if e.kind() == ErrorKind::NotFound => Ok(None),
            Err(e) => Err(e),
        }
    }

    fn forget(&self) -> io::Result<()> {
        self.disk.remove_file(&self.work.record)
    }
}

/// Makes `to` hold what `from` holds: sub-folders of its own, and the same files under a second name.
fn mirror(
    disk: &dyn Disk,
    from: &Path,
    to: &Path,
    skip: &BTreeSet<&str>,
    left: &mut usize,
) -> io::Result<()> {
    let rights = fs::metadata(from)?.permissions();
    if rights.readonly() {
        // it could not be taken away again
        return Err(ErrorKind::PermissionDenied.into());
    }
    disk.create_dir(to)?;
    for entry in fs::read_dir(from)? {
        let entry = entry?;
        let name = entry.file_name();
        if name.to_str().is_some_and(|n| skip.contains(n)) {
            continue;
        }
        *left = left.checked_sub(1).ok_or(ErrorKind::Unsupported)?;
        let (from, to) = (entry.path(), to.join(&name));
        if entry.file_type()?.is_dir() {
            mirror(disk, &from, &to, &BTreeSet::new(), left)?;
        } else {
            disk.hard_link(&from, &to)?;
        }
    }
    fs::set_permissions(to, rights)
}

/// Brings over what others have put into `swap` while it stood in the target's place: what is in it alone, and not ours.
fn rescue(disk: &dyn Disk, swap: &Path, target: &Path, top: bool) {
    let Ok(entries) = fs::read_dir(swap) else {
        return;
    };
    for entry in entries.flatten() {
        let (from, to) = (entry.path(), target.join(entry.file_name()));
        let Ok(found) = entry.metadata() else {
            continue;
        };
        if top && entry.file_name().to_str().is_some_and(is_of_runs) {
            continue;
        }
        if found.is_dir() && to.is_dir() {
            rescue(disk, &from, &to, false);
        } else if found.is_dir() || is_only_name(&found) {
            let _ = disk.rename(&from, &to);
        }
    }
}

/// Whether a file has no second name: what was linked has.
fn is_only_name(found: &fs::Metadata) -> bool {
    #[cfg(unix)]
    return std::os::unix::fs::MetadataExt::nlink(found) == 1;
    #[cfg(not(unix))]
    {
        let _ = found;
        false
    }
}
