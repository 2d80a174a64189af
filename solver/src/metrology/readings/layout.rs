//! How the values of a line stand beside each other, and what a header says about them.

use super::fault::Fault;
use super::number::shown;
use super::unit::LengthUnit;
use super::{Format, ReadingKind};

/// What stands between values.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Separator {
    Comma,
    Semicolon,
    Tab,
    Blank,
}

impl Separator {
    /// The separator of a line, the surest sign first.
    pub(super) fn of(line: &str) -> Self {
        let signs = [
            (';', Self::Semicolon),
            ('\t', Self::Tab),
            (',', Self::Comma),
        ];
        let found = signs.iter().find(|(sign, _)| line.contains(*sign));
        found.map_or(Self::Blank, |(_, separator)| *separator)
    }

    /// Whether a comma inside a number can only be a decimal comma.
    pub(super) fn frees_comma(self) -> bool {
        matches!(self, Self::Semicolon | Self::Tab)
    }

    /// Values of a table's row, each with its byte offset; empty ones at the end of the row do not count.
    pub(super) fn fields(self, row: &str) -> Vec<(usize, &str)> {
        let mut fields = match self {
            Self::Comma => split(row, |c| c == ','),
            Self::Semicolon => split(row, |c| c == ';'),
            Self::Tab => split(row, |c| c == '\t'),
            Self::Blank => words(row, self).collect(),
        };
        while fields.last().is_some_and(|(_, text)| text.is_empty()) {
            fields.pop();
        }
        fields
    }
}

fn split(row: &str, at: impl Fn(char) -> bool) -> Vec<(usize, &str)> {
    row.split(at)
        .map(|piece| {
            let start = piece.as_ptr() as usize - row.as_ptr() as usize;
            let blanks = piece.len() - piece.trim_start().len();
            (start + blanks, piece.trim())
        })
        .collect()
}

/// Words of a typed list, each with its byte offset: between blanks, semicolons and those commas that are no decimal comma.
pub(super) fn words(line: &str, separator: Separator) -> impl Iterator<Item = (usize, &str)> {
    let mut at = 0;
    std::iter::from_fn(move || {
        let skipped = line[at..].find(|c: char| !(c.is_whitespace() || c == ';' || c == ','))?;
        let start = at + skipped;
        let end = line[start..]
            .char_indices()
            .find(|&(k, c)| {
                let decimal = c == ',' && separator.frees_comma() && digit_after(line, start + k);
                c.is_whitespace() || c == ';' || (c == ',' && !decimal)
            })
            .map_or(line.len(), |(k, _)| start + k);
        at = end;
        Some((start, &line[start..end]))
    })
}

fn digit_after(line: &str, at: usize) -> bool {
    line.as_bytes().get(at + 1).is_some_and(u8::is_ascii_digit)
}

/// Whether bare commas and bare blanks both stand between numbers of a list, as in `0,4 -0,1`.
pub(super) fn doubtful_comma(line: &str) -> Option<usize> {
    let bytes = line.as_bytes();
    let bare_comma = (1..bytes.len())
        .find(|&k| bytes[k] == b',' && bytes[k - 1].is_ascii_digit() && digit_after(line, k))?;
    let bare_blank = (1..bytes.len()).any(|k| {
        bytes[k].is_ascii_whitespace()
            && !matches!(bytes[k - 1], b',' | b' ' | b'\t')
            && !line[k..].trim_start().starts_with(',')
    });
    bare_blank.then_some(bare_comma)
}

/// Columns of a table.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Columns {
    pub(super) separator: Separator,
    /// Fields of a row.
    pub(super) count: usize,
    /// Where angles stand; without, the readings are evenly spaced.
    pub(super) angle: Option<usize>,
    /// Degrees in a unit of the angles.
    pub(super) degrees: f64,
    /// Where readings stand.
    pub(super) reading: usize,
}

/// What a header tells.
#[derive(Clone, Debug)]
pub(super) struct Header {
    pub(super) columns: Columns,
    pub(super) kind: ReadingKind,
    pub(super) unit: LengthUnit,
    /// Whether the name says what the readings are: `reading` leaves that open.
    pub(super) kind_named: bool,
    /// Whether the name says the unit.
    pub(super) unit_named: bool,
    /// Columns that are not used.
    pub(super) unused: Vec<String>,
}

/// Whether a first line is a header: it starts with a letter, and not with a word that stands for a number.
pub(super) fn is_header(line: &str) -> bool {
    let word = line.trim_start().trim_start_matches('"');
    let first = words(word, Separator::Blank).next().map_or("", |(_, w)| w);
    let value = first.split(':').next().unwrap_or(first);
    word.starts_with(char::is_alphabetic) && value.parse::<f64>().is_err()
}

/// Reads a header; an error comes with the byte offset of the name at fault.
pub(super) fn header(line: &str, format: &Format) -> Result<Header, (usize, Fault)> {
    let separator = Separator::of(line);
    let fields = separator.fields(line);
    let (mut angle, mut reading, mut unused) = (None, None, Vec::new());
    for (k, &(at, typed)) in fields.iter().enumerate() {
        let name = plain_name(typed);
        let (what, unit) = name.split_once('_').unwrap_or((&name, ""));
        if let Some(degrees) = angle_unit(what, unit) {
            let twice = Fault::TwoColumns { what: "angles" };
            if angle.replace((k, degrees)).is_some() {
                return Err((at, twice));
            }
        } else if let Some(kind) = kind_of(what, format.kind) {
            let named = (!what.starts_with("reading"), !unit.is_empty());
            let unit = unit_of(unit, format).map_err(|fault| (at, fault))?;
            let twice = Fault::TwoColumns { what: "readings" };
            if reading.replace((k, kind, unit, named)).is_some() {
                return Err((at, twice));
            }
        } else {
            unused.push((at, shown(typed)));
        }
    }
    // a column beside angles and readings does no harm; one in place of either is a misspelling
    if (angle.is_none() || reading.is_none())
        && let Some((at, name)) = unused.first()
    {
        return Err((*at, Fault::UnknownColumn { name: name.clone() }));
    }
    let Some((reading, kind, unit, (kind_named, unit_named))) = reading else {
        return Err((0, Fault::NoColumn));
    };
    let columns = Columns {
        separator,
        count: fields.len(),
        angle: angle.map(|(k, _)| k),
        degrees: angle.map_or(1.0, |(_, degrees)| degrees),
        reading,
    };
    let unused = unused.into_iter().map(|(_, name)| name).collect();
    Ok(Header {
        columns,
        kind,
        unit,
        kind_named,
        unit_named,
        unused,
    })
}

/// `Radius (mm)`, `radius-mm` and `RADIUS_MM` are one name.
fn plain_name(typed: &str) -> String {
    let parts = typed.split(|c: char| !c.is_alphanumeric());
    let words: Vec<String> = parts
        .filter(|word| !word.is_empty())
        .map(str::to_lowercase)
        .collect();
    words.join("_")
}

/// Degrees in a unit of the angle column, if it is one.
fn angle_unit(what: &str, unit: &str) -> Option<f64> {
    match (what, unit) {
        ("angle", "" | "deg" | "degree" | "degrees") | ("deg" | "degrees", "") => Some(1.0),
        ("angle", "rad" | "radians") => Some(1_f64.to_degrees()),
        _ => None,
    }
}

fn kind_of(what: &str, asked: ReadingKind) -> Option<ReadingKind> {
    match what {
        "radius" | "radii" => Some(ReadingKind::Radii),
        "deviation" | "deviations" => Some(ReadingKind::Deviations),
        "diameter" | "diameters" => Some(ReadingKind::Diameters),
        // an indicator shows changes, whatever it is held against
        "reading" | "readings" if asked == ReadingKind::Radii => Some(ReadingKind::Deviations),
        "reading" | "readings" => Some(asked),
        _ => None,
    }
}

/// Unit of a header's name and of the options, which must not differ.
fn unit_of(name: &str, format: &Format) -> Result<LengthUnit, Fault> {
    if name.is_empty() {
        return Ok(format.unit.unwrap_or(format.plain));
    }
    let unit = LengthUnit::named(name)?;
    match format.unit {
        Some(asked) if asked != unit => Err(Fault::UnitsDiffer {
            header: unit.name(),
            asked: asked.name(),
        }),
        _ => Ok(unit),
    }
}
