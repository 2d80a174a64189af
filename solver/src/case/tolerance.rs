//! `[tolerance]`: what the finished part must be.

use super::inspection::{circle, filter_upr};
use super::node::{Range, Reader, Table};
use super::quantity::Dimension::Length;
use super::{Case, Step};
use crate::geometry::{PerSurface, Surface};
use crate::metrology::{ReferenceCircle, Roundness};
use crate::scheme::Section;

/// Farthest that a size limit may be from the finished nominal diameter, share of it.
const NEAR: f64 = 0.05;

/// Limits on the finished part.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Tolerance {
    /// Radial zone, minimum zone, unfiltered, of every surface cut in any step, mm.
    pub roundness: Option<f64>,
    /// Limits of each surface.
    pub surfaces: PerSurface<SurfaceTolerance>,
}

/// Limits on one surface of the finished part, mm.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SurfaceTolerance {
    /// Radial zone about `circle`.
    pub roundness: Option<f64>,
    /// Lowest and highest of every two-point diameter.
    pub diameter: Option<[f64; 2]>,
    /// Lowest and highest mean of the two-point diameters.
    pub average_diameter: Option<[f64; 2]>,
    /// Largest wall less smallest.
    pub wall_variation: Option<f64>,
    /// Full indicator movement while the part turns about the axis of the other surface.
    pub runout: Option<f64>,
    /// Cut-off of the Gaussian filter, undulations per revolution; `None`: as the inspection has it.
    pub filter_upr: Option<f64>,
    /// Reference circle; `None`: as the inspection has it.
    pub circle: Option<ReferenceCircle>,
}

impl Tolerance {
    /// Whether it limits anything but roundness.
    pub fn limits_more_than_roundness(&self) -> bool {
        Surface::BOTH.into_iter().any(|s| {
            let own = self.surfaces.get(s);
            own.diameter.is_some()
                || own.average_diameter.is_some()
                || own.wall_variation.is_some()
                || own.runout.is_some()
        })
    }
}

/// The roundness asked of a surface.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RoundnessLimit {
    /// Radial zone, mm.
    pub most: f64,
    /// What the roundness is told about.
    pub about: Roundness,
    /// Whether it is the surface's own limit, not the general one.
    pub own: bool,
}

impl Case {
    /// The roundness limit that applies to a surface of the finished part. The general zone is for surfaces that some step cuts and means the
    /// minimum zone without a filter; a zone of the surface's own takes its place.
    pub fn roundness_limit(&self, surface: Surface) -> Option<RoundnessLimit> {
        let own = self.tolerance.surfaces.get(surface);
        if let Some(most) = own.roundness {
            let about = Roundness {
                circle: own.circle.unwrap_or(self.inspection.circle),
                cut_off: own.filter_upr.or(self.inspection.filter_upr),
            };
            return Some(RoundnessLimit {
                most,
                about,
                own: true,
            });
        }
        self.last_to_cut(surface)?;
        let most = self.tolerance.roundness?;
        Some(RoundnessLimit {
            most,
            about: Roundness::default(),
            own: false,
        })
    }

    /// Index of the last step that cuts a surface: the one that its shape comes from.
    pub fn last_to_cut(&self, surface: Surface) -> Option<usize> {
        let cuts = |s: &Step| s.cuts.iter().any(|c| c.surface == surface);
        self.steps.iter().rposition(cuts)
    }
}

/// Reads the table. `finished` is the nominal section after the last cut, if it is known.
pub(super) fn tolerance<'a>(
    reader: &mut Reader<'a>,
    root: &Table<'a>,
    finished: Option<&Section>,
) -> Tolerance {
    let Some(table) = root.get("tolerance").and_then(|i| reader.table(&i)) else {
        return Tolerance::default();
    };
    reader.check_keys(&table, &["roundness", "bore", "outer"], &[]);
    Tolerance {
        roundness: zone(reader, &table, "roundness", finished),
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
    finished: Option<&Section>,
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
    let nominal = finished.map(|s| match surface {
        Surface::Outer => 2.0 * s.outer_radius,
        Surface::Bore => 2.0 * s.bore_radius,
    });
    let limits = SurfaceTolerance {
        roundness: zone(reader, table, "roundness", finished),
        diameter: size(reader, table, "diameter", nominal),
        average_diameter: size(reader, table, "average_diameter", nominal),
        wall_variation: zone(reader, table, "wall_variation", finished),
        runout: zone(reader, table, "runout", finished),
        filter_upr: filter_upr(reader, table),
        circle: circle(reader, table),
    };
    if let (Some([low, high]), Some([least, most])) = (limits.diameter, limits.average_diameter)
        && (most < low || least > high)
        && let Some(item) = table.get("average_diameter")
    {
        let (low, high) = (reader.length(low), reader.length(high));
        let message = format!(
            "no part meets both: the average lies among the diameters, and these must be {low} to {high}"
        );
        reader.wrong(&item, message);
    }
    limits
}

/// A width that must be above zero and, so that a slip of the unit is seen, below the finished wall.
fn zone<'a>(
    reader: &mut Reader<'a>,
    table: &Table<'a>,
    key: &str,
    finished: Option<&Section>,
) -> Option<f64> {
    let item = table.get(key)?;
    let width = reader.number(&item, Length, Range::AboveZero)?;
    let wall = finished.map_or(f64::INFINITY, |s| s.outer_radius - s.bore_radius);
    if wall > 0.0 && width >= wall {
        let (width, wall) = (reader.length(width), reader.length(wall));
        let message = format!("is {width}, as much as the wall, {wall}; mixed units?");
        reader.wrong(&item, message);
        return None;
    }
    Some(width)
}

/// `[low, high]` of a diameter.
fn size<'a>(
    reader: &mut Reader<'a>,
    table: &Table<'a>,
    key: &str,
    nominal: Option<f64>,
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
    if low >= high {
        let (low, high) = (reader.length(low), reader.length(high));
        let message = format!("the lowest, {low}, is not below the highest, {high}");
        reader.wrong(&item, message);
        return None;
    }
    if let Some(nominal) = nominal
        && [low, high]
            .iter()
            .any(|d| (d - nominal).abs() > NEAR * nominal)
    {
        let [low, high, drawn] = [low, high, nominal].map(|d| reader.length(d));
        let message = format!(
            "{low} to {high} is far from the finished diameter, {drawn}; mixed units, or a radius?"
        );
        reader.wrong(&item, message);
        return None;
    }
    Some([low, high])
}
