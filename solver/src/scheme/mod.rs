//! The one door through which a load case enters: a holding scheme says what touches the part, where, how it
//! pushes and what it can give. It does not solve; the solver alone decides what actually touches.

mod bounds;
mod check;
mod grip;
mod loose;
mod magnitude;
mod placing;
mod registry;
mod squeeze;
mod supports;
mod values;

pub use bounds::{Bounds, number_in_words};
pub use check::{Unsound, ask, impossible};
pub use grip::{GRIP, grip_of, is_reserved};
pub use loose::{Loose, loose};
pub(crate) use magnitude::MOST_LOADS;
pub(crate) use magnitude::few;
pub use magnitude::{Absurd, MOST_BODIES};
pub use placing::Placing;
pub(crate) use placing::period;
pub use registry::{Elsewhere, Registry};
pub use squeeze::{OneReading, SQUEEZE, squeezed};
pub use supports::{
    AfterClamping, Body, Drive, EndClamp, EndCondition, Face, Pairs, PointForce, PressurePatch,
    Push, Section, SetBy, SetByKind, Sleeve, Supports, WinklerLayer,
};
pub use values::{
    FRICTION_WORDS, Limits, Need, Parameter, ParameterKind, Planned, Text, UNIT_FORCE, UNKNOWN,
    Value, Values, Words,
};

/// More than one of what a noun names: "jaws", "patches", "bodies".
pub fn plural(noun: &str) -> String {
    match noun.strip_suffix('y') {
        Some(stem) => format!("{stem}ies"),
        None if noun.ends_with(['s', 'x']) || noun.ends_with("ch") => format!("{noun}es"),
        None => format!("{noun}s"),
    }
}

/// Why a scheme cannot be built from the values given.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("{message}")]
pub struct SchemeError {
    /// The parameter at fault, if one is.
    pub parameter: Option<String>,
    /// What is wrong and what would be right.
    pub message: String,
}

/// What the outside program of a scheme did when it failed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ProgramFailure {
    /// What it did, without its name: "gave no answer in 10 s".
    pub did: String,
    /// Why it could not be started again; `None` if it is at work.
    pub down: Option<String>,
}

/// A way of the trade to hold a ring that needs no scheme of its own.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Recipe {
    /// What a shop calls it.
    pub name: &'static str,
    /// How it is modelled and what that leaves out, one or two lines.
    pub about: &'static str,
    /// A case file that shows it and must run.
    pub example: &'static str,
}

/// A way to hold a ring.
pub trait HoldingScheme: Send + Sync {
    /// Name used in case files, lower case with hyphens.
    fn name(&self) -> &str;
    /// One line for lists.
    fn summary(&self) -> &str;
    /// What one of its bodies is called in messages: jaw, screw.
    fn body_name(&self) -> &str {
        "body"
    }
    /// Parameters in the order they are shown.
    fn parameters(&self) -> &[Parameter];
    /// Whether it presses on a surface along the part, over a stretch that a case may set by the keys of [`GRIP`]. Plates on the ends
    /// do not.
    fn grips_along(&self) -> bool {
        true
    }
    /// The command of the outside program that answers for it, if one does. What such a scheme cannot answer, or
    /// answers impossibly, is that program's failure and not the case file's.
    fn program(&self) -> Option<&str> {
        None
    }
    /// Starts its outside program again if that failed, and says what it had done; `None` if there is no program or it is at work.
    /// For the conformance kit alone, which goes on after a fault: in a run a program that failed stays what it is.
    fn restart(&self) -> Option<ProgramFailure> {
        None
    }
    /// Keys of which a case must give one: a size by its width or its arc, say. What is missing is said all at once.
    fn needs(&self) -> &[Need] {
        &[]
    }
    /// Keys and words that are not supported yet: a case that uses one is refused by name.
    fn planned(&self) -> &[Planned] {
        &[]
    }
    /// A small case file that uses the scheme and must run.
    fn example(&self) -> &str;
    /// Ways of the trade to hold a ring that are written with this scheme.
    fn recipes(&self) -> &[Recipe] {
        &[]
    }
    /// Bodies, loads and drive for a nominal section. `values` has passed the checks of `parameters`: callers go through
    /// [`ask`], which sees to it and checks the reply.
    ///
    /// # Errors
    /// When the values cannot be used together, naming the parameter at fault.
    fn supports(&self, section: &Section, values: &Values) -> Result<Supports, SchemeError>;
}
