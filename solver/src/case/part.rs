//! `[part]`: the ring as received.

use std::f64::consts::TAU;

use super::material::{Class, built_in, names};
use super::most::MOST_LOBE_TABLES;
use super::node::{Item, NOT_BUILT, Range, Reader, Table};
use super::problem::{nearest, shown};
use super::quantity::Dimension::{Angle, Density, Length, Plain, Stress};
use super::readings::readings;
use super::residual::residual;
use super::{Material, Part};
use crate::geometry::{Lobe, PerSurface, StockOutline, Surface};
use crate::scheme::Section;

/// Highest lobe count of a stock: the finest thing that 3600 profile points still show well.
pub(super) const MOST_LOBES: u64 = 360;

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
    if let (Some(outer), Some(bore), Some(item)) = (outer, bore, table.get("bore_diameter"))
        && bore >= outer
    {
        let (bore, outer) = (reader.length(bore), reader.length(outer));
        reader.wrong(
            &item,
            format!(
                "the bore, {bore}, is not smaller than the outside, {outer}; a ring needs a wall"
            ),
        );
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
        assumed.push("no residual stress".into());
    }
    let mut stock = PerSurface {
        outer: StockOutline::round(0.5 * outer?),
        bore: StockOutline::round(0.5 * bore?),
    };
    stock.bore.centre = centre;
    stock.outer.lobes = lobes.outer;
    stock.bore.lobes = lobes.bore;
    let measured = readings(reader, &table, &mut stock, assumed);
    if stock.outer.is_round() && stock.bore.is_round() {
        assumed.insert(0, "round blank".into());
    } else if stock.outer.radius > stock.bore.radius {
        wall(reader, &table, &stock);
    }
    Some(Part {
        stock,
        length: length?,
        material: material?,
        residual,
        measured,
    })
}

/// Refuses lobes and offsets that eat up the wall, with the angle and the thickness.
fn wall<'a>(reader: &mut Reader<'a>, table: &Table<'a>, stock: &PerSurface<StockOutline>) {
    let (mut least, mut at) = (f64::INFINITY, 0.0);
    for k in 0..3600 {
        let angle = TAU * f64::from(k) / 3600.0;
        let bore = stock.bore.radius(angle);
        // a bore that reaches the axis is as bad as a wall that vanishes
        let thickness = (stock.outer.radius(angle) - bore).min(bore);
        if thickness < least {
            (least, at) = (thickness, angle);
        }
    }
    if least < 1e-6 * stock.outer.radius {
        let key = ["bore_offset", "lobes", "readings"]
            .into_iter()
            .find(|k| table.get(k).is_some())
            .unwrap_or("lobes");
        let span = table.get(key).map_or(table.span.clone(), |i| i.key_span);
        let least = reader.length(least);
        reader.problem(
            span,
            &table.path_of(key),
            format!(
                "leaves no wall at {:.1} deg ({least}); lobes and offset must stay within the wall",
                at.to_degrees()
            ),
        );
    }
}

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

/// What the shop calls materials of the table. Common practice, no source.
const SHOP_NAMES: &[(&str, &str)] = &[
    ("delrin", "acetal POM-H"),
    ("pom", "acetal POM-H"),
    ("660", "bronze C93200"),
    ("sae 660", "bronze C93200"),
    ("bearing bronze", "bronze C93200"),
    ("teflon", "PTFE"),
    ("stainless", "stainless 304 annealed"),
    ("stainless", "stainless 316 annealed"),
    ("bearing steel", "steel 52100 annealed"),
    ("mild steel", "steel 1018 cold drawn"),
    ("cast iron", "grey iron class 30"),
];

/// The names that may be meant: "C93200" or "4140" alone is a part of them; otherwise the nearest spelling.
fn meant(typed: &str) -> String {
    let lower = typed.to_lowercase();
    let has = |n: &&str| !lower.is_empty() && n.to_lowercase().contains(&lower);
    let mut names_meant: Vec<&str> = SHOP_NAMES
        .iter()
        .filter(|(shop, _)| lower.contains(shop))
        .map(|(_, name)| *name)
        .filter(|n| names().any(|known| known == *n))
        .take(3)
        .collect();
    if names_meant.is_empty() {
        names_meant = names().filter(has).take(4).collect();
    }
    if names_meant.is_empty() {
        let lowered: Vec<(String, &str)> = names().map(|n| (n.to_lowercase(), n)).collect();
        let best = nearest(&lower, lowered.iter().map(|(l, _)| l.as_str()));
        names_meant.extend(
            best.and_then(|best| lowered.iter().find(|(l, _)| l == best))
                .map(|(_, n)| *n),
        );
    }
    if names_meant.is_empty() {
        return String::new();
    }
    let quoted: Vec<_> = names_meant.iter().map(|n| format!("\"{n}\"")).collect();
    format!(" did you mean {}?", quoted.join(" or "))
}

fn material<'a>(reader: &mut Reader<'a>, item: &Item<'a>) -> Option<Material> {
    if let toml::de::DeValue::String(name) = item.value.get_ref() {
        let found = built_in(name);
        if found.is_none() {
            reader.wrong(
                item,
                format!(
                    "no material \"{}\" in the built-in table;{} `ringwright materials` lists them all; or give \
                     {{ young_modulus = .., poisson_ratio = .. }}",
                    shown(name),
                    meant(name)
                ),
            );
        }
        return found;
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
        ],
        &[],
    );
    if let Some(i) = table.get("cutting") {
        reader.problem(
            i.key_span.clone(),
            &i.path,
            format!("{NOT_BUILT}; leave it out (grip is not checked against the tool's force)"),
        );
    }
    let name = match table.get("name") {
        Some(i) => reader.text(&i)?.to_owned(),
        None => "as given".to_owned(),
    };
    let young_modulus = reader.needed(&table, "young_modulus", Stress, Range::AboveZero);
    let poisson_ratio = reader.needed(&table, "poisson_ratio", Plain, Range::Between(-1.0, 0.5));
    let yield_strength = reader.optional(&table, "yield_strength", Stress, Range::AboveZero);
    let density = reader.optional(&table, "density", Density, Range::AboveZero);
    Some(Material {
        name,
        class: Class::by_modulus(young_modulus?),
        young_modulus: young_modulus?,
        poisson_ratio: poisson_ratio?,
        yield_strength,
        density,
    })
}
