//! What an outline added on one lattice, as a start on another.

use std::f64::consts::TAU;
use std::sync::Arc;

use crate::element;
use crate::mesh::Mesh;

/// What the outline added to the displacement of the mean ring, stage by stage.
#[derive(Clone)]
pub(in crate::process) struct Added {
    pub mesh: Arc<Mesh>,
    /// Layer ends of its lattice, fractions of the wall.
    pub layers: Vec<f64>,
    /// Displacement of the nodes in the hold, then after each cut, mm.
    pub stages: Vec<Vec<[f64; 2]>>,
}

impl Added {
    /// A stage's field so many times, at the nodes of a mesh with these layer ends; `None` without that stage. Both lattices span the ring,
    /// whatever its outlines are, and a node lies where its angle and its share of the wall say.
    pub fn on(&self, stage: usize, share: f64, to: &Mesh, layers: &[f64]) -> Option<Vec<[f64; 2]>> {
        let field = self.stages.get(stage)?;
        let angles = self.mesh.angles();
        let around = self.mesh.around();
        let first = angles[0];
        let column_ends: Vec<f64> = (0..=around)
            .map(|c| {
                if c < around {
                    angles[2 * c]
                } else {
                    first + TAU
                }
            })
            .collect();
        let mut values = vec![[0.0; 2]; to.nodes()];
        for (i, &angle) in to.angles().iter().enumerate() {
            let (column, along) = place(&column_ends, first + (angle - first).rem_euclid(TAU));
            for j in (0..=2 * to.through()).filter(|j| i % 2 == 0 || j % 2 == 0) {
                let depth = 0.5 * (layers[j / 2] + layers[j.div_ceil(2)]);
                let (layer, across) = place(&self.layers, depth);
                // the bore side runs against the angle
                let shape = element::shape(1.0 - 2.0 * along, 2.0 * across - 1.0);
                let nodes = self.mesh.element_nodes(column, layer);
                let value = &mut values[to.node(i, j)];
                for (n, w) in nodes.into_iter().zip(shape) {
                    value[0] += share * w * field[n][0];
                    value[1] += share * w * field[n][1];
                }
            }
        }
        Some(values)
    }
}

/// The interval between ends that a value is in, and how far into it as a share.
fn place(ends: &[f64], value: f64) -> (usize, f64) {
    let k = ends.partition_point(|&e| e <= value);
    let k = k.clamp(1, ends.len() - 1) - 1;
    (k, (value - ends[k]) / (ends[k + 1] - ends[k]))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::geometry::{Outline, PerSurface, Surface};

    fn mesh(columns: usize, layers: &[f64]) -> Mesh {
        let outlines = PerSurface::from_fn(|s| {
            Outline::round(match s {
                Surface::Outer => 50.0,
                Surface::Bore => 45.0,
            })
        });
        let ends: Vec<f64> = (0..columns)
            .map(|k| 0.1 + TAU * k as f64 / columns as f64)
            .collect();
        Mesh::build(&outlines, &ends, layers, true).unwrap()
    }

    /// A field that the elements hold exactly, and one of three lobes, as they were on the other lattice.
    #[test]
    fn a_field_is_the_same_on_another_lattice() {
        let coarse = [0.0, 0.3, 0.8, 1.0];
        let fine = [0.0, 0.1, 0.25, 0.5, 0.9, 1.0];
        let from = mesh(40, &coarse);
        let to = mesh(64, &fine);
        let value = |c: &[f64; 2]| {
            let angle = c[1].atan2(c[0]);
            [c[0].hypot(c[1]), (3.0 * angle).cos()]
        };
        let at = |m: &Mesh| m.coords().iter().map(value).collect::<Vec<_>>();
        let field = at(&from);
        let added = Added {
            mesh: Arc::new(from.clone()),
            layers: coarse.to_vec(),
            stages: vec![field.clone()],
        };
        assert!(added.on(1, 1.0, &to, &fine).is_none());
        let on = |share: f64, to: &Mesh, layers: &[f64]| added.on(0, share, to, layers).unwrap();
        for (a, b) in on(1.0, &from, &coarse).iter().zip(&field) {
            assert!((a[0] - b[0]).abs() < 1e-9 && (a[1] - b[1]).abs() < 1e-9);
        }
        for (a, b) in on(2.0, &to, &fine).iter().zip(&at(&to)) {
            assert!((a[0] - 2.0 * b[0]).abs() < 1e-9, "{a:?} {b:?}");
            assert!((a[1] - 2.0 * b[1]).abs() < 1e-2, "{a:?} {b:?}");
        }
    }
}
