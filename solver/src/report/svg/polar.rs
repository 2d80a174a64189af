//! The polar plot of one surface: grid, bodies, zone, shapes, marks.

use std::fmt::Write;

use super::curves::{Curves, Mark, Scale};
use super::{
    COLUMN, FAINT, GRID, HELD, INK, JAW, JAW_EDGE, Layer, RELEASED, ZONE, badge, labels, layer,
    text,
};
use crate::geometry::Surface;
use crate::process::Contact;

pub(super) const HELD_DASH: &str = "9 5";
pub(super) const ZONE_DASH: &str = "2 3";
const REFERENCE_DASH: &str = "6 4";
/// Height of the centre on the page.
const MIDDLE: f64 = 432.0;
/// Radial thickness of a drawn body.
const BODY: f64 = 24.0;
/// Thickness of a sleeve between the part and the bodies.
const SLEEVE: f64 = 9.0;

struct Plot<'a> {
    x: f64,
    /// Radius of the reference circle, pixels.
    reference: f64,
    scale: &'a Scale,
}

impl Plot<'_> {
    /// Point at a radius (pixels) and an angle (degrees); the page's y axis points down.
    fn at(&self, radius: f64, degrees: f64) -> (f64, f64) {
        let (s, c) = degrees.to_radians().sin_cos();
        (self.x + radius * c, MIDDLE - radius * s)
    }

    fn radius(&self, deviation: f64) -> f64 {
        self.reference + deviation * self.scale.pixels()
    }

    fn circle(&self, out: &mut String, radius: f64, style: &str) {
        let _ = writeln!(
            out,
            "<circle cx=\"{:.1}\" cy=\"{MIDDLE}\" r=\"{radius:.2}\" fill=\"none\" {style}/>",
            self.x
        );
    }

    fn closed(&self, out: &mut String, deviations: &[f64], style: &str) {
        out.push_str("<path d=\"");
        for (k, &d) in deviations.iter().enumerate() {
            let (x, y) = self.at(self.radius(d), 360.0 * k as f64 / deviations.len() as f64);
            let _ = write!(out, "{}{x:.1} {y:.1}", if k == 0 { "M" } else { "L" });
        }
        let _ = writeln!(out, "Z\" fill=\"none\" stroke-linejoin=\"round\" {style}/>");
    }

    /// An arc at `radius` from `start` to `end` degrees as path commands; `join` is "M" or "L".
    fn arc(&self, join: &str, radius: f64, start: f64, end: f64) -> String {
        let steps = ((end - start).abs().ceil() as usize).max(2);
        let mut path = String::new();
        for k in 0..=steps {
            let t = start + (end - start) * k as f64 / steps as f64;
            let (x, y) = self.at(radius, t);
            let _ = write!(path, "{}{x:.1} {y:.1}", if k == 0 { join } else { "L" });
        }
        path
    }
}

pub(super) fn draw(
    out: &mut String,
    left: f64,
    curves: &Curves,
    scale: &Scale,
    bodies: &[Contact],
    units: super::Units,
) {
    let plot = Plot {
        x: left + COLUMN / 2.0,
        reference: scale.ring * curves.radius,
        scale,
    };
    let rim = scale.rim();
    grid(out, &plot);
    for (contact, label) in bodies.iter().zip(labels(bodies)) {
        body(out, &plot, contact, &label, rim, layer(contact, bodies));
    }
    // numbers of narrow bodies stand behind them
    let behind = bodies
        .iter()
        .any(|c| c.surface == Surface::Outer && is_narrow(c, rim));
    angles(out, &plot, rim + BODY + if behind { 16.0 } else { 0.0 });
    if let Some(zone) = curves.zone.as_ref().filter(|z| z.drawn) {
        for limit in &zone.limits {
            plot.closed(
                out,
                limit,
                &format!("stroke=\"{ZONE}\" stroke-width=\"1.2\" stroke-dasharray=\"{ZONE_DASH}\""),
            );
        }
    }
    grid_labels(out, &plot, curves, bodies, units);
    plot.closed(
        out,
        &curves.held,
        &format!("stroke=\"{HELD}\" stroke-width=\"2.2\" stroke-dasharray=\"{HELD_DASH}\""),
    );
    plot.closed(
        out,
        &curves.released,
        &format!("stroke=\"{RELEASED}\" stroke-width=\"2.2\""),
    );
    let colour = if curves.marks_held { HELD } else { RELEASED };
    mark(out, &plot, &curves.peak, "P", 1.0, colour);
    mark(out, &plot, &curves.valley, "V", -1.0, colour);
}

fn grid(out: &mut String, plot: &Plot) {
    let n = plot.scale.divisions as i32;
    let (inner, outer) = (
        plot.radius(-f64::from(n) * plot.scale.division),
        plot.radius(f64::from(n) * plot.scale.division),
    );
    for k in 0..12 {
        let ((x1, y1), (x2, y2)) = (
            plot.at(inner, 30.0 * f64::from(k)),
            plot.at(outer, 30.0 * f64::from(k)),
        );
        let _ = writeln!(
            out,
            "<line x1=\"{x1:.1}\" y1=\"{y1:.1}\" x2=\"{x2:.1}\" y2=\"{y2:.1}\" stroke=\"{GRID}\"/>"
        );
    }
    for k in -n..=n {
        if k != 0 {
            let radius = plot.radius(f64::from(k) * plot.scale.division);
            plot.circle(out, radius, &format!("stroke=\"{GRID}\""));
        }
    }
    plot.circle(
        out,
        plot.reference,
        &format!("stroke=\"{INK}\" stroke-width=\"1.2\" stroke-dasharray=\"{REFERENCE_DASH}\""),
    );
}

/// Labels of the grid circles, one above the other on the steep spoke that is farthest from marks and bodies.
fn grid_labels(
    out: &mut String,
    plot: &Plot,
    curves: &Curves,
    bodies: &[Contact],
    units: super::Units,
) {
    let n = plot.scale.divisions as i32;
    let spoke = [255.0, 285.0, 105.0, 75.0]
        .into_iter()
        .max_by(|a, b| room(*a, curves, bodies).total_cmp(&room(*b, curves, bodies)))
        .unwrap_or(255.0);
    let every = (20.0 / (plot.scale.division * plot.scale.pixels())).ceil() as i32;
    for k in (-n..=n).filter(|k| k % every == 0 && *k != 0) {
        let deviation = f64::from(k) * plot.scale.division;
        let (x, y) = plot.at(plot.radius(deviation), spoke);
        let words = units.signed(deviation);
        let _ = writeln!(
            out,
            "<text x=\"{x:.1}\" y=\"{:.1}\" text-anchor=\"middle\" font-size=\"12\" fill=\"{FAINT}\" stroke=\"#ffffff\" \
             stroke-width=\"4\" stroke-linejoin=\"round\" paint-order=\"stroke\">{words}</text>",
            y + 4.0
        );
    }
}

/// Smallest distance of a spoke from the marked points and the bodies, degrees; ties go to the later one.
fn room(spoke: f64, curves: &Curves, bodies: &[Contact]) -> f64 {
    let marks = [curves.peak.degrees, curves.valley.degrees].map(|t| (t, 0.0));
    let bodies = bodies.iter().map(|c| (c.angle_deg, c.half_angle_deg));
    marks
        .into_iter()
        .chain(bodies)
        .map(|(t, half)| {
            let d = (t - spoke).rem_euclid(360.0);
            d.min(360.0 - d) - half
        })
        .fold(f64::INFINITY, f64::min)
        .round()
}

/// Whether a body is too narrow on paper to carry its number.
fn is_narrow(contact: &Contact, face: f64) -> bool {
    contact.half_angle_deg.to_radians() * face < 14.0
}

fn body(out: &mut String, plot: &Plot, contact: &Contact, label: &str, rim: f64, layer: Layer) {
    // a body in the bore stands on the other side of its face
    let (face, outward) = match contact.surface {
        Surface::Outer => (rim, 1.0),
        Surface::Bore => (
            (plot.reference - plot.scale.band() - 8.0).max(BODY + 10.0),
            -1.0,
        ),
    };
    let (front, back) = match layer {
        Layer::Alone => (0.0, BODY),
        Layer::Sleeve => (0.0, SLEEVE),
        Layer::OnSleeve => (SLEEVE, BODY),
    };
    let (face, back) = (face + outward * front, face + outward * back);
    let narrow = is_narrow(contact, face);
    let path = if narrow {
        let half = (7.0 / back.max(7.0)).to_degrees();
        let ((x0, y0), (x1, y1), (x2, y2)) = (
            plot.at(face, contact.angle_deg),
            plot.at(back, contact.angle_deg - half),
            plot.at(back, contact.angle_deg + half),
        );
        format!("M{x0:.1} {y0:.1}L{x1:.1} {y1:.1}L{x2:.1} {y2:.1}")
    } else {
        let half = contact.half_angle_deg.min(180.0);
        let (start, end) = (contact.angle_deg - half, contact.angle_deg + half);
        plot.arc("M", face, start, end) + &plot.arc("L", back, end, start)
    };
    let _ = writeln!(
        out,
        "<path d=\"{path}Z\" fill=\"{JAW}\" stroke=\"{JAW_EDGE}\"/>"
    );
    for arc in &contact.arcs {
        let _ = writeln!(
            out,
            "<path d=\"{}\" fill=\"none\" stroke=\"#000000\" stroke-width=\"5\" stroke-linecap=\"round\"/>",
            plot.arc("M", face, arc[0], arc[1])
        );
    }
    // near the centre there is no room: the numbers then stand on the unrolled plot alone
    if !label.is_empty() && (outward > 0.0 || face > 68.0) {
        let radius = if narrow {
            back + outward * 2.0
        } else {
            face + 0.62 * (back - face)
        };
        let (x, y) = plot.at(radius, contact.angle_deg);
        badge(out, x, y, label);
    }
}

/// Angles round the plot, the zero mark and the arrow of the positive direction.
fn angles(out: &mut String, plot: &Plot, rim: f64) {
    let radius = rim + 18.0;
    for k in 1..12 {
        let degrees = 30.0 * f64::from(k);
        let (x, y) = plot.at(radius, degrees);
        text(
            out,
            x,
            y + 5.0,
            "middle",
            14,
            FAINT,
            false,
            &format!("{degrees:.0}\u{b0}"),
        );
    }
    let ((x0, y0), (x1, y1), (x2, y2)) = (
        plot.at(rim + 4.0, 0.0),
        plot.at(rim + 15.0, 1.6),
        plot.at(rim + 15.0, -1.6),
    );
    let _ = writeln!(
        out,
        "<path d=\"M{x0:.1} {y0:.1}L{x1:.1} {y1:.1}L{x2:.1} {y2:.1}Z\" fill=\"{INK}\"/>"
    );
    let (x, y) = plot.at(rim + 20.0, 0.0);
    text(out, x, y + 5.0, "start", 14, INK, true, "0\u{b0}");
    let (tip, left, right) = (
        plot.at(radius, 21.0),
        plot.at(radius - 5.0, 18.8),
        plot.at(radius + 5.0, 18.8),
    );
    let _ = writeln!(
        out,
        "<path d=\"{}\" fill=\"none\" stroke=\"{INK}\" stroke-width=\"1.5\"/>\
         <path d=\"M{:.1} {:.1}L{:.1} {:.1}L{:.1} {:.1}Z\" fill=\"{INK}\"/>",
        plot.arc("M", radius, 7.0, 19.5),
        tip.0,
        tip.1,
        left.0,
        left.1,
        right.0,
        right.1
    );
}

/// A marked point with its letter, outwards (`side` 1) or inwards (-1) of it.
fn mark(out: &mut String, plot: &Plot, mark: &Mark, letter: &str, side: f64, colour: &str) {
    let radius = plot.radius(mark.deviation);
    let (x, y) = plot.at(radius, mark.degrees);
    let _ = writeln!(
        out,
        "<circle cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"4.5\" fill=\"{colour}\" stroke=\"#ffffff\"/>"
    );
    let (x, y) = plot.at(radius + side * 17.0, mark.degrees);
    let _ = writeln!(
        out,
        "<text x=\"{x:.1}\" y=\"{:.1}\" text-anchor=\"middle\" font-size=\"15\" font-weight=\"bold\" fill=\"{colour}\" \
         stroke=\"#ffffff\" stroke-width=\"4\" stroke-linejoin=\"round\" paint-order=\"stroke\">{letter}</text>",
        y + 5.0
    );
}
