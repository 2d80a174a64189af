//! The hidden folder in which a run's files are made before they appear, beside the target or in it.
//!
//! | in it | what it is |
//! | --- | --- |
//! | `lock`, `held-by` | see [`super::lock`] |
//! | `new` | the files of this run |
//! | `old` | those of an earlier run, moved out of the way until the step is done |
//! | `swap` | see [`super::commit`] |
//! | `commit` | what a step that has begun is to come to: while it is there, nothing here may be thrown away |

use std::ffi::OsStr;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use sha2::{Digest, Sha256};

use super::disk::{Disk, remove};
use super::lock;

/// Name of a work folder inside its target; one beside it is called `.TARGET.ringwright`.
const INSIDE: &str = ".ringwright";
/// Longer names are hashed, so that what is put before and after them fits, bytes.
const LONGEST: usize = 200;

/// The parts of a work folder.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Work {
    pub(super) folder: PathBuf,
    pub(super) new: PathBuf,
    pub(super) old: PathBuf,
    pub(super) swap: PathBuf,
    pub(super) record: PathBuf,
    /// Whether it lies beside its target, where a whole folder can be put in the target's place.
    pub(super) beside: bool,
}

impl Work {
    /// The one beside a target; `None` for the root of a file system.
    pub(super) fn beside(target: &Path) -> Option<Self> {
        let (above, name) = (target.parent()?, target.file_name()?);
        Some(Self::of(above.join(hidden(name, INSIDE)), true))
    }

    /// The one in a target.
    pub(super) fn inside(target: &Path) -> Self {
        Self::of(target.join(INSIDE), false)
    }

    fn of(folder: PathBuf, beside: bool) -> Self {
        Self {
            new: folder.join("new"),
            old: folder.join("old"),
            swap: folder.join("swap"),
            record: folder.join("commit"),
            folder,
            beside,
        }
    }

    /// Where the record of a step is written before it counts.
    pub(super) fn draft(&self) -> PathBuf {
        self.folder.join("commit.draft")
    }

    /// Empties the folder but for its lock. What a step needs that has begun stays.
    pub(super) fn clear(&self, disk: &dyn Disk) -> io::Result<()> {
        if fs::symlink_metadata(&self.record).is_ok() {
            return Ok(());
        }
        let parts = [&self.new, &self.old, &self.swap, &self.draft()];
        parts.into_iter().try_for_each(|part| remove(disk, part))
    }
}

/// Takes a work folder away whose lock we hold, and the folders made for it, outermost first. Whatever fails is left to the next run.
pub(super) fn take_away(disk: &dyn Disk, work: &Work, made: &[PathBuf]) {
    let _ = work.clear(disk);
    lock::release(disk, &work.folder);
    for folder in made.iter().rev() {
        // fails, rightly, on a folder that somebody put something into meanwhile
        if disk.remove_dir(folder).is_err() {
            break;
        }
    }
}

/// A name that no listing shows by itself: a dot, the name, and an ending.
pub(super) fn hidden(name: &OsStr, ending: &str) -> std::ffi::OsString {
    let mut hidden = std::ffi::OsString::from(".");
    if name.len() > LONGEST {
        let hash = Sha256::digest(name.as_encoded_bytes());
        let hash: String = hash.iter().take(16).map(|b| format!("{b:02x}")).collect();
        hidden.push(hash);
    } else {
        hidden.push(name);
    }
    hidden.push(ending);
    hidden
}
