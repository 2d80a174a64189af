//! JSON that a person can scroll: objects a key a line near the top, everything below on one line.

use std::io::{self, Write};

use serde::Serialize;
use serde_json::ser::{Formatter, Serializer};

use super::ReportError;

/// Objects nested deeper than this stay on one line: the lobes and displacements of a shape.
const DEEPEST: usize = 4;

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
