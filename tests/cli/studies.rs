//! What a study leaves beside its table: typed columns, the map of a merged one, profiles; and how `--strict` ends it.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

use serde_json::Value;

use crate::call;
use crate::choosing::{FULL, VARIES, of_study, path, rows, with};

fn json(file: &Path) -> Value {
    serde_json::from_str(&fs::read_to_string(file).unwrap()).unwrap()
}

/// Files of a folder by name.
fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let entries = fs::read_dir(folder).unwrap().map(Result::unwrap);
    let files = entries.filter(|e| e.path().is_file());
    files
        .map(|e| {
            let name = e.file_name().into_string().unwrap();
            (name, fs::read(e.path()).unwrap())
        })
        .collect()
}

#[cfg(feature = "parquet")]
mod typed {
    use parquet::basic::Type as Physical;
    use parquet::file::reader::{FileReader, SerializedFileReader};
    use parquet::record::Field;

    use super::*;

    /// The columns of a file with their types, its rows as text, and the document in it.
    fn read(file: &Path) -> (Vec<(String, Physical)>, Vec<Vec<String>>, Value) {
        let reader = SerializedFileReader::new(fs::File::open(file).unwrap()).unwrap();
        let meta = reader.metadata().file_metadata();
        let columns = meta.schema_descr().columns().iter();
        let columns = columns.map(|c| (c.name().to_owned(), c.physical_type()));
        let keys = meta.key_value_metadata().unwrap();
        let document = keys.iter().find(|k| k.key == "ringwright-study-1").unwrap();
        let document = serde_json::from_str(document.value.as_ref().unwrap()).unwrap();
        let text = |field: &Field| match field {
            Field::Null => String::new(),
            Field::Long(n) => n.to_string(),
            Field::Double(x) => x.to_string(),
            Field::Bool(flag) => flag.to_string(),
            Field::Str(text) => text.clone(),
            other => panic!("{other:?}"),
        };
        let all = reader.get_row_iter(None).unwrap();
        let all = all.map(|row| {
            row.unwrap()
                .get_column_iter()
                .map(|(_, f)| text(f))
                .collect()
        });
        (columns.collect(), all.collect(), document)
    }

    /// The rows of both files, without the time they took, which is cut at the same digits.
    fn same(folder: &Path) {
        let csv = rows(&folder.join("results.csv"));
        let (columns, mut typed, document) = read(&folder.join("results.parquet"));
        let names: Vec<&str> = columns.iter().map(|(n, _)| n.as_str()).collect();
        let seconds = names.iter().position(|n| *n == "seconds").unwrap();
        for row in &mut typed {
            row.remove(seconds);
        }
        assert_eq!(typed, csv[1..]);
        assert_eq!(document, json(&folder.join("study.json")));
    }

    /// The typed table has the columns, the rows and the document of the other.
    #[test]
    fn a_whole_table_has_typed_columns_beside_it() {
        let folder = tempfile::tempdir().unwrap();
        let folder = folder.path();
        let out = folder.join("out");
        let c = of_study(folder, FULL, VARIES, &["--out", path(&out)]);
        assert_eq!(c.exit, 0, "{}", c.err);
        assert!(
            c.out
                .contains("results.csv, results.svg, results.parquet, study.json")
        );
        same(&out);
        let (columns, ..) = read(&out.join("results.parquet"));
        let columns: BTreeMap<String, Physical> = columns.into_iter().collect();
        for (name, of) in [
            ("row", Physical::INT64),
            ("status", Physical::BYTE_ARRAY),
            // "120 mm" is none of the numbers beside it
            ("hold.bare[0].bored_diameter", Physical::BYTE_ARRAY),
            ("hold.bare[0].force", Physical::DOUBLE),
            ("slip_safety", Physical::DOUBLE),
            ("seconds", Physical::DOUBLE),
            ("in_tolerance", Physical::BOOLEAN),
            ("case", Physical::BYTE_ARRAY),
            ("cautions", Physical::BYTE_ARRAY),
        ] {
            assert_eq!(columns[name], of, "{name}");
        }
        // shares have none, and the merged one has
        let shards = folder.join("shards");
        for k in 1..=2 {
            let shard = format!("{k}/2");
            let args = ["--shard", &shard, "--out", path(&shards)];
            assert_eq!(of_study(folder, FULL, VARIES, &args).exit, 0);
        }
        assert!(!files(&shards).keys().any(|name| name.ends_with(".parquet")));
        let c = call(&["study", "merge", path(&shards)]);
        assert_eq!(c.exit, 0, "{}", c.err);
        same(&shards);
        let types = |dir: &Path| read(&dir.join("results.parquet")).0;
        assert_eq!(types(&shards), types(&out));
        // made again for a table that is whole
        fs::remove_file(out.join("results.parquet")).unwrap();
        let c = of_study(folder, FULL, VARIES, &["--resume", "--out", path(&out)]);
        assert_eq!(c.exit, 0, "{}", c.err);
        same(&out);
    }

    /// Typed columns of rows that are gone never lie beside others; somebody else's file is left alone, before any work is done.
    #[test]
    fn typed_columns_are_those_of_the_table_beside_them() {
        let folder = tempfile::tempdir().unwrap();
        let folder = folder.path();
        let out = folder.join("out");
        of_study(folder, FULL, VARIES, &["--out", path(&out)]);
        let old = fs::read(out.join("results.parquet")).unwrap();
        for name in ["results.csv", "study.json", "results.svg"] {
            fs::remove_file(out.join(name)).unwrap();
        }
        let other = VARIES.replace("to = 200", "to = 300");
        let c = of_study(folder, FULL, &other, &["--out", path(&out)]);
        assert_eq!(c.exit, 0, "{}", c.err);
        same(&out);
        assert_ne!(fs::read(out.join("results.parquet")).unwrap(), old);
        let own = folder.join("own");
        fs::create_dir(&own).unwrap();
        fs::write(own.join("results.parquet"), "PAR1 of somebody else's PAR1").unwrap();
        let c = of_study(folder, FULL, VARIES, &["--out", path(&own)]);
        assert_eq!(c.exit, 5, "{}", c.err);
        assert!(c.err.contains("results.parquet"), "{}", c.err);
        let kept = fs::read(own.join("results.parquet")).unwrap();
        assert_eq!(kept, b"PAR1 of somebody else's PAR1");
        assert!(!own.join("results.csv").exists());
        fs::remove_file(own.join("results.parquet")).unwrap();
        fs::create_dir(own.join("results.parquet")).unwrap();
        let c = of_study(folder, FULL, VARIES, &["--out", path(&own)]);
        assert_eq!(c.exit, 5, "{}", c.err);
        assert!(!own.join("results.csv").exists());
    }

    /// A disk that is full when the typed columns are written costs them, not the table.
    #[test]
    #[cfg(target_os = "linux")]
    fn a_full_disk_costs_the_typed_columns_alone() {
        let folder = tempfile::tempdir().unwrap();
        let folder = folder.path();
        let Some(disk) = crate::files::SmallDisk::mount(&folder.join("disk")) else {
            return;
        };
        let out = disk.0.join("out");
        let design = "design = \"sobol\"\ncount = 64";
        let args = ["--out", path(&out)];
        assert_eq!(of_study(folder, design, FORCE, &args).exit, 0);
        let csv = fs::read(out.join("results.csv")).unwrap();
        // the typed columns of other rows lie there, and the disk has room for little more than for what is on it
        let small = folder.join("small");
        let other = FORCE.replace("to = 300", "to = 200");
        let two = design.replace("64", "2");
        assert_eq!(
            of_study(folder, &two, &other, &["--out", path(&small)]).exit,
            0
        );
        fs::copy(small.join("results.parquet"), out.join("results.parquet")).unwrap();
        let pages = |bytes: &Vec<u8>| bytes.len().div_ceil(4096);
        let used: usize = files(&out).values().map(pages).sum();
        disk.resize(4096 * (used + 5));
        let c = of_study(folder, design, FORCE, &["--resume", "--out", path(&out)]);
        assert_eq!(c.exit, 5, "{}", c.err);
        assert!(c.err.contains("the disk is full"), "{}", c.err);
        assert_eq!(fs::read(out.join("results.csv")).unwrap(), csv);
        assert!(!out.join("results.parquet").exists());
        disk.resize(4 << 20);
        let c = of_study(folder, design, FORCE, &["--resume", "--out", path(&out)]);
        assert_eq!(c.exit, 0, "{}", c.err);
        same(&out);
    }
}

const FORCE: &str = "[[vary]]\npath = \"hold.bare[0].force\"\nfrom = 50\nto = 300\n";

/// A merged table of a full design over two keys has the map of one that was not shared out; rows of another plan are not written over.
#[test]
fn a_merged_table_has_its_map() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let whole = folder.join("whole");
    of_study(folder, FULL, VARIES, &["--out", path(&whole)]);
    let parts: Vec<_> = (1..=3).map(|k| folder.join(format!("part-{k}"))).collect();
    for (k, part) in parts.iter().enumerate() {
        let shard = format!("{}/3", k + 1);
        let c = of_study(
            folder,
            FULL,
            VARIES,
            &["--shard", &shard, "--out", path(part)],
        );
        assert_eq!(c.exit, 0, "{}", c.err);
        assert!(!part.join("results.svg").exists());
    }
    let merged = folder.join("merged");
    let mut args = vec!["study", "merge"];
    args.extend(parts.iter().map(|p| path(p)));
    args.extend(["--out", path(&merged)]);
    let c = call(&args);
    assert_eq!(c.exit, 0, "{}", c.err);
    assert!(c.out.contains("9 rows from 3 tables."), "{}", c.out);
    assert!(c.out.contains("results.csv, results.svg, "), "{}", c.out);
    let words = c.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("can kill"), "{}", c.out);
    let map = |dir: &Path| fs::read_to_string(dir.join("results.svg")).unwrap();
    assert_eq!(map(&merged), map(&whole));
    // a folder of another plan
    let other = folder.join("other");
    let varies = VARIES.replace("to = 200", "to = 300");
    of_study(folder, FULL, &varies, &["--out", path(&other)]);
    let before = files(&other);
    let last = args.len() - 1;
    args[last] = path(&other);
    let c = call(&args);
    assert_eq!(c.exit, 3, "{}", c.err);
    assert!(c.err.contains("another plan"), "{}", c.err);
    assert_eq!(files(&other), before);
    // a sampled design has none
    let design = "design = \"sobol\"\ncount = 4";
    let sampled = folder.join("sampled");
    for k in 1..=2 {
        let shard = format!("{k}/2");
        of_study(
            folder,
            design,
            VARIES,
            &["--shard", &shard, "--out", path(&sampled)],
        );
    }
    assert_eq!(call(&["study", "merge", path(&sampled)]).exit, 0);
    assert!(!sampled.join("results.svg").exists());
}

/// Numbers of the rows of a table that have an answer.
fn answered(table: &Path) -> Vec<String> {
    let text = fs::read_to_string(table).unwrap();
    let whole = text.rfind('\n').map_or("", |end| &text[..end]);
    let cells = whole.lines().skip(1).map(|line| {
        let mut cells = line.split(',');
        (cells.next().unwrap().to_owned(), cells.next() == Some("ok"))
    });
    cells.filter(|(_, ok)| *ok).map(|(row, _)| row).collect()
}

/// Profiles of a folder, without what is being written.
fn profiles(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut all = files(&folder.join("profiles"));
    all.retain(|name, _| !name.starts_with('.'));
    all
}

/// The profiles of a row are those that `run` leaves of its case; a row without an answer has none; shares and threads leave no trace.
#[test]
fn profiles_of_rows_are_kept() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let out = folder.join("kept");
    let keep = ["--keep", "profiles", "--out", path(&out)];
    let c = of_study(folder, FULL, VARIES, &keep);
    assert_eq!(c.exit, 0, "{}", c.err);
    let all = profiles(&out);
    let of_rows: Vec<String> = answered(&out.join("results.csv"));
    assert_eq!(of_rows.len(), 6);
    let names: Vec<String> = of_rows.iter().map(|row| format!("{row}.csv")).collect();
    assert_eq!(all.keys().cloned().collect::<Vec<_>>(), names);
    assert_eq!(json(&out.join("study.json"))["keeps"][0], "profiles");
    let case = fs::read_to_string(folder.join("case.toml")).unwrap();
    let sets = [
        "hold.bare[0].bored_diameter=121.2",
        "hold.bare[0].force=100.0",
    ];
    let args = [
        "run", "--fields", "none", "--set", sets[0], "--set", sets[1],
    ];
    let (c, _) = with(folder, &case, &args);
    assert_eq!(c.exit, 0, "{}", c.err);
    let run = fs::read(folder.join("out/profiles.csv")).unwrap();
    assert!(run.starts_with(b"step,state,surface,angle_deg,radius_mm\n1,stock,outer,"));
    assert_eq!(all["4.csv"], run);
    let shards = folder.join("shards");
    for k in 1..=2 {
        let shard = format!("{k}/2");
        let args = [
            "--shard",
            &shard,
            "--keep",
            "profiles",
            "--out",
            path(&shards),
        ];
        assert_eq!(of_study(folder, FULL, VARIES, &args).exit, 0);
    }
    assert!(profiles(&shards) == all);
    // rows with and without them are not mixed
    let c = of_study(folder, FULL, VARIES, &["--resume", "--out", path(&out)]);
    assert_eq!(c.exit, 3, "{}", c.err);
    assert!(c.err.contains("go on with --keep profiles"), "{}", c.err);
    let plain = folder.join("plain");
    of_study(folder, FULL, VARIES, &["--out", path(&plain)]);
    assert!(!plain.join("profiles").exists());
    let args = ["--resume", "--keep", "profiles", "--out", path(&plain)];
    let c = of_study(folder, FULL, VARIES, &args);
    assert_eq!(c.exit, 3, "{}", c.err);
    assert!(c.err.contains("go on without --keep profiles"), "{}", c.err);
    // a folder that was only asked for points has no rows yet
    let asked = folder.join("asked");
    let file = folder.join("study.toml");
    let args = [
        "study",
        "ask",
        path(&file),
        "--count",
        "1",
        "--out",
        path(&asked),
    ];
    assert_eq!(call(&args).exit, 0);
    let args = ["--resume", "--keep", "profiles", "--out", path(&asked)];
    let c = of_study(folder, FULL, VARIES, &args);
    assert_eq!(c.exit, 0, "{}", c.err);
    assert!(profiles(&asked) == all);
    // something else has the name
    let blocked = folder.join("blocked");
    fs::create_dir(&blocked).unwrap();
    fs::write(blocked.join("profiles"), "mine").unwrap();
    let c = of_study(
        folder,
        FULL,
        VARIES,
        &["--keep", "profiles", "--out", path(&blocked)],
    );
    assert_eq!(c.exit, 5, "{}", c.err);
    assert_eq!(fs::read(blocked.join("profiles")).unwrap(), b"mine");
    let c = of_study(folder, FULL, VARIES, &["--keep", "fields"]);
    assert_eq!(c.exit, 2, "{}", c.err);
}

/// Whenever it is killed, each row of the table with an answer has its profiles; gone on with, they are those of one that was left alone.
#[test]
fn a_row_is_in_the_table_only_with_its_profiles() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let design = "design = \"sobol\"\ncount = 24\nseed = 4";
    let alone = folder.join("alone");
    let c = of_study(
        folder,
        design,
        FORCE,
        &["--keep", "profiles", "--out", path(&alone)],
    );
    assert_eq!(c.exit, 0, "{}", c.err);
    let all = profiles(&alone);
    assert_eq!(all.len(), 24);
    let out = folder.join("killed");
    let file = folder.join("study.toml");
    for kills in 0..4 {
        let mut run = Command::new(env!("CARGO_BIN_EXE_ringwright"))
            .args(["study", path(&file), "--resume", "--keep", "profiles"])
            .args(["--threads", "1", "--quiet", "--out", path(&out)])
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        if kills < 3 {
            std::thread::sleep(Duration::from_millis(60 + 70 * kills));
            let _ = run.kill();
        }
        let done = run.wait().unwrap().success();
        let name = if done {
            "results.csv"
        } else {
            "results.csv.part"
        };
        if out.join(name).exists() {
            let kept = profiles(&out);
            for row in answered(&out.join(name)) {
                let name = format!("{row}.csv");
                assert!(kept[&name] == all[&name], "{name}");
            }
        }
    }
    assert!(profiles(&out) == all);
    assert_eq!(
        rows(&out.join("results.csv")),
        rows(&alone.join("results.csv"))
    );
    assert_eq!(files(&out.join("profiles")).len(), 24, "left over");
}

/// On a full disk each row that is in the table has its profiles whole.
#[test]
#[cfg(target_os = "linux")]
fn a_full_disk_keeps_whole_profiles() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let Some(disk) = crate::files::SmallDisk::mount(&folder.join("disk")) else {
        return;
    };
    disk.resize(5 << 20);
    let design = "design = \"sobol\"\ncount = 16";
    let out = disk.0.join("out");
    let args = ["--resume", "--keep", "profiles", "--out", path(&out)];
    let c = of_study(folder, design, FORCE, &args);
    assert_eq!(c.exit, 5, "{}", c.err);
    assert!(c.err.contains("the disk is full"), "{}", c.err);
    let part = answered(&out.join("results.csv.part"));
    let kept = profiles(&out);
    assert!(part.len() < 16);
    disk.resize(64 << 20);
    let c = of_study(folder, design, FORCE, &args);
    assert_eq!(c.exit, 0, "{}", c.err);
    let all = profiles(&out);
    assert_eq!(all.len(), 16);
    for row in part {
        let name = format!("{row}.csv");
        assert!(kept[&name] == all[&name], "{name}");
    }
}

/// `--strict` ends a study as it ends a run: 1 where a row failed, or misses a stated limit.
#[test]
fn a_strict_study_fails_with_a_row() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let out = folder.join("out");
    let strict = |varies: &str, more: &[&str]| {
        let _ = fs::remove_dir_all(&out);
        let args = [&["--strict", "--out", path(&out)], more].concat();
        of_study(folder, FULL, varies, &args)
    };
    let c = strict(VARIES, &[]);
    assert_eq!(c.exit, 1, "{}", c.err);
    let words = "a stated limit is not met (--strict); rows: 3 failed, ";
    assert!(c.err.contains(words), "{}", c.err);
    // the table is there all the same
    assert_eq!(rows(&out.join("results.csv")).len(), 10);
    let good = "[[vary]]\npath = \"hold.bare[0].force\"\nvalues = [1, 2]\n";
    let wide = ["--set", "tolerance.roundness=1"];
    let c = strict(good, &wide);
    assert_eq!(c.exit, 0, "{}", c.err);
    let c = strict(good, &["--set", "tolerance.roundness=1e-7"]);
    assert_eq!(c.exit, 1, "{}", c.err);
    assert!(c.err.contains("rows: 2 out of tolerance"), "{}", c.err);
    // a share, and shares put together
    let _ = fs::remove_dir_all(&out);
    for (shard, exit) in [("1/2", 1), ("2/2", 1)] {
        let args = ["--strict", "--shard", shard, "--out", path(&out)];
        assert_eq!(of_study(folder, FULL, VARIES, &args).exit, exit);
    }
    assert_eq!(call(&["study", "merge", path(&out)]).exit, 0);
    assert_eq!(call(&["study", "merge", path(&out), "--strict"]).exit, 1);
}

/// A part that yields stays bent and is no good part, though its tolerance is judged by nobody; what is not known of every row has no chance.
#[test]
fn what_yields_is_no_good_part() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("out");
    let varies = "[[vary]]\npath = \"hold.bare[0].force\"\nvalues = [100.0, 3000.0]\n";
    let c = of_study(folder.path(), FULL, varies, &["--out", path(&out)]);
    assert_eq!(c.exit, 0, "{}", c.err);
    let told = &json(&out.join("study.json"))["told"];
    assert_eq!(told["yields"]["count"], 1, "{told}");
    assert_eq!(told["in_tolerance"]["of"], 2, "{told}");
    assert_eq!(told["good"]["of"], 2, "{told}");
    assert!(told["in_tolerance"]["count"].as_u64() < Some(2), "{told}");
    assert!(
        c.out.contains("YIELDS, so the part would stay bent"),
        "{}",
        c.out
    );
    assert!(
        c.out
            .contains("In tolerance, and neither yielding nor found unsafe"),
        "{}",
        c.out
    );
}

/// What cannot be meant is refused with what would be right.
#[test]
fn what_a_study_cannot_be_says_so() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let out = folder.join("out");
    // a key that varies is set
    let set = ["--out", path(&out), "--set", "hold.bare[0].force=3"];
    let c = of_study(folder, FULL, VARIES, &set);
    assert_eq!(c.exit, 2, "{}", c.err);
    assert!(
        c.err.contains("hold.bare[0].force varies in this study"),
        "{}",
        c.err
    );
    // a case for a study
    let c = call(&["study", path(&folder.join("case.toml"))]);
    assert_eq!(c.exit, 3, "{}", c.err);
    assert!(
        c.err.contains("is a case, which `ringwright run` takes"),
        "{}",
        c.err
    );
    // a row that somebody edited, whether the table is whole or not: nothing is moved
    let c = of_study(folder, FULL, VARIES, &["--out", path(&out)]);
    assert_eq!(c.exit, 0, "{}", c.err);
    let table = out.join("results.csv");
    let text = fs::read_to_string(&table).unwrap();
    fs::write(&table, text.replacen("121.2", "121.3", 1)).unwrap();
    let resumed = ["--out", path(&out), "--resume"];
    let c = of_study(folder, FULL, VARIES, &resumed);
    assert_eq!(c.exit, 3, "{}", c.err);
    let said = "is 121.3, and 121.2 in the plan; the table was sorted or edited";
    assert!(
        c.err.contains("results.csv:5") && c.err.contains(said),
        "{}",
        c.err
    );
    assert!(table.exists() && !out.join("results.csv.part").exists());
    // a folder that is merged with itself, and one without shares
    let c = call(&["study", "merge", path(&out), path(&out)]);
    assert_eq!(c.exit, 3, "{}", c.err);
    assert!(c.err.contains("is given twice"), "{}", c.err);
    let c = call(&["study", "merge", path(&out)]);
    assert_eq!(c.exit, 3, "{}", c.err);
    assert!(
        c.err.contains("its results.csv is whole already"),
        "{}",
        c.err
    );
}

/// What a study's file lacks, an output that is a file, and points of which there are none are told with what would be right.
#[test]
fn what_is_missing_is_said_in_plain_words() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let file = folder.join("taken");
    fs::write(&file, "").unwrap();
    let c = of_study(folder, "", VARIES, &["--out", path(&folder.join("out"))]);
    assert_eq!(c.exit, 3, "{}", c.err);
    assert!(c.err.contains("has no design; give design = "), "{}", c.err);
    let c = of_study(folder, FULL, "[[vary]]\nvalues = [1]\n", &[]);
    assert!(c.err.contains("[[vary]] has no path"), "{}", c.err);
    let c = of_study(folder, FULL, VARIES, &["--out", path(&file)]);
    assert_eq!(c.exit, 5, "{}", c.err);
    assert!(
        c.err.contains("a file where a folder is needed"),
        "{}",
        c.err
    );
    let points = folder.join("points.csv");
    fs::write(&points, "hold.bare[0].bored_diameter,hold.bare[0].force\n").unwrap();
    of_study(folder, FULL, VARIES, &["--out", path(&folder.join("out"))]);
    let study = folder.join("study.toml");
    let tell = ["study", "tell", path(&points), "--study", path(&study)];
    let c = call(&tell);
    assert_eq!(c.exit, 0, "{}", c.err);
    assert!(c.err.contains("no point stands below"), "{}", c.err);
}
