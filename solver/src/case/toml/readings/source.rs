//! Where the readings of a surface are, in a file or in the case itself, and what the case says that they are.

use std::io::BufReader;

use toml::de::DeValue;

use super::{READS, UNITS, named};
use crate::case::check::part::MOST_LOBES;
use crate::case::check::range::Range;
use crate::case::problem::shown;
use crate::case::quantity::Dimension::Angle;
use crate::case::toml::inspection::gauge;
use crate::case::toml::node::{Item, Reader, Table};
use crate::case::toml::source::open_input;
use crate::geometry::Surface;
use crate::metrology::Gauge;
use crate::metrology::inversion::repeats;
use crate::metrology::readings::{Format, LengthUnit, ReadingKind, Readings};

/// Where the readings of a surface are, and what they are.
pub(super) struct Source {
    /// The file, or "the case".
    pub name: String,
    pub readings: Readings,
    pub format: Format,
    pub on: Gauge,
    pub in_a_file: bool,
}

/// The readings that a surface's value leads to: a file, or a table with the file or the readings themselves. `plain` is how they are
/// read where nothing else is said.
pub(super) fn source<'a>(
    reader: &mut Reader<'a>,
    item: &Item<'a>,
    surface: Surface,
    plain: Format,
) -> Option<Source> {
    let (mut format, mut on) = (plain, Gauge::Radius);
    let mut in_a_file = true;
    let (name, readings) = match item.value.get_ref() {
        DeValue::Table(_) => {
            let table = reader.table(item)?;
            (format, on) = told(reader, &table, surface, plain)?;
            let file = table.get("file");
            match (file, table.get("readings")) {
                (Some(file), None) => from_file(reader, &file, &format)?,
                (None, Some(list)) => {
                    in_a_file = false;
                    from_list(reader, &list, &format)?
                }
                _ => {
                    reader.wrong(item, "give file = \"outer.csv\" or readings = \"0:+0.4 30:-0.1 ...\", one of them");
                    return None;
                }
            }
        }
        _ => from_file(reader, item, &format)?,
    };
    Some(Source {
        name,
        readings,
        format,
        on,
        in_a_file,
    })
}

/// What a table says of its readings.
fn told<'a>(
    reader: &mut Reader<'a>,
    table: &Table<'a>,
    surface: Surface,
    mut format: Format,
) -> Option<(Format, Gauge)> {
    reader.check_keys(
        table,
        &[
            "file",
            "readings",
            "reads",
            "unit",
            "gauge",
            "zero_at",
            "clockwise",
            "lobes",
            "keep_jumps",
        ],
        &[],
    );
    let mut on = Gauge::Radius;
    if let Some(i) = table.get("gauge") {
        on = gauge(reader, &i)?;
        if !on.reaches(surface) {
            reader.wrong(&i, format!("{} cannot be read on a {on}", named(surface)));
            return None;
        }
        format.kind = ReadingKind::Deviations;
        format.repeats = repeats(on);
    }
    if let Some(i) = table.get("reads") {
        format.kind = match reader.choice(&i, &READS, &[])? {
            "deviation" => ReadingKind::Deviations,
            "diameter" => ReadingKind::Diameters,
            _ => ReadingKind::Radii,
        };
    }
    if let Some(i) = table.get("unit") {
        let word = reader.choice(&i, &UNITS, &[])?;
        format.unit = LengthUnit::named(word).ok();
    }
    if let Some(i) = table.get("zero_at") {
        format.zero_at_deg = reader.number(&i, Angle, Range::Any)?;
    }
    let flag = |reader: &mut Reader<'a>, key: &str| {
        table
            .get(key)
            .and_then(|i| reader.flag(&i))
            .unwrap_or(false)
    };
    format.clockwise = flag(reader, "clockwise");
    format.keep_jumps = flag(reader, "keep_jumps");
    if let Some(i) = table.get("lobes") {
        format.lobes = Some(reader.whole(&i, 2, MOST_LOBES)? as u32);
    }
    Some((format, on))
}

/// Readings of a file beside the case.
fn from_file<'a>(
    reader: &mut Reader<'a>,
    item: &Item<'a>,
    format: &Format,
) -> Option<(String, Readings)> {
    let name = reader.text(item)?;
    let Some(folder) = &reader.folder else {
        reader.wrong(
            item,
            "a case that is not read from a file has no folder to look for readings in; write them into the case: \
             { readings = \"0:+0.4 30:-0.1 ...\" }",
        );
        return None;
    };
    let found = open_input(&folder.join(name))
        .map_err(|e| format!("cannot be read: {e}; the file is looked for beside the case file"))
        .and_then(|file| {
            Readings::read(BufReader::new(file), format)
                .map_err(|e| format!("{}: {e}", shown(name)))
        });
    match found {
        Ok(readings) => Some((shown(name), readings)),
        Err(message) => {
            reader.wrong(item, message);
            None
        }
    }
}

/// Readings in the case itself: a typed list, or a list of numbers at equal angles.
fn from_list<'a>(
    reader: &mut Reader<'a>,
    item: &Item<'a>,
    format: &Format,
) -> Option<(String, Readings)> {
    let text = match item.value.get_ref() {
        DeValue::Array(values) => {
            let mut text = String::new();
            for value in values {
                let (DeValue::Integer(_) | DeValue::Float(_)) = value.get_ref() else {
                    reader.wrong(
                        item,
                        "expected a list of plain numbers; their unit stands in `unit`",
                    );
                    return None;
                };
                let number = match value.get_ref() {
                    DeValue::Integer(n) => n.as_str(),
                    DeValue::Float(x) => x.as_str(),
                    _ => "",
                };
                // one a line is a list at equal angles
                text += number;
                text.push('\n');
            }
            text
        }
        _ => reader.text(item)?.to_owned(),
    };
    match Readings::parse(&text, format) {
        Ok(readings) => Some(("the case".to_owned(), readings)),
        Err(e) => {
            reader.wrong(item, e.to_string());
            None
        }
    }
}
