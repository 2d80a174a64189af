//! Ways of holding that everybody in a shop names first, as whole runs.

use std::fs;

use serde_json::Value;

use crate::call;

/// Solves a case and gives its result.
fn solve(text: &str) -> Value {
    let folder = tempfile::tempdir().unwrap();
    let (case, out) = (folder.path().join("case.toml"), folder.path().join("out"));
    fs::write(&case, text).unwrap();
    let (case, out) = (case.to_str().unwrap(), out.to_str().unwrap());
    let c = call(&["run", case, "--out", out, "--json", "--fields", "none"]);
    assert_eq!(c.exit, 0, "{text}\n{}", c.err);
    serde_json::from_str(&c.out).unwrap()
}

fn number(result: &Value, pointer: &str) -> f64 {
    let found = result.pointer(pointer).and_then(Value::as_f64);
    found.unwrap_or_else(|| panic!("no {pointer}"))
}

const THIN: &str = "[part]\nouter_diameter = 104.0\nbore_diameter = 92.0\nlength = 16.0\nmaterial = \"aluminium 6061-T6\"\n";

/// Three jaws, and three screws in the bore in line with them: the screws take nearly the whole force, and the ring stays as good as
/// round, where bare jaws leave it lobed. (A wall pressed between jaw and screw bends nowhere.)
#[test]
fn screws_in_line_with_the_jaws_take_their_force() {
    let jaws = "[[hold.h]]\nscheme = \"jaws\"\ncount = 3\nforce = 500.0\nbored_diameter = 105.0\nwidth = 17.0\n";
    let screws = "[[hold.h]]\nscheme = \"screws\"\ncount = 3\ncrown_radius = 11.0\ngap = 0.0\n";
    let step = "[[step]]\nhold = \"h\"\n[[step.cut]]\nsurface = \"outer\"\ndiameter = 103.0\n";
    let bare = solve(&format!("{THIN}{jaws}{step}"));
    let held = solve(&format!("{THIN}{screws}{jaws}{step}"));
    let roundness = |r: &Value| number(r, "/steps/0/released/outer/roundness_minimum_zone");
    for k in 0..3 {
        let force = number(&held, &format!("/steps/0/held/contacts/{k}/force"));
        assert!(force > 0.9 * 500.0 && force < 500.0, "{force}");
    }
    let (bare, held) = (roundness(&bare), roundness(&held));
    assert!(held < 0.1 * bare, "{held} {bare}");
}

/// A ring between two plates drawn together by studs, turned outside: held it has grown by `nu P / (A E)` (Poisson's ratio, Hooke's
/// law), so it comes out smaller by that, and round.
#[test]
fn a_ring_between_plates_changes_its_size_alone() {
    let plates = "[[hold.h]]\nscheme = \"end-clamp\"\naxial_force = \"25 kN\"\n";
    let step = "[[step]]\nhold = \"h\"\n[[step.cut]]\nsurface = \"outer\"\ndiameter = 103.0\n";
    let result = solve(&format!("accuracy = 1e-4\n{THIN}{plates}{step}"));
    let area = |outer: f64| std::f64::consts::PI / 4.0 * (outer * outer - 92.0 * 92.0);
    let strain = |outer: f64| 0.33 * 25e3 / (area(outer) * 68.9e3);
    let shrunk = 103.0 - number(&result, "/steps/0/released/average_diameter/outer");
    // the area that carries is that of the stock or that of the cut ring, a tenth apart
    let [least, most] = [104.0, 103.0].map(|d| 103.0 * strain(d));
    assert!(
        shrunk > 0.999 * least && shrunk < 1.001 * most,
        "{shrunk} {least} {most}"
    );
    assert!(number(&result, "/steps/0/released/outer/roundness_minimum_zone") < 1e-6);
    let assumed = result["assumed"].to_string();
    assert!(assumed.contains("hopeful"), "{assumed}");
}

/// A blank of which the outside alone was read, egg-shaped, trued up by a plug and turned: the same outcome as the same wall bent by
/// typed lobes, which springs back, and another than with a round bore, in which the plug trues up nothing.
#[test]
fn readings_of_the_outside_alone_are_a_bent_wall() {
    let rest = "[[hold.h]]\nscheme = \"plug\"\ndiameter = 92.3\n\
                [[step]]\nhold = \"h\"\n[[step.cut]]\nsurface = \"outer\"\ndiameter = 103.4\n";
    let list: Vec<String> = (0..24)
        .map(|k| {
            let t = std::f64::consts::TAU * f64::from(k) / 24.0;
            let egg = 0.08 * (2.0 * t).cos() + 0.02 * (3.0 * t).cos();
            format!("{}:{egg:+.5}", 15 * k)
        })
        .collect();
    let read = format!(
        "[part.readings]\nouter = {{ readings = \"{}\", reads = \"deviation\", lobes = 6 }}\n",
        list.join(" ")
    );
    let lobe = |count: u32, amplitude: f64| {
        format!(
            "[[part.lobes]]\nsurface = \"both\"\ncount = {count}\namplitude = {amplitude}\nangle = 0\n"
        )
    };
    let left = |stock: &str| {
        let result = solve(&format!("accuracy = 1e-3\n{THIN}{stock}{rest}"));
        let roundness = "/steps/0/released/outer/roundness_minimum_zone";
        number(&result, roundness)
    };
    let measured = left(&read);
    let bent = left(&(lobe(2, 0.08) + &lobe(3, 0.02)));
    // two meshes of 1e-3, and readings written to a hundredth of a micron
    assert!((measured / bent - 1.0).abs() < 3e-3, "{measured} {bent}");
    let round = left(&format!("{read}bore = \"round\"\n"));
    assert!(bent > 0.1 && round < 0.01 * bent, "{round} {bent}");
}
