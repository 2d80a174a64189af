//! Conjugate gradients on the true stiffness of a nearly round ring, preconditioned by the factor of a round one.
//!
//! With `K` the true stiffness (applied element by element, never assembled) and `K0` that of the round ring, `u` is brought to `K u = f` by
//! corrections `z = K0^-1 r` of the residual `r = f - K u`. How far `u` is from the answer is told by the energy `r' K0^-1 r`, so the answer
//! is that of the true mesh whatever `K0` is: only the number of steps depends on it.
//!
//! Where loads follow the displacement (contact), each correction comes with changes of the loads that make up for it. Those keep what
//! the loads must satisfy, so the errors lie in the space in which it is satisfied, and conjugate gradients hold there (projected conjugate
//! gradients: Gould, Hribar and Nocedal, SIAM J. Sci. Comput. 23 (2001) 1376; from memory). A step after which other loads act than before
//! is taken as it is, and conjugate directions start anew.

use super::{LinearError, NodeForce, Substructured, internal_forces};
use crate::element::PlaneStress;
use crate::mesh::Mesh;

/// Share of the root of the energy that may be missing once the last correction is added.
pub const SETTLED: f64 = 1e-8;

/// Whether a last correction will do: it takes off about as much as the one before, which left `before` where now `left` is left; of the
/// root of the energy no more than `settled` may then be missing.
pub fn is_settled(left: f64, before: f64, energy: f64, settled: f64) -> bool {
    let taken_off = if before.is_finite() {
        (left / before).min(1.0)
    } else {
        1.0
    };
    left == 0.0 || left * taken_off <= settled * settled * energy
}

/// Corrections after which the sparse factor would have been cheaper.
pub const MOST_STEPS: usize = 20;

/// How a correction is added.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Advance {
    /// As it is.
    Whole,
    /// Along a direction conjugate to the one before, as far as energy falls.
    Conjugate,
}

/// The body being iterated on.
#[derive(Clone, Copy)]
pub struct Elements<'a> {
    /// Its mesh, with the topology of the factor's.
    pub mesh: &'a Mesh,
    /// Its material and length.
    pub law: &'a PlaneStress,
}

impl Elements<'_> {
    /// `K u`, N.
    ///
    /// # Errors
    /// [`LinearError::InvertedElement`].
    pub fn forces(&self, u: &[[f64; 2]]) -> Result<Vec<[f64; 2]>, LinearError> {
        internal_forces(self.mesh, self.law, u)
    }
}

/// Displacement, loads that follow it, and what they leave.
pub struct Iterate {
    /// Displacement, mm.
    pub displacement: Vec<[f64; 2]>,
    /// Sizes of the loads that follow it.
    pub sizes: Vec<f64>,
    /// `f - K u`, N.
    pub residual: Vec<[f64; 2]>,
    /// The last direction, of displacement and sizes; empty before the first.
    direction: (Vec<[f64; 2]>, Vec<f64>),
    /// By how much its step changed the residual, N.
    change: Vec<[f64; 2]>,
    /// Work of the residual on the correction before, N mm; `None` after a whole step.
    work: Option<f64>,
}

impl Iterate {
    /// Starts from a displacement, sizes of loads, and the residual they leave.
    pub fn new(displacement: Vec<[f64; 2]>, sizes: Vec<f64>, residual: Vec<[f64; 2]>) -> Self {
        Self {
            displacement,
            sizes,
            residual,
            direction: (Vec::new(), Vec::new()),
            change: Vec::new(),
            work: None,
        }
    }

    /// Adds a correction of the displacement and of the sizes, whose unit loads are `loads`.
    ///
    /// # Errors
    /// [`LinearError::InvertedElement`].
    pub fn step(
        &mut self,
        elements: Elements,
        loads: &[Vec<NodeForce>],
        correction: Vec<[f64; 2]>,
        sizes: Vec<f64>,
        how: Advance,
    ) -> Result<(), LinearError> {
        let work = inner(&correction, &self.residual);
        let conjugate = how == Advance::Conjugate && work > 0.0;
        // by the change of the residual (Polak and Ribiere), which forgives a preconditioner that is not quite the same each time
        let share = match self.work {
            Some(before) if conjugate => (inner(&correction, &self.change) / before).max(0.0),
            _ => 0.0,
        };
        if share > 0.0 {
            let (d, p) = &mut self.direction;
            for (d, z) in d
                .as_flattened_mut()
                .iter_mut()
                .zip(correction.as_flattened())
            {
                *d = z + share * *d;
            }
            for (p, s) in p.iter_mut().zip(&sizes) {
                *p = s + share * *p;
            }
        } else {
            self.direction = (correction, sizes);
        }
        let (d, p) = &self.direction;
        let mut change = elements.forces(d)?;
        let energy = inner(d, &change);
        let length = if conjugate && energy > 0.0 {
            inner(d, &self.residual) / energy
        } else {
            1.0
        };
        for v in change.as_flattened_mut() {
            *v *= -length;
        }
        for (load, &p) in loads.iter().zip(p) {
            add(&mut change, load, length * p);
        }
        add_to(&mut self.displacement, d, length);
        add_to(&mut self.residual, &change, 1.0);
        for (size, p) in self.sizes.iter_mut().zip(p) {
            *size += length * p;
        }
        self.change = change;
        self.work = conjugate.then_some(work);
        Ok(())
    }
}

/// Displacement (mm) of a nearly round ring under a load that balances (N), with the factor of a round one; `settled` of the root
/// of its energy may be missing; `None` if it does not settle.
///
/// # Errors
/// [`LinearError::InvertedElement`].
pub fn solve_near(
    round: &Substructured,
    elements: Elements,
    load: &[[f64; 2]],
    settled: f64,
) -> Result<Option<Vec<[f64; 2]>>, LinearError> {
    let start = vec![[0.0; 2]; load.len()];
    let mut at = Iterate::new(start, Vec::new(), load.to_vec());
    let mut before = f64::INFINITY;
    for _ in 0..MOST_STEPS {
        let half = round.forward_solve(&at.residual);
        let left = square(&half);
        let size = inner(&at.displacement, load) - inner(&at.displacement, &at.residual);
        let correction = round.back_solve(half);
        if is_settled(left, before, size, settled) {
            add_to(&mut at.displacement, &correction, 1.0);
            return Ok(Some(at.displacement));
        }
        before = left;
        at.step(elements, &[], correction, Vec::new(), Advance::Conjugate)?;
    }
    Ok(None)
}

/// Work of forces on displacements.
pub fn inner(a: &[[f64; 2]], b: &[[f64; 2]]) -> f64 {
    super::factor::dot(a.as_flattened(), b.as_flattened())
}

/// Sum of squares.
pub fn square(a: &[f64]) -> f64 {
    super::factor::dot(a, a)
}

/// Adds so many times the values of every node.
pub fn add_to(to: &mut [[f64; 2]], values: &[[f64; 2]], times: f64) {
    for (a, b) in to.as_flattened_mut().iter_mut().zip(values.as_flattened()) {
        *a += times * b;
    }
}

/// Adds so many times a load on few nodes.
fn add(to: &mut [[f64; 2]], load: &[NodeForce], times: f64) {
    if times != 0.0 {
        for &(node, f) in load {
            to[node][0] += times * f[0];
            to[node][1] += times * f[1];
        }
    }
}
