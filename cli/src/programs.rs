//! The outside programs of a call: started before the command, stopped after it, whatever comes.

use std::path::Path;
use std::sync::Arc;

use ringwright_plugins::outside::{Limits, Programs};
use ringwright_solver::scheme::Registry;

use crate::args::Common;
use crate::configuration::{self, Unusable};
use crate::failure::{Failure, FailureKind};
use crate::screen;

/// Starts the programs that the configuration and the command line name.
pub(crate) fn start(
    common: &Common,
    configuration: Option<&Path>,
    registry: &Registry,
) -> Result<Programs, Failure> {
    let configured = match configuration.map(configuration::read) {
        None => Vec::new(),
        Some(Ok(c)) => c.scheme_programs,
        Some(Err(Unusable::Io(message))) => return Err(Failure::new(FailureKind::Io, message)),
        Some(Err(Unusable::Wrong(message))) => {
            return Err(Failure::new(FailureKind::Input, message));
        }
    };
    let mut commands = configured;
    for command in &common.scheme_program {
        // one that is configured and named too is one program
        if !commands.contains(command) {
            commands.push(command.clone());
        }
    }
    let limits = Limits {
        time: common.scheme_timeout,
        ..Limits::new(Arc::new(screen::from_outside))
    };
    Programs::start(&commands, &limits, registry)
        .map_err(|e| Failure::new(FailureKind::Scheme, e.to_string()))
}
