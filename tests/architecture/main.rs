//! The order of the solver's modules, and of the crates: what stands below may use what stands above, never the reverse. Also how long
//! files and functions are, and the pages that are kept in step with the code.
#![allow(clippy::unwrap_used)]

mod errors;
mod output_page;
mod size;
mod truth;

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .parent()
        .unwrap()
        .to_owned()
}

/// Holds the block of a page that stands between `<!-- NAME: begin -->` and `<!-- NAME: end -->` to `text`. With `RINGWRIGHT_BLESS` set it is
/// written instead.
fn kept(page: &str, name: &str, text: &str) {
    let path = root().join(page);
    let whole = fs::read_to_string(&path).unwrap();
    let (begin, end) = (
        format!("<!-- {name}: begin -->\n"),
        format!("<!-- {name}: end -->"),
    );
    let (before, rest) = whole
        .split_once(&begin)
        .unwrap_or_else(|| panic!("{page} has no line {begin}"));
    let (found, after) = rest
        .split_once(&end)
        .unwrap_or_else(|| panic!("{page} has no line {end}"));
    if found == text {
        return;
    }
    if std::env::var_os("RINGWRIGHT_BLESS").is_some() {
        fs::write(&path, format!("{before}{begin}{text}{end}{after}")).unwrap();
        return;
    }
    let differs = text
        .lines()
        .zip(found.lines())
        .find(|(wanted, found)| wanted != found);
    panic!(
        "{page}, {name}: not in step with the code; refresh it with `RINGWRIGHT_BLESS=1 cargo test --release -p ringwright-tests --test \
         architecture`. {differs:?}"
    );
}

/// Modules in the order of `lib.rs`.
fn order() -> Vec<String> {
    fs::read_to_string(root().join("solver/src/lib.rs"))
        .unwrap()
        .lines()
        .filter_map(|l| {
            l.trim()
                .strip_prefix("pub mod ")
                .or_else(|| l.trim().strip_prefix("mod "))?
                .strip_suffix(';')
        })
        .map(str::to_owned)
        .collect()
}

/// Rust files under a path, in a fixed order.
fn sources(path: &Path) -> Vec<PathBuf> {
    if path.is_file() {
        return vec![path.to_owned()];
    }
    let mut entries: Vec<PathBuf> = fs::read_dir(path)
        .unwrap()
        .map(|e| e.unwrap().path())
        .collect();
    entries.sort();
    entries
        .iter()
        .filter(|p| p.is_dir() || p.extension().is_some_and(|e| e == "rs"))
        .flat_map(|p| sources(p))
        .collect()
}

/// Text without comments. A `//` inside a string cuts the line short, which can hide nothing but the string's tail.
fn code(text: &str) -> String {
    text.lines()
        .map(|l| l.split("//").next().unwrap_or(""))
        .collect::<Vec<_>>()
        .join("\n")
}

/// Names that follow `prefix`, alone or in braces: `crate::a::b`, `crate::{a::b, c}`.
fn names_after(text: &str, prefix: &str) -> BTreeSet<String> {
    let word = |s: &str| -> String {
        s.trim_start()
            .chars()
            .take_while(|c| c.is_alphanumeric() || *c == '_')
            .collect()
    };
    let mut names = BTreeSet::new();
    for (at, _) in text.match_indices(prefix) {
        let before = text[..at].chars().next_back();
        if before.is_some_and(|c| c.is_alphanumeric() || c == '_' || c == ':') {
            continue;
        }
        let rest = text[at + prefix.len()..].trim_start();
        let Some(list) = rest.strip_prefix('{') else {
            names.insert(word(rest));
            continue;
        };
        // the items of the outermost braces
        let (mut depth, mut item) = (0, String::new());
        for c in list.chars() {
            match c {
                '}' if depth == 0 => break,
                ',' if depth == 0 => {
                    names.insert(word(&item));
                    item.clear();
                    continue;
                }
                '{' => depth += 1,
                '}' => depth -= 1,
                _ => {}
            }
            item.push(c);
        }
        names.insert(word(&item));
    }
    names
}

/// Modules that a file uses: through `crate::`, or climbing with `super::` from the module's own top file.
fn uses(text: &str, top: bool, order: &[String]) -> BTreeSet<String> {
    let text = code(text);
    let climb = if top { "super::" } else { "super::super::" };
    let mut names = names_after(&text, "crate::");
    names.extend(names_after(&text, climb));
    names.retain(|n| order.contains(n));
    names
}

#[test]
fn modules_use_only_those_above_them() {
    let order = order();
    assert!(order.len() >= 11, "{order:?}");
    let mut found = 0;
    let mut wrong = Vec::new();
    for (k, module) in order.iter().enumerate() {
        let folder = root().join("solver/src").join(module);
        let path = if folder.is_dir() {
            folder
        } else {
            folder.with_extension("rs")
        };
        let files = sources(&path);
        assert!(!files.is_empty(), "{module} has no source");
        for file in files {
            let top = file.ends_with("mod.rs") || file == path;
            for used in uses(&fs::read_to_string(&file).unwrap(), top, &order) {
                found += 1;
                let above = order.iter().position(|o| *o == used).unwrap();
                if above > k {
                    wrong.push(format!("{}: {module} uses {used}", file.display()));
                }
            }
        }
    }
    assert!(
        found > 10,
        "only {found} uses were found: is the scan broken?"
    );
    assert!(wrong.is_empty(), "upward uses:\n{}", wrong.join("\n"));
}

/// The scan itself, on text where the answer is known.
#[test]
fn the_scan_sees_every_way_to_name_a_module() {
    let order: Vec<String> = ["geometry", "mesh", "report"].map(str::to_owned).into();
    let text = "use crate::{geometry::{Surface, mesh_like}, mesh};\n// crate::report in a comment\nfn f() {}";
    let found: Vec<String> = uses(text, true, &order).into_iter().collect();
    assert_eq!(found, ["geometry", "mesh"]);
    assert!(uses("let x = crate::report::y();", true, &order).contains("report"));
    assert!(uses("use super::report::y;", true, &order).contains("report"));
    assert!(!uses("use super::report::y;", false, &order).contains("report"));
    assert!(uses("use super::super::report;", false, &order).contains("report"));
    assert!(uses("use my_crate::report;", true, &order).is_empty());
}

/// Crates: the solver knows nobody, the schemes know the solver, the program knows both; tests and benches stand last.
#[test]
fn crates_depend_in_one_direction() {
    for (member, allowed) in [
        ("solver", &[][..]),
        ("plugins", &["ringwright-solver"][..]),
        ("cli", &["ringwright-solver", "ringwright-plugins"][..]),
    ] {
        let text = fs::read_to_string(root().join(member).join("Cargo.toml")).unwrap();
        let mut dependencies = false;
        for line in text.lines() {
            // `[dependencies.NAME]` is one dependency in a table of its own
            let entry = match line.strip_prefix('[') {
                Some(head) => {
                    dependencies = head.contains("dependencies");
                    head.split_once("dependencies.").map_or("", |(_, n)| n)
                }
                None => line,
            };
            if dependencies && entry.starts_with("ringwright") {
                let name = entry.split(['.', ' ', '=', ']']).next().unwrap();
                assert!(allowed.contains(&name), "{member} must not need {name}");
            }
        }
    }
}

#[test]
fn the_guide_for_developers_names_every_module() {
    let guide = fs::read_to_string(root().join("DEVELOPERS.md")).unwrap();
    for module in order() {
        assert!(
            guide.contains(&format!("`{module}`")),
            "DEVELOPERS.md does not name `{module}`"
        );
    }
}

/// The solver takes any scheme and knows none by name. What the part is centred on is a word of the case file that a scheme shares.
#[test]
fn the_solver_knows_no_scheme_by_name() {
    let mut checked = 0;
    for path in sources(&root().join("solver/src")) {
        // shared by tests alone
        if path.ends_with("report/sample.rs") || path.ends_with("tests.rs") {
            continue;
        }
        let text = fs::read_to_string(&path).unwrap();
        let program = text.split("#[cfg(test)]").next().unwrap_or_default();
        let code = code(program).replace("\"jaws\", \"outer\", \"bore\"", "");
        for scheme in ringwright_plugins::built_in() {
            let quoted = format!("\"{}\"", scheme.name());
            assert!(!code.contains(&quoted), "{}: {quoted}", path.display());
            checked += 1;
        }
    }
    assert!(checked > 500, "{checked}");
}
