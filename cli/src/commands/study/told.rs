//! What a table says as a whole: how many rows have an answer, chances, and a map over two inputs.

use std::collections::BTreeMap;
use std::fs::File;
use std::io::{BufRead, BufReader};
use std::path::Path;

use ringwright_solver::study::{Plan, Typed, chance};
use serde::Serialize;

use super::indices::{Gather, IndicesOf};
use super::map::Map;
use super::table;
use crate::failure::{Failure, FailureKind};

/// What a table says as a whole.
#[derive(Clone, Debug, Default, Serialize)]
pub(crate) struct Told {
    /// Rows of the table.
    pub(crate) rows: u64,
    /// Those with an answer.
    pub(crate) ok: u64,
    /// Those that failed, by kind.
    pub(crate) failed: BTreeMap<String, u64>,
    /// Of those with a limit, how many are in tolerance. What yields is not: it stays bent.
    pub(crate) in_tolerance: Share,
    /// Of those with a yield strength, how many yield.
    pub(crate) yields: Share,
    /// Of those with a limit, how many are in tolerance and neither yield nor are found unsafe.
    pub(crate) good: Share,
    /// Rows that have cautions of their own.
    pub(crate) cautioned: u64,
    /// Of those whose grip was checked, how many are not safe by the estimate: they slip, let go at their speed or pass a limit of the chuck.
    pub(crate) not_safe: Share,
    /// Of those of which it is known, how many are safe by it: checked in every way, with enough.
    pub(crate) safe: Share,
    /// Where the spread of each figure comes from; left out of a study without indices.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) indices: Option<Vec<IndicesOf>>,
    /// Points of the base sample that they are from.
    #[serde(skip)]
    pub(crate) base: u64,
}

/// A share of rows and, of a sampled design, the chance that it estimates.
#[derive(Clone, Copy, Debug, Default, Serialize)]
pub(crate) struct Share {
    pub(crate) count: u64,
    pub(crate) of: u64,
    /// Interval of the chance, confidence 95 percent; null of a design that is not sampled, and where it is not known of every row with an answer.
    pub(crate) chance: Option<[f64; 2]>,
    /// The same of the rows that were drawn by themselves, from which the chance is: all rows but of a study with indices.
    #[serde(skip)]
    pub(crate) drawn: [u64; 2],
}

impl Share {
    fn add(&mut self, yes: bool, is_drawn: bool) {
        self.count += u64::from(yes);
        self.of += 1;
        self.drawn[0] += u64::from(yes && is_drawn);
        self.drawn[1] += u64::from(is_drawn);
    }
}

/// Reads the table of a plan, which begins with the row `first`; the map of its released roundness too, of a full design over two keys.
pub(super) fn of_plan(
    path: &Path,
    plan: &Plan,
    title: &str,
    first: u64,
) -> Result<(Told, Option<String>), Failure> {
    let mut map = plan.lists().and_then(|lists| {
        let names = |list: &Vec<Typed>| list.iter().map(Typed::to_string).collect();
        Map::new(plan.paths(), lists.iter().map(names).collect())
    });
    let names = table::header(plan);
    let gather = Gather::new(plan, &names, first);
    let told = of_table(path, &names, plan.is_sampled(), &mut map, gather)?;
    Ok((told, map.and_then(|map| map.drawn(title))))
}

/// Reads a table with these columns.
fn of_table(
    path: &Path,
    names: &[String],
    sampled: bool,
    map: &mut Option<Map>,
    mut gather: Option<Gather>,
) -> Result<Told, Failure> {
    let fail =
        |e: std::io::Error| Failure::io(path, format!("cannot read {}: {e}", path.display()));
    let at = |name: &str| names.iter().position(|n| n == name).unwrap_or(usize::MAX);
    let (status, judged, slip) = (1, at("in_tolerance"), at("slip_safety"));
    let (safe, margin, cautions) = (at("safe"), at("yield_margin"), at("cautions"));
    let surfaces = ["outer", "bore"].map(|s| at(&format!("released_roundness_{s}_mm")));
    let mut told = Told::default();
    let lines = BufReader::new(File::open(path).map_err(fail)?).lines();
    for (number, line) in (1..).zip(lines).skip(1) {
        let line = line.map_err(fail)?;
        let cells = table::cells(&line).ok_or_else(|| {
            let message = "a cell in quotes is not closed".to_owned();
            Failure::at(
                FailureKind::Input,
                &path.display().to_string(),
                [number, 0],
                message,
            )
        })?;
        let is_drawn = gather.as_ref().is_none_or(Gather::is_drawn);
        if let Some(gather) = &mut gather {
            gather.put(path, number, &cells)?;
        }
        let cell = |k: usize| cells.get(k).map_or("", String::as_str);
        told.rows += 1;
        match cell(status).strip_prefix("failed: ") {
            Some(why) => {
                let kind = why.split(':').next().unwrap_or(why);
                *told.failed.entry(kind.to_owned()).or_default() += 1;
            }
            None => told.ok += 1,
        }
        let slips = cell(slip).parse::<f64>().is_ok_and(|s| s < 1.0);
        let unsafe_row = slips || cell(safe) == "false";
        let margin = cell(margin).parse::<f64>();
        let yields = margin.as_ref().is_ok_and(|m| *m < 0.0);
        if margin.is_ok() {
            told.yields.add(yields, is_drawn);
        }
        // the shapes of what yields are judged by nobody, and it is no good part
        let fits = cell(judged) == "true" && !yields;
        if !cell(judged).is_empty() || yields {
            told.in_tolerance.add(fits, is_drawn);
            told.good.add(fits && !unsafe_row, is_drawn);
        }
        told.cautioned += u64::from(!cell(cautions).is_empty());
        if !cell(slip).is_empty() || !cell(safe).is_empty() {
            told.not_safe.add(unsafe_row, is_drawn);
        }
        if unsafe_row || !cell(safe).is_empty() {
            told.safe.add(cell(safe) == "true", is_drawn);
        }
        if let Some(map) = map {
            let shapes = surfaces.map(|k| cell(k).parse::<f64>().ok());
            let row = cell(0).parse().unwrap_or(usize::MAX);
            map.put(row, shapes, fits.then_some(!unsafe_row));
        }
    }
    if sampled {
        let ok = told.ok;
        for share in [
            &mut told.in_tolerance,
            &mut told.yields,
            &mut told.good,
            &mut told.not_safe,
            &mut told.safe,
        ] {
            let [count, of] = share.drawn;
            // whether a thing is known may hang on what it is: there is a chance only where it is known of all
            share.chance = (of > 0 && share.of == ok).then(|| chance(count, of));
        }
    }
    told.base = gather.as_ref().map_or(0, Gather::base);
    told.indices = gather.and_then(|g| g.tell());
    Ok(told)
}

/// Reads a table that was put together from shares, the plan of one with indices; its map too, if it has one.
pub(super) fn of_merged(
    path: &Path,
    names: &[String],
    sampled: bool,
    plan: Option<&Plan>,
    mut map: Option<Map>,
    title: &str,
) -> Result<(Told, Option<String>), Failure> {
    let gather = plan.and_then(|plan| Gather::new(plan, names, 0));
    let told = of_table(path, names, sampled, &mut map, gather)?;
    Ok((told, map.and_then(|map| map.drawn(title))))
}
