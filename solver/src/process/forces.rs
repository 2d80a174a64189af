//! The forces that a case sets: told, and scaled.

use super::SetForce;
use super::inspect::Named;
use crate::scheme::{EndClamp, PointForce, PressurePatch, Supports};

/// Whether any force of a scheme acts in the plane of the section: an end clamp makes the part grow evenly and no rounder.
pub(super) fn is_forced_in_plane(support: &Supports) -> bool {
    let driven = (0..support.bodies.len()).any(|k| support.drive.set_force(k).is_some());
    driven || !support.pressures.is_empty() || !support.points.is_empty()
}

/// What one scheme sets by force, times `scale`.
pub(super) fn set_forces(name: &Named, support: &Supports, scale: f64) -> Vec<SetForce> {
    let bodies: Vec<f64> = (0..support.bodies.len())
        .filter_map(|k| support.drive.set_force(k))
        .collect();
    let patches: Vec<f64> = support.pressures.iter().map(|p| p.force).collect();
    let points: Vec<f64> = support.points.iter().map(|p| p.force).collect();
    let ends: Vec<f64> = support.end_clamp.iter().map(|e| e.force).collect();
    [
        (name.body.as_str(), bodies),
        ("patch", patches),
        ("point", points),
        ("end plate", ends),
    ]
    .into_iter()
    .filter(|(_, forces)| !forces.is_empty())
    .map(|(called, forces)| SetForce {
        called: called.to_owned(),
        count: forces.len(),
        each: [
            scale * forces.iter().copied().fold(f64::INFINITY, f64::min),
            scale * forces.iter().copied().fold(f64::NEG_INFINITY, f64::max),
        ],
    })
    .collect()
}

/// The same supports with every force times `factor`; what stands at a place of its own stays.
pub(super) fn scaled(support: &Supports, factor: f64) -> Supports {
    let drive = support.drive.with_forces(&|force| Some(force * factor));
    let patch = |p: &PressurePatch| PressurePatch {
        force: p.force * factor,
        ..*p
    };
    let point = |p: &PointForce| PointForce {
        force: p.force * factor,
        ..*p
    };
    Supports {
        drive: drive.unwrap_or_else(|| support.drive.clone()),
        pressures: support.pressures.iter().map(patch).collect(),
        points: support.points.iter().map(point).collect(),
        end_clamp: support.end_clamp.map(|e| EndClamp {
            force: e.force * factor,
            ..e
        }),
        ..support.clone()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Surface;
    use crate::scheme::{Drive, Push};

    /// What is set by force is scaled and named, what stands at a place of its own is neither.
    #[test]
    fn forces_alone_are_scaled() {
        let support = Supports {
            drive: Drive::Each(vec![Push::Force(10.0), Push::Gap(0.2), Push::Force(30.0)]),
            bodies: vec![crate::scheme::Body::circle(Surface::Bore, 40.0); 3],
            ..Supports::default()
        };
        let half = scaled(&support, 0.5);
        let expected = [Push::Force(5.0), Push::Gap(0.2), Push::Force(15.0)];
        assert_eq!(half.drive, Drive::Each(expected.to_vec()));
        let name = Named {
            scheme: "screws".into(),
            body: "screw".into(),
        };
        let told = set_forces(&name, &half, 2.0);
        assert_eq!(told.len(), 1);
        assert_eq!((told[0].count, told[0].each), (2, [10.0, 30.0]));
        assert!(is_forced_in_plane(&support));
        let clamped = Supports {
            end_clamp: Some(EndClamp {
                force: 400.0,
                friction: None,
                ends: crate::scheme::EndCondition::Sliding,
            }),
            ..Supports::default()
        };
        assert!(!is_forced_in_plane(&clamped));
        assert_eq!(set_forces(&name, &clamped, 1.0)[0].called, "end plate");
    }
}
