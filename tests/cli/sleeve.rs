//! The tube that the README shows: what a run of it writes, and that the picture there is the one that it draws.

use std::fs;
use std::path::Path;

use serde_json::Value;

use crate::call;

const EXAMPLE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../cli/examples/sleeve.toml");
const PICTURE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../cli/examples/sleeve.svg");

/// Words and figures of a drawing, but for its last line, which names program, commit and case.
fn words(svg: &str) -> Vec<String> {
    let mut found: Vec<String> = svg
        .split('<')
        .filter_map(|piece| piece.split_once('>'))
        .map(|(_, text)| text.trim().to_owned())
        .filter(|text| !text.is_empty())
        .collect();
    found.retain(|text| !text.contains("commit"));
    found
}

#[test]
fn the_sleeve_of_the_readme_is_told_along_its_length() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("sleeve");
    let run = call(&["run", EXAMPLE, "--out", out.to_str().unwrap()]);
    assert_eq!(run.exit, 0, "{}", run.err);
    for said in [
        "grip with their front edge",
        "pulls out",
        "competent practice",
        "from the gripped end",
        "taper",
    ] {
        assert!(run.out.contains(said), "{said}: {}", run.out);
    }
    let result: Value =
        serde_json::from_str(&fs::read_to_string(out.join("result.json")).unwrap()).unwrap();
    let step = &result["steps"][0];
    let stations = step["stations"].as_array().unwrap();
    let positions: Vec<f64> = stations.iter().map(|s| s["z"].as_f64().unwrap()).collect();
    assert_eq!(positions, [0.0, 12.5, 25.0, 50.0, 75.0]);
    // the distortion is conical: each section is rounder than the one before it
    let left: Vec<f64> = stations
        .iter()
        .map(|s| {
            s["released"]["bore"]["roundness_minimum_zone"]
                .as_f64()
                .unwrap()
        })
        .collect();
    assert!(left.windows(2).all(|w| w[1] < w[0]), "{left:?}");
    for contact in step["held"]["contacts"].as_array().unwrap() {
        assert!(contact["along"]["front_quarter"].as_f64().unwrap() > 0.9);
        assert!(contact["peak_pressure"].is_null());
    }
    for file in [
        "stations.csv",
        "tube-step-1-held.vtu",
        "tube-step-1-cut.vtu",
        "tube-step-1-released.vtu",
        "step-1-held.vtu",
        "tube-stages.pvd",
    ] {
        assert!(out.join(file).is_file(), "{file}");
    }
    let drawn = fs::read_to_string(out.join("shape.svg")).unwrap();
    if std::env::var_os("RINGWRIGHT_BLESS").is_some() {
        fs::write(PICTURE, &drawn).unwrap();
    }
    let shown = fs::read_to_string(Path::new(PICTURE)).unwrap();
    assert_eq!(
        words(&shown),
        words(&drawn),
        "RINGWRIGHT_BLESS=1 draws it anew"
    );
}

#[test]
fn the_mesh_of_a_tube_is_its_plane_through_the_axis() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("mesh.vtu");
    let run = call(&["mesh", EXAMPLE, "--out", file.to_str().unwrap()]);
    assert_eq!(run.exit, 0, "{}", run.err);
    assert!(run.out.contains("plane through the axis"), "{}", run.out);
    let text = fs::read(&file).unwrap();
    let text = String::from_utf8_lossy(&text);
    assert!(text.contains("boundary_outer") && text.contains("boundary_bore"));
}
