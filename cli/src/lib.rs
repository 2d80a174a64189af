//! The command line of ringwright.
//!
//! The answer goes to standard output, everything else to standard error. What a command found is printed here
//! and nowhere below. Read [`run`] and [`Exit`] first; each command is a file of `commands`.

mod args;
mod commands;
mod configuration;
mod failure;
mod interrupt;
mod outputs;
mod programs;
mod progress;
mod render;
mod screen;

use std::ffi::OsString;
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::Parser;
use ringwright_solver::scheme::Registry;

use args::{Args, Command};
use failure::{Failure, FailureKind, Outcome};
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
    /// A signal ended the command; another than an interrupt from the keyboard has its own number, 128 and the signal's.
    Interrupted = 130,
}

/// Runs the program on these arguments (the first is the program's name), with the standard streams and the user's own
/// configuration.
///
/// An outside crate that adds schemes calls this from its own `main` with its own registry.
pub fn run(args: impl IntoIterator<Item = OsString>, registry: &Registry) -> ExitCode {
    interrupt::listen();
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
    ExitCode::from(match exit {
        Exit::Interrupted => interrupt::status(),
        exit => exit as u8,
    })
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
    let args: Vec<OsString> = args.into_iter().collect();
    let json = args
        .iter()
        .take_while(|a| *a != "--")
        .any(|a| a == "--json");
    interrupt::answers_in_json(json);
    let args = match Args::try_parse_from(args) {
        Ok(args) => args,
        Err(e) => {
            // help and version are answers, the rest are complaints
            let text = e.render().to_string();
            if e.use_stderr() {
                let _ = err.write_all(text.as_bytes());
                if json {
                    let failure = Failure::new(FailureKind::Usage, text.trim_end());
                    let document = failure.document();
                    let _ = out
                        .write_all(document.as_bytes())
                        .and_then(|()| out.flush());
                }
                return Exit::Usage;
            }
            let _ = out.write_all(text.as_bytes()).and_then(|()| out.flush());
            return Exit::Done;
        }
    };
    let mut screen = Screen::new(out, err, &args.common);
    let outcome = with_programs(&args, registry, configuration.as_deref(), &mut screen);
    let exit = match outcome {
        Ok(exit) => exit,
        // what a command says of programs that died, or of a read that broke off, is not the reason that it ends
        Err(failure) if interrupt::came() && failure.kind != FailureKind::Interrupted => {
            screen.failure(&interrupt::failure())
        }
        Err(failure) => screen.failure(&failure),
    };
    screen.finish(exit)
}

/// Runs the command with the outside programs that it may want, which end with it.
fn with_programs(
    args: &Args,
    registry: &Registry,
    configuration: Option<&Path>,
    screen: &mut Screen,
) -> Outcome {
    if !args.command.uses_schemes() {
        return command(args, registry, screen);
    }
    // the programs end with `outside`
    let outside = programs::start(args, configuration, registry, screen)?;
    command(args, &outside.registry, screen)
}

fn command(args: &Args, registry: &Registry, screen: &mut Screen) -> Outcome {
    match &args.command {
        Command::Run(a) => commands::run::run(a, &args.common, registry, screen),
        Command::Mesh(a) => commands::mesh::run(a, &args.common, registry, screen),
        Command::Check(a) => commands::check::run(a, registry, screen),
        Command::New(a) => commands::new::run(a, screen),
        Command::Schemes(a) => commands::schemes::run(a, &args.common, registry, screen),
        Command::Materials(a) => commands::materials::run(a, screen),
        Command::Compare(a) => commands::compare::run(a, &args.common, registry, screen),
        Command::Size(a) => commands::size::run(a, &args.common, registry, screen),
        Command::Study(a) => commands::study::run(a, &args.common, registry, screen),
        Command::Gauge(a) => commands::gauge::run(a, &args.common, registry, screen),
        Command::Completions(a) => commands::completions::run(a, screen),
        Command::Man(a) => commands::man::run(a, screen),
    }
}
