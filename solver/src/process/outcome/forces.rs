//! Forces of a solved case: what it sets, what was found, and what others would do.

use crate::geometry::Surface;
use crate::grip::Band;

/// What other forces would do about a roundness that misses its limit, found by solving again from the step at fault to the last. That
/// a force holds the part in the frictionless model says nothing of the grip.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Advice {
    /// Index of the step whose forces are meant: the last that cuts the surface or, where no force shapes the part in that, the nearest
    /// before it that cuts under a force.
    pub step: usize,
    /// Of the surfaces that it leaves out of round, the one that is worst against its limit.
    pub surface: Surface,
    /// Whether anything in the step is set by a force.
    pub by_force: bool,
    /// The largest whole percentage of all forces of the step that meets the limits, from [`LEAST_SHARE`] up.
    pub whole_hold: Option<Recomputed>,
    /// The best force of one scheme while the others stay as the case has them; `None` where that does not help much.
    pub one_scheme: Option<Recomputed>,
    /// What [`LEAST_SHARE`] of all forces leaves, if that misses the limits too.
    pub least: Option<Recomputed>,
}

/// Less than this share of the forces asked for is never offered: so little holds nothing in a lathe.
pub const LEAST_SHARE: f64 = 0.1;

/// A step solved again with other forces, and all steps after it.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Recomputed {
    /// Factor on the forces.
    pub factor: f64,
    /// The forces that were changed, as they then are set.
    pub forces: Vec<SetForce>,
    /// Roundness of the surface that is then worst against its limit, mm.
    pub roundness: f64,
    /// The limit of that surface, mm.
    pub limit: f64,
    /// Whether the part then passes yield, as far as a yield strength is known.
    pub yields: bool,
    /// What one of the bodies that are set carries on average after the cut, N; `None` where nothing is cut or no body is set.
    pub left_after_cut: Option<f64>,
}

/// What the case sets the bodies or loads of one scheme to.
#[derive(Clone, Debug, PartialEq)]
pub struct SetForce {
    /// What one of them is called: jaw, screw, patch, end plate.
    pub called: String,
    /// How many there are.
    pub count: usize,
    /// Least and largest force of one, N.
    pub each: [f64; 2],
}

/// The force of one scheme, found from what the ring shows under it: see [`Supports::squeeze`](crate::scheme::Supports::squeeze).
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct FromSqueeze {
    /// What one of its bodies is called: jaw, screw.
    pub called: String,
    /// How many there are.
    pub count: usize,
    /// What the ring shows, mm.
    pub squeeze: Band,
    /// The force of one of them, N, on average, before the step takes its share of it: at the reading and at the ends of its band.
    pub force: Band,
}
