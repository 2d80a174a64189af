//! Supernodal sparse Cholesky through faer's low-level interface, and solves that touch only part of the factor.

use std::sync::Arc;

use faer::dyn_stack::{MemBuffer, MemStack};
use faer::linalg::cholesky::llt::factor::LltError;
use faer::sparse::linalg::SupernodalThreshold;
use faer::sparse::linalg::cholesky::{
    CholeskySymbolicParams, SymbolicCholesky, SymbolicCholeskyRaw, SymmetricOrdering,
    factorize_symbolic_cholesky, supernodal::SymbolicSupernodalCholesky,
};
use faer::sparse::{SparseColMatRef, SymbolicSparseColMatRef};
use faer::{Par, Side, perm::PermRef};

use super::{Factor, Layout, LinearError, NodeForce, Reduced, Wanted};
use crate::element::PlaneStress;
use crate::mesh::Mesh;

/// Largest accepted relative residual of a check solve. Double precision gives about 1e-15 times a slowly growing
/// factor; a thousand times that means the factor is wrong.
const ALLOWED_RESIDUAL: f64 = 1e-10;

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
    /// [`LinearError::Folded`], [`LinearError::NotPositive`] if a motion is left free, [`LinearError::Residual`] if a
    /// check solve fails.
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
        let scratch = symbolic.factorize_numeric_llt_scratch::<f64>(Par::Seq, Default::default());
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
        self.symbolic
            .factorize_numeric_llt::<f64>(
                &mut self.values,
                SparseColMatRef::new(pattern(&self.layout), &self.stiffness),
                Side::Lower,
                Default::default(),
                Par::Seq,
                MemStack::new(&mut self.memory),
                Default::default(),
            )
            .map_err(
                |LltError::NonPositivePivot { index }| LinearError::NotPositive { unknown: index },
            )?;
        self.check()
    }

    /// The layout that the factor belongs to.
    pub fn layout(&self) -> &Arc<Layout> {
        &self.layout
    }

    /// Solves one known problem and compares: a wrong factor must not pass for an answer.
    fn check(&self) -> Result<(), LinearError> {
        // a right-hand side with entries of one size and no pattern
        let exact: Vec<f64> = (0..self.unknowns())
            .map(|k| 1.0 + ((k * 7919) % 64) as f64 / 64.0)
            .collect();
        let load = self.multiply(&exact);
        let mut x = load.clone();
        self.solve_in_place(&mut x);
        let back = self.multiply(&x);
        let (mut worst, mut size) = (0.0_f64, 0.0_f64);
        for (a, b) in back.iter().zip(&load) {
            worst = worst.max((a - b).abs());
            size = size.max(b.abs());
        }
        let residual = worst / size;
        if residual.is_nan() || residual > ALLOWED_RESIDUAL {
            return Err(LinearError::Residual {
                residual,
                allowed: ALLOWED_RESIDUAL,
            });
        }
        Ok(())
    }

    /// Number of unknowns, pins included.
    pub fn unknowns(&self) -> usize {
        self.supernode_of.len()
    }

    /// `K x` with the pinned matrix.
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
        y
    }

    /// Solves `K x = f` in place, unknowns in elimination order.
    fn solve_in_place(&self, f: &mut [f64]) {
        let all = 0..self.supernodes();
        self.eliminate(all.clone(), f);
        self.substitute(all.rev(), f);
    }

    /// `L^-1` over these supernodes, children before parents.
    fn eliminate(&self, supernodes: impl Iterator<Item = usize>, x: &mut [f64]) {
        self.arch.dispatch(|| supernodes.for_each(|s| self.forward(s, x)));
    }

    /// `L'^-1` over these supernodes, parents before children.
    fn substitute(&self, supernodes: impl Iterator<Item = usize>, x: &mut [f64]) {
        self.arch.dispatch(|| supernodes.for_each(|s| self.backward(s, x)));
    }

    /// Adds a load on few nodes, leaving out pinned unknowns: the pin takes those.
    fn add(&self, load: &[NodeForce], x: &mut [f64]) {
        for &(node, force) in load {
            for (axis, f) in force.into_iter().enumerate() {
                let u = self.layout.unknown(node, axis);
                if !self.layout.is_pinned(u) {
                    x[u] += f;
                }
            }
        }
    }

    fn unknowns_of<'a>(
        &'a self,
        nodes: impl Iterator<Item = usize> + 'a,
    ) -> impl Iterator<Item = usize> + 'a {
        nodes.flat_map(|n| [self.layout.unknown(n, 0), self.layout.unknown(n, 1)])
    }

    fn to_nodes(&self, x: &[f64]) -> Vec<[f64; 2]> {
        (0..self.unknowns() / 2)
            .map(|n| [0, 1].map(|axis| x[self.layout.unknown(n, axis)]))
            .collect()
    }

    fn from_nodes(&self, v: &[[f64; 2]]) -> Vec<f64> {
        let mut x = vec![0.0; self.unknowns()];
        for (node, value) in v.iter().enumerate() {
            for axis in 0..2 {
                x[self.layout.unknown(node, axis)] = value[axis];
            }
        }
        x
    }

    /// Supernodes on the ways from these unknowns to the root, increasing.
    fn reach(&self, unknowns: impl Iterator<Item = usize>) -> Vec<u32> {
        let mut blocks: Vec<u32> = Vec::new();
        let mut starts: Vec<u32> = unknowns.map(|u| self.supernode_of[u]).collect();
        starts.sort_unstable();
        starts.dedup();
        // children come before parents, so merging sorted ways keeps each supernode once
        let mut seen = std::collections::BTreeSet::new();
        for mut s in starts {
            while seen.insert(s) {
                let next = self.parent[s as usize];
                if next == s {
                    break;
                }
                s = next;
            }
        }
        blocks.extend(seen);
        blocks
    }

    fn supernodes(&self) -> usize {
        supernodal(&self.symbolic).n_supernodes()
    }

    fn columns(&self, s: usize) -> std::ops::Range<usize> {
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

impl Factor for Cholesky {
    fn reduce(&self, load: &[NodeForce], work: &mut Vec<f64>) -> Reduced {
        work.resize(self.unknowns(), 0.0);
        let path = self.reach(self.unknowns_of(load.iter().map(|l| l.0)));
        self.add(load, work);
        let mut blocks = Vec::with_capacity(path.len());
        let mut values = Vec::new();
        self.eliminate(path.iter().map(|&s| s as usize), work);
        for &s in &path {
            blocks.push((s, values.len() as u32));
            let columns = self.columns(s as usize);
            values.extend_from_slice(&work[columns.clone()]);
            work[columns].fill(0.0);
        }
        Reduced { blocks, values }
    }

    fn wanted(&self, nodes: &[usize]) -> Wanted {
        Wanted {
            blocks: self.reach(self.unknowns_of(nodes.iter().copied())),
            nodes: nodes.to_vec(),
        }
    }

    fn respond(&self, load: &[NodeForce], wanted: &Wanted, work: &mut Vec<f64>) -> Vec<[f64; 2]> {
        work.resize(self.unknowns(), 0.0);
        let path = self.reach(self.unknowns_of(load.iter().map(|l| l.0)));
        self.add(load, work);
        self.eliminate(path.iter().map(|&s| s as usize), work);
        self.substitute(wanted.blocks.iter().rev().map(|&s| s as usize), work);
        let at = wanted
            .nodes
            .iter()
            .map(|&n| [0, 1].map(|axis| work[self.layout.unknown(n, axis)]))
            .collect();
        for &s in wanted.blocks.iter().chain(&path) {
            work[self.columns(s as usize)].fill(0.0);
        }
        at
    }

    fn solve(&self, load: &[[f64; 2]]) -> Vec<[f64; 2]> {
        let mut x = self.from_nodes(load);
        for &u in self.layout.pinned() {
            x[u] = 0.0;
        }
        self.solve_in_place(&mut x);
        self.to_nodes(&x)
    }

    fn forces(&self, displacement: &[[f64; 2]]) -> Vec<[f64; 2]> {
        let x = self.from_nodes(displacement);
        let mut y = self.multiply(&x);
        for &u in self.layout.pinned() {
            y[u] = 0.0;
        }
        // free rows of the pinned matrix miss the pinned columns; pinned rows miss everything
        for &(row, col, value) in &self.taken {
            y[row] += value * x[col];
            if row != col {
                y[col] += value * x[row];
            }
        }
        self.to_nodes(&y)
    }
}

/// Dot product in sixteen partial sums: the order is fixed, whatever the width of the processor's registers.
#[inline(always)]
fn dot(a: &[f64], b: &[f64]) -> f64 {
    let mut s = [0.0; 16];
    let (ca, cb) = (a.chunks_exact(16), b.chunks_exact(16));
    let tail: f64 = ca
        .remainder()
        .iter()
        .zip(cb.remainder())
        .map(|(p, q)| p * q)
        .sum();
    for (p, q) in ca.zip(cb) {
        for k in 0..16 {
            s[k] += p[k] * q[k];
        }
    }
    s.iter().sum::<f64>() + tail
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
