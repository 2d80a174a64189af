//! Stretches of the part: where along it a scheme presses, and what a cut runs over.

use super::restraint::Taken;
use super::tube::{NEEDS_TUBE, SAME};
use super::{Findings, key_path};
use crate::case::{Grip, Reach};
use crate::scheme::{HoldingScheme, Value};

/// What to say of a grip along the part for a scheme that presses on the ends alone, or on nothing.
pub(super) fn has_no_grip(scheme: &dyn HoldingScheme) -> String {
    format!(
        "{} presses on no surface along the part, so there is no grip to place; leave it out",
        scheme.name()
    )
}

/// The grip of the values taken for the keys of [`GRIP`](crate::scheme::GRIP), by a length of the part as [`grip`] has it.
pub(in crate::case) fn of_values(
    findings: &mut Findings,
    path: &str,
    taken: &[Taken],
    length: Option<f64>,
) -> Option<Grip> {
    let number = |key: &str| match taken.iter().find(|(k, _)| *k == key) {
        None => Some(None),
        Some((_, Some(Value::Number(x)))) => Some(Some(*x)),
        Some(_) => None,
    };
    let (from, own) = (number("grip_from")?, number("grip_length")?);
    grip(findings, path, (from.unwrap_or(0.0), own), length)
}

/// Where a scheme presses on a part of this length, mm, if it is known; a grip that ends where the part does, but for rounding, runs to the end.
/// `path` is that of the scheme's table, `from` and `own` are the typed lengths, mm.
fn grip(
    findings: &mut Findings,
    path: &str,
    (from, own): (f64, Option<f64>),
    length: Option<f64>,
) -> Option<Grip> {
    let grip = Grip { from, length: own };
    let Some(length) = length else {
        return Some(grip);
    };
    let slack = SAME * length;
    if from >= length - slack {
        let [from, length] = [from, length].map(|x| findings.length(x));
        let message = format!(
            "the grip begins at {from}, but the part is {length} long; give less than that"
        );
        findings.wrong(key_path(path, "grip_from"), message);
        return None;
    }
    let to = grip.on(length)[1];
    if to > length + slack {
        let [to, room, length] = [to, length - from, length].map(|x| findings.length(x));
        let message = format!(
            "the grip ends at {to}, beyond the part, which is {length} long; give at most {room}, or leave it out and the grip runs to \
             the end"
        );
        findings.wrong(key_path(path, "grip_length"), message);
        return None;
    }
    let length = own.filter(|_| to < length - slack);
    Some(Grip { from, length })
}

/// What a cut runs over on a part of this length, mm, if it is known; one that ends where the part does, but for rounding, runs to the end.
/// `path` is that of the cut.
pub(in crate::case) fn reach(
    findings: &mut Findings,
    path: &str,
    reach: Reach,
    length: Option<f64>,
) -> Option<Reach> {
    let Some(length) = length else {
        return Some(reach);
    };
    let slack = SAME * length;
    let [from, to] = reach.on(length);
    let [begin, end, whole] = [from, to, length].map(|x| findings.length(x));
    let (key, message) = if from >= length - slack {
        (
            "from",
            format!("the cut begins at {begin}, but the part is {whole} long; give less than that"),
        )
    } else if to > length + slack {
        (
            "to",
            format!(
                "the cut ends at {end}, beyond the part, which is {whole} long; give no more than that, or leave it out and the cut \
                 runs to the end"
            ),
        )
    } else if to <= from + slack {
        (
            "to",
            format!(
                "the cut ends at {end}, which is not beyond its beginning at {begin}; give from the smaller and to the larger"
            ),
        )
    } else {
        let to = reach.to.filter(|to| *to < length - slack);
        return Some(Reach { to, ..reach });
    };
    findings.wrong(key_path(path, key), message);
    None
}

/// Notes keys of a cut that go along a tube, where the case has none. `given` tells which of them the cut has.
pub(in crate::case) fn needs_tube(
    findings: &mut Findings,
    path: &str,
    given: impl Fn(&str) -> bool,
) {
    for key in ALONG.into_iter().filter(|k| given(k)) {
        findings.wrong_key(key_path(path, key), NEEDS_TUBE);
    }
}

/// Keys of a cut that go along a tube.
const ALONG: [&str; 3] = ["from", "to", "end_diameter"];
