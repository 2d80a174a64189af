//! `--strict` of a study: whether every row has an answer and meets the stated limits.

use std::fs::File;
use std::io::{BufRead, BufReader};
use std::path::Path;

use super::table;
use crate::Exit;
use crate::args::Common;
use crate::failure::Failure;
use crate::screen::Screen;

/// Rows that do not pass, by reason; a row may count for more than one.
#[derive(Debug, Default, PartialEq, Eq)]
pub(super) struct Missed {
    failed: u64,
    out_of_tolerance: u64,
    yields: u64,
    not_safe: u64,
}

/// Where the columns stand that decide.
pub(super) struct Columns([usize; 5]);

impl Columns {
    pub(super) fn of(names: &[String]) -> Self {
        let at = |name| names.iter().position(|n| n == name).unwrap_or(usize::MAX);
        let decide = [
            "status",
            "in_tolerance",
            "yield_margin",
            "slip_safety",
            "safe",
        ];
        Self(decide.map(at))
    }
}

impl Missed {
    /// Looks at a row as `run --strict` looks at a case; one that failed is missed too. What is not known is not held against it.
    pub(super) fn add(&mut self, columns: &Columns, cells: &[String]) {
        let [status, good, margin, slip, safe] =
            columns.0.map(|k| cells.get(k).map_or("", String::as_str));
        let below = |cell: &str, limit| cell.parse::<f64>().is_ok_and(|x| x < limit);
        self.failed += u64::from(status != "ok");
        self.out_of_tolerance += u64::from(good == "false");
        self.yields += u64::from(below(margin, 0.0));
        self.not_safe += u64::from(safe == "false" || below(slip, 1.0));
    }

    /// Of a whole table.
    pub(super) fn of_table(path: &Path, names: &[String]) -> Result<Self, Failure> {
        let fail =
            |e: std::io::Error| Failure::io(path, format!("cannot read {}: {e}", path.display()));
        let columns = Columns::of(names);
        let mut missed = Self::default();
        for line in BufReader::new(File::open(path).map_err(fail)?)
            .lines()
            .skip(1)
        {
            let cells = table::cells(&line.map_err(fail)?).unwrap_or_default();
            missed.add(&columns, &cells);
        }
        Ok(missed)
    }

    /// How many, in words; `None` if every row passes.
    fn words(&self) -> Option<String> {
        let one = |n: u64, what: &str| (n > 0).then(|| format!("{n} {what}"));
        let all = [
            one(self.failed, "failed"),
            one(self.out_of_tolerance, "out of tolerance"),
            one(self.yields, "yielding"),
            one(self.not_safe, "NOT SAFE BY THIS ESTIMATE"),
        ];
        let all: Vec<String> = all.into_iter().flatten().collect();
        (!all.is_empty()).then(|| all.join(", "))
    }

    /// How the command ends.
    pub(super) fn exit(&self, common: &Common, screen: &mut Screen) -> Exit {
        match self.words().filter(|_| common.strict) {
            Some(words) => {
                screen.note(&format!(
                    "ringwright: a stated limit is not met (--strict); rows: {words}"
                ));
                Exit::Limit
            }
            None => Exit::Done,
        }
    }
}

/// How `--strict` ends a study whose table is whole.
pub(super) fn exit(
    table: &Path,
    names: &[String],
    common: &Common,
    screen: &mut Screen,
) -> Result<Exit, Failure> {
    match common.strict {
        true => Ok(Missed::of_table(table, names)?.exit(common, screen)),
        false => Ok(Exit::Done),
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn a_row_passes_as_a_run_does() {
        let names = [
            "row",
            "status",
            "yield_margin",
            "slip_safety",
            "in_tolerance",
            "safe",
        ];
        let names = names.map(str::to_owned);
        let columns = Columns::of(&names);
        let of = |row: &str| {
            let mut missed = Missed::default();
            missed.add(&columns, &table::cells(row).unwrap());
            missed
        };
        assert_eq!(of("0,ok,0.5,2.0,true,true").words(), None);
        // what is not known
        assert_eq!(of("0,ok,,,,").words(), None);
        for (row, words) in [
            ("0,failed: loose: x,,,,", "1 failed"),
            ("0,ok,0.5,2.0,false,true", "1 out of tolerance"),
            ("0,ok,-0.1,2.0,true,", "1 yielding"),
            ("0,ok,0.5,0.9,true,", "1 NOT SAFE BY THIS ESTIMATE"),
            (
                "0,ok,0.5,2.0,false,false",
                "1 out of tolerance, 1 NOT SAFE BY THIS ESTIMATE",
            ),
        ] {
            assert_eq!(of(row).words().unwrap(), words, "{row}");
        }
    }
}
