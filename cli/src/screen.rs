//! Where words go: the answer to standard output, the rest to standard error. Nobody else writes to either.

use std::io::{self, ErrorKind, Write};

use ringwright_solver::case::steers;

use crate::args::Common;
use crate::failure::Failure;
use crate::{Exit, progress};

/// The two streams, and how talkative to be.
pub(crate) struct Screen<'a> {
    out: &'a mut dyn Write,
    err: &'a mut dyn Write,
    pub(crate) json: bool,
    pub(crate) quiet: bool,
    verbose: bool,
    failure: Option<io::Error>,
}

impl<'a> Screen<'a> {
    pub(crate) fn new(out: &'a mut dyn Write, err: &'a mut dyn Write, common: &Common) -> Self {
        Self {
            out,
            err,
            json: common.json,
            quiet: common.quiet,
            verbose: common.verbose,
            failure: None,
        }
    }

    /// Writes an answer as it stands. After a failure nothing more is written.
    pub(crate) fn answer(&mut self, text: &str) {
        if self.failure.is_none() {
            self.failure = self.out.write_all(text.as_bytes()).err();
        }
    }

    /// Whether all that was answered has gone out.
    pub(crate) fn is_sent(&mut self) -> bool {
        if self.failure.is_none() {
            self.failure = self.out.flush().err();
        }
        self.failure.is_none()
    }

    /// An answer for people: not with `--json`, not with `--quiet`.
    pub(crate) fn say(&mut self, text: &str) {
        if !self.json && !self.quiet {
            self.answer(&harmless(text));
        }
    }

    /// A line that only matters to who asked for `--verbose`.
    pub(crate) fn detail(&mut self, text: &str) {
        if self.verbose {
            self.error(text);
        }
    }

    /// A line on standard error that `--quiet` leaves out.
    pub(crate) fn note(&mut self, text: &str) {
        if !self.quiet {
            self.error(text);
        }
    }

    /// An error line. Standard error may be closed too: there is then nobody left to tell.
    pub(crate) fn error(&mut self, text: &str) {
        progress::wipe();
        let _ = writeln!(self.err, "{}", harmless(text.trim_end()));
    }

    /// Says why there is no answer.
    pub(crate) fn failure(&mut self, failure: &Failure) -> Exit {
        self.error(&failure.words);
        if self.json {
            self.answer(&failure.document());
        }
        failure.exit
    }

    /// Flushes; a reader that went away (`| head`) is no failure, a full disk is.
    pub(crate) fn finish(mut self, exit: Exit) -> Exit {
        let failure = self.failure.take().or_else(|| self.out.flush().err());
        match failure {
            Some(e) if e.kind() != ErrorKind::BrokenPipe => {
                self.error(&format!("ringwright: cannot write to standard output: {e}"));
                if exit == Exit::Done { Exit::Io } else { exit }
            }
            _ => exit,
        }
    }
}

/// A text without what could steer the terminal: titles, file names and the words of others come from anywhere.
fn harmless(text: &str) -> String {
    let breaks = |c| c == '\n' || c == '\t';
    text.chars()
        .map(|c| if steers(c) && !breaks(c) { ' ' } else { c })
        .collect()
}

/// A line that an outside program wrote to its standard error. It comes at any time and from another thread, so it goes past
/// the screen, whole.
pub(crate) fn from_outside(line: &str) {
    progress::wipe();
    let _ = io::stderr().write_all(format!("{line}\n").as_bytes());
}
