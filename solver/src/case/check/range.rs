//! Which numbers and words are taken, and what to say of others.

use crate::case::problem::{nearest, shown};
use crate::case::quantity::Dimension;
use crate::grip::Band;
use crate::scheme::{Bounds, Limits, Parameter, number_in_words};

/// Keys that some later work builds: said so by name, apart from keys that nobody knows.
pub(in crate::case) const NOT_BUILT: &str = "not supported yet";

/// What people type for a word of the file, and that word.
const SAME: &[(&str, &str)] = &[
    ("outside", "outer"),
    ("od", "outer"),
    ("OD", "outer"),
    ("inside", "bore"),
    ("inner", "bore"),
    ("id", "bore"),
    ("ID", "bore"),
    ("outer", "outside"),
    ("bore", "inside"),
    ("in", "inch"),
    ("inches", "inch"),
    ("millimetre", "mm"),
    ("metric", "mm"),
];

/// Keys of the trade that have another name here.
const SAME_KEY: &[(&str, &str)] = &[
    ("number", "count"),
    ("quantity", "count"),
    ("od", "outer_diameter"),
    ("OD", "outer_diameter"),
    ("id", "bore_diameter"),
    ("ID", "bore_diameter"),
    ("bore", "bore_diameter"),
    ("torque", "key_torque"),
    ("wrench_torque", "key_torque"),
    ("pressure", "air_pressure"),
    ("grip_force", "force"),
    ("bolts", "studs"),
    ("bolt_torque", "stud_torque"),
];

/// Keys that ask for a force by what makes it.
const FORCE_BY: &[&str] = &["torque", "wrench_torque", "pressure", "grip_force"];

/// Entering angles, degrees: an edge that runs along the feed takes a chip of no thickness.
pub(in crate::case) const ENTERING: Range = Range::AboveUpTo(5.0, 120.0);

/// How much warmer than the room a part may be cut, K.
pub(in crate::case) const TEMPERATURE_RISE: Range = Range::Between(-100.0, 500.0);

/// Beyond these squares would overflow or vanish.
const LARGEST: f64 = Bounds::LARGEST;
const SMALLEST: f64 = 1e-12;

/// Allowed range of a number.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::case) enum Range {
    /// Any finite number.
    Any,
    /// Zero or more.
    ZeroOrMore,
    /// Above zero.
    AboveZero,
    /// Above the first, and no more than the second.
    AboveUpTo(f64, f64),
    /// Above the first and below the second.
    Between(f64, f64),
    /// As narrow as a scheme has it.
    Within {
        /// In mm, N, MPa or degrees.
        bounds: Bounds,
        /// Whole numbers alone.
        whole: bool,
        /// The unit of the bounds.
        unit: &'static str,
    },
}

impl Range {
    /// What is wrong with a number, as typed, if it is not in the range.
    pub fn wrong(self, value: f64, typed: &str) -> Option<String> {
        let must = |what: &str| Some(format!("is {typed}; it must be {what}"));
        match self {
            Range::ZeroOrMore if value < 0.0 => must("zero or more"),
            Range::AboveZero if value <= 0.0 => must("above zero"),
            Range::AboveZero if value < SMALLEST => Some(format!(
                "is {typed}, as good as zero; it must be above zero"
            )),
            Range::AboveUpTo(low, high) if value <= low || value > high => {
                must(&format!("above {low} and no more than {high}"))
            }
            Range::Between(low, high) if value <= low || value >= high => {
                must(&format!("above {low} and below {high}"))
            }
            Range::Within {
                bounds,
                whole,
                unit,
            } if !bounds.hold(value) || (whole && value.fract() != 0.0) => {
                must(&bounds.in_words(whole, unit))
            }
            _ => None,
        }
    }
}

impl From<Bounds> for Range {
    fn from(bounds: Bounds) -> Self {
        match bounds {
            Bounds {
                above: true,
                least,
                most,
            } if most < LARGEST => Range::AboveUpTo(least, most),
            Bounds { above: true, .. } => Range::AboveZero,
            Bounds { least: 0.0, .. } => Range::ZeroOrMore,
            _ => Range::Any,
        }
    }
}

/// The numbers that a parameter takes.
impl From<&Parameter> for Range {
    fn from(parameter: &Parameter) -> Self {
        match parameter.bounds() {
            Some(bounds) if parameter.limits != Limits::NONE => Range::Within {
                bounds,
                whole: parameter.limits.whole,
                unit: parameter.kind.unit(),
            },
            Some(bounds) => Range::from(bounds),
            None => Range::Any,
        }
    }
}

/// What is wrong with a number in mm, N, MPa, degrees or kg/m3, as typed, if it is not one that is taken.
pub(in crate::case) fn wrong_number(
    value: f64,
    typed: &str,
    dimension: Dimension,
    range: Range,
) -> Option<String> {
    if value.is_nan() {
        Some(format!("is not a number; expected {dimension}"))
    } else if value.is_infinite() {
        Some(format!("is infinite; expected {dimension}"))
    } else if value.abs() > LARGEST {
        Some(format!("is {typed}, beyond anything held in a chuck"))
    } else {
        range.wrong(value, typed)
    }
}

/// What is wrong with a band in mm, N, MPa, degrees or kg/m3, if it is not one that is taken.
pub(in crate::case) fn wrong_band(
    band: &Band,
    dimension: Dimension,
    range: Range,
) -> Option<String> {
    let [low, high] = [band.low, band.high].map(number_in_words);
    if band.low > band.high {
        return Some(format!(
            "is a band upside down: low is {low} and high is {high}; give the smaller as low"
        ));
    }
    let wrong = |x: f64| wrong_number(x, &number_in_words(x), dimension, range);
    let wrong = wrong(band.low).or_else(|| wrong(band.high))?;
    Some(format!("goes from {low} to {high}, and one end {wrong}"))
}

/// What is wrong with a whole number, if it is not from `least` to `most`.
pub(in crate::case) fn wrong_whole(n: Option<i128>, least: u64, most: u64) -> Option<String> {
    match n {
        Some(n) if n < i128::from(least) => Some(format!("is {n}; it must be {least} or more")),
        Some(n) if n <= i128::from(most) => None,
        _ => Some(format!("is too large; {most} is the most")),
    }
}

/// What is wrong with a word, if it is none of `words`; `later` ones are refused by name.
pub(in crate::case) fn wrong_word(word: &str, words: &[&str], later: &[&str]) -> Option<String> {
    if words.contains(&word) {
        return None;
    }
    let quoted: Vec<_> = words.iter().map(|w| format!("\"{w}\"")).collect();
    if later.contains(&word) {
        return Some(format!(
            "\"{word}\" is {NOT_BUILT}; give {}",
            quoted.join(" or ")
        ));
    }
    let known = format!("known: {}", quoted.join(", "));
    let same = SAME.iter().find(|s| s.0 == word).map(|s| s.1);
    let near = same.filter(|s| words.contains(s));
    Some(
        match near.or_else(|| nearest(word, words.iter().copied())) {
            Some(near) => format!(
                "\"{}\" is not known; did you mean \"{near}\"? {known}",
                shown(word)
            ),
            None => format!("\"{}\" is not known; {known}", shown(word)),
        },
    )
}

/// What is wrong with a key, if it is none of those `known`; those in `later` are refused by name, with what to do until they are supported.
pub(in crate::case) fn wrong_key(
    key: &str,
    known: &[&str],
    later: &[(&str, &str)],
) -> Option<String> {
    if known.contains(&key) {
        return None;
    }
    if let Some((_, instead)) = later.iter().find(|(k, _)| *k == key) {
        return Some(format!("{NOT_BUILT}; {instead}"));
    }
    let same = SAME_KEY.iter().find(|s| s.0 == key).map(|s| s.1);
    let same = same.filter(|s| known.contains(s));
    if same.is_none() && FORCE_BY.contains(&key) && known.contains(&"force") {
        return Some(format!(
            "unknown key \"{key}\"; the force is not worked out from it here: give `force`"
        ));
    }
    Some(match same.or_else(|| nearest(key, known.iter().copied())) {
        Some(near) => format!("unknown key \"{}\"; did you mean \"{near}\"?", shown(key)),
        None => format!(
            "unknown key \"{}\"; known here: {}",
            shown(key),
            known.join(", ")
        ),
    })
}
