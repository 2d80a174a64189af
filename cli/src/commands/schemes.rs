//! `schemes`: the holding schemes plugged in, their descriptions in several forms, and whether they conform.

use std::sync::Arc;

use ringwright_solver::case::{self, FREE};
use ringwright_solver::conformance::{self, Report};
use ringwright_solver::scheme::{HoldingScheme, Registry};

use super::with_threads;
use crate::Exit;
use crate::args::{Common, SchemesArgs};
use crate::failure::{Failure, FailureKind, Outcome};
use crate::render::{conform, json, markdown, schemes};
use crate::screen::Screen;

pub(crate) fn run(
    args: &SchemesArgs,
    common: &Common,
    registry: &Registry,
    screen: &mut Screen,
) -> Outcome {
    let name = args.name.as_deref();
    let one = match name.filter(|n| *n != FREE).map(|n| registry.find(n)) {
        None => None,
        Some(Ok(found)) => found,
        Some(Err(why)) => {
            let unknown = unknown(name.unwrap_or_default(), registry);
            let words = format!("{unknown}; {why}");
            return Err(Failure::new(FailureKind::Scheme, words));
        }
    };
    let answer = match (name, one) {
        _ if args.schema => json::text(&case::schema(registry)),
        _ if args.markdown => markdown::page(registry),
        (None, _) if args.conform => return conform(registry.all(), common, registry, screen),
        (_, Some(scheme)) if args.conform => return conform(&[scheme], common, registry, screen),
        (None, _) if screen.json => json::schemes(registry.all(), registry.free_recipes()),
        (None, _) => schemes::list(registry),
        (_, Some(scheme)) if screen.json => json::schemes(&[scheme], &[]),
        (_, Some(scheme)) => schemes::detail(&*scheme),
        (Some(FREE), _) if screen.json => json::schemes(&[], registry.free_recipes()),
        (Some(FREE), _) => schemes::free(registry),
        (Some(name), None) => {
            return Err(Failure::new(FailureKind::Usage, unknown(name, registry)));
        }
    };
    screen.answer(&answer);
    Ok(Exit::Done)
}

/// Why there is nothing to show under this name.
fn unknown(name: &str, registry: &Registry) -> String {
    let written_with = registry
        .all()
        .iter()
        .map(|s| (s.name(), s.recipes()))
        .chain([(FREE, registry.free_recipes())])
        .find(|(_, recipes)| recipes.iter().any(|r| r.name == name));
    if let Some((with, _)) = written_with {
        return format!(
            "\"{name}\" is a recipe, written with \"{with}\": see `ringwright schemes {with}`"
        );
    }
    let known: Vec<_> = registry.all().iter().map(|s| s.name()).collect();
    format!("there is no scheme \"{name}\"; known: {}", known.join(", "))
}

fn conform(
    chosen: &[Arc<dyn HoldingScheme>],
    common: &Common,
    registry: &Registry,
    screen: &mut Screen,
) -> Outcome {
    let all = || -> Vec<(&str, Report)> {
        let checked = chosen.iter();
        checked
            .map(|s| (s.name(), conformance::report(s, registry)))
            .collect()
    };
    let found = with_threads(common.threads, all)?;
    if screen.json {
        screen.answer(&json::conform(&found));
    } else {
        for (name, report) in &found {
            screen.say(&conform::words(name, report));
        }
    }
    let conforms = found.iter().all(|(_, report)| report.faults.is_empty());
    Ok(if conforms { Exit::Done } else { Exit::Input })
}
