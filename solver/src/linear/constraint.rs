//! Point constraints: single unknowns held at zero, so that a body without supports can be factored.

use super::SparsityPattern;
use crate::mesh::Mesh;

/// An unknown held at zero: `[node, component]` (of a displacement in the plane: 0 = x, 1 = y).
pub type PointConstraint = [usize; 2];

/// Point constraints that hold a ring's three rigid-body modes without straining it: both components of a node in the middle of the
/// wall, and of the node opposite the one across the line between them. Not on a surface: where a pad presses, the constraint
/// would take the load for its own, and that load would seem to move nothing.
pub fn rigid_body_constraints(mesh: &Mesh) -> Vec<PointConstraint> {
    let middle = mesh.through();
    let (a, b) = (
        mesh.node(0, middle),
        mesh.node(2 * (mesh.around() / 2), middle),
    );
    let (ca, cb) = (mesh.coords()[a], mesh.coords()[b]);
    let across = usize::from((cb[0] - ca[0]).abs() > (cb[1] - ca[1]).abs());
    vec![[a, 0], [a, 1], [b, across]]
}

/// Point constraints as unknowns of a pattern, with the entries of the operator that they replace.
pub(super) struct Constrained {
    /// Unknowns held at zero, in elimination order, increasing.
    unknowns: Vec<usize>,
    /// Entries of the lower triangle as they were: `(row, column, value)`.
    replaced: Vec<(usize, usize, f64)>,
}

impl Constrained {
    pub fn new<const D: usize>(
        pattern: &SparsityPattern<D>,
        constraints: &[PointConstraint],
    ) -> Self {
        let mut unknowns: Vec<usize> = constraints
            .iter()
            .map(|&[node, component]| pattern.unknown(node, component))
            .collect();
        unknowns.sort_unstable();
        Self {
            unknowns,
            replaced: Vec::new(),
        }
    }

    /// The constrained unknowns, increasing.
    pub fn unknowns(&self) -> &[usize] {
        &self.unknowns
    }

    /// Replaces the rows and columns of constrained unknowns by a diagonal of the size of the others, and keeps what stood
    /// there.
    pub fn apply<const D: usize>(&mut self, pattern: &SparsityPattern<D>, values: &mut [f64]) {
        self.replaced.clear();
        let Some(&last) = self.unknowns.last() else {
            return;
        };
        let offsets = pattern.offsets();
        let first_free = (0..)
            .find(|u| self.unknowns.binary_search(u).is_err())
            .expect("not everything is constrained");
        let scale = values[offsets[first_free]];
        let mut mask = vec![false; pattern.unknowns()];
        for &u in &self.unknowns {
            mask[u] = true;
        }
        for col in 0..=last {
            let range = offsets[col]..offsets[col + 1];
            let rows = &pattern.rows()[range.clone()];
            for (&row, value) in rows.iter().zip(&mut values[range]) {
                if mask[col] || mask[row] {
                    self.replaced.push((row, col, *value));
                    *value = if row == col { scale } else { 0.0 };
                }
            }
        }
    }

    /// Turns `y`, the product of the constrained matrix and `x`, into that of the operator itself.
    pub fn undo(&self, x: &[f64], y: &mut [f64]) {
        for &u in &self.unknowns {
            y[u] = 0.0;
        }
        for &(row, col, value) in &self.replaced {
            y[row] += value * x[col];
            if row != col {
                y[col] += value * x[row];
            }
        }
    }
}
