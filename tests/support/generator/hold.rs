//! Holds: schemes of the registry with values for their keys, by kind and range.

use std::collections::BTreeMap;

use ringwright_solver::case;
use ringwright_solver::scheme::{HoldingScheme, Parameter, ParameterKind, Registry};

use super::ROLLS;
use super::part::{Ring, quoted};
use super::text::{Lines, Units};
use crate::random::Random;

/// How often a key is given that may be left out.
const OPTIONAL: f64 = 0.15;
/// The same of a key that is a word.
const WORDS: f64 = 0.4;

/// A hold of one to three schemes, each taken by the reader on this part; `None` if one was not in so many rolls.
pub(super) fn write(
    random: &mut Random,
    units: Units,
    ring: &Ring,
    head: &str,
    name: &str,
    registry: &Registry,
) -> Option<String> {
    let members = match random.below(20) {
        0 => 3,
        1..=3 => 2,
        _ => 1,
    };
    let mut hold = String::new();
    for _ in 0..members {
        let scheme = &*registry.all()[random.below(registry.all().len())];
        let mut mended = Mended::new();
        hold += &(0..ROLLS).find_map(|roll| {
            if roll % MENDINGS == 0 {
                mended.clear();
            }
            let member = Member {
                random,
                units,
                ring,
            }
            .write(name, scheme, &mended);
            let alone = format!("{head}{member}[[step]]\nhold = \"{name}\"\n");
            let faults = faults(&alone, name, registry);
            for p in scheme.parameters() {
                let value = |line: &str| {
                    line.strip_prefix(&format!("{} = ", p.key))
                        .map(str::to_owned)
                };
                let at_fault = faults.iter().any(|f| *f == p.key);
                let mend = match (member.lines().find_map(value), at_fault) {
                    (Some(value), false) => Mend::Keep(value),
                    (Some(_), true) if random.chance(0.5) => Mend::Leave,
                    (_, true) => Mend::Renew,
                    (None, false) => Mend::Leave,
                };
                mended.insert(p.key.to_string(), mend);
            }
            faults.is_empty().then_some(member)
        })?;
    }
    Some(hold)
}

/// Rolls in which a member is mended by what the reader says of it, before another is begun.
const MENDINGS: usize = 8;

/// What becomes of a key when a member is mended: some keys mean something beside another alone.
enum Mend {
    /// It keeps its value.
    Keep(String),
    /// It gets a new one.
    Renew,
    /// It is left out.
    Leave,
}

type Mended = BTreeMap<String, Mend>;

/// The keys of this hold that the reader finds fault with, empty for the member itself; that it leaves the part loose by itself is no fault of a member.
fn faults(text: &str, name: &str, registry: &Registry) -> Vec<String> {
    let of_hold = format!("hold.{name}[");
    let problems = case::read(text, registry).err().unwrap_or_default();
    let fields = problems
        .iter()
        .filter_map(|p| p.field.strip_prefix(&of_hold));
    let key = |field: &str| {
        let key = field.split_once("].").map_or("", |(_, key)| key);
        key.split('[').next().unwrap_or_default().to_owned()
    };
    fields.map(key).collect()
}

struct Member<'a> {
    random: &'a mut Random,
    units: Units,
    ring: &'a Ring,
}

impl Member<'_> {
    fn write(&mut self, name: &str, scheme: &dyn HoldingScheme, mended: &Mended) -> String {
        let mut lines = Lines::default();
        lines.head(&format!("[[hold.{name}]]"));
        lines.set("scheme", quoted(scheme.name()));
        let needed: Vec<&str> = scheme
            .needs()
            .iter()
            .map(|need| need.keys[self.random.below(need.keys.len())])
            .collect();
        let choices = |p: &&Parameter| matches!(p.kind, ParameterKind::Choice(_));
        let alternative = |p: &Parameter| scheme.needs().iter().any(|n| n.keys.contains(&&*p.key));
        let count = *[1, 2, 3, 3, 3, 4, 4, 5, 6, 6, 8, 12, 24]
            .get(self.random.below(13))
            .unwrap_or(&3);
        let count = if self.random.chance(0.01) { 200 } else { count };
        // words first: they decide what the numbers mean
        let parameters = scheme.parameters();
        let words = parameters.iter().filter(choices);
        for p in words.chain(parameters.iter().filter(|p| !choices(p))) {
            let wanted = p.required
                || needed.contains(&&*p.key)
                || (!alternative(p)
                    && self
                        .random
                        .chance(if choices(&p) { WORDS } else { OPTIONAL }));
            let value = match mended.get(&*p.key) {
                Some(Mend::Keep(value)) => Some(value.clone()),
                Some(Mend::Renew) => Some(self.value(p, count)),
                None if wanted => Some(self.value(p, count)),
                Some(Mend::Leave) | None => None,
            };
            if let Some(value) = value {
                lines.set(&p.key, value);
            }
        }
        lines.into_text()
    }

    fn value(&mut self, p: &Parameter, count: usize) -> String {
        let list = p.kind.takes_list()
            && (matches!(p.kind, ParameterKind::Angles) || self.random.chance(0.15));
        if list {
            // forces that stay as they are balance only where they stand evenly
            let uneven = if self.random.chance(0.5) { 0.6 } else { 0.0 };
            let angles = matches!(p.kind, ParameterKind::Angles);
            let values: Vec<String> = (0..count)
                .map(|k| {
                    if angles {
                        let step = 360.0 / count as f64;
                        let at = step * (k as f64 + self.random.between(0.0, uneven));
                        self.units.angle(self.random, at)
                    } else {
                        self.one(p, count)
                    }
                })
                .collect();
            return format!("[{}]", values.join(", "));
        }
        self.one(p, count)
    }

    /// One value within what the parameter takes, and of a size that a part of this size might see.
    fn one(&mut self, p: &Parameter, count: usize) -> String {
        let (random, units, ring) = (&mut *self.random, self.units, self.ring);
        let within = |x: f64| match p.bounds() {
            Some(bounds) => {
                let x = x.clamp(bounds.least, bounds.most);
                if p.is_whole() { x.round() } else { x }
            }
            None => x,
        };
        match &p.kind {
            ParameterKind::Choice(words) => {
                let words = words.list();
                quoted(words[random.below(words.len())])
            }
            ParameterKind::Count => count.to_string(),
            ParameterKind::Length => {
                let mm = within(length(random, ring, &p.key));
                units.length(random, mm)
            }
            ParameterKind::Offset | ParameterKind::Offsets => {
                let sign = if random.chance(0.4) { -1.0 } else { 1.0 };
                let mm = within(sign * ring.wall() * random.size(1e-6, 0.05));
                units.length(random, mm)
            }
            ParameterKind::Force | ParameterKind::Forces => {
                let share = if random.chance(0.92) {
                    random.size(1e-4, 0.1)
                } else {
                    random.size(1e-12, 1e3)
                };
                let newtons = within(ring.force_for(share));
                units.force(random, newtons)
            }
            ParameterKind::Angle | ParameterKind::Angles => {
                let degrees = within(random.between(-400.0, 400.0));
                units.angle(random, degrees)
            }
            ParameterKind::Arc { most } => {
                let degrees = within(random.size(0.3, most.min(1.2 * 360.0 / count as f64)));
                units.angle(random, degrees)
            }
            ParameterKind::Modulus => {
                let mpa = within(ring.young_modulus * random.size(1e-4, 10.0));
                units.stress(random, mpa)
            }
            ParameterKind::Pressure => {
                let mpa = within(random.size(0.05, 20.0));
                units.stress(random, mpa)
            }
            ParameterKind::Stiffness => {
                let stiffness = within(ring.young_modulus * ring.length * random.size(1e-5, 1.0));
                units.stiffness(random, stiffness)
            }
            ParameterKind::Ratio => format!("{:?}", within(random.between(0.0, 0.49))),
            ParameterKind::Number => format!("{:?}", within(random.between(-10.0, 10.0))),
            ParameterKind::Friction => match random.below(3) {
                0 => quoted("smooth"),
                1 => quoted("serrated"),
                _ => format!("{:?}", within(random.between(0.0, 0.5))),
            },
            ParameterKind::Torque => format!("{:?}", within(random.size(1e2, 1e6))),
            ParameterKind::Mass => format!("{:?}", within(random.size(1e-2, 10.0))),
            ParameterKind::Flag => random.chance(0.5).to_string(),
        }
    }
}

/// A length (mm) that a key of this name may mean.
fn length(random: &mut Random, ring: &Ring, key: &str) -> f64 {
    if key.contains("diameter") {
        // of what presses from outside, or of what stands in the bore
        let outside = key.starts_with("bored") || (key.contains('_') && random.chance(0.4));
        let surface = if outside { ring.outer } else { ring.bore };
        return match random.below(6) {
            0 => surface,
            1 => surface + ring.wall() * random.between(-1e-6, 1e-6),
            2 => surface * random.between(0.7, 1.4),
            _ => surface + ring.wall() * random.between(-0.05, 0.2),
        };
    }
    if key.contains("squeeze") {
        return ring.wall() * random.size(1e-5, 0.05);
    }
    if key.contains("thickness") {
        return ring.wall() * random.size(0.02, 2.0);
    }
    if key.contains("radius") {
        return ring.outer * random.size(0.01, 2.0);
    }
    ring.bore * random.size(2e-3, 0.5)
}
