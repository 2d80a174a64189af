//! The figures under a polar plot, each beside a sample of its line or mark.

use super::curves::{Curves, Limit};
use super::scale::Scale;
use super::sheet::{Font, INK, Sheet, path, wrap};
use super::{HELD, LIMIT, LOW_SPOT_COLOUR, RELEASED, marks, polar};
use crate::report::units::{Units, angle_within, percent_within};

const FONT: Font = Font::plain(14.0);
/// From the left of the column to the samples and to the words.
const SAMPLE: f64 = 30.0;
const WORDS: f64 = 88.0;
/// Room for the words, pixels.
const WIDE: f64 = 540.0;
/// From one line to the next.
const LINE: f64 = 20.0;

/// What stands before a row.
enum Sample {
    Nothing,
    /// A line: colour, dashes, width.
    Line(&'static str, &'static str, f64),
    /// A triangle that points along these degrees.
    Triangle(f64, &'static str),
    Cross,
    /// The length of one division of the polar plot.
    Division(f64),
}

struct Row {
    sample: Sample,
    lines: Vec<String>,
}

fn row(sample: Sample, words: &str) -> Row {
    Row {
        sample,
        lines: wrap(words, FONT, WIDE, 4),
    }
}

/// Writes the rows below `top` and returns where they end.
pub(super) fn draw(
    sheet: &mut Sheet,
    (left, top): (f64, f64),
    curves: &Curves,
    scale: &Scale,
    units: Units,
) -> f64 {
    let mut y = top + LINE;
    for row in rows(curves, scale, units) {
        sample(sheet, left + SAMPLE, y - 5.0, &row.sample);
        y = sheet.lines(left + WORDS, y, FONT, &row.lines, LINE);
    }
    y - LINE + 6.0
}

fn sample(sheet: &mut Sheet, x: f64, y: f64, sample: &Sample) {
    let middle = [x + 23.0, y];
    match *sample {
        Sample::Nothing => {}
        Sample::Line(colour, dash, width) => sheet.put(format_args!(
            "<path d=\"{}\" stroke=\"{colour}\" stroke-width=\"{width}\" stroke-dasharray=\"{dash}\"/>",
            path(&[[x, y], [x + 46.0, y]], false)
        )),
        Sample::Triangle(degrees, colour) => marks::triangle(sheet, middle, degrees, colour),
        Sample::Cross => marks::cross(sheet, middle),
        Sample::Division(long) => {
            let (from, to) = (middle[0] - 0.5 * long, middle[0] + 0.5 * long);
            let ends = [from, to].map(|e| path(&[[e, y - 5.0], [e, y + 5.0]], false));
            sheet.put(format_args!(
                "<path d=\"{}{}{}\" stroke=\"{INK}\"/>",
                path(&[[from, y], [to, y]], false),
                ends[0],
                ends[1]
            ));
        }
    }
}

fn rows(curves: &Curves, scale: &Scale, units: Units) -> Vec<Row> {
    let held = if curves.cut.is_some() {
        "Held, before the cut"
    } else {
        "Held"
    };
    let mut rows = Vec::new();
    for (state, line, roundness, lobes, error) in [
        (
            held,
            Sample::Line(HELD, polar::HELD_DASH, 2.2),
            curves.held_roundness,
            curves.held_lobes,
            curves.held_error,
        ),
        (
            "Released",
            Sample::Line(RELEASED, "none", 2.2),
            curves.released_roundness,
            curves.released_lobes,
            curves.released_error,
        ),
    ] {
        let shown = units.small_within(roundness, error.map(|e| e.roundness));
        rows.push(row(line, &format!("{state}: roundness {shown}")));
        if let Some((count, amplitude)) = lobes {
            // the sign before it is that of the lobes: no error may stand beside it
            let shown = units.small_in_column(amplitude, error.map(|e| e.harmonics));
            let words = format!("strongest: {count} lobes, \u{b1}{shown}");
            rows.push(row(Sample::Nothing, &words));
        }
    }
    let (state, colour) = if curves.marks_held {
        ("held", HELD)
    } else {
        ("released", RELEASED)
    };
    if curves.is_marked() {
        let words = format!("Minimum zone of the {state} shape: circles its roundness apart");
        rows.push(row(Sample::Line(colour, "none", 0.8), &words));
    }
    for (name, mark, degrees) in [
        ("Peak", &curves.peak, 90.0),
        ("Valley", &curves.valley, -90.0),
    ]
    .into_iter()
    .filter(|_| curves.is_marked())
    {
        let words = format!(
            "{name} of the {state} shape: {} at {}",
            units.signed_within(mark.deviation, curves.mark_error()),
            angle_within(mark.degrees, mark.within)
        );
        rows.push(row(Sample::Triangle(degrees, colour), &words));
    }
    rows.extend(curves.limit.iter().map(|l| limit(l, units)));
    rows.extend(not_clean(curves, units));
    if let Some((_, words)) = &curves.yields {
        rows.push(row(Sample::Cross, words));
    }
    let words = format!(
        "One division: {}; deviations drawn \u{d7}{}",
        units.small(scale.division),
        scale.factor(curves.radius)
    );
    let division = scale.division * scale.pixels();
    rows.push(row(Sample::Division(division), &words));
    rows
}

fn limit(limit: &Limit, units: Units) -> Row {
    let about = if limit.about.is_empty() {
        String::new()
    } else {
        format!(
            " ({}): {} found",
            limit.about,
            units.small_within(limit.found, limit.error)
        )
    };
    let met = if limit.met { "met" } else { "NOT MET" };
    let (sample, wide) = if limit.drawn {
        (Sample::Line(LIMIT, polar::LIMIT_DASH, 1.4), "")
    } else if limit.about.is_empty() {
        (Sample::Nothing, "; wider than the plot")
    } else {
        (Sample::Nothing, "; not drawn")
    };
    let words = format!(
        "Roundness zone of {} radial{about}: {met}{wide}",
        units.small(limit.width)
    );
    row(sample, &words)
}

fn not_clean(curves: &Curves, units: Units) -> Option<Row> {
    let cut = curves.cut.as_ref().filter(|c| c.cleaned_up < 1.0)?;
    // rounding must not turn a low spot into a clean surface
    let untouched = (1.0 - cut.cleaned_up).max(0.01);
    let words = format!(
        "DID NOT CLEAN UP: {} of the way round untouched (grey), low by up to {} on the diameter",
        percent_within(untouched, cut.error.map(|e| e.cleaned_up)),
        units.small_within(
            cut.stock_to_clean_up,
            cut.error.map(|e| e.stock_to_clean_up)
        )
    );
    Some(row(Sample::Line(LOW_SPOT_COLOUR, "none", 6.0), &words))
}
