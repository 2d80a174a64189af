//! `[tube]`: the part along its length.

use super::node::{Item, Reader, Table};
use crate::case::check;
use crate::case::check::range::Range;
use crate::case::quantity::Dimension::Length;
use crate::case::{Part, Tube};
use crate::geometry::Meridian;

/// Reads the table; `None` if there is none, or it is wrong.
pub(super) fn tube<'a>(
    reader: &mut Reader<'a>,
    root: &Table<'a>,
    part: Option<&Part>,
) -> Option<Tube> {
    let table = root.get("tube").and_then(|i| reader.table(&i))?;
    reader.check_keys(&table, &["stations", "outline"], &[]);
    let stations = match table.get("stations") {
        Some(item) => stations(reader, &item, part),
        None => Some(Vec::new()),
    };
    let outline = match table.get("outline") {
        Some(item) => outline(reader, &item, part).map(Some),
        None => Some(None),
    };
    if let (Some(Some(outline)), Some(part)) = (&outline, part) {
        check::tube::fits(&mut reader.findings, outline, part);
    }
    Some(Tube {
        stations: stations?,
        outline: outline?,
    })
}

fn stations<'a>(reader: &mut Reader<'a>, item: &Item<'a>, part: Option<&Part>) -> Option<Vec<f64>> {
    let Some(items) = item.list() else {
        reader.wrong(
            item,
            "expected a list of positions along the part, like [0.0, 5.0, 10.0]",
        );
        return None;
    };
    let numbers: Vec<Option<f64>> = items
        .iter()
        .map(|i| reader.number(i, Length, Range::ZeroOrMore))
        .collect();
    let numbers = numbers.into_iter().collect::<Option<Vec<f64>>>()?;
    check::tube::stations(&mut reader.findings, &numbers, part.map(|p| p.length))
}

fn outline<'a>(reader: &mut Reader<'a>, item: &Item<'a>, part: Option<&Part>) -> Option<Meridian> {
    const POINT: &str = "expected three lengths: [z, outer_diameter, bore_diameter]";
    let Some(items) = item.list() else {
        reader.wrong(
            item,
            "expected a list of points: [[z, outer_diameter, bore_diameter], ...]",
        );
        return None;
    };
    if let Some(message) = check::tube::too_many_points(items.len()) {
        reader.wrong(item, message);
        return None;
    }
    let mut row = |i: &Item<'a>| {
        let Some(Ok([z, outer, bore])) = i.list().map(<[Item; 3]>::try_from) else {
            reader.wrong(i, POINT);
            return None;
        };
        let z = reader.number(&z, Length, Range::ZeroOrMore);
        let outer = reader.number(&outer, Length, Range::AboveZero);
        let bore = reader.number(&bore, Length, Range::ZeroOrMore);
        Some([z?, outer?, bore?])
    };
    let rows: Vec<Option<[f64; 3]>> = items.iter().map(&mut row).collect();
    let rows = rows.into_iter().collect::<Option<Vec<_>>>()?;
    check::tube::outline(&mut reader.findings, &rows, part.map(|p| p.length))
}
