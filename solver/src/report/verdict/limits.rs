//! Every limit of the case held against the part as the last step leaves it.

use crate::case::{Case, ReferenceCircle, SurfaceTolerance};
use crate::geometry::Surface;
use crate::report::document::{
    CircleDocument, LimitDocument, ReadDocument, StepDocument, circle_name,
};

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
    // the general zone is for surfaces cut in the last step and means the minimum zone without a filter; a zone of the
    // surface's own takes its place
    let general = case
        .tolerance
        .roundness
        .filter(|_| last.surfaces_cut().contains(&surface));
    let roundness = match own.roundness {
        Some(most) => Some((most, chosen(case, own, read).roundness)),
        None => general.map(|most| (most, read.minimum_zone.roundness)),
    };
    if let Some((most, found)) = roundness {
        let mut limit = zone("roundness", found, most);
        if !limit.is_met() {
            limit.missed_on = read
                .readings
                .iter()
                .filter(|r| r.range <= most)
                .map(|r| r.gauge.clone())
                .collect();
        }
        limits.push(limit);
    }
    if let Some(allowed) = own.diameter {
        let found = [read.two_point.min, read.two_point.max];
        limits.push(limit(surface, "diameter", allowed, found));
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

/// The circle that a surface's own limit is about, behind its filter if it has one.
fn chosen<'a>(case: &Case, own: &SurfaceTolerance, read: &'a ReadDocument) -> &'a CircleDocument {
    let circle = own.circle.unwrap_or(case.inspection.circle);
    match (&read.filtered, circle) {
        (None, ReferenceCircle::MinimumZone) => &read.minimum_zone,
        (None, ReferenceCircle::LeastSquares) => &read.least_squares,
        (None, ReferenceCircle::MinimumCircumscribed) => &read.minimum_circumscribed,
        (None, ReferenceCircle::MaximumInscribed) => &read.maximum_inscribed,
        (Some(f), ReferenceCircle::MinimumZone) => &f.minimum_zone,
        (Some(f), ReferenceCircle::LeastSquares) => &f.least_squares,
        (Some(f), ReferenceCircle::MinimumCircumscribed) => &f.minimum_circumscribed,
        (Some(f), ReferenceCircle::MaximumInscribed) => &f.maximum_inscribed,
    }
}

/// What a limit is about, in words: circle and filter of a roundness.
pub(super) fn about(case: &Case, limit: &LimitDocument) -> String {
    let own = case.tolerance.surfaces.get(limit.surface);
    match limit.limit {
        "roundness" if own.roundness.is_some() => {
            let circle = circle_name(own.circle.unwrap_or(case.inspection.circle));
            let filter = own
                .filter_upr
                .or(case.inspection.filter_upr)
                .map_or("unfiltered".to_owned(), |f| {
                    format!("Gaussian filter {f} undulations a turn")
                });
            format!("roundness ({circle}, {filter})")
        }
        "roundness" => "roundness".into(),
        "diameter" => "two-point diameter".into(),
        "average_diameter" => "average diameter".into(),
        "wall_variation" => "wall variation".into(),
        _ => format!(
            "runout about the axis of the {}",
            limit.surface.other().name()
        ),
    }
}
