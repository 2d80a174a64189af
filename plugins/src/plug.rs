//! A plug: a rigid round body that fills the bore, with clearance or interference by its diameter alone.

use ringwright_solver::geometry::Surface;
use ringwright_solver::scheme::{
    AfterClamping, Body, Drive, HoldingScheme, Parameter, ParameterKind, SchemeError, Section,
    Supports, Values,
};

use crate::common::{self, wrong};

/// A round plug in the bore.
#[derive(Clone, Copy, Debug)]
pub struct Plug;

/// Interference over the bore beyond which small displacements mean nothing.
const MOST_INTERFERENCE: f64 = 0.1;

const PARAMETERS: &[Parameter] = &[
    Parameter::required(
        "diameter",
        ParameterKind::Length,
        "the diameter of the plug, over its lining if it has one; larger than the bore: interference, smaller: clearance",
    ),
    common::SHIM_THICKNESS,
    common::SHIM_MODULUS,
];

impl HoldingScheme for Plug {
    fn name(&self) -> &str {
        "plug"
    }

    fn summary(&self) -> &str {
        "a round plug that fills the bore, with clearance or interference"
    }

    fn body_name(&self) -> &str {
        "plug"
    }

    fn parameters(&self) -> &[Parameter] {
        PARAMETERS
    }

    fn example(&self) -> &str {
        include_str!("../examples/plug.toml")
    }

    fn supports(&self, section: &Section, values: &Values) -> Result<Supports, SchemeError> {
        let diameter = common::number(values, "diameter")?;
        let bore = 2.0 * section.bore_radius;
        let wall = section.outer_radius - section.bore_radius;
        if diameter < bore - 2.0 * wall {
            return Err(wrong(
                "diameter",
                format!(
                    "a plug of {diameter:.3} mm stands clear of the bore ({bore:.3} mm) by more than the wall and supports nothing; make it larger"
                ),
            ));
        }
        if diameter > (1.0 + MOST_INTERFERENCE) * bore {
            return Err(wrong(
                "diameter",
                format!(
                    "a plug of {diameter:.3} mm would stretch the bore ({bore:.3} mm) by {:.0} percent; make it smaller",
                    100.0 * (diameter / bore - 1.0)
                ),
            ));
        }
        let plug = Body::circle(Surface::Bore, 0.5 * diameter);
        Ok(Supports {
            bodies: vec![common::backed(values, plug)?],
            drive: Drive::fixed(1, 0.0),
            after_clamping: AfterClamping::KeepsPosition,
            ..Supports::default()
        })
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::testing::{SECTION, refused, values};
    use ringwright_solver::scheme::{Face, Value};

    #[test]
    fn a_plug_is_a_whole_circle_that_does_not_move() {
        let v = values(&[("diameter", 114.1)]);
        let s = Plug.supports(&SECTION, &v).unwrap();
        assert!(s.bodies[0].is_full_circle());
        assert_eq!(s.bodies[0].face, Face::Convex { radius: 57.05 });
        assert_eq!(s.drive, Drive::fixed(1, 0.0));
        refused(
            &Plug,
            &v,
            &[
                ("diameter", Value::Number(107.0), "diameter"),
                ("diameter", Value::Number(126.0), "diameter"),
                ("shim_modulus", Value::Number(5.0), "shim_thickness"),
            ],
        );
    }
}
