//! Operators on a mesh: element matrices that are assembled, or applied element by element.

use super::LinearError;
use crate::element::{self, InvertedElement, NODE_PAIRS, PlaneStress};
use crate::mesh::{ELEMENT_NODES, Mesh};

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
    pulp::Arch::new().dispatch(InternalForces {
        mesh,
        law,
        displacement,
        forces: &mut forces,
    })?;
    Ok(forces)
}

/// Elements side by side, one a lane.
const LANES: usize = element::LANES;

/// The product with the stiffness of a mesh. It is a type and no closure so that it is compiled for the processor's vector width.
struct InternalForces<'a> {
    mesh: &'a Mesh,
    law: &'a PlaneStress,
    displacement: &'a [[f64; 2]],
    forces: &'a mut [[f64; 2]],
}

impl pulp::NullaryFnOnce for InternalForces<'_> {
    type Output = Result<(), LinearError>;

    #[inline(always)]
    fn call(self) -> Self::Output {
        let coords = self.mesh.coords();
        let places: Vec<(usize, usize)> = self.mesh.topology().element_places().collect();
        let mut at = element::Abreast::default();
        for few in places.chunks(LANES) {
            let mut nodes = [[0; ELEMENT_NODES]; LANES];
            for (lane, nodes) in nodes.iter_mut().enumerate() {
                // empty lanes repeat the last element
                let (column, layer) = few[lane.min(few.len() - 1)];
                *nodes = self.mesh.element_nodes(column, layer);
                for (n, &node) in nodes.iter().enumerate() {
                    for c in 0..2 {
                        at.coords[n][c][lane] = coords[node][c];
                        at.displacement[n][c][lane] = self.displacement[node][c];
                    }
                }
            }
            let forces = element::internal_forces_abreast(self.law, &at).map_err(|lane| {
                let (column, layer) = few[lane.min(few.len() - 1)];
                inverted(column, layer, coords[nodes[lane][0]])
            })?;
            for (lane, nodes) in nodes.iter().enumerate().take(few.len()) {
                for (n, &node) in nodes.iter().enumerate() {
                    for c in 0..2 {
                        self.forces[node][c] += forces[n][c][lane];
                    }
                }
            }
        }
        Ok(())
    }
}
