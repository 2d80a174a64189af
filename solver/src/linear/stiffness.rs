//! Pattern and values of the stiffness matrix.
//!
//! The pattern and a map from element entries to slots of the value array are made once for a lattice; refilling
//! the values after the nodes have moved touches no index. Unknowns are numbered in elimination order.

use nalgebra_sparse::CscMatrix;
use nalgebra_sparse::pattern::SparsityPattern;

use super::LinearError;
use super::order::nested_dissection;
use crate::element::{self, NODE_PAIRS, PlaneStress};
use crate::mesh::Mesh;

/// Where the entries of the stiffness of one lattice go.
#[derive(Debug)]
pub struct Layout {
    /// Position of each node in the elimination order.
    position: Vec<u32>,
    /// Lower triangle by columns, in elimination order.
    pattern: SparsityPattern,
    /// Slot of the first entry of each element's node pairs, in the order of [`element::stiffness`].
    slots: Vec<u32>,
    /// Unknowns (in elimination order) held at zero, increasing.
    pinned: Vec<usize>,
}

impl Layout {
    /// Layout for a lattice with these unknowns (`[node, axis]`) held at zero.
    pub fn new(mesh: &Mesh, pinned: &[[usize; 2]]) -> Self {
        let position = nested_dissection(mesh);
        let neighbours = Neighbours::new(mesh, &position);
        let n = mesh.nodes();
        let mut offsets = Vec::with_capacity(2 * n + 1);
        let mut rows = Vec::with_capacity(4 * neighbours.after.len() + 3 * n);
        offsets.push(0);
        for p in 0..n {
            for axis in 0..2 {
                rows.extend(2 * p + axis..2 * p + 2);
                for &q in neighbours.of(p) {
                    rows.extend([2 * q as usize, 2 * q as usize + 1]);
                }
                offsets.push(rows.len());
            }
        }
        let mut slots = Vec::with_capacity(mesh.elements() * NODE_PAIRS);
        for column in 0..mesh.around() {
            for layer in 0..mesh.through() {
                let nodes = mesh.element_nodes(column, layer).map(|v| position[v]);
                for a in 0..8 {
                    for b in 0..=a {
                        let (row, col) = (nodes[a].max(nodes[b]), nodes[a].min(nodes[b]));
                        let within = if row == col {
                            0
                        } else {
                            let k = neighbours.of(col as usize).partition_point(|&q| q < row);
                            2 + 2 * k
                        };
                        slots.push((offsets[2 * col as usize] + within) as u32);
                    }
                }
            }
        }
        let pattern = SparsityPattern::try_from_offsets_and_indices(2 * n, 2 * n, offsets, rows)
            .expect("columns are built sorted and without repeats");
        let mut pinned: Vec<usize> = pinned
            .iter()
            .map(|&[node, axis]| 2 * position[node] as usize + axis)
            .collect();
        pinned.sort_unstable();
        Self {
            position,
            pattern,
            slots,
            pinned,
        }
    }

    /// Number of unknowns, pinned ones included.
    pub fn unknowns(&self) -> usize {
        self.pattern.major_dim()
    }

    /// Unknown of a node's axis (0 = x, 1 = y) in elimination order.
    pub fn unknown(&self, node: usize, axis: usize) -> usize {
        2 * self.position[node] as usize + axis
    }

    /// Whether an unknown is held at zero.
    pub fn is_pinned(&self, unknown: usize) -> bool {
        self.pinned.binary_search(&unknown).is_ok()
    }

    /// Unknowns held at zero, in elimination order.
    pub fn pinned(&self) -> &[usize] {
        &self.pinned
    }

    /// Lower triangle by columns, unknowns in elimination order.
    pub fn pattern(&self) -> &SparsityPattern {
        &self.pattern
    }

    /// The stiffness as a matrix of its own, lower triangle, unknowns in elimination order.
    pub fn matrix(&self, values: Vec<f64>) -> CscMatrix<f64> {
        CscMatrix::try_from_pattern_and_values(self.pattern.clone(), values)
            .expect("one value a pattern entry")
    }

    /// Assembles the lower triangle of the stiffness into `values`, without regard to pins.
    ///
    /// Elements are added in fixed order, so equal meshes give equal bits.
    ///
    /// # Errors
    /// [`LinearError::Folded`] naming the element whose map is not one to one.
    pub fn assemble(
        &self,
        mesh: &Mesh,
        law: &PlaneStress,
        values: &mut Vec<f64>,
    ) -> Result<(), LinearError> {
        values.clear();
        values.resize(self.pattern.nnz(), 0.0);
        pulp::Arch::new().dispatch(|| self.add_elements(mesh, law, values))
    }

    #[inline(always)]
    fn add_elements(
        &self,
        mesh: &Mesh,
        law: &PlaneStress,
        values: &mut [f64],
    ) -> Result<(), LinearError> {
        let offsets = self.pattern.major_offsets();
        let mut blocks = [[0.0; 4]; NODE_PAIRS];
        let mut slots = self.slots.chunks_exact(NODE_PAIRS);
        for column in 0..mesh.around() {
            for layer in 0..mesh.through() {
                let nodes = mesh.element_nodes(column, layer);
                let coords = nodes.map(|v| mesh.coords()[v]);
                element::stiffness(law, &coords, &mut blocks).map_err(|_| LinearError::Folded {
                    column,
                    layer,
                    at: coords[0],
                })?;
                let position = nodes.map(|v| self.position[v]);
                let slots = slots.next().expect("one set of slots an element");
                let mut pair = 0;
                for a in 0..8 {
                    for b in 0..=a {
                        let [xx, xy, yx, yy] = blocks[pair];
                        let slot = slots[pair] as usize;
                        let col = 2 * position[a].min(position[b]) as usize;
                        // the second column of a node has lost the entry above its diagonal
                        let next = slot + (offsets[col + 1] - offsets[col]) - 1;
                        if a == b {
                            values[slot] += xx;
                            values[slot + 1] += xy;
                            values[next + 1] += yy;
                        } else if position[a] > position[b] {
                            values[slot] += xx;
                            values[slot + 1] += yx;
                            values[next] += xy;
                            values[next + 1] += yy;
                        } else {
                            values[slot] += xx;
                            values[slot + 1] += xy;
                            values[next] += yx;
                            values[next + 1] += yy;
                        }
                        pair += 1;
                    }
                }
            }
        }
        Ok(())
    }

    /// Replaces the rows and columns of pinned unknowns by a diagonal of the size of the others, and returns what
    /// stood there as `(row, column, value)` of the lower triangle.
    pub(super) fn pin(&self, values: &mut [f64]) -> Vec<(usize, usize, f64)> {
        let mut taken = Vec::new();
        let Some(&last) = self.pinned.last() else {
            return taken;
        };
        let offsets = self.pattern.major_offsets();
        let first_free = (0..)
            .find(|u| !self.is_pinned(*u))
            .expect("not everything is pinned");
        let scale = values[offsets[first_free]];
        let mut mask = vec![false; self.unknowns()];
        for &u in &self.pinned {
            mask[u] = true;
        }
        for col in 0..=last {
            let range = offsets[col]..offsets[col + 1];
            let rows = &self.pattern.minor_indices()[range.clone()];
            for (&row, value) in rows.iter().zip(&mut values[range]) {
                if mask[col] || mask[row] {
                    taken.push((row, col, *value));
                    *value = if row == col { scale } else { 0.0 };
                }
            }
        }
        taken
    }
}

/// Unknowns that hold a ring's three rigid motions without straining it: both of a node in the middle of the wall, and of the
/// node opposite the one across the line between them. Not on a surface: a pin where a pad presses would take the load for its
/// own, and that load would seem to move nothing.
pub fn rigid_pins(mesh: &Mesh) -> Vec<[usize; 2]> {
    let middle = mesh.through();
    let (a, b) = (
        mesh.node(0, middle),
        mesh.node(2 * (mesh.around() / 2), middle),
    );
    let (ca, cb) = (mesh.coords()[a], mesh.coords()[b]);
    let across = usize::from((cb[0] - ca[0]).abs() > (cb[1] - ca[1]).abs());
    vec![[a, 0], [a, 1], [b, across]]
}

/// For each node in elimination order, the later nodes that share an element with it, increasing.
struct Neighbours {
    start: Vec<u32>,
    after: Vec<u32>,
}

impl Neighbours {
    fn new(mesh: &Mesh, position: &[u32]) -> Self {
        let n = mesh.nodes();
        let mut node_at = vec![0_u32; n];
        for (node, &p) in position.iter().enumerate() {
            node_at[p as usize] = node as u32;
        }
        // elements of a node by counting, so that no list is allocated for each node
        let mut first = vec![0_u32; n + 1];
        let elements: Vec<[usize; 8]> = (0..mesh.around())
            .flat_map(|c| (0..mesh.through()).map(move |l| (c, l)))
            .map(|(c, l)| mesh.element_nodes(c, l))
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
