//! `shape.svg`: the last step's shapes as a polar plot and unrolled, one column a surface, for screen and paper.
//!
//! Lines differ by dash and label as well as by colour (the colours are two of Okabe and Ito's colour-blind-safe set,
//! <https://jfly.uni-koeln.de/color/>), so a black-and-white print can be read too. The text is written by hand: a
//! plotting crate would round the lobes to whole pixels.

mod curves;
mod polar;
mod unrolled;

use std::fmt::Write;

use super::ReportError;
use super::document::ResultDocument;
use super::units::{Units, angle};
use crate::case::Case;
use crate::geometry::Surface;
use crate::process::{Contact, HeldState, Outcome};
use curves::{Curves, Scale};

const WIDTH: f64 = 1280.0;
const HEIGHT: f64 = 1290.0;
const COLUMN: f64 = 640.0;

const HELD: &str = "#d55e00";
const RELEASED: &str = "#0072b2";
const ZONE: &str = "#444444";
const GRID: &str = "#dcdcdc";
const INK: &str = "#1a1a1a";
const FAINT: &str = "#5f5f5f";
const JAW: &str = "#e9e4da";
const JAW_EDGE: &str = "#7a7468";

/// The drawing as a whole SVG document.
///
/// # Errors
/// [`ReportError::NotFinite`] if there is no step to draw.
pub fn shape(
    case: &Case,
    outcome: &Outcome,
    document: &ResultDocument,
) -> Result<String, ReportError> {
    let (Some(step), Some(figures)) = (outcome.steps.last(), document.steps.last()) else {
        return Err(ReportError::NotFinite {
            what: "a drawing without a step".into(),
        });
    };
    let units = Units::new(case.inch);
    let cut = figures.surfaces_cut();
    let first = cut.first().copied().unwrap_or(Surface::Outer);
    let order = match first {
        Surface::Outer => [Surface::Outer, Surface::Bore],
        Surface::Bore => [Surface::Bore, Surface::Outer],
    };
    let bodies = bodies(&step.held);
    let columns = order.map(|s| {
        let limit = case.tolerance.roundness.filter(|_| cut.contains(&s));
        Curves::new(s, step, figures, limit)
    });
    let scale = Scale::choose(&columns, units);
    let mut out = String::with_capacity(1 << 17);
    head(&mut out, case, outcome, document, &columns, &scale, units);
    for (k, curves) in columns.iter().enumerate() {
        let left = COLUMN * k as f64;
        let is_cut = cut.contains(&curves.surface);
        polar::draw(&mut out, left, curves, &scale, &bodies, units);
        let heading = match (is_cut, cut.is_empty()) {
            (true, _) => format!("{}, cut in this step", capital(curves.surface)),
            (false, true) => capital(curves.surface).to_owned(),
            (false, false) => format!("{}, not cut in this step", capital(curves.surface)),
        };
        text(
            &mut out,
            left + 30.0,
            128.0,
            "start",
            18,
            INK,
            true,
            &heading,
        );
        caption(&mut out, left, curves, is_cut, units);
        unrolled::draw(&mut out, left, curves, &scale, &bodies, units);
    }
    footer(&mut out, document, &bodies);
    out.push_str("</svg>\n");
    Ok(out)
}

fn head(
    out: &mut String,
    case: &Case,
    outcome: &Outcome,
    document: &ResultDocument,
    columns: &[Curves; 2],
    scale: &Scale,
    units: Units,
) {
    let n = outcome.steps.len();
    let hold = document.steps.last().map_or("", |s| s.hold.as_str());
    let title = if case.title.is_empty() {
        "Ring"
    } else {
        &case.title
    };
    let mut about = format!(
        "Shape of the section in step {n}, hold {hold}: polar plots and unrolled plots, deviations drawn {} times larger than the ring.",
        scale.factor_text()
    );
    for c in columns {
        let _ = write!(
            about,
            " {}: roundness about the least-squares circle {} held, {} released; {} peak {} at {}, valley {} at {}.",
            capital(c.surface),
            units.small(c.held_roundness),
            units.small(c.released_roundness),
            if c.marks_held { "held" } else { "released" },
            units.signed(c.peak.deviation),
            angle(c.peak.degrees),
            units.signed(c.valley.deviation),
            angle(c.valley.degrees)
        );
    }
    let _ = write!(
        out,
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDTH} {HEIGHT}\" \
         width=\"{WIDTH}\" height=\"{HEIGHT}\" role=\"img\" aria-labelledby=\"shape-title shape-desc\" \
         font-family=\"Helvetica, Arial, 'DejaVu Sans', sans-serif\">\n\
         <title id=\"shape-title\">{}</title>\n<desc id=\"shape-desc\">{}</desc>\n\
         <rect width=\"{WIDTH}\" height=\"{HEIGHT}\" fill=\"#ffffff\"/>\n",
        escape(title),
        escape(&about)
    );
    text(out, 30.0, 42.0, "start", 24, INK, true, &shorten(title, 85));
    text(
        out,
        30.0,
        70.0,
        "start",
        16,
        INK,
        false,
        &format!(
            "Step {n}, hold {}. Deviations drawn \u{d7}{}: 1 division = {}. Dashed circle: least-squares circle of each shape.",
            shorten(hold, 30),
            scale.factor_text(),
            units.small(scale.division)
        ),
    );
    text(
        out,
        30.0,
        92.0,
        "start",
        16,
        INK,
        false,
        "Seen from the tailstock; angles run counter-clockwise from the part's zero mark. \
         Numbered: what holds the part; black: where it presses.",
    );
}

/// The figures under a polar plot, each beside a sample of its line.
fn caption(out: &mut String, left: f64, curves: &Curves, is_cut: bool, units: Units) {
    let (x, mut y) = (left + 40.0, 758.0);
    let mut row = |out: &mut String, line: Option<(&str, &str, f64)>, words: &str| {
        if let Some((colour, dash, width)) = line {
            let _ = writeln!(
                out,
                "<line x1=\"{x}\" y1=\"{0}\" x2=\"{1}\" y2=\"{0}\" stroke=\"{colour}\" stroke-width=\"{width}\" stroke-dasharray=\"{dash}\"/>",
                y - 5.0,
                x + 46.0
            );
        }
        text(out, x + 58.0, y, "start", 15, INK, false, words);
        y += 22.0;
    };
    let lobes = |h: Option<(u32, f64)>| {
        h.map(|(count, amplitude)| {
            format!(
                "strongest: {count} lobes of \u{b1}{}",
                units.small(amplitude)
            )
        })
    };
    let state = if is_cut {
        "Held, before the cut"
    } else {
        "Held"
    };
    row(
        out,
        Some((HELD, polar::HELD_DASH, 2.2)),
        &format!("{state}: roundness {}", units.small(curves.held_roundness)),
    );
    if let Some(words) = lobes(curves.held_lobes) {
        row(out, None, &words);
    }
    row(
        out,
        Some((RELEASED, "none", 2.2)),
        &format!(
            "Released: roundness {}",
            units.small(curves.released_roundness)
        ),
    );
    if let Some(words) = lobes(curves.released_lobes) {
        row(out, None, &words);
    }
    let of = if curves.marks_held {
        ", held"
    } else {
        ", released"
    };
    for (letter, mark) in [("P peak", &curves.peak), ("V valley", &curves.valley)] {
        row(
            out,
            None,
            &format!(
                "{letter} {} at {}{of}",
                units.signed(mark.deviation),
                angle(mark.degrees)
            ),
        );
    }
    if let Some(zone) = &curves.zone {
        let line = (ZONE, polar::ZONE_DASH, 1.4);
        row(
            out,
            zone.drawn.then_some(line),
            &format!(
                "Zone of {} radial: {}{}",
                units.small(zone.width),
                if zone.met { "met" } else { "NOT MET" },
                if zone.drawn {
                    ""
                } else {
                    "; wider than the plot"
                }
            ),
        );
        row(
            out,
            None,
            &format!(
                "released, minimum zone: {}",
                units.small(curves.minimum_zone)
            ),
        );
    }
}

fn footer(out: &mut String, document: &ResultDocument, bodies: &[Contact]) {
    let mut schemes: Vec<String> = Vec::new();
    for (c, label) in bodies.iter().zip(labels(bodies)) {
        if label.ends_with('1') && c.body == 1 {
            schemes.push(format!("{label} ... = {}", c.scheme));
        }
    }
    let names = if schemes.len() > 1 {
        format!("{}. ", schemes.join(", "))
    } else {
        String::new()
    };
    let sha: String = document.case.sha256.chars().take(12).collect();
    let commit: String = document.program.commit.chars().take(12).collect();
    text(
        out,
        30.0,
        HEIGHT - 18.0,
        "start",
        13,
        FAINT,
        false,
        &format!(
            "{names}ringwright {}, commit {}{}. Computed shape, unfiltered; mesh error and cautions stand in result.json.",
            document.program.version,
            commit,
            if sha.is_empty() {
                String::new()
            } else {
                format!(", case {sha}")
            }
        ),
    );
}

/// Everything that presses on the part: bodies, and dead loads, which load all of their arcs.
fn bodies(held: &HeldState) -> Vec<Contact> {
    let dead = held.loads.iter().map(|load| Contact {
        scheme: load.scheme.clone(),
        called: load.called.clone(),
        body: load.number,
        angle_deg: load.angle_deg,
        surface: load.surface,
        half_angle_deg: load.half_angle_deg,
        force: load.force,
        approach: 0.0,
        pressure_integral: load.force,
        pressure: Vec::new(),
        peak_pressure: None,
        edge_force_per_length: None,
        arcs: vec![[
            load.angle_deg - load.half_angle_deg,
            load.angle_deg + load.half_angle_deg,
        ]],
        gap: 0.0,
        round: false,
        set_force: Some(load.force),
    });
    held.contacts.iter().cloned().chain(dead).collect()
}

/// How a body lies on the drawing: a sleeve between the part and the bodies of its scheme.
#[derive(Clone, Copy, PartialEq)]
enum Layer {
    Alone,
    Sleeve,
    OnSleeve,
}

fn layer(body: &Contact, bodies: &[Contact]) -> Layer {
    let sleeved = bodies
        .iter()
        .any(|b| b.scheme == body.scheme && b.round != body.round);
    match (sleeved, body.round) {
        (false, _) => Layer::Alone,
        (true, true) => Layer::Sleeve,
        (true, false) => Layer::OnSleeve,
    }
}

/// What each body is called on the drawing: its number, after a letter where several schemes act together; nothing for a sleeve,
/// which is seen for what it is.
fn labels(bodies: &[Contact]) -> Vec<String> {
    let mut schemes: Vec<&str> = Vec::new();
    for c in bodies {
        if !schemes.contains(&c.scheme.as_str()) {
            schemes.push(&c.scheme);
        }
    }
    bodies
        .iter()
        .map(|c| {
            if layer(c, bodies) == Layer::Sleeve {
                return String::new();
            }
            if schemes.len() < 2 {
                return c.body.to_string();
            }
            let at = schemes.iter().position(|s| *s == c.scheme).unwrap_or(0);
            let letter = char::from(b'A' + (at % 26) as u8);
            format!("{letter}{}", c.body)
        })
        .collect()
}

fn capital(surface: Surface) -> &'static str {
    match surface {
        Surface::Outer => "Outside",
        Surface::Bore => "Bore",
    }
}

#[allow(clippy::too_many_arguments)]
fn text(
    out: &mut String,
    x: f64,
    y: f64,
    anchor: &str,
    size: u32,
    colour: &str,
    bold: bool,
    words: &str,
) {
    let weight = if bold { " font-weight=\"bold\"" } else { "" };
    let _ = writeln!(
        out,
        "<text x=\"{x:.1}\" y=\"{y:.1}\" text-anchor=\"{anchor}\" font-size=\"{size}\" fill=\"{colour}\"{weight}>{}</text>",
        escape(words)
    );
}

/// A body's number in a disc, legible on any ground.
fn badge(out: &mut String, x: f64, y: f64, label: &str) {
    let wide = 8.0 + 3.5 * label.chars().count() as f64;
    let _ = writeln!(
        out,
        "<rect x=\"{:.1}\" y=\"{:.1}\" width=\"{:.1}\" height=\"20\" rx=\"10\" fill=\"#ffffff\" stroke=\"{JAW_EDGE}\"/>",
        x - wide,
        y - 10.0,
        2.0 * wide
    );
    text(out, x, y + 5.0, "middle", 14, INK, true, label);
}

/// First `most` characters, with an ellipsis if some were left out.
fn shorten(words: &str, most: usize) -> String {
    if words.chars().count() <= most {
        return words.to_owned();
    }
    let mut short: String = words.chars().take(most - 1).collect();
    short.push('\u{2026}');
    short
}

/// Text safe inside XML: the five special characters as entities, characters that XML 1.0 forbids replaced.
fn escape(words: &str) -> String {
    let mut safe = String::with_capacity(words.len());
    for c in words.chars() {
        match c {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            '\t' | '\n' | '\r' => safe.push(' '),
            c if c < ' ' || c == '\u{fffe}' || c == '\u{ffff}' => safe.push('\u{fffd}'),
            c => safe.push(c),
        }
    }
    safe
}

#[cfg(test)]
mod tests;
