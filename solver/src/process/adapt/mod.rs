//! Choosing the mesh of a step, and judging the answer by a second one.
//!
//! A first scan finds where pads touch; the mesh is regraded there until every contact zone has enough
//! elements. Then the step is solved on that mesh and on one twice as fine, round and through together. The whole
//! difference of the two is the estimate, undivided: where a pad edge is loaded, the error falls no faster than the mesh size.
//! A zone of fewer than four elements is unresolved, and two such meshes can agree on a wrong answer.

mod difference;
mod fixed;
mod graded;
mod marks;
mod mean_ring;
mod memory;

use super::guess::Guess;
use super::plan::Plan;
use super::round;
use super::step::{Setting, Solved};
use super::{Estimate, Method, NotConverged, ProcessError, Reason};
use crate::case::FixedMesh;
use crate::mesh::Mesh;
pub(super) use difference::quantity;
use difference::sampling;
use fixed::{fixed_plan, on_fixed_mesh};
use graded::on_graded_meshes;
use marks::{MeshMarks, scale};
use mean_ring::on_mean_ring;
use memory::sized;

/// A step solved to the accuracy asked.
pub(super) struct Adapted {
    pub solved: Solved,
    pub estimate: Estimate,
    /// Whether a contact has too few elements of a fixed mesh to tell its width.
    pub unresolved: bool,
    /// The coarser of the two meshes, by which the answer is judged; `None` if none was solved.
    pub judge: Option<Judge>,
    /// The plan of the answer.
    pub plan: Plan,
    /// The coarser plan: good enough to search for another force.
    pub coarse: Plan,
}

/// A coarser mesh solved, and how the answer is judged by it.
pub(super) struct Judge {
    pub solved: Solved,
    /// What the difference of the two meshes is taken times.
    pub margin: f64,
    /// What both may be off together, as a share.
    pub series: f64,
    /// What the sampling leaves, as a share.
    pub sampling: f64,
    /// What stress may be off beside the difference of the two meshes, as a share.
    pub stress_floor: f64,
}

impl Judge {
    /// By finite elements, whose whole difference is stated.
    fn on_mesh(solved: Solved, setting: &Setting) -> Self {
        Self {
            solved,
            margin: 1.0,
            series: 0.0,
            sampling: sampling(setting),
            stress_floor: 0.0,
        }
    }
}

/// Solves a step.
pub(super) fn solve(
    setting: &Setting,
    fixed: Option<FixedMesh>,
    estimate: bool,
) -> Result<Adapted, ProcessError> {
    if let Some(mesh) = fixed {
        return on_fixed_mesh(setting, mesh, estimate);
    }
    let nearly_round = || round::is_nearly_round(setting);
    if setting.method == Method::MeanRing && nearly_round() {
        match on_mean_ring(setting) {
            // too far from round after all: the mesh alone decides
            Err(e) if matches!(e.reason, Reason::NotConverged(_)) => {}
            solved => return solved,
        }
    }
    on_graded_meshes(setting).or_else(|e| match e.reason {
        // columns narrow enough for the contact spoil the factor of a thin wall by rounding; the series has no columns
        Reason::NotConverged(NotConverged::Accuracy { .. }) if nearly_round() => {
            on_mean_ring(setting).map_err(|_| e)
        }
        _ => Err(e),
    })
}

/// The mesh on which a step is first solved: the user's, or the finer of the first graded pair.
pub(super) fn first_mesh(
    setting: &Setting,
    fixed: Option<FixedMesh>,
) -> Result<Mesh, ProcessError> {
    let plan = match fixed {
        Some(mesh) => fixed_plan(setting, mesh),
        None => {
            let scale = scale(setting);
            sized(setting, MeshMarks::find(setting, scale)?.plan(scale, 2.0))?
        }
    };
    Ok(Mesh::build(
        &setting.body.outlines,
        &plan.ends,
        &plan.layers,
        true,
    )?)
}

/// The division on which a hold alone is solved: of a nearly round part by its mean ring.
pub(super) fn plan_of_hold(
    setting: &Setting,
    fixed: Option<FixedMesh>,
) -> Result<Plan, ProcessError> {
    match fixed {
        None if round::is_nearly_round(setting) => mean_ring::plan_of_hold(setting),
        fixed => mesh_of_hold(setting, fixed),
    }
}

/// The same by finite elements alone.
pub(super) fn mesh_of_hold(
    setting: &Setting,
    fixed: Option<FixedMesh>,
) -> Result<Plan, ProcessError> {
    match fixed {
        Some(mesh) => Ok(fixed_plan(setting, mesh)),
        None => {
            let scale = scale(setting);
            sized(setting, MeshMarks::find(setting, scale)?.plan(scale, 1.0))
        }
    }
}

/// Solves a step once, on the first division that resolves its contact: good enough to compare like steps by. `dips` of a like step are taken as they are, see [`Guess`].
pub(super) fn rough(
    setting: &Setting,
    fixed: Option<FixedMesh>,
    dips: &[Option<Vec<f64>>],
) -> Result<Solved, ProcessError> {
    let guess = Guess {
        dips,
        ..Guess::NOTHING
    };
    let on = |plan: Plan| setting.solve(&plan, Some(&guess));
    if setting.method == Method::MeanRing && fixed.is_none() && round::is_nearly_round(setting) {
        match mean_ring::plan_of_hold(setting).and_then(on) {
            // too far from round after all
            Err(e) if matches!(e.reason, Reason::NotConverged(_)) => {}
            solved => return solved,
        }
    }
    on(mesh_of_hold(setting, fixed)?)
}

#[cfg(test)]
mod tests;
