//! Clamping between plates that press on the ends. In a slice the wall grows evenly by Poisson's ratio: size, not shape;
//! how far sticking ends hold it back depends on the length.

use ringwright_solver::scheme::{
    EndClamp as Plates, EndCondition, HoldingScheme, Parameter, ParameterKind, Recipe, SchemeError,
    Section, Supports, Values,
};

use crate::common::{self, wrong};

/// Plates on both ends.
#[derive(Clone, Copy, Debug)]
pub struct EndClamp;

const PARAMETERS: &[Parameter] = &[
    Parameter::required_uncertain(
        "axial_force",
        ParameterKind::Force,
        "the force that presses the two plates together",
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
        Ok(Supports {
            end_clamp: Some(Plates {
                force: common::number(values, "axial_force")?,
                friction,
                ends,
            }),
            assumed: hopeful.then(|| SLIDING.to_owned()).into_iter().collect(),
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
}
