//! Magnitudes: what a sound reply may be in numbers and yet no shop can build, checked by [`ask`](super::ask) alone. The ends
//! lie far outside anything real, so that they catch slips of a unit or an exponent and nothing else.

use std::f64::consts::TAU;

use super::{Bounds, Drive, Push, Section, Supports, number_in_words, plural};
use crate::geometry::Surface;

/// Most bodies of a hold. Each may touch, and what touches has to be found together; nothing in a shop has so many.
pub const MOST_BODIES: usize = 100;
/// Most dead loads of a hold: a load at every third of a degree, with room.
pub const MOST_LOADS: usize = Bounds::MOST_BODIES as usize;

/// Least half of an arc, rad: a micrometre wide on a part of 100 mm. A line load is a point.
const NARROWEST: f64 = 1e-5;
/// Most of a face's radius, in radii of the part: one of a hundred kilometres is flat.
const FLATTEST: f64 = 1e6;
/// Most turns of an angle.
const MOST_TURNS: f64 = 100.0;
/// Most friction coefficient.
const MOST_FRICTION: f64 = 10.0;
/// Least modulus, stiffness or layer: beyond it squares would vanish.
const LEAST: f64 = 1.0 / Bounds::LARGEST;

/// A number of a reply that nothing in a shop has.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum Absurd {
    /// A number beyond its range.
    #[error("{what} is {} {unit}; it must be from {} to {} {unit}{hint}", brief(*value), brief(*least), brief(*most))]
    Number {
        /// Which, by its key and the number of its body: "the force of body 1".
        what: String,
        /// What it is.
        value: f64,
        /// Unit of all three.
        unit: &'static str,
        /// The least it may be.
        least: f64,
        /// The most it may be.
        most: f64,
        /// What may be meant, after a semicolon; or nothing.
        hint: &'static str,
    },
    /// A body that stands so far off that it never touches.
    #[error(
        "the gap of {noun} {body} is {} mm; a gap of more than the radius of the {} ({radius:.3} mm) is never closed: leave the {noun} out, or look at the unit", brief(*gap), .surface.in_words()
    )]
    FarOff {
        /// What one is called.
        noun: String,
        /// Which, from 1.
        body: usize,
        /// The surface it faces.
        surface: Surface,
        /// Its distance from first touch, mm.
        gap: f64,
        /// Radius of that surface, mm.
        radius: f64,
    },
    /// More than can be solved in sensible time.
    #[error("{found} {what}; {most} are the most: give fewer, wider ones")]
    TooMany {
        /// Bodies or loads.
        what: String,
        /// How many there are.
        found: usize,
        /// How many may be.
        most: usize,
    },
}

/// A range with its unit.
struct Range {
    unit: &'static str,
    least: f64,
    most: f64,
    hint: &'static str,
}

impl Range {
    const fn new(unit: &'static str, least: f64, most: f64) -> Self {
        let hint = "";
        Self {
            unit,
            least,
            most,
            hint,
        }
    }

    /// Refuses a number outside; `what` names it.
    fn check(&self, what: impl FnOnce() -> String, value: f64) -> Result<(), Absurd> {
        if (self.least..=self.most).contains(&value) {
            return Ok(());
        }
        let &Self {
            unit,
            least,
            most,
            hint,
        } = self;
        let what = what();
        Err(Absurd::Number {
            what,
            value,
            unit,
            least,
            most,
            hint,
        })
    }
}

const FORCE: Range = Range::new("N", 0.0, Bounds::LARGEST);
const ANGLE: Range = Range::new("deg", -360.0 * MOST_TURNS, 360.0 * MOST_TURNS);
const FRICTION: Range = Range::new("(a ratio)", 0.0, MOST_FRICTION);
const LAYER: Range = Range::new("mm", LEAST, Bounds::LARGEST);
const MODULUS: Range = Range::new("MPa", LEAST, Bounds::LARGEST);
const STIFFNESS: Range = Range::new("N/mm", LEAST, Bounds::LARGEST);
const HALF_ANGLE: Range = Range {
    unit: "deg",
    least: NARROWEST * 360.0 / TAU,
    most: 180.0 + 1e-6,
    hint: " (narrower than that is a point)",
};

/// The radius of a face against a surface of this radius.
fn face_radius(surface: f64) -> Range {
    let hint = "; beyond that it is flat: give a flat face";
    Range {
        hint,
        ..Range::new("mm", surface / FLATTEST, surface * FLATTEST)
    }
}

impl Supports {
    /// Whether every number is one that something in a shop could have; `noun` is what one of the bodies is called.
    ///
    /// # Errors
    /// The first thing found.
    pub fn check_magnitudes(&self, section: &Section, noun: &str) -> Result<(), Absurd> {
        few(self.bodies.len(), || plural(noun), MOST_BODIES)?;
        let loads = self.pressures.len() + self.points.len();
        few(loads, || "loads".to_owned(), MOST_LOADS)?;
        let mut pressed = *section;
        if let Some(sleeve) = &self.sleeve {
            let what = |of: &'static str| move || format!("the {of} of the sleeve");
            face_radius(section.radius(sleeve.surface)).check(what("radius"), sleeve.radius)?;
            LAYER.check(what("thickness"), sleeve.thickness)?;
            MODULUS.check(what("Young's modulus"), sleeve.young_modulus)?;
            pressed = sleeve.seen_by_bodies(section);
        }
        self.check_bodies(&pressed, noun)?;
        self.check_pushes(&pressed, noun)?;
        let patches = self.pressures.iter().map(|p| ("patch", p.angle, p.force));
        let points = self.points.iter().map(|p| ("point", p.angle, p.force));
        for (k, (load, angle, force)) in patches.enumerate().chain(points.enumerate()) {
            ANGLE.check(|| named("angle", load, k), angle.to_degrees())?;
            FORCE.check(|| named("force", load, k), force)?;
        }
        for (k, p) in self.pressures.iter().enumerate() {
            let half = p.half_angle.to_degrees();
            HALF_ANGLE.check(|| named("half-angle", "patch", k), half)?;
        }
        if let Some(clamp) = &self.end_clamp {
            let what = |of: &'static str| move || format!("the {of} of the end clamp");
            FORCE.check(what("force"), clamp.force)?;
            FRICTION.check(what("friction"), clamp.friction.map_or(0.0, |f| f.high))?;
        }
        Ok(())
    }

    fn check_bodies(&self, pressed: &Section, noun: &str) -> Result<(), Absurd> {
        for (k, b) in self.bodies.iter().enumerate() {
            let what = |of: &'static str| move || named(of, noun, k);
            ANGLE.check(what("angle"), b.angle.to_degrees())?;
            HALF_ANGLE.check(what("half-angle"), b.half_angle.to_degrees())?;
            if let Some(radius) = b.face.radius() {
                face_radius(pressed.radius(b.surface)).check(what("radius"), radius)?;
            }
            if let Some(layer) = &b.layer {
                LAYER.check(what("lining"), layer.thickness)?;
                MODULUS.check(what("lining's modulus"), layer.modulus)?;
            }
            if let Some(stiffness) = b.stiffness {
                STIFFNESS.check(what("stiffness"), stiffness)?;
            }
            FRICTION.check(what("friction"), b.friction.unwrap_or(0.0))?;
        }
        Ok(())
    }

    fn check_pushes(&self, pressed: &Section, noun: &str) -> Result<(), Absurd> {
        let pushes = match &self.drive {
            Drive::Each(pushes) => pushes,
            Drive::SelfCentring { force } | Drive::EqualisedPairs { force, .. } => {
                return FORCE.check(|| "the force of the drive".to_owned(), *force);
            }
        };
        for (k, (push, b)) in pushes.iter().zip(&self.bodies).enumerate() {
            match *push {
                Push::Force(force) => FORCE.check(|| named("force", noun, k), force)?,
                Push::Gap(gap) if gap > pressed.radius(b.surface) => {
                    return Err(Absurd::FarOff {
                        noun: noun.to_owned(),
                        body: k + 1,
                        surface: b.surface,
                        gap,
                        radius: pressed.radius(b.surface),
                    });
                }
                Push::Gap(_) => {}
            }
        }
        Ok(())
    }
}

/// A number to six figures: angles come from degrees and go back with a rounding.
fn brief(x: f64) -> String {
    let six = format!("{x:.5e}").parse().unwrap_or(x);
    number_in_words(six)
}

/// "the force of body 1", of the one of this index.
fn named(of: &str, noun: &str, k: usize) -> String {
    format!("the {of} of {noun} {}", k + 1)
}

/// Refuses more than `most` of something.
pub(crate) fn few(found: usize, what: impl FnOnce() -> String, most: usize) -> Result<(), Absurd> {
    if found <= most {
        return Ok(());
    }
    let what = what();
    Err(Absurd::TooMany { what, found, most })
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::scheme::{Body, Face, PointForce, PressurePatch};

    const SECTION: Section = Section {
        outer_radius: 60.0,
        bore_radius: 54.0,
        length: 20.0,
    };

    fn body(half_angle: f64, face: Face, push: Push) -> Supports {
        Supports {
            bodies: vec![Body::new(Surface::Outer, 0.0, half_angle, face)],
            drive: Drive::Each(vec![push]),
            ..Supports::default()
        }
    }

    fn says(supports: &Supports) -> String {
        match supports.check_magnitudes(&SECTION, "jaw") {
            Ok(()) => String::new(),
            Err(e) => e.to_string(),
        }
    }

    #[test]
    fn what_no_shop_has_is_refused_by_body_and_key() {
        let usual = Face::Convex { radius: 10.0 };
        let crowned = |radius| body(0.1, Face::Convex { radius }, Push::Force(1.0));
        for (supports, wants) in [
            (
                body(0.1, usual, Push::Force(1e308)),
                "the force of jaw 1 is 1e308 N; it must be from 0 to 1e12 N",
            ),
            (
                body(1e-300, usual, Push::Force(1.0)),
                "the half-angle of jaw 1 is",
            ),
            (
                crowned(1e300),
                "the radius of jaw 1 is 1e300 mm; it must be from 0.00006 to 60000000 mm; beyond that it is flat",
            ),
            (
                body(0.1, usual, Push::Gap(1e9)),
                "the gap of jaw 1 is 1e9 mm; a gap of more than the radius of the outside (60.000 mm)",
            ),
        ] {
            assert!(says(&supports).starts_with(wants), "{}", says(&supports));
        }
        let mut turned = crowned(10.0);
        turned.bodies[0].angle = 1e6;
        assert!(says(&turned).contains("the angle of jaw 1"));
        assert_eq!(says(&crowned(10.0)), "");
        assert_eq!(says(&body(0.1, usual, Push::Gap(59.0))), "");
    }

    #[test]
    fn loads_and_numbers_of_bodies_too() {
        let surface = Surface::Outer;
        let point = |force| PointForce {
            surface,
            angle: 0.0,
            force,
        };
        let with = |points| Supports {
            points,
            ..Supports::default()
        };
        let far = says(&with(vec![point(1.0), point(1e13)]));
        assert!(far.starts_with("the force of point 2 is 1e13 N"), "{far}");
        assert_eq!(says(&with(vec![point(1.0); MOST_LOADS])), "");
        let many = says(&with(vec![point(1.0); MOST_LOADS + 1]));
        assert!(many.starts_with("1001 loads; 1000 are the most"), "{many}");
        let patch = PressurePatch {
            surface,
            angle: 0.0,
            half_angle: 1e-6,
            force: 1.0,
        };
        let narrow = says(&Supports {
            pressures: vec![patch],
            ..Supports::default()
        });
        assert!(narrow.starts_with("the half-angle of patch 1"), "{narrow}");
        let jaws = Supports {
            bodies: vec![Body::new(surface, 0.0, 0.01, Face::Flat); 101],
            drive: Drive::SelfCentring { force: 1.0 },
            ..Supports::default()
        };
        assert!(says(&jaws).starts_with("101 jaws; 100 are the most"));
    }
}
