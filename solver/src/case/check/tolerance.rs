//! Limits that a finished part can meet, and that are no slip of a unit.

use super::metal::Finished;
use super::{Findings, key_path};
use crate::case::SurfaceTolerance;

/// Farthest that a size limit may be from the finished nominal diameter, share of it.
const NEAR: f64 = 0.05;

/// A width, mm, that must, so that a slip of the unit is seen, be below the finished wall.
pub(in crate::case) fn zone(
    findings: &mut Findings,
    path: &str,
    width: f64,
    finished: Option<&Finished>,
) -> Option<f64> {
    let wall = finished.map_or(f64::INFINITY, |f| {
        f.section.outer_radius - f.section.bore_radius
    });
    if wall > 0.0 && width >= wall {
        let (width, wall) = (findings.length(width), findings.length(wall));
        let message = format!("is {width}, as much as the wall, {wall}; mixed units?");
        findings.wrong(path, message);
        return None;
    }
    Some(width)
}

/// Lowest and highest diameter, mm, near one that is drawn, mm.
pub(in crate::case) fn size(
    findings: &mut Findings,
    path: &str,
    [low, high]: [f64; 2],
    drawn: &[f64],
) -> Option<[f64; 2]> {
    if low >= high {
        let (low, high) = (findings.length(low), findings.length(high));
        let message = format!("the lowest, {low}, is not below the highest, {high}");
        findings.wrong(path, message);
        return None;
    }
    let far = |nominal: f64| (low - nominal).abs().max((high - nominal).abs()) / nominal;
    let nearest = drawn.iter().copied().filter(|d| *d > 0.0);
    if let Some(nominal) = nearest.min_by(|a, b| far(*a).total_cmp(&far(*b)))
        && far(nominal) > NEAR
    {
        let [low, high, drawn] = [low, high, nominal].map(|d| findings.length(d));
        let message = format!(
            "{low} to {high} is far from the finished diameter, {drawn}; mixed units, or a radius?"
        );
        findings.wrong(path, message);
        return None;
    }
    Some([low, high])
}

/// Notes limits of two-point diameters and of their average that no part meets together.
pub(in crate::case) fn sizes_agree(findings: &mut Findings, path: &str, limits: &SurfaceTolerance) {
    if let (Some([low, high]), Some([least, most])) = (limits.diameter, limits.average_diameter)
        && (most < low || least > high)
    {
        let (low, high) = (findings.length(low), findings.length(high));
        let message = format!(
            "no part meets both: the average lies among the diameters, and these must be {low} to {high}"
        );
        findings.wrong(key_path(path, "average_diameter"), message);
    }
}
