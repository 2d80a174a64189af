//! Simple statics of what several schemes put against the part: do the given forces balance, and can what is left be taken?

use std::f64::consts::{PI, TAU};

use super::{Body, Drive, Push, Supports};

/// Why a hold leaves the part loose, known before anything is solved.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum Loose {
    /// Given forces do not balance, and nothing can take what is left.
    #[error(
        "the forces do not balance: {force:.1} N is left over towards {:.1} deg; space them evenly (two or more) or add what pushes back",
        degrees(*.direction)
    )]
    Unbalanced {
        /// What is left, N.
        force: f64,
        /// Where it pushes, rad.
        direction: f64,
    },
    /// Over more than half a turn nothing can push.
    #[error(
        "the hold leaves the part loose: nothing pushes it towards {:.1} deg; add a jaw on the other side",
        degrees(*.direction)
    )]
    OneSided {
        /// The middle of that arc, rad.
        direction: f64,
    },
}

fn degrees(angle: f64) -> f64 {
    angle.to_degrees().rem_euclid(360.0)
}

/// Direction in which something on this surface at this angle pushes the part.
fn push(body: &Body) -> [f64; 2] {
    let sign = -body.surface.outward();
    [sign * body.angle.cos(), sign * body.angle.sin()]
}

/// Forces given one by one must balance, unless bodies that share a travel or stand still can take what is left; those need
/// something to push against.
pub fn loose<'a>(all: impl IntoIterator<Item = &'a Supports>) -> Option<Loose> {
    let mut resultant = [0.0, 0.0];
    let mut total = 0.0;
    let mut add = |force: f64, direction: [f64; 2]| {
        resultant[0] += force * direction[0];
        resultant[1] += force * direction[1];
        total += force;
    };
    // directions in which something can push, as arcs (middle, half)
    let mut pushes: Vec<(f64, f64)> = Vec::new();
    let mut shared = false;
    for s in all {
        let patches = s.pressures.iter().map(|p| (p.surface, p.angle, p.force));
        let points = s.points.iter().map(|p| (p.surface, p.angle, p.force));
        for (surface, angle, force) in patches.chain(points) {
            let sign = -surface.outward();
            add(force, [sign * angle.cos(), sign * angle.sin()]);
        }
        for (k, b) in s.bodies.iter().enumerate() {
            let d = push(b);
            if let Drive::Each(list) = &s.drive
                && let Some(Push::Force(force)) = list.get(k)
            {
                add(*force, d);
            } else {
                shared = true;
                pushes.push((d[1].atan2(d[0]), b.half_angle));
            }
        }
    }
    let left = resultant[0].hypot(resultant[1]);
    let direction = resultant[1].atan2(resultant[0]);
    let unbalanced = left > 1e-9 * total.max(1e-30);
    if !shared {
        return unbalanced.then_some(Loose::Unbalanced {
            force: left,
            direction,
        });
    }
    if unbalanced {
        pushes.push((direction, 0.0));
    }
    one_sided(&pushes).map(|direction| Loose::OneSided { direction })
}

/// The middle of an arc of more than half a turn into which nothing pushes, if there is one.
fn one_sided(pushes: &[(f64, f64)]) -> Option<f64> {
    let mut ends: Vec<(f64, f64)> = pushes
        .iter()
        .map(|&(middle, half)| ((middle - half).rem_euclid(TAU), 2.0 * half))
        .collect();
    ends.sort_by(|a, b| a.0.total_cmp(&b.0));
    let first = ends.first()?.0;
    // an arc that passes the zero mark covers the start of the turn too
    let mut reach = ends
        .iter()
        .map(|(start, width)| start + width - TAU)
        .fold(first, f64::max);
    let mut widest = (0.0, 0.0);
    for &(start, width) in ends.iter().chain(&[(first + TAU, 0.0)]) {
        if start - reach > widest.0 {
            widest = (start - reach, 0.5 * (start + reach));
        }
        reach = reach.max(start + width);
    }
    (widest.0 > PI + 1e-9).then_some(widest.1)
}
