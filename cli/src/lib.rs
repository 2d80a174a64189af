//! The command line of ringwright.
//!
//! The answer goes to standard output, everything else to standard error. What a command found is printed here
//! and nowhere below. Read [`run`] and [`Exit`] first; each command is a file of `commands`.

mod args;
mod commands;
mod configuration;
mod programs;
mod render;
mod screen;

use std::ffi::OsString;
use std::io::{self, Write};
use std::path::PathBuf;
use std::process::ExitCode;

use clap::Parser;
use ringwright_solver::scheme::Registry;

use args::{Args, Command};
use screen::Screen;

/// Exit status of the program.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Exit {
    /// Done.
    Done = 0,
    /// Solved, but a stated limit is not met and `--strict` was given.
    Limit = 1,
    /// Wrong use of the command line.
    Usage = 2,
    /// The input is wrong.
    Input = 3,
    /// No trustworthy answer could be reached.
    NotTrustworthy = 4,
    /// Reading or writing failed.
    Io = 5,
    /// An outside scheme failed.
    Scheme = 6,
}

/// Runs the program on these arguments (the first is the program's name), with the standard streams and the user's own
/// configuration.
///
/// An outside crate that adds schemes calls this from its own `main` with its own registry.
pub fn run(args: impl IntoIterator<Item = OsString>, registry: &Registry) -> ExitCode {
    // a block, not a line, at a time: a JSON document has thousands of lines
    let mut out = io::BufWriter::new(io::stdout().lock());
    // standard error is not locked: outside programs are heard on it at any time
    let exit = run_configured(
        args,
        registry,
        configuration::file(),
        &mut out,
        &mut io::stderr(),
    );
    if programs::was_interrupted() {
        return ExitCode::from(programs::INTERRUPTED);
    }
    ExitCode::from(exit as u8)
}

/// As [`run`], with streams of the caller's and no configuration; returns the exit status. What outside programs write to
/// their standard error goes to that of the process.
pub fn run_with(
    args: impl IntoIterator<Item = OsString>,
    registry: &Registry,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> Exit {
    run_configured(args, registry, None, out, err)
}

fn run_configured(
    args: impl IntoIterator<Item = OsString>,
    registry: &Registry,
    configuration: Option<PathBuf>,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> Exit {
    let args = match Args::try_parse_from(args) {
        Ok(args) => args,
        Err(e) => {
            // help and version are answers, the rest are complaints
            let text = e.render().to_string();
            if e.use_stderr() {
                let _ = err.write_all(text.as_bytes());
                return Exit::Usage;
            }
            let _ = out.write_all(text.as_bytes()).and_then(|()| out.flush());
            return Exit::Done;
        }
    };
    let mut screen = Screen::new(out, err, &args.common);
    let exit = if args.command.uses_schemes() {
        match programs::start(&args, configuration.as_deref(), registry, &mut screen) {
            // the programs end with `outside`
            Ok(outside) => command(&args, &outside.registry, &mut screen),
            Err(exit) => exit,
        }
    } else {
        command(&args, registry, &mut screen)
    };
    screen.finish(exit)
}

fn command(args: &Args, registry: &Registry, screen: &mut Screen) -> Exit {
    match &args.command {
        Command::Run(a) => commands::run::run(a, &args.common, registry, screen),
        Command::Mesh(a) => commands::mesh::run(a, &args.common, registry, screen),
        Command::Check(a) => commands::check::run(a, registry, screen),
        Command::New(a) => commands::new::run(a, screen),
        Command::Schemes(a) => commands::schemes::run(a, &args.common, registry, screen),
        Command::Materials(a) => commands::materials::run(a, screen),
        Command::Compare(_) => screen.not_built("compare"),
        Command::Size(_) => screen.not_built("size"),
        Command::Study(_) => screen.not_built("study"),
        Command::Gauge(a) => commands::gauge::run(a, &args.common, registry, screen),
    }
}
