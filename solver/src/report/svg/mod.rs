//! `shape.svg`: the shapes that each step leaves as polar plots and unrolled, one column a surface, one block a step, for screen and
//! paper.
//!
//! Lines and marks differ by dash and shape as well as by colour (the colours are two of Okabe and Ito's colour-blind-safe set,
//! <https://jfly.uni-koeln.de/color/>), so a black-and-white print can be read too. Roundness is the minimum zone throughout: deviations
//! are told from the circle midway between its two. The text is written by hand: a plotting crate would round the lobes to whole pixels.

mod bodies;
mod caption;
mod compared;
mod curves;
mod heat;
mod marks;
mod polar;
mod scale;
mod shapes;
mod sheet;
mod stress;
mod tube;
mod unrolled;
mod view;

use std::fmt::Write;

use super::ReportError;
use super::along;
use super::document::{ResultDocument, StepDocument};
use super::units::{Units, angle_within};
use crate::case::Case;
use crate::geometry::Surface;
use crate::process::{Outcome, StepOutcome};
pub use compared::{Panel, compared};
use curves::{Curves, Limit};
pub use heat::{Heat, heat};
use polar::Plot;
use scale::Scale;
use sheet::{Anchor, Font, Sheet, escape, wrap};
use stress::Yielding;
use tube::Tube;
use view::View;

const WIDTH: f64 = 1280.0;
const COLUMN: f64 = 640.0;
/// From the edge of the page to its text.
const MARGIN: f64 = 30.0;
/// Room for text across the page.
const WIDE: f64 = WIDTH - 2.0 * MARGIN;

const HELD: &str = "#d55e00";
const RELEASED: &str = "#0072b2";
const LIMIT: &str = "#444444";
const LOW_SPOT_COLOUR: &str = "#8a8a8a";
const LOW_SPOT: &str = "stroke=\"#8a8a8a\" stroke-width=\"6\"";
const GRID: &str = "#dcdcdc";

/// The drawing as a whole SVG document.
///
/// # Errors
/// [`ReportError::NotFinite`] if there is no step to draw.
pub fn shape(
    case: &Case,
    outcome: &Outcome,
    document: &ResultDocument,
) -> Result<String, ReportError> {
    if outcome.steps.is_empty() {
        return Err(ReportError::NotFinite {
            what: "a drawing without a step".into(),
        });
    }
    let title = if case.title.is_empty() {
        "Ring"
    } else {
        &case.title
    };
    let units = document.shown;
    let mut sheet = Sheet::new();
    let font = Font::bold(24.0);
    let mut y = 42.0;
    for headline in &document.verdict.headlines {
        y = sheet.lines(MARGIN, y, font, &wrap(headline, font, WIDE, 1), 30.0);
    }
    y = sheet.lines(MARGIN, y, font, &wrap(title, font, WIDE, 3), 30.0);
    let note = "Computed shape of the section, unfiltered. Roundness is the minimum zone; the dashed circle is midway between its two circles.";
    let font = Font::plain(15.0);
    y = sheet.lines(MARGIN, y, font, &wrap(note, font, WIDE, 2), 21.0);
    let mut about = String::new();
    for n in 0..outcome.steps.len() {
        let Some(block) = Block::new(case, outcome, document, n) else {
            continue;
        };
        y = block.draw(&mut sheet, y + 18.0, units) + 20.0;
        block.describe(&mut about, units);
    }
    y = footer(&mut sheet, y, document);
    Ok(page(title, &about, y, &sheet.into_text()))
}

/// The whole file round what was drawn.
fn page(title: &str, about: &str, height: f64, drawn: &str) -> String {
    format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDTH:.0} {height:.0}\" \
         width=\"{WIDTH:.0}\" height=\"{height:.0}\" role=\"img\" aria-labelledby=\"shape-title shape-desc\" \
         font-family=\"Helvetica, Arial, 'DejaVu Sans', sans-serif\">\n\
         <title id=\"shape-title\">{}</title>\n<desc id=\"shape-desc\">{}</desc>\n\
         <rect width=\"{WIDTH:.0}\" height=\"{height:.0}\" fill=\"#ffffff\"/>\n{drawn}</svg>\n",
        escape(title),
        escape(about.trim())
    )
}

/// One step of the drawing.
struct Block<'a> {
    step: &'a StepOutcome,
    /// `Step 1, hold "bare"`.
    heading: String,
    /// Surfaces that the step cuts.
    cut: Vec<Surface>,
    columns: [Curves; 2],
    tube: Option<Tube<'a>>,
}

impl<'a> Block<'a> {
    fn new(
        case: &'a Case,
        outcome: &'a Outcome,
        document: &ResultDocument,
        n: usize,
    ) -> Option<Self> {
        let (step, figures): (&StepOutcome, &StepDocument) =
            (outcome.steps.get(n)?, document.steps.get(n)?);
        let of = outcome.steps.len();
        let many = if of > 1 {
            format!(" of {of}")
        } else {
            String::new()
        };
        let at = along::section(figures, document.shown)
            .map_or(String::new(), |at| format!(": section {at}"));
        let cut = figures.surfaces_cut();
        // what is cut stands first
        let order = if cut.first() == Some(&Surface::Bore) {
            [Surface::Bore, Surface::Outer]
        } else {
            [Surface::Outer, Surface::Bore]
        };
        let yielding = Yielding::of(case, figures, document.shown);
        let columns = order.map(|s| {
            // limits are for the finished part: shown with the step that leaves it, and with the one that cut the surface last
            let at_fault = case.last_to_cut(s) == Some(n);
            let limit = Limit::of(case, document, s).filter(|_| n + 1 == of || at_fault);
            Curves::new(s, step, figures, limit, yielding.as_ref())
        });
        Some(Self {
            step,
            heading: format!("Step {}{many}, hold \"{}\"{at}", n + 1, figures.hold),
            cut,
            columns,
            tube: Tube::of(case, step, figures, n, document.shown)
                .map(|t| t.without_forces(!document.verdict.headlines.is_empty())),
        })
    }

    /// Draws the step below `top` and returns where it ends.
    fn draw(&self, sheet: &mut Sheet, top: f64, units: Units) -> f64 {
        let scales = [0, 1].map(|k| Scale::choose(&self.columns[k], units));
        let view = View::new(&self.step.placing);
        let plates = self.step.held.axial_force > 0.0;
        let bodies = bodies::bodies(&self.step.held);
        sheet.put(format_args!(
            "<path d=\"M{MARGIN} {top:.1}h{WIDE}\" stroke=\"{GRID}\" stroke-width=\"2\"/>"
        ));
        let bold = Font::bold(19.0);
        let mut y = top + 28.0;
        y = sheet.lines(MARGIN, y, bold, &wrap(&self.heading, bold, WIDE, 1), 24.0);
        let plain = Font::plain(15.0);
        for words in [view.words(), bodies::words(&bodies, plates)] {
            y = sheet.lines(MARGIN, y, plain, &wrap(&words, plain, WIDE, 3), 21.0);
        }
        let reach = polar::reach(&bodies, plates);
        let (heading, centre) = (y + 12.0, y + 20.0 + reach);
        let mut bottom = centre + reach;
        for (k, (curves, scale)) in self.columns.iter().zip(&scales).enumerate() {
            let left = COLUMN * k as f64;
            let words = self.column_heading(curves.surface);
            sheet.text(
                left + MARGIN,
                heading,
                Anchor::Start,
                Font::bold(17.0),
                &words,
            );
            let plot = Plot {
                x: left + 0.5 * COLUMN,
                y: centre,
                scale,
                view,
            };
            polar::draw(sheet, &plot, curves, &bodies, plates);
            let end = caption::draw(sheet, (left, centre + reach), curves, scale, units);
            bottom = bottom.max(end);
        }
        let top = bottom + 22.0;
        for (k, (curves, scale)) in self.columns.iter().zip(&scales).enumerate() {
            let place = (COLUMN * k as f64, top);
            let end = unrolled::draw(sheet, place, curves, (scale, view), &bodies, units);
            bottom = bottom.max(end);
        }
        match &self.tube {
            Some(tube) => tube.draw(sheet, bottom, view, units),
            None => bottom,
        }
    }

    fn column_heading(&self, surface: Surface) -> String {
        match (self.cut.contains(&surface), self.cut.is_empty()) {
            (true, _) => format!("{}, cut in this step", capital(surface)),
            (false, true) => capital(surface).to_owned(),
            (false, false) => format!("{}, not cut in this step", capital(surface)),
        }
    }

    /// The step in words, for those who cannot see the drawing.
    fn describe(&self, about: &mut String, units: Units) {
        let view = View::new(&self.step.placing);
        // writing into a string does not fail
        let _ = write!(about, " {}. {}", self.heading, view.words());
        for c in &self.columns {
            let state = if c.marks_held { "held" } else { "released" };
            let _ = write!(
                about,
                " {}: roundness {} held, {} released; {state} peak {} at {}, valley {} at {}.",
                capital(c.surface),
                units.small_within(c.held_roundness, c.held_error.map(|e| e.roundness)),
                units.small_within(c.released_roundness, c.released_error.map(|e| e.roundness)),
                units.signed_within(c.peak.deviation, c.mark_error()),
                angle_within(c.peak.degrees, c.peak.within),
                units.signed_within(c.valley.deviation, c.mark_error()),
                angle_within(c.valley.degrees, c.valley.within)
            );
        }
        about.extend(self.tube.iter().map(Tube::describe));
    }
}

/// What the drawing was made from; returns where the page ends.
fn footer(sheet: &mut Sheet, y: f64, document: &ResultDocument) -> f64 {
    let short = |text: &str| text.chars().take(12).collect::<String>();
    let sha = short(&document.case.sha256);
    let case = if sha.is_empty() {
        String::new()
    } else {
        format!(", case {sha}")
    };
    let words = format!(
        "ringwright {}, commit {}{case}. Figures end where their estimated errors begin; these and the cautions stand in result.json.",
        document.program.version,
        short(&document.program.commit)
    );
    let font = Font::faint(13.0);
    sheet.lines(MARGIN, y + 10.0, font, &wrap(&words, font, WIDE, 2), 18.0)
}

fn capital(surface: Surface) -> &'static str {
    match surface {
        Surface::Outer => "Outside",
        Surface::Bore => "Bore",
    }
}

#[cfg(test)]
mod tests;
