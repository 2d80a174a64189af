//! Windows of parts that come out rounder under more force: pads that bear on their edges close on the part as they are pressed.

use super::{FACTORS, SOLVES, Search, Trial, between};
use crate::process::{Bound, LimitedBy, ProcessError};

/// Factors on the least force that holds at which it is seen whether more force meets what less does not: pads that bear on their edges may close on the part.
const FARTHER: [f64; 3] = [1.3, 2.5, 5.0];

impl Search<'_> {
    /// The window again, where none was found or where the force of the case lies in it and misses a limit: what leaves a part less round need not be more force. Looks for a force above that
    /// meets every limit, and where that begins.
    pub fn farther(
        &self,
        now: &Trial,
        (low, high): (Option<Bound>, Option<Bound>),
        (cap, most): (f64, f64),
    ) -> Result<(Option<Bound>, Option<Bound>), ProcessError> {
        let misses = |t: &Trial| t.above().is_some_and(|(share, _)| share > 1.0);
        let (Some(a), Some(b)) = (&low, &high) else {
            return Ok((low, high));
        };
        let empty = b.not_enough || a.factor > b.factor;
        let inside = misses(now) && a.factor < 1.0 && b.factor > 1.0;
        if a.not_enough || !(empty || inside) {
            return Ok((low, high));
        }
        let own = self.supports();
        let from = a.factor.max(1.0);
        let mut below = if a.factor >= 1.0 { a.factor } else { 1.0 };
        for farther in FARTHER {
            let factor = from * farther;
            if factor > (cap * most).min(FACTORS[1]) {
                break;
            }
            let Some(trial) = self.solve(factor, own)? else {
                break;
            };
            if misses(&trial) {
                below = factor;
                continue;
            }
            let mut least = trial;
            for _ in 0..SOLVES {
                let middle = between(below, least.factor);
                match self.solve(middle, own)?.filter(|t| !misses(t)) {
                    Some(trial) => least = trial,
                    None => below = middle,
                }
            }
            let upper = self.high(least)?.map(|b| b.times(1.0 / most));
            let upper = match upper {
                Some(b) if b.factor <= cap => b,
                _ if cap.is_finite() => Bound::at(cap, LimitedBy::Chuck),
                Some(b) => b,
                None => return Ok((Some(Bound::at(least.factor, LimitedBy::Roundness)), None)),
            };
            return Ok((
                Some(Bound::at(least.factor, LimitedBy::Roundness)),
                Some(upper),
            ));
        }
        Ok((low, high))
    }

    /// The lower end, moved up where the limits from above are not met at it: a force that is told has to be one that does.
    pub fn sound_from(
        &self,
        now: &Trial,
        low: Option<Bound>,
        high: Option<&Bound>,
    ) -> Result<Option<Bound>, ProcessError> {
        let missed = |t: &Trial| {
            t.above()
                .filter(|(share, _)| *share > 1.0)
                .map(|(_, by)| by)
        };
        let (Some(a), Some(b)) = (&low, high) else {
            return Ok(low);
        };
        if a.not_enough || b.not_enough || a.factor >= b.factor {
            return Ok(low);
        }
        let own = self.supports();
        let Some(mut by) = self.solve(a.factor, own)?.as_ref().and_then(missed) else {
            return Ok(low);
        };
        let now_meets = missed(now).is_none() && a.factor < 1.0 && b.factor >= 1.0;
        let (mut below, mut good) = (a.factor, if now_meets { 1.0 } else { b.factor });
        for _ in 0..SOLVES {
            let middle = between(below, good);
            let trial = self.solve(middle, own)?;
            match trial.as_ref().map(missed) {
                Some(None) => good = middle,
                Some(Some(limit)) => (below, by) = (middle, limit),
                None => below = middle,
            }
        }
        Ok(Some(Bound::at(good, by)))
    }
}
