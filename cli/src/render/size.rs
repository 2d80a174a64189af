//! A sized jaw in words: what to bore, what it leaves, how far each number may be off.

use ringwright_solver::case::Case;
use ringwright_solver::case::quantity::LBF_N;
use ringwright_solver::report::Units;
use ringwright_solver::report::grip::{CAUTIONS, safety};
use ringwright_solver::report::units::{MM_PER_INCH, percent};
use ringwright_solver::size::{Free, Limit, SizeDocument, SizeTask, Sized, Way};

use super::drawing;
use super::summary::{one_line, wrapped};

/// The whole answer.
pub(crate) fn summary(
    case: &Case,
    task: &SizeTask,
    sized: &Sized,
    document: &SizeDocument,
    units: Units,
) -> String {
    let mut text = wrapped("", &one_line(&case.title));
    text += &wrapped("", &verdict(task, sized, units));
    for (k, free) in task.free.iter().enumerate() {
        text += &wrapped("  ", &line(free, sized, k, units));
    }
    let (worst, nominal) = (&sized.worst, &sized.nominal);
    let mut leaves = format!(
        "Leaves {} of roundness as drawn",
        units.small(nominal.roundness)
    );
    if !task.spread.is_empty() {
        leaves += &match sized.most.1 {
            Limit::NoAnswer => ", and has no answer somewhere in the spread".to_owned(),
            _ => format!(
                ", {} at the worst of the spread",
                units.small(worst.roundness)
            ),
        };
    }
    leaves += &format!(
        "; the jaws close {} past first touch at most.",
        units.small(worst.approach)
    );
    text += &wrapped("  ", &leaves);
    for (path, cost) in &sized.cost {
        let spread = task.spread.iter().find(|s| s.path == *path);
        let bears = sized.bears.iter().find(|(p, _)| p == path).map(|(_, b)| *b);
        let (Some(spread), Some(bears)) = (spread, bears) else {
            continue;
        };
        let off = |x: f64| match spread.unit.as_str() {
            "" if is_length(path) => units.small(if units.inch { x * MM_PER_INCH } else { x }),
            unit => value(path, x, unit, units),
        };
        let may = match bears {
            b if b >= 4.0 * spread.by * (1.0 - 1e-9) => {
                format!("it may be off by {} and more", off(4.0 * spread.by))
            }
            b if b > 0.0 => format!("it may be off by {}", off(down(b))),
            _ => "it may not be off at all".to_owned(),
        };
        text += &wrapped(
            "  ",
            &format!(
                "{} off by {} {}; {may}.",
                spread.path,
                off(spread.by),
                cost.map_or("leaves no answer".to_owned(), |c| format!(
                    "costs {}",
                    units.small(c)
                ))
            ),
        );
    }
    if sized.most.1 != Limit::NoAnswer {
        text += &wrapped("  ", &limits(sized));
    }
    text += &match sized.feasible {
        true => drawing::lines(&sized.drawing, units),
        false => wrapped(
            "  ",
            "No drawing of these jaws: they do not meet every limit.",
        ),
    };
    for line in document.cautions.iter().filter(|c| *c != CAUTIONS) {
        text += &wrapped("  ", &format!("Caution: {line}"));
    }
    let way = match sized.way {
        Way::Grid => "on a grid",
        Way::Evolution => "by an evolution strategy, then on a grid round what it found",
    };
    let confirmed = match sized.confirmed {
        true => "; no neighbour of this point is better on the finest grid",
        false => "",
    };
    text += &wrapped(
        "  ",
        &format!("{} cases solved, {way}{confirmed}.", sized.solved),
    );
    text + &wrapped("", CAUTIONS)
}

fn verdict(task: &SizeTask, sized: &Sized, units: Units) -> String {
    let hold = one_line(&task.hold);
    match sized.feasible {
        true => format!("Hold \"{hold}\": every limit that is known is met over the spread, with"),
        false if sized.most.1 == Limit::NoAnswer => {
            format!(
                "Hold \"{hold}\": NO SIZE meets the limits: over the spread the part comes loose, is cut through or has no answer. The nearest is"
            )
        }
        false => format!(
            "Hold \"{hold}\": NO SIZE between the bounds meets every limit over the spread. The nearest, which uses up {} of the limit of {} ({} at the worst), is",
            percent(sized.most.0),
            sized.most.1.name(),
            units.small(sized.worst.roundness)
        ),
    }
}

/// A free key: what to make it, and between which values it may be.
fn line(free: &Free, sized: &Sized, key: usize, units: Units) -> String {
    let shown = |x: f64| value(&free.path, x, &free.unit, units);
    let window = sized.window[key].map_or(String::new(), |[low, high]| {
        let why = |by: Limit| match by {
            Limit::Bound => "as far as was asked".to_owned(),
            Limit::Slip => "slip, with the guideline's 1.5".to_owned(),
            by => by.name().to_owned(),
        };
        format!(
            "; from {} ({}) to {} ({})",
            shown(low.at),
            why(low.by),
            shown(high.at),
            why(high.by)
        )
    });
    format!("{} = {}{window}", free.path, shown(sized.best[key]))
}

/// The value of a key as it is read: plain lengths and forces with their units, those of the file first.
fn value(path: &str, x: f64, unit: &str, units: Units) -> String {
    let key = path.rsplit('.').next().unwrap_or(path);
    match unit {
        "" if is_length(path) => units.size(if units.inch { x * MM_PER_INCH } else { x }),
        "" if key.ends_with("force") => units.set_force(if units.inch { x * LBF_N } else { x }),
        unit => typed(x, unit),
    }
}

/// Whether a key is a length by its name.
fn is_length(path: &str) -> bool {
    let key = path.rsplit('.').next().unwrap_or(path);
    ["diameter", "width", "length", "gap", "radius", "thickness"]
        .iter()
        .any(|l| key.ends_with(l))
}

/// A value with its unit, to five figures.
fn typed(x: f64, unit: &str) -> String {
    let five: f64 = format!("{x:.4e}").parse().unwrap_or(x);
    match unit {
        "" => five.to_string(),
        unit => format!("{five} {unit}"),
    }
}

/// Two figures, rounded down: nobody is told more than was found.
pub(super) fn down(x: f64) -> f64 {
    let unit = 10_f64.powf(x.abs().max(1e-12).log10().floor() - 1.0);
    let rounded = unit * (x / unit + 1e-9).floor();
    format!("{rounded:.3e}").parse().unwrap_or(rounded)
}

/// How much of each limit is used up.
fn limits(sized: &Sized) -> String {
    let used = &sized.worst;
    let mut all = Vec::new();
    let mut add = |name: &str, share: Option<f64>| {
        all.extend(share.map(|s| format!("{name} {}", percent(s))));
    };
    add("tolerance", used.tolerance);
    add("marking", used.marking);
    add("yield", used.yields);
    let slip = match used.safety {
        Some(s) => format!(
            "; safety against slip {} (the guideline asks for 1.5)",
            safety(s)
        ),
        None => "; slip NOT CHECKED".to_owned(),
    };
    let chuck = if used.chuck {
        "; A LIMIT OF THE CHUCK IS PASSED"
    } else {
        ""
    };
    format!(
        "Used up at the worst of the spread: {}{slip}{chuck}.",
        all.join(", ")
    )
}
