//! `size.json`.

use std::collections::BTreeMap;

use serde::Serialize;

use super::search::Way;
use super::sheet::DrawingDocument;
use super::task::{Free, SizeTask};
use super::told::Sized;
use crate::report::document::{CaseName, UnitNames};
use crate::report::grip::CAUTIONS;
use crate::report::{Program, ReportError, json};

/// The whole document. Lengths mm; values of keys in the units that the case file has them in.
#[derive(Clone, Debug, Serialize)]
pub struct SizeDocument {
    /// Always `ringwright-size-1`.
    pub format: &'static str,
    /// What wrote it.
    pub program: Program,
    /// What was sized; the digest is that of the file.
    pub case: CaseName,
    /// Units of every number that is not the value of a key.
    pub units: UnitNames,
    /// The hold.
    pub hold: String,
    /// Whether a point was found that meets every limit over the spread, as far as they are known.
    pub feasible: bool,
    /// The point at which the limit that is used up most is used up least, by path.
    pub best: BTreeMap<String, f64>,
    /// Between which values every limit is met over the spread, by path, the others as at the best; null where none meets them.
    pub window: BTreeMap<String, Option<SideDocument>>,
    /// Largest roundness (minimum zone) at the best over the spread.
    pub roundness: f64,
    /// The same with everything as drawn.
    pub roundness_as_drawn: f64,
    /// What the hold takes of what the cuts ask at the best, at the unfavourable ends and the worst of the spread; null where that is not known.
    pub slip_safety: Option<f64>,
    /// Share of the limit that is used up most at the best, over the spread.
    pub used: f64,
    /// That limit.
    pub limited_by: &'static str,
    /// How roundness changes, one entry a free key and one a key that is spread.
    pub sensitivity: Vec<SensitivityDocument>,
    /// How far each key that is spread may be off with every limit met at the best, by path; four times what was given is the most that is tried.
    pub bears: BTreeMap<String, f64>,
    /// The jaws of the best point as a drawing has them, one entry a kind of jaw; empty where no point meets every limit.
    pub drawing: Vec<DrawingDocument>,
    /// How the best was looked for: `grid` (all points of one, up to three free keys) or `evolution strategy` (more).
    pub search: &'static str,
    /// Whether no neighbour of the best is better on the finest grid around it; a better point may lie elsewhere all the same.
    pub confirmed: bool,
    /// Cases that were solved.
    pub cases: usize,
    /// What has to be known.
    pub cautions: Vec<String>,
}

/// A window.
#[derive(Clone, Debug, Serialize)]
pub struct SideDocument {
    /// Least value.
    pub low: f64,
    /// Largest value.
    pub high: f64,
    /// What limits it, below and above: `roundness`, `slip`, `marking`, `yield`, `chuck`, `no answer` or `bound`.
    pub limited_by: [&'static str; 2],
}

/// How roundness changes with a key.
#[derive(Clone, Debug, Serialize)]
pub struct SensitivityDocument {
    /// Its path.
    pub path: String,
    /// mm for a unit of it, the larger of both sides: at a change of the contact's pattern they differ.
    pub roundness_per_unit: f64,
    /// What the spread of it costs, mm over what is left as drawn; null of a free key, and where it leaves no answer.
    pub cost: Option<f64>,
}

impl SizeDocument {
    /// The document of what was found.
    pub fn new(task: &SizeTask, sized: &Sized, case: CaseName, program: &Program) -> Self {
        let paths = || task.free.iter().map(|f| f.path.clone());
        let cost = |path: &str| {
            sized
                .cost
                .iter()
                .find(|(p, _)| p == path)
                .and_then(|(_, c)| *c)
        };
        let mut cautions = vec![CAUTIONS.to_owned()];
        if sized.worst.slip.is_none() {
            cautions.insert(0, "Slip was NOT CHECKED: friction or the cutting force is not known, so nothing here says that these jaws hold the part.".into());
        }
        if sized.worst.yields.is_none() {
            cautions.insert(
                0,
                "Yield and marks were not checked: the material has no yield strength.".into(),
            );
        }
        cautions.extend(task.free.iter().filter_map(of_band));
        if sized.way == Way::Evolution {
            cautions.push("Of more than three free keys not every combination is tried: a better point, or one that meets the limits where none was found, may have been missed.".into());
        }
        if !sized.confirmed {
            cautions.push("The search ended before the best was confirmed on the finest grid: narrow the bounds round it and size again.".into());
        }
        Self {
            format: "ringwright-size-1",
            program: program.clone(),
            case,
            units: UnitNames::OURS,
            hold: task.hold.clone(),
            feasible: sized.feasible,
            best: paths().zip(sized.best.iter().copied()).collect(),
            window: paths()
                .zip(&sized.window)
                .map(|(path, sides)| {
                    let sides = sides.map(|[low, high]| SideDocument {
                        low: low.at,
                        high: high.at,
                        limited_by: [low.by.name(), high.by.name()],
                    });
                    (path, sides)
                })
                .collect(),
            roundness: sized.worst.roundness,
            roundness_as_drawn: sized.nominal.roundness,
            slip_safety: sized.worst.safety,
            used: sized.most.0,
            limited_by: sized.most.1.name(),
            sensitivity: sized
                .sensitivity
                .iter()
                .map(|(path, slope)| SensitivityDocument {
                    path: path.clone(),
                    roundness_per_unit: *slope,
                    cost: cost(path),
                })
                .collect(),
            bears: sized.bears.iter().cloned().collect(),
            drawing: sized.drawing.clone(),
            search: sized.way.name(),
            confirmed: sized.confirmed,
            cases: sized.solved,
            cautions,
        }
    }

    /// The text of `size.json`.
    ///
    /// # Errors
    /// [`ReportError::Encode`] if the encoder fails; it has no reason to.
    pub fn to_json(&self) -> Result<String, ReportError> {
        json::to_text(self)
    }
}

/// What has to be known of a key that the case knows within a band.
fn of_band(free: &Free) -> Option<String> {
    let path = &free.path;
    match (free.band, &free.replaces) {
        (Some(share), _) => Some(format!(
            "{path} is known within a band: every value is tried with that of the case, {:.3} percent of it either way.",
            100.0 * share
        )),
        (_, Some(word)) => Some(format!(
            "{path} is \"{word}\" in the case and may stand for a band: what is told of it here is for exact numbers.",
        )),
        _ => None,
    }
}
