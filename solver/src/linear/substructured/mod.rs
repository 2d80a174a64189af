//! The factor of a ring whose two outlines are circles about its axis, by substructuring.
//!
//! In polar directions every column of a round ring has a stiffness that depends on its width alone. Equal columns have
//! equal Schur complements on their ends, so have equal pairs of them, and pairs of pairs: a run of `n` equal columns costs `log n`
//! small dense factorisations, not `n`. The result is the factor of the same stiffness matrix as the sparse one, to
//! rounding, in another elimination order: first the middles of each column, then the lines between columns from the inside of
//! each arc outwards, last the line where the ring closes.

mod arcs;
mod batch;
mod condensation;
mod halves;
mod polar;
#[cfg(test)]
mod tests;

use std::borrow::Borrow;
use std::ops::Range;

use pulp::{Simd, WithSimd};

use self::arcs::Division;
use self::batch::Batch;
use self::condensation::{Condensation, MOST_BYTES};
use super::LinearError;
use super::factor::{BlockId, Elimination, dot};
use crate::element::PlaneStress;
use crate::linear::arcs::{ArcValues, ColumnArc, over_arcs};
use crate::linear::operator::add_vector;
use crate::mesh::{Mesh, Topology};

/// Stiffness of an element, `[radial, tangential]` by node.
type ElementMatrix = [[f64; 16]; 16];

/// The factor of all substructures that are alike: `L` of the unknowns they eliminate and `L^-1` times the coupling of these to the lines
/// at both ends, both column-major.
struct SubstructureFactor {
    size: usize,
    /// Lower triangle, `size * size`.
    lower: Vec<f64>,
    /// `size * (2 * line)`: first the line at the start, then the line at the end.
    coupling: Vec<f64>,
}

/// An arc of columns whose inside is eliminated, after that of the two arcs that it is joined from.
#[derive(Clone)]
struct Substructure {
    /// Which factor is its.
    factor: u32,
    parent: BlockId,
    /// Unknowns it eliminates.
    own: Range<usize>,
    /// First unknown of the line at its start and at its end.
    ends: [usize; 2],
}

/// The stiffness of a round ring, factored by substructuring. Two unknowns a node, radial and tangential.
pub struct Substructured {
    factors: Vec<SubstructureFactor>,
    substructures: Vec<Substructure>,
    /// First unknown, substructure and direction (cosine, sine) of each node's line.
    place: Vec<(u32, BlockId)>,
    directions: Vec<[f64; 2]>,
    /// Lattice line of each node.
    line_of: Vec<u32>,
    unknowns: usize,
    /// Unknowns of a line between columns.
    line: usize,
    constrained: [usize; 3],
    /// Element stiffness in polar directions: by class of width, then layer.
    elements: Vec<Vec<ElementMatrix>>,
    width_class: Vec<u32>,
    /// All substructures in the order of their factors.
    order: Vec<BlockId>,
    /// Which elements and nodes there are; a node's unknowns are two after those of the one before it.
    topology: Topology,
    /// How it is divided for full solves.
    division: Division,
    arch: pulp::Arch,
}

impl Substructured {
    /// Factors a closed mesh whose outlines are circles about the axis.
    ///
    /// # Errors
    /// [`LinearError::InvertedElement`], [`LinearError::NotPositive`] as for the sparse factor; [`LinearError::ManySubstructures`]
    /// where that takes less memory.
    pub fn new(mesh: &Mesh, law: &PlaneStress) -> Result<Self, LinearError> {
        Self::within(mesh, law, None, MOST_BYTES)
    }

    /// Factors a ring whose columns are round each with radii of its own (`walls`: of the bore and the outside, mm), joined at their lines
    /// as if there were no steps. That is the stiffness of no body, as it resists a turn about the axis a little, but near that of one whose
    /// wall varies: a preconditioner for it.
    ///
    /// # Errors
    /// As [`Substructured::new`].
    ///
    /// # Panics
    /// Unless there is a wall for each column.
    pub fn stepped(
        mesh: &Mesh,
        law: &PlaneStress,
        walls: &[[f64; 2]],
    ) -> Result<Self, LinearError> {
        assert_eq!(walls.len(), mesh.around());
        Self::within(mesh, law, Some(walls), MOST_BYTES)
    }

    fn within(
        mesh: &Mesh,
        law: &PlaneStress,
        walls: Option<&[[f64; 2]]>,
        most_bytes: usize,
    ) -> Result<Self, LinearError> {
        let through = mesh.through();
        let (line, middle) = (2 * (2 * through + 1), 2 * (through + 1));
        let mut condensation = Condensation::new(mesh, [line, middle], most_bytes);
        condensation.sort_widths(law, walls)?;
        let (arc, top, opposite) = condensation.whole()?;
        condensation.close(arc, top, opposite.is_none())?;
        let Condensation {
            factors,
            mut substructures,
            width_class,
            widths,
            ..
        } = condensation;

        // unknowns in the order of the mesh: line, middle, line, middle, ...
        let unknowns = mesh.around() * (line + middle);
        let start =
            |lattice_line: usize| (lattice_line / 2) * (line + middle) + (lattice_line % 2) * line;
        let root = BlockId::new(substructures.len() - 1);
        let mut eliminated_by = vec![root; mesh.angles().len()];
        for (k, substructure) in substructures.iter_mut().enumerate() {
            let lattice_line = substructure.own.start;
            eliminated_by[lattice_line] = BlockId::new(k);
            let own = start(lattice_line);
            substructure.own = own..own + if lattice_line % 2 == 0 { line } else { middle };
            substructure.ends = substructure.ends.map(|l| start(l % mesh.angles().len()));
        }
        substructures[root.index()].parent = root;
        let mut place = vec![(0, root); mesh.nodes()];
        let mut line_of = vec![0; mesh.nodes()];
        for (i, &substructure) in eliminated_by.iter().enumerate() {
            for (k, j) in (0..=2 * through).step_by(1 + i % 2).enumerate() {
                let node = mesh.node(i, j);
                place[node] = ((start(i) + 2 * k) as u32, substructure);
                line_of[node] = i as u32;
            }
        }
        let mut order: Vec<BlockId> = (0..substructures.len()).map(BlockId::new).collect();
        order.sort_by_key(|b| substructures[b.index()].factor);
        let division = Division::of(&substructures, &order, unknowns, line);
        Ok(Self {
            factors,
            substructures,
            order,
            place,
            directions: mesh.angles().iter().map(|t| [t.cos(), t.sin()]).collect(),
            line_of,
            unknowns,
            line,
            constrained: [
                1,
                2 * through,
                opposite.map_or(line - 1, |b| start(2 * b) + 1),
            ],
            elements: widths,
            width_class,
            topology: *mesh.topology(),
            division,
            arch: pulp::Arch::new(),
        })
    }
}

/// Most lanes that a processor's vectors have.
const MOST_LANES: usize = 16;

/// Fewer equal substructures than this are eliminated one by one: their lanes would be mostly empty.
const LEAST_ALIKE: usize = 3;

impl Substructured {
    fn factor_of(&self, block: BlockId) -> u32 {
        self.substructures[block.index()].factor
    }

    /// Blocks in the order of their factors: an arc's is made after those of the arcs that it is joined from, so children come first.
    fn by_factor(&self, blocks: impl Iterator<Item = BlockId>) -> Vec<BlockId> {
        let mut order: Vec<BlockId> = blocks.collect();
        if order.len() == self.order.len() {
            return self.order.clone();
        }
        order.sort_unstable_by_key(|&b| (self.factor_of(b), b));
        order
    }

    #[inline(always)]
    fn forward(&self, substructure: &Substructure, x: &mut [f64]) {
        let factor = &self.factors[substructure.factor as usize];
        let n = factor.size;
        let (first, last) = (substructure.own.start, substructure.own.end);
        for k in 0..n {
            let column = &factor.lower[k * n..(k + 1) * n];
            let v = x[first + k] / column[k];
            x[first + k] = v;
            for (t, l) in x[first + k + 1..last].iter_mut().zip(&column[k + 1..]) {
                *t -= l * v;
            }
        }
        for (end, &start) in substructure
            .ends
            .iter()
            .enumerate()
            .take(factor.coupling.len() / (n * self.line))
        {
            for k in 0..self.line {
                let at = (end * self.line + k) * n;
                x[start + k] -= dot(&factor.coupling[at..at + n], &x[first..last]);
            }
        }
    }

    #[inline(always)]
    fn backward(&self, substructure: &Substructure, x: &mut [f64]) {
        let factor = &self.factors[substructure.factor as usize];
        let n = factor.size;
        let (first, last) = (substructure.own.start, substructure.own.end);
        for (end, &start) in substructure
            .ends
            .iter()
            .enumerate()
            .take(factor.coupling.len() / (n * self.line))
        {
            for k in 0..self.line {
                let at = (end * self.line + k) * n;
                let v = x[start + k];
                for (t, w) in x[first..last].iter_mut().zip(&factor.coupling[at..at + n]) {
                    *t -= w * v;
                }
            }
        }
        for k in (0..n).rev() {
            let column = &factor.lower[k * n..(k + 1) * n];
            let below = dot(&column[k + 1..], &x[first + k + 1..last]);
            x[first + k] = (x[first + k] - below) / column[k];
        }
    }
}

impl Elimination<2> for Substructured {
    fn nodes(&self) -> usize {
        self.place.len()
    }

    fn unknowns(&self) -> usize {
        self.unknowns
    }

    fn block_count(&self) -> usize {
        self.substructures.len()
    }

    fn range(&self, block: BlockId) -> Range<usize> {
        self.substructures[block.index()].own.clone()
    }

    fn parent(&self, block: BlockId) -> BlockId {
        self.substructures[block.index()].parent
    }

    fn block_of(&self, node: usize) -> BlockId {
        self.place[node].1
    }

    fn first_unknown(&self, node: usize) -> usize {
        self.place[node].0 as usize
    }

    fn short_paths(&self) -> bool {
        true
    }

    fn to_unknowns(&self, node: usize, [x, y]: [f64; 2]) -> [f64; 2] {
        let [c, s] = self.directions[self.line_of[node] as usize];
        [c * x + s * y, c * y - s * x]
    }

    fn to_plane(&self, node: usize, [r, t]: [f64; 2]) -> [f64; 2] {
        let [c, s] = self.directions[self.line_of[node] as usize];
        [c * r - s * t, s * r + c * t]
    }

    fn constrained(&self) -> &[usize] {
        &self.constrained
    }

    fn eliminate(&self, blocks: impl Iterator<Item = BlockId>, x: &mut [f64]) {
        let order = self.by_factor(blocks);
        if order.len() == self.order.len() && self.division.is_divided() {
            return self.eliminate_divided(x);
        }
        self.sweep(&order, false, x);
    }

    fn substitute(&self, blocks: impl Iterator<Item = BlockId>, x: &mut [f64]) {
        let order = self.by_factor(blocks);
        if order.len() == self.order.len() && self.division.is_divided() {
            return self.substitute_divided(x);
        }
        self.sweep(&order, true, x);
    }

    fn stiffest(&self) -> f64 {
        let diagonal = self
            .elements
            .iter()
            .flatten()
            .flat_map(|k| (0..16).map(|n| k[n][n]));
        diagonal.fold(0.0, f64::max)
    }

    fn multiply(&self, x: &[f64]) -> Vec<f64> {
        let (x, _) = x.as_chunks();
        let (y, _) = over_arcs(
            &self.topology,
            |arc, y| {
                self.arch.dispatch(Product {
                    ring: self,
                    arc,
                    x,
                    y,
                });
            },
            add_vector,
        );
        y.into_flattened()
    }
}

impl Substructured {
    /// Elimination or back substitution over some blocks.
    fn sweep(&self, order: &[BlockId], back: bool, x: &mut [f64]) {
        let list: Vec<&Substructure> = order
            .iter()
            .map(|b| &self.substructures[b.index()])
            .collect();
        self.arch.dispatch(Sweep {
            ring: self,
            list: &list,
            constrained: &self.constrained,
            back,
            x,
        });
    }
}

/// Elimination or back substitution over some blocks, in the order of their factors.
///
/// It is a type and no closure so that it is compiled for the processor's vector width: a closure's body need not be inlined where that is
/// known.
struct Sweep<'a, T> {
    ring: &'a Substructured,
    /// In the order of their factors.
    list: &'a [T],
    constrained: &'a [usize],
    back: bool,
    x: &'a mut [f64],
}

impl<T: Borrow<Substructure>> Sweep<'_, T> {
    /// Sets the constrained unknowns of some blocks to zero: what other blocks pass on to them, the constraints take.
    #[inline(always)]
    fn hold(&mut self, blocks: &[T]) {
        for &p in self.constrained {
            let mut own = blocks.iter().map(|b| &b.borrow().own);
            if own.any(|own| own.contains(&p)) {
                self.x[p] = 0.0;
            }
        }
    }

    #[inline(always)]
    fn group<S: Simd>(&mut self, alike: &[T], batch: &mut Batch<S>) {
        let ring = self.ring;
        for few in alike.chunks(S::F64_LANES) {
            if !self.back {
                self.hold(few);
            }
            if few.len() < LEAST_ALIKE {
                for b in few {
                    match self.back {
                        false => ring.forward(b.borrow(), self.x),
                        true => ring.backward(b.borrow(), self.x),
                    }
                }
                continue;
            }
            let mut list = [few[0].borrow(); MOST_LANES];
            for (place, b) in list.iter_mut().zip(few) {
                *place = b.borrow();
            }
            let factor = &ring.factors[list[0].factor as usize];
            let list = &list[..few.len()];
            if self.back {
                batch.backward(factor, list, self.x);
            } else {
                batch.forward(factor, list, self.x);
            }
        }
    }
}

impl<T: Borrow<Substructure>> WithSimd for Sweep<'_, T> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(mut self, simd: S) {
        let mut batch = Batch::new(simd);
        let list = self.list;
        let mut groups = list.chunk_by(|a, b| a.borrow().factor == b.borrow().factor);
        while let Some(alike) = if self.back {
            groups.next_back()
        } else {
            groups.next()
        } {
            self.group(alike, &mut batch);
        }
    }
}

/// The product with the stiffness of an arc, element by element; a type for the same reason as [`Sweep`].
struct Product<'a, 'b> {
    ring: &'a Substructured,
    arc: &'a ColumnArc,
    x: &'a [[f64; 2]],
    y: &'a mut ArcValues<'b, [f64; 2]>,
}

impl pulp::NullaryFnOnce for Product<'_, '_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        let Self { ring, arc, x, y } = self;
        for (column, layer) in arc.own.element_places() {
            let class = ring.width_class[arc.columns.start + column] as usize;
            let k = &ring.elements[class][layer];
            let nodes = arc.own.element_nodes(column, layer);
            let mut local = [0.0; 16];
            for (n, &node) in nodes.iter().enumerate() {
                [local[2 * n], local[2 * n + 1]] = x[arc.in_whole(node)];
            }
            let mut sum = [0.0; 16];
            for (row, v) in k.iter().zip(local) {
                for (s, k) in sum.iter_mut().zip(row) {
                    *s += k * v;
                }
            }
            for (n, &node) in nodes.iter().enumerate() {
                let y = y.at(node);
                y[0] += sum[2 * n];
                y[1] += sum[2 * n + 1];
            }
        }
    }
}
