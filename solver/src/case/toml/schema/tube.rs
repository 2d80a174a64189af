//! The part along its length, as a schema.

use serde_json::{Value, json};

use super::form::{ABOVE_ZERO, ZERO_OR_MORE, list, number, object, quantity};
use crate::case::most::{MOST_OUTLINE, MOST_STATIONS};
use crate::case::quantity::Dimension;

pub(super) fn tube() -> Value {
    object(
        "The part along its length; without it a slice stands for the whole of it",
        [
            (
                "stations",
                list(
                    "Positions along the part to report, rising, from the end gripped in a step that is not flipped",
                    quantity(Dimension::Length, ZERO_OR_MORE),
                    [0, MOST_STATIONS],
                ),
            ),
            (
                "outline",
                list(
                    "Its outline from that end on, where it is no plain tube: straight between points, two points at one position make \
                     a step",
                    point(),
                    [2, MOST_OUTLINE],
                ),
            ),
        ],
        &[],
    )
}

fn point() -> Value {
    let length = |about, bounds| number(about, Dimension::Length, bounds);
    json!({
        "type": "array",
        "description": "[z, outer_diameter, bore_diameter]",
        "prefixItems": [
            length("Position along the part", ZERO_OR_MORE),
            length("Outside diameter", ABOVE_ZERO),
            length("Bore diameter; 0 in a floor", ZERO_OR_MORE),
        ],
        "minItems": 3,
        "maxItems": 3,
    })
}
