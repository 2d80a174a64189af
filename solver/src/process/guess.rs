//! What a like step came to, to start from.

use super::round::Added;
use super::step::Solved;
use crate::contact::Clamped;
use crate::geometry::SampledOutline;

/// What to start a step from: that of a like one, its outlines scaled.
pub(super) struct Guess<'a> {
    /// One outline a cut.
    pub cuts: &'a [SampledOutline],
    /// Share of a change that an iteration of each cut handed on to the next, where that is known.
    pub rates: &'a [f64],
    /// Share of their deviation from the tool's circle.
    pub share: f64,
    /// What was active in the hold.
    pub held: Option<&'a Clamped>,
    /// What the outlines added on a mean ring.
    pub added: Option<&'a Added>,
    /// How the wall of each cut's finished body gives way to its tool, mm at equal angles from 0: taken as it is, not solved for again.
    pub dips: &'a [Option<Vec<f64>>],
}

impl<'a> Guess<'a> {
    /// Of a step that is like no other.
    pub const NOTHING: Self = Self {
        cuts: &[],
        rates: &[],
        share: 1.0,
        held: None,
        added: None,
        dips: &[],
    };

    /// The dip of a cut, where it is taken as it is.
    pub fn dip(&self, cut: usize) -> Option<&'a [f64]> {
        self.dips.get(cut)?.as_deref()
    }

    /// The outlines of the same step on another mesh.
    pub fn of(solved: &'a Solved) -> Self {
        Self {
            cuts: &solved.cut_outlines,
            rates: &solved.cut_rates,
            share: 1.0,
            held: Some(&solved.held),
            added: solved.added.as_ref(),
            dips: &[],
        }
    }
}
