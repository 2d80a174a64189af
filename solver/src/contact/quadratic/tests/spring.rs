//! A body of a new kind: one spring between a wall and one pressure.

use super::{placed, pushed, row, solve};
use crate::contact::elastic::Elastic;

/// A spring that yields by `compliance` mm/N along its only pressure, whose unit is 1 N.
struct Spring {
    compliance: f64,
}

impl Elastic for Spring {
    fn pressures(&self) -> usize {
        1
    }

    fn rigid_body_modes(&self) -> usize {
        0
    }

    fn rigid_work(&self, _: usize, _: usize) -> f64 {
        0.0
    }

    fn compliances(&mut self, _: usize, others: &[usize]) -> Vec<f64> {
        vec![self.compliance; others.len()]
    }

    fn weighted_displacements(&mut self, pressures: &[f64]) -> Vec<f64> {
        vec![self.compliance * pressures[0]]
    }
}

/// A force closes the gap and then shortens the spring by Hooke's law.
#[test]
fn a_spring_pushed_by_a_force_yields_by_hookes_law() {
    let mut spring = Spring { compliance: 2e-3 };
    let found = solve(&mut spring, &[row(0, 0.25)], &[pushed(0, 40.0)], &[]).unwrap();
    assert!((found.pressures[0] - 40.0).abs() < 1e-12);
    assert!((found.drive_displacements[0] - (0.25 + 40.0 * 2e-3)).abs() < 1e-12);
    assert!(found.gaps[0].abs() < 1e-12 && found.free.is_empty());
}

/// A stop at a place presses with what is over the gap, and with nothing before it touches.
#[test]
fn a_stop_presses_a_spring_only_beyond_its_gap() {
    for (at, force) in [(0.1, 0.0), (0.25, 0.0), (0.45, 100.0)] {
        let mut spring = Spring { compliance: 2e-3 };
        let found = solve(&mut spring, &[row(0, 0.25)], &[placed(0, at)], &[]).unwrap();
        assert!((found.pressures[0] - force).abs() < 1e-9, "{at}: {found:?}");
        assert!((found.gaps[0] - f64::max(0.25 - at, 0.0)).abs() < 1e-12);
    }
}
