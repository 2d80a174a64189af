//! A Gram matrix kept from before the body changed.

use super::random::{Numbers, small};
use super::{Gram, solve, solve_with};

/// A body that has changed since its compliances were kept (stiffer all over, or in one pressure alone) is answered as if nothing had
/// been kept, to what the gaps close to.
#[test]
fn compliances_kept_from_before_the_body_changed_are_dropped() {
    let mut numbers = Numbers(404);
    let mut would_differ = 0;
    for trial in 0..400 {
        let mut s = small(&mut numbers);
        let mut gram = Gram::default();
        let before = solve_with(
            &mut s.body,
            &mut gram,
            &s.rows,
            &s.drive_dofs,
            &s.dead_resultant,
        )
        .unwrap();
        let n = s.rows.len();
        if trial % 2 == 0 {
            s.body.compliance *= 1.3;
        } else {
            let k = (0..n).find(|&k| before.pressures[k] > 0.0).unwrap_or(0);
            s.body.compliance[(k, k)] *= 1.05;
        }
        let fresh = solve(&mut s.body, &s.rows, &s.drive_dofs, &s.dead_resultant).unwrap();
        for again in 0..2 {
            let kept = solve_with(
                &mut s.body,
                &mut gram,
                &s.rows,
                &s.drive_dofs,
                &s.dead_resultant,
            )
            .unwrap();
            let scale = fresh.pressures.iter().fold(1e-3_f64, |m, p| m.max(*p));
            for (a, b) in kept.pressures.iter().zip(&fresh.pressures) {
                assert!(
                    (a - b).abs() < 1e-6 * scale,
                    "{trial}, {again}: {:?} {:?}, {:?} before",
                    kept.pressures,
                    fresh.pressures,
                    before.pressures
                );
            }
        }
        let moved = before
            .pressures
            .iter()
            .zip(&fresh.pressures)
            .any(|(a, b)| (a - b).abs() > 1e-4);
        would_differ += usize::from(moved);
    }
    assert!(would_differ > 150, "{would_differ}");
}
