//! Supernodal sparse Cholesky through faer's low-level interface, and solves that touch only part of the factor.

use std::ops::Range;
use std::sync::Arc;

use faer::Par;
use faer::dyn_stack::{MemBuffer, MemStack};
use faer::linalg::cholesky::llt::factor::LltError;
use faer::sparse::SparseColMatRef;
use faer::sparse::linalg::cholesky::supernodal::factorize_supernodal_numeric_llt;

use super::constraint::{Constrained, PointConstraint};
use super::factor::{BlockId, Elimination, dot};
use super::{Analysis, LinearError, Operator, Stiffness};
use crate::element::PlaneStress;
use crate::mesh::Mesh;

/// A numeric factor `K = L L'` of an operator with `D` unknowns a node, point constraints included. Its analysis may be shared with
/// others.
pub struct Cholesky<const D: usize = 2> {
    analysis: Arc<Analysis<D>>,
    values: Vec<f64>,
    /// Lower triangle of `K`, constrained rows and columns replaced.
    matrix: Vec<f64>,
    constrained: Constrained,
    memory: MemBuffer,
    /// The processor's vector instructions, for the loops of the solves.
    arch: pulp::Arch,
}

impl Cholesky {
    /// Analyses and factors the stiffness of a mesh.
    ///
    /// # Errors
    /// As [`Cholesky::factor`].
    pub fn new(
        mesh: &Mesh,
        law: &PlaneStress,
        constraints: &[PointConstraint],
    ) -> Result<Self, LinearError> {
        let analysis = Arc::new(Analysis::new(mesh.topology()));
        Self::factor(analysis, &Stiffness { mesh, law }, constraints)
    }
}

impl<const D: usize> Cholesky<D> {
    /// Factors an operator whose topology has been analysed.
    ///
    /// # Errors
    /// [`LinearError::InvertedElement`], [`LinearError::NotPositive`] if a motion is left free.
    pub fn factor(
        analysis: Arc<Analysis<D>>,
        operator: &impl Operator<D>,
        constraints: &[PointConstraint],
    ) -> Result<Self, LinearError> {
        let mut factor = Self {
            values: vec![0.0; analysis.factor_entries()],
            matrix: Vec::new(),
            constrained: Constrained::new(analysis.pattern(), constraints),
            memory: MemBuffer::new(analysis.scratch()),
            arch: pulp::Arch::new(),
            analysis,
        };
        factor.refactor(operator)?;
        Ok(factor)
    }

    /// Factors again, in place: after the nodes have moved, or another operator on the same topology.
    ///
    /// # Errors
    /// As [`Cholesky::factor`].
    pub fn refactor(&mut self, operator: &impl Operator<D>) -> Result<(), LinearError> {
        let pattern = self.analysis.pattern();
        pattern.assemble(operator, &mut self.matrix)?;
        self.constrained.apply(pattern, &mut self.matrix);
        // the matrix is in elimination order already, so the numeric part is called on it as it stands, not through the
        // front that would permute a copy
        factorize_supernodal_numeric_llt(
            &mut self.values,
            SparseColMatRef::new(self.analysis.columns(), &self.matrix),
            Default::default(),
            self.analysis.symbolic(),
            Par::Seq,
            MemStack::new(&mut self.memory),
            Default::default(),
        )
        .map(|_| ())
        .map_err(|LltError::NonPositivePivot { index }| LinearError::NotPositive { unknown: index })
    }

    /// The analysis that the factor shares.
    pub fn analysis(&self) -> &Arc<Analysis<D>> {
        &self.analysis
    }

    /// Column-major values of a supernode, its unknowns, and the rows below them.
    fn block(&self, s: BlockId) -> (&[f64], Range<usize>, &[usize]) {
        let columns = self.analysis.unknowns_of(s);
        let below = self.analysis.rows_below(s);
        let start = self.analysis.values_start(s);
        let len = columns.len() * (columns.len() + below.len());
        (&self.values[start..start + len], columns, below)
    }

    /// Solves with the diagonal block of `L` and takes its effect off the rows below.
    #[inline(always)]
    fn forward(&self, s: BlockId, x: &mut [f64]) {
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
    fn backward(&self, s: BlockId, x: &mut [f64]) {
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

impl<const D: usize> Elimination<D> for Cholesky<D> {
    fn nodes(&self) -> usize {
        self.analysis.pattern().topology().nodes()
    }

    fn unknowns(&self) -> usize {
        self.analysis.pattern().unknowns()
    }

    fn block_count(&self) -> usize {
        self.analysis.supernodes()
    }

    fn range(&self, block: BlockId) -> Range<usize> {
        self.analysis.unknowns_of(block)
    }

    fn parent(&self, block: BlockId) -> BlockId {
        self.analysis.parent(block)
    }

    fn block_of(&self, node: usize) -> BlockId {
        self.analysis.supernode_of(node)
    }

    fn first_unknown(&self, node: usize) -> usize {
        self.analysis.pattern().unknown(node, 0)
    }

    fn to_unknowns(&self, _: usize, vector: [f64; D]) -> [f64; D] {
        vector
    }

    fn to_plane(&self, _: usize, values: [f64; D]) -> [f64; D] {
        values
    }

    fn constrained(&self) -> &[usize] {
        self.constrained.unknowns()
    }

    fn eliminate(&self, blocks: impl Iterator<Item = BlockId>, x: &mut [f64]) {
        self.arch.dispatch(Sweep::<_, _, false> {
            factor: self,
            blocks,
            x,
        });
    }

    fn substitute(&self, blocks: impl Iterator<Item = BlockId>, x: &mut [f64]) {
        self.arch.dispatch(Sweep::<_, _, true> {
            factor: self,
            blocks,
            x,
        });
    }

    fn stiffest(&self) -> f64 {
        let offsets = self.analysis.pattern().offsets();
        (0..self.unknowns())
            .map(|c| self.matrix[offsets[c]])
            .fold(0.0, f64::max)
    }

    fn multiply(&self, x: &[f64]) -> Vec<f64> {
        let mut y = vec![0.0; x.len()];
        let (offsets, indices) = (
            self.analysis.pattern().offsets(),
            self.analysis.pattern().rows(),
        );
        for col in 0..x.len() {
            let range = offsets[col]..offsets[col + 1];
            let rows = &indices[range.clone()];
            let values = &self.matrix[range];
            let (xc, mut sum) = (x[col], values[0] * x[col]);
            for (&row, v) in rows[1..].iter().zip(&values[1..]) {
                y[row] += v * xc;
                sum += v * x[row];
            }
            y[col] += sum;
        }
        self.constrained.undo(x, &mut y);
        y
    }
}

/// Elimination (or, `BACK`, back substitution) over some supernodes. It is a type and no closure so that it is compiled for the
/// processor's vector width.
struct Sweep<'a, F, I, const BACK: bool> {
    factor: &'a F,
    blocks: I,
    x: &'a mut [f64],
}

impl<I: Iterator<Item = BlockId>, const BACK: bool, const D: usize> pulp::NullaryFnOnce
    for Sweep<'_, Cholesky<D>, I, BACK>
{
    type Output = ();

    #[inline(always)]
    fn call(self) {
        for block in self.blocks {
            if BACK {
                self.factor.backward(block, self.x);
            } else {
                self.factor.forward(block, self.x);
            }
        }
    }
}
