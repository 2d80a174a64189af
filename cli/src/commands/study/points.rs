//! Tables of points: what `study ask` writes above them, and how `study tell` reads them.

use std::path::{Path, PathBuf};

use ringwright_solver::case::Change;
use ringwright_solver::study::Typed;

use super::{Study, table};
use crate::args::AskArgs;
use crate::commands::Source;
use crate::failure::{Failure, FailureKind};

/// Tells a table of points of ours by its head.
pub(super) const MARK: &str = "# study: ";

/// What the remarks above a table of points say.
#[derive(Debug, Default)]
pub(super) struct Remarks {
    /// The study's file, and the line that names it.
    pub(super) study: Option<(PathBuf, usize)>,
    /// The digest of the plan.
    pub(super) plan: Option<String>,
    /// What was set.
    pub(super) set: Vec<Change>,
    pub(super) hold: Option<String>,
}

/// The remarks above points.
pub(super) fn head(args: &AskArgs, digest: &str, file: &Path, which: &str) -> String {
    let line = |text: String| format!("# {}\n", text.replace(['\n', '\r'], " "));
    let mut head = line(format!(
        "{which} of a study; to have what stands here worked out: ringwright study tell {}",
        file.display()
    ));
    head += &line(format!("study: {}", args.study.display()));
    head += &line(format!("plan: {digest}"));
    if let Some(hold) = &args.hold {
        head += &line(format!("hold: {hold}"));
    }
    for change in &args.set {
        head += &line(format!("set: {change}"));
    }
    head
}

/// Reads the remarks of a table.
pub(super) fn remarks(source: &Source) -> Result<Remarks, Failure> {
    let mut found = Remarks::default();
    let text = source.text.trim_start_matches('\u{feff}');
    for (k, line) in text.lines().enumerate() {
        // a spreadsheet puts quotes round a remark, and commas behind it
        let cell = line
            .starts_with("\"#")
            .then(|| table::cells(line))
            .flatten();
        let line = cell
            .as_ref()
            .and_then(|c| c.first())
            .map_or(line, String::as_str);
        let remark = line.strip_prefix('#').and_then(|r| r.split_once(": "));
        let Some((key, value)) = remark else {
            continue;
        };
        let value = value.trim_end_matches([',', ' ', '\t']);
        match key.trim() {
            "study" => found.study = Some((value.into(), k + 1)),
            "plan" => found.plan = Some(value.to_owned()),
            "hold" => found.hold = Some(value.to_owned()),
            "set" => {
                let change = Change::parse(value).map_err(|e| at(source, k + 1, e.to_string()))?;
                found.set.push(change);
            }
            _ => {}
        }
    }
    Ok(found)
}

/// The points of a table, in the order of the study's paths and as its plan would have them.
pub(super) fn read(source: &Source, study: &Study) -> Result<Vec<Vec<Typed>>, Failure> {
    let table = table::read(source)?;
    let paths = study.plan.paths();
    let all = paths.join(", ");
    if let Some(other) = table.paths.iter().find(|p| !paths.contains(p)) {
        if other.contains([';', '\t']) {
            let message = format!("the header is {other}; part the columns by commas");
            return Err(at(source, table.header, message));
        }
        let message = format!("the column {other} is none of the study's: {all}");
        return Err(at(source, table.header, message));
    }
    let mut order = Vec::new();
    for path in paths {
        match table.paths.iter().position(|p| p == path) {
            Some(k) => order.push(k),
            None => {
                let message = format!("there is no column {path}; the study has {all}");
                return Err(at(source, table.header, message));
            }
        }
    }
    let space = study.space();
    let point = |(line, row): &(usize, Vec<Typed>)| {
        let given: Vec<Typed> = order.iter().map(|&k| row[k].clone()).collect();
        space
            .point(&given)
            .map_err(|(path, why)| at(source, *line, format!("{path} {why}")))
    };
    table.rows.iter().map(point).collect()
}

pub(super) fn at(source: &Source, line: usize, message: String) -> Failure {
    Failure::at(FailureKind::Input, &source.name, [line, 0], message)
}
