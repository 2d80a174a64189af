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
pub(super) fn to_text(value: &impl Serialize) -> Result<String, ReportError> {
    let fail = |why: String| ReportError::Encode {
        what: "the JSON document".into(),
        why,
    };
    let mut out = Vec::with_capacity(1 << 16);
    value
        .serialize(&mut Serializer::with_formatter(
            &mut out,
            Layout { depth: 0 },
        ))
        .map_err(|e| fail(e.to_string()))?;
    out.push(b'\n');
    String::from_utf8(out).map_err(|e| fail(e.to_string()))
}

struct Layout {
    depth: usize,
}

impl Layout {
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

impl Formatter for Layout {
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

/// A figure to so many significant digits.
pub(super) fn to_digits(value: f64, digits: usize) -> f64 {
    format!("{value:.*e}", digits - 1).parse().unwrap_or(value)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_keep_twelve_digits() {
        let found = to_text(&[1.0, 0.1 + 0.2, 119.999_999_999_999_9, -2.345_678_901_23e-7]);
        assert_eq!(
            found.expect("numbers"),
            "[1.0, 0.3, 120.0, -2.34567890123e-7]\n"
        );
    }
}
