//! The summary of `run`: the verdict and what to do first, then each step, how it reads on gauges, and what was assumed. Both units,
//! the drawing's own first.

use std::path::{Path, PathBuf};

use ringwright_solver::case::Case;
use ringwright_solver::report::ResultDocument;
use ringwright_solver::report::document::GRIP_CAUTION;
use ringwright_solver::report::grip::CAUTIONS;

use super::{readings, step};

/// Lobes smaller than this are not worth a word, mm: a hundredth of a micrometre.
pub(super) const NOTHING: f64 = 1e-5;

/// Paragraphs are broken here: what a terminal and a note to a colleague both take.
const WIDTH: usize = 100;

/// The whole summary, ending in a line break.
pub(crate) fn summary(case: &Case, document: &ResultDocument) -> String {
    let units = document.shown;
    let mut text = String::new();
    for headline in &document.verdict.headlines {
        text += &wrapped("", headline);
    }
    text += &wrapped("", &one_line(&case.title));
    text += &verdict(document);
    for n in 0..document.steps.len() {
        text.push('\n');
        text += &step::step(case, document, n, units);
    }
    if let Some(last) = document.steps.last() {
        text.push('\n');
        text += &readings::gauges(last, units);
    }
    text += &readings::inspection(&document.inspection, units);
    let assumed = one_line(&document.assumed.join("; "));
    text += &wrapped("", &format!("Assumed: {assumed}."));
    text
}

/// The files of a run, in one paragraph: those that people open by name, then how many states of the part.
pub(crate) fn written(folder: &Path, files: &[PathBuf]) -> String {
    let is_state = |f: &&PathBuf| f.extension().is_some_and(|e| e == "vtu");
    let names = files.iter().filter(|f| !is_state(f)).rev();
    let mut names: Vec<String> = names
        .map(|f| f.file_name().unwrap_or(f.as_os_str()).to_string_lossy())
        .map(|name| name.into_owned())
        .collect();
    match files.iter().filter(is_state).count() {
        0 => {}
        1 => names.push("one .vtu".into()),
        states => names.push(format!("{states} .vtu")),
    }
    let folder = folder.display();
    wrapped("", &format!("Written to {folder}: {}", names.join(", ")))
}

/// Good or not, what would help, and that the grip is nobody's promise.
fn verdict(document: &ResultDocument) -> String {
    let verdict = &document.verdict;
    let yields = verdict.worst_stress.is_some_and(|w| w.stress.yields());
    let judged = !verdict.limits.is_empty();
    let (good, yielding) = match verdict.in_tolerance {
        None if judged && yields => ("NOT KNOWN: the part YIELDS", false),
        None if judged => ("NOT KNOWN", yields),
        Some(true) => ("in tolerance", yields),
        Some(false) => ("OUT OF TOLERANCE", yields),
        None => ("no limit to judge by", yields),
    };
    let yielding = if yielding {
        ", and the part YIELDS"
    } else {
        ""
    };
    let mut text = format!("Verdict: {good}{yielding}\n");
    // the grip is told once, in full, right after what the verdict says of forces
    let about_grip =
        |line: &String| line.starts_with("Grip") || line == GRIP_CAUTION || line == CAUTIONS;
    for line in verdict.says.iter().filter(|l| !about_grip(l)) {
        text += &wrapped("  ", line);
    }
    let told = verdict.says.iter().find(|l| l.starts_with("Grip"));
    let is_told = document.cautions.iter().any(|l| l == CAUTIONS);
    let grip = match told {
        Some(told) if is_told => format!("{told} {CAUTIONS}"),
        _ => format!("Grip: NOT CHECKED. {GRIP_CAUTION}"),
    };
    text += &wrapped("  ", &grip);
    for line in document.cautions.iter().filter(|l| !about_grip(l)) {
        text += &wrapped("  ", &format!("Caution: {line}"));
    }
    text
}

/// A paragraph, its later lines set in by two more than the first.
pub(super) fn wrapped(margin: &str, paragraph: &str) -> String {
    let mut text = String::new();
    let mut line = margin.to_owned();
    let mut empty = true;
    for word in paragraph.split_whitespace() {
        if !empty && line.chars().count() + 1 + word.chars().count() > WIDTH {
            text += &line;
            text.push('\n');
            line = format!("{margin}  ");
            empty = true;
        }
        if !empty {
            line.push(' ');
        }
        line += word;
        empty = false;
    }
    text + &line + "\n"
}

/// A title may hold a line break; a heading must not.
pub(super) fn one_line(title: &str) -> String {
    title
        .chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect()
}
