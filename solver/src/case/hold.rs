//! `[[hold.NAME]]`: the schemes of each hold, checked against what the schemes say of themselves, and the
//! simple statics of what they put against the part. No scheme is known here by name.

use std::f64::consts::{PI, TAU};

use super::node::{Item, NOT_BUILT, Range, Reader, Table};
use super::problem::{nearest, shown};
use super::quantity::{Dimension, UnitSystem};
use super::step::FREE;
use super::{Hold, HoldMember};
use crate::scheme::{
    Bounds, HoldingScheme, Parameter, ParameterKind, Registry, Section, Supports, Value, Values,
    ask, loose,
};

/// Keys of later work that any scheme may take.
const LATER: &[&str] = &[
    "friction",
    "friction_axial",
    "axial_stop",
    "jaw_mass",
    "jaw_centroid_radius",
    "jaw_stiffness",
    "part_stiffness",
    "grip_from",
    "grip_length",
];

/// Holds of the file, with the place of each member for messages that come later.
pub(super) struct Holds<'a> {
    pub holds: Vec<Hold>,
    /// Names in the file, also of holds left out of `holds` because they have problems.
    pub names: Vec<String>,
    tables: Vec<Vec<Table<'a>>>,
    /// Choices that the file left to the defaults, one list a hold.
    defaults: Vec<Vec<String>>,
}

pub(super) fn holds<'a>(
    reader: &mut Reader<'a>,
    root: &Table<'a>,
    registry: &Registry,
) -> Holds<'a> {
    let mut out = Holds {
        holds: Vec::new(),
        names: Vec::new(),
        tables: Vec::new(),
        defaults: Vec::new(),
    };
    let Some(table) = root.get("hold").and_then(|i| reader.table(&i)) else {
        return out;
    };
    for (name, item) in table.items() {
        if name == FREE {
            reader.problem(
                item.key_span.clone(),
                &item.path,
                "\"free\" is built in (nothing touches the part); choose another name",
            );
            continue;
        }
        out.names.push(name.to_owned());
        let tables = reader.tables(&item);
        if tables.is_empty() {
            if matches!(item.value.get_ref(), toml::de::DeValue::Array(_)) {
                reader.wrong(
                    &item,
                    format!(
                        "has no scheme; give at least one [[{}]] with a scheme, or use the built-in hold \"free\"",
                        item.path
                    ),
                );
            }
            continue;
        }
        let mut defaults = Vec::new();
        let members: Vec<_> = tables
            .iter()
            .map(|t| member(reader, t, registry, &mut defaults))
            .collect();
        if let Some(members) = members.into_iter().collect::<Option<Vec<_>>>() {
            out.holds.push(Hold {
                name: name.to_owned(),
                members,
            });
            out.tables.push(tables);
            out.defaults.push(defaults);
        }
    }
    out
}

fn member<'a>(
    reader: &mut Reader<'a>,
    table: &Table<'a>,
    registry: &Registry,
    defaults: &mut Vec<String>,
) -> Option<HoldMember> {
    let item = reader.required(table, "scheme", "the name of a holding scheme")?;
    let name = reader.text(&item)?;
    let Some(scheme) = registry.get(name) else {
        let message = if registry.planned().contains(&name) {
            format!("{NOT_BUILT}: the scheme \"{name}\"")
        } else {
            let known = || registry.all().iter().map(|s| s.name());
            let near =
                nearest(name, known()).map_or(String::new(), |n| format!(" did you mean \"{n}\"?"));
            format!(
                "there is no scheme \"{}\";{near} known: {}",
                shown(name),
                known().collect::<Vec<_>>().join(", ")
            )
        };
        reader.wrong(&item, message);
        return None;
    };
    let values = values(reader, table, scheme, defaults)?;
    Some(HoldMember {
        scheme,
        values,
        line: reader.line(table.span.start),
    })
}

fn values<'a>(
    reader: &mut Reader<'a>,
    table: &Table<'a>,
    scheme: &dyn HoldingScheme,
    defaults: &mut Vec<String>,
) -> Option<Values> {
    let parameters = scheme.parameters();
    let known: Vec<&str> = ["scheme"]
        .into_iter()
        .chain(parameters.iter().map(|p| p.key))
        .collect();
    let later: Vec<&str> = scheme
        .planned()
        .iter()
        .filter(|p| p.word.is_none())
        .map(|p| p.key)
        .chain(LATER.iter().copied())
        .collect();
    reader.check_keys(table, &known, &later);
    let mut values = Values::default();
    let mut complete = true;
    for p in parameters {
        let value = match table.get(p.key) {
            Some(item) => value(reader, &item, p, scheme),
            None => match p.default {
                Some(text) => {
                    if let ParameterKind::Choice(words) = p.kind
                        && words.len() > 1
                    {
                        let word = text.trim_matches('"');
                        defaults.push(format!("{}: {} {word} (default)", scheme.name(), p.key));
                    }
                    default_value(p.kind, text)
                }
                None if p.required => {
                    reader.problem(
                        table.span.clone(),
                        &table.path_of(p.key),
                        format!("missing; give {}", p.about),
                    );
                    None
                }
                None => continue,
            },
        };
        match value {
            Some(v) => values.set(p.key, v),
            None => complete = false,
        }
    }
    complete.then_some(values)
}

/// The value of a default as a scheme spells it: in mm, N and degrees whatever the file's units.
pub(crate) fn default_value(kind: ParameterKind, text: &str) -> Option<Value> {
    match kind {
        ParameterKind::Choice(_) => Some(Value::Text(text.trim_matches('"').to_owned())),
        _ => super::quantity::parse(
            text.trim_matches('"'),
            dimension(kind),
            UnitSystem::Millimetre,
        )
        .ok()
        .map(Value::Number),
    }
}

pub(super) fn dimension(kind: ParameterKind) -> Dimension {
    match kind {
        ParameterKind::Length | ParameterKind::Offset | ParameterKind::Offsets => Dimension::Length,
        ParameterKind::Force | ParameterKind::Forces => Dimension::Force,
        ParameterKind::Angle | ParameterKind::Angles | ParameterKind::Arc { .. } => {
            Dimension::Angle
        }
        ParameterKind::Modulus => Dimension::Stress,
        ParameterKind::Stiffness => Dimension::Stiffness,
        ParameterKind::Ratio
        | ParameterKind::Number
        | ParameterKind::Count
        | ParameterKind::Choice(_) => Dimension::Plain,
    }
}

fn value<'a>(
    reader: &mut Reader<'a>,
    item: &Item<'a>,
    parameter: &Parameter,
    scheme: &dyn HoldingScheme,
) -> Option<Value> {
    let range = match parameter.kind {
        ParameterKind::Length | ParameterKind::Modulus | ParameterKind::Stiffness => {
            Range::AboveZero
        }
        ParameterKind::Force | ParameterKind::Forces | ParameterKind::Ratio => Range::ZeroOrMore,
        ParameterKind::Offset
        | ParameterKind::Offsets
        | ParameterKind::Angle
        | ParameterKind::Angles
        | ParameterKind::Number => Range::Any,
        ParameterKind::Arc { most } => Range::AboveUpTo(0.0, most),
        ParameterKind::Count => {
            return reader
                .whole(item, 1, u64::from(Bounds::MOST_BODIES))
                .map(|n| Value::Number(n as f64));
        }
        ParameterKind::Choice(words) => {
            let later: Vec<&str> = scheme
                .planned()
                .iter()
                .filter(|p| p.key == parameter.key)
                .filter_map(|p| p.word)
                .collect();
            return reader
                .choice(item, words, &later)
                .map(|w| Value::Text(w.to_owned()));
        }
    };
    let dimension = dimension(parameter.kind);
    if parameter.kind.takes_list()
        && let Some(items) = item.list()
    {
        let numbers: Vec<_> = items
            .iter()
            .map(|i| reader.number(i, dimension, range))
            .collect();
        return numbers
            .into_iter()
            .collect::<Option<Vec<_>>>()
            .map(Value::Numbers);
    }
    reader.number(item, dimension, range).map(Value::Number)
}

/// Checks a hold on a nominal section: what each scheme says, pads that overlap, forces that cannot balance.
/// Returns what the schemes took for granted.
pub(super) fn check_on<'a>(
    reader: &mut Reader<'a>,
    holds: &Holds<'a>,
    index: usize,
    section: &Section,
) -> Vec<String> {
    let (hold, tables) = (&holds.holds[index], &holds.tables[index]);
    let mut assumed = holds.defaults[index].clone();
    let mut all: Vec<(usize, Supports)> = Vec::new();
    let mut built = true;
    for (k, (member, table)) in hold.members.iter().zip(tables).enumerate() {
        match ask(member.scheme, section, &member.values) {
            Ok(s) => {
                assumed.extend(s.assumed.iter().cloned());
                all.push((k, s));
            }
            Err(e) => {
                built = false;
                let (span, path) = match &e.parameter {
                    Some(p) => (
                        table.get(p).map_or(table.span.clone(), |i| i.span()),
                        table.path_of(p),
                    ),
                    None => (table.span.clone(), table.path.clone()),
                };
                reader.problem(span, &path, e.message);
            }
        }
    }
    if built {
        overlaps(reader, tables, &all);
        if let Some(loose) = loose(all.iter().map(|(_, s)| s)) {
            let table = &tables[0];
            reader.problem(table.span.clone(), &table.path, loose.to_string());
        }
    }
    if all.iter().any(|(_, s)| !s.bodies.is_empty()) {
        assumed.push("rigid jaws".into());
    }
    assumed.push("grip over the full length".into());
    assumed
}

/// Arcs that cover the same metal: pads among pads, dead loads among dead loads.
fn overlaps<'a>(reader: &mut Reader<'a>, tables: &[Table<'a>], all: &[(usize, Supports)]) {
    struct Arc {
        member: usize,
        number: usize,
        pad: bool,
        surface: crate::geometry::Surface,
        angle: f64,
        half: f64,
    }
    let mut arcs = Vec::new();
    for (member, s) in all {
        let pads = s
            .bodies
            .iter()
            .map(|b| (true, b.surface, b.angle, b.half_angle));
        let loads = s
            .pressures
            .iter()
            .map(|p| (false, p.surface, p.angle, p.half_angle));
        for (number, (pad, surface, angle, half)) in pads.chain(loads).enumerate() {
            arcs.push(Arc {
                member: *member,
                number: number + 1,
                pad,
                surface,
                angle,
                half,
            });
        }
    }
    let mut told = vec![false; tables.len()];
    for (i, a) in arcs.iter().enumerate() {
        if told[a.member] {
            continue;
        }
        // among the bodies of one scheme the first overlap says enough
        let overlap = arcs[..i].iter().find_map(|b| {
            if a.pad != b.pad || a.surface != b.surface {
                return None;
            }
            let apart = (a.angle - b.angle + PI).rem_euclid(TAU) - PI;
            let over = a.half + b.half - apart.abs().min(TAU - apart.abs());
            // also the long way round: two half-angles together may be more than the rest of the turn
            let over = over.min(2.0 * a.half.min(b.half));
            (over > 1e-9).then_some((b, over))
        });
        if let Some((b, over)) = overlap {
            told[a.member] = true;
            let table = &tables[a.member];
            let other = if a.member == b.member {
                String::new()
            } else {
                format!(" of {}", tables[b.member].path)
            };
            reader.problem(
                table.span.clone(),
                &table.path,
                format!(
                    "body {} at {:.1} deg (half-angle {:.2} deg) overlaps body {}{other} at {:.1} deg by {:.2} deg on the {} surface; make them narrower, fewer, or move them apart",
                    a.number,
                    a.angle.to_degrees(),
                    a.half.to_degrees(),
                    b.number,
                    b.angle.to_degrees(),
                    over.to_degrees(),
                    a.surface.name(),
                ),
            );
        }
    }
}
