//! Chuck jaws: rigid pads, bored, flat or crowned, spaced evenly round the outside.

use std::f64::consts::TAU;

use ringwright_solver::geometry::Surface;
use ringwright_solver::scheme::{
    AfterClamping, Body, Drive, Face, HoldingScheme, Parameter, ParameterKind, Planned,
    SchemeError, Section, Supports, Values,
};

/// Half-angle beyond which a flat or crowned face would have to be wider than the part, rad.
const WIDEST_STRAIGHT: f64 = 85.0 * std::f64::consts::PI / 180.0;

/// Chuck jaws. See the module's file for what the keys mean.
#[derive(Clone, Copy, Debug)]
pub struct Jaws;

const PARAMETERS: &[Parameter] = &[
    Parameter {
        key: "count",
        kind: ParameterKind::Count,
        default: None,
        required: true,
        about: "the number of jaws, spaced evenly",
    },
    Parameter {
        key: "first_angle",
        kind: ParameterKind::Angle,
        default: Some("0"),
        required: false,
        about: "where jaw 1 stands, counter-clockwise from the part's zero mark seen from the tailstock",
    },
    Parameter {
        key: "force",
        kind: ParameterKind::Force,
        default: None,
        required: false,
        about: "the force of one jaw (give force or total_force)",
    },
    Parameter {
        key: "total_force",
        kind: ParameterKind::Force,
        default: None,
        required: false,
        about: "the force of all jaws together (give force or total_force)",
    },
    Parameter {
        key: "bored_diameter",
        kind: ParameterKind::Length,
        default: None,
        required: false,
        about: "the diameter the pads are bored to; leave out for a flat pad",
    },
    Parameter {
        key: "crown_radius",
        kind: ParameterKind::Length,
        default: None,
        required: false,
        about: "the radius of a crowned pad, instead of bored_diameter",
    },
    Parameter {
        key: "width",
        kind: ParameterKind::Length,
        default: None,
        required: false,
        about: "the width of a pad, measured straight across (give width or arc)",
    },
    Parameter {
        key: "arc",
        kind: ParameterKind::Arc { most: 180.0 },
        default: None,
        required: false,
        about: "the arc that a pad covers (give width or arc)",
    },
    Parameter {
        key: "side",
        kind: ParameterKind::Choice(&["outside"]),
        default: Some("\"outside\""),
        required: false,
        about: "the side gripped: outside grips inward on the outside diameter",
    },
    Parameter {
        key: "drive",
        kind: ParameterKind::Choice(&["self-centring", "equal-force"]),
        default: Some("\"self-centring\""),
        required: false,
        about: "self-centring: the jaws share one travel, force is their mean; equal-force: each jaw has its force and finds its own travel",
    },
    Parameter {
        key: "after_clamping",
        kind: ParameterKind::Choice(&["keeps-force", "keeps-position"]),
        default: Some("\"keeps-force\""),
        required: false,
        about: "while metal goes: keeps-force is a power chuck, keeps-position a hand-operated scroll",
    },
];

const PLANNED: &[Planned] = &[
    key("relief_width"),
    key("key_torque"),
    key("drawbar_force"),
    key("air_pressure"),
    key("squeeze"),
    word("side", "inside"),
    word("drive", "equalised-pairs"),
    word("drive", "independent"),
];

const fn key(key: &'static str) -> Planned {
    Planned { key, word: None }
}

const fn word(key: &'static str, word: &'static str) -> Planned {
    Planned {
        key,
        word: Some(word),
    }
}

fn wrong(parameter: &str, message: impl Into<String>) -> SchemeError {
    SchemeError {
        parameter: Some(parameter.to_owned()),
        message: message.into(),
    }
}

/// Exactly one of two numbers.
fn one_of<'a>(
    values: &Values,
    a: &'a str,
    b: &'a str,
    what: &str,
) -> Result<(&'a str, f64), SchemeError> {
    match (values.number(a), values.number(b)) {
        (Some(x), None) => Ok((a, x)),
        (None, Some(x)) => Ok((b, x)),
        (None, None) => Err(wrong(a, format!("missing; give {what}: {a} or {b}"))),
        (Some(_), Some(_)) => Err(wrong(
            b,
            format!("{a} and {b} say the same thing; give one of them"),
        )),
    }
}

impl HoldingScheme for Jaws {
    fn name(&self) -> &str {
        "jaws"
    }

    fn summary(&self) -> &str {
        "chuck jaws on the outside: bored, flat or crowned pads, spaced evenly"
    }

    fn parameters(&self) -> &[Parameter] {
        PARAMETERS
    }

    fn planned(&self) -> &[Planned] {
        PLANNED
    }

    fn example(&self) -> &str {
        include_str!("../examples/jaws.toml")
    }

    fn supports(&self, section: &Section, values: &Values) -> Result<Supports, SchemeError> {
        let count = values.number("count").unwrap_or(0.0);
        if count < 1.0 {
            return Err(wrong("count", "there must be at least one jaw"));
        }
        let diameter = 2.0 * section.outer_radius;
        let force = match one_of(values, "force", "total_force", "the grip")? {
            ("total_force", total) => total / count,
            (_, each) => each,
        };
        let (size, given) = one_of(values, "width", "arc", "the size of a pad")?;
        let half_angle = if size == "width" {
            if given >= diameter {
                return Err(wrong(
                    "width",
                    format!(
                        "a pad {given:.3} mm wide is as wide as the part ({diameter:.3} mm); make it narrower"
                    ),
                ));
            }
            // a chord of the gripped circle: w = D sin(half angle)
            (given / diameter).asin()
        } else {
            0.5 * given.to_radians()
        };
        let half_width = section.outer_radius * half_angle.sin();
        let mut assumed = Vec::new();
        let face = match (
            values.number("bored_diameter"),
            values.number("crown_radius"),
        ) {
            (Some(_), Some(_)) => {
                return Err(wrong(
                    "crown_radius",
                    "a pad is bored or crowned, not both; give bored_diameter or crown_radius",
                ));
            }
            (Some(bored), None) => {
                if bored < 2.0 * half_width {
                    return Err(wrong(
                        "bored_diameter",
                        format!(
                            "a pad bored to {bored:.3} mm cannot be {:.3} mm wide; bore it larger or make it narrower",
                            2.0 * half_width
                        ),
                    ));
                }
                Face::Concave {
                    radius: 0.5 * bored,
                }
            }
            (None, Some(radius)) => {
                if radius < half_width {
                    return Err(wrong(
                        "crown_radius",
                        format!(
                            "a crown of {radius:.3} mm radius cannot be {:.3} mm wide; {:.3} mm is the most",
                            2.0 * half_width,
                            2.0 * radius
                        ),
                    ));
                }
                Face::Convex { radius }
            }
            (None, None) => {
                assumed.push("flat pad: no bored_diameter given".to_owned());
                Face::Flat
            }
        };
        if !matches!(face, Face::Concave { .. }) && half_angle > WIDEST_STRAIGHT {
            return Err(wrong(
                size,
                "a flat or crowned pad cannot reach that far round; give a bored_diameter or less than 170 deg",
            ));
        }
        let first = values.number("first_angle").unwrap_or(0.0).to_radians();
        let bodies = (0..count as usize)
            .map(|k| {
                let angle = first + TAU * k as f64 / count;
                Body::new(Surface::Outer, angle, half_angle, face)
            })
            .collect();
        Ok(Supports {
            bodies,
            drive: match values.text("drive") {
                Some("equal-force") => Drive::equal_force(count as usize, force),
                _ => Drive::SelfCentring { force },
            },
            after_clamping: match values.text("after_clamping") {
                Some("keeps-position") => AfterClamping::KeepsPosition,
                _ => AfterClamping::KeepsForce,
            },
            assumed,
            ..Supports::default()
        })
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use ringwright_solver::scheme::Value;

    const SECTION: Section = Section {
        outer_radius: 60.0,
        bore_radius: 57.0,
        length: 20.0,
    };

    fn values() -> Values {
        Values::from([
            ("count", Value::Number(3.0)),
            ("total_force", Value::Number(600.0)),
            ("width", Value::Number(20.0)),
        ])
    }

    #[test]
    fn a_pad_covers_its_chord() {
        let s = Jaws.supports(&SECTION, &values()).unwrap();
        assert_eq!(s.bodies.len(), 3);
        // chord of a circle: 2 R sin(half angle) = width
        assert!((120.0 * s.bodies[0].half_angle.sin() - 20.0).abs() < 1e-12);
        assert!((s.bodies[1].angle - TAU / 3.0).abs() < 1e-15);
        assert_eq!(s.drive, Drive::SelfCentring { force: 200.0 });
        assert_eq!(s.assumed, ["flat pad: no bored_diameter given"]);
    }

    #[test]
    fn values_that_contradict_are_refused() {
        for (key, x, parameter) in [
            ("force", 100.0, "total_force"),
            ("arc", 30.0, "arc"),
            ("width", 120.0, "width"),
            ("bored_diameter", 15.0, "bored_diameter"),
            ("crown_radius", 5.0, "crown_radius"),
        ] {
            let mut v = values();
            v.set(key, Value::Number(x));
            let e = Jaws.supports(&SECTION, &v).unwrap_err();
            assert_eq!(e.parameter.as_deref(), Some(parameter), "{e}");
        }
    }
}
