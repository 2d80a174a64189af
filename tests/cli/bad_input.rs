//! Every bad input is a clear message that names the field and the line, exit 3, and no file left behind.

use std::fs;

use crate::{CASE, call};

/// One way to break the case: `old` becomes `new`; the message names `field` on the line of `new`'s first
/// `at` and contains `says`.
struct Slip {
    old: &'static str,
    new: &'static str,
    field: &'static str,
    at: &'static str,
    says: &'static str,
}

const fn slip(
    old: &'static str,
    new: &'static str,
    field: &'static str,
    at: &'static str,
    says: &'static str,
) -> Slip {
    Slip {
        old,
        new,
        field,
        at,
        says,
    }
}

fn expect(slips: &[Slip]) {
    assert!(!slips.is_empty());
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("case.toml");
    for s in slips {
        assert!(CASE.contains(s.old), "{} is not in the case", s.old);
        let text = CASE.replacen(s.old, s.new, 1);
        let line = 1 + text[..text.find(s.at).unwrap()].matches('\n').count();
        fs::write(&path, &text).unwrap();
        let out = folder.path().join("out");
        for command in [
            vec!["check", path.to_str().unwrap()],
            vec![
                "run",
                path.to_str().unwrap(),
                "--out",
                out.to_str().unwrap(),
            ],
        ] {
            let c = call(&command);
            assert_eq!(c.exit, 3, "{}: {}", s.new, c.err);
            assert_eq!(c.out, "", "{}", s.new);
            let start = format!("{}:{line}:", path.display());
            assert!(
                c.err.lines().any(|l| l.starts_with(&start)
                    && l.contains(&format!(": {}: ", s.field))
                    && l.contains(s.says)),
                "{} should be refused at line {line} as {} saying {:?}; got:\n{}",
                s.new,
                s.field,
                s.says,
                c.err
            );
        }
        assert!(!out.exists(), "{} left a folder behind", s.new);
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    }
}

#[test]
fn the_unbroken_case_passes() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("case.toml");
    fs::write(&path, CASE).unwrap();
    let c = call(&["check", path.to_str().unwrap()]);
    assert_eq!((c.exit, c.err.as_str()), (0, ""));
}

#[test]
fn sizes_that_make_no_ring() {
    expect(&[
        slip(
            "bore_diameter = 110.0",
            "bore_diameter = 130.0",
            "part.bore_diameter",
            "130.0",
            "not smaller",
        ),
        slip(
            "bore_diameter = 110.0",
            "bore_diameter = 120.0",
            "part.bore_diameter",
            "bore_d",
            "not smaller",
        ),
        slip(
            "outer_diameter = 120.0",
            "outer_diameter = 0",
            "part.outer_diameter",
            "outer_d",
            "above zero",
        ),
        slip(
            "outer_diameter = 120.0",
            "outer_diameter = -120",
            "part.outer_diameter",
            "outer_d",
            "is -120; it must be above zero",
        ),
        slip(
            "bore_diameter = 110.0",
            "bore_diameter = 0.0",
            "part.bore_diameter",
            "bore_d",
            "above zero",
        ),
        slip(
            "length = 20.0",
            "length = 0",
            "part.length",
            "length",
            "is 0; it must be above zero",
        ),
        slip("length = 20.0\n", "", "part.length", "[part]", "missing"),
        slip(
            "diameter = 111.0",
            "diameter = 0",
            "step[0].cut[0].diameter",
            "diameter = 0",
            "above zero",
        ),
        slip(
            "\"both\"\ncount = 2\namplitude = 0.05",
            "\"outer\"\ncount = 2\namplitude = 6",
            "part.lobes",
            "[[part.lobes]]",
            "no wall",
        ),
        slip(
            "count = 2\namplitude = 0.05",
            "count = 2\namplitude = 1e3",
            "part.lobes",
            "[[part.lobes]]",
            "no wall",
        ),
        slip(
            "[[part.lobes]]",
            "[part.bore_offset]\ndistance = 5.1\n[[part.lobes]]",
            "part.bore_offset",
            "[part.bore_offset]",
            "no wall",
        ),
    ]);
}

#[test]
fn counts_and_moduli() {
    let table = r#"material = { young_modulus = 0, poisson_ratio = 0.3 }"#;
    let poisson = r#"material = { young_modulus = 1e5, poisson_ratio = 0.5 }"#;
    let lower = r#"material = { young_modulus = 1e5, poisson_ratio = -1 }"#;
    let yields = r#"material = { young_modulus = 1e5, poisson_ratio = 0.3, yield_strength = 0 }"#;
    let cutting =
        r#"material = { young_modulus = 1e5, poisson_ratio = 0.3, cutting = { kc11 = 700 } }"#;
    let old = r#"material = "bronze C93200""#;
    expect(&[
        slip(
            "count = 3\nfirst",
            "count = 0\nfirst",
            "hold.bare[0].count",
            "count = 0",
            "1 or more",
        ),
        slip(
            "count = 3\nfirst",
            "count = -3\nfirst",
            "hold.bare[0].count",
            "count = -3",
            "1 or more",
        ),
        slip(
            "count = 3\nfirst",
            "count = 2.5\nfirst",
            "hold.bare[0].count",
            "count = 2.5",
            "whole number",
        ),
        slip(
            "count = 3\nfirst",
            "count = 99999999999999999999\nfirst",
            "hold.bare[0].count",
            "count = 9",
            "too large",
        ),
        slip(
            "count = 2\n",
            "count = 0\n",
            "part.lobes[0].count",
            "count = 0",
            "1 or more",
        ),
        slip(
            "around = 360",
            "around = 11",
            "mesh.around",
            "around",
            "12 or more",
        ),
        slip(
            "around = 360",
            "around = 200001",
            "mesh.around",
            "around",
            "too large",
        ),
        slip(
            "through = 4",
            "through = 0",
            "mesh.through",
            "through",
            "1 or more",
        ),
        slip(
            "accuracy = 0.01",
            "accuracy = 0",
            "accuracy",
            "accuracy",
            "above 0",
        ),
        slip(
            "accuracy = 0.01",
            "accuracy = 0.6",
            "accuracy",
            "accuracy",
            "no more than 0.5",
        ),
        slip(
            old,
            table,
            "part.material.young_modulus",
            "material",
            "above zero",
        ),
        slip(
            old,
            poisson,
            "part.material.poisson_ratio",
            "material",
            "below 0.5",
        ),
        slip(
            old,
            lower,
            "part.material.poisson_ratio",
            "material",
            "above -1",
        ),
        slip(
            old,
            yields,
            "part.material.yield_strength",
            "material",
            "above zero",
        ),
        slip(
            old,
            cutting,
            "part.material.cutting.mc",
            "material",
            "missing",
        ),
        slip(
            "half_angle = 10",
            "half_angle = 0",
            "hold.soft[0].half_angle",
            "half_angle",
            "above 0",
        ),
        slip(
            "roundness = 0.02",
            "roundness = 0",
            "tolerance.roundness",
            "roundness",
            "above zero",
        ),
    ]);
}

#[test]
fn forces_may_be_zero_never_negative() {
    expect(&[
        slip(
            "force = 150.0\nbored",
            "force = -1\nbored",
            "hold.bare[0].force",
            "force = -1",
            "zero or more",
        ),
        slip(
            "force = 150.0\nbored",
            "total_force = -3\nbored",
            "hold.bare[0].total_force",
            "total_force",
            "zero or more",
        ),
        slip(
            "half_angle = 10\nforce = 150.0",
            "half_angle = 10\nforce = \"-150 N\"",
            "hold.soft[0].force",
            "-150 N",
            "zero or more",
        ),
        slip(
            "force_scale = 1.0",
            "force_scale = -0.5",
            "step[0].force_scale",
            "force_scale",
            "zero or more",
        ),
        slip(
            "diameter = 111.0",
            "diameter = 111.0\nradial_force = -1",
            "step[0].cut[0].radial_force",
            "radial_force",
            "zero or more",
        ),
        slip(
            "distance = 0.0",
            "distance = -1",
            "step[0].spindle_offset.distance",
            "spindle_offset",
            "zero or more",
        ),
    ]);
    // a force of zero is a force; a hold in which nothing else presses is loose, which is another matter
    let zero = CASE.replace("force = 150.0", "force = 0.0");
    let problems = ringwright_solver::case::read(&zero, &ringwright_plugins::registry())
        .err()
        .unwrap_or_default();
    assert!(!problems.is_empty());
    for p in problems {
        assert!(p.message.contains("nothing presses on the part"), "{p:?}");
    }
}

#[test]
fn how_the_part_lies_in_the_hold() {
    expect(&[
        slip(
            "force_scale = 1.0",
            "flipped = 1",
            "step[0].flipped",
            "flipped",
            "true or false",
        ),
        slip(
            "force_scale = 1.0",
            "stress_relieved = \"yes\"",
            "step[0].stress_relieved",
            "stress_relieved",
            "true or false",
        ),
        slip(
            "force_scale = 1.0",
            "turned = \"all\"",
            "step[0].turned",
            "turned",
            "an angle",
        ),
        slip(
            "force_scale = 1.0",
            "centre_on = \"axis\"",
            "step[0].centre_on",
            "centre_on",
            "\"jaws\", \"outer\", \"bore\"",
        ),
    ]);
}

#[test]
fn numbers_that_are_none() {
    expect(&[
        slip(
            "length = 20.0",
            "length = nan",
            "part.length",
            "length",
            "not a number",
        ),
        slip(
            "length = 20.0",
            "length = inf",
            "part.length",
            "length",
            "infinite",
        ),
        slip(
            "length = 20.0",
            "length = -inf",
            "part.length",
            "length",
            "infinite",
        ),
        slip(
            "length = 20.0",
            "length = 1e400",
            "part.length",
            "length",
            "infinite",
        ),
        slip(
            "length = 20.0",
            "length = 1e300",
            "part.length",
            "length",
            "beyond",
        ),
        slip(
            "length = 20.0",
            "length = 1e-300",
            "part.length",
            "length",
            "as good as zero",
        ),
        slip(
            "length = 20.0",
            "length = \"nan mm\"",
            "part.length",
            "length",
            "not a length",
        ),
        slip(
            "first_angle = 0",
            "first_angle = nan",
            "hold.bare[0].first_angle",
            "first_angle",
            "not a number",
        ),
        slip(
            "first_angle = 0",
            "first_angle = true",
            "hold.bare[0].first_angle",
            "first_angle",
            "expected an angle",
        ),
        slip(
            "accuracy = 0.01",
            "accuracy = nan",
            "accuracy",
            "accuracy",
            "not a number",
        ),
        slip(
            "force_scale = 1.0",
            "force_scale = nan",
            "step[0].force_scale",
            "force_scale",
            "not a number",
        ),
        slip(
            "force = 150.0\nbored",
            "force = nan\nbored",
            "hold.bare[0].force",
            "force = nan",
            "not a number",
        ),
        slip(
            "half_angle = 10\nforce = 150.0",
            "half_angle = 10\nforce = inf",
            "hold.soft[0].force",
            "force = inf",
            "infinite",
        ),
        slip(
            "diameter = 111.0",
            "diameter = inf",
            "step[0].cut[0].diameter",
            "diameter = inf",
            "infinite",
        ),
        slip(
            "[[part.lobes]]",
            "[part.residual_hoop_stress]\nouter = nan\nbore = 1\n[[part.lobes]]",
            "part.residual_hoop_stress.outer",
            "outer = nan",
            "not a number",
        ),
        slip(
            "angle = 10\n",
            "angle = nan\n",
            "part.lobes[0].angle",
            "angle = nan",
            "not a number",
        ),
    ]);
}

#[test]
fn names_that_nobody_knows() {
    expect(&[
        slip(
            "bronze C93200",
            "bronze C93300",
            "part.material",
            "material",
            "did you mean \"bronze C93200\"",
        ),
        slip(
            "bronze C93200",
            "cheese",
            "part.material",
            "material",
            "`ringwright materials` lists them all",
        ),
        slip(
            "\"jaws\"",
            "\"jaw\"",
            "hold.bare[0].scheme",
            "\"jaw\"",
            "did you mean \"jaws\"",
        ),
        slip(
            "roundness = 0.02",
            "roundnes = 0.02",
            "tolerance.roundnes",
            "roundnes",
            "did you mean \"roundness\"",
        ),
        slip(
            "width = 20.0",
            "width = 20.0\nwitdh = 3",
            "hold.bare[0].witdh",
            "witdh",
            "did you mean \"width\"",
        ),
        slip(
            "title = \"Ring\"",
            "titel = \"Ring\"",
            "titel",
            "titel",
            "did you mean \"title\"",
        ),
        slip(
            "[mesh]",
            "[mesh]\nq = 1",
            "mesh.q",
            "q = 1",
            "known here: around, through",
        ),
        slip(
            "hold = \"bare\"",
            "hold = \"bear\"",
            "step[0].hold",
            "hold = \"bear\"",
            "did you mean \"bare\"",
        ),
        slip(
            "\"bore\"\ndiameter",
            "\"inside\"\ndiameter",
            "step[0].cut[0].surface",
            "\"inside\"",
            "known: \"outer\", \"bore\"",
        ),
        slip(
            "units = \"mm\"",
            "units = \"cm\"",
            "units",
            "units",
            "known: \"mm\", \"inch\"",
        ),
        slip(
            "[[hold.soft]]",
            "[[hold.free]]",
            "hold.free",
            "[[hold.free]]",
            "built in",
        ),
    ]);
}

#[test]
fn units_that_do_not_fit() {
    expect(&[
        slip(
            "force = 150.0\nbored",
            "force = \"150 mm\"\nbored",
            "hold.bare[0].force",
            "150 mm",
            "unit of length",
        ),
        slip(
            "force = 150.0\nbored",
            "force = \"150 kg\"\nbored",
            "hold.bare[0].force",
            "150 kg",
            "lbf",
        ),
        slip(
            "force = 150.0\nbored",
            "force = \"150 stone\"\nbored",
            "hold.bare[0].force",
            "stone",
            "unknown unit",
        ),
        slip(
            "width = 20.0",
            "width = \"5 tenths\"",
            "hold.bare[0].width",
            "tenths",
            "means two things",
        ),
        slip(
            "width = 20.0",
            "width = \"50 mil\"",
            "hold.bare[0].width",
            "mil",
            "thou",
        ),
        slip(
            "count = 3\nfirst",
            "count = \"3 N\"\nfirst",
            "hold.bare[0].count",
            "3 N",
            "whole number",
        ),
        slip(
            "accuracy = 0.01",
            "accuracy = \"1 mm\"",
            "accuracy",
            "accuracy",
            "leave the unit out",
        ),
    ]);
}

#[test]
fn holds_that_cannot_be() {
    expect(&[
        slip(
            "width = 20.0",
            "width = 121",
            "hold.bare[0].width",
            "width = 121",
            "as wide as the part",
        ),
        slip(
            "width = 20.0",
            "arc = 121",
            "hold.bare[0]",
            "[[hold.bare]]",
            "overlaps",
        ),
        slip(
            "width = 20.0",
            "width = 20.0\n[[hold.bare]]\nscheme = \"jaws\"\ncount = 3\nfirst_angle = 10\nforce = 1\nwidth = 20",
            "hold.bare[1]",
            "[[hold.bare]]\nscheme = \"jaws\"\ncount = 3\nfirst_angle = 10",
            "hold.bare[0] at 0.0 deg",
        ),
        slip(
            "half_angle = 10",
            "half_angle = 61",
            "hold.soft[0]",
            "[[hold.soft]]",
            "overlaps",
        ),
        slip(
            "width = 20.0",
            "width = 20.0\narc = 10",
            "hold.bare[0].arc",
            "arc = 10",
            "give one of them",
        ),
        slip(
            "width = 20.0\n",
            "",
            "hold.bare[0].width",
            "[[hold.bare]]",
            "width or arc",
        ),
        slip(
            "force = 150.0\nbored",
            "force = 1\ntotal_force = 3\nbored",
            "hold.bare[0].total_force",
            "total_force",
            "give one of them",
        ),
        slip(
            "force = 150.0\nbored",
            "bored",
            "hold.bare[0].force",
            "[[hold.bare]]",
            "force, total_force, travel, key_torque, drawbar_force, air_pressure or squeeze",
        ),
        slip(
            "force = 150.0\nbored",
            "key_torque = \"20 N m\"\nbored",
            "hold.bare[0].calibration_torque",
            "[[hold.bare]]",
            "key_torque does not say the force by itself: give calibration_torque and calibration_force",
        ),
        slip(
            "force = 150.0\nbored",
            "force = 150.0\nkey_torque = \"20 N m\"\nbored",
            "hold.bare[0].key_torque",
            "key_torque",
            "force and key_torque cannot both be given",
        ),
        slip(
            "force = 150.0\nbored",
            "drawbar_force = \"10 kN\"\nbored",
            "hold.bare[0].drawbar_ratio",
            "[[hold.bare]]",
            "missing; drawbar_force needs drawbar_ratio",
        ),
        slip(
            "force = 150.0\nbored",
            "force = 150.0\nscroll_lead = 8\nbored",
            "hold.bare[0].scroll_lead",
            "scroll_lead",
            "belongs to key_torque, and the force is given by force; leave scroll_lead out",
        ),
        slip(
            "force = 150.0\nbored",
            "key_torque = 2e4\nscroll_lead = 8\nkey_gear_ratio = 3\nscroll_efficiency = { low = 0.15, high = 0.05 }\nbored",
            "hold.bare[0].scroll_efficiency",
            "scroll_efficiency",
            "is a band upside down",
        ),
        slip(
            "force = 150.0\nbored",
            "key_torque = 2e4\nscroll_lead = 8\nkey_gear_ratio = 3\nscroll_efficiency = 10\nbored",
            "hold.bare[0].scroll_efficiency",
            "scroll_efficiency",
            "from 0 to 1",
        ),
        slip(
            "force = 150.0\nbored",
            "squeeze = 0\nbored",
            "hold.bare[0].squeeze",
            "squeeze",
            "it must be above zero",
        ),
        slip(
            "force = 150.0\nbored",
            "squeeze = \"-0.05 mm\"\nbored",
            "hold.bare[0].squeeze",
            "squeeze",
            "it must be above zero",
        ),
        slip(
            "force = 150.0\nbored",
            "wrench_torque = \"20 N m\"\nbored",
            "hold.bare[0].wrench_torque",
            "wrench_torque",
            "did you mean \"key_torque\"?",
        ),
        slip(
            "width = 20.0",
            "width = 20.0\ncrown_radius = 50",
            "hold.bare[0].crown_radius",
            "crown_radius",
            "not both",
        ),
        slip(
            "bored_diameter = 121.2",
            "bored_diameter = 15",
            "hold.bare[0].bored_diameter",
            "bored_diameter",
            "cannot be 20.000 mm wide",
        ),
        slip(
            "bored_diameter = 121.2",
            "crown_radius = 5",
            "hold.bare[0].crown_radius",
            "crown_radius",
            "an arc of 5.000 mm radius cannot be 20.000 mm wide",
        ),
        slip(
            "count = 3\nhalf_angle = 10",
            "count = 1\nhalf_angle = 180",
            "hold.soft[0].half_angle",
            "half_angle",
            "no resultant",
        ),
        // what is left over is the force of the one jaw, pushing away from its side
        slip(
            "count = 3\nfirst_angle = 0",
            "count = 1\ndrive = \"equal-force\"",
            "hold.bare[0]",
            "[[hold.bare]]",
            "push the part with 150.0 N towards 180.0 deg",
        ),
        slip(
            "count = 3\nfirst_angle = 0",
            "count = 1",
            "hold.bare[0]",
            "[[hold.bare]]",
            "loose",
        ),
        slip(
            "count = 3\nhalf_angle",
            "count = 1\nhalf_angle",
            "hold.soft[0]",
            "[[hold.soft]]",
            "push the part with 150.0 N",
        ),
        slip(
            "scheme = \"jaws\"\n",
            "",
            "hold.bare[0].scheme",
            "[[hold.bare]]",
            "missing",
        ),
        slip(
            "[[step]]",
            "[hold]\nnone = []\n[[step]]",
            "hold.none",
            "none = []",
            "no scheme",
        ),
    ]);
}

/// A hold is checked against the section that it meets: here a pad that the stock would take and the cut part does not.
#[test]
fn a_hold_meets_the_part_as_cut_before() {
    let text = CASE
        .replace("count = 3\nfirst", "count = 2\nfirst")
        .replace("width = 20.0", "width = 119")
        .replace("hold = \"bare\"", "hold = \"soft\"")
        .replace("\"bore\"\ndiameter = 111.0", "\"outer\"\ndiameter = 118")
        .replace("[mesh]", "[[step]]\nhold = \"free\"\n[mesh]");
    let read = |text: &str| ringwright_solver::case::read(text, &ringwright_plugins::registry());
    assert!(read(&text).is_ok());
    let problems = read(&text.replace("\"free\"", "\"bare\"")).err().unwrap();
    assert_eq!(problems.len(), 1);
    assert_eq!(problems[0].field, "hold.bare[0].width");
    assert!(
        problems[0].message.contains("118.000 mm"),
        "{}",
        problems[0]
    );
}

#[test]
fn jaws_that_cannot_be() {
    expect(&[
        slip(
            "count = 3\nfirst",
            "count = 3\nangles = [0, 90]\nfirst",
            "hold.bare[0].count",
            "count = 3\nangles",
            "count is 3 but angles lists 2",
        ),
        slip(
            "count = 3\nfirst",
            "first",
            "hold.bare[0].count",
            "[[hold.bare]]",
            "count or angles",
        ),
        slip(
            "count = 3\nfirst",
            "angles = [0, 240, 120]\nfirst",
            "hold.bare[0].angles",
            "angles =",
            "counter-clockwise",
        ),
        slip(
            "count = 3\nfirst",
            "angles = [0, 120, 360]\nfirst",
            "hold.bare[0].angles",
            "angles =",
            "within one turn",
        ),
        slip(
            "count = 3\nfirst",
            "angles = []\nfirst",
            "hold.bare[0].angles",
            "angles =",
            "is a list of 0",
        ),
        slip(
            "count = 3\nfirst",
            "angles = [0, 120, \"x\"]\nfirst",
            "hold.bare[0].angles[2]",
            "angles =",
            "not an angle",
        ),
        slip(
            "count = 3\nfirst",
            "angles = [0, 90]\nfirst",
            "hold.bare[0]",
            "[[hold.bare]]",
            "loose: it is not restrained along the line at 45.0 deg: add a support outside at 225.0 deg",
        ),
        slip(
            "force = 150.0\nbored",
            "force = [1, 2, 3]\nbored",
            "hold.bare[0].force",
            "force = [",
            "\"independent\"",
        ),
        slip(
            "force = 150.0\nbored",
            "drive = \"independent\"\nforce = [1, 2]\nbored",
            "hold.bare[0].force",
            "force = [",
            "lists 2 for 3 jaws",
        ),
        slip(
            "force = 150.0\nbored",
            "drive = \"independent\"\nforce = [1, 2, 3]\nbored",
            "hold.bare[0]",
            "[[hold.bare]]",
            "do not balance",
        ),
        slip(
            "force = 150.0\nbored",
            "drive = \"independent\"\nforce = [1, -2, 3]\nbored",
            "hold.bare[0].force[1]",
            "force = [",
            "zero or more",
        ),
        slip(
            "force = 150.0\nbored",
            "drive = \"independent\"\nforce = 1\ntravel = 1\nbored",
            "hold.bare[0].travel",
            "travel",
            "give one of them",
        ),
        slip(
            "force = 150.0\nbored",
            "travel = 0.1\nbored",
            "hold.bare[0].travel",
            "travel",
            "\"independent\"",
        ),
        slip(
            "force = 150.0\nbored",
            "drive = \"equalised-pairs\"\nforce = 150.0\nbored",
            "hold.bare[0].drive",
            "drive =",
            "an even number of jaws, four or more, and there are 3",
        ),
        slip(
            "count = 3\nfirst",
            "angles = [0, 80, 180, 270]\ndrive = \"equalised-pairs\"\npairs = \"opposite\"\nfirst",
            "hold.bare[0].pairs",
            "pairs =",
            "jaws 2 and 4 do not face each other",
        ),
        slip(
            "width = 20.0",
            "width = 20.0\npairs = \"opposite\"",
            "hold.bare[0].pairs",
            "pairs",
            "needs drive = \"equalised-pairs\"",
        ),
        slip(
            "width = 20.0",
            "width = 20.0\nside = \"inside\"",
            "hold.bare[0].bored_diameter",
            "bored_d",
            "turned_diameter instead",
        ),
        slip(
            "width = 20.0",
            "width = 20.0\nturned_diameter = 120",
            "hold.bare[0].turned_diameter",
            "turned_d",
            "bored_diameter instead",
        ),
        slip(
            "bored_diameter = 121.2\nwidth = 20.0",
            "side = \"inside\"\nwidth = 112",
            "hold.bare[0].width",
            "width = 112",
            "as wide as the part where it is gripped (110.000 mm)",
        ),
        slip(
            "bored_diameter = 121.2\nwidth = 20.0",
            "bored_diameter = 30\nwidth = 40",
            "hold.bare[0].bored_diameter",
            "bored_d",
            "cannot be 40.000 mm wide",
        ),
        slip(
            "count = 3\nfirst_angle = 0\nforce = 150.0\nbored_diameter = 121.2\nwidth = 20.0",
            "count = 2\nforce = 150.0\narc = 175",
            "hold.bare[0].arc",
            "arc = 175",
            "less than 170 deg",
        ),
        slip(
            "width = 20.0",
            "width = 20.0\nrelief_width = 20",
            "hold.bare[0].relief_width",
            "relief_w",
            "leaves nothing of a pad that is 20.000 mm wide",
        ),
        slip(
            "width = 20.0",
            "width = 20.0\nshim_thickness = 0.5",
            "hold.bare[0].shim_modulus",
            "[[hold.bare]]",
            "needs its thickness and its modulus",
        ),
        slip(
            "width = 20.0",
            "width = 20.0\nmount_stiffness = 0",
            "hold.bare[0].mount_stiffness",
            "mount_s",
            "above zero",
        ),
    ]);
}

#[test]
fn supports_that_cannot_be() {
    expect(&[
        slip(
            "width = 20.0",
            "width = 20.0\n[[hold.bare]]\nscheme = \"screws\"\ncount = 3\ncrown_radius = 10",
            "hold.bare[1].gap",
            "[[hold.bare]]\nscheme = \"screws\"\ncount = 3\ncrown_radius = 10",
            "how the screws are set: gap or force",
        ),
        slip(
            "width = 20.0",
            "width = 20.0\n[[hold.bare]]\nscheme = \"screws\"\ncount = 3\ncrown_radius = 10\ngap = 0\nforce = 1",
            "hold.bare[1].force",
            "force = 1\n",
            "give one of them",
        ),
        slip(
            "width = 20.0",
            "width = 20.0\n[[hold.bare]]\nscheme = \"screws\"\ncount = 3\ncrown_radius = 10\ngap = [0, 0]",
            "hold.bare[1].gap",
            "gap =",
            "lists 2 for 3 screws",
        ),
        slip(
            "width = 20.0",
            "width = 20.0\n[[hold.bare]]\nscheme = \"screws\"\ncount = 3\ncrown_radius = 10\ngap = 0\nafter_clamping = \"keeps-force\"",
            "hold.bare[1].after_clamping",
            "after_cl",
            "keeps its position",
        ),
        slip(
            "width = 20.0",
            "width = 20.0\n[[hold.bare]]\nscheme = \"screws\"\ncount = 3\ncrown_radius = 10\ngap = 0\nwidth = 21",
            "hold.bare[1].crown_radius",
            "crown_r",
            "cannot be 21.000 mm wide",
        ),
        slip(
            "width = 20.0",
            "width = 20.0\n[[hold.bare]]\nscheme = \"screws\"\ncount = 3\ncrown_radius = 10\ngap = 0\nside = \"outside\"",
            "hold.bare[1]",
            "[[hold.bare]]\nscheme = \"screws\"\ncount = 3\ncrown_radius = 10",
            "screw 1 at 0.0 deg (half-angle 4.78 deg) overlaps jaw 1 of hold.bare[0] at 0.0 deg",
        ),
        slip(
            "width = 20.0",
            "width = 20.0\n[[hold.bare]]\nscheme = \"plug\"\ndiameter = 99",
            "hold.bare[1].diameter",
            "diameter = 99\n",
            "supports nothing",
        ),
        slip(
            "width = 20.0",
            "width = 20.0\n[[hold.bare]]\nscheme = \"plug\"\ndiameter = 130",
            "hold.bare[1].diameter",
            "diameter = 130\n",
            "stretch the bore",
        ),
        slip(
            "width = 20.0",
            "width = 20.0\n[[hold.bare]]\nscheme = \"plug\"\ndiameter = 110\n[[hold.bare]]\nscheme = \"screws\"\ncount = 3\ncrown_radius = 10\ngap = 0",
            "hold.bare[2]",
            "[[hold.bare]]\nscheme = \"screws\"\ncount = 3\ncrown_radius = 10",
            "but plug 1 goes all round",
        ),
        slip(
            "width = 20.0",
            "width = 20.0\n[[hold.bare]]\nscheme = \"mandrel\"\nsegments = 2\ndiameter = 110\narc = 20\nforce = 1",
            "hold.bare[1].segments",
            "segments",
            "three segments or more",
        ),
        slip(
            "width = 20.0",
            "width = 20.0\n[[hold.bare]]\nscheme = \"mandrel\"\nsegments = 3\ndiameter = 110\nslot_width = 100\nforce = 1",
            "hold.bare[1].slot_width",
            "slot_w",
            "leaves nothing of 3 segments",
        ),
        slip(
            "width = 20.0",
            "width = 20.0\n[[hold.bare]]\nscheme = \"mandrel\"\nsegments = 3\ndiameter = 110\narc = 20\ntravel = 1\nafter_clamping = \"keeps-force\"",
            "hold.bare[1].after_clamping",
            "after_cl",
            "keep their position",
        ),
        slip(
            "width = 20.0",
            "width = 20.0\n[[hold.bare]]\nscheme = \"end-clamp\"\naxial_force = 1\nend_condition = \"friction\"",
            "hold.bare[1].friction",
            "[[hold.bare]]\nscheme = \"end",
            "needs the friction coefficient",
        ),
        slip(
            "scheme = \"pressure-patches\"\ncount = 3\nhalf_angle = 10\nforce = 150.0",
            "scheme = \"screws\"\ncount = 3\ncrown_radius = 10\ngap = 0.01",
            "hold.soft[0]",
            "[[hold.soft]]",
            "nothing presses on the part",
        ),
        slip(
            "scheme = \"pressure-patches\"\ncount = 3\nhalf_angle = 10\nforce = 150.0",
            "scheme = \"screws\"\ncount = 1\ncrown_radius = 10\ngap = -0.01",
            "hold.soft[0]",
            "[[hold.soft]]",
            "it is not restrained along x: add a support outside at 0.0 deg",
        ),
        slip(
            "scheme = \"pressure-patches\"\ncount = 3\nhalf_angle = 10\nforce = 150.0",
            "scheme = \"points\"\nangles = [0, 180]\nforce = [5, 8]",
            "hold.soft[0]",
            "[[hold.soft]]",
            "push the part with 3.0 N towards 0.0 deg, and it is not restrained along x",
        ),
        slip(
            "count = 3\nhalf_angle",
            "angles = [0, 15]\nhalf_angle",
            "hold.soft[0]",
            "[[hold.soft]]",
            "patch 2 at 15.0 deg",
        ),
    ]);
}

#[test]
fn cuts_that_cannot_be() {
    expect(&[
        slip(
            "diameter = 111.0",
            "diameter = 120",
            "step[0].cut[0].diameter",
            "diameter = 120\n",
            "through the wall",
        ),
        slip(
            "\"bore\"\ndiameter = 111.0",
            "\"outer\"\ndiameter = 110",
            "step[0].cut[0].diameter",
            "diameter = 110\n",
            "through the wall",
        ),
        slip(
            "diameter = 111.0",
            "diameter = 90",
            "step[0].cut[0].diameter",
            "diameter = 90",
            "removes nothing",
        ),
        slip(
            "\"bore\"\ndiameter = 111.0",
            "\"outer\"\ndiameter = 131",
            "step[0].cut[0].diameter",
            "diameter = 131",
            "removes nothing",
        ),
        // the second cut meets the bore that the first one left
        slip(
            "diameter = 111.0",
            "diameter = 111.0\n[[step.cut]]\nsurface = \"outer\"\ndiameter = 110.9",
            "step[0].cut[1].diameter",
            "diameter = 110.9",
            "through the wall",
        ),
    ]);
}

/// Friction, jaws that turn, the tool and the chuck: what a grip is checked by, wrong in each way.
#[test]
fn what_is_known_of_a_grip_is_checked() {
    macro_rules! grip {
        ($typed:literal, $key:literal, $says:literal) => {
            slip(
                "first_angle = 0",
                concat!("first_angle = 0\n", $typed),
                concat!("hold.bare[0].", $key),
                $typed,
                $says,
            )
        };
    }
    macro_rules! cut {
        ($typed:literal, $key:literal, $says:literal) => {
            slip(
                "diameter = 111.0",
                concat!("diameter = 111.0\n", $typed),
                concat!("step[0].cut[0].", $key),
                $typed,
                $says,
            )
        };
    }
    macro_rules! chuck {
        ($typed:literal, $key:literal, $says:literal) => {
            slip(
                "[mesh]",
                concat!("[chuck]\n", $typed, "\n[mesh]"),
                concat!("chuck.", $key),
                $typed,
                $says,
            )
        };
    }
    expect(&[
        grip!("friction = -0.1", "friction", "zero or more"),
        grip!(
            "friction = { low = 0.2, high = 0.1 }",
            "friction",
            "upside down: low is 0.2 and high is 0.1; give the smaller as low"
        ),
        grip!(
            "friction = { low = 0.2 }",
            "friction",
            "is no band; give { low = ..., high = ... } or { nominal = ..., plus_minus = ... }"
        ),
        grip!(
            "friction = { nominal = 0.1, plus_minus = 0.2 }",
            "friction",
            "zero or more"
        ),
        grip!(
            "friction = \"smoth\"",
            "friction",
            "did you mean \"smooth\"?"
        ),
        grip!("friction_axial = nan", "friction_axial", "is not a number"),
        grip!("axial_stop = 1", "axial_stop", "expected true or false"),
        grip!("jaw_mass = 0", "jaw_mass", "above zero"),
        slip(
            "first_angle = 0",
            "jaw_stiffness = 72e3",
            "hold.bare[0].part_stiffness",
            "[[hold.bare]]",
            "give both, or neither and the whole loss counts",
        ),
        grip!(
            "jaw_centroid_radius = { low = 70, high = 80 }",
            "jaw_centroid_radius",
            "takes one number, and this is a band"
        ),
        slip(
            "force = 150.0\nbored",
            "force = { low = 200, high = 100 }\nbored",
            "hold.bare[0].force",
            "low",
            "upside down",
        ),
        slip(
            "force_scale = 1.0",
            "speed = -800",
            "step[0].speed",
            "speed",
            "zero or more",
        ),
        slip(
            "force_scale = 1.0",
            "temperature_rise = 1e4",
            "step[0].temperature_rise",
            "temperature_rise",
            "below 500",
        ),
        slip(
            "force_scale = 1.0",
            "minutes_held = -1",
            "step[0].minutes_held",
            "minutes_held",
            "zero or more",
        ),
        cut!("feed = 0", "feed", "above zero"),
        cut!(
            "entering_angle = 0",
            "entering_angle",
            "above 5 and no more than 120"
        ),
        cut!("radial_force = -3", "radial_force", "zero or more"),
        cut!(
            "tangential_force = { low = 2, high = 1 }",
            "tangential_force",
            "upside down"
        ),
        chuck!("rated_force = 0", "rated_force", "above zero"),
        chuck!(
            "rated_sped = 3000",
            "rated_sped",
            "did you mean \"rated_speed\"?"
        ),
        chuck!(
            "lowest_steady_force = 9000\nrated_force = 6000",
            "lowest_steady_force",
            "is more than rated_force"
        ),
        slip(
            "diameter = 111.0",
            "diameter = 111.0\n[[step.cut]]\nsurface = \"bore\"\ndiameter = 111.0\nfeed = 0.1",
            "step[0].cut[1].feed",
            "feed",
            "takes no depth (the same diameter again)",
        ),
        slip(
            "roundness = 0.02",
            "roundness = 0.02\nmarking_pressure = 0",
            "tolerance.marking_pressure",
            "marking_pressure",
            "above zero",
        ),
    ]);
}

/// `[part]` of the case with a slit test instead of lobes; outside 120, bore 110.
macro_rules! slit {
    ($typed:literal, $field:literal, $says:literal) => {
        slip(
            "[[part.lobes]]\nsurface = \"both\"\ncount = 2\namplitude = 0.05\nangle = 10\n",
            concat!("residual_hoop_stress = { ", $typed, " }\n"),
            concat!("part.residual_hoop_stress", $field),
            "residual_hoop_stress",
            $says,
        )
    };
}

#[test]
fn slit_tests_that_tell_nothing() {
    expect(&[
        slit!("slit = 3", ".slit", "expected a table"),
        slit!(
            "slit = { diameter_before = 120, diameter_after = 121 }, outer = 3",
            ".outer",
            "given twice"
        ),
        slit!(
            "slit = { diameter_before = 120 }",
            ".slit.diameter_after",
            "missing"
        ),
        slit!("slit = {}", ".slit.diameter_before", "missing"),
        slit!(
            "slit = { diameter_before = -120, diameter_after = 121 }",
            ".slit.diameter_before",
            "above zero"
        ),
        slit!(
            "slit = { diameter_before = 120, diameter_after = nan }",
            ".slit.diameter_after",
            "not a number"
        ),
        slit!(
            "slit = { diameter_before = 120, diameter_after = 121, surface = \"bore\" }",
            ".slit.diameter_before",
            "is 120.000 mm, but the stock's diameter there (surface = \"bore\") is 110.000 mm"
        ),
        slit!(
            "slit = { diameter_before = 4.72, diameter_after = 4.76 }",
            ".slit.diameter_before",
            "Mixed units"
        ),
        slit!(
            "slit = { diameter_before = 120, diameter_after = 4 }",
            ".slit.diameter_after",
            "the wall alone is 5.000 mm"
        ),
        slit!(
            "slit = { diameter_before = 120, diameter_after = 160 }",
            ".slit",
            "more than the 90 deg"
        ),
        slit!(
            "slit = { diameter_before = 120, diameter_after = 70 }",
            ".slit",
            "would have closed by"
        ),
        slit!(
            "slit = { gap = 1, diameter_before = 120 }",
            ".slit.diameter_before",
            "given twice"
        ),
        slit!(
            "slit = { diameter_before = 120, diameter_after = 121, saw_width = 1 }",
            ".slit.saw_width",
            "goes with gap"
        ),
        slit!("slit = { gap = -0.5 }", ".slit.gap", "lips that touch"),
        slit!(
            "slit = { gap = 0, saw_width = 1 }",
            ".slit.gap",
            "lips that touch"
        ),
        slit!(
            "slit = { gap = 2, saw_width = -1 }",
            ".slit.saw_width",
            "zero or more"
        ),
        slit!(
            "slit = { gap = 2, saw_width = 80 }",
            ".slit.saw_width",
            "more than the bore's radius"
        ),
        slit!("slit = { gap = 300 }", ".slit.gap", "mixed units?"),
        slit!("slit = { gapp = 1 }", ".slit.gapp", "did you mean \"gap\"?"),
    ]);
}

/// The case with lines before `[mesh]`.
macro_rules! before_mesh {
    ($lines:literal, $field:literal, $at:literal, $says:literal) => {
        slip("[mesh]", concat!($lines, "\n[mesh]"), $field, $at, $says)
    };
}

#[test]
fn inspections_that_make_no_sense() {
    expect(&[
        before_mesh!(
            "[inspection]\ncircle = \"minimum\"",
            "inspection.circle",
            "circle",
            "known: \"minimum-zone\", \"least-squares\""
        ),
        before_mesh!(
            "[inspection]\nfilter_upr = 1",
            "inspection.filter_upr",
            "filter_upr",
            "above 1 and no more than 1800"
        ),
        before_mesh!(
            "[inspection]\ngauge = \"vee\"",
            "inspection.gauge",
            "gauge",
            "expected a table"
        ),
        before_mesh!(
            "[inspection]\ngauge = {}",
            "inspection.gauge.kind",
            "gauge",
            "missing"
        ),
        before_mesh!(
            "[inspection]\ngauge = { kind = \"v\" }",
            "inspection.gauge.kind",
            "gauge",
            "is not known"
        ),
        before_mesh!(
            "[inspection]\ngauge = { kind = \"vee\", included_angle = 180 }",
            "inspection.gauge.included_angle",
            "gauge",
            "above 0 and below 180"
        ),
        before_mesh!(
            "[inspection]\ngauge = { kind = \"plate\", indicator = \"rider\" }",
            "inspection.gauge.indicator",
            "gauge",
            "a plate gauge has no indicator"
        ),
        before_mesh!(
            "[inspection]\nmeasuring_force = 2",
            "inspection.measuring_force",
            "measuring_force",
            "which gauge presses with it?"
        ),
        before_mesh!(
            "[inspection]\ngauge = { kind = \"radius\" }\nmeasuring_force = -2",
            "inspection.measuring_force",
            "measuring_force",
            "zero or more"
        ),
        before_mesh!(
            "[inspection]\nsupport = \"hung\"",
            "inspection.support",
            "support",
            "is not known"
        ),
        before_mesh!(
            "[inspection]\nsupport = \"edge\"\nvee_angle = 90",
            "inspection.vee_angle",
            "vee_angle",
            "goes with support = \"vee\""
        ),
        before_mesh!(
            "[inspection]\nsupport = \"vee\"\nvee_angle = 0",
            "inspection.vee_angle",
            "vee_angle",
            "above 0"
        ),
        before_mesh!(
            "[inspection]\ntemperature = 293",
            "inspection.temperature",
            "temperature",
            "no more than 100"
        ),
    ]);
}

#[test]
fn tolerances_that_no_part_meets() {
    expect(&[
        before_mesh!(
            "[tolerance.bore]\ndiameter = 111",
            "tolerance.bore.diameter",
            "diameter = 111\n[mesh]",
            "[lowest, highest]"
        ),
        before_mesh!(
            "[tolerance.bore]\ndiameter = [111.02, 111.0]",
            "tolerance.bore.diameter",
            "[111",
            "is not below the highest"
        ),
        before_mesh!(
            "[tolerance.bore]\ndiameter = [55.5, 55.6]",
            "tolerance.bore.diameter",
            "[55",
            "far from the finished diameter, 111.000 mm"
        ),
        before_mesh!(
            "[tolerance.outer]\naverage_diameter = [4.72, 4.73]",
            "tolerance.outer.average_diameter",
            "[4.72",
            "mixed units"
        ),
        before_mesh!(
            "[tolerance.bore]\ndiameter = [111, 111.02]\naverage_diameter = [111.03, 111.04]",
            "tolerance.bore.average_diameter",
            "[111.03",
            "no part meets both"
        ),
        before_mesh!(
            "[tolerance.bore]\nroundness = \"0.4 in\"",
            "tolerance.bore.roundness",
            "0.4 in",
            "as much as the wall, 4.500 mm"
        ),
        before_mesh!(
            "[tolerance.bore]\nwall_variation = 0",
            "tolerance.bore.wall_variation",
            "wall_variation",
            "above zero"
        ),
        before_mesh!(
            "[tolerance.outer]\nrunout = true",
            "tolerance.outer.runout",
            "runout",
            "expected a length"
        ),
        before_mesh!(
            "[tolerance.outer]\ncircle = \"plug\"",
            "tolerance.outer.circle",
            "circle",
            "is not known"
        ),
    ]);
}

#[test]
fn not_toml_is_placed() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("case.toml");
    for (text, place) in [
        ("title = \"a\"\nunits = = \"mm\"\n", ":2:9: not TOML"),
        ("title = \"a\"\n[part\n", ":2:6: not TOML"),
        ("hello\n", ":1:6: not TOML"),
        ("a = 1\na = 2\n", ":2:1: not TOML"),
    ] {
        fs::write(&path, text).unwrap();
        let c = call(&["check", path.to_str().unwrap()]);
        assert_eq!(c.exit, 3);
        assert!(c.err.contains(place), "{text:?}: {}", c.err);
    }
    fs::write(&path, b"title = \"a\"\nb = \"\xff\"\n").unwrap();
    let c = call(&["check", path.to_str().unwrap()]);
    assert_eq!(c.exit, 3);
    assert!(c.err.contains(":2:6: not UTF-8"), "{}", c.err);
}

/// All that a scheme misses is said at once, each on the line of its table, whatever keys may stand in for one another.
#[test]
fn all_missing_keys_of_a_scheme_are_said_at_once() {
    let missing = |scheme: &str| -> Vec<String> {
        let start = CASE.find("[[hold.bare]]").unwrap();
        let end = CASE.find("[[hold.soft]]").unwrap();
        let text = format!(
            "{}[[hold.bare]]\n{scheme}\n{}",
            &CASE[..start],
            &CASE[end..]
        );
        let line = 1 + text[..start].matches('\n').count();
        let problems = ringwright_solver::case::read(&text, &ringwright_plugins::registry())
            .err()
            .unwrap();
        problems
            .iter()
            .map(|p| {
                assert!(p.message.starts_with("missing; give "), "{p}");
                assert_eq!(p.line, line, "{p}");
                p.field.trim_start_matches("hold.bare[0].").to_owned()
            })
            .collect()
    };
    for (scheme, keys) in [
        ("scheme = \"jaws\"", &["count", "force", "width"][..]),
        ("scheme = \"jaws\"\narc = 20", &["count", "force"]),
        ("scheme = \"screws\"", &["count", "gap", "crown_radius"]),
        (
            "scheme = \"mandrel\"",
            &["arc", "force", "segments", "diameter"],
        ),
        (
            "scheme = \"split-sleeve\"",
            &["count", "force", "width", "sleeve_thickness"],
        ),
        (
            "scheme = \"pressure-patches\"",
            &["count", "half_angle", "force"],
        ),
        ("scheme = \"points\"\nangles = [0, 180]", &["force"]),
        ("scheme = \"plug\"", &["diameter"]),
        ("scheme = \"end-clamp\"", &["axial_force"]),
    ] {
        assert_eq!(missing(scheme), keys, "{scheme}");
    }
}

/// A fixed mesh that memory does not hold is refused with the figures, at the door and at once.
#[test]
fn a_mesh_beyond_memory_is_refused() {
    let start = std::time::Instant::now();
    expect(&[
        slip(
            "around = 360\nthrough = 4",
            "around = 200000\nthrough = 1000",
            "mesh",
            "[mesh]",
            "asks for 200000000 elements (200000 x 1000), which would take about 4000 GB of memory; 400000 elements (8 GB) are the most",
        ),
        slip(
            "around = 360\nthrough = 4",
            "around = 40001\nthrough = 10",
            "mesh",
            "[mesh]",
            "400000 elements (8 GB) are the most",
        ),
        slip(
            "around = 360",
            "around = 1e300",
            "mesh.around",
            "around",
            "expected a whole number",
        ),
        slip(
            "around = 360",
            "around = -360",
            "mesh.around",
            "around",
            "12 or more",
        ),
        slip(
            "through = 4",
            "through = 4.5",
            "mesh.through",
            "through",
            "expected a whole number",
        ),
        slip(
            "through = 4",
            "through = 99999999999999999999999999",
            "mesh.through",
            "through",
            "too large",
        ),
    ]);
    // nothing of that size was ever made
    assert!(start.elapsed().as_secs() < 20);
    let most = CASE.replace("around = 360\nthrough = 4", "around = 40000\nthrough = 10");
    assert!(ringwright_solver::case::read(&most, &ringwright_plugins::registry()).is_ok());
}

/// Hoop stress that does not cancel over the wall is carried by nothing in a ring that lies free.
#[test]
fn residual_stress_that_does_not_cancel_is_refused() {
    const LOBED: &str =
        "[[part.lobes]]\nsurface = \"both\"\ncount = 2\namplitude = 0.05\nangle = 10\n";
    expect(&[
        slip(
            LOBED,
            "residual_hoop_stress = { outer = 25, bore = 25 }\n",
            "part.residual_hoop_stress",
            "residual",
            "25 MPa on average is left, and nothing in a ring that lies free carries it; give as much tension as compression, such as \
             { outer = 25, bore = -25 }",
        ),
        slip(
            LOBED,
            "residual_hoop_stress = { outer = 40, bore = -20 }\n",
            "part.residual_hoop_stress",
            "residual",
            "such as { outer = 30, bore = -30 }",
        ),
        slip(
            LOBED,
            "residual_hoop_stress = { outer = \"2 ksi\", bore = 0 }\n",
            "part.residual_hoop_stress",
            "residual",
            "does not cancel over the wall",
        ),
    ]);
    for sound in [
        "outer = 40, bore = -40",
        "outer = -40.02, bore = 40",
        "outer = 0, bore = 0",
    ] {
        let text = CASE.replace(LOBED, &format!("residual_hoop_stress = {{ {sound} }}\n"));
        let read = ringwright_solver::case::read(&text, &ringwright_plugins::registry());
        assert!(read.is_ok(), "{sound}: {:?}", read.err());
    }
}

/// The words of the drawing and a bare grade lead to those of the file.
#[test]
fn near_words_are_offered() {
    expect(&[
        slip(
            "\"bronze C93200\"",
            "\"4140\"",
            "part.material",
            "4140",
            "did you mean \"steel 4140 annealed\" or \"steel 4140 quenched and tempered\"?",
        ),
        slip(
            "surface = \"bore\"\ndiameter",
            "surface = \"ID\"\ndiameter",
            "step[0].cut[0].surface",
            "\"ID\"",
            "did you mean \"bore\"?",
        ),
        slip(
            "surface = \"both\"",
            "surface = \"outside\"",
            "part.lobes[0].surface",
            "\"outside\"",
            "did you mean \"outer\"?",
        ),
    ]);
}

/// A number with its unit, or a fraction, that lost its quotes is no TOML, and the message says how to write it.
#[test]
fn a_quantity_without_quotes_is_told_of_quotes() {
    for (typed, says) in [
        ("length = 1/2", "write length = \"1/2\""),
        ("length = 3 1/8 in", "write length = \"3 1/8 in\""),
        (
            "length = 20 mm # along the axis",
            "write length = \"20 mm\"",
        ),
    ] {
        let text = CASE.replace("length = 20.0", typed);
        let problems = ringwright_solver::case::read(&text, &ringwright_plugins::registry())
            .err()
            .unwrap();
        assert!(problems[0].message.contains(says), "{typed}: {problems:?}");
        assert_eq!(problems[0].line, 9);
    }
}

/// What a machinist may type and what is not read says what to write.
#[test]
fn spellings_that_are_not_read_say_what_to_write() {
    expect(&[
        slip(
            "length = 20.0",
            "length = \"13/16\"",
            "part.length",
            "length",
            "write \"13/16 in\" for inches, or \"0.8125 mm\"",
        ),
        slip(
            "length = 20.0",
            "length = \"20,5 mm\"",
            "part.length",
            "length",
            "write \"20.5 mm\" with a decimal point",
        ),
        slip(
            "width = 20.0",
            "width = \"8 tenths\"",
            "hold.bare[0].width",
            "8 tenths",
            "\"0.0001 in\" or \"0.1 mm\"",
        ),
        slip(
            "force = 150.0\nbored",
            "force = \"3 tons\"\nbored",
            "hold.bare[0].force",
            "3 tons",
            "units that would do: N, kN, lbf",
        ),
    ]);
}

/// A text that runs over lines must not tear a message apart.
#[test]
fn messages_stay_on_one_line() {
    let text = CASE.replace("= 120.0", "= \"\"\"a\nb\"\"\"");
    let problems = ringwright_solver::case::read(&text, &ringwright_plugins::registry())
        .err()
        .unwrap();
    assert_eq!(problems.len(), 1);
    assert!(problems[0].message.starts_with("\"a b\" is not a length"));
}

#[test]
fn missing_parts_are_asked_for() {
    let problems = ringwright_solver::case::read("", &ringwright_plugins::registry())
        .err()
        .unwrap();
    let fields: Vec<_> = problems.iter().map(|p| p.field.as_str()).collect();
    assert_eq!(fields, ["part", "step"]);
    let text = format!("step = []\n{}", &CASE[..CASE.find("[[step]]").unwrap()]);
    let problems = ringwright_solver::case::read(&text, &ringwright_plugins::registry())
        .err()
        .unwrap();
    assert_eq!(problems.len(), 1);
    assert!(problems[0].message.contains("there is no step"));
}

#[test]
fn check_reports_all_problems_at_once_in_file_order() {
    let text = CASE
        .replace("accuracy = 0.01", "accuracy = 9")
        .replace("bronze C93200", "cheese")
        .replace("width = 20.0", "width = -1")
        .replace("hold = \"bare\"", "hold = \"nobody\"")
        .replace("through = 4", "thru = 4");
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("case.toml");
    fs::write(&path, text).unwrap();
    let c = call(&["check", "--json", path.to_str().unwrap()]);
    assert_eq!(c.exit, 3);
    assert!(c.err.ends_with("6 problems\n"), "{}", c.err);
    let json: serde_json::Value = serde_json::from_str(&c.out).unwrap();
    assert_eq!(json["format"], "ringwright-error-1");
    let fields: Vec<_> = json["problems"]
        .as_array()
        .unwrap()
        .iter()
        .map(|p| p["key"].as_str().unwrap())
        .collect();
    assert_eq!(
        fields,
        [
            "accuracy",
            "part.material",
            "hold.bare[0].width",
            "step[0].hold",
            "mesh.through",
            "mesh.thru",
        ]
    );
}
