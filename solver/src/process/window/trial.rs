//! A step tried with other forces: how much of each limit is used up.

use crate::case::{Case, Step};
use crate::geometry::Surface;
use crate::process::back_off::roundness;
use crate::process::inspect::Named;
use crate::process::{
    Alternative, Contact, ForceWindow, GripOutcome, LimitedBy, ProcessError, Radii, marking,
};
use crate::scheme::Supports;

/// Steps that can be solved again with other forces.
pub(in crate::process) trait Resolve {
    /// What presses in a step, and what its schemes and their bodies are called.
    fn hold(&self, step: usize) -> (&[Named], &[Supports]);

    /// A step as it is given here, and all steps after it as they were; `factor` is that on the forces of the case. `None` for what cannot be solved so (it is loose, or does
    /// not settle).
    ///
    /// # Errors
    /// [`ProcessError`] if a surface cannot be measured.
    fn solve(
        &self,
        step: usize,
        changed: (&Step, &[Supports]),
        factor: f64,
    ) -> Result<Option<Trial>, ProcessError>;

    /// What would help where no force will do.
    ///
    /// # Errors
    /// As [`Resolve::solve`].
    fn alternative(
        &self,
        _step: usize,
        _window: &ForceWindow,
    ) -> Result<Option<Alternative>, ProcessError> {
        Ok(None)
    }
}

/// A share of the limits used up at a factor on the forces.
#[derive(Clone, Copy, Debug)]
pub(in crate::process) struct Trial {
    pub factor: f64,
    /// What the cut asks of what the hold takes, at the unfavourable ends and at the favourable; `None` where that is not known.
    pub slip: Option<[f64; 2]>,
    /// Shares of roundness, yield and marking; `None` of what has no limit.
    pub shares: [Option<f64>; 3],
}

/// The limits above, in the order of [`Trial::shares`].
const ABOVE: [LimitedBy; 3] = [LimitedBy::Roundness, LimitedBy::Yield, LimitedBy::Marking];

/// What a step leaves under some force, and every step after it.
pub(in crate::process) struct Left<'a> {
    pub case: &'a Case,
    pub step: usize,
    /// Sections of the finished part that each surface is judged by: of a slice the one there is.
    pub sections: &'a dyn Fn(Surface) -> Vec<&'a Radii>,
    /// Largest stress over yield strength; 0 where that is not known.
    pub yields: f64,
    /// What presses in the step, before its cuts and after.
    pub states: [Option<&'a [Contact]>; 2],
    pub grip: &'a GripOutcome,
}

impl Trial {
    /// What a step leaves, held against the limits.
    ///
    /// # Errors
    /// [`ProcessError`] if a surface cannot be measured.
    pub fn of(factor: f64, left: &Left) -> Result<Self, ProcessError> {
        let case = left.case;
        let mut worst: Option<f64> = None;
        for surface in Surface::BOTH {
            if case.last_to_cut(surface) != Some(left.step) {
                continue;
            }
            for section in (left.sections)(surface) {
                if let Some(found) = roundness(case, section, surface)? {
                    let share = found.roundness / found.limit;
                    worst = Some(worst.map_or(share, |w| w.max(share)));
                }
            }
        }
        let strength = case.part.material.yield_strength;
        let contacts = left.states.into_iter().flatten().flatten();
        let marking = marking::of(case, left.step, contacts).map(|m| m.pressure / m.limit);
        Ok(Self {
            factor,
            slip: left.grip.safety.map(|s| s.map(|x| 1.0 / x)),
            shares: [worst, strength.map(|_| left.yields), marking],
        })
    }

    /// The limit from above that is used up most.
    pub fn above(&self) -> Option<(f64, LimitedBy)> {
        let all = self.shares.iter().zip(ABOVE);
        all.filter_map(|(share, by)| Some((share.as_ref().copied()?, by)))
            .max_by(|a, b| a.0.total_cmp(&b.0))
    }
}
