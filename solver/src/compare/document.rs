//! `compare.json`: the holds of a case side by side.

use serde::Serialize;

use super::{Compared, Found, Row};
use crate::geometry::{PerSurface, Surface};
use crate::report::document::{CaseName, UnitNames, WindowDocument};
use crate::report::grip::CAUTIONS;
use crate::report::{Program, ReportError, json};

/// The whole document. Lengths mm, forces N, stresses MPa, angles degrees.
#[derive(Clone, Debug, Serialize)]
pub struct CompareDocument {
    /// Always `ringwright-compare-1`.
    pub format: &'static str,
    /// What wrote it.
    pub program: Program,
    /// What was solved; the digest is that of the file.
    pub case: CaseName,
    /// Units of every number.
    pub units: UnitNames,
    /// The step whose cuts were made under every hold, from 1.
    pub step: usize,
    /// One entry a hold, the best first.
    pub rows: Vec<CompareRow>,
    /// What has to be known of all of them.
    pub cautions: Vec<String>,
}

/// A hold.
#[derive(Clone, Debug, Serialize)]
pub struct CompareRow {
    /// Its name in the file.
    pub hold: String,
    /// From 1, by tolerance, then by safety, then by how much of the tolerance is used up; null without an answer.
    pub rank: Option<usize>,
    /// Minimum zone after release; null without an answer.
    pub released_roundness: Option<PerSurface<f64>>,
    /// Estimated error of it.
    pub error: Option<PerSurface<f64>>,
    /// Least and largest over the band that the forces are known within; null of forces that are known.
    pub band: Option<PerSurface<[f64; 2]>>,
    /// How the surface that is cut reads on the gauge that the case names; null without one.
    pub gauge: Option<ComparedGauge>,
    /// As in `result.json`.
    pub in_tolerance: Option<bool>,
    /// As in `result.json`.
    pub safe: Option<bool>,
    /// What the hold takes of what the cut asks, at the unfavourable end of what is known.
    pub slip_safety: Option<f64>,
    /// The same at the favourable end.
    pub slip_safety_high: Option<f64>,
    /// As in `result.json`.
    pub force_window: Option<WindowDocument>,
    /// Largest pressure of contact.
    pub marking_pressure: Option<f64>,
    /// What counts as a mark.
    pub marking_limit: Option<f64>,
    /// Largest stress over yield strength; null where that is not known.
    pub stress_over_yield: Option<f64>,
    /// The verdict in words; of a hold without an answer, why.
    pub says: Vec<String>,
    /// What has to be known of this one.
    pub cautions: Vec<String>,
}

/// A reading on the gauge of the case.
#[derive(Clone, Debug, Serialize)]
pub struct ComparedGauge {
    /// The surface that is read.
    pub surface: Surface,
    /// The gauge.
    pub gauge: String,
    /// Full movement of its indicator in one turn after release, mm.
    pub range: f64,
}

impl CompareDocument {
    /// The document of what was compared.
    pub fn new(compared: &Compared, case: CaseName, program: &Program) -> Self {
        let step = compared.step;
        let rows = compared.rows.iter().enumerate();
        Self {
            format: "ringwright-compare-1",
            program: program.clone(),
            case,
            units: UnitNames::OURS,
            step: step + 1,
            rows: rows.map(|(k, row)| CompareRow::of(row, k, step)).collect(),
            cautions: vec![CAUTIONS.into()],
        }
    }

    /// The text of `compare.json`.
    ///
    /// # Errors
    /// [`ReportError::Encode`] if the encoder fails; it has no reason to.
    pub fn to_json(&self) -> Result<String, ReportError> {
        json::to_text(self)
    }
}

impl CompareRow {
    fn of(row: &Row, index: usize, step: usize) -> Self {
        match &row.found {
            Ok(found) => Self::found(&row.hold, found, index, step),
            Err(why) => Self {
                hold: row.hold.clone(),
                rank: None,
                released_roundness: None,
                error: None,
                band: None,
                gauge: None,
                in_tolerance: None,
                safe: None,
                slip_safety: None,
                slip_safety_high: None,
                force_window: None,
                marking_pressure: None,
                marking_limit: None,
                stress_over_yield: None,
                says: vec![format!("No answer: {why}")],
                cautions: Vec::new(),
            },
        }
    }

    fn found(hold: &str, found: &Found, index: usize, step: usize) -> Self {
        let document = &found.document;
        let told = &document.steps[step];
        let shape = |s: Surface| told.released_shape(s);
        let roundness = PerSurface::from_fn(|s| shape(s).roundness_minimum_zone);
        let error = |s: Surface| shape(s).error.map(|e| e.roundness);
        let both = error(Surface::Outer).zip(error(Surface::Bore));
        let worst = document.verdict.worst_stress;
        let margin = worst.and_then(|w| w.stress.yield_margin);
        let grip = &told.grip;
        Self {
            hold: hold.to_owned(),
            rank: Some(index + 1),
            released_roundness: Some(roundness),
            error: both.map(|(outer, bore)| PerSurface { outer, bore }),
            band: found.band.clone(),
            gauge: gauge(found, step),
            in_tolerance: document.verdict.in_tolerance,
            safe: document.verdict.safe,
            slip_safety: grip.slip_safety,
            slip_safety_high: grip.slip_safety_high,
            force_window: grip.force_window.clone(),
            marking_pressure: grip.marking_pressure,
            marking_limit: grip.marking_limit,
            stress_over_yield: margin.map(|m| 1.0 / (1.0 + m)),
            says: document.verdict.says.clone(),
            cautions: document
                .cautions
                .iter()
                .filter(|c| *c != CAUTIONS)
                .cloned()
                .collect(),
        }
    }
}

/// What the gauge of the case reads on the surface that the step cuts last.
fn gauge(found: &Found, step: usize) -> Option<ComparedGauge> {
    let gauge = found.case.inspection.gauge?;
    let told = &found.document.steps[step];
    let surface = told.cuts.last()?.surface;
    let read = told.gauges.released.get(surface);
    let reading = read.readings.iter().find(|r| r.kind == gauge)?;
    Some(ComparedGauge {
        surface,
        gauge: gauge.to_string(),
        range: reading.range?,
    })
}
