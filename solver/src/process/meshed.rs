//! A step solved on a mesh alone: contact on the mesh's own elements (`on_mesh`).

mod shapes;

use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use super::cutting::HeldBody;
use super::guess::Guess;
use super::inspect::StateOf;
use super::on_mesh::{OnMesh, Standing};
use super::plan::Plan;
use super::sample::{Sampler, at_lines, difference, flexing_of, moved, profile};
use super::stages::{CutStages, Release, cut_all, distances, driving, radial};
use super::statics::{ResidualStress, energy, residual_force, unresolved_bound};
use super::step::{HeldPart, Setting, Solved};
use super::{PROFILE_POINTS, ProcessError, Radii};
use crate::case::Cut;
use crate::contact::{Clamp, Clamped, LockedResponse, Tool};
use crate::element::PlaneStress;
use crate::geometry::{PerSurface, Surface};
use crate::mesh::Mesh;
use crate::watch::Progress;

/// Share of a displacement by which a bound need not be known.
const ROUGH: f64 = 1e-2;

/// The part on a mesh that follows its outlines.
struct MeshedBody<'a, 'b> {
    setting: &'a Setting<'b>,
    law: PlaneStress,
    residual: Option<&'a ResidualStress>,
    sampler: &'a Sampler,
    /// What it is solved with since its first cut began, and whether another cut is to begin.
    solver: OnMesh,
    begins: bool,
    /// Share of its displacement that it may leave out.
    within: f64,
    mesh: Mesh,
    clamp: Clamp,
    state: Clamped,
}

impl HeldBody for MeshedBody<'_, '_> {
    fn angles(&self) -> Vec<f64> {
        self.mesh.angles().to_vec()
    }

    fn displacement(&self, surface: Surface) -> Vec<[f64; 2]> {
        at_lines(&self.mesh, surface, &self.state.displacement)
    }

    fn sampled(&self, surface: Surface) -> Vec<[f64; 2]> {
        self.sampler
            .displacement(&self.mesh, surface, &self.state.displacement)
    }

    fn begin(&mut self, _: &Cut, _: &Radii, _: Option<&Guess>) -> Result<(), ProcessError> {
        self.begins = true;
        Ok(())
    }

    /// Moves the outline, clamps again. With the first outline of a cut another mean ring stands for the part.
    fn follow(&mut self, _: Surface, lines: &Radii, at: &Progress) -> Result<(), ProcessError> {
        self.mesh.fit_radii(lines)?;
        self.solver.moved(self.within);
        let load = self.residual.map(|r| r.load(&self.mesh, &self.law));
        let part = Standing {
            mesh: &self.mesh,
            law: &self.law,
            load: load.as_deref(),
        };
        if std::mem::take(&mut self.begins) {
            self.solver.stand_near(part, lines)?;
        }
        let start = Some(&self.state);
        self.state = self
            .solver
            .clamped(self.setting, &self.clamp, part, start, at)?;
        Ok(())
    }

    fn solve_within(&mut self, share: f64) {
        self.within = share;
    }

    fn left_out(&self) -> f64 {
        self.solver.left_out()
    }

    fn locked(&mut self, tool: Tool, at: &Progress) -> Result<LockedResponse, ProcessError> {
        let part = Standing {
            mesh: &self.mesh,
            law: &self.law,
            load: None,
        };
        let factor = self.solver.factor(part)?;
        self.clamp
            .locked(factor, &self.mesh, &self.state, tool)
            .map_err(|e| self.setting.contact(e, at))
    }
}

/// The part as a step finds it, on the mesh of a plan.
pub(in crate::process) struct Start {
    law: PlaneStress,
    residual: Option<ResidualStress>,
    /// Radii of the stress-free reference at [`PROFILE_POINTS`], mm.
    reference: Radii,
    mesh: Arc<Mesh>,
    sampler: Sampler,
    /// Nodal forces of the residual stress, N, and where the part has come to rest under them, mm.
    load: Option<Vec<[f64; 2]>>,
    relaxed: Option<Vec<[f64; 2]>>,
    /// Shape of the free part, mm.
    pub stock: Radii,
    /// What the stock is solved with, as many as were in use at once. None is locked while it works: a thread that waits for shared work may take up
    /// another question to the same part.
    solvers: Mutex<Vec<OnMesh>>,
}

/// What is read off the held part with what it was solved with.
struct Statics {
    /// Largest residual of force, N, and of moment, N mm.
    balance: [f64; 2],
    /// Strain energy, N mm.
    energy: f64,
}

impl Start {
    pub fn new(setting: &Setting, plan: &Plan) -> Result<Self, ProcessError> {
        setting.tell(&setting.starts(plan))?;
        let law = setting.law();
        let residual = setting.residual();
        let mesh = Mesh::build(&setting.body.outlines, &plan.ends, &plan.layers, true)?;
        let load = residual.as_ref().map(|r| r.load(&mesh, &law));
        let part = Standing {
            mesh: &mesh,
            law: &law,
            load: load.as_deref(),
        };
        let mut solver = OnMesh::of_body(setting, part)?;
        let sampler = Sampler::new(&mesh, PROFILE_POINTS);
        let reference = PerSurface::from_fn(|s| profile(setting.body.outlines.get(s)));
        let relaxed = load.as_ref().map(|f| solver.free(part, f)).transpose()?;
        let stock = moved(&sampler, &mesh, &reference, relaxed.as_deref());
        Ok(Self {
            law,
            residual,
            reference,
            mesh: Arc::new(mesh),
            sampler,
            load,
            relaxed,
            stock,
            solvers: Mutex::new(vec![solver]),
        })
    }

    fn part(&self) -> Standing<'_> {
        Standing {
            mesh: &self.mesh,
            law: &self.law,
            load: self.load.as_deref(),
        }
    }

    fn solvers(&self) -> MutexGuard<'_, Vec<OnMesh>> {
        // what a panicking thread left behind is whole: a solver is put back when it is done
        self.solvers.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Solves with one that is free, else with a new one: they give the same bits.
    fn with_solver<T>(
        &self,
        setting: &Setting,
        work: impl FnOnce(&mut OnMesh) -> Result<T, ProcessError>,
    ) -> Result<T, ProcessError> {
        let free = self.solvers().pop();
        let mut solver = match free {
            Some(solver) => solver,
            None => OnMesh::of_body(setting, self.part())?,
        };
        let done = work(&mut solver);
        self.solvers().push(solver);
        done
    }

    /// Holds the part and stops there.
    pub fn hold(
        &self,
        setting: &Setting,
        plan: &Plan,
        guess: Option<&Guess>,
    ) -> Result<HeldPart, ProcessError> {
        let at = setting.starts(plan);
        let clamp = setting.clamp(&self.mesh, self.relaxed.as_deref())?;
        let start = guess.and_then(|g| g.held);
        let state = self.with_solver(setting, |solver| {
            solver.clamped(setting, &clamp, self.part(), start, &at)
        })?;
        setting.check_held(&clamp, &state, false)?;
        let displacement = Some(state.displacement.as_slice());
        let shape = moved(&self.sampler, &self.mesh, &self.reference, displacement);
        Ok(HeldPart {
            clamp,
            state,
            shape,
            added: None,
        })
    }

    /// What a tool does to the held part, its hold locked.
    pub fn locked(
        &self,
        setting: &Setting,
        plan: &Plan,
        held: &HeldPart,
        tool: Tool,
    ) -> Result<LockedResponse, ProcessError> {
        let HeldPart { clamp, state, .. } = held;
        self.with_solver(setting, |solver| {
            clamp
                .locked(solver.factor(self.part())?, &self.mesh, state, tool)
                .map_err(|e| setting.contact(e, &setting.starts(plan)))
        })
    }

    /// Solves the whole step, its cuts from a guess if there is one.
    pub fn solve(
        &self,
        setting: &Setting,
        plan: &Plan,
        guess: Option<&Guess>,
    ) -> Result<Solved, ProcessError> {
        if setting.shapes_alone
            && let Some(solved) = self.solve_shapes(setting, plan, guess)?
        {
            return Ok(solved);
        }
        let held = self.hold(setting, plan, guess)?;
        let statics = self.statics(setting, &held)?;
        self.cut(setting, plan, held, statics, guess)
    }

    /// The same for good: what the stock is solved with is dropped before the part is cut.
    pub fn solve_once(
        mut self,
        setting: &Setting,
        plan: &Plan,
        guess: Option<&Guess>,
    ) -> Result<Solved, ProcessError> {
        if setting.shapes_alone
            && let Some(solved) = self.solve_shapes(setting, plan, guess)?
        {
            return Ok(solved);
        }
        let held = self.hold(setting, plan, guess)?;
        let statics = self.statics(setting, &held)?;
        if !setting.step.cuts.is_empty() {
            self.solvers = Mutex::default();
        }
        self.cut(setting, plan, held, statics, guess)
    }

    fn statics(&self, setting: &Setting, held: &HeldPart) -> Result<Statics, ProcessError> {
        self.with_solver(setting, |solver| {
            let forces = |u: &[[f64; 2]]| solver.forces(self.part(), u);
            let HeldPart { clamp, state, .. } = held;
            let internal = forces(&state.displacement)?;
            Ok(Statics {
                balance: residual_force(&self.mesh, &internal, state),
                energy: energy(&forces, &self.mesh, state, clamp.poisson_expansion())?,
            })
        })
    }

    /// Cuts and releases the held part.
    fn cut(
        &self,
        setting: &Setting,
        plan: &Plan,
        part: HeldPart,
        statics: Statics,
        guess: Option<&Guess>,
    ) -> Result<Solved, ProcessError> {
        let stock = &self.stock;
        let HeldPart {
            clamp,
            state: held,
            shape: held_shape,
            ..
        } = part;
        let held_displacement =
            PerSurface::from_fn(|s| difference(held_shape.get(s), stock.get(s)));
        let spindle = setting.spindle(&held_shape);
        let mut flexing = flexing_of(&held_displacement, stock);
        let (mut body, stages) = self.cuts(setting, plan, spindle, (&clamp, &held), guess)?;

        let mut cut = None;
        let mut relaxed_cut = self.relaxed.clone();
        let mut released = stock.clone();
        if !stages.cuts.is_empty() {
            let after = self.release(spindle, &stages, &mut body)?;
            (relaxed_cut, released) = (after.relaxed, after.shape);
            flexing = flexing.max(after.flexing);
            cut = Some((body.state.clone(), after.from_spindle));
        }
        let driving = driving(setting, &held_shape, &released);
        let unresolved_bound = match (plan.judged, stages.cuts.is_empty()) {
            (false, _) => 0.0,
            (true, true) => self.with_solver(setting, |solver| {
                let state = (&held, &held_shape, 1.0);
                self.bound(solver, self.part(), state, &driving)
            })?,
            // a cut prints the finished body's displacement with its sign changed
            (true, false) => {
                let part = Standing {
                    mesh: &body.mesh,
                    law: &self.law,
                    load: None,
                };
                let state = (&body.state, &released, -1.0);
                self.bound(&mut body.solver, part, state, &driving)?
            }
        };
        Ok(Solved {
            mesh: Arc::clone(&self.mesh),
            cut_mesh: Arc::new(body.mesh),
            stock: stock.clone(),
            clamp,
            held,
            held_shape,
            held_displacement,
            cuts: stages.cuts,
            cut_outlines: stages.outlines,
            cut_rates: stages.rates,
            cut,
            clamp_after_clamping: body.clamp,
            stress_between_cuts: stages.stress_between_cuts,
            relaxed: relaxed_cut,
            released,
            body: stages.body,
            driving,
            added: None,
            unsettled: stages.unsettled,
            unsettled_held: 0.0,
            held_circles: None,
            unresolved_bound,
            flexing,
            balance: statics.balance,
            energy: statics.energy,
            spindle,
        })
    }

    /// Bound of the unresolved contact in a state, with its shape and the sign by which that follows the displacement.
    fn bound(
        &self,
        solver: &mut OnMesh,
        part: Standing,
        (state, shape, sign): (&Clamped, &Radii, f64),
        driving: &[(Surface, f64)],
    ) -> Result<f64, ProcessError> {
        let solve = |load: &[[f64; 2]]| solver.solve(part, load, ROUGH);
        unresolved_bound(solve, part.mesh, &self.sampler, state, shape, sign, driving)
    }

    /// Makes the cuts of a step on the held part, from a guess if there is one.
    fn cuts<'s, 'b>(
        &'s self,
        setting: &'s Setting<'b>,
        plan: &Plan,
        spindle: [f64; 2],
        (clamp, held): (&Clamp, &Clamped),
        guess: Option<&Guess>,
    ) -> Result<(MeshedBody<'s, 'b>, CutStages), ProcessError> {
        let mut body = MeshedBody {
            setting,
            law: self.law,
            residual: self.residual.as_ref(),
            sampler: &self.sampler,
            solver: OnMesh::default(),
            begins: false,
            within: 0.0,
            mesh: Mesh::clone(&self.mesh),
            clamp: clamp.after_clamping(held),
            state: held.clone(),
        };
        let at = setting.starts(plan);
        let stages = cut_all(setting, at, spindle, &mut body, guess, |b, outlines| {
            let state = StateOf {
                clamp: &b.clamp,
                clamped: &b.state,
                mesh: &b.mesh,
                body: outlines,
            };
            Ok(state.stress_summary(setting))
        })?;
        // only now: a part that flexes past all sense has said so by then
        setting.check_corners(clamp, held)?;
        setting.check_corners(&body.clamp, &body.state)?;
        setting.check_held(&body.clamp, &body.state, true)?;
        Ok((body, stages))
    }

    /// Releases the part after its cuts.
    fn release(
        &self,
        spindle: [f64; 2],
        stages: &CutStages,
        body: &mut MeshedBody,
    ) -> Result<Release, ProcessError> {
        let from_spindle = distances(spindle, &stages.sampled, &|s| body.sampled(s));
        body.mesh.fit_radii(&stages.lines)?;
        body.solver.moved(body.within);
        let relaxed = match &self.residual {
            Some(r) => {
                let part = Standing {
                    mesh: &body.mesh,
                    law: &self.law,
                    load: None,
                };
                Some(body.solver.free(part, &r.load(&body.mesh, &self.law))?)
            }
            None => None,
        };
        let shape = moved(
            &self.sampler,
            &body.mesh,
            &stages.sampled,
            relaxed.as_deref(),
        );
        let flexed = PerSurface::from_fn(|s| radial(&body.sampled(s)));
        Ok(Release {
            flexing: flexing_of(&flexed, &shape),
            from_spindle,
            relaxed,
            shape,
        })
    }
}

/// Solves the hold alone: where does it touch? What is active on another mesh is tried first.
pub(super) fn hold(
    setting: &Setting,
    plan: &Plan,
    start: Option<&Clamped>,
) -> Result<Clamped, ProcessError> {
    let at = setting.starts(plan);
    setting.tell(&at)?;
    let law = setting.law();
    let mesh = Mesh::build(&setting.body.outlines, &plan.ends, &plan.layers, true)?;
    let load = setting.residual().map(|r| r.load(&mesh, &law));
    let clamp = setting.clamp(&mesh, None)?;
    let part = Standing {
        mesh: &mesh,
        law: &law,
        load: load.as_deref(),
    };
    OnMesh::of_body(setting, part)?.clamped(setting, &clamp, part, start, &at)
}
