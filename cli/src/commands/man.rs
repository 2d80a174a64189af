//! `man`: the manual pages of the program and of every command, from the one definition of the command line.

use std::io::{self, Write};

use clap::{Command, CommandFactory};
use clap_mangen::Man;
use ringwright_solver::report::ReportError;
use ringwright_solver::report::files::OneFile;

use crate::Exit;
use crate::args::{Args, ManArgs};
use crate::failure::{Failure, FailureKind, Outcome};
use crate::render::json;
use crate::screen::Screen;

/// What the head of every page shows, and of nothing that is not one of these pages.
const MARK: &str = ".TH ringwright";

pub(crate) fn run(args: &ManArgs, screen: &mut Screen) -> Outcome {
    let mut program = Args::command();
    program.build();
    let Some(dir) = &args.out else {
        let page = page(&program).map_err(not_rendered)?;
        if screen.json {
            screen.answer(&json::new(None, &page));
        } else {
            screen.answer(&page);
        }
        return Ok(Exit::Done);
    };
    std::fs::create_dir_all(dir).map_err(|e| ReportError::write(dir, e))?;
    let mut commands = Vec::new();
    gather(&program, &mut commands);
    let mut written = Vec::new();
    for command in commands {
        let page = page(command).map_err(not_rendered)?;
        let path = dir.join(format!("{}.1", name_of(command)));
        OneFile::open(&path, &[], MARK)?.write(|out| out.write_all(page.as_bytes()))?;
        screen.say(&format!("{}\n", path.display()));
        written.push(path.display().to_string());
    }
    if screen.json {
        screen.answer(&json::man(&written));
    }
    Ok(Exit::Done)
}

/// A command and all below it, but for the `help` that repeats each of them.
fn gather<'a>(command: &'a Command, found: &mut Vec<&'a Command>) {
    found.push(command);
    let below = command.get_subcommands();
    below
        .filter(|c| c.get_name() != "help")
        .for_each(|c| gather(c, found));
}

/// The name of a command's page: `ringwright-study-ask`.
fn name_of(command: &Command) -> &str {
    command
        .get_display_name()
        .unwrap_or_else(|| command.get_name())
}

/// A page in roff. The examples that open a command's help stand under a heading of their own: they are lines, and would be filled to a paragraph.
fn page(command: &Command) -> io::Result<String> {
    let examples = command.get_before_help().map(ToString::to_string);
    let mut out = Vec::new();
    let man = Man::new(command.clone().before_help(None::<&str>)).manual("ringwright");
    man.render_title(&mut out)?;
    man.render_name_section(&mut out)?;
    man.render_synopsis_section(&mut out)?;
    man.render_description_section(&mut out)?;
    if let Some(examples) = examples {
        section("EXAMPLES", &examples, &mut out)?;
    }
    man.render_options_section(&mut out)?;
    if command.has_subcommands() {
        man.render_subcommands_section(&mut out)?;
    }
    if let Some(more) = command.get_after_help() {
        section("NOTES", &more.to_string(), &mut out)?;
    }
    if command.get_version().is_some() {
        man.render_version_section(&mut out)?;
    }
    String::from_utf8(out).map_err(io::Error::other)
}

/// A section whose line ends stay. Lines that are too long for a page are broken at spaces by the formatter.
fn section(title: &str, text: &str, out: &mut dyn Write) -> io::Result<()> {
    writeln!(out, ".SH {title}")?;
    for line in text.lines() {
        if line.is_empty() {
            writeln!(out, ".PP")?;
        } else {
            // "\&" takes the meaning of a request from a dot or quote at the start of a line
            writeln!(out, "\\&{}\n.br", literal(line))?;
        }
    }
    Ok(())
}

/// Text that the formatter leaves as it is.
fn literal(line: &str) -> String {
    line.replace('\\', "\\e").replace('-', "\\-")
}

fn not_rendered(error: io::Error) -> Failure {
    Failure::new(
        FailureKind::Io,
        format!("a manual page cannot be made: {error}"),
    )
}
