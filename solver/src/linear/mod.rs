//! The linear system of one section: pattern, assembly, factor, solve.
//!
//! [`Layout`] is made once for a lattice; [`Cholesky`] holds one factor and reuses the symbolic part when the
//! nodes move. Loads and wanted values of contact lie on few nodes: [`Factor::reduce`] and [`Factor::respond`] touch
//! only the part of the factor that those reach.

mod cholesky;
mod factor;
mod operator;
mod order;
mod repeated;
mod several;
mod stiffness;

pub use cholesky::Cholesky;
pub use factor::{Factor, NodeForce, Reduced, Wanted};
pub use operator::internal_forces;
pub use repeated::Repeated;
pub use several::Several;
pub use stiffness::{Layout, rigid_pins};

/// A linear system that cannot be built or solved.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum LinearError {
    /// An element's map from the reference square is not one to one.
    #[error(
        "near x = {:.4}, y = {:.4} mm the wall is too thin, or its surfaces too steep, for elements to be laid through it",
        at[0], at[1]
    )]
    Folded {
        /// Column of the element.
        column: usize,
        /// Layer of the element.
        layer: usize,
        /// A corner of it, mm.
        at: [f64; 2],
    },
    /// The factorisation met a pivot that is not positive. Rigid motions are pinned, so that is rounding: bending of a wall a
    /// thousandth of its radius is softer than its stretching by more than the digits of a double.
    #[error(
        "the wall is too thin for its radius: its bending is lost in the rounding of the arithmetic"
    )]
    NotPositive {
        /// Unknown in elimination order.
        unknown: usize,
    },
    /// So many columns are of a width of their own that the sparse factor takes less memory.
    #[error("too few columns of the mesh are alike to factor it from repeated pieces")]
    ManyPieces,
    /// The solution does not satisfy the equations.
    #[error(
        "the equations are solved to {residual:.1e} of the loads only, {allowed:.1e} is trusted: the wall is too thin for its \
         radius, or the mesh too fine for it"
    )]
    Residual {
        /// What was found.
        residual: f64,
        /// What is allowed.
        allowed: f64,
    },
}
