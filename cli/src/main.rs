//! The program: `ringwright`.

use std::process::ExitCode;

use mimalloc::MiMalloc;

/// A run makes and drops fields by the hundred; the system's allocator gives each back to the system and takes it anew.
#[global_allocator]
static ALLOCATOR: MiMalloc = MiMalloc;

fn main() -> ExitCode {
    ringwright::run(std::env::args_os(), &ringwright_plugins::registry())
}
