//! `schemes`: the holding schemes plugged in.

use ringwright_solver::scheme::Registry;

use crate::Exit;
use crate::args::SchemesArgs;
use crate::render::{json, schemes};
use crate::screen::Screen;

pub(crate) fn run(args: &SchemesArgs, registry: &Registry, screen: &mut Screen) -> Exit {
    let chosen = match &args.name {
        None => registry.all().to_vec(),
        Some(name) => match registry.get(name) {
            Some(scheme) => vec![scheme],
            None => {
                let known: Vec<_> = registry.all().iter().map(|s| s.name()).collect();
                let message = if registry.planned().contains(&name.as_str()) {
                    format!("the scheme \"{name}\" is known, but not built yet")
                } else {
                    format!("there is no scheme \"{name}\"")
                };
                screen.error(&format!(
                    "ringwright: {message}; built: {}",
                    known.join(", ")
                ));
                return Exit::Usage;
            }
        },
    };
    if screen.json {
        screen.answer(&json::schemes(&chosen));
    } else if args.name.is_some() {
        screen.answer(&schemes::detail(chosen[0]));
    } else {
        screen.answer(&schemes::list(&chosen, registry.planned()));
    }
    Exit::Done
}
