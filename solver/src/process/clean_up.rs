//! What a larger cut would do about a surface that the tool did not reach all round: the cut is solved again, since a thinner wall
//! gives way further and the low spots go down with it.

use super::rerun::{Again, Rerun, rerun};
use super::step::Job;
use super::{CleanUp, CutOutcome, Radii, StepOutcome};
use crate::case::Case;
use crate::geometry::Surface;
use crate::metrology::{Profile, least_squares_circle};

/// Cuts that are tried.
const TRIES: usize = 3;

/// What is still missing is taken with so much more, as the wall gives way further.
const MORE: f64 = 1.05;

/// Cuts are told to a hundredth of a millimetre, as a dial has it.
const STEP: f64 = 0.01;

/// Share of the mean wall (drawn, or as cut) that a larger cut has to leave everywhere.
const WALL_LEFT: f64 = 0.5;

/// One entry for each surface that did not clean up in its last cut.
pub(super) fn clean_up(job: Job, chain: &[Again], steps: &[StepOutcome]) -> Vec<CleanUp> {
    let case = job.case;
    Surface::BOTH
        .into_iter()
        .filter_map(|surface| {
            let step = case.last_to_cut(surface)?;
            let cut = case.steps[step].cuts.iter();
            let index = cut.enumerate().rev().find(|(_, c)| c.surface == surface)?.0;
            let found = steps.get(step)?.cuts.get(index)?;
            let wall = mean_wall(&steps.last()?.released);
            (found.cleaned_up < 1.0).then(|| CleanUp {
                step,
                surface,
                cut_to: cut_to(job, chain, (step, index), found, wall),
            })
        })
        .collect()
}

fn mean_wall(part: &Radii) -> f64 {
    let mean = |radii: &[f64]| radii.iter().sum::<f64>() / radii.len() as f64;
    mean(&part.outer) - mean(&part.bore)
}

/// The least cut found that cleans up, mm.
fn cut_to(
    job: Job,
    chain: &[Again],
    (step, index): (usize, usize),
    asked: &CutOutcome,
    wall: f64,
) -> Option<f64> {
    let (case, surface) = (job.case, asked.surface);
    let mut found = asked.clone();
    for _ in 0..TRIES {
        let more = MORE * found.stock_to_clean_up.abs();
        let diameter = match surface {
            Surface::Bore => ((found.diameter + more) / STEP).ceil() * STEP,
            Surface::Outer => ((found.diameter - more) / STEP).floor() * STEP,
        };
        let mut other = case.steps[step].clone();
        other.cuts.get_mut(index)?.diameter = diameter;
        let supports = &chain.get(step)?.supports;
        let again = rerun(job, chain, step, (&other, supports), None)?;
        if !is_sound(case, surface, &again, wall) {
            return None;
        }
        found = again.cuts.get(index)?.clone();
        if found.cleaned_up >= 1.0 {
            return Some(diameter);
        }
    }
    None
}

/// Whether the part is whole and inside the drawing's diameters on the side to which a larger cut takes it.
fn is_sound(case: &Case, surface: Surface, again: &Rerun, wall: f64) -> bool {
    let part = &again.released;
    let mut walls = part.outer.iter().zip(&part.bore).map(|(a, b)| a - b);
    if again.stress > 1.0 || walls.any(|w| w < WALL_LEFT * wall) {
        return false;
    }
    let radii = part.get(surface);
    let half = radii.len() / 2;
    let across = (0..half).map(|k| radii[k] + radii[k + half]);
    let average = 2.0 * least_squares_circle(&Profile::equal(radii)).radius;
    let own = case.tolerance.surfaces.get(surface);
    match surface {
        Surface::Bore => {
            let most = across.fold(f64::NEG_INFINITY, f64::max);
            own.diameter.is_none_or(|[_, high]| most <= high)
                && own.average_diameter.is_none_or(|[_, high]| average <= high)
        }
        Surface::Outer => {
            let least = across.fold(f64::INFINITY, f64::min);
            own.diameter.is_none_or(|[low, _]| least >= low)
                && own.average_diameter.is_none_or(|[low, _]| average >= low)
        }
    }
}
