//! By how much to slacken when the roundness limit is missed.

use super::adapt::Adapted;
use super::step::{Guess, Setting, Solved, not_trustworthy};
use super::{BackOff, ProcessError};
use crate::case::{Case, Step};
use crate::metrology::Profile;

/// Solves spent on finding a force that meets the limit.
const BACK_OFF_SOLVES: usize = 6;

/// A surface and how its roundness stands to its limit.
#[derive(Clone, Copy)]
struct Worst {
    roundness: f64,
    limit: f64,
}

impl Worst {
    /// Roundness over limit.
    fn share(self) -> f64 {
        self.roundness / self.limit
    }
}

/// Of the surfaces that the step cuts, the one that is worst against its limit; `None` where no limit applies.
fn worst(case: &Case, solved: &Solved) -> Result<Option<Worst>, ProcessError> {
    let mut worst: Option<Worst> = None;
    for &(surface, _) in &solved.driving {
        let Some(wanted) = case.roundness_limit(surface) else {
            continue;
        };
        let profile = Profile::equal(solved.released.get(surface));
        let found = Worst {
            roundness: wanted.about.of(&profile).map_err(not_trustworthy)?,
            limit: wanted.most,
        };
        if worst.is_none_or(|w| found.share() > w.share()) {
            worst = Some(found);
        }
    }
    Ok(worst)
}

/// If the roundness limit is missed: the largest whole percentage of the force that meets it, by solving again.
pub(super) fn find_back_off(
    case: &Case,
    setting: &Setting,
    adapted: &Adapted,
) -> Result<Option<BackOff>, ProcessError> {
    let forced = setting
        .supports
        .iter()
        .any(|s| !s.bodies.is_empty() || !s.pressures.is_empty() || !s.points.is_empty());
    if setting.step.cuts.is_empty() || !forced {
        return Ok(None);
    }
    let Some(full) = worst(case, &adapted.solved)?.filter(|w| w.share() > 1.0) else {
        return Ok(None);
    };
    let at = |fraction: f64| -> Result<Worst, ProcessError> {
        let step = Step {
            force_scale: setting.step.force_scale * fraction,
            ..setting.step.clone()
        };
        let guess = Guess {
            cuts: &adapted.solved.cut_outlines,
            share: fraction,
        };
        let slacked = Setting {
            step: &step,
            ..*setting
        };
        let solved = slacked.solve(&adapted.coarse, Some(&guess))?;
        Ok(worst(case, &solved)?.unwrap_or(full))
    };
    // whole percentages: one that meets the limit below, one that misses it above; roundness is close to proportional
    // to force, so a secant between the two finds the gap in two or three solves
    let nothing = Worst {
        roundness: 0.0,
        ..full
    };
    let (mut meets, mut misses) = ((0, nothing), (100, full));
    for _ in 0..BACK_OFF_SOLVES {
        let (low, high) = (meets.1.share(), misses.1.share());
        if misses.0 - meets.0 <= 1 || low > 0.95 {
            break;
        }
        let share = (0.99 - low) / (high - low);
        let guess = meets.0 + (share * f64::from(misses.0 - meets.0)).floor() as i32;
        let percent = guess.clamp(meets.0 + 1, misses.0 - 1);
        let found = at(f64::from(percent) / 100.0)?;
        if found.share() <= 1.0 {
            meets = (percent, found);
        } else {
            misses = (percent, found);
        }
    }
    let (percent, Worst { roundness, limit }) = meets;
    Ok((percent > 0).then(|| BackOff {
        fraction: f64::from(percent) / 100.0,
        roundness,
        limit,
    }))
}
