//! The true outline and its mean ring on one coarse lattice: what the outline adds to the compliances of the ring.
//!
//! An outline adds to bending alone, and bending is smooth: equal columns show it, however narrow the contact is. Dents and whatever else the
//! lattice does not show are alike on both and cancel.

use std::f64::consts::TAU;
use std::sync::Arc;

use crate::contact::OutlineFactors;
use crate::geometry::{Outline, PerSurface, SampledOutline};
use crate::linear::{Cholesky, Stiffness, Substructured, rigid_body_constraints};
use crate::mesh::Mesh;
use crate::process::sample::sample_angle;
use crate::process::step::Setting;
use crate::process::{ProcessError, Radii};
use crate::series::Annulus;

/// Columns and layers. Of walls of a twentieth and of a tenth of the radius, uneven by a seventh either way, the dip differs from that on 384 columns of 4 by
/// 1.5e-3 of its largest value at most; on 48 of 1 by 2.6e-3.
const COLUMNS: usize = 96;
const LAYERS: usize = 2;

/// The two, factored.
pub(super) struct CoarseRings {
    own: (Cholesky, Mesh),
    mean: (Substructured, Mesh),
}

impl CoarseRings {
    /// A mean ring and an outline (mm, at the sampled angles) about it.
    ///
    /// # Errors
    /// If elements cannot be laid through the wall, or not be factored.
    pub fn new(setting: &Setting, ring: &Annulus, radii: &Radii) -> Result<Self, ProcessError> {
        let law = setting.law();
        let ends: Vec<f64> = (0..COLUMNS)
            .map(|k| TAU * k as f64 / COLUMNS as f64)
            .collect();
        let layers: Vec<f64> = (0..=LAYERS).map(|k| k as f64 / LAYERS as f64).collect();
        let lattice = |outlines: PerSurface<Outline>| Mesh::build(&outlines, &ends, &layers, true);
        let mean = lattice(PerSurface::from_fn(|s| Outline::round(ring.radius(s))))?;
        let own = lattice(PerSurface::from_fn(|s| {
            let radii = radii.get(s);
            let angles = (0..radii.len()).map(sample_angle).collect();
            Outline::Sampled(SampledOutline::new(angles, radii.clone()))
        }))?;
        let analysis = setting.kept.analysis(own.topology());
        let stiffness = Stiffness {
            mesh: &own,
            law: &law,
        };
        let factor = Cholesky::factor(
            Arc::clone(&analysis),
            &stiffness,
            &rigid_body_constraints(&own),
        )?;
        Ok(Self {
            own: (factor, own),
            mean: (Substructured::new(&mean, &law)?, mean),
        })
    }

    pub fn factors(&self) -> OutlineFactors<'_> {
        OutlineFactors {
            own: (&self.own.0, &self.own.1),
            mean: (&self.mean.0, &self.mean.1),
        }
    }
}
