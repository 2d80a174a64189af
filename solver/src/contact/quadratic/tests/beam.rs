//! A body of a new kind: a straight beam on two simple supports (Euler and Bernoulli), pressed by rigid stops.

use super::{placed, pushed, row, solve};
use crate::contact::elastic::Elastic;
use crate::contact::quadratic::{DriveDof, Prescribed};

/// Span and bending stiffness of the beam, mm and N mm2.
const SPAN: f64 = 400.0;
const STIFFNESS: f64 = 2e9;

/// The beam with a unit pressure (1 N) at each of some places, mm from the left support.
struct Beam {
    at: Vec<f64>,
}

impl Beam {
    /// Deflection (mm) at `x` under 1 N at `a`: the table of simply supported beams (Timoshenko, *Strength of Materials*; from memory).
    fn deflection(a: f64, x: f64) -> f64 {
        let (a, x) = (a.max(x), a.min(x));
        let b = SPAN - a;
        b * x * (SPAN * SPAN - b * b - x * x) / (6.0 * SPAN * STIFFNESS)
    }
}

impl Elastic for Beam {
    fn pressures(&self) -> usize {
        self.at.len()
    }

    fn rigid_body_modes(&self) -> usize {
        0
    }

    fn rigid_work(&self, _: usize, _: usize) -> f64 {
        0.0
    }

    fn compliances(&mut self, pressure: usize, others: &[usize]) -> Vec<f64> {
        let own = self.at[pressure];
        let of = |&k: &usize| Self::deflection(own, self.at[k]);
        others.iter().map(of).collect()
    }

    fn weighted_displacements(&mut self, pressures: &[f64]) -> Vec<f64> {
        let at = |&x: &f64| -> f64 {
            let of = |(&a, p): (&f64, &f64)| p * Self::deflection(a, x);
            self.at.iter().zip(pressures).map(of).sum()
        };
        self.at.iter().map(at).collect()
    }
}

/// A stop in the middle pushed by a force: `F L^3 / (48 E I)`.
#[test]
fn a_beam_pushed_in_the_middle_bends_by_the_hand_formula() {
    let mut beam = Beam { at: vec![200.0] };
    let found = solve(&mut beam, &[row(0, 0.3)], &[pushed(0, 150.0)], &[]).unwrap();
    let bent = 150.0 * SPAN.powi(3) / (48.0 * STIFFNESS);
    assert!((found.drive_displacements[0] - (0.3 + bent)).abs() < 1e-12 * bent.max(1.0));
}

/// Three stops on one frame, the quarters' set back by a gap: the middle takes the whole force until it has bent the beam so far that
/// the quarters touch, and by symmetry two unknowns are left after that. With `d = L^3 / (E I)`, `P` in the middle and `Q` at each
/// quarter, the middle yields `(P/48 + 2 Q 11/768) d` and a quarter `(11 P/768 + Q/48) d` (`3/256 + 7/768 = 1/48`).
#[test]
fn stops_on_one_frame_carry_once_their_gaps_are_closed() {
    let d = SPAN.powi(3) / STIFFNESS;
    let (a, b, c) = (d / 48.0, 11.0 * d / 768.0, d / 48.0);
    let force = 900.0;
    // at which the quarters just touch: what the middle has bent more than them
    let touch = force * (a - b);
    // below 0.6 of it (`b - c/2` is 3/5 of `a - b`) the quarters bend the beam away from the middle
    for share in [1.2, 0.9, 0.7, 0.1] {
        let gap = share * touch;
        let mut beam = Beam {
            at: vec![100.0, 200.0, 300.0],
        };
        let rows = [row(0, gap), row(1, 0.0), row(2, gap)];
        let frame = DriveDof {
            shares: vec![(0, 1.0), (1, 1.0), (2, 1.0)],
            prescribed: Prescribed::Force(force),
        };
        let found = solve(&mut beam, &rows, &[frame], &[]).unwrap();
        // P a + 2 Q b - (P b + Q c) = gap with Q = (F - P) / 2
        let p = ((gap - force * (b - 0.5 * c)) / (a - 2.0 * b + 0.5 * c)).clamp(0.0, force);
        let q = 0.5 * (force - p);
        for (found, expected) in found.pressures.iter().zip([q, p, q]) {
            assert!(
                (found - expected).abs() < 1e-9 * force,
                "{share}: {found} {expected}"
            );
        }
        let open = [(gap - touch).max(0.0), (0.6 * touch - gap).max(0.0)];
        for (found, open) in found.gaps.iter().zip(open) {
            assert!(
                (found - open).abs() < 1e-9 * touch,
                "{share}: {found} {open}"
            );
        }
    }
}

/// A rigid stop in the middle brought down by 1 mm, two more at the quarters with a gap of `g`. Under the middle force alone the quarters go
/// down by 11/16 of the middle: with more than 5/16 they do not touch. Under the quarters alone the middle goes down by 11/8 of them: with
/// less than 3/11 they bend the beam away from it. Between, all three are active, and by symmetry two unknowns are left: with `d = L^3 / (E I)`,
/// the middle yields `P/48 + 11 Q/384` and a quarter `11 P/768 + Q/48` of `d` (`Q` at each quarter; `3/256 + 7/768 = 1/48`).
#[test]
fn stops_along_a_beam_carry_once_their_gaps_are_closed() {
    let d = SPAN.powi(3) / STIFFNESS;
    let quarters = [100.0, 200.0, 300.0];
    for gap in [0.4, 0.31, 0.28, 0.1] {
        let mut beam = Beam {
            at: quarters.to_vec(),
        };
        let rows = [row(0, gap), row(1, 0.0), row(2, gap)];
        let drive_dofs: Vec<DriveDof> = (0..3).map(|body| placed(body, 1.0)).collect();
        let found = solve(&mut beam, &rows, &drive_dofs, &[]).unwrap();
        // middle: P a + 2 Q b = 1; quarter: P b + Q c = 1 - gap
        let (a, b, c) = (d / 48.0, 11.0 * d / 768.0, d / 48.0);
        let (p, q) = if gap > 5.0 / 16.0 {
            (1.0 / a, 0.0)
        } else if gap < 3.0 / 11.0 {
            (0.0, (1.0 - gap) / c)
        } else {
            let det = a * c - 2.0 * b * b;
            (
                (c - 2.0 * b * (1.0 - gap)) / det,
                (a * (1.0 - gap) - b) / det,
            )
        };
        for (found, expected) in found.pressures.iter().zip([q, p, q]) {
            assert!(
                (found - expected).abs() < 1e-9 * p.abs().max(q),
                "{gap}: {found} {expected}"
            );
        }
        let open = [
            (gap - 5.0 / 16.0).max(0.0),
            (11.0 / 8.0 * (1.0 - gap) - 1.0).max(0.0),
        ];
        for (found, open) in found.gaps.iter().zip(open) {
            assert!((found - open).abs() < 1e-12, "{gap}: {found} {open}");
        }
    }
}

/// With the quarters brought farther down than the middle, the middle stop lifts off though it touches first.
#[test]
fn the_middle_stop_lifts_off_where_its_neighbours_push_farther() {
    let mut beam = Beam {
        at: vec![100.0, 200.0, 300.0],
    };
    let rows = [row(0, 0.0), row(1, 0.0), row(2, 0.0)];
    let drive_dofs = [placed(0, 1.0), placed(1, 1.2), placed(2, 1.0)];
    let found = solve(&mut beam, &rows, &drive_dofs, &[]).unwrap();
    // two equal forces at the quarters bend the middle by 11/8 of what they bend the quarters by: 1.375 mm, past the stop at 1.2
    assert_eq!(found.pressures[1], 0.0);
    assert!((found.gaps[1] - (11.0 / 8.0 - 1.2)).abs() < 1e-12);
    let q = 48.0 * STIFFNESS / SPAN.powi(3);
    assert!((found.pressures[0] - q).abs() < 1e-9 * q);
}
