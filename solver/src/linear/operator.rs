//! Operators on a mesh: element matrices that are assembled, or applied element by element.

use pulp::{Simd, WithSimd, bytemuck};

use super::LinearError;
use super::arcs::{ArcValues, ColumnArc, over_arcs};
use crate::element::meridian::{Isotropic, harmonic_stiffness};
use crate::element::{self, Abreast, InvertedElement, NODE_PAIRS, PlaneStress};
use crate::mesh::{ELEMENT_NODES, MeridianMesh, Mesh};

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

/// The stiffness of a body of revolution for one harmonic of displacement around its axis: three unknowns a node, amplitudes along r, z and theta (mm);
/// entries in N/mm and radian. Empty elements have none.
#[derive(Clone, Copy)]
pub struct HarmonicStiffness<'a> {
    /// Its r-z plane.
    pub mesh: &'a MeridianMesh,
    /// Its material.
    pub law: &'a Isotropic,
    /// How often the displacement repeats around the axis.
    pub harmonic: u32,
}

impl Operator<3> for HarmonicStiffness<'_> {
    #[inline(always)]
    fn element(
        &self,
        column: usize,
        layer: usize,
        blocks: &mut [[[f64; 3]; 3]; NODE_PAIRS],
    ) -> Result<(), LinearError> {
        if !self.mesh.filled(column).contains(&layer) {
            *blocks = [[[0.0; 3]; 3]; NODE_PAIRS];
            return Ok(());
        }
        let nodes = self.mesh.topology().element_nodes(column, layer);
        let coords = nodes.map(|n| self.mesh.coords()[n]);
        harmonic_stiffness(self.law, self.harmonic, &coords, blocks)
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
    let arch = pulp::Arch::new();
    let (forces, done) = over_arcs(
        mesh.topology(),
        |arc, forces| {
            arch.dispatch(InternalForces {
                mesh,
                law,
                displacement,
                arc,
                forces,
            })
        },
        add_vector,
    );
    done.into_iter().collect::<Result<(), _>>()?;
    Ok(forces)
}

/// Adds a vector to another.
pub(super) fn add_vector(to: &mut [f64; 2], more: &[f64; 2]) {
    to[0] += more[0];
    to[1] += more[1];
}

/// The product with the stiffness of an arc of a mesh, as many elements at a time as the processor's vectors have lanes.
struct InternalForces<'a, 'b> {
    mesh: &'a Mesh,
    law: &'a PlaneStress,
    displacement: &'a [[f64; 2]],
    arc: &'a ColumnArc,
    forces: &'a mut ArcValues<'b, [f64; 2]>,
}

impl WithSimd for InternalForces<'_, '_> {
    type Output = Result<(), LinearError>;

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> Self::Output {
        let coords = self.mesh.coords();
        let through = self.mesh.through();
        let elements = self.arc.own.elements();
        let zero = [[simd.splat_f64s(0.0); 2]; ELEMENT_NODES];
        let (mut at, mut moved): (Abreast<S>, Abreast<S>) = (zero, zero);
        let mut nodes = vec![[0; ELEMENT_NODES]; S::F64_LANES];
        for first in (0..elements).step_by(S::F64_LANES) {
            {
                let (x, u) = (numbers::<S>(&mut at), numbers::<S>(&mut moved));
                for (lane, nodes) in nodes.iter_mut().enumerate() {
                    // empty lanes repeat the last element
                    let element = (first + lane).min(elements - 1);
                    *nodes = self
                        .arc
                        .own
                        .element_nodes(element / through, element % through);
                    for (n, &node) in nodes.iter().enumerate() {
                        let k = 2 * n * S::F64_LANES + lane;
                        let node = self.arc.in_whole(node);
                        [x[k], x[k + S::F64_LANES]] = coords[node];
                        [u[k], u[k + S::F64_LANES]] = self.displacement[node];
                    }
                }
            }
            let (mut forces, mut least) =
                element::internal_forces_abreast(simd, self.law, &at, &moved);
            let least: &mut [f64] = bytemuck::cast_slice_mut(std::slice::from_mut(&mut least));
            if let Some(lane) = least.iter().position(|d| d.is_nan() || *d <= 0.0) {
                let element = (first + lane).min(elements - 1);
                let corner = coords[self.arc.in_whole(nodes[lane][0])];
                let column = self.arc.columns.start + element / through;
                return Err(inverted(column, element % through, corner));
            }
            let forces = numbers::<S>(&mut forces);
            for (lane, nodes) in nodes.iter().enumerate().take(elements - first) {
                for (n, &node) in nodes.iter().enumerate() {
                    let f = self.forces.at(node);
                    for c in 0..2 {
                        f[c] += forces[(2 * n + c) * S::F64_LANES + lane];
                    }
                }
            }
        }
        Ok(())
    }
}

/// The numbers of all lanes, lane by lane within each.
#[inline(always)]
fn numbers<S: Simd>(values: &mut Abreast<S>) -> &mut [f64] {
    bytemuck::cast_slice_mut(values.as_flattened_mut())
}
