//! How far a run is, told to whoever watches it, who may end it.
//!
//! The solver reads no clock and knows no signals: it says where it is at every round of contact and every iteration of a cut, and
//! ends as soon as its [`Watch`] says so.

use std::fmt;
use std::sync::atomic::{AtomicU64, Ordering};

/// Where a run is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Progress {
    /// The step, from 1.
    pub step: usize,
    /// Steps of the case.
    pub steps: usize,
    /// What the step is solved for.
    pub aim: Aim,
    /// The state of the part that is being found.
    pub state: State,
    /// Elements round and through; 0 while there is no mesh.
    pub mesh: [usize; 2],
    /// Round of the contact search, from 1; 0 before the first.
    pub round: usize,
}

/// What a step is solved for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Aim {
    /// The answer itself.
    Answer,
    /// The worst way to turn the part in its hold.
    Turning,
    /// The force under which the held ring shows what was read off it.
    Squeeze,
    /// What other forces or a larger cut would do.
    Advice,
}

/// A state of the part in a step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum State {
    /// Held, nothing cut yet.
    Held,
    /// Being cut: cut and iteration of its outline, both from 1.
    Cut {
        /// The cut.
        cut: usize,
        /// Cuts of the step.
        cuts: usize,
        /// Iteration of the outline of this cut.
        iteration: usize,
    },
}

impl fmt::Display for Progress {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "step {} of {}", self.step, self.steps)?;
        f.write_str(match self.aim {
            Aim::Answer => "",
            Aim::Turning => " (trying how the part is turned)",
            Aim::Squeeze => " (finding the force from squeeze)",
            Aim::Advice => " (trying other forces)",
        })?;
        match self.state {
            State::Held => f.write_str(", held")?,
            State::Cut {
                cut,
                cuts,
                iteration,
            } => write!(f, ", cut {cut} of {cuts}, iteration {iteration}")?,
        }
        let [around, through] = self.mesh;
        if around * through > 0 {
            write!(f, ", mesh {around} x {through}")?;
        }
        write!(f, ", contact round {}", self.round)
    }
}

/// Why a run is ended from outside.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stop {
    /// Somebody does not want it any more.
    Interrupted,
    /// The time allowed has passed.
    TimeLimit,
    /// The work that is taken on without a time limit is done.
    WorkLimit,
}

/// Who watches a run. It is asked from any thread, many times a second.
pub trait Watch: Sync {
    /// Hears where the run is.
    ///
    /// # Errors
    /// Why the run is to end.
    fn at(&self, progress: &Progress) -> Result<(), Stop>;

    /// Hears that so many cases of a search are solved.
    fn solved(&self, _cases: usize) {}

    /// Whether it will end the run in time by itself.
    fn limits_time(&self) -> bool {
        false
    }
}

/// Nobody: a run ends when it is done.
#[derive(Clone, Copy, Debug, Default)]
pub struct Unwatched;

impl Watch for Unwatched {
    fn at(&self, _: &Progress) -> Result<(), Stop> {
        Ok(())
    }
}

/// Ends a run that nobody limits in time after so much work, counted in elements times rounds of contact: a count, so that the same
/// case ends at the same place on every machine.
pub(crate) struct Bounded<'a> {
    watch: &'a dyn Watch,
    work: AtomicU64,
    most: u64,
}

impl<'a> Bounded<'a> {
    pub(crate) fn new(watch: &'a dyn Watch, most: u64) -> Self {
        Self {
            watch,
            work: AtomicU64::new(0),
            most,
        }
    }
}

impl Watch for Bounded<'_> {
    fn at(&self, progress: &Progress) -> Result<(), Stop> {
        self.watch.at(progress)?;
        let [around, through] = progress.mesh;
        let elements = (around * through) as u64;
        let work = self.work.fetch_add(elements, Ordering::Relaxed) + elements;
        if work > self.most && !self.watch.limits_time() {
            return Err(Stop::WorkLimit);
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_in_a_run_is_told_in_one_line() {
        let mut at = Progress {
            step: 1,
            steps: 2,
            aim: Aim::Answer,
            state: State::Held,
            mesh: [96, 4],
            round: 3,
        };
        assert_eq!(
            at.to_string(),
            "step 1 of 2, held, mesh 96 x 4, contact round 3"
        );
        at.aim = Aim::Advice;
        at.state = State::Cut {
            cut: 2,
            cuts: 3,
            iteration: 7,
        };
        assert_eq!(
            at.to_string(),
            "step 1 of 2 (trying other forces), cut 2 of 3, iteration 7, mesh 96 x 4, contact round 3"
        );
    }

    /// Three rounds on a hundred elements are within three hundred, a fourth is not; who limits the time is not bounded so.
    #[test]
    fn work_is_bounded_unless_time_is() {
        struct Timed;
        impl Watch for Timed {
            fn at(&self, _: &Progress) -> Result<(), Stop> {
                Ok(())
            }
            fn limits_time(&self) -> bool {
                true
            }
        }
        let at = Progress {
            step: 1,
            steps: 1,
            aim: Aim::Answer,
            state: State::Held,
            mesh: [25, 4],
            round: 1,
        };
        let bounded = Bounded::new(&Unwatched, 300);
        assert!((0..3).all(|_| bounded.at(&at).is_ok()));
        assert_eq!(bounded.at(&at), Err(Stop::WorkLimit));
        let timed = Bounded::new(&Timed, 300);
        assert!((0..9).all(|_| timed.at(&at).is_ok()));
    }
}
