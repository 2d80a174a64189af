//! Operators on a mesh: element matrices that are assembled, or applied element by element.

use super::LinearError;
use crate::element::{self, InvertedElement, NODE_PAIRS, PlaneStress};
use crate::mesh::Mesh;

/// A symmetric operator with `D` unknowns a node, given by its element matrices.
pub trait Operator<const D: usize> {
    /// The matrix of element `(column, layer)` as `D` by `D` blocks of its node pairs `(a, b)`, `b <= a`, row by row of the lower
    /// triangle; the row of a block belongs to `a`, its column to `b`. Every entry of `blocks` is written.
    ///
    /// # Errors
    /// [`LinearError::InvertedElement`].
    fn element(
        &self,
        column: usize,
        layer: usize,
        blocks: &mut [[[f64; D]; D]; NODE_PAIRS],
    ) -> Result<(), LinearError>;
}

/// The stiffness of a section in plane stress: two unknowns a node, displacement along x and y (mm); entries in N/mm.
#[derive(Clone, Copy)]
pub struct Stiffness<'a> {
    /// The section.
    pub mesh: &'a Mesh,
    /// Its material and length.
    pub law: &'a PlaneStress,
}

impl Operator<2> for Stiffness<'_> {
    #[inline(always)]
    fn element(
        &self,
        column: usize,
        layer: usize,
        blocks: &mut [[[f64; 2]; 2]; NODE_PAIRS],
    ) -> Result<(), LinearError> {
        let nodes = self.mesh.element_nodes(column, layer);
        let coords = nodes.map(|n| self.mesh.coords()[n]);
        let (flat, _) = blocks.as_flattened_mut().as_flattened_mut().as_chunks_mut();
        let flat = flat.try_into().expect("four entries a pair");
        element::stiffness(self.law, &coords, flat)
            .map_err(|InvertedElement| inverted(column, layer, coords[0]))
    }
}

/// The error of an element with this corner.
pub(super) fn inverted(column: usize, layer: usize, at: [f64; 2]) -> LinearError {
    LinearError::InvertedElement { column, layer, at }
}

/// Nodal forces `K u` (N) that hold a displacement `u` (mm) of a mesh, the stiffness applied element by element without being
/// assembled.
///
/// # Errors
/// [`LinearError::InvertedElement`].
pub fn internal_forces(
    mesh: &Mesh,
    law: &PlaneStress,
    displacement: &[[f64; 2]],
) -> Result<Vec<[f64; 2]>, LinearError> {
    let mut forces = vec![[0.0; 2]; mesh.nodes()];
    let coords = mesh.coords();
    pulp::Arch::new().dispatch(|| {
        for (column, layer) in mesh.topology().element_places() {
            let nodes = mesh.element_nodes(column, layer);
            let x = nodes.map(|n| coords[n]);
            let u = nodes.map(|n| displacement[n]);
            let f = element::internal_force(law, &x, &u)
                .map_err(|InvertedElement| inverted(column, layer, x[0]))?;
            for (n, f) in nodes.into_iter().zip(f) {
                forces[n][0] += f[0];
                forces[n][1] += f[1];
            }
        }
        Ok(())
    })?;
    Ok(forces)
}
