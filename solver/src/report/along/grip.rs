//! Where along the part it is gripped.

use super::{NOTHING, PULL_OUT, PULL_OUT_ESTIMATED};
use crate::report::document::{ContactDocument, GripAlongDocument, StepDocument, TubeDocument};
use crate::report::units::{Units, percent};
use crate::report::words::body_name;

/// From this share of the force in the front quarter on, a body presses with its front.
const FRONT: f64 = 0.5;
/// A stretch at an end of a pad that is longer than this share of it stands clear.
const CLEAR: f64 = 0.05;
/// Shares of the force that differ by less are told as one, and are not told again after the cut.
const SAME: f64 = 0.05;

/// How a body presses along the part.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Gripping {
    /// It does not press.
    Nowhere,
    /// With its front: most of the force is in its front quarter and its back stands clear by so much, mm.
    Front(f64),
    /// From end to end.
    Whole,
    /// With a part of its length; so much of its back and of its front stands clear, mm.
    Part(f64, f64),
}

fn gripping(along: &GripAlongDocument, flipped: bool) -> Gripping {
    if along.centroid.is_none() || along.touching.is_empty() {
        return Gripping::Nowhere;
    }
    let first = along.touching.iter().map(|t| t[0]).fold(along.to, f64::min);
    let last = along
        .touching
        .iter()
        .map(|t| t[1])
        .fold(along.from, f64::max);
    let (low, high) = ((first - along.from).max(0.0), (along.to - last).max(0.0));
    let (back, front) = if flipped { (high, low) } else { (low, high) };
    let length = along.to - along.from;
    if along.front_quarter >= FRONT && back > CLEAR * length {
        Gripping::Front(back)
    } else if back <= CLEAR * length && front <= CLEAR * length {
        Gripping::Whole
    } else {
        Gripping::Part(back, front)
    }
}

/// Bodies of one scheme that press alike along the part.
struct Group<'a> {
    contacts: Vec<&'a ContactDocument>,
    /// The one of the largest share in front.
    along: &'a GripAlongDocument,
    gripping: Gripping,
    /// Whether the others have as large a share there.
    alike: bool,
}

/// Neighbours of one scheme with the same way of pressing.
fn groups<'a>(contacts: &'a [ContactDocument], tube: &TubeDocument) -> Vec<Group<'a>> {
    let mut found: Vec<Group> = Vec::new();
    for contact in contacts {
        let Some(along) = &contact.along else {
            continue;
        };
        let own = gripping(along, tube.flipped);
        let joins = |g: &Group| {
            let before = g.contacts[g.contacts.len() - 1];
            before.scheme == contact.scheme
                && before.called == contact.called
                && before.body + 1 == contact.body
                && std::mem::discriminant(&g.gripping) == std::mem::discriminant(&own)
        };
        match found.last_mut() {
            Some(group) if joins(group) => {
                let shares = [group.along.front_quarter, along.front_quarter];
                group.alike &= (shares[0] - shares[1]).abs() < SAME;
                group.contacts.push(contact);
                if shares[1] > shares[0] {
                    group.along = along;
                    group.gripping = own;
                }
            }
            _ => found.push(Group {
                contacts: vec![contact],
                along,
                gripping: own,
                alike: true,
            }),
        }
    }
    found
}

impl Group<'_> {
    fn name(&self) -> String {
        let numbers: Vec<usize> = self.contacts.iter().map(|c| c.body).collect();
        body_name(self.contacts[0], &numbers)
    }

    /// How they press, in words.
    fn words(&self, units: Units) -> String {
        let one = self.contacts.len() == 1;
        let grips = matches!(self.contacts[0].called.as_str(), "jaw" | "segment");
        let verb = match (grips, one) {
            (true, true) => "grips",
            (true, false) => "grip",
            (false, true) => "presses",
            (false, false) => "press",
        };
        let its = if one { "its" } else { "their" };
        let length = self.along.to - self.along.from;
        let up_to = if self.alike { "" } else { "up to " };
        let share = format!(
            "{up_to}{} of the force in the front quarter of {its} length",
            percent(self.along.front_quarter)
        );
        let name = self.name();
        let clear = |mm: f64, end: &str| match mm > CLEAR * length {
            true => format!(", the {end} {} stands clear", units.position(mm)),
            false => String::new(),
        };
        match self.gripping {
            Gripping::Nowhere => {
                let does = if one { "does" } else { "do" };
                format!("{name} {does} not press anywhere along {its} length")
            }
            Gripping::Front(back) => {
                format!(
                    "{name} {verb} with {its} front edge: {share}{}",
                    clear(back, "back")
                )
            }
            Gripping::Whole if self.along.front_quarter >= FRONT => {
                let touch = if one { "touches" } else { "touch" };
                format!("{name} {touch} from end to end, but with {share}")
            }
            Gripping::Whole => format!("{name} {verb} over {its} whole length: {share}"),
            Gripping::Part(back, front) => format!(
                "{name} {verb} with a part of {its} length: {share}{}{}",
                clear(back, "back"),
                clear(front, "front")
            ),
        }
    }
}

/// One line for each way of pressing, before the cut and, where it is no longer the same, after it; then what is not checked.
pub(super) fn lines(step: &StepDocument, tube: &TubeDocument, units: Units) -> Vec<String> {
    let before = groups(&step.held.contacts, tube);
    let mut lines: Vec<String> = before.iter().map(|g| sentence(g, units)).collect();
    if let Some(after) = &step.after_cut {
        let after = groups(&after.contacts, tube);
        let changed = |g: &Group| {
            !before.iter().any(|b| {
                b.name() == g.name()
                    && std::mem::discriminant(&b.gripping) == std::mem::discriminant(&g.gripping)
                    && (b.along.front_quarter - g.along.front_quarter).abs() < SAME
            })
        };
        let changed = after.iter().filter(|g| changed(g));
        lines.extend(changed.map(|g| format!("after the cut, {}", sentence(g, units))));
    }
    if !lines.is_empty() {
        lines.push(pull_out(step).to_owned());
    }
    lines
}

/// What is known of pulling out.
fn pull_out(step: &StepDocument) -> &'static str {
    match step.grip.slip_safety {
        Some(_) => PULL_OUT_ESTIMATED,
        None => PULL_OUT,
    }
}

fn sentence(group: &Group, units: Units) -> String {
    let words = group.words(units);
    match group.gripping {
        Gripping::Front(_) => format!("{words}; such a grip pulls out easily"),
        _ => words,
    }
}

/// Bodies that press with their front edge, in whichever state of the hold.
pub(super) fn cautions(step: &StepDocument, tube: &TubeDocument, units: Units) -> Vec<String> {
    let front = |contacts: &[ContactDocument]| -> Vec<String> {
        groups(contacts, tube)
            .iter()
            .filter(|g| matches!(g.gripping, Gripping::Front(back) if back > NOTHING))
            .map(|g| sentence(g, units))
            .collect()
    };
    let mut found = front(&step.held.contacts);
    if found.is_empty()
        && let Some(after) = &step.after_cut
    {
        found = front(&after.contacts);
        for words in &mut found {
            *words = format!("after the cut, {words}");
        }
    }
    found
        .into_iter()
        .map(|words| format!("{words}; {}", pull_out(step)))
        .collect()
}
