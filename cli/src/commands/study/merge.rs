//! `study merge`: the tables of shards put together.

use std::collections::BTreeMap;
use std::fs;
use std::io::{BufRead, BufReader, BufWriter, Write};
use std::path::{Path, PathBuf};

use ringwright_solver::report::ReportError;
use ringwright_solver::report::files::OneFile;
use ringwright_solver::study::Plan;
use serde::Deserialize;
use serde_json::Value;

use super::map::Map;
use super::{Sampling, Told, beside, strict, table, told};
use crate::args::{Common, MergeArgs};
use crate::commands::make_folder;
use crate::failure::{Failure, FailureKind, Outcome};
use crate::render::study as render;
use crate::screen::Screen;

pub(super) fn run(args: &MergeArgs, common: &Common, screen: &mut Screen) -> Outcome {
    let mut plan: Option<(PathBuf, Value)> = None;
    let mut shards: BTreeMap<u64, PathBuf> = BTreeMap::new();
    for dir in &args.folders {
        let document = document(dir)?;
        match &plan {
            Some((first, of)) if of["plan"] != document["plan"] => {
                let message = format!("holds the rows of another plan than {}", first.display());
                return Err(wrong(dir, message));
            }
            Some(_) => {}
            None => plan = Some((dir.clone(), document)),
        }
        if args.folders.iter().filter(|d| *d == dir).count() > 1 {
            return Err(wrong(dir, "is given twice".into()));
        }
        for shard in tables(dir)? {
            if let Some(first) = first_row(&shard)? {
                shards.insert(first, shard);
            }
        }
    }
    let Some((first, document)) = plan else {
        return Err(Failure::new(
            FailureKind::Usage,
            "which folders? give one or more",
        ));
    };
    if shards.is_empty() {
        let message = match first.join("results.csv").exists() {
            true => "holds no share of a study: its results.csv is whole already",
            false => "holds no finished share of a study, results-I-of-N.csv",
        };
        return Err(wrong(&first, message.into()));
    }
    let plan = plan_of(&document, &first.join("study.json"))?;
    let out = args.out.clone().unwrap_or(first.clone());
    let path = out.join("results.csv");
    make_folder(&out)?;
    if out.join("study.json").exists() && self::document(&out)?["plan"] != document["plan"] {
        let message = format!(
            "holds the rows of another plan than {}; give another folder with --out",
            first.display()
        );
        return Err(wrong(&out, message));
    }
    let inputs: Vec<PathBuf> = Vec::new();
    let file = OneFile::open(&path, &inputs, "row,status,")?;
    beside::check(&path)?;
    let mut failure = None;
    let mut rows = 0;
    file.write(|out| {
        let mut out = BufWriter::new(out);
        let put = put(&shards, &document, &mut out);
        match put.and_then(|n| Ok((n, beside::clear(&path)?))) {
            Ok((n, ())) => rows = n,
            Err(e) => {
                failure = Some(e);
                return Err(std::io::Error::other("not merged"));
            }
        }
        out.flush()
    })
    .map_err(|e| failure.take().unwrap_or_else(|| e.into()))?;
    let columns: Vec<String> = names(&document).map(str::to_owned).collect();
    let (document, told, files) = finish(&path, document, plan.as_ref())?;
    if screen.json {
        screen.answer(&document);
    }
    screen.say(&format!("{rows} rows from {} tables.\n", shards.len()));
    screen.say(&render::of_rows(&told));
    screen.say(&render::written(&out, &files));
    strict::exit(&path, &columns, common, screen)
}

/// The plan of a study with indices, as its document has it.
fn plan_of(document: &Value, path: &Path) -> Result<Option<Plan>, Failure> {
    let Some(sampling) = document.get("sampling") else {
        return Ok(None);
    };
    let sampling = Sampling::deserialize(sampling).map_err(|e| {
        wrong(
            path,
            format!("its `sampling` is not as it was written: {e}"),
        )
    })?;
    sampling.plan(path).map(Some)
}

/// Names of the columns.
fn names(document: &Value) -> impl Iterator<Item = &str> {
    let names = document["columns"].as_array().into_iter().flatten();
    names.filter_map(Value::as_str)
}

/// What the whole table says, and the files beside it: the text of its document, what is told, and every file.
fn finish(
    path: &Path,
    mut document: Value,
    plan: Option<&Plan>,
) -> Result<(String, Told, Vec<PathBuf>), Failure> {
    let inputs: Vec<PathBuf> = Vec::new();
    let out = path.parent().unwrap_or(Path::new("."));
    let mut files = vec![path.to_owned()];
    let names: Vec<String> = names(&document).map(str::to_owned).collect();
    let sampled = !document["seed"].is_null();
    let title = document["title"].as_str().unwrap_or_default().to_owned();
    let map = match document["design"] == "full" {
        true => {
            let rows = document["rows"].as_u64().unwrap_or(0);
            Map::of_table(path, &varies(&document), rows)?
        }
        false => None,
    };
    let (told, map) = told::of_merged(path, &names, sampled, plan, map, &title)?;
    if let Some(map) = map {
        let path = out.join("results.svg");
        let file = OneFile::open(&path, &inputs, "<svg")?;
        file.write(|to| to.write_all(map.as_bytes()))?;
        files.push(path);
    }
    document["told"] = serde_json::to_value(&told).unwrap_or_default();
    let file = OneFile::open(&out.join("study.json"), &inputs, "\"ringwright-study-")?;
    let text = format!("{document:#}\n");
    file.write(|to| to.write_all(text.as_bytes()))?;
    #[cfg(feature = "parquet")]
    files.extend(super::parquet::write(
        path,
        &columns(&document),
        &text,
        &inputs,
    )?);
    Ok((text, told, files))
}

/// Paths of the keys that vary.
fn varies(document: &Value) -> Vec<String> {
    let paths = document["varies"].as_array().into_iter().flatten();
    let paths = paths.filter_map(Value::as_str);
    paths.map(str::to_owned).collect()
}

/// Names of the columns, and what they hold.
#[cfg(feature = "parquet")]
fn columns(document: &Value) -> Vec<(String, table::ColumnType)> {
    let of = |k: usize| document["types"][k].as_str().unwrap_or_default();
    let columns = names(document).enumerate();
    columns
        .map(|(k, name)| (name.to_owned(), table::ColumnType::named(of(k))))
        .collect()
}

fn wrong(path: &Path, message: String) -> Failure {
    Failure::at(
        FailureKind::Input,
        &path.display().to_string(),
        [0, 0],
        message,
    )
}

fn document(dir: &Path) -> Result<Value, Failure> {
    let path = dir.join("study.json");
    let text = fs::read_to_string(&path).map_err(|e| {
        Failure::io(
            &path,
            format!(
                "cannot read {}: {e}; it is written by `ringwright study`",
                path.display()
            ),
        )
    })?;
    let document: Value = serde_json::from_str(&text)
        .map_err(|e| wrong(&path, format!("is no document of a study: {e}")))?;
    match document["format"].as_str() {
        Some("ringwright-study-1") => Ok(document),
        _ => Err(wrong(&path, "is no document of a study".into())),
    }
}

/// Tables of a folder that are whole.
fn tables(dir: &Path) -> Result<Vec<PathBuf>, Failure> {
    let list = fs::read_dir(dir)
        .map_err(|e| Failure::io(dir, format!("cannot read {}: {e}", dir.display())))?;
    let mut all: Vec<PathBuf> = list
        .filter_map(|entry| Some(entry.ok()?.path()))
        .filter(|p| {
            let name = p.file_name().and_then(|n| n.to_str()).unwrap_or_default();
            name.starts_with("results-") && name.ends_with(".csv") && name.contains("-of-")
        })
        .collect();
    all.sort();
    Ok(all)
}

/// The number of the first row of a table.
fn first_row(path: &Path) -> Result<Option<u64>, Failure> {
    let fail =
        |e: std::io::Error| Failure::io(path, format!("cannot read {}: {e}", path.display()));
    let file = fs::File::open(path).map_err(fail)?;
    let mut lines = BufReader::new(file).lines().skip(1);
    let Some(line) = lines.next() else {
        return Ok(None);
    };
    let line = line.map_err(fail)?;
    let number = table::cells(&line).and_then(|c| c.first()?.parse().ok());
    number
        .map(Some)
        .ok_or_else(|| wrong(path, "its first row has no number".into()))
}

/// Writes all tables as one; how many rows there are.
fn put(
    shards: &BTreeMap<u64, PathBuf>,
    document: &Value,
    out: &mut dyn Write,
) -> Result<u64, Failure> {
    let header = table::line(names(document));
    let wanted = document["rows"].as_u64().unwrap_or(0);
    let mut next = 0;
    let write = |e: std::io::Error| Failure::from(ReportError::write(Path::new("results.csv"), e));
    out.write_all(header.as_bytes()).map_err(write)?;
    for (first, path) in shards {
        if *first != next {
            return Err(wrong(
                path,
                format!(
                    "begins with row {first}, and {next} comes next: a shard is missing, not finished, or there twice"
                ),
            ));
        }
        let fail =
            |e: std::io::Error| Failure::io(path, format!("cannot read {}: {e}", path.display()));
        let mut reader = BufReader::new(fs::File::open(path).map_err(fail)?);
        let mut line = String::new();
        reader.read_line(&mut line).map_err(fail)?;
        if line != header {
            return Err(wrong(path, "has other columns than its plan".into()));
        }
        loop {
            line.clear();
            if reader.read_line(&mut line).map_err(fail)? == 0 {
                break;
            }
            out.write_all(line.as_bytes()).map_err(write)?;
            next += 1;
        }
    }
    match next == wanted {
        true => Ok(next),
        false => Err(wrong(
            Path::new("results.csv"),
            format!(
                "{next} rows are there, and the plan has {wanted}: a shard is missing or not finished"
            ),
        )),
    }
}
