//! A tube along its length: surfaces unrolled as maps of deviation, and the wall in a plane through the axis with what presses on it.

mod map;
mod profile;

use super::bodies::bodies;
use super::sheet::{Font, Sheet, wrap};
use super::view::View;
use super::{COLUMN, MARGIN, WIDE};
use crate::case::{Case, Step};
use crate::geometry::Surface;
use crate::process::{Contact, GripAlong, Stage, StepOutcome, TubeOutcome, TubeState};
use crate::report::along;
use crate::report::document::StepDocument;
use crate::report::units::Units;
use map::Map;

/// What deviates by less is round, mm: a hundredth of a micrometre.
const ROUND: f64 = 1e-5;

/// What the views of a tube are drawn from.
pub(super) struct Tube<'a> {
    step: &'a StepOutcome,
    tube: &'a TubeOutcome,
    asked: &'a Step,
    /// The end that positions are counted from.
    origin: &'static str,
    held: &'a TubeState,
    released: &'a TubeState,
    /// The surface whose release is shown: that of the last cut, or the outside.
    shown: Surface,
    /// How it is held along its length, in sentences.
    words: Vec<String>,
    /// Whether forces are left out, as on a picture of a hold that is not safe.
    without_forces: bool,
}

/// A body and where along the part it presses.
struct Grip<'a> {
    contact: &'a Contact,
    along: &'a GripAlong,
    /// Its number on the drawing; empty for a sleeve.
    label: String,
}

impl Grip<'_> {
    /// What it is called on the drawing: `jaw A1`.
    fn name(&self) -> String {
        format!("{} {}", self.contact.called, self.label)
            .trim_end()
            .to_owned()
    }
}

impl<'a> Tube<'a> {
    /// `None` of a slice, and of a tube of which no state was kept.
    pub fn of(
        case: &'a Case,
        step: &'a StepOutcome,
        figures: &StepDocument,
        n: usize,
        units: Units,
    ) -> Option<Self> {
        let (tube, asked) = (step.tube.as_ref()?, case.steps.get(n)?);
        let kept = |stage: Stage| {
            let whole = |s: &&TubeState| s.stage == stage && s.z.len() > 1 && s.angles > 2;
            tube.states.iter().find(whole)
        };
        Some(Self {
            step,
            tube,
            asked,
            origin: along::origin(figures, figures.tube.as_ref()?),
            held: kept(Stage::Held)?,
            released: kept(Stage::Released)?,
            shown: step.cuts.last().map_or(Surface::Outer, |c| c.surface),
            words: along::held(figures, units),
            without_forces: false,
        })
    }

    /// The same, its forces left out if they are to be.
    pub fn without_forces(self, without_forces: bool) -> Self {
        Self {
            without_forces,
            ..self
        }
    }

    /// Draws the views below `top` and returns where they end.
    pub fn draw(&self, sheet: &mut Sheet, top: f64, view: View, units: Units) -> f64 {
        let mut y = top + 26.0;
        let font = Font::bold(17.0);
        y = sheet.lines(MARGIN, y, font, &["Along the length".to_owned()], 22.0);
        let font = Font::plain(15.0);
        for words in &self.words {
            let words = capital(words);
            y = sheet.lines(MARGIN, y, font, &wrap(&words, font, 0.9 * WIDE, 3), 21.0);
        }
        let held = Map::new(self, self.held, Surface::Outer, view, units);
        let released = Map::new(self, self.released, self.shown, view, units);
        let ends = [
            held.draw(sheet, (0.0, y), units),
            released.draw(sheet, (COLUMN, y), units),
        ];
        profile::draw(self, sheet, ends[0].max(ends[1]) + 12.0, units)
    }

    /// The views in words, for those who cannot see the drawing.
    pub fn describe(&self) -> String {
        self.words
            .iter()
            .map(|w| format!(" {}.", capital(w)))
            .collect()
    }

    /// What holds the end at the bottom of the maps and on the left of the wall.
    fn holder(&self) -> &'static str {
        match self.origin {
            "the headstock end" | "the tailstock end" => "headstock",
            _ => "chuck",
        }
    }

    /// How far along the drawing a position (mm) is, from 0 at the chuck to 1 at the other end.
    fn share(&self, z: f64) -> f64 {
        let share = z / self.tube.length;
        if self.tube.flipped {
            1.0 - share
        } else {
            share
        }
    }

    /// Bodies on a surface before the first cut.
    fn grips(&self, surface: Surface) -> impl Iterator<Item = Grip<'a>> {
        // numbers as everywhere on the drawing; constant loads stand after the bodies
        let labels = bodies(&self.step.held).into_iter().map(|b| b.label);
        let contacts = self.step.held.contacts.iter().zip(&self.tube.grips);
        contacts
            .zip(labels)
            .filter(move |((c, _), _)| c.surface == surface)
            .map(|((contact, along), label)| Grip {
                contact,
                along,
                label,
            })
    }

    /// Whole positions for ticks, mm: round ones in the drawing's own unit, with their labels.
    fn ticks(&self, units: Units) -> Vec<(f64, String)> {
        let unit = if units.inch {
            crate::report::units::MM_PER_INCH
        } else {
            1.0
        };
        let length = self.tube.length / unit;
        // from four to ten steps
        let mut step = super::scale::round_down(length / 4.0);
        if !step.is_finite() || step <= 0.0 {
            step = length;
        }
        let places = (-step.log10().floor()).max(0.0) as usize;
        let count = (length / step + 1e-9).floor() as usize;
        (0..=count)
            .map(|k| {
                let at = k as f64 * step;
                (at * unit, crate::report::units::fixed(at, places))
            })
            .collect()
    }
}

/// A sentence with a capital at its start.
fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or(String::new(), |first| {
        first.to_uppercase().chain(letters).collect()
    })
}
