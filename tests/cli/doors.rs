//! The doors: whatever comes in is read to an end, in time, and what is too much is said with the figure that would do.

use std::fs;
use std::path::Path;
use std::time::{Duration, Instant};

use crate::{CASE, Call, call};

/// Checks a text as a case file.
fn check(text: impl AsRef<[u8]>) -> Call {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("case.toml");
    fs::write(&path, text).unwrap();
    let start = Instant::now();
    let c = call(&["check", path.to_str().unwrap()]);
    // linear reading takes a tenth of this on a busy machine
    assert!(start.elapsed() < Duration::from_secs(10), "{}", c.err.len());
    c
}

/// It is refused with exit 3, at a line, in these words.
fn refused(text: impl AsRef<[u8]>, says: &str) {
    let c = check(text);
    let start: String = c.err.chars().take(2000).collect();
    assert_eq!(c.exit, 3, "{says}: {start}");
    assert!(c.err.contains(says), "{says}: {start}");
    for message in c.err.lines() {
        assert!(message.len() < 2000, "{says}: {} bytes", message.len());
    }
}

fn repeated(n: usize, line: impl Fn(usize) -> String) -> String {
    (0..n).map(line).collect()
}

#[test]
fn thirty_thousand_problems_are_counted_and_a_hundred_shown() {
    let unknown = repeated(30_000, |k| format!("zz{k} = {k}\n"));
    let c = check(format!("{unknown}{CASE}"));
    assert_eq!(c.exit, 3);
    assert_eq!(c.err.matches("unknown key").count(), 100);
    let rest = "case.toml:101:1: and 29,900 problems more from here on\n";
    assert!(c.err.contains(rest), "{}", &c.err[c.err.len() - 300..]);
    assert!(!c.err.contains("101 problems"));
    // all on one line, where a place is as dear as the line is long
    let keys = repeated(30_000, |k| format!("zz{k} = {k}, "));
    let c = check(CASE.replace("distance = 0.0,", &format!("distance = 0.0, {keys}")));
    assert_eq!(c.exit, 3);
    assert!(c.err.contains("29,900 problems more"));
    // and those of the format
    let c = check("= 1\n".repeat(200_000));
    assert_eq!(c.exit, 3);
    assert_eq!(c.err.matches("not TOML").count(), 100);
}

#[test]
fn a_case_has_a_size() {
    let remark = format!("# {}\n", "x".repeat(998));
    let fits = 999_000 / remark.len() - CASE.len() / remark.len();
    assert_eq!(check(remark.repeat(fits) + CASE).exit, 0);
    let says = "case.toml:1:1: longer than 1 MB, the most that is read of a case file";
    refused(remark.repeat(1000) + CASE, says);
    refused(vec![0; 5_000_000], says);
    let library = ringwright_solver::case::read(
        &(remark.repeat(1000) + CASE),
        &ringwright_plugins::registry(),
    );
    let problems = library.map(|_| ()).unwrap_err();
    assert!(problems[0].message.contains("longer than 1 MB"));
}

#[test]
fn nesting_without_end_is_refused() {
    refused("a = ".to_owned() + &"[".repeat(400_000), "not TOML");
    refused("a = ".to_owned() + &"{a=".repeat(300_000), "not TOML");
    refused("[".to_owned() + &"a.".repeat(400_000) + "a]\n", "");
    refused("a.".repeat(400_000) + "a = 1\n", "");
}

/// What a shop may well have passes, what nobody has is refused with the figure.
#[test]
fn how_many_of_each_a_case_may_have() {
    let step = |cuts: usize| {
        let cut = |k| {
            format!(
                "[[step.cut]]\nsurface = \"bore\"\ndiameter = {}\n",
                110.5 + 0.01 * k as f64
            )
        };
        format!("[[step]]\nhold = \"bare\"\n{}", repeated(cuts, cut))
    };
    let (head, _) = CASE.split_once("[[step]]").unwrap();
    assert_eq!(check(format!("{head}{}", step(20))).exit, 0);
    assert_eq!(check(format!("{head}{}", step(0).repeat(50))).exit, 0);
    let last = |steps: String| format!("{head}{steps}");
    refused(
        last(step(51)),
        "step[0].cut: 51 cuts in one step; 50 are the most",
    );
    refused(
        last(step(0).repeat(201)),
        "step: 201 steps; 200 are the most",
    );
    let lobe = "[[part.lobes]]\ncount = 2\namplitude = 0.0001\n";
    let lobes = |n: usize| {
        CASE.replacen(
            "[[hold.bare]]",
            &format!("{}[[hold.bare]]", lobe.repeat(n)),
            1,
        )
    };
    assert_eq!(check(lobes(199)).exit, 0);
    refused(
        lobes(200),
        "part.lobes: 201 tables of lobes; 200 are the most",
    );
    let holds = |n: usize| {
        let hold = |k| format!("[[hold.h{k}]]\nscheme = \"plug\"\ndiameter = 110.1\n");
        CASE.replacen("[[step]]", &format!("{}[[step]]", repeated(n, hold)), 1)
    };
    assert_eq!(check(holds(98)).exit, 0);
    refused(holds(99), "hold: 101 holds; 100 are the most");
    let point = "[[hold.bare]]\nscheme = \"points\"\nforce = 1\ncount = 2\n";
    let points = |n: usize| CASE.replacen("[[step]]", &format!("{}[[step]]", point.repeat(n)), 1);
    assert_eq!(check(points(19)).exit, 0);
    refused(
        points(20),
        "hold.bare: 21 schemes in one hold; 20 are the most",
    );
    let jaws = |n: usize| {
        CASE.replacen(
            "count = 3\nfirst_angle = 0\nforce = 150.0\nbored_diameter = 121.2\nwidth = 20.0",
            &format!("count = {n}\nforce = 1\nwidth = 1"),
            1,
        )
    };
    assert_eq!(check(jaws(100)).exit, 0);
    refused(jaws(101), "101 jaws; 100 are the most");
    let two = jaws(60).replacen(
        "[[step]]",
        "[[hold.bare]]\nscheme = \"screws\"\ncount = 60\ncrown_radius = 5\nforce = 1\n[[step]]",
        1,
    );
    refused(two, "together 120 bodies; 100 are the most");
}

/// Numbers that no shop has are refused by their body, key and range, whichever scheme asks for them.
#[test]
fn magnitudes_of_a_hold() {
    let screws = |keys: &str| {
        let scheme = format!(
            "[[hold.bare]]\nscheme = \"screws\"\ncount = 3\ncrown_radius = 10\n{keys}\n[[step]]"
        );
        CASE.replacen("[[step]]", &scheme, 1)
    };
    assert_eq!(check(screws("gap = 0.01")).exit, 0);
    refused(
        screws("gap = 180"),
        "the gap of screw 1 is 180 mm; a gap of more than the radius of the bore (55.000 mm) is never closed",
    );
    refused(screws("gap = 1e9"), "the gap of screw 1 is 1e9 mm");
    refused(
        CASE.replacen("first_angle = 0", "first_angle = 1e9", 1),
        "the angle of jaw 1 is 1e9 deg; it must be from -36000 to 36000 deg",
    );
    refused(
        CASE.replacen("width = 20.0", "width = 1e-9", 1),
        "the half-angle of jaw 1 is",
    );
    refused(
        CASE.replacen("accuracy = 0.01", "accuracy = 1e-12", 1),
        "case.toml:3:12: accuracy: is finer than 0.000001, the least that can be told from rounding",
    );
    assert_eq!(
        check(CASE.replacen("accuracy = 0.01", "accuracy = 1e-6", 1)).exit,
        0
    );
}

/// What stands in a case is shown on screens and in pictures: it cannot steer a terminal, nor make a message of any length.
#[test]
fn texts_of_a_case_are_harmless() {
    let title = |t: &str| CASE.replacen("title = \"Ring\"", &format!("title = {t}"), 1);
    let c = check(title("\"a\\u001b[31mred\\u0007 \\u202eback\""));
    assert_eq!(c.exit, 0);
    assert!(
        c.out.contains("(\"a [31mred   back\", 1 step)"),
        "{}",
        c.out
    );
    refused(
        title(&format!("\"{}\"", "x".repeat(201))),
        "title: has 201 characters; 200 are the most",
    );
    for name in ["\"\\u001b[2J\"".to_owned(), "n".repeat(61)] {
        let case = CASE.replacen("[[hold.soft]]", &format!("[[hold.{name}]]"), 1);
        refused(
            case,
            "choose a name of up to 60 characters, all of them printable",
        );
    }
    refused(
        format!("\"{}\" = 1\n{CASE}", "k".repeat(100_000)),
        "unknown key",
    );
    let c = check(format!("\"\\u001b[2J\" = 1\n{CASE}"));
    assert!(c.exit == 3 && !c.err.contains('\x1b'));
    let holds = repeated(90, |k| {
        format!(
            "[[hold.a-name-of-some-length-that-says-a-lot-about-it-{k}]]\nscheme = \"plug\"\ndiameter = 110\n"
        )
    });
    let case = CASE.replacen("hold = \"bare\"", "hold = \"barely\"", 1);
    refused(
        case.replacen("[[step]]", &format!("{holds}[[step]]"), 1),
        "and 73 more",
    );
}

#[test]
fn old_line_ends_are_named() {
    refused(
        CASE.replace('\n', "\r"),
        "case.toml:1:15: the lines end with carriage returns alone",
    );
    assert_eq!(check(CASE.replace('\n', "\r\n")).exit, 0);
}

/// What is no file is refused by its kind, at once: a named pipe would be waited for, a device may never end.
#[test]
#[cfg(unix)]
fn what_is_no_file_is_not_read() {
    let folder = tempfile::tempdir().unwrap();
    let pipe = folder.path().join("pipe");
    let made = std::process::Command::new("mkfifo").arg(&pipe).status();
    assert!(made.unwrap().success());
    let case = folder.path().join("case.toml");
    let start = Instant::now();
    for (path, says) in [
        (pipe.as_path(), "it is a named pipe"),
        (Path::new("/dev/zero"), "it is a device"),
        (folder.path(), "it is a folder"),
    ] {
        let path = path.to_str().unwrap();
        for command in ["check", "gauge"] {
            let c = call(&[command, path]);
            assert!(
                c.exit == 5 && c.err.contains(says),
                "{command} {path}: {}",
                c.err
            );
        }
        let readings = format!("[part.readings]\nouter = {path:?}\n[[hold.bare]]");
        let lobes = CASE.find("[[part.lobes]]").unwrap()..CASE.find("[[hold.bare]]").unwrap();
        let mut text = CASE.to_owned();
        text.replace_range(lobes, "");
        fs::write(&case, text.replacen("[[hold.bare]]", &readings, 1)).unwrap();
        let c = call(&["check", case.to_str().unwrap()]);
        assert!(c.exit == 3 && c.err.contains(says), "{path}: {}", c.err);
    }
    assert!(start.elapsed() < Duration::from_secs(10));
}

/// A pipe that the shell hands over by its number is read, and standard input that never ends is left at the most.
#[test]
#[cfg(target_os = "linux")]
fn pipes_of_the_shell_are_read() {
    let folder = tempfile::tempdir().unwrap();
    let case = folder.path().join("case.toml");
    fs::write(&case, CASE).unwrap();
    let shell = |line: &str| {
        let output = std::process::Command::new("bash")
            .args(["-c", line, env!("CARGO_BIN_EXE_ringwright")])
            .arg(&case)
            .output()
            .unwrap();
        let err = String::from_utf8_lossy(&output.stderr).into_owned();
        (output.status.code(), err)
    };
    for line in [
        "\"$0\" check <(cat \"$1\")",
        "cat \"$1\" | \"$0\" check -",
        "cat \"$1\" | \"$0\" check /dev/stdin",
        "\"$0\" check - < \"$1\"",
        "\"$0\" gauge <(for k in 0 1 2 3 4 5; do echo $((60*k)),50.0$k; done)",
    ] {
        assert_eq!(shell(line).0, Some(0), "{line}");
    }
    for (line, says) in [
        ("\"$0\" check - < /dev/zero", "longer than 1 MB"),
        (
            "\"$0\" gauge - < /dev/zero",
            "this line is longer than 4194304 bytes",
        ),
        (
            "yes '# nothing' | \"$0\" gauge -",
            "more than 50 MB of text",
        ),
    ] {
        let (code, err) = shell(line);
        assert!(code == Some(3) && err.contains(says), "{line}: {err}");
    }
}

#[test]
fn readings_with_old_line_ends_are_lines() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("r.csv");
    let rows = repeated(36, |k| {
        format!("{},{:.3}\n", 10 * k, 50.0 + 0.001 * (k % 5) as f64)
    });
    let gauge = |text: &str| {
        fs::write(&path, text).unwrap();
        let c = call(&["gauge", path.to_str().unwrap(), "--json"]);
        assert_eq!(c.exit, 0, "{}", c.err);
        c.out
    };
    let unix = format!("# an old indicator\n\nangle_deg,radius_mm\n{rows}");
    let document = gauge(&unix);
    assert!(document.contains("\"points\": 36"), "{document}");
    assert_eq!(gauge(&unix.replace('\n', "\r")), document);
    assert_eq!(gauge(&unix.replace('\n', "\r\n")), document);
    // a message counts them alike
    fs::write(&path, unix.replace('\n', "\r").replace("350,", "x,")).unwrap();
    let c = call(&["gauge", path.to_str().unwrap()]);
    assert!(c.exit == 3 && c.err.contains("r.csv:39:1:"), "{}", c.err);
}

/// Columns without number that are not used are not all named.
#[test]
fn columns_that_are_not_used_make_no_long_caution() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("r.csv");
    let header = repeated(5000, |k| format!(",extra column {k}"));
    let row = |k: usize| format!("{},50.00{}{}\n", 60 * k, k, ",1".repeat(5000));
    fs::write(
        &path,
        format!("angle_deg,radius_mm{header}\n{}", repeated(6, row)),
    )
    .unwrap();
    let c = call(&["gauge", path.to_str().unwrap()]);
    assert_eq!(c.exit, 0, "{}", c.err);
    let words: Vec<&str> = c.out.split_whitespace().collect();
    assert!(words.join(" ").contains("and 4990 more"), "{}", c.out);
}

/// Words for several are English.
#[test]
fn several_patches_are_patches() {
    let list = CASE.replacen(
        "half_angle = 10\nforce = 150.0",
        "half_angle = 10\nforce = [1, 2]",
        1,
    );
    refused(list, "lists 2 for 3 patches");
    for (one, several) in [("jaw", "jaws"), ("body", "bodies"), ("patch", "patches")] {
        assert_eq!(ringwright_solver::scheme::plural(one), several);
    }
}

/// A setting is not blamed for readings that are wrong themselves.
#[test]
fn a_bad_file_is_one_problem() {
    let lobes = CASE.find("[[part.lobes]]").unwrap()..CASE.find("[[hold.bare]]").unwrap();
    let mut text = CASE.to_owned();
    let round = (0..36).map(|k| format!("{}:60.0", 10 * k));
    let round: Vec<String> = round.collect();
    let readings = format!(
        "[part.readings]\nouter = {{ readings = \"{}\" }}\nbore = \"no-such-file.csv\"\none_setting = true\n",
        round.join(" ")
    );
    text.replace_range(lobes, &readings);
    let c = check(text);
    assert_eq!(c.exit, 3);
    assert!(
        c.err.contains("part.readings.bore: cannot be read"),
        "{}",
        c.err
    );
    assert!(!c.err.contains("one_setting:"), "{}", c.err);
}
