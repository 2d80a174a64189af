//! Deviation against angle: a polar plot at a high factor turns a gentle flat into a false cusp, this one does not.

use std::fmt::Write;

use super::curves::{Curves, Mark, Scale};
use super::{
    FAINT, GRID, HELD, INK, JAW, JAW_EDGE, Layer, RELEASED, ZONE, badge, capital, labels, layer,
    polar, text,
};
use crate::process::Contact;
use crate::report::units::{MM_PER_INCH, fixed};

const TOP: f64 = 996.0;
const HEIGHT: f64 = 210.0;
const LEFT: f64 = 76.0;
const WIDTH: f64 = 490.0;

struct Plot {
    left: f64,
    /// Pixels a millimetre of deviation.
    pixels: f64,
}

impl Plot {
    fn x(&self, degrees: f64) -> f64 {
        self.left + WIDTH * degrees / 360.0
    }

    fn y(&self, deviation: f64) -> f64 {
        TOP + 0.5 * HEIGHT - self.pixels * deviation
    }

    fn line(&self, out: &mut String, deviations: &[f64], style: &str) {
        out.push_str("<path d=\"");
        let n = deviations.len();
        for k in 0..=n {
            let _ = write!(
                out,
                "{}{:.1} {:.1}",
                if k == 0 { "M" } else { "L" },
                self.x(360.0 * k as f64 / n as f64),
                self.y(deviations[k % n])
            );
        }
        let _ = writeln!(out, "\" fill=\"none\" stroke-linejoin=\"round\" {style}/>");
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
    let most = scale.divisions as f64 * scale.division;
    let plot = Plot {
        left: left + LEFT,
        pixels: 0.5 * HEIGHT / most,
    };
    text(
        out,
        left + 30.0,
        TOP - 38.0,
        "start",
        15,
        INK,
        true,
        &format!(
            "{} unrolled: deviation against angle",
            capital(curves.surface)
        ),
    );
    for contact in bodies.iter().filter(|c| layer(c, bodies) != Layer::Sleeve) {
        let half = contact.half_angle_deg.clamp(1.0, 180.0);
        let start = (contact.angle_deg - half).rem_euclid(360.0);
        let mut band = |from: f64, to: f64| {
            let _ = writeln!(
                out,
                "<rect x=\"{:.1}\" y=\"{TOP}\" width=\"{:.1}\" height=\"{HEIGHT}\" fill=\"{JAW}\"/>",
                plot.x(from),
                plot.x(to) - plot.x(from)
            );
        };
        let end = start + 2.0 * half;
        band(start, end.min(360.0));
        if end > 360.0 {
            band(0.0, end - 360.0);
        }
    }
    axes(out, &plot, scale, units);
    if let Some(zone) = curves.zone.as_ref().filter(|z| z.drawn) {
        for limit in &zone.limits {
            plot.line(
                out,
                limit,
                &format!(
                    "stroke=\"{ZONE}\" stroke-width=\"1.2\" stroke-dasharray=\"{}\"",
                    polar::ZONE_DASH
                ),
            );
        }
    }
    plot.line(
        out,
        &curves.held,
        &format!(
            "stroke=\"{HELD}\" stroke-width=\"2\" stroke-dasharray=\"{}\"",
            polar::HELD_DASH
        ),
    );
    plot.line(
        out,
        &curves.released,
        &format!("stroke=\"{RELEASED}\" stroke-width=\"2\""),
    );
    let colour = if curves.marks_held { HELD } else { RELEASED };
    mark(out, &plot, &curves.peak, colour);
    mark(out, &plot, &curves.valley, colour);
    for (contact, label) in bodies.iter().zip(labels(bodies)) {
        if label.is_empty() {
            continue;
        }
        badge(
            out,
            plot.x(contact.angle_deg.rem_euclid(360.0)),
            TOP - 15.0,
            &label,
        );
    }
}

fn axes(out: &mut String, plot: &Plot, scale: &Scale, units: super::Units) {
    let (right, bottom) = (plot.left + WIDTH, TOP + HEIGHT);
    let n = scale.divisions as i32;
    let every = (20.0 / (scale.division * plot.pixels)).ceil().max(1.0) as i32;
    let thou = 1000.0 / MM_PER_INCH;
    let places =
        |step: f64, spare: f64| (spare - (step * 1.000_001).log10().floor()).max(0.0) as usize;
    // the drawing's own unit is round, the other one is not and gets a digit more
    let (mm_places, thou_places) = if units.inch {
        (
            places(scale.division, 1.0),
            places(scale.division * thou, 0.0),
        )
    } else {
        (
            places(scale.division, 0.0),
            places(scale.division * thou, 1.0),
        )
    };
    let sign = |k: i32, text: String| if k > 0 { format!("+{text}") } else { text };
    for k in -n..=n {
        let deviation = f64::from(k) * scale.division;
        let y = plot.y(deviation);
        let style = if k == 0 {
            format!("stroke=\"{INK}\" stroke-width=\"1.2\" stroke-dasharray=\"6 4\"")
        } else {
            format!("stroke=\"{GRID}\"")
        };
        let _ = writeln!(
            out,
            "<line x1=\"{:.1}\" y1=\"{y:.1}\" x2=\"{right:.1}\" y2=\"{y:.1}\" {style}/>",
            plot.left
        );
        if k % every == 0 {
            let metric = sign(k, fixed(deviation, mm_places));
            let inch = sign(k, fixed(deviation * thou, thou_places));
            let (first, second) = if units.inch {
                (inch, metric)
            } else {
                (metric, inch)
            };
            text(
                out,
                plot.left - 8.0,
                y + 5.0,
                "end",
                13,
                FAINT,
                false,
                &first,
            );
            text(
                out,
                right + 8.0,
                y + 5.0,
                "start",
                13,
                FAINT,
                false,
                &second,
            );
        }
    }
    let (first, second) = if units.inch {
        ("thou", "mm")
    } else {
        ("mm", "thou")
    };
    text(
        out,
        plot.left - 22.0,
        TOP - 16.0,
        "end",
        13,
        FAINT,
        true,
        first,
    );
    text(
        out,
        right + 8.0,
        TOP - 16.0,
        "start",
        13,
        FAINT,
        true,
        second,
    );
    for k in 0..=12 {
        let x = plot.x(30.0 * f64::from(k));
        let _ = writeln!(
            out,
            "<line x1=\"{x:.1}\" y1=\"{bottom}\" x2=\"{x:.1}\" y2=\"{:.1}\" stroke=\"{FAINT}\"/>",
            bottom + 5.0
        );
        if k % 2 == 0 {
            text(
                out,
                x,
                bottom + 20.0,
                "middle",
                13,
                FAINT,
                false,
                &format!("{}\u{b0}", 30 * k),
            );
        }
    }
    let _ = writeln!(
        out,
        "<rect x=\"{:.1}\" y=\"{TOP}\" width=\"{WIDTH}\" height=\"{HEIGHT}\" fill=\"none\" stroke=\"{JAW_EDGE}\"/>",
        plot.left
    );
}

fn mark(out: &mut String, plot: &Plot, mark: &Mark, colour: &str) {
    let _ = writeln!(
        out,
        "<circle cx=\"{:.1}\" cy=\"{:.1}\" r=\"4.5\" fill=\"{colour}\" stroke=\"#ffffff\"/>",
        plot.x(mark.degrees),
        plot.y(mark.deviation)
    );
}
