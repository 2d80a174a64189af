//! The stiffness of a mesh applied to displacements element by element, without being assembled.

use super::LinearError;
use crate::element::{self, Folded, PlaneStress};
use crate::mesh::Mesh;

/// Nodal forces `K u` (N) that hold a displacement `u` (mm) of a mesh.
///
/// # Errors
/// [`LinearError::Folded`].
pub fn internal_forces(
    mesh: &Mesh,
    law: &PlaneStress,
    displacement: &[[f64; 2]],
) -> Result<Vec<[f64; 2]>, LinearError> {
    let mut forces = vec![[0.0; 2]; mesh.nodes()];
    let coords = mesh.coords();
    pulp::Arch::new().dispatch(|| {
        for column in 0..mesh.around() {
            for layer in 0..mesh.through() {
                let nodes = mesh.element_nodes(column, layer);
                let x = nodes.map(|n| coords[n]);
                let u = nodes.map(|n| displacement[n]);
                let f =
                    element::internal_force(law, &x, &u).map_err(|Folded| LinearError::Folded {
                        column,
                        layer,
                        at: x[0],
                    })?;
                for (n, f) in nodes.into_iter().zip(f) {
                    forces[n][0] += f[0];
                    forces[n][1] += f[1];
                }
            }
        }
        Ok(())
    })?;
    Ok(forces)
}
