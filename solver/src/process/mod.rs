//! Hold, cut, release, inspect: the main job.

mod outcome;

pub use outcome::*;
