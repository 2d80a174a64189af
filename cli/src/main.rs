//! The program: `ringwright`.

use std::process::ExitCode;

fn main() -> ExitCode {
    ringwright::run(std::env::args_os(), &ringwright_plugins::registry())
}
