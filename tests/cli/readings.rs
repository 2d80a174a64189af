//! The stock as measured: readings in a case, beside it and wrong.

use std::f64::consts::TAU;
use std::fmt::Write as _;
use std::fs;
use std::path::Path;

use ringwright_solver::metrology::{Curve, Gauge, Profile, Vee};
use serde_json::Value;

use crate::{CASE, call};

const LOBES: &str = "[[part.lobes]]\nsurface = \"both\"\ncount = 2\namplitude = 0.05\nangle = 10\n";

/// Radius of the case's stock at an angle, with its lobes and three more.
fn stock(nominal: f64, t: f64) -> f64 {
    nominal + 0.05 * (2.0 * (t - 10_f64.to_radians())).cos() + 0.01 * (3.0 * t).cos()
}

fn radii(nominal: f64, points: usize) -> Vec<f64> {
    (0..points)
        .map(|k| stock(nominal, TAU * k as f64 / points as f64))
        .collect()
}

/// A case with this in place of its lobes.
fn with(typed: &str) -> String {
    assert!(CASE.contains(LOBES));
    CASE.replacen(LOBES, typed, 1)
}

fn solve(folder: &Path, text: &str) -> Value {
    let case = folder.join("case.toml");
    fs::write(&case, text).unwrap();
    let out = folder.join("out");
    let c = call(&[
        "run",
        case.to_str().unwrap(),
        "--out",
        out.to_str().unwrap(),
        "--json",
        "--fields",
        "none",
    ]);
    assert_eq!(c.exit, 0, "{}", c.err);
    serde_json::from_str(&c.out).unwrap()
}

fn shape<'a>(result: &'a Value, surface: &str) -> &'a Value {
    &result["steps"][0]["released"][surface]
}

/// Readings in whatever form give what the same lobes typed in give.
#[test]
fn readings_are_as_good_as_lobes() {
    let typed = "[[part.lobes]]\nsurface = \"both\"\ncount = 2\namplitude = 0.05\nangle = 10\n\
                 [[part.lobes]]\nsurface = \"both\"\ncount = 3\namplitude = 0.01\n";
    let folder = tempfile::tempdir().unwrap();
    let wanted = solve(folder.path(), &with(typed));
    let csv = |radii: &[f64]| {
        let mut text = "# a remark\nangle_deg,radius_mm\n".to_owned();
        for (k, r) in radii.iter().enumerate() {
            writeln!(text, "{},{r:.7}", 360.0 * k as f64 / radii.len() as f64).unwrap();
        }
        text
    };
    fs::write(folder.path().join("outer.csv"), csv(&radii(60.0, 72))).unwrap();
    fs::write(folder.path().join("bore.csv"), csv(&radii(55.0, 90))).unwrap();
    let deviations = |n: usize, unit: f64| -> Vec<f64> {
        radii(0.0, n).iter().map(|d| (d + 0.3) / unit).collect()
    };
    let list = deviations(24, 0.0254)
        .iter()
        .enumerate()
        .map(|(k, d)| format!("{}:{d:+.5}", (15 * k + 330) % 360))
        .collect::<Vec<_>>()
        .join(" ");
    let even = deviations(36, 1.0)
        .iter()
        .map(|d| format!("{d:.7}"))
        .collect::<Vec<_>>()
        .join(", ");
    for readings in [
        "outer = \"outer.csv\"\nbore = \"bore.csv\"".to_owned(),
        "outer = { file = \"outer.csv\", lobes = 8 }\nbore = { file = \"bore.csv\" }".to_owned(),
        format!(
            "outer = {{ readings = \"{list}\", unit = \"thou\", reads = \"deviation\", zero_at = 30 }}\nbore = {{ readings = [{even}], reads = \"deviation\" }}"
        ),
    ] {
        let found = solve(
            folder.path(),
            &with(&format!("[part.readings]\n{readings}\n")),
        );
        for surface in ["outer", "bore"] {
            for key in [
                "roundness_minimum_zone",
                "roundness_least_squares",
                "mean_radius",
            ] {
                let number = |v: &Value| shape(v, surface)[key].as_f64().unwrap();
                let (got, want) = (number(&found), number(&wanted));
                // both were solved to a mesh error of 1 percent on meshes graded alike
                assert!(
                    (got - want).abs() < 2e-5,
                    "{readings}\n{surface} {key}: {got} {want}"
                );
            }
            let measured = &found["part"]["readings"][surface];
            assert!(measured["points"].as_u64().unwrap() >= 24);
            assert!(
                measured["uncertainty"].as_f64().unwrap() < 1e-5,
                "{measured}"
            );
        }
    }
    assert!(wanted["part"]["readings"]["outer"].is_null());
}

/// A trace taken in a V becomes the stock; what the V is blind to is said.
#[test]
fn a_trace_in_a_vee_is_inverted() {
    let folder = tempfile::tempdir().unwrap();
    let radii = radii(60.0, 3600);
    let curve = Curve::through(&Profile::equal(&radii)).unwrap();
    let trace = Gauge::Vee(Vee::summit(90.0)).trace(&curve);
    let list: Vec<_> = (0..36)
        .map(|k| format!("{}:{:+.6}", 10 * k, trace.readings[100 * k]))
        .collect();
    let readings = format!(
        "[part.readings]\nouter = {{ readings = \"{}\", gauge = {{ kind = \"vee\", included_angle = 90 }}, lobes = 7 }}\n",
        list.join(" ")
    );
    let found = solve(folder.path(), &with(&readings));
    // the cut bore spoils nothing outside but what springs back, so the stock's lobes are looked for in the profiles
    let csv = fs::read_to_string(folder.path().join("out/profiles.csv")).unwrap();
    let mut compared = 0;
    for row in csv.lines().filter(|l| l.starts_with("1,stock,outer,")) {
        let fields: Vec<f64> = row.split(',').skip(3).map(|f| f.parse().unwrap()).collect();
        let want = stock(60.0, fields[0].to_radians());
        // left over: what turning adds at second order, slope^2 / R = 1.7e-4 a contact, of which the flanks count 0.7 each
        assert!((fields[1] - want).abs() < 4e-4, "{row} {want}");
        compared += 1;
    }
    assert_eq!(compared, 3600);
    let unseen = &found["part"]["readings"]["outer"]["unseen"];
    // 1 + cos(7 * 135 deg) / sin 45 deg = 0
    assert_eq!(*unseen, serde_json::json!([7]));
    let said = found["assumed"].to_string();
    assert!(
        said.contains("90 deg V-block, indicator opposite the V"),
        "{said}"
    );
    assert!(
        said.contains("of 7 lobes that gauge shows nothing"),
        "{said}"
    );
}

/// Off-centre readings are a matter of setting up, unless both surfaces were read in one setting.
#[test]
fn the_offset_of_the_bore_is_kept_when_it_is_known() {
    let folder = tempfile::tempdir().unwrap();
    let off = |nominal: f64, [x, y]: [f64; 2]| {
        let rows: String = (0..36)
            .map(|k| {
                let t = (10.0 * f64::from(k)).to_radians();
                let (along, across) = (x * t.cos() + y * t.sin(), y * t.cos() - x * t.sin());
                let r = along + (nominal * nominal - across * across).sqrt();
                format!("{},{r:.9}\n", 10 * k)
            })
            .collect();
        format!("angle_deg,radius_mm\n{rows}")
    };
    fs::write(folder.path().join("outer.csv"), off(60.0, [0.3, -0.2])).unwrap();
    fs::write(folder.path().join("bore.csv"), off(55.0, [0.35, -0.1])).unwrap();
    let centre = |extra: &str| {
        let text = with(&format!(
            "[part.readings]\nouter = \"outer.csv\"\nbore = \"bore.csv\"\n{extra}\n"
        ));
        fs::write(folder.path().join("case.toml"), &text).unwrap();
        let registry = ringwright_plugins::registry();
        let case = ringwright_solver::case::read_beside(&text, &registry, folder.path()).unwrap();
        case.part.stock.bore.centre
    };
    assert_eq!(centre(""), [0.0, 0.0]);
    let [x, y] = centre("one_setting = true");
    assert!((x - 0.05).abs() < 1e-7 && (y - 0.1).abs() < 1e-7, "{x} {y}");
}

/// Plain numbers are in the file's units, as everywhere in a case; a header or `unit` says otherwise.
#[test]
fn plain_readings_are_in_the_units_of_the_case() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(
        folder.path().join("mm.csv"),
        "angle_deg,deviation_mm\n0,0.1\n72,0\n144,0\n216,0\n288,0\n",
    )
    .unwrap();
    let first_wave = |units: &str, outer: &str| {
        let text = format!(
            "units = \"{units}\"\n[part]\nouter_diameter = 5\nbore_diameter = 4.5\nlength = 1\nmaterial = \"bronze C93200\"\n\
             [part.readings]\nouter = {outer}\n[[step]]\nhold = \"free\"\n"
        );
        let registry = ringwright_plugins::registry();
        let case = ringwright_solver::case::read_beside(&text, &registry, folder.path());
        let case = case.unwrap_or_else(|p| panic!("{p:?}"));
        case.part.stock.outer.measured[2][0]
    };
    let list = "{ readings = [0.1, 0, 0, 0, 0], reads = \"deviation\" }";
    let mm = first_wave("mm", list);
    assert!(mm > 0.01, "{mm}");
    let near = |found: f64, want: f64| assert!((found / want - 1.0).abs() < 0.02, "{found} {want}");
    near(first_wave("inch", list), 25.4 * mm);
    near(
        first_wave("inch", &list.replace("reads", "unit = \"mm\", reads")),
        mm,
    );
    near(first_wave("inch", "\"mm.csv\""), mm);
}

#[test]
fn wrong_readings_name_the_key_the_file_and_its_line() {
    let folder = tempfile::tempdir().unwrap();
    let case = folder.path().join("case.toml");
    let file = |name: &str, text: &str| fs::write(folder.path().join(name), text).unwrap();
    file("empty.csv", "");
    file(
        "nan.csv",
        "angle_deg,radius_mm\n0,60\n90,nan\n180,60\n270,60\n",
    );
    file(
        "twice.csv",
        "angle_deg,radius_mm\n0,60\n90,60.1\n90,60.2\n180,60\n270,60\n",
    );
    file(
        "inch.csv",
        "angle_deg,radius_in\n0,60\n90,60.1\n180,60\n270,60\n",
    );
    file(
        "good.csv",
        "angle_deg,radius_mm\n0,60\n72,60.1\n144,60\n216,60\n288,60.1\n",
    );
    let list = "0:+0.4 72:-0.1 144:-0.9 216:0.2 288:0.1";
    for (typed, key, says) in [
        ("outer = \"missing.csv\"", "outer", "cannot be read"),
        (
            "outer = \"empty.csv\"",
            "outer",
            "empty.csv: there are no readings",
        ),
        ("outer = \"nan.csv\"", "outer", "nan.csv: line 3"),
        ("outer = \"twice.csv\"", "outer", "twice.csv: line 4"),
        ("outer = \"inch.csv\"", "outer", "mixed units"),
        ("outer = 3", "outer", "expected text in quotes"),
        ("outer = {}", "outer", "one of them"),
        ("outter = \"good.csv\"", "outter", "did you mean \"outer\"?"),
        (
            "outer = { file = \"good.csv\", lobes = 9 }",
            "outer.file",
            "too few",
        ),
        (
            "outer = { file = \"good.csv\", lobes = 1 }",
            "outer.lobes",
            "2 or more",
        ),
        (
            "outer = { file = \"good.csv\", readings = \"0:1\" }",
            "outer",
            "one of them",
        ),
        (
            "outer = { file = \"good.csv\", unit = \"inch\" }",
            "outer.unit",
            "\"in\"",
        ),
        (
            "outer = { file = \"good.csv\", gauge = { kind = \"three-point\" } }",
            "outer.gauge",
            "the outside cannot be read on",
        ),
        (
            "bore = { readings = \"0:1 9:2\", gauge = { kind = \"vee\" } }",
            "bore.gauge",
            "the bore cannot be read on",
        ),
        (
            "outer = { readings = [0, true, 1, 2] }",
            "outer.readings",
            "plain numbers",
        ),
        (
            "outer = { readings = \"0:+0.4 120:x 240:1\", reads = \"deviation\" }",
            "outer.readings",
            "\"x\" is not a number",
        ),
        ("one_setting = true", "one_setting", "no bore_offset"),
        (
            "outer = { readings = \"0:+0.4 72:-0.1 144:-0.9 216:0.2 288:0.1\", reads = \"deviation\", lobes = 2 }\none_setting = true",
            "one_setting",
            "no bore_offset",
        ),
        (
            "outer = { readings = \"0:60 72:-60 144:55 216:-50 288:60\", reads = \"deviation\", lobes = 2 }",
            "",
            "no wall",
        ),
    ] {
        let text = with(&format!("[part.readings]\n{typed}\n"));
        fs::write(&case, &text).unwrap();
        for command in ["check", "run"] {
            let c = call(&[command, case.to_str().unwrap()]);
            assert_eq!(c.exit, 3, "{typed}: {} {}", c.err, c.out);
            let field = format!(
                "part.readings{}{key}",
                if key.is_empty() { "" } else { "." }
            );
            let good = c
                .err
                .lines()
                .any(|l| l.contains(&format!(": {field}: ")) && l.contains(says));
            assert!(
                good,
                "{typed} should be refused as {field} saying {says:?}; got:\n{}",
                c.err
            );
        }
    }
    // beside lobes, and in a case that is no file
    let beside = format!(
        "{LOBES}[part.readings]\nouter = {{ readings = \"{list}\", reads = \"deviation\" }}\n"
    );
    fs::write(&case, with(&beside)).unwrap();
    let c = call(&["check", case.to_str().unwrap()]);
    assert!(
        c.exit == 3 && c.err.contains("one or the other"),
        "{}",
        c.err
    );
    let text = with("[part.readings]\nouter = \"good.csv\"\n");
    let problems = ringwright_solver::case::read(&text, &ringwright_plugins::registry());
    let said = format!("{:?}", problems.err().unwrap());
    assert!(said.contains("no folder"), "{said}");
}
