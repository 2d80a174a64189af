//! A step of a tube to the accuracy asked: solved on one division and on one twice as fine, whose whole difference is the estimate.

use super::plan::Fineness;
use super::setting::TubeSetting;
use super::stage;
use super::step::{self, TubeSolved};
use crate::geometry::Surface;
use crate::metrology::ProfileError;
use crate::process::adapt::quantity;
use crate::process::sample::difference;
use crate::process::{Estimate, NotConverged, PROFILE_POINTS, ProcessError, Radii, Unresolved};
use crate::tube::response::strips;

/// Halvings of the finest division that a run takes.
const MOST_HALVINGS: i32 = 3;

/// Pressures of the second division beyond which a run begins with one that is coarser: many wide or long pads of a thin part. Its whole difference is stated
/// as ever, so it goes on from there where that is not accurate enough.
const MANY_PRESSURES: usize = 4000;

/// Share of the range of two shapes' difference that is stated beside the difference of their out-of-roundness.
const SHAPES: f64 = 0.5;

/// Places at which the bulge between plates is compared, less one.
const BULGES: usize = 8;

/// A step solved to the accuracy asked.
pub(super) struct JudgedStep {
    pub coarse: TubeSolved,
    pub fine: TubeSolved,
    pub estimate: Estimate,
    /// What the absolute error is measured against, mm.
    pub measured: f64,
    /// Where the section lies that drives the accuracy, mm.
    pub section: f64,
    /// What a shape may be off beside the difference of the two divisions, mm.
    pub floor: f64,
}

/// Solves a step.
pub(super) fn solve(setting: &TubeSetting) -> Result<JudgedStep, ProcessError> {
    let mut fineness = first(setting)?;
    let mut coarse = step::solve(setting, fineness, None)?;
    loop {
        fineness = fineness.finer();
        let fine = step::solve(setting, fineness, Some(&coarse))?;
        let judged = judge(setting, coarse, fine);
        if judged.estimate.converged {
            return Ok(judged);
        }
        if fineness.halvings == MOST_HALVINGS {
            return Err(not_accurate(setting, &judged));
        }
        coarse = judged.fine;
    }
}

/// Solves a step on two coarse divisions, to whatever accuracy they have: good enough to search for another force.
pub(super) fn roughly(setting: &TubeSetting) -> Result<JudgedStep, ProcessError> {
    let fineness = Fineness { halvings: -1 };
    let coarse = step::solve(setting, fineness, None)?;
    let fine = step::solve(setting, fineness.finer(), Some(&coarse))?;
    Ok(judge(setting, coarse, fine))
}

/// The first division of a step.
pub(super) fn first(setting: &TubeSetting) -> Result<Fineness, ProcessError> {
    let usual = Fineness { halvings: 0 };
    let clamp = setting.clamp()?;
    let nominal = setting.radii();
    let radius = |k: usize| *nominal.get(clamp.bodies()[k].surface);
    let finer = usual.finer();
    let pads = finer.pads(clamp.bodies(), &[], setting.wall(), radius);
    let mesh = stage::mesh(setting, setting.part, finer);
    let mut pads = pads.iter();
    let mut pressures = 0;
    for (support, &reach) in setting.step.supports.iter().zip(&setting.reaches) {
        for body in &support.bodies {
            let along = strips(mesh.heights(), body.surface, reach).len();
            let pieces = match body.is_full_circle() {
                true => 1,
                false => body.pieces().len(),
            };
            let round: usize = pads.by_ref().take(pieces).map(|p| p.angles.len()).sum();
            pressures += along * round;
        }
    }
    Ok(match pressures > MANY_PRESSURES {
        true => Fineness { halvings: -1 },
        false => usual,
    })
}

/// What two divisions say of the driving quantity.
fn judge(setting: &TubeSetting, coarse: TubeSolved, fine: TubeSolved) -> JudgedStep {
    let (section, _) = fine.worst(setting);
    let floor = fine.left;
    let shapes = |solved: &TubeSolved| -> Radii {
        match solved.cuts.is_empty() {
            true => solved.held.shape(section, PROFILE_POINTS),
            false => solved.released(section, PROFILE_POINTS),
        }
    };
    let (rough, sharp) = (shapes(&coarse), shapes(&fine));
    let at = |solved: &TubeSolved| solved.driving(setting, section, PROFILE_POINTS);
    let (relative, absolute, measured) = at(&coarse)
        .into_iter()
        .zip(at(&fine))
        .map(|((s, a), (_, b))| {
            let off = difference(rough.get(s), sharp.get(s));
            let apart = ProfileError::new(off, 0.0).roundness();
            let absolute = (a - b).abs() + SHAPES * apart + floor;
            let measured = b.max(setting.step.least_measured(s));
            (absolute / measured, absolute, measured)
        })
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .unwrap_or((0.0, 0.0, f64::INFINITY));
    let relative = relative.max(bulge_apart(&coarse, &fine));
    JudgedStep {
        estimate: Estimate {
            quantity: quantity(&setting.step),
            relative_error: Some(relative),
            absolute_error: Some(absolute),
            stress_relative_error: None,
            converged: relative <= setting.step.accuracy,
        },
        measured,
        section,
        floor,
        coarse,
        fine,
    }
}

/// How far two divisions are apart in the bulge between end plates, which leaves a part round: a share of the largest of it, 0 without plates.
fn bulge_apart(coarse: &TubeSolved, fine: &TubeSolved) -> f64 {
    if fine.held.rest.plates.is_none() {
        return 0.0;
    }
    let [start, end] = fine.part.nominal.ends();
    let (mut apart, mut largest) = (0.0_f64, f64::MIN_POSITIVE);
    for k in 0..=BULGES {
        let z = start + (end - start) * k as f64 / BULGES as f64;
        for s in Surface::BOTH {
            let at = |solved: &TubeSolved| solved.held.moved(s, z, 8)[0][0];
            let (a, b) = (at(coarse), at(fine));
            apart = apart.max((a - b).abs());
            largest = largest.max(b.abs());
        }
    }
    apart / largest
}

impl JudgedStep {
    /// Takes in what steps before this one left of error in the part's shape, mm.
    pub fn carry(&mut self, roundness: f64, accuracy: f64) {
        let estimate = &mut self.estimate;
        if let (Some(relative), Some(absolute)) =
            (&mut estimate.relative_error, &mut estimate.absolute_error)
            && roundness > 0.0
        {
            *absolute += roundness;
            *relative = relative.max(*absolute / self.measured);
            estimate.converged &= *relative <= accuracy;
        }
    }
}

fn not_accurate(setting: &TubeSetting, judged: &JudgedStep) -> ProcessError {
    let estimate = &judged.estimate;
    NotConverged::Accuracy {
        step: setting.step.index,
        elements: judged.fine.held.stage.body.mesh().elements(),
        open: Box::new(Unresolved::Meshes {
            quantity: estimate.quantity.clone(),
            absolute: estimate.absolute_error.unwrap_or(0.0),
            relative: estimate.relative_error.unwrap_or(0.0),
            accuracy: setting.step.accuracy,
            next_bytes: 0.0,
        }),
    }
    .into()
}
