//! `ringwright gauge`: readings in, the part on every gauge out.

use std::f64::consts::TAU;
use std::fs;

use ringwright_solver::metrology::inversion::smooth;
use ringwright_solver::metrology::readings::{Format, Readings};
use serde_json::Value;

use crate::{CASE, Call, call};

/// Three lobes of 12 micrometres, two of 4.
fn part(t: f64) -> f64 {
    0.012 * (3.0 * (t - 0.3)).cos() + 0.004 * (2.0 * t).cos()
}

fn table(header: &str, points: usize, value: impl Fn(f64) -> f64) -> String {
    let row = |k: usize| {
        let degrees = 360.0 * k as f64 / points as f64;
        format!("{degrees},{}\n", value(degrees.to_radians()))
    };
    format!("{header}\n") + &(0..points).map(row).collect::<String>()
}

/// Calls `gauge` on a file of this text; returns the file's name too.
fn gauge(text: &[u8], options: &[&str]) -> (Call, String) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("readings.csv");
    fs::write(&path, text).unwrap();
    let name = path.to_str().unwrap().to_owned();
    let args: Vec<&str> = ["gauge", &name]
        .into_iter()
        .chain(options.iter().copied())
        .collect();
    let answer = call(&args);
    assert_eq!(
        fs::read_dir(folder.path()).unwrap().count(),
        1,
        "a file was left"
    );
    (answer, name)
}

fn document(text: &str, options: &[&str]) -> Value {
    let options: Vec<&str> = options.iter().copied().chain(["--json"]).collect();
    let (answer, _) = gauge(text.as_bytes(), &options);
    // what the solver says of a case that explains the lobes goes to standard error
    let of_the_case = |line: &str| line.contains("case.toml: step ");
    assert_eq!(answer.exit, 0);
    assert!(answer.err.lines().all(of_the_case), "{}", answer.err);
    serde_json::from_str(&answer.out).unwrap()
}

fn number(value: &Value, path: &str) -> f64 {
    value
        .pointer(path)
        .and_then(Value::as_f64)
        .unwrap_or_else(|| panic!("no {path}"))
}

fn near(value: &Value, path: &str, want: f64, tolerance: f64) {
    let found = number(value, path);
    assert!(
        (found - want).abs() <= tolerance,
        "{path}: {found} instead of {want}"
    );
}

#[test]
fn the_document_has_its_fixed_keys() {
    let text = table("angle_deg,radius_mm", 360, |t| {
        60.0 + part(t) + 0.01 * t.cos()
    });
    let d = document(&text, &["--vee", "60", "--vee", "90"]);
    assert_eq!(d["format"], "ringwright-gauge-1");
    assert_eq!(d["points"], 360);
    for circle in [
        "least_squares",
        "minimum_zone",
        "maximum_inscribed",
        "minimum_circumscribed",
    ] {
        near(&d, &format!("/{circle}/radius"), 60.0, 0.02);
        near(&d, &format!("/{circle}/centre/0"), 0.01, 0.006);
        let roundness = number(&d, &format!("/{circle}/roundness"));
        assert!(
            roundness >= number(&d, "/minimum_zone/roundness"),
            "{circle}"
        );
    }
    assert_eq!(d["harmonics"].as_array().unwrap().len(), 50);
    assert_eq!(d["harmonics"][2]["count"], 3);
    near(&d, "/harmonics/2/amplitude", 0.012, 1e-5);
    near(&d, "/harmonics/2/angle", 0.3_f64.to_degrees(), 0.1);
    // two lobes alone make a difference of diameters: four times their amplitude
    near(&d, "/two_point/range", 0.016, 1e-4);
    let vees = d["vee"].as_array().unwrap();
    assert_eq!(vees.len(), 2);
    assert_eq!(
        (&vees[0]["angle"], &vees[1]["angle"]),
        (&60.0.into(), &90.0.into())
    );
    let span = |f: &dyn Fn(f64) -> f64| {
        let values = (0..36_000).map(|k| f(TAU * f64::from(k) / 36_000.0));
        values.clone().fold(f64::MIN, f64::max) - values.fold(f64::MAX, f64::min)
    };
    near(
        &d,
        "/between_centres/range",
        span(&|t| part(t) + 0.01 * t.cos()),
        1e-5,
    );
    // factors at 90 deg, derived (ISO 4292:1985 tabulates such; its table was not read): three lobes 2, two lobes 1
    near(
        &d,
        "/vee/1/range",
        span(&|t| 0.024 * (3.0 * (t - 0.3)).cos() + 0.004 * (2.0 * t).cos()),
        1e-4,
    );
    assert!(d["cautions"].as_array().unwrap().is_empty());
    // without --vee it is one of 90 deg
    let d = document(&text, &[]);
    assert_eq!(d["vee"].as_array().unwrap().len(), 1);
    assert_eq!(d["vee"][0]["angle"], 90.0);
}

#[test]
fn deviations_in_any_unit_are_the_same_part() {
    let radii = document(&table("angle_deg,radius_mm", 72, |t| 60.0 + part(t)), &[]);
    for (header, size, options) in [
        ("angle_deg,deviation_mm", 1.0, &["--radius", "60"][..]),
        (
            "angle_deg,deviation_thou",
            1.0 / 0.0254,
            &["--radius", "60 mm"],
        ),
        ("angle_deg,deviation_um", 1000.0, &["--radius", "6 cm"]),
        (
            "# no header",
            1.0 / 25.4,
            &["--radius", "60 mm", "--unit", "in"],
        ),
    ] {
        let d = document(&table(header, 72, |t| 5.0 + size * part(t)), options);
        for path in [
            "/minimum_zone/roundness",
            "/vee/0/range",
            "/two_point/range",
            "/least_squares/radius",
        ] {
            near(&d, path, number(&radii, path), 1e-9);
        }
    }
}

#[test]
fn a_trace_from_a_v_gives_the_lobes_it_can_see() {
    // at the summit of a V of 60 deg: three lobes three times, two not at all (derived; ISO 4292:1985 tabulates such factors; its table was not read)
    let text = table("angle_deg,reading_um", 72, |t| {
        36.0 * (3.0 * (t - 0.3)).cos()
    });
    let options = [
        "--radius",
        "60",
        "--from",
        "vee",
        "--from-angle",
        "60",
        "--lobes",
        "8",
    ];
    let d = document(&text, &options);
    assert_eq!(d["points"], 72);
    near(&d, "/minimum_zone/roundness", 0.024, 1e-5);
    let counts: Vec<u64> = d["harmonics"]
        .as_array()
        .unwrap()
        .iter()
        .map(|h| h["count"].as_u64().unwrap())
        .collect();
    assert_eq!(counts, [3, 6]);
    assert_eq!(
        d["recovered"]["unseen"],
        serde_json::json!([1, 2, 4, 5, 7, 8])
    );
    near(&d, "/recovered/lobes/0/amplitude", 0.012, 1e-9);
    near(&d, "/recovered/lobes/0/factor", 3.0, 1e-12);
    assert!(
        d["cautions"][0]
            .as_str()
            .unwrap()
            .contains("1, 2, 4, 5, 7 and 8 lobes")
    );
    // diameters bring their own radius
    let text = table("angle_deg,diameter_in", 72, |t| {
        (120.0 + part(t) + part(t + TAU / 2.0)) / 25.4
    });
    let d = document(&text, &["--from", "two-point"]);
    near(&d, "/least_squares/radius", 60.0, 1e-6);
    near(&d, "/recovered/lobes/0/amplitude", 0.004, 1e-9);
}

#[test]
fn the_table_shows_both_units() {
    let text = table("angle_deg,radius_in", 360, |t| (60.0 + part(t)) / 25.4);
    let (answer, name) = gauge(text.as_bytes(), &["--surface", "outer"]);
    assert_eq!((answer.exit, answer.err.as_str()), (0, ""));
    for words in [
        &format!("{name}: 360 readings, up to 50 lobes per revolution"),
        "0.5 thou      0.012 mm     17.2 deg",
        "diameter 4.7244 in (120.000 mm)",
        "90 deg V-block, indicator opposite the V",
        "Most sensitive: 60 deg V-block, indicator between the flanks",
    ] {
        assert!(answer.out.contains(words), "{words} not in\n{}", answer.out);
    }
    assert!(
        !answer.out.contains("three-point bore gauge"),
        "{}",
        answer.out
    );
    assert!(
        answer.out.lines().all(|l| l.chars().count() <= 100),
        "{}",
        answer.out
    );
    let (bore, _) = gauge(text.as_bytes(), &["--surface", "bore"]);
    assert!(
        bore.out.contains("three-point bore gauge") && !bore.out.contains("V-block"),
        "{}",
        bore.out
    );
    let (quiet, _) = gauge(text.as_bytes(), &["--quiet"]);
    assert_eq!((quiet.exit, quiet.out.as_str()), (0, ""));
}

#[test]
fn bad_readings_are_refused_with_their_line() {
    let good = table("angle_deg,radius_mm", 36, |t| 60.0 + part(t));
    let with = |k: usize, row: &str| -> Vec<u8> {
        let mut lines: Vec<&str> = good.lines().collect();
        lines[k - 1] = row;
        lines.join("\n").into_bytes()
    };
    let many = "60.01\n".repeat(100_001);
    for (text, options, place, says) in [
        (Vec::new(), &[][..], "", "no readings"),
        (b"# only a remark\n".to_vec(), &[], "", "no readings"),
        (with(5, "30,sixty"), &[], ":5:4", "not a number"),
        (with(5, "30,nan"), &[], ":5:4", "not a finite number"),
        (
            with(5, "20,60.01"),
            &[],
            ":5",
            "20 deg was read before, in line 4",
        ),
        (with(5, "30"), &[], ":5", "2 expected"),
        (with(5, "30,2.3622"), &[], ":5", "mixed units"),
        (with(5, "30,60.01 mm"), &[], ":5:4", "unit of its own"),
        (with(5, "30,66.01"), &[], ":5", "A typing error?"),
        (with(5, "30,-0.01"), &[], ":5:4", "--radius"),
        (
            with(1, "angle_deg,radius_tenths"),
            &[],
            ":1:11",
            "two things",
        ),
        (
            with(1, "angle_deg,radius_mm"),
            &["--unit", "in"],
            ":1:11",
            "header says mm",
        ),
        (
            with(5, "30,60.01"),
            &["--lobes", "18"],
            "",
            "36 readings are too few for 18 lobes",
        ),
        (
            with(5, "30,60.01"),
            &["--from", "vee", "--radius", "60"],
            "",
            "read about an axis",
        ),
        (
            b"angle_deg,radius_mm\n0,60\n10,60\n20,60\n30,60\n".to_vec(),
            &[],
            ":5",
            "nothing was read from 30 to 0",
        ),
        (
            b"angle_deg,diameter_mm\n0,60\n120,60\n240,60\n".to_vec(),
            &[],
            "",
            "--from two-point",
        ),
        (
            b"0:1 120:2 240:3".to_vec(),
            &["--radius", "0.5"],
            "",
            "not larger than the deviations",
        ),
        (
            many.into_bytes(),
            &[],
            ":100001:1",
            "more than 100000 readings",
        ),
        (b"\x89PNG\r\n\x1a\n\0\0".to_vec(), &[], ":1:1", "UTF-8"),
    ] {
        for json in [false, true] {
            let options: Vec<&str> = options
                .iter()
                .copied()
                .chain(json.then_some("--json"))
                .collect();
            let (answer, name) = gauge(&text, &options);
            assert_eq!(answer.exit, 3, "{says}: {}", answer.err);
            assert_eq!(answer.out.is_empty(), !json, "{says}: {}", answer.out);
            let start = format!("{name}{place}: ");
            assert!(
                answer.err.starts_with(&start) && answer.err.contains(says),
                "{says}: {}",
                answer.err
            );
            assert_eq!(answer.err.lines().count(), 1, "{}", answer.err);
        }
    }
    let (kept, _) = gauge(&with(5, "30,66.01"), &["--keep-jumps"]);
    assert_eq!(kept.exit, 0);
    assert!(kept.out.contains("Outliers"), "{}", kept.out);
}

#[test]
fn wrong_use_and_files_that_are_not_there() {
    let good = table("angle_deg,radius_mm", 36, |t| 60.0 + part(t));
    let deviations = table("angle_deg,deviation_mm", 36, part);
    for (text, options, says) in [
        (&good, &["--vee", "0"][..], "above 0 and below 180"),
        (&good, &["--vee", "180"], "above 0 and below 180"),
        (&good, &["--vee", "nan"], "above 0 and below 180"),
        (&good, &["--radius", "-3"], "above zero"),
        (&good, &["--radius", "5 N"], "unit of force"),
        (&good, &["--unit", "tenths"], "invalid value"),
        (
            &good,
            &["--surface", "bore", "--vee", "90"],
            "reaches the bore",
        ),
        (
            &good,
            &["--surface", "bore", "--from", "vee"],
            "reaches the bore",
        ),
        (&deviations, &[], "give it with --radius"),
        (&deviations, &["--from", "vee"], "give it with --radius"),
    ] {
        let (answer, _) = gauge(text.as_bytes(), options);
        assert_eq!(
            (answer.exit, answer.out.as_str()),
            (2, ""),
            "{options:?}: {}",
            answer.err
        );
        assert!(answer.err.contains(says), "{options:?}: {}", answer.err);
    }
    let nowhere = call(&["gauge", "/no/such/readings.csv"]);
    assert_eq!((nowhere.exit, nowhere.out.as_str()), (5, ""));
    assert!(
        nowhere.err.contains("/no/such/readings.csv"),
        "{}",
        nowhere.err
    );
    let folder = tempfile::tempdir().unwrap();
    assert_eq!(call(&["gauge", folder.path().to_str().unwrap()]).exit, 5);
}

/// The readings that hold a circle are named: three crests and three valleys of a three-lobed part.
#[test]
fn circles_name_the_readings_that_they_rest_on() {
    let text = table("angle_deg,radius_mm", 36, |t| 30.0 + 0.01 * (3.0 * t).cos());
    let found = document(&text, &[]);
    let on = |circle: &str, side: &str| -> Vec<f64> {
        found[circle]["controlling"]
            .as_array()
            .unwrap()
            .iter()
            .filter(|c| c["on"] == side)
            .map(|c| c["angle"].as_f64().unwrap())
            .collect()
    };
    let sorted = |mut angles: Vec<f64>| {
        angles.sort_by(f64::total_cmp);
        angles
    };
    assert_eq!(
        sorted(on("minimum_circumscribed", "outer")),
        [0.0, 120.0, 240.0]
    );
    assert_eq!(
        sorted(on("maximum_inscribed", "inner")),
        [60.0, 180.0, 300.0]
    );
    let (outer, inner) = (on("minimum_zone", "outer"), on("minimum_zone", "inner"));
    assert_eq!((outer.len(), inner.len()), (2, 2));
    assert!(outer.iter().all(|a| a % 120.0 == 0.0) && inner.iter().all(|a| a % 120.0 == 60.0));
    let (answer, _) = gauge(text.as_bytes(), &[]);
    assert!(
        answer.out.contains("   on 0.0, 120.0, 240.0 deg"),
        "{}",
        answer.out
    );
    // an oval lets the largest circle inside slide
    let oval = table("angle_deg,radius_mm", 72, |t| 30.0 + 0.05 * (2.0 * t).cos());
    assert_eq!(document(&oval, &[])["maximum_inscribed"]["unique"], false);
    let (answer, _) = gauge(oval.as_bytes(), &[]);
    assert!(answer.out.contains("can slide"), "{}", answer.out);
}

/// The traces of a turn say the same as the total readings.
#[test]
fn traces_are_written_on_request() {
    let folder = tempfile::tempdir().unwrap();
    let (readings, file) = (
        folder.path().join("r.csv"),
        folder.path().join("traces.csv"),
    );
    fs::write(
        &readings,
        table("angle_deg,radius_mm", 360, |t| 30.0 + part(t)),
    )
    .unwrap();
    let c = call(&[
        "gauge",
        readings.to_str().unwrap(),
        "--traces",
        file.to_str().unwrap(),
        "--json",
    ]);
    assert_eq!((c.exit, c.err.as_str()), (0, ""));
    let found: Value = serde_json::from_str(&c.out).unwrap();
    let text = fs::read_to_string(&file).unwrap();
    let mut lines = text.lines();
    let head: Vec<&str> = lines.next().unwrap().split("\"").collect();
    let names: Vec<&str> = head
        .into_iter()
        .filter(|n| !n.starts_with(',') && n.len() > 2)
        .collect();
    let rows: Vec<Vec<f64>> = lines
        .map(|l| l.split(',').map(|x| x.parse().unwrap()).collect())
        .collect();
    assert_eq!((rows.len(), rows[900][0]), (3600, 90.0));
    for (k, name) in names.iter().enumerate().skip(1) {
        let column = rows.iter().map(|r| r[k]);
        let [low, high] = column.fold([f64::INFINITY, f64::NEG_INFINITY], |[a, b], x| {
            [x.min(a), x.max(b)]
        });
        let reading = found["readings"].as_array().unwrap();
        let reading = reading.iter().find(|r| r["gauge"] == *name).unwrap();
        near(reading, "/range", high - low, 1e-6);
    }
    assert_eq!(names.len(), 11);
    let nowhere = call(&[
        "gauge",
        readings.to_str().unwrap(),
        "--traces",
        "/no/such/folder/t.csv",
    ]);
    assert_eq!(nowhere.exit, 5, "{}", nowhere.err);
}

/// A part as its case leaves it, with a wave of its own: the holds explain everything but that wave.
#[test]
fn holds_explain_the_lobes_that_they_left() {
    let folder = tempfile::tempdir().unwrap();
    let case = folder.path().join("case.toml");
    // the outside is turned in the first hold, the bore in the second, which then springs the outside as well
    let steps = "[[step]]\nhold = \"bare\"\n[[step.cut]]\nsurface = \"outer\"\ndiameter = 119.5\n\
                 [[step]]\nhold = \"soft\"\n[[step.cut]]\nsurface = \"bore\"\ndiameter = 111.0\n[mesh]";
    let (before, after) = CASE.split_once("[[step]]").unwrap();
    let mesh = after.split_once("[mesh]").unwrap().1;
    fs::write(&case, format!("{before}{steps}{mesh}")).unwrap();
    let (case, out) = (case.to_str().unwrap(), folder.path().join("out"));
    let run = call(&[
        "run",
        case,
        "--fields",
        "none",
        "--out",
        out.to_str().unwrap(),
    ]);
    assert_eq!(run.exit, 0, "{}", run.err);
    let profiles = fs::read_to_string(out.join("profiles.csv")).unwrap();
    let finished: Vec<(f64, f64)> = profiles
        .lines()
        .filter_map(|l| l.strip_prefix("2,released,bore,"))
        .map(|l| {
            let (angle, radius) = l.split_once(',').unwrap();
            (angle.parse().unwrap(), radius.parse().unwrap())
        })
        .step_by(25)
        .collect();
    assert_eq!(finished.len(), 144);
    let readings = |turned: usize| {
        let row = |k: usize| {
            let (angle, _) = finished[k];
            let (_, radius) = finished[(k + turned) % 144];
            let own = 0.004 * (4.0 * f64::to_radians(angle)).cos();
            format!("{angle},{}\n", radius + own)
        };
        format!(
            "angle_deg,radius_mm\n{}",
            (0..144).map(row).collect::<String>()
        )
    };
    let made_by = ["--surface", "bore", "--made-by", case];
    let found = document(&readings(0), &made_by);
    let causes = found["causes"].as_array().unwrap();
    let of = |causes: &[Value], n: u64| causes.iter().find(|c| c["count"] == n).cloned().unwrap();
    // the bore was cut anew in the second step, so nothing else left anything in it
    for cause in causes {
        assert_eq!(cause["parts"].as_array().unwrap().len(), 1, "{cause}");
        assert_eq!(cause["parts"][0]["by"], "step 2, hold \"soft\"");
    }
    let three = of(causes, 3);
    near(&three, "/parts/0/share", 1.0, 1e-3);
    assert!(number(&three, "/unexplained/share").abs() < 1e-3, "{three}");
    let four = of(causes, 4);
    near(&four, "/unexplained/amplitude", 0.004, 2e-5);
    near(&four, "/unexplained/angle", 0.0, 0.1);
    // turned by a quarter, without a mark: the three lobes still match by amplitude, with the mark trusted they do not
    let unmarked = [&made_by[..], &["--no-jaw-mark"]].concat();
    let turned = document(&readings(36), &unmarked);
    let three = of(turned["causes"].as_array().unwrap(), 3);
    near(&three, "/parts/0/share", 1.0, 1e-3);
    assert!(three["parts"][0]["angle"].is_null(), "{three}");
    let trusted = document(&readings(36), &made_by);
    let three = of(trusted["causes"].as_array().unwrap(), 3);
    near(&three, "/parts/0/share", 0.0, 0.05);
    // a file that is no list of readings
    let outside = call(&[
        "gauge",
        out.join("profiles.csv").to_str().unwrap(),
        "--surface",
        "outer",
        "--made-by",
        case,
    ]);
    assert_eq!(
        outside.exit, 3,
        "profiles.csv is no file of readings: {}",
        outside.out
    );
    let (text, _) = gauge(readings(0).as_bytes(), &made_by);
    assert!(text.out.contains("Source of each lobe"), "{}", text.out);
    assert!(text.out.contains("not explained"), "{}", text.out);
    // a case that is not there, and one that is wrong
    let (missing, _) = gauge(
        readings(0).as_bytes(),
        &["--surface", "bore", "--made-by", "no.toml"],
    );
    assert_eq!(missing.exit, 5, "{}", missing.err);
    let (alone, _) = gauge(readings(0).as_bytes(), &["--made-by", case]);
    assert_eq!(alone.exit, 2, "{}", alone.err);
}

/// A part too far from round to be turned in a V: the gauges that have no reading are null with the reason, the rest stands.
#[test]
fn a_gauge_without_a_reading_is_null_and_named() {
    let typed = "0:1.272180 45:1.575339 90:0.867318 135:1.551554 180:1.284508 225:0.981349 270:1.689371 315:1.005134";
    // nearly flat, the part slides far aside; and no place is found where three contacts touch
    for (options, gauge, key) in [
        (
            &["--vee", "179.9999"][..],
            "179.9999 deg V-block, indicator opposite the V",
            "/vee/0/range",
        ),
        (
            &["--vee", "90"],
            "three-point bore gauge",
            "/three_point/range",
        ),
    ] {
        let found = document(typed, options);
        assert!(found.pointer(key).unwrap().is_null(), "{found}");
        assert!(number(&found, "/minimum_zone/roundness") > 0.1);
        let unknown = found["unknown"].as_array().unwrap();
        let unread: Vec<&str> = unknown
            .iter()
            .map(|u| u["what"].as_str().unwrap())
            .collect();
        assert!(unread.contains(&gauge), "{unknown:?}");
        assert!(
            unknown
                .iter()
                .all(|u| u["reason"].as_str().unwrap().len() > 20)
        );
        for r in found["readings"].as_array().unwrap() {
            let gauge = r["gauge"].as_str().unwrap();
            assert_eq!(r["range"].is_null(), unread.contains(&gauge), "{gauge}");
        }
        let (said, _) = gauge_on(typed, options);
        assert!(said.contains(&format!("No reading, {gauge}")), "{said}");
    }
}

/// The text of an answer, one space between words, and its lines.
fn gauge_on(text: &str, options: &[&str]) -> (String, Vec<String>) {
    let (answer, _) = gauge(text.as_bytes(), options);
    assert_eq!((answer.exit, answer.err.as_str()), (0, ""));
    let words: Vec<&str> = answer.out.split_whitespace().collect();
    (
        words.join(" "),
        answer.out.lines().map(str::to_owned).collect(),
    )
}

/// A ring of 2, 3 and 5 lobes of 5.1, 8 and 2 um, the true roundness of which is known from its shape.
fn three_lobings(t: f64) -> f64 {
    0.0051 * (2.0 * t).cos() + 0.008 * (3.0 * t - 0.4).cos() + 0.002 * (5.0 * t + 1.0).cos()
}

/// Diameters show even lobes: nothing of the three and five is claimed, neither what other gauges make of them nor which gauge is best.
#[test]
fn diameters_make_no_claim_about_odd_lobes() {
    let truth = document(
        &table("angle_deg,radius_mm", 360, |t| 35.0 + three_lobings(t)),
        &[],
    );
    let text = table("angle_deg,diameter_mm", 72, |t| {
        70.0 + three_lobings(t) + three_lobings(t + 0.5 * TAU)
    });
    let options = ["--from", "two-point", "--lobes", "20"];
    let found = document(&text, &options);
    // even lobes alone are 4 x 5.1 um of diameter and 2 x 5.1 um of roundness
    near(&found, "/two_point/range", 0.0204, 1e-6);
    near(&found, "/minimum_zone/lower_bound", 0.0102, 1e-6);
    assert!(number(&truth, "/minimum_zone/roundness") > 0.015);
    for path in [
        "/maximum_inscribed",
        "/minimum_circumscribed",
        "/shows_best",
    ] {
        assert!(found.pointer(path).unwrap().is_null(), "{path}");
    }
    assert_eq!(found["blind"], serde_json::json!([]));
    assert!(found["between_centres"]["range"].is_null());
    let unknown = found["unknown"].as_array().unwrap();
    assert!(
        unknown.iter().any(|u| u["what"] == "maximum_inscribed"
            && u["reason"].as_str().unwrap().contains("two-point gauge")),
        "{unknown:?}"
    );
    for (row, true_row) in rows(&found).zip(rows(&truth)) {
        let gauge = row["gauge"].as_str().unwrap();
        assert_eq!(row["gauge"], true_row["gauge"]);
        assert!(row["magnifies"].is_null());
        let range = number(true_row, "/range");
        if ["two-point gauge", "rolled on a surface plate"].contains(&gauge) {
            near(row, "/range", range, 1e-4);
        } else {
            assert!(row["range"].is_null(), "{row}");
            assert!(number(row, "/lower_bound") <= range + 1e-4, "{row} {range}");
        }
    }
    let (text, lines) = gauge_on(&text, &options);
    let row = |name: &str| {
        lines
            .iter()
            .find(|l| l.trim_start().starts_with(name))
            .unwrap()
    };
    assert!(
        row("minimum zone").contains("at least 0.010 mm (0.4 thou)"),
        "{text}"
    );
    assert!(
        row("maximum inscribed circle").ends_with("unknown"),
        "{text}"
    );
    assert!(
        row("90 deg V-block, indicator opposite").contains("unknown; at least 0.010 mm"),
        "{text}"
    );
    assert!(row("two-point gauge").contains("0.020 mm"), "{text}");
    assert!(row("three-point bore gauge").ends_with("unknown"), "{text}");
    for claim in [
        "uncertain by 0.000",
        "Most sensitive:",
        "insensitive (",
        "is at least.",
    ] {
        assert!(!text.contains(claim), "{claim}: {text}");
    }
    assert!(
        text.contains("every roundness here is a lower bound"),
        "{text}"
    );
    assert!(lines.iter().all(|l| l.chars().count() <= 100), "{lines:?}");
}

fn rows(document: &Value) -> impl Iterator<Item = &Value> {
    document["readings"].as_array().unwrap().iter()
}

/// In a V of 60 deg three lobes show and two do not (ISO 4292:1985 tabulates it, derived): a two-point gauge is not called insensitive, its reading is unknown.
#[test]
fn a_v_makes_no_claim_about_two_lobes() {
    // scatter of up to 0.3 um, of which six lobes get 0.01 um: no lobe
    let scatter = |t: f64| {
        let k = (36.0 * t / TAU).round() as u32;
        2e-4 * (f64::from((k * k * k + 3 * k) % 19) - 9.0) / 6.0
    };
    let text = table("angle_deg,reading_mm", 36, |t| {
        3.0 * 0.008 * (3.0 * t - 0.4).cos() + scatter(t)
    });
    let options = ["--from", "vee", "--from-angle", "60", "--radius", "35"];
    let found = document(&text, &options);
    assert!(found["two_point"]["range"].is_null(), "{found}");
    near(&found, "/minimum_zone/lower_bound", 0.016, 2e-4);
    assert_eq!(found["blind"], serde_json::json!([]));
    let own = rows(&found).find(|r| r["gauge"] == "60 deg V-block, indicator opposite the V");
    near(own.unwrap(), "/range", 0.048, 1e-3);
    let (text, lines) = gauge_on(&text, &options);
    let two = lines
        .iter()
        .find(|l| l.contains("two-point gauge  "))
        .unwrap();
    assert!(two.ends_with("unknown"), "{text}");
    assert!(!text.contains("insensitive ("), "{text}");
}

/// In a V of 90 deg seven and nine lobes are hidden: what is stated as least stays below the truth, also where these flatten the part.
#[test]
fn a_lower_bound_is_one() {
    // a wave with its crests taken off by the ninth lobe of the third: flatter than its three lobes alone
    let shape = |t: f64| 0.01 * (3.0 * t).cos() - 0.001 * (9.0 * t).cos();
    let span = |f: &dyn Fn(f64) -> f64| {
        let values = (0..3600).map(|k| f(TAU * f64::from(k) / 3600.0));
        values.clone().fold(f64::MIN, f64::max) - values.fold(f64::MAX, f64::min)
    };
    // the factor at 90 deg is 2 of three lobes and 0 of nine
    let text = table("angle_deg,reading_mm", 72, |t| 0.02 * (3.0 * t).cos());
    let options = ["--from", "vee", "--radius", "35", "--lobes", "20"];
    let found = document(&text, &options);
    let least = number(&found, "/minimum_zone/lower_bound");
    let truth = span(&shape);
    assert!(
        truth < 0.0181 && least < truth && least > 0.75 * truth,
        "{least} {truth}"
    );
    assert!(number(&found, "/minimum_zone/roundness") > truth);
}

/// `--zone`: in the zone, missed, and not shown to be either; only what is shown to be in the zone passes `--strict`.
#[test]
fn a_zone_is_judged() {
    let radii = table("angle_deg,radius_mm", 360, |t| 35.0 + three_lobings(t));
    let diameters = table("angle_deg,diameter_mm", 72, |t| {
        70.0 + three_lobings(t) + three_lobings(t + 0.5 * TAU)
    });
    let few = table("angle_deg,radius_mm", 12, |t| 35.0 + three_lobings(t));
    let known = number(&document(&radii, &[]), "/minimum_zone/roundness");
    let missed = format!("{} um", 1e3 * known - 2.0);
    let met = format!("{}", known + 0.001);
    let two_point = ["--from", "two-point"];
    for (text, from, zone, in_zone, words) in [
        (
            &radii,
            &[][..],
            met.as_str(),
            Some(true),
            "In zone: minimum zone roundness",
        ),
        (
            &radii,
            &[],
            &missed,
            Some(false),
            "OUT OF ZONE by 0.0020 mm",
        ),
        (&radii, &[], "1.3 thou", Some(true), "zone 0.033 mm"),
        (
            &diameters,
            &two_point,
            "0.011",
            None,
            "NOT SHOWN to be in zone: minimum zone roundness at least 0.010 mm",
        ),
        (
            &diameters,
            &two_point,
            "0.006",
            Some(false),
            "OUT OF ZONE by at least 0.0042 mm",
        ),
        (&few, &[], "0.5", None, "NOT SHOWN"),
        (&few, &[], "0.005", Some(false), "OUT OF ZONE by at least"),
    ] {
        let options = [from, &["--zone", zone]].concat();
        let found = document(text, &options);
        let verdict = &found["verdict"];
        assert_eq!(
            verdict["in_zone"],
            serde_json::json!(in_zone),
            "{zone} {verdict}"
        );
        assert_eq!(
            verdict["lower_bound"].is_null(),
            text == &radii,
            "{verdict}"
        );
        assert_eq!(verdict["roundness"].is_null(), text != &radii, "{verdict}");
        let (said, lines) = gauge_on(text, &options);
        assert!(said.contains(words), "{words}: {said}");
        assert!(lines.iter().all(|l| l.chars().count() <= 100), "{lines:?}");
        let (strict, _) = gauge(text.as_bytes(), &[&options[..], &["--strict"]].concat());
        let fails = in_zone != Some(true);
        assert_eq!(strict.exit, u8::from(fails), "{zone}: {}", strict.err);
        assert_eq!(
            strict.err.is_empty(),
            in_zone == Some(true),
            "{}",
            strict.err
        );
    }
    assert!(document(&radii, &[])["verdict"].is_null());
    // behind a filter it is the filtered roundness that is judged
    let filtered = document(&radii, &["--filter", "4", "--zone", &missed]);
    near(&filtered, "/verdict/filter_upr", 4.0, 0.0);
    assert_eq!(filtered["verdict"]["in_zone"], true);
    for zone in ["0", "-1", "x", "nan", "5 N", "1e300"] {
        let (refused, _) = gauge(radii.as_bytes(), &["--zone", zone]);
        assert_eq!(refused.exit, 2, "{zone}: {}", refused.err);
    }
}

/// Beside readings in inches a plain `--zone` or `--radius` would be mm by rule and thou to the person at the machine: refused, with what to write.
#[test]
fn a_plain_length_beside_readings_in_inches_is_refused() {
    let deviations = |header: &str| {
        let row = |k: u32| {
            format!(
                "{},{:.2}\n",
                5 * k,
                f64::to_radians(15.0 * f64::from(k)).cos()
            )
        };
        format!("{header}\n") + &(0..72).map(row).collect::<String>()
    };
    let list = deviations("# thou");
    let named = deviations("angle_deg,deviation_thou");
    let thou = ["--unit", "thou"];
    for (text, options, write) in [
        (&list, &thou[..], ["\"0.5 thou\"", "\"0.5 mm\""]),
        (&list, &["--unit", "in"], ["\"0.5 in\"", "\"0.5 mm\""]),
        (&named, &[], ["\"0.5 thou\"", "\"0.5 mm\""]),
    ] {
        let options = [options, &["--radius", "1.5 in", "--zone", "0.5"]].concat();
        let (refused, _) = gauge(text.as_bytes(), &options);
        assert_eq!(
            (refused.exit, refused.out.as_str()),
            (2, ""),
            "{}",
            refused.err
        );
        let says = |words: &&str| refused.err.contains(*words);
        assert!(write.iter().all(says), "{}", refused.err);
    }
    let (refused, _) = gauge(list.as_bytes(), &["--unit", "thou", "--radius", "1.5"]);
    assert_eq!(refused.exit, 2, "{}", refused.out);
    assert!(
        refused
            .err
            .contains("\"1.5 in\", \"1.5 thou\" or \"1.5 mm\""),
        "{}",
        refused.err
    );
    // three lobes of +-1 thou are 2 thou from crest to valley: out of half a thou, in half a millimetre
    let judged = |zone: &str| {
        let options = [&thou[..], &["--radius", "1.5 in", "--zone", zone]].concat();
        document(&list, &options)["verdict"]["in_zone"].clone()
    };
    assert_eq!(
        (judged("0.5 thou"), judged("0.5 mm")),
        (false.into(), true.into())
    );
    // plain numbers are mm beside metric readings
    for unit in [&[][..], &["--unit", "mm"], &["--unit", "um"]] {
        let options = [unit, &["--radius", "38", "--zone", "0.5"]].concat();
        near(&document(&list, &options), "/verdict/zone", 0.5, 0.0);
    }
}

/// What readings do not say themselves is assumed, and that is said: the unit, and that plain numbers are radii.
#[test]
fn what_was_assumed_of_the_readings_is_said() {
    let sizes = |size: f64| {
        (0..40)
            .map(|k| format!("{:.4}\n", size + 1e-4 * f64::from(k % 4)))
            .collect::<String>()
    };
    let radii = "taken as radii; if they are diameters from a micrometer or bore gauge add --from two-point";
    let unit = "the readings are taken as mm";
    let reading = table("angle,reading", 36, |t| 2.0 + (3.0 * t).cos());
    let named = table("angle_deg,radius_mm", 36, |t| 60.0 + part(t));
    for (text, options, says, not) in [
        (&sizes(2.3), &["--unit", "in"][..], vec![radii], vec![unit]),
        (&sizes(60.0), &[], vec![radii, unit], vec![]),
        (&reading, &["--radius", "30"], vec![unit], vec![radii]),
        (&named, &[], vec![], vec![unit, radii]),
    ] {
        let cautions = document(text, options)["cautions"].to_string();
        let (shown, _) = gauge_on(text, options);
        for place in [&cautions, &shown] {
            assert!(says.iter().all(|w| place.contains(w)), "{place}");
            assert!(!not.iter().any(|w| place.contains(w)), "{place}");
        }
    }
    // what is advised works: plain numbers off a micrometer bring their own radius
    let diameters = document(&sizes(2.3), &["--unit", "in", "--from", "two-point"]);
    near(
        &diameters,
        "/least_squares/radius",
        0.5 * 25.4 * 2.30015,
        1e-6,
    );
}

/// Readings that are off centre alone are none that a V can show, so they fit no V. The row of that V shows what was read, 3 thou, and not the little
/// that the lobes of a V make of it.
#[test]
fn readings_that_do_not_fit_a_v_are_told() {
    let wave = "0 1.1 1.5 1.1 0 -1.1 -1.5 -1.1";
    let options = [
        "--unit",
        "thou",
        "--radius",
        "1.2 in",
        "--from",
        "vee",
        "--from-angle",
        "60",
    ];
    let (said, _) = gauge_on(wave, &options);
    assert!(said.contains("do not fit a 60 deg V: scatter 1."), "{said}");
    assert!(said.contains("against a movement of 3.0 thou"), "{said}");
    let own = |found: &Value| {
        rows(found)
            .find(|r| r["gauge"] == "60 deg V-block, indicator opposite the V")
            .cloned()
            .unwrap()
    };
    let found = document(wave, &[&options[..], &["--vee", "60"]].concat());
    near(&own(&found), "/range", 3.0 * 0.0254, 1e-9);
    near(&found, "/vee/0/range", 3.0 * 0.0254, 1e-9);
    // three lobes do fit, and so does a part so round that the pointer flickers between two marks
    let three = table("# thou", 36, |t| 2.0 * (3.0 * t).cos());
    let flicker = table("# thou", 36, |t| f64::from((997.0 * t) as u32 % 2) * 0.1);
    for text in [&three, &flicker] {
        let (said, _) = gauge_on(text, &options);
        assert!(!said.contains("do not fit"), "{said}");
    }
}

/// Too few readings for any lobe of a gauge, and half a turn of diameters that nobody said the gauge of: the words say what would do.
#[test]
fn refusals_say_what_would_do() {
    for (text, options, says) in [
        (
            "2.7502 2.7504 2.7501 2.7499",
            &["--unit", "in", "--from", "two-point"][..],
            "4 readings are too few for a two-point gauge",
        ),
        (
            "2.7502 2.7504 2.7501 2.7499",
            &["--unit", "in", "--from", "two-point"],
            "at least 6 readings",
        ),
        (
            "0 1 2 1 0 1",
            &["--radius", "30", "--from", "vee", "--from-angle", "60"],
            "at least 7 readings",
        ),
        (
            "angle_deg,diameter_mm\n0,60.1\n40,60.2\n80,60.1\n120,60.0\n160,60.1\n",
            &["--surface", "bore"],
            "add --from two-point",
        ),
    ] {
        let (refused, _) = gauge(text.as_bytes(), options);
        assert_eq!(
            (refused.exit, refused.out.as_str()),
            (3, ""),
            "{}",
            refused.err
        );
        assert!(refused.err.contains(says), "{says}: {}", refused.err);
    }
    // and what is said does
    for (text, options) in [
        (
            "2.7502 2.7504 2.7501 2.7499 2.7500 2.7503",
            &["--unit", "in", "--from", "two-point"][..],
        ),
        (
            "0 1 2 1 0 1 2",
            &["--radius", "30", "--from", "vee", "--from-angle", "60"],
        ),
    ] {
        assert_eq!(gauge(text.as_bytes(), options).0.exit, 0, "{text}");
    }
}

/// Equal readings have no lobes: neither rows of them nor columns of their factors.
#[test]
fn equal_readings_have_no_lobes() {
    let text = table("angle_deg,diameter_in", 12, |_| 2.3701);
    let (said, lines) = gauge_on(&text, &["--from", "two-point"]);
    assert!(
        !said.contains("Lobes, amplitude") && !lines.iter().any(|l| l.trim() == "lobes:"),
        "{said}"
    );
    assert_eq!(
        document(&text, &["--from", "two-point"])["factors"],
        serde_json::json!([])
    );
    let own = lines
        .iter()
        .find(|l| l.trim_start().starts_with("two-point gauge"))
        .unwrap();
    assert!(own.ends_with("0.0 thou      0.000 mm"), "{own}");
}

/// Sizes at which squares overflow are refused, and nothing that is not a number is printed.
#[test]
fn sizes_beyond_computing_are_refused() {
    let deviations = table("angle_deg,deviation_mm", 36, part);
    let (huge, _) = gauge(deviations.as_bytes(), &["--radius", "1e308"]);
    assert_eq!((huge.exit, huge.out.as_str()), (2, ""), "{}", huge.err);
    assert!(huge.err.contains("up to 1000 m"), "{}", huge.err);
    let radii = table("angle_deg,radius_mm", 36, |t| 1e200 + 1e190 * part(t));
    let (huge, _) = gauge(radii.as_bytes(), &[]);
    assert_eq!((huge.exit, huge.out.as_str()), (3, ""), "{}", huge.err);
}

/// Every option reaches what it is about.
#[test]
fn the_options_arrive() {
    let fine = |t: f64| 60.0 + part(t) + 0.002 * (40.0 * t).cos();
    let readings = table("angle_deg,radius_mm", 360, fine);
    let plain = document(&readings, &[]);
    assert!(plain["filtered"].is_null());
    let filtered = document(&readings, &["--filter", "15"]);
    near(&filtered, "/filtered/filter_upr", 15.0, 0.0);
    let zone = number(&filtered, "/filtered/minimum_zone/roundness");
    assert!(zone < number(&plain, "/minimum_zone/roundness") - 0.003);
    let (text, _) = gauge(readings.as_bytes(), &["--filter", "15"]);
    assert!(
        text.out.contains("Behind a Gaussian filter of 15"),
        "{}",
        text.out
    );

    // the readings' zero a quarter on, and the turn the other way
    let angle = |document: &Value| number(document, "/harmonics/2/angle");
    let three = angle(&plain);
    let turned = document(&readings, &["--zero-at", "90"]);
    assert!((angle(&turned) - (three + 90.0).rem_euclid(120.0)).abs() < 1e-6);
    let clockwise = document(&readings, &["--clockwise"]);
    assert!((angle(&clockwise) - (-three).rem_euclid(120.0)).abs() < 1e-6);

    // a radius beside radii is not used, and that is said
    let beside = document(&readings, &["--radius", "50"]);
    let said = |document: &Value, what: &str| document["cautions"].to_string().contains(what);
    assert!(said(&beside, "--radius 50 mm is not used") && !said(&plain, "--radius"));
    near(&beside, "/least_squares/radius", 60.0, 0.01);

    let five = document(&readings, &["--lobes", "5"]);
    near(&five, "/most_lobes", 5.0, 0.0);
    assert_eq!(five["harmonics"].as_array().unwrap().len(), 5);
    near(&plain, "/most_lobes", 50.0, 0.0);

    // half a turn of diameters is all of them
    let half: String = (0..18)
        .map(|k| {
            let t = f64::to_radians(f64::from(10 * k));
            format!("{},{:.6}\n", 10 * k, 120.0 + 0.02 * (2.0 * t).cos())
        })
        .collect();
    let found = document(
        &format!("angle_deg,diameter_mm\n{half}"),
        &["--from", "two-point"],
    );
    near(&found, "/recovered/lobes/0/amplitude", 0.01, 1e-6);
    near(&found, "/least_squares/radius", 60.0, 1e-3);

    // what cannot be: lobes larger than the part, and a gauge that shows none of the lobes asked for
    let reading = table("angle_deg,reading_mm", 36, |t| 0.1 * (2.0 * t).cos());
    let refused = |options: &[&str]| {
        let (answer, _) = gauge(reading.as_bytes(), options);
        assert_eq!(answer.out, "");
        (answer.exit, answer.err)
    };
    let (exit, words) = refused(&["--from", "two-point", "--radius", "0.01"]);
    assert_eq!(exit, 3, "{words}");
    assert!(words.contains("cannot be"), "{words}");
    let (exit, words) = refused(&[
        "--from",
        "vee",
        "--from-angle",
        "60",
        "--lobes",
        "2",
        "--radius",
        "60",
    ]);
    assert_eq!(exit, 2, "{words}");
    let (exit, words) = refused(&["--from", "vee", "--lobes", "30", "--radius", "60"]);
    assert_eq!(exit, 3, "{words}");
}

/// The table shows the figures of the document, each in its row: circles, lobes by size, scatter and cautions.
#[test]
fn the_table_is_that_of_the_document() {
    // eleven lobes, more than the table has rows for; the strongest have the higher counts
    let shape = |t: f64| {
        let lobe = |n: u32| 0.002 * f64::from(n) * (f64::from(n) * t - f64::from(n * n)).cos();
        60.0 + (2..=12).map(lobe).sum::<f64>()
    };
    let readings = table("angle_deg,radius_mm", 36, shape);
    let found = document(&readings, &["--lobes", "15"]);
    let (text, _) = gauge(readings.as_bytes(), &["--lobes", "15"]);
    let words = text.out.split_whitespace().collect::<Vec<_>>().join(" ");
    let row = |name: &str| -> f64 {
        let line = text
            .out
            .lines()
            .find(|l| l.trim_start().starts_with(name))
            .unwrap();
        let (_, figures) = line.split_once(name).unwrap();
        figures.split_whitespace().next().unwrap().parse().unwrap()
    };
    for (name, key) in [
        ("minimum zone", "minimum_zone"),
        ("least squares", "least_squares"),
        ("maximum inscribed circle", "maximum_inscribed"),
        ("minimum circumscribed circle", "minimum_circumscribed"),
    ] {
        near(&found, &format!("/{key}/roundness"), row(name), 6e-4);
    }
    let zones =
        ["minimum_zone", "least_squares"].map(|k| number(&found, &format!("/{k}/roundness")));
    assert!(
        zones[1] - zones[0] > 2e-3,
        "rows that cannot be told apart: {zones:?}"
    );
    let counts: Vec<&str> = text
        .out
        .lines()
        .skip_while(|l| !l.starts_with("Lobes, amplitude"))
        .skip(1)
        .take_while(|l| !l.is_empty() && l.starts_with("  "))
        .filter_map(|l| l.split_whitespace().next())
        .collect();
    assert_eq!(counts, ["12", "11", "10", "9", "8", "7", "6", "5"]);
    assert!(
        words.contains("Scatter of the readings about 15 lobes"),
        "{words}"
    );
    // off centre towards 60 deg; an odd number of lobes, to which a micrometer is blind
    let off = |t: f64| 60.0 + 0.1 * (t - 60_f64.to_radians()).cos() + 0.01 * (3.0 * t).cos();
    let (text, _) = gauge(table("angle_deg,radius_mm", 36, off).as_bytes(), &[]);
    assert!(text.out.contains("towards 60.0 deg"), "{}", text.out);
    let shown = text.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        shown.contains("; insensitive (shows under 20 percent): two-point gauge"),
        "{shown}"
    );
    let few = table("angle_deg,radius_mm", 12, shape);
    let (text, _) = gauge(few.as_bytes(), &[]);
    let caution = document(&few, &[])["cautions"][0]
        .as_str()
        .unwrap()
        .to_owned();
    let shown = text.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(shown.contains(&format!("Caution: {caution}")), "{shown}");
}

/// What is stated of a trace read unevenly is its largest standard error, and not the usual one.
#[test]
fn the_uncertainty_is_the_largest() {
    let typed: Vec<String> = (0..30)
        .map(|k| {
            let degrees = 12.0 * f64::from(k) + 5.0 * f64::from(k % 2);
            let value = 60.0 + part(degrees.to_radians()) + 0.001 * f64::from(k * k % 5);
            format!("{degrees}:{value:.4}")
        })
        .collect();
    let typed = typed.join(" ");
    let readings = Readings::parse(&typed, &Format::default()).unwrap();
    let [usual, largest] = smooth(&readings, 8).unwrap().profile_uncertainty.unwrap();
    assert!(largest > 1.05 * usual, "{usual} {largest}");
    let found = document(&typed, &["--lobes", "8"]);
    near(&found, "/recovered/profile_uncertainty", largest, 1e-12);
}
