//! `study`: many cases from one file, a row of figures each.

mod ask;
mod beside;
mod indices;
mod journal;
mod keep;
mod ledger;
mod map;
mod merge;
#[cfg(feature = "parquet")]
mod parquet;
mod points;
mod strict;
mod table;
mod tell;
mod told;

use std::path::{Path, PathBuf};
use std::time::Instant;

use rayon::prelude::*;
use ringwright_solver::case::{Change, Problem, read_changed, value_at};
use ringwright_solver::process::Kept;
use ringwright_solver::report::files::OneFile;
use ringwright_solver::scheme::Registry;
use ringwright_solver::study::{
    Base, Design, Plan, PlanError, Row, Space, StudyFile, Vary, read_study,
};
use serde::Serialize;
use sha2::{Digest, Sha256};

use super::{Source, Threads, changes_of, folder_for, folder_of, program, text_of};
use crate::args::{Common, Keeps, Shard, StudyArgs, StudyCommand};
use crate::failure::{Failure, FailureKind, Outcome};
use crate::interrupt;
use crate::progress::{Bar, Watcher};
use crate::render::study as render;
use crate::screen::Screen;
pub(crate) use indices::{Estimated, IndexOf, IndicesOf, Sampling};
use journal::Journal;
use keep::{Keep, NoRow};
pub(crate) use told::{Share, Told};

/// Rows that are worked out between two writings, for each thread: at most so many, and no more than take about so long, s.
const BLOCK: f64 = 512.0;
const WRITTEN: f64 = 1.0;

/// What is known of a study beside its rows.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct StudyDocument {
    /// Always `ringwright-study-1`.
    format: &'static str,
    /// What wrote it.
    program: ringwright_solver::report::Program,
    /// What the file calls it.
    title: String,
    /// `full`, `sobol`, `latin-hypercube` or `csv`.
    design: &'static str,
    /// Seed of a sampled design; null of others.
    seed: Option<u64>,
    /// Digest of the study's file, its base case, what was set, and its table of cases: a folder holds the rows of one plan.
    plan: String,
    /// Rows of the plan.
    rows: u64,
    /// Paths of the keys that vary.
    varies: Vec<String>,
    /// Names of the columns, in their order.
    columns: Vec<String>,
    /// What they hold: `row` (its number), `number`, `flag` or `text`.
    types: Vec<&'static str>,
    /// What is kept of each row beside its figures: `profiles`, or nothing.
    keeps: Vec<&'static str>,
    /// How the rows were drawn; left out of a study without indices.
    #[serde(skip_serializing_if = "Option::is_none")]
    sampling: Option<Sampling>,
    /// What the table says as a whole; left out until it is whole.
    #[serde(skip_serializing_if = "Option::is_none")]
    told: Option<Told>,
    /// What has to be known of every grip figure in the rows.
    cautions: Vec<&'static str>,
}

/// A study that is ready to be worked out.
pub(crate) struct Study {
    file: StudyFile,
    base: Source,
    folder: PathBuf,
    changes: Vec<Change>,
    /// What varies; empty of a table of cases.
    varies: Vec<Vary>,
    plan: Plan,
    sampling: Option<Sampling>,
    digest: String,
    inputs: Vec<PathBuf>,
}

pub(crate) fn run(
    args: &StudyArgs,
    common: &Common,
    registry: &Registry,
    screen: &mut Screen,
) -> Outcome {
    match &args.command {
        Some(StudyCommand::Merge(args)) => return merge::run(args, common, screen),
        Some(StudyCommand::Ask(args)) => return ask::run(args, registry, screen),
        Some(StudyCommand::Tell(args)) => return tell::run(args, common, registry, screen),
        None => {}
    }
    let Some(path) = &args.study else {
        let message = "which study? give STUDY.toml, or `study merge DIR...`, `study ask STUDY.toml` or `study tell FILE`";
        return Err(Failure::new(FailureKind::Usage, message));
    };
    let study = load(path, args.hold.as_deref(), &args.set, registry)?;
    let dir = folder_for(args.out.as_ref(), path)?;
    let mut document = study.document();
    let profiles = args.keep.contains(&Keeps::Profiles);
    document.keeps.extend(profiles.then_some("profiles"));
    let journal = begin(&dir, &study, &document, args, screen)?;
    let keep = Keep::open(&dir, profiles)?;
    let (went, path) = work(&study, journal, &keep, common, registry, screen)?;
    let first = args.shard.map_or(0, |s| s.rows(study.plan.rows()).start);
    let (told, map) = told::of_plan(&path, &study.plan, &study.file.title, first)?;
    let mut files = vec![path];
    if let Some(map) = map.filter(|_| args.shard.is_none()) {
        let path = dir.join("results.svg");
        OneFile::open(&path, &study.inputs, "<svg")?.write(|out| out.write_all(map.as_bytes()))?;
        files.push(path);
    }
    // a share of the rows says nothing of the whole
    if args.shard.is_none() {
        document.told = Some(told.clone());
        save(&dir, &study, &document)?;
        files.extend(typed(&files[0], &study, &document)?);
    }
    if screen.json {
        screen.answer(&render::json(&document));
    }
    screen.say(&render::summary(
        &study.file.title,
        &told,
        &went,
        args.shard,
        (&dir, &files),
    ));
    strict::exit(&files[0], &document.columns, common, screen)
}

/// Reads the study, its base case and its table, and sees that its paths lead somewhere.
fn load(
    path: &Path,
    hold: Option<&str>,
    set: &[Change],
    registry: &Registry,
) -> Result<Study, Failure> {
    let source = text_of(path)?;
    let fail = |problems: Vec<Problem>| Failure::of_case(&problems, &source);
    if value_at(&source.text, &[], "part.outer_diameter").is_some() {
        let message = "is a case, which `ringwright run` takes; a study has a [base] with case = \"FILE.toml\" and a design";
        return Err(Failure::at(
            FailureKind::Input,
            &source.name,
            [0, 0],
            message.into(),
        ));
    }
    let file = read_study(&source.text).map_err(fail)?;
    let folder = folder_of(path);
    let case = folder.join(&file.base.case);
    let base = text_of(&case)?;
    let changes = changes_of(&base.text, hold, set);
    let wrong = |e: PlanError| indices::wrong(&e, &file, &source);
    let case_folder = folder_of(&case).to_owned();
    let mut inputs = vec![path.to_owned(), case.clone()];
    let mut digest = Sha256::new();
    for text in [&source.text, &base.text] {
        digest.update((text.len() as u64).to_le_bytes());
        digest.update(text);
    }
    for change in &changes {
        digest.update(format!("{change}\n"));
    }
    let (plan, sampling, varies) = match (file.design, &file.cases) {
        (Design::Csv, _) if file.wants_indices() => {
            return Err(wrong(PlanError::NoIndices(Design::Csv.name())));
        }
        (Design::Csv, Some(cases)) => {
            let path = folder.join(cases.get_ref());
            let table = text_of(&path)?;
            digest.update(&table.text);
            inputs.push(path);
            let name = table.name.clone();
            let table = table::read(&table)?;
            if table.rows.is_empty() {
                let message = "no row stands below the header".to_owned();
                let place = [table.header, 0];
                return Err(Failure::at(FailureKind::Input, &name, place, message));
            }
            let rows = table.rows.into_iter().map(|(_, row)| row).collect();
            let plan = Plan::of_table(table.paths, rows).map_err(wrong)?;
            (plan, None, Vec::new())
        }
        (Design::Csv, None) => {
            let message = "design \"csv\" needs cases = \"FILE.csv\": a header of key paths, then a row a case";
            return Err(Failure::at(
                FailureKind::Input,
                &source.name,
                [0, 0],
                message.into(),
            ));
        }
        _ => {
            let base = Base {
                text: &base.text,
                changes: &changes,
                folder: Some(&case_folder),
                registry,
            };
            indices::plan(&file, &source, &base)?
        }
    };
    let read = |changes: &[Change]| read_changed(&base.text, changes, registry, Some(&case_folder));
    if let Err(problems) = read(&changes) {
        return Err(Failure::of_case(&problems, &base));
    }
    // what no row can be read with is a fault of the study, not of its rows
    let row = |k: u64| -> Vec<Change> { changes.iter().cloned().chain(plan.changes(k)).collect() };
    if let (Err(first), Err(last)) = (read(&row(0)), read(&row(plan.rows() - 1)))
        && first.first().map(|p| &p.field) == last.first().map(|p| &p.field)
    {
        return Err(Failure::of_case(&first, &base));
    }
    if let Some(set) = changes.iter().find(|c| plan.paths().contains(&c.path)) {
        let message = format!(
            "--set {set}: {} varies in this study, so setting it has no effect; leave one of the two out",
            set.path
        );
        return Err(Failure::new(FailureKind::Usage, message));
    }
    let digest = digest.finalize();
    Ok(Study {
        file,
        folder: case_folder,
        changes,
        varies,
        plan,
        sampling,
        digest: digest.iter().map(|b| format!("{b:02x}")).collect(),
        inputs,
        base,
    })
}

impl Study {
    /// What its points may be.
    fn space(&self) -> Space<'_> {
        let seed = self.file.seed.unwrap_or(0);
        Space::new(&self.plan, self.file.design, &self.varies, seed)
    }

    fn document(&self) -> StudyDocument {
        let sampled = matches!(self.file.design, Design::Sobol | Design::LatinHypercube);
        StudyDocument {
            format: "ringwright-study-1",
            program: program(),
            title: self.file.title.clone(),
            design: self.file.design.name(),
            seed: sampled.then_some(self.file.seed.unwrap_or(0)),
            plan: self.digest.clone(),
            rows: self.plan.rows(),
            varies: self.plan.paths().to_vec(),
            columns: table::header(&self.plan),
            types: table::types(&self.plan).iter().map(|t| t.name()).collect(),
            keeps: Vec::new(),
            sampling: self.sampling.clone(),
            told: None,
            cautions: vec![ringwright_solver::report::grip::CAUTIONS],
        }
    }
}

/// What is known of the rows of a folder, which have to be of this plan; `None` if nothing is.
fn plan_in(dir: &Path, study: &Study) -> Result<Option<serde_json::Value>, Failure> {
    let path = dir.join("study.json");
    let held = std::fs::read_to_string(&path).ok();
    let of = held.and_then(|text| serde_json::from_str::<serde_json::Value>(&text).ok());
    let plan = of.as_ref().and_then(|d| d["plan"].as_str());
    if plan.is_none_or(|plan| plan == study.digest) {
        return Ok(of);
    }
    let message = format!(
        "{} holds the rows of another plan: the study, its base case or what is set is not what it was; give another folder with --out, or take these rows away",
        dir.display()
    );
    Err(Failure::at(
        FailureKind::Input,
        &path.display().to_string(),
        [0, 0],
        message,
    ))
}

/// Readies a folder for points that are asked for one after another.
fn enter(dir: &Path, study: &Study) -> Result<(), Failure> {
    match plan_in(dir, study)? {
        Some(document) if document["plan"] == study.digest => Ok(()),
        _ => save(dir, study, &study.document()),
    }
}

/// Readies the folder: its plan and the file that rows are added to.
fn begin(
    dir: &Path,
    study: &Study,
    document: &StudyDocument,
    args: &StudyArgs,
    screen: &mut Screen,
) -> Result<Journal, Failure> {
    let of = plan_in(dir, study)?;
    if let Some(before) = of.as_ref().filter(|_| args.resume || args.shard.is_some()) {
        let keeps = |keeps: &[serde_json::Value]| keeps.iter().any(|k| k == "profiles");
        let before = before["keeps"].as_array().is_some_and(|k| keeps(k));
        keep::agree(dir, before, document.keeps.contains(&"profiles"))?;
    }
    // what a merge has told of the whole is not taken back by a share that is run again
    let told = of.as_ref().is_some_and(|of| !of["told"].is_null());
    if !(args.shard.is_some() && told) {
        save(dir, study, document)?;
    }
    let rows = match args.shard {
        Some(shard) => shard.rows(study.plan.rows()),
        None => 0..study.plan.rows(),
    };
    let name = match args.shard {
        Some(Shard { number, of }) => format!("results-{number}-of-{of}.csv"),
        None => "results.csv".to_owned(),
    };
    let header = table::line(table::header(&study.plan).iter().map(String::as_str));
    let journal = Journal::open(&dir.join(name), &header, rows, args.resume, &study.plan)?;
    if journal.done() > 0 {
        screen.note(&format!(
            "ringwright: {} rows are there already",
            journal.done()
        ));
    }
    Ok(journal)
}

/// Writes what is known of a study beside its rows.
fn save(dir: &Path, study: &Study, document: &StudyDocument) -> Result<(), Failure> {
    let path = dir.join("study.json");
    let file = OneFile::open(&path, &study.inputs, "\"ringwright-study-")?;
    let text = render::json(document);
    file.write(|out| out.write_all(text.as_bytes()))?;
    Ok(())
}

/// Writes the table that is whole once more, in typed columns.
#[cfg(feature = "parquet")]
fn typed(
    table: &Path,
    study: &Study,
    document: &StudyDocument,
) -> Result<Option<PathBuf>, Failure> {
    let names = document.columns.iter().cloned();
    let columns: Vec<_> = names.zip(table::types(&study.plan)).collect();
    parquet::write(table, &columns, &render::json(document), &study.inputs)
}

#[cfg(not(feature = "parquet"))]
fn typed(_: &Path, _: &Study, _: &StudyDocument) -> Result<Option<PathBuf>, Failure> {
    Ok(None)
}

/// How it went.
pub(crate) struct Went {
    /// Rows that were worked out now, and how long that took, s.
    pub(crate) rows: u64,
    pub(crate) seconds: f64,
}

/// Works out the rows that are not there yet, block by block, each written before the next is begun.
fn work(
    study: &Study,
    mut journal: Journal,
    keep: &Keep,
    common: &Common,
    registry: &Registry,
    screen: &mut Screen,
) -> Result<(Went, PathBuf), Failure> {
    let base = Base {
        text: &study.base.text,
        changes: &study.changes,
        folder: Some(&study.folder),
        registry,
    };
    let began = Instant::now();
    let mut bar = Bar::new(common, journal.left());
    let mut went = Went {
        rows: 0,
        seconds: 0.0,
    };
    let threads = Threads::new(common.threads)?;
    let kept = Kept::of_many();
    let mut each = 1.0;
    loop {
        let block = journal.next_rows((each * threads.count() as f64) as u64);
        let start_of_block = Instant::now();
        if block.is_empty() {
            break;
        }
        let one = |k: u64| -> Result<(Row, f64), NoRow> {
            let start = Instant::now();
            // a time limit is that of a case
            let watcher = Watcher::silent(common);
            let row = keep.row(k, &base, &study.plan.changes(k), &watcher, &kept)?;
            Ok((row, start.elapsed().as_secs_f64()))
        };
        let rows = threads.run(|| {
            let rows = block.clone().into_par_iter().map(one);
            rows.collect::<Result<Vec<_>, _>>()
        });
        let rows = rows.map_err(|why| match why {
            NoRow::Interrupted => journal.interrupted(),
            NoRow::NotKept(failure) => failure,
        })?;
        let mut lines = String::new();
        for (k, (row, seconds)) in block.clone().zip(&rows) {
            lines += &table::row(k, &study.plan.values(k), row, *seconds);
        }
        journal.add(&lines, block.end)?;
        went.rows += rows.len() as u64;
        bar.at(rows.len() as u64, screen);
        if interrupt::came() {
            return Err(journal.interrupted());
        }
        let took = start_of_block.elapsed().as_secs_f64().max(1e-6);
        each = (each * WRITTEN / took).clamp(1.0, (2.0 * each).min(BLOCK));
    }
    drop(bar);
    went.seconds = began.elapsed().as_secs_f64();
    Ok((went, journal.finish()?))
}
