//! Point forces: dead radial forces on lines along the part. The limit of a narrow pad, and a researcher's unit load.

use ringwright_solver::scheme::{
    HoldingScheme, Need, Parameter, ParameterKind, PointForce, SchemeError, Section, Supports,
    Values,
};

use crate::common::{self};

/// Dead radial point forces.
#[derive(Clone, Copy, Debug)]
pub struct Points;

const PARAMETERS: &[Parameter] = &[
    common::COUNT,
    common::FIRST_ANGLE,
    common::ANGLES,
    Parameter::required_uncertain(
        "force",
        ParameterKind::Forces,
        "the force at a point: one for all, or a list with one for each",
    ),
    common::SURFACE,
];

impl HoldingScheme for Points {
    fn name(&self) -> &str {
        "points"
    }

    fn summary(&self) -> &str {
        "radial forces at points of the section that stay as they are whatever the part does"
    }

    fn body_name(&self) -> &str {
        "point"
    }

    fn parameters(&self) -> &[Parameter] {
        PARAMETERS
    }

    fn needs(&self) -> &[Need] {
        &[common::STATIONS]
    }

    fn example(&self) -> &str {
        include_str!("../examples/points.toml")
    }

    fn supports(&self, _section: &Section, values: &Values) -> Result<Supports, SchemeError> {
        let angles = common::stations(values, "point")?;
        let forces = common::forces(values, angles.len(), "point")?;
        let surface = common::surface(values);
        Ok(Supports {
            points: angles
                .into_iter()
                .zip(forces)
                .map(|(angle, force)| PointForce {
                    surface,
                    angle,
                    force,
                })
                .collect(),
            force_spread: common::spread(values, &["force"]),
            ..Supports::default()
        })
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::testing::{SECTION, refused, values};
    use ringwright_solver::geometry::Surface;
    use ringwright_solver::scheme::Value;

    #[test]
    fn points_stand_where_the_list_says() {
        let mut v = values(&[("first_angle", 10.0)]);
        v.set("angles", Value::Numbers(vec![0.0, 90.0, 200.0]));
        v.set("force", Value::Numbers(vec![5.0, 6.0, 7.0]));
        v.set("surface", Value::Text("bore".into()));
        let s = Points.supports(&SECTION, &v).unwrap();
        assert_eq!(s.points.len(), 3);
        assert_eq!(
            s.points[1],
            PointForce {
                surface: Surface::Bore,
                angle: 100.0_f64.to_radians(),
                force: 6.0
            }
        );
        refused(
            &Points,
            &v,
            &[
                ("count", Value::Number(4.0), "count"),
                ("force", Value::Numbers(vec![1.0]), "force"),
                ("angles", Value::Numbers(vec![0.0, 90.0, 90.0]), "angles"),
                ("angles", Value::Numbers(vec![0.0, 90.0, 360.0]), "angles"),
            ],
        );
    }
}
