//! `shape.svg` of every shipped case: no text on another, none off the page, and the same roundness as the figures.

use std::fs;
use std::path::{Path, PathBuf};

use crate::call;

/// A text of the drawing: its words and the area that it takes, pixels (left, top, right, bottom).
struct Text {
    words: String,
    area: [f64; 4],
}

fn attribute<'a>(tag: &'a str, name: &str) -> Option<&'a str> {
    let from = tag.find(&format!(" {name}=\""))? + name.len() + 3;
    tag[from..].split('"').next()
}

fn number(tag: &str, name: &str) -> f64 {
    attribute(tag, name).unwrap().parse().unwrap()
}

/// Letters of Helvetica are a little over half as wide as high on average, and rise by 0.72 of their size, capitals and figures
/// included (Adobe's font metrics, from memory).
fn texts(svg: &str) -> Vec<Text> {
    svg.split("<text")
        .skip(1)
        .map(|piece| {
            let (tag, rest) = piece.split_once('>').unwrap();
            let words = rest.split("</text>").next().unwrap().to_owned();
            let size = number(tag, "font-size");
            let bold = if tag.contains("bold") { 1.08 } else { 1.0 };
            let shown = ["&quot;", "&amp;", "&lt;", "&gt;", "&#39;"]
                .iter()
                .fold(words.clone(), |w, e| w.replace(e, "'"));
            let wide = 0.53 * bold * size * shown.chars().count() as f64;
            let (x, y) = (number(tag, "x"), number(tag, "y"));
            let left = match attribute(tag, "text-anchor") {
                Some("middle") => x - 0.5 * wide,
                Some("end") => x - wide,
                _ => x,
            };
            Text {
                words,
                area: [left, y - 0.72 * size, left + wide, y + 0.2 * size],
            }
        })
        .collect()
}

/// Case files that are shipped, in a fixed order; those of outside schemes need their program and stay out.
fn shipped() -> Vec<PathBuf> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap();
    let mut all: Vec<PathBuf> = [
        "cli/examples",
        "plugins/examples",
        "plugins/examples/recipes",
    ]
    .iter()
    .flat_map(|folder| fs::read_dir(root.join(folder)).unwrap())
    .map(|entry| entry.unwrap().path())
    .filter(|path| path.extension().is_some_and(|e| e == "toml"))
    .collect();
    all.sort();
    all
}

fn drawn(case: &Path, out: &Path) -> (String, serde_json::Value) {
    let args = [
        "run",
        case.to_str().unwrap(),
        "--out",
        out.to_str().unwrap(),
        "--fields",
        "none",
        "--no-estimate",
        "--quiet",
    ];
    let c = call(&args);
    assert_eq!((c.exit, c.err.as_str()), (0, ""), "{}", case.display());
    let svg = fs::read_to_string(out.join("shape.svg")).unwrap();
    let json = fs::read_to_string(out.join("result.json")).unwrap();
    (svg, serde_json::from_str(&json).unwrap())
}

#[test]
fn nothing_is_written_over_anything_in_the_picture_of_a_shipped_case() {
    let folder = tempfile::tempdir().unwrap();
    let cases = shipped();
    assert!(cases.len() > 10, "{cases:?}");
    for case in cases {
        let (svg, _) = drawn(&case, &folder.path().join("out"));
        let name = case.display();
        let (wide, high) = (number(&svg, "width"), number(&svg, "height"));
        let texts = texts(&svg);
        for (k, a) in texts.iter().enumerate() {
            let [left, top, right, bottom] = a.area;
            let inside = left >= 0.0 && top >= 0.0 && right <= wide && bottom <= high;
            assert!(inside, "{name}: {:?} is off the page", a.words);
            for b in &texts[k + 1..] {
                let apart = right <= b.area[0]
                    || b.area[2] <= left
                    || bottom <= b.area[1]
                    || b.area[3] <= top;
                assert!(apart, "{name}: {:?} on {:?}", a.words, b.words);
            }
        }
    }
}

/// Two and three lobes have different circles: the picture must show the one that the text calls roundness.
#[test]
fn the_picture_and_the_figures_call_the_same_thing_roundness() {
    let folder = tempfile::tempdir().unwrap();
    let case = folder.path().join("lobed.toml");
    fs::write(&case, LOBED).unwrap();
    let (svg, json) = drawn(&case, &folder.path().join("out"));
    let shape = &json["steps"][1]["released"]["outer"];
    let millimetres = |key: &str| format!("{:.3} mm", shape[key].as_f64().unwrap());
    let (zone, squares) = (
        millimetres("roundness_minimum_zone"),
        millimetres("roundness_least_squares"),
    );
    assert_ne!(zone, squares);
    assert!(svg.contains(&format!("Released: roundness {zone}")));
    assert!(!svg.contains(&format!("roundness {squares}")));
    // a part turned over: the jaws stay where they are, its angles run the other way
    assert!(svg.contains("Part turned end for end."));
    assert!(svg.contains("angles run clockwise"));
}

const LOBED: &str = r#"title = "Cast collar, bored, then turned over"
[part]
outer_diameter = 84.0
bore_diameter = 70.0
length = 18.0
material = "bronze C93200"
[[part.lobes]]
surface = "outer"
count = 2
amplitude = 0.04
angle = 10
[[part.lobes]]
surface = "outer"
count = 3
amplitude = 0.03
angle = 25
[[hold.chuck]]
scheme = "jaws"
count = 3
force = 200.0
width = 16.0
[[step]]
hold = "chuck"
[[step.cut]]
surface = "bore"
diameter = 71.0
[[step]]
hold = "chuck"
flipped = true
[[step.cut]]
surface = "bore"
diameter = 71.6
"#;
