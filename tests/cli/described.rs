//! One description of the schemes and of the case file: what is printed from it, kept in the repository and read by the
//! case reader is the same.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use serde_json::Value;

use crate::call;

fn kept(path: &str) -> String {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap();
    fs::read_to_string(root.join(path)).unwrap()
}

#[test]
fn the_schema_kept_is_the_one_printed() {
    let printed = call(&["schemes", "--schema"]);
    assert_eq!(printed.exit, 0);
    assert!(
        printed.out == kept("cli/case.schema.json"),
        "refresh it: ringwright schemes --schema > cli/case.schema.json"
    );
}

#[test]
fn the_reference_page_kept_is_the_one_printed() {
    let printed = call(&["schemes", "--markdown"]);
    assert_eq!(printed.exit, 0);
    assert!(
        printed.out == kept("plugins/SCHEMES.md"),
        "refresh it: ringwright schemes --markdown > plugins/SCHEMES.md"
    );
    for scheme in ringwright_plugins::built_in() {
        for p in scheme.parameters() {
            let row = format!("| `{}` |", p.key);
            assert!(printed.out.contains(&row), "{}: {}", scheme.name(), p.key);
        }
    }
}

const PART: &str =
    "[part]\nouter_diameter = 60\nbore_diameter = 50\nlength = 9\nmaterial = \"PEEK\"\n";

/// The keys that the reader says it knows in a table, from its message about a key that nobody knows.
fn known(case: &str) -> BTreeSet<String> {
    let problems = ringwright_solver::case::read(case, &ringwright_plugins::registry())
        .err()
        .unwrap();
    let message = problems
        .iter()
        .find_map(|p| p.message.split_once("unknown key \"zzzz\"; known here: "));
    let (_, list) = message.unwrap_or_else(|| panic!("{case}\n{problems:#?}"));
    list.split(", ").map(str::to_owned).collect()
}

/// The keys that the schema allows in a table.
fn allowed(schema: &Value, pointer: &str) -> BTreeSet<String> {
    let table = schema
        .pointer(pointer)
        .unwrap_or_else(|| panic!("no {pointer}"));
    assert_eq!(table["additionalProperties"], false, "{pointer}");
    table["properties"]
        .as_object()
        .unwrap()
        .keys()
        .cloned()
        .collect()
}

#[test]
fn the_schema_and_the_reader_know_the_same_keys() {
    let schema: Value = serde_json::from_str(&call(&["schemes", "--schema"]).out).unwrap();
    let z = "zzzz = 1\n";
    let step = "[[step]]\nhold = \"free\"\n";
    let part = "/properties/part";
    let tables = [
        (String::new(), z.to_owned()),
        ("/properties/tolerance".into(), format!("[tolerance]\n{z}")),
        (
            "/properties/tolerance/properties/bore".into(),
            format!("[tolerance.bore]\n{z}"),
        ),
        (
            "/properties/tolerance/properties/outer".into(),
            format!("[tolerance.outer]\n{z}"),
        ),
        (
            "/properties/inspection".into(),
            format!("[inspection]\n{z}"),
        ),
        (
            "/properties/inspection/properties/gauge".into(),
            format!("[inspection.gauge]\n{z}"),
        ),
        (part.into(), format!("{PART}{z}")),
        (
            format!("{part}/properties/material/anyOf/1"),
            "[part]\nmaterial = { zzzz = 1 }".into(),
        ),
        (
            format!("{part}/properties/residual_hoop_stress"),
            format!("[part.residual_hoop_stress]\n{z}"),
        ),
        (
            format!("{part}/properties/residual_hoop_stress/properties/slit"),
            format!("[part.residual_hoop_stress.slit]\n{z}"),
        ),
        (
            format!("{part}/properties/bore_offset"),
            format!("[part.bore_offset]\n{z}"),
        ),
        (
            format!("{part}/properties/lobes/items"),
            format!("[[part.lobes]]\n{z}"),
        ),
        ("/properties/step/items".into(), format!("{step}{z}")),
        (
            "/properties/step/items/properties/spindle_offset".into(),
            format!("{step}spindle_offset = {{ zzzz = 1 }}"),
        ),
        (
            "/properties/step/items/properties/cut/items".into(),
            format!("{step}[[step.cut]]\n{z}"),
        ),
        ("/properties/mesh".into(), format!("[mesh]\n{z}")),
        ("/properties/tube".into(), format!("[tube]\n{z}")),
        ("/properties/chuck".into(), format!("[chuck]\n{z}")),
        (
            format!("{part}/properties/material/anyOf/1/properties/cutting"),
            "[part]\nmaterial = { cutting = { zzzz = 1 } }".into(),
        ),
    ];
    let built_in = ringwright_plugins::built_in();
    let schemes = built_in.iter().map(|s| {
        let name = s.name();
        (
            format!("/$defs/scheme-{name}"),
            format!("[[hold.a]]\nscheme = \"{name}\"\n{z}"),
        )
    });
    for (pointer, case) in tables.into_iter().chain(schemes) {
        let known = known(&case);
        assert_eq!(
            allowed(&schema, &pointer),
            known,
            "{pointer}: solver/src/case/schema.rs and the reader differ"
        );
    }
}

/// The list says of every value how well it is known; a word finds the materials that have it in their name.
#[test]
fn materials_are_listed_with_the_level_of_each_value() {
    use ringwright_solver::case::material::table;
    let c = call(&["materials"]);
    assert_eq!((c.exit, c.err.as_str()), (0, ""));
    for m in table() {
        let row = c.out.lines().find(|l| l.starts_with(m.name)).unwrap();
        let marks = row[m.name.len()..]
            .split_whitespace()
            .filter(|w| ["d", "h", "m"].contains(w))
            .count();
        assert_eq!(
            marks,
            if m.yield_strength.is_some() { 4 } else { 3 },
            "{row}"
        );
    }
    assert!(c.out.lines().all(|l| l.chars().count() <= 100), "{}", c.out);
    for wanted in [
        "1018",
        "1045",
        "4140 annealed",
        "quenched",
        "C36000",
        "65-45-12",
        "UHMW",
        "POM-C",
    ] {
        let c = call(&["materials", wanted]);
        assert_eq!(c.exit, 0, "{wanted}");
        assert!(
            c.out.contains("data sheet") || c.out.contains("handbook"),
            "{}",
            c.out
        );
    }
    let one = call(&["materials", "nylon", "6/6"]);
    assert!(
        one.out.contains("creeps") && one.out.contains("moisture"),
        "{}",
        one.out
    );
    let json: Value = serde_json::from_str(&call(&["materials", "--json"]).out).unwrap();
    let list = json["materials"].as_array().unwrap();
    assert_eq!(list.len(), table().len());
    let iron = list
        .iter()
        .find(|m| m["name"] == "grey iron class 30")
        .unwrap();
    assert!(iron["yield_strength"].is_null());
    assert_eq!(iron["young_modulus"]["level"], "memory");
    assert_eq!(call(&["materials", "unobtainium"]).exit, 2);
}

/// A plastic comes with its caution, in `check` and in the result; a metal without.
#[test]
fn plastics_carry_a_caution() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("case.toml");
    let said = |material: &str| {
        let text = format!(
            "{}[[hold.a]]\nscheme = \"pressure-patches\"\ncount = 3\nhalf_angle = 10\nforce = 5\n[[step]]\nhold = \"a\"\n[mesh]\naround = 60\nthrough = 2\n",
            PART.replace("\"PEEK\"", material)
        );
        fs::write(&path, text).unwrap();
        let case = path.to_str().unwrap();
        let check = call(&["check", case]).out;
        let out = folder.path().join("out");
        let run = call(&[
            "run",
            case,
            "--json",
            "--fields",
            "none",
            "--out",
            out.to_str().unwrap(),
        ]);
        let json: Value = serde_json::from_str(&run.out).unwrap();
        let cautions = json["cautions"].to_string();
        assert_eq!(check.contains("creeps"), cautions.contains("creeps"));
        cautions
    };
    assert!(said("\"PEEK\"").contains("PEEK is a plastic: it creeps"));
    let nylon = said("\"nylon 6/6\"");
    assert!(nylon.contains("moisture"), "{nylon}");
    assert!(said("{ young_modulus = 900, poisson_ratio = 0.4 }").contains("counts as a plastic"));
    assert!(!said("\"steel 1045 hot rolled\"").contains("creeps"));
}

#[test]
fn conforming_schemes_are_said_to_conform() {
    let c = call(&["schemes", "--conform"]);
    assert_eq!(c.exit, 0, "{}", c.out);
    assert!(
        !c.out.contains("FAULT") && !c.out.contains("left out"),
        "{}",
        c.out
    );
    let c = call(&["schemes", "--conform", "jaws", "--json"]);
    let document: Value = serde_json::from_str(&c.out).unwrap();
    assert_eq!(document["schemes"][0]["conforms"], true);
    assert_eq!(
        document["schemes"][0]["checks"].as_array().unwrap().len(),
        7
    );
    assert_eq!(call(&["schemes", "--conform", "claws"]).exit, 2);
}

/// A scheme that does not conform ends with 3 and the words of its fault.
#[test]
fn a_broken_scheme_is_told() {
    use ringwright_solver::{conformance::broken, scheme::Registry};
    let [_, bad_default, ..] = broken();
    let registry = Registry::default().add(std::sync::Arc::new(bad_default));
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let args = ["ringwright", "schemes", "--conform", "flat-pads"].map(Into::into);
    let exit = ringwright::run_with(args, &registry, &mut out, &mut err);
    let out = String::from_utf8(out).unwrap();
    assert_eq!(exit, ringwright::Exit::Input, "{out}");
    assert!(
        out.contains("FAULT") && out.contains("the default -100"),
        "{out}"
    );
}
