//! `study tell`: points that somebody chose, worked out and told; an optimiser's half of `study ask`.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::time::Instant;

use rayon::prelude::*;
use ringwright_solver::case::Change;
use ringwright_solver::process::Kept;
use ringwright_solver::report::grip::CAUTIONS;
use ringwright_solver::scheme::Registry;
use ringwright_solver::study::{Base, Row, Typed, evaluate};
use serde_json::{Map, Value, json};

use super::ledger::{self, Ledger};
use super::points::{self, Remarks};
use super::strict::{Columns, Missed};
use super::table::{self, ColumnType};
use super::{Study, enter, load, plan_in};
use crate::args::{Common, TellArgs};
use crate::commands::{Source, Threads, folder_for, folder_of, program, text_of};
use crate::failure::{Failure, FailureKind, Outcome};
use crate::interrupt;
use crate::progress::{Bar, Watcher};
use crate::screen::Screen;

/// Points that are worked out between two writings, for each thread.
const BLOCK: usize = 4;
/// Fewest points of which it is told how far they are.
const MANY: usize = 64;

pub(super) fn run(
    args: &TellArgs,
    common: &Common,
    registry: &Registry,
    screen: &mut Screen,
) -> Outcome {
    let source = text_of(&args.file)?;
    let remarks = points::remarks(&source)?;
    let (study, path) = study_of(args, &remarks, &source, registry)?;
    let points = points::read(&source, &study)?;
    let dir = folder(args, &study, &path)?;
    enter(&dir, &study)?;
    let names = table::header(&study.plan);
    let header = table::line(names.iter().map(String::as_str));
    let table = dir.join("told.csv");
    let varies = study.plan.paths().len();
    let mut ledger = Ledger::open(&table, &header, varies, screen)?;
    let keys: Vec<String> = points.iter().map(|p| ledger::key(p)).collect();
    let mut seen = BTreeSet::new();
    let new: Vec<(&String, &Vec<Typed>)> = keys
        .iter()
        .zip(&points)
        .filter(|(key, _)| !ledger.has(key) && seen.insert(key.as_str()))
        .collect();
    work(&study, &new, &mut ledger, common, registry, screen)?;
    let lines: Vec<String> = keys
        .iter()
        .map(|key| ledger.line(key))
        .collect::<Result<_, _>>()?;
    let mut missed = Missed::default();
    let columns = Columns::of(&names);
    let rows: Vec<Vec<String>> = lines
        .iter()
        .map(|line| table::cells(line.trim_end_matches('\n')).unwrap_or_default())
        .collect();
    for row in &rows {
        missed.add(&columns, row);
    }
    match screen.json {
        true => screen.answer(&document(&study, &names, &rows)),
        false => screen.answer(&(header + &lines.concat())),
    }
    screen.note(&match rows.is_empty() {
        true => format!(
            "ringwright: no point stands below the header of {}, so there is nothing to tell",
            source.name
        ),
        false => format!(
            "ringwright: {} rows, {} of them worked out now; {} has {}\n{CAUTIONS}",
            rows.len(),
            new.len(),
            table.display(),
            ledger.len()
        ),
    });
    Ok(missed.exit(common, screen))
}

/// The folder that the rows belong to: what is given, the one that the points lie in if it is of their plan, else the study's usual one.
fn folder(args: &TellArgs, study: &Study, path: &Path) -> Result<PathBuf, Failure> {
    let own = folder_of(&args.file);
    let known = plan_in(own, study).ok().flatten();
    let own = known
        .filter(|d| d["plan"] == study.digest)
        .map(|_| own.to_owned());
    let out = args.out.clone().or(own);
    Ok(folder_for(out.as_ref(), path)?)
}

/// The study that points belong to, and its file.
fn study_of(
    args: &TellArgs,
    remarks: &Remarks,
    source: &Source,
    registry: &Registry,
) -> Result<(Study, PathBuf), Failure> {
    let path = match (&args.study, &remarks.study) {
        (Some(path), _) => path.clone(),
        (None, Some((path, _))) if path.is_file() => path.clone(),
        (None, Some((path, line))) => {
            let message = format!(
                "the study {} is not there, seen from this folder; say where it is with --study STUDY.toml",
                path.display()
            );
            return Err(points::at(source, *line, message));
        }
        (None, None) => {
            let message = format!(
                "which study? {} has no line \"# study: STUDY.toml\"; give --study STUDY.toml",
                source.name
            );
            return Err(Failure::new(FailureKind::Usage, message));
        }
    };
    // what is given here counts, else what was given to `ask`
    let hold = args.hold.as_ref().or(remarks.hold.as_ref());
    let set = match args.set.is_empty() {
        true => &remarks.set,
        false => &args.set,
    };
    let study = load(&path, hold.map(String::as_str), set, registry)?;
    match &remarks.plan {
        Some(plan) if *plan != study.digest => {
            let message = format!(
                "these points are of another plan than {} has now: the study, its base case or what is set was changed since; ask again, or take the line \"# plan: ...\" away",
                path.display()
            );
            Err(points::at(source, 0, message))
        }
        _ => Ok((study, path)),
    }
}

/// Works points out and adds their rows, block by block.
fn work(
    study: &Study,
    new: &[(&String, &Vec<Typed>)],
    ledger: &mut Ledger,
    common: &Common,
    registry: &Registry,
    screen: &mut Screen,
) -> Result<(), Failure> {
    let base = Base {
        text: &study.base.text,
        changes: &study.changes,
        folder: Some(&study.folder),
        registry,
    };
    let threads = Threads::new(common.threads)?;
    let kept = Kept::of_many();
    let mut bar = (new.len() >= MANY).then(|| Bar::new(common, new.len() as u64));
    let mut done = 0;
    for block in new.chunks(BLOCK * threads.count()) {
        let one = |(_, values): &(&String, &Vec<Typed>)| -> Option<(Row, f64)> {
            let start = Instant::now();
            let both = study.plan.paths().iter().zip(values.iter());
            let changes: Vec<Change> = both
                .map(|(path, value)| Change::new(path.clone(), value.in_toml()))
                .collect();
            let row = evaluate(&base, &changes, &Watcher::silent(common), &kept).ok()?;
            Some((row, start.elapsed().as_secs_f64()))
        };
        let rows = threads.run(|| block.par_iter().map(one).collect::<Option<Vec<_>>>());
        let interrupted = |done: usize| {
            let message = format!(
                "interrupted: {done} of {} new rows are in told.csv; tell the same points again to go on",
                new.len()
            );
            Failure::new(FailureKind::Interrupted, message)
        };
        let rows = rows.ok_or_else(|| interrupted(done))?;
        let lines = block.iter().zip(&rows).zip(ledger.next..);
        let lines: Vec<(String, String)> = lines
            .map(|(((key, values), (row, seconds)), number)| {
                ((*key).clone(), table::row(number, values, row, *seconds))
            })
            .collect();
        ledger.add(&lines)?;
        done += lines.len();
        if interrupt::came() {
            return Err(interrupted(done));
        }
        if let Some(bar) = &mut bar {
            bar.at(lines.len() as u64, screen);
        }
    }
    Ok(())
}

/// The rows as a document.
fn document(study: &Study, names: &[String], rows: &[Vec<String>]) -> String {
    let types = table::types(&study.plan);
    let row = |cells: &Vec<String>| -> Value {
        let all: Map<String, Value> = names
            .iter()
            .zip(&types)
            .zip(cells)
            .map(|((name, of), cell)| (name.clone(), value(*of, cell)))
            .collect();
        Value::Object(all)
    };
    let document = json!({
        "format": "ringwright-told-1",
        "program": program(),
        "plan": study.digest,
        "rows": rows.iter().map(row).collect::<Vec<Value>>(),
        "cautions": [CAUTIONS],
    });
    format!("{document:#}\n")
}

/// A cell; null where it is empty.
fn value(of: ColumnType, cell: &str) -> Value {
    match of {
        _ if cell.is_empty() => Value::Null,
        ColumnType::Text => json!(cell),
        _ => serde_json::from_str(cell).unwrap_or_else(|_| json!(cell)),
    }
}
