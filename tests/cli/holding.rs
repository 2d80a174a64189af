//! The worked page on holding: its blocks are what the program prints of the shipped ring, and its arithmetic comes out as the program's figures do.

use std::fs;
use std::path::PathBuf;

use serde_json::Value;

use crate::call;

const EXAMPLE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../cli/examples/ring.toml");

fn page() -> PathBuf {
    PathBuf::from(concat!(env!("CARGO_MANIFEST_DIR"), "/../cli/HOLDING.md"))
}

/// The page with another text in the block of this name.
fn with_block(page: &str, name: &str, text: &str) -> String {
    let head = format!("```text {name}\n");
    let start = page.find(&head).unwrap() + head.len();
    let end = start + page[start..].find("```").unwrap();
    format!("{}{text}{}", &page[..start], &page[end..])
}

/// Runs a case; what it prints and its result.
fn run(case: &str) -> (String, Value) {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("ring.toml");
    fs::write(&file, case).unwrap();
    let out = folder.path().join("out");
    let run = call(&[
        "run",
        file.to_str().unwrap(),
        "--out",
        out.to_str().unwrap(),
        "--fields",
        "none",
    ]);
    assert_eq!(run.exit, 0, "{}", run.err);
    let result = fs::read_to_string(out.join("result.json")).unwrap();
    (run.out, serde_json::from_str(&result).unwrap())
}

/// The verdict as far as the force window.
fn first_lines(printed: &str) -> String {
    let lines = printed.lines();
    let until =
        |l: &&str| !l.starts_with("  The bore: cut to") && !l.starts_with("  Change the hold");
    lines.take_while(until).map(|l| format!("{l}\n")).collect()
}

fn at(value: &Value, pointer: &str) -> f64 {
    value
        .pointer(pointer)
        .and_then(Value::as_f64)
        .unwrap_or_else(|| panic!("{pointer}"))
}

/// Each figure of the program beside the arithmetic that it comes from.
fn worked(result: &Value) -> String {
    let step = &result["steps"][0];
    let depth = at(step, "/cuts/0/depth_max");
    let mut text = String::new();
    let mut line = |what: &str, how: String, own: f64, found: f64, unit: &str| {
        assert!(
            (own / found - 1.0).abs() < 2e-3,
            "{what}: {own} and {found}"
        );
        let found = match found {
            x if x < 10.0 => format!("{x:.2}"),
            x if x < 100.0 => format!("{x:.1}"),
            x => format!("{x:.0}"),
        };
        let found = format!("{found} {unit}");
        text += &format!("{what}\n    {how} = {}\n", found.trim_end());
    };
    let thickness: f64 = 0.08;
    let kc = 700.0 * thickness.powf(-0.27);
    let tangential = 1.3 * kc * thickness * depth;
    line(
        "force round the part, worn edge, largest depth",
        format!("1.3 x 700 MPa x 0.08^-0.27 x 0.08 mm x {depth:.3} mm"),
        tangential,
        at(step, "/cuts/0/tool_force/tangential/1"),
        "N",
    );
    let torque = tangential * 47.0 / 1e3;
    line(
        "torque that the cut asks for",
        format!("{tangential:.0} N x 47 mm"),
        torque,
        at(step, "/grip/torque_needed") / 1e3,
        "N m",
    );
    let omega = 400.0 * std::f64::consts::TAU / 60.0;
    let lost = 0.6 * 0.075 * omega * omega;
    line(
        "force of a jaw at 400 rev/min",
        format!("2000 N - 0.6 kg x 0.075 m x ({omega:.1} rad/s)^2"),
        2000.0 - lost,
        at(step, "/grip/force_at_speed/0"),
        "N",
    );
    let states = ["/held_at_speed/contacts", "/after_cut/contacts"];
    let sums = states.map(|s| -> f64 {
        (0..3)
            .map(|k| at(step, &format!("{s}/{k}/pressure_integral")))
            .sum()
    });
    let pressed = sums[0].min(sums[1]);
    let available = 0.8 * 0.06 * pressed * 55.0 / 1e3;
    line(
        "torque that the hold takes, least friction",
        format!("0.8 x 0.06 x {pressed:.0} N (the pressure of all jaws) x 55 mm"),
        available,
        at(step, "/grip/torque_available") / 1e3,
        "N m",
    );
    // nothing but torque asks for friction here: the stop takes the feed, and the pads take what tips
    line(
        "safety against slip, at the worst of both",
        format!("{available:.1} N m / {torque:.2} N m"),
        available / torque,
        at(step, "/grip/slip_safety"),
        "",
    );
    line(
        "speed at which the jaws let go",
        "60 / 2 pi x sqrt(2000 N / (0.6 kg x 0.075 m))".to_owned(),
        60.0 / std::f64::consts::TAU * (2000.0_f64 / (0.6 * 0.075)).sqrt(),
        at(step, "/grip/speed_at_zero_force"),
        "rev/min",
    );
    text
}

#[test]
fn the_worked_page_is_what_the_program_says() {
    let example = fs::read_to_string(EXAMPLE).unwrap();
    let (printed, result) = run(&example);
    let other = [
        ("bored_diameter = 111.0", "bored_diameter = 110.0"),
        ("width = 22.0", "width = 44.0"),
        ("force = 2000.0", "force = 1200.0"),
    ];
    let changed = other.iter().fold(example.clone(), |text, (from, to)| {
        assert!(text.contains(from), "{from}");
        text.replacen(from, to, 1)
    });
    let (other, of_other) = run(&changed);
    assert!(
        first_lines(&printed).contains("No force will do"),
        "{printed}"
    );
    assert!(first_lines(&other).contains("Hold between "), "{other}");
    let window = &of_other["steps"][0]["grip"]["force_window"];
    assert!(at(window, "/low") < at(window, "/high"));
    let old = fs::read_to_string(page()).unwrap();
    let mut new = with_block(&old, "worked", &worked(&result));
    new = with_block(&new, "first", &first_lines(&printed));
    new = with_block(&new, "second", &first_lines(&other));
    if std::env::var_os("RINGWRIGHT_BLESS").is_some() {
        fs::write(page(), &new).unwrap();
        return;
    }
    assert!(
        new == old,
        "cli/HOLDING.md is behind: run the tests once with RINGWRIGHT_BLESS=1"
    );
}
