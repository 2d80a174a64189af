//! Disks that fail or die at a chosen operation, folders that stand in the way of a run, and what is in a folder afterwards.

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};

use crate::report::ReportError;
use crate::report::files::Folder;
use crate::report::files::disk::{Disk, Real};

/// Files and folders below a folder, with what is in the files.
pub(super) type Tree = BTreeMap<PathBuf, Option<Vec<u8>>>;

pub(super) fn tree(root: &Path) -> Tree {
    let mut all = Tree::new();
    let mut folders = vec![root.to_owned()];
    while let Some(folder) = folders.pop() {
        let Ok(entries) = fs::read_dir(&folder) else {
            continue;
        };
        for entry in entries {
            let path = entry.unwrap().path();
            let name = path.strip_prefix(root).unwrap().to_owned();
            if fs::symlink_metadata(&path).unwrap().is_symlink() {
                let to = fs::read_link(&path).unwrap();
                all.insert(name, Some(to.into_os_string().into_encoded_bytes()));
            } else if path.is_dir() {
                all.insert(name, None);
                folders.push(path);
            } else {
                all.insert(name, Some(fs::read(&path).unwrap()));
            }
        }
    }
    all
}

/// A folder to try things in, in memory where there is such a place.
pub(super) fn playground() -> tempfile::TempDir {
    let memory = Path::new("/dev/shm");
    if memory.is_dir() {
        tempfile::tempdir_in(memory).unwrap()
    } else {
        tempfile::tempdir().unwrap()
    }
}

/// A disk of which one operation fails, or all from one on, as if the process had ended there.
pub(super) struct Faulty {
    /// Number of the operation, from 0.
    at: usize,
    dead: bool,
    can_exchange: bool,
    beside: bool,
    pub(super) done: AtomicUsize,
}

impl Faulty {
    pub(super) fn step(&self) -> io::Result<()> {
        let n = self.done.fetch_add(1, Ordering::SeqCst);
        if n == self.at || (self.dead && n > self.at) {
            return Err(ErrorKind::StorageFull.into());
        }
        Ok(())
    }
}

impl Disk for Faulty {
    fn create_dir(&self, path: &Path) -> io::Result<()> {
        self.step()?;
        Real.create_dir(path)
    }
    fn create_new(&self, path: &Path) -> io::Result<File> {
        self.step()?;
        Real.create_new(path)
    }
    fn write(&self, file: &mut File, bytes: &[u8]) -> io::Result<usize> {
        self.step()?;
        Real.write(file, bytes)
    }
    fn sync(&self, _: &File) -> io::Result<()> {
        self.step()
    }
    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        self.step()?;
        Real.rename(from, to)
    }
    fn exchange(&self, one: &Path, other: &Path) -> io::Result<()> {
        self.step()?;
        if !self.can_exchange {
            return Err(ErrorKind::Unsupported.into());
        }
        Real.exchange(one, other)
    }
    fn hard_link(&self, file: &Path, name: &Path) -> io::Result<()> {
        self.step()?;
        Real.hard_link(file, name)
    }
    fn remove_file(&self, path: &Path) -> io::Result<()> {
        self.step()?;
        Real.remove_file(path)
    }
    fn remove_dir(&self, path: &Path) -> io::Result<()> {
        self.step()?;
        Real.remove_dir(path)
    }
    fn works_beside(&self, _: &Path) -> bool {
        self.beside
    }
}

/// Names of a run's files, and of one that writes no fields, so that those of the first are left over.
pub(super) const WITH_FIELDS: &[&str] = &[
    "step-1-held.vtu",
    "step-1-cut.vtu",
    "stages.pvd",
    "profiles.csv",
    "result.json",
];
pub(super) const WITHOUT_FIELDS: &[&str] = &["profiles.csv", "shape.svg", "result.json"];

/// Does what a run does with its files, which hold little.
pub(super) fn write(
    disk: &'static dyn Disk,
    dir: &Path,
    names: &[&str],
) -> Result<Vec<PathBuf>, ReportError> {
    let folder = Folder::open_on(disk, dir, &[], "a test")?;
    let text = format!("{{\"format\": \"ringwright-result-1\", \"files\": {names:?}}}");
    let field = format!("<VTKFile/> {names:?}");
    for name in names {
        let text = if name.ends_with(".vtu") {
            &field
        } else {
            &text
        };
        folder.put(name, |out| out.write_all(text.as_bytes()))?;
    }
    folder.appear(names.iter().map(ToString::to_string).collect())
}

/// What stands in the way of a run, and on what kind of disk.
#[derive(Clone, Copy, Debug)]
pub(super) struct Setting {
    pub(super) earlier: bool,
    pub(super) sub_folder: bool,
    pub(super) can_exchange: bool,
    pub(super) beside: bool,
}

pub(super) const SETTINGS: [Setting; 6] = {
    let best = Setting {
        earlier: true,
        sub_folder: true,
        can_exchange: true,
        beside: true,
    };
    [
        Setting {
            earlier: false,
            ..best
        },
        best,
        Setting {
            sub_folder: false,
            ..best
        },
        Setting {
            can_exchange: false,
            ..best
        },
        Setting {
            beside: false,
            ..best
        },
        Setting {
            beside: false,
            sub_folder: false,
            ..best
        },
    ]
};

impl Setting {
    /// Prepares the folder of a run below `root`.
    pub(super) fn lay_out(self, root: &Path) -> PathBuf {
        let dir = root.join("a/out");
        if self.earlier {
            write(&Real, &dir, WITH_FIELDS).unwrap();
            fs::write(dir.join("notes.txt"), "mine").unwrap();
            fs::write(dir.join(".step-1-held.vtu.17.part"), "of a dead run").unwrap();
        }
        if self.earlier && self.sub_folder {
            fs::create_dir_all(dir.join("sub/deeper")).unwrap();
            fs::write(dir.join("sub/deeper/step-1-held.vtu"), "mine too").unwrap();
        }
        dir
    }

    pub(super) fn disk(self, at: usize, dead: bool) -> &'static Faulty {
        Box::leak(Box::new(Faulty {
            at,
            dead,
            can_exchange: self.can_exchange,
            beside: self.beside,
            done: AtomicUsize::new(0),
        }))
    }

    /// Calls `check` with the playground, the run's folder and what its write came to, for a failure of each operation in turn. `check` also
    /// gets what the playground was before and is to be after.
    pub(super) fn at_every_operation(
        self,
        dead: bool,
        check: impl Fn(&Path, &Path, Result<Vec<PathBuf>, ReportError>, [&Tree; 2]),
    ) -> usize {
        let wanted = {
            let root = playground();
            let dir = self.lay_out(root.path());
            write(&Real, &dir, WITHOUT_FIELDS).unwrap();
            tree(root.path())
        };
        for at in 0.. {
            let root = playground();
            let dir = self.lay_out(root.path());
            let old = tree(root.path());
            let disk = self.disk(at, dead);
            let result = write(disk, &dir, WITHOUT_FIELDS);
            check(root.path(), &dir, result, [&old, &wanted]);
            if disk.done.load(Ordering::SeqCst) <= at {
                return at;
            }
        }
        0
    }
}

/// Without what is hidden: work folders, and files of dead runs.
pub(super) fn visible(tree: &Tree) -> Tree {
    let is_hidden = |path: &PathBuf| path.iter().any(|n| n.to_string_lossy().starts_with('.'));
    let mut tree = tree.clone();
    tree.retain(|path, _| !is_hidden(path));
    tree
}

/// A folder on the way that holds nothing but hidden things is as good as not there.
pub(super) fn without_way(mut tree: Tree) -> Tree {
    if tree.len() == 1 {
        tree.clear();
    }
    tree
}

/// A disk on which others write while the folders are exchanged.
pub(super) struct Busy(pub(super) PathBuf, pub(super) AtomicUsize);

impl Disk for Busy {
    fn exchange(&self, one: &Path, other: &Path) -> io::Result<()> {
        Real.exchange(one, other)?;
        if self.1.fetch_add(1, Ordering::SeqCst) == 0 {
            fs::write(self.0.join("late.txt"), "late")?;
            fs::write(self.0.join("sub/late.txt"), "late")?;
            // as editors save
            fs::write(self.0.join("saving"), "changed")?;
            fs::rename(self.0.join("saving"), self.0.join("notes.txt"))?;
        }
        Ok(())
    }
}
