//! Small programmes against every set of active pressures, by the conditions of Karush, Kuhn and Tucker.

use nalgebra::{DMatrix, DVector};

use super::random::{Numbers, Small, small};
use super::solve;

/// Programmes tried.
const TRIED: usize = 4000;

/// The pressures of the one set that meets the conditions: all `2^n` are tried, each with the bordered system of its equalities. Where
/// several are met (a pressure of zero may be counted in or out), their pressures are the same. `None` if none is.
fn enumerated(s: &Small) -> Option<Vec<f64>> {
    let (n, m) = (s.gaps.len(), s.forces.len());
    let mut best: Option<(f64, Vec<f64>)> = None;
    for set in 0_u32..1 << n {
        let list: Vec<usize> = (0..n).filter(|k| set >> k & 1 == 1).collect();
        let a = list.len();
        let matrix = DMatrix::from_fn(a + m, a + m, |i, j| match (i < a, j < a) {
            (true, true) => s.body.compliance[(list[i], list[j])],
            (true, false) => -s.equalities[(list[i], j - a)],
            (false, true) => -s.equalities[(list[j], i - a)],
            (false, false) => 0.0,
        });
        let right = DVector::from_fn(a + m, |i, _| {
            if i < a {
                -s.gaps[list[i]]
            } else {
                -s.forces[i - a]
            }
        });
        // least squares: a set on which the equalities depend on each other still has its pressures
        let Ok(x) = matrix.clone().svd(true, true).solve(&right, 1e-10) else {
            continue;
        };
        let left = (&matrix * &x - &right).amax();
        let mut p = vec![0.0; n];
        for (i, &k) in list.iter().enumerate() {
            p[k] = x[i];
        }
        let z = x.rows(a, m);
        let open = |k: usize| -> f64 {
            let yields: f64 = (0..n).map(|j| s.body.compliance[(k, j)] * p[j]).sum();
            let driven: f64 = (0..m).map(|c| s.equalities[(k, c)] * z[c]).sum();
            s.gaps[k] + yields - driven
        };
        // free directions of `z` may still open what overlaps, so those sets are judged by the others
        let worst = (0..n)
            .map(|k| if set >> k & 1 == 1 { -p[k] } else { -open(k) })
            .fold(left, f64::max);
        if best.as_ref().is_none_or(|b| worst < b.0) {
            best = Some((worst, p));
        }
    }
    best.filter(|b| b.0 < 1e-9).map(|b| b.1)
}

/// Pressures, gaps and the equalities are those of the one set that meets the conditions.
#[test]
fn small_programmes_have_the_answer_of_all_their_sets() {
    let mut numbers = Numbers(20_261_129);
    let (mut compared, mut judged, mut free) = (0, 0, 0);
    for trial in 0..TRIED {
        let mut s = small(&mut numbers);
        let Some(expected) = enumerated(&s) else {
            free += 1;
            continue;
        };
        let found = solve(&mut s.body, &s.rows, &s.drive_dofs, &s.dead_resultant)
            .unwrap_or_else(|e| panic!("{trial}: {e:?}"));
        let scale = expected.iter().fold(1e-3_f64, |m, p| m.max(*p));
        for (k, (f, e)) in found.pressures.iter().zip(&expected).enumerate() {
            assert!(
                (f - e).abs() < 1e-7 * scale,
                "{trial}, {k}: {found:?}, {expected:?}"
            );
            assert!(found.gaps[k] > -1e-7 && (*f == 0.0 || found.gaps[k].abs() < 1e-7));
        }
        assert!(found.residual < 1e-8, "{trial}: {found:?}");
        compared += 1;
        judged += usize::from(expected.contains(&0.0) && expected.iter().any(|p| *p > 0.0));
    }
    // most are neither all open nor all closed; where motions are left free no single set shows the gaps
    assert!(
        compared > TRIED * 8 / 10,
        "{compared} of {TRIED}, {free} with motions left free"
    );
    assert!(judged > TRIED / 2, "{judged} of {TRIED}");
}

/// Forces that no pressures can balance are not passed off as balanced.
#[test]
fn what_cannot_be_balanced_is_told() {
    let mut numbers = Numbers(7);
    let mut told = 0;
    for trial in 0..500 {
        let mut s = small(&mut numbers);
        let modes = s.dead_resultant.len();
        if modes == 0 {
            continue;
        }
        // all pressures push the body one way, and so does the load
        for k in 0..s.rows.len() {
            s.body.work[(k, 0)] = s.body.work[(k, 0)].abs() + 0.1;
        }
        s.dead_resultant[0] = 1.0;
        let found = solve(&mut s.body, &s.rows, &s.drive_dofs, &s.dead_resultant);
        assert!(found.is_err() || found.unwrap().residual > 1e-3, "{trial}");
        told += 1;
    }
    assert!(told > 200, "{told}");
}
