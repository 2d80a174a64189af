//! Linkages: which travels move the bodies of a scheme, and what is given of each travel.

use crate::scheme::{Body, Drive, Pairs, Push};

/// One freedom of a linkage.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Travel {
    /// Bodies that it moves, and by how much of it each.
    pub shares: Vec<(usize, f64)>,
    /// What is given.
    pub given: Given,
}

/// What drives a travel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Given {
    /// Its force, N: the sum of the bodies' forces, each times its share.
    Force(f64),
    /// The travel, mm.
    Position(f64),
}

impl Travel {
    /// How far a unit of it moves a body.
    pub fn share(&self, body: usize) -> f64 {
        self.shares
            .iter()
            .filter(|s| s.0 == body)
            .map(|s| s.1)
            .sum()
    }

    pub fn is_forced(&self) -> bool {
        matches!(self.given, Given::Force(_))
    }

    fn shared(bodies: &[usize], force: f64) -> Self {
        Self {
            shares: bodies.iter().map(|&b| (b, 1.0)).collect(),
            given: Given::Force(force * bodies.len() as f64),
        }
    }
}

/// The travels of a drive whose bodies are numbered from `first`; forces scaled.
pub(super) fn travels(
    drive: &Drive,
    bodies: &[Body],
    first: usize,
    force_scale: f64,
) -> Vec<Travel> {
    let mut travels: Vec<Travel> = match drive {
        Drive::Each(pushes) => pushes
            .iter()
            .zip(bodies)
            .enumerate()
            .map(|(k, (push, body))| Travel {
                shares: vec![(first + k, 1.0)],
                given: match push {
                    Push::Force(force) => Given::Force(force * force_scale),
                    Push::Gap(_) if body.is_full_circle() => Given::Position(0.0),
                    Push::Gap(gap) => Given::Position(-gap),
                },
            })
            .collect(),
        Drive::SelfCentring { force } | Drive::EqualisedPairs { force, .. } => {
            together(drive, bodies.len())
                .iter()
                .map(|group| {
                    let group: Vec<usize> = group.iter().map(|k| first + k).collect();
                    Travel::shared(&group, force * force_scale)
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
        travels.extend((0..bodies.len() / 2).map(|pair| Travel {
            shares: vec![(first + 2 * pair, 1.0), (first + 2 * pair + 1, -1.0)],
            given: Given::Force(0.0),
        }));
    }
    travels
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

/// Where bodies that share a travel stand at first touch: all where the first of them touches. `touch` holds where each would
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
