//! Readings of any bytes end in an answer, and what is read from them in figures.

use proptest::prelude::*;
use ringwright_solver::metrology::readings::{Format, Readings};
use ringwright_solver::metrology::{Gauge, Sheet, Wanted};
use ringwright_tests::generator::readings::{format, lines_of, mutated, sound};

use crate::judge;
use crate::target::{fuzz, timed};

/// Reads a text in a format, and everything that can be read off the profile.
pub(crate) fn reads(bytes: &[u8], format: &Format) -> Result<(), String> {
    let answer = timed(|| Readings::read(bytes, format))?;
    if let Err(e) = &answer {
        judge::message(&e.to_string())?;
    }
    let Some(readings) = sound(answer, lines_of(bytes)) else {
        return Ok(());
    };
    for radius in [None, Some(60.0)] {
        if let Ok(measured) = readings.profile(radius) {
            let wanted = Wanted {
                gauges: Gauge::USUAL.to_vec(),
                cut_off: Some(15.0),
            };
            match timed(|| Sheet::of(&measured.profile(), &wanted))? {
                Ok(sheet) => is_sound(&sheet)?,
                Err(e) => judge::message(&e.to_string())?,
            }
        }
    }
    Ok(())
}

fn is_sound(sheet: &Sheet) -> Result<(), String> {
    let zone = sheet.minimum_zone.circle.roundness;
    let figures = [
        sheet.least_squares.radius,
        sheet.least_squares.roundness,
        sheet.about_origin,
        sheet.two_point.range,
        zone,
    ];
    let finite = figures.iter().all(|x| x.is_finite() && *x >= 0.0)
        && sheet
            .harmonics
            .iter()
            .all(|h| h.amplitude.is_finite() && h.amplitude >= 0.0)
        && sheet
            .readings
            .iter()
            .all(|r| r.range.is_finite() && r.range >= 0.0);
    if !finite {
        return Err(format!("figures that are none: {sheet:?}"));
    }
    let rounding = 1e-9 * sheet.least_squares.radius;
    if zone > sheet.least_squares.roundness + rounding {
        return Err(format!(
            "a zone wider than about the least-squares circle: {sheet:?}"
        ));
    }
    Ok(())
}

#[test]
fn any_readings_end_in_figures_or_in_what_is_wrong() {
    fuzz(600, &(mutated(), format()), |(text, format)| {
        reads(text.as_bytes(), &format)
    });
}

#[test]
fn any_bytes_of_readings_end_in_an_answer() {
    let bytes = prop::collection::vec(any::<u8>(), 0..300);
    fuzz(300, &(bytes, format()), |(bytes, format)| {
        reads(&bytes, &format)
    });
}
