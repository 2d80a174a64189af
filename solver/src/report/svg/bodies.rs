//! What holds the part in a step: each body with its kind and its number on the drawing.

use crate::geometry::Surface;
use crate::process::{Contact, DeadLoad, HeldState};

/// What a body is drawn as.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum BodyKind {
    /// A jaw, or whatever else presses with a pad.
    Pad,
    /// A screw with a crowned tip.
    Screw,
    /// A segment of an expanding mandrel.
    Segment,
    /// All round: a plug in the bore, a ring round the outside.
    Round,
    /// An elastic ring between the part and the jaws of its scheme.
    Sleeve,
    /// A constant load over an arc.
    Patch,
    /// A constant load at a point.
    Point,
}

/// One body, or one constant load.
#[derive(Clone, Debug)]
pub(super) struct DrawnBody {
    pub kind: BodyKind,
    /// Which scheme of the hold it belongs to, from 0.
    pub group: usize,
    /// What it is called: jaw, screw.
    pub called: String,
    pub number: usize,
    pub surface: Surface,
    /// Part angle of its middle, degrees.
    pub degrees: f64,
    /// Half of the arc it covers, degrees.
    pub half: f64,
    /// Part angles between which it presses.
    pub arcs: Vec<[f64; 2]>,
    /// Whether a sleeve lies between it and the part.
    pub on_sleeve: bool,
    /// Its number on the drawing; empty for a sleeve, which is seen for what it is.
    pub label: String,
}

/// Everything that presses on the wall: bodies, then constant loads.
pub(super) fn bodies(held: &HeldState) -> Vec<DrawnBody> {
    let contacts = held.contacts.iter().map(|c| (c.scheme.as_str(), of(c)));
    let loads = held.loads.iter().map(|l| (l.scheme.as_str(), load(l)));
    let mut all: Vec<DrawnBody> = Vec::new();
    let mut scheme = "";
    for (name, mut body) in contacts.chain(loads) {
        if let Some(last) = all.last() {
            // numbers start anew in each scheme, which may stand in a hold twice
            let new = name != scheme || body.number <= last.number || dead(&body) != dead(last);
            body.group = last.group + usize::from(new);
        }
        scheme = name;
        all.push(body);
    }
    sleeves(&mut all);
    let several = all.last().is_some_and(|b| b.group > 0);
    for body in &mut all {
        if body.kind != BodyKind::Sleeve {
            body.label = label(body, several);
        }
    }
    all
}

fn of(contact: &Contact) -> DrawnBody {
    let kind = match (contact.round, contact.called.as_str()) {
        (true, _) => BodyKind::Round,
        (false, "screw") => BodyKind::Screw,
        (false, "segment") => BodyKind::Segment,
        _ => BodyKind::Pad,
    };
    DrawnBody {
        kind,
        group: 0,
        called: contact.called.clone(),
        number: contact.body,
        surface: contact.surface,
        degrees: contact.angle_deg,
        half: contact.half_angle_deg,
        arcs: contact.arcs.clone(),
        on_sleeve: false,
        label: String::new(),
    }
}

fn load(load: &DeadLoad) -> DrawnBody {
    DrawnBody {
        kind: if load.half_angle_deg > 0.0 {
            BodyKind::Patch
        } else {
            BodyKind::Point
        },
        group: 0,
        called: load.called.clone(),
        number: load.number,
        surface: load.surface,
        degrees: load.angle_deg,
        half: load.half_angle_deg,
        arcs: Vec::new(),
        on_sleeve: false,
        label: String::new(),
    }
}

fn dead(body: &DrawnBody) -> bool {
    matches!(body.kind, BodyKind::Patch | BodyKind::Point)
}

/// A scheme with bodies of both sorts has a sleeve: what goes round the part, with the rest on its back.
fn sleeves(all: &mut [DrawnBody]) {
    let groups: Vec<(usize, bool)> = all
        .iter()
        .map(|b| (b.group, b.kind == BodyKind::Round))
        .collect();
    for body in all {
        let round = body.kind == BodyKind::Round;
        if groups.contains(&(body.group, !round)) {
            if round {
                body.kind = BodyKind::Sleeve;
            } else {
                body.on_sleeve = true;
            }
        }
    }
}

fn label(body: &DrawnBody, several: bool) -> String {
    if several {
        let letter = char::from(b'A' + (body.group % 26) as u8);
        format!("{letter}{}", body.number)
    } else {
        body.number.to_string()
    }
}

/// What holds the part, in words.
pub(super) fn words(all: &[DrawnBody], plates: bool) -> String {
    let groups = all.last().map_or(0, |b| b.group + 1);
    let mut parts: Vec<String> = (0..groups)
        .filter_map(|g| group(&all.iter().filter(|b| b.group == g).collect::<Vec<_>>()))
        .collect();
    if plates {
        parts.push("plates on both end faces (hatched)".into());
    }
    if parts.is_empty() {
        return "Nothing presses on the part.".into();
    }
    let touching = all.iter().any(|b| !b.arcs.is_empty());
    let black = if touching {
        " Black: where they press before any cut; grey bands: what their faces may cover."
    } else {
        ""
    };
    format!("Held by {}.{black}", parts.join("; "))
}

/// One scheme: `jaws A1 to A3 on the outside`.
fn group(bodies: &[&DrawnBody]) -> Option<String> {
    let (first, last) = (
        bodies.iter().find(|b| !b.label.is_empty())?,
        bodies.iter().rev().find(|b| !b.label.is_empty())?,
    );
    let place = match first.surface {
        Surface::Outer => "on the outside",
        Surface::Bore => "in the bore",
    };
    let sleeve = match (first.on_sleeve, first.surface) {
        (false, _) => "",
        (true, Surface::Outer) => ", on a sleeve round the part",
        (true, Surface::Bore) => ", in a sleeve",
    };
    let constant = if dead(first) { "constant load, " } else { "" };
    Some(if first.label == last.label {
        format!("{constant}{} {} {place}{sleeve}", first.called, first.label)
    } else {
        format!(
            "{constant}{} {} {} {} {place}{sleeve}",
            plural(&first.called),
            first.label,
            if bodies.len() == 2 { "and" } else { "to" },
            last.label
        )
    })
}

fn plural(word: &str) -> String {
    let hisses = ["s", "x", "ch", "sh"].iter().any(|end| word.ends_with(end));
    match word.strip_suffix('y') {
        Some(stem) if !stem.ends_with(['a', 'e', 'i', 'o', 'u']) => format!("{stem}ies"),
        _ if hisses => format!("{word}es"),
        _ => format!("{word}s"),
    }
}
