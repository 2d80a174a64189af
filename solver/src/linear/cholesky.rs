//! Supernodal sparse Cholesky through faer's low-level interface, and solves that touch only part of the factor.

use std::ops::Range;
use std::sync::Arc;

use faer::dyn_stack::{MemBuffer, MemStack};
use faer::linalg::cholesky::llt::factor::LltError;
use faer::sparse::linalg::SupernodalThreshold;
use faer::sparse::linalg::cholesky::supernodal::{
    SymbolicSupernodalCholesky, factorize_supernodal_numeric_llt,
    factorize_supernodal_numeric_llt_scratch,
};
use faer::sparse::linalg::cholesky::{
    CholeskySymbolicParams, SymbolicCholesky, SymbolicCholeskyRaw, SymmetricOrdering,
    factorize_symbolic_cholesky,
};
use faer::sparse::{SparseColMatRef, SymbolicSparseColMatRef};
use faer::{Par, Side, perm::PermRef};

use super::factor::{Elimination, dot};
use super::{Layout, LinearError};
use crate::element::PlaneStress;
use crate::mesh::Mesh;

/// A factored stiffness matrix `K = L L'`, pins included.
pub struct Cholesky {
    layout: Arc<Layout>,
    symbolic: SymbolicCholesky<usize>,
    values: Vec<f64>,
    /// Lower triangle of `K`, pinned rows and columns replaced.
    stiffness: Vec<f64>,
    /// What the pins replaced: `(row, column, value)`.
    taken: Vec<(usize, usize, f64)>,
    /// Supernode of each unknown.
    supernode_of: Vec<u32>,
    /// Supernode that comes next on the way to the root; itself at a root.
    parent: Vec<u32>,
    memory: MemBuffer,
    /// The processor's vector instructions, for the loops of the solves.
    arch: pulp::Arch,
}

impl Cholesky {
    /// Analyses and factors the stiffness of a mesh.
    ///
    /// # Errors
    /// [`LinearError::Folded`], [`LinearError::NotPositive`] if a motion is left free.
    pub fn new(layout: Arc<Layout>, mesh: &Mesh, law: &PlaneStress) -> Result<Self, LinearError> {
        let n = layout.unknowns();
        // the unknowns are in elimination order already; `SymmetricOrdering::Identity` would have the analysis
        // read the upper triangle, so the identity is passed as an explicit permutation
        let identity: Vec<usize> = (0..n).collect();
        let params = CholeskySymbolicParams {
            supernodal_flop_ratio_threshold: SupernodalThreshold::FORCE_SUPERNODAL,
            ..Default::default()
        };
        let order = SymmetricOrdering::Custom(PermRef::new_checked(&identity, &identity, n));
        let symbolic = factorize_symbolic_cholesky(pattern(&layout), Side::Lower, order, params)
            .expect("the analysis fits in memory");
        let (supernode_of, parent) = tree(supernodal(&symbolic), n);
        let scratch = factorize_supernodal_numeric_llt_scratch::<usize, f64>(
            supernodal(&symbolic),
            Par::Seq,
            Default::default(),
        );
        let mut factor = Self {
            values: vec![0.0; symbolic.len_val()],
            stiffness: Vec::new(),
            taken: Vec::new(),
            supernode_of,
            parent,
            memory: MemBuffer::new(scratch),
            arch: pulp::Arch::new(),
            symbolic,
            layout,
        };
        factor.refactor(mesh, law)?;
        Ok(factor)
    }

    /// Factors again after the nodes of the lattice have moved; the analysis is reused.
    ///
    /// # Errors
    /// As [`Cholesky::new`].
    pub fn refactor(&mut self, mesh: &Mesh, law: &PlaneStress) -> Result<(), LinearError> {
        self.layout.assemble(mesh, law, &mut self.stiffness)?;
        self.taken = self.layout.pin(&mut self.stiffness);
        // the matrix is in elimination order already, so the numeric part is called on it as it stands, not through the
        // front that would permute a copy
        factorize_supernodal_numeric_llt(
            &mut self.values,
            SparseColMatRef::new(pattern(&self.layout), &self.stiffness),
            Default::default(),
            supernodal(&self.symbolic),
            Par::Seq,
            MemStack::new(&mut self.memory),
            Default::default(),
        )
        .map(|_| ())
        .map_err(|LltError::NonPositivePivot { index }| LinearError::NotPositive { unknown: index })
    }

    /// The layout that the factor belongs to.
    pub fn layout(&self) -> &Arc<Layout> {
        &self.layout
    }

    fn columns(&self, s: usize) -> Range<usize> {
        let symbolic = supernodal(&self.symbolic);
        symbolic.supernode_begin()[s]..symbolic.supernode_end()[s]
    }

    /// Column-major values of a supernode, its height, and the rows below its own columns.
    fn block(&self, s: usize) -> (&[f64], std::ops::Range<usize>, &[usize]) {
        let symbolic = supernodal(&self.symbolic);
        let columns = self.columns(s);
        let pattern = symbolic.supernode(s).pattern();
        let start = symbolic.col_ptr_for_val()[s];
        let len = columns.len() * (columns.len() + pattern.len());
        (&self.values[start..start + len], columns, pattern)
    }

    /// Solves with the diagonal block of `L` and takes its effect off the rows below.
    #[inline(always)]
    fn forward(&self, s: usize, x: &mut [f64]) {
        let (values, columns, below) = self.block(s);
        let (width, first) = (columns.len(), columns.start);
        let height = width + below.len();
        // gathered, so that the long inner loop runs over contiguous memory
        let mut sum = vec![0.0; below.len()];
        for k in 0..width {
            let column = &values[k * height..(k + 1) * height];
            let v = x[first + k] / column[k];
            x[first + k] = v;
            if v != 0.0 {
                for (t, l) in x[first + k + 1..first + width]
                    .iter_mut()
                    .zip(&column[k + 1..width])
                {
                    *t -= l * v;
                }
                for (t, l) in sum.iter_mut().zip(&column[width..]) {
                    *t += l * v;
                }
            }
        }
        for (&row, v) in below.iter().zip(&sum) {
            x[row] -= v;
        }
    }

    /// Solves with the transposed diagonal block after the rows below are known.
    #[inline(always)]
    fn backward(&self, s: usize, x: &mut [f64]) {
        let (values, columns, below) = self.block(s);
        let (width, first) = (columns.len(), columns.start);
        let height = width + below.len();
        let known: Vec<f64> = below.iter().map(|&row| x[row]).collect();
        for k in (0..width).rev() {
            let column = &values[k * height..(k + 1) * height];
            let mut v = x[first + k] - dot(&column[width..], &known);
            v -= dot(&column[k + 1..width], &x[first + k + 1..first + width]);
            x[first + k] = v / column[k];
        }
    }
}

impl Elimination for Cholesky {
    fn nodes(&self) -> usize {
        self.unknowns() / 2
    }

    fn unknowns(&self) -> usize {
        self.supernode_of.len()
    }

    fn blocks(&self) -> usize {
        self.parent.len()
    }

    fn range(&self, block: usize) -> Range<usize> {
        self.columns(block)
    }

    fn parent(&self, block: usize) -> usize {
        self.parent[block] as usize
    }

    fn block_of(&self, node: usize) -> usize {
        // the analysis never parts the two unknowns of a node: their columns have one structure
        self.supernode_of[self.first_unknown(node)] as usize
    }

    fn first_unknown(&self, node: usize) -> usize {
        self.layout.unknown(node, 0)
    }

    fn to_unknowns(&self, _: usize, vector: [f64; 2]) -> [f64; 2] {
        vector
    }

    fn to_plane(&self, _: usize, values: [f64; 2]) -> [f64; 2] {
        values
    }

    fn pinned(&self) -> &[usize] {
        self.layout.pinned()
    }

    fn eliminate(&self, blocks: impl Iterator<Item = usize>, x: &mut [f64]) {
        self.arch
            .dispatch(|| blocks.for_each(|s| self.forward(s, x)));
    }

    fn substitute(&self, blocks: impl Iterator<Item = usize>, x: &mut [f64]) {
        self.arch
            .dispatch(|| blocks.for_each(|s| self.backward(s, x)));
    }

    fn stiffest(&self) -> f64 {
        let offsets = self.layout.pattern().major_offsets();
        (0..self.unknowns())
            .map(|c| self.stiffness[offsets[c]])
            .fold(0.0, f64::max)
    }

    fn multiply(&self, x: &[f64]) -> Vec<f64> {
        let mut y = vec![0.0; x.len()];
        let offsets = self.layout.pattern().major_offsets();
        let indices = self.layout.pattern().minor_indices();
        for col in 0..x.len() {
            let range = offsets[col]..offsets[col + 1];
            let rows = &indices[range.clone()];
            let values = &self.stiffness[range];
            let (xc, mut sum) = (x[col], values[0] * x[col]);
            for (&row, v) in rows[1..].iter().zip(&values[1..]) {
                y[row] += v * xc;
                sum += v * x[row];
            }
            y[col] += sum;
        }
        // the pins took these out of the matrix
        for &u in self.layout.pinned() {
            y[u] = 0.0;
        }
        for &(row, col, value) in &self.taken {
            y[row] += value * x[col];
            if row != col {
                y[col] += value * x[row];
            }
        }
        y
    }
}

fn pattern(layout: &Layout) -> SymbolicSparseColMatRef<'_, usize> {
    let (offsets, rows) = (
        layout.pattern().major_offsets(),
        layout.pattern().minor_indices(),
    );
    SymbolicSparseColMatRef::new_checked(layout.unknowns(), layout.unknowns(), offsets, None, rows)
}

fn supernodal(symbolic: &SymbolicCholesky<usize>) -> &SymbolicSupernodalCholesky<usize> {
    match symbolic.raw() {
        SymbolicCholeskyRaw::Supernodal(s) => s,
        SymbolicCholeskyRaw::Simplicial(_) => unreachable!("the supernodal path is forced"),
    }
}

/// Supernode of each unknown, and the supernode that follows each on the way to the root.
fn tree(symbolic: &SymbolicSupernodalCholesky<usize>, unknowns: usize) -> (Vec<u32>, Vec<u32>) {
    let count = symbolic.n_supernodes();
    let mut supernode_of = vec![0; unknowns];
    for s in 0..count {
        supernode_of[symbolic.supernode_begin()[s]..symbolic.supernode_end()[s]].fill(s as u32);
    }
    let parent = (0..count)
        .map(|s| {
            symbolic
                .supernode(s)
                .pattern()
                .first()
                .map_or(s as u32, |&row| supernode_of[row])
        })
        .collect();
    (supernode_of, parent)
}
