//! A hold closed on the mesh of a nearly round ring, with the factor of a round one.
//!
//! Contact is solved on the round ring's compliance, with what the true mesh's displacement has beside it as an offset of the gaps. What its
//! pressures leave of the true mesh's equilibrium, `r = f + F p - K u`, is corrected by the round ring's factor, and contact is solved
//! again with that correction in the gaps (`linear::Iterate`). The displacement that an iteration predicts at the pressures is
//! `F' (u + K0^-1 r) + C0 (p' - p)`, so one that changes nothing has found the true mesh's own answer: `r = 0`, and the gaps are those of
//! `u` alone. The round ring decides how many iterations that takes and nothing else.

use std::sync::Arc;

use super::clamped::Clamped;
use super::closing::{Closed, Closing, Dead};
use super::elastic::{Elastic, Sum};
use super::meshed::{DeadForces, add_expansion};
use super::pressure::PressureDof;
use super::quadratic::Gram;
use super::section::{MeshedWall, Section};
use super::surface::{self, weighted};
use super::winkler::Winkler;
use super::{Clamp, ContactError, Radius, Rounds};
use crate::linear::{
    Advance, Elements, Iterate, MOST_STEPS, NodeForce, Substructured, add_to, inner, is_settled,
    square,
};
use crate::mesh::Mesh;

/// Times the least energy left so far at which the iterations are running away.
const RUNAWAY: f64 = 1e3;

/// Share of the largest pressure by which the last iteration may change any: it takes off most of what is left.
const SAME_PRESSURES: f64 = 1e-5;

/// The pressures of a hold on a round ring, with what has been asked of its factor.
pub(crate) struct NearRing {
    /// The hold that it was made for.
    of: Clamp,
    section: Section<Arc<Substructured>>,
    dofs: Vec<PressureDof>,
    gram: Gram,
}

/// A part in a hold, and the loads on it that nothing changes.
struct Held<'a> {
    clamp: &'a Clamp,
    elements: Elements<'a>,
    /// Nodal forces of unit pressures on the true mesh, N per MPa.
    loads: Vec<Vec<NodeForce>>,
    dead: DeadForces,
    /// Displacement of an even growth, mm; empty where there is none.
    grown: Vec<[f64; 2]>,
}

/// What an iteration of contact came to.
struct Iteration {
    closed: Closed,
    /// Changes of the pressures, MPa.
    changes: Vec<f64>,
    /// Displacement that the true mesh is corrected by, mm.
    correction: Vec<[f64; 2]>,
}

impl NearRing {
    /// A hold on a round ring, factored on this mesh. Gaps are measured from `gap_surface` (mm over rad).
    ///
    /// # Errors
    /// [`ContactError::NoLine`].
    pub fn new(
        clamp: &Clamp,
        factor: Arc<Substructured>,
        ring: &Mesh,
        gap_surface: &Radius,
    ) -> Result<Self, ContactError> {
        let dofs = clamp.dofs_on(ring, gap_surface)?;
        let wall = MeshedWall {
            mesh: ring,
            first: 0,
        };
        Ok(Self {
            of: clamp.clone(),
            section: Section::new(factor, &[wall], &dofs, Vec::new()),
            dofs,
            gram: Gram::default(),
        })
    }

    /// Sets the same pads with other faces and gaps against the ring (arguments as for [`NearRing::new`]); `false` if pressures would act at
    /// other places.
    ///
    /// # Errors
    /// [`ContactError::NoLine`].
    pub fn set(
        &mut self,
        clamp: &Clamp,
        ring: &Mesh,
        gap_surface: &Radius,
    ) -> Result<bool, ContactError> {
        if !self.of.presses_alike(clamp) {
            return Ok(false);
        }
        self.dofs = clamp.dofs_on(ring, gap_surface)?;
        self.section.begin();
        Ok(true)
    }

    /// Whether a hold can be closed so: without sleeves, which have factors of their own, and in one stage.
    pub fn serves(clamp: &Clamp) -> bool {
        clamp.sleeves().is_empty() && !clamp.locks_early()
    }

    /// Clamps the part with these elements; arguments as for [`Clamp::clamp`], `start` on the same lattice or another, `settled` of
    /// the root of its energy may be missing. `None` if the
    /// iterations do not settle.
    ///
    /// # Errors
    /// See [`ContactError`].
    pub fn clamp(
        &mut self,
        clamp: &Clamp,
        elements: Elements,
        body_load: Option<&[[f64; 2]]>,
        start: Option<&Clamped>,
        rounds: &Rounds,
        settled: f64,
    ) -> Result<Option<Clamped>, ContactError> {
        let held = Held::new(clamp, elements, &self.dofs, body_load)?;
        let mut at = held.begin(start, self.dofs.len())?;
        let mut active = start.map(|s| s.active_like(&self.dofs));
        let (mut least, mut before, mut taken) = (f64::INFINITY, f64::INFINITY, 0);
        // the layers of lined pads yield with the pressures, which conjugate directions leave out
        let conjugate = Winkler::new(&self.dofs, &clamp.bodies).is_none();
        for step in 0..MOST_STEPS {
            let half = self.section.factor().forward_solve(&at.residual);
            let left = square(&half);
            let last = step > 0 && is_settled(left, before, held.energy(&at), settled);
            if left.is_nan() || left > RUNAWAY * least {
                return Ok(None);
            }
            // before contact has been solved once, the residual says nothing
            if step > 0 {
                least = least.min(left);
                before = left;
            }
            let iteration = self.iterate(&held, &at, half, active.clone(), rounds)?;
            let found = &iteration.closed.solution.active;
            let same = active.as_ref() == Some(found);
            active = Some(found.clone());
            taken += iteration.closed.solution.rounds;
            if last && iteration.is_last(settled) {
                return Ok(Some(held.at_rest(self, at, iteration, taken)?));
            }
            let how = match same && step > 0 && conjugate {
                true => Advance::Conjugate,
                false => Advance::Whole,
            };
            at.step(
                elements,
                &held.loads,
                iteration.correction,
                iteration.changes,
                how,
            )?;
        }
        Ok(None)
    }

    /// Contact with what the residual says of the true mesh in the gaps, and the correction that goes with its pressures. `half` is `L^-1`
    /// of the residual.
    fn iterate(
        &mut self,
        held: &Held,
        at: &Iterate,
        mut half: Vec<f64>,
        active: Option<Vec<bool>>,
        rounds: &Rounds,
    ) -> Result<Iteration, ContactError> {
        let Self {
            section,
            dofs,
            gram,
            ..
        } = self;
        let (nodes, wanted) = section.wanted();
        let moved = section.factor().back_solve_at(&half, wanted);
        let by = |node: usize| {
            let place = nodes.binary_search(&node);
            place.map_or([0.0; 2], |k| moved[k])
        };
        let corrected = held.loads.iter().map(|load| -> f64 {
            let work = |&(n, f): &NodeForce| f[0] * by(n)[0] + f[1] * by(n)[1];
            load.iter().map(work).sum()
        });
        let mut offset: Vec<f64> = weighted(&held.loads, &at.displacement);
        offset.iter_mut().zip(corrected).for_each(|(o, c)| *o += c);
        if !held.grown.is_empty() {
            let grown = weighted(&held.loads, &held.grown);
            offset.iter_mut().zip(grown).for_each(|(o, g)| *o += g);
        }
        if at.sizes.iter().any(|p| *p != 0.0) {
            let own = section.weighted_displacements(&at.sizes);
            offset.iter_mut().zip(own).for_each(|(o, c)| *o -= c);
        }
        let closed = {
            let mut dead = |_: usize| {
                Ok(Dead {
                    weighted: offset.clone(),
                    resultant: held.dead.resultant.to_vec(),
                    size: held.dead.size,
                })
            };
            let mut layer = Winkler::new(dofs, &held.clamp.bodies);
            let mut bodies: Vec<&mut dyn Elastic> = vec![section];
            bodies.extend(layer.as_mut().map(|l| l as &mut dyn Elastic));
            let closing = Closing {
                body: &mut Sum::new(bodies),
                dofs,
                gram,
                dead: &mut dead,
                rounds,
            };
            held.clamp.close(closing, active)?
        };
        let pressures = &closed.solution.pressures;
        let changes: Vec<f64> = pressures
            .iter()
            .zip(&at.sizes)
            .map(|(a, b)| a - b)
            .collect();
        let mut load = Vec::new();
        for (on, &p) in held.loads.iter().zip(&changes) {
            if p != 0.0 {
                load.extend(on.iter().map(|&(n, f)| (n, [p * f[0], p * f[1]])));
            }
        }
        section.factor().add_forward(&load, &mut half);
        Ok(Iteration {
            correction: section.factor().back_solve(half),
            changes,
            closed,
        })
    }
}

impl Iteration {
    /// Whether it has found the pressures as they were, as far as the displacement is to be known (`settled` of the root of its energy).
    fn is_last(&self, settled: f64) -> bool {
        let largest = |list: &[f64]| list.iter().fold(0.0_f64, |m, p| m.max(p.abs()));
        let share = settled.max(SAME_PRESSURES);
        largest(&self.changes) <= share * largest(&self.closed.solution.pressures)
    }
}

impl<'a> Held<'a> {
    fn new(
        clamp: &'a Clamp,
        elements: Elements<'a>,
        dofs: &[PressureDof],
        body_load: Option<&[[f64; 2]]>,
    ) -> Result<Self, ContactError> {
        let mesh = elements.mesh;
        let load = |dof: &PressureDof| {
            let mut load = Vec::with_capacity(5);
            for pressed in &dof.presses {
                for segment in &dof.segments {
                    surface::add_load(mesh, pressed.surface, segment, &mut load);
                }
            }
            load
        };
        let dead = clamp.dead_forces_on(mesh, body_load, clamp.members())?;
        let mut grown = Vec::new();
        if dead.expansion != 0.0 {
            grown.resize(mesh.nodes(), [0.0; 2]);
            add_expansion(mesh, dead.expansion, &mut grown);
        }
        Ok(Self {
            clamp,
            elements,
            loads: dofs.iter().map(load).collect(),
            dead,
            grown,
        })
    }

    /// Starts from a state on the same lattice, else from rest.
    fn begin(&self, start: Option<&Clamped>, pressures: usize) -> Result<Iterate, ContactError> {
        let nodes = self.elements.mesh.nodes();
        let alike = |s: &&Clamped| s.displacement.len() == nodes && s.pressures.len() == pressures;
        let mut residual = self.dead.load.clone();
        let Some(start) = start.filter(alike) else {
            return Ok(Iterate::new(
                vec![[0.0; 2]; nodes],
                vec![0.0; pressures],
                residual,
            ));
        };
        let mut u = start.displacement.clone();
        if !self.grown.is_empty() {
            add_to(&mut u, &self.grown, -1.0);
        }
        add_to(&mut residual, &self.elements.forces(&u)?, -1.0);
        for (load, &p) in self.loads.iter().zip(&start.pressures) {
            surface::add(&mut residual, load, p);
        }
        Ok(Iterate::new(u, start.pressures.clone(), residual))
    }

    /// Twice the strain energy of the displacement, `u' K u`, N mm.
    fn energy(&self, at: &Iterate) -> f64 {
        let u = &at.displacement;
        let by_pressures: f64 = weighted(&self.loads, u)
            .iter()
            .zip(&at.sizes)
            .map(|(w, p)| w * p)
            .sum();
        by_pressures + inner(u, &self.dead.load) - inner(u, &at.residual)
    }

    /// The state that a last iteration comes to.
    fn at_rest(
        self,
        ring: &NearRing,
        at: Iterate,
        mut iteration: Iteration,
        rounds: usize,
    ) -> Result<Clamped, ContactError> {
        let mut displacement = at.displacement;
        add_to(&mut displacement, &iteration.correction, 1.0);
        let mut load = self.dead.load;
        for (on, &p) in self.loads.iter().zip(&iteration.closed.solution.pressures) {
            surface::add(&mut load, on, p);
        }
        if !self.grown.is_empty() {
            add_to(&mut displacement, &self.grown, 1.0);
            add_to(&mut load, &self.elements.forces(&self.grown)?, 1.0);
        }
        iteration.closed.solution.rounds = rounds;
        let mesh = self.elements.mesh;
        let dofs = ring.dofs.clone();
        Ok(self
            .clamp
            .at_rest(mesh, dofs, self.loads, iteration.closed, displacement, load))
    }
}
