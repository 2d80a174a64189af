//! `new`: a commented example case that runs.

use std::io::ErrorKind;
use std::path::Path;

use ringwright_solver::report::ReportError;
use ringwright_solver::report::files::OneFile;

use crate::Exit;
use crate::args::NewArgs;
use crate::failure::{Failure, Outcome};
use crate::render::json;
use crate::screen::Screen;

/// The example.
pub(crate) const EXAMPLE: &str = include_str!("../../examples/ring.toml");

pub(crate) fn run(args: &NewArgs, screen: &mut Screen) -> Outcome {
    let Some(path) = &args.file else {
        if screen.json {
            screen.answer(&json::new(None, EXAMPLE));
        } else {
            screen.answer(EXAMPLE);
        }
        return Ok(Exit::Done);
    };
    OneFile::open_new(path)
        .and_then(|file| file.write_new(|out| out.write_all(EXAMPLE.as_bytes())))
        .map_err(|e| not_made(path, e))?;
    if screen.json {
        screen.answer(&json::new(Some(path), EXAMPLE));
    }
    screen.say(&format!(
        "{}\nNext: ringwright run {}\n",
        path.display(),
        path.display()
    ));
    Ok(Exit::Done)
}

fn not_made(path: &Path, error: ReportError) -> Failure {
    match &error {
        ReportError::Write { source, .. } if source.kind() == ErrorKind::AlreadyExists => {
            let shown = path.display();
            let words = format!("{shown} is already there and is left as it is; give another name");
            Failure::io(path, words)
        }
        _ => error.into(),
    }
}
