//! What the expected values of the kept checks are worth: every check says of what kind its own is, and the kinds are counted.

use std::collections::BTreeMap;
use std::fs;

use super::{kept, root, sources};

/// The kinds, and what the README's table says of each.
const KINDS: [(&str, &str); 5] = [
    (
        "analytical",
        "a closed form or a theorem, or what follows by hand from how the input was made",
    ),
    (
        "published",
        "a value printed by somebody else, named beside the check",
    ),
    (
        "other program",
        "an independent computation: another method or another program",
    ),
    (
        "invariance",
        "turned, scaled, split, repeated: two answers that must be one",
    ),
    (
        "own earlier run",
        "ringwright itself, on a finer mesh or at another time",
    ),
];

/// Folders whose every test is such a check. `tests/cli` and the tests inside the crates are about behaviour (words, exit codes, one function
/// by itself), where nothing is measured.
const FOLDERS: [&str; 2] = ["tests/verification", "tests/property"];

/// Words that begin the note of an analytical value that was typed in, not computed.
const BY_CONSTRUCTION: &str = "by construction";

/// One check and what it says of its expected value.
#[derive(Debug, PartialEq)]
struct Check {
    name: String,
    kinds: Vec<String>,
    note: String,
}

/// The kinds and the note of `KIND, KIND; few words`, or what is wrong.
fn label(said: &str) -> Result<(Vec<String>, String), String> {
    let (kinds, note) = said.split_once(';').unwrap_or((said, ""));
    let kinds: Vec<String> = kinds.split(',').map(|k| k.trim().to_owned()).collect();
    for kind in &kinds {
        if !KINDS.iter().any(|(known, _)| known == kind) {
            return Err(format!("\"{kind}\" is no kind of expected value"));
        }
    }
    Ok((kinds, note.trim().to_owned()))
}

/// Every `#[test]` of a Rust source with the label at the end of its doc comment, or what is wrong with it.
fn checks(text: &str) -> Vec<Result<Check, String>> {
    let lines: Vec<&str> = text.lines().map(str::trim).collect();
    let tests = (0..lines.len()).filter(|&k| lines[k] == "#[test]");
    tests
        .map(|k| {
            let name = lines[k..]
                .iter()
                .find_map(|l| l.strip_prefix("fn "))
                .and_then(|l| l.split('(').next())
                .ok_or("a test without a function")?;
            let above = lines[..k].iter().rev();
            let doc: Vec<&str> = above
                .skip_while(|l| l.starts_with("#["))
                .map_while(|l| l.strip_prefix("///"))
                .collect();
            let said: Vec<&str> = doc
                .iter()
                .filter_map(|l| l.trim().strip_prefix("Truth: "))
                .collect();
            let [said] = said[..] else {
                return Err(format!(
                    "{name}: {} lines `/// Truth: KIND` in its doc comment, one is wanted",
                    said.len()
                ));
            };
            let (kinds, note) = label(said).map_err(|e| format!("{name}: {e}"))?;
            Ok(Check {
                name: name.to_owned(),
                kinds,
                note,
            })
        })
        .collect()
}

/// The label of a Python reader: one line `Truth: KIND` of its docstring.
fn reader(name: &str, text: &str) -> Result<Check, String> {
    let docstring = text.split("\"\"\"").nth(1).unwrap_or_default();
    let said: Vec<&str> = docstring
        .lines()
        .filter_map(|l| l.strip_prefix("Truth: "))
        .collect();
    let [said] = said[..] else {
        return Err(format!(
            "{name}: {} lines `Truth: KIND` in its docstring, one is wanted",
            said.len()
        ));
    };
    let (kinds, note) = label(said).map_err(|e| format!("{name}: {e}"))?;
    Ok(Check {
        name: name.to_owned(),
        kinds,
        note,
    })
}

/// All checks of the project, or every fault of their labels.
fn all() -> Result<Vec<Check>, Vec<String>> {
    let mut found = Vec::new();
    for folder in FOLDERS {
        for path in sources(&root().join(folder)) {
            let file = path.strip_prefix(root()).unwrap_or(&path).display();
            let checks = checks(&fs::read_to_string(&path).unwrap());
            found.extend(
                checks
                    .into_iter()
                    .map(|c| c.map_err(|e| format!("{file}: {e}"))),
            );
        }
    }
    let mut readers: Vec<_> = fs::read_dir(root().join("tests/readers"))
        .unwrap()
        .map(|e| e.unwrap().path())
        .filter(|p| p.extension().is_some_and(|e| e == "py"))
        .collect();
    readers.sort();
    for path in readers {
        let name = path.file_name().unwrap().to_string_lossy();
        found.push(reader(&name, &fs::read_to_string(&path).unwrap()));
    }
    let (good, bad): (Vec<_>, Vec<_>) = found.into_iter().partition(Result::is_ok);
    if bad.is_empty() {
        Ok(good.into_iter().flatten().collect())
    } else {
        Err(bad.into_iter().filter_map(Result::err).collect())
    }
}

fn count(checks: &[Check], kind: &str) -> usize {
    let says = |c: &&Check| c.kinds.iter().any(|k| k == kind);
    checks.iter().filter(says).count()
}

/// The README's table.
fn table(checks: &[Check]) -> String {
    let mut text = "| expected value | checks | what that is |\n| --- | ---: | --- |\n".to_owned();
    for (kind, about) in KINDS {
        text += &format!("| {kind} | {} | {about} |\n", count(checks, kind));
    }
    let typed = checks
        .iter()
        .filter(|c| c.note.starts_with(BY_CONSTRUCTION))
        .count();
    text + &format!(
        "\n{} checks in all; one with two kinds counts under both, and {typed} of the analytical ones ask for no more than what was typed in.\n",
        checks.len()
    )
}

/// Every check says of what kind its expected value is; what the program once said itself is no majority; the README's table is the count.
#[test]
fn every_check_says_what_its_expected_value_is() {
    let checks = all().unwrap_or_else(|bad| panic!("{}", bad.join("\n")));
    assert!(
        checks.len() > 150,
        "only {} checks were found: is the scan broken?",
        checks.len()
    );
    let mut names = BTreeMap::new();
    for check in &checks {
        *names.entry(&check.name).or_insert(0) += 1;
    }
    assert!(names.len() > 140, "{}", names.len());
    let own = count(&checks, "own earlier run");
    assert!(2 * own < checks.len(), "{own} of {}", checks.len());
    for (kind, _) in KINDS {
        assert!(count(&checks, kind) > 0, "no check is {kind}");
    }
    kept("README.md", "truth", &table(&checks));
}

/// The scan itself, on text where the answer is known.
#[test]
fn the_scan_wants_one_known_kind_of_each_check() {
    let test = |doc: &str| format!("{doc}\n#[test]\nfn it_is() {{}}\n");
    let one = |doc: &str| checks(&test(doc)).remove(0);
    let check = one("/// Words.\n/// Truth: published, invariance; a book").unwrap();
    assert_eq!(
        (check.name.as_str(), check.note.as_str()),
        ("it_is", "a book")
    );
    assert_eq!(check.kinds, ["published", "invariance"]);
    for bad in [
        "",
        "/// Words.",
        "/// Truth: ours",
        "/// Truth: published, ours",
        "/// Truth: analytical\n/// Truth: published",
        // not part of the test's own comment
        "/// Truth: analytical\nconst X: f64 = 1.0;\n",
    ] {
        assert!(one(bad).is_err(), "{bad}");
    }
    // inside a macro, and below another attribute
    let inside = "proptest! {\n    /// Truth: invariance\n    #[ignore]\n    #[test]\n    fn any(x in 0..1) {}\n}";
    assert_eq!(checks(inside).remove(0).unwrap().kinds, ["invariance"]);
    assert!(reader("a.py", "\"\"\"Reads.\n\nTruth: other program\n\"\"\"\n").is_ok());
    assert!(reader("a.py", "\"\"\"Reads.\"\"\"\n# Truth: other program\n").is_err());
}
