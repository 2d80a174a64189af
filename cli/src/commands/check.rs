//! `check`: every problem of a case file, without solving.

use ringwright_solver::case::material;
use ringwright_solver::report::units::units_in_doubt;
use ringwright_solver::scheme::Registry;

use super::load;
use crate::Exit;
use crate::args::CheckArgs;
use crate::failure::Outcome;
use crate::render::json;
use crate::screen::Screen;

pub(crate) fn run(args: &CheckArgs, registry: &Registry, screen: &mut Screen) -> Outcome {
    let (case, source) = load(&args.case, registry)?;
    if screen.json {
        screen.answer(&json::check(&case.assumed));
    }
    let mut text = format!(
        "{}: no problem found (\"{}\", {} step{}). It has not been solved.\n",
        source.name,
        case.title,
        case.steps.len(),
        if case.steps.len() == 1 { "" } else { "s" }
    );
    if !case.assumed.is_empty() {
        text += &format!("Assumed: {}.\n", case.assumed.join("; "));
    }
    let material = material::caution(&case.part.material);
    let units = units_in_doubt(2.0 * case.part.stock.outer.radius);
    for caution in material.into_iter().chain(units) {
        text += &format!("Caution: {caution}\n");
    }
    screen.say(&text);
    Ok(Exit::Done)
}
