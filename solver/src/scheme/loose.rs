//! The statics of a hold that need no solving: forces given one by one must balance, what is driven home needs something to
//! push against, and something must press.

use std::f64::consts::{PI, TAU};

use super::{Drive, Push, Supports};
use crate::geometry::Surface;

/// Why a hold leaves the part loose, known before anything is solved.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum Loose {
    /// Given forces do not balance, and nothing can take what is left.
    #[error(
        "the forces do not balance: together they push the part with {force:.1} N towards {:.1} deg, and it is not restrained along \
         {}: space them evenly (two or more), or add a support {}",
        degrees(*.direction),
        axis(*.direction),
        support(*.direction)
    )]
    ResidualForce {
        /// Size of the residual, N.
        force: f64,
        /// Where it pushes, rad.
        direction: f64,
    },
    /// Over more than half a turn nothing can push.
    #[error(
        "the hold leaves the part loose: it is not restrained along {}: add a support {}",
        axis(*.direction),
        support(*.direction + PI)
    )]
    OneSided {
        /// The middle of that arc, rad.
        direction: f64,
    },
    /// No force is given, and everything stands still and clear of the part, or just touches it.
    #[error(
        "nothing presses on the part, so it is loose: no force is given, and what stands at a fixed place stands clear or just \
         touches; give a force, or set it past first contact (a negative gap)"
    )]
    NothingPresses,
}

/// An angle of the turn, as it is shown: neither "360.0" nor "-0.0".
fn degrees(angle: f64) -> f64 {
    let tenths = (10.0 * angle.to_degrees()).round().rem_euclid(3600.0);
    0.1 * tenths + 0.0
}

/// Where a support stands that stops the part from moving in a direction: ahead of it outside, behind it in the bore.
fn support(direction: f64) -> String {
    format!(
        "outside at {:.1} deg, or in the bore at {:.1} deg",
        degrees(direction),
        degrees(direction + PI)
    )
}

/// The axis along which a direction lies, in words.
fn axis(direction: f64) -> String {
    let (y, x) = direction.sin_cos();
    if y.abs() < 1e-6 {
        "x".to_owned()
    } else if x.abs() < 1e-6 {
        "y".to_owned()
    } else {
        format!("the line at {:.1} deg", degrees(direction) % 180.0)
    }
}

/// Directions in which something pushes, as arcs (middle, half), rad.
type Arcs = Vec<(f64, f64)>;

/// What a hold does to the part, added up.
#[derive(Default)]
struct Sum {
    /// Resultant of the forces given one by one, N.
    resultant: [f64; 2],
    /// Their sum, N.
    total: f64,
    /// What is driven home together and takes the force it finds.
    driven: Arcs,
    /// What stands still and pushes only if the part comes.
    standing: Arcs,
    /// Whether something presses: a given force, a drive, plates on the ends.
    presses: bool,
    /// Whether something that stands still may press by itself: set past first touch, or a full circle.
    set_out: bool,
}

impl Sum {
    fn add_force(&mut self, surface: Surface, angle: f64, force: f64) {
        let along = -surface.outward() * force;
        self.resultant[0] += along * angle.cos();
        self.resultant[1] += along * angle.sin();
        self.total += force;
        self.presses |= force > 0.0;
    }

    fn add(&mut self, s: &Supports) {
        self.presses |= s.end_clamp.is_some_and(|e| e.force > 0.0);
        for p in &s.pressures {
            self.add_force(p.surface, p.angle, p.force);
        }
        for p in &s.points {
            self.add_force(p.surface, p.angle, p.force);
        }
        for (k, b) in s.bodies.iter().enumerate() {
            let push = match &s.drive {
                Drive::Each(list) => list.get(k),
                Drive::SelfCentring { .. } | Drive::EqualisedPairs { .. } => None,
            };
            // bodies outside push inwards
            let towards = match b.surface {
                Surface::Outer => b.angle + PI,
                Surface::Bore => b.angle,
            };
            match push {
                Some(Push::Force(force)) => self.add_force(b.surface, b.angle, *force),
                Some(Push::Gap(gap)) => {
                    self.standing.push((towards, b.half_angle));
                    self.set_out |= *gap < 0.0 || b.is_full_circle();
                }
                None => {
                    self.driven.push((towards, b.half_angle));
                    self.presses |= s.drive.set_force(k).is_some_and(|f| f > 0.0);
                }
            }
        }
    }

    fn loose(&self) -> Option<Loose> {
        let force = self.resultant[0].hypot(self.resultant[1]);
        let direction = self.resultant[1].atan2(self.resultant[0]);
        let residual = force > 1e-9 * self.total.max(1e-30);
        let mut pushes: Arcs = self.driven.iter().chain(&self.standing).copied().collect();
        if residual && pushes.is_empty() {
            return Some(Loose::ResidualForce { force, direction });
        }
        if !self.presses && !self.set_out {
            return Some(Loose::NothingPresses);
        }
        // forces that balance among themselves: bodies at fixed positions need not push at all
        if !residual && self.presses && self.driven.is_empty() {
            return None;
        }
        if residual {
            pushes.push((direction, 0.0));
        }
        one_sided(&pushes).map(|direction| Loose::OneSided { direction })
    }
}

/// Why these schemes together leave the part loose, if that can be seen without solving: prescribed forces must balance unless bodies
/// that move together or stand still can take the residual, and those need something to push against.
pub fn loose<'a>(all: impl IntoIterator<Item = &'a Supports>) -> Option<Loose> {
    let mut sum = Sum::default();
    for supports in all {
        sum.add(supports);
    }
    sum.loose()
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
