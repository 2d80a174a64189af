//! A load on a surface of the ring: its segments, and what stands for it from afar.

use std::f64::consts::TAU;

use super::ALIKE;
use super::integrals::two_points;
use crate::contact::pressure::Segment;
use crate::geometry::Surface;

/// Loads that are wider, rad, are more than two points from afar: three to each piece that is no wider than that or than a share of the load,
/// nor wider than so many segments. The kernel from afar is as short as the last of the lobes that bend, whose length goes with the wall as the segments' does.
const WIDE: f64 = 0.03;
const WIDE_SHARE: f64 = 0.25;
const WIDE_SEGMENTS: f64 = 5.0;

/// Distance in halves of its width from which a load is two points, and in whole widths from which a wide one is three a piece.
const NEAR: f64 = 6.0;
const NEAR_WIDE: f64 = 1.0;

/// A load on one surface: segments whose unit is a pressure or a whole force, pressing on the metal.
#[derive(Clone, Debug)]
pub(in crate::contact) struct RingLoad {
    pub surface: Surface,
    /// As given: over each its density is linear.
    pub(super) given: Vec<Segment>,
    /// The same in pieces within which the rest of the kernel is smooth.
    pub(super) segments: Vec<Segment>,
    /// Two points of each piece, rad, with areas, mm2.
    pub(super) rule: Vec<(f64, f64)>,
    pub(super) area: f64,
    pub(super) centre: f64,
    /// Points about the centre (rad) with areas (mm2) that stand for it from afar.
    pub(super) points: Vec<(f64, f64)>,
    /// How far clear of it they do, rad.
    pub(super) apart: f64,
    /// Half of what it covers, rad.
    pub(super) reach: f64,
    /// Width of its widest segment, or half of its own if that is more, rad.
    pub(super) widest: f64,
    /// Its sums of `cos(n theta)` and `sin(n theta)` over the area, mm2, for the lobes that bend the ring.
    pub(super) bending: Vec<[f64; 2]>,
}

impl RingLoad {
    /// A load whose segments are halved until none is wider than `widest` (rad), within which the rest of the kernel is smooth.
    pub(super) fn new(surface: Surface, segments: &[Segment], widest: f64, lobes: usize) -> Self {
        // segments of a closed pad's first shape function lie on both sides of the seam
        let first = segments[0].from;
        let near = |s: &Segment| {
            let turn = ((s.from - first) / TAU).round() * TAU;
            Segment {
                from: s.from - turn,
                to: s.to - turn,
                ..*s
            }
        };
        let mut given: Vec<Segment> = segments.iter().map(near).collect();
        // loads that are alike have their segments in one order
        given.sort_by(|a, b| a.from.total_cmp(&b.from));
        let segments: Vec<Segment> = given.iter().flat_map(|s| s.split(widest)).collect();
        let area: f64 = segments.iter().map(Segment::area).sum();
        let moment = |about: f64, power: i32| -> f64 {
            let of =
                |s: &Segment| -> f64 { s.rule().map(|(t, w)| w * (t - about).powi(power)).sum() };
            segments.iter().map(of).sum::<f64>() / area
        };
        let centre = first + moment(first, 1);
        let bending = lobe_sums(&segments, lobes);
        let from = segments.iter().fold(f64::INFINITY, |m, s| m.min(s.from));
        let to = segments.iter().fold(f64::NEG_INFINITY, |m, s| m.max(s.to));
        let segment = segments
            .iter()
            .fold(0.5 * (to - from), |m, s| m.max(s.to - s.from));
        let (points, apart) = if to - from > WIDE {
            let wide = WIDE.max(WIDE_SHARE * (to - from));
            let wide = wide.min(WIDE_SEGMENTS * widest);
            let mut points = Vec::new();
            for piece in given.iter().flat_map(|s| s.split(wide)) {
                points.extend(piece.rule().map(|(t, w)| (t - centre, w)));
            }
            (points, NEAR_WIDE * (to - from))
        } else {
            // two halves at the root of its second moment have the same moments up to the third, but for its skewness
            let spread = moment(centre, 2).max(0.0).sqrt();
            let points = [-spread, spread].map(|t| (t, 0.5 * area)).to_vec();
            (points, NEAR * segment)
        };
        Self {
            surface,
            area,
            centre,
            bending,
            points,
            apart,
            reach: 0.5 * (to - from),
            widest: segment,
            rule: segments.iter().flat_map(inside).collect(),
            segments,
            given,
        }
    }

    /// Whether another is the same somewhere else round the ring.
    pub(super) fn is_like(&self, other: &Self) -> bool {
        let same = |a: &Segment, b: &Segment| {
            let size = a.density[0].abs() + a.density[1].abs();
            let off = (a.from - self.centre) - (b.from - other.centre);
            let wide = (a.to - a.from) - (b.to - b.from);
            off.abs() < ALIKE
                && wide.abs() < ALIKE
                && (a.density[0] - b.density[0]).abs() <= 1e-12 * size
                && (a.density[1] - b.density[1]).abs() <= 1e-12 * size
        };
        self.surface == other.surface
            && self.segments.len() == other.segments.len()
            && self
                .segments
                .iter()
                .zip(&other.segments)
                .all(|(a, b)| same(a, b))
    }

    /// Angles (rad) with areas (mm2) that stand for it from afar.
    pub(super) fn far_points(&self) -> Vec<(f64, f64)> {
        let at = |&(t, w): &(f64, f64)| (self.centre + t, w);
        self.points.iter().map(at).collect()
    }

    /// Resultant of a unit along x and y, N: its sums of one lobe.
    pub fn resultant(&self) -> [f64; 2] {
        let inward = -self.surface.outward();
        self.bending[1].map(|w| inward * w)
    }
}

/// Two points of a segment with areas (mm2); of a line load both are its place.
fn inside(segment: &Segment) -> [(f64, f64); 2] {
    if segment.is_line() {
        return [(segment.from, 0.5 * segment.density[0]); 2];
    }
    two_points(segment)
}

/// Sums of `cos(n theta)` and `sin(n theta)` over the areas of some segments, mm2, from 0 to so many lobes. Points go side by side, each turning
/// on from lobe to lobe.
fn lobe_sums(segments: &[Segment], lobes: usize) -> Vec<[f64; 2]> {
    const ABREAST: usize = 4;
    let mut sums = vec![[0.0; 2]; lobes + 1];
    let points: Vec<(f64, f64)> = segments.iter().flat_map(Segment::rule).collect();
    for few in points.chunks(ABREAST) {
        let (mut turn, mut now) = ([[0.0; 2]; ABREAST], [[0.0; 2]; ABREAST]);
        for (k, (t, w)) in few.iter().enumerate() {
            let (s, c) = t.sin_cos();
            (turn[k], now[k]) = ([c, s], [*w, 0.0]);
        }
        for sum in &mut sums {
            for (now, [c, s]) in now.iter_mut().zip(turn) {
                sum[0] += now[0];
                sum[1] += now[1];
                *now = [now[0] * c - now[1] * s, now[0] * s + now[1] * c];
            }
        }
    }
    sums
}
