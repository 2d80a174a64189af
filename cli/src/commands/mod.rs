//! One file a command.

pub(crate) mod check;
pub(crate) mod compare;
pub(crate) mod completions;
pub(crate) mod gauge;
pub(crate) mod man;
pub(crate) mod materials;
pub(crate) mod mesh;
pub(crate) mod new;
pub(crate) mod run;
pub(crate) mod schemes;
pub(crate) mod size;
pub(crate) mod study;

use std::io;
use std::path::{Path, PathBuf};

use ringwright_solver::case::{
    self, Case, Change, MOST_CASE_BYTES, Origin, Problem, ProblemKind, hold_in_every_step,
    open_input, read_little_over,
};
use ringwright_solver::process::ProcessError;
use ringwright_solver::report::{Program, ReportError};
use ringwright_solver::scheme::Registry;
use ringwright_solver::study::Base;

use crate::args::{CaseArgs, Common};
use crate::failure::{Failure, FailureKind};
use crate::interrupt;
use crate::progress::Watcher;

/// A case file and its text.
pub(crate) struct Source {
    /// How messages call it.
    pub(crate) name: String,
    pub(crate) text: String,
    /// What was read of it beside the case.
    pub(crate) origin: Origin,
}

impl Source {
    pub(crate) fn new(name: String, text: String) -> Self {
        Self {
            name,
            text,
            origin: Origin::default(),
        }
    }
}

/// A case that cannot be read.
enum NoText {
    Io(String),
    NotText(Problem),
}

fn fetch(path: &Path) -> Result<String, NoText> {
    let io = |e: io::Error| {
        let hint = if e.kind() == io::ErrorKind::NotFound {
            "; `ringwright new FILE` writes an example"
        } else {
            ""
        };
        NoText::Io(format!("cannot read {}: {e}{hint}", path.display()))
    };
    let bytes = if path == Path::new("-") {
        read_little_over(io::stdin().lock(), MOST_CASE_BYTES)
    } else {
        open_input(path).and_then(|file| read_little_over(file, MOST_CASE_BYTES))
    };
    let bytes = bytes.map_err(io)?;
    if bytes.len() > MOST_CASE_BYTES {
        return Err(NoText::NotText(case::too_long()));
    }
    String::from_utf8(bytes).map_err(|e| {
        let good = String::from_utf8_lossy(&e.as_bytes()[..e.utf8_error().valid_up_to()]);
        NoText::NotText(Problem {
            line: good.matches('\n').count() + 1,
            column: good.chars().rev().take_while(|c| *c != '\n').count() + 1,
            field: String::new(),
            message: "not UTF-8 text; save the file as UTF-8".into(),
            kind: ProblemKind::Input,
        })
    })
}

/// A case that has passed every check that needs no solving, its text, and what was changed of it.
pub(crate) struct Loaded {
    pub(crate) case: Case,
    pub(crate) source: Source,
    pub(crate) changes: Vec<Change>,
}

impl Loaded {
    /// The case as what others are variants of.
    pub(crate) fn base<'a>(&'a self, file: &'a Path, registry: &'a Registry) -> Base<'a> {
        Base {
            text: &self.source.text,
            changes: &self.changes,
            folder: Some(folder_of(file)),
            registry,
        }
    }
}

/// What `--hold` and `--set` change of a case.
pub(crate) fn changes_of(text: &str, hold: Option<&str>, set: &[Change]) -> Vec<Change> {
    let mut changes = hold.map_or(Vec::new(), |name| hold_in_every_step(text, name));
    changes.extend(set.iter().cloned());
    changes
}

/// Reads and checks a case, what is to be other than its file says put in.
pub(crate) fn load_changed(args: &CaseArgs, registry: &Registry) -> Result<Loaded, Failure> {
    let mut source = text_of(&args.file)?;
    let changes = changes_of(&source.text, args.hold.as_deref(), &args.set);
    let folder = Some(folder_of(&args.file));
    match case::read_changed(&source.text, &changes, registry, folder) {
        Ok((case, origin)) => {
            source.origin = origin;
            Ok(Loaded {
                case,
                source,
                changes,
            })
        }
        Err(problems) => Err(Failure::of_case(&problems, &source)),
    }
}

/// The same, for who asks for no more.
pub(crate) fn load(args: &CaseArgs, registry: &Registry) -> Result<(Case, Source), Failure> {
    load_changed(args, registry).map(|loaded| (loaded.case, loaded.source))
}

/// `<case file stem>-out`, in the folder where the program was called.
pub(crate) fn default_folder(case: &Path) -> PathBuf {
    let mut name = match case.file_stem() {
        Some(stem) if case != Path::new("-") => stem.to_owned(),
        _ => "case".into(),
    };
    name.push("-out");
    PathBuf::from(name)
}

/// The folder for the files of a command, made if it is not there.
pub(crate) fn folder_for(out: Option<&PathBuf>, input: &Path) -> Result<PathBuf, ReportError> {
    let dir = out.cloned().unwrap_or_else(|| default_folder(input));
    make_folder(&dir)?;
    Ok(dir)
}

/// Makes a folder for files, if it is not there.
pub(crate) fn make_folder(dir: &Path) -> Result<(), ReportError> {
    let made = match dir.is_file() {
        true => Err(io::ErrorKind::NotADirectory.into()),
        false => std::fs::create_dir_all(dir),
    };
    made.map_err(|e| ReportError::write(dir, e))
}

/// Which program this is.
pub(crate) fn program() -> Program {
    Program {
        version: env!("CARGO_PKG_VERSION").into(),
        commit: env!("RINGWRIGHT_COMMIT").into(),
    }
}

/// The text of a case file.
pub(crate) fn text_of(path: &Path) -> Result<Source, Failure> {
    let name = name_of(path);
    match fetch(path) {
        Ok(text) => Ok(Source::new(name, text)),
        Err(NoText::Io(message)) => Err(Failure::io(path, message)),
        Err(NoText::NotText(problem)) => {
            let source = Source::new(name, String::new());
            Err(Failure::of_case(&[problem], &source))
        }
    }
}

/// How messages call an input.
pub(crate) fn name_of(path: &Path) -> String {
    if path == Path::new("-") {
        "standard input".to_owned()
    } else {
        path.display().to_string()
    }
}

/// Where the files that a case names are looked for: beside it, or where the program was called if it came through a pipe.
pub(crate) fn folder_of(case: &Path) -> &Path {
    match case.parent() {
        Some(folder) if folder != Path::new("") => folder,
        _ => Path::new("."),
    }
}

/// Solves with the threads asked for, progress shown and signals heeded; nothing is written once a signal has come.
pub(crate) fn solve<T: Send>(
    common: &Common,
    source: &Source,
    work: impl FnOnce(&Watcher) -> Result<T, ProcessError> + Send,
) -> Result<T, Failure> {
    let watcher = Watcher::new(common);
    let solved = with_threads(common.threads, || work(&watcher))?;
    // what is said next stands on a line of its own
    drop(watcher);
    let answer = solved.map_err(|e| Failure::of_solve(&e, source))?;
    interrupt::check()?;
    Ok(answer)
}

/// Runs `work` with the threads asked for.
pub(crate) fn with_threads<T: Send>(
    threads: Option<u16>,
    work: impl FnOnce() -> T + Send,
) -> Result<T, Failure> {
    Ok(Threads::new(threads)?.run(work))
}

/// The threads asked for, to work with again and again.
pub(crate) struct Threads(Option<rayon::ThreadPool>);

impl Threads {
    pub(crate) fn new(asked: Option<u16>) -> Result<Self, Failure> {
        let Some(n) = asked else {
            return Ok(Self(None));
        };
        let threads = || rayon::ThreadPoolBuilder::new().num_threads(usize::from(n));
        // one thread is this one, unless an earlier call in the process has taken it: another would cost a memory pool of its own
        let own = (n == 1).then(|| threads().use_current_thread().build().ok());
        own.flatten()
            .map_or_else(|| threads().build(), Ok)
            .map(|pool| Self(Some(pool)))
            .map_err(|e| Failure::new(FailureKind::Usage, format!("cannot start {n} threads: {e}")))
    }

    pub(crate) fn run<T: Send>(&self, work: impl FnOnce() -> T + Send) -> T {
        match &self.0 {
            Some(pool) => pool.install(work),
            // on a thread of the pool, so that what is shared out is not handed over each time
            None => rayon::join(work, || ()).0,
        }
    }

    /// How many there are.
    pub(crate) fn count(&self) -> usize {
        self.0.as_ref().map_or_else(
            rayon::current_num_threads,
            rayon::ThreadPool::current_num_threads,
        )
    }
}
