//! What several schemes share: keys that mean the same everywhere, where bodies stand, chords, lists, layers.

use std::f64::consts::{PI, TAU};

use ringwright_solver::geometry::Surface;
use ringwright_solver::grip::Band;
use ringwright_solver::scheme::{
    AfterClamping, Body, Face, Need, Parameter, ParameterKind, SchemeError, Values, WinklerLayer,
    number_in_words, plural,
};

/// Half-angle beyond which a face that is flat or curves away would have to be wider than the part, rad.
const WIDEST_STRAIGHT: f64 = 85.0 * PI / 180.0;

pub(crate) const COUNT: Parameter = Parameter::optional(
    "count",
    ParameterKind::Count,
    "number, equally spaced (give count or angles)",
);
pub(crate) const FIRST_ANGLE: Parameter = Parameter::defaulting(
    "first_angle",
    ParameterKind::Angle,
    "0",
    "angle of the first (jaw 1, screw 1, ...), counter-clockwise from the part's zero mark seen from the tailstock",
);
pub(crate) const ANGLES: Parameter = Parameter::optional(
    "angles",
    ParameterKind::Angles,
    "their angles if spaced unevenly, counter-clockwise, counted from first_angle",
);
/// Where bodies stand.
pub(crate) const STATIONS: Need = Need {
    what: "their number, or where they stand",
    keys: &["count", "angles"],
};
/// How wide a pad is.
pub(crate) const SIZE: Need = Need {
    what: "the size of a pad",
    keys: &["width", "arc"],
};
pub(crate) const AFTER_CLAMPING: &[&str] = &["keeps-force", "keeps-position"];
pub(crate) const SIDES: &[&str] = &["outside", "inside"];
pub(crate) const SURFACE: Parameter = Parameter::defaulting(
    "surface",
    ParameterKind::choice(&["outer", "bore"]),
    "\"outer\"",
    "the surface pressed on, always towards the metal",
);
pub(crate) const SHIM_THICKNESS: Parameter = Parameter::optional(
    "shim_thickness",
    ParameterKind::Length,
    "thickness of a soft lining on the face (give shim_modulus too)",
);
pub(crate) const SHIM_MODULUS: Parameter = Parameter::optional(
    "shim_modulus",
    ParameterKind::Modulus,
    "modulus of that lining, pressed through its thickness",
);
pub(crate) const MOUNT_STIFFNESS: Parameter = Parameter::optional(
    "mount_stiffness",
    ParameterKind::Stiffness,
    "stiffness of what carries each of them, along its axis; left out: rigid",
);

pub(crate) fn wrong(parameter: &str, message: impl Into<String>) -> SchemeError {
    SchemeError {
        parameter: Some(parameter.to_owned()),
        message: message.into(),
    }
}

/// A number that must be there.
pub(crate) fn number(values: &Values, key: &str) -> Result<f64, SchemeError> {
    values
        .number(key)
        .ok_or_else(|| wrong(key, format!("missing; give {key}")))
}

/// Which one of some keys is given: exactly one must be.
pub(crate) fn one_of<'a>(
    values: &Values,
    keys: &[&'a str],
    what: &str,
) -> Result<&'a str, SchemeError> {
    let mut given = keys.iter().filter(|k| values.has(k));
    match (given.next(), given.next()) {
        (Some(&key), None) => Ok(key),
        (Some(a), Some(b)) => Err(wrong(
            b,
            format!("{a} and {b} cannot both be given; give one of them"),
        )),
        (None, _) => Err(wrong(
            keys.first().copied().unwrap_or_default(),
            format!("missing; give {what}: {}", keys.join(" or ")),
        )),
    }
}

/// The numbers of a key that takes one for all or a list with one for each of `count`; `None` if it is not given.
pub(crate) fn each(
    values: &Values,
    key: &str,
    count: usize,
    noun: &str,
) -> Result<Option<Vec<f64>>, SchemeError> {
    if let Some(x) = values.number(key) {
        return Ok(Some(vec![x; count]));
    }
    match values.numbers(key) {
        Some(list) if list.len() != count => Err(wrong(
            key,
            format!(
                "lists {} for {count} {}; give one number for all or {count} of them",
                list.len(),
                plural(noun)
            ),
        )),
        list => Ok(list.map(<[f64]>::to_vec)),
    }
}

/// The forces at `count` places, N: one for all or a list.
pub(crate) fn forces(values: &Values, count: usize, noun: &str) -> Result<Vec<f64>, SchemeError> {
    each(values, "force", count, noun)?.ok_or_else(|| wrong("force", "missing; give force"))
}

/// The least and the largest that a force may be, as shares of the nominal one, from whichever of `keys` is given: those of a list are
/// exact.
pub(crate) fn spread(values: &Values, keys: &[&str]) -> [f64; 2] {
    let given = keys.iter().find_map(|key| values.band(key));
    given.map_or([1.0; 2], |band| band.spread())
}

/// A band that must be there, all of it above zero; `for_what` says what needs it.
pub(crate) fn positive(values: &Values, key: &str, for_what: &str) -> Result<Band, SchemeError> {
    let band = values
        .band(key)
        .ok_or_else(|| wrong(key, format!("missing; {for_what} needs {key}")))?;
    if band.low <= 0.0 {
        let low = number_in_words(band.low);
        return Err(wrong(key, format!("is {low}; it must be above zero")));
    }
    Ok(band)
}

/// Refuses what means nothing beside the key that gives the force; `beside` lists such keys with those that they belong to.
pub(crate) fn idle(
    values: &Values,
    beside: &[(&str, &[&str])],
    key: &str,
) -> Result<(), SchemeError> {
    let idle = beside
        .iter()
        .find(|(k, owners)| values.has(k) && !owners.contains(&key));
    match idle {
        None => Ok(()),
        Some((k, owners)) => Err(wrong(
            k,
            format!(
                "belongs to {}, and the force is given by {key}; leave {k} out",
                owners.join(" or ")
            ),
        )),
    }
}

/// The force of one of `count` bodies, N, as `force` or `total_force`, whichever `key` is, gives it.
pub(crate) fn of_one(key: &str, given: f64, count: usize) -> f64 {
    match key {
        "total_force" => given / count as f64,
        _ => given,
    }
}

/// Where `count` bodies stand evenly from `first_angle`, rad, counter-clockwise.
pub(crate) fn evenly(values: &Values, count: f64) -> Vec<f64> {
    let first = values.number("first_angle").unwrap_or(0.0).to_radians();
    (0..count as usize)
        .map(|k| first + TAU * k as f64 / count)
        .collect()
}

/// Where bodies stand, rad, counter-clockwise: evenly by `count`, or by `angles`, both from `first_angle`.
pub(crate) fn stations(values: &Values, noun: &str) -> Result<Vec<f64>, SchemeError> {
    let first = values.number("first_angle").unwrap_or(0.0);
    let count = values.number("count");
    let one = values.number("angles").map(|a| [a]);
    let list = values.numbers("angles");
    let Some(angles) = list.or(one.as_ref().map(|a| a.as_slice())) else {
        let count = count.filter(|n| *n >= 1.0).ok_or_else(|| {
            wrong(
                "count",
                format!(
                    "missing; give count (1 or more), or angles where the {} stand",
                    plural(noun)
                ),
            )
        })?;
        return Ok(evenly(values, count));
    };
    if let Some(n) = count
        && n != angles.len() as f64
    {
        return Err(wrong(
            "count",
            format!(
                "count is {n} but angles lists {}; leave count out",
                angles.len()
            ),
        ));
    }
    let rising = angles.windows(2).all(|w| w[0] < w[1]);
    let turn = match (angles.first(), angles.last()) {
        (Some(a), Some(b)) => b - a,
        _ => return Err(wrong("angles", "is empty; give an angle for each of them")),
    };
    if !rising || turn >= 360.0 {
        return Err(wrong(
            "angles",
            format!(
                "must rise from one {noun} to the next and stay within one turn; list them counter-clockwise"
            ),
        ));
    }
    Ok(angles.iter().map(|a| (first + a).to_radians()).collect())
}

/// The surface that bodies on this `side` of the wall touch.
pub(crate) fn side(values: &Values, otherwise: Surface) -> Surface {
    match values.text("side") {
        Some("outside") => Surface::Outer,
        Some("inside") => Surface::Bore,
        _ => otherwise,
    }
}

/// The surface that a load presses on.
pub(crate) fn surface(values: &Values) -> Surface {
    match values.text("surface") {
        Some("bore") => Surface::Bore,
        _ => Surface::Outer,
    }
}

/// What stays once clamped, as the values say.
pub(crate) fn after_clamping(values: &Values, otherwise: AfterClamping) -> AfterClamping {
    match values.text("after_clamping") {
        Some("keeps-force") => AfterClamping::KeepsForce,
        Some("keeps-position") => AfterClamping::KeepsPosition,
        _ => otherwise,
    }
}

/// Half of the angle, rad, that the chord given by `key` spans on a circle of this radius, mm: `w = 2 R sin(half)`.
pub(crate) fn half_of_chord(
    values: &Values,
    key: &str,
    radius: f64,
) -> Result<Option<f64>, SchemeError> {
    let Some(chord) = values.number(key) else {
        return Ok(None);
    };
    let diameter = 2.0 * radius;
    if chord >= diameter {
        return Err(wrong(
            key,
            format!(
                "{chord:.3} mm is as wide as the part where it is gripped ({diameter:.3} mm); make it narrower"
            ),
        ));
    }
    Ok(Some((chord / diameter).asin()))
}

/// Half of the arc of a body, rad, by its `width` across or its `arc`, and which of them was given.
pub(crate) fn half_angle(values: &Values, radius: f64) -> Result<(&'static str, f64), SchemeError> {
    let key = one_of(values, &["width", "arc"], "its size")?;
    let half = match key {
        "width" => half_of_chord(values, key, radius)?,
        _ => values.number(key).map(|arc| 0.5 * arc.to_radians()),
    };
    Ok((key, half.unwrap_or_default()))
}

/// Refuses a body whose face cannot reach the ends of its arc; `shape` names what gives its outline, `size` what gives
/// its arc.
pub(crate) fn reaches(
    body: &Body,
    radius: f64,
    shape: &str,
    size: &str,
) -> Result<(), SchemeError> {
    let width = 2.0 * radius * body.half_angle.sin();
    let curves_away = match body.face {
        Face::Flat => true,
        Face::Concave { radius } | Face::Convex { radius } if 2.0 * radius < width => {
            return Err(wrong(
                shape,
                format!(
                    "an arc of {radius:.3} mm radius cannot be {width:.3} mm wide; {:.3} mm is the most: make it narrower or the radius larger",
                    2.0 * radius
                ),
            ));
        }
        Face::Concave { .. } => body.surface == Surface::Bore,
        Face::Convex { .. } => body.surface == Surface::Outer,
    };
    if curves_away && body.half_angle > WIDEST_STRAIGHT {
        return Err(wrong(
            size,
            "a flat or crowned face cannot reach that far round; give less than 170 deg, or let it curve with the part",
        ));
    }
    Ok(())
}

/// The body with the layer and the mount that the values give it.
pub(crate) fn backed(values: &Values, body: Body) -> Result<Body, SchemeError> {
    let (thickness, modulus) = (
        values.number("shim_thickness"),
        values.number("shim_modulus"),
    );
    let missing = |key: &str, other: &str| {
        wrong(
            key,
            format!(
                "missing; {other} is given, and a soft lining needs its thickness and its modulus"
            ),
        )
    };
    let layer = match (thickness, modulus) {
        (Some(thickness), Some(modulus)) => Some(WinklerLayer { modulus, thickness }),
        (Some(_), None) => return Err(missing("shim_modulus", "shim_thickness")),
        (None, Some(_)) => return Err(missing("shim_thickness", "shim_modulus")),
        (None, None) => None,
    };
    Ok(Body {
        layer,
        stiffness: values.number("mount_stiffness"),
        ..body
    })
}

/// The same body at every one of these places, rad.
pub(crate) fn at_each(angles: &[f64], body: Body) -> Vec<Body> {
    angles.iter().map(|&angle| Body { angle, ..body }).collect()
}
