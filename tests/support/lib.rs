//! Shared by the tests: answers that owe nothing to the finite elements, cases made in code and in text, and the means to solve a body without contact.

pub mod body;
pub mod cases;
pub mod files;
pub mod generator;
pub mod oracle;
pub mod q8;
pub mod random;
pub mod reference;

use std::panic::{AssertUnwindSafe, catch_unwind};

use ringwright_solver::case::Case;
use ringwright_solver::process::{Options, Outcome, run};

/// How many of something a test tries: the first number, or with `RINGWRIGHT_LONG` set the second.
pub fn tried([few, many]: [usize; 2]) -> usize {
    if std::env::var_os("RINGWRIGHT_LONG").is_some() {
        many
    } else {
        few
    }
}

/// Runs a case whatever becomes of it: the outcome, or why there is none, a panic of the solver told as one.
///
/// # Errors
/// The refusal in words, or `PANICKED` and more.
pub fn whatever(case: &Case, options: &Options) -> Result<Outcome, String> {
    match catch_unwind(AssertUnwindSafe(|| run(case, options))) {
        Ok(answer) => answer.map_err(|e| format!("{e:?}")),
        Err(_) => Err(PANICKED.to_owned()),
    }
}

/// What [`whatever`] says of a panic.
pub const PANICKED: &str = "the solver panicked";
