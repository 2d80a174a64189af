//! The outside programs of a call: those named on the command line are started before the command, those of the configuration when
//! a case first names a scheme that nobody else knows; all are stopped after the command, whatever comes.

use std::path::Path;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use ringwright_plugins::outside::{Limits, Programs};
use ringwright_solver::scheme::{Elsewhere, HoldingScheme, Registry};

use crate::args::{Args, Common};
use crate::configuration::{self, Configuration, Unusable};
use crate::failure::{Failure, FailureKind};
use crate::screen::{self, Screen};

/// The programs of a call and the schemes that they and others answer for. The programs stop when this is dropped.
pub(crate) struct Outside {
    /// All schemes; those of the configuration only as they are asked for.
    pub(crate) registry: Registry,
    _named: Programs,
}

/// Starts the programs that the command line names and, for a command that lists all schemes, those of the configuration.
pub(crate) fn start(
    args: &Args,
    configuration: Option<&Path>,
    registry: &Registry,
    screen: &mut Screen,
) -> Result<Outside, Failure> {
    let named = &args.common.scheme_program;
    let mut configured = configured(configuration, screen).scheme_programs;
    // one that is configured and named too is one program
    configured.retain(|command| !named.contains(command));
    let limits = limits(&args.common);
    let programs = Programs::start(named, &limits, registry)
        .map_err(|e| Failure::new(FailureKind::Scheme, e.to_string()))?;
    let known = programs.schemes().fold(registry.clone(), Registry::add);
    let later = Arc::new(Configured {
        commands: configured,
        limits,
        known: known.clone(),
        asked: Mutex::default(),
    });
    let mut registry = known.or_elsewhere(Arc::clone(&later) as Arc<dyn Elsewhere>);
    if args.command.lists_schemes() {
        let mut asked = later.lock();
        while later.start_next(&mut asked) {}
        registry = asked.schemes().fold(registry, Registry::add);
        for failure in &asked.failures {
            screen.note(&format!("ringwright: {failure}"));
        }
    }
    Ok(Outside {
        registry,
        _named: programs,
    })
}

fn limits(common: &Common) -> Limits {
    Limits {
        time: common.scheme_timeout,
        ..Limits::new(Arc::new(screen::from_outside))
    }
}

/// The user's configuration. One that cannot be used is none: it is said, and a case that needs it misses a scheme.
fn configured(file: Option<&Path>, screen: &mut Screen) -> Configuration {
    match file.map(configuration::read) {
        None => Configuration::default(),
        Some(Ok(configuration)) => configuration,
        Some(Err(Unusable::Unreadable(why))) => {
            screen.detail(&format!("ringwright: no configuration: {why}"));
            Configuration::default()
        }
        Some(Err(Unusable::Wrong(why))) => {
            screen.note(&format!("ringwright: the configuration is left out: {why}"));
            Configuration::default()
        }
    }
}

/// The programs of the configuration, started one after the other until one has the scheme that is asked for.
struct Configured {
    commands: Vec<String>,
    limits: Limits,
    /// Schemes whose names are taken.
    known: Registry,
    asked: Mutex<Asked>,
}

/// Those started so far.
#[derive(Default)]
struct Asked {
    started: Vec<Programs>,
    /// How many commands have been tried.
    tried: usize,
    /// What those did that could not be had.
    failures: Vec<String>,
}

impl Asked {
    fn schemes(&self) -> impl Iterator<Item = Arc<dyn HoldingScheme>> {
        self.started.iter().flat_map(Programs::schemes)
    }
}

impl Configured {
    fn lock(&self) -> MutexGuard<'_, Asked> {
        self.asked.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Starts one more; false if there is none.
    fn start_next(&self, asked: &mut Asked) -> bool {
        let Some(command) = self.commands.get(asked.tried) else {
            return false;
        };
        asked.tried += 1;
        let known = asked.schemes().fold(self.known.clone(), Registry::add);
        match Programs::start(std::slice::from_ref(command), &self.limits, &known) {
            Ok(programs) => asked.started.push(programs),
            Err(e) => asked
                .failures
                .push(format!("{e} (it is named in your configuration)")),
        }
        true
    }
}

impl Elsewhere for Configured {
    fn find(&self, name: &str) -> Result<Option<Arc<dyn HoldingScheme>>, String> {
        let mut asked = self.lock();
        loop {
            if let Some(scheme) = asked.schemes().find(|s| s.name() == name) {
                return Ok(Some(scheme));
            }
            if !self.start_next(&mut asked) {
                break;
            }
        }
        match asked.failures.as_slice() {
            [] => Ok(None),
            failures => Err(failures.join("; ")),
        }
    }
}
