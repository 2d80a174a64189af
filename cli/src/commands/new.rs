//! `new`: a commented example case that runs.

use std::fs::OpenOptions;
use std::io::{ErrorKind, Write};

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
    // creating it only if it is not there leaves no moment in which another's file could be lost
    let made = OpenOptions::new()
        .write(true)
        .create_new(true)
        .open(path)
        .and_then(|mut file| {
            file.write_all(EXAMPLE.as_bytes()).inspect_err(|_| {
                let _ = std::fs::remove_file(path);
            })
        });
    made.map_err(|e| {
        let (file, path) = (path, path.display());
        let words = if e.kind() == ErrorKind::AlreadyExists {
            format!("{path} is already there and is left as it is; give another name")
        } else {
            format!("cannot write {path}: {e}")
        };
        Failure::io(file, words)
    })?;
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
