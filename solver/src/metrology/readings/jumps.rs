//! Readings that cannot be meant: in another unit than the rest, or far out from everything else.

use super::arrange::{NAMED, resolution};
use super::fault::{Fault, ReadingsError};
use super::unit::{Amount, tidy};
use super::{Format, ReadingKind, Readings};

/// Sizes of one column that differ by more than this are not of one part.
const APART: f64 = 5.0;

/// Sizes within this are.
const TOGETHER: f64 = 1.5;

/// A reading that lies outside of all others by more than so many times their whole range is a slip beyond doubt. A low spot, a
/// step or a kink that shows in two readings is never that, nor is a lobe. A nick that shows in one reading can be, and may be kept
/// by asking.
const BEYOND_DOUBT: f64 = 3.0;

/// Fewer readings do not say what is usual.
const ENOUGH: usize = 8;

/// A spike that stands out from both neighbours by so many times the usual distance between a reading and the middle of its
/// neighbours is worth a word.
const WORTH_A_WORD: f64 = 20.0;

pub(super) fn check(mut readings: Readings, format: &Format) -> Result<Readings, ReadingsError> {
    one_unit(&readings)?;
    let spikes = Spikes::of(&readings);
    if !format.keep_jumps
        && let Some(error) = spikes.beyond_doubt()
    {
        return Err(error);
    }
    let words = spikes.in_doubt();
    readings.cautions.extend(words);
    Ok(readings)
}

/// Radii and diameters of one part are of one size.
fn one_unit(readings: &Readings) -> Result<(), ReadingsError> {
    if readings.kind == ReadingKind::Deviations {
        return Ok(());
    }
    let mut sorted = readings.values.clone();
    sorted.sort_by(f64::total_cmp);
    let step = |k: usize| sorted[k] / sorted[k - 1];
    let n = sorted.len();
    let Some(cut) = (1..n).max_by(|&a, &b| step(a).total_cmp(&step(b))) else {
        return Ok(());
    };
    let (small, large) = sorted.split_at(cut);
    let alike = |part: &[f64]| part[part.len() - 1] <= TOGETHER * part[0];
    if step(cut) < APART || !alike(small) || !alike(large) {
        return Ok(());
    }
    // the fewer are the wrong ones
    let usual = if 2 * small.len() > n { small } else { large };
    let usual = usual[usual.len() / 2];
    let wrong = |v: f64| (v < sorted[cut]) == (usual >= sorted[cut]);
    let first = (0..n)
        .filter(|&k| wrong(readings.values[k]))
        .min_by_key(|&k| readings.lines[k]);
    let Some(k) = first else { return Ok(()) };
    let value = readings.values[k];
    let ratio = if value > usual {
        value / usual
    } else {
        usual / value
    };
    let amount = |mm| Amount {
        mm,
        unit: readings.unit,
    };
    let fault = Fault::MixedUnits {
        value: amount(value),
        usual: amount(usual),
        ratio,
        guess: guess(ratio),
    };
    Err(ReadingsError::new(readings.lines[k], 0, fault))
}

/// What a ratio of sizes comes from.
fn guess(ratio: f64) -> &'static str {
    let near = |r: f64| (ratio / r).ln().abs() < 0.1;
    if near(25.4) {
        "mixed units, mm and in? use one"
    } else if near(1000.0) || near(1000.0 / 25.4) || near(25_400.0) {
        "mixed units? use one of mm, in, thou, um"
    } else if near(10.0) || near(100.0) {
        "a decimal point out of place? correct it"
    } else {
        "a typing error or mixed units? correct it"
    }
}

/// Readings that stand out from both neighbours to the same side.
struct Spikes<'a> {
    readings: &'a Readings,
    /// Height above the nearer neighbour, mm; negative below; 0 for none.
    heights: Vec<f64>,
    sorted: Vec<f64>,
}

impl<'a> Spikes<'a> {
    fn of(readings: &'a Readings) -> Self {
        let v = &readings.values;
        let n = v.len();
        let height = |k: usize| {
            let (a, b) = (v[k] - v[(k + n - 1) % n], v[k] - v[(k + 1) % n]);
            if a > 0.0 && b > 0.0 {
                a.min(b)
            } else if a < 0.0 && b < 0.0 {
                a.max(b)
            } else {
                0.0
            }
        };
        let heights = (0..n).map(height).collect();
        let mut sorted = v.clone();
        sorted.sort_by(f64::total_cmp);
        Self {
            readings,
            heights,
            sorted,
        }
    }

    fn amount(&self, mm: f64) -> Amount {
        Amount {
            mm,
            unit: self.readings.unit,
        }
    }

    /// All readings but the largest or smallest, sorted.
    fn others(&self, largest: bool) -> &[f64] {
        let n = self.sorted.len();
        if largest {
            &self.sorted[..n - 1]
        } else {
            &self.sorted[1..]
        }
    }

    /// The reading that is a slip, if one is.
    fn beyond_doubt(&self) -> Option<ReadingsError> {
        let n = self.sorted.len();
        if n < ENOUGH {
            return None;
        }
        [true, false].into_iter().find_map(|largest| {
            let others = self.others(largest);
            let (low, high) = (others[0], others[n - 2]);
            let value = self.sorted[if largest { n - 1 } else { 0 }];
            let beyond = if largest { value - high } else { low - value };
            // one step of an indicator that showed the same all round is no jump
            let step = if high > low {
                resolution(others)
            } else {
                beyond
            };
            if beyond <= BEYOND_DOUBT * (high - low + step) {
                return None;
            }
            let k = self.readings.values.iter().position(|v| *v == value)?;
            let fault = Fault::Jump {
                value: self.amount(value),
                angle: tidy(self.readings.angles[k].to_degrees()),
                height: self.amount(self.heights[k].abs()),
                range: self.amount(high - low),
            };
            Some(ReadingsError::new(self.readings.lines[k], 0, fault))
        })
    }

    /// Readings to look at again.
    fn in_doubt(&self) -> Option<String> {
        let v = &self.readings.values;
        let n = v.len();
        if n < ENOUGH {
            return None;
        }
        let off_line = |k: usize| (v[k] - 0.5 * (v[(k + n - 1) % n] + v[(k + 1) % n])).abs();
        let mut scatter: Vec<f64> = (0..n).map(off_line).collect();
        scatter.sort_by(f64::total_cmp);
        let scatter = scatter[n / 2].max(resolution(&self.sorted));
        let middle = self.sorted[n - 1 - n / 10] - self.sorted[n / 10];
        let range = |k: usize| {
            let others = match v[k] {
                highest if highest == self.sorted[n - 1] => self.others(true),
                lowest if lowest == self.sorted[0] => self.others(false),
                _ => &self.sorted,
            };
            others[others.len() - 1] - others[0]
        };
        let stands_out = |k: usize| {
            let height = self.heights[k].abs();
            height > WORTH_A_WORD * scatter && height > 0.5 * range(k)
                || height > BEYOND_DOUBT * middle.max(scatter)
        };
        let places: Vec<usize> = (0..n).filter(|&k| stands_out(k)).collect();
        if places.is_empty() {
            return None;
        }
        let named: Vec<String> = places
            .iter()
            .take(NAMED)
            .map(|&k| format!("{} in line {}", self.amount(v[k]), self.readings.lines[k]))
            .collect();
        let more = match places.len().saturating_sub(NAMED) {
            0 => String::new(),
            more => format!(" and {more} more"),
        };
        Some(format!(
            "Outliers, far from the readings beside them: {}{more}. Look at them again; a nick or a typing error makes roundness large.",
            named.join(", ")
        ))
    }
}
