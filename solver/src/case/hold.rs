//! `[[hold.NAME]]`: the schemes of each hold, checked against what the schemes say of themselves. What they put against the
//! part is looked at by `overlap` and `scheme::loose`. No scheme is known here by name.

use super::most::{MOST_HOLDS, MOST_NAME, MOST_SCHEMES};
use super::node::{Item, Range, Reader, Table};
use super::problem::{ProblemKind, few_of, nearest, shown, steers};
use super::quantity::{Dimension, UnitSystem};
use super::step::FREE;
use super::{Hold, HoldMember, overlap};
use crate::scheme::{
    Absurd, Body, Bounds, HoldingScheme, Limits, MOST_BODIES, MOST_LOADS, Parameter, ParameterKind,
    Registry, Section, Supports, Value, Values, ask, few, impossible, loose, plural,
};

/// Keys of later work that any scheme may take, and what to do until then.
const LATER: &[(&str, &str)] = &[
    ("friction", WITHOUT_GRIP),
    ("friction_axial", WITHOUT_GRIP),
    ("axial_stop", WITHOUT_GRIP),
    ("jaw_mass", WITHOUT_GRIP),
    ("jaw_centroid_radius", WITHOUT_GRIP),
    ("jaw_stiffness", WITHOUT_GRIP),
    ("part_stiffness", WITHOUT_GRIP),
    ("grip_from", FULL_LENGTH),
    ("grip_length", FULL_LENGTH),
];
const WITHOUT_GRIP: &str = "leave it out (grip is not checked)";
const FULL_LENGTH: &str = "leave it out (the part is gripped over its full length)";

/// Most numbers of a list, as there are bodies.
const MOST_LISTED: u64 = Bounds::MOST_BODIES as u64;

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
    let items = table.items();
    if items.len() > MOST_HOLDS {
        let message = format!("{} holds; {MOST_HOLDS} are the most", items.len());
        reader.problem(table.span.clone(), &table.path, message);
    }
    for (name, item) in items.into_iter().take(MOST_HOLDS) {
        if name.chars().count() > MOST_NAME || name.chars().any(steers) {
            reader.problem(
                item.key_span.clone(),
                &item.path,
                format!("choose a name of up to {MOST_NAME} characters, all of them printable"),
            );
            continue;
        }
        if name == FREE {
            reader.problem(
                item.key_span.clone(),
                &item.path,
                "\"free\" is built in (nothing touches the part); choose another name",
            );
            continue;
        }
        out.names.push(name.to_owned());
        let tables = reader.tables(&item, MOST_SCHEMES, "schemes in one hold");
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
    let scheme = scheme(reader, &item, registry)?;
    let values = values(reader, table, scheme, defaults)?;
    Some(HoldMember {
        scheme,
        values,
        line: reader.line(table.span.start),
    })
}

/// The scheme that a case names. Where something went wrong with a program that might have had it, the file may be right.
fn scheme<'a>(
    reader: &mut Reader<'a>,
    item: &Item<'a>,
    registry: &Registry,
) -> Option<&'static dyn HoldingScheme> {
    let name = reader.text(item)?;
    let failed = match registry.find(name) {
        Ok(Some(scheme)) => return Some(scheme),
        Ok(None) => None,
        Err(why) => Some(why),
    };
    let known: Vec<&str> = registry.all().iter().map(|s| s.name()).collect();
    let near = nearest(name, known.iter().copied())
        .map_or(String::new(), |n| format!(" did you mean \"{n}\"?"));
    let message = format!(
        "there is no scheme \"{}\";{near} known: {}",
        shown(name),
        few_of(&known)
    );
    match failed {
        Some(why) => {
            let message = format!("{message}; and {why}");
            reader.note(ProblemKind::Program, item.span(), &item.path, message);
        }
        None => reader.wrong(item, message),
    }
    None
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
    let later: Vec<(&str, &str)> = scheme
        .planned()
        .iter()
        .filter(|p| p.word.is_none())
        .map(|p| (p.key, p.instead.unwrap_or("leave it out")))
        .chain(LATER.iter().copied())
        .collect();
    reader.check_keys(table, &known, &later);
    let mut values = Values::default();
    let mut complete = true;
    for need in scheme.needs() {
        if !need.keys.iter().any(|k| table.get(k).is_some()) {
            let key = need.keys.first().copied().unwrap_or_default();
            reader.problem(table.span.clone(), &table.path_of(key), need.missing());
            complete = false;
        }
    }
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
    let range = match (parameter.kind, parameter.bounds()) {
        (ParameterKind::Count, _) => {
            return reader
                .whole(item, 1, MOST_LISTED)
                .map(|n| Value::Number(n as f64));
        }
        (ParameterKind::Choice(words), _) => {
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
        (kind, Some(bounds)) if parameter.limits != Limits::NONE => Range::Within {
            bounds,
            whole: parameter.limits.whole,
            unit: kind.unit(),
        },
        (_, Some(bounds)) => Range::from(bounds),
        (_, None) => Range::Any,
    };
    let dimension = dimension(parameter.kind);
    if parameter.kind.takes_list()
        && let Some(items) = item.list()
    {
        if items.is_empty() || items.len() as u64 > MOST_LISTED {
            reader.wrong(
                item,
                format!(
                    "is a list of {}; give 1 to {MOST_LISTED} numbers, or leave the key out",
                    items.len()
                ),
            );
            return None;
        }
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

/// What one scheme of a hold puts against the part.
pub(super) struct Built<'s> {
    /// Index of the scheme in its hold.
    pub member: usize,
    /// What one of its bodies is called.
    pub noun: &'s str,
    pub supports: Supports,
}

impl Built<'_> {
    /// "rigid jaws", unless every one of its bodies gives by a layer or its mount.
    fn rigid(&self) -> Option<String> {
        let bodies = &self.supports.bodies;
        let gives = |b: &Body| b.bedding.is_some() || b.stiffness.is_some();
        let called = || match bodies.len() {
            1 => self.noun.to_owned(),
            _ => plural(self.noun),
        };
        (!bodies.iter().all(gives)).then(|| format!("rigid {}", called()))
    }

    /// Whether it acts on the section over a length of the part.
    fn grips(&self) -> bool {
        let s = &self.supports;
        !(s.bodies.is_empty() && s.pressures.is_empty() && s.points.is_empty())
    }
}

/// Refuses schemes that put more against the part than can be solved together.
fn together(all: &[Built]) -> Result<(), Absurd> {
    let bodies = all.iter().map(|b| b.supports.bodies.len()).sum();
    let loads = |s: &Supports| s.pressures.len() + s.points.len();
    let loads = all.iter().map(|b| loads(&b.supports)).sum();
    few(bodies, || "bodies".into(), MOST_BODIES)?;
    few(loads, || "loads".into(), MOST_LOADS)
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
    let mut all = Vec::new();
    for (k, (member, table)) in hold.members.iter().zip(tables).enumerate() {
        match ask(member.scheme, section, &member.values) {
            Ok(supports) => all.push(Built {
                member: k,
                noun: member.scheme.body_name(),
                supports,
            }),
            Err(e) => {
                let (span, path) = match &e.parameter {
                    Some(p) => (
                        table.get(p).map_or(table.span.clone(), |i| i.span()),
                        table.path_of(p),
                    ),
                    None => (table.span.clone(), table.path.clone()),
                };
                let kind = match member.scheme.program() {
                    Some(_) => ProblemKind::Program,
                    None => ProblemKind::Input,
                };
                reader.note(kind, span, &path, e.message);
            }
        }
    }
    if all.len() == tables.len() {
        let place = Place {
            tables,
            members: &hold.members,
        };
        if let Err(many) = together(&all) {
            place.impossible(
                reader,
                ProblemKind::Input,
                place.whole(),
                format!("together {many}"),
            );
            return assumed;
        }
        overlap::check(reader, &place, &all);
        if let Some(loose) = loose(all.iter().map(|b| &b.supports)) {
            place.impossible(reader, ProblemKind::Loose, place.whole(), loose.to_string());
        }
    }
    for built in &all {
        assumed.extend(built.supports.assumed.iter().cloned());
        assumed.extend(built.rigid());
    }
    if all.iter().any(Built::grips) {
        assumed.push("grip over the full length".into());
    }
    assumed
}

/// Where the schemes of a hold stand in the file, and whose they are.
pub(super) struct Place<'h, 'a> {
    pub tables: &'h [Table<'a>],
    members: &'h [HoldMember],
}

impl<'a> Place<'_, 'a> {
    /// Notes what is impossible about one scheme: the file's fault, or that of the program that answered.
    pub fn impossible(
        &self,
        reader: &mut Reader<'a>,
        kind: ProblemKind,
        member: usize,
        message: String,
    ) {
        let (table, scheme) = (&self.tables[member], self.members[member].scheme);
        let (kind, message) = match scheme.program() {
            Some(_) => (ProblemKind::Program, impossible(scheme, &message)),
            None => (kind, message),
        };
        reader.note(kind, table.span.clone(), &table.path, message);
    }

    /// The scheme to name for the whole hold: the first, or the first that a program answers for.
    fn whole(&self) -> usize {
        let outside = |m: &HoldMember| m.scheme.program().is_some();
        self.members.iter().position(outside).unwrap_or(0)
    }
}
