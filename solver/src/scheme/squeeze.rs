//! Which scheme of a hold has its force found from what the ring shows: one at most, for the ring shows one reading.

use super::Supports;

/// Key of a reading that the forces of a scheme are found from, see [`Supports::squeeze`].
pub const SQUEEZE: &str = "squeeze";

/// Why no force can be found from the readings of a hold.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum OneReading {
    /// Two schemes are set by one.
    #[error(
        "an earlier scheme of this hold is set by squeeze too, and the ring shows one reading; give the force of one of them"
    )]
    Twice,
    /// The part is solved along its length.
    #[error(
        "the force is not found from squeeze along the length yet; give a force, or leave out [tube], and a slice stands for the part"
    )]
    Along,
}

/// The scheme of a hold that is set by what the ring shows, if one is; `along` says that the part is solved along its length.
///
/// # Errors
/// The scheme at fault, and why.
pub fn squeezed<'s>(
    hold: impl IntoIterator<Item = &'s Supports>,
    along: bool,
) -> Result<Option<usize>, (usize, OneReading)> {
    let mut asks = hold
        .into_iter()
        .enumerate()
        .filter(|(_, s)| s.squeeze.is_some())
        .map(|(member, _)| member);
    match (asks.next(), asks.next()) {
        (Some(_), Some(second)) => Err((second, OneReading::Twice)),
        (Some(first), None) if along => Err((first, OneReading::Along)),
        (first, _) => Ok(first),
    }
}
