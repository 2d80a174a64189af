//! A step solved on a mesh alone: contact on the mesh's own elements, a factor for each shape.

use std::sync::{Arc, Mutex, PoisonError};

use super::cutting::HeldBody;
use super::inspect::StateOf;
use super::plan::Plan;
use super::sample::{Sampler, at_lines, difference, flexing_of, moved, profile};
use super::stages::{CutStages, Release, cut_all, distances, driving, radial};
use super::statics::{ResidualStress, energy, free, residual_force, sparse, unresolved_bound};
use super::step::{Against, Guess, HeldPart, Setting, Solved};
use super::{PROFILE_POINTS, ProcessError, Radii};
use crate::contact::{Clamp, Clamped, KeptCompliances};
use crate::element::PlaneStress;
use crate::geometry::{PerSurface, Surface};
use crate::linear::{Cholesky, Factor, LinearError, Substructured, rigid_body_constraints};
use crate::mesh::Mesh;
use crate::watch::Progress;

/// The part on a mesh that follows its outlines.
struct MeshedBody<'a, 'b> {
    setting: &'a Setting<'b>,
    law: PlaneStress,
    residual: Option<&'a ResidualStress>,
    sampler: &'a Sampler,
    /// Made for the first iteration; later ones reuse its analysis.
    factor: Option<Cholesky>,
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

    /// Moves the outline, factors again, clamps again.
    fn follow(&mut self, _: Surface, lines: &Radii, at: &Progress) -> Result<(), ProcessError> {
        self.mesh.fit_radii(lines)?;
        let factor = sparse(&mut self.factor, &self.mesh, &self.law)?;
        let load = self.residual.map(|r| r.load(&self.mesh, &self.law));
        let against = Against {
            factor,
            mesh: &self.mesh,
            load: load.as_deref(),
        };
        // the outline has moved: no compliance outlives an iteration
        let mut kept = KeptCompliances::default();
        let start = Some(&self.state);
        self.state = self
            .setting
            .clamped(&self.clamp, against, &mut kept, start, at)?;
        Ok(())
    }
}

/// The part as a step finds it, on the mesh of a plan.
pub(in crate::process) struct Start {
    residual: Option<ResidualStress>,
    /// Radii of the stress-free reference at [`PROFILE_POINTS`], mm.
    reference: Radii,
    mesh: Mesh,
    factor: Box<dyn Factor + Send + Sync>,
    sampler: Sampler,
    /// Nodal forces of the residual stress, N, and where the part has come to rest under them, mm.
    load: Option<Vec<[f64; 2]>>,
    relaxed: Option<Vec<[f64; 2]>>,
    /// Shape of the free part, mm.
    pub stock: Radii,
    /// Compliances of the last hold.
    kept: Mutex<KeptCompliances>,
}

impl Start {
    pub fn new(setting: &Setting, plan: &Plan) -> Result<Self, ProcessError> {
        setting.tell(&setting.starts(plan))?;
        let law = setting.law();
        let residual = setting.residual();
        let mesh = Mesh::build(&setting.body.outlines, &plan.ends, &plan.layers, true)?;
        let factor = factor(setting, &mesh, &law)?;
        let sampler = Sampler::new(&mesh, PROFILE_POINTS);
        let reference = PerSurface::from_fn(|s| profile(setting.body.outlines.get(s)));
        let load = residual.as_ref().map(|r| r.load(&mesh, &law));
        let relaxed = load
            .as_ref()
            .map(|f| free(&*factor, &mesh, f))
            .transpose()?;
        let stock = moved(&sampler, &mesh, &reference, relaxed.as_deref());
        Ok(Self {
            residual,
            reference,
            mesh,
            factor,
            sampler,
            load,
            relaxed,
            stock,
            kept: Mutex::default(),
        })
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
        let against = Against {
            factor: &*self.factor,
            mesh: &self.mesh,
            load: self.load.as_deref(),
        };
        let start = guess.and_then(|g| g.held);
        // what a panicking thread left behind is whole: entries are added at once
        let mut kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        let state = setting.clamped(&clamp, against, &mut kept, start, &at)?;
        setting.check_presses(&clamp, &state, false)?;
        let displacement = Some(state.displacement.as_slice());
        let shape = moved(&self.sampler, &self.mesh, &self.reference, displacement);
        Ok(HeldPart {
            clamp,
            state,
            shape,
            added: None,
        })
    }

    /// Solves the whole step, its cuts from a guess if there is one.
    pub fn solve(
        &self,
        setting: &Setting,
        plan: &Plan,
        guess: Option<&Guess>,
    ) -> Result<Solved, ProcessError> {
        let held = self.hold(setting, plan, guess)?;
        self.cut(setting, plan, held, guess)
    }

    /// Cuts and releases the held part.
    fn cut(
        &self,
        setting: &Setting,
        plan: &Plan,
        part: HeldPart,
        guess: Option<&Guess>,
    ) -> Result<Solved, ProcessError> {
        let stock = &self.stock;
        let factor = &*self.factor;
        let HeldPart {
            clamp,
            state: held,
            shape: held_shape,
            ..
        } = part;
        let held_displacement =
            PerSurface::from_fn(|s| difference(held_shape.get(s), stock.get(s)));
        let balance = residual_force(&self.mesh, &factor.forces(&held.displacement), &held);
        let energy = energy(factor, &self.mesh, &held, clamp.poisson_expansion());
        let stock_mesh = Arc::new(self.mesh.clone());
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
            cut = Some((body.state, after.from_spindle));
        }
        let driving = driving(setting, &held_shape, &released);
        // a cut prints the finished body's displacement with its sign changed
        let sampler = &self.sampler;
        let unresolved_bound = match (&cut, &body.factor) {
            (Some((state, _)), Some(factor)) => unresolved_bound(
                factor, &body.mesh, sampler, state, &released, -1.0, &driving,
            ),
            _ => unresolved_bound(
                factor,
                &stock_mesh,
                sampler,
                &held,
                &held_shape,
                1.0,
                &driving,
            ),
        }?;
        Ok(Solved {
            mesh: stock_mesh,
            cut_mesh: Arc::new(body.mesh),
            stock: stock.clone(),
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
            unresolved_bound,
            flexing,
            balance,
            energy,
            spindle,
        })
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
            law: setting.law(),
            residual: self.residual.as_ref(),
            sampler: &self.sampler,
            factor: None,
            mesh: self.mesh.clone(),
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
        setting.check_presses(&body.clamp, &body.state, true)?;
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
        let relaxed = match &self.residual {
            Some(r) => {
                let factor = sparse(&mut body.factor, &body.mesh, &body.law)?;
                Some(free(factor, &body.mesh, &r.load(&body.mesh, &body.law))?)
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
    let factor = factor(setting, &mesh, &law)?;
    let load = setting.residual().map(|r| r.load(&mesh, &law));
    let against = Against {
        factor: factor.as_ref(),
        mesh: &mesh,
        load: load.as_deref(),
    };
    let clamp = setting.clamp(&mesh, None)?;
    setting.clamped(&clamp, against, &mut KeptCompliances::default(), start, &at)
}

/// Factors a mesh of the body as it stands: by substructuring if it is round, else the sparse way.
fn factor(
    setting: &Setting,
    mesh: &Mesh,
    law: &PlaneStress,
) -> Result<Box<dyn Factor + Send + Sync>, ProcessError> {
    let round = Surface::BOTH
        .into_iter()
        .all(|s| setting.body.outlines.get(s).as_round().is_some());
    if round {
        match Substructured::new(mesh, law) {
            Err(LinearError::ManySubstructures) => {}
            made => return Ok(Box::new(made?)),
        }
    }
    let constraints = rigid_body_constraints(mesh);
    Ok(Box::new(Cholesky::new(mesh, law, &constraints)?))
}
