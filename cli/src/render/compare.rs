//! Holds compared, as a table and in words.

use std::path::Path;

use ringwright_solver::case::Case;
use ringwright_solver::compare::{CompareDocument, CompareRow, Compared};
use ringwright_solver::geometry::Surface;
use ringwright_solver::report::Units;
use ringwright_solver::report::document::GRIP_CAUTION;
use ringwright_solver::report::grip::{CAUTIONS, brief_window, safety};

use super::summary::{NOTHING, one_line, wrapped};

/// Columns: name, tolerance, roundness, slip.
const NAME: usize = 16;
const JUDGED: usize = 11;
const ROUND: usize = 30;
const SLIP: usize = 16;

/// The table, what stands with each hold, and what has to be known of all.
pub(crate) fn table(
    case: &Case,
    compared: &Compared,
    document: &CompareDocument,
    units: Units,
) -> String {
    let mut text = wrapped("", &one_line(&case.title));
    text += &wrapped("", &best(document));
    let cut = cut(case, compared.step);
    let of: Vec<&str> = cut.iter().map(|s| s.in_words()).collect();
    text += &format!(
        "\n    {:<NAME$}{:<JUDGED$}{:<ROUND$}{:<SLIP$}force window\n",
        "hold",
        "tolerance",
        format!("roundness, {}", of.join(" and ")),
        "safety, slip",
    );
    for row in &document.rows {
        text += &line(row, &cut, units);
    }
    text.push('\n');
    for row in &document.rows {
        text += &remarks(row, &cut, units);
    }
    text + &wrapped("", CAUTIONS)
}

/// Surfaces that the step cuts, or both.
fn cut(case: &Case, step: usize) -> Vec<Surface> {
    let cuts = &case.steps[step].cuts;
    let own = |s: &Surface| cuts.is_empty() || cuts.iter().any(|c| c.surface == *s);
    Surface::BOTH.into_iter().filter(own).collect()
}

/// What the first line says.
fn best(document: &CompareDocument) -> String {
    let of = format!("Step {} under every hold of the file", document.step);
    let good = |r: &&CompareRow| r.in_tolerance == Some(true) && r.safe != Some(false);
    match document.rows.iter().find(good) {
        Some(row) => {
            let grip = match row.safe {
                Some(true) => "in tolerance, and it grips by this estimate",
                _ => "in tolerance; whether it grips safely is NOT KNOWN",
            };
            format!("{of}: the best is \"{}\": {grip}.", row.hold)
        }
        None if document.rows.iter().all(|r| r.rank.is_none()) => {
            format!("{of}: no hold has an answer.")
        }
        None if document.rows.iter().any(|r| r.in_tolerance.is_some()) => {
            format!("{of}: NO HOLD is in tolerance and not found unsafe.")
        }
        None => format!("{of}: no limit to judge by; the roundest stands first."),
    }
}

fn line(row: &CompareRow, cut: &[Surface], units: Units) -> String {
    let place = row.rank.map_or("-".to_owned(), |r| r.to_string());
    let judged = match row.in_tolerance {
        Some(true) => "in",
        Some(false) => "OUT",
        None => "not known",
    };
    let Some(roundness) = &row.released_roundness else {
        return format!("{place:>2}  {:<NAME$}no answer\n", short(&row.hold));
    };
    let shown: Vec<String> = cut
        .iter()
        .map(|&s| {
            let error = row.error.as_ref().map(|e| *e.get(s));
            match *roundness.get(s) {
                r if r < NOTHING => "round".to_owned(),
                r => units.small_within(r, error),
            }
        })
        .collect();
    let slip = match (row.slip_safety, row.slip_safety_high) {
        (Some(a), Some(b)) if safety(a) == safety(b) => safety(a),
        (Some(a), Some(b)) => format!("{} to {}", safety(a), safety(b)),
        _ => "not checked".into(),
    };
    let window = match &row.force_window {
        Some(w) if !w.open => "none".to_owned(),
        Some(w) => brief_window([w.low, w.high], &w.each, units),
        None => "not known".into(),
    };
    format!(
        "{place:>2}  {:<NAME$}{judged:<JUDGED$}{:<ROUND$}{slip:<SLIP$}{window}\n",
        short(&row.hold),
        shown.join(", ")
    )
}

/// A name that leaves room for the rest.
fn short(name: &str) -> String {
    let name = one_line(name);
    match name.chars().count() < NAME {
        true => name,
        false => name.chars().take(NAME - 3).collect::<String>() + "..",
    }
}

/// What stands with a hold: why it is not safe or has no answer, its band, its gauge, its window, its cautions.
fn remarks(row: &CompareRow, cut: &[Surface], units: Units) -> String {
    let told = |l: &&String| {
        [
            "NOT SAFE",
            "No answer",
            "Hold ",
            "No force",
            "Within the band",
        ]
        .iter()
        .any(|start| l.starts_with(start) || l.contains(&format!(": {start}")))
    };
    let mut lines: Vec<String> = row.says.iter().filter(told).cloned().collect();
    if let (Some(pressure), Some(limit)) = (row.marking_pressure, row.marking_limit)
        && pressure > limit
    {
        lines.push(format!(
            "It marks the part: pressed with {pressure:.0} MPa, marked from {limit:.0} MPa on."
        ));
    }
    if let Some(band) = &row.band {
        let ends: Vec<String> = cut
            .iter()
            .map(|&s| {
                let [least, most] = *band.get(s);
                format!(
                    "{} {} to {}",
                    s.in_words(),
                    units.small(least),
                    units.small(most)
                )
            })
            .collect();
        lines.push(format!(
            "Over the band of its forces: roundness, {}.",
            ends.join(", ")
        ));
    }
    if let Some(read) = &row.gauge {
        lines.push(format!(
            "The {} shows {} on the {}.",
            read.gauge,
            units.small(read.range),
            read.surface.in_words()
        ));
    }
    let of_all = |c: &&String| *c != GRIP_CAUTION;
    lines.extend(
        row.cautions
            .iter()
            .filter(of_all)
            .map(|c| format!("Caution: {c}")),
    );
    let mut text = format!("\"{}\"\n", one_line(&row.hold));
    for line in &lines {
        text += &wrapped("  ", line);
    }
    match lines.is_empty() {
        true => String::new(),
        false => text,
    }
}

/// The files, in one line.
pub(crate) fn written(folder: &Path) -> String {
    wrapped(
        "",
        &format!("Written to {}: compare.json, compare.svg", folder.display()),
    )
}
