//! `check`: every problem of a case file, without solving.

use ringwright_solver::report::units::units_in_doubt;
use ringwright_solver::scheme::Registry;

use super::{Loaded, exit_of, load};
use crate::Exit;
use crate::args::CheckArgs;
use crate::render::{diagnostic, json};
use crate::screen::Screen;

pub(crate) fn run(args: &CheckArgs, registry: &Registry, screen: &mut Screen) -> Exit {
    match load(&args.case, registry) {
        Loaded::Case(case, source) => {
            if screen.json {
                screen.answer(&json::check(&[], &case.assumed));
            }
            let mut text = format!(
                "{}: no problem found (\"{}\", {} step(s)). It has not been solved.\n",
                source.name,
                case.title,
                case.steps.len()
            );
            if !case.assumed.is_empty() {
                text += &format!("Assumed: {}.\n", case.assumed.join("; "));
            }
            if let Some(caution) = units_in_doubt(2.0 * case.part.stock.outer.radius) {
                text += &format!("Caution: {caution}\n");
            }
            screen.say(&text);
            Exit::Done
        }
        Loaded::Problems(problems, source) => {
            if screen.json {
                screen.answer(&json::check(&problems, &[]));
            } else {
                screen.error(&diagnostic::problems(&problems, &source));
            }
            exit_of(&problems)
        }
        Loaded::NoFile(message) => {
            screen.error(&format!("ringwright: {message}"));
            Exit::Io
        }
    }
}
