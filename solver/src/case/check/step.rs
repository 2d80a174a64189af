//! What a step holds by, and what it cuts.

use super::Findings;
use crate::case::FREE;
use crate::case::problem::{ProblemKind, few_of, nearest, shown};
use crate::geometry::Surface;
use crate::scheme::Section;

/// Notes a hold that the case does not have; `holds` are the names of those it has, also of such as have problems of their own.
pub(in crate::case) fn hold_is_there(
    findings: &mut Findings,
    path: &str,
    name: &str,
    holds: &[String],
) -> Option<()> {
    if name == FREE || holds.iter().any(|h| h == name) {
        return Some(());
    }
    let known = holds.iter().map(String::as_str).chain([FREE]);
    let near =
        nearest(name, known.clone()).map_or(String::new(), |n| format!(" did you mean \"{n}\"?"));
    let known: Vec<_> = known.map(|h| format!("\"{h}\"")).collect();
    findings.wrong(
        path,
        format!(
            "there is no hold \"{}\";{near} known: {}",
            shown(name),
            few_of(&known)
        ),
    );
    None
}

/// Takes a cut off the nominal section, or notes that it cannot be.
pub(in crate::case) fn cut(
    findings: &mut Findings,
    path: &str,
    (surface, diameter): (Surface, f64),
    section: &mut Section,
) {
    if is_absurd(findings, path, (surface, diameter), section) {
        return;
    }
    match surface {
        Surface::Outer => section.outer_radius = 0.5 * diameter,
        Surface::Bore => section.bore_radius = 0.5 * diameter,
    }
}

/// Notes a cut that goes through the nominal wall, or that stays clear of the metal by more than a whole wall
/// (nearer than that, flexing and lobes may bring metal to the tool, and only the solver can tell).
fn is_absurd(
    findings: &mut Findings,
    path: &str,
    (surface, diameter): (Surface, f64),
    section: &Section,
) -> bool {
    let (outer, bore) = (2.0 * section.outer_radius, 2.0 * section.bore_radius);
    let wall = outer - bore;
    let (to, outside, inside) = (
        findings.length(diameter),
        findings.length(outer),
        findings.length(bore),
    );
    let (kind, message) = match surface {
        Surface::Bore if diameter >= outer => (
            ProblemKind::CutThrough,
            format!(
                "boring to {to} cuts through the wall: the outside is {outside}; stay below that"
            ),
        ),
        Surface::Outer if diameter <= bore => (
            ProblemKind::CutThrough,
            format!("turning to {to} cuts through the wall: the bore is {inside}; stay above that"),
        ),
        Surface::Bore if bore - diameter > wall => (
            ProblemKind::Input,
            format!(
                "boring to {to} removes nothing: the bore is already {inside}; bore to more than that"
            ),
        ),
        Surface::Outer if diameter - outer > wall => (
            ProblemKind::Input,
            format!(
                "turning to {to} removes nothing: the outside is already {outside}; turn to less than that"
            ),
        ),
        _ => return false,
    };
    findings.note(kind, path, message);
    true
}
