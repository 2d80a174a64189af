//! The nearly round part lying free: where its residual stress comes to rest.

use super::fields::{flat, largest_change, pairs, plus};
use super::precondition::Stretch;
use super::stage::RoundStage;
use crate::geometry::{PerSurface, Surface};
use crate::linear::internal_forces;
use crate::mesh::Mesh;
use crate::process::cut::Mixing;
use crate::process::sample::Sampler;
use crate::process::statics::{ResidualStress, free};
use crate::process::step::Setting;
use crate::process::{NotConverged, ProcessError};

/// Iterations in which it must come to rest, and the share of what moves at which it has.
const MOST_ITERATIONS: usize = 25;
const SETTLED: f64 = 1e-6;

/// A part whose residual stress has come to rest.
pub(super) struct Relaxed {
    /// Displacement of the nodes from the stress-free shape, mm.
    pub displacement: Vec<[f64; 2]>,
    /// Radial displacement of both surfaces at the sampled angles, mm.
    pub profile: PerSurface<Vec<f64>>,
}

impl Relaxed {
    /// The part with the outline of `mesh`, on a mean ring: the ring's closed form, and what the outline adds.
    pub fn new(
        setting: &Setting,
        stage: &RoundStage,
        mesh: &Mesh,
        sampler: &Sampler,
        residual: &ResidualStress,
    ) -> Result<Self, ProcessError> {
        let law = setting.law();
        let on_mean = residual.load(&stage.mesh, &law);
        let forces = residual.load(mesh, &law);
        let mean_ring = free(&stage.factor, &stage.mesh, &on_mean)?;
        let mut added = vec![[0.0; 2]; mesh.nodes()];
        let stretch = Stretch::between(mesh, &stage.mesh);
        let mut mixing = Mixing::default();
        let mut rest = false;
        for _ in 0..MOST_ITERATIONS {
            let mut whole = mean_ring.clone();
            plus(&mut whole, &added);
            let mut left = internal_forces(mesh, &law, &whole)?;
            for (r, f) in left.iter_mut().zip(&forces) {
                *r = [f[0] - r[0], f[1] - r[1]];
            }
            let mut next = added.clone();
            plus(&mut next, &stretch.correction(stage, left));
            let size = largest_change(&whole, &vec![[0.0; 2]; whole.len()]);
            let change = largest_change(&added, &next);
            if change <= SETTLED * size {
                added = next;
                rest = true;
                break;
            }
            added = pairs(&mixing.next(&flat(&added), &flat(&next)));
        }
        if !rest {
            return Err(ProcessError::from(NotConverged::MeanRing));
        }
        let settled = stage.settled(Some(residual));
        let profile = PerSurface::from_fn(|s: Surface| {
            let added = sampler.displacement(mesh, s, &added);
            added.iter().map(|u| settled.get(s) + u[0]).collect()
        });
        let mut displacement = mean_ring;
        plus(&mut displacement, &added);
        Ok(Self {
            displacement,
            profile,
        })
    }
}
