//! Compliances in series with the part: a Winkler layer on a face, a spring under a body.

use super::elastic::Elastic;
use super::pressure::PressureDof;
use crate::scheme::Body;

/// Layers and springs of all bodies, as one more elastic body behind the same pressures.
pub(super) struct Winkler<'a> {
    dofs: &'a [PressureDof],
    /// Compliance of the mount of each body, mm/N.
    springs: Vec<f64>,
}

impl<'a> Winkler<'a> {
    /// `None` where every body is rigid on a rigid mount.
    pub fn new(dofs: &'a [PressureDof], bodies: &[Body]) -> Option<Self> {
        let springs: Vec<f64> = bodies.iter().map(spring).collect();
        let soft = springs.iter().any(|&s| s != 0.0) || dofs.iter().any(|d| !d.layer.is_empty());
        soft.then_some(Self { dofs, springs })
    }
}

/// Compliance of the mount of a body, mm/N. A full circle has no axis along which it could move.
fn spring(body: &Body) -> f64 {
    match body.stiffness {
        Some(stiffness) if !body.is_full_circle() => 1.0 / stiffness,
        _ => 0.0,
    }
}

impl Elastic for Winkler<'_> {
    fn pressures(&self) -> usize {
        self.dofs.len()
    }

    fn rigid_body_modes(&self) -> usize {
        0
    }

    fn rigid_work(&self, _: usize, _: usize) -> f64 {
        0.0
    }

    fn compliances(&mut self, pressure: usize, others: &[usize]) -> Vec<f64> {
        let a = &self.dofs[pressure];
        others
            .iter()
            .map(|&other| {
                let b = &self.dofs[other];
                if a.body != b.body {
                    return 0.0;
                }
                let layer = a
                    .layer
                    .iter()
                    .find(|l| a.piece == b.piece && l.0 == b.place)
                    .map_or(0.0, |l| l.1);
                layer + self.springs[a.body] * a.along * b.along
            })
            .collect()
    }

    fn weighted_displacements(&mut self, pressures: &[f64]) -> Vec<f64> {
        let mut force = vec![0.0; self.springs.len()];
        for (d, p) in self.dofs.iter().zip(pressures) {
            force[d.body] += d.along * p;
        }
        self.dofs
            .iter()
            .enumerate()
            .map(|(k, d)| {
                // the degrees of freedom of a piece follow each other in order of their places
                let layer: f64 = d
                    .layer
                    .iter()
                    .map(|&(place, compliance)| compliance * pressures[k + place - d.place])
                    .sum();
                layer + self.springs[d.body] * force[d.body] * d.along
            })
            .collect()
    }
}
