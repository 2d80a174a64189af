//! How long a source file and a function of the solver may be.

use std::fs;

use super::{root, sources};

/// Most lines of a file of `solver/src`, its tests counted too.
const MOST_LINES_OF_A_FILE: usize = 500;

/// Most lines of a function, from its signature to its closing brace.
const MOST_LINES_OF_A_FUNCTION: usize = 80;

/// Functions that may be longer, and why; a file may be as long as it must.
const LONGER: &[(&str, &str, &str)] = &[(
    "report/caution.rs",
    "fmt",
    "a table of sentences: one arm for each caution, and nothing but words",
)];

/// A function as rustfmt lays it out: file, name, lines.
struct Function {
    name: String,
    lines: usize,
}

/// The name of the function whose signature begins in this line, and how far the line is indented.
fn begins(line: &str) -> Option<(&str, &str)> {
    let rest = line.trim_start();
    let indent = &line[..line.len() - rest.len()];
    let mut words = rest.split(' ').peekable();
    while words
        .next_if(|w| {
            w.starts_with("pub")
                || ["crate)", "const", "async", "unsafe", "in"].contains(w)
                || w.ends_with(')')
        })
        .is_some()
    {}
    if words.next() != Some("fn") {
        return None;
    }
    let name = words.next()?;
    let end = name.find(|c: char| !c.is_alphanumeric() && c != '_');
    Some((indent, &name[..end.unwrap_or(name.len())]))
}

/// The functions with a body in a source. One ends at the first closing brace that is indented as its signature is.
fn functions(text: &str) -> Vec<Function> {
    let lines: Vec<&str> = text.lines().collect();
    let mut found = Vec::new();
    for (first, line) in lines.iter().enumerate() {
        let Some((indent, name)) = begins(line) else {
            continue;
        };
        // without a body it ends in a semicolon; on one line in a brace
        let on_one_line = line.ends_with([';', '}']);
        let ends = |l: &&str| {
            let own = l.strip_prefix(indent).unwrap_or_default();
            own == "}" || (own.starts_with(')') && own.ends_with(';'))
        };
        let own = if on_one_line {
            Some(0)
        } else {
            lines[first..].iter().position(ends)
        };
        found.push(Function {
            name: name.to_owned(),
            lines: own.map_or(lines.len() - first, |n| n + 1),
        });
    }
    found
}

#[test]
fn files_and_functions_of_the_solver_are_short() {
    let folder = root().join("solver/src");
    let (mut seen, mut wrong, mut excused) = (0, Vec::new(), vec![false; LONGER.len()]);
    for path in sources(&folder) {
        let text = fs::read_to_string(&path).unwrap();
        let name = path.strip_prefix(&folder).unwrap().display().to_string();
        let lines = text.lines().count();
        if lines > MOST_LINES_OF_A_FILE {
            wrong.push(format!("{name} has {lines} lines"));
        }
        for function in functions(&text) {
            seen += 1;
            if function.lines <= MOST_LINES_OF_A_FUNCTION {
                continue;
            }
            match LONGER
                .iter()
                .position(|(file, of, _)| *file == name && *of == function.name)
            {
                Some(k) => excused[k] = true,
                None => wrong.push(format!(
                    "{name}: `{}` has {} lines",
                    function.name, function.lines
                )),
            }
        }
    }
    assert!(
        seen > 1000,
        "only {seen} functions were found: is the scan broken?"
    );
    assert!(wrong.is_empty(), "too long:\n{}", wrong.join("\n"));
    for ((file, name, _), used) in LONGER.iter().zip(excused) {
        assert!(used, "{file}: `{name}` needs no exception any more");
    }
}

/// The scan itself, on text where the answer is known.
#[test]
fn the_scan_measures_functions() {
    let text = "\
pub(crate) const fn one() -> u8 { 1 }
trait T {
    fn none(&self);
    fn two(
        &self,
    ) {
        if true {
        }
    }
}
fn three() {
    let x = [
        1,
    ];
}
";
    let found: Vec<(String, usize)> = functions(text)
        .into_iter()
        .map(|f| (f.name, f.lines))
        .collect();
    let wanted = [("one", 1), ("none", 1), ("two", 6), ("three", 5)];
    assert_eq!(found, wanted.map(|(n, l)| (n.to_owned(), l)));
}
