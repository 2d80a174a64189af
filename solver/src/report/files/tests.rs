#![allow(clippy::unwrap_used)]

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::{self, ErrorKind, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};

use super::super::ReportError;
use super::super::document::{Program, document};
use super::super::sample::{sample_case, sample_outcome};
use super::disk::{Disk, Real};
use super::{Folder, OneFile, write_all};
use crate::case::Origin;
use crate::process::Outcome;

/// Files and folders below a folder, with what is in the files.
type Tree = BTreeMap<PathBuf, Option<Vec<u8>>>;

fn tree(root: &Path) -> Tree {
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
fn playground() -> tempfile::TempDir {
    let memory = Path::new("/dev/shm");
    if memory.is_dir() {
        tempfile::tempdir_in(memory).unwrap()
    } else {
        tempfile::tempdir().unwrap()
    }
}

/// A disk of which one operation fails, or all from one on, as if the process had ended there.
struct Faulty {
    /// Number of the operation, from 0.
    at: usize,
    dead: bool,
    can_exchange: bool,
    beside: bool,
    done: AtomicUsize,
}

impl Faulty {
    fn step(&self) -> io::Result<()> {
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
const WITH_FIELDS: &[&str] = &[
    "step-1-held.vtu",
    "step-1-cut.vtu",
    "stages.pvd",
    "profiles.csv",
    "result.json",
];
const WITHOUT_FIELDS: &[&str] = &["profiles.csv", "shape.svg", "result.json"];

/// Does what a run does with its files, which hold little.
fn write(disk: &'static dyn Disk, dir: &Path, names: &[&str]) -> Result<Vec<PathBuf>, ReportError> {
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
struct Setting {
    earlier: bool,
    sub_folder: bool,
    can_exchange: bool,
    beside: bool,
}

const SETTINGS: [Setting; 6] = {
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
    fn lay_out(self, root: &Path) -> PathBuf {
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

    fn disk(self, at: usize, dead: bool) -> &'static Faulty {
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
    fn at_every_operation(
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
fn visible(tree: &Tree) -> Tree {
    let is_hidden = |path: &PathBuf| path.iter().any(|n| n.to_string_lossy().starts_with('.'));
    let mut tree = tree.clone();
    tree.retain(|path, _| !is_hidden(path));
    tree
}

/// A folder on the way that holds nothing but hidden things is as good as not there.
fn without_way(mut tree: Tree) -> Tree {
    if tree.len() == 1 {
        tree.clear();
    }
    tree
}

#[test]
fn whatever_fails_the_folder_is_as_it_was_and_the_next_run_succeeds() {
    for setting in SETTINGS {
        let tried = setting.at_every_operation(false, |root, dir, result, [old, new]| {
            let found = visible(&tree(root));
            match &result {
                Ok(_) => assert_eq!(found, *new, "{setting:?}"),
                Err(ReportError::Write { source, .. }) => {
                    assert_eq!(source.kind(), ErrorKind::StorageFull);
                    assert_eq!(without_way(found), visible(old), "{setting:?}");
                }
                Err(error) => panic!("{setting:?}: {error}"),
            }
            write(&Real, dir, WITHOUT_FIELDS).unwrap();
            assert_eq!(tree(root), *new, "{setting:?}");
        });
        assert!(tried > 15, "{setting:?}: {tried}");
    }
}

#[test]
fn wherever_a_process_ends_the_folder_is_whole_or_made_whole_by_the_next_run() {
    for setting in SETTINGS {
        let atomic = setting.can_exchange && setting.beside;
        setting.at_every_operation(true, |root, dir, result, [old, new]| {
            let is_whole = |found: &Tree| *found == visible(old) || *found == visible(new);
            let found = without_way(visible(&tree(root)));
            if atomic {
                assert!(is_whole(&found), "{setting:?}: {:?}", found.keys());
            }
            if result.is_ok() {
                assert_eq!(found, *new, "{setting:?}");
            }
            // a run that comes to look and does not write
            drop(Folder::open(dir, &[], "the next").unwrap());
            let found = tree(root);
            assert!(
                found == *old || found == *new || without_way(found.clone()) == *old,
                "{setting:?}: {:?}",
                found.keys()
            );
            write(&Real, dir, WITHOUT_FIELDS).unwrap();
            assert_eq!(tree(root), *new, "{setting:?}");
        });
    }
}

/// What is saved, made and deleted after a process has died stays so when the next run does the rest.
#[test]
fn what_changes_after_a_death_is_the_later() {
    SETTINGS[1].at_every_operation(true, |root, dir, _, [_, new]| {
        // as editors save
        let save = |name: &str| {
            fs::write(dir.join("saving"), "later").unwrap();
            fs::rename(dir.join("saving"), dir.join(name)).unwrap();
        };
        save("notes.txt");
        save("sub/made.txt");
        fs::remove_file(dir.join("sub/deeper/step-1-held.vtu")).unwrap();
        write(&Real, dir, WITHOUT_FIELDS).unwrap();
        let mut found = tree(root);
        for name in ["notes.txt", "sub/made.txt"] {
            let name = dir.strip_prefix(root).unwrap().join(name);
            assert_eq!(
                found.remove(&name),
                Some(Some(b"later".to_vec())),
                "{name:?}"
            );
        }
        let gone = dir.strip_prefix(root).unwrap();
        let mut wanted = new.clone();
        wanted.remove(&gone.join("notes.txt"));
        wanted.remove(&gone.join("sub/deeper/step-1-held.vtu"));
        assert_eq!(found, wanted);
    });
}

/// A disk on which others write while the folders are exchanged.
struct Busy(PathBuf, AtomicUsize);

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

#[test]
#[cfg(target_os = "linux")]
fn what_others_write_meanwhile_is_kept_and_the_folder_stays_the_same() {
    use std::os::unix::fs::{MetadataExt, PermissionsExt};
    let root = playground();
    let dir = SETTINGS[1].lay_out(root.path());
    fs::set_permissions(&dir, fs::Permissions::from_mode(0o750)).unwrap();
    let before = fs::metadata(&dir).unwrap();
    let disk: &Busy = Box::leak(Box::new(Busy(dir.clone(), AtomicUsize::new(0))));
    write(disk, &dir, WITHOUT_FIELDS).unwrap();
    assert_eq!(disk.1.load(Ordering::SeqCst), 2);
    let after = fs::metadata(&dir).unwrap();
    assert_eq!((before.ino(), before.mode()), (after.ino(), after.mode()));
    let read = |name: &str| fs::read_to_string(dir.join(name)).unwrap();
    assert_eq!(
        [read("late.txt"), read("sub/late.txt"), read("notes.txt")],
        ["late", "late", "changed"]
    );
    assert_eq!(
        tree(root.path())
            .keys()
            .filter(|p| p.to_string_lossy().contains(".ringwright"))
            .count(),
        0
    );
}

#[test]
fn a_run_replaces_its_own_files_and_leaves_others() {
    let root = playground();
    let dir = root.path().join("a/b");
    let mut outcome = sample_outcome();
    let case = sample_case();
    let write = |outcome: &Outcome| {
        let document = document(&case, &Origin::default(), outcome, &Program::default()).unwrap();
        write_all(&dir, &case, outcome, &document).unwrap()
    };
    let written = write(&outcome);
    let all = [
        "step-1-held.vtu",
        "step-1-cut.vtu",
        "step-1-released.vtu",
        "stages.pvd",
        "profiles.csv",
        "shape.svg",
        "result.json",
    ];
    assert_eq!(written, all.map(|n| dir.join(n)));
    let pvd = fs::read_to_string(dir.join("stages.pvd")).unwrap();
    assert!(pvd.contains("timestep=\"2\" group=\"\" part=\"0\" file=\"step-1-released.vtu\""));
    for name in ["notes.txt", "step-1-mine.vtu"] {
        fs::write(dir.join(name), "keep").unwrap();
    }
    fs::copy(dir.join("step-1-held.vtu"), dir.join("step-12-held.vtu")).unwrap();
    outcome.steps[0].fields.clear();
    write(&outcome);
    let found: Vec<_> = tree(&dir).into_keys().collect();
    let kept = [
        "notes.txt",
        "profiles.csv",
        "result.json",
        "shape.svg",
        "step-1-mine.vtu",
    ];
    assert_eq!(found, kept.map(PathBuf::from));
}

#[test]
fn a_second_run_is_told_who_has_the_folder() {
    let root = playground();
    let dir = root.path().join("out");
    let first = Folder::open(&dir, &[], "ring.toml").unwrap();
    let error = Folder::open(&dir, &[], "other.toml").unwrap_err();
    assert!(matches!(error, ReportError::InUse { .. }));
    let who = format!("(process {}, ring.toml)", std::process::id());
    assert!(error.to_string().contains(&who), "{error}");
    drop(first);
    assert_eq!(tree(root.path()).len(), 0);
    // beside and inside shut each other out too
    fs::create_dir(&dir).unwrap();
    let [inside, beside] = [SETTINGS[4], SETTINGS[1]].map(|s| s.disk(usize::MAX, false));
    for [one, other] in [[inside, beside], [beside, inside]] {
        let first = Folder::open_on(one, &dir, &[], "").unwrap();
        let error = Folder::open_on(other, &dir, &[], "").unwrap_err();
        assert!(matches!(error, ReportError::InUse { .. }), "{error}");
        drop(first);
        assert_eq!(tree(root.path()).len(), 1);
    }
}

#[test]
fn a_link_to_the_folder_is_followed() {
    let root = playground();
    let [real, link] = ["real", "link"].map(|n| root.path().join(n));
    fs::create_dir(&real).unwrap();
    #[cfg(unix)]
    std::os::unix::fs::symlink(&real, &link).unwrap();
    let written = write(&Real, &link, WITHOUT_FIELDS).unwrap();
    assert_eq!(written[0], link.join("profiles.csv"));
    assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
    assert!(real.join("result.json").exists());
    fs::remove_dir_all(&real).unwrap();
    for result in [
        write(&Real, &link, WITHOUT_FIELDS).map(|_| ()),
        OneFile::open_on(&Real, &link, &[]).map(|_| ()),
    ] {
        let error = result.unwrap_err().to_string();
        assert!(
            error.contains("link to something that is not there"),
            "{error}"
        );
    }
    assert_eq!(tree(root.path()).len(), 1);
}

#[test]
fn what_no_run_wrote_is_not_replaced() {
    for name in [
        "result.json",
        "profiles.csv",
        "shape.svg",
        "stages.pvd",
        "step-1-held.vtu",
    ] {
        let root = playground();
        let dir = root.path().join("out");
        fs::create_dir(&dir).unwrap();
        fs::write(dir.join(name), "{\"format\": \"mine\"}").unwrap();
        let old = tree(root.path());
        let error = write(&Real, &dir, WITH_FIELDS).unwrap_err();
        assert!(
            matches!(&error, ReportError::Foreign { path } if *path == dir.join(name)),
            "{error}"
        );
        assert_eq!(tree(root.path()), old);
        fs::remove_file(dir.join(name)).unwrap();
        fs::create_dir(dir.join(name)).unwrap();
        assert!(
            matches!(
                write(&Real, &dir, WITH_FIELDS),
                Err(ReportError::Foreign { .. })
            ),
            "{name}"
        );
    }
}

#[test]
#[cfg(unix)]
fn an_input_is_not_replaced_whatever_its_name() {
    let root = playground();
    let dir = root.path().join("out");
    write(&Real, &dir, &[WITH_FIELDS, &["shape.svg"]].concat()).unwrap();
    let old = tree(root.path());
    let [hard, soft] = ["hard", "soft"].map(|n| root.path().join(n));
    fs::hard_link(dir.join("profiles.csv"), &hard).unwrap();
    std::os::unix::fs::symlink(dir.join("shape.svg"), &soft).unwrap();
    for input in [dir.join("step-1-cut.vtu"), hard.clone(), soft.clone()] {
        let error = Folder::open(&dir, std::slice::from_ref(&input), "").unwrap_err();
        assert!(
            matches!(&error, ReportError::IsInput { input: i, .. } if *i == input),
            "{error}"
        );
        let error = OneFile::open_on(&Real, &input, std::slice::from_ref(&input)).unwrap_err();
        assert!(matches!(error, ReportError::IsInput { .. }), "{error}");
    }
    // one that would be swept
    let work = root.path().join(".new.ringwright");
    fs::create_dir(&work).unwrap();
    fs::write(work.join("new"), "an input").unwrap();
    let error = Folder::open(&root.path().join("new"), &[work.join("new")], "").unwrap_err();
    assert!(matches!(error, ReportError::IsInput { .. }), "{error}");
    fs::remove_file(work.join("new")).unwrap();
    fs::remove_dir(work).unwrap();
    fs::remove_file(hard).unwrap();
    fs::remove_file(soft).unwrap();
    assert_eq!(tree(root.path()), old);
}

#[test]
fn a_single_file_is_whole_or_as_it_was() {
    for new in [false, true] {
        for at in 0.. {
            let root = playground();
            let path = root.path().join("traces.csv");
            let dead =
                ["2147483647-3", "17"].map(|n| root.path().join(format!(".traces.csv.{n}.part")));
            for path in &dead {
                fs::write(path, "half").unwrap();
            }
            fs::write(root.path().join(".traces.csv.x.part"), "mine").unwrap();
            let living = OneFile::open_on(&Real, &path, &[]).unwrap();
            assert!(dead.iter().all(|d| !d.exists()));
            if !new {
                fs::write(&path, "old").unwrap();
            }
            let disk = SETTINGS[0].disk(at, false);
            let fill =
                |out: &mut dyn Write| out.write_all(b"whole").and_then(|()| out.write_all(b"!"));
            let result = OneFile::open_on(disk, &path, &[]).and_then(|file| match new {
                true => file.write_new(fill),
                false => file.write(fill),
            });
            let failed = disk.done.load(Ordering::SeqCst) > at;
            let found = fs::read_to_string(&path).ok();
            match (&result, new) {
                (Ok(()), _) => assert_eq!(found.as_deref(), Some("whole!")),
                (Err(_), true) => assert_eq!(found, None),
                (Err(_), false) => assert_eq!(found.as_deref(), Some("old")),
            }
            drop(living);
            OneFile::open_on(&Real, &path, &[]).unwrap();
            let names: Vec<_> = tree(root.path()).into_keys().collect();
            let mine = PathBuf::from(".traces.csv.x.part");
            assert!(
                names
                    .iter()
                    .all(|n| *n == mine || n == Path::new("traces.csv")),
                "{names:?}"
            );
            if !failed {
                break;
            }
        }
    }
    let root = playground();
    let path = root.path().join("there");
    fs::write(&path, "old").unwrap();
    let error = OneFile::open_on(&Real, &path, &[])
        .unwrap()
        .write_new(|o| o.write_all(b"new"));
    assert!(
        matches!(error, Err(ReportError::Write { source, .. }) if source.kind() == ErrorKind::AlreadyExists)
    );
    assert_eq!(tree(root.path()).len(), 1);
    assert_eq!(fs::read_to_string(&path).unwrap(), "old");
}

/// The words are about what went wrong, whatever an encoder in between made of it.
#[test]
fn each_failure_has_its_own_words() {
    let words = |kind: ErrorKind| {
        let wrapped = || io::Error::other(format!("IO error: {kind}"));
        let root = playground();
        struct Full(ErrorKind);
        impl Disk for Full {
            fn write(&self, _: &mut File, _: &[u8]) -> io::Result<usize> {
                Err(self.0.into())
            }
        }
        let disk: &Full = Box::leak(Box::new(Full(kind)));
        let file = OneFile::open_on(disk, &root.path().join("file"), &[]).unwrap();
        let result = file.write(|out| {
            let bytes = vec![0; 1 << 17];
            out.write_all(&bytes).map_err(|_| wrapped())
        });
        result.unwrap_err().to_string()
    };
    let full = words(ErrorKind::StorageFull);
    assert!(full.contains("the disk is full; free some space"), "{full}");
    assert!(!full.contains("may write to"), "{full}");
    assert!(words(ErrorKind::PermissionDenied).contains("a folder that you may write to"));
    assert!(words(ErrorKind::ReadOnlyFilesystem).contains("read-only"));
    let root = playground();
    let told = |path: &str| {
        let path = root.path().join(path);
        let folder = Folder::open(&path, &[], "").unwrap_err().to_string();
        [
            folder,
            OneFile::open_on(&Real, &path, &[]).unwrap_err().to_string(),
        ]
    };
    fs::write(root.path().join("file"), "x").unwrap();
    for words in told("file/out") {
        assert!(
            words.contains("there is a file where a folder is needed"),
            "{words}"
        );
    }
    let deep = "n/".repeat(2500);
    assert!(told(&deep).iter().all(|words| words.len() < 500));
    for words in told(&"n".repeat(300)) {
        assert!(words.contains("name is too long"), "{words}");
    }
    assert_eq!(tree(root.path()).len(), 1);
}
