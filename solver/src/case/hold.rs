//! `[[hold.NAME]]`: the schemes of each hold, checked against what the schemes say of themselves, and the
//! simple statics of what they put against the part. No scheme is known here by name.

use std::f64::consts::{PI, TAU};

use super::node::{Item, NOT_BUILT, Range, Reader, Table};
use super::problem::{nearest, shown};
use super::quantity::{Dimension, UnitSystem};
use super::step::FREE;
use super::{Hold, HoldMember};
use crate::scheme::{
    Body, Drive, HoldingScheme, Parameter, ParameterKind, Push, Registry, Section, Supports, Value,
    Values,
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

/// Most bodies of one scheme; beyond it the pads could not be meshed apart.
const MOST_BODIES: u64 = 1000;

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
                    default(p.kind, text)
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
fn default(kind: ParameterKind, text: &str) -> Option<Value> {
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

fn dimension(kind: ParameterKind) -> Dimension {
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
                .whole(item, 1, MOST_BODIES)
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
        let made = member.scheme.supports(section, &member.values);
        match made.and_then(|s| s.check(section).map(|()| s)) {
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
                match member.scheme.program() {
                    Some(_) => reader.program_failed(span, &path, e.message),
                    None => reader.problem(span, &path, e.message),
                }
            }
        }
    }
    if built {
        let place = Place {
            tables,
            members: &hold.members,
        };
        overlaps(reader, &place, &all);
        balance(reader, &place, &all);
    }
    if all.iter().any(|(_, s)| !s.bodies.is_empty()) {
        assumed.push("rigid jaws".into());
    }
    assumed.push("grip over the full length".into());
    assumed
}

/// Where the schemes of a hold stand in the file, and whose they are.
struct Place<'h, 'a> {
    tables: &'h [Table<'a>],
    members: &'h [HoldMember],
}

impl<'a> Place<'_, 'a> {
    /// Notes what is impossible about one scheme: the file's fault, or that of the program that answered.
    fn impossible(&self, reader: &mut Reader<'a>, member: usize, message: String) {
        let (table, scheme) = (&self.tables[member], self.members[member].scheme);
        match scheme.program() {
            Some(command) => reader.program_failed(
                table.span.clone(),
                &table.path,
                format!(
                    "the scheme \"{}\" (program `{command}`) answered with an impossible hold: {message}",
                    scheme.name()
                ),
            ),
            None => reader.problem(table.span.clone(), &table.path, message),
        }
    }

    /// The scheme to name for the whole hold: the first, or the first that a program answers for.
    fn whole(&self) -> usize {
        let outside = |m: &HoldMember| m.scheme.program().is_some();
        self.members.iter().position(outside).unwrap_or(0)
    }
}

/// Arcs that cover the same metal: pads among pads, dead loads among dead loads.
fn overlaps<'a>(reader: &mut Reader<'a>, place: &Place<'_, 'a>, all: &[(usize, Supports)]) {
    let tables = place.tables;
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
            let other = if a.member == b.member {
                String::new()
            } else {
                format!(" of {}", tables[b.member].path)
            };
            place.impossible(
                reader,
                a.member,
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

/// Direction in which a body pushes the part.
fn push(body: &Body) -> [f64; 2] {
    let sign = -body.surface.outward();
    [sign * body.angle.cos(), sign * body.angle.sin()]
}

/// Forces given one by one must balance, unless bodies that share a travel can take what is left; those need
/// something to push against.
fn balance<'a>(reader: &mut Reader<'a>, place: &Place<'_, 'a>, all: &[(usize, Supports)]) {
    let mut resultant = [0.0, 0.0];
    let mut total = 0.0;
    let mut add = |force: f64, direction: [f64; 2]| {
        resultant[0] += force * direction[0];
        resultant[1] += force * direction[1];
        total += force;
    };
    // directions in which something can push, as arcs (middle, half)
    let mut pushes: Vec<(f64, f64)> = Vec::new();
    let mut shared = false;
    for (_, s) in all {
        for p in &s.pressures {
            let sign = -p.surface.outward();
            add(p.force, [sign * p.angle.cos(), sign * p.angle.sin()]);
        }
        for (k, b) in s.bodies.iter().enumerate() {
            let d = push(b);
            if let Drive::Each(list) = &s.drive
                && let Push::Force(force) = list[k]
            {
                add(force, d);
            } else {
                shared = true;
                pushes.push((d[1].atan2(d[0]), b.half_angle));
            }
        }
    }
    let left = resultant[0].hypot(resultant[1]);
    let direction = resultant[1].atan2(resultant[0]);
    let unbalanced = left > 1e-9 * total.max(1e-30);
    if !shared {
        if unbalanced {
            place.impossible(reader, place.whole(),
                format!(
                    "the forces do not balance: {left:.1} N is left over towards {:.1} deg; space them evenly (two or more) or add what pushes back",
                    direction.to_degrees().rem_euclid(360.0)
                ),
            );
        }
        return;
    }
    if unbalanced {
        pushes.push((direction, 0.0));
    }
    if let Some(open) = one_sided(&pushes) {
        place.impossible(reader, place.whole(),
            format!(
                "the hold leaves the part loose: nothing pushes it towards {:.1} deg; add a jaw on the other side",
                open.to_degrees().rem_euclid(360.0)
            ),
        );
    }
}

/// The middle of an arc of more than half a turn into which nothing pushes, if there is one.
fn one_sided(pushes: &[(f64, f64)]) -> Option<f64> {
    let mut ends: Vec<(f64, f64)> = pushes
        .iter()
        .map(|&(middle, half)| ((middle - half).rem_euclid(TAU), 2.0 * half))
        .collect();
    ends.sort_by(|a, b| a.0.total_cmp(&b.0));
    let first = ends.first()?.0;
    // an arc that passes the zero mark covers the start of the turn too
    let mut reach = ends
        .iter()
        .map(|(start, width)| start + width - TAU)
        .fold(first, f64::max);
    let mut widest = (0.0, 0.0);
    for &(start, width) in ends.iter().chain(&[(first + TAU, 0.0)]) {
        if start - reach > widest.0 {
            widest = (start - reach, 0.5 * (start + reach));
        }
        reach = reach.max(start + width);
    }
    (widest.0 > PI + 1e-9).then_some(widest.1)
}
