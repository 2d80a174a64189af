//! The linear system of one body: sparsity pattern, analysis, assembly, factor, solve.
//!
//! [`Analysis`] is made once for a topology and holds no numbers; any number of numeric factors ([`Cholesky`]) of any [`Operator`]
//! with as many unknowns a node share it. A round ring is factored by [`Substructured`] instead. Loads and wanted values of contact
//! lie on few nodes: [`Factor::reduce`] and [`Factor::partial_solve`] touch only the part of the factor that those reach.

mod analysis;
mod arcs;
mod block_diagonal;
mod cholesky;
mod constraint;
mod factor;
mod iterate;
mod operator;
mod order;
mod sparsity;
mod substructured;
#[cfg(test)]
mod tests;

pub use analysis::Analysis;
pub(crate) use arcs::{are_shared, collected, over_arcs};
pub use block_diagonal::BlockDiagonal;
pub use cholesky::Cholesky;
pub use constraint::{PointConstraint, rigid_body_constraints};
pub use factor::{Factor, NodeForce, Reduced, Wanted};
pub(crate) use iterate::{
    Advance, Elements, Iterate, MOST_STEPS, SETTLED, add_to, inner, is_settled, solve_near, square,
};
pub use operator::{HarmonicStiffness, Operator, Stiffness, internal_forces};
pub use sparsity::SparsityPattern;
pub use substructured::Substructured;

/// A linear system that cannot be built or solved.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum LinearError {
    /// An inverted element: its map from the reference square is not one to one.
    #[error(
        "near x = {:.4}, y = {:.4} mm the wall is too thin, or its surfaces too steep, for elements to be laid through it",
        at[0], at[1]
    )]
    InvertedElement {
        /// Column of the element.
        column: usize,
        /// Layer of the element.
        layer: usize,
        /// A corner of it, mm.
        at: [f64; 2],
    },
    /// The factorisation met a pivot that is not positive. Point constraints hold the rigid-body modes, so that is rounding: bending of a wall a
    /// thousandth of its radius is softer than its stretching by more than the digits of a double.
    #[error(
        "the wall is too thin for its radius: its bending is lost in the rounding of the arithmetic"
    )]
    NotPositive {
        /// Unknown in elimination order.
        unknown: usize,
    },
    /// So many columns are of a width of their own that the sparse factor takes less memory than substructuring.
    #[error("too few columns of the mesh are alike to factor it by substructuring")]
    ManySubstructures,
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
