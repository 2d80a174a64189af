//! By how much to slacken when the roundness limit is missed.

use super::adapt::Adapted;
use super::step::{Guess, Setting, Solved, not_trustworthy};
use super::{BackOff, ProcessError};
use crate::case::{Case, Step};
use crate::metrology::{Profile, minimum_zone};

/// Solves spent on finding a force that meets the limit.
const BACK_OFF_SOLVES: usize = 6;

/// The worst minimum-zone roundness of the surfaces that a step cuts, mm.
fn worst_zone(solved: &Solved) -> Result<f64, ProcessError> {
    let mut worst = 0.0_f64;
    for &(surface, _) in &solved.driving {
        let zone =
            minimum_zone(&Profile::equal(solved.released.get(surface))).map_err(not_trustworthy)?;
        worst = worst.max(zone.circle.roundness);
    }
    Ok(worst)
}

/// If the roundness limit is missed: the largest whole percentage of the force that meets it, by solving again.
pub(super) fn find_back_off(
    case: &Case,
    setting: &Setting,
    adapted: &Adapted,
) -> Result<Option<BackOff>, ProcessError> {
    let Some(limit) = case.tolerance.roundness else {
        return Ok(None);
    };
    let forced = setting
        .supports
        .iter()
        .any(|s| !s.bodies.is_empty() || !s.pressures.is_empty() || !s.points.is_empty());
    if setting.step.cuts.is_empty() || !forced {
        return Ok(None);
    }
    let full = worst_zone(&adapted.solved)?;
    if full <= limit {
        return Ok(None);
    }
    let at = |fraction: f64| -> Result<f64, ProcessError> {
        let step = Step {
            force_scale: setting.step.force_scale * fraction,
            ..setting.step.clone()
        };
        worst_zone(
            &Setting {
                step: &step,
                ..*setting
            }
            .solve(
                &adapted.coarse,
                Some(&Guess {
                    cuts: &adapted.solved.cut_outlines,
                    share: fraction,
                }),
            )?,
        )
    };
    // whole percentages: one that meets the limit below, one that misses it above; roundness is close to proportional
    // to force, so a secant between the two finds the gap in two or three solves
    let (mut meets, mut misses) = ((0, 0.0), (100, full));
    for _ in 0..BACK_OFF_SOLVES {
        if misses.0 - meets.0 <= 1 || meets.1 > 0.95 * limit {
            break;
        }
        let share = (0.99 * limit - meets.1) / (misses.1 - meets.1);
        let guess = meets.0 + (share * f64::from(misses.0 - meets.0)).floor() as i32;
        let percent = guess.clamp(meets.0 + 1, misses.0 - 1);
        let roundness = at(f64::from(percent) / 100.0)?;
        if roundness <= limit {
            meets = (percent, roundness);
        } else {
            misses = (percent, roundness);
        }
    }
    Ok((meets.0 > 0).then(|| BackOff {
        fraction: f64::from(meets.0) / 100.0,
        roundness: meets.1,
    }))
}
