//! What the blank may be off by with the jaws of the best point.

use rayon::prelude::*;

use super::drawing::gripped;
use super::search::{Search, SizeError};
use super::sheet::BlankDocument;
use super::task::{SizeTask, Spread};
use super::used::Limit;
use crate::case::Case;
use crate::geometry::Surface;
use crate::study::Typed;

/// How far off is tried first, mm on the diameter, how often that is doubled as long as every limit is met, and how often the last step
/// is halved. From 0.01 to 1.28 mm either way; bar and tube of the trade lie within that.
const FIRST: f64 = 0.01;
const DOUBLINGS: usize = 7;
const HALVINGS: usize = 4;

/// What the diameter may be off by of the surface that a hold grips; `None` where no key of the case gives it.
pub(super) fn borne(
    search: &Search,
    at: &[f64],
    case: &Case,
    surface: Surface,
) -> Result<Option<BlankDocument>, SizeError> {
    let Some((path, nominal, unit, diameter)) = key(search, case, surface) else {
        return Ok(None);
    };
    let mut spread: Vec<Spread> = search.task.spread.clone();
    spread.retain(|s| s.path != path);
    spread.push(Spread {
        path: path.clone(),
        // a millimetre, in the unit of the key
        by: nominal / diameter,
        unit,
        nominal,
    });
    let others = spread.len() - 1;
    let task = SizeTask {
        spread,
        ..search.task.clone()
    };
    let own = Search {
        task: &task,
        ..*search
    };
    let most = |off: f64| -> Result<(f64, Limit), SizeError> {
        let mut corners = Vec::new();
        for blank in [-off, off] {
            let with = |k: usize, x: f64| {
                let mut corner = vec![0.0; others + 1];
                corner[others] = blank;
                corner[k] = if k == others { blank } else { x };
                corner
            };
            corners.push(with(others, 0.0));
            corners.extend((0..others).flat_map(|k| [with(k, -1.0), with(k, 1.0)]));
        }
        let used = corners.par_iter().map(|corner| own.used(at, corner));
        let used = used.collect::<Result<Vec<_>, SizeError>>()?;
        let shares = used.into_iter().map(|used| match used {
            Ok(used) => used.most(),
            Err(_) => (f64::INFINITY, Limit::NoAnswer),
        });
        Ok(shares
            .max_by(|a, b| a.0.total_cmp(&b.0))
            .unwrap_or((0.0, Limit::Bound)))
    };
    let (mut good, mut bad) = (0.0, FIRST);
    let mut by = None;
    for _ in 0..=DOUBLINGS {
        let (share, limit) = most(bad)?;
        if share > 1.0 {
            by = Some(limit);
            break;
        }
        (good, bad) = (bad, 2.0 * bad);
    }
    if by.is_some() {
        for _ in 0..HALVINGS {
            let middle = 0.5 * (good + bad);
            let (share, limit) = most(middle)?;
            match share <= 1.0 {
                true => good = middle,
                false => (bad, by) = (middle, Some(limit)),
            }
        }
    }
    Ok(Some(BlankDocument {
        path,
        diameter,
        plus_minus: good,
        and_more: by.is_none(),
        limited_by: by.map(Limit::name),
    }))
}

/// The key that gives the diameter of the gripped surface: that of the stock, or of the last cut of an earlier step; with its value, its
/// unit and the diameter, mm.
fn key(search: &Search, case: &Case, surface: Surface) -> Option<(String, f64, String, f64)> {
    let (first, section) = gripped(case, &search.task.hold)?;
    let stock = match surface {
        Surface::Outer => "part.outer_diameter",
        Surface::Bore => "part.bore_diameter",
    };
    let cuts = case.steps[..first]
        .iter()
        .enumerate()
        .flat_map(|(k, step)| {
            let cuts = step.cuts.iter().enumerate();
            cuts.filter(|(_, cut)| cut.surface == surface && cut.is_whole(section.length))
                .map(move |(j, _)| format!("step[{k}].cut[{j}].diameter"))
        });
    let path = cuts.last().unwrap_or_else(|| stock.to_owned());
    let value = search.base.value(&path)?;
    let (nominal, unit) = value.quantity().map(|(x, unit)| (x, unit.to_owned()))?;
    let diameter = 2.0 * section.radius(surface);
    let is_free = search.task.free.iter().any(|f| f.path == path);
    (nominal > 0.0
        && !is_free
        && matches!(value, Typed::Whole(_) | Typed::Number(_) | Typed::Text(_)))
    .then_some((path, nominal, unit, diameter))
}
