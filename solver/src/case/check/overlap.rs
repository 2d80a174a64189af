//! Arcs that cover the same metal: pads among pads, dead loads among dead loads. A dead load may lie under a pad: it stands
//! for something else that presses there. On a tube what lies side by side along its length is not in each other's way.

use std::f64::consts::{PI, TAU};

use super::Findings;
use super::hold::{Built, HoldPath};
use crate::case::problem::ProblemKind;
use crate::geometry::Surface;
use crate::scheme::{Body, Face};

/// What an arc lies on; only arcs on the same can be in each other's way.
#[derive(Clone, Copy, PartialEq)]
enum On {
    /// The part, as something that may touch.
    Part,
    /// The part, as a dead load.
    Load,
    /// The sleeve of the scheme of this index.
    Sleeve(usize),
}

/// An arc that one body or load covers without a break, rad.
struct Land<'s> {
    member: usize,
    noun: &'s str,
    number: usize,
    on: On,
    surface: Surface,
    /// Where along the part, mm.
    along: [f64; 2],
    middle: f64,
    half: f64,
    /// The whole body, relief included.
    angle: f64,
    half_angle: f64,
}

impl Land<'_> {
    /// By how much two lands lie over each other, rad; zero or less if they do not.
    fn over(&self, other: &Self) -> f64 {
        let beside = self.along[0] >= other.along[1] || self.along[1] <= other.along[0];
        if self.on != other.on || self.surface != other.surface || beside {
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

fn lands<'s>(all: &[Built<'s>], along: impl Fn(&Built) -> [f64; 2]) -> Vec<Land<'s>> {
    let mut lands = Vec::new();
    for built in all {
        let sleeve = built.supports.sleeve.map(|s| s.face());
        let under = match sleeve {
            Some(_) => On::Sleeve(built.member),
            None => On::Part,
        };
        let pads = built
            .supports
            .bodies
            .iter()
            .map(|b| (built.noun, under, *b));
        let sleeve = sleeve.into_iter().map(|b| ("sleeve", On::Part, b));
        let loads = built.supports.pressures.iter().map(|p| {
            let arc = Body::new(p.surface, p.angle, p.half_angle, Face::Flat);
            (built.noun, On::Load, arc)
        });
        let numbered = pads
            .enumerate()
            .chain(sleeve.enumerate())
            .chain(loads.enumerate());
        for (k, (noun, on, body)) in numbered {
            lands.extend(body.pieces().into_iter().map(|[from, to]| Land {
                member: built.member,
                noun,
                number: k + 1,
                on,
                surface: body.surface,
                along: along(built),
                middle: body.angle + 0.5 * (from + to),
                half: 0.5 * (to - from),
                angle: body.angle,
                half_angle: body.half_angle,
            }));
        }
    }
    lands
}

/// Notes the first overlap of each scheme's bodies or loads with those before them. `tube` is the length of a part that the case has along
/// its length, mm; in a slice all of them lie in one plane.
pub(super) fn check(findings: &mut Findings, hold: &HoldPath, all: &[Built], tube: Option<f64>) {
    let along = |built: &Built| match tube {
        Some(length) => hold.grip(built.member).on(length),
        None => [0.0, 1.0],
    };
    let lands = lands(all, along);
    let mut told = vec![false; all.len()];
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
        let place = if a.member == b.member {
            String::new()
        } else {
            format!(" of {}", hold.path(b.member))
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
        hold.impossible(findings, ProblemKind::Input, a.member, message);
    }
}
