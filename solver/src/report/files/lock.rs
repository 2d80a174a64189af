//! The lock of a folder that is written into: a file in the work folder, locked by the system, so that it goes with its process however that ends.

use std::fs::{self, File, OpenOptions, TryLockError};
use std::io::{self, ErrorKind, Read, Write};
use std::path::Path;

use super::disk::{Disk, identity, remove};

/// The file that is locked.
pub(super) const LOCK: &str = "lock";
/// Who holds it, in a file of its own: some systems let nobody read a locked one.
pub(super) const HOLDER: &str = "held-by";
/// Times that the lock is tried when its file vanishes under us, as another run ends.
const TRIES: u32 = 100;
/// As much of the holder's words as is shown, bytes.
const WORDS: u64 = 300;

/// Why a folder is not locked.
pub(super) enum NotLocked {
    /// Another run holds it: who.
    Held(String),
    Failed(io::Error),
}

impl From<io::Error> for NotLocked {
    fn from(error: io::Error) -> Self {
        Self::Failed(error)
    }
}

/// Makes the work folder if need be and locks it.
pub(super) fn take(disk: &dyn Disk, work: &Path, holder: &str) -> Result<File, NotLocked> {
    let path = work.join(LOCK);
    for _ in 0..TRIES {
        match disk.create_dir(work) {
            Ok(()) => {}
            Err(e) if e.kind() == ErrorKind::AlreadyExists => {}
            Err(e) => return Err(e.into()),
        }
        // a link put there by somebody would lead the sweep astray
        match fs::symlink_metadata(work) {
            Ok(found) if found.is_dir() => {}
            Ok(_) => return Err(io::Error::from(ErrorKind::NotADirectory).into()),
            Err(e) if e.kind() == ErrorKind::NotFound => continue,
            Err(e) => return Err(e.into()),
        }
        let mut options = OpenOptions::new();
        let file = match options
            .read(true)
            .write(true)
            .create(true)
            .truncate(false)
            .open(&path)
        {
            Ok(file) => file,
            // the run before has just taken the folder away
            Err(e) if e.kind() == ErrorKind::NotFound => continue,
            Err(e) => return Err(e.into()),
        };
        match file.try_lock() {
            Ok(()) if is_still(&file, &path) => {
                if let Err(e) = sign(disk, work, holder) {
                    release(disk, work);
                    return Err(e.into());
                }
                return Ok(file);
            }
            // we hold the lock of a file that its last holder has removed
            Ok(()) => {}
            Err(TryLockError::WouldBlock) => return Err(NotLocked::Held(holder_of(work))),
            Err(TryLockError::Error(e)) => return Err(e.into()),
        }
    }
    Err(NotLocked::Held(holder_of(work)))
}

/// Who holds the lock of this work folder; `None` if nobody does.
pub(super) fn held(work: &Path) -> Option<String> {
    let file = File::open(work.join(LOCK)).ok()?;
    match file.try_lock_shared() {
        Err(TryLockError::WouldBlock) => Some(holder_of(work)),
        _ => None,
    }
}

/// Takes the lock file and its folder away, the lock still held, so that nobody can lock a file that is about to go.
pub(super) fn release(disk: &dyn Disk, work: &Path) {
    for name in [HOLDER, LOCK] {
        let _ = remove(disk, &work.join(name));
    }
    // fails, rightly, where another run has come in meanwhile
    let _ = disk.remove_dir(work);
}

/// Whether the file opened is the one under its name.
pub(super) fn is_still(file: &File, path: &Path) -> bool {
    #[cfg(unix)]
    return match (file.metadata(), fs::metadata(path)) {
        (Ok(a), Ok(b)) => identity(&a) == identity(&b),
        _ => false,
    };
    #[cfg(not(unix))]
    {
        let _ = file;
        path.exists()
    }
}

fn sign(disk: &dyn Disk, work: &Path, holder: &str) -> io::Result<()> {
    let path = work.join(HOLDER);
    remove(disk, &path)?;
    let mut file = disk.create_new(&path)?;
    let mut words = format!("process {}", std::process::id());
    if !holder.is_empty() {
        words += &format!(", {holder}");
    }
    super::disk::Out {
        disk,
        file: &mut file,
        failed: None,
    }
    .write_all(words.as_bytes())
}

fn holder_of(work: &Path) -> String {
    let mut bytes = Vec::new();
    if let Ok(file) = File::open(work.join(HOLDER)) {
        let _ = file.take(WORDS).read_to_end(&mut bytes);
    }
    let words = String::from_utf8_lossy(&bytes);
    if words.is_empty() {
        "another process".into()
    } else {
        words.chars().filter(|c| !c.is_control()).collect()
    }
}
