//! A vee block with a clamp: two flat faces that stand still, and a crowned screw that presses the ring into them.

use std::f64::consts::{FRAC_PI_2, PI};

use ringwright_solver::geometry::Surface;
use ringwright_solver::scheme::{
    AfterClamping, Body, Drive, Face, HoldingScheme, Parameter, ParameterKind, Push, SchemeError,
    Section, Supports, Values,
};

/// The scheme.
#[derive(Clone, Copy, Debug)]
pub struct VeeBlock;

const PARAMETERS: &[Parameter] = &[
    Parameter::defaulting(
        "included_angle",
        ParameterKind::Arc { most: 150.0 },
        "90",
        "the angle between the faces of the vee",
    ),
    Parameter::defaulting(
        "clamp_angle",
        ParameterKind::Angle,
        "90",
        "where the clamp presses, opposite the bottom of the vee; counter-clockwise from the part's zero mark",
    ),
    Parameter::required("force", ParameterKind::Force, "the force of the clamp"),
    Parameter::required(
        "face_width",
        ParameterKind::Length,
        "the width of the faces and of the clamp, measured straight across",
    ),
    Parameter::required(
        "crown_radius",
        ParameterKind::Length,
        "the radius of the clamp's crown",
    ),
];

fn number(values: &Values, key: &str) -> Result<f64, SchemeError> {
    values
        .number(key)
        .ok_or_else(|| wrong(key, "missing; give a number".to_owned()))
}

fn wrong(key: &str, message: String) -> SchemeError {
    SchemeError {
        parameter: Some(key.to_owned()),
        message,
    }
}

impl HoldingScheme for VeeBlock {
    fn name(&self) -> &str {
        "vee-block"
    }

    fn summary(&self) -> &str {
        "a vee block: two fixed flat faces and a crowned clamp that presses the outside into them"
    }

    fn body_name(&self) -> &str {
        "face"
    }

    fn parameters(&self) -> &[Parameter] {
        PARAMETERS
    }

    fn example(&self) -> &str {
        include_str!("../vee-block.toml")
    }

    fn supports(&self, section: &Section, values: &Values) -> Result<Supports, SchemeError> {
        let radius = section.outer_radius;
        let width = number(values, "face_width")?;
        if width > radius {
            return Err(wrong(
                "face_width",
                format!(
                    "{width:.3} mm is more than the part's radius, {radius:.3} mm; make the faces narrower"
                ),
            ));
        }
        let crown = number(values, "crown_radius")?;
        if 2.0 * crown < width {
            return Err(wrong(
                "crown_radius",
                format!(
                    "a crown of {crown:.3} mm radius cannot be {width:.3} mm wide; make it larger"
                ),
            ));
        }
        let half_angle = (0.5 * width / radius).asin();
        let clamp = number(values, "clamp_angle")?.to_radians();
        // a face at half the included angle to the clamp's line touches where its normal meets the part's axis
        let aside = FRAC_PI_2 - 0.5 * number(values, "included_angle")?.to_radians();
        let body = |angle, face| Body::new(Surface::Outer, angle, half_angle, face);
        Ok(Supports {
            bodies: vec![
                body(clamp, Face::Convex { radius: crown }),
                body(clamp + PI - aside, Face::Flat),
                body(clamp + PI + aside, Face::Flat),
            ],
            drive: Drive::Each(vec![
                Push::Force(number(values, "force")?),
                Push::Gap(0.0),
                Push::Gap(0.0),
            ]),
            after_clamping: AfterClamping::KeepsForce,
            assumed: vec!["a vee block that does not give".to_owned()],
            ..Supports::default()
        })
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use std::sync::Arc;

    use ringwright_solver::{case, conformance, process};

    fn scheme() -> Arc<dyn HoldingScheme> {
        Arc::new(VeeBlock)
    }

    #[test]
    fn it_conforms() {
        let faults = conformance::check(&scheme(), &ringwright_plugins::registry());
        assert!(faults.is_empty(), "{faults:#?}");
    }

    /// Statics: two faces at half the included angle a to the clamp's line carry `F / (2 sin(a/2))` each.
    #[test]
    fn the_faces_share_the_force_of_the_clamp() {
        let registry = ringwright_plugins::registry().add(scheme());
        for included in [60.0_f64, 90.0, 120.0] {
            let text = VeeBlock
                .example()
                .replace("angle = 90.0", &format!("angle = {included}"));
            let case = case::read(&text, &registry).unwrap();
            let outcome = process::run(&case, &process::Options::default()).unwrap();
            let held = &outcome.steps[0].held;
            let face = 1200.0 / (2.0 * (0.5 * included).to_radians().sin());
            // the ring flexes over a face, so its contact lies some 3e-4 rad off the face's axis and pushes a little sideways
            for (contact, want, slack) in [
                (&held.contacts[0], 1200.0, 1e-9),
                (&held.contacts[1], face, 2e-3),
                (&held.contacts[2], face, 2e-3),
            ] {
                let off = (contact.force - want).abs() / want;
                assert!(
                    off < slack,
                    "{included} deg: {} N, want {want} N",
                    contact.force
                );
            }
        }
    }
}
