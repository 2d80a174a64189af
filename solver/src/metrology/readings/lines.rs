//! Lines of a text, one at a time, so that a file of any size needs the memory of its longest line. A line ends with a line feed,
//! a carriage return or both: old programs and some gauges write the second alone.

use std::io::{self, BufRead, ErrorKind};

use super::fault::{Fault, ReadingsError};

/// Longest line, bytes: the most readings that are taken as a typed list on one line, with room.
const LONGEST: usize = 1 << 22;

/// The longest text, bytes: the most readings with five hundred bytes of other columns each.
const MOST: usize = 50_000_000;

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
    /// Bytes that may still be read.
    left: usize,
    /// Whether the line before ended with a carriage return, whose line feed may follow.
    returned: bool,
}

impl<R: BufRead> Lines<R> {
    pub(super) fn new(reader: R) -> Self {
        Self {
            reader,
            bytes: Vec::new(),
            number: 0,
            left: MOST,
            returned: false,
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
        self.number += 1;
        loop {
            let Some((piece, ended)) = self.piece().map_err(unreadable)? else {
                return Ok(!self.bytes.is_empty());
            };
            self.left = self.left.saturating_sub(piece);
            let fault = if self.left == 0 {
                Fault::TooLong { limit: MOST }
            } else if self.bytes.len() > LONGEST {
                Fault::LongLine { limit: LONGEST }
            } else if ended {
                return Ok(true);
            } else {
                continue;
            };
            return Err(ReadingsError::new(self.number, 0, fault));
        }
    }

    /// Takes over what the reader has of this line: how many bytes, and whether the line ends with them. None at the end.
    fn piece(&mut self) -> io::Result<Option<(usize, bool)>> {
        let found = loop {
            match self.reader.fill_buf() {
                Err(e) if e.kind() == ErrorKind::Interrupted => {}
                found => break found?,
            }
        };
        if found.is_empty() {
            return Ok(None);
        }
        let skipped = usize::from(std::mem::take(&mut self.returned) && found[0] == b'\n');
        let found = &found[skipped..];
        let end = found.iter().position(|b| matches!(b, b'\n' | b'\r'));
        self.bytes
            .extend_from_slice(&found[..end.unwrap_or(found.len())]);
        self.returned = end.is_some_and(|k| found[k] == b'\r');
        let taken = skipped + end.map_or(found.len(), |k| k + 1);
        self.reader.consume(taken);
        Ok(Some((taken, end.is_some())))
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
        let binary = |c: char| c.is_control() && !matches!(c, '\t' | '\u{c}');
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

fn unreadable(e: io::Error) -> ReadingsError {
    ReadingsError::whole(Fault::Unreadable {
        message: e.to_string(),
    })
}

/// What stands before a comment.
fn said(line: &str) -> &str {
    line.split('#').next().unwrap_or(line).trim_end()
}
