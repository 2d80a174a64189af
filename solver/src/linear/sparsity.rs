//! Sparsity pattern of an operator on a topology, and assembly into it.
//!
//! The pattern and a map from element entries to slots of the value array are made once for a topology; assembling again
//! after the nodes have moved, or for another operator with as many unknowns a node, touches no index. Unknowns are numbered in
//! elimination order.

use nalgebra_sparse::CscMatrix;
use nalgebra_sparse::pattern::SparsityPattern as Columns;

use super::order::nested_dissection;
use super::{LinearError, Operator};
use crate::element::NODE_PAIRS;
use crate::mesh::{ELEMENT_NODES, Topology};

/// Where the entries of an operator with `D` unknowns a node go, on one topology. The unknowns of a node follow each other.
#[derive(Debug)]
pub struct SparsityPattern<const D: usize = 2> {
    topology: Topology,
    /// Position of each node in the elimination order.
    position: Vec<u32>,
    /// Lower triangle by columns, in elimination order.
    columns: Columns,
    /// Slot of the first entry of each element's node pairs, row by row of the lower triangle.
    slots: Vec<u32>,
}

impl<const D: usize> SparsityPattern<D> {
    /// Sparsity pattern of a topology.
    pub fn new(topology: &Topology) -> Self {
        const { assert!(D > 0) };
        let position = nested_dissection(topology);
        let neighbours = Neighbours::new(topology, &position);
        let n = topology.nodes();
        let mut offsets = Vec::with_capacity(D * n + 1);
        let entries = D * D * neighbours.after.len() + D * (D + 1) / 2 * n;
        let mut rows = Vec::with_capacity(entries);
        offsets.push(0);
        for p in 0..n {
            for component in 0..D {
                rows.extend(D * p + component..D * (p + 1));
                for &q in neighbours.of(p) {
                    rows.extend(D * q as usize..D * (q as usize + 1));
                }
                offsets.push(rows.len());
            }
        }
        let mut slots = Vec::with_capacity(topology.elements() * NODE_PAIRS);
        for (column, layer) in topology.element_places() {
            let nodes = topology.element_nodes(column, layer).map(|v| position[v]);
            for a in 0..ELEMENT_NODES {
                for b in 0..=a {
                    let (row, col) = (nodes[a].max(nodes[b]), nodes[a].min(nodes[b]));
                    let within = if row == col {
                        0
                    } else {
                        let k = neighbours.of(col as usize).partition_point(|&q| q < row);
                        D * (1 + k)
                    };
                    slots.push((offsets[D * col as usize] + within) as u32);
                }
            }
        }
        let columns = Columns::try_from_offsets_and_indices(D * n, D * n, offsets, rows)
            .expect("columns are built sorted and without repeats");
        Self {
            topology: *topology,
            position,
            columns,
            slots,
        }
    }

    /// The topology that the pattern belongs to.
    pub fn topology(&self) -> &Topology {
        &self.topology
    }

    /// Number of unknowns, constrained ones included.
    pub fn unknowns(&self) -> usize {
        self.columns.major_dim()
    }

    /// Unknown of a node's component in elimination order.
    pub fn unknown(&self, node: usize, component: usize) -> usize {
        D * self.position[node] as usize + component
    }

    /// Where each column starts, and its end last: lower triangle by columns, unknowns in elimination order.
    pub fn offsets(&self) -> &[usize] {
        self.columns.major_offsets()
    }

    /// Row of each entry, increasing in each column, the diagonal first.
    pub fn rows(&self) -> &[usize] {
        self.columns.minor_indices()
    }

    /// An assembled operator as a matrix of its own, lower triangle, unknowns in elimination order.
    ///
    /// # Panics
    /// Unless there is one value an entry of the pattern.
    pub fn matrix(&self, values: Vec<f64>) -> CscMatrix<f64> {
        CscMatrix::try_from_pattern_and_values(self.columns.clone(), values)
            .expect("one value a pattern entry")
    }

    /// Assembles the lower triangle of an operator into `values`, without regard to constraints.
    ///
    /// Elements are added in fixed order, so equal operators give equal bits.
    ///
    /// # Errors
    /// [`LinearError::InvertedElement`] naming the element whose map is not one to one.
    pub fn assemble(
        &self,
        operator: &impl Operator<D>,
        values: &mut Vec<f64>,
    ) -> Result<(), LinearError> {
        values.clear();
        values.resize(self.columns.nnz(), 0.0);
        pulp::Arch::new().dispatch(Assembly {
            pattern: self,
            operator,
            values,
        })
    }

    #[inline(always)]
    fn add_elements(
        &self,
        operator: &impl Operator<D>,
        values: &mut [f64],
    ) -> Result<(), LinearError> {
        let offsets = self.offsets();
        let mut blocks = [[[0.0; D]; D]; NODE_PAIRS];
        let slots = self.slots.chunks_exact(NODE_PAIRS);
        for ((column, layer), slots) in self.topology.element_places().zip(slots) {
            operator.element(column, layer, &mut blocks)?;
            let nodes = self.topology.element_nodes(column, layer);
            let position = nodes.map(|v| self.position[v]);
            let mut pair = 0;
            for a in 0..ELEMENT_NODES {
                for b in 0..=a {
                    let (block, slot) = (&blocks[pair], slots[pair] as usize);
                    let first = D * position[a].min(position[b]) as usize;
                    for c in 0..D {
                        // each further column of a node has lost one more entry above its diagonal
                        let start = slot + (offsets[first + c] - offsets[first]) - c;
                        let least = if a == b { c } else { 0 };
                        for r in least..D {
                            // the block of a pair whose later node is `b` is transposed
                            values[start + r] += if position[a] < position[b] {
                                block[c][r]
                            } else {
                                block[r][c]
                            };
                        }
                    }
                    pair += 1;
                }
            }
        }
        Ok(())
    }
}

/// The assembly of an operator. It is a type and no closure so that it is compiled for the processor's vector width.
struct Assembly<'a, O, const D: usize> {
    pattern: &'a SparsityPattern<D>,
    operator: &'a O,
    values: &'a mut [f64],
}

impl<O: Operator<D>, const D: usize> pulp::NullaryFnOnce for Assembly<'_, O, D> {
    type Output = Result<(), LinearError>;

    #[inline(always)]
    fn call(self) -> Self::Output {
        self.pattern.add_elements(self.operator, self.values)
    }
}

/// For each node in elimination order, the later nodes that share an element with it, increasing.
struct Neighbours {
    start: Vec<u32>,
    after: Vec<u32>,
}

impl Neighbours {
    fn new(topology: &Topology, position: &[u32]) -> Self {
        let n = topology.nodes();
        let mut node_at = vec![0_u32; n];
        for (node, &p) in position.iter().enumerate() {
            node_at[p as usize] = node as u32;
        }
        // elements of a node by counting, so that no list is allocated for each node
        let mut first = vec![0_u32; n + 1];
        let elements: Vec<[usize; ELEMENT_NODES]> = topology
            .element_places()
            .map(|(c, l)| topology.element_nodes(c, l))
            .collect();
        for nodes in &elements {
            for &v in nodes {
                first[v + 1] += 1;
            }
        }
        for v in 0..n {
            first[v + 1] += first[v];
        }
        let mut fill = first.clone();
        let mut touching = vec![0_u32; first[n] as usize];
        for (e, nodes) in elements.iter().enumerate() {
            for &v in nodes {
                touching[fill[v] as usize] = e as u32;
                fill[v] += 1;
            }
        }
        let mut start = Vec::with_capacity(n + 1);
        let mut after = Vec::with_capacity(9 * n);
        let mut list: Vec<u32> = Vec::with_capacity(32);
        start.push(0);
        for (p, &node) in node_at.iter().enumerate() {
            let node = node as usize;
            list.clear();
            for &e in &touching[first[node] as usize..first[node + 1] as usize] {
                list.extend(
                    elements[e as usize]
                        .iter()
                        .map(|&v| position[v])
                        .filter(|&q| q as usize > p),
                );
            }
            list.sort_unstable();
            list.dedup();
            after.extend_from_slice(&list);
            start.push(after.len() as u32);
        }
        Self { start, after }
    }

    fn of(&self, p: usize) -> &[u32] {
        &self.after[self.start[p] as usize..self.start[p + 1] as usize]
    }
}
