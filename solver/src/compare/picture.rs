//! `compare.svg`: the released shapes of all holds.

use super::{Compared, Found};
use crate::geometry::Surface;
use crate::judge::LimitKind;
use crate::report::grip::{CAUTIONS, safety};
use crate::report::svg::{Panel, compared};
use crate::report::units::{Units, percent};

/// The picture.
pub fn picture(compared_holds: &Compared, title: &str, units: Units) -> String {
    let step = compared_holds.step;
    let panels: Vec<Panel> = compared_holds
        .rows
        .iter()
        .enumerate()
        .map(|(k, row)| match &row.found {
            Ok(found) => panel(k, &row.hold, found, step, units),
            Err(why) => Panel {
                heading: format!("\"{}\"", row.hold),
                words: vec![format!("No answer: {why}")],
                shapes: Vec::new(),
                zone: None,
            },
        })
        .collect();
    let notes = [
        format!(
            "Released shapes of what step {} cuts, under every hold of the file: the best first, by tolerance, then by safety. The dashed circle is midway between the two of the \
             minimum zone; dotted: the roundness zone.",
            step + 1
        ),
        "Of two surfaces the outside is dashed.".to_owned(),
    ];
    let both = panels.iter().any(|p| p.shapes.len() > 1);
    let notes = if both { &notes[..] } else { &notes[..1] };
    compared(title, notes, &panels, CAUTIONS, units)
}

fn panel<'a>(rank: usize, hold: &str, found: &'a Found, step: usize, units: Units) -> Panel<'a> {
    let told = &found.document.steps[step];
    let verdict = &found.document.verdict;
    let cut = told.surfaces_cut();
    let of = if cut.is_empty() {
        Surface::BOTH.to_vec()
    } else {
        cut
    };
    let mut shapes: Vec<(Surface, &[f64], _)> = of
        .iter()
        .map(|&s| {
            let radii = found.outcome.steps[step].released.get(s).as_slice();
            (s, radii, told.released_shape(s))
        })
        .collect();
    shapes.sort_by_key(|(s, ..)| *s == Surface::Outer);
    let judged = match verdict.in_tolerance {
        Some(true) => ": in tolerance",
        Some(false) => ": OUT OF TOLERANCE",
        None => "",
    };
    let mut words: Vec<String> = verdict.headlines.iter().map(|h| (*h).to_owned()).collect();
    for (surface, _, shape) in &shapes {
        let error = shape.error.map(|e| e.roundness);
        words.push(format!(
            "{}: roundness {}",
            surface.in_words(),
            units.small_within(shape.roundness_minimum_zone, error)
        ));
    }
    if verdict.headlines.is_empty()
        && let Some(least) = told.grip.slip_safety
    {
        words.push(format!(
            "safety against slip {} at the least",
            safety(least)
        ));
    }
    if let Some(worst) = verdict.worst_stress.and_then(|w| w.stress.yield_margin) {
        words.push(format!("stress {} of yield", percent(1.0 / (1.0 + worst))));
    }
    let limits = verdict.limits.iter();
    let first = shapes.first().map(|(s, ..)| *s);
    let zone = limits
        .filter(|l| l.limit == LimitKind::Roundness.name() && Some(l.surface) == first)
        .map(|l| l.allowed[1])
        .next();
    Panel {
        heading: format!("{}. \"{hold}\"{judged}", rank + 1),
        words,
        shapes,
        zone,
    }
}
