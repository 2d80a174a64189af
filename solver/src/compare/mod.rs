//! The same cuts under every hold of a case: solved side by side, and ranked.
//!
//! Read [`compare`] and [`CompareDocument`] first. A hold that cannot be solved is a row with a reason, never the end of the rest.

mod document;
mod picture;
mod rank;

pub use document::{CompareDocument, CompareRow, ComparedGauge};
pub use picture::picture;

use rayon::prelude::*;

use crate::case::{Case, Origin, Problem, in_one_line};
use crate::geometry::{PerSurface, Surface};
use crate::metrology::{Profile, minimum_zone};
use crate::process::{KeepFields, Options, Outcome, ProcessError, Reason, run_watched};
use crate::report::{self, Program, ResultDocument};
use crate::watch::Watch;

/// A hold to be compared: the case with that hold in the step that is compared, or why there is none.
#[derive(Clone, Debug)]
pub struct Entrant {
    /// Name of the hold.
    pub hold: String,
    /// The case, its later steps left out.
    pub case: Result<(Case, Origin), Vec<Problem>>,
}

/// Holds that were compared, the best first.
#[derive(Clone, Debug)]
pub struct Compared {
    /// The step, from 0.
    pub step: usize,
    /// One row a hold.
    pub rows: Vec<Row>,
}

/// A hold that was compared.
#[derive(Clone, Debug)]
pub struct Row {
    /// Name of the hold.
    pub hold: String,
    /// What it comes to, or why there is no answer.
    pub found: Result<Box<Found>, String>,
}

/// What the cuts come to under a hold.
#[derive(Clone, Debug)]
pub struct Found {
    /// The case as it was solved.
    pub case: Case,
    /// What was solved.
    pub outcome: Outcome,
    /// The same as `run` would tell it.
    pub document: ResultDocument,
    /// Least and largest roundness (minimum zone, mm) of each surface over the band that the forces of the step are known within; `None` of forces that are known.
    pub band: Option<PerSurface<[f64; 2]>>,
}

/// Solves the cases, one a hold, side by side, and ranks what they come to in step `step` (from 0).
///
/// # Errors
/// [`ProcessError`] if somebody stopped it; a case that has no answer is a row that says so.
pub fn compare(
    entrants: Vec<Entrant>,
    step: usize,
    program: &Program,
    watch: &dyn Watch,
) -> Result<Compared, ProcessError> {
    let rows = entrants.into_par_iter().map(|entrant| {
        let found = match entrant.case {
            Ok((case, origin)) => found(case, &origin, step, program, watch)?,
            Err(problems) => Err(in_one_line(&problems)),
        };
        Ok(Row {
            hold: entrant.hold,
            found: found.map(Box::new),
        })
    });
    let mut rows = rows.collect::<Result<Vec<Row>, ProcessError>>()?;
    rows.sort_by_key(|row| rank::key(row, step));
    Ok(Compared { step, rows })
}

/// What a case comes to: outside why somebody stopped it, inside why it has no answer.
fn found(
    case: Case,
    origin: &Origin,
    step: usize,
    program: &Program,
    watch: &dyn Watch,
) -> Result<Result<Found, String>, ProcessError> {
    let outcome = match solved(&case, watch)? {
        Ok(outcome) => outcome,
        Err(why) => return Ok(Err(why)),
    };
    let document = match report::document(&case, origin, &outcome, program) {
        Ok(document) => document,
        Err(e) => return Ok(Err(e.to_string())),
    };
    let band = match outcome.steps[step].grip.band.map(|b| b.spread) {
        Some(spread) => over_band(&case, step, spread, &outcome, watch)?,
        None => None,
    };
    Ok(Ok(Found {
        case,
        outcome,
        document,
        band,
    }))
}

/// A case solved: outside why somebody stopped it, inside why it has no answer.
fn solved(case: &Case, watch: &dyn Watch) -> Result<Result<Outcome, String>, ProcessError> {
    let options = Options {
        fields: KeepFields::None,
        ..Options::default()
    };
    match run_watched(case, &options, watch) {
        Ok(outcome) => Ok(Ok(outcome)),
        Err(e) if matches!(e.reason, Reason::Stopped(_)) => Err(e),
        Err(e) => Ok(Err(format!("{}: {e}", e.at))),
    }
}

/// Least and largest roundness over the ends of a band of forces, and in the middle; `None` if it cannot be measured. An end that has no answer is told by the grip.
fn over_band(
    case: &Case,
    step: usize,
    spread: [f64; 2],
    nominal: &Outcome,
    watch: &dyn Watch,
) -> Result<Option<PerSurface<[f64; 2]>>, ProcessError> {
    let Some(found) = roundness(nominal, step) else {
        return Ok(None);
    };
    let mut ends = PerSurface::from_fn(|s| [*found.get(s); 2]);
    for factor in spread {
        let mut at_end = case.clone();
        at_end.steps[step].force_scale *= factor;
        let Ok(outcome) = solved(&at_end, watch)? else {
            continue;
        };
        let Some(found) = roundness(&outcome, step) else {
            return Ok(None);
        };
        for surface in Surface::BOTH {
            let end = ends.get_mut(surface);
            let r = *found.get(surface);
            *end = [end[0].min(r), end[1].max(r)];
        }
    }
    Ok(Some(ends))
}

fn roundness(outcome: &Outcome, step: usize) -> Option<PerSurface<f64>> {
    let released = &outcome.steps[step].released;
    let on = |s: Surface| {
        let zone = minimum_zone(&Profile::equal(released.get(s))).ok()?;
        Some(zone.circle.roundness)
    };
    Some(PerSurface {
        outer: on(Surface::Outer)?,
        bore: on(Surface::Bore)?,
    })
}
