//! ringwright with one more holding scheme.

mod vee_block;

use std::process::ExitCode;

fn main() -> ExitCode {
    let registry = ringwright_plugins::registry().add(&vee_block::VeeBlock);
    ringwright::run(std::env::args_os(), &registry)
}
