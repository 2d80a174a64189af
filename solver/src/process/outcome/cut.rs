//! What a cut did.

use crate::geometry::Surface;
use crate::metrology::Harmonic;

/// What one cut did.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct CutOutcome {
    /// Surface cut.
    pub surface: Surface,
    /// Diameter of the tool's circle, mm.
    pub diameter: f64,
    /// Share of the reference angle that the tool reached, 0 to 1.
    pub cleaned_up: f64,
    /// Least depth along the radius in the reference body, mm (0 where low spots stay).
    pub depth_min: f64,
    /// Largest depth, mm.
    pub depth_max: f64,
    /// Further diameter change that would clean up the whole surface, mm; 0 when it is clean.
    pub stock_to_clean_up: f64,
    /// What the force of the tool did; `None` of a cut without one.
    pub tool_dip: Option<ToolDip>,
}

/// How the wall gave way to the force of a tool, and what of the roundness left is its doing.
///
/// The force acts along the radius away from the tool, outwards in a bore and inwards on the outside, as a uniform pressure over a degree
/// either side of it, while all bodies of the hold stay where they are. Angles are reference angles of the part.
#[derive(Clone, Debug, Default, PartialEq)]
#[non_exhaustive]
pub struct ToolDip {
    /// Force of the tool, N.
    pub force: f64,
    /// Angles of the tool, rad: 72 equal ones from 0.
    pub angles: Vec<f64>,
    /// How far the wall moves along the force, at the tool, on the part as it is held before the cut, mm.
    pub dip: Vec<f64>,
    /// The same on the finished body: what the shape of the cut follows.
    pub finished: Vec<f64>,
    /// Change of the force of each body of the hold along its axis while the tool is at each of the angles, on the part before the cut, N.
    pub reactions: Vec<Vec<f64>>,
    /// Lobes that the tool alone leaves: those of its circle with the dip of the finished body.
    pub lobes: Vec<Harmonic>,
    /// Out-of-roundness of that about its least-squares circle, mm: the tool's share.
    pub roundness: f64,
    /// Out-of-roundness of what the cut leaves less the dip, mm: the clamp's share.
    pub roundness_by_clamp: f64,
    /// Out-of-roundness of what the cut leaves, mm. Lobes of tool and clamp may add up or take from each other, so the two shares need not
    /// make up this.
    pub roundness_left: f64,
    /// A body (from 1 over the whole hold) that the tool takes all load off, and the angle of the tool, rad, if there is one.
    pub comes_off: Option<(usize, f64)>,
}

/// Estimated errors of a [`CutOutcome`].
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[non_exhaustive]
pub struct CutError {
    /// Share of the reference angle.
    pub cleaned_up: f64,
    /// Of the least and the largest depth, mm.
    pub depth: f64,
    /// mm.
    pub stock_to_clean_up: f64,
    /// Of the dips under the tool, mm; `None` of a cut without its force.
    pub tool_dip: Option<f64>,
}
