//! Times ringwright against fixed numbers and prints a report in Markdown; see `README.md` beside this package.
//!
//! `cargo bench -p ringwright-benches [-- --quick | --staged | --studies | --tubes]`. Fails if an answer is off by more than a thousandth, never because the
//! machine is slow. Set against the library's numbers are CPU seconds of the whole process.

mod child;
mod measuring;
mod phases;
mod staged;
mod studies;
mod tubes;
mod whole;

use std::io::{self, Write};
use std::process::ExitCode;

use ringwright_benches::SIZES;

fn main() -> ExitCode {
    // cargo passes `--bench`
    let given = |flag: &str| std::env::args().any(|a| a == flag);
    let mut out = io::stdout().lock();
    let written = if given("--staged") {
        staged::table(&mut out).map(|()| true)
    } else if given("--studies") {
        child::Program::build()
            .and_then(|program| studies::table(&program, &mut out))
            .map(|()| true)
    } else if given("--tubes") {
        child::Program::build()
            .and_then(|program| tubes::table(&program, &mut out))
            .map(|()| true)
    } else {
        let sizes = if given("--quick") {
            &SIZES[..2]
        } else {
            &SIZES[..]
        };
        report(sizes, &mut out)
    };
    match written {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => ExitCode::FAILURE,
        Err(e) => {
            let _ = writeln!(io::stderr(), "bench: {e}");
            ExitCode::FAILURE
        }
    }
}

/// Writes the report; says whether every answer was right.
fn report(sizes: &[ringwright_benches::Size], out: &mut dyn Write) -> io::Result<bool> {
    let program = child::Program::build()?;
    writeln!(out, "# Speed of ringwright {}\n", env!("CARGO_PKG_VERSION"))?;
    writeln!(
        out,
        "Machine: {}. {} repeats, medians.\n",
        machine(),
        whole::REPEATS
    )?;
    let right = whole::tables(&program, sizes, out)?;
    phases::table(sizes, out)?;
    measuring::table(out)?;
    staged::table(out)?;
    tubes::table(&program, out)?;
    studies::table(&program, out)?;
    Ok(right)
}

/// Instruction set of the processor and number of its threads; the name of no machine and no maker.
fn machine() -> String {
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    format!("{}, {threads} threads", std::env::consts::ARCH)
}
