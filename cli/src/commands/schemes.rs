//! `schemes`: the holding schemes plugged in, their descriptions in several forms, and whether they conform.

use ringwright_solver::case;
use ringwright_solver::conformance::{self, Fault};
use ringwright_solver::scheme::{HoldingScheme, Registry};

use super::with_threads;
use crate::Exit;
use crate::args::{Common, SchemesArgs};
use crate::render::{conform, json, markdown, schemes};
use crate::screen::Screen;

pub(crate) fn run(
    args: &SchemesArgs,
    common: &Common,
    registry: &Registry,
    screen: &mut Screen,
) -> Exit {
    if args.schema {
        screen.answer(&json::text(&case::schema(registry)));
        return Exit::Done;
    }
    if args.markdown {
        screen.answer(&markdown::page(registry));
        return Exit::Done;
    }
    let chosen = match &args.name {
        None => registry.all().to_vec(),
        Some(name) => match registry.get(name) {
            Some(scheme) => vec![scheme],
            None => return unknown(name, registry, screen),
        },
    };
    if args.conform {
        return conform(&chosen, common, registry, screen);
    }
    if screen.json {
        screen.answer(&json::schemes(&chosen));
    } else if args.name.is_some() {
        screen.answer(&schemes::detail(chosen[0]));
    } else {
        screen.answer(&schemes::list(&chosen, registry.planned()));
    }
    Exit::Done
}

fn unknown(name: &str, registry: &Registry, screen: &mut Screen) -> Exit {
    let known: Vec<_> = registry.all().iter().map(|s| s.name()).collect();
    let message = if registry.planned().contains(&name) {
        format!("the scheme \"{name}\" is known, but not built yet")
    } else {
        format!("there is no scheme \"{name}\"")
    };
    screen.error(&format!(
        "ringwright: {message}; built: {}",
        known.join(", ")
    ));
    Exit::Usage
}

fn conform(
    chosen: &[&'static dyn HoldingScheme],
    common: &Common,
    registry: &Registry,
    screen: &mut Screen,
) -> Exit {
    let all = || -> Vec<(&str, Vec<Fault>)> {
        let check = |s: &&'static dyn HoldingScheme| (s.name(), conformance::check(*s, registry));
        chosen.iter().map(check).collect()
    };
    let found = match with_threads(common.threads, screen, all) {
        Ok(found) => found,
        Err(exit) => return exit,
    };
    if screen.json {
        screen.answer(&json::conform(&found));
    } else {
        for (name, faults) in &found {
            screen.say(&conform::words(name, faults));
        }
    }
    if found.iter().all(|(_, faults)| faults.is_empty()) {
        Exit::Done
    } else {
        Exit::Input
    }
}
