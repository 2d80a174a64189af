//! Sensitivity indices of a study, and whole numbers in sampled designs.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use serde_json::Value;

use super::choosing::{of_study, path, rows};
use crate::{Call, call};

const DESIGN: &str = "design = \"sobol\"\nindices = true\ncount = 64\nseed = 3";
const VARIES: &str = "[[vary]]\npath = \"hold.bare[0].force\"\nfrom = 100\nto = 200\n\
                      [[vary]]\npath = \"step[0].hold\"\nvalues = [\"bare\"]\n\
                      [[vary]]\npath = \"part.length\"\nmean = 20.0\nstandard_deviation = 0.05\n\
                      [[vary]]\npath = \"hold.soft[0].half_angle\"\nfrom = 9.0\nto = 11.0\n";

fn document(out: &Path) -> Value {
    serde_json::from_str(&fs::read_to_string(out.join("study.json")).unwrap()).unwrap()
}

/// What is printed, in one line.
fn words(c: &Call) -> String {
    c.out.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// First order and total of each key of a figure.
fn of<'a>(told: &'a Value, output: &str) -> BTreeMap<&'a str, &'a Value> {
    let all = told["indices"].as_array().unwrap();
    let one = all.iter().find(|i| i["output"] == output).unwrap();
    let indices = one["indices"].as_array().unwrap().iter();
    indices.map(|i| (i["path"].as_str().unwrap(), i)).collect()
}

/// The indices of a column by hand: the rows of each point are A, A with one key from B after the other, B.
fn by_hand(all: &[Vec<String>], output: &str, keys: usize) -> Vec<[f64; 2]> {
    let at = all[0].iter().position(|n| n == output).unwrap();
    let y: Vec<f64> = all[1..].iter().map(|r| r[at].parse().unwrap()).collect();
    let points: Vec<&[f64]> = y.chunks(keys + 2).collect();
    let n = points.len() as f64;
    let ends = || points.iter().flat_map(|p| [p[0], p[keys + 1]]);
    let mean = ends().sum::<f64>() / (2.0 * n);
    let variance = ends().map(|y| (y - mean).powi(2)).sum::<f64>() / (2.0 * n);
    let of = |k: usize| {
        let first = points
            .iter()
            .map(|p| (p[keys + 1] - mean) * (p[k + 1] - p[0]));
        let total = points.iter().map(|p| 0.5 * (p[0] - p[k + 1]).powi(2));
        [
            first.sum::<f64>() / n / variance,
            total.sum::<f64>() / n / variance,
        ]
    };
    (0..keys).map(of).collect()
}

/// Where the spread comes from is told in the document and in words, from all rows; a key of a hold that nobody takes does nothing, and one with a single value costs no rows.
#[test]
fn indices_are_told_with_their_intervals() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let out = folder.join("out");
    let c = of_study(folder, DESIGN, VARIES, &["--out", path(&out)]);
    assert_eq!(c.exit, 0, "{}", c.err);
    let json = document(&out);
    assert_eq!(json["rows"], 64 * 5);
    let sampling = &json["sampling"];
    let keys = [
        "hold.bare[0].force",
        "part.length",
        "hold.soft[0].half_angle",
    ];
    assert_eq!(sampling["factors"], serde_json::json!(keys));
    assert_eq!(sampling["base"], 64);
    let all = rows(&out.join("results.csv"));
    // rows of one point: A, A with a key from B, B
    for point in all[1..].chunks(5) {
        for (k, column) in [2, 4, 5].into_iter().enumerate() {
            for row in 0..4 {
                let from = if row == k + 1 { 4 } else { 0 };
                assert_eq!(point[row][column], point[from][column], "{point:?}");
            }
        }
    }
    let told = &json["told"];
    for output in ["held_roundness_bore_mm", "released_roundness_bore_mm"] {
        let found = of(told, output);
        for (key, truth) in keys.iter().zip(by_hand(&all, output, 3)) {
            for (order, truth) in ["first", "total"].iter().zip(truth) {
                let one = &found[key][order];
                let [value, low, high] = ["value", "low", "high"].map(|k| one[k].as_f64().unwrap());
                assert!(
                    (value - truth).abs() < 1e-9,
                    "{output} {key}: {one} {truth}"
                );
                assert!(low <= value && value <= high, "{one}");
            }
        }
        let force = &found[keys[0]];
        assert!(force["first"]["low"].as_f64() > Some(0.5), "{force}");
        let idle = &found[keys[2]];
        assert_eq!(idle["total"]["value"], 0.0);
        let says = idle["says"].as_str().unwrap();
        assert!(says.starts_with("indistinguishable from 0"), "{says}");
    }
    let outputs: Vec<&str> = told["indices"]
        .as_array()
        .unwrap()
        .iter()
        .map(|i| i["output"].as_str().unwrap())
        .collect();
    assert_eq!(outputs.len(), 7);
    let words = words(&c);
    for said in [
        "from a base sample of 64 ",
        "To narrow its spread, tighten hold.bare[0].force first",
        "Indistinguishable from 0: hold.soft[0].half_angle.",
        "No indices of Safety against slip: not known in any row.",
        "the same in every row (",
        "from the 128 rows that are drawn independently)",
        "can kill",
    ] {
        assert!(words.contains(said), "{said}: {}", c.out);
    }
    for line in c.out.lines().filter(|l| !l.starts_with("Written to ")) {
        assert!(line.chars().count() <= 100, "{line}");
    }
    let once = call(&[
        "study",
        path(&folder.join("study.toml")),
        "--resume",
        "--json",
        "--out",
        path(&out),
    ]);
    assert_eq!(once.exit, 0, "{}", once.err);
    let again: Value = serde_json::from_str(&once.out).unwrap();
    assert_eq!(&again["told"], told);
}

/// Shares say what the whole says; a table that was sorted or edited is refused with its first line that differs.
#[test]
fn the_order_of_the_rows_is_checked() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let varies = "[[vary]]\npath = \"hold.bare[0].force\"\nfrom = 100\nto = 200\n\
                  [[vary]]\npath = \"hold.bare[0].count\"\nfrom = 3\nto = 6\n";
    let [out, shards] = ["out", "shards"].map(|n| folder.join(n));
    let c = of_study(folder, DESIGN, varies, &["--out", path(&out)]);
    assert_eq!(c.exit, 0, "{}", c.err);
    let whole = document(&out);
    assert_eq!(
        whole["sampling"]["whole"],
        serde_json::json!(["hold.bare[0].count"])
    );
    assert!(
        words(&c).contains("The choice of hold.bare[0].count matters most"),
        "{}",
        c.out
    );
    for k in 1..=3 {
        let shard = format!("{k}/3");
        let c = of_study(
            folder,
            DESIGN,
            varies,
            &["--shard", &shard, "--out", path(&shards)],
        );
        assert_eq!(c.exit, 0, "{}", c.err);
        assert!(!c.out.contains("Where the spread"), "{}", c.out);
    }
    let merge = || call(&["study", "merge", path(&shards)]);
    let c = merge();
    assert_eq!(c.exit, 0, "{}", c.err);
    assert_eq!(document(&shards)["told"], whole["told"]);
    assert!(
        words(&c).contains("Where the spread comes from"),
        "{}",
        c.out
    );
    // edited in a share
    let second = shards.join("results-2-of-3.csv");
    let text = fs::read_to_string(&second).unwrap();
    let line = text.lines().nth(4).unwrap();
    let (number, force) = {
        let cells: Vec<&str> = line.split(',').collect();
        (cells[0].parse::<usize>().unwrap(), cells[2].to_owned())
    };
    fs::write(&second, text.replacen(&force, "150", 1)).unwrap();
    let c = merge();
    assert_eq!(c.exit, 3, "{}", c.err);
    let said = format!(
        "results.csv:{}: hold.bare[0].force is 150, and {force} in the plan",
        number + 2
    );
    assert!(c.err.contains(&said), "{said}: {}", c.err);
    // sorted, and edited in the whole table
    let table = out.join("results.csv");
    let text = fs::read_to_string(&table).unwrap();
    let mut lines: Vec<&str> = text.lines().collect();
    lines[20..].sort_unstable_by_key(|l| l.split(',').nth(2).unwrap().to_owned());
    // numbered anew, as a spreadsheet fills a column
    let numbered = |(k, line): (usize, &&str)| match k {
        0 => (*line).to_owned(),
        k => format!("{},{}", k - 1, line.split_once(',').unwrap().1),
    };
    let sorted: Vec<String> = lines.iter().enumerate().map(numbered).collect();
    fs::write(&table, sorted.join("\n") + "\n").unwrap();
    let c = of_study(folder, DESIGN, varies, &["--resume", "--out", path(&out)]);
    assert_eq!(c.exit, 3, "{}", c.err);
    assert!(
        c.err.contains("results.csv:21: ") && c.err.contains("sorted or edited"),
        "{}",
        c.err
    );
    // a plan that was edited
    fs::write(shards.join("results-2-of-3.csv"), &text).unwrap();
    let json = fs::read_to_string(shards.join("study.json")).unwrap();
    fs::write(
        shards.join("study.json"),
        json.replace("seed = 3", "seed = 4"),
    )
    .unwrap();
    let c = merge();
    assert_eq!(c.exit, 3, "{}", c.err);
    assert!(
        c.err.contains("`sampling` does not give the rows"),
        "{}",
        c.err
    );
    fs::write(
        shards.join("study.json"),
        json.replace("\"sha256\"", "\"sha\""),
    )
    .unwrap();
    let c = merge();
    assert_eq!(c.exit, 3, "{}", c.err);
    assert!(
        c.err.contains("`sampling` is not as it was written"),
        "{}",
        c.err
    );
}

/// Nothing is estimated from the rows that are left.
#[test]
fn rows_that_failed_are_counted_not_left_out() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let out = folder.join("out");
    let varies = VARIES.replace("from = 100\n", "from = -20\n");
    let c = of_study(folder, DESIGN, &varies, &["--out", path(&out)]);
    assert_eq!(c.exit, 0, "{}", c.err);
    let json = document(&out);
    let failed: u64 = json["told"]["failed"]
        .as_object()
        .unwrap()
        .values()
        .map(|n| n.as_u64().unwrap())
        .sum();
    assert!(failed > 0 && failed < 320, "{failed}");
    let why = format!("not known in {failed} of 320 rows (they failed)");
    for one in json["told"]["indices"].as_array().unwrap() {
        assert_eq!(one["indices"], serde_json::json!([]));
        let said = one["unavailable"].as_str().unwrap();
        assert!(
            said.contains(&why) || one["output"] == "slip_safety",
            "{one}"
        );
    }
    assert!(
        words(&c).contains("none is estimated from what is left"),
        "{}",
        c.out
    );
}

/// What is no plan of indices is told at its line, with what would be right.
#[test]
fn what_has_no_indices_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    fs::write(folder.join("cases.csv"), "part.length\n20\n").unwrap();
    let one = "[[vary]]\npath = \"part.length\"\nfrom = 19.0\nto = 21.0\n";
    for (design, varies, said) in [
        (
            DESIGN.replace("64", "100"),
            VARIES,
            "study.toml:4:9: count: count is 100; with indices it is the base sample, a power of two from 64 on: give 64 or 128",
        ),
        (DESIGN.replace("64", "1"), VARIES, "give 64 or 128"),
        (
            DESIGN.replace("64", "4194304"),
            VARIES,
            "makes 20971520 rows",
        ),
        (
            DESIGN.replace("count = 64\n", ""),
            VARIES,
            "study.toml:3:11: indices: count is missing",
        ),
        (
            DESIGN.replace("sobol", "latin-hypercube"),
            VARIES,
            "a design \"latin-hypercube\" has no indices",
        ),
        (
            "design = \"full\"\nindices = true".into(),
            VARIES,
            "a design \"full\" has no indices",
        ),
        (
            "design = \"csv\"\ncases = \"cases.csv\"\nindices = true".into(),
            "",
            "a design \"csv\" has no indices",
        ),
        (DESIGN.into(), one, "fewer than two vary"),
        (DESIGN.replace("true", "\"yes\""), VARIES, "study.toml:3"),
    ] {
        let c = of_study(
            folder,
            &design,
            varies,
            &["--out", path(&folder.join("out"))],
        );
        assert_eq!(c.exit, 3, "{design}: {}", c.err);
        assert!(c.err.contains(said), "{said}: {}", c.err);
        assert!(!folder.join("out").exists());
    }
}

/// A key that takes whole numbers alone is drawn so, each as often; one that takes others too is not, however it is typed.
#[test]
fn whole_numbers_are_drawn_whole() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let varies = "[[vary]]\npath = \"hold.bare[0].count\"\nfrom = 3\nto = 6\n\
                  [[vary]]\npath = \"hold.bare[0].force\"\nfrom = 100\nto = 200\n\
                  [[vary]]\npath = \"mesh.around\"\nfrom = 120\nto = 127\n";
    for design in ["sobol", "latin-hypercube"] {
        let out = folder.join(design);
        let c = of_study(
            folder,
            &format!("design = \"{design}\"\ncount = 32"),
            varies,
            &["--out", path(&out)],
        );
        assert_eq!(c.exit, 0, "{}", c.err);
        let all = rows(&out.join("results.csv"));
        let column = |k: usize| -> BTreeMap<String, u32> {
            let mut counts = BTreeMap::new();
            for row in &all[1..] {
                assert_eq!(row[1], "ok");
                *counts.entry(row[k].clone()).or_default() += 1;
            }
            counts
        };
        let jaws: Vec<(String, u32)> = column(2).into_iter().collect();
        assert_eq!(
            jaws,
            ["3", "4", "5", "6"].map(|n| (n.to_owned(), 8)),
            "{design}"
        );
        assert!(column(3).keys().all(|f| f.contains('.')), "{:?}", column(3));
        assert_eq!(column(4).len(), 8);
    }
}
