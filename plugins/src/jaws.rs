//! Chuck jaws: pads bored, flat, crowned or relieved, gripping the outside or the bore, driven in every way of the trade.

use std::f64::consts::PI;

use ringwright_solver::geometry::Surface;
use ringwright_solver::scheme::{
    AfterClamping, Body, Drive, Face, HoldingScheme, Need, Pairs, Parameter, ParameterKind, Push,
    Recipe, SchemeError, Section, Supports, Values,
};

use ringwright_solver::grip::Band;

use crate::common::{self, wrong};
use crate::source::{self, Source};

/// Chuck jaws. See the module's file for what the keys mean.
#[derive(Clone, Copy, Debug)]
pub struct Jaws;

const PARAMETERS: &[Parameter] = &[
    common::COUNT,
    common::FIRST_ANGLE,
    common::ANGLES,
    Parameter::defaulting(
        "side",
        ParameterKind::choice(common::SIDES),
        "\"outside\"",
        "outside: the jaws grip inward on the outside diameter; inside: outward in the bore",
    ),
    Parameter::defaulting(
        "drive",
        ParameterKind::choice(&[
            "self-centring",
            "equal-force",
            "equalised-pairs",
            "independent",
        ]),
        "\"self-centring\"",
        "self-centring: the jaws share one travel, force is their mean; equal-force: each jaw has its force and finds its own travel; equalised-pairs: jaws share their force two by two; independent: each jaw has its own force or travel",
    ),
    Parameter::optional(
        "pairs",
        ParameterKind::choice(&["neighbouring", "opposite"]),
        "with equalised-pairs: neighbouring (if left out): jaws 1 and 2, 3 and 4, ... hang on rockers; opposite: two jaws that face each other share one travel",
    ),
    Parameter::uncertain(
        "force",
        ParameterKind::Forces,
        "the force of one jaw, or what it is worked out from instead (total_force, travel, key_torque, drawbar_force, air_pressure or squeeze); a list, one for each jaw, if they are independent",
    ),
    Parameter::uncertain(
        "total_force",
        ParameterKind::Force,
        "the force of all jaws together",
    ),
    Parameter::optional(
        "travel",
        ParameterKind::Offsets,
        "how far independent jaws go on after each has touched the free part (instead of force)",
    ),
    source::KEY_TORQUE,
    source::CALIBRATION_TORQUE,
    source::CALIBRATION_FORCE,
    source::SCROLL_LEAD,
    source::KEY_GEAR_RATIO,
    source::EFFICIENCY,
    source::DRAWBAR_FORCE,
    source::DRAWBAR_RATIO,
    source::AIR_PRESSURE,
    source::CYLINDER_DIAMETER,
    source::CYLINDER_ROD_DIAMETER,
    source::SQUEEZE,
    Parameter::optional(
        "bored_diameter",
        ParameterKind::Length,
        "the diameter that pads gripping outside are bored to; leave out for a flat pad",
    ),
    Parameter::optional(
        "turned_diameter",
        ParameterKind::Length,
        "the diameter that pads gripping in a bore are turned to; leave out for a flat pad",
    ),
    Parameter::optional(
        "crown_radius",
        ParameterKind::Length,
        "the radius of a crowned pad, instead of bored_diameter or turned_diameter",
    ),
    Parameter::optional(
        "width",
        ParameterKind::Length,
        "the width of a pad, measured straight across (give width or arc)",
    ),
    Parameter::optional(
        "arc",
        ParameterKind::Arc { most: 180.0 },
        "the arc that a pad covers (give width or arc)",
    ),
    Parameter::optional(
        "relief_width",
        ParameterKind::Length,
        "the width of the middle of a pad that is cut back and never touches",
    ),
    common::SHIM_THICKNESS,
    common::SHIM_MODULUS,
    common::MOUNT_STIFFNESS,
    Parameter::defaulting(
        "after_clamping",
        ParameterKind::choice(common::AFTER_CLAMPING),
        "\"keeps-force\"",
        "while metal goes: keeps-force is a power chuck, keeps-position a hand-operated scroll",
    ),
];

/// Common practice, no source: what these ways of holding are, and which of their parts matter in a section.
const RECIPES: &[Recipe] = &[
    Recipe {
        name: "six-jaw chuck",
        about: "six jaws hung in pairs on rockers, so that all press alike on an uneven blank; a six-jaw chuck without rockers is count = 6, self-centring",
        example: include_str!("../examples/recipes/six-jaw-chuck.toml"),
    },
    Recipe {
        name: "pie jaws",
        about: "three soft jaws that wrap nearly all of the part; friction over such wide pads changes how they press and is left out",
        example: include_str!("../examples/recipes/pie-jaws.toml"),
    },
    Recipe {
        name: "collet",
        about: "the segments between the slots are jaws on one cone: one travel for all, ground to the part; bending of the springs at the back is left out",
        example: include_str!("../examples/recipes/collet.toml"),
    },
    Recipe {
        name: "diaphragm chuck",
        about: "jaws on a plate that is sprung open and let go: each is set past the part by the spring's travel and gives with mount_stiffness",
        example: include_str!("../examples/recipes/diaphragm-chuck.toml"),
    },
];

/// Outline of the pads, the key that gave it, and what was taken for granted.
fn face(
    values: &Values,
    surface: Surface,
) -> Result<(Face, &'static str, Option<String>), SchemeError> {
    let (key, other, grip, make) = match surface {
        Surface::Outer => ("bored_diameter", "turned_diameter", "outside", "bored"),
        Surface::Bore => ("turned_diameter", "bored_diameter", "inside", "turned"),
    };
    if values.has(other) {
        return Err(wrong(
            other,
            format!("pads that grip {grip} are {make} to a diameter; give {key} instead"),
        ));
    }
    match (values.number(key), values.number("crown_radius")) {
        (Some(_), Some(_)) => Err(wrong(
            "crown_radius",
            format!("a pad is {make} or crowned, not both; give {key} or crown_radius"),
        )),
        (Some(diameter), None) => {
            let radius = 0.5 * diameter;
            let face = match surface {
                Surface::Outer => Face::Concave { radius },
                Surface::Bore => Face::Convex { radius },
            };
            Ok((face, key, None))
        }
        (None, Some(radius)) => Ok((Face::Convex { radius }, "crown_radius", None)),
        (None, None) => Ok((Face::Flat, key, Some(format!("flat pad: no {key} given")))),
    }
}

/// Half of the relieved middle of a pad, rad.
fn relief(values: &Values, radius: f64, half_angle: f64) -> Result<f64, SchemeError> {
    let half = common::half_of_chord(values, "relief_width", radius)?.unwrap_or(0.0);
    if half >= half_angle {
        return Err(wrong(
            "relief_width",
            format!(
                "leaves nothing of a pad that is {:.3} mm wide; make the relief narrower",
                2.0 * radius * half_angle.sin()
            ),
        ));
    }
    Ok(half)
}

/// The drive by its name, and where its force comes from; `angles` are where the jaws stand, rad.
fn drive(values: &Values, angles: &[f64]) -> Result<(Drive, Source), SchemeError> {
    let (count, name) = (angles.len(), values.text("drive"));
    if values.has("pairs") && name != Some("equalised-pairs") {
        return Err(wrong(
            "pairs",
            "needs drive = \"equalised-pairs\"; leave pairs out or set the drive",
        ));
    }
    let one_by_one = if values.has("travel") {
        Some("travel")
    } else {
        values.numbers("force").map(|_| "force")
    };
    if let Some(key) = one_by_one {
        let drive = one_by_one_by(values, key, count)?;
        return Ok((drive, Band::exact(0.0).into()));
    }
    let source = source::of_jaws(values, count, "jaw")?;
    let force = source.each.nominal;
    let drive = match name {
        Some("equal-force" | "independent") => Drive::equal_force(count, force),
        Some("equalised-pairs") => Drive::EqualisedPairs {
            force,
            pairs: pairs(values, angles)?,
        },
        _ => Drive::SelfCentring { force },
    };
    Ok((drive, source))
}

/// The drive of jaws whose force or travel, whichever `key` is, is given jaw by jaw.
fn one_by_one_by(values: &Values, key: &str, count: usize) -> Result<Drive, SchemeError> {
    if values.text("drive") != Some("independent") {
        return Err(wrong(
            key,
            "is given jaw by jaw, which needs drive = \"independent\"; otherwise give one force",
        ));
    }
    common::one_of(values, source::GRIP.keys, source::GRIP.what)?;
    common::idle(values, source::BESIDE, key)?;
    let given = common::each(values, key, count, "jaw")?.unwrap_or_default();
    let push = |x: f64| match key {
        "travel" => Push::Gap(-x),
        _ => Push::Force(x),
    };
    Ok(Drive::Each(given.into_iter().map(push).collect()))
}

fn pairs(values: &Values, angles: &[f64]) -> Result<Pairs, SchemeError> {
    if angles.len() < 4 || angles.len() % 2 == 1 {
        return Err(wrong(
            "drive",
            format!(
                "equalised-pairs needs an even number of jaws, four or more, and there are {}; change count or use \"self-centring\"",
                angles.len()
            ),
        ));
    }
    if values.text("pairs") != Some("opposite") {
        return Ok(Pairs::Neighbouring);
    }
    let half = angles.len() / 2;
    let askew = (0..half).find(|&k| (angles[k + half] - angles[k] - PI).abs() > 1e-6);
    match askew {
        None => Ok(Pairs::Opposite),
        Some(k) => Err(wrong(
            "pairs",
            format!(
                "jaws {} and {} do not face each other; space the jaws evenly or use \"neighbouring\"",
                k + 1,
                k + half + 1
            ),
        )),
    }
}

impl HoldingScheme for Jaws {
    fn name(&self) -> &str {
        "jaws"
    }

    fn summary(&self) -> &str {
        "chuck jaws, outside or in the bore: bored, flat, crowned or relieved pads"
    }

    fn body_name(&self) -> &str {
        "jaw"
    }

    fn parameters(&self) -> &[Parameter] {
        PARAMETERS
    }

    fn needs(&self) -> &[Need] {
        const NEEDS: &[Need] = &[common::STATIONS, source::GRIP, common::SIZE];
        NEEDS
    }

    fn example(&self) -> &str {
        include_str!("../examples/jaws.toml")
    }

    fn recipes(&self) -> &[Recipe] {
        RECIPES
    }

    fn supports(&self, section: &Section, values: &Values) -> Result<Supports, SchemeError> {
        let angles = common::stations(values, "jaw")?;
        let surface = common::side(values, Surface::Outer);
        let radius = section.radius(surface);
        let (drive, source) = drive(values, &angles)?;
        let (size, half_angle) = common::half_angle(values, radius)?;
        let (face, shape, assumed) = face(values, surface)?;
        let unsaid_pairs = matches!(drive, Drive::EqualisedPairs { .. }) && !values.has("pairs");
        let pairs = unsaid_pairs.then(|| "jaws: pairs neighbouring (default)".to_owned());
        let pad = Body {
            relief: relief(values, radius, half_angle)?,
            ..Body::new(surface, 0.0, half_angle, face)
        };
        common::reaches(&pad, radius, shape, size)?;
        Ok(source.told(Supports {
            bodies: common::at_each(&angles, common::backed(values, pad)?),
            drive,
            after_clamping: common::after_clamping(values, AfterClamping::KeepsForce),
            assumed: assumed.into_iter().chain(pairs).collect(),
            ..Supports::default()
        }))
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::testing::{SECTION, refused, values};
    use ringwright_solver::scheme::{Value, WinklerLayer};
    use std::f64::consts::TAU;

    fn base() -> Values {
        values(&[("count", 3.0), ("total_force", 600.0), ("width", 20.0)])
    }

    fn word(w: &str) -> Value {
        Value::Text(w.to_owned())
    }

    #[test]
    fn a_pad_covers_its_chord() {
        let s = Jaws.supports(&SECTION, &base()).unwrap();
        assert_eq!(s.bodies.len(), 3);
        // chord of a circle: 2 R sin(half angle) = width
        assert!((120.0 * s.bodies[0].half_angle.sin() - 20.0).abs() < 1e-12);
        assert!((s.bodies[1].angle - TAU / 3.0).abs() < 1e-15);
        assert_eq!(s.drive, Drive::SelfCentring { force: 200.0 });
        assert_eq!(s.assumed, ["flat pad: no bored_diameter given"]);
    }

    #[test]
    fn jaws_in_the_bore_are_turned_relieved_and_lined() {
        let mut v = base();
        for (key, x) in [
            ("turned_diameter", 113.0),
            ("relief_width", 8.0),
            ("shim_thickness", 0.5),
            ("shim_modulus", 50.0),
            ("mount_stiffness", 1e5),
        ] {
            v.set(key, Value::Number(x));
        }
        v.set("side", word("inside"));
        let s = Jaws.supports(&SECTION, &v).unwrap();
        let b = s.bodies[2];
        assert_eq!(
            (b.surface, b.face),
            (Surface::Bore, Face::Convex { radius: 56.5 })
        );
        assert!((114.0 * b.half_angle.sin() - 20.0).abs() < 1e-12);
        assert!((114.0 * b.relief.sin() - 8.0).abs() < 1e-12);
        let layer = WinklerLayer {
            modulus: 50.0,
            thickness: 0.5,
        };
        assert_eq!((b.layer, b.stiffness), (Some(layer), Some(1e5)));
    }

    #[test]
    fn drives_are_told_apart() {
        let mut v = values(&[("count", 6.0), ("force", 100.0), ("width", 20.0)]);
        v.set("drive", word("equalised-pairs"));
        let pairs = |v: &Values| match Jaws.supports(&SECTION, v).unwrap().drive {
            Drive::EqualisedPairs { force, pairs } => (force, pairs),
            other => panic!("{other:?}"),
        };
        assert_eq!(pairs(&v), (100.0, Pairs::Neighbouring));
        v.set("pairs", word("opposite"));
        assert_eq!(pairs(&v), (100.0, Pairs::Opposite));
        let mut v = values(&[("count", 2.0), ("width", 20.0)]);
        v.set("drive", word("independent"));
        v.set("force", Value::Numbers(vec![10.0, 20.0]));
        let s = Jaws.supports(&SECTION, &v).unwrap();
        let forces = [10.0, 20.0].map(Push::Force);
        assert_eq!(s.drive, Drive::Each(forces.to_vec()));
        let mut v = values(&[("count", 2.0), ("width", 20.0), ("travel", 0.04)]);
        v.set("drive", word("independent"));
        let s = Jaws.supports(&SECTION, &v).unwrap();
        assert_eq!(s.drive, Drive::fixed(2, -0.04));
    }

    #[test]
    fn values_that_contradict_are_refused() {
        let number = Value::Number;
        refused(
            &Jaws,
            &base(),
            &[
                ("force", number(100.0), "total_force"),
                ("arc", number(30.0), "arc"),
                ("width", number(120.0), "width"),
                ("bored_diameter", number(15.0), "bored_diameter"),
                ("turned_diameter", number(110.0), "turned_diameter"),
                ("crown_radius", number(5.0), "crown_radius"),
                ("relief_width", number(20.0), "relief_width"),
                ("shim_thickness", number(1.0), "shim_modulus"),
                ("travel", number(0.1), "travel"),
                ("pairs", word("opposite"), "pairs"),
                ("drive", word("equalised-pairs"), "drive"),
                ("angles", Value::Numbers(vec![0.0, 90.0]), "count"),
            ],
        );
        let mut uneven = values(&[("total_force", 600.0), ("width", 20.0)]);
        uneven.set("angles", Value::Numbers(vec![0.0, 80.0, 180.0, 270.0]));
        uneven.set("drive", word("equalised-pairs"));
        refused(&Jaws, &uneven, &[("pairs", word("opposite"), "pairs")]);
    }
}
