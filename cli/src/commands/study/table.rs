//! Rows as lines of a CSV file (RFC 4180), and tables of cases read back.

use ringwright_solver::study::{FIGURES, Kind, Plan, Row, Typed};

use crate::commands::Source;
use crate::failure::{Failure, FailureKind};

/// Figures that stand before the time that a row took; the rest stands after it.
const BEFORE_SECONDS: usize = 7;

/// Names of the columns of a plan's table.
pub(super) fn header(plan: &Plan) -> Vec<String> {
    let (before, after) = FIGURES.split_at(BEFORE_SECONDS);
    let names = |list: &[ringwright_solver::study::Column]| -> Vec<String> {
        list.iter().map(|c| c.name.to_owned()).collect()
    };
    let mut all = vec!["row".to_owned(), "status".to_owned()];
    all.extend(plan.paths().iter().cloned());
    all.extend(names(before));
    all.push("seconds".to_owned());
    all.push("case".to_owned());
    all.extend(names(after));
    all
}

/// What a column holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum ColumnType {
    /// The number of the row.
    Row,
    /// Numbers.
    Number,
    /// True or false.
    Flag,
    /// Text.
    Text,
}

impl ColumnType {
    fn of(kind: Kind) -> Self {
        match kind {
            Kind::Number => Self::Number,
            Kind::Flag => Self::Flag,
            Kind::Text => Self::Text,
        }
    }

    /// As `study.json` has it.
    pub(super) const fn name(self) -> &'static str {
        match self {
            Self::Row => "row",
            Self::Number => "number",
            Self::Flag => "flag",
            Self::Text => "text",
        }
    }

    /// From its name in `study.json`; text where that names none that is known.
    #[cfg(feature = "parquet")]
    pub(super) fn named(name: &str) -> Self {
        let all = [Self::Row, Self::Number, Self::Flag];
        let found = all.into_iter().find(|t| t.name() == name);
        found.unwrap_or(Self::Text)
    }
}

/// What the columns of a plan's table hold, in the order of [`header`].
pub(super) fn types(plan: &Plan) -> Vec<ColumnType> {
    let (before, after) = FIGURES.split_at(BEFORE_SECONDS);
    let figures = |list: &'static [ringwright_solver::study::Column]| {
        list.iter().map(|c| ColumnType::of(c.kind))
    };
    let mut all = vec![ColumnType::Row, ColumnType::Text];
    all.extend(plan.kinds().into_iter().map(ColumnType::of));
    all.extend(figures(before));
    all.extend([ColumnType::Number, ColumnType::Text]);
    all.extend(figures(after));
    all
}

/// A row as a line.
pub(super) fn row(number: u64, values: &[Typed], row: &Row, seconds: f64) -> String {
    let (before, after) = row.cells.split_at(BEFORE_SECONDS);
    let mut cells = vec![number.to_string(), row.status.clone()];
    cells.extend(values.iter().map(Typed::to_string));
    cells.extend(before.iter().map(ToString::to_string));
    cells.push(format!("{seconds:.6}"));
    cells.push(row.case.clone());
    cells.extend(after.iter().map(ToString::to_string));
    line(cells.iter().map(String::as_str))
}

/// Cells as a line, those in quotes that have to be.
pub(super) fn line<'a>(cells: impl Iterator<Item = &'a str>) -> String {
    let cells: Vec<String> = cells
        .map(|cell| {
            let cell = cell.replace(['\n', '\r'], " ");
            match cell.contains([',', '"']) || cell.starts_with(' ') || cell.ends_with(' ') {
                true => format!("\"{}\"", cell.replace('"', "\"\"")),
                false => cell,
            }
        })
        .collect();
    cells.join(",") + "\n"
}

/// The cells of a line.
pub(super) fn cells(line: &str) -> Option<Vec<String>> {
    let mut all = Vec::new();
    let mut rest = line;
    loop {
        if let Some(quoted) = rest.strip_prefix('"') {
            let mut cell = String::new();
            let mut from = quoted;
            loop {
                let (part, after) = from.split_once('"')?;
                cell += part;
                match after.strip_prefix('"') {
                    Some(more) => {
                        cell.push('"');
                        from = more;
                    }
                    None => {
                        rest = after;
                        break;
                    }
                }
            }
            all.push(cell);
        } else {
            let end = rest.find(',').unwrap_or(rest.len());
            all.push(rest[..end].trim().to_owned());
            rest = &rest[end..];
        }
        match rest.strip_prefix(',') {
            Some(more) => rest = more,
            None if rest.trim().is_empty() => return Some(all),
            None => return None,
        }
    }
}

/// A table of cases.
#[derive(Debug)]
pub(super) struct Table {
    /// Paths of keys.
    pub(super) paths: Vec<String>,
    /// The line that they stand in.
    pub(super) header: usize,
    /// The values of each row, and its line.
    pub(super) rows: Vec<(usize, Vec<Typed>)>,
}

/// Reads a table of cases; lines that begin with `#` are remarks.
pub(super) fn read(source: &Source) -> Result<Table, Failure> {
    let wrong = |line: usize, message: String| {
        Failure::at(FailureKind::Input, &source.name, [line, 0], message)
    };
    let mut table: Option<Table> = None;
    // some programs begin a text with a mark of its encoding
    let text = source.text.trim_start_matches('\u{feff}');
    for (k, line) in text.lines().enumerate() {
        if line.trim().is_empty() || line.starts_with('#') || line.starts_with("\"#") {
            continue;
        }
        let cells =
            cells(line).ok_or_else(|| wrong(k + 1, "a cell in quotes is not closed".into()))?;
        let Some(table) = &mut table else {
            for (n, path) in cells.iter().enumerate() {
                let fault = match path.as_str() {
                    "" => format!("column {} has no name", n + 1),
                    path if cells[..n].iter().any(|p| p == path) => {
                        format!("the column {path} is there twice")
                    }
                    _ => continue,
                };
                let message = format!("{fault}; the header names the key of each column once");
                return Err(wrong(k + 1, message));
            }
            table = Some(Table {
                paths: cells,
                header: k + 1,
                rows: Vec::new(),
            });
            continue;
        };
        if cells.len() != table.paths.len() {
            let (found, wanted) = (cells.len(), table.paths.len());
            let message = format!("{found} cells, and the header has {wanted}");
            return Err(wrong(k + 1, message));
        }
        let row = cells.into_iter().map(typed).collect();
        table.rows.push((k + 1, row));
    }
    table.ok_or_else(|| {
        let message = "is empty; give a header of key paths, then a row a case";
        wrong(0, message.into())
    })
}

/// A cell as it would be typed in a case file.
fn typed(cell: String) -> Typed {
    if let Ok(n) = cell.parse() {
        return Typed::Whole(n);
    }
    match (cell.parse::<f64>(), cell.as_str()) {
        (Ok(x), _) if x.is_finite() => Typed::Number(x),
        (_, "true") => Typed::Flag(true),
        (_, "false") => Typed::Flag(false),
        _ => Typed::Text(cell),
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn lines_come_back_as_they_went() {
        let all = ["a", "", "b, c", "say \"so\"", "2.5 kN", " d "];
        let line = line(all.into_iter());
        assert_eq!(line, "a,,\"b, c\",\"say \"\"so\"\"\",2.5 kN,\" d \"\n");
        assert_eq!(cells(line.trim_end()).unwrap(), all);
        assert!(cells("\"open").is_none());
    }
}
