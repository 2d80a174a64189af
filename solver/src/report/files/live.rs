//! What this process has begun and not finished, so that an interrupt can take it away; and the gate that keeps one from splitting
//! a step that must be whole.

use std::path::PathBuf;
use std::sync::{Mutex, MutexGuard, PoisonError, RwLock, RwLockReadGuard};

use super::ReportError;
use super::disk::{Real, remove};
use super::work::{Work, take_away};

/// Something on the disk that is to vanish if the process is interrupted.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Unfinished {
    /// A file under its temporary name.
    File(PathBuf),
    /// A work folder, and the folders that were made for it, outermost first.
    Work(Work, Vec<PathBuf>),
}

/// The unfinished things of this process.
static LIVE: Live = Live::new();

/// Those things, and whether new ones may begin.
struct Live {
    closed: RwLock<bool>,
    unfinished: Mutex<Vec<Unfinished>>,
}

impl Live {
    const fn new() -> Self {
        Self {
            closed: RwLock::new(false),
            unfinished: Mutex::new(Vec::new()),
        }
    }

    fn enter(&'static self) -> Result<Inside, ReportError> {
        let open = self.closed.read().unwrap_or_else(PoisonError::into_inner);
        if *open {
            return Err(ReportError::Interrupted);
        }
        Ok(Inside {
            live: self,
            _open: open,
        })
    }

    fn list(&self) -> MutexGuard<'_, Vec<Unfinished>> {
        // a list is whole after any panic
        self.unfinished
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
    }

    fn sweep(&self) {
        let mut closed = self.closed.write().unwrap_or_else(PoisonError::into_inner);
        *closed = true;
        for item in self.list().drain(..) {
            match item {
                Unfinished::File(path) => {
                    let _ = remove(&Real, &path);
                }
                Unfinished::Work(work, made) => take_away(&Real, &work, &made),
            }
        }
    }
}

/// While this lives no sweep begins: what is made is also entered in the list, and a commit comes to its end.
pub(super) struct Inside {
    live: &'static Live,
    _open: RwLockReadGuard<'static, bool>,
}

impl Inside {
    /// Enters what was just made.
    pub(super) fn begun(&self, item: Unfinished) -> Begun {
        self.live.list().push(item.clone());
        Begun {
            live: self.live,
            item,
        }
    }
}

/// An entry of the list; dropping it takes it out.
pub(super) struct Begun {
    live: &'static Live,
    item: Unfinished,
}

impl Drop for Begun {
    fn drop(&mut self) {
        let mut list = self.live.list();
        if let Some(at) = list.iter().position(|item| *item == self.item) {
            list.swap_remove(at);
        }
    }
}

/// Opens the gate for one step.
///
/// # Errors
/// [`ReportError::Interrupted`] after [`sweep_all`].
pub(super) fn enter() -> Result<Inside, ReportError> {
    LIVE.enter()
}

/// Takes away everything that this process has begun to write and not finished: temporary files, work folders with their locks, folders
/// made for nothing. Call it where an interrupt is handled, before the process ends; it may be called from any thread, not from inside a
/// signal handler proper.
///
/// Files that are just appearing under their final names are waited for, a matter of milliseconds: they are then all there. After it,
/// whatever in this process wants to write ends with [`ReportError::Interrupted`], for good.
pub fn sweep_all() {
    LIVE.sweep();
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn a_sweep_waits_for_a_step_then_takes_the_rest_away_and_closes() {
        static LIVE: Live = Live::new();
        let folder = tempfile::tempdir().unwrap();
        let [done, left] = ["done", "left"].map(|n| folder.path().join(n));
        let inside = LIVE.enter().unwrap();
        for path in [&done, &left] {
            std::fs::write(path, "x").unwrap();
        }
        let finished = inside.begun(Unfinished::File(done.clone()));
        let _unfinished = inside.begun(Unfinished::File(left.clone()));
        let sweep = std::thread::spawn(|| LIVE.sweep());
        std::thread::sleep(std::time::Duration::from_millis(50));
        assert!(!sweep.is_finished());
        assert!(left.exists());
        drop(finished);
        drop(inside);
        sweep.join().unwrap();
        assert!(done.exists());
        assert!(!left.exists());
        assert!(matches!(LIVE.enter(), Err(ReportError::Interrupted)));
    }
}
