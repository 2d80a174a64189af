//! The door itself: values are held against the parameters before a scheme sees them, and its reply against what can be
//! solved before anybody uses it. Built-in schemes and schemes from outside pass the same two checks.

use std::f64::consts::{FRAC_PI_2, PI};

use super::bounds::{Bounds, number_in_words};
use super::{
    Body, Drive, FRICTION_WORDS, Face, HoldingScheme, Need, Pairs, Parameter, ParameterKind, Push,
    SchemeError, Section, Sleeve, Supports, UNKNOWN, Value, Values,
};
use crate::geometry::Surface;

/// Rounding that a half-angle of a half or a whole turn may carry, rad.
const SLACK: f64 = 1e-9;

/// Bodies and loads of a scheme for these values on this section: the way every caller asks.
///
/// # Errors
/// When a value is not what its parameter takes, when the scheme refuses, or when its reply is [`Unsound`] or
/// [`Absurd`](super::Absurd).
pub fn ask(
    scheme: &dyn HoldingScheme,
    section: &Section,
    values: &Values,
) -> Result<Supports, SchemeError> {
    values.check(scheme.parameters(), scheme.needs())?;
    let supports = scheme.supports(section, values)?;
    let wrong = |why: String| SchemeError {
        parameter: None,
        message: impossible(scheme, &why),
    };
    supports.check(section).map_err(|e| wrong(e.to_string()))?;
    let sane = supports.check_magnitudes(section, scheme.body_name());
    sane.map_err(|e| wrong(e.to_string()))?;
    Ok(supports)
}

/// What to say of a scheme whose reply cannot be, and whose fault that is.
pub fn impossible(scheme: &dyn HoldingScheme, why: &str) -> String {
    match scheme.program() {
        Some(command) => format!(
            "the scheme \"{}\" (program `{command}`) answered with an impossible hold: {why}",
            scheme.name()
        ),
        None => format!("what the scheme asks for cannot be put against the part: {why}"),
    }
}

impl ParameterKind {
    /// The numbers it takes; `None` for words.
    pub fn bounds(&self) -> Option<Bounds> {
        let (least, above, most) = match *self {
            ParameterKind::Length
            | ParameterKind::Modulus
            | ParameterKind::Stiffness
            | ParameterKind::Mass => (0.0, true, Bounds::LARGEST),
            ParameterKind::Force
            | ParameterKind::Forces
            | ParameterKind::Torque
            | ParameterKind::Pressure
            | ParameterKind::Friction
            | ParameterKind::Ratio => (0.0, false, Bounds::LARGEST),
            ParameterKind::Offset
            | ParameterKind::Offsets
            | ParameterKind::Angle
            | ParameterKind::Angles
            | ParameterKind::Number => (-Bounds::LARGEST, false, Bounds::LARGEST),
            ParameterKind::Arc { most } => (0.0, true, most),
            ParameterKind::Count => (1.0, false, f64::from(Bounds::MOST_BODIES)),
            ParameterKind::Choice(_) | ParameterKind::Flag => return None,
        };
        Some(Bounds { least, above, most })
    }
}

impl Parameter {
    /// The numbers it takes: those of its kind, within its own limits; `None` for words.
    pub fn bounds(&self) -> Option<Bounds> {
        let mut bounds = self.kind.bounds()?;
        if let Some(least) = self.limits.least
            && !(least < bounds.least || (bounds.above && least <= bounds.least))
        {
            bounds.least = least;
            bounds.above = false;
        }
        bounds.most = bounds.most.min(self.limits.most.unwrap_or(bounds.most));
        Some(bounds)
    }

    /// Whether whole numbers alone are taken.
    pub fn is_whole(&self) -> bool {
        self.limits.whole || self.kind == ParameterKind::Count
    }

    /// Whether a value is what the parameter takes.
    ///
    /// # Errors
    /// What is wrong and what would be right, with the key.
    pub fn check(&self, value: &Value) -> Result<(), SchemeError> {
        let wrong = |message: String| {
            Err(SchemeError {
                parameter: Some(self.key.to_string()),
                message,
            })
        };
        let numbers = match (&self.kind, value) {
            (ParameterKind::Choice(words), Value::Text(t)) if words.has(t) => {
                return Ok(());
            }
            (ParameterKind::Choice(words), _) => {
                return wrong(format!("is not one of {}", words.list().join(", ")));
            }
            (ParameterKind::Flag, Value::Flag(_)) => return Ok(()),
            (ParameterKind::Flag, _) => return wrong("is neither true nor false".to_owned()),
            (ParameterKind::Friction, Value::Text(t)) if FRICTION_WORDS.contains(&t.as_str()) => {
                return Ok(());
            }
            (_, Value::Text(t)) if t == UNKNOWN && self.may_be_unknown() => return Ok(()),
            (_, Value::Number(x)) => std::slice::from_ref(x),
            (_, Value::Band(band)) if self.band && !band.is_in_order() => {
                return wrong(format!(
                    "is a band upside down: low is {}, nominal {} and high {}; give them in that order",
                    number_in_words(band.low),
                    number_in_words(band.nominal),
                    number_in_words(band.high)
                ));
            }
            (_, Value::Band(band)) if self.band => &[band.low, band.nominal, band.high],
            (_, Value::Band(_)) => return wrong("is a band; expected one number".to_owned()),
            (_, Value::Flag(_)) => {
                return wrong("is true or false; expected a number".to_owned());
            }
            (kind, Value::Numbers(list)) if kind.takes_list() => list,
            (kind, Value::Numbers(_)) => {
                return wrong(format!("is a list; expected one number ({})", kind.unit()));
            }
            (_, Value::Text(_)) => return wrong("is text; expected a number".to_owned()),
        };
        if numbers.is_empty() || numbers.len() > Bounds::MOST_BODIES as usize {
            return wrong(format!(
                "is a list of {}; give 1 to {} numbers",
                numbers.len(),
                Bounds::MOST_BODIES
            ));
        }
        let bounds = self.bounds().expect("words are done with");
        for &x in numbers {
            if !bounds.hold(x) {
                let low = if bounds.above { "above" } else { "at least" };
                return wrong(format!(
                    "is {}; it must be {low} {} and no more than {}",
                    number_in_words(x),
                    number_in_words(bounds.least),
                    number_in_words(bounds.most)
                ));
            }
            if self.is_whole() && x.fract() != 0.0 {
                return wrong(format!(
                    "is {}; expected a whole number",
                    number_in_words(x)
                ));
            }
        }
        Ok(())
    }
}

impl Values {
    /// Whether these are values that the parameters take, with one of each list of `needs`: what a case file's values have
    /// passed, and those made in code have to pass too.
    ///
    /// # Errors
    /// The first parameter at fault.
    pub fn check(&self, parameters: &[Parameter], needs: &[Need]) -> Result<(), SchemeError> {
        if let Some(need) = needs.iter().find(|n| !n.keys.iter().any(|k| self.has(k))) {
            return Err(SchemeError {
                parameter: need.keys.first().map(|k| (*k).to_owned()),
                message: need.missing(),
            });
        }
        for p in parameters {
            match self.get(&p.key) {
                Some(value) => p.check(value)?,
                None if p.required => {
                    return Err(SchemeError {
                        parameter: Some(p.key.to_string()),
                        message: format!("missing; give {}", p.about),
                    });
                }
                None => {}
            }
        }
        Ok(())
    }
}

/// Why what a scheme puts against the part cannot be solved. Bodies and loads count from 1.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum Unsound {
    /// Nothing at all.
    #[error("there is no body, no load and no end clamp; put at least one against the part")]
    Nothing,
    /// A number is not finite, or has the wrong sign.
    #[error("{what} is {}; expected a finite number{sign}", number_in_words(*value))]
    Number {
        /// Which.
        what: String,
        /// What it is.
        value: f64,
        /// What is asked of its sign.
        sign: &'static str,
    },
    /// The arc of a body or a patch.
    #[error("the half-angle of {what} is {half_angle} rad; it must be above 0 and at most pi")]
    HalfAngle {
        /// Which.
        what: String,
        /// Its half-angle, rad.
        half_angle: f64,
    },
    /// The relieved middle leaves no pad.
    #[error(
        "body {body} is relieved over a half-angle of {relief} rad of its {half_angle}; leave some of the pad"
    )]
    Relief {
        /// Which.
        body: usize,
        /// Half of the relieved arc, rad.
        relief: f64,
        /// Half of the arc, rad.
        half_angle: f64,
    },
    /// The face does not reach the edges of its arc, as seen from the axis.
    #[error(
        "the face of body {body} ends before its arc does; make the arc narrower or its radius larger"
    )]
    Narrow {
        /// Which.
        body: usize,
    },
    /// A body that stands farther in than the wall is thick.
    #[error(
        "body {body} on the {} surface stands {depth} mm inside the metal, and the wall is {wall} mm: it lies on the wrong side; look at signs, and at radius against diameter",
        .surface.name()
    )]
    InsideMetal {
        /// Which.
        body: usize,
        /// The surface it faces.
        surface: Surface,
        /// How far in, mm.
        depth: f64,
        /// The wall, mm.
        wall: f64,
    },
    /// A drive with one entry a body has another number of entries.
    #[error("the drive lists {pushes} entries for {bodies} bodies; give one for each")]
    Pushes {
        /// Entries.
        pushes: usize,
        /// Bodies.
        bodies: usize,
    },
    /// Pairs of an odd number of bodies.
    #[error("{bodies} bodies cannot form pairs; give an even number")]
    OddPairs {
        /// Bodies.
        bodies: usize,
    },
    /// A force that is to be found, but no body is driven by one.
    #[error(
        "its force is to be found from what the ring shows, but no body is driven by a force; give each a unit force"
    )]
    NothingToScale,
    /// A drive of several bodies without bodies.
    #[error("the drive has a force, but there is no body to drive")]
    NoBody,
}

fn number(what: impl FnOnce() -> String, value: f64, least: f64) -> Result<(), Unsound> {
    if value.is_finite() && value >= least {
        return Ok(());
    }
    Err(Unsound::Number {
        what: what(),
        value,
        sign: match least {
            0.0 => ", zero or more",
            _ if least > 0.0 => " above zero",
            _ => "",
        },
    })
}

/// Least value of a number above zero.
const ABOVE: f64 = f64::MIN_POSITIVE;
/// Least value of a number of either sign.
const ANY: f64 = f64::NEG_INFINITY;

fn half_angle(what: impl Fn() -> String, half_angle: f64) -> Result<(), Unsound> {
    if half_angle > 0.0 && half_angle <= PI + SLACK {
        return Ok(());
    }
    Err(Unsound::HalfAngle {
        what: what(),
        half_angle,
    })
}

impl Supports {
    /// Whether this can be put against a part of this section: numbers finite and of the right sign, arcs within a turn, faces
    /// as wide as their arcs, bodies on their own side of the wall, one drive for each body.
    ///
    /// # Errors
    /// The first thing found.
    pub fn check(&self, section: &Section) -> Result<(), Unsound> {
        if self.bodies.is_empty()
            && self.pressures.is_empty()
            && self.points.is_empty()
            && self.end_clamp.is_none()
            && self.sleeve.is_none()
        {
            return Err(Unsound::Nothing);
        }
        // bodies press on the back of a sleeve if there is one
        let mut pressed = *section;
        if let Some(sleeve) = &self.sleeve {
            check_sleeve(self.bodies.len() + 1, sleeve, section)?;
            pressed = sleeve.seen_by_bodies(section);
        }
        for (k, body) in self.bodies.iter().enumerate() {
            check_body(k + 1, body, &pressed)?;
        }
        self.check_drive(&pressed)?;
        let [least, most] = self.force_spread;
        number(|| "the least share of the force".to_owned(), least, 0.0)?;
        number(
            || "the largest share of the force, no less than the least,".to_owned(),
            most,
            least,
        )?;
        if let Some(read) = &self.squeeze {
            let forces = (0..self.bodies.len()).map(|k| self.drive.set_force(k).unwrap_or(0.0));
            if forces.sum::<f64>() <= 0.0 {
                return Err(Unsound::NothingToScale);
            }
            for reading in [read.low, read.nominal, read.high] {
                number(|| "the squeeze".to_owned(), reading, ABOVE)?;
            }
        }
        for (k, p) in self.pressures.iter().enumerate() {
            let what = |of: &str| format!("the {of} of patch {}", k + 1);
            half_angle(|| format!("patch {}", k + 1), p.half_angle)?;
            number(|| what("angle"), p.angle, ANY)?;
            number(|| what("force"), p.force, 0.0)?;
        }
        for (k, p) in self.points.iter().enumerate() {
            let what = |of: &str| format!("the {of} of point {}", k + 1);
            number(|| what("angle"), p.angle, ANY)?;
            number(|| what("force"), p.force, 0.0)?;
        }
        if let Some(clamp) = &self.end_clamp {
            number(|| "the force of the end clamp".to_owned(), clamp.force, 0.0)?;
            let friction = clamp.friction.map_or(0.0, |f| f.low);
            number(|| "the friction of the end clamp".to_owned(), friction, 0.0)?;
        }
        Ok(())
    }

    fn check_drive(&self, section: &Section) -> Result<(), Unsound> {
        let bodies = self.bodies.len();
        let force = match &self.drive {
            Drive::Each(pushes) => return check_pushes(pushes, &self.bodies, section),
            Drive::SelfCentring { force } => force,
            Drive::EqualisedPairs {
                force,
                pairs: Pairs::Neighbouring | Pairs::Opposite,
            } if bodies.is_multiple_of(2) => force,
            Drive::EqualisedPairs { .. } => return Err(Unsound::OddPairs { bodies }),
        };
        if bodies == 0 {
            return Err(Unsound::NoBody);
        }
        number(|| "the force of the drive".to_owned(), *force, 0.0)
    }
}

fn check_body(n: usize, body: &Body, section: &Section) -> Result<(), Unsound> {
    let what = |of: &str| format!("the {of} of body {n}");
    half_angle(|| format!("body {n}"), body.half_angle)?;
    number(|| what("angle"), body.angle, ANY)?;
    number(|| what("relief"), body.relief, 0.0)?;
    if body.relief >= body.half_angle {
        return Err(Unsound::Relief {
            body: n,
            relief: body.relief,
            half_angle: body.half_angle,
        });
    }
    if let Some(layer) = &body.layer {
        number(|| what("bedding's modulus"), layer.modulus, ABOVE)?;
        number(|| what("bedding's thickness"), layer.thickness, ABOVE)?;
    }
    number(|| what("stiffness"), body.stiffness.unwrap_or(1.0), ABOVE)?;
    number(|| what("friction"), body.friction.unwrap_or(0.0), 0.0)?;
    check_face(n, body, section)
}

/// A sleeve is numbered after the bodies.
fn check_sleeve(n: usize, sleeve: &Sleeve, section: &Section) -> Result<(), Unsound> {
    let what = |of: &str| format!("the {of} of the sleeve");
    number(|| what("radius"), sleeve.radius, ABOVE)?;
    number(|| what("thickness"), sleeve.thickness, ABOVE)?;
    number(|| what("back's radius"), sleeve.back(), ABOVE)?;
    number(|| what("Young's modulus"), sleeve.young_modulus, ABOVE)?;
    if !(sleeve.poisson_ratio > -1.0 && sleeve.poisson_ratio < 0.5) {
        return Err(Unsound::Number {
            what: what("Poisson's ratio"),
            value: sleeve.poisson_ratio,
            sign: " between -1 and 0.5",
        });
    }
    if let Some([middle, half]) = sleeve.slit {
        number(|| what("slit's angle"), middle, ANY)?;
        half_angle(|| "the slit of the sleeve".to_owned(), half)?;
    }
    let depth = sleeve.surface.outward() * (section.radius(sleeve.surface) - sleeve.radius);
    check_depth(n, sleeve.surface, depth, section)
}

/// The face must reach as far round as the body's arc; a whole circle must stand on its own side of the wall.
fn check_face(n: usize, body: &Body, section: &Section) -> Result<(), Unsound> {
    let radius = match body.face {
        Face::Flat if body.half_angle < FRAC_PI_2 => return Ok(()),
        Face::Flat => return Err(Unsound::Narrow { body: n }),
        Face::Concave { radius } | Face::Convex { radius } => radius,
    };
    number(
        || format!("the radius of the face of body {n}"),
        radius,
        ABOVE,
    )?;
    if body.is_full_circle() {
        let depth = body.surface.outward() * (section.radius(body.surface) - radius);
        return check_depth(n, body.surface, depth, section);
    }
    // a ray at the angle t from the axis meets the face's circle at touch only if the radius is R sin t at least
    let reach = section.radius(body.surface) * body.half_angle.min(FRAC_PI_2).sin();
    if radius < reach * (1.0 - SLACK) {
        return Err(Unsound::Narrow { body: n });
    }
    Ok(())
}

fn check_pushes(pushes: &[Push], bodies: &[Body], section: &Section) -> Result<(), Unsound> {
    if pushes.len() != bodies.len() {
        return Err(Unsound::Pushes {
            pushes: pushes.len(),
            bodies: bodies.len(),
        });
    }
    for (k, (push, body)) in pushes.iter().zip(bodies).enumerate() {
        match *push {
            Push::Force(force) => number(|| format!("the force of body {}", k + 1), force, 0.0)?,
            Push::Gap(gap) => {
                number(|| format!("the gap of body {}", k + 1), gap, ANY)?;
                check_depth(k + 1, body.surface, -gap, section)?;
            }
        }
    }
    Ok(())
}

fn check_depth(
    body: usize,
    surface: Surface,
    depth: f64,
    section: &Section,
) -> Result<(), Unsound> {
    let wall = section.outer_radius - section.bore_radius;
    if depth > wall {
        return Err(Unsound::InsideMetal {
            body,
            surface,
            depth,
            wall,
        });
    }
    Ok(())
}
