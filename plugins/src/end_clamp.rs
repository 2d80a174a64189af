//! Clamping between plates that press on the ends. In a slice the wall grows evenly by Poisson's ratio: size, not shape;
//! how far sticking ends hold it back depends on the length.

use ringwright_solver::grip::Band;
use ringwright_solver::scheme::{
    EndClamp as Plates, EndCondition, HoldingScheme, Need, Parameter, ParameterKind, Recipe,
    SchemeError, Section, SetBy, SetByKind, Supports, Values,
};

use crate::common::{self, wrong};
use crate::source;

/// Plates on both ends.
#[derive(Clone, Copy, Debug)]
pub struct EndClamp;

const PARAMETERS: &[Parameter] = &[
    Parameter::uncertain(
        "axial_force",
        ParameterKind::Force,
        "the force that presses the two plates together (give axial_force or stud_torque)",
    ),
    Parameter::uncertain(
        "stud_torque",
        ParameterKind::Torque,
        "the torque on the nut of each stud that draws the plates together, instead of axial_force (give studs and stud_diameter)",
    ),
    Parameter::optional("studs", ParameterKind::Count, "the number of studs"),
    Parameter::optional(
        "stud_diameter",
        ParameterKind::Length,
        "the nominal diameter of their thread",
    ),
    Parameter::uncertain(
        "nut_factor",
        ParameterKind::Ratio,
        "the torque on a nut over the force of its stud and the thread's diameter; left out: 0.15 to 0.25 (from memory)",
    ),
    Parameter::uncertain(
        "friction",
        ParameterKind::Ratio,
        "the friction coefficient between an end and its plate",
    ),
    Parameter::defaulting(
        "end_condition",
        ParameterKind::choice(&["sliding", "stuck", "friction"]),
        "\"sliding\"",
        "what the ends do on the plates: sliding (if left out, and the hopeful case: the wall grows evenly and only its size changes); stuck: the ends are held and the wall barrels between them; friction: they slide where friction cannot hold them",
    ),
];

/// Keys that mean something beside another alone.
const BESIDE: &[(&str, &[&str])] = &[
    ("studs", &["stud_torque"]),
    ("stud_diameter", &["stud_torque"]),
    ("nut_factor", &["stud_torque"]),
];

/// Torque over force and diameter of a nut, lubricated to dry: the table of torque factors of *Shigley's Mechanical Engineering Design*, from
/// memory.
const NUT_FACTOR: Band = Band::between(0.15, 0.25);

/// The force of the plates, N, what it was worked out from and what was taken for granted.
///
/// A nut that is turned by a torque `T` draws its stud by `T / (K d)`, with its nut factor `K` and the nominal diameter `d` (*Shigley's
/// Mechanical Engineering Design*, from memory); the studs share the force of the plates.
fn axial_force(values: &Values) -> Result<(Band, Option<SetBy>, Vec<String>), SchemeError> {
    let key = common::one_of(values, FORCE.keys, FORCE.what)?;
    common::idle(values, BESIDE, key)?;
    let given = values
        .band(key)
        .ok_or_else(|| wrong(key, "is no number; give one, or a band"))?;
    if key == "axial_force" {
        return Ok((given, None, Vec::new()));
    }
    let studs = common::positive(values, "studs", key)?;
    let diameter = common::positive(values, "stud_diameter", key)?;
    let (factor, assumed) = match values.has("nut_factor") {
        true => (common::positive(values, "nut_factor", key)?, None),
        false => (NUT_FACTOR, Some(UNKNOWN_NUT.to_owned())),
    };
    let force = studs.times(&given).over(&factor.times(&diameter));
    let set_by = SetBy {
        key: key.to_owned(),
        called: "on each stud".to_owned(),
        kind: SetByKind::Torque,
        value: given.nominal,
    };
    let worked_out = source::worked_out(&set_by, &force, "on the plates");
    let assumed = assumed.into_iter().chain([worked_out]).collect();
    Ok((force, Some(set_by), assumed))
}

const UNKNOWN_NUT: &str = "nut factor 0.15 to 0.25 (from memory: lubricated to dry)";

/// Keys of which a case gives one.
const FORCE: Need = Need {
    what: "the force of the plates",
    keys: &["axial_force", "stud_torque"],
};

/// What sliding ends leave out, in the user's words.
const SLIDING: &str = "end plates: the ends slide freely on them, which is the hopeful case; real ends stick, and the wall then barrels along its \
                       length, which [tube] computes with end_condition = \"stuck\" or \"friction\"";

/// Common practice, no source: what this way of holding is.
const RECIPES: &[Recipe] = &[Recipe {
    name: "stack between plates",
    about: "one ring or a stack of them is clamped endwise between two plates drawn together by studs or a nut through the bore; studs and plates that bend, and ends that are not flat, are left out",
    example: include_str!("../examples/recipes/stack-between-plates.toml"),
}];

impl HoldingScheme for EndClamp {
    fn name(&self) -> &str {
        "end-clamp"
    }

    fn summary(&self) -> &str {
        "plates that press on both ends: the wall grows evenly, nothing pushes sideways"
    }

    fn body_name(&self) -> &str {
        "plate"
    }

    fn parameters(&self) -> &[Parameter] {
        PARAMETERS
    }

    fn grips_along(&self) -> bool {
        false
    }

    fn needs(&self) -> &[Need] {
        &[FORCE]
    }

    fn example(&self) -> &str {
        include_str!("../examples/end-clamp.toml")
    }

    fn recipes(&self) -> &[Recipe] {
        RECIPES
    }

    fn supports(&self, _section: &Section, values: &Values) -> Result<Supports, SchemeError> {
        let friction = values.band("friction");
        let ends = match values.text("end_condition") {
            Some("stuck") => EndCondition::Stuck,
            Some("friction") => EndCondition::Friction,
            _ => EndCondition::Sliding,
        };
        if ends == EndCondition::Friction && friction.is_none() {
            return Err(wrong(
                "friction",
                "missing; end_condition = \"friction\" needs the friction coefficient between end and plate",
            ));
        }
        // sliding is what a case gets if it says nothing, and it is the best that can happen
        let hopeful = ends == EndCondition::Sliding;
        let (force, set_by, assumed) = axial_force(values)?;
        let sliding = hopeful.then(|| SLIDING.to_owned());
        Ok(Supports {
            end_clamp: Some(Plates {
                force: force.nominal,
                friction,
                ends,
            }),
            force_spread: force.spread(),
            set_by,
            assumed: sliding.into_iter().chain(assumed).collect(),
            ..Supports::default()
        })
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::testing::{SECTION, refused, values};
    use ringwright_solver::scheme::Value;

    #[test]
    fn plates_press_and_nothing_else_does() {
        let mut v = values(&[("axial_force", 2e4), ("friction", 0.15)]);
        v.set("end_condition", Value::Text("friction".into()));
        let s = EndClamp.supports(&SECTION, &v).unwrap();
        let want = Supports {
            end_clamp: Some(Plates {
                force: 2e4,
                friction: Some(0.15.into()),
                ends: EndCondition::Friction,
            }),
            ..Supports::default()
        };
        assert_eq!(s, want);
        let v = values(&[("axial_force", 2e4)]);
        let s = EndClamp.supports(&SECTION, &v).unwrap();
        assert!(s.assumed[0].contains("hopeful"), "{:?}", s.assumed);
        assert_eq!(s.end_clamp.unwrap().ends, EndCondition::Sliding);
        let rubs = Value::Text("friction".into());
        refused(&EndClamp, &v, &[("end_condition", rubs, "friction")]);
    }

    /// Four studs of 10 mm under 30 N m each, nut factor 0.2: `4 * 30000 / (0.2 * 10)` = 60 kN, 48 to 80 kN with the factor left out.
    #[test]
    fn studs_draw_the_plates_together() {
        let mut v = values(&[
            ("stud_torque", 3e4),
            ("studs", 4.0),
            ("stud_diameter", 10.0),
        ]);
        let s = EndClamp.supports(&SECTION, &v).unwrap();
        let force = s.end_clamp.unwrap().force;
        let ends = s.force_spread.map(|share| share * force);
        let near = |a: f64, b: f64| (a / b - 1.0).abs() < 1e-12;
        assert!(
            near(force, 6e4) && near(ends[0], 4.8e4) && near(ends[1], 8e4),
            "{force} {ends:?}"
        );
        let told =
            "force worked out from stud_torque 30 N m: 60000 N on the plates (48000 to 80000)";
        assert_eq!(s.assumed.last().unwrap(), told);
        assert!(s.assumed.iter().any(|a| a.contains("from memory")));
        let by = s.set_by.unwrap();
        let said = (by.called.as_str(), by.kind, by.value);
        assert_eq!(said, ("on each stud", SetByKind::Torque, 3e4));
        refused(
            &EndClamp,
            &v,
            &[
                ("axial_force", Value::Number(1.0), "stud_torque"),
                ("nut_factor", Value::Number(0.0), "nut_factor"),
            ],
        );
        v.set("nut_factor", Value::Number(0.2));
        let s = EndClamp.supports(&SECTION, &v).unwrap();
        assert_eq!(s.force_spread, [1.0; 2]);
        for (left, at) in [
            (&[("stud_torque", 3e4), ("studs", 4.0)][..], "stud_diameter"),
            (&[("stud_torque", 3e4), ("stud_diameter", 10.0)], "studs"),
            (&[("axial_force", 3e4), ("studs", 4.0)], "studs"),
        ] {
            let e = EndClamp.supports(&SECTION, &values(left)).unwrap_err();
            assert_eq!(e.parameter.as_deref(), Some(at), "{e}");
        }
        let mut v = values(&[]);
        v.set("axial_force", Band::between(1e4, 3e4).into());
        let s = EndClamp.supports(&SECTION, &v).unwrap();
        assert_eq!(s.force_spread, [0.5, 1.5]);
    }
}
