//! An expanding mandrel: segments in the bore that one cone drives outward; between them the part is free.

use std::f64::consts::PI;

use ringwright_solver::geometry::Surface;
use ringwright_solver::scheme::{
    AfterClamping, Body, Drive, Face, HoldingScheme, Need, Parameter, ParameterKind, SchemeError,
    Section, Supports, Values,
};

use crate::common::{self, wrong};

/// An expanding mandrel.
#[derive(Clone, Copy, Debug)]
pub struct Mandrel;

const PARAMETERS: &[Parameter] = &[
    Parameter::required(
        "segments",
        ParameterKind::Count,
        "the number of segments, three or more, spaced evenly",
    ),
    common::FIRST_ANGLE,
    Parameter::required(
        "diameter",
        ParameterKind::Length,
        "the diameter that the segments are ground to",
    ),
    Parameter::optional(
        "arc",
        ParameterKind::Arc { most: 120.0 },
        "the arc of the bore that a segment covers (give arc or slot_width)",
    ),
    Parameter::optional(
        "slot_width",
        ParameterKind::Length,
        "the width of the slot between two segments, straight across at the bore (give arc or slot_width)",
    ),
    Parameter::uncertain(
        "force",
        ParameterKind::Force,
        "the mean force of a segment (give force, total_force or travel)",
    ),
    Parameter::uncertain(
        "total_force",
        ParameterKind::Force,
        "the force of all segments together",
    ),
    Parameter::optional(
        "travel",
        ParameterKind::Offset,
        "how far each segment goes on after it has touched the free bore, and stays there",
    ),
    common::SHIM_THICKNESS,
    common::SHIM_MODULUS,
    Parameter::defaulting(
        "after_clamping",
        ParameterKind::choice(common::AFTER_CLAMPING),
        "\"keeps-position\"",
        "while metal goes: keeps-position is a cone that locks itself or is drawn by a nut, keeps-force one under a drawbar",
    ),
];

/// Half of the arc of a segment, rad, and the key that gave it.
fn half_angle(
    values: &Values,
    count: f64,
    radius: f64,
) -> Result<(&'static str, f64), SchemeError> {
    let key = common::one_of(values, &["arc", "slot_width"], "the size of a segment")?;
    let Some(slot) = common::half_of_chord(values, "slot_width", radius)? else {
        return Ok((key, 0.5 * common::number(values, key)?.to_radians()));
    };
    let half = PI / count - slot;
    if half <= 0.0 {
        return Err(wrong(
            key,
            format!("leaves nothing of {count} segments; make the slots narrower"),
        ));
    }
    Ok((key, half))
}

fn drive(values: &Values, count: f64) -> Result<Drive, SchemeError> {
    let key = common::one_of(values, &["force", "total_force", "travel"], "the grip")?;
    let given = common::number(values, key)?;
    if key == "travel" && values.text("after_clamping") == Some("keeps-force") {
        return Err(wrong(
            "after_clamping",
            "segments with a travel keep their position; give force instead of travel, or leave after_clamping out",
        ));
    }
    let count = count as usize;
    Ok(match key {
        "travel" => Drive::fixed(count, -given),
        _ => Drive::SelfCentring {
            force: common::of_one(key, given, count),
        },
    })
}

impl HoldingScheme for Mandrel {
    fn name(&self) -> &str {
        "mandrel"
    }

    fn summary(&self) -> &str {
        "an expanding mandrel: rigid segments in the bore, driven outward together"
    }

    fn body_name(&self) -> &str {
        "segment"
    }

    fn parameters(&self) -> &[Parameter] {
        PARAMETERS
    }

    fn needs(&self) -> &[Need] {
        const NEEDS: &[Need] = &[
            Need {
                what: "the size of a segment",
                keys: &["arc", "slot_width"],
            },
            Need {
                what: "the grip",
                keys: &["force", "total_force", "travel"],
            },
        ];
        NEEDS
    }

    fn example(&self) -> &str {
        include_str!("../examples/mandrel.toml")
    }

    fn supports(&self, section: &Section, values: &Values) -> Result<Supports, SchemeError> {
        let count = common::number(values, "segments")?;
        if count < 3.0 {
            return Err(wrong(
                "segments",
                "a mandrel needs three segments or more; for two use jaws with side = \"inside\"",
            ));
        }
        let radius = section.bore_radius;
        let (size, half_angle) = half_angle(values, count, radius)?;
        let face = Face::Convex {
            radius: 0.5 * common::number(values, "diameter")?,
        };
        let segment = Body::new(Surface::Bore, 0.0, half_angle, face);
        common::reaches(&segment, radius, "diameter", size)?;
        Ok(Supports {
            bodies: common::at_each(
                &common::evenly(values, count),
                common::backed(values, segment)?,
            ),
            drive: drive(values, count)?,
            after_clamping: common::after_clamping(values, AfterClamping::KeepsPosition),
            force_spread: common::spread(values, &["force", "total_force"]),
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
    fn segments_leave_their_slots_free() {
        let v = values(&[
            ("segments", 6.0),
            ("diameter", 113.9),
            ("slot_width", 2.0),
            ("total_force", 600.0),
        ]);
        let s = Mandrel.supports(&SECTION, &v).unwrap();
        // the slot is a chord of the bore: 2 * 57 mm * sin(half of what is left between two segments) = 2 mm
        let left = s.bodies[1].angle - s.bodies[0].angle - 2.0 * s.bodies[0].half_angle;
        assert!((114.0 * (0.5 * left).sin() - 2.0).abs() < 1e-12);
        assert_eq!(s.drive, Drive::SelfCentring { force: 100.0 });
        assert_eq!(s.after_clamping, AfterClamping::KeepsPosition);
        let v = values(&[
            ("segments", 4.0),
            ("diameter", 114.0),
            ("arc", 80.0),
            ("travel", 0.03),
        ]);
        let s = Mandrel.supports(&SECTION, &v).unwrap();
        assert_eq!(s.drive, Drive::fixed(4, -0.03));
        refused(
            &Mandrel,
            &v,
            &[
                ("segments", Value::Number(2.0), "segments"),
                ("slot_width", Value::Number(1.0), "slot_width"),
                ("force", Value::Number(1.0), "travel"),
                ("diameter", Value::Number(60.0), "diameter"),
            ],
        );
    }
}
