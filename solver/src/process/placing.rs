//! How the part lies in the hold of a step: turned over, turned, and the worst way to turn it.

use std::f64::consts::TAU;

use rayon::prelude::*;

use super::step::{Job, PartBody, Setting, Solved};
use super::{ProcessError, adapt};
use crate::case::{Step, Turned};
use crate::geometry::Surface;
use crate::scheme::{Placing, Supports, period};
use crate::watch::Aim;

/// Ways of turning the part that are tried before the worst is closed in on. The out-of-roundness of lobed stock in N jaws goes
/// round a few times in a period of the hold, so these are some to each.
const TRIED: usize = 12;

/// Halvings of the interval in which the worst lies: a period of 120 degrees is closed in on to a third of a degree.
const CLOSER: usize = 4;

/// Lays a hold against the part of a step. Returns what presses, in the part's frame, and how the part was laid.
///
/// # Errors
/// As the solution of a step, if every way has to be tried.
pub(super) fn laid(
    job: Job,
    step: &Step,
    body: &PartBody,
    index: usize,
    hold: Vec<Supports>,
) -> Result<(Vec<Supports>, Placing), ProcessError> {
    let at = |turned: f64| Placing {
        flipped: step.flipped,
        turned,
    };
    let placing = at(match step.turned {
        Turned::By(angle) => angle,
        Turned::Any if hold.is_empty() || looks_alike_all_round(step, body) => 0.0,
        Turned::Any => worst(period(&hold), |turned| {
            let supports = apply(at(turned), &hold);
            let setting = Setting::new(
                Job {
                    aim: Aim::Turning,
                    ..job
                },
                body,
                step,
                &supports,
                index,
            );
            Ok(largest(&adapt::rough(&setting, job.case.mesh, &[])?))
        })?,
    });
    Ok((apply(placing, &hold), placing))
}

pub(super) fn apply(placing: Placing, hold: &[Supports]) -> Vec<Supports> {
    hold.iter().map(|s| placing.apply(s.clone())).collect()
}

/// Whether turning the part cannot matter.
fn looks_alike_all_round(step: &Step, body: &PartBody) -> bool {
    step.spindle_offset == [0.0, 0.0]
        && Surface::BOTH
            .into_iter()
            .all(|s| body.outlines.get(s).as_round().is_some())
}

fn largest(solved: &Solved) -> f64 {
    solved.driving.iter().map(|d| d.1).fold(0.0, f64::max)
}

/// The angle within a period at which `value` is largest: the best of equal steps, then of ever closer neighbours.
fn worst(
    period: f64,
    value: impl Fn(f64) -> Result<f64, ProcessError> + Sync,
) -> Result<f64, ProcessError> {
    let better = |a: (f64, f64), b: (f64, f64)| if b.1 > a.1 { b } else { a };
    let all = |angles: Vec<f64>| -> Result<Vec<(f64, f64)>, ProcessError> {
        angles
            .into_par_iter()
            .map(|t| value(t).map(|v| (t, v)))
            .collect()
    };
    let step = period / TRIED as f64;
    let tried = all((0..TRIED).map(|k| step * k as f64).collect())?;
    let mut best = tried.into_iter().reduce(better).unwrap_or((0.0, 0.0));
    let mut reach = step;
    for _ in 0..CLOSER {
        reach *= 0.5;
        let beside = all(vec![best.0 - reach, best.0 + reach])?;
        best = beside.into_iter().fold(best, better);
    }
    Ok(best.0.rem_euclid(TAU))
}
