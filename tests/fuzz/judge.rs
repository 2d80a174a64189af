//! What must be true of the words and documents that people and scripts get.

use ringwright_solver::case::Problem;
use serde_json::Value;

/// Longest message, bytes.
const LONGEST: usize = 2000;
/// Most problems that are listed; one more may say how many there are.
const MOST_PROBLEMS: usize = 100;

/// Exit statuses and the kinds of error that go with each.
const KINDS: &[(i32, &[&str])] = &[
    (2, &["usage"]),
    (3, &["input", "loose", "cut-through", "too-large"]),
    (4, &["not-converged", "too-large"]),
    (5, &["io"]),
    (6, &["scheme"]),
    (130, &["interrupted"]),
];

/// The page that describes the documents key by key, and says of each whether it may be null.
const PAGE: &str = include_str!("../../cli/OUTPUT.md");

/// A message is there, short, and stays on its line.
pub(crate) fn message(text: &str) -> Result<(), String> {
    let fault = if text.trim().is_empty() {
        "says nothing"
    } else if text.len() >= LONGEST {
        "is too long"
    } else if text.chars().any(|c| c.is_control() && c != '\t') {
        "has control characters"
    } else if text.contains("panicked") || text.contains("unwrap") {
        "tells of a panic"
    } else {
        return Ok(());
    };
    let start: String = text.chars().take(300).collect();
    Err(format!(
        "a message {fault} ({} bytes): {start:?}",
        text.len()
    ))
}

/// Problems of a case file point into it, in order, and are not too many.
pub(crate) fn problems(text: &str, problems: &[Problem]) -> Result<(), String> {
    if problems.is_empty() {
        return Err("refused without a problem".into());
    }
    if problems.len() > MOST_PROBLEMS + 1 {
        return Err(format!("{} problems", problems.len()));
    }
    let lines: Vec<&str> = text.split('\n').collect();
    for p in problems {
        message(&p.to_string())?;
        message(&p.message)?;
        let within = p
            .line
            .checked_sub(1)
            .and_then(|k| lines.get(k))
            .is_some_and(|l| (1..=l.chars().count() + 1).contains(&p.column));
        if !within {
            return Err(format!("points outside the text: {p}"));
        }
    }
    if !problems.is_sorted_by_key(|p| (p.line, p.column)) {
        return Err(format!("problems out of order: {problems:?}"));
    }
    Ok(())
}

/// The document of a failure of a command on a case file says what the contract of scripts has.
pub(crate) fn error_document(exit: i32, out: &[u8]) -> Result<String, String> {
    let document: Value = serde_json::from_slice(out)
        .map_err(|e| format!("exit {exit} without one JSON document on standard output: {e}"))?;
    if document["format"] != "ringwright-error-1" || document["exit"] != exit {
        return Err(format!(
            "exit {exit}, but the document says {} {}",
            document["format"], document["exit"]
        ));
    }
    let kind = document["kind"].as_str().unwrap_or_default().to_owned();
    let fits = KINDS
        .iter()
        .any(|(e, kinds)| *e == exit && kinds.contains(&kind.as_str()));
    if !fits {
        return Err(format!("kind {kind:?} with exit {exit}"));
    }
    let problems = document["problems"].as_array().cloned().unwrap_or_default();
    if problems.is_empty() || problems.len() > MOST_PROBLEMS + 1 {
        return Err(format!("{} problems in the document", problems.len()));
    }
    for p in &problems {
        message(p["message"].as_str().unwrap_or_default())?;
        let file = p["file"].as_str().is_some_and(|f| !f.is_empty());
        let line = p["line"].as_u64().is_some_and(|l| l > 0);
        if exit == 3 && !(file && line) {
            return Err(format!(
                "exit 3 with a problem that has no file or no line: {p}"
            ));
        }
        // a text that is not TOML has no keys, and what counts the rest stands for many
        let whole = ["not ", "the lines end with carriage returns alone", "and "];
        let says = p["message"].as_str().unwrap_or_default();
        let has_keys = !whole.iter().any(|start| says.starts_with(start));
        let key = p["key"].as_str().is_some_and(|k| !k.is_empty());
        if exit == 3 && has_keys && !key {
            return Err(format!("exit 3 with a problem that has no key: {p}"));
        }
    }
    Ok(kind)
}

/// A result is whole: one JSON document, with a number wherever a number is promised.
pub(crate) fn result_document(out: &[u8]) -> Result<(), String> {
    let document: Value =
        serde_json::from_slice(out).map_err(|e| format!("the result is not JSON: {e}"))?;
    if document["format"] != "ringwright-result-1" {
        return Err(format!("the result has the format {}", document["format"]));
    }
    match null(&document, "") {
        Some(path) => Err(format!("null at {path}")),
        None => Ok(()),
    }
}

/// Whether the key of this path is described as one that may be null; `outer` and `bore` often are with the key above them.
fn may_be_null(path: &str) -> bool {
    let mut keys = path.rsplit('/').filter(|k| k.parse::<usize>().is_err());
    let (key, above) = (
        keys.next().unwrap_or_default(),
        keys.next().unwrap_or_default(),
    );
    let described = |row: String| PAGE.contains(&format!("\n| {row} null, or "));
    described(format!("`{key}` |"))
        || (["outer", "bore"].contains(&key)
            && described(format!("`{above}` | `outer` and `bore`:")))
}

/// The first place that is null and may not be.
fn null(value: &Value, path: &str) -> Option<String> {
    match value {
        Value::Null => (!may_be_null(path)).then(|| path.to_owned()),
        Value::Array(list) => list
            .iter()
            .enumerate()
            .find_map(|(k, v)| null(v, &format!("{path}/{k}"))),
        Value::Object(map) => map
            .iter()
            .find_map(|(k, v)| null(v, &format!("{path}/{k}"))),
        _ => None,
    }
}
