//! `completions`: what a shell completes the commands by, from the one definition of the command line.

use clap::CommandFactory;

use crate::Exit;
use crate::args::{Args, CompletionsArgs};
use crate::failure::Outcome;
use crate::render::json;
use crate::screen::Screen;

pub(crate) fn run(args: &CompletionsArgs, screen: &mut Screen) -> Outcome {
    let mut text = Vec::new();
    clap_complete::generate(args.shell, &mut Args::command(), "ringwright", &mut text);
    let text = String::from_utf8_lossy(&text);
    if screen.json {
        screen.answer(&json::new(None, &text));
    } else {
        screen.answer(&text);
    }
    Ok(Exit::Done)
}
