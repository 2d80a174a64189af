//! What has to be known of what presses on the part, in words.

use crate::judge::{Group, HoldCaution};
use crate::report::units::{Units, percent};
use crate::report::words::numbered;

/// A caution of a step, which it begins with.
pub(crate) fn caution(caution: &HoldCaution, units: Units) -> String {
    let (step, words) = match caution {
        HoldCaution::Unloaded {
            step,
            group,
            set,
            carries,
        } => (
            step,
            format!(
                "set to {}, {} {} in the closed hold: what closes after takes the force away; the grip is that of the smaller \
                 force",
                units.force(*set),
                named(group),
                carry(group, units.force(*carries))
            ),
        ),
        HoldCaution::LostToCut {
            step,
            group,
            before,
            left,
            most,
        } => {
            let then = if *left > 0.0 {
                carry(group, units.force(*left))
            } else if group.bodies.len() == 1 {
                "no longer touches".into()
            } else {
                "no longer touch".into()
            };
            let lost = if *most {
                "most".into()
            } else {
                percent(1.0 - left / before)
            };
            (
                step,
                format!(
                    "after the cut {} {then}, of {} before it: {lost} of the force goes with the metal; the grip is that of the smaller \
                     force",
                    named(group),
                    units.force(*before),
                ),
            )
        }
        HoldCaution::WidePads {
            step,
            group,
            touched_deg,
            friction,
            uneven_by,
        } => {
            let (touch, each) = match group.bodies.len() {
                1 => ("touches", ""),
                _ => ("touch", " each"),
            };
            (
                step,
                format!(
                    "{} {touch} over {touched_deg:.0} deg{each} and friction is left out: with a coefficient of {friction} the grip is \
                     uneven over the pad by a factor of up to {uneven_by:.2}, so the true shape lies between this one and that of such a \
                     grip",
                    named(group)
                ),
            )
        }
    };
    format!("step {}: {words}", step + 1)
}

fn named(group: &Group) -> String {
    if group.round {
        format!("the {}", group.called)
    } else {
        numbered(&group.called, &group.bodies)
    }
}

/// `carry ... each` of several, `carries ...` of one.
fn carry(group: &Group, force: String) -> String {
    match group.bodies.len() {
        1 => format!("carries {force}"),
        _ => format!("carry {force} each"),
    }
}
