//! What is wrong with a case that can be seen without solving it: the same checks for a case made in code and for one read from a file.
//! Places are key paths, `step[0].cut[0].diameter`; who reads a file finds the lines to them.

pub(super) mod grip;
pub(super) mod hold;
pub(super) mod metal;
mod overlap;
pub(super) mod part;
pub(super) mod range;
pub(super) mod restraint;
pub(super) mod step;
pub(super) mod tolerance;
pub(super) mod tube;
pub(super) mod values;

use super::most::MOST_TITLE;
use super::problem::{Problem, ProblemKind, shown, steers};
use super::quantity::{Dimension, INCH_MM, UnitSystem};
use super::{
    Case, Chuck, FixedMesh, Hold, Inspection, Part, SectionThickness, Step, Tolerance, Tube,
};
use crate::scheme::Bounds;

/// Accuracy of a case that asks for none.
pub(super) const ACCURACY: f64 = 0.01;
/// The finest and the coarsest accuracy that may be asked. Finer than that the rounding of thin walls, which grows with the mesh,
/// is larger than the mesh error.
pub(super) const ACCURACIES: Bounds = Bounds {
    least: 1e-6,
    above: false,
    most: 0.5,
};
/// Least and most elements round.
pub(super) const AROUND: [u64; 2] = [12, 200_000];
/// Least and most elements through the wall.
pub(super) const THROUGH: [u64; 2] = [1, 1000];
/// Memory that a run takes for each element of a fixed mesh, bytes, the four times finer mesh of the estimate in it. Measured on a
/// lobed ring (its factor is the sparse one) in three jaws: 13,800 at 2880x16 and at 5760x16, 12,700 at 2880x8; a round ring takes
/// half. Rounded up, for more bodies and the sparse factor's slow growth.
const BYTES_AN_ELEMENT: u64 = 20_000;
/// The most memory that a fixed mesh may ask for, bytes: what a shop's computer with 16 GB has to spare. Twice this would drive such
/// a machine into its swap, half would refuse meshes that it holds.
const MOST_BYTES: u64 = 8_000_000_000;
/// The most elements of a fixed mesh: beyond, a run would end with memory.
pub(super) const MOST_ELEMENTS: u64 = MOST_BYTES / BYTES_AN_ELEMENT;

/// Cut-offs of the filter: above the eccentricity, and no more lobes than 3600 points hold.
pub(super) const FILTER_UPR: [f64; 2] = [1.0, 1800.0];
/// Temperatures of a room where somebody measures, deg C.
pub(super) const TEMPERATURES: [f64; 2] = [-50.0, 100.0];

/// Taken for granted of an inspection that does not say how the part stands.
pub(super) const LYING: &str = "measured lying on its face (no support given)";
/// Taken for granted of stock without a residual stress.
pub(super) const NO_RESIDUAL: &str = "no residual stress";
/// Said of a measuring force without a gauge.
pub(super) const NO_GAUGE: &str =
    "which gauge presses with it? give gauge = { kind = \"two-point\" } or another kind";

/// What to say of more things in a list than a case may have.
pub(super) fn too_many(count: usize, most: usize, what: &str) -> Option<String> {
    (count > most).then(|| format!("{count} {what}; {most} are the most"))
}

/// The title on one line, without what could steer a terminal or spoil a picture.
pub(super) fn title(findings: &mut Findings, text: &str) -> String {
    let long = text.chars().count();
    if long > MOST_TITLE {
        let message = format!("has {long} characters; {MOST_TITLE} are the most");
        findings.wrong("title", message);
    }
    text.chars()
        .take(MOST_TITLE)
        .map(|c| if steers(c) { ' ' } else { c })
        .collect()
}

/// One thing wrong with a case.
pub(super) struct Finding {
    /// The key at fault.
    pub path: String,
    /// Whether the key itself is at fault, and not its value.
    pub on_key: bool,
    pub message: String,
    pub kind: ProblemKind,
}

/// What is wrong with a case, as far as it is known.
#[derive(Default)]
pub(super) struct Findings {
    /// Units in which lengths and stresses are told first.
    pub system: UnitSystem,
    pub list: Vec<Finding>,
}

impl Findings {
    /// Notes that a value is wrong.
    pub fn wrong(&mut self, path: impl Into<String>, message: impl Into<String>) {
        self.note(ProblemKind::Input, path, message);
    }

    /// Notes that a key is wrong.
    pub fn wrong_key(&mut self, path: impl Into<String>, message: impl Into<String>) {
        self.wrong(path, message);
        if let Some(last) = self.list.last_mut() {
            last.on_key = true;
        }
    }

    /// Notes what is wrong with a value, of a kind.
    pub fn note(&mut self, kind: ProblemKind, path: impl Into<String>, message: impl Into<String>) {
        self.list.push(Finding {
            path: path.into(),
            on_key: false,
            message: message.into(),
            kind,
        });
    }

    /// A length in words, the case's unit first.
    pub fn length(&self, mm: f64) -> String {
        match self.system {
            UnitSystem::Millimetre => format!("{mm:.3} mm"),
            UnitSystem::Inch => format!("{:.4} in ({mm:.3} mm)", mm / INCH_MM),
        }
    }

    /// A stress in words, in the case's unit.
    pub fn stress(&self, mpa: f64) -> String {
        let unit = match self.system {
            UnitSystem::Millimetre => "MPa",
            UnitSystem::Inch => "psi",
        };
        format!("{} {unit}", self.plain_stress(mpa))
    }

    /// A stress as a plain number in the case's unit.
    pub fn plain_stress(&self, mpa: f64) -> String {
        let value = mpa / self.system.factor(Dimension::Stress);
        // six figures are more than anybody types
        let digits = (5.0 - value.abs().max(1e-9).log10().floor()).clamp(0.0, 9.0) as i32;
        let scale = 10_f64.powi(digits);
        format!("{}", (value * scale).round() / scale)
    }

    /// The problems of a case that has no file.
    pub fn into_problems(self) -> Vec<Problem> {
        let unplaced = |f: Finding| Problem {
            line: 0,
            column: 0,
            field: f.path,
            message: f.message,
            kind: f.kind,
        };
        self.list.into_iter().map(unplaced).collect()
    }
}

/// Path of a key in a table; a key that could not be typed as it is stands in quotes.
pub(super) fn key_path(table: &str, key: &str) -> String {
    let key = &shown(key);
    let plain = !key.is_empty()
        && key
            .bytes()
            .all(|b| b.is_ascii_alphanumeric() || b == b'-' || b == b'_');
    let key = if plain {
        key.clone()
    } else {
        format!("{key:?}")
    };
    if table.is_empty() {
        key
    } else {
        format!("{table}.{key}")
    }
}

/// An accuracy that is no finer than can be told from rounding.
pub(super) fn accuracy(findings: &mut Findings, accuracy: f64) -> Option<f64> {
    let least = ACCURACIES.least;
    if accuracy < least {
        let message = format!(
            "is finer than {least}, the least that can be told from rounding; {ACCURACY} or 0.001 will do for any ring"
        );
        findings.wrong("accuracy", message);
        return None;
    }
    Some(accuracy)
}

/// A fixed mesh that a run has the memory for.
pub(super) fn mesh(findings: &mut Findings, mesh: FixedMesh) -> Option<FixedMesh> {
    let FixedMesh { around, through } = mesh;
    let elements = (around * through) as u64;
    if elements > MOST_ELEMENTS {
        let gigabytes = |elements: u64| (elements * BYTES_AN_ELEMENT) as f64 / 1e9;
        findings.note(
            ProblemKind::TooLarge,
            "mesh",
            format!(
                "asks for {elements} elements ({around} x {through}), which would take about {:.0} GB of memory; {MOST_ELEMENTS} \
                 elements ({:.0} GB) are the most: give fewer, or leave [mesh] out and the mesh is made fine where it matters",
                gigabytes(elements),
                gigabytes(MOST_ELEMENTS)
            ),
        );
        return None;
    }
    Some(mesh)
}

/// The parts of a case, each checked by itself, with what was taken for granted.
pub(super) struct Parts {
    pub title: String,
    /// `None` if it is wrong.
    pub accuracy: Option<f64>,
    /// Whether the case asks for an accuracy.
    pub asks_accuracy: bool,
    pub part: Option<Part>,
    pub mesh: Option<FixedMesh>,
    pub tube: Option<Tube>,
    /// How thick the slice is; `None` if it is wrong.
    pub section_thickness: Option<SectionThickness>,
    pub chuck: Chuck,
    /// Whether the case has `[tube]`, right or wrong.
    pub is_tube: bool,
    pub holds: Vec<Hold>,
    /// Choices left to the defaults, one list a hold.
    pub defaults: Vec<Vec<String>>,
    pub steps: Vec<Step>,
    pub tolerance: Tolerance,
    pub inspection: Inspection,
    /// What was taken for granted of the part, and of the inspection.
    pub assumed: [Vec<String>; 2],
}

impl Parts {
    /// The case, every hold checked on each section that it meets. `None` if a part of it is missing.
    pub fn together(self, findings: &mut Findings) -> Option<Case> {
        let [mut assumed, of_inspection] = self.assumed;
        let whole = Some(SectionThickness::WholeLength);
        if self.is_tube && self.section_thickness != whole {
            findings.wrong(
                "part.section_thickness",
                "with [tube] the part is solved along its length, and no slice stands for it; leave this out",
            );
        }
        if self.is_tube {
            let (part, mesh) = (self.part.as_ref(), self.mesh.as_ref());
            tube::case_goes(findings, part, mesh, &self.inspection);
        }
        let plain = Tube::default();
        let tube = self.tube.as_ref().or(self.is_tube.then_some(&plain));
        if let Some(part) = &self.part {
            let holds = self.holds.iter().zip(&self.defaults);
            assumed.extend(hold::on_every_section(
                findings,
                (part.section(), tube),
                holds,
                &self.steps,
            ));
        }
        let mut cuts = self.steps.iter().flat_map(|s| &s.cuts);
        if cuts.any(|c| c.radial_force == 0.0 && c.tool.feed.is_none()) {
            assumed.push("no tool force".into());
        }
        let mut cuts = self.steps.iter().flat_map(|s| &s.cuts);
        if cuts.any(|c| c.tool.feed.is_some() && c.tool.entering_angle.is_none()) {
            assumed.push("cutting edge square to the feed (no entering_angle given)".into());
        }
        assumed.extend(of_inspection);
        if !self.asks_accuracy && self.mesh.is_none() {
            assumed.push(format!("accuracy {ACCURACY} (default)"));
        }
        let mut seen: Vec<String> = Vec::new();
        assumed.retain(|a| {
            let new = !seen.contains(a);
            if new {
                seen.push(a.clone());
            }
            new
        });
        let case = Case {
            title: self.title,
            accuracy: self.accuracy?,
            tolerance: self.tolerance,
            inspection: self.inspection,
            part: self.part?,
            holds: self.holds,
            steps: self.steps,
            mesh: self.mesh,
            tube: self.tube,
            section_thickness: self.section_thickness?,
            chuck: self.chuck,
            assumed,
        };
        restraint::feed_has_depth(findings, &case);
        Some(case)
    }
}
