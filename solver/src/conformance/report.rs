//! What the kit has to say of a scheme.

use super::{Check, Fault};

/// How one check came out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// It was made and found nothing.
    Sound,
    /// It found a fault.
    Faulty,
    /// It was not made, or not to its end, because of a fault of another check.
    LeftOut,
}

/// What the kit has to say of a scheme.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Report {
    /// What is wrong, in the order it was found; nothing if the scheme conforms.
    pub faults: Vec<Fault>,
    /// What its author may want to know and is no fault, one line each.
    pub notes: Vec<String>,
    /// The checks made to their end.
    made: Vec<Check>,
}

impl Report {
    /// How a check came out. One that was not made is not sound.
    pub fn verdict(&self, check: Check) -> Verdict {
        if self.faults.iter().any(|f| f.check() == check) {
            Verdict::Faulty
        } else if self.made.contains(&check) {
            Verdict::Sound
        } else {
            Verdict::LeftOut
        }
    }

    /// Takes down that a check was made to its end.
    pub(super) fn made(&mut self, check: Check) {
        self.made.push(check);
    }

    /// Takes down what a check made to its end has found.
    pub(super) fn add(&mut self, check: Check, faults: Vec<Fault>) {
        self.made(check);
        self.faults.extend(faults);
    }
}
