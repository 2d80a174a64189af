//! Contact as a convex quadratic programme. It knows pressures, their gaps and what drives them; of a body it knows what
//! [`Elastic`](super::elastic::Elastic) says, and of geometry nothing.
//!
//! With pressures `p >= 0`, driven degrees of freedom `d` and rigid-body modes `q` the weighted gaps are `g = g0 + C p - A d + T q >= 0`,
//! `p . g = 0`, with `A' p = F` for driven degrees of freedom and `T' p = -(resultant of the dead loads)`. These and the modes are the multipliers
//! of those two equalities in `min ½ p'Cp + g0'p` over `p >= 0`; `C` is positive definite, so the pressures are unique.
//! [`programme`] states it, [`gram`] holds the compliances that were asked for and keeps them from solve to solve, `search` looks for the
//! active pressures, `equilibrium` solves with them.

mod dense;
mod equilibrium;
mod feasible;
mod gram;
mod programme;
mod search;
#[cfg(test)]
mod tests;

pub(super) use gram::Gram;
pub(super) use programme::{DriveDof, Prescribed, Programme, RESIDUAL_TOLERANCE, Row, Solution};
pub(super) use search::Unsolved;
