//! What a case gives beside a scheme's own parameters: where along the part it presses, and what is known of its grip.

use std::borrow::Cow;

use super::{HoldingScheme, Limits, Parameter, ParameterKind};

/// Keys of a scheme's table that are not the scheme's to choose.
const RESERVED: [&str; 3] = ["scheme", "grip_from", "grip_length"];

/// What every scheme takes that presses along the part, beside its own parameters. A scheme that has a parameter of the same key keeps it.
pub const GRIP: &[Parameter] = &[
    Parameter {
        key: Cow::Borrowed("grip_from"),
        kind: ParameterKind::Offset,
        default: Some(Cow::Borrowed("0")),
        required: false,
        about: Cow::Borrowed(
            "where along the part the grip begins, from the end gripped in that step",
        ),
        limits: Limits {
            whole: false,
            least: Some(0.0),
            most: None,
        },
        band: false,
    },
    Parameter::optional(
        "grip_length",
        ParameterKind::Length,
        "how long the grip is along the part; left out: to the other end",
    ),
    Parameter::uncertain(
        "friction",
        ParameterKind::Friction,
        "friction coefficient between its faces and the part, round it: a number, a band, or \"smooth\" or \"serrated\" for a wide band",
    ),
    Parameter::uncertain(
        "friction_axial",
        ParameterKind::Friction,
        "the same along the part; left out: as round it",
    ),
    Parameter::optional(
        "axial_stop",
        ParameterKind::Flag,
        "whether the part rests against a stop that takes the feed towards the chuck",
    ),
    Parameter::optional(
        "jaw_mass",
        ParameterKind::Mass,
        "mass of one jaw with all that moves with it, for the force it loses as it turns",
    ),
    Parameter::optional(
        "jaw_centroid_radius",
        ParameterKind::Length,
        "distance of its centre of mass from the spindle axis",
    ),
    Parameter::optional(
        "jaw_stiffness",
        ParameterKind::Stiffness,
        "measured stiffness of one jaw and what carries it, along its axis (give part_stiffness too): softens the loss by turning",
    ),
    Parameter::optional(
        "part_stiffness",
        ParameterKind::Stiffness,
        "measured stiffness of the part under one jaw (give jaw_stiffness too)",
    ),
];

/// Whether a key says something about a scheme that is the same for all of them, so that no parameter may be called so.
pub fn is_reserved(key: &str) -> bool {
    RESERVED.contains(&key)
}

/// The keys of [`GRIP`] that a scheme takes: all but those that it has itself, if it presses along the part.
pub fn grip_of(scheme: &dyn HoldingScheme) -> Vec<&'static Parameter> {
    let own = |key: &str| scheme.parameters().iter().any(|p| p.key == key);
    match scheme.grips_along() {
        true => GRIP.iter().filter(|p| !own(&p.key)).collect(),
        false => Vec::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_keys_of_the_grip_are_reserved() {
        assert!(GRIP.iter().take(2).all(|p| is_reserved(&p.key)));
        assert!(!is_reserved("count"));
        let bounds = GRIP[0].bounds().map(|b| (b.least, b.above));
        assert_eq!(bounds, Some((0.0, false)));
    }
}
