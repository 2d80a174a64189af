//! Every limit of the case held against the finished part, as the last step leaves it.

use crate::case::Case;
use crate::geometry::Surface;
use crate::report::document::{LimitDocument, StepDocument};
use crate::report::units::Units;

/// The limits that apply, outside before bore.
pub(super) fn limits(case: &Case, last: &StepDocument) -> Vec<LimitDocument> {
    let mut limits: Vec<LimitDocument> = Surface::BOTH
        .into_iter()
        .flat_map(|s| on_surface(case, last, s))
        .collect();
    for limit in &mut limits {
        limit.cut_in_step = case.last_to_cut(limit.surface).map(|k| k + 1);
    }
    limits
}

fn on_surface(case: &Case, last: &StepDocument, surface: Surface) -> Vec<LimitDocument> {
    let own = case.tolerance.surfaces.get(surface);
    let read = last.gauges.released.get(surface);
    let zone = |name, found: f64, most: f64| limit(surface, name, [0.0, most], [found; 2]);
    let mut limits = Vec::new();
    // a circle that is not known judges nothing; the document says so
    if let Some(wanted) = case.roundness_limit(surface)
        && let Some(circle) = read.about(wanted.about)
    {
        let mut limit = zone("roundness", circle.roundness, wanted.most);
        if !limit.is_met() {
            limit.missed_on = read
                .readings
                .iter()
                .filter(|r| {
                    r.range
                        .is_some_and(|range| judged_on(&r.gauge, range) <= wanted.most)
                })
                .map(|r| r.gauge.clone())
                .collect();
        }
        limits.push(limit);
    }
    if let (Some(allowed), Some(min), Some(max)) =
        (own.diameter, read.two_point.min, read.two_point.max)
    {
        limits.push(limit(surface, "diameter", allowed, [min, max]));
    }
    if let Some(allowed) = own.average_diameter {
        let found = *last.released.average_diameter.get(surface);
        limits.push(limit(surface, "average_diameter", allowed, [found; 2]));
    }
    if let Some(most) = own.wall_variation {
        let wall = &last.released.wall;
        limits.push(zone("wall_variation", wall.max - wall.min, most));
    }
    if let Some(most) = own.runout {
        limits.push(zone("runout", *last.released.runout.get(surface), most));
    }
    limits
}

fn limit(
    surface: Surface,
    limit: &'static str,
    allowed: [f64; 2],
    found: [f64; 2],
) -> LimitDocument {
    LimitDocument {
        surface,
        limit,
        allowed,
        found,
        over: (found[1] - allowed[1]).max(allowed[0] - found[0]).max(0.0),
        under: (allowed[0] - found[0]).max(0.0),
        cut_in_step: None,
        missed_on: Vec::new(),
    }
}

/// What a shop holds against a radial zone: half the movement of a gauge that reads diameters, the whole movement of an indicator about
/// the axis or in a V-block. Common practice, no source.
fn judged_on(gauge: &str, movement: f64) -> f64 {
    if reads_diameters(gauge) {
        0.5 * movement
    } else {
        movement
    }
}

/// Whether a gauge, as it is called in the readings, reads a diameter.
fn reads_diameters(gauge: &str) -> bool {
    use crate::metrology::Gauge::{Plate, ThreePoint, TwoPoint};
    [TwoPoint, ThreePoint, Plate]
        .iter()
        .any(|g| g.to_string() == gauge)
}

/// One limit in words; `yields`: the part does, so it may keep a set.
pub(super) fn judged(
    case: &Case,
    steps: &[StepDocument],
    limit: &LimitDocument,
    yields: bool,
    units: Units,
) -> String {
    let sized = limit.limit.ends_with("diameter");
    let shown = |mm: f64| {
        if sized {
            units.size(mm)
        } else {
            units.small(mm)
        }
    };
    let [low, high] = limit.found;
    let found = if shown(low) == shown(high) {
        shown(low)
    } else {
        format!("{} to {}", shown(low), shown(high))
    };
    let allowed = if sized {
        let [low, high] = limit.allowed;
        format!("allowed {} to {}", shown(low), shown(high))
    } else if limit.limit == "roundness" {
        format!("zone {} radial", shown(limit.allowed[1]))
    } else {
        format!("allowed {}", shown(limit.allowed[1]))
    };
    let step = limit.cut_in_step.filter(|_| steps.len() > 1);
    let mut words = format!(
        "The {}{} is {}: {} after release {found}, {allowed}",
        limit.surface.in_words(),
        step.map_or(String::new(), |n| format!(", cut in step {n},")),
        match (limit.is_met(), yields) {
            (true, false) => "in tolerance",
            (true, true) => "inside this limit only as computed, as if it did not yield",
            (false, false) => "OUT OF TOLERANCE",
            (false, true) => "OUT OF TOLERANCE, computed as if it did not yield",
        },
        about(case, limit),
    );
    for (by, which) in [(limit.above(), "over"), (limit.under, "under")] {
        if by > 0.0 {
            words.push_str(&format!(", {which} by {}", units.small(by)));
        }
    }
    let cut_by = limit.cut_in_step.and_then(|n| steps.get(n - 1));
    if limit.limit == "roundness"
        && let Some(error) = cut_by.and_then(|s| s.estimate.absolute_error)
        && (high - limit.allowed[1]).abs() <= error
    {
        words.push_str(&format!(
            "; too close to call, since the mesh alone may be off by {}",
            units.small(error)
        ));
    }
    words.push('.');
    if !limit.missed_on.is_empty() {
        let judged = |g: &String| match reads_diameters(g) {
            true => format!("{g} (half its movement)"),
            false => g.clone(),
        };
        let gauges: Vec<String> = limit.missed_on.iter().map(judged).collect();
        words.push_str(&format!(" Would pass on: {}.", gauges.join(", ")));
    }
    words
}

/// What a limit is about, in words: circle and filter of a surface's own roundness.
fn about(case: &Case, limit: &LimitDocument) -> String {
    match limit.limit {
        "roundness" => match case.roundness_limit(limit.surface) {
            Some(wanted) if wanted.own => {
                let filter = wanted.about.cut_off.map_or("unfiltered".to_owned(), |f| {
                    format!("Gaussian filter {f} undulations per revolution")
                });
                format!("roundness ({}, {filter})", wanted.about.circle.name())
            }
            _ => "roundness".into(),
        },
        "diameter" => "two-point diameter".into(),
        "average_diameter" => "average diameter".into(),
        "wall_variation" => "wall variation".into(),
        _ => {
            let other = limit.surface.other().in_words();
            format!("runout about the axis of the {other}")
        }
    }
}
