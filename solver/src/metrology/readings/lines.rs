//! Lines of a text, one at a time, so that a file of any size needs the memory of its longest line.

use std::io::{BufRead, Read};

use super::fault::{Fault, ReadingsError};

/// Longest line, bytes: the most readings that are taken as a typed list on one line, with room.
const LONGEST: u64 = 1 << 22;

/// A line with its comment cut off, and its number from 1.
pub(super) struct Line<'a> {
    pub(super) number: usize,
    pub(super) text: &'a str,
}

impl Line<'_> {
    /// An error at a byte offset of this line.
    pub(super) fn fault(&self, offset: usize, fault: Fault) -> ReadingsError {
        let column = self.text[..offset].chars().count() + 1;
        ReadingsError::new(self.number, column, fault)
    }
}

/// Lines that say something: blank lines and comments are passed over.
pub(super) struct Lines<R> {
    reader: R,
    bytes: Vec<u8>,
    number: usize,
}

impl<R: BufRead> Lines<R> {
    pub(super) fn new(reader: R) -> Self {
        Self {
            reader,
            bytes: Vec::new(),
            number: 0,
        }
    }

    /// The next line, or none at the end.
    pub(super) fn next(&mut self) -> Result<Option<Line<'_>>, ReadingsError> {
        // two passes over the bytes, because a borrow cannot be returned from inside the loop
        loop {
            if !self.fetch()? {
                return Ok(None);
            }
            // a spreadsheet writes an empty row as separators alone
            let silent = |c: char| c.is_whitespace() || c == ',' || c == ';';
            if !said(self.text()?).trim_matches(silent).is_empty() {
                break;
            }
        }
        let number = self.number;
        let text = said(self.text()?);
        Ok(Some(Line { number, text }))
    }

    /// Takes one more line in; false at the end.
    fn fetch(&mut self) -> Result<bool, ReadingsError> {
        self.bytes.clear();
        let read = self
            .reader
            .by_ref()
            .take(LONGEST)
            .read_until(b'\n', &mut self.bytes)
            .map_err(|e| {
                ReadingsError::whole(Fault::Unreadable {
                    message: e.to_string(),
                })
            })?;
        self.number += 1;
        if read as u64 == LONGEST && !self.bytes.ends_with(b"\n") {
            return Err(ReadingsError::new(
                self.number,
                0,
                Fault::LongLine { limit: LONGEST },
            ));
        }
        Ok(read > 0)
    }

    fn text(&self) -> Result<&str, ReadingsError> {
        let wrong = |column, why| ReadingsError::new(self.number, column, Fault::NotText { why });
        let first = self.number == 1;
        if first && (self.bytes.starts_with(&[0xff, 0xfe]) || self.bytes.starts_with(&[0xfe, 0xff]))
        {
            return Err(wrong(1, "it is UTF-16"));
        }
        let text = std::str::from_utf8(&self.bytes).map_err(|e| {
            let good = String::from_utf8_lossy(&self.bytes[..e.valid_up_to()]);
            wrong(good.chars().count() + 1, "a byte that is none")
        })?;
        let binary = |c: char| c.is_control() && !matches!(c, '\t' | '\r' | '\n' | '\u{c}');
        if let Some(at) = text.find(binary) {
            return Err(wrong(text[..at].chars().count() + 1, "a control character"));
        }
        // the byte order mark of some editors
        Ok(text
            .strip_prefix('\u{feff}')
            .filter(|_| first)
            .unwrap_or(text))
    }
}

/// What stands before a comment.
fn said(line: &str) -> &str {
    line.split('#').next().unwrap_or(line).trim_end()
}
