//! A hold whose bodies are locked, and what a tool does to the part between them.
//!
//! Once the part is clamped nothing drives a body any further: it stays where it is, layers and mounts keep their springs, and dead loads,
//! being constant, change nothing. Contact stays what it is, pressure that cannot pull and gaps that cannot close beyond nothing: under a tool force
//! its zones move a little. What was active in the hold is eliminated first as if it could pull. With `C` the compliances between active
//! pressures, `T` their work on the rigid-body modes, `c` what a unit load does to them and `t` its own work on the modes, no active gap changes and the forces
//! balance when
//!
//! `C p + T q = -c`, `T' p = -t`
//!
//! for the changes `p` of the pressures and the motion `q` of the part (derived here: the equilibrium of `quadratic`, differentiated), and
//! whatever is read moves by `u = C_u + C_ua p + T_u q`. That is the answer to forces so small that no zone moves. What changes its state under a force
//! is solved for on top of it (`pivots`), at each place by itself, with nothing but the changes as unknowns.
//!
//! A motion that nothing restrains and no tool force drives, turning about the axis among them, does not come into it: pressures act along the
//! radius. A tool force is a uniform pressure over a narrow arc, whose resultant is the force (`2 b R p sin(half angle)`). It pushes the metal
//! away: outwards in a bore, inwards on the outside.

mod bilateral;
mod outline;
mod pivots;
mod places;
mod solve;

pub(super) use outline::OutlineAdds;
pub use outline::OutlineFactors;
pub use places::{Tool, ToolPlaces};
pub(super) use solve::LockedDofs;
pub(super) use solve::PressedBy;

use nalgebra::DMatrix;

use super::ContactError;

/// Share of the pressure that must act across the line of the rest for a hold to take a tool force that way: pads that touch over three
/// degrees either side of one diameter have 0.0009.
pub(crate) const HARDLY_HELD: f64 = 1e-3;

/// What a tool force does to a part whose hold is locked, at each of its places.
#[derive(Clone, Debug)]
pub struct LockedResponse {
    /// Force of the tool, N.
    pub force: f64,
    /// Displacement along it at the middle of the tool, mm.
    pub dip: Vec<f64>,
    /// Change of the force of each body along its axis (row) with the tool at each place (column), N.
    pub reactions: DMatrix<f64>,
    /// Displacement along the force at the middle of each place (row) under 1 N at each (column) that moves no contact zone, mm/N.
    pub middles: DMatrix<f64>,
    /// The same as the work of 1 N spread as the tool's over each place: symmetric, by Betti's reciprocity.
    pub works: DMatrix<f64>,
    /// Changes of the forces of the bodies by such a force, N/N.
    pub forces: DMatrix<f64>,
    /// A body that a tool force takes all load off, and where the tool is then, by place.
    pub comes_off: Option<ComesOff>,
}

/// A body that presses in the hold and no longer does under the tool.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ComesOff {
    /// The body, from 0 over the whole hold.
    pub body: usize,
    /// Where the tool is, by place.
    pub place: usize,
}

/// Nothing that is locked takes a tool force along some line, rad.
fn not_resisted(across: Option<f64>) -> ContactError {
    let deg = |a: f64| (10.0 * a.to_degrees()).round().rem_euclid(1800.0) / 10.0;
    ContactError::ToolNotResisted {
        across_deg: across.map(deg),
    }
}
