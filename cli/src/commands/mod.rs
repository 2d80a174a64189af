//! One file a command.

pub(crate) mod check;
pub(crate) mod gauge;
pub(crate) mod materials;
pub(crate) mod mesh;
pub(crate) mod new;
pub(crate) mod run;
pub(crate) mod schemes;

use std::path::Path;

use ringwright_solver::case::{self, Case, MOST_CASE_BYTES, Problem, open_input, read_little_over};
use ringwright_solver::process::ProcessError;
use ringwright_solver::scheme::Registry;

use crate::Exit;
use crate::render::diagnostic;
use crate::screen::Screen;

/// A case file and its text.
pub(crate) struct Source {
    /// How messages call it.
    pub(crate) name: String,
    pub(crate) text: String,
}

/// A text that could not be had: what to say, and how to exit.
enum NoText {
    Io(String),
    NotText(Problem),
}

fn fetch(path: &Path) -> Result<String, NoText> {
    let io = |e: std::io::Error| {
        let hint = if e.kind() == std::io::ErrorKind::NotFound {
            "; `ringwright new FILE` writes an example"
        } else {
            ""
        };
        NoText::Io(format!("cannot read {}: {e}{hint}", path.display()))
    };
    let bytes = if path == Path::new("-") {
        read_little_over(std::io::stdin().lock(), MOST_CASE_BYTES)
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
            message: "not UTF-8 text, as TOML must be; save the file as UTF-8".into(),
            program_failed: false,
        })
    })
}

/// What reading a case file came to.
pub(crate) enum Loaded {
    Case(Box<Case>, Source),
    Problems(Vec<Problem>, Source),
    NoFile(String),
}

pub(crate) fn load(path: &Path, registry: &Registry) -> Loaded {
    let name = if path == Path::new("-") {
        "standard input".to_owned()
    } else {
        path.display().to_string()
    };
    let source = |text| Source { name, text };
    match fetch(path) {
        Err(NoText::Io(message)) => Loaded::NoFile(message),
        Err(NoText::NotText(problem)) => Loaded::Problems(vec![problem], source(String::new())),
        Ok(text) => match case::read_beside(&text, registry, folder_of(path)) {
            Ok(case) => Loaded::Case(Box::new(case), source(text)),
            Err(problems) => Loaded::Problems(problems, source(text)),
        },
    }
}

/// Where the files that a case names are looked for: beside it, or where the program was called if it came through a pipe.
fn folder_of(case: &Path) -> &Path {
    match case.parent() {
        Some(folder) if folder != Path::new("") => folder,
        _ => Path::new("."),
    }
}

/// A case ready to solve, or the exit status after saying why not.
pub(crate) fn case_or_exit(
    path: &Path,
    registry: &Registry,
    screen: &mut Screen,
) -> Result<(Case, Source), Exit> {
    match load(path, registry) {
        Loaded::Case(case, source) => Ok((*case, source)),
        Loaded::Problems(problems, source) => {
            screen.error(&diagnostic::problems(&problems, &source));
            Err(exit_of(&problems))
        }
        Loaded::NoFile(message) => {
            screen.error(&format!("ringwright: {message}"));
            Err(Exit::Io)
        }
    }
}

/// The exit status of a case with problems: a program that failed comes first, for its answer may have caused the rest.
pub(crate) fn exit_of(problems: &[Problem]) -> Exit {
    if problems.iter().any(|p| p.program_failed) {
        Exit::Scheme
    } else {
        Exit::Input
    }
}

/// Says why a case has no answer.
pub(crate) fn refuse(error: &ProcessError, source: &Source, screen: &mut Screen) -> Exit {
    match error {
        ProcessError::Input {
            line,
            field,
            message,
        }
        | ProcessError::Program {
            line,
            field,
            message,
        } => {
            let problems = [Problem {
                line: *line,
                column: 1,
                field: field.clone(),
                message: message.clone(),
                program_failed: matches!(error, ProcessError::Program { .. }),
            }];
            screen.error(&diagnostic::problems(&problems, source));
            exit_of(&problems)
        }
        ProcessError::NotTrustworthy { message } => {
            screen.error(&format!(
                "ringwright: no trustworthy answer: {message}\nNothing was written."
            ));
            Exit::NotTrustworthy
        }
    }
}

/// Runs `work` with the threads asked for.
pub(crate) fn with_threads<T: Send>(
    threads: Option<u16>,
    screen: &mut Screen,
    work: impl FnOnce() -> T + Send,
) -> Result<T, Exit> {
    let Some(n) = threads else {
        return Ok(work());
    };
    match rayon::ThreadPoolBuilder::new()
        .num_threads(usize::from(n))
        .build()
    {
        Ok(pool) => Ok(pool.install(work)),
        Err(e) => {
            screen.error(&format!("ringwright: cannot start {n} threads: {e}"));
            Err(Exit::Usage)
        }
    }
}
