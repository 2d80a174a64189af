//! What a cut has to know of the part that is held, and may ask of it.

use crate::case::Cut;
use crate::contact::{LockedResponse, Tool};
use crate::geometry::Surface;
use crate::process::guess::Guess;
use crate::process::{ProcessError, Radii};
use crate::watch::Progress;

/// How long a cut's iterations go on.
#[derive(Clone, Copy)]
pub(in crate::process) struct Patience {
    /// Iterations that are made even where the first changes little, and those before it is given up.
    pub least: usize,
    pub most: usize,
    /// It has settled when the outline changes by less than this share of the accuracy asked, times the roundness.
    pub settled: f64,
}

/// A held part under the tool, whatever it is solved with.
pub(in crate::process) trait HeldBody {
    /// Angles at which its outlines are given, rad, ends and middles of edges in turn.
    fn angles(&self) -> Vec<f64>;

    /// Radial and tangential displacement of a surface at those angles, mm.
    fn displacement(&self, surface: Surface) -> Vec<[f64; 2]>;

    /// The same at [`crate::process::PROFILE_POINTS`] equal angles.
    fn sampled(&self, surface: Surface) -> Vec<[f64; 2]>;

    /// How long its iterations go on: one that solves the whole body again leaves a small part of what it changed.
    fn patience(&self) -> Patience {
        Patience {
            least: 1,
            most: 30,
            settled: 0.1,
        }
    }

    /// Hears of a cut before its first iteration, with the outlines as they are (mm, at the angles) and what a like step came to.
    ///
    /// # Errors
    /// See [`ProcessError`].
    fn begin(
        &mut self,
        _cut: &Cut,
        _lines: &Radii,
        _guess: Option<&Guess>,
    ) -> Result<(), ProcessError> {
        Ok(())
    }

    /// Takes over the outlines (mm, at the angles) of which one surface is new, and finds where the part lies now.
    ///
    /// # Errors
    /// See [`ProcessError`].
    fn follow(
        &mut self,
        surface: Surface,
        lines: &Radii,
        at: &Progress,
    ) -> Result<(), ProcessError>;

    /// What a tool does to it as it stands, its hold locked.
    ///
    /// # Errors
    /// See [`ProcessError`].
    fn locked(&mut self, tool: Tool, at: &Progress) -> Result<LockedResponse, ProcessError>;

    /// Hears how much of its displacement the next outline may leave out, as a share.
    fn solve_within(&mut self, _share: f64) {}

    /// How much of it the last one did leave out; nothing where it is solved to all digits, or what is left out is iterated on.
    fn left_out(&self) -> f64 {
        0.0
    }

    /// What it iterates on beside the outline: as the last iteration began with it, and as it came out. Empty where an iteration leaves nothing
    /// open.
    fn inner_before(&self) -> Vec<f64> {
        Vec::new()
    }

    /// See [`HeldBody::inner_before`].
    fn inner(&self) -> Vec<f64> {
        Vec::new()
    }

    /// What it is to start the next iteration from.
    fn set_inner(&mut self, _inner: &[f64]) {}
}
