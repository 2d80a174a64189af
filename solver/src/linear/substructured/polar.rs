//! Element stiffness of a round ring in polar directions.

use super::ElementMatrix;
use crate::element::{self, InvertedElement, NODE_PAIRS, PlaneStress};
use crate::linear::LinearError;
use crate::linear::operator::inverted;
use crate::mesh::{ELEMENT_NODES, Mesh};

/// Lattice position, within its column, of an element's nodes in the order of [`Mesh::element_nodes`].
pub(super) fn local_lattice(layer: usize) -> [(usize, usize); ELEMENT_NODES] {
    let j = 2 * layer;
    [
        (2, j),
        (0, j),
        (0, j + 2),
        (2, j + 2),
        (1, j),
        (0, j + 1),
        (1, j + 2),
        (2, j + 1),
    ]
}

/// Element stiffness of a column in polar directions, layer by layer, `[r, t]` by node; round with radii `[bore, outer]` of its own (mm),
/// or as the mesh is.
pub(super) fn polar_elements(
    mesh: &Mesh,
    law: &PlaneStress,
    column: usize,
    half: f64,
    own: Option<[f64; 2]>,
) -> Result<Vec<ElementMatrix>, LinearError> {
    let radius = |i: usize, j: usize| match own {
        Some([bore, outer]) => bore + mesh.layers()[j] * (outer - bore),
        None => {
            let c = mesh.coords()[mesh.node(2 * column + i, j)];
            c[0].hypot(c[1])
        }
    };
    let mut list = Vec::with_capacity(mesh.through());
    let mut blocks = [[0.0; 4]; NODE_PAIRS];
    for layer in 0..mesh.through() {
        let lattice = local_lattice(layer);
        let turn = lattice.map(|(i, _)| (half * (i as f64 - 1.0)).sin_cos());
        let coords: [[f64; 2]; ELEMENT_NODES] = std::array::from_fn(|n| {
            let (i, j) = lattice[n];
            let (s, c) = turn[n];
            [radius(i, j) * c, radius(i, j) * s]
        });
        element::stiffness(law, &coords, &mut blocks)
            .map_err(|InvertedElement| inverted(column, layer, coords[0]))?;
        let mut k = [[0.0; 16]; 16];
        let mut pair = 0;
        for a in 0..8 {
            for b in 0..=a {
                let [xx, xy, yx, yy] = blocks[pair];
                pair += 1;
                // rows turn with node a, columns with node b
                let ((sa, ca), (sb, cb)) = (turn[a], turn[b]);
                let (rx, ry) = (ca * xx + sa * yx, ca * xy + sa * yy);
                let (tx, ty) = (ca * yx - sa * xx, ca * yy - sa * xy);
                let polar = [
                    [rx * cb + ry * sb, ry * cb - rx * sb],
                    [tx * cb + ty * sb, ty * cb - tx * sb],
                ];
                for p in 0..2 {
                    for q in 0..2 {
                        k[2 * a + p][2 * b + q] = polar[p][q];
                        k[2 * b + q][2 * a + p] = polar[p][q];
                    }
                }
            }
        }
        list.push(k);
    }
    Ok(list)
}
