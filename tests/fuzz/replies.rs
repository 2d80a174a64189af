//! Whatever a scheme's program says, it is a hold or the failure of that program, in our words.
#![cfg(unix)]

use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, Instant};

use proptest::strategy::Strategy;
use ringwright_plugins::outside::{Limits, Programs};
use ringwright_solver::case;
use ringwright_tests::generator::replies::{NAME, any_lines};

use crate::judge;
use crate::target::{Bytes, fuzz};

/// Words of the parser of JSON, which tell a scheme's author nothing.
const PARSER: [&str; 6] = [
    "expected value at line",
    "EOF while parsing",
    "trailing characters",
    "untagged enum",
    "missing field",
    "recursion limit",
];

/// Starting a program, hearing it and ending it.
const WITHIN: Duration = Duration::from_secs(3);

/// A case that is held by the recorded scheme with its defaults.
fn text() -> String {
    format!(
        "[part]\nouter_diameter = 120\nbore_diameter = 108\nlength = 20\nmaterial = \"aluminium 6061-T6\"\n\
         [[hold.h]]\nscheme = \"{NAME}\"\n[[step]]\nhold = \"h\"\n"
    )
}

/// Lets a program say these lines, whatever it is asked.
pub(crate) fn says(said: &[u8], folder: &Path) -> Result<bool, String> {
    let file = folder.join("said");
    std::fs::write(&file, said).map_err(|e| e.to_string())?;
    let start = Instant::now();
    let heard = hears(&format!("cat '{}'", file.display()));
    let took = start.elapsed();
    if took > WITHIN {
        return Err(format!("took {:.1} s", took.as_secs_f64()));
    }
    heard
}

fn hears(command: &str) -> Result<bool, String> {
    let registry = ringwright_plugins::registry();
    let limits = Limits {
        time: Duration::from_secs(1),
        ..Limits::new(Arc::new(|_| {}))
    };
    let programs = match Programs::start(&[command.to_owned()], &limits, &registry) {
        Ok(programs) => programs,
        Err(e) => return in_our_words(&e.to_string()).map(|()| false),
    };
    let registry = programs
        .schemes()
        .fold(registry, |all, scheme| all.add(scheme));
    let text = text();
    match case::read(&text, &registry) {
        Ok(case) => Ok(!case.holds.is_empty()),
        Err(problems) => {
            judge::problems(&text, &problems)?;
            problems.iter().try_for_each(|p| in_our_words(&p.message))?;
            Ok(false)
        }
    }
}

fn in_our_words(message: &str) -> Result<(), String> {
    judge::message(message)?;
    match PARSER.iter().find(|words| message.contains(**words)) {
        Some(_) => Err(format!("words of the parser: {message}")),
        None => Ok(()),
    }
}

#[test]
fn any_reply_is_a_hold_or_a_failure_of_its_program() {
    let folder = tempfile::tempdir().unwrap();
    let held = std::cell::Cell::new(0);
    let said = any_lines().prop_map(Bytes);
    fuzz(300, &said, |Bytes(said)| {
        held.set(held.get() + u32::from(says(&said, folder.path())?));
        Ok(())
    });
    assert!(
        held.get() > 30,
        "hardly any reply was a hold: {}",
        held.get()
    );
}
