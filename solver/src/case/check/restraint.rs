//! What a case says of its grip: friction, jaws that turn, the chuck.

use super::{Findings, key_path};
use crate::case::{Case, Chuck, FaceClass, Friction, JawStiffness, Restraint};
use crate::scheme::{FRICTION_WORDS, Value};

/// A value that was taken for a key of [`GRIP`](crate::scheme::GRIP): `None` if it was refused.
pub(in crate::case) type Taken<'k> = (&'k str, Option<Value>);

/// The restraint of the values taken for the keys of a scheme's grip.
pub(in crate::case) fn of_values(
    findings: &mut Findings,
    path: &str,
    taken: &[Taken],
) -> Option<Restraint> {
    let number = |key: &str| -> Option<Option<f64>> {
        match taken.iter().find(|(k, _)| *k == key) {
            None => Some(None),
            Some((_, Some(Value::Number(x)))) => Some(Some(*x)),
            Some(_) => None,
        }
    };
    let (jaw, part) = (number("jaw_stiffness"), number("part_stiffness"));
    let (mass, radius) = (number("jaw_mass"), number("jaw_centroid_radius"));
    let stiffness = match (jaw?, part?) {
        (Some(jaw), Some(part)) => Some(JawStiffness { jaw, part }),
        (None, None) => None,
        (jaw, _) => {
            let (given, missing) = match jaw {
                Some(_) => ("jaw_stiffness", "part_stiffness"),
                None => ("part_stiffness", "jaw_stiffness"),
            };
            let message = format!(
                "missing; {given} is given, and what turning takes from a jaw is shared by both stiffnesses: give both, or neither and the \
                 whole loss counts"
            );
            findings.wrong(key_path(path, missing), message);
            return None;
        }
    };
    let axial_stop = match taken.iter().find(|(k, _)| *k == "axial_stop") {
        None => false,
        Some((_, Some(Value::Flag(flag)))) => *flag,
        Some(_) => return None,
    };
    Some(Restraint {
        friction: friction(taken, "friction")?,
        friction_axial: friction(taken, "friction_axial")?,
        axial_stop,
        jaw_mass: mass?,
        jaw_centroid_radius: radius?,
        stiffness,
    })
}

/// A friction: outside `None` if its value was refused, inside if none is given.
fn friction(taken: &[Taken], key: &str) -> Option<Option<Friction>> {
    match taken.iter().find(|(k, _)| *k == key) {
        None => Some(None),
        Some((_, Some(Value::Number(x)))) => Some(Some(Friction::Given((*x).into()))),
        Some((_, Some(Value::Band(band)))) => Some(Some(Friction::Given(*band))),
        Some((_, Some(Value::Text(word)))) => {
            let class = match FRICTION_WORDS.iter().position(|w| w == word) {
                Some(0) => FaceClass::Smooth,
                _ => FaceClass::Serrated,
            };
            Some(Some(Friction::Of(class)))
        }
        Some(_) => None,
    }
}

/// Notes what is wrong with what the plate of a chuck is said to give.
pub(in crate::case) fn chuck(findings: &mut Findings, chuck: &Chuck) {
    if let (Some(rated), Some(lowest)) = (chuck.rated_force, chuck.lowest_steady_force)
        && lowest > rated
    {
        findings.wrong(
            "chuck.lowest_steady_force",
            "is more than rated_force; both are of all jaws together: give the least force that the chuck holds steadily, and the largest \
             that its plate allows",
        );
    }
}

/// Notes passes that take nothing and have a feed: an estimate of the force needs a depth.
pub(super) fn feed_has_depth(findings: &mut Findings, case: &Case) {
    for (k, step) in case.steps.iter().enumerate() {
        for (n, cut) in step.cuts.iter().enumerate() {
            if cut.tool.feed.is_some() && step.is_spring_pass(n) {
                findings.wrong(
                    format!("step[{k}].cut[{n}].feed"),
                    "is given for a pass that takes no depth (the same diameter again), and the cutting force is estimated from feed and \
                     depth; leave the feed out, or give the tool's forces themselves",
                );
            }
        }
    }
}
