//! `study`: many cases from one file, a row of figures each.

mod indices;
mod journal;
mod merge;
mod table;
mod told;

use std::path::{Path, PathBuf};
use std::time::Instant;

use rayon::prelude::*;
use ringwright_solver::case::{Change, Problem, read_changed};
use ringwright_solver::process::{Kept, ProcessError};
use ringwright_solver::report::files::OneFile;
use ringwright_solver::scheme::Registry;
use ringwright_solver::study::{
    Base, Design, Plan, PlanError, Row, StudyFile, evaluate, read_study,
};
use serde::Serialize;
use sha2::{Digest, Sha256};

use super::{Source, Threads, changes_of, folder_for, folder_of, program, text_of};
use crate::Exit;
use crate::args::{Common, Shard, StudyArgs, StudyCommand};
use crate::failure::{Failure, FailureKind, Outcome};
use crate::interrupt;
use crate::progress::{Bar, Watcher};
use crate::render::study as render;
use crate::screen::Screen;
pub(crate) use indices::{Estimated, IndexOf, IndicesOf, Sampling};
use journal::Journal;
pub(crate) use told::{Share, Told};

/// Rows that are worked out between two writings, for each thread: at most so many, and no more than take about so long, s.
const BLOCK: f64 = 64.0;
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
        Some(StudyCommand::Merge(args)) => return merge::run(args, screen),
        None => {}
    }
    let Some(path) = &args.study else {
        let message = "which study? give STUDY.toml, or `study merge DIR...`";
        return Err(Failure::new(FailureKind::Usage, message));
    };
    let study = load(path, args, registry)?;
    let dir = folder_for(args.out.as_ref(), path)?;
    let mut document = study.document();
    let journal = begin(&dir, &study, &document, args, screen)?;
    let (went, path) = work(&study, journal, common, registry, screen)?;
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
    }
    if screen.json {
        screen.answer(&render::json(&document));
    }
    screen.say(&render::summary(
        &study.file.title,
        &told,
        &went,
        (&dir, &files),
    ));
    Ok(Exit::Done)
}

/// Reads the study, its base case and its table, and sees that its paths lead somewhere.
fn load(path: &Path, args: &StudyArgs, registry: &Registry) -> Result<Study, Failure> {
    let source = text_of(path)?;
    let fail = |problems: Vec<Problem>| Failure::of_case(&problems, &source);
    let file = read_study(&source.text).map_err(fail)?;
    let folder = folder_of(path);
    let case = folder.join(&file.base.case);
    let base = text_of(&case)?;
    let changes = changes_of(&base.text, args.hold.as_deref(), &args.set);
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
    let (plan, sampling) = match (file.design, &file.cases) {
        (Design::Csv, _) if file.wants_indices() => {
            return Err(wrong(PlanError::NoIndices(Design::Csv.name())));
        }
        (Design::Csv, Some(cases)) => {
            let path = folder.join(cases.get_ref());
            let table = text_of(&path)?;
            digest.update(&table.text);
            inputs.push(path);
            let (paths, rows) = table::read(&table)?;
            (Plan::of_table(paths, rows).map_err(wrong)?, None)
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
    let digest = digest.finalize();
    Ok(Study {
        file,
        folder: case_folder,
        changes,
        plan,
        sampling,
        digest: digest.iter().map(|b| format!("{b:02x}")).collect(),
        inputs,
        base,
    })
}

impl Study {
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
            sampling: self.sampling.clone(),
            told: None,
            cautions: vec![ringwright_solver::report::grip::CAUTIONS],
        }
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
    let path = dir.join("study.json");
    let held = std::fs::read_to_string(&path).ok();
    let of = held.and_then(|text| serde_json::from_str::<serde_json::Value>(&text).ok());
    let other = of
        .as_ref()
        .and_then(|d| d["plan"].as_str())
        .filter(|p| *p != study.digest);
    if other.is_some() {
        let message = format!(
            "{} holds the rows of another plan: the study, its base case or what is set is not what it was; give another folder with --out, or take these rows away",
            dir.display()
        );
        return Err(Failure::at(
            FailureKind::Input,
            &path.display().to_string(),
            [0, 0],
            message,
        ));
    }
    save(dir, study, document)?;
    let rows = match args.shard {
        Some(shard) => shard.rows(study.plan.rows()),
        None => 0..study.plan.rows(),
    };
    let name = match args.shard {
        Some(Shard { number, of }) => format!("results-{number}-of-{of}.csv"),
        None => "results.csv".to_owned(),
    };
    let header = table::line(table::header(&study.plan).iter().map(String::as_str));
    let journal = Journal::open(&dir.join(name), &header, rows, args.resume)?;
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
        let one = |k: u64| -> Result<(Row, f64), ProcessError> {
            let start = Instant::now();
            // a time limit is that of a case
            let watcher = Watcher::silent(common);
            let row = evaluate(&base, &study.plan.changes(k), &watcher, &kept)?;
            Ok((row, start.elapsed().as_secs_f64()))
        };
        let rows = threads.run(|| {
            let rows = block.clone().into_par_iter().map(one);
            rows.collect::<Result<Vec<_>, _>>()
        });
        let rows = rows.map_err(|_| journal.interrupted())?;
        let mut lines = String::new();
        for (k, (row, seconds)) in block.clone().zip(&rows) {
            lines += &table::row(k, &study.plan, row, *seconds);
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
