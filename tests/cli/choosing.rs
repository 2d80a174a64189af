//! The same case with other values and other holds: `--set`, `--hold`, `compare`, `study`.

use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

use serde_json::Value;

use crate::{CASE, Call, call};

/// A case with three holds, of which one squeezes the ring flat.
const HOLDS: &str = r#"title = "Ring"
[tolerance]
roundness = 0.02
[part]
outer_diameter = 120.0
bore_diameter = 110.0
length = 20.0
material = "bronze C93200"
[[hold.flat]]
scheme = "jaws"
count = 3
force = 400.0
width = 20.0
friction = 0.15
axial_stop = true
[[hold.bored]]
scheme = "jaws"
count = 3
force = { low = 180, high = 220 }
bored_diameter = 120.0
width = 60.0
friction = 0.15
axial_stop = true
[[hold.hard]]
scheme = "jaws"
count = 3
force = 200000.0
width = 20.0
[[step]]
hold = "flat"
[[step.cut]]
surface = "bore"
diameter = 111.0
tangential_force = 20
axial_force = 10
radial_force = 5
"#;

pub fn path(of: &Path) -> &str {
    of.to_str().unwrap()
}

/// Calls with a case in a folder, outputs in `out` there.
pub fn with(folder: &Path, case: &str, args: &[&str]) -> (Call, Value) {
    let file = folder.join("case.toml");
    fs::write(&file, case).unwrap();
    let out = folder.join("out");
    let file = path(&file).to_owned();
    let mut all = vec![args[0], &file, "--out", path(&out)];
    all.extend(&args[1..]);
    let found = call(&all);
    let name = match args[0] {
        "run" => "result.json",
        _ => "compare.json",
    };
    let text = fs::read_to_string(out.join(name)).unwrap_or_default();
    (found, serde_json::from_str(&text).unwrap_or(Value::Null))
}

/// What is set on the command line is solved as if the file had it, and is told.
#[test]
fn a_value_that_is_set_is_that_of_the_file() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let set = [
        "--set",
        "hold.bare[0].force=\"0.2 kN\"",
        "--set",
        "part.length=25",
    ];
    let (c, json) = with(
        folder,
        CASE,
        &[&["run", "--fields", "none"], &set[..]].concat(),
    );
    assert_eq!(c.exit, 0, "{}", c.err);
    let changed = CASE
        .replace("force = 150.0", "force = 200.0")
        .replace("length = 20.0", "length = 25.0");
    let (_, same) = with(folder, &changed, &["run", "--fields", "none"]);
    assert_eq!(json["steps"], same["steps"]);
    assert_ne!(json["case"]["sha256"], same["case"]["sha256"]);
    let assumed = json["assumed"].to_string();
    assert!(assumed.contains("set: part.length=25"), "{assumed}");
    // another hold in every step
    let (_, held) = with(folder, CASE, &["run", "--fields", "none", "--hold", "soft"]);
    assert_eq!(held["steps"][0]["hold"], "soft");
}

/// What cannot be set is told with its path, and what is wrong with a value says that it was set.
#[test]
fn what_cannot_be_set_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("case.toml");
    fs::write(&file, CASE).unwrap();
    for (args, exit, words) in [
        (
            ["--set", "hold.bare[4].force=1"],
            3,
            "hold.bare[4] is beyond the last",
        ),
        (["--set", "part.length=-3"], 3, "set to -3: "),
        (["--set", "part.lenght=3"], 3, "length"),
        (["--set", "part.length"], 2, "PATH=VALUE"),
        (["--hold", "nobody"], 3, "there is no hold \"nobody\""),
    ] {
        let c = call(&[&["check", path(&file)], &args[..]].concat());
        assert_eq!(c.exit, exit, "{args:?}: {}", c.err);
        assert!(c.err.contains(words), "{words}: {}", c.err);
    }
}

/// Every hold has a row, the best first; each row has the figures of `run` with that hold.
#[test]
fn holds_are_compared() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let (c, json) = with(folder, HOLDS, &["compare"]);
    assert_eq!(c.exit, 0, "{}", c.err);
    assert_eq!(json["format"], "ringwright-compare-1");
    assert_eq!(json["step"], 1);
    let rows = json["rows"].as_array().unwrap();
    let names: Vec<&str> = rows.iter().map(|r| r["hold"].as_str().unwrap()).collect();
    assert_eq!(names, ["bored", "flat", "hard"], "{}", c.out);
    assert_eq!(rows[0]["in_tolerance"], true);
    assert!(rows[0]["band"]["bore"][0].as_f64() < rows[0]["band"]["bore"][1].as_f64());
    assert!(rows[2]["rank"].is_null() && rows[2]["released_roundness"].is_null());
    let why = rows[2]["says"][0].as_str().unwrap();
    assert!(why.starts_with("No answer: "), "{why}");
    for row in &rows[..2] {
        let hold = row["hold"].as_str().unwrap();
        let (_, run) = with(folder, HOLDS, &["run", "--fields", "none", "--hold", hold]);
        let step = &run["steps"][0];
        let bore = &step["released"]["bore"]["roundness_minimum_zone"];
        assert_eq!(&row["released_roundness"]["bore"], bore, "{hold}");
        assert_eq!(row["slip_safety"], step["grip"]["slip_safety"], "{hold}");
        assert_eq!(row["force_window"], step["grip"]["force_window"], "{hold}");
    }
    assert!(c.out.contains("the best is \"bored\""), "{}", c.out);
    let words = c.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("can kill"), "{}", c.out);
    for line in c.out.lines().filter(|l| !l.starts_with("Written to ")) {
        assert!(line.chars().count() <= 105, "{line}");
    }
    let picture = fs::read_to_string(folder.join("out/compare.svg")).unwrap();
    assert!(picture.contains("no answer") && picture.contains("in tolerance"));
    // a zone that none meets
    let (c, json) = with(
        folder,
        HOLDS,
        &["compare", "--strict", "--set", "tolerance.roundness=1e-5"],
    );
    assert_eq!(c.exit, 1, "{}", c.err);
    assert!(c.out.contains("NO HOLD is in tolerance"), "{}", c.out);
    assert_eq!(json["rows"][0]["in_tolerance"], false);
    let (c, _) = with(folder, HOLDS, &["compare", "--step", "3"]);
    assert_eq!(c.exit, 3, "{}", c.err);
}

/// The cells of a line.
fn cells(line: &str) -> Vec<String> {
    let (mut all, mut quoted) = (vec![String::new()], false);
    for c in line.chars() {
        match c {
            '"' => quoted = !quoted,
            ',' if !quoted => all.push(String::new()),
            c => all.last_mut().unwrap().push(c),
        }
    }
    all
}

/// Rows of a table without the time that they took.
pub fn rows(file: &Path) -> Vec<Vec<String>> {
    let text = fs::read_to_string(file).unwrap();
    let mut all: Vec<Vec<String>> = text.lines().map(cells).collect();
    let seconds = all[0].iter().position(|c| c == "seconds").unwrap();
    for row in &mut all {
        row.remove(seconds);
    }
    all
}

/// A study of three forces and as many radii, one of which goes wrong.
pub fn study(folder: &Path, design: &str) -> String {
    let case = CASE.replace(
        "[mesh]\naround = 360\nthrough = 4\n",
        "[mesh]\naround = 120\nthrough = 2\n",
    );
    fs::write(folder.join("case.toml"), case).unwrap();
    let file = folder.join("study.toml");
    fs::write(
        &file,
        format!("title = \"Forces\"\n{design}\n[base]\ncase = \"case.toml\"\n"),
    )
    .unwrap();
    path(&file).to_owned()
}

pub const FULL: &str = "design = \"full\"";
pub const VARIES: &str = "[[vary]]\npath = \"hold.bare[0].bored_diameter\"\nvalues = [\"120 mm\", 121.2, 122.0]\n\
                      [[vary]]\npath = \"hold.bare[0].force\"\nfrom = 0\nto = 200\ncount = 3\n";

pub fn of_study(folder: &Path, design: &str, varies: &str, args: &[&str]) -> Call {
    let file = study(folder, design);
    let text = fs::read_to_string(&file).unwrap() + varies;
    fs::write(&file, text).unwrap();
    call(&[&["study", &file], args].concat())
}

/// Each row is what `run` says of that case; one that fails has its reason and stops nothing; threads and shards leave no trace.
#[test]
fn a_study_has_a_row_a_case() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let out = folder.join("whole");
    let c = of_study(folder, FULL, VARIES, &["--out", path(&out)]);
    assert_eq!(c.exit, 0, "{}", c.err);
    let all = rows(&out.join("results.csv"));
    assert_eq!(all.len(), 10, "{all:?}");
    let first = [
        "row",
        "status",
        "hold.bare[0].bored_diameter",
        "hold.bare[0].force",
        "held_roundness_outer_mm",
        "held_roundness_bore_mm",
        "released_roundness_outer_mm",
        "released_roundness_bore_mm",
        "yield_margin",
        "slip_safety",
        "estimate_relative_error",
        "case",
    ];
    assert_eq!(all[0][..12], first);
    assert!(all[1][1].starts_with("failed: loose: "), "{:?}", all[1]);
    assert_eq!(all[2][..4], ["1", "ok", "120 mm", "100"]);
    assert!(
        c.out.contains("9 cases") && c.out.contains("3 failed (loose)"),
        "{}",
        c.out
    );
    let map = fs::read_to_string(out.join("results.svg")).unwrap();
    assert!(map.contains("across: hold.bare[0].force"), "{map}");
    let json: Value =
        serde_json::from_str(&fs::read_to_string(out.join("study.json")).unwrap()).unwrap();
    assert_eq!(
        (&json["told"]["ok"], &json["told"]["failed"]["loose"]),
        (&6.into(), &3.into())
    );
    let names = &all[0];
    for (row, diameter, force) in [(1_usize, 120.0, 100.0), (8, 122.0, 200.0)] {
        let sets = [
            format!("hold.bare[0].bored_diameter={diameter:?}"),
            format!("hold.bare[0].force={force:?}"),
        ];
        let case = fs::read_to_string(folder.join("case.toml")).unwrap();
        let (c, run) = with(
            folder,
            &case,
            &[
                "run", "--fields", "none", "--set", &sets[0], "--set", &sets[1],
            ],
        );
        assert_eq!(c.exit, 0, "{}", c.err);
        let cells = &all[row + 1];
        let cell = |name: &str| -> f64 {
            let at = names.iter().position(|n| *n == name).unwrap();
            cells[at].parse().unwrap()
        };
        let step = &run["steps"][0];
        for (name, figure) in [
            (
                "held_roundness_bore_mm",
                &step["held"]["bore"]["roundness_least_squares"],
            ),
            (
                "released_roundness_bore_mm",
                &step["released"]["bore"]["roundness_least_squares"],
            ),
            (
                "bore_3_lobes_mm",
                &step["released"]["bore"]["harmonics"][2]["amplitude"],
            ),
            (
                "estimate_relative_error",
                &step["estimate"]["relative_error"],
            ),
        ] {
            let (found, told) = (cell(name), figure.as_f64().unwrap());
            assert!(
                (found / told - 1.0).abs() < 1e-8,
                "{name} of {row}: {found} {told}"
            );
        }
    }
    for (k, args) in [["--threads", "1"], ["--threads", "2"]].iter().enumerate() {
        let out = folder.join(format!("threads-{k}"));
        of_study(
            folder,
            FULL,
            VARIES,
            &[&args[..], &["--out", path(&out)]].concat(),
        );
        assert_eq!(rows(&out.join("results.csv")), all);
    }
    let shards = folder.join("shards");
    for k in 1..=4 {
        let c = of_study(
            folder,
            FULL,
            VARIES,
            &["--shard", &format!("{k}/4"), "--out", path(&shards)],
        );
        assert_eq!(c.exit, 0, "{}", c.err);
    }
    let c = call(&["study", "merge", path(&shards)]);
    assert_eq!(c.exit, 0, "{}", c.err);
    assert_eq!(rows(&shards.join("results.csv")), all);
    fs::remove_file(shards.join("results-2-of-4.csv")).unwrap();
    let c = call(&["study", "merge", path(&shards)]);
    assert_eq!(c.exit, 3, "{}", c.err);
    assert!(c.err.contains("a shard is missing"), "{}", c.err);
    assert_eq!(rows(&shards.join("results.csv")), all);
}

/// A table that broke off anywhere is gone on with; the rows of another plan are not.
#[test]
fn a_study_that_broke_off_is_gone_on_with() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let out = folder.join("out");
    of_study(folder, FULL, VARIES, &["--out", path(&out)]);
    let whole = fs::read_to_string(out.join("results.csv")).unwrap();
    let all = rows(&out.join("results.csv"));
    for at in [0, 5, whole.len() / 3, whole.len() - 1] {
        fs::remove_file(out.join("results.csv")).unwrap();
        fs::write(out.join("results.csv.part"), &whole[..at]).unwrap();
        let c = of_study(folder, FULL, VARIES, &["--resume", "--out", path(&out)]);
        assert_eq!(c.exit, 0, "{at}: {}", c.err);
        assert_eq!(rows(&out.join("results.csv")), all, "{at}");
    }
    // nothing is left to do
    let before = fs::read_to_string(out.join("results.csv")).unwrap();
    let c = of_study(folder, FULL, VARIES, &["--resume", "--out", path(&out)]);
    assert_eq!(c.exit, 0, "{}", c.err);
    assert_eq!(fs::read_to_string(out.join("results.csv")).unwrap(), before);
    let other = VARIES.replace("to = 200", "to = 300");
    let c = of_study(folder, FULL, &other, &["--resume", "--out", path(&out)]);
    assert_eq!(c.exit, 3, "{}", c.err);
    assert!(c.err.contains("another plan"), "{}", c.err);
    assert_eq!(fs::read_to_string(out.join("results.csv")).unwrap(), before);
}

/// Killed at some moment or other and gone on with, a study has the rows of one that was left alone.
#[test]
fn a_study_that_is_killed_loses_no_row() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let design = "design = \"sobol\"\ncount = 96\nseed = 4";
    let varies = "[[vary]]\npath = \"hold.bare[0].force\"\nfrom = 50\nto = 300\n";
    let alone = folder.join("alone");
    let c = of_study(folder, design, varies, &["--out", path(&alone)]);
    assert_eq!(c.exit, 0, "{}", c.err);
    let all = rows(&alone.join("results.csv"));
    let times = if std::env::var_os("RINGWRIGHT_LONG").is_some() {
        20
    } else {
        5
    };
    let out = folder.join("killed");
    let file = folder.join("study.toml");
    for k in 0..times {
        let _ = fs::remove_dir_all(&out);
        let mut kills = 0;
        loop {
            let mut run = Command::new(env!("CARGO_BIN_EXE_ringwright"))
                .args([
                    "study",
                    path(&file),
                    "--resume",
                    "--threads",
                    "1",
                    "--quiet",
                    "--out",
                    path(&out),
                ])
                .stderr(Stdio::null())
                .spawn()
                .unwrap();
            if kills < 2 {
                std::thread::sleep(Duration::from_millis(20 + 23 * (k + 3 * kills)));
                let _ = run.kill();
                kills += 1;
            }
            if run.wait().unwrap().success() {
                break;
            }
        }
        assert_eq!(rows(&out.join("results.csv")), all, "killed {k}");
    }
}

/// On a full disk the exit is 5, and the rows that are finished stay.
#[test]
#[cfg(target_os = "linux")]
fn a_full_disk_keeps_the_rows_that_are_there() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let Some(disk) = crate::files::SmallDisk::mount(&folder.join("disk")) else {
        return;
    };
    disk.resize(96 * 1024);
    let design = "design = \"latin-hypercube\"\ncount = 150\nseed = 4";
    let varies = "[[vary]]\npath = \"hold.bare[0].force\"\nmean = 150\nstandard_deviation = 10\n";
    let out = disk.0.join("out");
    let c = of_study(folder, design, varies, &["--out", path(&out)]);
    assert_eq!(c.exit, 5, "{}", c.err);
    let kept = fs::read_to_string(out.join("results.csv.part")).unwrap();
    assert!(kept.lines().count() > 10);
    disk.resize(4 << 20);
    let c = of_study(folder, design, varies, &["--resume", "--out", path(&out)]);
    assert_eq!(c.exit, 0, "{}", c.err);
    let whole = fs::read_to_string(out.join("results.csv")).unwrap();
    assert_eq!(whole.lines().count(), 151);
    let last = kept.rfind('\n').unwrap();
    assert!(whole.starts_with(&kept[..last]));
}

/// What is wrong with a study is told with its place; a path that no case has is a fault of the study, not of every row.
#[test]
fn what_is_wrong_with_a_study_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let vary = |keys: &str| format!("[[vary]]\npath = \"hold.bare[0].force\"\n{keys}\n");
    for (design, varies, words) in [
        ("design = \"full\"", String::new(), "nothing varies"),
        ("design = \"grid\"", String::new(), "unknown variant"),
        (
            "design = \"full\"\ncount = 3",
            vary("values = [1, 2]"),
            "leave it out",
        ),
        (
            "design = \"sobol\"",
            vary("from = 1\nto = 2"),
            "count is missing",
        ),
        ("design = \"full\"", vary("from = 3\nto = 2"), "no range"),
        ("design = \"full\"", vary("from = 3"), "give values"),
        (
            "design = \"full\"",
            vary("from = \"1 N\"\nto = \"1 kN\""),
            "one unit",
        ),
        ("design = \"full\"", vary("values = []"), "values is empty"),
        (
            "design = \"full\"\nsede = 3",
            vary("values = [1]"),
            "unknown field",
        ),
        ("design = \"csv\"", String::new(), "needs cases"),
        (
            "design = \"full\"",
            vary("values = [1]").replace("force", "froce"),
            "froce",
        ),
        (
            "design = \"full\"",
            vary("values = [1]").replace("[0]", "[3]"),
            "beyond the last",
        ),
    ] {
        let c = of_study(
            folder,
            design,
            &varies,
            &["--out", path(&folder.join("out"))],
        );
        assert_eq!(c.exit, 3, "{design} {varies}: {}", c.err);
        assert!(c.err.contains(words), "{words}: {}", c.err);
    }
    for args in [["--shard", "0/3"], ["--shard", "4/3"], ["--shard", "x"]] {
        let c = of_study(folder, FULL, VARIES, &args);
        assert_eq!(c.exit, 2, "{args:?}: {}", c.err);
    }
}

/// A table of cases, in which the hold varies too.
#[test]
fn a_table_of_cases_is_a_plan() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let table = "# by hand\nstep[0].hold,part.length\nbare,20\nsoft,\"25 mm\"\nnobody,30\n";
    fs::write(folder.join("cases.csv"), table).unwrap();
    let out = folder.join("out");
    let c = of_study(
        folder,
        "design = \"csv\"\ncases = \"cases.csv\"",
        "",
        &["--out", path(&out)],
    );
    assert_eq!(c.exit, 0, "{}", c.err);
    let all = rows(&out.join("results.csv"));
    assert_eq!(all[1][..4], ["0", "ok", "bare", "20"]);
    assert_eq!(all[2][..4], ["1", "ok", "soft", "25 mm"]);
    let why = "failed: input: step[0].hold: set to nobody";
    assert!(all[3][1].starts_with(why), "{:?}", all[3]);
    fs::write(folder.join("cases.csv"), "step[0].hold,part.length\nbare\n").unwrap();
    let c = of_study(
        folder,
        "design = \"csv\"\ncases = \"cases.csv\"",
        "",
        &["--out", path(&out)],
    );
    assert_eq!(c.exit, 3);
    assert!(
        c.err.contains(":2: 1 cells, and the header has 2"),
        "{}",
        c.err
    );
}

/// A size is told in words and as a document; one that nothing meets is exit 1 with `--strict`.
#[test]
fn a_jaw_is_sized() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let table = "[size]\nhold = \"flat\"\n[size.free]\n\"hold.flat[0].force\" = [20.0, 400.0]\n[size.spread]\n\"part.outer_diameter\" = 0.02\n";
    let case = HOLDS.to_owned() + table;
    let file = folder.join("case.toml");
    fs::write(&file, &case).unwrap();
    let out = folder.join("out");
    let size = |more: &[&str]| call(&[&["size", path(&file), "--out", path(&out)], more].concat());
    let c = size(&[]);
    assert_eq!(c.exit, 0, "{}", c.err);
    let document = || -> Value {
        serde_json::from_str(&fs::read_to_string(out.join("size.json")).unwrap()).unwrap()
    };
    let json = document();
    assert_eq!(json["format"], "ringwright-size-1");
    assert_eq!(json["feasible"], false);
    assert!(json["drawing"].as_array().unwrap().is_empty());
    let words = c.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("NO SIZE between the bounds"), "{}", c.out);
    assert!(words.contains("No drawing of these jaws"), "{}", c.out);
    assert_eq!(size(&["--strict"]).exit, 1);
    let c = size(&["--strict", "--set", "tolerance.roundness=0.3"]);
    assert_eq!(c.exit, 0, "{}", c.err);
    let json = document();
    assert_eq!(json["feasible"], true);
    let path_of = "hold.flat[0].force";
    let best = json["best"][path_of].as_f64().unwrap();
    let window = &json["window"][path_of];
    let [low, high] = ["low", "high"].map(|e| window[e].as_f64().unwrap());
    assert!(low < best && best < high, "{window}");
    assert_eq!(window["limited_by"][0], "slip");
    assert!(json["bears"]["part.outer_diameter"].as_f64().unwrap() >= 0.02);
    assert_eq!(json["sensitivity"].as_array().unwrap().len(), 2);
    let words = c.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        words.contains("can kill") && words.contains("the guideline asks for 1.5"),
        "{}",
        c.out
    );
    let [jaws] = &json["drawing"].as_array().unwrap()[..] else {
        panic!("{}", json["drawing"]);
    };
    assert_eq!(jaws["shape"], "flat");
    assert!(jaws["face"].is_null() && jaws["preload"].is_null());
    assert!(
        words.contains("Jaws 1 to 3") && words.contains("Flat face."),
        "{}",
        c.out
    );
    // what is wrong
    let nine: String = (0..9).map(|k| format!("\"a{k}\" = [1.0, 2.0]\n")).collect();
    for (from, to, words) in [
        (table, "", "give [size]"),
        (
            "hold = \"flat\"\n[size.free]",
            "hold = \"six\"\n[size.free]",
            "no step holds the part",
        ),
        ("[20.0, 400.0]", "[400.0, 20.0]", "lower bound first"),
        ("[20.0, 400.0]", "[20.0]", "size"),
        (
            "\"hold.flat[0].force\" = [20.0, 400.0]\n",
            nine.as_str(),
            "9 keys are free; give 1 to 8",
        ),
        (
            "\"part.outer_diameter\" = 0.02",
            "\"part.outer_diameter\" = 0",
            "above zero",
        ),
        (
            "\"part.outer_diameter\" = 0.02",
            "\"part.nothing\" = 1",
            "no number there",
        ),
        (
            "\"hold.flat[0].force\" =",
            "\"hold.flat[7].force\" =",
            "beyond the last",
        ),
    ] {
        fs::write(&file, case.replace(from, to)).unwrap();
        let c = size(&[]);
        assert!(c.exit == 3 || c.exit == 4, "{to}: {}", c.err);
        assert!(c.err.contains(words), "{words}: {}", c.err);
    }
}

/// Rows are never lost by a flag that was forgotten, a file of somebody else's, or a table that was changed by hand; a merged table says what a whole one says.
#[test]
fn what_is_there_is_not_written_over() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let out = folder.join("out");
    let c = of_study(folder, FULL, VARIES, &["--out", path(&out)]);
    assert_eq!(c.exit, 0, "{}", c.err);
    let whole = fs::read_to_string(out.join("results.csv")).unwrap();
    let told = |dir: &Path| -> Value {
        let text = fs::read_to_string(dir.join("study.json")).unwrap();
        serde_json::from_str::<Value>(&text).unwrap()["told"].clone()
    };
    // begun, and called again without --resume
    let half: String = whole.split_inclusive('\n').take(5).collect();
    fs::remove_file(out.join("results.csv")).unwrap();
    fs::write(out.join("results.csv.part"), &half).unwrap();
    let c = of_study(folder, FULL, VARIES, &["--out", path(&out)]);
    assert_eq!(c.exit, 3, "{}", c.err);
    assert!(
        c.err
            .contains("4 rows of this study already: go on with --resume"),
        "{}",
        c.err
    );
    assert_eq!(
        fs::read_to_string(out.join("results.csv.part")).unwrap(),
        half
    );
    // a row taken out by hand
    let mut lines: Vec<&str> = half.split_inclusive('\n').collect();
    lines.remove(2);
    fs::write(out.join("results.csv.part"), lines.concat()).unwrap();
    let c = of_study(folder, FULL, VARIES, &["--resume", "--out", path(&out)]);
    assert_eq!(c.exit, 3, "{}", c.err);
    assert!(c.err.contains("row 1 comes next"), "{}", c.err);
    // rows of another plan, and somebody else's table
    let other = VARIES.replace("to = 200", "to = 300");
    let c = of_study(folder, FULL, &other, &["--out", path(&out)]);
    assert_eq!(c.exit, 3, "{}", c.err);
    let own = folder.join("own");
    fs::create_dir(&own).unwrap();
    fs::write(own.join("results.csv"), "my,data\n1,2\n").unwrap();
    let c = of_study(folder, FULL, VARIES, &["--out", path(&own)]);
    assert_eq!(c.exit, 5, "{}", c.err);
    assert_eq!(
        fs::read_to_string(own.join("results.csv")).unwrap(),
        "my,data\n1,2\n"
    );
    // what shares say together
    let shards = folder.join("shards");
    for k in 1..=2 {
        let c = of_study(
            folder,
            FULL,
            VARIES,
            &["--shard", &format!("{k}/2"), "--out", path(&shards)],
        );
        assert_eq!(c.exit, 0, "{}", c.err);
    }
    assert_eq!(call(&["study", "merge", path(&shards)]).exit, 0);
    let again = folder.join("again");
    of_study(folder, FULL, VARIES, &["--out", path(&again)]);
    assert_eq!(told(&shards), told(&again));
    assert_eq!(told(&again)["ok"], 6);
}

/// A row of a force within a band has the safety, and the judgement, of its worse end, as `run` has; sizes count by how far they are off the middle of their limits.
#[test]
fn a_row_is_judged_as_a_run_is() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let file = study(folder, FULL);
    let case = HOLDS.to_owned() + "[tolerance.bore]\naverage_diameter = [110.9, 111.1]\n";
    fs::write(folder.join("case.toml"), &case).unwrap();
    let varies = "[[vary]]\npath = \"step[0].hold\"\nvalues = [\"bored\", \"flat\"]\n";
    fs::write(&file, fs::read_to_string(&file).unwrap() + varies).unwrap();
    let out = folder.join("table");
    let c = call(&["study", &file, "--out", path(&out)]);
    assert_eq!(c.exit, 0, "{}", c.err);
    let all = rows(&out.join("results.csv"));
    let cell = |row: usize, name: &str| -> f64 {
        let at = all[0].iter().position(|n| n == name).unwrap();
        all[row][at].parse().unwrap()
    };
    for (row, hold) in [(1, "bored"), (2, "flat")] {
        let (_, run) = with(folder, &case, &["run", "--fields", "none", "--hold", hold]);
        let safety = run["steps"][0]["grip"]["slip_safety"].as_f64().unwrap();
        assert!(
            (cell(row, "slip_safety") / safety - 1.0).abs() < 1e-8,
            "{hold}"
        );
        let limits = run["verdict"]["limits"].as_array().unwrap();
        let zone = limits.iter().find(|l| l["limit"] == "roundness").unwrap();
        let used = zone["found"][1].as_f64().unwrap() / zone["allowed"][1].as_f64().unwrap();
        assert!(
            (cell(row, "tolerance_used") / used - 1.0).abs() < 1e-8,
            "{hold}: {used}"
        );
    }
}
