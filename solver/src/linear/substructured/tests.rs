//! Substructuring against the sparse factor.
#![allow(clippy::unwrap_used)]

use super::*;
use crate::geometry::{Outline, PerSurface};
use crate::linear::{Cholesky, Factor};
use crate::mesh::{Grading, equal_between, graded_between};

const LAW: PlaneStress = PlaneStress {
    young_modulus: 70e3,
    poisson_ratio: 0.33,
    thickness: 20.0,
};

fn ring() -> PerSurface<Outline> {
    PerSurface {
        outer: Outline::round(60.0),
        bore: Outline::round(50.0),
    }
}

/// Columns that are all of a width of their own are many substructures.
#[test]
fn many_substructures_are_refused() {
    let outlines = ring();
    let ends: Vec<f64> = (0..40)
        .map(|k| 0.15 * (f64::from(k) + 1e-3 * f64::from(k * k)))
        .collect();
    let own = Mesh::build(&outlines, &ends, &[0.0, 0.5, 1.0], true).unwrap();
    let alike = Mesh::build(
        &outlines,
        &equal_between(&[0.0], 40),
        &[0.0, 0.5, 1.0],
        true,
    );
    let most = 100_000;
    assert_eq!(
        Substructured::within(&own, &LAW, None, most).err(),
        Some(LinearError::ManySubstructures)
    );
    assert!(Substructured::within(&alike.unwrap(), &LAW, None, most).is_ok());
}

/// Both factors solve one matrix: for loads that balance they give one displacement, rigid motion apart.
#[test]
fn agrees_with_the_sparse_factor() {
    let outlines = ring();
    let marks = [0.0, 0.1673, 2.1, 2.2, 4.5];
    let graded: Vec<Grading> = marks
        .iter()
        .map(|&angle| Grading { angle, size: 0.003 })
        .collect();
    for ends in [equal_between(&marks, 97), graded_between(&graded, 0.1, 1.5)] {
        let mesh = Mesh::build(&outlines, &ends, &[0.0, 0.3, 0.7, 1.0], true).unwrap();
        let substructured = Substructured::new(&mesh, &LAW).unwrap();
        let constraints = [
            [mesh.node(0, 0), 0],
            [mesh.node(0, 0), 1],
            [mesh.node(0, 6), 1],
        ];
        let sparse = Cholesky::new(&mesh, &LAW, &constraints).unwrap();
        // three equal forces 120 degrees apart do not fall on nodes, so balance with the mean of all nodes instead
        let mut load = vec![[0.0; 2]; mesh.nodes()];
        for (k, c) in mesh.coords().iter().enumerate() {
            load[k] = [c[0] * (k % 7) as f64, -0.5 * c[1] * (k % 5) as f64];
        }
        let reduced: Vec<[f64; 2]> = sparse.forces(&load);
        let (a, b) = (
            substructured.solve(&reduced).unwrap(),
            sparse.solve(&reduced).unwrap(),
        );
        // the same up to a rigid motion: compare the forces, and the displacement after taking the rigid-body motion out
        let size = b.iter().flatten().fold(0.0_f64, |m, x| m.max(x.abs()));
        let (fa, fb) = (sparse.forces(&a), substructured.forces(&b));
        let scale = reduced
            .iter()
            .flatten()
            .fold(0.0_f64, |m, x| m.max(x.abs()));
        for ((p, q), r) in fa.iter().zip(&fb).zip(&reduced) {
            for axis in 0..2 {
                assert!(
                    (p[axis] - r[axis]).abs() < 1e-9 * scale
                        && (q[axis] - r[axis]).abs() < 1e-9 * scale
                );
            }
        }
        assert!(size > 0.0);
        // compliance between two balanced pairs of loads by reduction, against the full solves
        let pair = |i: usize| {
            let (n, m) = (mesh.node(i, 6), mesh.node(i + mesh.around(), 6));
            let d = [
                mesh.coords()[n][0] - mesh.coords()[m][0],
                mesh.coords()[n][1] - mesh.coords()[m][1],
            ];
            vec![(n, d), (m, [-d[0], -d[1]])]
        };
        let mut work = Vec::new();
        for (i, j) in [(0, 0), (4, 10), (31, 3)] {
            let (p, q) = (pair(i), pair(j));
            let by_tree = substructured
                .reduce(&p, &mut work)
                .dot(&substructured.reduce(&q, &mut work));
            let by_sparse = sparse
                .reduce(&p, &mut work)
                .dot(&sparse.reduce(&q, &mut work));
            assert!(
                (by_tree - by_sparse).abs() < 1e-8 * by_sparse.abs(),
                "{by_tree} {by_sparse}"
            );
            let wanted = substructured.wanted(&[q[0].0, q[1].0]);
            let u = substructured.partial_solve(&p, &wanted, &mut work);
            let direct: f64 = (0..2)
                .map(|k| u[k][0] * q[k].1[0] + u[k][1] * q[k].1[1])
                .sum();
            assert!((direct - by_tree).abs() < 1e-8 * by_tree.abs());
        }
    }
}

/// A large ring solved arc by arc is solved as if it were not divided, to rounding, and to the same bits on any number of threads. Its
/// jaws are not equal, so no arc is another's.
#[test]
fn a_divided_ring_is_solved_as_an_undivided_one() {
    let ends = equal_between(&[0.0, 0.1673, 2.1, 4.5], 3000);
    let layers: Vec<f64> = (0..=8).map(|k| f64::from(k) / 8.0).collect();
    let mesh = Mesh::build(&ring(), &ends, &layers, true).unwrap();
    let ring = Substructured::new(&mesh, &LAW).unwrap();
    assert!(ring.division.is_divided());
    let push = |c: &[f64; 2]| {
        let t = c[1].atan2(c[0]);
        [(2.0 * t).cos() * c[0], (3.0 * t).sin() * c[1]]
    };
    let load: Vec<[f64; 2]> = mesh.coords().iter().map(push).collect();
    let mut whole = ring.scatter(&load);
    for &u in ring.constrained() {
        whole[u] = 0.0;
    }
    let start = whole.clone();
    ring.sweep(&ring.order, false, &mut whole);
    ring.sweep(&ring.order, true, &mut whole);
    let divided = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
        pool.unwrap().install(|| {
            let mut x = start.clone();
            ring.eliminate(ring.blocks(), &mut x);
            ring.substitute(ring.blocks().rev(), &mut x);
            x
        })
    };
    let one = divided(1);
    assert!(divided(2) == one && divided(3) == one);
    let size = whole.iter().fold(0.0_f64, |m, x| m.max(x.abs()));
    let off = one.iter().zip(&whole);
    let off = off.fold(0.0_f64, |m, (a, b)| m.max((a - b).abs()));
    // the condition of the ring, some 1e7 of its lever over its wall and elements, times rounding
    assert!(size > 0.0 && off < 1e-8 * size, "{off} of {size}");
}
