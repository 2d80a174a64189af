//! `new`: a commented example case that runs.

use std::fs::OpenOptions;
use std::io::{ErrorKind, Write};

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
        Err(e) => {
            screen.error(&if e.kind() == ErrorKind::AlreadyExists {
                format!(
                    "ringwright: {} is already there and is left as it is; give another name",
                    path.display()
                )
            } else {
                format!("ringwright: cannot write {}: {e}", path.display())
            });
            Exit::Io
        }
    }
}
