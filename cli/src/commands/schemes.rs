//! `schemes`: the holding schemes plugged in.

use ringwright_solver::scheme::Registry;

use crate::Exit;
use crate::args::SchemesArgs;
use crate::render::{json, schemes};
use crate::screen::Screen;

pub(crate) fn run(args: &SchemesArgs, registry: &Registry, screen: &mut Screen) -> Exit {
    let name = args.name.as_deref();
    let one = name.and_then(|n| registry.get(n));
    let answer = match (name, one) {
        (None, _) if screen.json => json::schemes(registry.all(), registry.free_recipes()),
        (None, _) => schemes::list(registry),
        (_, Some(scheme)) if screen.json => json::schemes(&[scheme], &[]),
        (_, Some(scheme)) => schemes::detail(scheme),
        (Some(schemes::FREE), _) if screen.json => json::schemes(&[], registry.free_recipes()),
        (Some(schemes::FREE), _) => schemes::free(registry),
        (Some(name), None) => {
            screen.error(&format!("ringwright: {}", unknown(name, registry)));
            return Exit::Usage;
        }
    };
    screen.answer(&answer);
    Exit::Done
}

/// Why there is nothing to show under this name.
fn unknown(name: &str, registry: &Registry) -> String {
    let written_with = registry
        .all()
        .iter()
        .map(|s| (s.name(), s.recipes()))
        .chain([(schemes::FREE, registry.free_recipes())])
        .find(|(_, recipes)| recipes.iter().any(|r| r.name == name));
    if let Some((with, _)) = written_with {
        return format!(
            "\"{name}\" is a recipe, written with \"{with}\": see `ringwright schemes {with}`"
        );
    }
    let message = if registry.planned().contains(&name) {
        format!("the scheme \"{name}\" is known, but not built yet")
    } else {
        format!("there is no scheme \"{name}\"")
    };
    let known: Vec<_> = registry.all().iter().map(|s| s.name()).collect();
    format!("{message}; built: {}", known.join(", "))
}
