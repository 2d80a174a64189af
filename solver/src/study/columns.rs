//! The figures of a row, and what a table calls them.

use std::fmt;

use crate::case::Case;
use crate::geometry::Surface;
use crate::judge::{Judgement, Limit, judge_limits};
use crate::metrology::{Circle, MetrologyError, Profile, harmonics};
use crate::process::{Contact, HeldAlone, Outcome, Radii, circles};
use crate::report::{Units, caution_of_hold};

/// Fewest and most lobes that a row tells of.
const LOBES: [u32; 2] = [2, 12];

/// A figure of a table.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Column {
    /// Its name, with the unit.
    pub name: &'static str,
    /// What it holds.
    pub kind: Kind,
}

/// What a column holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Numbers.
    Number,
    /// True or false.
    Flag,
    /// Text.
    Text,
}

/// A figure of a row; one that is not known is left empty.
#[derive(Clone, Debug, PartialEq)]
pub enum Cell {
    /// Not known.
    Empty,
    /// A number.
    Number(f64),
    /// True or false.
    Flag(bool),
    /// Text.
    Text(String),
}

impl From<Option<f64>> for Cell {
    fn from(x: Option<f64>) -> Self {
        x.filter(|x| x.is_finite())
            .map_or(Cell::Empty, Cell::Number)
    }
}

impl From<Option<bool>> for Cell {
    fn from(flag: Option<bool>) -> Self {
        flag.map_or(Cell::Empty, Cell::Flag)
    }
}

impl fmt::Display for Cell {
    /// As it stands in a CSV file: ten digits of a number, more than any is good for.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Cell::Empty => Ok(()),
            Cell::Number(x) => {
                let rounded: f64 = format!("{x:.9e}").parse().unwrap_or(*x);
                write!(f, "{}", rounded + 0.0)
            }
            Cell::Flag(flag) => write!(f, "{flag}"),
            Cell::Text(text) => f.write_str(text),
        }
    }
}

macro_rules! columns {
    ($($name:literal $kind:ident),* $(,)?) => {
        /// Figures of a row, in their order.
        pub const FIGURES: &[Column] = &[$(Column { name: $name, kind: Kind::$kind }),*];
    };
}

columns![
    "held_roundness_outer_mm" Number, "held_roundness_bore_mm" Number,
    "released_roundness_outer_mm" Number, "released_roundness_bore_mm" Number,
    "yield_margin" Number, "slip_safety" Number, "estimate_relative_error" Number,
    "in_tolerance" Flag, "safe" Flag, "tolerance_used" Number,
    "average_diameter_outer_mm" Number, "average_diameter_bore_mm" Number,
    "outer_2_lobes_mm" Number, "outer_2_lobes_deg" Number, "outer_3_lobes_mm" Number, "outer_3_lobes_deg" Number,
    "outer_4_lobes_mm" Number, "outer_4_lobes_deg" Number, "outer_5_lobes_mm" Number, "outer_5_lobes_deg" Number,
    "outer_6_lobes_mm" Number, "outer_6_lobes_deg" Number, "outer_7_lobes_mm" Number, "outer_7_lobes_deg" Number,
    "outer_8_lobes_mm" Number, "outer_8_lobes_deg" Number, "outer_9_lobes_mm" Number, "outer_9_lobes_deg" Number,
    "outer_10_lobes_mm" Number, "outer_10_lobes_deg" Number, "outer_11_lobes_mm" Number, "outer_11_lobes_deg" Number,
    "outer_12_lobes_mm" Number, "outer_12_lobes_deg" Number,
    "bore_2_lobes_mm" Number, "bore_2_lobes_deg" Number, "bore_3_lobes_mm" Number, "bore_3_lobes_deg" Number,
    "bore_4_lobes_mm" Number, "bore_4_lobes_deg" Number, "bore_5_lobes_mm" Number, "bore_5_lobes_deg" Number,
    "bore_6_lobes_mm" Number, "bore_6_lobes_deg" Number, "bore_7_lobes_mm" Number, "bore_7_lobes_deg" Number,
    "bore_8_lobes_mm" Number, "bore_8_lobes_deg" Number, "bore_9_lobes_mm" Number, "bore_9_lobes_deg" Number,
    "bore_10_lobes_mm" Number, "bore_10_lobes_deg" Number, "bore_11_lobes_mm" Number, "bore_11_lobes_deg" Number,
    "bore_12_lobes_mm" Number, "bore_12_lobes_deg" Number,
    "contacts" Text, "cautions" Text,
];

/// Lobes smaller than this, mm, or than this share of the largest are rounding and have no direction.
const NO_LOBES: f64 = 1e-7;
const NO_SHARE: f64 = 1e-5;

/// What a row tells.
struct Told<'a> {
    /// Shape held and released in the last step.
    held: &'a Radii,
    held_circles: [Circle; 2],
    released: &'a Radii,
    /// Whether lobes are of what is released; else of what is held.
    cut: bool,
    yield_margin: Option<f64>,
    slip_safety: Option<f64>,
    relative_error: Option<f64>,
    judgement: Option<&'a Judgement>,
    contacts: &'a [Contact],
    cautions: Vec<String>,
}

/// The figures of a part that is held and not cut, in the order of [`FIGURES`].
pub fn figures_held(held: &HeldAlone) -> Vec<Cell> {
    let told = Told {
        held: &held.held,
        held_circles: held.circles,
        released: &held.stock,
        cut: false,
        yield_margin: None,
        slip_safety: None,
        relative_error: held.estimate.relative_error,
        judgement: None,
        contacts: &held.contacts,
        cautions: held.cautions.iter().map(ToString::to_string).collect(),
    };
    told.cells()
}

/// The figures of a solved case, in the order of [`FIGURES`]; those of shapes are of the last step. Lobes are of what is released, in a step without cuts of what is held.
///
/// # Errors
/// [`MetrologyError`] if a surface cannot be measured.
pub fn figures(case: &Case, outcome: &Outcome) -> Result<Vec<Cell>, MetrologyError> {
    let Some(last) = outcome.steps.last() else {
        return Ok(vec![Cell::Empty; FIGURES.len()]);
    };
    let estimates = outcome.steps.iter().map(|s| s.estimate.relative_error);
    let error = estimates
        .collect::<Option<Vec<f64>>>()
        .map(|all| all.into_iter().fold(0.0, f64::max));
    let slip = outcome
        .steps
        .iter()
        .filter(|s| !s.cuts.is_empty())
        .map(|s| s.grip.safety.map(|s| s[0]));
    let slip = slip.collect::<Option<Vec<f64>>>();
    let judgement = match outcome.steps.iter().any(|s| !s.cuts.is_empty()) {
        true => Some(judge_limits(case, outcome)?),
        false => None,
    };
    let mut cautions: Vec<String> = outcome.cautions.iter().map(ToString::to_string).collect();
    let holds = judgement.iter().flat_map(|j| &j.holds);
    cautions.extend(holds.map(|c| caution_of_hold(c, Units::default())));
    let told = Told {
        held: &last.held.shape,
        held_circles: circles(&last.held.shape),
        released: &last.released,
        cut: !last.cuts.is_empty(),
        yield_margin: yield_margin(outcome),
        slip_safety: slip.and_then(|all| all.into_iter().reduce(f64::min)),
        relative_error: error,
        judgement: judgement.as_ref(),
        contacts: &last.held.contacts,
        cautions,
    };
    Ok(told.cells())
}

impl Told<'_> {
    fn cells(&self) -> Vec<Cell> {
        let held = &self.held_circles;
        let released = circles(self.released);
        let used = self.judgement.and_then(|j| {
            let shares = j.limits.iter().map(Limit::used);
            shares.reduce(f64::max)
        });
        let mut cells = Vec::with_capacity(FIGURES.len());
        cells.extend([
            Some(held[0].roundness).into(),
            Some(held[1].roundness).into(),
            Some(released[0].roundness).into(),
            Some(released[1].roundness).into(),
            self.yield_margin.into(),
            self.slip_safety.into(),
            self.relative_error.into(),
            self.judgement.and_then(|j| j.in_tolerance).into(),
            self.judgement.and_then(|j| j.safe).into(),
            used.into(),
            Some(2.0 * released[0].radius).into(),
            Some(2.0 * released[1].radius).into(),
        ]);
        let (shape, circles) = match self.cut {
            true => (self.released, &released),
            false => (self.held, held),
        };
        for (surface, circle) in Surface::BOTH.into_iter().zip(circles) {
            let profile = Profile::equal(shape.get(surface));
            let all = harmonics(&profile, circle.centre, LOBES[1]);
            let of = || all.iter().filter(|h| h.count >= LOBES[0]);
            let largest = of().map(|h| h.amplitude).fold(0.0, f64::max);
            for lobes in of() {
                let sure = lobes.amplitude > NO_LOBES.max(NO_SHARE * largest);
                cells.push(Some(if sure { lobes.amplitude } else { 0.0 }).into());
                cells.push(sure.then_some(lobes.angle_deg).into());
            }
        }
        cells.push(Cell::Text(contacts(self.contacts)));
        cells.push(match self.cautions.is_empty() {
            true => Cell::Empty,
            false => Cell::Text(self.cautions.join("; ")),
        });
        cells
    }
}

/// The least margin to yield of any state of any step; `None` without a yield strength.
fn yield_margin(outcome: &Outcome) -> Option<f64> {
    let states = outcome.steps.iter().flat_map(|s| {
        let held = [
            Some(&s.held.stress),
            s.held_at_speed.as_ref().map(|h| &h.stress),
        ];
        held.into_iter().flatten().chain(s.stress_after_cuts())
    });
    states.filter_map(|s| s.yield_margin).reduce(f64::min)
}

/// Between which part angles each body touches, degrees: `1[-3.30 3.30] 2[116.70 123.30] 3[]`.
fn contacts(contacts: &[Contact]) -> String {
    let body = |(k, contact): (usize, &Contact)| {
        let arcs: Vec<String> = contact
            .arcs
            .iter()
            .map(|[a, b]| format!("{a:.2} {b:.2}"))
            .collect();
        format!("{}[{}]", k + 1, arcs.join(", "))
    };
    let all: Vec<String> = contacts.iter().enumerate().map(body).collect();
    all.join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_are_as_long_as_they_are_good() {
        for (cell, text) in [
            (Cell::Number(0.1 + 0.2), "0.3"),
            (Cell::Number(-0.0), "0"),
            (Cell::Number(1.234_567_890_123e-5), "0.00001234567890"),
            (Cell::Flag(true), "true"),
            (Cell::Empty, ""),
        ] {
            let shown = cell.to_string();
            assert!(text.starts_with(&shown) || shown == text, "{shown} {text}");
        }
        let names: std::collections::BTreeSet<&str> = FIGURES.iter().map(|c| c.name).collect();
        assert_eq!(names.len(), FIGURES.len());
    }
}
