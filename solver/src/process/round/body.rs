//! The nearly round part in a hold.

mod cut;

use std::sync::Arc;

use super::fields::{flat, largest_change, pairs, plus};
use super::nodes::{Nodes, OnMesh};
use super::precondition::Stretch;
use super::relaxed::Relaxed;
use super::stage::RoundStage;
use crate::contact::{Clamp, Clamped, RoundContact, RoundState, weighted};
use crate::element::PlaneStress;
use crate::geometry::{PerSurface, SampledOutline, Surface};
use crate::linear::{Advance, Elements, Iterate, NodeForce, internal_forces};
use crate::mesh::Mesh;
use crate::process::cut::Mixing;
use crate::process::guess::Guess;
use crate::process::plan::Plan;
use crate::process::sample::{Sampler, profile, range, sample_angle, sample_directions};
use crate::process::stages::radial;
use crate::process::statics::{ResidualStress, balance, work};
use crate::process::step::Setting;
use crate::process::{NotConverged, PROFILE_POINTS, ProcessError, Radii};
use crate::watch::Progress;

/// Iterations in which what the outline adds must settle.
const MOST_ITERATIONS: usize = 25;

/// It has settled when it changes by less than this share of the accuracy asked, times what the hold moves.
const SETTLED: f64 = 2e-4;

/// Most that the mesh's displacement of the mean ring may differ from the series', as a share (root mean square): it is coarse under the
/// pads, and the series makes up for that.
const LOST: f64 = 0.2;

/// Share of the largest nodal force that equilibrium may leave.
const EQUILIBRIUM: f64 = 1e-8;

/// Energy of a correction, as a share of that of the forces, below which no more are made; at which the field is taken as it is where no more help (a
/// ten-thousandth of strain and stress); and the most corrections.
const SMALLEST: f64 = 1e-18;
const CLOSE: f64 = 1e-8;
const MOST_STEPS: usize = 40;

/// Deviation from the mean circle, as a share of the radius, that is rounding.
const ROUND: f64 = 1e-14;

/// The part in a hold: mean ring, contact, and what its outline adds.
pub(super) struct RoundHeld<'a, 'b> {
    setting: &'a Setting<'b>,
    plan: &'a Plan,
    law: PlaneStress,
    residual: Option<&'a ResidualStress>,
    sampler: &'a Sampler,
    stage: Arc<RoundStage>,
    contact: RoundContact,
    clamp: Clamp,
    /// The true outline on the lattice.
    mesh: Mesh,
    /// Whether it is another than the mean ring's, and its wall beside that one's.
    differs: bool,
    stretch: Stretch,
    /// Nodal forces of unit pressures and of the dead loads.
    loads: Vec<Vec<NodeForce>>,
    dead: Vec<NodeForce>,
    /// How far each surface moves outwards evenly when residual stress comes to rest in the mean ring, mm.
    initial_offset: PerSurface<f64>,
    /// Nodal forces of the residual stress in the mean ring and in the part, N.
    initial: Option<[Vec<[f64; 2]>; 2]>,
    /// What the outline adds to the displacement: before an iteration, and after it. mm.
    added: Vec<[f64; 2]>,
    added_next: Vec<[f64; 2]>,
    /// As it came out at every stage that is over: in the hold, then after each cut.
    stages: Vec<Vec<[f64; 2]>>,
    state: Option<RoundState>,
    /// Displacement of the nodes without shift and Poisson expansion, mm, and the forces that made it, N.
    whole: Vec<[f64; 2]>,
    forces: Vec<[f64; 2]>,
    /// Radial and tangential displacement at the sampled angles, mm.
    moved: PerSurface<Vec<[f64; 2]>>,
    unsettled: f64,
    /// Radii of the reference at the sampled angles, mm.
    lines: Radii,
}

impl<'a, 'b> RoundHeld<'a, 'b> {
    #[expect(
        clippy::too_many_arguments,
        reason = "they are the parts of one thing, made one after the other"
    )]
    pub fn new(
        setting: &'a Setting<'b>,
        plan: &'a Plan,
        residual: Option<&'a ResidualStress>,
        sampler: &'a Sampler,
        stage: Arc<RoundStage>,
        contact: RoundContact,
        clamp: Clamp,
        mesh: Mesh,
    ) -> Result<Self, ProcessError> {
        let nodes = mesh.nodes();
        let mut held = Self {
            setting,
            plan,
            law: setting.law(),
            residual,
            sampler,
            initial_offset: stage.settled(residual),
            stage,
            contact,
            clamp,
            mesh,
            differs: false,
            stretch: Stretch::default(),
            loads: Vec::new(),
            dead: Vec::new(),
            initial: None,
            added: vec![[0.0; 2]; nodes],
            added_next: vec![[0.0; 2]; nodes],
            stages: Vec::new(),
            state: None,
            whole: vec![[0.0; 2]; nodes],
            forces: vec![[0.0; 2]; nodes],
            moved: PerSurface::from_fn(|_| vec![[0.0; 2]; sampler.len()]),
            unsettled: 0.0,
            lines: PerSurface::from_fn(|s| profile(setting.body.outlines.get(s))),
        };
        held.fitted();
        Ok(held)
    }

    /// Takes over the mesh as it is.
    fn fitted(&mut self) {
        let apart = |(a, b): (&[f64; 2], &[f64; 2])| (a[0] - b[0]).abs().max((a[1] - b[1]).abs());
        let radius = self.stage.body.annulus().outer_radius;
        self.differs = self
            .mesh
            .coords()
            .iter()
            .zip(self.stage.mesh.coords())
            .map(apart)
            .any(|d| d > ROUND * radius);
        self.stretch = Stretch::between(&self.mesh, &self.stage.mesh);
        self.loads = self.contact.loads_on(&self.mesh);
        self.dead = self.contact.dead_load_on(&self.clamp, &self.mesh);
        self.initial = self.residual.map(|r| {
            let own = r.load(&self.mesh, &self.law);
            let mean = match self.initial.take() {
                Some([mean, _]) => mean,
                None => r.load(&self.stage.mesh, &self.law),
            };
            [mean, own]
        });
    }

    pub fn setting(&self) -> &'a Setting<'b> {
        self.setting
    }

    pub fn mesh(&self) -> &Mesh {
        &self.mesh
    }

    pub fn clamp(&self) -> &Clamp {
        &self.clamp
    }

    /// The same hold as it stands from now on.
    pub fn lock(&mut self, clamp: Clamp) {
        self.clamp = clamp;
    }

    /// What the last iteration changed, mm.
    pub fn unsettled(&self) -> f64 {
        self.unsettled
    }

    /// Radial and tangential displacement of a surface at the sampled angles, mm.
    pub fn moved(&self, surface: Surface) -> Vec<[f64; 2]> {
        self.moved.get(surface).clone()
    }

    /// Finds where the part lies, its outline as it is.
    pub fn settle(&mut self, guess: Option<&Guess>, at: &Progress) -> Result<(), ProcessError> {
        let start = guess.and_then(|g| g.held);
        let start = start.map(|s| self.contact.active_like(s));
        if self.differs
            && let Some(added) = self.guessed(guess)
        {
            self.added = added;
        }
        if self.differs && self.clamp.locks_early() {
            return Err(ProcessError::from(NotConverged::MeanRing));
        }
        let mut mixing = Mixing::default();
        self.iterate(start, &Surface::BOTH, at)?;
        self.check_mean_ring()?;
        for _ in 0..MOST_ITERATIONS {
            if !self.differs {
                return Ok(());
            }
            let change = largest_change(&self.added, &self.added_next);
            self.unsettled = change;
            if change <= SETTLED * self.setting.accuracy * self.stir() {
                return Ok(());
            }
            let next = mixing.next(&flat(&self.added), &flat(&self.added_next));
            self.added = pairs(&next);
            self.iterate(None, &Surface::BOTH, at)?;
        }
        Err(ProcessError::from(NotConverged::MeanRing))
    }

    /// Refuses a wall that is so thin that the factor of its mean ring has lost bending in the rounding: its displacement then differs from the series'.
    fn check_mean_ring(&self) -> Result<(), ProcessError> {
        let expansion = self.clamp.poisson_expansion();
        let [x, y] = self.state.as_ref().map_or([0.0; 2], RoundState::shift);
        let lost = |s: Surface| {
            let nodal = self.sampler.displacement(&self.mesh, s, &self.whole);
            let (mut apart, mut size) = (0.0, 0.0);
            for (k, (series, mesh)) in self.moved.get(s).iter().zip(&nodal).enumerate() {
                let [c, sin] = sample_directions()[k];
                let own = series[0] - expansion * self.lines.get(s)[k] - x * c - y * sin;
                apart += (own - mesh[0]).powi(2);
                size += own * own;
            }
            apart.is_nan() || apart > LOST * LOST * size
        };
        // a dent under a pad can be more than the mesh shows, and is on one surface alone
        if Surface::BOTH.into_iter().all(lost) {
            return Err(NotConverged::MeanRing.into());
        }
        Ok(())
    }

    /// How far the hold moves the surfaces, largest less smallest, mm.
    fn stir(&self) -> f64 {
        let moved = Surface::BOTH.map(|s| range(&radial(self.moved.get(s))));
        let least = 1e-5 * self.stage.body.annulus().outer_radius;
        moved.into_iter().fold(least, f64::max)
    }

    /// One iteration: contact with what the outline added so far, then what it adds under those forces.
    /// The sampled displacement is brought up to it on some surfaces alone.
    fn iterate(
        &mut self,
        start: Option<Vec<bool>>,
        surfaces: &[Surface],
        at: &Progress,
    ) -> Result<(), ProcessError> {
        let setting = self.setting;
        setting.tell(at)?;
        let rounds = |round: usize| setting.watch.at(&Progress { round, ..*at });
        let offset = self.differs.then(|| weighted(&self.loads, &self.added));
        let start = start.or_else(|| self.state.as_ref().map(|s| s.active().to_vec()));
        let state = self
            .contact
            .close(
                &self.clamp,
                offset.as_deref(),
                &self.initial_offset,
                start,
                &rounds,
            )
            .map_err(|e| setting.contact(e, at))?;
        let nodes = Nodes {
            mesh: &self.mesh,
            law: &self.law,
            stage: &self.stage,
            loads: &self.loads,
            dead: &self.dead,
            initial: self.initial.as_ref(),
            outline: self.differs.then_some((&self.stretch, &self.added)),
        };
        // the series' surfaces and the mesh do not ask each other
        let (contact, clamp, even) = (&mut self.contact, &self.clamp, &self.initial_offset);
        let (solved, profile) = rayon::join(
            || nodes.under(&state),
            || contact.profile(clamp, &state, even, surfaces),
        );
        let OnMesh {
            mut whole,
            forces,
            correction,
        } = solved?;
        if let Some(correction) = correction {
            #[cfg(test)]
            let correction = tests::spoilt(correction);
            self.added_next.clone_from(&self.added);
            plus(&mut self.added_next, &correction);
            plus(&mut whole, &correction);
        }
        self.whole = whole;
        self.forces = forces;
        self.state = Some(state);
        self.show(surfaces, &profile);
        Ok(())
    }

    /// Brings the sampled displacement of some surfaces up to the last iteration, the series' profile of which is given (mm).
    fn show(&mut self, surfaces: &[Surface], profile: &PerSurface<Vec<f64>>) {
        let state = self.state.as_ref().expect("an iteration was made");
        let [x, y] = state.shift();
        let directions = sample_directions();
        let expansion = self.clamp.poisson_expansion();
        let annulus = *self.stage.body.annulus();
        for &s in surfaces {
            let lines = self.lines.get(s);
            let fields = [&self.added_next, &self.whole].map(|u| u.as_slice());
            let nodal = self.sampler.radial_and_tangential(&self.mesh, s, fields);
            let profile = profile.get(s);
            let at = |k: usize| {
                let [cos, sin] = directions[k];
                let expanded = expansion * (lines[k] - annulus.radius(s));
                [
                    profile[k] + nodal[k][0] + expanded,
                    nodal[k][1] + y * cos - x * sin,
                ]
            };
            *self.moved.get_mut(s) = (0..profile.len()).map(at).collect();
        }
    }

    /// Brings the sampled displacement of both surfaces up to the last iteration.
    pub fn show_all(&mut self) {
        let state = self.state.as_ref().expect("an iteration was made");
        let profile =
            self.contact
                .profile(&self.clamp, state, &self.initial_offset, &Surface::BOTH);
        self.show(&Surface::BOTH, &profile);
    }

    /// Moves the nodes to outlines (mm, at the sampled angles).
    pub fn fit(&mut self, lines: &Radii) -> Result<(), ProcessError> {
        let angles: Vec<f64> = (0..PROFILE_POINTS).map(sample_angle).collect();
        let on_lattice = PerSurface::from_fn(|s| {
            let outline = SampledOutline::new(angles.clone(), lines.get(s).clone());
            let radii = self.mesh.angles().iter().map(|&t| outline.radius(t));
            radii.collect::<Vec<f64>>()
        });
        self.mesh.fit_radii(&on_lattice)?;
        self.lines.clone_from(lines);
        Ok(())
    }

    /// Brings the nodes into equilibrium under the forces as they are, by conjugate gradients with the mean ring's factor as preconditioner: contact
    /// settled to the accuracy asked, the field goes on to what the arithmetic gives.
    ///
    /// # Errors
    /// [`NotConverged::MeanRing`] if it does not get near: the outline is too far from the mean ring's.
    pub fn finish(&mut self) -> Result<(), ProcessError> {
        if !self.differs || self.plan.rough {
            return Ok(());
        }
        let size = largest(&self.forces);
        let mut residual = internal_forces(&self.mesh, &self.law, &self.whole)?;
        for (r, f) in residual.iter_mut().zip(&self.forces) {
            *r = [f[0] - r[0], f[1] - r[1]];
        }
        // the nodes have moved since the forces were balanced: the turn that is left in them bends nothing
        balance(&self.mesh, &mut residual);
        let elements = Elements {
            mesh: &self.mesh,
            law: &self.law,
        };
        let energy = work(&self.forces, &self.whole).abs();
        let mut at = Iterate::new(std::mem::take(&mut self.whole), Vec::new(), residual);
        let mut left = 0.0;
        for _ in 0..MOST_STEPS {
            if largest(&at.residual) <= EQUILIBRIUM * size {
                left = 0.0;
                break;
            }
            let correction = self.stretch.correction(&self.stage, at.residual.clone());
            left = work(&at.residual, &correction);
            if left.is_nan() || left <= SMALLEST * energy {
                break;
            }
            at.step(elements, &[], correction, Vec::new(), Advance::Conjugate)?;
        }
        self.whole = at.displacement;
        if left <= CLOSE * energy {
            return Ok(());
        }
        Err(NotConverged::MeanRing.into())
    }

    /// The state of the contact, without the mesh.
    pub fn zones(&self) -> Clamped {
        let state = self.state.as_ref().expect("an iteration was made");
        self.contact.zones(&self.clamp, state)
    }

    /// The state on the mesh.
    pub fn clamped(&self) -> Result<Clamped, ProcessError> {
        let state = self.state.as_ref().expect("an iteration was made");
        let expansion = self.clamp.poisson_expansion();
        let [x, y] = state.shift();
        let mut displacement = self.whole.clone();
        let mut forces = self.forces.clone();
        let expanded: Vec<[f64; 2]> = self
            .mesh
            .coords()
            .iter()
            .map(|c| [expansion * c[0], expansion * c[1]])
            .collect();
        if expansion != 0.0 {
            plus(&mut displacement, &expanded);
            plus(
                &mut forces,
                &internal_forces(&self.mesh, &self.law, &expanded)?,
            );
        }
        for u in &mut displacement {
            u[0] += x;
            u[1] += y;
        }
        Ok(self.contact.clamped(
            &self.clamp,
            state,
            &self.mesh,
            self.loads.clone(),
            displacement,
            forces,
        ))
    }

    /// What a like step's outline added at the stage that begins, on this lattice.
    fn guessed(&self, guess: Option<&Guess>) -> Option<Vec<[f64; 2]>> {
        let guess = guess?;
        let stage = self.stages.len();
        let layers = &self.plan.layers;
        guess.added?.on(stage, guess.share, &self.mesh, layers)
    }

    /// Lets go of the contact, to be kept, and of what the outline added at every stage.
    pub fn into_parts(mut self) -> (RoundContact, Vec<Vec<[f64; 2]>>) {
        self.stages.push(self.added_next);
        (self.contact, self.stages)
    }

    /// Energy of the strain beyond an even Poisson expansion, N mm.
    pub fn energy(&self) -> f64 {
        0.5 * work(&self.forces, &self.whole)
    }

    /// The part without its hold, where residual stress is left in it.
    pub fn relaxed(&self) -> Result<Option<Relaxed>, ProcessError> {
        self.residual
            .map(|r| Relaxed::new(self.setting, &self.stage, &self.mesh, self.sampler, r))
            .transpose()
    }
}

/// Largest component, in size.
fn largest(values: &[[f64; 2]]) -> f64 {
    values.iter().flatten().fold(0.0_f64, |m, v| m.max(v.abs()))
}

#[cfg(test)]
#[path = "tests.rs"]
mod tests;
