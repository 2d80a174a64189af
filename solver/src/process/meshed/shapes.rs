//! A hold on a mesh of which shapes and contacts alone are wanted: its field is not solved for.

use std::sync::Arc;

use super::Start;
use crate::contact::{Clamp, Clamped, HeldSurfaces};
use crate::geometry::{PerSurface, Surface};
use crate::metrology::{Circle, Profile, ProfileError};
use crate::process::guess::Guess;
use crate::process::plan::Plan;
use crate::process::shapes::circles;
use crate::process::step::{HeldPart, Setting, Solved};
use crate::process::{ProcessError, Radii};

/// Displacement of both surfaces at the mesh's lines, mm.
type Moved = PerSurface<Vec<[f64; 2]>>;

impl Start {
    /// Holds the part and stops there, for the shape and the contact alone: the state is without the displacement of the mesh where that need not be
    /// solved for.
    pub fn hold_surfaces(
        &self,
        setting: &Setting,
        plan: &Plan,
        guess: Option<&Guess>,
    ) -> Result<HeldPart, ProcessError> {
        match self.by_surfaces(setting, plan, guess, false)? {
            Some((held, _)) => Ok(held),
            None => self.hold(setting, plan, guess),
        }
    }

    /// Solves a step that cuts nothing for shapes and contacts; `None` where the whole part is to be solved for.
    pub(super) fn solve_shapes(
        &self,
        setting: &Setting,
        plan: &Plan,
        guess: Option<&Guess>,
    ) -> Result<Option<Solved>, ProcessError> {
        let Some((held, doubt)) = self.by_surfaces(setting, plan, guess, plan.judged)? else {
            return Ok(None);
        };
        let circles = circles(&held.shape);
        // moved by so little a shape is as far out of round, to first order, about the circle that it had: what shifts it is taken out
        let change = |moved: &Moved| {
            let off = |(s, circle): (Surface, &Circle)| {
                let moved = self.sampler.radial_between(moved.get(s));
                let out_of_round = ProfileError::new(moved, 0.0).out_of_round();
                let radii: Vec<f64> = std::iter::zip(held.shape.get(s), out_of_round)
                    .map(|(r, u)| r + u)
                    .collect();
                let roundness = Profile::equal(&radii).roundness_about(circle.centre);
                (roundness - circle.roundness).abs()
            };
            let all = Surface::BOTH.into_iter().zip(&circles);
            all.map(off).fold(0.0, f64::max)
        };
        let bound = doubt.as_ref().map_or(0.0, change);
        let mesh = Arc::clone(&self.mesh);
        let stock = self.stock.clone();
        Solved::of_shapes(setting, held, (stock, mesh), circles, bound).map(Some)
    }

    /// The held part by its surfaces and, if `doubted`, how they would move if the loads of zones that the mesh does not resolve were moved as far as they may be off.
    fn by_surfaces(
        &self,
        setting: &Setting,
        plan: &Plan,
        guess: Option<&Guess>,
        doubted: bool,
    ) -> Result<Option<(HeldPart, Option<Moved>)>, ProcessError> {
        let at = setting.starts(plan);
        let clamp = setting.clamp(&self.mesh, self.relaxed.as_deref())?;
        let start = guess.and_then(|g| g.held);
        let found = self.with_solver(setting, |solver| {
            let Some(held) = solver.surfaces(setting, &clamp, self.part(), start, &at)? else {
                return Ok(None);
            };
            let moved = held.state.unresolved_pressures();
            let doubt = match doubted && !moved.is_empty() {
                true => solver.surfaces_under(&moved),
                false => None,
            };
            Ok(Some((held, doubt)))
        })?;
        let Some((
            HeldSurfaces {
                state,
                displacement,
            },
            doubt,
        )) = found
        else {
            return Ok(None);
        };
        setting.check_held(&clamp, &state, false)?;
        let shape = self.moved_by(&displacement);
        Ok(Some((held_part(clamp, state, shape), doubt)))
    }

    /// The reference moved by a displacement of its surfaces at the mesh's lines, mm.
    fn moved_by(&self, displacement: &Moved) -> Radii {
        PerSurface::from_fn(|s| {
            let moved = self.sampler.radial_between(displacement.get(s));
            let reference = self.reference.get(s).iter();
            reference.zip(&moved).map(|(r, u)| r + u).collect()
        })
    }
}

fn held_part(clamp: Clamp, state: Clamped, shape: Radii) -> HeldPart {
    HeldPart {
        clamp,
        state,
        shape,
        added: None,
    }
}
