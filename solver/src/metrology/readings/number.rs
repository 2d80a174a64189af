//! Numbers as people type them.

use super::fault::Fault;
use super::unit::LengthUnit;

/// Reads a number. With `decimal_comma`, "0,4" is four tenths.
pub(super) fn number(typed: &str, decimal_comma: bool) -> Result<f64, Fault> {
    // spreadsheets put quotes round fields and a true minus sign before numbers
    let plain = typed.trim_matches('"').trim().replace('\u{2212}', "-");
    let plain = if decimal_comma {
        plain.replacen(',', ".", 1)
    } else {
        plain
    };
    match plain.parse::<f64>() {
        Ok(value) if value.is_finite() => Ok(value),
        Ok(_) => Err(Fault::NotFinite { text: shown(typed) }),
        Err(_) => Err(no_number(typed, &plain)),
    }
}

/// Why a word is no number.
fn no_number(typed: &str, plain: &str) -> Fault {
    let digits = |c: char| c.is_ascii_digit() || matches!(c, '+' | '-' | '.' | ' ');
    let unit = plain.trim_start_matches(digits);
    if let Ok(unit) = LengthUnit::named(unit.trim())
        && plain.starts_with(digits)
    {
        return Fault::UnitOnValue {
            text: shown(typed),
            unit: unit.name(),
        };
    }
    let hint = if plain.is_empty() {
        "; a value is missing here: leave the row out if there is no reading"
    } else if plain.contains(',') {
        "; write decimal points, or separate the columns with semicolons"
    } else if plain.contains(' ') {
        "; separate the columns in one way throughout"
    } else {
        "; write numbers alone, and remarks after #"
    };
    Fault::NotANumber {
        text: shown(typed),
        hint,
    }
}

/// What was typed, cut short so that a message stays on its line.
pub(super) fn shown(typed: &str) -> String {
    const LONGEST: usize = 40;
    let mut text: String = typed
        .chars()
        .take(LONGEST)
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect();
    if typed.chars().nth(LONGEST).is_some() {
        text.push_str("...");
    }
    text
}
