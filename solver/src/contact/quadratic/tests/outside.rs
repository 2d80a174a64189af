//! Small programmes against an outside solver of quadratic programmes (an interior-point method).

use clarabel::algebra::CscMatrix;
use clarabel::solver::{DefaultSettings, DefaultSolver, IPSolver, SolverStatus, SupportedConeT};

use super::random::{Numbers, Small, small};
use super::solve;

/// Programmes tried.
const TRIED: usize = 400;

/// `min p'Cp / 2 + g'p` with `H' p = b` and `p >= 0`.
fn by_outside_solver(s: &Small) -> Option<Vec<f64>> {
    let (n, m) = (s.gaps.len(), s.forces.len());
    let dense = |rows: usize, cols: usize, at: &dyn Fn(usize, usize) -> f64| {
        let of = |i: usize| (0..cols).map(|j| at(i, j)).collect::<Vec<f64>>();
        let rows: Vec<Vec<f64>> = (0..rows).map(of).collect();
        CscMatrix::from(&rows)
    };
    let upper = |i: usize, j: usize| {
        if i <= j {
            s.body.compliance[(i, j)]
        } else {
            0.0
        }
    };
    let p = dense(n, n, &upper);
    let a = dense(m + n, n, &|i, j| {
        if i < m {
            s.equalities[(j, i)]
        } else if i - m == j {
            -1.0
        } else {
            0.0
        }
    });
    let mut b = s.forces.clone();
    b.extend(vec![0.0; n]);
    let cones = [
        SupportedConeT::ZeroConeT(m),
        SupportedConeT::NonnegativeConeT(n),
    ];
    let settings = DefaultSettings {
        verbose: false,
        tol_gap_abs: 1e-12,
        tol_gap_rel: 1e-12,
        tol_feas: 1e-12,
        ..DefaultSettings::default()
    };
    let mut solver = DefaultSolver::new(&p, &s.gaps, &a, &b, &cones, settings).unwrap();
    solver.solve();
    let good = matches!(
        solver.solution.status,
        SolverStatus::Solved | SolverStatus::AlmostSolved
    );
    good.then(|| solver.solution.x.clone())
}

#[test]
fn small_programmes_have_the_answer_of_an_outside_solver() {
    let mut numbers = Numbers(1_911);
    let mut compared = 0;
    for trial in 0..TRIED {
        let mut s = small(&mut numbers);
        let Some(expected) = by_outside_solver(&s) else {
            continue;
        };
        let found = solve(&mut s.body, &s.rows, &s.drive_dofs, &s.dead_resultant)
            .unwrap_or_else(|e| panic!("{trial}: {e:?}"));
        let scale = expected.iter().fold(1.0_f64, |m, p| m.max(*p));
        for (f, e) in found.pressures.iter().zip(&expected) {
            assert!(
                (f - e).abs() < 1e-5 * scale,
                "{trial}: {found:?}, {expected:?}"
            );
        }
        compared += 1;
    }
    assert!(compared > TRIED * 95 / 100, "{compared} of {TRIED}");
}
