//! `residual_hoop_stress`: what is locked up in the stock, typed as stress or as what a slit ring of it did.

use std::f64::consts::TAU;

use super::node::{Item, Reader, Table};
use crate::case::check;
use crate::case::check::range::Range;
use crate::case::quantity::Dimension::{Length, Stress};
use crate::case::{Material, ResidualHoopStress};
use crate::scheme::Section;
use crate::series::{Annulus, SlitRing, opening_from_diameters, opening_from_gap, thin_stress};

/// Surfaces by which the diameter of a slit ring may be typed.
pub(super) const SLIT_SURFACES: [&str; 3] = ["outer", "bore", "mean"];
/// Farthest that a diameter before slitting may be from the drawn one, share of it.
const NEAR: f64 = 0.05;
/// Farthest opening or closing that is taken for one, degrees.
const MOST_OPENING_DEG: f64 = 90.0;

/// Reads the key. `stock` is the nominal section and what it is made of, if both are known.
pub(super) fn residual<'a>(
    reader: &mut Reader<'a>,
    item: &Item<'a>,
    stock: Option<(Section, &Material)>,
    assumed: &mut Vec<String>,
) -> Option<ResidualHoopStress> {
    let table = reader.table(item)?;
    reader.check_keys(&table, &["outer", "bore", "slit"], &[]);
    let Some(slit_item) = table.get("slit") else {
        let outer = reader.needed(&table, "outer", Stress, Range::Any);
        let bore = reader.needed(&table, "bore", Stress, Range::Any);
        let (outer, bore) = (outer?, bore?);
        check::part::stress_cancels(&mut reader.findings, outer, bore)?;
        return Some(ResidualHoopStress { outer, bore });
    };
    if let Some(other) = ["outer", "bore"].iter().find_map(|k| table.get(k)) {
        reader.problem(
            other.key_span.clone(),
            &other.path,
            "the stress is given twice; give outer and bore, or slit, not both",
        );
    }
    slit(reader, &slit_item, stock, assumed)
}

/// What was measured on a slit ring.
struct Measured {
    /// rad, positive where it opened.
    opening: f64,
    /// Mid-wall diameters before and after, mm.
    middle: [f64; 2],
}

fn slit<'a>(
    reader: &mut Reader<'a>,
    item: &Item<'a>,
    stock: Option<(Section, &Material)>,
    assumed: &mut Vec<String>,
) -> Option<ResidualHoopStress> {
    let table = reader.table(item)?;
    let known = [
        "diameter_before",
        "diameter_after",
        "surface",
        "gap",
        "saw_width",
    ];
    reader.check_keys(&table, &known, &[]);
    let annulus =
        stock
            .filter(|(s, _)| s.bore_radius < s.outer_radius)
            .map(|(section, material)| Annulus {
                inner_radius: section.bore_radius,
                outer_radius: section.outer_radius,
                young_modulus: material.young_modulus,
                poisson_ratio: material.poisson_ratio,
                length: section.length,
            });
    let measured = if table.get("gap").is_some() {
        by_gap(reader, &table, annulus.as_ref())
    } else {
        by_diameters(reader, &table, annulus.as_ref())
    };
    let (annulus, measured) = (annulus?, measured?);
    let slit = SlitRing {
        annulus,
        opening: measured.opening,
    };
    if slit.opening.to_degrees().abs() > MOST_OPENING_DEG {
        let message = format!(
            "the ring would have {}, more than the {MOST_OPENING_DEG} deg that an elastic ring is taken to; give the readings \
             again, both diameters on one surface and in one unit",
            turned(slit.opening)
        );
        reader.wrong(item, message);
        return None;
    }
    let stress = slit.linear_stress();
    assumed.push(words(&slit, measured.middle, stress));
    if let Some((_, material)) = stock
        && material.yield_strength.is_some_and(|y| stress.abs() > y)
    {
        assumed.push("slit test: more than the yield strength; look at the readings again".into());
    }
    Some(ResidualHoopStress {
        outer: stress,
        bore: -stress,
    })
}

/// The opening by the diameter of one surface, before and after.
fn by_diameters<'a>(
    reader: &mut Reader<'a>,
    table: &Table<'a>,
    annulus: Option<&Annulus>,
) -> Option<Measured> {
    if let Some(item) = table.get("saw_width") {
        let message = "goes with gap; a diameter does not depend on what the saw took";
        reader.problem(item.key_span.clone(), &item.path, message);
    }
    let before = reader.needed(table, "diameter_before", Length, Range::AboveZero);
    let after = reader.needed(table, "diameter_after", Length, Range::AboveZero);
    let surface = match table.get("surface") {
        Some(i) => reader.choice(&i, &SLIT_SURFACES, &[])?,
        None => "outer",
    };
    let (before, after, annulus) = (before?, after?, annulus?);
    let wall = annulus.outer_radius - annulus.inner_radius;
    // slitting turns the sections and leaves the wall: from either surface the middle is half a wall off
    let (drawn, to_middle) = match surface {
        "outer" => (2.0 * annulus.outer_radius, -wall),
        "bore" => (2.0 * annulus.inner_radius, wall),
        _ => (annulus.outer_radius + annulus.inner_radius, 0.0),
    };
    let item = table.get("diameter_before")?;
    if (before - drawn).abs() > NEAR * drawn {
        let (typed, drawn) = (
            reader.findings.length(before),
            reader.findings.length(drawn),
        );
        let message = format!(
            "is {typed}, but the stock's diameter there (surface = \"{surface}\") is {drawn}; slit a ring of this stock. Mixed \
             units, or another surface?"
        );
        reader.wrong(&item, message);
        return None;
    }
    let middle = [before + to_middle, after + to_middle];
    if middle[0] <= 0.0 || middle[1] <= 0.0 {
        let item = table.get("diameter_after")?;
        let wall = reader.findings.length(wall);
        let message = format!("leaves no ring: the wall alone is {wall}");
        reader.wrong(&item, message);
        return None;
    }
    Some(Measured {
        opening: opening_from_diameters(middle[0], middle[1]),
        middle,
    })
}

/// The opening by the width of the slot.
fn by_gap<'a>(
    reader: &mut Reader<'a>,
    table: &Table<'a>,
    annulus: Option<&Annulus>,
) -> Option<Measured> {
    for key in ["diameter_before", "diameter_after", "surface"] {
        if let Some(item) = table.get(key) {
            let message =
                "the slit test is given twice; give gap, or diameter_before and diameter_after";
            reader.problem(item.key_span.clone(), &item.path, message);
        }
    }
    let (saw_item, gap_item) = (table.get("saw_width"), table.get("gap")?);
    let saw = match &saw_item {
        Some(item) => reader.number(item, Length, Range::ZeroOrMore),
        None => Some(0.0),
    };
    let gap = reader.number(&gap_item, Length, Range::Any);
    let (saw, gap, annulus) = (saw?, gap?, annulus?);
    if let Some(item) = saw_item.filter(|_| saw > annulus.inner_radius) {
        reader.wrong(
            &item,
            "is more than the bore's radius; give what the saw took at the outside",
        );
        return None;
    }
    let middle = annulus.inner_radius + annulus.outer_radius;
    let message = if gap < 0.0 || (gap == 0.0 && saw > 0.0) {
        format!(
            "is {}: lips that touch or pass each other do not tell how far the ring would close; saw a wider slot and give \
             its width as saw_width, or give diameter_before and diameter_after",
            reader.findings.length(gap)
        )
    } else if let Some(opening) = opening_from_gap(annulus, gap, saw) {
        let after = middle / (1.0 - opening / TAU);
        return Some(Measured {
            opening,
            middle: [middle, after],
        });
    } else {
        format!(
            "is {}, more than an elastic ring of this size opens ({MOST_OPENING_DEG} deg); mixed units?",
            reader.findings.length(gap)
        )
    };
    reader.wrong(&gap_item, message);
    None
}

/// Which way the ring went, and how far.
fn turned(opening: f64) -> String {
    let way = if opening < 0.0 { "closed" } else { "opened" };
    format!("{way} by {:.2} deg", opening.to_degrees().abs())
}

/// What the test gave and what of it is used.
fn words(slit: &SlitRing, [before, after]: [f64; 2], used: f64) -> String {
    let a = &slit.annulus;
    let wall = a.outer_radius - a.inner_radius;
    let thin = thin_stress(a.young_modulus, wall, before, after);
    let [outer, bore] = [a.outer_radius, a.inner_radius].map(|r| slit.stress(r)[1]);
    format!(
        "slit test: the ring {} (opened: tension outside); thin rule {thin:.2} MPa outside and {:.2} in the bore, \
         exact bending {outer:.2} outside and {bore:.2} in the bore; used: linear through the wall, {used:.2} outside and {:.2} in \
         the bore, with which the modelled ring opens by as much",
        turned(slit.opening),
        -thin,
        -used
    )
}
