//! What any reply of a scheme must satisfy on its section, whoever made it: bodies and loads that can exist. Whether pads
//! overlap and forces balance is a matter of the whole hold and is checked there.

use std::f64::consts::{FRAC_PI_2, PI};

use super::{
    Bedding, Body, Drive, Face, PointForce, PressurePatch, Push, SchemeError, Section, Supports,
};

/// Half-angle beyond which a straight or crowned face would have to be wider than the part, rad.
const WIDEST_STRAIGHT: f64 = 85.0 * PI / 180.0;

/// Slack for a width that was computed from the angle it makes.
const ROUNDING: f64 = 1e-9;

impl Supports {
    /// Checks that everything said here can exist on the section.
    ///
    /// # Errors
    /// The first thing that cannot, named by kind and number.
    pub fn check(&self, section: &Section) -> Result<(), SchemeError> {
        let fault = numbered("body", self.bodies.iter().map(|b| body(b, section)))
            .or_else(|| drive(&self.drive, self.bodies.len()))
            .or_else(|| numbered("pressure", self.pressures.iter().map(pressure)))
            .or_else(|| numbered("point", self.points.iter().map(point)))
            .or_else(|| {
                let clamp = self.end_clamp.as_ref()?;
                force(clamp.force)
                    .or_else(|| clamp.friction.and_then(|x| at_least_zero("friction", x)))
                    .map(|f| format!("end clamp: {f}"))
            });
        match fault {
            None => Ok(()),
            Some(message) => Err(SchemeError {
                parameter: None,
                message,
            }),
        }
    }
}

fn numbered(what: &str, faults: impl Iterator<Item = Option<String>>) -> Option<String> {
    faults
        .enumerate()
        .find_map(|(k, fault)| fault.map(|f| format!("{what} {}: {f}", k + 1)))
}

fn body(b: &Body, section: &Section) -> Option<String> {
    let half = b.half_angle;
    if let Some(fault) = finite("angle", b.angle).or_else(|| arc(half)) {
        return Some(fault);
    }
    let half_width = section.radius(b.surface) * half.min(FRAC_PI_2).sin();
    let too_small = |what: &str, radius: f64| {
        let fits = b.is_full_circle() || radius >= half_width * (1.0 - ROUNDING);
        (!fits).then(|| {
            format!(
                "a {what} of {radius:.3} mm radius cannot be {:.3} mm wide; give a larger radius or a narrower body",
                2.0 * half_width
            )
        })
    };
    let face = match b.face {
        Face::Flat => None,
        Face::Concave { radius } => {
            above_zero("radius", radius).or_else(|| too_small("bore", radius))
        }
        Face::Convex { radius } => {
            above_zero("radius", radius).or_else(|| too_small("crown", radius))
        }
    };
    let straight = !matches!(b.face, Face::Concave { .. })
        && !b.is_full_circle()
        && half > WIDEST_STRAIGHT * (1.0 + ROUNDING);
    face.or_else(|| {
        straight.then(|| {
            "a flat or convex face cannot reach that far round; make it narrower or concave"
                .to_owned()
        })
    })
    .or_else(|| {
        (!(b.relief >= 0.0 && b.relief < half))
            .then(|| "the relieved middle must be less than the whole".to_owned())
    })
    .or_else(|| b.bedding.as_ref().and_then(bedding))
    .or_else(|| b.stiffness.and_then(|x| above_zero("stiffness", x)))
    .or_else(|| b.friction.and_then(|x| at_least_zero("friction", x)))
}

fn bedding(b: &Bedding) -> Option<String> {
    above_zero("modulus of the layer", b.modulus)
        .or_else(|| above_zero("thickness of the layer", b.thickness))
}

fn drive(d: &Drive, bodies: usize) -> Option<String> {
    match d {
        Drive::Each(list) if list.len() != bodies => Some(format!(
            "{} drives for {bodies} bodies; give one for each",
            list.len()
        )),
        Drive::Each(list) => numbered(
            "body",
            list.iter().map(|push| match *push {
                Push::Force(f) => force(f),
                Push::Gap(g) => finite("gap", g),
            }),
        ),
        Drive::SelfCentring { force: f } => force(*f),
        Drive::EqualisedPairs { force: f, .. } => force(*f)
            .or_else(|| (bodies % 2 != 0).then(|| format!("{bodies} bodies do not make pairs"))),
    }
}

fn pressure(p: &PressurePatch) -> Option<String> {
    finite("angle", p.angle)
        .or_else(|| arc(p.half_angle))
        .or_else(|| force(p.force))
        .or_else(|| {
            (p.half_angle.sin() < 1e-6).then(|| {
                "its pressure has no resultant along its axis; give an arc well between 0 and 180 deg"
                    .to_owned()
            })
        })
}

fn point(p: &PointForce) -> Option<String> {
    finite("angle", p.angle).or_else(|| force(p.force))
}

fn arc(half: f64) -> Option<String> {
    (!(half > 0.0 && half <= PI)).then(|| {
        format!(
            "its half-angle is {} deg; above 0 and up to 180 is wanted",
            half.to_degrees()
        )
    })
}

fn force(x: f64) -> Option<String> {
    at_least_zero("force", x)
}

fn finite(what: &str, x: f64) -> Option<String> {
    (!x.is_finite()).then(|| format!("its {what} is {x}; a finite number is wanted"))
}

fn above_zero(what: &str, x: f64) -> Option<String> {
    (!(x.is_finite() && x > 0.0)).then(|| format!("its {what} is {x}; it must be above zero"))
}

fn at_least_zero(what: &str, x: f64) -> Option<String> {
    (!(x.is_finite() && x >= 0.0)).then(|| format!("its {what} is {x}; it must be zero or more"))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::geometry::Surface;

    const SECTION: Section = Section {
        outer_radius: 60.0,
        bore_radius: 54.0,
        length: 20.0,
    };

    fn good() -> Supports {
        let pad = |k: f64| Body::new(Surface::Outer, 2.0 * k, 0.2, Face::Concave { radius: 60.0 });
        Supports {
            bodies: vec![pad(0.0), pad(1.0), pad(2.0)],
            drive: Drive::equal_force(3, 100.0),
            pressures: vec![PressurePatch {
                surface: Surface::Bore,
                angle: 0.0,
                half_angle: 0.3,
                force: 10.0,
            }],
            points: vec![PointForce {
                surface: Surface::Outer,
                angle: 1.0,
                force: 5.0,
            }],
            ..Supports::default()
        }
    }

    #[test]
    fn what_can_exist_passes_and_each_impossible_thing_is_named() {
        good().check(&SECTION).unwrap();
        let mut circle = good();
        circle.bodies = vec![Body::circle(Surface::Bore, 54.1)];
        circle.drive = Drive::fixed(1, 0.0);
        circle.check(&SECTION).unwrap();

        type Break = fn(&mut Supports);
        let slips: [(Break, &str); 15] = [
            (|s| s.bodies[1].angle = f64::NAN, "body 2: its angle"),
            (|s| s.bodies[1].half_angle = 0.0, "body 2: its half-angle"),
            (|s| s.bodies[0].half_angle = 4.0, "body 1: its half-angle"),
            (
                |s| s.bodies[2].face = Face::Convex { radius: 5.0 },
                "body 3: a crown",
            ),
            (
                |s| s.bodies[2].face = Face::Concave { radius: -5.0 },
                "body 3: its radius",
            ),
            (
                |s| {
                    s.bodies[0].face = Face::Flat;
                    s.bodies[0].half_angle = 1.5;
                },
                "body 1: a flat",
            ),
            (|s| s.bodies[0].relief = 0.2, "body 1: the relieved"),
            (|s| s.bodies[0].stiffness = Some(0.0), "stiffness is 0"),
            (|s| s.bodies[0].friction = Some(-0.1), "friction is -0.1"),
            (|s| s.drive = Drive::equal_force(2, 1.0), "2 drives for 3"),
            (|s| s.drive = Drive::equal_force(3, -1.0), "force is -1"),
            (|s| s.drive = Drive::fixed(3, f64::INFINITY), "gap is inf"),
            (|s| s.pressures[0].half_angle = PI, "no resultant"),
            (|s| s.pressures[0].force = f64::NAN, "pressure 1: its force"),
            (|s| s.points[0].force = -1.0, "point 1: its force"),
        ];
        for (slip, says) in slips {
            let mut s = good();
            slip(&mut s);
            let e = s.check(&SECTION).unwrap_err();
            assert!(e.message.contains(says), "{says}: {e}");
        }
    }
}
