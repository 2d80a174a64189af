//! A split sleeve: a ring slit through, between the jaws and the part. It is elastic, touches on both sides and may leave either.

use std::f64::consts::{PI, TAU};
use std::sync::LazyLock;

use ringwright_solver::geometry::Surface;
use ringwright_solver::scheme::{
    Body, HoldingScheme, Need, Parameter, ParameterKind, SchemeError, Section, Sleeve, Supports,
    Values,
};

use crate::Jaws;
use crate::common::{self, wrong};

/// Jaws on a split sleeve. The jaws take every key of the scheme `jaws`; their sizes are those on the sleeve.
#[derive(Clone, Copy, Debug)]
pub struct SplitSleeve;

const OWN: &[Parameter] = &[
    Parameter::required(
        "sleeve_thickness",
        ParameterKind::Length,
        "the wall of the sleeve",
    ),
    Parameter::optional(
        "sleeve_diameter",
        ParameterKind::Length,
        "the diameter of the sleeve's face towards the part, unstressed; left out: the part's",
    ),
    Parameter::defaulting(
        "slit_width",
        ParameterKind::Length,
        "2",
        "how wide the slit is at that face; a hold that would shut it is refused",
    ),
    Parameter::optional(
        "slit_angle",
        ParameterKind::Angle,
        "where the slit is, counter-clockwise from the part's zero mark; left out: midway between the last jaw and the first",
    ),
    Parameter::defaulting(
        "sleeve_modulus",
        ParameterKind::Modulus,
        "210000",
        "Young's modulus of the sleeve; steel if left out",
    ),
    Parameter::defaulting(
        "sleeve_poisson_ratio",
        ParameterKind::Ratio,
        "0.3",
        "Poisson's ratio of the sleeve, below 0.5",
    ),
];

static PARAMETERS: LazyLock<Vec<Parameter>> = LazyLock::new(|| [Jaws.parameters(), OWN].concat());

impl HoldingScheme for SplitSleeve {
    fn name(&self) -> &str {
        "split-sleeve"
    }

    fn summary(&self) -> &str {
        "a split sleeve between jaws and part: an elastic ring, slit through, in contact on both sides"
    }

    fn body_name(&self) -> &str {
        "jaw"
    }

    fn parameters(&self) -> &[Parameter] {
        &PARAMETERS
    }

    fn needs(&self) -> &[Need] {
        Jaws.needs()
    }

    fn example(&self) -> &str {
        include_str!("../examples/split-sleeve.toml")
    }

    fn supports(&self, section: &Section, values: &Values) -> Result<Supports, SchemeError> {
        let surface = common::side(values, Surface::Outer);
        let mut assumed = Vec::new();
        let radius = values.number("sleeve_diameter").map_or_else(
            || {
                assumed.push("split sleeve made to the part's own diameter".to_owned());
                section.radius(surface)
            },
            |d| 0.5 * d,
        );
        let mut sleeve = Sleeve {
            surface,
            radius,
            thickness: common::number(values, "sleeve_thickness")?,
            slit: None,
            young_modulus: common::number(values, "sleeve_modulus")?,
            poisson_ratio: poisson_ratio(values)?,
        };
        if sleeve.back() <= 0.0 {
            let most = "the wall is as thick as its face's radius; make it thinner";
            return Err(wrong("sleeve_thickness", most));
        }
        let jaws = Jaws.supports(&sleeve.seen_by_bodies(section), values)?;
        sleeve.slit = Some(slit(values, &sleeve, &jaws)?);
        assumed.extend(jaws.assumed.iter().cloned());
        Ok(Supports {
            sleeve: Some(sleeve),
            assumed,
            ..jaws
        })
    }
}

fn poisson_ratio(values: &Values) -> Result<f64, SchemeError> {
    let ratio = common::number(values, "sleeve_poisson_ratio")?;
    if ratio >= 0.5 {
        let message = format!("is {ratio}; it must be below 0.5");
        return Err(wrong("sleeve_poisson_ratio", message));
    }
    Ok(ratio)
}

/// Middle and half-angle of the slit, rad. A jaw cannot stand on it: the two lips under one pad are no mesh of one pad.
fn slit(values: &Values, sleeve: &Sleeve, jaws: &Supports) -> Result<[f64; 2], SchemeError> {
    let half = common::half_of_chord(values, "slit_width", sleeve.radius)?.unwrap_or_default();
    let (Some(first), Some(last)) = (jaws.bodies.first(), jaws.bodies.last()) else {
        return Err(wrong("count", "missing; a sleeve needs jaws round it"));
    };
    let middle = values
        .number("slit_angle")
        .map_or(0.5 * (first.angle + last.angle + TAU), f64::to_radians);
    let apart = |angle: f64| ((angle - middle + PI).rem_euclid(TAU) - PI).abs();
    let on = |b: &Body| apart(b.angle) < b.half_angle + half;
    match jaws.bodies.iter().position(on) {
        None => Ok([middle, half]),
        Some(k) => Err(wrong(
            "slit_angle",
            format!(
                "jaw {} at {:.1} deg stands on the slit at {:.1} deg; turn the slit between two jaws or make the jaws narrower",
                k + 1,
                jaws.bodies[k].angle.to_degrees(),
                middle.to_degrees()
            ),
        )),
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::testing::{SECTION, refused, values};

    fn base() -> Values {
        values(&[
            ("count", 3.0),
            ("force", 500.0),
            ("width", 20.0),
            ("sleeve_thickness", 4.0),
            ("slit_width", 2.0),
            ("sleeve_modulus", 210e3),
            ("sleeve_poisson_ratio", 0.3),
        ])
    }

    #[test]
    fn jaws_stand_on_the_sleeve_and_the_slit_between_them() {
        let s = SplitSleeve.supports(&SECTION, &base()).unwrap();
        let sleeve = s.sleeve.unwrap();
        assert_eq!((sleeve.radius, sleeve.back()), (60.0, 64.0));
        let [middle, half] = sleeve.slit.unwrap();
        assert!((middle.to_degrees() - 300.0).abs() < 1e-9);
        assert!((2.0 * 60.0 * half.sin() - 2.0).abs() < 1e-12);
        // the chord of a pad is one of the sleeve's back
        assert!((2.0 * 64.0 * s.bodies[0].half_angle.sin() - 20.0).abs() < 1e-12);
        assert_eq!(s.faces().len(), 4);
    }

    #[test]
    fn sleeves_that_cannot_be_are_refused() {
        let number = ringwright_solver::scheme::Value::Number;
        refused(
            &SplitSleeve,
            &base(),
            &[
                ("slit_angle", number(118.0), "slit_angle"),
                ("sleeve_poisson_ratio", number(0.5), "sleeve_poisson_ratio"),
                ("slit_width", number(130.0), "slit_width"),
            ],
        );
    }
}
