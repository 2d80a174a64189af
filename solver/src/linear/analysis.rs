//! Symbolic analysis: what a sparse factor takes from the topology alone.

use std::ops::Range;

use faer::dyn_stack::StackReq;
use faer::sparse::SymbolicSparseColMatRef;
use faer::sparse::linalg::SupernodalThreshold;
use faer::sparse::linalg::cholesky::supernodal::{
    SymbolicSupernodalCholesky, factorize_supernodal_numeric_llt_scratch,
};
use faer::sparse::linalg::cholesky::{
    CholeskySymbolicParams, SymbolicCholesky, SymbolicCholeskyRaw, SymmetricOrdering,
    factorize_symbolic_cholesky,
};
use faer::{Par, Side, perm::PermRef};

use super::SparsityPattern;
use super::factor::BlockId;
use crate::mesh::Topology;

/// Elimination order, sparsity pattern and symbolic factor of operators with `D` unknowns a node on one topology.
///
/// It holds no number of any operator, so as many numeric factors as wanted share one, each with its own coordinates, material and
/// point constraints.
#[derive(Debug)]
pub struct Analysis<const D: usize = 2> {
    pattern: SparsityPattern<D>,
    symbolic: SymbolicCholesky<usize>,
    /// Supernode of each unknown.
    supernode_of: Vec<BlockId>,
    /// Supernode that comes next on the way to the root; itself at a root.
    parent: Vec<BlockId>,
}

impl<const D: usize> Analysis<D> {
    /// Analyses a topology.
    pub fn new(topology: &Topology) -> Self {
        let pattern = SparsityPattern::new(topology);
        let n = pattern.unknowns();
        // the unknowns are in elimination order already; `SymmetricOrdering::Identity` would have the analysis
        // read the upper triangle, so the identity is passed as an explicit permutation
        let identity: Vec<usize> = (0..n).collect();
        let params = CholeskySymbolicParams {
            supernodal_flop_ratio_threshold: SupernodalThreshold::FORCE_SUPERNODAL,
            ..Default::default()
        };
        let order = SymmetricOrdering::Custom(PermRef::new_checked(&identity, &identity, n));
        let symbolic = factorize_symbolic_cholesky(columns(&pattern), Side::Lower, order, params)
            .expect("the analysis fits in memory");
        let (supernode_of, parent) = tree(supernodal(&symbolic), n);
        // the columns of a node have one structure, so that the analysis never parts them; partial solves rely on it
        assert!(
            supernode_of
                .chunks_exact(D)
                .all(|node| node.iter().all(|s| *s == node[0]))
        );
        Self {
            pattern,
            symbolic,
            supernode_of,
            parent,
        }
    }

    /// Where the entries of an operator go.
    pub fn pattern(&self) -> &SparsityPattern<D> {
        &self.pattern
    }

    /// Number of values of a numeric factor.
    pub fn factor_entries(&self) -> usize {
        self.symbolic.len_val()
    }

    /// Number of supernodes.
    pub(super) fn supernodes(&self) -> usize {
        self.parent.len()
    }

    /// Supernode that eliminates the unknowns of a node.
    pub(super) fn supernode_of(&self, node: usize) -> BlockId {
        self.supernode_of[self.pattern.unknown(node, 0)]
    }

    /// Supernode that follows on the way to the root; the root is its own.
    pub(super) fn parent(&self, supernode: BlockId) -> BlockId {
        self.parent[supernode.index()]
    }

    /// Unknowns that a supernode eliminates.
    pub(super) fn unknowns_of(&self, supernode: BlockId) -> Range<usize> {
        let (symbolic, s) = (self.symbolic(), supernode.index());
        symbolic.supernode_begin()[s]..symbolic.supernode_end()[s]
    }

    /// The rows of a supernode below its own.
    pub(super) fn rows_below(&self, supernode: BlockId) -> &[usize] {
        self.symbolic().supernode(supernode.index()).pattern()
    }

    /// Where the values of a supernode start in a numeric factor.
    pub(super) fn values_start(&self, supernode: BlockId) -> usize {
        self.symbolic().col_ptr_for_val()[supernode.index()]
    }

    pub(super) fn symbolic(&self) -> &SymbolicSupernodalCholesky<usize> {
        supernodal(&self.symbolic)
    }

    /// The pattern as the numeric factorisation reads it.
    pub(super) fn columns(&self) -> SymbolicSparseColMatRef<'_, usize> {
        columns(&self.pattern)
    }

    /// Working memory of a numeric factorisation.
    pub(super) fn scratch(&self) -> StackReq {
        factorize_supernodal_numeric_llt_scratch::<usize, f64>(
            self.symbolic(),
            Par::Seq,
            Default::default(),
        )
    }
}

fn columns<const D: usize>(pattern: &SparsityPattern<D>) -> SymbolicSparseColMatRef<'_, usize> {
    let n = pattern.unknowns();
    SymbolicSparseColMatRef::new_checked(n, n, pattern.offsets(), None, pattern.rows())
}

fn supernodal(symbolic: &SymbolicCholesky<usize>) -> &SymbolicSupernodalCholesky<usize> {
    match symbolic.raw() {
        SymbolicCholeskyRaw::Supernodal(s) => s,
        SymbolicCholeskyRaw::Simplicial(_) => unreachable!("the supernodal path is forced"),
    }
}

/// Supernode of each unknown, and the supernode that follows each on the way to the root.
fn tree(
    symbolic: &SymbolicSupernodalCholesky<usize>,
    unknowns: usize,
) -> (Vec<BlockId>, Vec<BlockId>) {
    let count = symbolic.n_supernodes();
    let mut supernode_of = vec![BlockId::new(0); unknowns];
    for s in 0..count {
        supernode_of[symbolic.supernode_begin()[s]..symbolic.supernode_end()[s]]
            .fill(BlockId::new(s));
    }
    let parent = (0..count)
        .map(|s| {
            symbolic
                .supernode(s)
                .pattern()
                .first()
                .map_or(BlockId::new(s), |&row| supernode_of[row])
        })
        .collect();
    (supernode_of, parent)
}
