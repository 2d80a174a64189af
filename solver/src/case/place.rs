//! Where in a case something was met: enough to name its key, and to find its line in the file that the case came from.

use std::fmt;

/// A place in a case. Indices count from 0, as in key paths.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
#[non_exhaustive]
pub enum Place {
    /// No one place.
    #[default]
    Unknown,
    /// The part.
    Part,
    /// The list of steps.
    Steps,
    /// A step.
    Step(usize),
    /// What holds the part in a step.
    HoldOfStep(usize),
    /// A scheme of a hold, or one parameter of it.
    Scheme {
        /// Name of the hold.
        hold: String,
        /// Index of the scheme in it.
        scheme: usize,
        /// Key of the parameter.
        parameter: Option<String>,
    },
    /// The diameter of a cut.
    CutDiameter {
        /// Index of the step.
        step: usize,
        /// Index of the cut in it.
        cut: usize,
    },
    /// The force of the tool of a cut.
    CutForce {
        /// Index of the step.
        step: usize,
        /// Index of the cut in it.
        cut: usize,
    },
}

impl Place {
    /// Whether it is no place at all.
    pub(crate) fn is_unknown(&self) -> bool {
        *self == Place::Unknown
    }
}

/// The key path, e.g. `step[0].cut[0].diameter`; empty for no one place.
impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Place::Unknown => Ok(()),
            Place::Part => f.write_str("part"),
            Place::Steps => f.write_str("step"),
            Place::Step(step) => write!(f, "step[{step}]"),
            Place::HoldOfStep(step) => write!(f, "step[{step}].hold"),
            Place::Scheme {
                hold,
                scheme,
                parameter,
            } => {
                write!(f, "hold.{hold}[{scheme}]")?;
                match parameter {
                    Some(key) => write!(f, ".{key}"),
                    None => Ok(()),
                }
            }
            Place::CutDiameter { step, cut } => write!(f, "step[{step}].cut[{cut}].diameter"),
            Place::CutForce { step, cut } => write!(f, "step[{step}].cut[{cut}].radial_force"),
        }
    }
}
