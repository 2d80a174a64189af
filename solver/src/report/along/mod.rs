//! A tube along its length in words: which section the figures of a step are of, how round it is from end to end, where it is gripped, what
//! the cuts leave, and what end plates do.

mod cuts;
mod grip;
mod plates;
#[cfg(test)]
mod tests;

use super::document::{Shape, StepDocument, TubeDocument};
use super::units::Units;
use crate::case::{Case, Step};
use crate::geometry::Surface;

/// Most rows of a table of stations on the screen.
const ROWS: usize = 8;

/// Lengths below this are not worth a word, mm: a hundredth of a micrometre.
const NOTHING: f64 = 1e-5;

/// Widths of the columns of the table of stations: position, then outside and bore, held and released.
const POSITION: usize = 18;
const FIGURE: usize = 19;

/// Stands beside whatever is told of a grip along the part.
const PULL_OUT: &str = "whether the part pulls out or tilts is not checked: keep to the chuck maker's rules for grip length and overhang, \
     local codes and competent practice";

/// The same where the grip is estimated.
const PULL_OUT_ESTIMATED: &str = "whether the part pulls out or tilts is estimated below, and the chuck maker's rules for grip length and overhang, local codes and \
     competent practice come first";

/// The end that positions are counted from.
pub(super) fn origin(step: &StepDocument, tube: &TubeDocument) -> &'static str {
    let gripped = !(step.held.contacts.is_empty() && step.held.loads.is_empty());
    match (gripped && tube.plates.is_none(), tube.flipped) {
        (true, false) => "the gripped end",
        (true, true) => "the end away from the chuck",
        (false, false) => "the headstock end",
        (false, true) => "the tailstock end",
    }
}

/// Where the section lies that the figures of a step are of: `at 60.0 mm (2.362 in) from the gripped end`; `None` of a slice.
pub fn section(step: &StepDocument, units: Units) -> Option<String> {
    place(step, step.tube.as_ref()?.section, units)
}

/// A position along a tube in the same way.
pub fn place(step: &StepDocument, z: f64, units: Units) -> Option<String> {
    let tube = step.tube.as_ref()?;
    let at = units.position(z);
    Some(format!("at {at} from {}", origin(step, tube)))
}

/// The same as a sentence for the head of a step.
pub fn heading(step: &StepDocument, units: Units) -> Option<String> {
    let at = section(step, units)?;
    let of = if step.cuts.is_empty() {
        "the most out of round while held"
    } else {
        "the most out of round in what is cut"
    };
    Some(format!(
        "Shapes and wall below are of the section {at}, {of}; forces are of the whole part, and contact is told wherever along it"
    ))
}

/// How round the part is from end to end: lines of a table, a heading first; empty of a slice and without stations.
pub fn table(step: &StepDocument, units: Units) -> Vec<String> {
    let (Some(tube), Some(stations)) = (&step.tube, &step.stations) else {
        return Vec::new();
    };
    if stations.is_empty() {
        return Vec::new();
    }
    let last = stations.len() - 1;
    let rows: Vec<usize> = if last < ROWS {
        (0..=last).collect()
    } else {
        (0..ROWS)
            .map(|k| (k * last + (ROWS - 1) / 2) / (ROWS - 1))
            .collect()
    };
    let [length, small] = if units.inch {
        ["in (mm)", "thou (mm)"]
    } else {
        ["mm (in)", "mm (thou)"]
    };
    let mut lines = vec![
        format!(
            "Along the length: roundness (minimum zone), positions from {}",
            origin(step, tube)
        ),
        row("", ["outside", "", "bore", ""].map(str::to_owned)),
        row(
            "position",
            ["held", "released", "held", "released"].map(str::to_owned),
        ),
        row(length, [small; 4].map(str::to_owned)),
    ];
    lines.extend(rows.iter().map(|&k| {
        let station = &stations[k];
        let [held, released] = [&station.held, &station.released];
        let shapes = [&held.outer, &released.outer, &held.bore, &released.bore];
        let at = bare(&units.position(station.z));
        row(&at, shapes.map(|s| roundness(s, units)))
    }));
    if rows.len() < stations.len() {
        let more = stations.len() - rows.len();
        lines.push(format!("and {more} more in result.json and stations.csv"));
    }
    lines
}

fn row(first: &str, figures: [String; 4]) -> String {
    let mut line = format!("{first:<POSITION$}");
    for figure in figures {
        line += &format!("{figure:<FIGURE$}");
    }
    line.trim_end().to_owned()
}

/// A roundness for a column whose heading has the units.
fn roundness(shape: &Shape, units: Units) -> String {
    if shape.mean_radius == 0.0 {
        return "floor".into();
    }
    if shape.roundness_minimum_zone < NOTHING {
        return "round".into();
    }
    let error = shape.error.map(|e| e.roundness);
    bare(&units.small_in_column(shape.roundness_minimum_zone, error))
}

/// A figure without its units.
fn bare(figure: &str) -> String {
    [" mm", " thou", " in"]
        .iter()
        .fold(figure.to_owned(), |text, unit| text.replace(unit, ""))
}

/// Where the part is gripped along its length, what the cuts left along it, and what end plates do: a sentence a line. `asked` is the step as
/// the case has it.
pub fn lines(case: &Case, asked: &Step, step: &StepDocument, units: Units) -> Vec<String> {
    let Some(tube) = &step.tube else {
        return Vec::new();
    };
    let mut lines = grip::lines(step, tube, units);
    for (k, along) in tube.along.iter().enumerate() {
        let cone = asked
            .cuts
            .get(k)
            .is_some_and(|c| c.reach.end_diameter.is_some());
        lines.push(cuts::line(along, tube, cone, units));
    }
    if let Some(plates) = &tube.plates {
        lines.extend(plates::lines(
            plates,
            case.part.material.yield_strength,
            &cut_surfaces(step),
            units,
        ));
    }
    lines
}

/// How the part is held along its length, in short: where it is gripped and what is not checked of that, how it bulges between plates and
/// whether they hold it; a sentence a line.
pub(super) fn held(step: &StepDocument, units: Units) -> Vec<String> {
    let Some(tube) = &step.tube else {
        return Vec::new();
    };
    let mut lines = grip::lines(step, tube, units);
    if let Some(plates) = &tube.plates {
        lines.extend(plates::bulges(plates, &cut_surfaces(step), units));
        lines.extend((!plates.located).then(|| plates::SHIFTS.to_owned()));
    }
    lines
}

/// What has to be known of the grip in a step (from 0) of a tube.
pub(super) fn cautions(n: usize, step: &StepDocument, units: Units) -> Vec<String> {
    let Some(tube) = &step.tube else {
        return Vec::new();
    };
    grip::cautions(step, tube, units)
        .into_iter()
        .map(|words| format!("step {}: {words}", n + 1))
        .collect()
}

/// A surface with its article, as it stands in a sentence.
fn the(surface: Surface) -> String {
    format!("the {}", surface.in_words())
}

fn cut_surfaces(step: &StepDocument) -> Vec<Surface> {
    step.cuts.iter().map(|c| c.surface).collect()
}
