//! Every limit of the case held against the part as the last step leaves it.

use crate::case::Case;
use crate::geometry::Surface;
use crate::report::document::{LimitDocument, StepDocument};

/// The limits that apply, outside before bore.
pub(super) fn limits(case: &Case, last: &StepDocument) -> Vec<LimitDocument> {
    Surface::BOTH
        .into_iter()
        .flat_map(|s| on_surface(case, last, s))
        .collect()
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
                .filter(|r| r.range.is_some_and(|range| range <= wanted.most))
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
        missed_on: Vec::new(),
    }
}

/// What a limit is about, in words: circle and filter of a surface's own roundness.
pub(super) fn about(case: &Case, limit: &LimitDocument) -> String {
    match limit.limit {
        "roundness" => match case.roundness_limit(limit.surface) {
            Some(wanted) if wanted.own => {
                let filter = wanted.about.cut_off.map_or("unfiltered".to_owned(), |f| {
                    format!("Gaussian filter {f} undulations a turn")
                });
                format!("roundness ({}, {filter})", wanted.about.circle.name())
            }
            _ => "roundness".into(),
        },
        "diameter" => "two-point diameter".into(),
        "average_diameter" => "average diameter".into(),
        "wall_variation" => "wall variation".into(),
        _ => {
            let other = match limit.surface {
                Surface::Outer => "bore",
                Surface::Bore => "outside",
            };
            format!("runout about the axis of the {other}")
        }
    }
}
