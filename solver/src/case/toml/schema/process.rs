//! Steps, cuts and the fixed mesh, as schemas.

use serde_json::{Value, json};

use super::form::{
    ABOVE_ZERO, ANY, ZERO_OR_MORE, above, flag, list, number, object, quantity, text, uncertain,
    whole, words,
};
use super::part::offset;
use crate::case::check::{AROUND, MOST_ELEMENTS, THROUGH};
use crate::case::most::MOST_CUTS;
use crate::case::quantity::Dimension;

pub(super) fn step() -> Value {
    object(
        "One clamping: hold, cut, release",
        [
            (
                "hold",
                text("Name of a hold, or \"free\": nothing touches the part"),
            ),
            (
                "force_scale",
                number(
                    "Fraction of the hold's forces",
                    Dimension::Plain,
                    ZERO_OR_MORE,
                ),
            ),
            ("flipped", flag("The part turned end for end")),
            (
                "turned",
                json!({
                    "description": "How far the part is turned against the hold; any: the worst case",
                    "anyOf": [{ "const": "any" }, quantity(Dimension::Angle, ANY)],
                }),
            ),
            (
                "centre_on",
                words("What runs true", &["jaws", "outer", "bore"]),
            ),
            (
                "stress_relieved",
                flag("Residual stress set to zero here, the shape kept"),
            ),
            (
                "spindle_offset",
                offset("Where the spindle axis lies in the part's frame"),
            ),
            (
                "speed",
                number(
                    "Speed of the spindle (rev/min), for what turning takes from the jaws",
                    Dimension::Speed,
                    ZERO_OR_MORE,
                ),
            ),
            (
                "temperature_rise",
                number(
                    "How much warmer the part is when it is cut than when it is measured, K",
                    Dimension::Plain,
                    above(-100.0, 500.0),
                ),
            ),
            (
                "minutes_held",
                number("How long the part is held", Dimension::Plain, ZERO_OR_MORE),
            ),
            ("cut", list("Cuts in order", cut(), [0, MOST_CUTS])),
        ],
        &["hold"],
    )
}

fn cut() -> Value {
    let length = |about, bounds| number(about, Dimension::Length, bounds);
    let force = |about| uncertain(about, Dimension::Force, ZERO_OR_MORE);
    object(
        "The tool leaves a circle about the spindle axis",
        [
            ("surface", words("Surface cut", &["outer", "bore"])),
            (
                "diameter",
                length(
                    "Diameter of the circle; with end_diameter that at from",
                    ABOVE_ZERO,
                ),
            ),
            (
                "from",
                length(
                    "Where along a [tube] the cut begins, from the end gripped in this step; left out: 0",
                    ZERO_OR_MORE,
                ),
            ),
            (
                "to",
                length(
                    "Where along a [tube] it ends; left out: at the other end",
                    ABOVE_ZERO,
                ),
            ),
            (
                "end_diameter",
                length(
                    "Diameter at to: the cut is a taper along a [tube]",
                    ABOVE_ZERO,
                ),
            ),
            (
                "feed",
                length(
                    "Feed a turn: with the depth of the cut and the material the tool's force is estimated from it",
                    ABOVE_ZERO,
                ),
            ),
            (
                "entering_angle",
                number(
                    "Entering angle between the cutting edge and the direction of feed; left out: 90",
                    Dimension::Angle,
                    above(5.0, 120.0),
                ),
            ),
            (
                "tangential_force",
                force("The tool's force along the turning surface, in place of an estimate"),
            ),
            (
                "axial_force",
                force("The tool's force along the axis, in place of an estimate"),
            ),
            (
                "radial_force",
                force("Steady tool force that pushes the wall away, in place of an estimate"),
            ),
        ],
        &["surface", "diameter"],
    )
}

pub(super) fn mesh() -> Value {
    object(
        &format!(
            "A fixed section mesh of no more than {MOST_ELEMENTS} elements; without it the mesh is graded and refined"
        ),
        [
            ("around", whole("Elements round", AROUND[0], AROUND[1])),
            (
                "through",
                whole("Elements through the wall", THROUGH[0], THROUGH[1]),
            ),
        ],
        &["around", "through"],
    )
}

/// What is to be sized, read by who sizes the case: paths of keys, and what they may be.
pub(super) fn size() -> Value {
    let number = json!({ "anyOf": [{ "type": "number" }, { "type": "string" }] });
    let pair = json!({ "type": "array", "items": number, "minItems": 2, "maxItems": 2 });
    let keys = |about: &str, of: &Value| json!({ "type": "object", "description": about, "additionalProperties": of });
    object(
        "What `ringwright size` looks for",
        [
            ("hold", text("The hold that is sized, by its name")),
            (
                "free",
                keys("What may vary: path of a key = [low, high]", &pair),
            ),
            (
                "spread",
                keys(
                    "What cannot be held exactly: path of a key = plus or minus",
                    &number,
                ),
            ),
        ],
        &["hold", "free"],
    )
}

pub(super) fn chuck() -> Value {
    object(
        "What the maker's plate and data sheet say of the chuck",
        [
            (
                "rated_force",
                number(
                    "Largest force of all jaws together",
                    Dimension::Force,
                    ABOVE_ZERO,
                ),
            ),
            (
                "rated_speed",
                number("Highest speed (rev/min)", Dimension::Speed, ABOVE_ZERO),
            ),
            (
                "lowest_steady_force",
                number(
                    "Least force of all jaws together that it holds steadily",
                    Dimension::Force,
                    ABOVE_ZERO,
                ),
            ),
        ],
        &[],
    )
}
