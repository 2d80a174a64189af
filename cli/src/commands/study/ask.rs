//! `study ask`: the next points of a study that were not handed out before, as a table that `study tell` takes.

use std::fs::{File, OpenOptions};
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use ringwright_solver::report::ReportError;
use ringwright_solver::report::files::OneFile;
use ringwright_solver::scheme::Registry;
use ringwright_solver::study::{MOST_ROWS, Typed};
use serde_json::{Map, Value, json};

use super::ledger::append;
use super::{Study, enter, load, points, table};
use crate::Exit;
use crate::args::AskArgs;
use crate::commands::{folder_for, program};
use crate::failure::{Failure, FailureKind, Outcome};
use crate::screen::Screen;

pub(super) fn run(args: &AskArgs, registry: &Registry, screen: &mut Screen) -> Outcome {
    let study = load(&args.study, args.hold.as_deref(), &args.set, registry)?;
    let dir = folder_for(args.out.as_ref(), &args.study)?;
    enter(&dir, &study)?;
    let mut list = List::open(&dir.join("asked.csv"))?;
    let first = list.next;
    let count = args.count.min(MOST_ROWS.saturating_sub(first));
    let asked = study.space().from(first, count);
    let asked = asked.map_err(|e| Failure::new(FailureKind::Input, e.to_string()))?;
    let to = match &args.to {
        Some(path) if path == Path::new("-") => None,
        Some(path) => Some(path.clone()),
        None => Some(list.free_name(&dir)),
    };
    let last = (first + asked.len() as u64).saturating_sub(1);
    let short = format!(
        "{} of {} points are left: {first} were handed out before",
        asked.len(),
        args.count
    );
    if asked.is_empty() {
        return nothing_left(&study, to.is_none(), &short, screen);
    }
    if (asked.len() as u64) < args.count {
        screen.note(&format!("ringwright: {short}"));
    }
    let which = match asked.len() {
        1 => format!("point {first}"),
        _ => format!("points {first} to {last}"),
    };
    let shown = to.as_deref().unwrap_or(Path::new("FILE"));
    let mut text = points::head(args, &study.digest, shown, &which);
    text += &table::line(study.plan.paths().iter().map(String::as_str));
    for point in &asked {
        let cells: Vec<String> = point.iter().map(Typed::to_string).collect();
        text += &table::line(cells.iter().map(String::as_str));
    }
    match &to {
        Some(path) => {
            let file = match args.to {
                Some(_) => OneFile::open(path, &study.inputs, points::MARK)?,
                None => OneFile::open_new(path)?,
            };
            list.add(asked.len() as u64, &path.display().to_string())?;
            if let Err(e) = file.write(|out| out.write_all(text.as_bytes())) {
                // nobody has them
                list.take_back()?;
                return Err(e.into());
            }
            screen.say(&format!(
                "Written to {}: {which} of the study\n",
                path.display()
            ));
        }
        None => {
            list.add(asked.len() as u64, "-")?;
            if !screen.json {
                screen.answer(&text);
            }
        }
    }
    if screen.json {
        screen.answer(&document(&study, &asked, first, to.as_deref()));
    }
    if to.is_none() && !screen.is_sent() {
        // nobody has them
        list.take_back()?;
    }
    Ok(Exit::Done)
}

/// A design that ends has no more points.
fn nothing_left(study: &Study, bare: bool, short: &str, screen: &mut Screen) -> Outcome {
    match (screen.json, bare) {
        (true, _) => screen.answer(&document(study, &[], study.plan.rows(), None)),
        (false, true) => {
            screen.answer(&table::line(study.plan.paths().iter().map(String::as_str)));
            screen.note(&format!("ringwright: {short}"));
        }
        (false, false) => screen.say(&format!("{short}\n")),
    }
    Ok(Exit::Done)
}

/// The points as a document.
fn document(study: &Study, asked: &[Vec<Typed>], first: u64, file: Option<&Path>) -> String {
    let point = |values: &Vec<Typed>| -> Value {
        let both = study.plan.paths().iter().zip(values);
        let value = |typed: &Typed| match typed {
            Typed::Whole(n) => json!(n),
            Typed::Number(x) => json!(x),
            Typed::Flag(flag) => json!(flag),
            Typed::Text(text) => json!(text),
        };
        let all: Map<String, Value> = both.map(|(p, v)| (p.clone(), value(v))).collect();
        Value::Object(all)
    };
    let document = json!({
        "format": "ringwright-asked-1",
        "program": program(),
        "plan": study.digest,
        "first": first,
        "points": asked.iter().map(point).collect::<Vec<Value>>(),
        "file": file.map(|f| f.display().to_string()),
    });
    format!("{document:#}\n")
}

/// First line of the list of what was handed out.
const HEADER: &str = "first,count,to\n";

/// What was handed out so far, a line each time. It is locked as long as this lives, so that no two who ask at once get the same points.
struct List {
    path: PathBuf,
    file: File,
    /// The point that comes next.
    next: u64,
    /// Lines so far.
    lines: u64,
    /// Where the last whole line ends, bytes.
    end: u64,
}

impl List {
    fn open(path: &Path) -> Result<Self, Failure> {
        let fail = |e: io::Error| Failure::from(ReportError::write(path, e));
        let mut file = OpenOptions::new()
            .read(true)
            .write(true)
            .create(true)
            .truncate(false)
            .open(path)
            .map_err(fail)?;
        file.lock().map_err(fail)?;
        let mut text = String::new();
        file.read_to_string(&mut text).map_err(fail)?;
        let wrong = |line: usize, message: &str| {
            let name = path.display().to_string();
            let message = message.to_owned();
            Failure::at(FailureKind::Input, &name, [line, 0], message)
        };
        let mut list = Self {
            path: path.to_owned(),
            file,
            next: 0,
            lines: 0,
            end: 0,
        };
        for (k, line) in text.split_inclusive('\n').enumerate() {
            match k {
                // a line that was cut short is written again
                _ if !line.ends_with('\n') => break,
                0 if line == HEADER => {}
                0 => {
                    let message =
                        "is no list of what `study ask` handed out; give another folder with --out";
                    return Err(wrong(1, message));
                }
                _ => {
                    let cells = table::cells(line.trim_end()).unwrap_or_default();
                    let number = |k: usize| cells.get(k).and_then(|c| c.parse::<u64>().ok());
                    let (Some(first), Some(count)) = (number(0), number(1)) else {
                        return Err(wrong(
                            k + 1,
                            "is not as it was written: first and count are numbers",
                        ));
                    };
                    list.next = first.saturating_add(count);
                    list.lines += 1;
                }
            }
            list.end += line.len() as u64;
        }
        Ok(list)
    }

    /// The first name of `asked-1.csv`, `asked-2.csv` ... that no file has.
    fn free_name(&self, dir: &Path) -> PathBuf {
        let mut number = self.lines + 1;
        loop {
            let path = dir.join(format!("asked-{number}.csv"));
            if std::fs::symlink_metadata(&path).is_err() {
                return path;
            }
            number += 1;
        }
    }

    /// Writes down that so many more are handed out.
    fn add(&mut self, count: u64, to: &str) -> Result<(), Failure> {
        let first = self.next.to_string();
        let mut text = match self.end {
            0 => HEADER.to_owned(),
            _ => String::new(),
        };
        text += &table::line([first.as_str(), &count.to_string(), to].into_iter());
        let added = append(&mut self.file, self.end, &text);
        added.map_err(|e| ReportError::write(&self.path, e).into())
    }

    /// Takes the last line away again.
    fn take_back(&mut self) -> Result<(), Failure> {
        let cut = self.file.set_len(self.end);
        cut.map_err(|e| ReportError::write(&self.path, e).into())
    }
}
