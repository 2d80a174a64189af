//! `ringwright new` for a job and a blank of the user's: each case runs as it was written, and says that its numbers are assumptions.

use std::fs;

use serde_json::Value;

use crate::call;

const JOBS: [&str; 4] = ["outside", "bore", "second-side", "tube"];
const CHUCKS: [&str; 2] = ["hand", "power"];
const SIZES: [&[&str]; 2] = [
    &["--od", "120", "--bore", "114mm", "--length", "20"],
    &["--od", "4.75in", "--bore", "4 1/2 in", "--length", "0.8in"],
];

/// The case of these options.
fn made(options: &[&str]) -> String {
    let made = call(&[&["new"], options].concat());
    assert_eq!(made.exit, 0, "{options:?}: {}", made.err);
    made.out
}

/// Runs a case as it stands: what it prints, and its result.
fn run(case: &str, options: &[&str]) -> (String, Value) {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("case.toml");
    fs::write(&file, case).unwrap();
    let out = folder.path().join("out");
    let (file, to) = (file.to_str().unwrap(), out.to_str().unwrap());
    let run = call(&["run", file, "--out", to, "--fields", "none"]);
    assert_eq!(run.exit, 0, "{options:?}: {}\n{case}", run.err);
    let result = fs::read_to_string(out.join("result.json")).unwrap();
    (run.out, serde_json::from_str(&result).unwrap())
}

/// A machinist would nod: in tolerance, nothing yields, and each hold takes at least what the guideline asks.
fn is_sensible(options: &[&str]) {
    let (printed, result) = run(&made(options), options);
    assert_eq!(
        result["verdict"]["in_tolerance"], true,
        "{options:?}: {printed}"
    );
    assert_ne!(result["verdict"]["safe"], false, "{options:?}: {printed}");
    for step in result["steps"].as_array().unwrap() {
        let safety = step["grip"]["slip_safety"].as_f64().unwrap();
        assert!(
            (1.5..6.0).contains(&safety),
            "{options:?}: {safety}\n{printed}"
        );
        let margin = step["held"]["yield_margin"].as_f64();
        assert!(margin.is_none_or(|m| m > 0.2), "{options:?}: {printed}");
        assert_eq!(step["cuts"][0]["cleaned_up"], 1.0, "{options:?}");
    }
    let words: Vec<&str> = printed.split_whitespace().collect();
    assert!(
        words
            .join(" ")
            .contains("A part that leaves the chuck can kill")
    );
}

#[test]
fn every_job_in_every_unit_and_chuck_is_a_case_without_problems() {
    let folder = tempfile::tempdir().unwrap();
    for job in JOBS {
        for chuck in CHUCKS {
            for (n, sizes) in SIZES.iter().enumerate() {
                let options = [&["--job", job, "--chuck", chuck], *sizes].concat();
                let name = format!("{job}-{chuck}-{n}.toml");
                let file = folder.path().join(name);
                let file = file.to_str().unwrap();
                let written = call(&[&["new", file], &*options].concat());
                assert_eq!(written.exit, 0, "{options:?}: {}", written.err);
                let checked = call(&["check", file]);
                assert_eq!(checked.exit, 0, "{options:?}: {}", checked.err);
                let text = fs::read_to_string(file).unwrap();
                let units = ["units = \"mm\"", "units = \"inch\""][n];
                assert!(text.contains(units), "{text}");
                // the blank stands there as it was typed
                let typed = [["120.0", "114.0", "20.0"], ["4.75", "4.5", "0.8"]][n];
                for (key, value) in ["outer_diameter", "bore_diameter", "length"]
                    .iter()
                    .zip(typed)
                {
                    let found = text
                        .lines()
                        .any(|l| l.split('#').next().unwrap().trim() == format!("{key} = {value}"));
                    assert!(found, "{key} = {value}: {text}");
                }
            }
        }
    }
}

#[test]
fn every_job_runs_and_is_in_a_sensible_range() {
    for (n, job) in JOBS.iter().enumerate() {
        for (m, sizes) in SIZES.iter().enumerate() {
            let chuck = CHUCKS[(n + m) % 2];
            is_sensible(&[&["--job", job, "--chuck", chuck], *sizes].concat());
        }
    }
}

#[test]
fn the_corners_of_what_is_proposed_run_too() {
    let thin = ["--od", "60", "--bore", "58.8", "--chuck", "hand"];
    let small = ["--od", "20", "--bore", "10", "--job", "outside"];
    let large = ["--od", "1000", "--bore", "980", "--length", "60"];
    for sizes in [thin.as_slice(), &small, &large] {
        is_sensible(sizes);
    }
    // a plastic and a metal for which the table has no cutting constants, and what breaks before it yields
    for material in ["PTFE", "17-4", "grey iron"] {
        is_sensible(&["--material", material, "--od", "3 in", "--bore", "2.7in"]);
    }
}

#[test]
fn the_example_that_opens_the_help_works() {
    let help = call(&["new", "--help"]).out;
    let line = help.lines().find(|l| l.contains("--job")).unwrap();
    let options: Vec<&str> = line.split_whitespace().skip(3).collect();
    assert!(options.len() > 8, "{line}");
    assert!(made(&options).contains("units = \"inch\""));
}

#[test]
fn numbers_that_carry_the_grip_are_called_assumptions() {
    for (job, chuck) in [("bore", "hand"), ("second-side", "power")] {
        let text = made(&["--job", job, "--chuck", chuck]);
        for word in [
            "FORCE!",
            "PADS!",
            "FRICTION!",
            "common practice, no source",
            "no rating",
            "can kill",
            "chuck's maker",
        ] {
            let joined = text
                .replace("\n# ", " ")
                .replace("(common practice", "common practice");
            assert!(joined.contains(word), "{word}: {text}");
        }
        // the limits of the plate are the maker's to say
        assert!(!text.lines().any(|l| l.starts_with("rated_")), "{text}");
        assert!(
            text.lines()
                .all(|l| l.chars().count() <= 128 && l == l.trim_end())
        );
    }
    assert!(made(&["--chuck", "hand"]).contains("key_torque = "));
    assert!(made(&["--chuck", "power"]).contains("total_force = "));
    let plastic = made(&["--material", "peek"]);
    assert!(plastic.contains("creeps") && plastic.contains("no source"));
}

#[test]
fn what_cannot_be_a_ring_is_refused_with_what_would_be_right() {
    let cases: [(&[&str], &str); 10] = [
        (
            &["--od", "100", "--bore", "100"],
            "the bore from 50mm to 98mm",
        ),
        (
            &["--od", "4in", "--bore", "5in"],
            "the bore from 2in to 3.92in",
        ),
        (
            &["--od", "100", "--bore", "99"],
            "the bore may be up to 98mm",
        ),
        (
            &["--od", "100", "--bore", "30"],
            "the bore may be 50mm or more",
        ),
        (&["--od", "-5"], "above zero"),
        (&["--od", "100", "--length", "400"], "--job tube"),
        (
            &["--job", "tube", "--od", "100", "--length", "400"],
            "up to 300mm",
        ),
        (&["--od", "5000"], "from 20mm to 1000mm"),
        (&["--od", "4.75in", "--bore", "4.5"], "write 4.5in or 4.5mm"),
        (&["--length", "0.1"], "expected 2.2mm or more"),
    ];
    for (options, right) in cases {
        let c = call(&[&["new"], options].concat());
        assert_eq!(c.exit, 2, "{options:?}: {}", c.out);
        assert!(c.err.contains(right), "{options:?}: {}", c.err);
        assert!(c.out.is_empty());
    }
    let unknown = call(&["new", "--material", "unobtainium"]);
    assert_eq!(unknown.exit, 2);
    assert!(unknown.err.contains("bronze C93200") && unknown.err.contains("ringwright materials"));
    let several = call(&["new", "--material", "4140"]);
    assert_eq!(several.exit, 2);
    assert!(
        several
            .err
            .contains("steel 4140 annealed, steel 4140 quenched")
    );
    assert!(made(&["--material", "6061"]).contains("material = \"aluminium 6061-T6\""));
}

#[test]
fn the_line_that_names_the_schema_is_written_where_the_schema_lies() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    assert_eq!(call(&["new", &path("a.toml"), "--job", "bore"]).exit, 0);
    assert!(
        !fs::read_to_string(path("a.toml"))
            .unwrap()
            .contains("#:schema")
    );
    fs::write(path("case.schema.json"), call(&["schemes", "--schema"]).out).unwrap();
    for (name, more) in [("b.toml", &["--job", "bore"][..]), ("c.toml", &[])] {
        let name = path(name);
        assert_eq!(call(&[&["new", &name], more].concat()).exit, 0);
        let text = fs::read_to_string(&name).unwrap();
        assert!(text.starts_with("#:schema ./case.schema.json\n#"), "{text}");
        assert_eq!(call(&["check", &name]).exit, 0);
    }
}
