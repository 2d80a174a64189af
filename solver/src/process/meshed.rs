//! A step solved on a mesh alone: contact on the mesh's own elements (`on_mesh`).

use std::sync::Arc;

use super::cutting::HeldBody;
use super::inspect::StateOf;
use super::on_mesh::{OnMesh, Standing};
use super::plan::Plan;
use super::sample::{Sampler, at_lines, difference, flexing_of, moved, profile};
use super::stages::{cut_all, distances, driving, radial};
use super::statics::{ResidualStress, doubt, energy, left_over};
use super::step::{Guess, Setting, Solved};
use super::{PROFILE_POINTS, ProcessError, Radii};
use crate::case::Cut;
use crate::contact::{Clamp, Clamped};
use crate::element::PlaneStress;
use crate::geometry::{PerSurface, Surface};
use crate::mesh::Mesh;
use crate::watch::Progress;

/// Share of a displacement by which what is in doubt need not be known.
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
        self.solver.moved();
        let load = self.residual.map(|r| r.load(&self.mesh, &self.law));
        let part = Standing {
            mesh: &self.mesh,
            law: &self.law,
        };
        if std::mem::take(&mut self.begins) {
            self.solver.stand_near(part, lines)?;
        }
        let (clamp, start) = (&self.clamp, Some(&self.state));
        self.state = self
            .solver
            .clamped(self.setting, clamp, part, load.as_deref(), start, at)?;
        Ok(())
    }
}

/// Solves a step on the mesh of a plan.
pub(super) fn solve(
    setting: &Setting,
    plan: &Plan,
    guess: Option<&Guess>,
) -> Result<Solved, ProcessError> {
    let at = setting.starts(plan);
    setting.tell(&at)?;
    let law = setting.law();
    let residual = setting.residual();
    let mesh = Mesh::build(&setting.body.outlines, &plan.ends, &plan.layers, true)?;
    let sampler = Sampler::new(&mesh, PROFILE_POINTS);
    let part = Standing {
        mesh: &mesh,
        law: &law,
    };
    let mut solver = OnMesh::of_body(setting, part)?;

    let reference = PerSurface::from_fn(|s| profile(setting.body.outlines.get(s)));
    let load = residual.as_ref().map(|r| r.load(&mesh, &law));
    let relaxed = load.as_ref().map(|f| solver.free(part, f)).transpose()?;
    let stock = moved(&sampler, &mesh, &reference, relaxed.as_deref());
    let clamp = setting.clamp(&mesh, relaxed.as_deref())?;
    let start = guess.and_then(|g| g.held);
    let held = solver.clamped(setting, &clamp, part, load.as_deref(), start, &at)?;
    setting.check_presses(&clamp, &held, false)?;
    let held_shape = moved(&sampler, &mesh, &reference, Some(&held.displacement));
    let held_displacement = PerSurface::from_fn(|s| difference(held_shape.get(s), stock.get(s)));
    let forces = |u: &[[f64; 2]]| solver.forces(part, u);
    let balance = left_over(&mesh, &forces(&held.displacement)?, &held);
    let energy = energy(&forces, &mesh, &held, clamp.grown())?;
    // the stock's factor is not needed any more where it is cut
    let mut solver = setting.step.cuts.is_empty().then_some(solver);
    let stock_mesh = Arc::new(mesh.clone());
    let spindle = setting.spindle(&held_shape);
    let mut flexing = flexing_of(&held_displacement, &stock);

    let mut body = MeshedBody {
        setting,
        law,
        residual: residual.as_ref(),
        sampler: &sampler,
        solver: OnMesh::default(),
        begins: false,
        mesh,
        clamp: clamp.after_clamping(&held),
        state: held.clone(),
    };
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
    setting.check_corners(&clamp, &held)?;
    setting.check_corners(&body.clamp, &body.state)?;
    setting.check_presses(&body.clamp, &body.state, true)?;

    let mut cut = None;
    let mut relaxed_cut = relaxed.clone();
    let mut released = stock.clone();
    if !stages.cuts.is_empty() {
        let from_spindle = distances(spindle, &stages.sampled, &|s| body.sampled(s));
        body.mesh.fit_radii(&stages.lines)?;
        body.solver.moved();
        if let Some(r) = &residual {
            let part = Standing {
                mesh: &body.mesh,
                law: &law,
            };
            relaxed_cut = Some(body.solver.free(part, &r.load(&body.mesh, &law))?);
        }
        released = moved(
            &sampler,
            &body.mesh,
            &stages.sampled,
            relaxed_cut.as_deref(),
        );
        let flexed = PerSurface::from_fn(|s| radial(&body.sampled(s)));
        flexing = flexing.max(flexing_of(&flexed, &released));
        cut = Some((body.state, from_spindle));
    }
    let driving = driving(setting, &held_shape, &released);
    // a cut prints the finished body's displacement with its sign changed
    let (solver, mesh, state, shape, sign) = match (&cut, &mut solver) {
        (None, Some(stock)) => (stock, &*stock_mesh, &held, &held_shape, 1.0),
        (cut, _) => {
            let state = cut.as_ref().map_or(&held, |c| &c.0);
            (&mut body.solver, &body.mesh, state, &released, -1.0)
        }
    };
    let part = Standing { mesh, law: &law };
    let solve = |load: &[[f64; 2]]| solver.solve(part, load, ROUGH);
    let doubt = if plan.judged {
        doubt(solve, mesh, &sampler, state, shape, sign, &driving)?
    } else {
        0.0
    };
    Ok(Solved {
        mesh: stock_mesh,
        cut_mesh: Arc::new(body.mesh),
        stock,
        clamp,
        held,
        held_shape,
        held_displacement,
        cuts: stages.cuts,
        cut_outlines: stages.outlines,
        cut,
        clamp_after_clamping: body.clamp,
        stress_between_cuts: stages.stress_between_cuts,
        relaxed: relaxed_cut,
        released,
        body: stages.body,
        driving,
        added: None,
        unsettled: stages.unsettled,
        doubt,
        flexing,
        balance,
        energy,
        spindle,
    })
}

/// Solves the hold alone: where does it touch? What carried on another mesh is tried first.
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
    };
    let mut solver = OnMesh::of_body(setting, part)?;
    solver.clamped(setting, &clamp, part, load.as_deref(), start, &at)
}
