//! Patches of even pressure: soft jaws, pads on rubber, fingers that give; a load that follows nothing.

use std::f64::consts::TAU;

use ringwright_solver::geometry::Surface;
use ringwright_solver::scheme::{
    HoldingScheme, Parameter, ParameterKind, PressurePatch, SchemeError, Section, Supports, Values,
};

/// Evenly spaced patches of even pressure.
#[derive(Clone, Copy, Debug)]
pub struct PressurePatches;

const PARAMETERS: &[Parameter] = &[
    Parameter {
        key: "count",
        kind: ParameterKind::Count,
        default: None,
        required: true,
        about: "the number of patches, spaced evenly",
    },
    Parameter {
        key: "half_angle",
        kind: ParameterKind::Arc { most: 180.0 },
        default: None,
        required: true,
        about: "half of the arc that a patch covers",
    },
    Parameter {
        key: "force",
        kind: ParameterKind::Force,
        default: None,
        required: true,
        about: "the resultant of one patch",
    },
    Parameter {
        key: "first_angle",
        kind: ParameterKind::Angle,
        default: Some("0"),
        required: false,
        about: "the middle of patch 1, counter-clockwise from the part's zero mark seen from the tailstock",
    },
    Parameter {
        key: "surface",
        kind: ParameterKind::Choice(&["outer", "bore"]),
        default: Some("\"outer\""),
        required: false,
        about: "the surface pressed on, always towards the metal",
    },
];

impl HoldingScheme for PressurePatches {
    fn name(&self) -> &str {
        "pressure-patches"
    }

    fn summary(&self) -> &str {
        "patches of even pressure that stay as they are whatever the part does"
    }

    fn parameters(&self) -> &[Parameter] {
        PARAMETERS
    }

    fn example(&self) -> &str {
        include_str!("../examples/pressure-patches.toml")
    }

    fn supports(&self, _section: &Section, values: &Values) -> Result<Supports, SchemeError> {
        let number = |key: &str| {
            values.number(key).ok_or_else(|| SchemeError {
                parameter: Some(key.to_owned()),
                message: "missing".to_owned(),
            })
        };
        let (count, force) = (number("count")?, number("force")?);
        let half_angle = number("half_angle")?.to_radians();
        if half_angle.sin() < 1e-6 {
            return Err(SchemeError {
                parameter: Some("half_angle".to_owned()),
                message: "the pressure of such a patch has no resultant along its axis; give an arc well between 0 and 180 deg"
                    .to_owned(),
            });
        }
        let first = values.number("first_angle").unwrap_or(0.0).to_radians();
        let surface = match values.text("surface") {
            Some("bore") => Surface::Bore,
            _ => Surface::Outer,
        };
        Ok(Supports {
            pressures: (0..count as usize)
                .map(|k| PressurePatch {
                    surface,
                    angle: first + TAU * k as f64 / count,
                    half_angle,
                    force,
                })
                .collect(),
            ..Supports::default()
        })
    }
}
