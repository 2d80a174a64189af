//! `new`: a commented case that runs: the worked example, or one for a job and a blank of the user's.

mod blank;
mod job;
mod text;

use std::borrow::Cow;
use std::io::ErrorKind;
use std::path::Path;

use ringwright_solver::report::ReportError;
use ringwright_solver::report::files::OneFile;

use super::folder_of;
use crate::Exit;
use crate::args::NewArgs;
use crate::failure::{Failure, FailureKind, Outcome};
use crate::render::json;
use crate::screen::Screen;

/// The example.
pub(crate) const EXAMPLE: &str = include_str!("../../../examples/ring.toml");

/// What an editor finds the schema by, if this file lies beside a case.
const SCHEMA: &str = "case.schema.json";

pub(crate) fn run(args: &NewArgs, screen: &mut Screen) -> Outcome {
    let case: Cow<str> = if args.names_a_job() {
        let wrong = |words| Failure::new(FailureKind::Usage, words);
        let blank = blank::Blank::of(args).map_err(wrong)?;
        text::case(&blank, args).into()
    } else {
        EXAMPLE.into()
    };
    let Some(path) = &args.file else {
        if screen.json {
            screen.answer(&json::new(None, &case));
        } else {
            screen.answer(&case);
        }
        return Ok(Exit::Done);
    };
    let case = with_schema(path, case);
    OneFile::open_new(path)
        .and_then(|file| file.write_new(|out| out.write_all(case.as_bytes())))
        .map_err(|e| not_made(path, e))?;
    if screen.json {
        screen.answer(&json::new(Some(path), &case));
    }
    screen.say(&format!(
        "{}\nNext: ringwright run {}\n",
        path.display(),
        path.display()
    ));
    Ok(Exit::Done)
}

/// The case with the line by which editors find the schema, if that lies beside it: one that names a file which is not there is a complaint in
/// every editor that reads it.
fn with_schema<'a>(path: &Path, case: Cow<'a, str>) -> Cow<'a, str> {
    if folder_of(path).join(SCHEMA).is_file() {
        format!("#:schema ./{SCHEMA}\n{case}").into()
    } else {
        case
    }
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
