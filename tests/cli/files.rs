//! Files of a run appear together or not at all, inputs stay, and two runs do not meet.
//!
//! The number of kills is in `RINGWRIGHT_KILLS` (20 unless it is set).

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
#[cfg(target_os = "linux")]
use std::process::Child;
use std::process::{Command, Output, Stdio};
use std::time::{Duration, Instant};

use ringwright_solver::report::files::Folder;

use crate::CASE;

/// Files and folders below a folder, with what is in the files.
type Tree = BTreeMap<PathBuf, Option<Vec<u8>>>;

fn tree(root: &Path) -> Tree {
    let mut all = Tree::new();
    let mut folders = vec![root.to_owned()];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(&folder).unwrap() {
            let path = entry.unwrap().path();
            let name = path.strip_prefix(root).unwrap().to_owned();
            if path.is_dir() {
                all.insert(name, None);
                folders.push(path);
            } else {
                all.insert(name, Some(fs::read(&path).unwrap()));
            }
        }
    }
    all
}

fn names(tree: &Tree) -> Vec<String> {
    tree.keys().map(|n| n.display().to_string()).collect()
}

/// Lays a tree out in a folder, in place of what is there.
fn lay_out(tree: &Tree, folder: &Path) {
    if folder.exists() {
        fs::remove_dir_all(folder).unwrap();
    }
    fs::create_dir(folder).unwrap();
    for (name, bytes) in tree {
        match bytes {
            None => fs::create_dir(folder.join(name)).unwrap(),
            Some(bytes) => fs::write(folder.join(name), bytes).unwrap(),
        }
    }
}

/// The program in a folder. A shell lets what it starts in the background ignore some signals, and so would the program.
fn program(folder: &Path, args: &[&str]) -> Command {
    let mut command = if cfg!(target_os = "linux") {
        let mut env = Command::new("env");
        env.arg("--default-signal=INT,QUIT")
            .arg(env!("CARGO_BIN_EXE_ringwright"));
        env
    } else {
        Command::new(env!("CARGO_BIN_EXE_ringwright"))
    };
    command
        .current_dir(folder)
        .args(args)
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped());
    command
}

fn run(folder: &Path, args: &[&str]) -> (i32, String) {
    told(program(folder, args).output().unwrap())
}

/// Exit status and what was said on standard error.
fn told(output: Output) -> (i32, String) {
    let words = String::from_utf8(output.stderr).unwrap();
    (output.status.code().unwrap_or(-1), words)
}

/// Two small cases whose files differ: `one.toml` with every field, `two.toml` to be run with none.
fn two_cases(folder: &Path) {
    let small = CASE.replace("around = 360", "around = 72");
    fs::write(folder.join("one.toml"), &small).unwrap();
    fs::write(
        folder.join("two.toml"),
        small.replace("force = 150.0", "force = 100.0"),
    )
    .unwrap();
}

const ONE: &[&str] = &["run", "one.toml", "--out", "out"];
const TWO: &[&str] = &["run", "two.toml", "--out", "out", "--fields", "none"];

/// As the first, so that it makes as many files as stand there.
#[cfg(target_os = "linux")]
const OTHER: &[&str] = &["run", "two.toml", "--out", "out"];

/// Numbers from 0 to 1 that look random.
#[cfg(target_os = "linux")]
struct Random(u64);

#[cfg(target_os = "linux")]
impl Random {
    fn next(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 40) as f64 / (1_u64 << 24) as f64
    }
}

#[test]
#[cfg(target_os = "linux")]
#[allow(clippy::print_stderr)]
fn a_kill_at_any_moment_leaves_the_folder_wholly_old_or_wholly_new() {
    let kills = std::env::var("RINGWRIGHT_KILLS").map_or(20, |n| n.parse().unwrap());
    let place = tempfile::tempdir().unwrap();
    let place = place.path();
    two_cases(place);
    let out = place.join("out");
    let mut random = Random(7);
    let (mut was_old, mut was_new, mut ended) = (0, 0, 0);
    for with_sub_folder in [false, true] {
        // an earlier run, and what is none of its
        assert_eq!(run(place, ONE).0, 0);
        fs::write(out.join("notes.txt"), "mine").unwrap();
        if with_sub_folder {
            fs::create_dir(out.join("sub")).unwrap();
            fs::write(out.join("sub/result.json"), "mine too").unwrap();
        }
        fs::copy(out.join("step-1-held.vtu"), out.join("step-2-held.vtu")).unwrap();
        let old = tree(&out);
        let began = Instant::now();
        let mut child = program(place, OTHER).spawn().unwrap();
        wait_until_it_writes(&mut child, place);
        let solving = began.elapsed();
        assert!(child.wait().unwrap().success());
        let writing = began.elapsed() - solving;
        let new = tree(&out);
        assert!(old.len() > new.len());
        let around = tree(place).len() - new.len();
        for n in 0..kills / 2 {
            lay_out(&old, &out);
            let mut child = program(place, OTHER).spawn().unwrap();
            let share = random.next();
            // two of three while files are made and appear
            if n % 3 == 0 {
                std::thread::sleep((solving + writing).mul_f64(share));
            } else {
                wait_until_it_writes(&mut child, place);
                std::thread::sleep(writing.mul_f64(share));
            }
            let signal = ["KILL", "TERM", "INT", "HUP", "QUIT"][n % 5];
            end(&mut child, signal);
            let found = tree(&out);
            assert!(
                found == old || found == new,
                "{signal} at {share}: {:?}",
                names(&found)
            );
            match found == old {
                true => was_old += 1,
                false => was_new += 1,
            }
            ended += usize::from(child.wait().unwrap().code() == Some(0));
            let (exit, words) = run(place, OTHER);
            assert_eq!(exit, 0, "{words}");
            assert!(tree(&out) == new, "{:?}", names(&tree(&out)));
            assert_eq!(
                tree(place).len() - new.len(),
                around,
                "{:?}",
                names(&tree(place))
            );
        }
        fs::remove_dir_all(&out).unwrap();
    }
    eprintln!("{kills} kills: {was_old} old, {was_new} new; {ended} runs ended before");
    assert!(was_old > 0);
}

/// Returns when files are being made, or the program has ended.
#[cfg(target_os = "linux")]
fn wait_until_it_writes(child: &mut Child, place: &Path) {
    let is_part = |folder: &Path, start: &str| {
        fs::read_dir(folder).is_ok_and(|mut entries| {
            entries.any(|e| e.is_ok_and(|e| e.file_name().to_string_lossy().starts_with(start)))
        })
    };
    while child.try_wait().unwrap().is_none()
        && !is_part(&place.join(".out.ringwright/new"), "step-")
        && !is_part(&place.join("out"), ".step-1")
    {
        std::thread::sleep(Duration::from_micros(100));
    }
}

/// Sends a signal and waits for the end.
#[cfg(target_os = "linux")]
fn end(child: &mut Child, signal: &str) {
    let sent = Command::new("kill")
        .args([&format!("-{signal}"), &child.id().to_string()])
        .stderr(Stdio::null())
        .status();
    assert!(sent.is_ok());
    let began = Instant::now();
    while child.try_wait().unwrap().is_none() {
        assert!(began.elapsed() < Duration::from_secs(60), "it does not end");
        std::thread::sleep(Duration::from_millis(1));
    }
}

/// Both come to an end, one after the other or with the second refused, and what is left is one whole answer.
#[test]
fn two_runs_into_one_folder_do_not_mix() {
    let place = tempfile::tempdir().unwrap();
    let place = place.path();
    two_cases(place);
    let out = place.join("out");
    let answers = [ONE, TWO].map(|args| {
        assert_eq!(run(place, args).0, 0);
        let found = tree(&out);
        fs::remove_dir_all(&out).unwrap();
        found
    });
    for n in 0..20 {
        if n % 2 == 0 && out.exists() {
            fs::remove_dir_all(&out).unwrap();
        }
        let children = [ONE, TWO].map(|args| program(place, args).spawn().unwrap());
        let ends = children.map(|child| told(child.wait_with_output().unwrap()));
        for (exit, words) in &ends {
            let refused = *exit == 5 && words.contains("another run");
            assert!(*exit == 0 || refused, "{exit}: {words}");
        }
        assert!(ends.iter().any(|(exit, _)| *exit == 0));
        let found = tree(&out);
        assert!(answers.contains(&found), "{:?}", names(&found));
        assert_eq!(fs::read_dir(place).unwrap().count(), 3);
    }
}

#[test]
fn a_run_that_has_waited_long_enough_says_who_has_the_folder() {
    let place = tempfile::tempdir().unwrap();
    two_cases(place.path());
    let folder = Folder::open(&place.path().join("out"), &[], "held.toml").unwrap();
    let began = Instant::now();
    let (exit, words) = run(place.path(), ONE);
    assert!(began.elapsed() >= Duration::from_secs(9));
    let who = format!("(process {}, held.toml)", std::process::id());
    assert_eq!(words.matches(&who).count(), 2, "{words}");
    assert_eq!(exit, 5, "{words}");
    drop(folder);
    assert_eq!(run(place.path(), ONE), (0, String::new()));
}

/// A small disk of its own; `None`, said so, where one may not be made.
#[cfg(target_os = "linux")]
pub(crate) struct SmallDisk(pub(crate) PathBuf);

#[cfg(target_os = "linux")]
impl SmallDisk {
    #[allow(clippy::print_stderr)]
    pub(crate) fn mount(at: &Path) -> Option<Self> {
        fs::create_dir(at).unwrap();
        let mounted = Command::new("mount")
            .args(["-t", "tmpfs", "-o", "size=64m", "none"])
            .arg(at)
            .stderr(Stdio::null())
            .status();
        if mounted.is_ok_and(|status| status.success()) {
            return Some(Self(at.to_owned()));
        }
        eprintln!("skipped: a small disk can be mounted only by root");
        None
    }

    pub(crate) fn resize(&self, bytes: usize) {
        let size = format!("remount,size={bytes}");
        let status = Command::new("mount")
            .args(["-o", &size])
            .arg(&self.0)
            .status();
        assert!(status.unwrap().success());
    }

    /// Bytes used, in whole pages.
    fn used(&self) -> usize {
        let pages = |bytes: &Option<Vec<u8>>| bytes.as_ref().map_or(0, |b| b.len().div_ceil(4096));
        4096 * tree(&self.0).values().map(pages).sum::<usize>()
    }
}

#[cfg(target_os = "linux")]
impl Drop for SmallDisk {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg(&self.0).status();
    }
}

/// The disk is made so small that each file of a run in turn is the first that does not fit, in a folder on it and in the disk itself.
#[test]
#[cfg(target_os = "linux")]
fn a_full_disk_at_any_file_leaves_the_folder_as_it_was() {
    let place = tempfile::tempdir().unwrap();
    let place = place.path();
    two_cases(place);
    let Some(disk) = SmallDisk::mount(&place.join("disk")) else {
        return;
    };
    for folder in ["disk/out", "disk"] {
        let out = place.join(folder);
        let [one, two] = ["two.toml", "one.toml"].map(|case| ["run", case, "--out", folder]);
        assert_eq!(run(place, &one).0, 0);
        fs::write(out.join("notes.txt"), "mine").unwrap();
        let old = tree(&disk.0);
        assert_eq!(run(place, &two).0, 0);
        let new = tree(&disk.0);
        // in the order in which they are written
        let files = [
            "step-1-held.vtu",
            "step-1-cut.vtu",
            "step-1-released.vtu",
            "stages.pvd",
            "profiles.csv",
            "shape.svg",
            "result.json",
        ];
        assert_eq!(run(place, &one).0, 0);
        assert!(tree(&disk.0) == old);
        // the sign on the lock takes a page
        let mut size = disk.used() + 4096;
        for name in files {
            disk.resize(size.max(4096));
            let (exit, words) = run(place, &two);
            assert_eq!(exit, 5, "{name}: {words}");
            assert!(
                words.contains("the disk is full; free some space"),
                "{words}"
            );
            assert!(words.contains(name), "{name}: {words}");
            assert!(tree(&disk.0) == old, "{name}: {:?}", names(&tree(&disk.0)));
            size += fs::metadata(out.join(name)).unwrap().len().div_ceil(4096) as usize * 4096;
        }
        disk.resize(64 << 20);
        assert_eq!(run(place, &two), (0, String::new()));
        assert!(tree(&disk.0) == new);
        // a file by itself
        disk.resize(disk.used() + 4096);
        let before = tree(&disk.0);
        let (exit, words) = run(place, &["mesh", "one.toml", "--out", "disk/mesh.vtu"]);
        assert_eq!(exit, 5, "{words}");
        assert!(
            words.contains("the disk is full; free some space"),
            "{words}"
        );
        assert!(tree(&disk.0) == before);
        disk.resize(64 << 20);
        for entry in fs::read_dir(&disk.0).unwrap() {
            let path = entry.unwrap().path();
            match path.is_dir() {
                true => fs::remove_dir_all(path).unwrap(),
                false => fs::remove_file(path).unwrap(),
            }
        }
    }
}

/// A case whose outside was measured: its readings stand in `readings`, beside it.
fn measured(place: &Path, readings: &str) {
    let lobes = CASE.find("[[part.lobes]]").unwrap()..CASE.find("[[hold.bare]]").unwrap();
    let table = format!("[part.readings]\nouter = \"{readings}\"\nbore = \"round\"\n");
    let mut case = CASE.replace("around = 360", "around = 72");
    case.replace_range(lobes, &table);
    fs::write(place.join("case.toml"), case).unwrap();
    let mut text = "angle_deg,radius_mm\n".to_owned();
    for k in 0..72 {
        let angle = 5.0 * f64::from(k);
        let radius = 60.0 + 0.01 * (2.0 * angle.to_radians()).cos();
        text += &format!("{angle},{radius:.5}\n");
    }
    fs::write(place.join(readings), text).unwrap();
}

#[test]
fn an_output_never_replaces_an_input() {
    let place = tempfile::tempdir().unwrap();
    let place = place.path();
    measured(place, "profiles.csv");
    fs::write(
        place.join("plain.csv"),
        fs::read(place.join("profiles.csv")).unwrap(),
    )
    .unwrap();
    fs::hard_link(place.join("profiles.csv"), place.join("second-name.csv")).unwrap();
    #[cfg(unix)]
    std::os::unix::fs::symlink("case.toml", place.join("link.toml")).unwrap();
    #[cfg(not(unix))]
    fs::hard_link(place.join("case.toml"), place.join("link.toml")).unwrap();
    let old = tree(place);
    let by = ["--surface", "outer", "--made-by", "case.toml", "--traces"];
    let gauge = |traces| [&["gauge", "plain.csv"][..], &by, &[traces]].concat();
    for args in [
        vec!["mesh", "case.toml", "--out", "case.toml"],
        vec!["mesh", "case.toml", "--out", "./link.toml"],
        vec!["mesh", "link.toml", "--out", "case.toml"],
        vec!["mesh", "case.toml", "--out", "second-name.csv"],
        vec!["run", "case.toml", "--out", "."],
        vec!["gauge", "plain.csv", "--traces", "plain.csv"],
        gauge("case.toml"),
        gauge("link.toml"),
        gauge("second-name.csv"),
    ] {
        let (exit, words) = run(place, &args);
        assert_eq!(exit, 5, "{args:?}: {words}");
        // what a case reads is known once it is read; by then a file of somebody else's has been refused
        let says = [
            "the same file as the input",
            "was not written by ringwright",
        ];
        assert!(says.iter().any(|s| words.contains(s)), "{args:?}: {words}");
        assert!(tree(place) == old, "{args:?}: {:?}", names(&tree(place)));
    }
    // a case that comes through standard input may be a file too
    let mut from_file = program(place, &["mesh", "-", "--out", "plain.csv"]);
    fs::write(place.join("plain.csv"), CASE).unwrap();
    from_file.stdin(fs::File::open(place.join("plain.csv")).unwrap());
    if cfg!(target_os = "linux") {
        let (exit, words) = told(from_file.output().unwrap());
        assert_eq!(exit, 5, "{words}");
        assert_eq!(fs::read_to_string(place.join("plain.csv")).unwrap(), CASE);
    }
}

#[test]
fn a_foreign_document_is_left_alone() {
    let place = tempfile::tempdir().unwrap();
    let place = place.path();
    two_cases(place);
    let out = place.join("out");
    fs::create_dir(&out).unwrap();
    fs::write(out.join("result.json"), "{\"format\": \"of-my-own\"}").unwrap();
    let old = tree(place);
    let (exit, words) = run(place, ONE);
    assert_eq!(exit, 5, "{words}");
    assert!(words.contains("was not written by ringwright"), "{words}");
    assert!(tree(place) == old);
    fs::write(
        out.join("result.json"),
        "{\"format\": \"ringwright-result-1\"}",
    )
    .unwrap();
    fs::write(
        out.join(".step-1-held.vtu.4711.part"),
        "of a run that was killed",
    )
    .unwrap();
    // a file of the user's under a name that a longer case would use is told before solving, one of such a case goes
    fs::write(out.join("step-9-held.vtu"), "my own notes").unwrap();
    let (exit, words) = run(place, TWO);
    assert_eq!(exit, 5);
    assert!(
        words.contains("step-9-held.vtu was not written by ringwright"),
        "{words}"
    );
    fs::write(
        out.join("step-9-held.vtu"),
        "<VTKFile/> of a case with more steps",
    )
    .unwrap();
    assert_eq!(run(place, TWO), (0, String::new()));
    assert_eq!(
        names(&tree(&out)),
        ["profiles.csv", "result.json", "shape.svg"]
    );
}

/// What cannot be written is told before solving: this case has no answer, which would be exit 4.
#[test]
fn an_output_is_tried_before_solving() {
    let place = tempfile::tempdir().unwrap();
    let place = place.path();
    let hopeless = CASE.replace("force = 150.0\nbored", "force = 1e6\nbored");
    fs::write(place.join("case.toml"), hopeless).unwrap();
    assert_eq!(run(place, &["run", "case.toml"]).0, 4);
    fs::write(place.join("file"), "mine").unwrap();
    let old = tree(place);
    for out in ["file", "file/out", "case.toml"] {
        let (exit, words) = run(place, &["run", "case.toml", "--out", out]);
        assert_eq!(exit, 5, "{out}: {words}");
        assert!(
            words.contains("there is a file where a folder is needed"),
            "{out}: {words}"
        );
    }
    let long = "n".repeat(300);
    for (out, says) in [
        (
            "nothing/mesh.vtu",
            "the folder that it is to be in is not there",
        ),
        ("file/mesh.vtu", "there is a file where a folder is needed"),
        (".", "names a folder"),
        ("/dev/null", "device or a pipe"),
        (&long, "name is too long"),
    ] {
        let (exit, words) = run(place, &["mesh", "case.toml", "--out", out]);
        assert_eq!(exit, 5, "{out}: {words}");
        assert!(words.contains(says), "{out}: {words}");
    }
    // a run that comes to nothing leaves nothing, however deep its folder would have been
    assert_eq!(run(place, &["run", "case.toml", "--out", "a/b/c"]).0, 4);
    assert!(tree(place) == old, "{:?}", names(&tree(place)));
}

#[test]
fn a_gauge_that_fails_leaves_no_traces() {
    let place = tempfile::tempdir().unwrap();
    let place = place.path();
    measured(place, "outer.csv");
    let case = fs::read_to_string(place.join("case.toml")).unwrap();
    let hopeless = case.replace("force = 150.0\nbored", "force = 1e6\nbored");
    fs::write(place.join("hopeless.toml"), hopeless).unwrap();
    let old = tree(place);
    let gauge = |case| {
        let args = [
            "gauge",
            "outer.csv",
            "--surface",
            "outer",
            "--made-by",
            case,
            "--traces",
            "t.csv",
        ];
        run(place, &args)
    };
    let (exit, words) = gauge("hopeless.toml");
    assert_eq!(exit, 4, "{words}");
    assert!(tree(place) == old, "{:?}", names(&tree(place)));
    let (exit, words) = gauge("case.toml");
    assert_eq!(exit, 0, "{words}");
    assert_eq!(tree(place).len(), old.len() + 1);
}

/// A single output replaces one of its own kind, and nothing that somebody else wrote.
#[test]
fn a_single_output_replaces_its_own_kind_alone() {
    let place = tempfile::tempdir().unwrap();
    let place = place.path();
    two_cases(place);
    fs::write(
        place.join("r.csv"),
        "angle_deg,radius_mm\n0,50\n90,50.01\n180,50\n270,50.01\n",
    )
    .unwrap();
    for (args, file) in [
        (&["mesh", "one.toml", "--out", "out.file"][..], "out.file"),
        (
            &["gauge", "r.csv", "--traces", "traces.file"],
            "traces.file",
        ),
    ] {
        fs::write(place.join(file), "my own notes").unwrap();
        let (exit, words) = run(place, args);
        assert_eq!(exit, 5, "{words}");
        assert!(words.contains("was not written by ringwright"), "{words}");
        assert_eq!(
            fs::read_to_string(place.join(file)).unwrap(),
            "my own notes"
        );
        fs::remove_file(place.join(file)).unwrap();
        for _ in 0..2 {
            assert_eq!(run(place, args).0, 0);
        }
    }
}
