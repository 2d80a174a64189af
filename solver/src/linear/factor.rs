//! What contact and cutting ask of a factored stiffness, whichever way it was factored.

use std::collections::BTreeSet;
use std::ops::Range;

use super::LinearError;
use super::arcs::{are_shared, collected};

/// A force on a node, by component: `[fx, fy]` (N) in the plane.
pub type NodeForce<const D: usize = 2> = (usize, [f64; D]);

/// A factored stiffness `K = L L'` of a body with `D` unknowns a node, whose rigid-body modes are held by point constraints.
///
/// The constraints take what a load is out of balance by; contact balances loads with the rigid-body modes as unknowns of its
/// own, so in the answer the constraints carry nothing.
pub trait Factor<const D: usize = 2>: Sync {
    /// `L^-1 f` of a load on few nodes. `work` is zero on entry and on return.
    fn reduce(&self, load: &[NodeForce<D>], work: &mut Vec<f64>) -> Reduced;

    /// Prepares partial solves, of which only the displacement of some nodes is wanted.
    fn wanted(&self, nodes: &[usize]) -> Wanted;

    /// Partial solve: displacement (mm) of the wanted nodes under a load on few nodes. `work` is zero on entry and on return.
    fn partial_solve(
        &self,
        load: &[NodeForce<D>],
        wanted: &Wanted,
        work: &mut Vec<f64>,
    ) -> Vec<[f64; D]>;

    /// Whether [`Factor::weighted_displacements`] is cheaper than partial solves: where the ways to the root are short beside the blocks of many loads.
    fn has_short_paths(&self) -> bool;

    /// Work of a sum of loads, each so many times, on the displacement of each, N mm: from their reduced forms alone. `work` is zero on
    /// entry and on return.
    fn weighted_displacements(
        &self,
        reduced: &[&Reduced],
        sizes: &[f64],
        work: &mut Vec<f64>,
    ) -> Vec<f64>;

    /// Displacement (mm) of every node under a load (N) on every node, put back into the equations as a check on the factor.
    ///
    /// # Errors
    /// [`LinearError::Residual`] if the displacement does not satisfy them.
    fn solve(&self, load: &[[f64; D]]) -> Result<Vec<[f64; D]>, LinearError>;

    /// The same without that check: for a caller that puts the sum of many such solutions into equations of its own.
    fn precondition(&self, load: &[[f64; D]]) -> Vec<[f64; D]>;

    /// `K u` with the stiffness of the body itself: the nodal forces (N) that hold the displacement `u`.
    fn forces(&self, displacement: &[[f64; D]]) -> Vec<[f64; D]>;
}

/// A block of a factor: unknowns that are eliminated together. Nodes, unknowns and blocks are all counted from 0, and are easily taken for each other.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct BlockId(u32);

impl BlockId {
    /// The block of this number.
    pub fn new(number: usize) -> Self {
        Self(number as u32)
    }

    /// Its number.
    pub fn index(self) -> usize {
        self.0 as usize
    }

    /// The same so many blocks on.
    pub fn after(self, blocks: u32) -> Self {
        Self(self.0 + blocks)
    }

    /// The same so many blocks back; `None` if there are not as many before it.
    pub fn before(self, blocks: u32) -> Option<Self> {
        self.0.checked_sub(blocks).map(Self)
    }
}

/// A factor as a tree of blocks: each eliminates some unknowns and passes on to those that its ancestors eliminate.
///
/// Both ways of factoring have this shape, so loads on few nodes are treated alike: only the blocks between the loaded or
/// wanted unknowns and the root are touched.
pub(super) trait Elimination<const D: usize>: Sync {
    /// Number of nodes of the mesh.
    fn nodes(&self) -> usize;
    /// Number of unknowns.
    fn unknowns(&self) -> usize;
    /// Number of blocks.
    fn block_count(&self) -> usize;
    /// Unknowns that a block eliminates.
    fn range(&self, block: BlockId) -> Range<usize>;
    /// The block that follows on the way to the root; the root is its own.
    fn parent(&self, block: BlockId) -> BlockId;
    /// The block that eliminates the unknowns of a node.
    fn block_of(&self, node: usize) -> BlockId;
    /// First of a node's unknowns, which follow each other.
    fn first_unknown(&self, node: usize) -> usize;
    /// A node's vector, by component, in the directions of its unknowns.
    fn to_unknowns(&self, node: usize, vector: [f64; D]) -> [f64; D];
    /// The inverse of `to_unknowns`.
    fn to_plane(&self, node: usize, values: [f64; D]) -> [f64; D];
    /// Unknowns held at zero.
    fn constrained(&self) -> &[usize];
    /// `L^-1` over these blocks, children before parents.
    fn eliminate(&self, blocks: impl Iterator<Item = BlockId>, x: &mut [f64]);
    /// `L'^-1` over these blocks, parents before children.
    fn substitute(&self, blocks: impl Iterator<Item = BlockId>, x: &mut [f64]);
    /// `K x` of the body itself, constrained or not.
    fn multiply(&self, x: &[f64]) -> Vec<f64>;
    /// Largest entry of the diagonal of `K`.
    fn stiffest(&self) -> f64;

    /// All blocks, children before parents.
    fn blocks(&self) -> impl DoubleEndedIterator<Item = BlockId> + use<Self, D> {
        (0..self.block_count()).map(BlockId::new)
    }

    /// Whether the ways to the root are short beside the blocks of many loads.
    fn short_paths(&self) -> bool {
        false
    }

    /// Blocks on the ways from these nodes to the root, increasing.
    fn reach(&self, nodes: impl Iterator<Item = usize>) -> Vec<BlockId> {
        let mut seen = BTreeSet::new();
        for node in nodes {
            let mut block = self.block_of(node);
            while seen.insert(block) && self.parent(block) != block {
                block = self.parent(block);
            }
        }
        seen.into_iter().collect()
    }

    /// Adds a load on few nodes, leaving out constrained unknowns: the constraint takes those.
    fn add(&self, load: &[NodeForce<D>], x: &mut [f64]) {
        for &(node, force) in load {
            let (u, f) = (self.first_unknown(node), self.to_unknowns(node, force));
            for component in 0..D {
                if !self.constrained().contains(&(u + component)) {
                    x[u + component] += f[component];
                }
            }
        }
    }

    /// Values of every node, from a vector of unknowns.
    fn gather(&self, x: &[f64]) -> Vec<[f64; D]> {
        (0..self.nodes())
            .map(|n| {
                let u = self.first_unknown(n);
                self.to_plane(n, std::array::from_fn(|c| x[u + c]))
            })
            .collect()
    }

    /// A vector of unknowns, from values of every node.
    fn scatter(&self, values: &[[f64; D]]) -> Vec<f64> {
        let mut x = vec![0.0; self.unknowns()];
        for (n, v) in values.iter().enumerate() {
            let u = self.first_unknown(n);
            x[u..u + D].copy_from_slice(&self.to_unknowns(n, *v));
        }
        x
    }

    /// Solves `K x = f` in place.
    fn solve_in_place(&self, x: &mut [f64]) {
        for &u in self.constrained() {
            x[u] = 0.0;
        }
        self.eliminate(self.blocks(), x);
        self.substitute(self.blocks().rev(), x);
    }
}

/// Largest accepted backward error of a solution: residual force against stiffness times displacement plus load. Double
/// precision gives about 1e-15 times a slowly growing factor; far more than that means that the factor is wrong.
const ALLOWED_RESIDUAL: f64 = 1e-10;

impl<const D: usize, T: Elimination<D>> Factor<D> for T {
    fn reduce(&self, load: &[NodeForce<D>], work: &mut Vec<f64>) -> Reduced {
        work.resize(self.unknowns(), 0.0);
        let path = self.reach(load.iter().map(|l| l.0));
        self.add(load, work);
        self.eliminate(path.iter().copied(), work);
        let mut reduced = Reduced {
            blocks: Vec::with_capacity(path.len()),
            values: Vec::new(),
        };
        for &block in &path {
            reduced.blocks.push((block, reduced.values.len() as u32));
            let range = self.range(block);
            reduced.values.extend_from_slice(&work[range.clone()]);
            work[range].fill(0.0);
        }
        reduced
    }

    fn wanted(&self, nodes: &[usize]) -> Wanted {
        Wanted {
            blocks: self.reach(nodes.iter().copied()),
            nodes: nodes.to_vec(),
        }
    }

    fn partial_solve(
        &self,
        load: &[NodeForce<D>],
        wanted: &Wanted,
        work: &mut Vec<f64>,
    ) -> Vec<[f64; D]> {
        work.resize(self.unknowns(), 0.0);
        let path = self.reach(load.iter().map(|l| l.0));
        self.add(load, work);
        self.eliminate(path.iter().copied(), work);
        self.substitute(wanted.blocks.iter().rev().copied(), work);
        let at = wanted
            .nodes
            .iter()
            .map(|&n| {
                let u = self.first_unknown(n);
                self.to_plane(n, std::array::from_fn(|c| work[u + c]))
            })
            .collect();
        for &block in wanted.blocks.iter().chain(&path) {
            work[self.range(block)].fill(0.0);
        }
        at
    }

    fn has_short_paths(&self) -> bool {
        self.short_paths()
    }

    fn weighted_displacements(
        &self,
        reduced: &[&Reduced],
        sizes: &[f64],
        work: &mut Vec<f64>,
    ) -> Vec<f64> {
        work.resize(self.unknowns(), 0.0);
        let acting = || {
            let all = reduced.iter().zip(sizes);
            all.filter(|(_, size)| **size != 0.0)
        };
        let arch = pulp::Arch::new();
        arch.dispatch(Summed {
            factor: self,
            reduced,
            sizes,
            sum: work,
        });
        let sum = work.as_slice();
        let moved = collected(
            reduced.chunks(SIDE_BY_SIDE).collect(),
            are_shared(reduced.len()),
            |reduced| {
                arch.dispatch(Response {
                    factor: self,
                    reduced,
                    sum,
                })
            },
        );
        for (load, _) in acting() {
            for (range, _) in load.parts::<T, D>(self) {
                work[range].fill(0.0);
            }
        }
        moved.concat()
    }

    fn solve(&self, load: &[[f64; D]]) -> Result<Vec<[f64; D]>, LinearError> {
        let load = self.scatter(load);
        let mut x = load.clone();
        self.solve_in_place(&mut x);
        // a wrong factor must not pass for an answer, so every full solution is put back into the equations
        let back = self.multiply(&x);
        let largest = |v: &[f64]| v.iter().fold(0.0_f64, |m, x| m.max(x.abs()));
        let size = self.stiffest() * largest(&x) + largest(&load);
        let mut worst = 0.0_f64;
        for (u, (a, b)) in back.iter().zip(&load).enumerate() {
            if (a - b).abs() > worst && !self.constrained().contains(&u) {
                worst = (a - b).abs();
            }
        }
        let residual = if size > 0.0 { worst / size } else { 0.0 };
        if residual.is_nan() || residual > ALLOWED_RESIDUAL || back.iter().any(|v| v.is_nan()) {
            return Err(LinearError::Residual {
                residual,
                allowed: ALLOWED_RESIDUAL,
            });
        }
        Ok(self.gather(&x))
    }

    fn precondition(&self, load: &[[f64; D]]) -> Vec<[f64; D]> {
        let mut x = self.scatter(load);
        self.solve_in_place(&mut x);
        self.gather(&x)
    }

    fn forces(&self, displacement: &[[f64; D]]) -> Vec<[f64; D]> {
        self.gather(&self.multiply(&self.scatter(displacement)))
    }
}

/// Dot product in sixteen partial sums: the order is fixed, whatever the width of the processor's registers.
#[inline(always)]
pub(super) fn dot(a: &[f64], b: &[f64]) -> f64 {
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

/// `L^-1 f` of a load on few unknowns: values on the blocks between those unknowns and the root.
///
/// The compliance between two loads is the dot product of their reduced forms, `f' K^-1 g = (L^-1 f)'(L^-1 g)`.
#[derive(Clone, Debug)]
pub struct Reduced {
    /// Blocks of the factor, increasing, and where their values start.
    pub(super) blocks: Vec<(BlockId, u32)>,
    pub(super) values: Vec<f64>,
}

impl Reduced {
    /// The unknowns of each block of its factor, with its values there.
    #[inline(always)]
    pub(super) fn parts<'a, T: Elimination<D>, const D: usize>(
        &'a self,
        factor: &'a T,
    ) -> impl Iterator<Item = (Range<usize>, &'a [f64])> {
        self.blocks.iter().map(move |&(block, start)| {
            let range = factor.range(block);
            let start = start as usize;
            let values = &self.values[start..start + range.len()];
            (range, values)
        })
    }

    /// Compliances between this load and others, in their order.
    pub fn dots<'a>(&self, others: impl Iterator<Item = &'a Reduced>) -> Vec<f64> {
        pulp::Arch::new().dispatch(Dots { of: self, others })
    }

    /// Compliance between two loads, mm times N for loads in N.
    #[inline(always)]
    pub fn dot(&self, other: &Reduced) -> f64 {
        // paths meet once and then run together to the root, so walk both from the end
        let (mut a, mut b) = (self.blocks.len(), other.blocks.len());
        let (mut end_a, mut end_b) = (self.values.len(), other.values.len());
        let mut sum = 0.0;
        while a > 0 && b > 0 {
            let ((block_a, at_a), (block_b, at_b)) = (self.blocks[a - 1], other.blocks[b - 1]);
            if block_a == block_b {
                let (x, y) = (
                    &self.values[at_a as usize..end_a],
                    &other.values[at_b as usize..end_b],
                );
                sum += dot(x, y);
            }
            if block_a >= block_b {
                a -= 1;
                end_a = at_a as usize;
            }
            if block_b >= block_a {
                b -= 1;
                end_b = at_b as usize;
            }
        }
        sum
    }

    /// Bytes held.
    pub fn bytes(&self) -> usize {
        8 * (self.values.len() + self.blocks.len())
    }
}

/// Loads whose work one thread adds up at a time.
const SIDE_BY_SIDE: usize = 64;

/// The sum of reduced loads, each so many times, in all unknowns. It is a type and no closure so that it is compiled for the processor's
/// vector width.
struct Summed<'a, T, const D: usize> {
    factor: &'a T,
    reduced: &'a [&'a Reduced],
    sizes: &'a [f64],
    sum: &'a mut [f64],
}

impl<T: Elimination<D>, const D: usize> pulp::NullaryFnOnce for Summed<'_, T, D> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        for (load, &size) in self.reduced.iter().zip(self.sizes) {
            if size == 0.0 {
                continue;
            }
            for (range, values) in load.parts::<T, D>(self.factor) {
                for (x, v) in self.sum[range].iter_mut().zip(values) {
                    *x += size * v;
                }
            }
        }
    }
}

/// Work of a sum of reduced loads on the displacement of each of some. It is a type and no closure so that it is compiled for the
/// processor's vector width.
struct Response<'a, T, const D: usize> {
    factor: &'a T,
    reduced: &'a [&'a Reduced],
    /// The sum, in all unknowns.
    sum: &'a [f64],
}

impl<T: Elimination<D>, const D: usize> pulp::NullaryFnOnce for Response<'_, T, D> {
    type Output = Vec<f64>;

    #[inline(always)]
    fn call(self) -> Vec<f64> {
        let mut moved = Vec::with_capacity(self.reduced.len());
        for load in self.reduced {
            let mut work = 0.0;
            for (range, values) in load.parts::<T, D>(self.factor) {
                work += dot(values, &self.sum[range]);
            }
            moved.push(work);
        }
        moved
    }
}

/// Dot products of one reduced load with others. It is a type and no closure so that it is compiled for the processor's vector width.
struct Dots<'b, I> {
    of: &'b Reduced,
    others: I,
}

impl<'a, I: Iterator<Item = &'a Reduced>> pulp::NullaryFnOnce for Dots<'_, I> {
    type Output = Vec<f64>;

    #[inline(always)]
    fn call(self) -> Vec<f64> {
        let mut dots = Vec::with_capacity(self.others.size_hint().0);
        for other in self.others {
            dots.push(self.of.dot(other));
        }
        dots
    }
}

/// The part of a factor that a set of wanted nodes reaches.
#[derive(Clone, Debug)]
pub struct Wanted {
    /// Blocks of the factor, increasing; with each, all that follow it on the way to the root.
    pub(super) blocks: Vec<BlockId>,
    /// The nodes themselves, in the caller's order.
    pub(super) nodes: Vec<usize>,
}
