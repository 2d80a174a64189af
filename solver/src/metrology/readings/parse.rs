//! From text to numbers with their lines, in the order and by the angles of whoever typed them.

use std::io::BufRead;

use super::fault::{DECIMAL_COMMAS, Fault, ReadingsError};
use super::layout::{Columns, Separator, doubtful_comma, header, is_header, words};
use super::lines::{Line, Lines};
use super::number::{number, shown};
use super::unit::{Amount, LengthUnit};
use super::{Format, MOST, ReadingKind};

/// No part is larger, mm.
const LARGEST: f64 = 1e6;

/// Smallest angle, degrees: encoders start anywhere in a turn, before or after their zero; more is a slip.
pub(super) const LEAST_ANGLE: f64 = -360.0;

/// Largest angle, degrees.
pub(super) const LARGEST_ANGLE: f64 = 720.0;

/// Readings as typed.
#[derive(Debug, Default)]
pub(super) struct Typed {
    /// Degrees; empty for an evenly spaced list.
    pub(super) angles: Vec<f64>,
    /// mm.
    pub(super) values: Vec<f64>,
    pub(super) lines: Vec<usize>,
    pub(super) kind: ReadingKind,
    pub(super) unit: LengthUnit,
    /// Whether a header says what the readings are.
    pub(super) kind_named: bool,
    /// Whether a header or the caller says the unit.
    pub(super) unit_named: bool,
    /// Whether a comma between columns may have been meant as a decimal comma.
    pub(super) commas: bool,
    pub(super) cautions: Vec<String>,
}

/// How the readings stand in the text; the first line decides.
enum TextLayout {
    /// `30:-0.1`
    Pairs(Separator),
    /// Readings alone, any number a line.
    List(Separator),
    /// One reading a line.
    Table(Columns),
}

pub(super) fn parse(reader: impl BufRead, format: &Format) -> Result<Typed, ReadingsError> {
    let mut lines = Lines::new(reader);
    let mut typed = Typed {
        kind: format.kind,
        unit: format.unit.unwrap_or(format.plain),
        unit_named: format.unit.is_some(),
        ..Typed::default()
    };
    let mut layout = None;
    while let Some(line) = lines.next()? {
        let layout = match &layout {
            Some(layout) => layout,
            None if is_header(line.text) => {
                layout = Some(typed.take_header(&line, format)?);
                continue;
            }
            None => layout.insert(typed.guess(line.text)),
        };
        match layout {
            TextLayout::Pairs(separator) => typed.pairs(&line, *separator)?,
            TextLayout::List(separator) => typed.list(&line, *separator)?,
            TextLayout::Table(columns) => typed.row(&line, columns)?,
        }
    }
    if typed.values.is_empty() {
        return Err(ReadingsError::whole(Fault::Empty));
    }
    Ok(typed)
}

/// The first of some names, and how many more there are.
fn few(names: &[String]) -> String {
    const SHOWN: usize = 10;
    let shown = names[..names.len().min(SHOWN)].join(", ");
    match names.len().saturating_sub(SHOWN) {
        0 => shown,
        more => format!("{shown} and {more} more"),
    }
}

impl Typed {
    /// For a message about a number that a decimal comma may have torn.
    pub(super) fn comma_hint(&self) -> &'static str {
        if self.commas { DECIMAL_COMMAS } else { "" }
    }

    fn take_header(&mut self, line: &Line, format: &Format) -> Result<TextLayout, ReadingsError> {
        let header = header(line.text, format).map_err(|(at, fault)| line.fault(at, fault))?;
        (self.kind, self.unit) = (header.kind, header.unit);
        self.kind_named = header.kind_named;
        self.unit_named |= header.unit_named;
        if !header.unused.is_empty() {
            self.cautions
                .push(format!("Columns not used: {}.", few(&header.unused)));
        }
        Ok(TextLayout::Table(header.columns))
    }

    /// The layout of a text without header, from its first line: a colon makes pairs, two values make angle and reading, any
    /// other number of values is a list.
    fn guess(&mut self, line: &str) -> TextLayout {
        let separator = Separator::of(line);
        if line.contains(':') {
            return TextLayout::Pairs(separator);
        }
        let count = separator.fields(line).len();
        if count > 2 {
            return TextLayout::List(separator);
        }
        self.commas = separator == Separator::Comma;
        TextLayout::Table(Columns {
            separator,
            count,
            angle: (count == 2).then_some(0),
            degrees: 1.0,
            reading: count.saturating_sub(1),
        })
    }

    fn row(&mut self, line: &Line, columns: &Columns) -> Result<(), ReadingsError> {
        let fields = columns.separator.fields(line.text);
        if fields.len() != columns.count {
            let wrong = Fault::FieldCount {
                found: fields.len(),
                wanted: columns.count,
                hint: if columns.separator == Separator::Comma || line.text.contains(',') {
                    DECIMAL_COMMAS
                } else {
                    ""
                },
            };
            return Err(ReadingsError::new(line.number, 0, wrong));
        }
        if self.commas
            && let Some(at) = doubtful_comma(line.text)
        {
            return Err(line.fault(at, Fault::DoubtfulComma));
        }
        let comma = columns.separator.frees_comma();
        let value = |k: usize| {
            let (at, text) = fields[k];
            number(text, comma).map_err(|fault| line.fault(at, fault))
        };
        if let Some(k) = columns.angle {
            self.push_angle(line, fields[k].0, value(k)? * columns.degrees)?;
        }
        let k = columns.reading;
        self.push_value(line, fields[k].0, value(k)?)
    }

    fn list(&mut self, line: &Line, separator: Separator) -> Result<(), ReadingsError> {
        if !separator.frees_comma()
            && let Some(at) = doubtful_comma(line.text)
        {
            return Err(line.fault(at, Fault::DoubtfulComma));
        }
        for (at, word) in words(line.text, separator) {
            let value = number(word, separator.frees_comma());
            self.push_value(line, at, value.map_err(|fault| line.fault(at, fault))?)?;
        }
        Ok(())
    }

    fn pairs(&mut self, line: &Line, separator: Separator) -> Result<(), ReadingsError> {
        let comma = separator.frees_comma();
        let mut words = words(line.text, separator).peekable();
        while let Some((at, word)) = words.next() {
            // blanks may stand on either side of the colon
            let mut end = at + word.len();
            if !word.contains(':') && words.peek().is_some_and(|(_, next)| next.starts_with(':')) {
                end = words.next().map_or(end, |(k, next)| k + next.len());
            }
            if line.text[..end].ends_with(':') {
                end = words.next().map_or(end, |(k, next)| k + next.len());
            }
            let whole = &line.text[at..end];
            let no_pair = || line.fault(at, Fault::NotAPair { text: shown(whole) });
            let (angle, reading) = whole.split_once(':').ok_or_else(no_pair)?;
            if reading.contains(':') || reading.trim().is_empty() || angle.trim().is_empty() {
                return Err(no_pair());
            }
            let part =
                |text: &str| number(text.trim(), comma).map_err(|fault| line.fault(at, fault));
            self.push_angle(line, at, part(angle)?)?;
            self.push_value(line, at, part(reading)?)?;
        }
        Ok(())
    }

    fn push_angle(&mut self, line: &Line, at: usize, degrees: f64) -> Result<(), ReadingsError> {
        if !(LEAST_ANGLE..=LARGEST_ANGLE).contains(&degrees) {
            return Err(line.fault(at, Fault::Angle { degrees }));
        }
        self.angles.push(degrees);
        Ok(())
    }

    fn push_value(&mut self, line: &Line, at: usize, value: f64) -> Result<(), ReadingsError> {
        if self.values.len() == MOST {
            return Err(line.fault(at, Fault::TooMany { limit: MOST }));
        }
        let amount = Amount {
            mm: value * self.unit.mm(),
            unit: self.unit,
        };
        if amount.mm.abs() > LARGEST {
            return Err(line.fault(at, Fault::TooLarge { value: amount }));
        }
        let kind = match self.kind {
            ReadingKind::Radii => "radius",
            ReadingKind::Diameters => "diameter",
            ReadingKind::Deviations => "",
        };
        // smaller than any atom is zero too
        if !kind.is_empty() && amount.mm < 1e-9 {
            let fault = Fault::NotPositive {
                kind,
                value: amount,
                hint: self.comma_hint(),
            };
            return Err(line.fault(at, fault));
        }
        self.values.push(amount.mm);
        self.lines.push(line.number);
        Ok(())
    }
}
