//! The polar plot of one surface: grid, bodies, zone, shapes, marks.

use super::bodies::DrawnBody;
use super::curves::{Curves, Mark};
use super::scale::{RING, Scale};
use super::sheet::{Anchor, FAINT, Font, INK, Sheet, path};
use super::view::View;
use super::{GRID, HELD, LIMIT, LOW_SPOT, RELEASED, marks, shapes};

pub(super) const HELD_DASH: &str = "9 5";
pub(super) const LIMIT_DASH: &str = "2 3";
pub(super) const MIDDLE_DASH: &str = "6 4";

/// Where a polar plot stands, and how.
pub(super) struct Plot<'a> {
    pub x: f64,
    pub y: f64,
    pub scale: &'a Scale,
    pub view: View,
}

impl Plot<'_> {
    /// Point at a radius (pixels) and a part angle (degrees); the page's y axis points down.
    pub fn at(&self, radius: f64, degrees: f64) -> [f64; 2] {
        self.beside(radius, 0.0, degrees)
    }

    /// The same, moved sideways by `aside` pixels.
    pub fn beside(&self, radius: f64, aside: f64, degrees: f64) -> [f64; 2] {
        let (s, c) = self.view.seen(degrees).to_radians().sin_cos();
        [
            self.x + radius * c - aside * s,
            self.y - radius * s - aside * c,
        ]
    }

    pub fn radius(&self, deviation: f64) -> f64 {
        RING + deviation * self.scale.pixels()
    }

    pub fn circle(&self, sheet: &mut Sheet, radius: f64, style: &str) {
        sheet.put(format_args!(
            "<circle cx=\"{:.1}\" cy=\"{:.1}\" r=\"{radius:.2}\" {style}/>",
            self.x, self.y
        ));
    }

    pub fn closed(&self, sheet: &mut Sheet, deviations: &[f64], style: &str) {
        let n = deviations.len() as f64;
        let points: Vec<[f64; 2]> = deviations
            .iter()
            .enumerate()
            .map(|(k, &d)| self.at(self.radius(d), 360.0 * k as f64 / n))
            .collect();
        sheet.put(format_args!(
            "<path d=\"{}\" fill=\"none\" stroke-linejoin=\"round\" {style}/>",
            path(&points, true)
        ));
    }

    /// Points of an arc at `radius` from `start` to `end` degrees.
    pub fn arc(&self, radius: f64, start: f64, end: f64) -> Vec<[f64; 2]> {
        let steps = ((end - start).abs().ceil() as usize).max(2);
        (0..=steps)
            .map(|k| self.at(radius, start + (end - start) * k as f64 / steps as f64))
            .collect()
    }
}

/// A plot without a shape: its grid and its angles.
pub(super) fn empty(sheet: &mut Sheet, plot: &Plot) {
    grid(sheet, plot);
    angles(sheet, plot, shapes::reach(&[], false));
}

/// How far out from its centre a plot reaches with its angles, pixels.
pub(super) fn reach(bodies: &[DrawnBody], plates: bool) -> f64 {
    shapes::reach(bodies, plates) + 34.0
}

pub(super) fn draw(
    sheet: &mut Sheet,
    plot: &Plot,
    curves: &Curves,
    bodies: &[DrawnBody],
    plates: bool,
) {
    grid(sheet, plot);
    shapes::draw(sheet, plot, bodies, plates);
    angles(sheet, plot, shapes::reach(bodies, plates));
    if let Some(limit) = curves.limit.as_ref().filter(|l| l.drawn) {
        for side in [-0.5, 0.5] {
            let style = format!(
                "fill=\"none\" stroke=\"{LIMIT}\" stroke-width=\"1.2\" stroke-dasharray=\"{LIMIT_DASH}\""
            );
            plot.circle(sheet, plot.radius(side * limit.width), &style);
        }
    }
    let colour = if curves.marks_held { HELD } else { RELEASED };
    for side in [-1.0, 1.0].iter().filter(|_| curves.is_marked()) {
        let style = format!("fill=\"none\" stroke=\"{colour}\" stroke-width=\"0.8\"");
        plot.circle(sheet, plot.radius(side * curves.half_zone()), &style);
    }
    let innermost = plot.radius(-plot.scale.most());
    for spot in &curves.low_spots {
        let arc = path(&plot.arc(innermost, spot[0], spot[1]), false);
        sheet.put(format_args!("<path d=\"{arc}\" fill=\"none\" {LOW_SPOT}/>"));
    }
    plot.closed(
        sheet,
        &curves.held,
        &format!("stroke=\"{HELD}\" stroke-width=\"2.2\" stroke-dasharray=\"{HELD_DASH}\""),
    );
    plot.closed(
        sheet,
        &curves.released,
        &format!("stroke=\"{RELEASED}\" stroke-width=\"2.2\""),
    );
    if curves.is_marked() {
        triangles(sheet, plot, curves, colour);
    }
    if let Some((mark, _)) = &curves.yields {
        marks::cross(sheet, at(plot, mark));
    }
}

fn at(plot: &Plot, mark: &Mark) -> [f64; 2] {
    plot.at(plot.radius(mark.deviation), mark.degrees)
}

/// The peak outwards, the valley inwards.
fn triangles(sheet: &mut Sheet, plot: &Plot, curves: &Curves, colour: &str) {
    let outwards = plot.view.seen(curves.peak.degrees);
    marks::triangle(sheet, at(plot, &curves.peak), outwards, colour);
    let inwards = plot.view.seen(curves.valley.degrees) + 180.0;
    marks::triangle(sheet, at(plot, &curves.valley), inwards, colour);
}

fn grid(sheet: &mut Sheet, plot: &Plot) {
    let n = plot.scale.divisions as i32;
    let most = plot.scale.most();
    let (inner, outer) = (plot.radius(-most), plot.radius(most));
    for k in 0..12 {
        let degrees = 30.0 * f64::from(k);
        let spoke = path(&[plot.at(inner, degrees), plot.at(outer, degrees)], false);
        sheet.put(format_args!("<path d=\"{spoke}\" stroke=\"{GRID}\"/>"));
    }
    for k in (-n..=n).filter(|k| *k != 0) {
        let radius = plot.radius(f64::from(k) * plot.scale.division);
        plot.circle(sheet, radius, &format!("fill=\"none\" stroke=\"{GRID}\""));
    }
    plot.circle(
        sheet,
        RING,
        &format!(
            "fill=\"none\" stroke=\"{INK}\" stroke-width=\"1.2\" stroke-dasharray=\"{MIDDLE_DASH}\""
        ),
    );
}

/// Angles round the plot, the zero mark and the arrow of the positive direction, all beyond `reach`.
fn angles(sheet: &mut Sheet, plot: &Plot, reach: f64) {
    let radius = reach + 22.0;
    for k in 1..12 {
        let degrees = 30.0 * f64::from(k);
        let [x, y] = plot.at(radius, degrees);
        let words = format!("{degrees:.0}\u{b0}");
        sheet.text(x, y + 5.0, Anchor::Middle, Font::faint(14.0), &words);
    }
    let zero = [
        plot.at(reach + 4.0, 0.0),
        plot.beside(reach + 15.0, -7.0, 0.0),
        plot.beside(reach + 15.0, 7.0, 0.0),
    ];
    sheet.put(format_args!(
        "<path d=\"{}\" fill=\"{INK}\"/>",
        path(&zero, true)
    ));
    let [x, y] = plot.at(reach + 19.0, 0.0);
    sheet.text(x, y + 5.0, Anchor::Start, Font::bold(14.0), "0\u{b0}");
    let tip = [
        plot.at(radius, 21.0),
        plot.at(radius - 5.0, 18.8),
        plot.at(radius + 5.0, 18.8),
    ];
    sheet.put(format_args!(
        "<path d=\"{}\" fill=\"none\" stroke=\"{FAINT}\" stroke-width=\"1.5\"/><path d=\"{}\" fill=\"{FAINT}\"/>",
        path(&plot.arc(radius, 7.0, 19.5), false),
        path(&tip, true)
    ));
}
