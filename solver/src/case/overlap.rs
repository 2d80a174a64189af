//! Arcs that cover the same metal: pads among pads, dead loads among dead loads. A dead load may lie under a pad: it stands
//! for something else that presses there.

use std::f64::consts::{PI, TAU};

use super::hold::Built;
use super::node::{Reader, Table};
use crate::geometry::Surface;

/// An arc that one body or load covers without a break, rad.
struct Land<'s> {
    member: usize,
    noun: &'s str,
    number: usize,
    pad: bool,
    surface: Surface,
    middle: f64,
    half: f64,
    /// The whole body, relief included.
    angle: f64,
    half_angle: f64,
}

impl Land<'_> {
    /// By how much two lands lie over each other, rad; zero or less if they do not.
    fn over(&self, other: &Self) -> f64 {
        if self.pad != other.pad || self.surface != other.surface {
            return 0.0;
        }
        let apart = ((self.middle - other.middle + PI).rem_euclid(TAU) - PI).abs();
        // two half-angles together may be more than the rest of the turn, but no arc covers more of another than it has
        (self.half + other.half - apart).min(2.0 * self.half.min(other.half))
    }

    /// "jaw 2 at 120.0 deg (half-angle 9.59 deg)".
    fn said(&self, place: &str) -> String {
        format!(
            "{} {}{place} at {:.1} deg (half-angle {:.2} deg)",
            self.noun,
            self.number,
            self.angle.to_degrees(),
            self.half_angle.to_degrees()
        )
    }
}

fn lands<'s>(all: &[Built<'s>]) -> Vec<Land<'s>> {
    let mut lands = Vec::new();
    for built in all {
        let pads = built.supports.bodies.iter();
        let pads = pads.map(|b| (true, b.surface, b.angle, b.half_angle, b.relief));
        let loads = built.supports.pressures.iter();
        let loads = loads.map(|p| (false, p.surface, p.angle, p.half_angle, 0.0));
        let numbered = pads.enumerate().chain(loads.enumerate());
        for (k, (pad, surface, angle, half_angle, relief)) in numbered {
            let half = 0.5 * (half_angle - relief);
            let shifts = [half + relief, -half - relief];
            let whole = [(angle, half_angle)];
            let split = shifts.map(|s| (angle + s, half));
            let parts = if relief > 0.0 { &split[..] } else { &whole[..] };
            lands.extend(parts.iter().map(|&(middle, half)| Land {
                member: built.member,
                noun: built.noun,
                number: k + 1,
                pad,
                surface,
                middle,
                half,
                angle,
                half_angle,
            }));
        }
    }
    lands
}

/// Notes the first overlap of each scheme's bodies or loads with those before them.
pub(super) fn check<'a>(reader: &mut Reader<'a>, tables: &[Table<'a>], all: &[Built]) {
    let lands = lands(all);
    let mut told = vec![false; tables.len()];
    for (i, a) in lands.iter().enumerate() {
        if told[a.member] {
            continue;
        }
        let Some((b, over)) = lands[..i]
            .iter()
            .map(|b| (b, a.over(b)))
            .find(|(_, over)| *over > 1e-9)
        else {
            continue;
        };
        told[a.member] = true;
        let table = &tables[a.member];
        let place = if a.member == b.member {
            String::new()
        } else {
            format!(" of {}", tables[b.member].path)
        };
        let surface = a.surface.name();
        let message = match [a, b].into_iter().find(|l| l.half >= PI) {
            Some(whole) => format!(
                "{} {} stands on the {surface} surface with {} {}{place}, but {} {} goes all round; take one of them away",
                a.noun, a.number, b.noun, b.number, whole.noun, whole.number
            ),
            None => format!(
                "{} overlaps {} by {:.2} deg on the {surface} surface; make them narrower, fewer, or move them apart",
                a.said(""),
                b.said(&place),
                over.to_degrees(),
            ),
        };
        reader.problem(table.span.clone(), &table.path, message);
    }
}
