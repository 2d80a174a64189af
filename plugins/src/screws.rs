//! Jack screws: crowned ends that stand in the bore or around the outside, set by a gap or by a force.

use std::f64::consts::PI;

use ringwright_solver::geometry::Surface;
use ringwright_solver::scheme::{
    AfterClamping, Body, Drive, Face, HoldingScheme, Need, Parameter, ParameterKind, Push, Recipe,
    SchemeError, Section, Supports, Values,
};

use crate::common::{self, wrong};

/// Jack screws. See the module's file for what the keys mean.
#[derive(Clone, Copy, Debug)]
pub struct Screws;

/// Half of the arc that a crown may touch at most unless the user says how wide it is, rad.
const WIDEST_UNSAID: f64 = 30.0 * PI / 180.0;

const PARAMETERS: &[Parameter] = &[
    common::COUNT,
    common::FIRST_ANGLE,
    common::ANGLES,
    Parameter::defaulting(
        "side",
        ParameterKind::choice(common::SIDES),
        "\"inside\"",
        "inside: the screws push outward in the bore; outside: inward on the outside diameter",
    ),
    Parameter::required(
        "crown_radius",
        ParameterKind::Length,
        "the radius of the crowned end of a screw",
    ),
    Parameter::optional(
        "width",
        ParameterKind::Length,
        "the width of the crown that may touch, straight across; left out (with arc): as wide as crown_radius",
    ),
    Parameter::optional(
        "arc",
        ParameterKind::Arc { most: 180.0 },
        "the arc of the part that a crown may touch, instead of width",
    ),
    Parameter::optional(
        "gap",
        ParameterKind::Offsets,
        "how far a screw stands from first touch with the free part (give gap or force); negative: set out past it",
    ),
    Parameter::uncertain(
        "force",
        ParameterKind::Forces,
        "the force a screw is set to (give gap or force)",
    ),
    common::SHIM_THICKNESS,
    common::SHIM_MODULUS,
    common::MOUNT_STIFFNESS,
    Parameter::defaulting(
        "after_clamping",
        ParameterKind::choice(common::AFTER_CLAMPING),
        "\"keeps-position\"",
        "once set: keeps-position is a screw with its nut tightened, keeps-force a spring plunger",
    ),
];

/// Common practice, no source: what this way of holding is.
const RECIPES: &[Recipe] = &[Recipe {
    name: "screw against a thin spot",
    about: "one screw outside against the thin side of an uneven wall, midway between two jaws that share one travel; set after the jaws it would be a force on a clamped part instead",
    example: include_str!("../examples/recipes/screw-at-thin-spot.toml"),
}];

/// Half of the arc that a crown may touch, rad, the key that says so, and what was taken for granted.
fn size(
    values: &Values,
    crown: f64,
    radius: f64,
) -> Result<(&'static str, f64, Option<String>), SchemeError> {
    if values.has("width") || values.has("arc") {
        let (key, half) = common::half_angle(values, radius)?;
        return Ok((key, half, None));
    }
    let sine = 0.5 * crown / radius;
    let half = sine.min(WIDEST_UNSAID.sin()).asin();
    let said = format!(
        "screws may touch over {:.3} mm of their crown: no width given",
        2.0 * radius * half.sin()
    );
    Ok(("crown_radius", half, Some(said)))
}

fn drive(values: &Values, count: usize, wall: f64) -> Result<Drive, SchemeError> {
    let key = common::one_of(values, &["gap", "force"], "how the screws are set")?;
    let given = common::each(values, key, count, "screw")?.unwrap_or_default();
    if key == "gap" && values.text("after_clamping") == Some("keeps-force") {
        return Err(wrong(
            "after_clamping",
            "a screw that is set to a gap keeps its position; give force instead of gap, or leave after_clamping out",
        ));
    }
    if key == "gap"
        && let Some(gap) = given.iter().find(|g| **g < -wall)
    {
        return Err(wrong(
            "gap",
            format!(
                "{gap:.3} mm sets a screw out past first touch by more than the wall ({wall:.3} mm); bring it nearer to zero"
            ),
        ));
    }
    let push = |x: f64| match key {
        "gap" => Push::Gap(x),
        _ => Push::Force(x),
    };
    Ok(Drive::Each(given.into_iter().map(push).collect()))
}

impl HoldingScheme for Screws {
    fn name(&self) -> &str {
        "screws"
    }

    fn summary(&self) -> &str {
        "jack screws with crowned ends, in the bore or around the outside, set by gap or force"
    }

    fn body_name(&self) -> &str {
        "screw"
    }

    fn parameters(&self) -> &[Parameter] {
        PARAMETERS
    }

    fn needs(&self) -> &[Need] {
        const NEEDS: &[Need] = &[
            common::STATIONS,
            Need {
                what: "how the screws are set",
                keys: &["gap", "force"],
            },
        ];
        NEEDS
    }

    fn example(&self) -> &str {
        include_str!("../examples/screws.toml")
    }

    fn recipes(&self) -> &[Recipe] {
        RECIPES
    }

    fn supports(&self, section: &Section, values: &Values) -> Result<Supports, SchemeError> {
        let angles = common::stations(values, "screw")?;
        let surface = common::side(values, Surface::Bore);
        let radius = section.radius(surface);
        let crown = common::number(values, "crown_radius")?;
        let (size, half_angle, assumed) = size(values, crown, radius)?;
        let face = Face::Convex { radius: crown };
        let end = Body::new(surface, 0.0, half_angle, face);
        common::reaches(&end, radius, "crown_radius", size)?;
        Ok(Supports {
            bodies: common::at_each(&angles, common::backed(values, end)?),
            drive: drive(
                values,
                angles.len(),
                section.outer_radius - section.bore_radius,
            )?,
            after_clamping: common::after_clamping(values, AfterClamping::KeepsPosition),
            force_spread: common::spread(values, &["force"]),
            assumed: assumed.into_iter().collect(),
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
    fn a_screw_stands_in_the_bore_and_is_locked() {
        let mut v = values(&[("count", 3.0), ("crown_radius", 10.0)]);
        v.set("gap", Value::Numbers(vec![0.01, 0.0, -0.02]));
        let s = Screws.supports(&SECTION, &v).unwrap();
        assert!(s.bodies.iter().all(|b| b.surface == Surface::Bore));
        assert_eq!(s.bodies[0].face, Face::Convex { radius: 10.0 });
        // as wide as the crown's radius: a chord of the bore, 2 * 57 mm * sin(half) = 10 mm
        assert!((114.0 * s.bodies[0].half_angle.sin() - 10.0).abs() < 1e-12);
        let gaps = [0.01, 0.0, -0.02].map(Push::Gap);
        assert_eq!(s.drive, Drive::Each(gaps.to_vec()));
        assert_eq!(s.after_clamping, AfterClamping::KeepsPosition);
        v = values(&[("count", 3.0), ("crown_radius", 1e4), ("force", 50.0)]);
        v.set("side", Value::Text("outside".into()));
        v.set("after_clamping", Value::Text("keeps-force".into()));
        let s = Screws.supports(&SECTION, &v).unwrap();
        assert_eq!(s.bodies[0].surface, Surface::Outer);
        assert!((s.bodies[0].half_angle.to_degrees() - 30.0).abs() < 1e-9);
        assert_eq!(s.drive, Drive::equal_force(3, 50.0));
        assert_eq!(s.after_clamping, AfterClamping::KeepsForce);
    }

    #[test]
    fn values_that_contradict_are_refused() {
        let base = values(&[("count", 3.0), ("crown_radius", 10.0), ("gap", 0.0)]);
        let keeps = Value::Text("keeps-force".into());
        refused(
            &Screws,
            &base,
            &[
                ("force", Value::Number(5.0), "force"),
                ("gap", Value::Numbers(vec![0.0, 0.1]), "gap"),
                ("gap", Value::Number(-3.1), "gap"),
                ("width", Value::Number(21.0), "crown_radius"),
                ("width", Value::Number(114.0), "width"),
                ("after_clamping", keeps, "after_clamping"),
            ],
        );
    }
}
