//! Stress of a held tube at its two surfaces, where bending makes it largest.

use super::step::HeldTube;
use crate::contact::Clamp;
use crate::geometry::Surface;
use crate::process::{GripAlong, StressPlace, StressSummary};
use crate::tube::field::GRID;

/// Stress is told farther than this share of the wall from where it has no bound: nearer, the wall does not bend as a whole, and the plane of its surface
/// does not tell its stress.
const AWAY: f64 = 0.5;

/// A line on a surface along which stress has no bound.
enum Edge {
    /// At an angle (rad), between two positions (mm).
    Along(Surface, f64, [f64; 2]),
    /// At a position, between two angles.
    Round(Surface, f64, [f64; 2]),
}

/// Von Mises figures of a state. Both surfaces are free of load but under pads, so stress there is that of the surface's own plane; what a pad adds
/// to it through its pressure is left out.
pub(super) fn summary(
    held: &HeldTube,
    clamp: &Clamp,
    grips: &[GripAlong],
    wall: f64,
    yield_strength: Option<f64>,
) -> StressSummary {
    let edges = edges(held, clamp, grips);
    let mut best = (0.0, StressPlace::default());
    for surface in Surface::BOTH {
        let law = held.stage.body.law();
        let stress = held
            .field()
            .surface_stress(&held.stage.responses, law, surface);
        for (z, radius, values) in stress {
            let angles = values.len() as f64;
            for (k, von_mises) in values.into_iter().enumerate() {
                if von_mises <= best.0 * (1.0 + 1e-9) {
                    continue;
                }
                let angle = std::f64::consts::TAU * k as f64 / angles;
                let near = |e: &Edge| distance(e, surface, angle, z, radius) < AWAY * wall;
                if !edges.iter().any(near) {
                    let place = StressPlace {
                        angle_deg: angle.to_degrees(),
                        radius,
                        z: Some(z),
                        within_deg: 360.0 / GRID as f64,
                    };
                    best = (von_mises, place);
                }
            }
        }
    }
    let (away, at) = best;
    let margin = |y: f64| (away > 0.0).then(|| y / away - 1.0);
    StressSummary {
        von_mises_max: edges.is_empty().then_some(away),
        von_mises_away: away,
        at,
        yield_margin: yield_strength.and_then(margin).filter(|m| m.is_finite()),
    }
}

/// Where pads and points load the surfaces without bound.
fn edges(held: &HeldTube, clamp: &Clamp, grips: &[GripAlong]) -> Vec<Edge> {
    let mut edges = Vec::new();
    let section = &held.rest.contact.section;
    for (k, (body, grip)) in clamp.bodies().iter().zip(grips).enumerate() {
        let zones = section.contact_zones(k);
        for zone in zones.iter().filter(|z| z.force > 0.0) {
            let ends = [zone.start, zone.end].map(|t| body.angle + t);
            for (at, loaded) in ends.into_iter().zip([zone.from_edge, zone.to_edge]) {
                if loaded {
                    let touching = grip.touching.iter();
                    edges.extend(touching.map(|&z| Edge::Along(body.surface, at, z)));
                }
            }
            for touching in &grip.touching {
                for (own, pad) in touching.iter().zip(&grip.reach) {
                    if own == pad {
                        edges.push(Edge::Round(body.surface, *own, ends));
                    }
                }
            }
        }
    }
    let [start, end] = held.part.nominal.ends();
    for point in clamp.points() {
        edges.push(Edge::Along(point.surface, point.angle, [start, end]));
    }
    if held.rest.plates.is_some() {
        for surface in Surface::BOTH {
            let turn = [0.0, std::f64::consts::TAU];
            edges.push(Edge::Round(surface, start, turn));
            edges.push(Edge::Round(surface, end, turn));
        }
    }
    edges
}

/// Distance of a place from an edge on the same surface, mm.
fn distance(edge: &Edge, on: Surface, angle: f64, z: f64, radius: f64) -> f64 {
    let around = |at: f64| {
        let turned = (angle - at).rem_euclid(std::f64::consts::TAU);
        radius * turned.min(std::f64::consts::TAU - turned)
    };
    let beyond = |[from, to]: [f64; 2], x: f64| (from - x).max(x - to).max(0.0);
    match *edge {
        Edge::Along(surface, at, reach) if surface == on => around(at).hypot(beyond(reach, z)),
        Edge::Round(surface, at, [from, to]) if surface == on => {
            let middle = 0.5 * (from + to);
            let off = (around(middle) - 0.5 * (to - from) * radius).max(0.0);
            off.hypot(z - at)
        }
        _ => f64::INFINITY,
    }
}
