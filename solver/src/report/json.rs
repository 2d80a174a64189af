//! JSON that a person can scroll: objects a key a line near the top, everything below on one line.

use std::io::{self, Write};

use serde::Serialize;
use serde_json::ser::{CompactFormatter, Formatter, Serializer};

use super::ReportError;

/// Objects nested deeper than this stay on one line: the lobes and displacements of a shape.
const DEEPEST: usize = 4;

/// Figures are written to this many significant digits: more than any of them is good for, and without the noise of the last
/// bits, which would take a quarter of the file.
const DIGITS: usize = 12;

/// `value` as text that ends in a line break.
pub(crate) fn to_text(value: &impl Serialize) -> Result<String, ReportError> {
    let fail = |why: String| ReportError::Encode {
        what: "the JSON document".into(),
        why,
    };
    let mut out = Vec::with_capacity(1 << 16);
    value
        .serialize(&mut Serializer::with_formatter(
            &mut out,
            JsonLayout { depth: 0 },
        ))
        .map_err(|e| fail(e.to_string()))?;
    out.push(b'\n');
    String::from_utf8(out).map_err(|e| fail(e.to_string()))
}

/// Line breaks and rounding of a document: long lists stay on one line.
struct JsonLayout {
    depth: usize,
}

impl JsonLayout {
    fn line(&self, writer: &mut (impl Write + ?Sized)) -> io::Result<()> {
        if self.depth > DEEPEST {
            return Ok(());
        }
        writer.write_all(b"\n")?;
        for _ in 0..self.depth {
            writer.write_all(b"  ")?;
        }
        Ok(())
    }
}

impl Formatter for JsonLayout {
    fn write_f64<W: Write + ?Sized>(&mut self, writer: &mut W, value: f64) -> io::Result<()> {
        CompactFormatter.write_f64(writer, rounded(value))
    }

    fn begin_object<W: Write + ?Sized>(&mut self, writer: &mut W) -> io::Result<()> {
        self.depth += 1;
        writer.write_all(b"{")
    }

    fn end_object<W: Write + ?Sized>(&mut self, writer: &mut W) -> io::Result<()> {
        let inline = self.depth > DEEPEST;
        self.depth -= 1;
        if !inline {
            self.line(writer)?;
        }
        writer.write_all(b"}")
    }

    fn begin_object_key<W: Write + ?Sized>(
        &mut self,
        writer: &mut W,
        first: bool,
    ) -> io::Result<()> {
        if !first {
            writer.write_all(if self.depth > DEEPEST { b", " } else { b"," })?;
        }
        self.line(writer)
    }

    fn begin_object_value<W: Write + ?Sized>(&mut self, writer: &mut W) -> io::Result<()> {
        writer.write_all(b": ")
    }

    fn begin_array_value<W: Write + ?Sized>(
        &mut self,
        writer: &mut W,
        first: bool,
    ) -> io::Result<()> {
        if first {
            Ok(())
        } else {
            writer.write_all(b", ")
        }
    }
}

/// A figure to [`DIGITS`] significant digits.
fn rounded(value: f64) -> f64 {
    to_digits(value, DIGITS)
}

/// The powers of ten that are whole numbers to the last bit.
const TENS: [f64; 23] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16,
    1e17, 1e18, 1e19, 1e20, 1e21, 1e22,
];

/// A figure to so many significant digits, at most 12: the number nearest to its decimals.
pub(super) fn to_digits(value: f64, digits: usize) -> f64 {
    by_scaling(value, digits)
        .unwrap_or_else(|| format!("{value:.*e}", digits - 1).parse().unwrap_or(value))
}

/// The same by two roundings that cannot go wrong, in a tenth of the time; `None` where they could.
///
/// The figure times a power of ten is off by less than a ten-thousandth of its last digit, so it is rounded rightly unless it lies
/// that close to halfway; what is left is a whole number, exact, over or times an exact power of ten, so rounded once.
fn by_scaling(value: f64, digits: usize) -> Option<f64> {
    let size = value.abs();
    if !(1e-9..1e15).contains(&size) {
        return None;
    }
    let (least, most) = (TENS[digits - 1], TENS[digits]);
    // a logarithm that is off at a power of ten shows in the size of what it gives
    let places = digits as i32 - 1 - size.log10().floor() as i32;
    let ten = *TENS.get(places.unsigned_abs() as usize)?;
    let scaled = if places < 0 { size / ten } else { size * ten };
    let whole = scaled.round();
    let from_half = (scaled - scaled.floor() - 0.5).abs();
    if !(least..most).contains(&scaled) || whole >= most || from_half < 1e-3 {
        return None;
    }
    let size = if places < 0 { whole * ten } else { whole / ten };
    Some(size.copysign(value))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The quick way gives the bits of the slow one, beside halves and powers of ten too.
    #[test]
    fn rounding_by_scaling_is_rounding_of_decimals() {
        let mut state = 7_u64;
        let mut quick = 0;
        for k in 0..200_000_u32 {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            let share = (state >> 11) as f64 / (1_u64 << 53) as f64;
            let ten = 10_f64.powi(k as i32 % 27 - 11);
            let value = match k % 4 {
                0 => share * ten,
                // a few digits, the last of them a five
                1 => ((share * 1e4).floor() * 10.0 + 5.0) * ten,
                2 => ten * (1.0 - share * 1e-11),
                _ => -((share * 1e12).floor() + 0.5) * ten,
            };
            for digits in [9, 12] {
                let slow: f64 = format!("{value:.*e}", digits - 1)
                    .parse()
                    .expect("a number");
                assert_eq!(
                    to_digits(value, digits).to_bits(),
                    slow.to_bits(),
                    "{value:e}"
                );
                quick += usize::from(by_scaling(value, digits).is_some());
            }
        }
        assert!(quick > 100_000, "{quick}");
        for value in [0.0, -0.0, 5e-324, 1e300] {
            let slow: f64 = format!("{value:.11e}").parse().expect("a number");
            assert_eq!(to_digits(value, 12).to_bits(), slow.to_bits());
        }
    }

    #[test]
    fn figures_keep_twelve_digits() {
        let found = to_text(&[1.0, 0.1 + 0.2, 119.999_999_999_999_9, -2.345_678_901_23e-7]);
        assert_eq!(
            found.expect("numbers"),
            "[1.0, 0.3, 120.0, -2.34567890123e-7]\n"
        );
    }
}
