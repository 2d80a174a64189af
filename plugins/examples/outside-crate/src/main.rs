//! ringwright with one more holding scheme.

mod vee_block;

use std::process::ExitCode;
use std::sync::Arc;

fn main() -> ExitCode {
    let registry = ringwright_plugins::registry().add(Arc::new(vee_block::VeeBlock));
    ringwright::run(std::env::args_os(), &registry)
}
