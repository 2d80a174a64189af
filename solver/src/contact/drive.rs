//! Drives and linkages: which degrees of freedom move the bodies of a scheme, and what is prescribed of each.

use super::quadratic::{DriveDof, Prescribed};
use crate::scheme::{Body, Drive, Pairs, Push};

/// A degree of freedom that moves these bodies alike, with this prescribed force on each (N).
fn shared(bodies: &[usize], force: f64) -> DriveDof {
    DriveDof {
        shares: bodies.iter().map(|&b| (b, 1.0)).collect(),
        prescribed: Prescribed::Force(force * bodies.len() as f64),
    }
}

/// The degrees of freedom of a drive whose bodies are numbered from `first`; forces scaled.
pub(super) fn drive_dofs(
    drive: &Drive,
    bodies: &[Body],
    first: usize,
    force_scale: f64,
) -> Vec<DriveDof> {
    let mut dofs: Vec<DriveDof> = match drive {
        Drive::Each(pushes) => pushes
            .iter()
            .zip(bodies)
            .enumerate()
            .map(|(k, (push, body))| DriveDof {
                shares: vec![(first + k, 1.0)],
                prescribed: match push {
                    Push::Force(force) => Prescribed::Force(force * force_scale),
                    Push::Gap(_) if body.is_full_circle() => Prescribed::Displacement(0.0),
                    Push::Gap(gap) => Prescribed::Displacement(-gap),
                },
            })
            .collect(),
        Drive::SelfCentring { force } | Drive::EqualisedPairs { force, .. } => {
            together(drive, bodies.len())
                .iter()
                .map(|group| {
                    let group: Vec<usize> = group.iter().map(|k| first + k).collect();
                    shared(&group, force * force_scale)
                })
                .collect()
        }
    };
    if let Drive::EqualisedPairs {
        pairs: Pairs::Neighbouring,
        ..
    } = drive
    {
        // a rocker turns freely about its pivot, so its two ends press alike
        dofs.extend((0..bodies.len() / 2).map(|pair| DriveDof {
            shares: vec![(first + 2 * pair, 1.0), (first + 2 * pair + 1, -1.0)],
            prescribed: Prescribed::Force(0.0),
        }));
    }
    dofs
}

/// Bodies of a scheme, counted from 0, whose centres stand at one distance when they first touch.
fn together(drive: &Drive, count: usize) -> Vec<Vec<usize>> {
    match drive {
        _ if count == 0 => Vec::new(),
        Drive::Each(_) => (0..count).map(|k| vec![k]).collect(),
        Drive::EqualisedPairs {
            pairs: Pairs::Opposite,
            ..
        } => (0..count / 2).map(|k| vec![k, k + count / 2]).collect(),
        Drive::SelfCentring { .. } | Drive::EqualisedPairs { .. } => vec![(0..count).collect()],
    }
}

/// Where bodies that move together stand at first touch: all where the first of them touches. `touch` holds where each would
/// touch by itself, mm.
pub(super) fn touch_together(drive: &Drive, bodies: &[Body], touch: &mut [f64]) {
    for group in together(drive, bodies.len()) {
        // outside the faces come inwards, so the largest position touches first
        let outside = bodies[group[0]].surface.outward();
        let first = group
            .iter()
            .fold(f64::NEG_INFINITY, |m, &k| m.max(outside * touch[k]))
            * outside;
        for k in group {
            touch[k] = first;
        }
    }
}
