//! Rows as lines of a CSV file (RFC 4180), and tables of cases read back.

use ringwright_solver::study::{FIGURES, Plan, Row, Typed};

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

/// A row as a line.
pub(super) fn row(number: u64, plan: &Plan, row: &Row, seconds: f64) -> String {
    let (before, after) = row.cells.split_at(BEFORE_SECONDS);
    let mut cells = vec![number.to_string(), row.status.clone()];
    cells.extend(plan.values(number).iter().map(Typed::to_string));
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
            match cell.contains([',', '"']) || cell.starts_with(' ') {
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

/// A table of cases: paths of keys, and the values of each row.
pub(super) fn read(source: &Source) -> Result<(Vec<String>, Vec<Vec<Typed>>), Failure> {
    let wrong = |line: usize, message: String| {
        Failure::at(FailureKind::Input, &source.name, [line, 0], message)
    };
    let mut paths: Vec<String> = Vec::new();
    let mut rows = Vec::new();
    for (k, line) in source.text.lines().enumerate() {
        if line.trim().is_empty() || line.starts_with('#') {
            continue;
        }
        let cells =
            cells(line).ok_or_else(|| wrong(k + 1, "a cell in quotes is not closed".into()))?;
        if paths.is_empty() {
            paths = cells;
            continue;
        }
        if cells.len() != paths.len() {
            let message = format!("{} cells, and the header has {}", cells.len(), paths.len());
            return Err(wrong(k + 1, message));
        }
        rows.push(cells.into_iter().map(typed).collect());
    }
    Ok((paths, rows))
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
        let all = ["a", "", "b, c", "say \"so\"", "2.5 kN"];
        let line = line(all.into_iter());
        assert_eq!(line, "a,,\"b, c\",\"say \"\"so\"\"\",2.5 kN\n");
        assert_eq!(cells(line.trim_end()).unwrap(), all);
        assert!(cells("\"open").is_none());
    }
}
