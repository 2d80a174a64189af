//! One file by itself: tried before the work for it begins, written beside its name, and whole under it or not there at all.

use std::ffi::OsString;
use std::fs::{self, File};
use std::io::{self, ErrorKind, Read, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};

use super::super::ReportError;
use super::disk::{self, Disk, Real, is_same, leads_nowhere};
use super::live::{self, Begun, Unfinished};
use super::lock::is_still;
use super::work::hidden;

/// As much of a file as is read to see whose it is, bytes.
const HEAD: u64 = 4096;

/// Ending of a file that is being written.
const PART: &str = ".part";
/// Times that a temporary name is tried.
const TRIES: u32 = 100;

/// Tells one temporary name of this process from the next.
static NEXT: AtomicU32 = AtomicU32::new(0);

/// A file that is ready to be written. Until [`OneFile::write`] has succeeded what stands under its name is as it was, and dropping this
/// leaves it so.
pub struct OneFile {
    disk: &'static dyn Disk,
    /// As it was named, for messages.
    path: PathBuf,
    /// Where that is, links followed.
    target: PathBuf,
    temporary: PathBuf,
    /// Locked, so that other runs see that its process lives.
    file: File,
    _begun: Begun,
}

impl std::fmt::Debug for OneFile {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_tuple("OneFile").field(&self.path).finish()
    }
}

impl OneFile {
    /// Readies a file, before the work for it begins: sees that it can be written and is none of `inputs`, and sweeps what processes that
    /// were killed have left of it. What stands there already is replaced only if its head shows `mark`, which tells a file of ours.
    ///
    /// # Errors
    /// [`ReportError::Foreign`] if something else stands there;
    /// [`ReportError::Write`] if it cannot be written there; [`ReportError::IsInput`] if it is one of the inputs, links followed;
    /// [`ReportError::Interrupted`] after [`super::sweep_all`].
    pub fn open(path: &Path, inputs: &[PathBuf], mark: &str) -> Result<Self, ReportError> {
        refuse_input(path, inputs)?;
        if !is_marked(path, mark).map_err(|source| ReportError::write(path, source))? {
            let path = path.to_owned();
            return Err(ReportError::Foreign { path });
        }
        Self::open_on(&Real, path, inputs)
    }

    /// As [`OneFile::open`], for a file that is written only where nothing is.
    ///
    /// # Errors
    /// As [`OneFile::open`].
    pub fn open_new(path: &Path) -> Result<Self, ReportError> {
        Self::open_on(&Real, path, &[])
    }

    pub(super) fn open_on(
        disk: &'static dyn Disk,
        path: &Path,
        inputs: &[PathBuf],
    ) -> Result<Self, ReportError> {
        let fail = |source| ReportError::write(path, source);
        refuse_input(path, inputs)?;
        let inside = live::enter()?;
        let target = place(path).map_err(fail)?;
        sweep(disk, &target);
        let (temporary, file) = beside(disk, &target).map_err(fail)?;
        Ok(Self {
            disk,
            path: path.to_owned(),
            target,
            _begun: inside.begun(Unfinished::File(temporary.clone())),
            temporary,
            file,
        })
    }

    /// Lets `fill` write the file, then gives it its name, in place of what was there.
    ///
    /// # Errors
    /// [`ReportError::Write`]; what was there is then as it was. [`ReportError::Interrupted`] after [`super::sweep_all`].
    pub fn write(
        self,
        fill: impl FnOnce(&mut dyn Write) -> io::Result<()>,
    ) -> Result<(), ReportError> {
        self.finish(fill, |disk, from, to| disk.rename(from, to))
    }

    /// As [`OneFile::write`], but only if nothing is there.
    ///
    /// # Errors
    /// As [`OneFile::write`]; of the kind [`ErrorKind::AlreadyExists`] if something is there.
    pub fn write_new(
        self,
        fill: impl FnOnce(&mut dyn Write) -> io::Result<()>,
    ) -> Result<(), ReportError> {
        // a second name is given only where none is, and the first then goes with this
        self.finish(fill, |disk, from, to| match disk.hard_link(from, to) {
            Err(e) if e.kind() != ErrorKind::AlreadyExists && fs::symlink_metadata(to).is_err() => {
                // no second names on this file system
                disk.rename(from, to)
            }
            linked => linked,
        })
    }

    fn finish(
        mut self,
        fill: impl FnOnce(&mut dyn Write) -> io::Result<()>,
        name: impl FnOnce(&dyn Disk, &Path, &Path) -> io::Result<()>,
    ) -> Result<(), ReportError> {
        let fail = |source| ReportError::write(&self.path, source);
        disk::fill(self.disk, &mut self.file, fill).map_err(fail)?;
        let _inside = live::enter()?;
        name(self.disk, &self.temporary, &self.target).map_err(fail)?;
        if let Some(folder) = self.target.parent() {
            disk::sync_folder(folder);
        }
        Ok(())
    }
}

impl Drop for OneFile {
    fn drop(&mut self) {
        // gone already if it got its name
        let _ = self.disk.remove_file(&self.temporary);
    }
}

/// Refuses an output that is the same file as an input. Links are followed, and a second name of the same file is seen where the system
/// shows it.
///
/// # Errors
/// [`ReportError::IsInput`] naming both.
pub fn refuse_input(output: &Path, inputs: &[PathBuf]) -> Result<(), ReportError> {
    match inputs.iter().find(|input| is_same(output, input)) {
        Some(input) => Err(ReportError::is_input(output, input)),
        None => Ok(()),
    }
}

/// Where a file is or would be, links followed.
fn place(path: &Path) -> io::Result<PathBuf> {
    if path.as_os_str().as_encoded_bytes().ends_with(b"/") {
        return Err(ErrorKind::IsADirectory.into());
    }
    let name = path.file_name().ok_or(ErrorKind::IsADirectory)?;
    match fs::metadata(path) {
        Ok(found) if found.is_dir() => Err(ErrorKind::IsADirectory.into()),
        // a device or a pipe under that name would be gone
        Ok(found) if !found.is_file() => Err(io::Error::new(
            ErrorKind::InvalidInput,
            "this is a device or a pipe; give the name of a file",
        )),
        Ok(_) => fs::canonicalize(path),
        Err(e) if e.kind() != ErrorKind::NotFound => Err(e),
        Err(_) if fs::symlink_metadata(path).is_ok() => Err(leads_nowhere()),
        Err(_) => {
            let folder = path.parent().filter(|p| *p != Path::new(""));
            Ok(fs::canonicalize(folder.unwrap_or(Path::new(".")))?.join(name))
        }
    }
}

/// Makes the temporary file and locks it.
fn beside(disk: &dyn Disk, target: &Path) -> io::Result<(PathBuf, File)> {
    let name = target.file_name().unwrap_or_default();
    for _ in 0..TRIES {
        let number = NEXT.fetch_add(1, Ordering::Relaxed);
        let ending = format!(".{}-{number}{PART}", std::process::id());
        let path = target.with_file_name(hidden(name, &ending));
        let file = match disk.create_new(&path) {
            Ok(file) => file,
            Err(e) if e.kind() == ErrorKind::AlreadyExists => continue,
            Err(e) => return Err(e),
        };
        // where the system cannot lock, the file may be taken for a dead one: the write then fails, and nothing is lost
        let _ = file.try_lock();
        // another run may have swept it before it was locked
        if is_still(&file, &path) {
            return Ok((path, file));
        }
    }
    Err(ErrorKind::AlreadyExists.into())
}

/// Removes what processes that were killed have left of this file: temporary names of it that nobody has locked.
fn sweep(disk: &dyn Disk, target: &Path) {
    let (Some(folder), Some(name)) = (target.parent(), target.file_name()) else {
        return;
    };
    let Ok(entries) = fs::read_dir(folder) else {
        return;
    };
    let start = hidden(name, ".");
    for entry in entries.flatten() {
        if !is_temporary(&entry.file_name(), &start)
            || !entry.file_type().is_ok_and(|t| t.is_file())
        {
            continue;
        }
        let path = entry.path();
        if File::open(&path).is_ok_and(|file| file.try_lock().is_ok()) {
            let _ = disk.remove_file(&path);
        }
    }
}

/// `START`, the number of a process (and of a file in it), `.part`.
fn is_temporary(name: &OsString, start: &OsString) -> bool {
    name.as_encoded_bytes()
        .strip_prefix(start.as_encoded_bytes())
        .and_then(|rest| rest.strip_suffix(PART.as_bytes()))
        .is_some_and(|numbers| {
            !numbers.is_empty() && numbers.iter().all(|b| b.is_ascii_digit() || *b == b'-')
        })
}

/// Whether nothing stands under a name, or an empty file, or one whose head shows the mark.
fn is_marked(path: &Path, mark: &str) -> io::Result<bool> {
    // whatever is no file is told of when it is tried
    if !fs::metadata(path).is_ok_and(|found| found.is_file()) {
        return Ok(true);
    }
    let mut head = Vec::new();
    File::open(path)?.take(HEAD).read_to_end(&mut head)?;
    Ok(head.is_empty() || String::from_utf8_lossy(&head).contains(mark))
}
