//! Angles on the part, in order: repeated, missing and closing readings.

use std::f64::consts::TAU;

use super::fault::{Fault, ReadingsError};
use super::parse::{LARGEST_ANGLE, LEAST_ANGLE, Typed};
use super::unit::{Amount, tidy};
use super::{Format, ReadingKind, Readings};

/// Angles nearer than this are the same place, degrees: far below what any encoder resolves.
const SAME: f64 = 1e-7;

/// A closing reading may differ from the first by this share of the range (and one step of the indicator): common practice is to
/// accept a tenth; no source.
const CLOSES: f64 = 0.1;

/// At most so many places are named in one caution.
pub(super) const NAMED: usize = 3;

pub(super) fn arrange(typed: Typed, format: &Format) -> Result<Readings, ReadingsError> {
    let n = typed.values.len();
    enough(n, None)?;
    let degrees = on_the_part(&typed, format)?;
    let mut order: Vec<usize> = (0..n).collect();
    order.sort_by(|&a, &b| degrees[a].total_cmp(&degrees[b]).then(a.cmp(&b)));
    let mut cautions = typed.cautions.clone();
    if !typed.angles.is_empty() {
        cautions.extend(close(&typed, &degrees, &mut order)?);
        cautions.extend(gaps(&typed, &degrees, &order, format.repeats.max(1))?);
    }
    enough(
        order.len(),
        format.lobes.map(|lobes| (lobes, format.repeats.max(1))),
    )?;
    let n = order.len();
    let even = |k: usize| 360.0 * k as f64 / n as f64;
    let equal = (0..n).all(|k| (degrees[order[k]] - even(k)).abs() < SAME);
    let angle = |k: usize| match equal {
        true => TAU * k as f64 / n as f64,
        false => degrees[order[k]].to_radians(),
    };
    Ok(Readings {
        angles: (0..n).map(angle).collect(),
        values: order.iter().map(|&k| typed.values[k]).collect(),
        lines: order.iter().map(|&k| typed.lines[k]).collect(),
        kind: typed.kind,
        unit: typed.unit,
        kind_named: typed.kind_named,
        unit_named: typed.unit_named,
        equal,
        cautions,
    })
}

/// Three readings make a closed shape; `n` lobes have `2 n + 1` unknowns, of which a trace that repeats has its share.
fn enough(found: usize, lobes: Option<(u32, u32)>) -> Result<(), ReadingsError> {
    let (wanted, for_what) = match lobes {
        None => (3, String::new()),
        Some((lobes, repeats)) => (
            (2 * (lobes as usize / repeats as usize) + 1).max(3),
            format!(" for {lobes} lobes"),
        ),
    };
    if found >= wanted {
        return Ok(());
    }
    Err(ReadingsError::whole(Fault::TooFew {
        found,
        wanted,
        for_what,
    }))
}

/// Degrees on the part, in `[0, 360)`.
fn on_the_part(typed: &Typed, format: &Format) -> Result<Vec<f64>, ReadingsError> {
    let n = typed.values.len();
    let zero = format.zero_at_deg;
    if !(LEAST_ANGLE..=LARGEST_ANGLE).contains(&zero) {
        return Err(ReadingsError::whole(Fault::Angle { degrees: zero }));
    }
    let turned = |angle: f64| {
        let on_part = if format.clockwise {
            zero - angle
        } else {
            zero + angle
        };
        let degrees = on_part.rem_euclid(360.0);
        // rounding must not tear the start of the turn from its end
        if degrees > 360.0 - 1e-9 { 0.0 } else { degrees }
    };
    Ok(if typed.angles.is_empty() {
        (0..n)
            .map(|k| turned(360.0 * k as f64 / n as f64))
            .collect()
    } else {
        typed.angles.iter().map(|&angle| turned(angle)).collect()
    })
}

/// Refuses repeated angles; a closing reading that agrees with the first is taken out of `order`, and said.
fn close(
    typed: &Typed,
    degrees: &[f64],
    order: &mut Vec<usize>,
) -> Result<Option<String>, ReadingsError> {
    let n = order.len();
    let same = |k: usize| {
        let (a, b) = (order[k], order[(k + 1) % n]);
        let apart = (degrees[a] - degrees[b]).abs();
        apart.min(360.0 - apart) < SAME
    };
    let pairs: Vec<(usize, usize)> = (0..n)
        .filter(|&k| same(k))
        .map(|k| {
            (
                order[k].min(order[(k + 1) % n]),
                order[k].max(order[(k + 1) % n]),
            )
        })
        .collect();
    let Some(&(first, last)) = pairs
        .iter()
        .find(|&&pair| pair != (0, n - 1))
        .or(pairs.first())
    else {
        return Ok(None);
    };
    let error = |fault| Err(ReadingsError::new(typed.lines[last], 0, fault));
    let angle = typed.angles[last];
    if (first, last) != (0, n - 1) {
        return error(Fault::RepeatedAngle {
            angle,
            other: typed.lines[first],
            hint: typed.comma_hint(),
        });
    }
    let amount = |mm| Amount {
        mm,
        unit: typed.unit,
    };
    let mut sorted = typed.values.clone();
    sorted.sort_by(f64::total_cmp);
    let apart = (typed.values[last] - typed.values[first]).abs();
    if apart > 1.001 * (CLOSES * (sorted[n - 1] - sorted[0]) + resolution(&sorted)) {
        return error(Fault::NotClosed {
            angle,
            last: amount(typed.values[last]),
            first: amount(typed.values[first]),
            other: typed.lines[first],
        });
    }
    order.retain(|&k| k != last);
    Ok(Some(format!(
        "The closing reading at {angle} deg (line {}) differs by {} from the first and is left out.",
        typed.lines[last],
        amount(apart)
    )))
}

/// Smallest step between sorted readings; 0 if they are all the same.
pub(super) fn resolution(sorted: &[f64]) -> f64 {
    let range = sorted[sorted.len() - 1] - sorted[0];
    let steps = sorted.windows(2).map(|w| w[1] - w[0]);
    // what conversion has rounded is no step
    let least = steps
        .filter(|&step| step > 1e-9 * range)
        .fold(range, f64::min);
    least.max(0.0)
}

/// Refuses half a turn that was not read, and names places where readings are missing. Angles are folded by how often the trace
/// repeats.
fn gaps(
    typed: &Typed,
    degrees: &[f64],
    order: &[usize],
    repeats: u32,
) -> Result<Option<String>, ReadingsError> {
    let period = 360.0 / f64::from(repeats);
    let mut places: Vec<(f64, usize)> = order.iter().map(|&k| (degrees[k] % period, k)).collect();
    places.sort_by(|a, b| a.0.total_cmp(&b.0));
    places.dedup_by(|b, a| b.0 - a.0 < SAME);
    let n = places.len();
    let gap = |k: usize| match places.get(k + 1) {
        Some(next) => next.0 - places[k].0,
        None => places[0].0 + period - places[k].0,
    };
    if let Some(k) = (0..n).find(|&k| gap(k) > 0.5 * period + SAME) {
        // half a turn of diameters is whole; that nobody said what they were taken with is what is wrong
        if typed.kind == ReadingKind::Diameters && repeats == 1 {
            return Err(ReadingsError::whole(Fault::Diameters));
        }
        let fault = Fault::Gap {
            from: tidy(places[k].0),
            to: tidy((places[k].0 + gap(k)) % period),
            limit: 0.5 * period,
        };
        return Err(ReadingsError::new(typed.lines[places[k].1], 0, fault));
    }
    let mut sorted: Vec<f64> = (0..n).map(gap).collect();
    sorted.sort_by(f64::total_cmp);
    let usual = sorted[n / 2];
    let alike = sorted
        .iter()
        .filter(|&&g| (g - usual).abs() < 0.05 * usual)
        .count();
    // in a list that is even but for a few places one missing reading shows; elsewhere only a wide gap means something
    let wide = if 10 * alike >= 7 * n { 1.5 } else { 4.0 } * usual;
    let missing: Vec<String> = (0..n)
        .filter(|&k| gap(k) > wide)
        .map(|k| {
            format!(
                "{} to {}",
                tidy(places[k].0),
                tidy((places[k].0 + gap(k)) % period)
            )
        })
        .collect();
    if missing.is_empty() {
        return Ok(None);
    }
    let more = match missing.len().saturating_sub(NAMED) {
        0 => String::new(),
        more => format!(" and {more} more places"),
    };
    Ok(Some(format!(
        "Nothing was read from {} deg{more}, elsewhere every {} deg: lobes above {} per revolution are not held there.",
        missing[..missing.len().min(NAMED)].join(", "),
        tidy(usual),
        (180.0 / sorted[n - 1]).floor()
    )))
}
