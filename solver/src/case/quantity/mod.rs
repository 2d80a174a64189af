//! Physical quantities as people type them: a plain number in the file's units, or text with its own unit.
//!
//! Everything leaves here in mm, N, MPa and degrees. Conversion factors are exact by definition: 1 in = 25.4 mm,
//! 1 lbf = 0.45359237 kg x 9.80665 m/s2 (NIST SP 811, appendix B), and what follows from them.

use std::fmt;

mod table;

use super::problem::shown;
use table::UNITS;

/// Newtons in a pound-force (exact).
pub const LBF_N: f64 = 4.4482216152605;
/// Millimetres in an inch (exact).
pub const INCH_MM: f64 = 25.4;
/// Megapascals in a pound-force per square inch (exact up to rounding).
pub const PSI_MPA: f64 = LBF_N / (INCH_MM * INCH_MM);

/// What a number measures.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dimension {
    /// Length, mm.
    Length,
    /// Force, N.
    Force,
    /// Stress or modulus, MPa.
    Stress,
    /// Force a length, N/mm.
    Stiffness,
    /// Angle, degrees.
    Angle,
    /// Density, kg/m3 whatever the file's units.
    Density,
    /// Torque, N mm; a plain number is pound-force inches in a file of inches.
    Torque,
    /// Mass, kg whatever the file's units.
    Mass,
    /// Rotational speed, revolutions a minute.
    Speed,
    /// A bare number.
    Plain,
}

impl Dimension {
    /// Examples of units, for messages.
    fn examples(self) -> &'static str {
        match self {
            Dimension::Length => "mm, um, in, thou",
            Dimension::Force => "N, kN, lbf",
            Dimension::Stress => "MPa, GPa, psi, ksi",
            Dimension::Stiffness => "N/mm, N/um, lbf/in",
            Dimension::Angle => "deg, rad",
            Dimension::Density => "kg/m3, g/cm3, lb/in3",
            Dimension::Torque => "N m, ft-lb",
            Dimension::Mass => "kg, lb",
            Dimension::Speed => "rev/min",
            Dimension::Plain => "none",
        }
    }
}

impl fmt::Display for Dimension {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Dimension::Length => "a length",
            Dimension::Force => "a force",
            Dimension::Stress => "a stress",
            Dimension::Stiffness => "a stiffness",
            Dimension::Angle => "an angle",
            Dimension::Density => "a density",
            Dimension::Torque => "a torque",
            Dimension::Mass => "a mass",
            Dimension::Speed => "a speed",
            Dimension::Plain => "a plain number",
        })
    }
}

/// Units of plain numbers in a file.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum UnitSystem {
    /// mm, N, MPa.
    #[default]
    Millimetre,
    /// in, lbf, psi.
    Inch,
}

impl UnitSystem {
    /// Factor from a plain number to mm, N, MPa, degrees or kg/m3.
    pub fn factor(self, dimension: Dimension) -> f64 {
        match (self, dimension) {
            (UnitSystem::Inch, Dimension::Length) => INCH_MM,
            (UnitSystem::Inch, Dimension::Force) => LBF_N,
            (UnitSystem::Inch, Dimension::Stress) => PSI_MPA,
            (UnitSystem::Inch, Dimension::Stiffness) => LBF_N / INCH_MM,
            (UnitSystem::Inch, Dimension::Torque) => LBF_N * INCH_MM,
            _ => 1.0,
        }
    }
}

/// Units that a text may carry for this dimension.
pub fn units(dimension: Dimension) -> impl Iterator<Item = &'static str> {
    let of = move |u: &&(&str, Dimension, f64)| u.1 == dimension;
    UNITS.iter().filter(of).map(|u| u.0)
}

/// Why a text is not a quantity.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum QuantityError {
    /// No number at the start.
    #[error(
        "\"{text}\" is not {expected}; write a number and a unit, such as \"{example}\", or a plain number"
    )]
    NotANumber {
        /// As typed.
        text: String,
        /// What is expected.
        expected: Dimension,
        /// One that would do.
        example: String,
    },
    /// A comma in the number: a decimal sign to some, a sign between thousands to others.
    #[error(
        "\"{text}\" has a comma in its number; write \"{point}\" with a decimal point, or the number without the comma"
    )]
    Comma {
        /// As typed.
        text: String,
        /// With a point in place of the comma.
        point: String,
    },
    /// A fraction without a unit in a file of millimetres, where it can hardly be millimetres.
    #[error(
        "\"{text}\" is a fraction without a unit; write \"{text} in\" for inches, or \"{decimal} mm\""
    )]
    BareFraction {
        /// As typed.
        text: String,
        /// The same number.
        decimal: f64,
    },
    /// No such unit.
    #[error("unknown unit \"{unit}\"; {hint}")]
    UnknownUnit {
        /// As typed.
        unit: String,
        /// Nearest, or what would do.
        hint: String,
    },
    /// A unit that people read in two ways.
    #[error("\"{unit}\" means two things ({readings}); write {instead}")]
    Ambiguous {
        /// As typed.
        unit: String,
        /// Both readings.
        readings: &'static str,
        /// What to write.
        instead: &'static str,
    },
    /// A unit of something else.
    #[error("\"{unit}\" is a unit of {of}, and this is {expected}; {hint}")]
    WrongKind {
        /// As typed.
        unit: String,
        /// What the unit measures, without its article.
        of: &'static str,
        /// What is expected.
        expected: Dimension,
        /// Units that would do.
        hint: String,
    },
}

/// Reads a text such as "2.5 kN" or "3 1/8 in" as `expected`; the file's units play no part unless the text has no unit.
///
/// Spellings of a unit that mean one thing are read whatever their capitals: "450 LBS" is a force of 450 lbf.
///
/// # Units
/// The answer is in mm, N, MPa, degrees or kg/m3.
///
/// # Errors
/// See [`QuantityError`]. Whether the number is finite and in range is for the caller to check.
pub fn parse(text: &str, expected: Dimension, system: UnitSystem) -> Result<f64, QuantityError> {
    let trimmed = text.trim();
    let (value, unit, fraction) = match mixed(trimmed) {
        Some((value, unit)) => (value, unit, true),
        None => {
            let (number, unit) = split(trimmed);
            let value: f64 = number.parse().map_err(|_| not_a_number(text, expected))?;
            (value, unit, false)
        }
    };
    if unit.starts_with(',') {
        return Err(QuantityError::Comma {
            text: shown(text),
            point: shown(&trimmed.replacen(',', ".", 1)),
        });
    }
    if unit.is_empty() {
        if fraction && expected == Dimension::Length && system == UnitSystem::Millimetre {
            return Err(QuantityError::BareFraction {
                text: shown(trimmed),
                decimal: value,
            });
        }
        return Ok(value * system.factor(expected));
    }
    if let Some(error) = ambiguous(unit) {
        return Err(error);
    }
    if let Some(factor) = factor(unit, expected) {
        return Ok(value * factor);
    }
    let Some(&(_, kind, _)) = UNITS.iter().find(|u| u.0 == unit) else {
        return Err(unknown(unit, expected));
    };
    Err(QuantityError::WrongKind {
        unit: shown(unit),
        of: bare_name(kind),
        expected,
        hint: if expected == Dimension::Plain {
            "leave the unit out".to_owned()
        } else {
            format!("units that would do: {}", expected.examples())
        },
    })
}

/// Size of a unit of this dimension: as spelt, or whatever its capitals if only one unit of the dimension is spelt so.
fn factor(unit: &str, dimension: Dimension) -> Option<f64> {
    let of = || UNITS.iter().filter(|u| u.1 == dimension);
    let lower = unit.to_lowercase();
    of().find(|u| u.0 == unit)
        .or_else(|| of().find(|u| u.0.to_lowercase() == lower))
        .map(|u| u.2)
}

fn ambiguous(unit: &str) -> Option<QuantityError> {
    let (readings, instead) = match unit.to_lowercase().as_str() {
        "tenths" | "tenth" => (
            "ten-thousandths of an inch to some, tenths of a millimetre to others",
            "\"0.0001 in\" or \"0.1 mm\"",
        ),
        "mil" | "mils" => (
            "a thousandth of an inch to some, a millimetre to others",
            "\"thou\" or \"mm\"",
        ),
        _ => return None,
    };
    Some(QuantityError::Ambiguous {
        unit: shown(unit),
        readings,
        instead,
    })
}

fn not_a_number(text: &str, expected: Dimension) -> QuantityError {
    let unit = expected.examples().split(',').next().unwrap_or("");
    let example = if expected == Dimension::Plain {
        "1.5".to_owned()
    } else {
        format!("1.5 {unit}")
    };
    QuantityError::NotANumber {
        text: shown(text),
        expected,
        example,
    }
}

/// Vulgar fractions that have a character of their own.
const VULGAR: &[(char, f64)] = &[
    ('½', 1.0 / 2.0),
    ('¼', 1.0 / 4.0),
    ('¾', 3.0 / 4.0),
    ('⅛', 1.0 / 8.0),
    ('⅜', 3.0 / 8.0),
    ('⅝', 5.0 / 8.0),
    ('⅞', 7.0 / 8.0),
];

/// A fraction or mixed number with what follows it: "1/2 in", "3 1/8 in", "3-1/8 in", "-3 1/8 in", "3½ in". `None` if the text
/// does not begin with one.
fn mixed(text: &str) -> Option<(f64, &str)> {
    let (sign, rest) = match text.strip_prefix('-') {
        Some(rest) => (-1.0, rest),
        None => (1.0, text.strip_prefix('+').unwrap_or(text)),
    };
    let (first, after) = digits(rest);
    let joined = after.trim_start().trim_start_matches('-');
    let value_of = |c: char| VULGAR.iter().find(|v| v.0 == c).map(|v| v.1);
    if let Some(part) = joined.chars().next().and_then(value_of) {
        let whole = if first.is_empty() {
            0.0
        } else {
            first.parse().ok()?
        };
        let after = joined.trim_start_matches(|c| value_of(c).is_some());
        return Some((sign * (whole + part), after.trim()));
    }
    let (whole, top, after) = match after.trim_start().strip_prefix('/') {
        Some(after) => ("0", first, after),
        None => {
            let (top, after) = digits(joined);
            // "3-1/8" and "3 1/8", but not "31/8" cut in two
            if joined.len() == after.len() || joined.len() == rest.len() - first.len() {
                return None;
            }
            (first, top, after.trim_start().strip_prefix('/')?)
        }
    };
    let (bottom, after) = digits(after.trim_start());
    let [whole, top, bottom]: [f64; 3] = [whole, top, bottom]
        .map(|d| d.parse().ok())
        .into_iter()
        .collect::<Option<Vec<f64>>>()?
        .try_into()
        .ok()?;
    // "1/2.5" and "1/2/3" are no fractions, and nothing is divided by zero
    (bottom > 0.0 && !after.starts_with(['.', '/']))
        .then(|| (sign * (whole + top / bottom), after.trim()))
}

/// The digits that a text begins with, and what follows.
fn digits(text: &str) -> (&str, &str) {
    let end = text
        .find(|c: char| !c.is_ascii_digit())
        .unwrap_or(text.len());
    text.split_at(end)
}

fn bare_name(dimension: Dimension) -> &'static str {
    match dimension {
        Dimension::Length => "length",
        Dimension::Force => "force",
        Dimension::Stress => "stress",
        Dimension::Stiffness => "stiffness",
        Dimension::Angle => "angle",
        Dimension::Density => "density",
        Dimension::Torque => "torque",
        Dimension::Mass => "mass",
        Dimension::Speed => "speed",
        Dimension::Plain => "nothing",
    }
}

fn unknown(unit: &str, expected: Dimension) -> QuantityError {
    let hint = if expected == Dimension::Plain {
        "leave the unit out".to_owned()
    } else {
        format!("units that would do: {}", expected.examples())
    };
    QuantityError::UnknownUnit {
        unit: shown(unit),
        hint,
    }
}

/// Splits "2.5 kN" after the longest prefix that looks like a number; an exponent needs a digit after it.
fn split(text: &str) -> (&str, &str) {
    let bytes = text.as_bytes();
    let mut end = 0;
    while end < bytes.len() {
        let c = bytes[end];
        let next_digit = |k: usize| bytes.get(k).is_some_and(u8::is_ascii_digit);
        let takes = match c {
            b'0'..=b'9' | b'.' => true,
            b'+' | b'-' => end == 0 || matches!(bytes[end - 1], b'e' | b'E'),
            b'e' | b'E' => {
                end > 0
                    && (next_digit(end + 1)
                        || (matches!(bytes.get(end + 1), Some(b'+' | b'-')) && next_digit(end + 2)))
            }
            _ => false,
        };
        if !takes {
            break;
        }
        end += 1;
    }
    (&text[..end], text[end..].trim())
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn units_convert_exactly() {
        // exact by definition, NIST SP 811 appendix B; a relative rounding of a few eps is left
        for (text, dimension, want) in [
            ("2.5 kN", Dimension::Force, 2500.0),
            ("450 lbf", Dimension::Force, 2001.699726867225),
            ("5 thou", Dimension::Length, 0.127),
            ("12 um", Dimension::Length, 0.012),
            ("0.5 in", Dimension::Length, 12.7),
            ("0.5in", Dimension::Length, 12.7),
            ("-1e-3 mm", Dimension::Length, -0.001),
            ("2.8 GPa", Dimension::Stress, 2800.0),
            ("1 ksi", Dimension::Stress, 6.894757293168361),
            ("3 deg", Dimension::Angle, 3.0),
            ("8.93 g/cm3", Dimension::Density, 8930.0),
            ("7", Dimension::Force, 7.0),
            // a pound of force is 4.4482216152605 N, an inch 25.4 mm
            ("450 lb", Dimension::Force, 2001.699726867225),
            ("450 lbs", Dimension::Force, 2001.699726867225),
            ("450 LBS.", Dimension::Force, 2001.699726867225),
            ("450 pounds", Dimension::Force, 2001.699726867225),
            ("5 mpa", Dimension::Stress, 5.0),
            ("1 KSI", Dimension::Stress, 6.894757293168361),
            ("3 thousandths", Dimension::Length, 0.0762),
            ("0.5\"", Dimension::Length, 12.7),
            ("0.5 IN.", Dimension::Length, 12.7),
            ("1/2 in", Dimension::Length, 12.7),
            ("1/2\"", Dimension::Length, 12.7),
            ("3 1/8 in", Dimension::Length, 79.375),
            ("3-1/8in", Dimension::Length, 79.375),
            ("3 1/8\"", Dimension::Length, 79.375),
            ("-3 1/8 in", Dimension::Length, -79.375),
            ("3 ½ in", Dimension::Length, 88.9),
            ("3½\"", Dimension::Length, 88.9),
            ("5 3/16 inches", Dimension::Length, 131.7625),
            ("31/8 in", Dimension::Length, 98.425),
            ("1/2 mm", Dimension::Length, 0.5),
        ] {
            let got = parse(text, dimension, UnitSystem::Millimetre).unwrap();
            assert!((got - want).abs() <= 4e-15 * want.abs(), "{text}: {got}");
        }
        assert_eq!(
            parse("2", Dimension::Length, UnitSystem::Inch).unwrap(),
            50.8
        );
        // in a file of inches a fraction needs no unit
        assert_eq!(
            parse("3 1/8", Dimension::Length, UnitSystem::Inch).unwrap(),
            79.375
        );
    }

    #[test]
    fn wrong_units_are_explained() {
        for (text, dimension, needle) in [
            ("5 tenths", Dimension::Length, "two things"),
            ("5 mil", Dimension::Length, "thou"),
            ("5 mm", Dimension::Force, "unit of length"),
            ("5 lb", Dimension::Length, "unit of force"),
            ("3 1/8", Dimension::Length, "write \"3 1/8 in\""),
            ("3/0 in", Dimension::Length, "unknown unit"),
            ("1/2.5 in", Dimension::Length, "unknown unit"),
            ("2,5 mm", Dimension::Length, "write \"2.5 mm\""),
            ("1,500 lbf", Dimension::Force, "without the comma"),
            ("5 tons", Dimension::Force, "N, kN, lbf"),
            ("5 furlong", Dimension::Length, "unknown unit"),
            ("much", Dimension::Length, "not a length"),
            ("nan", Dimension::Length, "not a length"),
            ("", Dimension::Length, "not a length"),
            ("5 mm", Dimension::Plain, "leave the unit out"),
            ("1.2.3 mm", Dimension::Length, "not a length"),
        ] {
            let e = parse(text, dimension, UnitSystem::Millimetre)
                .unwrap_err()
                .to_string();
            assert!(e.contains(needle), "{text}: {e}");
        }
    }
}
