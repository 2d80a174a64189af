//! Whatever a case file says, reading it ends in a case or in problems that point into the file.

use proptest::prelude::*;
use ringwright_solver::case::read;

use crate::CASE;

/// Pieces that upset readers.
const PIECES: &[&str] = &[
    "nan",
    "inf",
    "-1",
    "0",
    "1e308",
    "1e-320",
    "\"\"",
    "\"5 tenths\"",
    "\"1e5 mm\"",
    "[",
    "]",
    "{",
    "}",
    "=",
    "\n",
    "[[hold.bare]]\n",
    "[[step]]\n",
    "[part]\n",
    "[[step.cut]]\n",
    "\"µ\u{301}\"",
    "\u{0}",
    "'''",
    "# ",
    "true",
    "1979-05-27",
    "0x7fffffffffffffffff",
    "[1, 2]",
    "{ low = 1, high = 2 }",
    "a.b.c",
    "count = 1000\n",
    "360",
    "\"jaws\"",
    "\"outer\"",
    "arc = 1\n",
    "drive = \"equal-force\"\n",
    "drive = \"independent\"\n",
    "drive = \"equalised-pairs\"\n",
    "side = \"inside\"\n",
    "angles = [0, 100, 190]\n",
    "relief_width = 3\n",
    "travel = -1\n",
    "\"screws\"\ncrown_radius = 5\n",
    "\"plug\"\ndiameter = 110\n",
    "\"points\"",
    "[]",
];

#[derive(Clone, Debug)]
enum Change {
    Remove(usize, usize),
    Insert(usize, usize),
    /// Replaces the value of a line.
    Value(usize, usize),
    /// Repeats one line after another.
    Repeat(usize, usize),
}

fn change() -> impl Strategy<Value = Change> {
    let n = || 0usize..10_000;
    prop_oneof![
        (n(), 1usize..40).prop_map(|(a, b)| Change::Remove(a, b)),
        (n(), n()).prop_map(|(a, b)| Change::Insert(a, b)),
        (n(), n()).prop_map(|(a, b)| Change::Value(a, b)),
        (n(), n()).prop_map(|(a, b)| Change::Repeat(a, b)),
    ]
}

fn apply(text: &str, change: &Change) -> String {
    let chars: Vec<char> = text.chars().collect();
    let lines: Vec<&str> = text.lines().collect();
    let at = |k: usize| k % (chars.len() + 1);
    match *change {
        Change::Remove(a, n) => {
            let a = at(a);
            chars[..a]
                .iter()
                .chain(&chars[(a + n).min(chars.len())..])
                .collect()
        }
        Change::Insert(a, p) => {
            let a = at(a);
            let mut s: String = chars[..a].iter().collect();
            s.push_str(PIECES[p % PIECES.len()]);
            s.extend(&chars[a..]);
            s
        }
        Change::Value(l, p) if !lines.is_empty() => {
            let l = l % lines.len();
            let key = lines[l].split('=').next().unwrap_or("");
            let line = format!("{key}= {}", PIECES[p % PIECES.len()]);
            let mut lines = lines.clone();
            lines[l] = &line;
            lines.join("\n")
        }
        Change::Repeat(from, to) if !lines.is_empty() => {
            let mut new = lines.clone();
            new.insert(to % lines.len(), lines[from % lines.len()]);
            new.join("\n")
        }
        _ => text.to_owned(),
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 4000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_changed_case_never_panics(changes in prop::collection::vec(change(), 1..6)) {
        let text = changes.iter().fold(CASE.to_owned(), |t, c| apply(&t, c));
        match read(&text, &ringwright_plugins::registry()) {
            Ok(case) => {
                prop_assert!(!case.steps.is_empty());
                prop_assert!(case.part.stock.bore.radius < case.part.stock.outer.radius);
            }
            Err(problems) => {
                prop_assert!(!problems.is_empty());
                prop_assert!(problems.is_sorted_by_key(|p| (p.line, p.column)));
                let lines = text.split('\n').count();
                prop_assert!(problems.iter().all(|p| p.line >= 1 && p.line <= lines && p.column >= 1));
                prop_assert!(problems.iter().all(|p| !p.message.contains('\n')), "{problems:?}");
            }
        }
    }
}
