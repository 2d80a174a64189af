//! Holds of tests inside `process`, which cannot use the schemes of the plugins.

use std::f64::consts::TAU;
use std::sync::Arc;

use crate::case::{Case, Grip, Hold, HoldMember, Restraint};
use crate::geometry::Surface;
use crate::scheme::{
    Body, Drive, Face, HoldingScheme, Parameter, SchemeError, Section, Supports, Values,
};

/// Three equal jaws outside.
pub(super) struct EqualJaws {
    /// Half of the arc of a pad, rad.
    pub half_angle: f64,
    /// How the pads are bored or crowned.
    pub face: Face,
    pub drive: Drive,
}

impl EqualJaws {
    /// The case with its first step in these jaws.
    pub fn holding(self, mut case: Case) -> Case {
        case.steps[0].hold = "equal".to_owned();
        case.holds.push(Hold {
            name: "equal".to_owned(),
            members: vec![HoldMember {
                scheme: Arc::new(self),
                values: Values::from([]),
                grip: Grip::default(),
                restraint: Restraint::default(),
                force_unknown: false,
            }],
        });
        case
    }
}

impl HoldingScheme for EqualJaws {
    fn name(&self) -> &str {
        "equal"
    }

    fn summary(&self) -> &str {
        "equal jaws of a test"
    }

    fn parameters(&self) -> &[Parameter] {
        &[]
    }

    fn example(&self) -> &str {
        ""
    }

    fn supports(&self, _: &Section, _: &Values) -> Result<Supports, SchemeError> {
        let axis = |k: usize| TAU * k as f64 / 3.0;
        let body = |k: usize| Body::new(Surface::Outer, axis(k), self.half_angle, self.face);
        Ok(Supports {
            bodies: (0..3).map(body).collect(),
            drive: self.drive.clone(),
            ..Supports::default()
        })
    }
}
