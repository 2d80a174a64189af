//! How the part lies in the hold: turned over, turned against the jaws.

use std::f64::consts::{PI, TAU};

use super::{Drive, Supports};

/// How the part was laid into the hold. The part is turned over first, about its zero mark, then turned.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Placing {
    /// Turned end for end: seen from the tailstock, what ran counter-clockwise runs clockwise.
    pub flipped: bool,
    /// Turned counter-clockwise against the hold by this much, rad.
    pub turned: f64,
}

impl Placing {
    /// Where a direction of the hold (rad) meets the part, in the part's frame.
    pub fn on_part(&self, angle: f64) -> f64 {
        let turned = angle - self.turned;
        if self.flipped { -turned } else { turned }
    }

    /// What a scheme puts against the part, in the part's frame.
    pub fn apply(&self, mut supports: Supports) -> Supports {
        for angle in supports.angles_mut() {
            *angle = self.on_part(*angle);
        }
        if let Some([middle, _]) = supports.sleeve.as_mut().and_then(|s| s.slit.as_mut()) {
            *middle = self.on_part(*middle);
        }
        supports
    }
}

impl Supports {
    /// The directions of everything that presses.
    pub fn angles(&self) -> impl Iterator<Item = f64> + '_ {
        let bodies = self.bodies.iter().map(|b| b.angle);
        bodies
            .chain(self.pressures.iter().map(|p| p.angle))
            .chain(self.points.iter().map(|p| p.angle))
    }

    fn angles_mut(&mut self) -> impl Iterator<Item = &mut f64> {
        let bodies = self.bodies.iter_mut().map(|b| &mut b.angle);
        bodies
            .chain(self.pressures.iter_mut().map(|p| &mut p.angle))
            .chain(self.points.iter_mut().map(|p| &mut p.angle))
    }
}

/// Angle (rad) by which a whole hold can be turned without a change: a full turn at most.
pub(crate) fn period(hold: &[Supports]) -> f64 {
    let fewest = hold
        .iter()
        .flat_map(|s| [s.bodies.len(), s.pressures.len(), s.points.len()])
        .filter(|&n| n > 0)
        .min()
        .unwrap_or(1);
    (1..=fewest)
        .rev()
        .find(|&m| hold.iter().all(|s| repeats(s, TAU / m as f64)))
        .map_or(TAU, |m| TAU / m as f64)
}

/// Whether turning a scheme by an angle puts every body and load onto a like one.
fn repeats(supports: &Supports, by: f64) -> bool {
    let onto = |a: f64, b: f64| {
        let apart = (a + by - b + PI).rem_euclid(TAU) - PI;
        apart.abs() < 1e-9
    };
    // pairs are told apart by the places of their bodies in the list, so a turn by one place is none
    let paired = matches!(supports.drive, Drive::EqualisedPairs { .. });
    let places = supports.bodies.len() as f64 * by / TAU;
    if paired && !(places / 2.0 - (places / 2.0).round()).abs().le(&1e-9) {
        return false;
    }
    let push = |k: usize| match &supports.drive {
        Drive::Each(list) => list.get(k).copied(),
        _ => None,
    };
    if supports.sleeve.is_some_and(|s| s.slit.is_some()) {
        return (by - TAU).abs() < 1e-9;
    }
    let bodies = supports.bodies.iter().enumerate().all(|(i, a)| {
        let turned = |b: &super::Body| super::Body {
            angle: a.angle,
            ..*b
        };
        let mut all = supports.bodies.iter().enumerate();
        a.is_full_circle()
            || all.any(|(k, b)| onto(a.angle, b.angle) && turned(b) == *a && push(i) == push(k))
    });
    let pressures = supports.pressures.iter().all(|a| {
        let alike = |b: &super::PressurePatch| (b.surface, b.half_angle, b.force);
        let mut all = supports.pressures.iter();
        all.any(|b| onto(a.angle, b.angle) && alike(a) == alike(b))
    });
    let points = supports.points.iter().all(|a| {
        let mut all = supports.points.iter();
        all.any(|b| onto(a.angle, b.angle) && (a.surface, a.force) == (b.surface, b.force))
    });
    bodies && pressures && points
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Surface;
    use crate::scheme::{Body, Face, PointForce, Push};

    fn three(first: f64) -> Supports {
        let body = |k| {
            Body::new(
                Surface::Outer,
                first + TAU * f64::from(k) / 3.0,
                0.2,
                Face::Flat,
            )
        };
        Supports {
            bodies: (0..3).map(body).collect(),
            drive: Drive::equal_force(3, 100.0),
            ..Supports::default()
        }
    }

    #[test]
    fn a_hold_repeats_as_often_as_its_least_regular_scheme() {
        assert!((period(&[three(0.3)]) - TAU / 3.0).abs() < 1e-12);
        let point = |angle: f64| PointForce {
            surface: Surface::Bore,
            angle,
            force: 10.0,
        };
        let two = Supports {
            points: vec![point(0.0), point(PI)],
            ..Supports::default()
        };
        assert!((period(std::slice::from_ref(&two)) - PI).abs() < 1e-12);
        assert!((period(&[three(0.0), two]) - TAU).abs() < 1e-12);
        let mut uneven = three(0.0);
        uneven.drive = Drive::Each(vec![
            Push::Force(100.0),
            Push::Force(100.0),
            Push::Force(120.0),
        ]);
        assert!((period(&[uneven]) - TAU).abs() < 1e-12);
        assert!((period(&[]) - TAU).abs() < 1e-12);
    }

    #[test]
    fn a_part_turned_by_a_little_meets_the_jaws_a_little_further_back() {
        let placing = Placing {
            flipped: false,
            turned: 0.1,
        };
        assert!((placing.on_part(0.5) - 0.4).abs() < 1e-15);
        // turned over, then turned: the zero mark lies at the angle turned
        let over = Placing {
            flipped: true,
            turned: 0.1,
        };
        assert!((over.on_part(0.1)).abs() < 1e-15);
        assert!((over.on_part(0.5) + 0.4).abs() < 1e-15);
    }
}
