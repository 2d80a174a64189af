//! The outside programs of a call: started before the command, stopped after it, whatever comes.

use std::path::Path;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Once};

use ringwright_plugins::outside::{self, Limits, Programs};
use ringwright_solver::scheme::Registry;

use crate::Exit;
use crate::args::Common;
use crate::configuration::{self, Unusable};
use crate::screen::{self, Screen};

/// Exit status of a program that was interrupted.
pub(crate) const INTERRUPTED: u8 = 130;

static WAS_INTERRUPTED: AtomicBool = AtomicBool::new(false);

/// Starts the programs that the configuration and the command line name.
pub(crate) fn start(
    common: &Common,
    configuration: Option<&Path>,
    registry: &Registry,
    screen: &mut Screen,
) -> Result<Programs, Exit> {
    let configured = match configuration.map(configuration::read) {
        None => Vec::new(),
        Some(Ok(c)) => c.scheme_programs,
        Some(Err(Unusable::Io(message))) => {
            screen.error(&format!("ringwright: {message}"));
            return Err(Exit::Io);
        }
        Some(Err(Unusable::Wrong(message))) => {
            screen.error(&message);
            return Err(Exit::Input);
        }
    };
    let mut commands = configured;
    for command in &common.scheme_program {
        // one that is configured and named too is one program
        if !commands.contains(command) {
            commands.push(command.clone());
        }
    }
    if !commands.is_empty() {
        stop_on_signals();
    }
    let limits = Limits {
        time: common.scheme_timeout,
        ..Limits::new(Arc::new(screen::from_outside))
    };
    Programs::start(&commands, &limits, registry).map_err(|e| {
        screen.error(&format!("ringwright: {e}"));
        Exit::Scheme
    })
}

/// Programs stand in groups of their own, which an interrupt from the keyboard does not reach: it is passed on.
fn stop_on_signals() {
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        // who calls this as a library may have a handler already; then stopping is that one's matter
        let _ = ctrlc::try_set_handler(|| {
            // first, for the command may see its program die and end before this thread gets to end it
            WAS_INTERRUPTED.store(true, Ordering::SeqCst);
            outside::stop_all();
            std::process::exit(i32::from(INTERRUPTED));
        });
    });
}

/// Whether an interrupt has come: what the command then says of programs that died is not the reason that it ends.
pub(crate) fn was_interrupted() -> bool {
    WAS_INTERRUPTED.load(Ordering::SeqCst)
}
