//! `materials`: the built-in table, with how well each value is known.

use ringwright_solver::case::material::{BuiltIn, table};

use crate::Exit;
use crate::args::MaterialsArgs;
use crate::failure::{Failure, FailureKind, Outcome};
use crate::render::{json, materials};
use crate::screen::Screen;

pub(crate) fn run(args: &MaterialsArgs, screen: &mut Screen) -> Outcome {
    let wanted = args.name.join(" ");
    let found: Vec<&BuiltIn> = chosen(&wanted);
    if found.is_empty() {
        let words = format!(
            "no material of the built-in table is called \"{wanted}\"; `ringwright materials` lists them all"
        );
        return Err(Failure::new(FailureKind::Usage, words));
    }
    screen.answer(&match (screen.json, found.as_slice()) {
        (true, _) => json::materials(&found),
        (false, [one]) => materials::detail(one),
        (false, _) => materials::list(&found),
    });
    Ok(Exit::Done)
}

/// All, the one of this name, or those whose names have the word in them.
fn chosen(name: &str) -> Vec<&'static BuiltIn> {
    let lower = name.to_lowercase();
    let exact = table().iter().find(|m| m.name.to_lowercase() == lower);
    match exact {
        Some(one) => vec![one],
        None => {
            let has = |m: &&BuiltIn| m.name.to_lowercase().contains(&lower);
            table().iter().filter(has).collect()
        }
    }
}
