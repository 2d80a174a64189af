//! `[part]`: the ring as received.

use super::node::{Item, Reader, Table};
use super::readings::readings;
use super::residual::residual;
use crate::case::check;
use crate::case::check::part::MOST_LOBES;
use crate::case::check::range::Range;
use crate::case::material::Class;
use crate::case::most::MOST_LOBE_TABLES;
use crate::case::quantity::Dimension::{Angle, Density, Length, Plain, Stress};
use crate::case::{Material, Part, SectionThickness};
use crate::geometry::{Lobe, PerSurface, StockOutline, Surface};
use crate::grip::Kienzle;
use crate::scheme::Section;

pub(super) fn part<'a>(
    reader: &mut Reader<'a>,
    root: &Table<'a>,
    assumed: &mut Vec<String>,
) -> Option<Part> {
    let item = reader.required(root, "part", "the ring as received in a [part] table")?;
    let table = reader.table(&item)?;
    reader.check_keys(
        &table,
        &[
            "outer_diameter",
            "bore_diameter",
            "length",
            "section_thickness",
            "material",
            "residual_hoop_stress",
            "lobes",
            "bore_offset",
            "readings",
        ],
        &[],
    );
    let outer = reader.needed(&table, "outer_diameter", Length, Range::AboveZero);
    let bore = reader.needed(&table, "bore_diameter", Length, Range::AboveZero);
    let length = reader.needed(&table, "length", Length, Range::AboveZero);
    if let (Some(outer), Some(bore)) = (outer, bore) {
        check::part::has_wall(&mut reader.findings, outer, bore);
    }
    let material = reader
        .required(
            &table,
            "material",
            "a name of the built-in table, or a table",
        )
        .and_then(|i| material(reader, &i));
    let section = outer.zip(bore).zip(length).map(|((o, b), length)| Section {
        outer_radius: 0.5 * o,
        bore_radius: 0.5 * b,
        length,
    });
    let residual = table
        .get("residual_hoop_stress")
        .and_then(|i| residual(reader, &i, section.zip(material.as_ref()), assumed));
    let lobes = lobes(reader, &table, assumed);
    let centre = table
        .get("bore_offset")
        .and_then(|i| offset(reader, &i))
        .unwrap_or([0.0, 0.0]);
    if residual.is_none() {
        assumed.push(check::NO_RESIDUAL.into());
    }
    let mut stock = PerSurface {
        outer: StockOutline::round(0.5 * outer?),
        bore: StockOutline::round(0.5 * bore?),
    };
    stock.bore.centre = centre;
    stock.outer.lobes = lobes.outer;
    stock.bore.lobes = lobes.bore;
    let measured = readings(reader, &table, &mut stock, assumed);
    let given = |key: &str| table.get(key).is_some();
    check::part::wall_is_left(&mut reader.findings, &stock, given, assumed);
    Some(Part {
        stock,
        length: length?,
        material: material?,
        residual,
        measured,
    })
}

/// How thick the slice is that stands for the part: a length, or the word for what its length makes of it.
pub(super) fn section_thickness<'a>(
    reader: &mut Reader<'a>,
    root: &Table<'a>,
) -> Option<SectionThickness> {
    // what is wrong with the table itself is told elsewhere
    let table = match root.get("part") {
        Some(item) if item.is_table() => reader.table(&item)?,
        _ => return Some(SectionThickness::WholeLength),
    };
    match table.get("section_thickness") {
        None => Some(SectionThickness::WholeLength),
        Some(item) if item.is_text(FROM_TUBE) => Some(SectionThickness::FromTube),
        Some(item) => reader
            .number(&item, Length, Range::AboveZero)
            .map(SectionThickness::Given),
    }
}

/// The word for a slice as thick as lobes like the part along its length.
pub(super) const FROM_TUBE: &str = "from-tube";

fn lobes<'a>(
    reader: &mut Reader<'a>,
    part: &Table<'a>,
    assumed: &mut Vec<String>,
) -> PerSurface<Vec<Lobe>> {
    let mut lobes = PerSurface::<Vec<Lobe>>::default();
    let Some(item) = part.get("lobes") else {
        return lobes;
    };
    for table in reader.tables(&item, MOST_LOBE_TABLES, "tables of lobes") {
        reader.check_keys(&table, &["surface", "count", "amplitude", "angle"], &[]);
        let surface = match table.get("surface") {
            Some(i) => reader.choice(&i, &["outer", "bore", "both"], &[]),
            None => {
                assumed.push(format!(
                    "{}: on both surfaces (no surface given)",
                    table.path
                ));
                Some("both")
            }
        };
        let count = reader
            .required(&table, "count", "the lobes per revolution")
            .and_then(|i| reader.whole(&i, 1, MOST_LOBES));
        let amplitude = reader.needed(&table, "amplitude", Length, Range::Any);
        let angle = match table.get("angle") {
            Some(i) => reader.number(&i, Angle, Range::Any),
            None => Some(0.0),
        };
        let (Some(surface), Some(count), Some(amplitude), Some(angle)) =
            (surface, count, amplitude, angle)
        else {
            continue;
        };
        let lobe = Lobe {
            count: u32::try_from(count).expect("checked to be small"),
            amplitude,
            phase: angle.to_radians(),
        };
        for s in Surface::BOTH {
            if surface == "both" || surface == s.name() {
                lobes.get_mut(s).push(lobe);
            }
        }
    }
    lobes
}

/// A `{ distance, angle }` table as a point, mm.
pub(super) fn offset<'a>(reader: &mut Reader<'a>, item: &Item<'a>) -> Option<[f64; 2]> {
    let table = reader.table(item)?;
    reader.check_keys(&table, &["distance", "angle"], &[]);
    let distance = reader.needed(&table, "distance", Length, Range::ZeroOrMore);
    let angle = match table.get("angle") {
        Some(i) => reader.number(&i, Angle, Range::Any),
        None => Some(0.0),
    };
    let (distance, (sin, cos)) = (distance?, angle?.to_radians().sin_cos());
    Some([distance * cos, distance * sin])
}

fn material<'a>(reader: &mut Reader<'a>, item: &Item<'a>) -> Option<Material> {
    if let toml::de::DeValue::String(name) = item.value.get_ref() {
        return check::part::material(&mut reader.findings, name);
    }
    let table = reader.table(item)?;
    reader.check_keys(
        &table,
        &[
            "name",
            "young_modulus",
            "poisson_ratio",
            "yield_strength",
            "density",
            "cutting",
            "thermal_expansion",
            "long_time_modulus",
        ],
        &[],
    );
    let cutting = match table.get("cutting") {
        Some(i) => cutting(reader, &i).map(Some),
        None => Some(None),
    };
    let name = match table.get("name") {
        Some(i) => reader.text(&i)?.to_owned(),
        None => "as given".to_owned(),
    };
    let young_modulus = reader.needed(&table, "young_modulus", Stress, Range::AboveZero);
    let poisson_ratio = reader.needed(&table, "poisson_ratio", Plain, Range::Between(-1.0, 0.5));
    let yield_strength = reader.optional(&table, "yield_strength", Stress, Range::AboveZero);
    let density = reader.optional(&table, "density", Density, Range::AboveZero);
    let thermal_expansion = reader.optional(
        &table,
        "thermal_expansion",
        Plain,
        Range::Between(0.0, 1e-2),
    );
    let long_time_modulus = reader.optional(&table, "long_time_modulus", Stress, Range::AboveZero);
    Some(Material {
        name,
        class: Class::by_modulus(young_modulus?),
        young_modulus: young_modulus?,
        poisson_ratio: poisson_ratio?,
        yield_strength,
        density,
        cutting: cutting?,
        thermal_expansion,
        long_time_modulus,
    })
}

/// Constants of the cutting force.
fn cutting<'a>(reader: &mut Reader<'a>, item: &Item<'a>) -> Option<Kienzle> {
    let table = reader.table(item)?;
    reader.check_keys(&table, &["kc11", "mc"], &[]);
    let kc11 = reader.needed(&table, "kc11", Stress, Range::AboveZero);
    let mc = reader.needed(&table, "mc", Plain, Range::Between(0.0, 1.0));
    Some(Kienzle {
        kc11: kc11?,
        mc: mc?,
    })
}
