//! The linear system of one section: pattern, assembly, factor, solve.
//!
//! [`Layout`] is made once for a lattice; [`Cholesky`] holds one factor and reuses the symbolic part when the
//! nodes move. Loads and wanted values of contact lie on few nodes: [`Factor::reduce`] and [`Factor::respond`] touch
//! only the part of the factor that those reach.

mod cholesky;
mod factor;
mod order;
mod repeated;
mod several;
mod stiffness;

pub use cholesky::Cholesky;
pub use factor::{Factor, NodeForce, Reduced, Wanted};
pub use repeated::Repeated;
pub use several::Several;
pub use stiffness::{Layout, rigid_pins};

/// A linear system that cannot be built or solved.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum LinearError {
    /// An element's map from the reference square is not one to one.
    #[error("the mesh folds in column {column}, layer {layer}, near x = {:.4}, y = {:.4} mm", at[0], at[1])]
    Folded {
        /// Column of the element.
        column: usize,
        /// Layer of the element.
        layer: usize,
        /// A corner of it, mm.
        at: [f64; 2],
    },
    /// The factorisation met a pivot that is not positive: a motion is left free.
    #[error("the stiffness is not positive at unknown {unknown}: something is left loose")]
    NotPositive {
        /// Unknown in elimination order.
        unknown: usize,
    },
    /// The solution does not satisfy the equations.
    #[error(
        "the factor is not good enough: relative residual {residual:.1e}, allowed {allowed:.1e}"
    )]
    Residual {
        /// What was found.
        residual: f64,
        /// What is allowed.
        allowed: f64,
    },
}
