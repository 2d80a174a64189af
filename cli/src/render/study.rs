//! How a study went, in words and as a document.

use std::path::{Path, PathBuf};

use ringwright_solver::report::grip::CAUTIONS;

use super::indices;
use super::summary::{one_line, wrapped};
use crate::args::Shard;
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
    share: Option<Shard>,
    (folder, files): (&Path, &[PathBuf]),
) -> String {
    let mut text = String::new();
    if !title.is_empty() {
        text += &wrapped("", &one_line(title));
    }
    if let Some(Shard { number, of }) = share {
        text += &format!("Share {number} of {of}: ");
    }
    text += &format!("{} cases: {} with an answer", told.rows, told.ok);
    for (kind, n) in &told.failed {
        text += &format!(", {n} failed ({kind})");
    }
    text += &match went.rows {
        0 => ". All of them were there already.\n".to_owned(),
        rows => {
            let rate = rows as f64 / went.seconds.max(1e-9);
            format!(
                ". {rows} worked out in {:.1} s, {rate:.0} a second.\n",
                went.seconds
            )
        }
    };
    if share.is_some() {
        text += "What the table says as a whole is told by `ringwright study merge`.\n";
        return text + &wrapped("", CAUTIONS) + &written(folder, files);
    }
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
    let share = |what: &str, of: &Share| share(what, of, told.ok);
    let mut text = share("In tolerance", &told.in_tolerance);
    if told.yields.count > 0 {
        text += &share(
            "YIELDS, so the part would stay bent and its shapes do not apply",
            &told.yields,
        );
    }
    if told.not_safe.count > 0 {
        text += &share("NOT SAFE BY THIS ESTIMATE", &told.not_safe);
    }
    text += &share("Safe by this estimate", &told.safe);
    if told.safe.of < told.ok {
        text += &wrapped(
            "",
            &format!(
                "Whether a grip is safe is not known of {} rows: `ringwright run` of one of them says what is missing.",
                told.ok - told.safe.of
            ),
        );
    }
    if told.not_safe.count > 0 || told.yields.count > 0 {
        text += &share(
            "In tolerance, and neither yielding nor found unsafe",
            &told.good,
        );
    }
    if told.cautioned > 0 {
        text += &wrapped(
            "",
            &format!(
                "{} of {} rows have cautions of their own: see the column `cautions`.",
                told.cautioned, told.rows
            ),
        );
    }
    let failed: u64 = told.failed.values().sum();
    if failed > 0 && told.in_tolerance.chance.is_some() {
        text += &wrapped(
            "",
            &format!(
                "The chances are of the rows with an answer: the {failed} that failed count as neither, and a hold that fails makes no good part."
            ),
        );
    }
    text
}

/// How many of those of which it is known and, of a sample, the chance.
fn share(what: &str, share: &Share, answers: u64) -> String {
    if share.of == 0 {
        return String::new();
    }
    let from = match share.drawn[1] {
        drawn if drawn == share.of => String::new(),
        drawn => format!(", from the {drawn} rows that are drawn independently"),
    };
    let known = match answers - share.of.min(answers) {
        0 => String::new(),
        _ => " of which it is known".to_owned(),
    };
    let chance = share.chance.map_or(String::new(), |ends| {
        let chance = indices::chance(ends);
        format!("; chance {chance} (confidence 95 percent{from})")
    });
    wrapped(
        "",
        &format!("{what}: {} of {}{known}{chance}.", share.count, share.of),
    )
}
