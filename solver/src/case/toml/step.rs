//! `[[step]]`: what is held by what, and cut to what.

use toml::de::DeValue;

use super::node::{Reader, Table};
use super::part::offset;
use crate::case::check;
use crate::case::check::metal::{Metal, Workpiece};
use crate::case::check::range::{ENTERING, Range, TEMPERATURE_RISE};
use crate::case::most::{MOST_CUTS, MOST_STEPS};
use crate::case::quantity::Dimension::{Angle, Force, Length, Plain, Speed};
use crate::case::{CentreOn, Cut, Reach, Step, Tool, Turned};
use crate::geometry::Surface;

/// Reads the steps. `holds` are the names in the file, also of holds that have problems of their own.
pub(super) fn steps<'a>(
    reader: &mut Reader<'a>,
    root: &Table<'a>,
    work: &mut Workpiece,
    holds: &[String],
) -> Vec<Step> {
    let Some(item) = reader.required(root, "step", "at least one [[step]] with a hold") else {
        return Vec::new();
    };
    let tables = reader.tables(&item, MOST_STEPS, "steps");
    if matches!(item.value.get_ref(), DeValue::Array(a) if a.is_empty()) {
        reader.wrong(
            &item,
            "there is no step; give at least one [[step]] with a hold",
        );
    }
    tables
        .iter()
        .filter_map(|table| step(reader, table, work, holds))
        .collect()
}

fn step<'a>(
    reader: &mut Reader<'a>,
    table: &Table<'a>,
    work: &mut Workpiece,
    holds: &[String],
) -> Option<Step> {
    reader.check_keys(
        table,
        &[
            "hold",
            "force_scale",
            "flipped",
            "turned",
            "centre_on",
            "spindle_offset",
            "stress_relieved",
            "speed",
            "temperature_rise",
            "minutes_held",
            "cut",
        ],
        &[],
    );
    let hold = reader
        .required(table, "hold", "the name of a hold")
        .and_then(|item| {
            let name = reader.text(&item)?;
            check::step::hold_is_there(&mut reader.findings, &item.path, name, holds)?;
            Some(name.to_owned())
        });
    let force_scale = match table.get("force_scale") {
        Some(i) => reader.number(&i, Plain, Range::ZeroOrMore),
        None => Some(1.0),
    };
    let spindle_offset = match table.get("spindle_offset") {
        Some(i) => offset(reader, &i),
        None => Some([0.0, 0.0]),
    };
    let flipped = flag(reader, table, "flipped");
    let turned = match table.get("turned") {
        Some(i) if matches!(i.value.get_ref(), DeValue::String(s) if s == "any") => {
            Some(Turned::Any)
        }
        Some(i) => reader
            .number(&i, Angle, Range::Any)
            .map(|deg| Turned::By(deg.to_radians())),
        None => Some(Turned::By(0.0)),
    };
    let centre_on = match table.get("centre_on") {
        Some(i) => reader
            .choice(&i, &["jaws", "outer", "bore"], &[])
            .map(|word| match word {
                "outer" => CentreOn::Surface(Surface::Outer),
                "bore" => CentreOn::Surface(Surface::Bore),
                _ => CentreOn::Jaws,
            }),
        None => Some(CentreOn::Jaws),
    };
    let stress_relieved = flag(reader, table, "stress_relieved");
    let conditions = conditions(reader, table);
    if work.is_tube {
        let relieved = stress_relieved == Some(true);
        check::tube::step_goes(&mut reader.findings, &table.path, turned, relieved);
    }
    let cuts = cuts(reader, table, flipped == Some(true), work);
    let [speed, temperature_rise, minutes_held] = conditions?;
    Some(Step {
        hold: hold?,
        force_scale: force_scale?,
        flipped: flipped?,
        turned: turned?,
        centre_on: centre_on?,
        spindle_offset: spindle_offset?,
        stress_relieved: stress_relieved?,
        speed,
        temperature_rise,
        minutes_held,
        cuts,
    })
}

/// Speed of the spindle, how much warmer the part is than when it is measured, and how long it is held.
fn conditions<'a>(reader: &mut Reader<'a>, table: &Table<'a>) -> Option<[Option<f64>; 3]> {
    let mut number = |key: &str, dimension, range| match table.get(key) {
        Some(i) => reader.number(&i, dimension, range).map(Some),
        None => Some(None),
    };
    let speed = number("speed", Speed, Range::ZeroOrMore);
    let rise = number("temperature_rise", Plain, TEMPERATURE_RISE);
    let minutes = number("minutes_held", Plain, Range::ZeroOrMore);
    Some([speed?, rise?, minutes?])
}

/// Whether something is so; left out it is not.
fn flag<'a>(reader: &mut Reader<'a>, table: &Table<'a>, key: &str) -> Option<bool> {
    match table.get(key) {
        Some(i) => reader.flag(&i),
        None => Some(false),
    }
}

fn cuts<'a>(
    reader: &mut Reader<'a>,
    step: &Table<'a>,
    flipped: bool,
    work: &mut Workpiece,
) -> Vec<Cut> {
    let Some(item) = step.get("cut") else {
        return Vec::new();
    };
    let tables = reader.tables(&item, MOST_CUTS, "cuts in one step");
    tables
        .iter()
        .filter_map(|table| cut(reader, table, flipped, work))
        .collect()
}

fn cut<'a>(
    reader: &mut Reader<'a>,
    table: &Table<'a>,
    flipped: bool,
    work: &mut Workpiece,
) -> Option<Cut> {
    reader.check_keys(
        table,
        &[
            "surface",
            "diameter",
            "radial_force",
            "from",
            "to",
            "end_diameter",
            "feed",
            "entering_angle",
            "tangential_force",
            "axial_force",
        ],
        &[],
    );
    let surface = reader
        .required(table, "surface", "\"outer\" or \"bore\"")
        .and_then(|i| reader.choice(&i, &["outer", "bore"], &[]))
        .map(|name| {
            if name == Surface::Bore.name() {
                Surface::Bore
            } else {
                Surface::Outer
            }
        });
    let diameter = reader.needed(table, "diameter", Length, Range::AboveZero);
    let tool = tool(reader, table);
    // along a tube the wall does not give way to it, and the grip alone is checked against it
    let pushes = tool.and_then(|t| t.radial_force).filter(|_| !work.is_tube);
    let reach = reach(reader, table, work);
    let cut = Cut {
        surface: surface?,
        diameter: diameter?,
        reach: reach?,
        tool: tool?,
        radial_force: pushes.map_or(0.0, |band| band.nominal),
    };
    if let Some(metal) = &mut work.metal {
        metal.cut(&mut reader.findings, &table.path, &cut, flipped);
    }
    Some(cut)
}

/// What is known of the tool's force in a cut.
fn tool<'a>(reader: &mut Reader<'a>, table: &Table<'a>) -> Option<Tool> {
    let mut number = |key: &str, dimension, range| match table.get(key) {
        Some(item) => reader.number(&item, dimension, range).map(Some),
        None => Some(None),
    };
    let feed = number("feed", Length, Range::AboveZero);
    let entering_angle = number("entering_angle", Angle, ENTERING);
    let mut band = |key: &str| match table.get(key) {
        Some(item) => reader.band(&item, Force, Range::ZeroOrMore).map(Some),
        None => Some(None),
    };
    let (tangential_force, axial_force) = (band("tangential_force"), band("axial_force"));
    let radial_force = band("radial_force");
    Some(Tool {
        feed: feed?,
        entering_angle: entering_angle?.map(f64::to_radians),
        tangential_force: tangential_force?,
        axial_force: axial_force?,
        radial_force: radial_force?,
    })
}

/// What of the part's length a cut runs over.
fn reach<'a>(reader: &mut Reader<'a>, table: &Table<'a>, work: &Workpiece) -> Option<Reach> {
    let mut length = |key: &str, range| match table.get(key) {
        Some(item) => reader.number(&item, Length, range).map(Some),
        None => Some(None),
    };
    let from = length("from", Range::ZeroOrMore);
    let to = length("to", Range::AboveZero);
    let end_diameter = length("end_diameter", Range::AboveZero);
    let given = |key: &str| table.get(key).is_some();
    if !work.is_tube {
        check::grip::needs_tube(&mut reader.findings, &table.path, given);
        return Some(Reach::default());
    }
    let reach = Reach {
        from: from?.unwrap_or(0.0),
        to: to?,
        end_diameter: end_diameter?,
    };
    let part = work.metal.as_ref().map(Metal::length);
    check::grip::reach(&mut reader.findings, &table.path, reach, part)
}
