//! What the pressures of a contact do to the nodes of the nearly round part.

use super::fields::plus;
use super::precondition::Stretch;
use super::stage::RoundStage;
use crate::contact::{RoundState, add};
use crate::element::PlaneStress;
use crate::linear::{NodeForce, internal_forces};
use crate::mesh::Mesh;
use crate::process::ProcessError;
use crate::process::statics::{balance, free};

/// The part's mesh beside its mean ring's, and what acts on it.
pub(super) struct Nodes<'a> {
    /// The true outline on the lattice.
    pub mesh: &'a Mesh,
    pub law: &'a PlaneStress,
    pub stage: &'a RoundStage,
    /// Nodal forces of unit pressures and of the dead loads.
    pub loads: &'a [Vec<NodeForce>],
    pub dead: &'a [NodeForce],
    /// Nodal forces of the residual stress in the mean ring and in the part, N.
    pub initial: Option<&'a [Vec<[f64; 2]>; 2]>,
    /// Where the outline is another than the mean ring's: its wall beside that one's, and what it adds to the displacement so far, mm.
    pub outline: Option<(&'a Stretch, &'a Vec<[f64; 2]>)>,
}

/// What they find.
pub(super) struct OnMesh {
    /// Displacement of the nodes without shift and Poisson expansion, mm, and the forces that make it, N.
    pub whole: Vec<[f64; 2]>,
    pub forces: Vec<[f64; 2]>,
    /// What is to be added to the displacement for the outline, mm.
    pub correction: Option<Vec<[f64; 2]>>,
}

impl Nodes<'_> {
    /// Displacement of the nodes under the pressures of a contact, and what is left of their equilibrium as a correction.
    pub fn under(&self, state: &RoundState) -> Result<OnMesh, ProcessError> {
        let mut forces = vec![[0.0; 2]; self.mesh.nodes()];
        for (load, &p) in self.loads.iter().zip(state.pressures()) {
            if p != 0.0 {
                add(&mut forces, load, p);
            }
        }
        add(&mut forces, self.dead, 1.0);
        balance(self.mesh, &mut forces);
        let mut on_mean = forces.clone();
        if let Some([mean, own]) = self.initial {
            plus(&mut on_mean, mean);
            plus(&mut forces, own);
        }
        let mut whole = free(&self.stage.factor, &self.stage.mesh, &on_mean)?;
        let mut correction = None;
        if let Some((stretch, added)) = self.outline {
            plus(&mut whole, added);
            let mut residual = internal_forces(self.mesh, self.law, &whole)?;
            for (r, f) in residual.iter_mut().zip(&forces) {
                *r = [f[0] - r[0], f[1] - r[1]];
            }
            // any factor near the true one will do: what it leaves is found in the next iteration
            correction = Some(stretch.correction(self.stage, residual));
        }
        Ok(OnMesh {
            whole,
            forces,
            correction,
        })
    }
}
