//! Points of a study that are asked for one after another: `study ask`, `study tell`.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use serde_json::Value;

use crate::choosing::{FULL, VARIES, of_study, path, rows, study};
use crate::{CASE, Call, call};

/// Points of a table, without remarks.
fn points(text: &str) -> Vec<String> {
    let lines = text.lines().filter(|l| !l.starts_with('#'));
    lines.map(str::to_owned).collect()
}

fn ask(file: &str, out: &Path, more: &[&str]) -> Call {
    call(&[&["study", "ask", file, "--out", path(out)], more].concat())
}

fn column(table: &str, name: &str) -> Vec<String> {
    let mut lines = table.lines();
    let names: Vec<&str> = lines.next().unwrap().split(',').collect();
    let at = names.iter().position(|n| *n == name).unwrap();
    lines
        .map(|l| l.split(',').nth(at).unwrap().to_owned())
        .collect()
}

/// A study of one force and one radius, as a file.
fn asked_of(folder: &Path, design: &str, varies: &str) -> String {
    let file = study(folder, design);
    fs::write(&file, fs::read_to_string(&file).unwrap() + varies).unwrap();
    file
}

const BOTH: &str = "[[vary]]\npath = \"hold.bare[0].bored_diameter\"\nfrom = \"120 mm\"\nto = \"122 mm\"\n\
                    [[vary]]\npath = \"hold.bare[0].force\"\nfrom = 50\nto = 300\n";

/// Points come one after another, never twice; they are the rows of the plan, and go on beyond it.
#[test]
fn points_are_handed_out_once() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let file = asked_of(folder, "design = \"sobol\"\ncount = 4\nseed = 9", BOTH);
    let out = folder.join("out");
    let c = call(&["study", &file, "--out", path(&folder.join("table"))]);
    assert_eq!(c.exit, 0, "{}", c.err);
    let table = rows(&folder.join("table/results.csv"));
    let c = ask(&file, &out, &["--count", "3"]);
    assert_eq!(c.exit, 0, "{}", c.err);
    assert!(
        c.out.contains("asked-1.csv: points 0 to 2 of the study"),
        "{}",
        c.out
    );
    let first = fs::read_to_string(out.join("asked-1.csv")).unwrap();
    assert!(first.contains(&format!("\n# study: {file}\n")), "{first}");
    let c = ask(&file, &out, &["--count", "5", "--to", "-"]);
    assert_eq!(c.exit, 0, "{}", c.err);
    assert!(
        c.out.starts_with("# points 3 to 7 of a study; "),
        "{}",
        c.out
    );
    let all = [points(&first), points(&c.out)[1..].to_vec()].concat();
    assert_eq!(all[0], "hold.bare[0].bored_diameter,hold.bare[0].force");
    assert_eq!(all.len(), 9);
    for (row, point) in table[1..].iter().zip(&all[1..]) {
        assert_eq!(row[2..4].join(","), *point);
    }
    let distinct: BTreeSet<&String> = all.iter().collect();
    assert_eq!(distinct.len(), 9);
    // several at once
    let threads: Vec<_> = (0..4)
        .map(|_| {
            let (file, out) = (file.clone(), out.clone());
            std::thread::spawn(move || ask(&file, &out, &["--count", "2", "--to", "-"]).out)
        })
        .collect();
    let more: Vec<String> = threads
        .into_iter()
        .flat_map(|t| points(&t.join().unwrap())[1..].to_vec())
        .collect();
    let distinct: BTreeSet<&String> = all.iter().chain(&more).collect();
    assert_eq!(distinct.len(), 17);
    let c = ask(&file, &out, &["--count", "2", "--json"]);
    let document: Value = serde_json::from_str(&c.out).unwrap();
    assert_eq!(
        (&document["format"], &document["first"]),
        (&"ringwright-asked-1".into(), &16.into())
    );
    let point = &document["points"][1];
    assert!(point["hold.bare[0].force"].is_f64(), "{document}");
    assert!(
        point["hold.bare[0].bored_diameter"]
            .as_str()
            .unwrap()
            .ends_with(" mm")
    );
    assert!(
        document["file"].as_str().unwrap().ends_with("asked-7.csv"),
        "{document}"
    );
    // a list that broke off in its last line, and a file that cannot be written
    let list = fs::read_to_string(out.join("asked.csv")).unwrap();
    fs::write(out.join("asked.csv"), list.clone() + "18,").unwrap();
    let c = ask(
        &file,
        &out,
        &[
            "--count",
            "1",
            "--to",
            path(&folder.join("none/points.csv")),
        ],
    );
    assert_eq!(c.exit, 5, "{}", c.err);
    let c = ask(
        &file,
        &out,
        &["--count", "1", "--to", path(&folder.join("case.toml"))],
    );
    assert_eq!(c.exit, 5, "{}", c.err);
    let c = ask(&file, &out, &["--count", "1"]);
    assert!(
        c.out.contains("asked-8.csv: point 18 of the study"),
        "{}",
        c.out
    );
    fs::write(out.join("asked.csv"), list + "x,y,z\n").unwrap();
    let c = ask(&file, &out, &["--count", "1"]);
    assert_eq!(c.exit, 3, "{}", c.err);
    assert!(
        c.err.contains("asked.csv:9: is not as it was written"),
        "{}",
        c.err
    );
    fs::write(out.join("asked.csv"), "my,own\n1,2\n").unwrap();
    let c = ask(&file, &out, &["--count", "1"]);
    assert_eq!(c.exit, 3, "{}", c.err);
    assert_eq!(
        fs::read_to_string(out.join("asked.csv")).unwrap(),
        "my,own\n1,2\n"
    );
}

/// Points that could not be printed are handed out again.
#[test]
fn points_that_nobody_has_are_handed_out_again() {
    struct Full;
    impl std::io::Write for Full {
        fn write(&mut self, _: &[u8]) -> std::io::Result<usize> {
            Err(std::io::ErrorKind::StorageFull.into())
        }
        fn flush(&mut self) -> std::io::Result<()> {
            Ok(())
        }
    }
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let file = asked_of(folder, FULL, VARIES);
    let out = folder.join("out");
    let args = [
        "ringwright",
        "study",
        "ask",
        &file,
        "--count",
        "2",
        "--to",
        "-",
        "--out",
        path(&out),
    ];
    let args = args.map(std::ffi::OsString::from);
    let registry = ringwright_plugins::registry();
    let exit = ringwright::run_with(args, &registry, &mut Full, &mut Vec::new());
    assert_eq!(exit as u8, 5);
    let c = ask(&file, &out, &["--count", "2", "--to", "-"]);
    assert!(
        c.out.starts_with("# points 0 to 1 of a study; "),
        "{}",
        c.out
    );
}

/// A design that ends hands out what is left, then nothing.
#[test]
fn a_design_that_ends_has_no_more_points() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let file = asked_of(folder, FULL, VARIES);
    let out = folder.join("out");
    let c = ask(&file, &out, &["--count", "7", "--to", "-"]);
    assert_eq!(points(&c.out).len(), 8, "{}", c.err);
    let c = ask(&file, &out, &["--count", "7", "--to", "-"]);
    assert_eq!((c.exit, points(&c.out).len()), (0, 3));
    assert!(
        c.err
            .contains("2 of 7 points are left: 7 were handed out before"),
        "{}",
        c.err
    );
    let c = ask(&file, &out, &["--count", "7"]);
    assert_eq!(c.exit, 0, "{}", c.err);
    assert!(c.out.contains("0 of 7 points are left"), "{}", c.out);
    let c = ask(&file, &out, &["--count", "7", "--to", "-"]);
    assert_eq!(points(&c.out).len(), 1, "{}", c.out);
    assert!(!out.join("asked-1.csv").exists());
    let other = asked_of(folder, FULL, &VARIES.replace("to = 200", "to = 300"));
    let c = ask(&other, &out, &["--count", "1"]);
    assert_eq!(c.exit, 3, "{}", c.err);
    assert!(c.err.contains("another plan"), "{}", c.err);
}

/// Points that were asked for come back as the rows of the plan, each worked out once, whatever order their columns are in.
#[test]
fn points_are_worked_out_once() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let file = asked_of(
        folder,
        "design = \"latin-hypercube\"\ncount = 4\nseed = 9",
        BOTH,
    );
    let c = call(&["study", &file, "--out", path(&folder.join("table"))]);
    assert_eq!(c.exit, 0, "{}", c.err);
    let table = rows(&folder.join("table/results.csv"));
    let out = folder.join("out");
    ask(&file, &out, &["--count", "3"]);
    let asked = out.join("asked-1.csv");
    let c = call(&["study", "tell", path(&asked)]);
    assert_eq!(c.exit, 0, "{}", c.err);
    assert!(
        c.err.contains("3 rows, 3 of them worked out now"),
        "{}",
        c.err
    );
    assert!(c.err.contains("can kill"), "{}", c.err);
    fs::write(folder.join("told.csv"), &c.out).unwrap();
    assert_eq!(rows(&folder.join("told.csv")), table[..4]);
    let told = fs::read_to_string(out.join("told.csv")).unwrap();
    assert_eq!(told, c.out);
    // as a spreadsheet saves it, and nothing to work out
    let saved: String = fs::read_to_string(&asked)
        .unwrap()
        .lines()
        .map(|l| match l.starts_with("# points") {
            true => format!("\"{l}\",\r\n"),
            false if l.starts_with('#') => format!("{l},\r\n"),
            false => format!("{l}\r\n"),
        })
        .collect();
    fs::write(out.join("saved.csv"), saved).unwrap();
    let again = call(&["study", "tell", path(&out.join("saved.csv"))]);
    assert_eq!((again.exit, &again.out), (0, &c.out), "{}", again.err);
    let none = "hold.bare[0].bored_diameter,hold.bare[0].force\n";
    fs::write(out.join("none.csv"), none).unwrap();
    let empty = call(&[
        "study",
        "tell",
        path(&out.join("none.csv")),
        "--study",
        &file,
    ]);
    assert_eq!(
        (empty.exit, empty.out.lines().count()),
        (0, 1),
        "{}",
        empty.err
    );
    // again, and among others: the columns the other way round, as some programs write them, one point twice
    let lines = points(&fs::read_to_string(&asked).unwrap());
    let (diameter, force) = lines[2].split_once(',').unwrap();
    let plain = diameter.trim_end_matches(" mm");
    let own = format!(
        "\u{feff}hold.bare[0].force,\"hold.bare[0].bored_diameter\"\r\n{force},\"{diameter}\"\r\n200,121\r\n200.0,121 mm\r\n{force},{plain}\r\n"
    );
    fs::write(folder.join("own.csv"), own).unwrap();
    let own = folder.join("own.csv");
    let c = call(&[
        "study",
        "tell",
        path(&own),
        "--study",
        &file,
        "--out",
        path(&out),
    ]);
    assert_eq!(c.exit, 0, "{}", c.err);
    assert!(
        c.err.contains("4 rows, 1 of them worked out now"),
        "{}",
        c.err
    );
    assert_eq!(column(&c.out, "row"), ["1", "3", "3", "1"]);
    assert_eq!(column(&c.out, "hold.bare[0].bored_diameter")[1], "121 mm");
    let told = fs::read_to_string(out.join("told.csv")).unwrap();
    let cases = column(&told, "case");
    assert_eq!(cases.len(), 4);
    assert_eq!(cases.iter().collect::<BTreeSet<_>>().len(), 4);
    // as a document, nothing worked out; strictly
    let args = [
        "study",
        "tell",
        path(&own),
        "--study",
        &file,
        "--out",
        path(&out),
        "--json",
    ];
    let c = call(&[&args[..], &["--strict"]].concat());
    let document: Value = serde_json::from_str(&c.out).unwrap();
    assert_eq!(document["format"], "ringwright-told-1");
    let row = &document["rows"][1];
    assert_eq!((&row["row"], &row["status"]), (&3.into(), &"ok".into()));
    assert!(row["released_roundness_bore_mm"].is_f64() && row["slip_safety"].is_null());
    assert!(
        document["cautions"][0]
            .as_str()
            .unwrap()
            .contains("can kill")
    );
    assert_eq!(c.exit, 1, "{}", c.err);
    // a table that broke off in its last line
    fs::write(out.join("told.csv"), &told[..told.len() - 5]).unwrap();
    let c = call(&[
        "study",
        "tell",
        path(&own),
        "--study",
        &file,
        "--out",
        path(&out),
    ]);
    assert!(
        c.err.contains("4 rows, 1 of them worked out now"),
        "{}",
        c.err
    );
    let again = fs::read_to_string(out.join("told.csv")).unwrap();
    assert_eq!(column(&again, "case"), cases);
}

/// What was set for `ask` holds for `tell`, and the rows that failed are rows.
#[test]
fn what_was_set_goes_with_the_points() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let file = asked_of(folder, FULL, VARIES);
    let out = folder.join("out");
    let set = ["--set", "part.length=25", "--hold", "bare", "--count", "2"];
    let c = ask(&file, &out, &set);
    assert_eq!(c.exit, 0, "{}", c.err);
    let asked = out.join("asked-1.csv");
    let c = call(&["study", "tell", path(&asked)]);
    assert_eq!(c.exit, 0, "{}", c.err);
    assert!(
        column(&c.out, "status")[0].contains("failed: loose: "),
        "{}",
        c.out
    );
    assert_eq!(column(&c.out, "status")[1], "ok");
    let table = folder.join("table");
    let args = [&["study", &file, "--out", path(&table)], &set[..4]].concat();
    assert_eq!(call(&args).exit, 0);
    let whole = fs::read_to_string(table.join("results.csv")).unwrap();
    assert_eq!(column(&c.out, "case")[1], column(&whole, "case")[1]);
    // without it they are points of another plan
    let c = call(&["study", "tell", path(&asked), "--set", "part.length=26"]);
    assert_eq!(c.exit, 3, "{}", c.err);
    assert!(c.err.contains("of another plan"), "{}", c.err);
    // the file is elsewhere
    let text = fs::read_to_string(&asked)
        .unwrap()
        .replace(&file, "gone.toml");
    fs::write(&asked, text).unwrap();
    let c = call(&["study", "tell", path(&asked)]);
    assert_eq!(c.exit, 3, "{}", c.err);
    assert!(
        c.err
            .contains("asked-1.csv:2: the study gone.toml is not there"),
        "{}",
        c.err
    );
    let c = call(&["study", "tell", path(&asked), "--study", &file]);
    assert_eq!(c.exit, 0, "{}", c.err);
}

/// What is wrong with points is told with file and line, and nothing is worked out.
#[test]
fn what_is_wrong_with_points_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let file = asked_of(folder, "design = \"sobol\"\ncount = 4", BOTH);
    let out = folder.join("out");
    let own = folder.join("own.csv");
    let header = "hold.bare[0].bored_diameter,hold.bare[0].force\n";
    for (text, words) in [
        (String::new(), "own.csv: is empty"),
        ("# nothing but this\n\n".into(), "own.csv: is empty"),
        (
            "hold.bare[0].force\n100\n".into(),
            "own.csv:1: there is no column hold.bare[0].bored_diameter",
        ),
        (
            header.replace('\n', ",x\n") + "121,100,1\n",
            "own.csv:1: the column x is none of the study's",
        ),
        (
            "a,a\n1,1\n".into(),
            "own.csv:1: the column a is there twice",
        ),
        ("a,\n1,1\n".into(), "own.csv:1: column 2 has no name"),
        (
            header.to_owned() + "121,100\n121\n",
            "own.csv:3: 1 cells, and the header has 2",
        ),
        (
            header.to_owned() + "121,100,\n",
            "own.csv:2: 3 cells, and the header has 2",
        ),
        (
            header.to_owned() + "\"121,100\n",
            "own.csv:2: a cell in quotes is not closed",
        ),
        (
            header.to_owned() + "121,\n",
            "own.csv:2: hold.bare[0].force is empty",
        ),
        (
            header.to_owned() + "121,abc\n",
            "own.csv:2: hold.bare[0].force is abc; give a number",
        ),
        (header.to_owned() + "121,nan\n", "give a number"),
        (header.to_owned() + "121,1e999\n", "give a number"),
        (
            header.to_owned() + "121,300.5\n",
            "own.csv:2: hold.bare[0].force is 300.5, outside of the study's 50 to 300",
        ),
        (
            header.to_owned() + "\"121,5\",100\n",
            "own.csv:2: hold.bare[0].bored_diameter is",
        ),
        (
            header.to_owned() + "4.8 in,100\n",
            "is in in, and the study has it in mm",
        ),
        (
            "# set: what\n".to_owned() + header + "121,100\n",
            "own.csv:1: ",
        ),
    ] {
        fs::write(&own, &text).unwrap();
        let c = call(&[
            "study",
            "tell",
            path(&own),
            "--study",
            &file,
            "--out",
            path(&out),
        ]);
        assert_eq!(c.exit, 3, "{text}: {}", c.err);
        assert!(c.err.contains(words), "{words}: {}", c.err);
        assert!(!out.exists());
    }
    fs::write(&own, header.to_owned() + "121,100\n").unwrap();
    let c = call(&["study", "tell", path(&own)]);
    assert_eq!(c.exit, 2, "{}", c.err);
    assert!(c.err.contains("give --study STUDY.toml"), "{}", c.err);
    fs::write(folder.join("latin.csv"), b"a\n\xe9\n").unwrap();
    let c = call(&[
        "study",
        "tell",
        path(&folder.join("latin.csv")),
        "--study",
        &file,
    ]);
    assert_eq!(c.exit, 3, "{}", c.err);
    let c = call(&[
        "study",
        "tell",
        path(&folder.join("none.csv")),
        "--study",
        &file,
    ]);
    assert_eq!(c.exit, 5, "{}", c.err);
    for args in [
        vec!["study", "ask", &file],
        vec!["study", "ask", &file, "--count", "0"],
    ] {
        assert_eq!(call(&args).exit, 2);
    }
    // a folder in the way, another's table
    fs::create_dir_all(out.join("told.csv")).unwrap();
    let tell = || {
        call(&[
            "study",
            "tell",
            path(&own),
            "--study",
            &file,
            "--out",
            path(&out),
        ])
    };
    assert_eq!(tell().exit, 5);
    fs::remove_dir(out.join("told.csv")).unwrap();
    fs::write(out.join("told.csv"), "my,own\n1,2\n").unwrap();
    let c = tell();
    assert_eq!(c.exit, 3, "{}", c.err);
    assert!(
        c.err
            .contains("told.csv:1: has other columns than this study"),
        "{}",
        c.err
    );
    assert_eq!(
        fs::read_to_string(out.join("told.csv")).unwrap(),
        "my,own\n1,2\n"
    );
}

/// A table of cases that is not one is told, too.
#[test]
fn what_is_wrong_with_a_table_of_cases_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    fs::write(folder.join("case.toml"), CASE).unwrap();
    for (table, words) in [
        ("", "cases.csv: is empty"),
        (
            "part.length\n",
            "cases.csv:1: no row stands below the header",
        ),
        ("part.length,part.length\n1,2\n", "is there twice"),
    ] {
        fs::write(folder.join("cases.csv"), table).unwrap();
        let design = "design = \"csv\"\ncases = \"cases.csv\"";
        let c = of_study(folder, design, "", &["--out", path(&folder.join("out"))]);
        assert_eq!(c.exit, 3, "{table}: {}", c.err);
        assert!(c.err.contains(words), "{words}: {}", c.err);
    }
}
