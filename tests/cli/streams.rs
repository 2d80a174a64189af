//! Standard output is the answer, standard error the rest; exit statuses; closed pipes.

use std::fs;
use std::process::{Command, Stdio};

use crate::{CASE, call};

fn program() -> Command {
    let mut c = Command::new(env!("CARGO_BIN_EXE_ringwright"));
    c.stdin(Stdio::null());
    c
}

#[test]
fn a_closed_pipe_ends_quietly() {
    for args in [
        &["schemes", "jaws"][..],
        &["schemes", "--json"],
        &["new"],
        &["--help"],
    ] {
        let (reader, writer) = std::io::pipe().unwrap();
        drop(reader);
        let output = program()
            .args(args)
            .stdout(writer)
            .stderr(Stdio::piped())
            .output()
            .unwrap();
        assert_eq!(output.status.code(), Some(0), "{args:?}");
        assert!(output.stderr.is_empty(), "{args:?}");
    }
}

#[test]
#[cfg(target_os = "linux")]
fn a_full_disk_is_told() {
    let full = fs::OpenOptions::new()
        .write(true)
        .open("/dev/full")
        .unwrap();
    let output = program().arg("new").stdout(full).output().unwrap();
    assert_eq!(output.status.code(), Some(5));
    assert!(String::from_utf8_lossy(&output.stderr).contains("cannot write to standard output"));
}

#[test]
fn json_stands_alone_on_standard_output() {
    let folder = tempfile::tempdir().unwrap();
    let good = folder.path().join("good.toml");
    let bad = folder.path().join("bad.toml");
    fs::write(&good, CASE).unwrap();
    fs::write(&bad, CASE.replace("= 120.0", "= -1")).unwrap();
    let new = folder.path().join("new.toml");
    for (args, exit) in [
        (vec!["check", good.to_str().unwrap()], 0),
        (vec!["check", bad.to_str().unwrap()], 3),
        (vec!["schemes"], 0),
        (vec!["schemes", "jaws"], 0),
        (vec!["schemes", "free"], 0),
        (vec!["new"], 0),
        (vec!["new", new.to_str().unwrap()], 0),
    ] {
        let output = program().args(&args).arg("--json").output().unwrap();
        assert_eq!(output.status.code(), Some(exit), "{args:?}");
        serde_json::from_slice::<serde_json::Value>(&output.stdout)
            .unwrap_or_else(|e| panic!("{args:?}: {e}"));
        assert_eq!(output.stderr.is_empty(), exit == 0, "{args:?}");
    }
}

/// Every scheme, parameter and recipe is on the screen, with unit, default and meaning.
#[test]
fn schemes_show_what_they_take() {
    let list = call(&["schemes"]).out;
    let mut recipes = 0;
    for scheme in ringwright_plugins::built_in() {
        let name = scheme.name();
        assert!(list.contains(&format!("\n{name} ")) || list.starts_with(name));
        let page = call(&["schemes", name]).out;
        for p in scheme.parameters() {
            let unit = p.kind.unit();
            let line = page
                .lines()
                .find(|l| l.starts_with(&format!("  {} (", p.key)))
                .unwrap_or_else(|| panic!("{name}: {} is not shown", p.key));
            assert!(line.contains(unit), "{name}: {line}");
            assert!(
                line.contains(p.default.as_deref().unwrap_or("")),
                "{name}: {line}"
            );
            assert!(page.contains(&*p.about), "{name}: {}", p.key);
        }
        for r in scheme.recipes() {
            assert!(list.contains(&format!("{}, with {name}", r.name)));
            assert!(page.contains(&format!("Recipe: {}", r.name)) && page.contains(r.about));
            recipes += 1;
        }
    }
    assert!(recipes >= 5);
    for r in ringwright_plugins::FREE {
        assert!(list.contains(r.name) && call(&["schemes", "free"]).out.contains(r.about));
    }
}

#[test]
fn wrong_use_is_exit_2() {
    for (args, says) in [
        (&["frobnicate"][..], "unrecognized"),
        (&["chekc", "a"], "check"),
        (&["check"], "CASE.toml"),
        (&["check", "a", "--threads", "0"], "--threads"),
        (&["run", "a", "--fields", "some"], "all"),
        (&["compare", "a.toml", "--step", "0"], "--step"),
        (&["study", "--resume"], "which study?"),
        (&["size", "a.toml", "--set", "x"], "PATH=VALUE"),
        (&["gauge", "-", "--vee", "180"], "below 180"),
        (&["gauge", "-", "--lobes", "501"], "2..=500"),
        (&["schemes", "collet"], "`ringwright schemes jaws`"),
        (&["schemes", "claws"], "known: jaws"),
    ] {
        let c = call(args);
        assert_eq!(c.exit, 2, "{args:?}");
        assert_eq!(c.out, "", "{args:?}");
        assert!(c.err.contains(says), "{args:?}: {}", c.err);
    }
    let c = call(&[]);
    assert_eq!(c.exit, 2);
    assert!(c.err.contains("ringwright new"));
}

#[test]
fn files_that_cannot_be_read_or_written_are_exit_5() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    for args in [
        ["run".to_owned(), path("nothing.toml")],
        ["check".to_owned(), path("nothing.toml")],
        ["check".to_owned(), path("")],
        ["new".to_owned(), path("no/such/folder.toml")],
    ] {
        let c = call(&args.each_ref().map(String::as_str));
        assert_eq!(c.exit, 5, "{args:?}: {}", c.err);
        assert_eq!(c.out, "");
        assert!(c.err.contains("cannot"), "{}", c.err);
    }
}

#[test]
fn a_new_case_is_written_once_and_is_sound() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("ring.toml");
    let name = path.to_str().unwrap();
    assert_eq!(call(&["new", name]).exit, 0);
    let c = call(&["check", name]);
    assert_eq!((c.exit, c.err.as_str()), (0, ""));
    fs::write(&path, "mine").unwrap();
    let c = call(&["new", name]);
    assert_eq!(c.exit, 5);
    assert!(c.err.contains("already there"), "{}", c.err);
    assert_eq!(fs::read_to_string(&path).unwrap(), "mine");
    assert!(call(&["new"]).out.starts_with("# A bronze ring"));
}

#[test]
fn a_case_comes_from_standard_input_too() {
    use std::io::Write;
    let mut child = program()
        .args(["check", "-"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    child
        .stdin
        .take()
        .unwrap()
        .write_all(CASE.as_bytes())
        .unwrap();
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(0));
    assert!(String::from_utf8_lossy(&output.stdout).contains("no problem found"));
}

#[test]
fn version_and_help_are_answers() {
    let c = call(&["--version"]);
    assert_eq!(c.exit, 0);
    assert!(c.out.starts_with("ringwright "));
    let c = call(&["run", "--help"]);
    assert_eq!((c.exit, c.err.as_str()), (0, ""));
}
