//! `[tolerance]`: what the finished part must be.

use super::inspection::{circle, filter_upr};
use super::node::{Reader, Table};
use crate::case::check;
use crate::case::check::metal::Finished;
use crate::case::check::range::Range;
use crate::case::quantity::Dimension::{Length, Stress};
use crate::case::{SurfaceTolerance, Tolerance};
use crate::geometry::{PerSurface, Surface};

/// Reads the table. `finished` is what the case draws of the finished part, if it is known.
pub(super) fn tolerance<'a>(
    reader: &mut Reader<'a>,
    root: &Table<'a>,
    finished: Option<&Finished>,
) -> Tolerance {
    let Some(table) = root.get("tolerance").and_then(|i| reader.table(&i)) else {
        return Tolerance::default();
    };
    reader.check_keys(
        &table,
        &["roundness", "marking_pressure", "bore", "outer"],
        &[],
    );
    Tolerance {
        roundness: zone(reader, &table, "roundness", finished),
        marking_pressure: reader.optional(&table, "marking_pressure", Stress, Range::AboveZero),
        surfaces: PerSurface::from_fn(|s| {
            table
                .get(s.name())
                .and_then(|i| reader.table(&i))
                .map(|t| on_surface(reader, &t, s, finished))
                .unwrap_or_default()
        }),
    }
}

fn on_surface<'a>(
    reader: &mut Reader<'a>,
    table: &Table<'a>,
    surface: Surface,
    finished: Option<&Finished>,
) -> SurfaceTolerance {
    let known = [
        "roundness",
        "diameter",
        "average_diameter",
        "wall_variation",
        "runout",
        "filter_upr",
        "circle",
    ];
    reader.check_keys(table, &known, &[]);
    let drawn = finished.map_or(&[][..], |f| f.diameters.get(surface));
    let limits = SurfaceTolerance {
        roundness: zone(reader, table, "roundness", finished),
        diameter: size(reader, table, "diameter", drawn),
        average_diameter: size(reader, table, "average_diameter", drawn),
        wall_variation: zone(reader, table, "wall_variation", finished),
        runout: zone(reader, table, "runout", finished),
        filter_upr: filter_upr(reader, table),
        circle: circle(reader, table),
    };
    check::tolerance::sizes_agree(&mut reader.findings, &table.path, &limits);
    limits
}

/// A width.
fn zone<'a>(
    reader: &mut Reader<'a>,
    table: &Table<'a>,
    key: &str,
    finished: Option<&Finished>,
) -> Option<f64> {
    let item = table.get(key)?;
    let width = reader.number(&item, Length, Range::AboveZero)?;
    check::tolerance::zone(&mut reader.findings, &item.path, width, finished)
}

/// `[low, high]` of a diameter.
fn size<'a>(
    reader: &mut Reader<'a>,
    table: &Table<'a>,
    key: &str,
    drawn: &[f64],
) -> Option<[f64; 2]> {
    let item = table.get(key)?;
    let Some([low, high]) = item.list().and_then(|l| <[_; 2]>::try_from(l).ok()) else {
        reader.wrong(&item, "expected two diameters: [lowest, highest]");
        return None;
    };
    let ends = [low, high].map(|i| reader.number(&i, Length, Range::AboveZero));
    let [Some(low), Some(high)] = ends else {
        return None;
    };
    check::tolerance::size(&mut reader.findings, &item.path, [low, high], drawn)
}
