//! How far a solve is, on standard error: on a terminal one line that is written over, elsewhere a line now and then. The same
//! eyes end the solve when a signal has come or the time allowed is over.

use std::io::{self, IsTerminal, Write};
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

use ringwright_solver::watch::{Progress, Stop, Watch};

use crate::args::Common;
use crate::interrupt;
use crate::screen::Screen;

/// Between two writings of the line on a terminal; a solve shorter than that shows none.
const REDRAWN: Duration = Duration::from_millis(200);

/// Between two lines elsewhere.
const LINES: Duration = Duration::from_secs(10);

/// Columns of a terminal that does not say how many it has.
const COLUMNS: usize = 80;

/// Whether the line stands on the terminal.
static SHOWN: AtomicBool = AtomicBool::new(false);

/// How progress is shown.
#[derive(Clone, Copy, PartialEq, Eq)]
enum How {
    Nothing,
    /// One line, written over.
    Terminal,
    Lines,
}

/// Who watches the solves of a command.
pub(crate) struct Watcher {
    start: Instant,
    limit: Option<Duration>,
    how: How,
    /// When progress was last shown.
    last: Mutex<Instant>,
    /// Cases that are solved, of a command that solves many and shows those alone.
    cases: Option<AtomicUsize>,
}

impl Watcher {
    pub(crate) fn new(common: &Common) -> Self {
        let start = Instant::now();
        Self {
            start,
            limit: common.time_limit,
            how: match (common.quiet, is_screen()) {
                (true, _) => How::Nothing,
                (false, true) => How::Terminal,
                (false, false) => How::Lines,
            },
            last: Mutex::new(start),
            cases: None,
        }
    }

    /// One of a search: it shows how many cases are solved, and not where each of them is.
    pub(crate) fn of_cases(common: &Common) -> Self {
        let mut of_cases = Self::new(common);
        of_cases.cases = Some(AtomicUsize::new(0));
        of_cases
    }

    /// One that shows nothing: whoever asked shows more.
    pub(crate) fn silent(common: &Common) -> Self {
        let mut silent = Self::new(common);
        silent.how = How::Nothing;
        silent
    }

    fn show(&self, progress: &Progress) {
        let every = match self.how {
            How::Nothing => return,
            How::Terminal => REDRAWN,
            How::Lines => LINES,
        };
        // whoever comes while another thread writes has nothing to add
        let Ok(mut last) = self.last.try_lock() else {
            return;
        };
        if last.elapsed() < every {
            return;
        }
        *last = Instant::now();
        let seconds = self.start.elapsed().as_secs_f64();
        let line = match self.cases.as_ref().map(|c| c.load(Ordering::Relaxed)) {
            None => format!("{seconds:.0} s: {progress}"),
            Some(0) => format!("{seconds:.0} s: the first cases, {progress}"),
            Some(n) => format!(
                "{seconds:.0} s: {n} cases solved, {:.1} a second",
                n as f64 / seconds.max(1e-9)
            ),
        };
        let _ = match self.how {
            How::Terminal => {
                SHOWN.store(true, Ordering::SeqCst);
                // a line that wraps cannot be written over
                let line: String = line.chars().take(columns() - 1).collect();
                write!(io::stderr(), "\r\x1b[K{line}")
            }
            _ => writeln!(io::stderr(), "ringwright: {line}"),
        };
    }
}

/// How many of many cases are done: on a terminal one line that is written over, elsewhere a line each tenth of them.
pub(crate) struct Bar {
    how: How,
    start: Instant,
    last: Instant,
    all: u64,
    done: u64,
    /// Tenths that were told.
    tenths: u64,
}

impl Bar {
    pub(crate) fn new(common: &Common, all: u64) -> Self {
        let now = Instant::now();
        Self {
            how: Watcher::new(common).how,
            start: now,
            last: now,
            all,
            done: 0,
            tenths: 0,
        }
    }

    /// So many more are done.
    pub(crate) fn at(&mut self, more: u64, screen: &mut Screen) {
        self.done += more;
        let tenths = (10 * self.done).checked_div(self.all).unwrap_or(10);
        let seconds = self.start.elapsed().as_secs_f64().max(1e-9);
        let rate = self.done as f64 / seconds;
        let left = (self.all - self.done) as f64 / rate;
        let line = format!(
            "{} of {} cases, {rate:.0} a second, {} left",
            self.done,
            self.all,
            long(left)
        );
        match self.how {
            How::Nothing => {}
            How::Terminal if self.last.elapsed() >= REDRAWN => {
                self.last = Instant::now();
                SHOWN.store(true, Ordering::SeqCst);
                let line: String = line.chars().take(columns() - 1).collect();
                let _ = write!(io::stderr(), "\r\x1b[K{line}");
            }
            How::Terminal => {}
            How::Lines if tenths > self.tenths => screen.note(&format!("ringwright: {line}")),
            How::Lines => {}
        }
        self.tenths = tenths;
    }
}

impl Drop for Bar {
    fn drop(&mut self) {
        wipe();
    }
}

/// A time as people say it.
fn long(seconds: f64) -> String {
    match seconds {
        s if s < 90.0 => format!("{s:.0} s"),
        s if s < 5400.0 => format!("{:.0} min", s / 60.0),
        s => format!("{:.1} h", s / 3600.0),
    }
}

/// Whether standard error is a terminal whose lines can be written over.
fn is_screen() -> bool {
    io::stderr().is_terminal() && std::env::var_os("TERM").is_none_or(|term| term != "dumb")
}

/// Columns of the terminal.
fn columns() -> usize {
    #[cfg(unix)]
    let known = rustix::termios::tcgetwinsize(io::stderr())
        .ok()
        .map(|size| usize::from(size.ws_col));
    #[cfg(not(unix))]
    let known: Option<usize> = None;
    known.filter(|&n| n > 1).unwrap_or(COLUMNS)
}

impl Watch for Watcher {
    fn at(&self, progress: &Progress) -> Result<(), Stop> {
        if interrupt::came() {
            return Err(Stop::Interrupted);
        }
        if self.limit.is_some_and(|limit| self.start.elapsed() > limit) {
            return Err(Stop::TimeLimit);
        }
        self.show(progress);
        Ok(())
    }

    fn solved(&self, cases: usize) {
        if let Some(all) = &self.cases {
            all.fetch_max(cases, Ordering::Relaxed);
        }
    }

    fn limits_time(&self) -> bool {
        self.limit.is_some()
    }
}

impl Drop for Watcher {
    fn drop(&mut self) {
        // nobody may be writing any more
        drop(self.last.lock().unwrap_or_else(PoisonError::into_inner));
        wipe();
    }
}

/// Takes the line off the terminal, before anything else is written there.
pub(crate) fn wipe() {
    if SHOWN.swap(false, Ordering::SeqCst) {
        let _ = write!(io::stderr(), "\r\x1b[K");
    }
}
