//! On a mesh of the user's: no refinement, and an estimate that says what its elements cannot show.

use super::difference::{Weights, difference, judged, unresolved};
use super::marks::marks;
use super::{Adapted, Judge};
use crate::case::FixedMesh;
use crate::geometry::Surface;
use crate::process::ProcessError;
use crate::process::guess::Guess;
use crate::process::plan::Plan;
use crate::process::sample::roundness;
use crate::process::step::{Setting, Solved};

pub(super) fn fixed_plan(setting: &Setting, mesh: FixedMesh) -> Plan {
    let marks: Vec<f64> = marks(setting).iter().map(|m| m.angle).collect();
    Plan::fixed(&marks, mesh)
}

/// Solves a step on one mesh, and on one half as fine by which it is judged.
pub(super) fn on_fixed_mesh(
    setting: &Setting,
    mesh: FixedMesh,
    estimate: bool,
) -> Result<Adapted, ProcessError> {
    let mut plan = fixed_plan(setting, mesh);
    plan.judged = estimate;
    let mut solved = setting.solve(&plan, None)?;
    let coarse = if estimate {
        let half = FixedMesh {
            around: (mesh.around / 2).max(12),
            through: (mesh.through / 2).max(1),
        };
        Some(setting.solve(&fixed_plan(setting, half), Some(&Guess::of(&solved)))?)
    } else {
        None
    };
    let unresolved = unresolved(setting, &solved).is_some();
    let weights = match unresolved && setting.step.cuts.is_empty() {
        true => Weights::UNRESOLVED,
        false => Weights::WHOLE,
    };
    if unresolved && estimate {
        solved.unresolved_bound += approach_bound(setting, &solved);
    }
    let error = coarse
        .as_ref()
        .map(|c| difference(c, &solved, setting, weights));
    Ok(Adapted {
        plan: plan.clone(),
        estimate: judged(setting, error),
        judge: coarse.map(|c| Judge::on_mesh(c, setting)),
        unresolved,
        solved,
        coarse: plan,
    })
}

/// What the depth of bodies in the part, where its elements do not show it, may do to the driving out-of-roundness, mm. Under a body the held surface itself
/// is off by it. Bodies at fixed places press by so much more or less, as a share of how far they have come, and with them all shapes.
fn approach_bound(setting: &Setting, solved: &Solved) -> f64 {
    let (state, bodies, law) = (&solved.held, solved.clamp.bodies(), setting.law());
    let held = setting.step.cuts.is_empty();
    let (mut dent, mut off, mut come) = (0.0_f64, 0.0_f64, 0.0_f64);
    for body in 0..bodies.len() {
        let [local, all] = state.unresolved_approach(body, &law);
        if held {
            dent = dent.max(local);
        }
        come = come.max(state.approach(body).abs());
        if !solved.clamp.is_forced(body) {
            off = off.max(all);
        }
    }
    let share = if off > 0.0 {
        (off / come).min(1.0)
    } else {
        0.0
    };
    let shapes = if held {
        &solved.held_shape
    } else {
        &solved.released
    };
    let most = Surface::BOTH.map(|s| roundness(shapes.get(s)));
    dent + share * most[0].max(most[1])
}
