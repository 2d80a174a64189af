//! The bodies of a polar plot: outside ones beyond the band of the curves, those of the bore within it.

use super::bodies::{BodyKind, DrawnBody};
use super::polar::Plot;
use super::scale::{BAND, RING};
use super::sheet::{Sheet, badge_width, path};
use crate::geometry::Surface;

pub(super) const BODY: &str = "#e9e4da";
pub(super) const EDGE: &str = "#7a7468";
/// Clear of the curves, pixels.
const CLEAR: f64 = 8.0;
/// Depth of a jaw, pixels.
const DEPTH: f64 = 26.0;
/// Thickness of a sleeve, pixels.
const SLEEVE: f64 = 9.0;
/// Half the width of a screw, and least half width of any body, pixels.
const SLENDER: f64 = 6.0;

/// Where the bodies of a surface begin, pixels from the centre, and the sign of the way from there into the body.
fn face(surface: Surface) -> (f64, f64) {
    match surface {
        Surface::Outer => (RING + BAND + CLEAR, 1.0),
        Surface::Bore => (RING - BAND - CLEAR, -1.0),
    }
}

/// Face and back of a body, pixels from the centre, and the sign of the way from one to the other.
fn span(body: &DrawnBody) -> (f64, f64, f64) {
    let (face, sign) = face(body.surface);
    let front = if body.on_sleeve { SLEEVE } else { 0.0 };
    let depth = if body.kind == BodyKind::Sleeve {
        SLEEVE
    } else {
        DEPTH
    };
    (face + sign * front, face + sign * (front + depth), sign)
}

/// Half of the arc that is drawn, degrees: a narrow body keeps a width that can be seen.
fn half_drawn(body: &DrawnBody) -> f64 {
    let (face, back, _) = span(body);
    let least = (SLENDER / face.min(back)).asin().to_degrees();
    body.half.clamp(least, 180.0)
}

/// Where a body's number stands, pixels from the centre: in it if there is room, else behind it.
fn badge_radius(body: &DrawnBody) -> f64 {
    let (face, back, sign) = span(body);
    let middle = 0.5 * (face + back);
    let room = 2.0 * half_drawn(body).to_radians() * middle;
    match body.kind {
        BodyKind::Round if body.surface == Surface::Bore => 0.0,
        BodyKind::Round => middle,
        BodyKind::Pad | BodyKind::Segment if room > badge_width(&body.label) + 6.0 => middle,
        _ => back + sign * 13.0,
    }
}

/// How far out the bodies and their numbers reach, pixels from the centre.
pub(super) fn reach(bodies: &[DrawnBody], plates: bool) -> f64 {
    let (rim, _) = face(Surface::Outer);
    let outside = bodies.iter().filter(|b| b.surface == Surface::Outer);
    outside
        .map(|b| {
            let (_, back, _) = span(b);
            // room for a number that lies beside the zero mark, as far as the page has it
            let half = (0.5 * badge_width(&b.label) + 2.0).min(22.0);
            back.max(badge_radius(b) + half)
        })
        .fold(if plates { rim + DEPTH } else { rim }, f64::max)
}

/// All bodies of a step, then their numbers on top; a number that finds no room is left out.
pub(super) fn draw(sheet: &mut Sheet, plot: &Plot, bodies: &[DrawnBody], plates: bool) {
    if plates {
        hatch(sheet, plot);
    }
    if let Some(segment) = bodies.iter().find(|b| b.kind == BodyKind::Segment) {
        let (_, back, _) = span(segment);
        // the cone or taper that spreads the segments
        plot.circle(
            sheet,
            back - 3.0,
            &format!("fill=\"#ffffff\" stroke=\"{EDGE}\""),
        );
    }
    for body in bodies {
        match body.kind {
            BodyKind::Pad | BodyKind::Segment | BodyKind::Sleeve => pad(sheet, plot, body),
            BodyKind::Screw => screw(sheet, plot, body),
            BodyKind::Round => round(sheet, plot, body),
            BodyKind::Patch | BodyKind::Point => arrows(sheet, plot, body),
        }
        let (face, _, _) = span(body);
        for arc in body.arcs.iter().filter(|_| !body.on_sleeve) {
            sheet.put(format_args!(
                "<path d=\"{}\" fill=\"none\" stroke=\"#000000\" stroke-width=\"5\" stroke-linecap=\"round\"/>",
                path(&plot.arc(face, arc[0], arc[1]), false)
            ));
        }
    }
    for body in bodies {
        let [x, y] = plot.at(badge_radius(body), body.degrees);
        sheet.badge(x, y, &body.label);
    }
}

fn filled(sheet: &mut Sheet, outline: &[[f64; 2]]) {
    sheet.put(format_args!(
        "<path d=\"{}\" fill=\"{BODY}\" stroke=\"{EDGE}\" stroke-linejoin=\"round\"/>",
        path(outline, true)
    ));
}

fn pad(sheet: &mut Sheet, plot: &Plot, body: &DrawnBody) {
    let (face, back, _) = span(body);
    let half = half_drawn(body);
    let (start, end) = (body.degrees - half, body.degrees + half);
    let mut outline = plot.arc(face, start, end);
    outline.extend(plot.arc(back, end, start));
    filled(sheet, &outline);
}

/// A slender shank with a crowned tip towards the part, and its thread.
fn screw(sheet: &mut Sheet, plot: &Plot, body: &DrawnBody) {
    let (face, back, sign) = span(body);
    let point = |depth: f64, aside: f64| plot.beside(face + sign * depth, aside, body.degrees);
    let shank = (back - face).abs();
    let mut outline = vec![point(shank, -SLENDER)];
    for k in -6..=6 {
        let aside = SLENDER * f64::from(k) / 6.0;
        outline.push(point(5.0 * (aside / SLENDER).powi(2), aside));
    }
    outline.push(point(shank, SLENDER));
    filled(sheet, &outline);
    for k in 0..4 {
        let depth = 9.0 + 4.0 * f64::from(k);
        let thread = [point(depth, -SLENDER), point(depth + 2.0, SLENDER)];
        sheet.put(format_args!(
            "<path d=\"{}\" stroke=\"{EDGE}\"/>",
            path(&thread, false)
        ));
    }
}

fn round(sheet: &mut Sheet, plot: &Plot, body: &DrawnBody) {
    let (face, back, _) = span(body);
    if body.surface == Surface::Bore {
        plot.circle(
            sheet,
            face,
            &format!("fill=\"{BODY}\" stroke=\"{EDGE}\" stroke-width=\"1.5\""),
        );
        return;
    }
    let middle = 0.5 * (face + back);
    let thick = format!(
        "fill=\"none\" stroke=\"{BODY}\" stroke-width=\"{:.0}\"",
        (back - face).abs()
    );
    plot.circle(sheet, middle, &thick);
    for edge in [face, back] {
        plot.circle(sheet, edge, &format!("fill=\"none\" stroke=\"{EDGE}\""));
    }
}

/// A constant load: arrows against the part, joined by a line over an arc.
fn arrows(sheet: &mut Sheet, plot: &Plot, body: &DrawnBody) {
    let (face, back, sign) = span(body);
    let wide = 2.0 * body.half.to_radians() * back;
    let count = ((wide / 16.0).floor() as usize).min(60) + 1;
    for k in 0..count {
        let share = if count == 1 {
            0.0
        } else {
            2.0 * k as f64 / (count - 1) as f64 - 1.0
        };
        let degrees = body.degrees + share * body.half;
        let point = |depth: f64, aside: f64| plot.beside(face + sign * depth, aside, degrees);
        let shaft = path(&[point(22.0, 0.0), point(6.0, 0.0)], false);
        let tip = path(&[point(0.0, 0.0), point(8.0, -4.0), point(8.0, 4.0)], true);
        sheet.put(format_args!(
            "<path d=\"{shaft}\" stroke=\"{EDGE}\" stroke-width=\"2\"/><path d=\"{tip}\" fill=\"{EDGE}\"/>"
        ));
    }
    if count > 1 {
        let tail = face + sign * 22.0;
        let line = plot.arc(tail, body.degrees - body.half, body.degrees + body.half);
        sheet.put(format_args!(
            "<path d=\"{}\" fill=\"none\" stroke=\"{EDGE}\" stroke-width=\"2\"/>",
            path(&line, false)
        ));
    }
}

/// Plates on the end faces: they reach beyond the part all round, so their rim is what is seen of them.
fn hatch(sheet: &mut Sheet, plot: &Plot) {
    let (rim, _) = face(Surface::Outer);
    for radius in [rim, rim + DEPTH] {
        plot.circle(sheet, radius, &format!("fill=\"none\" stroke=\"{EDGE}\""));
    }
    let strokes: String = (0..90)
        .map(|k| {
            let degrees = 4.0 * f64::from(k);
            path(
                &[plot.at(rim, degrees), plot.at(rim + DEPTH, degrees + 5.0)],
                false,
            )
        })
        .collect();
    sheet.put(format_args!("<path d=\"{strokes}\" stroke=\"{EDGE}\"/>"));
}
