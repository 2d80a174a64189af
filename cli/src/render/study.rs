//! How a study went, in words and as a document.

use std::path::Path;

use ringwright_solver::report::grip::CAUTIONS;

use super::summary::{one_line, wrapped};
use crate::commands::study::{StudyDocument, Told};

/// The document of a study.
pub(crate) fn json(document: &StudyDocument) -> String {
    match serde_json::to_string_pretty(document) {
        Ok(text) => text + "\n",
        // a document of names and numbers has no reason to fail
        Err(e) => format!("{{ \"error\": {:?} }}\n", e.to_string()),
    }
}

/// How it went.
pub(crate) fn summary(title: &str, told: &Told, folder: &Path) -> String {
    let mut text = String::new();
    if !title.is_empty() {
        text += &wrapped("", &one_line(title));
    }
    let rate = told.rows as f64 / told.seconds.max(1e-9);
    text += &format!(
        "{} cases in {:.1} s ({rate:.0} a second): {} with an answer",
        told.rows, told.seconds, told.ok
    );
    for (kind, n) in &told.failed {
        text += &format!(", {n} failed ({kind})");
    }
    text += ".\n";
    if told.judged > 0 {
        text += &format!(
            "In tolerance: {} of {} that have a limit.\n",
            told.in_tolerance, told.judged
        );
    }
    if told.unsafe_rows > 0 {
        text += &format!("NOT SAFE BY THIS ESTIMATE: {} of them.\n", told.unsafe_rows);
    }
    text += &wrapped("", CAUTIONS);
    let files: Vec<String> = told
        .files
        .iter()
        .filter_map(|f| Some(f.file_name()?.to_string_lossy().into_owned()))
        .collect();
    text + &format!(
        "Written to {}: {}, study.json\n",
        folder.display(),
        files.join(", ")
    )
}
