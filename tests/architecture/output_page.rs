//! The page on the output files: its tables are written from the types that are serialised, and held against files of a real run.

use std::collections::{BTreeMap, BTreeSet};
use std::ffi::OsString;
use std::fs;
use std::path::Path;

use serde_json::Value;

use super::{kept, root, sources};

const PAGE: &str = "cli/OUTPUT.md";

/// Where the serialised types stand.
const SOURCES: [&str; 7] = [
    "solver/src/report/document",
    "solver/src/compare/document.rs",
    "solver/src/size/document.rs",
    "solver/src/size/sheet.rs",
    "solver/src/geometry/mod.rs",
    "cli/src/render/gauge.rs",
    "cli/src/failure.rs",
];

/// A table of the page: its marker and the type that the document begins with.
const DOCUMENTS: [(&str, &str); 5] = [
    ("result", "ResultDocument"),
    ("compare", "CompareDocument"),
    ("size", "SizeDocument"),
    ("gauge", "Json"),
    ("error", "ErrorDocument"),
];

/// What stands under a key.
#[derive(Clone, Debug, PartialEq)]
enum Kind {
    Number,
    Text,
    Flag,
    /// A struct or a list of words, by its name in the code.
    Named(String),
    /// Null at times.
    Maybe(Box<Kind>),
    List(Box<Kind>),
    /// So many of one kind.
    Fixed(Box<Kind>, usize),
    /// One value for the outside and one for the bore.
    Surfaces(Box<Kind>),
    /// One value a path of a key.
    ByPath(Box<Kind>),
}

/// A key of an object.
#[derive(Clone, Debug)]
struct Key {
    name: String,
    kind: Kind,
    about: String,
    /// Left out of the file at times.
    optional: bool,
    /// Its keys stand in the object above.
    flattened: bool,
}

#[derive(Clone, Debug)]
enum Type {
    Object { about: String, keys: Vec<Key> },
    Words(Vec<String>),
}

type Types = BTreeMap<String, Type>;

/// The kind that a Rust type is written as.
fn kind(text: &str) -> Kind {
    let text = text
        .trim()
        .trim_start_matches("&'a ")
        .trim_start_matches("&'static ");
    let inside = |prefix: &str| text.strip_prefix(prefix)?.strip_suffix('>');
    if let Some(t) = inside("Option<") {
        return Kind::Maybe(kind(t).into());
    }
    if let Some(t) = inside("Vec<") {
        return Kind::List(kind(t).into());
    }
    if let Some(t) = inside("BTreeMap<String, ") {
        return Kind::ByPath(kind(t).into());
    }
    if let Some(t) = inside("PerSurface<") {
        return Kind::Surfaces(kind(t).into());
    }
    if let Some(list) = text.strip_prefix('[').and_then(|t| t.strip_suffix(']')) {
        return match list.split_once(';') {
            Some((t, n)) => Kind::Fixed(kind(t).into(), n.trim().parse().unwrap()),
            None => Kind::List(kind(list).into()),
        };
    }
    match text {
        "f64" | "f32" | "usize" | "u8" | "u16" | "u32" | "u64" | "i32" => Kind::Number,
        "String" | "str" => Kind::Text,
        "bool" => Kind::Flag,
        name => {
            assert!(
                name.chars().all(char::is_alphanumeric),
                "no kind for the type {name}"
            );
            Kind::Named(name.to_owned())
        }
    }
}

/// The serialised types of a source, as rustfmt lays them out: one field a line, comments and attributes above.
fn types_of(text: &str, types: &mut Types) {
    let mut lines = text.lines().map(str::trim).peekable();
    let (mut doc, mut attributes) = (Vec::new(), Vec::new());
    while let Some(line) = lines.next() {
        if let Some(words) = line.strip_prefix("///") {
            doc.push(words.trim().to_owned());
            continue;
        }
        if line.starts_with("#[") {
            attributes.push(line.to_owned());
            continue;
        }
        let mut words = line
            .split([' ', '<', '(', ':'])
            .filter(|w| !matches!(*w, "pub" | "crate)" | "super)" | ""));
        let what = words.next().unwrap_or_default();
        let name = words.next().unwrap_or_default().to_owned();
        let written = attributes
            .iter()
            .any(|a| a.starts_with("#[derive(") && a.contains("Serialize"));
        if written && line.ends_with('{') && name != "PerSurface" {
            let body: Vec<&str> = lines.by_ref().take_while(|l| *l != "}").collect();
            let about = doc.join(" ");
            let found = match what {
                "struct" => Type::Object {
                    about,
                    keys: keys(&name, &body),
                },
                "enum" => Type::Words(words_of(&name, &body, &attributes)),
                other => panic!("{other} {name} is serialised: the page cannot say how"),
            };
            let twice = types.insert(name.clone(), found);
            assert!(twice.is_none(), "two serialised types are called {name}");
        }
        doc.clear();
        attributes.clear();
    }
}

fn keys(of: &str, body: &[&str]) -> Vec<Key> {
    let mut found = Vec::new();
    let (mut doc, mut serde) = (Vec::new(), String::new());
    for line in body {
        if let Some(words) = line.strip_prefix("///") {
            doc.push(words.trim());
        } else if let Some(attribute) = line.strip_prefix("#[serde(") {
            attribute.trim_end_matches(")]").clone_into(&mut serde);
        } else if !line.is_empty() && !line.starts_with("//") {
            let field = line
                .trim_start_matches("pub(crate) ")
                .trim_start_matches("pub ");
            let (name, of_type) = field
                .trim_end_matches(',')
                .split_once(": ")
                .unwrap_or_else(|| panic!("{of}: no field in `{line}`"));
            let (flattened, optional) = match serde.as_str() {
                "" => (false, false),
                "flatten" => (true, false),
                s if s.starts_with("skip_serializing_if") => (false, true),
                "skip" => {
                    (doc, serde) = (Vec::new(), String::new());
                    continue;
                }
                other => panic!("{of}.{name}: the page does not know serde's `{other}`"),
            };
            let kind = match (kind(of_type), optional) {
                // left out instead of null
                (Kind::Maybe(kind), true) => *kind,
                (kind, _) => kind,
            };
            assert!(
                flattened || !doc.is_empty(),
                "{of}.{name} has no comment for the page to say"
            );
            found.push(Key {
                name: name.to_owned(),
                kind,
                about: doc.join(" "),
                optional,
                flattened,
            });
            (doc, serde) = (Vec::new(), String::new());
        }
    }
    found
}

fn words_of(of: &str, body: &[&str], attributes: &[String]) -> Vec<String> {
    let renamed = |to: &str| attributes.iter().any(|a| a.contains(to));
    let between = if renamed("\"kebab-case\"") { "-" } else { "" };
    assert!(
        renamed("\"lowercase\"") || renamed("\"kebab-case\""),
        "{of}: the page knows words in lower case alone"
    );
    body.iter()
        .filter(|l| !l.starts_with("//") && !l.is_empty())
        .map(|l| spaced(l.trim_end_matches(','), between))
        .collect()
}

fn types() -> Types {
    let mut types = Types::new();
    for source in SOURCES {
        for path in sources(&root().join(source)) {
            types_of(&fs::read_to_string(path).unwrap(), &mut types);
        }
    }
    types
}

/// The keys of an object as they stand in the file, those of flattened fields in their place.
fn flat(types: &Types, name: &str) -> Vec<Key> {
    let Some(Type::Object { keys, .. }) = types.get(name) else {
        panic!("{name} is no object of the serialised types")
    };
    keys.iter()
        .flat_map(|key| match (&key.kind, key.flattened) {
            (Kind::Named(inner), true) => flat(types, inner),
            _ => vec![key.clone()],
        })
        .collect()
}

/// The heading of an object.
fn heading(name: &str) -> String {
    spaced(
        name.trim_end_matches("Document").trim_end_matches("Json"),
        " ",
    )
}

/// A name in capitals and small letters as words in small letters.
fn spaced(name: &str, between: &str) -> String {
    let mut words = String::new();
    for c in name.chars() {
        if c.is_uppercase() && !words.is_empty() {
            words += between;
        }
        words.extend(c.to_lowercase());
    }
    words
}

/// The name of the named type inside a kind.
fn named(kind: &Kind) -> Option<&str> {
    match kind {
        Kind::Named(name) => Some(name),
        Kind::Maybe(k)
        | Kind::List(k)
        | Kind::Fixed(k, _)
        | Kind::Surfaces(k)
        | Kind::ByPath(k) => named(k),
        _ => None,
    }
}

/// A kind in words, objects linked to their tables.
fn said(types: &Types, kind: &Kind) -> String {
    match kind {
        Kind::Number => "number".into(),
        Kind::Text => "text".into(),
        Kind::Flag => "true or false".into(),
        Kind::Named(name) => match &types[name] {
            Type::Object { .. } => {
                let heading = heading(name);
                format!("[{heading}](#{})", heading.replace(' ', "-"))
            }
            Type::Words(words) => {
                let quoted: Vec<String> = words.iter().map(|w| format!("\"{w}\"")).collect();
                quoted.join(" or ")
            }
        },
        Kind::Maybe(k) => "null, or ".to_owned() + &said(types, k),
        Kind::List(k) => format!("list: {}", said(types, k)),
        Kind::ByPath(k) => format!("by path: {}", said(types, k)),
        Kind::Fixed(k, n) => format!("{n} times {}", said(types, k)),
        Kind::Surfaces(k) => format!("`outer` and `bore`: {}", said(types, k)),
    }
}

/// The objects of a document in the order in which a reader meets them.
fn reached(types: &Types, first: &str) -> Vec<String> {
    let mut order: Vec<String> = Vec::new();
    let mut open = vec![first.to_owned()];
    while let Some(name) = open.pop() {
        if order.contains(&name) {
            continue;
        }
        let inner = flat(types, &name);
        order.push(name);
        let objects = inner
            .iter()
            .filter_map(|k| named(&k.kind))
            .filter(|n| matches!(types.get(*n), Some(Type::Object { .. })));
        let mut objects: Vec<String> = objects.map(str::to_owned).collect();
        objects.reverse();
        open.extend(objects);
    }
    order
}

/// The tables of a document, those that an earlier one has shown left out.
fn tables(types: &Types, first: &str, shown: &mut BTreeSet<String>) -> String {
    let mut text = String::new();
    for name in reached(types, first) {
        if !shown.insert(name.clone()) {
            continue;
        }
        let Type::Object { about, .. } = &types[&name] else {
            continue;
        };
        if name != first {
            text += &format!("\n### {}\n\n{about}\n", heading(&name));
        }
        text += "\n| key | holds | meaning |\n| --- | --- | --- |\n";
        for key in flat(types, &name) {
            let absent = if key.optional { "; may be absent" } else { "" };
            text += &format!(
                "| `{}` | {}{absent} | {} |\n",
                key.name,
                said(types, &key.kind),
                key.about.replace('|', "\\|")
            );
        }
    }
    text
}

/// Walks a value of a real file beside its type: every key of the one must be a key of the other.
fn walk(types: &Types, kind: &Kind, value: &Value, at: &str, seen: &mut BTreeSet<String>) {
    let wrong = || panic!("{at}: {value} where the page says {kind:?}");
    match kind {
        Kind::Number if value.is_number() => {}
        Kind::Text if value.is_string() => {}
        Kind::Flag if value.is_boolean() => {}
        Kind::Maybe(k) => {
            if !value.is_null() {
                walk(types, k, value, at, seen);
            }
        }
        Kind::ByPath(k) => match value.as_object() {
            Some(map) => {
                for (path, value) in map {
                    walk(types, k, value, &format!("{at}.{path}"), seen);
                }
            }
            None => wrong(),
        },
        Kind::List(k) => match value.as_array() {
            Some(list) => {
                for (n, v) in list.iter().enumerate() {
                    walk(types, k, v, &format!("{at}[{n}]"), seen);
                }
            }
            None => wrong(),
        },
        Kind::Fixed(k, n) => match value.as_array() {
            Some(list) if list.len() == *n => {
                list.iter().for_each(|v| walk(types, k, v, at, seen));
            }
            _ => wrong(),
        },
        Kind::Surfaces(k) => match value.as_object() {
            Some(map) if map.keys().eq(["bore", "outer"]) || map.keys().eq(["outer", "bore"]) => {
                for (s, v) in map {
                    walk(types, k, v, &format!("{at}.{s}"), seen);
                }
            }
            _ => wrong(),
        },
        Kind::Named(name) => match (types.get(name), value) {
            (Some(Type::Words(words)), Value::String(s)) if words.contains(s) => {}
            (Some(Type::Object { .. }), Value::Object(map)) => {
                let keys = flat(types, name);
                for key in map.keys() {
                    assert!(
                        keys.iter().any(|k| k.name == *key),
                        "{at}.{key} is in the file and not on the page"
                    );
                }
                for key in keys {
                    match map.get(&key.name) {
                        Some(v) => {
                            seen.insert(format!("{name}.{}", key.name));
                            walk(types, &key.kind, v, &format!("{at}.{}", key.name), seen);
                        }
                        None => assert!(
                            key.optional,
                            "{at}.{} is on the page and not in the file",
                            key.name
                        ),
                    }
                }
            }
            _ => wrong(),
        },
        _ => wrong(),
    }
}

/// Exit status of the program, and what it prints on standard output.
fn called(args: &[&str]) -> (u8, String) {
    let args = std::iter::once("ringwright")
        .chain(args.iter().copied())
        .map(OsString::from);
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let exit = ringwright::run_with(args, &ringwright_plugins::registry(), &mut out, &mut err);
    (exit as u8, String::from_utf8(out).unwrap())
}

/// What the program prints on standard output when all goes well.
fn program(args: &[&str]) -> String {
    let (exit, out) = called(args);
    assert_eq!(exit, 0, "{args:?}");
    out
}

/// Keys that the files of these runs do not show.
fn unseen(types: &Types, first: &str, seen: &BTreeSet<String>) -> Vec<String> {
    reached(types, first)
        .iter()
        .flat_map(|name| {
            flat(types, name)
                .into_iter()
                .map(move |k| format!("{name}.{}", k.name))
        })
        .filter(|key| !seen.contains(key))
        .collect()
}

/// The tables of the page are the types', key by key.
#[test]
fn the_page_on_the_output_is_written_from_the_types() {
    let types = types();
    let mut shown = BTreeSet::new();
    for (marker, first) in DOCUMENTS {
        let text = tables(&types, first, &mut shown);
        assert!(text.lines().count() > 10, "{text}");
        kept(PAGE, marker, &text);
    }
}

/// The shipped example, run: its `result.json` has the keys of the page and no others, and a second case shows most that the example leaves
/// out. The columns of `profiles.csv` and the arrays of the `.vtu` files are on the page by their names.
#[test]
fn a_real_result_has_the_keys_of_the_page() {
    let types = types();
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("out");
    let example = root().join("cli/examples/ring.toml");
    program(&["run", path(&example), "--out", path(&out), "--quiet"]);
    let value: Value =
        serde_json::from_str(&fs::read_to_string(out.join("result.json")).unwrap()).unwrap();
    let first = Kind::Named("ResultDocument".into());
    let mut seen = BTreeSet::new();
    walk(&types, &first, &value, "result", &mut seen);
    assert!(seen.len() > 80, "{seen:?}");

    let page = fs::read_to_string(root().join(PAGE)).unwrap();
    let csv = fs::read_to_string(out.join("profiles.csv")).unwrap();
    for column in csv.lines().next().unwrap().split(',') {
        assert!(page.contains(&format!("| `{column}` |")), "column {column}");
    }
    let mut arrays = BTreeSet::new();
    for name in ["step-1-held.vtu", "step-1-cut.vtu", "step-1-released.vtu"] {
        assert!(
            fs::read_to_string(out.join("stages.pvd"))
                .unwrap()
                .contains(name)
        );
        arrays.extend(named_arrays(&fs::read(out.join(name)).unwrap()));
    }
    let mesh = folder.path().join("mesh.vtu");
    program(&["mesh", path(&example), "--out", path(&mesh), "--quiet"]);
    arrays.extend(named_arrays(&fs::read(mesh).unwrap()));
    assert!(arrays.len() >= 8, "{arrays:?}");
    for array in &arrays {
        assert!(page.contains(&format!("| `{array}` |")), "array {array}");
    }

    let case = folder.path().join("case.toml");
    let sleeve = fs::read_to_string(root().join("cli/examples/sleeve.toml")).unwrap();
    for text in [EVERYTHING, &sleeve, BETWEEN_PLATES, PUSHED] {
        fs::write(&case, text).unwrap();
        let args = ["run", path(&case), "--out", path(&out)];
        program(&[&args[..], &["--fields", "none", "--quiet"]].concat());
        let text = fs::read_to_string(out.join("result.json")).unwrap();
        let value: Value = serde_json::from_str(&text).unwrap();
        walk(&types, &first, &value, "result", &mut seen);
    }
    // a computed profile is known all round; the gauge document below shows what readings leave open
    let open = |key: &String| key.ends_with(".lower_bound") || key.starts_with("UnknownDocument.");
    let mut left = unseen(&types, "ResultDocument", &seen);
    left.retain(|key| !open(key));
    assert!(left.is_empty(), "no file shows {left:?}");
}

/// The same for `gauge --json`, with a trace turned back and with the causes looked for.
#[test]
fn a_real_gauge_document_has_the_keys_of_the_page() {
    let types = types();
    let readings = root().join("cli/examples/bore.csv");
    let case = root().join("cli/examples/ring.toml");
    let mut seen = BTreeSet::new();
    let bore = [
        "gauge",
        path(&readings),
        "--radius",
        "47",
        "--surface",
        "bore",
        "--json",
    ];
    let causes = [
        &bore[..],
        &["--made-by", path(&case), "--filter", "50", "--zone", "0.02"],
    ]
    .concat();
    let folder = tempfile::tempdir().unwrap();
    let trace = folder.path().join("trace.txt");
    let list: Vec<String> = (0..36)
        .map(|k| {
            format!(
                "{:.2}",
                5.0 * (f64::from(k) / 36.0 * 3.0 * std::f64::consts::TAU).cos()
            )
        })
        .collect();
    fs::write(&trace, list.join(" ")).unwrap();
    let vee = [
        "gauge",
        path(&trace),
        "--unit",
        "um",
        "--radius",
        "47",
        "--from",
        "vee",
        "--json",
    ];
    for args in [&bore[..], &causes, &vee] {
        let value: Value = serde_json::from_str(&program(args)).unwrap();
        walk(
            &types,
            &Kind::Named("Json".into()),
            &value,
            "gauge",
            &mut seen,
        );
    }
    let mut left = unseen(&types, "Json", &seen);
    // what was measured has no estimate; a run shows these
    let estimates = [
        "CircleDocument.error",
        "CircleDocument.centre_error",
        "CircleDocument.radius_error",
        "ReadingDocument.error",
    ];
    left.retain(|key| !estimates.contains(&key.as_str()));
    assert!(left.is_empty(), "no file shows {left:?}");
}

/// The same for the document of a failure: of a case with a problem, and of one that a time limit ends.
#[test]
fn a_real_error_document_has_the_keys_of_the_page() {
    let types = types();
    let folder = tempfile::tempdir().unwrap();
    let wrong = folder.path().join("wrong.toml");
    fs::write(&wrong, "accuracy = 9\n").unwrap();
    let example = root().join("cli/examples/ring.toml");
    let mut seen = BTreeSet::new();
    for (args, exit) in [
        (&["check", path(&wrong), "--json"][..], 3),
        (
            &["run", path(&example), "--json", "--time-limit", "0.001"],
            4,
        ),
    ] {
        let (status, out) = called(args);
        assert_eq!(status, exit);
        let value: Value = serde_json::from_str(&out).unwrap();
        walk(
            &types,
            &Kind::Named("ErrorDocument".into()),
            &value,
            "error",
            &mut seen,
        );
    }
    let left = unseen(&types, "ErrorDocument", &seen);
    assert!(left.is_empty(), "no file shows {left:?}");
}

/// Names of the data arrays of a `.vtu`.
fn named_arrays(file: &[u8]) -> BTreeSet<String> {
    let text = String::from_utf8_lossy(file);
    let start = text.find("<PointData").unwrap();
    text[start..]
        .split("Name=\"")
        .skip(1)
        .filter_map(|rest| rest.split('"').next())
        .map(str::to_owned)
        // points and cells have fixed names of the format
        .filter(|n| !matches!(n.as_str(), "connectivity" | "offsets" | "types" | "Points"))
        .collect()
}

fn path(path: &Path) -> &str {
    path.to_str().unwrap()
}

/// A tube with what the sleeve of the examples leaves out.
const BETWEEN_PLATES: &str = r#"
[part]
outer_diameter = 80.0
bore_diameter = 74.0
length = 60.0
material = "aluminium 6061-T6"
[tube]
stations = [0.0, 30.0]
[[hold.plates]]
scheme = "end-clamp"
axial_force = 6000.0
friction = 0.15
end_condition = "friction"
[[step]]
hold = "plates"
[[step.cut]]
surface = "outer"
diameter = 79.0
"#;

/// A tool that pushes harder than the jaws hold.
const PUSHED: &str = r#"
[part]
outer_diameter = 80.0
bore_diameter = 74.0
length = 20.0
material = { young_modulus = 69e3, poisson_ratio = 0.33, yield_strength = 276, long_time_modulus = 60e3 }
[[hold.jaws]]
scheme = "jaws"
count = 3
key_torque = 6000.0
calibration_torque = 1000.0
calibration_force = 1.0
bored_diameter = 81.2
width = 15.0
[[step]]
hold = "jaws"
[[step.cut]]
surface = "bore"
diameter = 74.4
radial_force = 14.0
"#;

/// A case that shows the keys which the shipped example leaves out: readings, residual stress, dead loads, limits, a measuring force, weight, a filter.
const EVERYTHING: &str = r#"title = "Sleeve of a pump"
[tolerance.bore]
roundness = 0.001
filter_upr = 50
[part]
outer_diameter = 84.0
bore_diameter = 72.0
length = 18.0
material = { young_modulus = 200e3, poisson_ratio = 0.3, yield_strength = 300, density = 7850 }
residual_hoop_stress = { outer = 10, bore = -10 }
[part.readings]
outer = { readings = "0:1 40:-1 80:0 120:1 160:-1 200:0 240:1 280:-1 320:0", unit = "um", reads = "deviation", lobes = 3 }
[inspection]
gauge = { kind = "two-point" }
measuring_force = 2
support = "edge"
[mesh]
around = 240
through = 4
[[hold.pressed]]
scheme = "pressure-patches"
count = 3
half_angle = 8
force = 300
[[step]]
hold = "pressed"
[[step.cut]]
surface = "bore"
diameter = 73.0
"#;

/// The scan itself, on text where the answer is known.
#[test]
fn the_scan_reads_types_as_they_are_written() {
    let text = "/// A thing.\n#[derive(Clone, Serialize)]\npub struct ThingDocument {\n    /// Size, mm.\n    pub size: f64,\n    \
                /// Its parts.\n    pub parts: Vec<Option<PartDocument>>,\n    #[serde(skip)]\n    pub hidden: bool,\n    \
                /// Seldom.\n    #[serde(skip_serializing_if = \"Option::is_none\")]\n    pub seldom: Option<[f64; 2]>,\n    \
                #[serde(flatten)]\n    pub more: More,\n}\n\n#[derive(Serialize)]\nstruct More {\n    /// Which.\n    side: &'static str,\n}\n\
                #[derive(Clone)]\nstruct Other {\n    x: f64,\n}\n\n/// A part.\n#[derive(Serialize)]\nstruct PartDocument {\n    /// Name.\n    name: String,\n}\n";
    let mut types = Types::new();
    types_of(text, &mut types);
    assert_eq!(types.len(), 3);
    let keys = flat(&types, "ThingDocument");
    let names: Vec<&str> = keys.iter().map(|k| k.name.as_str()).collect();
    assert_eq!(names, ["size", "parts", "seldom", "side"]);
    assert!(keys[2].optional && keys[2].kind == kind("[f64; 2]"));
    assert_eq!(
        reached(&types, "ThingDocument"),
        ["ThingDocument", "PartDocument"]
    );
    let good = serde_json::json!({ "size": 1, "parts": [null, { "name": "a" }], "side": "left" });
    let first = Kind::Named("ThingDocument".into());
    let mut seen = BTreeSet::new();
    walk(&types, &first, &good, "it", &mut seen);
    assert_eq!(
        unseen(&types, "ThingDocument", &seen),
        ["ThingDocument.seldom"]
    );
    for bad in [
        serde_json::json!({ "size": 1, "parts": [], "side": "left", "new": 1 }),
        serde_json::json!({ "size": 1, "parts": [] }),
        serde_json::json!({ "size": "1", "parts": [], "side": "left" }),
    ] {
        let walked = std::panic::catch_unwind(|| {
            walk(&types, &first, &bad, "it", &mut BTreeSet::new());
        });
        assert!(walked.is_err(), "{bad}");
    }
}
