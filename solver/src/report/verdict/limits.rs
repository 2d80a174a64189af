//! A limit held against the finished part, in words.

use crate::case::Case;
use crate::geometry::Surface;
use crate::judge::{Limit, LimitKind, reads_diameters};
use crate::metrology::Gauge;
use crate::report::along;
use crate::report::document::{LimitDocument, StepDocument};
use crate::report::units::Units;
use crate::scheme::UNIT_FORCE;

/// As `result.json` has it.
pub(super) fn document(limit: &Limit) -> LimitDocument {
    LimitDocument {
        surface: limit.surface,
        limit: limit.kind.name(),
        allowed: limit.allowed,
        found: limit.found,
        over: limit.over(),
        under: limit.under(),
        used: limit.used(),
        z: limit.z,
        cut_in_step: limit.cut_in_step.map(|k| k + 1),
        missed_on: limit.passed_by.iter().map(ToString::to_string).collect(),
    }
}

/// Share of a limit within which a figure is shown with more places.
const NEAR: f64 = 0.05;

/// What a limit is held against.
#[derive(Clone, Copy, Debug)]
pub(super) enum Against {
    /// What comes out.
    Part,
    /// What would come out of a part that yields, if it did not.
    Yielding,
    /// What comes out at a unit force, as the force is not known.
    UnitForce,
}

impl Against {
    /// Whether the limit is met, in words.
    fn says(self, met: bool) -> String {
        match (self, met) {
            (Against::Part, true) => "in tolerance".into(),
            (Against::Yielding, true) => {
                "inside this limit only as computed, as if it did not yield".into()
            }
            (Against::Part, false) => "OUT OF TOLERANCE".into(),
            (Against::Yielding, false) => {
                "OUT OF TOLERANCE, computed as if it did not yield".into()
            }
            (Against::UnitForce, met) => {
                let side = if met { "inside" } else { "outside" };
                format!("{side} this limit at {UNIT_FORCE} N each, the force being unknown")
            }
        }
    }
}

/// One limit in words.
pub(super) fn judged(
    case: &Case,
    steps: &[StepDocument],
    limit: &Limit,
    against: Against,
    units: Units,
) -> String {
    let sized = limit.kind.is_size();
    let error = error(case, steps, limit);
    let within = |mm: f64, error: Option<f64>| {
        if sized {
            units.size_within(mm, error)
        } else {
            units.small_within(mm, error)
        }
    };
    let shown = |mm: f64| within(mm, None);
    let [low, high] = limit.found.map(|mm| within(mm, error));
    let found = if low == high {
        low
    } else {
        format!("{low} to {high}")
    };
    let most = limit.allowed[1];
    // a figure near its limit is not to look like it
    let near =
        !sized && limit.found[0] == limit.found[1] && (limit.found[1] - most).abs() < NEAR * most;
    let (found, most) = match near {
        true => units.small_apart([limit.found[1], most]).into(),
        false => (found, shown(most)),
    };
    let allowed = if sized {
        format!("allowed {} to {most}", shown(limit.allowed[0]))
    } else if limit.kind == LimitKind::Roundness {
        format!("zone {most} radial")
    } else {
        format!("allowed {most}")
    };
    let step = limit.cut_in_step.filter(|_| steps.len() > 1);
    let mut words = format!(
        "The {}{} is {}: {} after release {found}, {allowed}",
        limit.surface.in_words(),
        step.map_or(String::new(), |k| format!(", cut in step {},", k + 1)),
        against.says(limit.is_met()),
        about(case, limit) + &place(steps, limit, units),
    );
    for (by, which) in [(limit.above(), "over"), (limit.under(), "under")] {
        if by > 0.0 {
            words.push_str(&format!(", {which} by {}", units.small_within(by, error)));
        }
    }
    if let Some(off) = too_close(limit, error) {
        words.push_str(&format!(
            "; too close to call, since the mesh alone may be off by {}",
            units.small(off)
        ));
    }
    words.push('.');
    if !limit.passed_by.is_empty() {
        let judged = |g: &Gauge| match reads_diameters(*g) {
            true => format!("{g} (half its movement)"),
            false => g.to_string(),
        };
        let gauges: Vec<String> = limit.passed_by.iter().map(judged).collect();
        words.push_str(&format!(" Would pass on: {}.", gauges.join(", ")));
    }
    words
}

/// The error, mm, if it hides on which side of its limit a figure is.
fn too_close(limit: &Limit, error: Option<f64>) -> Option<f64> {
    let [low, high] = limit.found;
    let upper = (high - limit.allowed[1]).abs();
    // a zone has no lower limit
    let near = match limit.kind.is_size() {
        true => upper.min((low - limit.allowed[0]).abs()),
        false => upper,
    };
    error.filter(|off| *off > 0.0 && near <= *off)
}

/// Estimated error of what is held against a limit, mm; `None` where a step was not judged by a second mesh.
fn error(case: &Case, steps: &[StepDocument], limit: &Limit) -> Option<f64> {
    if limit.error.is_some() {
        return limit.error;
    }
    let last = steps.last()?;
    let released = &last.released;
    let shape = match limit.surface {
        Surface::Outer => released.outer.error,
        Surface::Bore => released.bore.error,
    };
    match limit.kind {
        LimitKind::Roundness => {
            let cut_by = limit.cut_in_step.and_then(|k| steps.get(k));
            let driving = cut_by.and_then(|s| s.estimate.absolute_error);
            let about = case
                .roundness_limit(limit.surface)
                .map(|wanted| wanted.about);
            let read = last.gauges.released.get(limit.surface);
            let own = read.about(about.unwrap_or_default()).and_then(|c| c.error);
            [driving, own].into_iter().flatten().reduce(f64::max)
        }
        // a diameter moves by what both its ends do
        LimitKind::Diameter => shape.map(|e| 2.0 * e.radius),
        LimitKind::AverageDiameter => *released.average_diameter_error.get(limit.surface),
        LimitKind::WallVariation => released.wall.error.map(|e| 2.0 * e),
        LimitKind::Runout => *released.runout_error.get(limit.surface),
    }
}

/// Where on a tube the section lies that limits are held against.
fn place(steps: &[StepDocument], limit: &Limit, units: Units) -> String {
    let place = |step, z| along::place(step, z, units);
    let section = steps.last().zip(limit.z).and_then(|(s, z)| place(s, z));
    section.map_or(String::new(), |at| format!(" {at}"))
}

/// What a limit is about, in words: circle and filter of a surface's own roundness.
fn about(case: &Case, limit: &Limit) -> String {
    match limit.kind {
        LimitKind::Roundness => match case.roundness_limit(limit.surface) {
            Some(wanted) if wanted.own => {
                let filter = wanted.about.cut_off.map_or("unfiltered".to_owned(), |f| {
                    format!("Gaussian filter {f} undulations per revolution")
                });
                format!("roundness ({}, {filter})", wanted.about.circle.name())
            }
            _ => "roundness".into(),
        },
        LimitKind::Diameter => "two-point diameter".into(),
        LimitKind::AverageDiameter => "average diameter".into(),
        LimitKind::WallVariation => "wall variation".into(),
        LimitKind::Runout => {
            let other = limit.surface.other().in_words();
            format!("runout about the axis of the {other}")
        }
    }
}
