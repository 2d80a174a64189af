//! Phrases that the verdict, the cautions and the summary share, so that one thing is called alike everywhere.

use super::document::{ContactDocument, StressDocument};
use super::units::{Units, angle_within, percent_within};
use crate::case::Support;
use crate::geometry::Surface;
use crate::process::SetForce;

/// Nearer than this share of the wall to a surface, a place is said to be on it.
const ON_SURFACE: f64 = 0.05;

/// Forces that differ by less than this share are told as one.
const ALIKE: f64 = 5e-3;

/// More than one of what is called so.
///
/// ```
/// use ringwright_solver::report::words::plural;
/// assert_eq!(plural("jaw"), "jaws");
/// assert_eq!(plural("patch"), "patches");
/// assert_eq!(plural("body"), "bodies");
/// ```
pub fn plural(called: &str) -> String {
    match called.strip_suffix('y') {
        Some(stem) => format!("{stem}ies"),
        None if called.ends_with("ch") || called.ends_with('s') => format!("{called}es"),
        None => format!("{called}s"),
    }
}

/// Bodies by their numbers.
///
/// ```
/// use ringwright_solver::report::words::numbered;
/// assert_eq!(numbered("jaw", &[2]), "jaw 2");
/// assert_eq!(numbered("jaw", &[1, 2, 3]), "jaws 1 to 3");
/// assert_eq!(numbered("screw", &[1, 3]), "screws 1 and 3");
/// ```
pub fn numbered(called: &str, numbers: &[usize]) -> String {
    match numbers {
        [one] => format!("{called} {one}"),
        [first, .., last] if last - first + 1 == numbers.len() && numbers.len() > 2 => {
            format!("{} {first} to {last}", plural(called))
        }
        _ => {
            let all: Vec<String> = numbers.iter().map(ToString::to_string).collect();
            format!("{} {}", plural(called), listed(&all, "and"))
        }
    }
}

/// `a`, `a and b`, `a, b and c`.
pub fn listed(items: &[String], and: &str) -> String {
    match items {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] => format!("{} {and} {last}", most.join(", ")),
    }
}

/// Bodies as they are named in a line: by their numbers, or by their kind alone where they go round the part.
pub fn body_name(contact: &ContactDocument, numbers: &[usize]) -> String {
    if contact.round {
        contact.called.clone()
    } else {
        numbered(&contact.called, numbers)
    }
}

/// What forces are set to, in words: `600 N (135 lbf) a jaw`.
///
/// ```
/// use ringwright_solver::process::SetForce;
/// use ringwright_solver::report::{units::Units, words::set_forces};
/// let jaws = SetForce { called: "jaw".into(), count: 3, each: [600.0; 2] };
/// assert_eq!(set_forces(&[jaws], Units::new(false)), "600 N (135 lbf) a jaw");
/// ```
pub fn set_forces(forces: &[SetForce], units: Units) -> String {
    let one = |f: &SetForce| {
        let [low, high] = f.each;
        let shown = if high - low <= ALIKE * high.abs() {
            units.set_force(high)
        } else {
            format!("{} to {}", units.set_force(low), units.set_force(high))
        };
        format!("{shown} {} {}", article(&f.called), f.called)
    };
    let all: Vec<String> = forces.iter().map(one).collect();
    listed(&all, "and")
}

fn article(noun: &str) -> &'static str {
    match noun.chars().next() {
        Some('a' | 'e' | 'i' | 'o' | 'u') => "an",
        _ => "a",
    }
}

/// A stress beside the yield strength: `45.7 MPa (6.62 ksi), 37 percent of yield`. Without a yield strength the stress alone.
pub fn against_yield(stress: &StressDocument, units: Units) -> String {
    let shown = units.stress_within(stress.von_mises_away, stress.von_mises_error);
    let Some(margin) = stress.yield_margin else {
        return shown;
    };
    let share = 1.0 / (1.0 + margin);
    // there is a stress where there is a margin
    let error = stress
        .von_mises_error
        .map(|e| share * e / stress.von_mises_away);
    let yields = if margin < 0.0 { ": YIELDS" } else { "" };
    format!("{shown}, {} of yield{yields}", percent_within(share, error))
}

/// Where a stress stands, between these radii (mm, outside and bore): `at 60.0 deg in the bore`.
pub fn place(stress: &StressDocument, radii: [f64; 2], units: Units) -> String {
    let at = angle_within(
        stress.von_mises_at.angle,
        Some(stress.von_mises_at.angle_error),
    );
    let depth = depth(stress, radii, units);
    match stress.von_mises_at.z {
        Some(z) => format!("at {at} {depth}, {} along the part", units.position(z)),
        None => format!("at {at} {depth}"),
    }
}

/// At what depth of the wall a stress stands: `in the bore`.
pub fn depth(stress: &StressDocument, [outer, bore]: [f64; 2], units: Units) -> String {
    let at = &stress.von_mises_at;
    let near = ON_SURFACE * (outer - bore).abs();
    if (at.radius - bore).abs() <= near {
        "in the bore".to_owned()
    } else if (at.radius - outer).abs() <= near {
        "on the outside".to_owned()
    } else {
        format!("within the wall, {} from the axis", units.size(at.radius))
    }
}

/// How a part stands while it is measured.
///
/// ```
/// use ringwright_solver::{case::Support, report::words::orientation};
/// let vee = Support::Vee { included_angle_deg: 108.0 };
/// assert_eq!(orientation(vee), "in a 108 deg V, axis level");
/// ```
pub fn orientation(support: Support) -> String {
    match support {
        Support::Flat => "lying on its face, axis upright".to_owned(),
        Support::Edge => "standing on one line of its outside, axis level".to_owned(),
        Support::Vee { included_angle_deg } => {
            format!("in a {included_angle_deg} deg V, axis level")
        }
    }
}

/// Radii of outside and bore, mm: those drawn, then what each cut makes them.
pub fn radii_after<'a>(
    drawn: [f64; 2],
    cuts: impl IntoIterator<Item = (&'a Surface, f64)>,
) -> [f64; 2] {
    let [mut outer, mut bore] = drawn;
    for (surface, diameter) in cuts {
        match surface {
            Surface::Outer => outer = 0.5 * diameter,
            Surface::Bore => bore = 0.5 * diameter,
        }
    }
    [outer, bore]
}

/// Whether two figures are told as one, mm or N: equal to half a percent of the larger.
pub fn alike(a: f64, b: f64) -> bool {
    (a - b).abs() <= ALIKE * a.abs().max(b.abs())
}
