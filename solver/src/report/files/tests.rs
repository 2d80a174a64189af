#![allow(clippy::unwrap_used)]

mod disks;

use std::fs::{self, File};
use std::io::{self, ErrorKind, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};

use super::super::ReportError;
use super::super::document::{Program, document};
use super::super::sample::tube::{tube_case, tube_outcome};
use super::super::sample::{sample_case, sample_outcome};
use super::disk::{Disk, Real};
use super::{Folder, OneFile, write_all};
use crate::case::Origin;
use crate::process::Outcome;
use disks::{
    Busy, SETTINGS, Tree, WITH_FIELDS, WITHOUT_FIELDS, playground, tree, visible, without_way,
    write,
};

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
fn a_tube_has_files_of_its_own_which_go_with_it() {
    let root = playground();
    let dir = root.path().join("out");
    let case = tube_case();
    let write = |outcome: &Outcome| {
        let document = document(&case, &Origin::default(), outcome, &Program::default()).unwrap();
        write_all(&dir, &case, outcome, &document)
    };
    let mut outcome = tube_outcome();
    let all = [
        "step-1-held.vtu",
        "step-1-cut.vtu",
        "step-1-released.vtu",
        "tube-step-1-held.vtu",
        "tube-step-1-cut.vtu",
        "tube-step-1-released.vtu",
        "stages.pvd",
        "tube-stages.pvd",
        "profiles.csv",
        "stations.csv",
        "shape.svg",
        "result.json",
    ];
    assert_eq!(write(&outcome).unwrap(), all.map(|n| dir.join(n)));
    let read = |name: &str| fs::read_to_string(dir.join(name)).unwrap();
    assert!(!read("stages.pvd").contains("tube-"));
    let last = "timestep=\"2\" group=\"\" part=\"0\" file=\"tube-step-1-released.vtu\"";
    assert!(read("tube-stages.pvd").contains(last));
    // no fields, no states
    outcome.steps[0].tube.as_mut().unwrap().fields.clear();
    write(&outcome).unwrap();
    let found: Vec<_> = tree(&dir).into_keys().collect();
    let kept = ["profiles.csv", "result.json", "shape.svg", "stations.csv"];
    assert_eq!(found, kept.map(PathBuf::from));
    // a table of the user's own stays, even among files of ours
    fs::write(dir.join("stations.csv"), "platform,km\n").unwrap();
    assert!(matches!(write(&outcome), Err(ReportError::Foreign { .. })));
    fs::remove_file(dir.join("stations.csv")).unwrap();
    write(&sample_outcome()).unwrap();
    assert!(!dir.join("stations.csv").exists());
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
