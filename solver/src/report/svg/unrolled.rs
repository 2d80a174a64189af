//! Deviation against angle: a polar plot at a high factor turns a gentle flat into a false cusp, this one does not.
//!
//! It is unrolled counter-clockwise from the zero mark, as the polar plot above it is seen, so bodies stand in the same order on
//! both.

use super::bodies::{BodyKind, DrawnBody};
use super::curves::{Curves, Mark};
use super::scale::Scale;
use super::shapes::{BODY, EDGE};
use super::sheet::{Anchor, FAINT, Font, INK, Sheet, badge_width, path};
use super::view::View;
use super::{GRID, HELD, LIMIT, LOW_SPOT, RELEASED, capital, marks, polar};
use crate::report::units::{MM_PER_INCH, Units, fixed};

const HEIGHT: f64 = 210.0;
const LEFT: f64 = 84.0;
const WIDTH: f64 = 470.0;
/// Least distance of two labels of the scale, pixels.
const APART: f64 = 20.0;
/// Height of a row of numbers above the plot.
const ROW: f64 = 23.0;
/// Most such rows; numbers that find no room in them are left out.
const ROWS: usize = 3;

struct Plot<'a> {
    left: f64,
    top: f64,
    scale: &'a Scale,
    view: View,
}

impl Plot<'_> {
    /// Where a place seen so many degrees counter-clockwise from the zero mark stands.
    fn x_seen(&self, seen: f64) -> f64 {
        self.left + WIDTH * seen / 360.0
    }

    fn x(&self, part: f64) -> f64 {
        self.x_seen(self.view.unrolled(part))
    }

    fn y(&self, deviation: f64) -> f64 {
        self.top + 0.5 * HEIGHT * (1.0 - deviation / self.scale.most())
    }

    fn bottom(&self) -> f64 {
        self.top + HEIGHT
    }

    fn right(&self) -> f64 {
        self.left + WIDTH
    }

    fn level(&self, sheet: &mut Sheet, deviation: f64, style: &str) {
        sheet.put(format_args!(
            "<path d=\"{}\" {style}/>",
            path(
                &[
                    [self.left, self.y(deviation)],
                    [self.right(), self.y(deviation)]
                ],
                false
            )
        ));
    }

    fn line(&self, sheet: &mut Sheet, deviations: &[f64], style: &str) {
        let n = deviations.len();
        let points: Vec<[f64; 2]> = (0..=n)
            .map(|k| {
                let seen = self.view.along(360.0 * k as f64 / n as f64);
                [self.x_seen(seen), self.y(deviations[k % n])]
            })
            .collect();
        sheet.put(format_args!(
            "<path d=\"{}\" fill=\"none\" stroke-linejoin=\"round\" {style}/>",
            path(&points, false)
        ));
    }
}

/// Which row above the plot the number of each body stands in; `None` where there is no room.
fn rows(plot: &Plot, bodies: &[DrawnBody]) -> Vec<Option<usize>> {
    let mut taken: Vec<[f64; 3]> = Vec::new();
    bodies
        .iter()
        .map(|body| {
            if body.label.is_empty() {
                return None;
            }
            let half = 0.5 * badge_width(&body.label) + 1.0;
            let x = plot.x(body.degrees);
            let row = (0..ROWS).find(|&r| {
                let clear = |t: &[f64; 3]| t[0] != r as f64 || x + half <= t[1] || t[2] <= x - half;
                taken.iter().all(clear)
            })?;
            taken.push([row as f64, x - half, x + half]);
            Some(row)
        })
        .collect()
}

/// Draws the plot below `top` and returns where it ends.
pub(super) fn draw(
    sheet: &mut Sheet,
    (left, top): (f64, f64),
    curves: &Curves,
    (scale, view): (&Scale, View),
    bodies: &[DrawnBody],
    units: Units,
) -> f64 {
    let mut plot = Plot {
        left: left + LEFT,
        top,
        scale,
        view,
    };
    let rows = rows(&plot, bodies);
    let high = rows
        .iter()
        .flatten()
        .max()
        .map_or(0.0, |r| (r + 1) as f64 * ROW);
    plot.top = top + 48.0 + high;
    heading(sheet, left, top, curves, view);
    for body in bodies {
        band(sheet, &plot, body);
    }
    axes(sheet, &plot, units);
    lines(sheet, &plot, curves);
    for (body, row) in bodies.iter().zip(rows) {
        if let Some(row) = row {
            // clear of the topmost label of the scale
            let y = plot.top - 18.0 - row as f64 * ROW;
            sheet.badge(plot.x(body.degrees), y, &body.label);
        }
    }
    plot.bottom() + 30.0
}

fn heading(sheet: &mut Sheet, left: f64, top: f64, curves: &Curves, view: View) {
    let words = format!(
        "{} unrolled: deviation against the part's angle",
        capital(curves.surface)
    );
    sheet.text(
        left + 30.0,
        top + 14.0,
        Anchor::Start,
        Font::bold(15.0),
        &words,
    );
    let words = format!(
        "Left to right: counter-clockwise as seen above, angles {}.",
        view.unrolled_runs()
    );
    sheet.text(
        left + 30.0,
        top + 33.0,
        Anchor::Start,
        Font::faint(13.0),
        &words,
    );
}

/// What a body covers, behind the curves; a narrow one is a line.
fn band(sheet: &mut Sheet, plot: &Plot, body: &DrawnBody) {
    if matches!(body.kind, BodyKind::Round | BodyKind::Sleeve) {
        return;
    }
    if body.half < 1.0 {
        let x = plot.x(body.degrees);
        let line = path(&[[x, plot.top], [x, plot.bottom()]], false);
        sheet.put(format_args!(
            "<path d=\"{line}\" stroke=\"{EDGE}\" stroke-width=\"2\" stroke-opacity=\"0.6\"/>"
        ));
        return;
    }
    let half = body.half.min(180.0);
    let start = (plot.view.seen(body.degrees) - half).rem_euclid(360.0);
    let end = start + 2.0 * half;
    for (from, to) in [(start, end.min(360.0)), (0.0, end - 360.0)] {
        if to > from {
            sheet.put(format_args!(
                "<rect x=\"{:.1}\" y=\"{:.1}\" width=\"{:.1}\" height=\"{HEIGHT}\" fill=\"{BODY}\"/>",
                plot.x_seen(from),
                plot.top,
                plot.x_seen(to) - plot.x_seen(from)
            ));
        }
    }
}

fn lines(sheet: &mut Sheet, plot: &Plot, curves: &Curves) {
    if let Some(limit) = curves.limit.as_ref().filter(|l| l.drawn) {
        let style = format!(
            "stroke=\"{LIMIT}\" stroke-width=\"1.2\" stroke-dasharray=\"{}\"",
            polar::LIMIT_DASH
        );
        for side in [-0.5, 0.5] {
            plot.level(sheet, side * limit.width, &style);
        }
    }
    let colour = if curves.marks_held { HELD } else { RELEASED };
    let style = format!("stroke=\"{colour}\" stroke-width=\"0.8\"");
    for side in [-1.0, 1.0].iter().filter(|_| curves.is_marked()) {
        plot.level(sheet, side * curves.half_zone(), &style);
    }
    for spot in &curves.low_spots {
        let ends = spot.map(|t| [plot.x_seen(plot.view.along(t)), plot.bottom() - 4.0]);
        let bar = path(&ends, false);
        sheet.put(format_args!("<path d=\"{bar}\" {LOW_SPOT}/>"));
    }
    let dash = polar::HELD_DASH;
    let held = format!("stroke=\"{HELD}\" stroke-width=\"2\" stroke-dasharray=\"{dash}\"");
    plot.line(sheet, &curves.held, &held);
    let released = format!("stroke=\"{RELEASED}\" stroke-width=\"2\"");
    plot.line(sheet, &curves.released, &released);
    let at = |mark: &Mark| [plot.x(mark.degrees), plot.y(mark.deviation)];
    if curves.is_marked() {
        marks::triangle(sheet, at(&curves.peak), 90.0, colour);
        marks::triangle(sheet, at(&curves.valley), -90.0, colour);
    }
    if let Some((mark, _)) = &curves.yields {
        marks::cross(sheet, at(mark));
    }
}

fn axes(sheet: &mut Sheet, plot: &Plot, units: Units) {
    let n = plot.scale.divisions as i32;
    let step = 0.5 * HEIGHT * plot.scale.division / plot.scale.most();
    let every = (APART / step).ceil().max(1.0) as i32;
    for k in -n..=n {
        let deviation = f64::from(k) * plot.scale.division;
        let style = if k == 0 {
            let dash = polar::MIDDLE_DASH;
            format!("stroke=\"{INK}\" stroke-width=\"1.2\" stroke-dasharray=\"{dash}\"")
        } else {
            format!("stroke=\"{GRID}\"")
        };
        plot.level(sheet, deviation, &style);
        if k % every == 0 {
            let [first, second] = scale_texts(plot.scale.division, k, units);
            let y = plot.y(deviation) + 5.0;
            let font = Font::faint(13.0);
            sheet.text(plot.left - 8.0, y, Anchor::End, font, &first);
            sheet.text(plot.right() + 8.0, y, Anchor::Start, font, &second);
        }
    }
    angles(sheet, plot, units);
    sheet.put(format_args!(
        "<rect x=\"{:.1}\" y=\"{:.1}\" width=\"{WIDTH}\" height=\"{HEIGHT}\" fill=\"none\" stroke=\"{EDGE}\"/>",
        plot.left, plot.top
    ));
}

/// `k` divisions in the drawing's own unit, which is round, and in the other one, which is not and gets a digit more.
pub(super) fn scale_texts(division: f64, k: i32, units: Units) -> [String; 2] {
    let thou = 1000.0 / MM_PER_INCH;
    let places =
        |step: f64, spare: f64| (spare - (step * 1.000_001).log10().floor()).max(0.0) as usize;
    let (spare_mm, spare_thou) = if units.inch { (1.0, 0.0) } else { (0.0, 1.0) };
    let text = |step: f64, spare: f64| {
        let words = fixed(f64::from(k) * step, places(step, spare));
        if k > 0 { format!("+{words}") } else { words }
    };
    let (mm, inch) = (text(division, spare_mm), text(division * thou, spare_thou));
    if units.inch { [inch, mm] } else { [mm, inch] }
}

/// Ticks and part angles below the plot, with the units of the two scales at the ends of the row.
fn angles(sheet: &mut Sheet, plot: &Plot, units: Units) {
    let bottom = plot.bottom();
    for k in 0..=12 {
        let x = plot.x_seen(30.0 * f64::from(k));
        let tick = path(&[[x, bottom], [x, bottom + 5.0]], false);
        sheet.put(format_args!("<path d=\"{tick}\" stroke=\"{FAINT}\"/>"));
        if k % 2 == 0 {
            let part = plot.view.along(30.0 * f64::from(k));
            let words = format!("{part:.0}\u{b0}");
            sheet.text(x, bottom + 20.0, Anchor::Middle, Font::faint(13.0), &words);
        }
    }
    let font = Font {
        bold: true,
        ..Font::faint(13.0)
    };
    let (first, second) = if units.inch {
        ("thou", "mm")
    } else {
        ("mm", "thou")
    };
    sheet.text(plot.left - 22.0, bottom + 20.0, Anchor::End, font, first);
    sheet.text(
        plot.right() + 22.0,
        bottom + 20.0,
        Anchor::Start,
        font,
        second,
    );
}
