//! How a study went, in words and as a document.

use std::path::{Path, PathBuf};

use ringwright_solver::report::grip::CAUTIONS;

use super::indices;
use super::summary::{one_line, wrapped};
use crate::commands::study::{Share, StudyDocument, Told, Went};

/// The document of a study.
pub(crate) fn json(document: &StudyDocument) -> String {
    match serde_json::to_string_pretty(document) {
        Ok(text) => text + "\n",
        // a document of names and numbers has no reason to fail
        Err(e) => format!("{{ \"error\": {:?} }}\n", e.to_string()),
    }
}

/// How it went.
pub(crate) fn summary(
    title: &str,
    told: &Told,
    went: &Went,
    (folder, files): (&Path, &[PathBuf]),
) -> String {
    let mut text = String::new();
    if !title.is_empty() {
        text += &wrapped("", &one_line(title));
    }
    text += &format!("{} cases: {} with an answer", told.rows, told.ok);
    for (kind, n) in &told.failed {
        text += &format!(", {n} failed ({kind})");
    }
    let rate = went.rows as f64 / went.seconds.max(1e-9);
    text += &format!(
        ". {} worked out in {:.1} s, {rate:.0} a second.\n",
        went.rows, went.seconds
    );
    text + &of_rows(told) + &written(folder, files)
}

/// Where the files are.
pub(crate) fn written(folder: &Path, files: &[PathBuf]) -> String {
    let files: Vec<String> = files
        .iter()
        .filter_map(|f| Some(f.file_name()?.to_string_lossy().into_owned()))
        .collect();
    format!(
        "Written to {}: {}, study.json\n",
        folder.display(),
        files.join(", ")
    )
}

/// What the table says as a whole, and what has to be known of it.
pub(crate) fn of_rows(told: &Told) -> String {
    let mut text = chances(told);
    if let Some(indices) = &told.indices {
        text += &indices::tables(indices, told.base);
    }
    text + &wrapped("", CAUTIONS)
}

fn chances(told: &Told) -> String {
    let mut text = share("In tolerance", &told.in_tolerance);
    if told.not_safe.count > 0 {
        text += &share("NOT SAFE BY THIS ESTIMATE", &told.not_safe);
    }
    text + &share("Safe by this estimate", &told.safe)
}

/// How many of those of which it is known and, of a sample, the chance.
fn share(what: &str, share: &Share) -> String {
    if share.of == 0 {
        return String::new();
    }
    let from = match share.drawn[1] {
        drawn if drawn == share.of => String::new(),
        drawn => format!(", from the {drawn} rows that are drawn independently"),
    };
    let chance = share.chance.map_or(String::new(), |ends| {
        let chance = indices::chance(ends);
        format!("; chance {chance} (confidence 95 percent{from})")
    });
    wrapped(
        "",
        &format!(
            "{what}: {} of {} of which it is known{chance}.",
            share.count, share.of
        ),
    )
}
