//! Where along the part a scheme presses: keys that a case gives beside the scheme's own parameters.

use std::borrow::Cow;

use super::{HoldingScheme, Limits, Parameter, ParameterKind};

/// Keys of a scheme's table that are not the scheme's to choose.
const RESERVED: [&str; 3] = ["scheme", "grip_from", "grip_length"];

/// What every scheme takes that presses along the part, beside its own parameters: where the grip begins, and how long it is, mm.
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
    },
    Parameter::optional(
        "grip_length",
        ParameterKind::Length,
        "how long the grip is along the part; left out: to the other end",
    ),
];

/// Whether a key says something about a scheme that is the same for all of them, so that no parameter may be called so.
pub fn is_reserved(key: &str) -> bool {
    RESERVED.contains(&key)
}

/// The keys of [`GRIP`], for a scheme that presses along the part.
pub fn grip_of(scheme: &dyn HoldingScheme) -> &'static [Parameter] {
    match scheme.grips_along() {
        true => GRIP,
        false => &[],
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_keys_of_the_grip_are_reserved() {
        assert!(GRIP.iter().all(|p| is_reserved(&p.key)));
        assert!(!is_reserved("count"));
        let bounds = GRIP[0].bounds().map(|b| (b.least, b.above));
        assert_eq!(bounds, Some((0.0, false)));
    }
}
