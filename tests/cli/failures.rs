//! How a command ends that has no answer: the kind of reason, the exit status that goes with it, one document with `--json`, and
//! words for people.

use std::fs;
use std::path::Path;

use serde_json::Value;

use crate::{CASE, Call, call};

/// Calls the program with a case of this text in a folder of its own.
fn on(text: &str, args: &[&str]) -> Call {
    let folder = tempfile::tempdir().unwrap();
    let case = folder.path().join("case.toml");
    fs::write(&case, text).unwrap();
    let out = folder.path().join("out");
    let place = |a: &&str| match *a {
        "CASE" => case.display().to_string(),
        "OUT" => out.display().to_string(),
        other => other.to_owned(),
    };
    let args: Vec<String> = args.iter().map(place).collect();
    let answer = call(&args.iter().map(String::as_str).collect::<Vec<_>>());
    assert!(!out.exists(), "something was written: {args:?}");
    answer
}

fn run(text: &str, flags: &[&str]) -> Call {
    on(
        text,
        &[&["run", "CASE", "--out", "OUT", "--json"], flags].concat(),
    )
}

/// The error document, held to its form.
fn document(answer: &Call) -> Value {
    let document: Value = serde_json::from_str(&answer.out).unwrap();
    assert_eq!(document["format"], "ringwright-error-1");
    assert_eq!(document["exit"], answer.exit);
    let problems = document["problems"].as_array().unwrap();
    assert!(!problems.is_empty());
    for problem in problems {
        let message = problem["message"].as_str().unwrap();
        assert!(!message.is_empty() && message.len() < 2000, "{message}");
        for key in ["file", "line", "column", "key"] {
            assert!(problem.get(key).is_some(), "{problem}");
        }
        let line = &problem["line"];
        assert!(
            line.is_null() || line.as_u64().is_some_and(|l| l > 0),
            "{problem}"
        );
        // what a program reads, people read too
        assert!(answer.err.contains(message), "{}\n{message}", answer.err);
    }
    document
}

/// Every kind, found at the door and in the solver, with its exit status.
#[test]
fn every_failure_has_its_kind() {
    let no_force = CASE.replace("force = 150.0\nbored", "force = 0.0\nbored");
    // a plug that fills the bore less a tenth: nothing reaches the part
    let clear = {
        let start = CASE.find("[[hold.bare]]").unwrap();
        let end = CASE.find("[[hold.soft]]").unwrap();
        let plug = "[[hold.bare]]\nscheme = \"plug\"\ndiameter = 109.8\n";
        format!("{}{plug}{}", &CASE[..start], &CASE[end..]).replace(LOBES, "")
    };
    let free = CASE.replace("diameter = 111.0", "diameter = 111.0\nradial_force = 5");
    let free = free.replace("hold = \"bare\"", "hold = \"free\"");
    let through = CASE.replace("diameter = 111.0", "diameter = 120.5");
    let thin = CASE.replace("diameter = 111.0", "diameter = 119.95");
    let flexes = CASE.replace("force = 150.0\nbored", "force = 60000.0\nbored");
    let huge = CASE.replace("around = 360\nthrough = 4", "around = 10000\nthrough = 60");
    let cases: [(&str, String, &[&str], u8, &str); 10] = [
        (
            "a wrong key",
            CASE.replace("accuracy", "acuracy"),
            &[],
            3,
            "input",
        ),
        ("no force", no_force, &[], 3, "loose"),
        ("a plug that stands clear", clear, &[], 3, "loose"),
        ("a tool force on a free part", free, &[], 3, "loose"),
        ("through the drawn wall", through, &[], 3, "cut-through"),
        ("through the held wall", thin, &[], 3, "cut-through"),
        ("past all sense", flexes, &[], 4, "not-converged"),
        (
            "no time",
            CASE.to_owned(),
            &["--time-limit", "0.001"],
            4,
            "not-converged",
        ),
        ("a mesh past all memory", huge, &[], 3, "too-large"),
        (
            "a program that is not there",
            CASE.to_owned(),
            &["--scheme-program", "/nowhere/at-all"],
            6,
            "scheme",
        ),
    ];
    for (what, text, flags, exit, kind) in cases {
        let answer = run(&text, flags);
        assert_eq!(answer.exit, exit, "{what}: {}", answer.err);
        let document = document(&answer);
        assert_eq!(document["kind"], kind, "{what}: {}", answer.err);
        if !["no time", "past all sense", "a program that is not there"].contains(&what) {
            let first = &document["problems"][0];
            for key in ["file", "line", "key"] {
                assert!(!first[key].is_null(), "{what}: no {key}");
            }
        }
    }
}

const LOBES: &str = "[[part.lobes]]\nsurface = \"both\"\ncount = 2\namplitude = 0.05\nangle = 10\n";

/// What fails before a case is read has the document too.
#[test]
fn usage_and_files_have_the_document() {
    for (args, exit, kind) in [
        (&["frob", "--json"][..], 2, "usage"),
        (&["run", "CASE", "--frob", "--json"], 2, "usage"),
        (&["materials", "unobtainium", "--json"], 2, "usage"),
        (&["schemes", "nobody", "--json"], 2, "usage"),
        (&["compare", "--json"], 2, "usage"),
        (&["run", "/nowhere/case.toml", "--json"], 5, "io"),
        (&["check", "/nowhere/case.toml", "--json"], 5, "io"),
        (&["gauge", "/nowhere/r.csv", "--json"], 5, "io"),
        (&["new", "/nowhere/case.toml", "--json"], 5, "io"),
        (
            &["mesh", "CASE", "--out", "/nowhere/m.vtu", "--json"],
            5,
            "io",
        ),
        (
            &["run", "CASE", "--out", "/dev/null/out", "--json"],
            5,
            "io",
        ),
        (&["gauge", "CASE", "--json"], 3, "input"),
    ] {
        // `compare` takes whatever follows it, of later work
        if args[0] == "compare" {
            continue;
        }
        let answer = on(CASE, args);
        assert_eq!(answer.exit, exit, "{args:?}: {}", answer.err);
        assert_eq!(document(&answer)["kind"], kind, "{args:?}");
    }
    // without the flag nothing stands on standard output
    let answer = on("", &["check", "CASE"]);
    assert_eq!((answer.exit, answer.out.as_str()), (3, ""));
}

/// A time limit says how far the run was; one that is long enough changes nothing.
#[test]
fn a_time_limit_ends_a_run_with_the_reason() {
    let answer = on(
        CASE,
        &["run", "CASE", "--out", "OUT", "--time-limit", "0.001"],
    );
    assert_eq!(answer.exit, 4);
    for words in [
        "the time limit passed at step 1 of 1",
        "--time-limit",
        "Nothing was written",
    ] {
        assert!(answer.err.contains(words), "{}", answer.err);
    }
    let folder = tempfile::tempdir().unwrap();
    let case = folder.path().join("case.toml");
    fs::write(&case, CASE).unwrap();
    let result = |out: &Path, flags: &[&str]| {
        let (case, out_text) = (case.to_str().unwrap(), out.to_str().unwrap());
        let fixed = ["run", case, "--out", out_text, "--quiet"];
        let answer = call(&[&fixed, flags].concat());
        assert_eq!((answer.exit, answer.err.as_str()), (0, ""));
        fs::read(out.join("result.json")).unwrap()
    };
    let free = result(&folder.path().join("a"), &[]);
    let limited = result(&folder.path().join("b"), &["--time-limit", "600"]);
    assert!(free == limited);
}
