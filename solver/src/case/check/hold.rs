//! What a hold puts against the part: what each scheme says, pads that overlap, forces that cannot balance.

use super::{Findings, grip, key_path, overlap};
use crate::case::most::MOST_NAME;
use crate::case::problem::{ProblemKind, steers};
use crate::case::{FREE, Grip, Hold, HoldMember, Step, Tube, section_after};
use crate::scheme::{
    Absurd, Body, MOST_BODIES, MOST_LOADS, SQUEEZE, Section, Supports, UNIT_FORCE, ask, few,
    impossible, loose, plural, squeezed,
};

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
        let gives = |b: &Body| b.layer.is_some() || b.stiffness.is_some();
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

/// Refuses names that could not be typed, or that mean something else.
pub(in crate::case) fn name(findings: &mut Findings, path: &str, name: &str) -> Option<()> {
    if name.chars().count() > MOST_NAME || name.chars().any(steers) {
        findings.wrong_key(
            path,
            format!("choose a name of up to {MOST_NAME} characters, all of them printable"),
        );
        return None;
    }
    if name == FREE {
        findings.wrong_key(
            path,
            "\"free\" is built in (nothing touches the part); choose another name",
        );
        return None;
    }
    Some(())
}

/// Refuses a hold without a scheme.
pub(in crate::case) fn no_member(findings: &mut Findings, path: &str) {
    findings.wrong(
        path,
        format!(
            "has no scheme; give at least one [[{path}]] with a scheme, or use the built-in hold \"free\""
        ),
    );
}

/// Checks every hold on each section that it meets, and those that no step uses on the stock; what a used hold takes for granted is
/// given back.
pub(super) fn on_every_section<'h>(
    findings: &mut Findings,
    (stock, tube): (Section, Option<&Tube>),
    holds: impl Iterator<Item = (&'h Hold, &'h Vec<String>)>,
    steps: &[Step],
) -> Vec<String> {
    let has_wall = |s: &Section| s.bore_radius < s.outer_radius;
    let mut assumed = Vec::new();
    if !has_wall(&stock) {
        return assumed;
    }
    let holds: Vec<_> = holds.collect();
    let mut used = vec![false; holds.len()];
    let mut section = stock;
    for step in steps {
        if let Some(k) = holds.iter().position(|(h, _)| h.name == step.hold) {
            used[k] = true;
            if has_wall(&section) {
                assumed.extend(on(findings, holds[k], &section, tube));
            }
        }
        section = section_after(section, tube, [step]);
    }
    for (k, used) in used.into_iter().enumerate() {
        if !used {
            on(findings, holds[k], &stock, tube);
        }
    }
    assumed
}

/// Checks a hold on a nominal section. Returns what the schemes took for granted.
fn on(
    findings: &mut Findings,
    (hold, defaults): (&Hold, &Vec<String>),
    section: &Section,
    tube: Option<&Tube>,
) -> Vec<String> {
    let mut assumed = defaults.clone();
    let mut all = Vec::new();
    let place = HoldPath { hold };
    for (k, member) in hold.members.iter().enumerate() {
        match ask(&*member.scheme, section, &member.values) {
            Ok(supports) => all.push(Built {
                member: k,
                noun: member.scheme.body_name(),
                supports,
            }),
            Err(e) => {
                let path = match &e.parameter {
                    Some(p) => key_path(&place.path(k), p),
                    None => place.path(k),
                };
                let kind = match member.scheme.program() {
                    Some(_) => ProblemKind::Program,
                    None => ProblemKind::Input,
                };
                findings.note(kind, path, e.message);
            }
        }
    }
    if all.len() == hold.members.len() {
        if let Err(many) = together(&all) {
            let message = format!("together {many}");
            place.impossible(findings, ProblemKind::Input, place.whole(), message);
            return assumed;
        }
        if let Err((member, why)) = squeezed(all.iter().map(|b| &b.supports), tube.is_some()) {
            findings.wrong(key_path(&place.path(member), SQUEEZE), why.to_string());
        }
        overlap::check(findings, &place, &all, tube.map(|_| section.length));
        if let Some(loose) = loose(all.iter().map(|b| &b.supports)) {
            let message = loose.to_string();
            place.impossible(findings, ProblemKind::Loose, place.whole(), message);
        }
    }
    for built in &all {
        place.has_grip(findings, built);
        assumed.extend(built.supports.assumed.iter().cloned());
        if hold.members[built.member].force_unknown {
            assumed.push(format!(
                "force unknown: {UNIT_FORCE} N a {} reckoned with",
                built.noun
            ));
        }
        assumed.extend(built.rigid());
    }
    let all_along = |b: &Built| b.grips() && hold.members[b.member].grip == Grip::default();
    if all.iter().any(all_along) {
        assumed.push("grip over the full length".into());
    }
    assumed
}

/// The schemes of a hold: where they stand, and whose they are.
pub(super) struct HoldPath<'h> {
    hold: &'h Hold,
}

impl HoldPath<'_> {
    /// Key path of a scheme.
    pub fn path(&self, member: usize) -> String {
        format!("{}[{member}]", key_path("hold", &self.hold.name))
    }

    /// Where along the part a scheme presses.
    pub fn grip(&self, member: usize) -> Grip {
        self.hold.members[member].grip
    }

    /// Notes a grip that is given to a scheme which presses on nothing along the part.
    fn has_grip(&self, findings: &mut Findings, built: &Built) {
        let member = &self.hold.members[built.member];
        if member.grip == Grip::default() || built.grips() {
            return;
        }
        let key = match member.grip.length {
            Some(_) => "grip_length",
            None => "grip_from",
        };
        let path = key_path(&self.path(built.member), key);
        findings.wrong_key(path, grip::has_no_grip(&*member.scheme));
    }

    /// Notes what is impossible about one scheme: the case's fault, or that of the program that answered.
    pub fn impossible(
        &self,
        findings: &mut Findings,
        kind: ProblemKind,
        member: usize,
        message: String,
    ) {
        let scheme = &*self.hold.members[member].scheme;
        let (kind, message) = match scheme.program() {
            Some(_) => (ProblemKind::Program, impossible(scheme, &message)),
            None => (kind, message),
        };
        findings.note(kind, self.path(member), message);
    }

    /// The scheme to name for the whole hold: the first, or the first that a program answers for.
    fn whole(&self) -> usize {
        let outside = |m: &HoldMember| m.scheme.program().is_some();
        self.hold.members.iter().position(outside).unwrap_or(0)
    }
}
