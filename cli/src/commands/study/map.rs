//! A map of a full design: released roundness over the two keys that vary.

use std::collections::BTreeSet;
use std::fs::File;
use std::io::{BufRead, BufReader};
use std::path::Path;

use ringwright_solver::report::Units;
use ringwright_solver::report::svg::{Heat, heat};

use super::table;
use crate::failure::Failure;

/// Most cells of a map.
const MOST_CELLS: u64 = 40_000;

/// Released roundness over two keys.
pub(super) struct Map {
    paths: Vec<String>,
    /// Values of every key, in their order, the last key fastest.
    lists: Vec<Vec<String>>,
    /// Which of the paths vary: up the page, and across it.
    keys: [usize; 2],
    cells: Vec<[Option<f64>; 2]>,
    good: Vec<bool>,
    /// Whether any is in tolerance.
    fits: bool,
}

impl Map {
    /// The map of a full design in which two keys take more than one value.
    pub(super) fn new(paths: &[String], lists: Vec<Vec<String>>) -> Option<Self> {
        let vary: Vec<usize> = (0..lists.len()).filter(|&k| lists[k].len() > 1).collect();
        let keys: [usize; 2] = vary.try_into().ok()?;
        let rows: u64 = lists.iter().map(|list| list.len() as u64).product();
        (rows <= MOST_CELLS).then(|| Self {
            paths: paths.to_vec(),
            lists,
            keys,
            cells: vec![[None; 2]; rows as usize],
            good: vec![false; rows as usize],
            fits: false,
        })
    }

    /// The map of a table of a full design whose plan is not at hand: its lists are the values that stand in its rows, in their order.
    pub(super) fn of_table(
        table: &Path,
        paths: &[String],
        rows: u64,
    ) -> Result<Option<Self>, Failure> {
        if rows > MOST_CELLS {
            return Ok(None);
        }
        let fail =
            |e: std::io::Error| Failure::io(table, format!("cannot read {}: {e}", table.display()));
        let mut lists: Vec<Vec<String>> = vec![Vec::new(); paths.len()];
        let mut seen: Vec<BTreeSet<String>> = vec![BTreeSet::new(); paths.len()];
        let file = BufReader::new(File::open(table).map_err(fail)?);
        for line in file.lines().skip(1) {
            // behind the number of the row and its status
            let cells = table::cells(&line.map_err(fail)?).unwrap_or_default();
            let of = lists.iter_mut().zip(&mut seen);
            for ((list, seen), cell) in of.zip(cells.into_iter().skip(2)) {
                if seen.insert(cell.clone()) {
                    list.push(cell);
                }
            }
        }
        // a value that a list has twice stands in the rows once: where it then lies in them is not known
        let whole = lists.iter().map(|l| l.len() as u64).product::<u64>() == rows;
        Ok(if whole { Self::new(paths, lists) } else { None })
    }

    /// The cells of a row, outside and bore, and of one that is in tolerance whether nothing is found unsafe.
    pub(super) fn put(&mut self, row: usize, shapes: [Option<f64>; 2], fits: Option<bool>) {
        if let Some(cell) = self.cells.get_mut(row) {
            *cell = shapes;
            self.good[row] = fits == Some(true);
            self.fits |= fits.is_some();
        }
    }

    /// The map of the surface that the cuts leave out of round most.
    pub(super) fn drawn(self, title: &str) -> Option<String> {
        let most = |s: usize| self.cells.iter().filter_map(|c| c[s]).fold(0.0, f64::max);
        let surface = usize::from(most(1) >= most(0));
        if most(surface) <= 0.0 {
            return None;
        }
        let [up, across] = self.keys.map(|k| &self.lists[k]);
        let cells: Vec<Option<f64>> = self.cells.iter().map(|c| c[surface]).collect();
        let none = match (self.good.contains(&true), self.fits) {
            (true, _) => "",
            (false, true) => "; EVERY CASE THAT IS IN TOLERANCE IS NOT SAFE BY THE ESTIMATE",
            (false, false) => "; no case is known to be in tolerance",
        };
        let of = format!(
            "Roundness of the {} after release, mm, about the least-squares circle{none}. It says nothing of grip: see the table for that",
            ["outside", "bore"][surface]
        );
        let good = if self.good.contains(&true) {
            self.good
        } else {
            Vec::new()
        };
        let paths = &self.paths;
        let map = Heat {
            title: if title.is_empty() { "Study" } else { title },
            of: &of,
            across: (&paths[self.keys[1]], across),
            up: (&paths[self.keys[0]], up),
            cells: &cells,
            good: &good,
        };
        Some(heat(&map, Units::default()))
    }
}
