//! What the difference of two meshes says of the answer, and which contact zones are not resolved.

use std::f64::consts::{PI, TAU};

use super::marks::{NARROW, scale};
use crate::contact::{ContactZone, RESOLVED};
use crate::geometry::Surface;
use crate::metrology::ProfileError;
use crate::process::sample::difference as between;
use crate::process::step::{Setting, Solved, cut_surfaces};
use crate::process::{Estimate, PROFILE_POINTS};

/// Share by which a shape's out-of-roundness is missed at its sampled angles, for each lobe squared: a crest half a sample off is lower by
/// `(n pi / samples)^2 / 2`, one a third of a sample off by half of that.
const SAMPLING: f64 = 0.25 * (PI / PROFILE_POINTS as f64) * (PI / PROFILE_POINTS as f64);

/// How far two meshes differ in the driving quantity, with what else is not known of it.
#[derive(Clone, Copy)]
pub(super) struct Difference {
    /// Share of the value, or of the least that accuracy is measured against.
    pub(super) relative: f64,
    /// mm.
    pub(super) absolute: f64,
}

/// What two divisions say of the finer one's error.
#[derive(Clone, Copy)]
pub(super) struct Weights {
    /// Share of the difference of the driving value that stands for it.
    pub(super) value: f64,
    /// The same of the range of the difference of the shapes: two values may agree by luck where shapes do not.
    pub(super) shape: f64,
    /// What is left beside, as a share of the value.
    pub(super) rest: f64,
}

impl Weights {
    /// Of two meshes of which the finer is as far off as they differ, at worst.
    pub(super) const WHOLE: Self = Self {
        value: 1.0,
        shape: 0.0,
        rest: 0.0,
    };

    /// Of two meshes that do not resolve a contact zone, of a shape that is held: where the edge of a pad is loaded the error falls no faster than the root
    /// of the elements, and two values agree by luck where their shapes do not. With the whole difference alone 46 of 424 random holds of round rings on 720 by 8 equal elements
    /// were off from the series by more than both state, with this 20 are.
    pub(super) const UNRESOLVED: Self = Self {
        value: 1.0,
        shape: 0.5,
        rest: 0.0,
    };
}

/// Share by which the sampling misses an out-of-roundness.
pub(super) fn sampling(setting: &Setting) -> f64 {
    let lobes = TAU / scale(setting).spacing;
    SAMPLING * lobes.max(2.0).powi(2)
}

/// Difference of the driving quantity between two meshes, with what the cut's iterations, unresolved zones and the sampling leave:
/// of the surface that is worst.
pub(super) fn difference(
    coarse: &Solved,
    fine: &Solved,
    setting: &Setting,
    weights: Weights,
) -> Difference {
    let sampling = sampling(setting);
    let bound = fine.unresolved_bound;
    #[cfg(test)]
    let bound = super::tests::spoilt(bound);
    let of = |surface: Surface, a: f64, b: f64| {
        let measure = b.max(setting.least_measured(surface));
        let shapes = [coarse, fine].map(|solved| match setting.step.cuts.is_empty() {
            true => solved.held_shape.get(surface),
            false => solved.released.get(surface),
        });
        let apart = match weights.shape > 0.0 {
            true => ProfileError::new(between(shapes[0], shapes[1]), 0.0).roundness(),
            false => 0.0,
        };
        let absolute = weights.value * (a - b).abs()
            + weights.shape * apart
            + fine.unsettled.roundness
            + bound
            + (sampling + weights.rest) * measure;
        Difference {
            relative: absolute / measure,
            absolute,
        }
    };
    coarse
        .driving
        .iter()
        .zip(&fine.driving)
        .map(|(&(s, a), &(_, b))| of(s, a, b))
        .max_by(|a, b| a.relative.total_cmp(&b.relative))
        .unwrap_or(Difference {
            relative: sampling + weights.rest,
            absolute: 0.0,
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
pub(in crate::process) fn quantity(setting: &Setting) -> String {
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
