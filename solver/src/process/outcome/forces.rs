//! A force that was found from what the held ring shows.

use crate::grip::Band;

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
