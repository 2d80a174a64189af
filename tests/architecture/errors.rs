//! Every variant of every error is met by a test: named in one, or its words expected by one.

use std::fs;

use super::{root, sources};

/// Crates whose errors reach a user.
const CRATES: [&str; 3] = ["solver/src", "plugins/src", "cli/src"];

/// Guards that no input known reaches; each with the reason why it stays.
const UNREACHED: [(&str, &str); 5] = [
    (
        "ContactError::Cycled",
        "the search ends by proof, but for its budget of rounds; of the 500 holds of `property/agreement.rs` ten split sleeves on equal elements come to it",
    ),
    (
        "PlatesError::NotSettled",
        "a budget of rounds, of which no clamp known takes a fifth",
    ),
    (
        "PlatesError::Linear",
        "carries a LinearError, whose variants are met one by one",
    ),
    (
        "ContactError::NoSleeve",
        "a sleeve without a wall is refused where the scheme answers",
    ),
    (
        "ContactError::Linear",
        "carries a LinearError, whose variants are met one by one",
    ),
];

/// Shortest piece of a message, and of what a test expects, that tells it from others.
const PIECE: usize = 8;
const EXPECTED: usize = 10;

/// A variant and the pieces of its message between what is filled in.
#[derive(Debug, PartialEq)]
struct Variant {
    name: String,
    pieces: Vec<String>,
}

/// String literals of Rust text, continued lines joined.
fn literals(text: &str) -> Vec<String> {
    let mut found = Vec::new();
    let mut chars = text.chars().peekable();
    while let Some(c) = chars.next() {
        // a quotation mark as a character opens no string
        if c == '\'' && chars.next_if_eq(&'"').is_some() {
            continue;
        }
        if c != '"' {
            continue;
        }
        let mut literal = String::new();
        while let Some(c) = chars.next() {
            match (c, chars.peek()) {
                ('"', _) => break,
                ('\\', Some('\n')) => while chars.next_if(|c| c.is_whitespace()).is_some() {},
                ('\\', Some(&next)) => {
                    literal.push(if next == 'n' { '\n' } else { next });
                    chars.next();
                }
                _ => literal.push(c),
            }
        }
        found.push(literal);
    }
    found
}

/// The parts of a message between its braces.
fn pieces(message: &str) -> Vec<String> {
    let mut found = vec![String::new()];
    let mut depth = 0;
    for c in message.chars() {
        match c {
            '{' => depth += 1,
            '}' if depth > 0 => {
                depth -= 1;
                found.push(String::new());
            }
            c if depth == 0 => found.last_mut().unwrap().push(c),
            _ => {}
        }
    }
    let trimmed = found.iter().map(|p| p.trim().to_owned());
    trimmed.filter(|p| p.len() >= PIECE).collect()
}

/// The variants with a message of the error enums of a source.
fn variants(text: &str) -> Vec<Variant> {
    let code = text.split("#[cfg(test)]").next().unwrap_or_default();
    let mut found = Vec::new();
    let mut of = String::new();
    let mut attribute: Option<String> = None;
    for line in code.lines() {
        let word = line.trim();
        if let Some((_, name)) = word.split_once("enum ") {
            name.split([' ', '<']).next().unwrap().clone_into(&mut of);
        } else if word.starts_with("#[error(") {
            attribute = Some(String::new());
        }
        let opens = |w: &str| w.chars().next().is_some_and(char::is_uppercase);
        match &mut attribute {
            Some(all) if opens(word) && all.trim_end().ends_with(']') => {
                let name = word.split(|c: char| !c.is_alphanumeric()).next().unwrap();
                let message = literals(all).into_iter().next().unwrap_or_default();
                found.push(Variant {
                    name: format!("{of}::{name}"),
                    pieces: pieces(&message),
                });
                attribute = None;
            }
            Some(all) => {
                *all += line;
                all.push('\n');
            }
            None => {}
        }
    }
    found
}

fn is_met(variant: &Variant, tests: &str, expected: &[String]) -> bool {
    let says = |piece: &String| {
        expected
            .iter()
            .any(|e| e.contains(piece) || piece.contains(e.trim()))
    };
    tests.contains(&variant.name) || variant.pieces.iter().any(says)
}

/// Reasons of a run that no input known reaches, or that carry an error met by itself.
const UNREACHED_REASONS: [(&str, &str); 16] = [
    (
        "NotConverged::EndFaces",
        "a budget of rounds; of the random tubes of `property/tubes` one with a flange and friction on its ends comes to it",
    ),
    (
        "NotConverged::UnevenWall",
        "a budget of iterations, for lobes by which a wall varies more than it is thick; none known comes to it",
    ),
    (
        "NotConverged::MeanRing",
        "the part is solved on the mesh alone then, so no run ends with it",
    ),
    (
        "NotConverged::CutWithoutNumber",
        "a guard: every solution is put back into its equations before a cut uses it",
    ),
    (
        "Unfit::FaceTooNarrow",
        "the face of a body is looked at where its scheme answers; the contact's own error is met",
    ),
    (
        "TooLarge::Contact",
        "has the figures of a ContactError that is met by itself",
    ),
    (
        "Unresolved::Zone",
        "needs a mesh of gigabytes; its words are held beside them",
    ),
    (
        "Unresolved::Meshes",
        "needs a mesh of gigabytes; its words are held beside them",
    ),
    (
        "Open::Meshes",
        "needs a third mesh; its words are held beside them",
    ),
    (
        "NotConverged::Contact",
        "carries a ContactError, whose variants are met one by one",
    ),
    (
        "NotConverged::Equations",
        "carries a LinearError, whose variants are met one by one",
    ),
    (
        "NotConverged::Mesh",
        "carries a MeshError, whose variants are met one by one",
    ),
    (
        "NotConverged::Measure",
        "carries a MetrologyError, whose variants are met one by one",
    ),
    (
        "Reason::Program",
        "carries what an outside program did, whose words are met one by one",
    ),
    (
        "Squeeze::Readings",
        "carries a OneReading, whose variants are met one by one",
    ),
    (
        "Unfit::Scheme",
        "carries the words of a scheme, each with tests of its own",
    ),
];

/// Enums of reasons, whose words stand in one file.
const REASONS: [&str; 8] = [
    "Reason",
    "Unfit",
    "Looseness",
    "NotConverged",
    "Unresolved",
    "TooLarge",
    "Open",
    "Squeeze",
];

/// The variants that a file of words puts into words: each with the pieces of what follows it.
fn worded(text: &str) -> Vec<Variant> {
    let mut marks: Vec<(usize, String)> = Vec::new();
    for of in REASONS {
        for (at, found) in text.match_indices(&format!("{of}::")) {
            let before = text[..at].chars().next_back();
            let name: String = text[at + found.len()..]
                .chars()
                .take_while(|c| c.is_alphanumeric())
                .collect();
            let whole = !before.is_some_and(|c| c.is_alphanumeric() || c == '_');
            if whole && name.starts_with(char::is_uppercase) {
                marks.push((at, format!("{of}::{name}")));
            }
        }
    }
    marks.sort();
    let ends = marks.iter().skip(1).map(|m| m.0).chain([text.len()]);
    marks
        .iter()
        .zip(ends)
        .map(|((from, name), to)| Variant {
            name: name.clone(),
            pieces: literals(&text[*from..to])
                .iter()
                .flat_map(|l| pieces(l))
                .collect(),
        })
        .collect()
}

#[test]
fn every_reason_is_met_by_a_test() {
    let tests = all_tests();
    let mut expected = literals(&tests);
    expected.retain(|e| e.trim().len() >= EXPECTED);
    let text = fs::read_to_string(root().join("solver/src/report/refusal.rs")).unwrap();
    let all = worded(text.split("#[cfg(test)]").next().unwrap_or_default());
    assert!(all.len() > 18, "{}", all.len());
    let unreached = |v: &&Variant| UNREACHED_REASONS.iter().any(|(name, _)| *name == v.name);
    let groups = |v: &&Variant| v.pieces.is_empty();
    let unmet: Vec<&str> = all
        .iter()
        .filter(|v| !unreached(v) && !groups(v) && !is_met(v, &tests, &expected))
        .map(|v| v.name.as_str())
        .collect();
    assert!(unmet.is_empty(), "no test meets {unmet:?}");
    for (name, _) in UNREACHED_REASONS {
        assert!(all.iter().any(|v| v.name == name), "there is no {name}");
    }
}

/// The text of all tests outside the sources, but for this file.
fn all_tests() -> String {
    sources(&root().join("tests"))
        .into_iter()
        .filter(|path| !path.ends_with("architecture/errors.rs"))
        .map(|path| fs::read_to_string(path).unwrap())
        .collect()
}

#[test]
fn every_error_is_met_by_a_test() {
    let mut tests = all_tests();
    let mut all = Vec::new();
    for path in CRATES.iter().flat_map(|c| sources(&root().join(c))) {
        let text = fs::read_to_string(&path).unwrap();
        // what is found wrong with a scheme is a report, with tests of its own
        if !path.ends_with("conformance/fault.rs") {
            all.extend(variants(&text));
        }
        if let Some((_, own)) = text.split_once("#[cfg(test)]") {
            tests += own;
        }
    }
    assert!(all.len() > 60, "{}", all.len());
    let mut expected = literals(&tests);
    expected.retain(|e| e.trim().len() >= EXPECTED);
    let unreached = |v: &&Variant| UNREACHED.iter().any(|(name, _)| *name == v.name);
    let unmet: Vec<&str> = all
        .iter()
        .filter(|v| !unreached(v) && !is_met(v, &tests, &expected))
        .map(|v| v.name.as_str())
        .collect();
    assert!(unmet.is_empty(), "no test meets {unmet:?}");
    for (name, _) in UNREACHED {
        assert!(all.iter().any(|v| v.name == name), "there is no {name}");
    }
}

/// The scan itself, on text where the answer is known.
#[test]
fn the_scan_reads_errors_as_they_are_written() {
    let text = "#[derive(thiserror::Error)]\npub enum WallError {\n    /// Thin.\n    #[error(\n        \"the wall of {wall:.1} mm is \\\n         \
                much too thin for \\\"{name}\\\"\"\n    )]\n    Thin {\n        wall: f64,\n        name: String,\n    },\n    #[error(transparent)]\n    \
                Inner(Other),\n}\n";
    let found = variants(text);
    let expected = Variant {
        name: "WallError::Thin".into(),
        pieces: vec!["the wall of".into(), "mm is much too thin for \"".into()],
    };
    assert_eq!(found[0], expected);
    assert_eq!(
        (found.len(), found[1].name.as_str()),
        (2, "WallError::Inner")
    );
    let said = |words: &str| is_met(&found[0], "", &[words.to_owned()]);
    assert!(said("the wall of 3.0 mm is much too thin for \"foil\"") || said("much too thin for"));
    assert!(is_met(&found[1], "WallError::Inner(_)", &[]));
    assert!(!said("the wall is sound") && !is_met(&found[1], "", &[]));
    let arms = "match why { Reason::TooLarge(_) => \"much too large here\", xReason::No => \"a\", Unfit::NoStep => \"nothing at all to do\" }";
    let found = worded(arms);
    let names: Vec<&str> = found.iter().map(|v| v.name.as_str()).collect();
    assert_eq!(names, ["Reason::TooLarge", "Unfit::NoStep"]);
    assert_eq!(found[1].pieces, ["nothing at all to do"]);
}
