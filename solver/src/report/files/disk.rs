//! The few things that are done to the disk, in one place, so that a test can make each of them fail in turn.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Write};
use std::path::Path;

/// What changes the disk. Looking at it goes to `std::fs` straight.
pub(super) trait Disk: Send + Sync {
    fn create_dir(&self, path: &Path) -> io::Result<()> {
        fs::create_dir(path)
    }

    /// Makes a file that is not there yet.
    fn create_new(&self, path: &Path) -> io::Result<File> {
        OpenOptions::new()
            .read(true)
            .write(true)
            .create_new(true)
            .open(path)
    }

    fn write(&self, file: &mut File, bytes: &[u8]) -> io::Result<usize> {
        file.write(bytes)
    }

    /// Returns when what was written is on the disk.
    fn sync(&self, file: &File) -> io::Result<()> {
        file.sync_all()
    }

    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        fs::rename(from, to)
    }

    /// Puts each in the other's place, in one step.
    fn exchange(&self, one: &Path, other: &Path) -> io::Result<()> {
        exchange(one, other)
    }

    /// A second name of the same file; a link is not followed.
    fn hard_link(&self, file: &Path, name: &Path) -> io::Result<()> {
        fs::hard_link(file, name)
    }

    fn remove_file(&self, path: &Path) -> io::Result<()> {
        fs::remove_file(path)
    }

    fn remove_dir(&self, path: &Path) -> io::Result<()> {
        fs::remove_dir(path)
    }

    /// Whether files can be made beside a folder, and renamed into it from there.
    fn works_beside(&self, folder: &Path) -> bool {
        folder
            .parent()
            .is_some_and(|above| !is_mounted(folder, above) && may_write(above).is_ok())
    }
}

/// The disk as it is.
pub(super) struct Real;

impl Disk for Real {}

#[cfg(any(target_os = "linux", target_os = "android", target_vendor = "apple"))]
fn exchange(one: &Path, other: &Path) -> io::Result<()> {
    use rustix::fs::{CWD, RenameFlags, renameat_with};
    Ok(renameat_with(CWD, one, CWD, other, RenameFlags::EXCHANGE)?)
}

#[cfg(not(any(target_os = "linux", target_os = "android", target_vendor = "apple")))]
fn exchange(_: &Path, _: &Path) -> io::Result<()> {
    Err(io::ErrorKind::Unsupported.into())
}

/// A file that is being written, through a [`Disk`].
pub(super) struct Out<'a> {
    pub(super) disk: &'a dyn Disk,
    pub(super) file: &'a mut File,
    /// The first failure, before those who write through this wrap it in words of their own.
    pub(super) failed: Option<io::ErrorKind>,
}

impl Out<'_> {
    fn noted<T>(&mut self, result: io::Result<T>) -> io::Result<T> {
        if let Err(error) = &result
            && error.kind() != io::ErrorKind::Interrupted
        {
            self.failed.get_or_insert(error.kind());
        }
        result
    }
}

impl Write for Out<'_> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let result = self.disk.write(self.file, bytes);
        self.noted(result)
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

/// Lets `fill` write into `file`, and returns when it is on the disk. The error is what the system said, whatever `fill` made of it.
pub(super) fn fill(
    disk: &dyn Disk,
    file: &mut File,
    fill: impl FnOnce(&mut dyn Write) -> io::Result<()>,
) -> io::Result<()> {
    let out = Out {
        disk,
        file,
        failed: None,
    };
    let mut out = io::BufWriter::with_capacity(1 << 16, out);
    let result = fill(&mut out).and_then(|()| out.flush());
    // what is still in the buffer after a failure is not wanted
    let (out, _) = out.into_parts();
    match (result, out.failed) {
        (Ok(()), _) => disk.sync(file),
        (Err(_), Some(kind)) => Err(kind.into()),
        (Err(error), None) => Err(error),
    }
}

/// Writes a folder's names down, so far as the system can: that a file is there lasts longer than a power cut only then.
pub(super) fn sync_folder(path: &Path) {
    if cfg!(unix)
        && let Ok(folder) = File::open(path)
    {
        // a file system that cannot do it has nothing better
        let _ = folder.sync_all();
    }
}

/// Removes a file, or a folder with all that is in it; nothing there is no failure. A link goes, not what it points to.
pub(super) fn remove(disk: &dyn Disk, path: &Path) -> io::Result<()> {
    let is_folder = match fs::symlink_metadata(path) {
        Ok(found) => found.is_dir(),
        Err(e) if e.kind() == io::ErrorKind::NotFound => return Ok(()),
        Err(e) => return Err(e),
    };
    if !is_folder {
        return disk.remove_file(path);
    }
    for entry in fs::read_dir(path)? {
        remove(disk, &entry?.path())?;
    }
    disk.remove_dir(path)
}

/// What tells whether two names are of one file: device and number.
#[cfg(unix)]
pub(super) fn identity(found: &fs::Metadata) -> [u64; 2] {
    use std::os::unix::fs::MetadataExt;
    [found.dev(), found.ino()]
}

/// The identity of a file or folder, links followed; `None` if it is not there or the system has none.
pub(super) fn identity_of(path: &Path) -> Option<[u64; 2]> {
    #[cfg(unix)]
    return fs::metadata(path).ok().map(|found| identity(&found));
    #[cfg(not(unix))]
    {
        let _ = path;
        None
    }
}

/// Whether both names are of one file: links are followed, and hard links seen where the system shows them.
pub(super) fn is_same(one: &Path, other: &Path) -> bool {
    if cfg!(unix) {
        matches!((identity_of(one), identity_of(other)), (Some(a), Some(b)) if a == b)
    } else {
        matches!((fs::canonicalize(one), fs::canonicalize(other)), (Ok(a), Ok(b)) if a == b)
    }
}

/// The error of a link to something that is not there.
pub(super) fn leads_nowhere() -> io::Error {
    let words = "this is a link to something that is not there; give another name";
    io::Error::new(io::ErrorKind::InvalidInput, words)
}

/// Whether we may make and remove names in a folder.
pub(super) fn may_write(folder: &Path) -> io::Result<()> {
    #[cfg(unix)]
    {
        use rustix::fs::{Access, AtFlags, CWD, accessat};
        let wanted = Access::WRITE_OK | Access::EXEC_OK;
        // what counts is as whom we act, where that differs from who called; older systems know only the latter
        match accessat(CWD, folder, wanted, AtFlags::EACCESS) {
            Err(rustix::io::Errno::INVAL | rustix::io::Errno::NOSYS) => {
                accessat(CWD, folder, wanted, AtFlags::empty())?;
            }
            other => other?,
        }
        Ok(())
    }
    #[cfg(not(unix))]
    {
        let probe = folder.join(format!(".ringwright-{}", std::process::id()));
        File::create_new(&probe)?;
        fs::remove_file(probe)
    }
}

/// Whether a folder lies on another file system than the one above it, so that nothing can be renamed between them.
fn is_mounted(folder: &Path, above: &Path) -> bool {
    #[cfg(any(target_os = "linux", target_os = "android"))]
    {
        use rustix::fs::{AtFlags, CWD, StatxAttributes, StatxFlags, statx};
        if let Ok(found) = statx(CWD, folder, AtFlags::empty(), StatxFlags::BASIC_STATS)
            && found.stx_attributes.contains(StatxAttributes::MOUNT_ROOT)
        {
            return true;
        }
    }
    let device = |path| identity_of(path).map(|[device, _]| device);
    device(folder) != device(above)
}
