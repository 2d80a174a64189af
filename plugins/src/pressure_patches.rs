//! Patches of even pressure: soft jaws, pads on rubber, fingers that give; a load that follows nothing.

use ringwright_solver::scheme::{
    HoldingScheme, Need, Parameter, ParameterKind, PressurePatch, SchemeError, Section, Supports,
    Values,
};

use crate::common::{self, wrong};

/// Patches of even pressure.
#[derive(Clone, Copy, Debug)]
pub struct PressurePatches;

const PARAMETERS: &[Parameter] = &[
    common::COUNT,
    common::FIRST_ANGLE,
    common::ANGLES,
    Parameter::required(
        "half_angle",
        ParameterKind::Arc { most: 180.0 },
        "half of the arc that a patch covers",
    ),
    Parameter::required_uncertain(
        "force",
        ParameterKind::Forces,
        "the resultant of one patch: one for all, or a list with one for each",
    ),
    common::SURFACE,
];

impl HoldingScheme for PressurePatches {
    fn name(&self) -> &str {
        "pressure-patches"
    }

    fn summary(&self) -> &str {
        "patches of even pressure that stay as they are whatever the part does"
    }

    fn body_name(&self) -> &str {
        "patch"
    }

    fn parameters(&self) -> &[Parameter] {
        PARAMETERS
    }

    fn needs(&self) -> &[Need] {
        &[common::STATIONS]
    }

    fn example(&self) -> &str {
        include_str!("../examples/pressure-patches.toml")
    }

    fn supports(&self, _section: &Section, values: &Values) -> Result<Supports, SchemeError> {
        let angles = common::stations(values, "patch")?;
        let forces = common::forces(values, angles.len(), "patch")?;
        let half_angle = common::number(values, "half_angle")?.to_radians();
        if half_angle.sin() < 1e-6 {
            return Err(wrong(
                "half_angle",
                "the pressure of such a patch has no resultant along its axis; give an arc well between 0 and 180 deg",
            ));
        }
        let surface = common::surface(values);
        Ok(Supports {
            pressures: angles
                .into_iter()
                .zip(forces)
                .map(|(angle, force)| PressurePatch {
                    surface,
                    angle,
                    half_angle,
                    force,
                })
                .collect(),
            force_spread: common::spread(values, &["force"]),
            ..Supports::default()
        })
    }
}
