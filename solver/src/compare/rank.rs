//! The order of holds: by tolerance, then by safety, then by how much of the tolerance is used up.

use super::{Found, Row};
use crate::geometry::Surface;

/// A number that sorts as it should: none that is not a number comes here.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Sorted(f64);

impl Eq for Sorted {}

impl PartialOrd for Sorted {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Sorted {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        self.0.total_cmp(&other.0)
    }
}

/// What holds are sorted by, the best first.
pub(super) fn key(row: &Row, step: usize) -> (u8, u8, Sorted) {
    match &row.found {
        Ok(found) => {
            let verdict = &found.document.verdict;
            (
                judged(verdict.in_tolerance),
                judged(verdict.safe),
                Sorted(used(found, step)),
            )
        }
        Err(_) => (u8::MAX, u8::MAX, Sorted(f64::INFINITY)),
    }
}

/// Good before not known before bad.
fn judged(good: Option<bool>) -> u8 {
    match good {
        Some(true) => 0,
        None => 1,
        Some(false) => 2,
    }
}

/// The largest share of a limit that is used up; without a limit the largest roundness of what the step cuts, mm.
fn used(found: &Found, step: usize) -> f64 {
    let limits = found.document.verdict.limits.iter();
    if let Some(most) = limits.map(|l| l.used).reduce(f64::max) {
        return most;
    }
    let told = &found.document.steps[step];
    let cut = |s: &Surface| told.cuts.iter().any(|c| c.surface == *s) || told.cuts.is_empty();
    let surfaces = Surface::BOTH.into_iter().filter(cut);
    surfaces
        .map(|s| told.released_shape(s).roundness_minimum_zone)
        .fold(0.0, f64::max)
}
