//! `new`: a commented example case that runs.

use std::io::ErrorKind;

use ringwright_solver::report::ReportError;
use ringwright_solver::report::files::OneFile;

use super::not_written;
use crate::Exit;
use crate::args::NewArgs;
use crate::render::json;
use crate::screen::Screen;

/// The example.
pub(crate) const EXAMPLE: &str = include_str!("../../examples/ring.toml");

pub(crate) fn run(args: &NewArgs, screen: &mut Screen) -> Exit {
    let Some(path) = &args.file else {
        if screen.json {
            screen.answer(&json::new(None, EXAMPLE));
        } else {
            screen.answer(EXAMPLE);
        }
        return Exit::Done;
    };
    let made = OneFile::open(path, &[])
        .and_then(|file| file.write_new(|out| out.write_all(EXAMPLE.as_bytes())));
    match made {
        Ok(()) => {
            if screen.json {
                screen.answer(&json::new(Some(path), EXAMPLE));
            }
            screen.say(&format!(
                "{}\nNext: ringwright run {}\n",
                path.display(),
                path.display()
            ));
            Exit::Done
        }
        Err(ReportError::Write { source, .. }) if source.kind() == ErrorKind::AlreadyExists => {
            screen.error(&format!(
                "ringwright: {} is already there and is left as it is; give another name",
                path.display()
            ));
            Exit::Io
        }
        Err(error) => not_written(&error, screen),
    }
}
