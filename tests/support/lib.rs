//! Shared by the tests: answers that owe nothing to the finite elements, cases made in code and in text, and the means to solve a body without contact.

pub mod body;
pub mod cases;
pub mod files;
pub mod generator;
pub mod oracle;
pub mod q8;
pub mod random;
pub mod reference;
pub mod shell;

use std::panic::{AssertUnwindSafe, catch_unwind};

use ringwright_solver::case::Case;
use std::time::{Duration, Instant};

use ringwright_solver::process::{Options, Outcome, run_watched};
use ringwright_solver::watch::{Progress, Stop, Watch};

/// How many of something a test tries: the first number, or with `RINGWRIGHT_LONG` set the second.
pub fn tried([few, many]: [usize; 2]) -> usize {
    if std::env::var_os("RINGWRIGHT_LONG").is_some() {
        many
    } else {
        few
    }
}

/// Ends a run when its time is over.
struct Until(Instant);

impl Watch for Until {
    fn at(&self, _: &Progress) -> Result<(), Stop> {
        if Instant::now() < self.0 {
            Ok(())
        } else {
            Err(Stop::TimeLimit)
        }
    }

    fn limits_time(&self) -> bool {
        true
    }
}

/// Runs a case whatever becomes of it, for so many seconds at most: the outcome, or why there is none, a panic of the solver told as one.
///
/// # Errors
/// The refusal in words, or [`PANICKED`].
pub fn whatever(case: &Case, options: &Options, seconds: u64) -> Result<Outcome, String> {
    let until = Until(Instant::now() + Duration::from_secs(seconds));
    match catch_unwind(AssertUnwindSafe(|| run_watched(case, options, &until))) {
        Ok(answer) => answer.map_err(|e| format!("{e:?}")),
        Err(_) => Err(PANICKED.to_owned()),
    }
}

/// What [`whatever`] says of a panic.
pub const PANICKED: &str = "the solver panicked";
