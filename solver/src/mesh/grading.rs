//! Where the columns and layers end: equal between given angles, or graded towards some of them.

use std::f64::consts::TAU;

/// An angle that must be a column end, and how fine the columns beside it are.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Grading {
    /// The angle, rad.
    pub angle: f64,
    /// Size of the columns that touch it, rad; `f64::INFINITY` for no refinement.
    pub size: f64,
}
