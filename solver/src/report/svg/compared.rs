//! Several parts side by side, all at one exaggeration.

use super::curves::deviations;
use super::polar::{self, HELD_DASH, LIMIT_DASH, Plot};
use super::scale::Scale;
use super::sheet::{Anchor, Font, INK, Sheet, wrap};
use super::view::View;
use super::{COLUMN, GRID, LIMIT, MARGIN, RELEASED, WIDE, page};
use crate::geometry::Surface;
use crate::report::document::Shape;
use crate::report::units::Units;
use crate::scheme::Placing;

/// Room for the words beside a panel's centre, above and below its plot, pixels.
const HEAD: f64 = 74.0;

/// A part of the picture.
#[derive(Clone, Debug)]
pub struct Panel<'a> {
    /// What stands over it.
    pub heading: String,
    /// What stands under it, line by line.
    pub words: Vec<String>,
    /// Surfaces that are drawn: radii at equal angles (mm), and the shape that tells them. The first is drawn whole, a second one dashed.
    pub shapes: Vec<(Surface, &'a [f64], &'a Shape)>,
    /// Radial width of the roundness zone of the first, mm.
    pub zone: Option<f64>,
}

/// The picture: a title, notes under it, the panels two by two, and what stands at the foot.
pub fn compared(
    title: &str,
    notes: &[String],
    panels: &[Panel],
    foot: &str,
    units: Units,
) -> String {
    let mut sheet = Sheet::new();
    let bold = Font::bold(24.0);
    let mut y = sheet.lines(MARGIN, 42.0, bold, &wrap(title, bold, WIDE, 3), 30.0);
    let plain = Font::plain(15.0);
    let all: Vec<Vec<Vec<f64>>> = panels
        .iter()
        .map(|p| {
            p.shapes
                .iter()
                .map(|(_, radii, shape)| deviations(radii, shape))
                .collect()
        })
        .collect();
    let most = all
        .iter()
        .flatten()
        .flatten()
        .fold(0.0_f64, |m, d| m.max(d.abs()));
    let scale = Scale::covering(most, units);
    let radius = panels
        .iter()
        .flat_map(|p| &p.shapes)
        .map(|(_, _, s)| s.mean_radius)
        .next();
    let factor = radius.map_or(String::new(), |r| {
        format!(
            "All shapes are drawn \u{d7}{}; one division is {}.",
            scale.factor(r),
            units.small(scale.division)
        )
    });
    for words in notes.iter().chain([&factor]).filter(|w| !w.is_empty()) {
        y = sheet.lines(MARGIN, y, plain, &wrap(words, plain, WIDE, 3), 21.0);
    }
    for (pair, deviations) in panels.chunks(2).zip(all.chunks(2)) {
        sheet.put(format_args!(
            "<path d=\"M{MARGIN} {:.1}h{WIDE}\" stroke=\"{GRID}\" stroke-width=\"2\"/>",
            y + 8.0
        ));
        let mut bottom = y;
        for (k, (panel, deviations)) in pair.iter().zip(deviations).enumerate() {
            let left = COLUMN * k as f64;
            bottom = bottom.max(panel.draw(&mut sheet, (left, y), deviations, &scale));
        }
        y = bottom + 16.0;
    }
    let faint = Font::faint(13.0);
    y = sheet.lines(MARGIN, y + 10.0, faint, &wrap(foot, faint, WIDE, 6), 18.0);
    let about: Vec<&str> = panels
        .iter()
        .flat_map(|p| std::iter::once(p.heading.as_str()).chain(p.words.iter().map(String::as_str)))
        .collect();
    page(title, &about.join(" "), y, &sheet.into_text())
}

impl Panel<'_> {
    /// Draws it with its upper left corner there; says where it ends.
    fn draw(
        &self,
        sheet: &mut Sheet,
        (left, top): (f64, f64),
        deviations: &[Vec<f64>],
        scale: &Scale,
    ) -> f64 {
        let width = COLUMN - 2.0 * MARGIN;
        let head = Font::bold(17.0);
        let heading = wrap(&self.heading, head, width, 2);
        sheet.lines(left + MARGIN, top + 36.0, head, &heading, 21.0);
        let reach = polar::reach(&[], false);
        let plot = Plot {
            x: left + 0.5 * COLUMN,
            y: top + HEAD + reach,
            scale,
            view: View::new(&Placing::default()),
        };
        polar::empty(sheet, &plot);
        if let Some(zone) = self.zone.filter(|z| 0.5 * z <= scale.most()) {
            for side in [-0.5, 0.5] {
                let style = format!(
                    "fill=\"none\" stroke=\"{LIMIT}\" stroke-width=\"1.2\" stroke-dasharray=\"{LIMIT_DASH}\""
                );
                plot.circle(sheet, plot.radius(side * zone), &style);
            }
        }
        for (n, shape) in deviations.iter().enumerate() {
            let style = match n {
                0 => format!("stroke=\"{RELEASED}\" stroke-width=\"2.2\""),
                _ => format!(
                    "stroke=\"{INK}\" stroke-width=\"1.6\" stroke-dasharray=\"{HELD_DASH}\""
                ),
            };
            plot.closed(sheet, shape, &style);
        }
        if deviations.is_empty() {
            let font = Font::bold(17.0);
            sheet.text(plot.x, plot.y, Anchor::Middle, font, "no answer");
        }
        let plain = Font::plain(15.0);
        let mut below = plot.y + reach + 20.0;
        for words in &self.words {
            let lines = wrap(words, plain, width, 5);
            below = sheet.lines(left + MARGIN, below, plain, &lines, 20.0);
        }
        below
    }
}
