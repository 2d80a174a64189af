//! Schemes that an outside program answers for: the template says what the built-in scheme says, and a program that does anything
//! wrong is exit 6 by its name and leaves nothing running.
#![cfg(target_os = "linux")] // processes are looked for in /proc

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::Arc;
use std::thread;
use std::time::{Duration, Instant};

use ringwright_plugins::PressurePatches;
use ringwright_plugins::outside::{Limits, Programs};
use ringwright_solver::scheme::{HoldingScheme, PressurePatch, Section, Value, Values};
use serde_json::Value as Json;

use crate::{CASE, call};

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

fn template() -> String {
    let file = root().join("plugins/examples/outside/six_patches.py");
    format!("python3 '{}'", file.display())
}

/// A program that does one thing wrong, and a case that uses it.
struct Broken {
    folder: tempfile::TempDir,
    what: &'static str,
}

impl Broken {
    fn new(what: &'static str) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let case = CASE
            .replace("scheme = \"pressure-patches\"", "scheme = \"broken\"")
            .replace("count = 3\nhalf_angle = 10\n", "")
            .replace("hold = \"bare\"", "hold = \"soft\"");
        assert!(case.contains("scheme = \"broken\"\nforce"), "{case}");
        fs::write(folder.path().join("case.toml"), case).unwrap();
        Self { folder, what }
    }

    fn path(&self, name: &str) -> String {
        self.folder.path().join(name).to_str().unwrap().to_owned()
    }

    fn command(&self) -> String {
        let file = root().join("tests/cli/outside/broken.py");
        let pids = self.path("pids");
        format!("python3 '{}' {} '{pids}'", file.display(), self.what)
    }

    /// Process ids that it wrote down: its own and that of what it started.
    fn pids(&self) -> Vec<u32> {
        let text = fs::read_to_string(self.path("pids")).unwrap_or_default();
        text.lines().map(|l| l.parse().unwrap()).collect()
    }

    /// Nothing that it was or started is running. A killed process is there for a moment until it is reaped.
    fn is_gone(&self) {
        let pids = self.pids();
        assert!(pids.len() >= 2, "{}: it never ran", self.what);
        for pid in pids {
            let start = Instant::now();
            while runs(pid) {
                let waited = start.elapsed();
                assert!(
                    waited < Duration::from_secs(2),
                    "{}: process {pid} is still running",
                    self.what
                );
                thread::sleep(Duration::from_millis(5));
            }
        }
    }
}

fn runs(pid: u32) -> bool {
    // "PID (NAME) STATE ..."
    fs::read_to_string(format!("/proc/{pid}/stat"))
        .ok()
        .and_then(|stat| stat.rsplit_once(") ").map(|(_, s)| !s.starts_with('Z')))
        .unwrap_or(false)
}

/// `check` and `run` both end with 6 and say this beside the name.
fn fails(what: &'static str, name: &str, says: &str, flags: &[&str]) {
    let broken = Broken::new(what);
    let (case, out, program) = (
        broken.path("case.toml"),
        broken.path("out"),
        broken.command(),
    );
    for command in [vec!["check", &case], vec!["run", &case, "--out", &out]] {
        let mut args = command.clone();
        args.extend(["--scheme-program", &program]);
        args.extend(flags);
        let c = call(&args);
        assert_eq!(c.exit, 6, "{what}: {}", c.err);
        assert_eq!(c.out, "", "{what}");
        assert!(
            c.err.contains(name) && c.err.contains(says),
            "{what} should name {name:?} and say {says:?}; got:\n{}",
            c.err
        );
        broken.is_gone();
        assert!(c.err.len() < 2000, "{what}: {}", c.err);
        // nothing of what reads JSON
        for word in [
            "line 1 column",
            "invalid type",
            "missing field",
            "expected value",
        ] {
            assert!(!c.err.contains(word), "{what}: {}", c.err);
        }
    }
    assert!(!Path::new(&out).exists(), "{what} left a folder behind");
}

/// What goes wrong before the program has a name: the command stands for it.
#[test]
fn a_program_that_does_not_say_what_it_is() {
    let command = "scheme program `python3 ";
    for (what, says) in [
        ("crash-at-start", "ended without an answer (exit status: 3)"),
        ("protocol", "speaks protocol 2, and this program speaks 1"),
        ("no-protocol", "number of the protocol"),
        ("bad-name", "calls its scheme \"Broken Scheme\""),
        ("bad-unit", "the unit \"furlong\""),
        ("free", "which is the built-in hold"),
        (
            "no-name",
            "calls its scheme \"\"; expected 1 to 60 lower-case",
        ),
        ("long-name", "aaaaa...\"; expected 1 to 60 lower-case"),
        ("odd-name", "calls its scheme \"broken [31m\"; expected"),
        (
            "no-version",
            "the key \"version\" of the answer to the hello is missing",
        ),
        (
            "word",
            "the key \"version\" of the answer to the hello is a number; expected text",
        ),
        (
            "more",
            "the answer to the hello has an unknown key \"authr\"; known: ringwright",
        ),
        (
            "twice-at-hello",
            "the answer to the hello has the key \"scheme\" twice",
        ),
        ("bad-limits-empty", "between which there is no number"),
        ("bad-limits-between", "between which there is no number"),
        (
            "bad-limits-default",
            "the default 100; it must be 200 N or more",
        ),
        ("bad-limits-words", "choices, which have no \"whole\""),
        ("bad-limits-unit", "choices and a unit"),
        (
            "bad-limits-far",
            "the default 100; it must be 1e308 N or more",
        ),
    ] {
        fails(what, command, says, &[]);
    }
    fails(
        "taken",
        "program `python3 ",
        "calls its scheme \"jaws\"",
        &[],
    );
    let c = call(&["schemes", "--scheme-program", "no-such-program-here"]);
    assert_eq!(c.exit, 6);
    assert!(c.err.contains("`no-such-program-here` cannot be started"));
    let c = call(&["schemes", "--scheme-program", "python3 'open"]);
    assert_eq!(c.exit, 6);
    assert!(c.err.contains("not whole"), "{}", c.err);
}

#[test]
fn a_program_that_ends_or_talks_nonsense() {
    for (what, says) in [
        ("exit", "ended without an answer (exit status: 0)"),
        ("raise", "ended without an answer (exit status: 1)"),
        ("signal", "killed by signal 11, SIGSEGV"),
        ("flood", "flooded its output: more than 16777216 bytes"),
        (
            "flood-lines",
            "not the answer: the key \"n\" of the answer is missing; it said: {}",
        ),
        (
            "garbage",
            "not JSON: stopped at character 2; it said: three jaws, please",
        ),
        ("bytes", "not UTF-8"),
        ("nan", "not JSON: NaN and infinity are no numbers of JSON"),
        ("infinity", "not JSON"),
        ("huge", "not JSON: a number in it is too large"),
        ("null", "the key \"force\" of pressure 1 is missing"),
        ("missing", "the key \"angle\" of pressure 1 is missing"),
        (
            "unknown",
            "body 1 has an unknown key \"frction\"; known: surface",
        ),
        ("wrong-n", "answered question 2 when asked 1"),
        ("both", "expected one of \"ok\" and \"error\""),
        ("neither", "expected one of \"ok\" and \"error\""),
        ("twice", "pressure 1 has the key \"force\" twice"),
        ("half", "not JSON: it ends in the middle"),
        ("empty", "not JSON: it is empty"),
        ("list", "the answer is a list; expected an object"),
        (
            "side",
            "the key \"surface\" of pressure 1 is \"side\"; expected \"outer\" or \"bore\"",
        ),
        (
            "number",
            "the key \"bodies\" of \"ok\" is a number; expected a list",
        ),
        (
            "notes",
            "the key \"notes\" of \"ok\" lists 1000000; 100 are the most",
        ),
        (
            "points",
            "the key \"points\" of \"ok\" lists 3600; 1000 are the most",
        ),
        ("no-message", "the key \"message\" of \"error\" is missing"),
        ("changing", "two answers to one question"),
    ] {
        fails(what, "the scheme \"broken\" (program `python3 ", says, &[]);
    }
}

#[test]
fn a_program_that_hangs() {
    // short, but long enough for an interpreter to start on a busy machine
    let brief = ["--scheme-timeout", "2"];
    fails(
        "hang",
        "the scheme \"broken\"",
        "gave no answer in 2 s",
        &brief,
    );
    fails("hang-at-start", "python3", "gave no answer in 2 s", &brief);
    fails("close", "the scheme \"broken\"", "answer", &brief);
}

/// The reply passes the checks of any scheme, and a refusal is in the scheme's own words at the parameter's place.
#[test]
fn a_hold_that_cannot_be() {
    for (what, says) in [
        (
            "refuse",
            "hold.soft[0].force: the scheme \"broken\" (program",
        ),
        ("refuse", "refused: a wall this thin wants a plug"),
        ("no-reason", "refused without giving a reason"),
        ("overlap", "overlaps body 1"),
        (
            "wide",
            "body 1: it is 500 mm wide on a surface of 120.000 mm",
        ),
        ("flat-radius", "a flat outline has no \"radius\""),
        ("gap-and-force", "needs its \"force\" and no \"gap\""),
        ("small-bore", "the face of body 1 ends before its arc does"),
        ("pull", "the force of body 1 is -5"),
        (
            "unbalanced",
            "do not balance: together they push the part with 100.0 N",
        ),
        ("one-sided", "nothing presses on the part"),
        ("nothing", "nothing touches the part"),
        (
            "force-1e308",
            "the force of body 1 is 1e308 N; it must be from 0 to 1e12 N",
        ),
        ("width-1e-300", "body 1: its \"width\" is 1e-300 mm"),
        ("radius-1e300", "the radius of body 1 is 1e300 mm"),
        (
            "gap-1e9",
            "the gap of body 3 is 1e9 mm; a gap of more than the radius of the outside (60.000 mm)",
        ),
        ("angle-1e9", "the angle of patch 1 is"),
        ("half-angle-1e-9", "the half-angle of patch 1 is"),
        ("friction-1e9", "the friction of body 1 is 1e9"),
        ("bodies", "101 bodies; 100 are the most"),
    ] {
        fails(what, "the scheme \"broken\" (program `python3 ", says, &[]);
    }
}

#[test]
fn a_wrong_flag_is_exit_2_and_no_case_names_a_program() {
    for time in ["0", "-1", "NaN", "soon"] {
        let c = call(&["schemes", "--scheme-timeout", time]);
        assert_eq!(c.exit, 2, "{time}");
    }
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("case.toml");
    for line in [
        "scheme_program = \"true\"\n",
        "scheme_programs = [\"true\"]\n",
    ] {
        fs::write(&path, format!("{line}{CASE}")).unwrap();
        let c = call(&["check", path.to_str().unwrap()]);
        assert_eq!(c.exit, 3);
        assert!(c.err.contains("unknown key"), "{}", c.err);
    }
}

fn ringwright() -> Command {
    let mut c = Command::new(env!("CARGO_BIN_EXE_ringwright"));
    c.stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped());
    c
}

#[test]
fn standard_error_is_shown_under_the_name_without_control_characters() {
    let broken = Broken::new("chatter");
    let output = ringwright()
        .args([
            "check",
            &broken.path("case.toml"),
            "--scheme-program",
            &broken.command(),
        ])
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(0));
    broken.is_gone();
    let err = String::from_utf8(output.stderr).unwrap();
    // every question is put twice
    for k in 0..3 {
        let line = format!("broken: thinking {k}  [31m");
        assert_eq!(err.lines().filter(|l| **l == line).count(), 2, "{err}");
    }
}

#[test]
fn the_users_own_configuration_names_programs() {
    let broken = Broken::new("good");
    let config = broken.folder.path().join("ringwright");
    fs::create_dir(&config).unwrap();
    let file = config.join("config.toml");
    fs::write(
        &file,
        format!("scheme_programs = [{:?}]\n", broken.command()),
    )
    .unwrap();
    let check = || {
        ringwright()
            .env("XDG_CONFIG_HOME", broken.folder.path())
            .args(["check", &broken.path("case.toml")])
            .output()
            .unwrap()
    };
    let output = check();
    assert_eq!(output.status.code(), Some(0), "{output:?}");
    broken.is_gone();
    // one that is wrong is said, and the case misses its scheme
    fs::write(&file, "scheme_programs = 3\n").unwrap();
    let output = check();
    assert_eq!(output.status.code(), Some(3));
    let err = String::from_utf8_lossy(&output.stderr);
    assert!(
        err.contains("config.toml:1: scheme_programs is a list of command lines"),
        "{err}"
    );
    assert!(err.contains("there is no scheme \"broken\""), "{err}");
}

/// Calls the program with a configuration of these commands.
fn configured(
    broken: &Broken,
    commands: &[String],
    args: &[&str],
) -> (Option<i32>, String, String) {
    let config = broken.folder.path().join("ringwright");
    fs::create_dir_all(&config).unwrap();
    let text = format!("scheme_programs = {commands:?}\n");
    fs::write(config.join("config.toml"), text).unwrap();
    let output = ringwright()
        .env("XDG_CONFIG_HOME", broken.folder.path())
        .args(args)
        .output()
        .unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (
        output.status.code(),
        text(output.stdout),
        text(output.stderr),
    )
}

/// A configured program is started when a case names its scheme, and not before: one that is missing is in nobody's way.
#[test]
fn a_configured_program_is_started_on_demand() {
    let broken = Broken::new("good");
    let plain = broken.path("plain.toml");
    fs::write(&plain, CASE).unwrap();
    let case = broken.path("case.toml");
    let missing = "no-such-program-here".to_owned();
    let both = [missing.clone(), broken.command()];
    let (code, _, err) = configured(&broken, &both, &["check", &plain]);
    assert_eq!((code, err.as_str()), (Some(0), ""));
    assert!(broken.pids().is_empty(), "started without need");
    // asked in turn until one has it
    let (code, _, err) = configured(&broken, &both, &["check", &case]);
    assert_eq!((code, err.as_str()), (Some(0), ""));
    broken.is_gone();
    // the missing one may have had it
    let (code, _, err) = configured(&broken, &[missing], &["check", &case]);
    assert_eq!(code, Some(6), "{err}");
    for says in [
        "hold.soft[0].scheme: there is no scheme \"broken\"",
        "program `no-such-program-here` cannot be started",
        "named in your configuration",
    ] {
        assert!(err.contains(says), "{err}");
    }
    // named on the command line it is started at once
    let command = broken.command();
    let before = broken.pids().len();
    let args = ["check", &plain, "--scheme-program", &command];
    assert_eq!(configured(&broken, &both, &args).0, Some(0));
    assert!(broken.pids().len() > before);
}

#[test]
fn a_list_of_schemes_names_the_programs_that_are_missing() {
    let broken = Broken::new("good");
    let both = ["no-such-program-here".to_owned(), broken.command()];
    let (code, out, err) = configured(&broken, &both, &["schemes"]);
    assert_eq!(code, Some(0), "{err}");
    assert!(out.contains("broken") && out.contains("jaws"), "{out}");
    assert!(
        err.contains("`no-such-program-here` cannot be started"),
        "{err}"
    );
    let before = broken.pids().len();
    let (code, out, err) = configured(&broken, &both, &["schemes", "jaws"]);
    assert_eq!((code, err.as_str()), (Some(0), ""));
    assert!(out.contains("bored_diameter"));
    assert_eq!(broken.pids().len(), before, "started without need");
    let (code, out, _) = configured(&broken, &both, &["schemes", "broken"]);
    assert!(code == Some(0) && out.contains("wrong in one way"), "{out}");
    let (code, _, err) = configured(&broken, &both, &["schemes", "brokn"]);
    assert!(
        code == Some(6) && err.contains("cannot be started"),
        "{err}"
    );
    broken.is_gone();
}

/// A home that nobody can read, or that is odd, is no configuration.
#[test]
fn an_odd_home_is_no_configuration() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name);
    fs::write(path("case.toml"), CASE).unwrap();
    fs::write(path("file"), "").unwrap();
    fs::create_dir_all(path("folder/ringwright/config.toml")).unwrap();
    fs::create_dir_all(path("pipe/ringwright")).unwrap();
    let pipe = path("pipe/ringwright/config.toml");
    assert!(Command::new("mkfifo").arg(pipe).status().unwrap().success());
    let check = |key: &str, home: &Path, flag: &str| {
        let output = ringwright()
            .env_remove("XDG_CONFIG_HOME")
            .env(key, home)
            .args(["check", path("case.toml").to_str().unwrap(), flag])
            .output()
            .unwrap();
        let err = String::from_utf8(output.stderr).unwrap();
        (output.status.code(), err)
    };
    for (key, home, said) in [
        ("HOME", path("file"), true),
        ("XDG_CONFIG_HOME", path("file"), true),
        ("XDG_CONFIG_HOME", path("folder"), true),
        ("XDG_CONFIG_HOME", path("pipe"), true),
        ("HOME", path("nowhere"), false),
        ("HOME", "relative".into(), false),
        ("HOME", "".into(), false),
    ] {
        let (code, err) = check(key, &home, "--quiet");
        assert_eq!((code, err.as_str()), (Some(0), ""), "{}", home.display());
        let (code, err) = check(key, &home, "--verbose");
        assert_eq!(code, Some(0));
        assert_eq!(err.contains("no configuration: cannot read"), said, "{err}");
    }
}

/// Nobody can catch this signal, and the program ignores that its input has ended: what watches over it ends it.
#[test]
fn a_kill_takes_the_programs_along() {
    for what in ["hang", "hang-at-start"] {
        let broken = Broken::new(what);
        let args = [
            "check",
            &broken.path("case.toml"),
            "--scheme-program",
            &broken.command(),
        ];
        let mut run = ringwright().args(args).spawn().unwrap();
        while broken.pids().len() < 2 {
            assert!(run.try_wait().unwrap().is_none());
            thread::sleep(Duration::from_millis(10));
        }
        run.kill().unwrap();
        run.wait().unwrap();
        broken.is_gone();
    }
}

/// An interrupt does not reach a group of its own: the program passes it on.
#[test]
fn an_interrupt_stops_the_programs_too() {
    for (signal, status) in [("-INT", 130), ("-TERM", 143), ("-HUP", 129), ("-QUIT", 131)] {
        let broken = Broken::new("hang");
        // as from a terminal: under `nohup`, or in the background of a shell, some of these signals are ignored
        let mut run = Command::new("env")
            .arg("--default-signal=HUP,INT,QUIT")
            .arg(env!("CARGO_BIN_EXE_ringwright"))
            .args([
                "check",
                &broken.path("case.toml"),
                "--scheme-program",
                &broken.command(),
            ])
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        while broken.pids().len() < 2 {
            assert!(run.try_wait().unwrap().is_none());
            thread::sleep(Duration::from_millis(10));
        }
        let sent = Command::new("kill")
            .args([signal, &run.id().to_string()])
            .status();
        assert!(sent.unwrap().success());
        assert_eq!(run.wait().unwrap().code(), Some(status));
        broken.is_gone();
    }
}

fn start(command: String) -> Programs {
    let limits = Limits::new(Arc::new(|_: &str| {}));
    Programs::start(&[command], &limits, &ringwright_plugins::registry()).unwrap()
}

/// A library's user: the programs end with their owner, also by a panic, and say so when asked later.
#[test]
fn programs_end_with_their_owner() {
    let section = Section {
        outer_radius: 60.0,
        bore_radius: 54.0,
        length: 20.0,
    };
    let values = Values::from([("force", Value::Number(100.0))]);
    let broken = Broken::new("good");
    let programs = start(broken.command());
    let scheme = programs.schemes().next().unwrap();
    assert!(scheme.program().unwrap().contains("broken.py"));
    assert_eq!(
        scheme.supports(&section, &values).unwrap().pressures.len(),
        3
    );
    drop(programs);
    broken.is_gone();
    let other = Section {
        length: 30.0,
        ..section
    };
    let e = scheme.supports(&other, &values).unwrap_err();
    assert!(e.message.contains("was stopped"), "{e}");

    let broken = Broken::new("hang");
    let command = broken.command();
    let panicked = thread::spawn(move || {
        let _programs = start(command);
        panic!("on purpose");
    });
    assert!(panicked.join().is_err());
    broken.is_gone();
}

/// Titles, names and hashes apart, every figure of the template's run is the built-in scheme's, digit for digit.
#[test]
fn the_template_gives_the_built_in_schemes_answer() {
    let folder = tempfile::tempdir().unwrap();
    let text =
        fs::read_to_string(root().join("plugins/examples/outside/six_patches.toml")).unwrap();
    let built_in = text.replace("\"six-patches\"", "\"pressure-patches\"\ncount = 6");
    let solve = |name: &str, text: &str, flags: &[&str]| -> Json {
        let path = |name: String| folder.path().join(name).to_str().unwrap().to_owned();
        let (case, out) = (path(format!("{name}.toml")), path(name.to_owned()));
        fs::write(&case, text).unwrap();
        let mut args = vec!["run", &case, "--out", &out];
        args.extend(flags);
        let c = call(&args);
        assert_eq!(c.exit, 0, "{}", c.err);
        let result = fs::read_to_string(Path::new(&out).join("result.json")).unwrap();
        serde_json::from_str(&result).unwrap()
    };
    let theirs = numbers(&solve("theirs", &text, &["--scheme-program", &template()]));
    let ours = numbers(&solve("ours", &built_in, &[]));
    assert!(ours.len() > 500, "{} numbers", ours.len());
    assert!(theirs == ours, "the figures differ");
}

/// From any first angle its patches stand where the built-in scheme's do. Angles travel in degrees, so one that is no whole
/// share of a turn may come back with its last bit changed.
#[test]
fn the_templates_patches_stand_where_the_built_in_ones_do() {
    let section = Section {
        outer_radius: 60.0,
        bore_radius: 54.0,
        length: 20.0,
    };
    let programs = start(template());
    let theirs = programs.schemes().next().unwrap();
    for first in [0.0, 7.3, -31.0, 359.0] {
        for surface in ["outer", "bore"] {
            let mut values = Values::from([
                ("force", Value::Number(321.0 / 7.0)),
                ("half_angle", Value::Number(12.3)),
                ("first_angle", Value::Number(first)),
                ("surface", Value::Text(surface.to_owned())),
            ]);
            let a = theirs.supports(&section, &values).unwrap();
            values.set("count", Value::Number(6.0));
            let b = PressurePatches.supports(&section, &values).unwrap();
            assert_eq!(a.pressures.len(), 6);
            for (p, q) in a.pressures.iter().zip(&b.pressures) {
                assert!((p.angle - q.angle).abs() <= 2.0 * f64::EPSILON * q.angle.abs());
                let turned = PressurePatch {
                    angle: q.angle,
                    ..*p
                };
                assert_eq!(turned, *q);
            }
        }
    }
}

/// Every number of a document as it is written, in order.
fn numbers(value: &Json) -> Vec<String> {
    match value {
        Json::Number(n) => vec![n.to_string()],
        Json::Array(list) => list.iter().flat_map(numbers).collect(),
        Json::Object(map) => map.values().flat_map(numbers).collect(),
        _ => Vec::new(),
    }
}

/// The kit asks with every kind of nonsense, between other sections, and runs the example.
#[test]
fn the_template_conforms() {
    let c = call(&[
        "schemes",
        "six-patches",
        "--conform",
        "--scheme-program",
        &template(),
    ]);
    assert_eq!(c.exit, 0, "{}{}", c.out, c.err);
    assert!(!c.out.contains("FAULT"), "{}", c.out);
}

/// A program that hangs on nonsense has one fault for it; it is started again, and all else is checked.
#[test]
fn a_hang_on_nonsense_is_one_fault_and_hides_no_other() {
    let broken = Broken::new("many");
    let c = call(&[
        "schemes",
        "broken",
        "--conform",
        "--json",
        "--scheme-program",
        &broken.command(),
        "--scheme-timeout",
        "2",
    ]);
    assert_eq!(c.exit, 3, "{}", c.err);
    let document: Json = serde_json::from_str(&c.out).unwrap();
    let faults: Vec<&str> = document["schemes"][0]["checks"]
        .as_array()
        .unwrap()
        .iter()
        .flat_map(|check| check["faults"].as_array().unwrap())
        .map(|f| f.as_str().unwrap())
        .collect();
    assert_eq!(faults.len(), 1, "{faults:#?}");
    assert!(
        faults[0].starts_with("asked with count = 1e12 its program gave no answer in 2 s"),
        "{faults:#?}"
    );
    broken.is_gone();
    // and where the examples fail too, both are told; a program that fails on its own example is asked no more
    let broken = Broken::new("unbalanced");
    let c = call(&[
        "schemes",
        "broken",
        "--conform",
        "--scheme-program",
        &broken.command(),
    ]);
    assert!(c.exit == 3 && c.out.contains("do not balance"), "{}", c.out);
    let broken = Broken::new("raise");
    let c = call(&[
        "schemes",
        "broken",
        "--conform",
        "--scheme-program",
        &broken.command(),
    ]);
    assert_eq!(c.exit, 3);
    assert_eq!(
        c.out.matches("its program ended without an answer").count(),
        1,
        "{}",
        c.out
    );
    broken.is_gone();
}

/// What `schemes --conform` says of a program: each check's mark by its first words, and the whole text.
fn conform(what: &'static str) -> (Vec<(String, String)>, String) {
    let broken = Broken::new(what);
    let c = call(&[
        "schemes",
        "broken",
        "--conform",
        "--scheme-program",
        &broken.command(),
        "--scheme-timeout",
        "2",
    ]);
    broken.is_gone();
    let marks = c.out.lines().filter_map(|line| {
        let (mark, about) = line.strip_prefix("  ")?.split_at_checked(10)?;
        (!mark.trim().is_empty()).then(|| (mark.trim().to_owned(), about.trim().to_owned()))
    });
    (marks.collect(), c.out)
}

/// The mark of the check whose line starts so.
fn mark<'a>(marks: &'a [(String, String)], about: &str) -> &'a str {
    let found = marks.iter().find(|(_, line)| line.starts_with(about));
    found.map_or("none", |(mark, _)| mark)
}

/// Answers that hang on what was asked before, or on chance, are the fault of that check alone, and leave the rest unchecked.
#[test]
fn two_answers_are_told_where_they_belong() {
    for what in ["changing", "remembers"] {
        let (marks, text) = conform(what);
        assert_eq!(mark(&marks, "the same request"), "FAULT", "{text}");
        for about in ["nonsense", "the examples are"] {
            assert_eq!(mark(&marks, about), "left out", "{about}: {text}");
        }
        // the first of these never has one answer whose bodies could be looked at
        let bodies = if what == "changing" { "left out" } else { "ok" };
        assert_eq!(mark(&marks, "bodies"), bodies, "{text}");
        assert_eq!(mark(&marks, "the forces"), bodies, "{text}");
        assert_eq!(text.matches("asked with").count(), 1, "{text}");
        assert!(!text.contains("refuses"), "{text}");
    }
}

/// A program without a usable answer has one fault; what could not be checked is not said to be in order.
#[test]
fn what_cannot_be_checked_is_left_out() {
    for what in ["hang", "garbage", "raise"] {
        let (marks, text) = conform(what);
        assert_eq!(mark(&marks, "bodies"), "FAULT", "{text}");
        for about in [
            "the example and",
            "the forces",
            "the same",
            "nonsense",
            "the examples are",
        ] {
            assert_eq!(mark(&marks, about), "left out", "{about}: {text}");
        }
        assert_eq!(mark(&marks, "name"), "ok", "{text}");
    }
}

/// An empty refusal tells the person at the machine nothing.
#[test]
fn a_refusal_without_a_reason_is_a_fault() {
    let (marks, text) = conform("silent-at-edge");
    assert_eq!(mark(&marks, "nonsense"), "FAULT", "{text}");
    assert!(text.contains("refuses without giving a reason"), "{text}");
    assert_eq!(mark(&marks, "the examples are"), "ok", "{text}");
}

/// Not a fault, but mostly a slip: the force asked for is not the one that presses.
#[test]
fn a_parameter_that_changes_nothing_is_noted() {
    let (marks, text) = conform("good");
    assert!(marks.iter().all(|(mark, _)| mark != "FAULT"), "{text}");
    assert!(
        text.contains("note:     changing `force` changes nothing"),
        "{text}"
    );
    let (_, text) = conform("many");
    assert!(!text.contains("changing `count`"), "{text}");
}

/// Whole numbers, limits and choices of a program are checked before it is asked (it would fail an assertion), and shown.
#[test]
fn limits_of_a_programs_parameters_are_kept_at_the_door() {
    let broken = Broken::new("limits");
    let case = fs::read_to_string(broken.path("case.toml")).unwrap();
    let program = broken.command();
    let check = |keys: &str| {
        let path = broken.path("keys.toml");
        let text = case.replacen("force = 150.0\n[[step]]", &format!("{keys}\n[[step]]"), 1);
        assert!(text.contains(keys));
        fs::write(&path, text).unwrap();
        call(&["check", &path, "--scheme-program", &program])
    };
    for (keys, says) in [
        (
            "shift = 0\nforce = 19.9",
            "hold.soft[0].force: is 19.9; it must be from 20 to 400 N",
        ),
        (
            "shift = 0\nforce = \"100 lbf\"",
            "hold.soft[0].force: is \"100 lbf\"; it must be from 20 to 400 N",
        ),
        (
            "shift = 0\nrows = 2.5",
            "hold.soft[0].rows: is 2.5; it must be a whole number from 1 to 4",
        ),
        (
            "shift = 0\nrows = 5",
            "hold.soft[0].rows: is 5; it must be a whole number from 1 to 4",
        ),
        (
            "shift = -1.6",
            "hold.soft[0].shift: is -1.6; it must be -1.5 mm or more",
        ),
        ("force = 20", "hold.soft[0].shift: missing"),
        ("shift = 0\nkind = \"firm\"", "known: \"soft\", \"hard\""),
    ] {
        let c = check(keys);
        assert!(
            c.exit == 3 && c.err.contains(says),
            "{keys}: {} {}",
            c.exit,
            c.err
        );
    }
    let c = check("shift = -1.5\nforce = 400\nrows = 4\nkind = \"hard\"");
    assert_eq!((c.exit, c.err.as_str()), (0, ""));
    let c = call(&["schemes", "broken", "--scheme-program", &program]);
    for shown in [
        "force (from 20 to 400 N; default 100.0)",
        "rows (a whole number from 1 to 4; default 2)",
        "shift (-1.5 mm or more; required)",
        "kind (\"soft\" or \"hard\"; default \"soft\")",
    ] {
        assert!(c.out.contains(shown), "{shown}: {}", c.out);
    }
    let c = call(&[
        "schemes",
        "broken",
        "--conform",
        "--scheme-program",
        &program,
    ]);
    assert_eq!(c.exit, 0, "{}{}", c.out, c.err);
    broken.is_gone();
}

#[test]
fn the_parameters_of_a_program_are_shown_like_any_schemes() {
    let program = template();
    let c = call(&["schemes", "six-patches", "--scheme-program", &program]);
    assert_eq!(c.exit, 0, "{}", c.err);
    assert!(
        c.out
            .contains("force (force, zero or more, N, or \"unknown\"; default 500.0)"),
        "{}",
        c.out
    );
    assert!(
        c.out
            .contains("surface (\"outer\" or \"bore\"; default \"outer\")"),
        "{}",
        c.out
    );
    // the example that it shows is sound
    let example = c.out.split("Example\n").nth(1).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("case.toml");
    fs::write(&path, example).unwrap();
    let c = call(&[
        "check",
        path.to_str().unwrap(),
        "--scheme-program",
        &program,
    ]);
    assert_eq!((c.exit, c.err.as_str()), (0, ""));
}
