//! What the difference of two meshes says of the answer, and which contact zones are not resolved.

use std::f64::consts::{PI, TAU};

use super::marks::{NARROW, scale};
use crate::contact::{ContactZone, RESOLVED};
use crate::geometry::Surface;
use crate::process::step::{Setting, Solved, cut_surfaces};
use crate::process::{Estimate, PROFILE_POINTS};

/// Share by which a shape's out-of-roundness is missed at its sampled angles, for each lobe squared: a crest half a sample off is lower by
/// `(n pi / samples)^2 / 2`, one a third of a sample off by half of that.
const SAMPLING: f64 = 0.25 * (PI / PROFILE_POINTS as f64) * (PI / PROFILE_POINTS as f64);

/// How far two meshes differ in the driving quantity.
#[derive(Clone, Copy)]
pub(super) struct Difference {
    /// Share of the value, or of the least that accuracy is measured against.
    pub(super) relative: f64,
    /// mm.
    pub(super) absolute: f64,
    /// What of the share the sampling and the iterations of a cut leave.
    left: f64,
}

impl Difference {
    /// Of two divisions on a mean ring, with what its series leaves.
    pub(super) fn on_mean_ring(self, margin: f64, series: f64) -> Self {
        let measure = self.absolute / self.relative.max(f64::MIN_POSITIVE);
        let relative = margin * (self.relative - self.left) + self.left + series;
        Self {
            relative,
            absolute: relative * measure,
            ..self
        }
    }
}

/// Share by which the sampling misses an out-of-roundness.
pub(super) fn sampling(setting: &Setting) -> f64 {
    let lobes = TAU / scale(setting).spacing;
    SAMPLING * lobes.max(2.0).powi(2)
}

/// Difference of the driving quantity between two meshes, with what the cut's iterations, unresolved zones and the sampling leave:
/// of the surface that is worst.
pub(super) fn difference(coarse: &Solved, fine: &Solved, setting: &Setting) -> Difference {
    let sampling = sampling(setting);
    let bound = fine.unresolved_bound;
    #[cfg(test)]
    let bound = super::tests::spoilt(bound);
    let of = |surface: Surface, a: f64, b: f64| {
        let measure = b.max(setting.least_measured(surface));
        let absolute = (a - b).abs() + fine.unsettled + bound + sampling * measure;
        Difference {
            relative: absolute / measure,
            absolute,
            left: sampling + fine.unsettled / measure,
        }
    };
    coarse
        .driving
        .iter()
        .zip(&fine.driving)
        .map(|(&(s, a), &(_, b))| of(s, a, b))
        .max_by(|a, b| a.relative.total_cmp(&b.relative))
        .unwrap_or(Difference {
            relative: sampling,
            absolute: 0.0,
            left: sampling,
        })
}

/// What the difference of two meshes says of the driving quantity.
pub(super) fn judged(setting: &Setting, error: Option<Difference>) -> Estimate {
    Estimate {
        quantity: quantity(setting),
        relative_error: error.map(|e| e.relative),
        absolute_error: error.map(|e| e.absolute),
        stress_relative_error: None,
        converged: error.is_some_and(|e| e.relative <= setting.accuracy),
    }
}

/// The name of what drives the accuracy.
pub(super) fn quantity(setting: &Setting) -> String {
    if setting.step.cuts.is_empty() {
        "held out-of-roundness of outside and bore".into()
    } else {
        let names: Vec<&str> = cut_surfaces(setting.step)
            .into_iter()
            .map(|s| s.name())
            .collect();
        format!("released out-of-roundness of {}", names.join(" and "))
    }
}

/// The loaded zones, held and cut.
pub(super) fn contact_zones(solved: &Solved) -> impl Iterator<Item = ContactZone> {
    std::iter::once(&solved.held)
        .chain(solved.cut.iter().map(|c| &c.0))
        .flat_map(|state| {
            let bodies = 0..solved.clamp.bodies().len();
            let least = 1e-9 * state.total_force();
            bodies
                .flat_map(|b| state.contact_zones(b))
                .filter(move |zone| zone.force > least)
        })
}

/// A zone that needs more elements. One narrower than [`NARROW`] acts on the ring as a line force would; what its uncertain
/// place may change is in the estimate.
pub(super) fn unresolved(setting: &Setting, solved: &Solved) -> Option<ContactZone> {
    contact_zones(solved).find(|zone| {
        zone.edges < RESOLVED && zone.end - zone.start > NARROW * scale(setting).angle(1.0)
    })
}
