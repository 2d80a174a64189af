//! Where a step makes the part yield.

use crate::case::Case;
use crate::geometry::Surface;
use crate::report::document::{StepDocument, StressDocument};
use crate::report::units::{Units, angle_within};

/// The place of the largest stress of the worst state of a step.
#[derive(Clone, Debug)]
pub(super) struct Yielding {
    /// The surface that it is nearest to.
    pub surface: Surface,
    /// Part angle, degrees.
    pub degrees: f64,
    /// The same in words, with the stress and the state.
    pub words: String,
}

impl Yielding {
    /// `None` while no state of the held part yields, or without a yield strength.
    pub fn of(case: &Case, figures: &StepDocument, units: Units) -> Option<Self> {
        let strength = case.part.material.yield_strength?;
        let (stress, state) = states(figures)
            .filter(|(s, _)| s.yield_margin.is_some_and(|m| m < 0.0))
            .reduce(|a, b| {
                if b.0.von_mises_away > a.0.von_mises_away {
                    b
                } else {
                    a
                }
            })?;
        let distance =
            |s: Surface| (stress.von_mises_at.radius - figures.released_shape(s).mean_radius).abs();
        let surface = if distance(Surface::Bore) <= distance(Surface::Outer) {
            Surface::Bore
        } else {
            Surface::Outer
        };
        let words = format!(
            "Yields here, and wherever it is loaded alike: {} at {}, {state}; yield strength {}. The shapes are not to be trusted",
            units.stress_within(stress.von_mises_away, stress.von_mises_error),
            angle_within(
                stress.von_mises_at.angle,
                Some(stress.von_mises_at.angle_error)
            ),
            units.stress(strength)
        );
        Some(Self {
            surface,
            degrees: stress.von_mises_at.angle,
            words,
        })
    }
}

/// Each state of the held part with its name.
fn states(step: &StepDocument) -> impl Iterator<Item = (&StressDocument, String)> {
    let cuts = step.cuts.len();
    let held = match cuts {
        0 => "held",
        1 => "held, before the cut",
        _ => "held, before the cuts",
    };
    step.stresses().enumerate().map(move |(k, s)| {
        let state = match (k, cuts) {
            (0, _) => held.to_owned(),
            (_, 1) => "held, after the cut".to_owned(),
            _ => format!("held, after cut {k} of {cuts}"),
        };
        (s, state)
    })
}
