//! Operators with one, two and three unknowns a node on one topology.
#![allow(clippy::unwrap_used)]

use std::f64::consts::{PI, TAU};
use std::sync::Arc;

use super::*;
use crate::element::{NODE_PAIRS, PlaneStress};
use crate::geometry::{Outline, PerSurface, Surface};
use crate::mesh::{Mesh, Topology};

const LAW: PlaneStress = PlaneStress {
    young_modulus: 70e3,
    poisson_ratio: 0.33,
    thickness: 20.0,
};

/// Orthogonal, and no component left alone: rows of a Householder reflection.
const TURN: [[f64; 3]; 3] = [
    [1.0 / 3.0, -2.0 / 3.0, -2.0 / 3.0],
    [-2.0 / 3.0, 1.0 / 3.0, -2.0 / 3.0],
    [-2.0 / 3.0, -2.0 / 3.0, 1.0 / 3.0],
];

fn ring(bore: f64, around: u32) -> Mesh {
    let outlines = PerSurface {
        outer: Outline::round(60.0),
        bore: Outline::round(bore),
    };
    let ends: Vec<f64> = (0..around)
        .map(|k| TAU * f64::from(k) / f64::from(around))
        .collect();
    let layers: Vec<f64> = (0..=4).map(|k| 0.25 * f64::from(k)).collect();
    Mesh::build(&outlines, &ends, &layers, true).unwrap()
}

/// Laplace's operator. The trace of a block of plane stress is `(d11 + d33) * integral(grad N_a . grad N_b)`, thickness included.
struct Laplacian<'a>(&'a Mesh);

impl Operator<1> for Laplacian<'_> {
    fn element(
        &self,
        column: usize,
        layer: usize,
        blocks: &mut [[[f64; 1]; 1]; NODE_PAIRS],
    ) -> Result<(), LinearError> {
        let mut plane = [[[0.0; 2]; 2]; NODE_PAIRS];
        let (mesh, law) = (self.0, &LAW);
        Stiffness { mesh, law }.element(column, layer, &mut plane)?;
        let [d11, _, d33] = LAW.moduli();
        for (b, p) in blocks.iter_mut().zip(plane) {
            b[0][0] = (p[0][0] + p[1][1]) / ((d11 + d33) * LAW.thickness);
        }
        Ok(())
    }
}

/// Plane stress and, times `weight`, Laplace's operator side by side, all three unknowns mixed by [`TURN`].
struct Mixed<'a> {
    mesh: &'a Mesh,
    weight: f64,
}

impl Operator<3> for Mixed<'_> {
    fn element(
        &self,
        column: usize,
        layer: usize,
        blocks: &mut [[[f64; 3]; 3]; NODE_PAIRS],
    ) -> Result<(), LinearError> {
        let mut plane = [[[0.0; 2]; 2]; NODE_PAIRS];
        let mut laplacian = [[[0.0]]; NODE_PAIRS];
        let mesh = self.mesh;
        Stiffness { mesh, law: &LAW }.element(column, layer, &mut plane)?;
        Laplacian(mesh).element(column, layer, &mut laplacian)?;
        for ((block, p), l) in blocks.iter_mut().zip(plane).zip(laplacian) {
            let w = self.weight * l[0][0];
            let apart = [
                [p[0][0], p[0][1], 0.0],
                [p[1][0], p[1][1], 0.0],
                [0.0, 0.0, w],
            ];
            for (r, row) in block.iter_mut().enumerate() {
                for (c, entry) in row.iter_mut().enumerate() {
                    *entry = (0..3)
                        .flat_map(|i| (0..3).map(move |j| (i, j)))
                        .map(|(i, j)| TURN[r][i] * apart[i][j] * TURN[c][j])
                        .sum();
                }
            }
        }
        Ok(())
    }
}

fn turned(v: [f64; 3]) -> [f64; 3] {
    TURN.map(|row| (0..3).map(|k| row[k] * v[k]).sum())
}

/// Every unknown of the first line across the wall held.
fn held(topology: &Topology, unknowns_a_node: usize) -> Vec<PointConstraint> {
    (0..=2 * topology.through())
        .flat_map(|j| (0..unknowns_a_node).map(move |c| [topology.node(0, j), c]))
        .collect()
}

fn largest<const D: usize>(values: &[[f64; D]]) -> f64 {
    values.iter().flatten().fold(0.0, |m, x| m.max(x.abs()))
}

fn apart<const D: usize>(a: &[[f64; D]], b: &[[f64; D]]) -> f64 {
    let differences: Vec<[f64; D]> = a
        .iter()
        .zip(b)
        .map(|(a, b)| std::array::from_fn(|c| a[c] - b[c]))
        .collect();
    largest(&differences) / largest(b)
}

/// One unknown a node: potential of a flow from the bore to the outside of a ring, `Q ln(b / a) / 2 pi` between the two.
#[test]
fn a_scalar_operator_is_factored() {
    let mesh = ring(50.0, 96);
    let mut load = vec![[0.0]; mesh.nodes()];
    for (surface, flow) in [(Surface::Outer, -1.0), (Surface::Bore, 1.0)] {
        for (i, n) in mesh.boundary(surface).into_iter().enumerate() {
            load[n][0] = flow * if i % 2 == 0 { 1.0 } else { 2.0 } / (3.0 * 96.0);
        }
    }
    let analysis = Arc::new(Analysis::new(mesh.topology()));
    assert_eq!(analysis.pattern().unknowns(), mesh.nodes());
    let factor = Cholesky::factor(analysis, &Laplacian(&mesh), &[[mesh.node(7, 4), 0]]).unwrap();
    let u = factor.solve(&load).unwrap();
    let drop = (1.2_f64).ln() / (2.0 * PI);
    for i in 0..mesh.angles().len() {
        let found = u[mesh.node(i, 0)][0] - u[mesh.node(i, 8)][0];
        assert!((found / drop - 1.0).abs() < 3e-4, "{found} {drop}");
    }
}

/// Three unknowns a node, mixed so that no block is symmetric: the answer is that of the plane and the scalar factor, mixed alike.
#[test]
fn three_unknowns_a_node_are_factored_as_the_parts_that_they_mix() {
    let mesh = ring(50.0, 24);
    let topology = mesh.topology();
    let weight = 3e4;
    let plane = Cholesky::new(&mesh, &LAW, &held(topology, 2)).unwrap();
    let scalar = Arc::new(Analysis::new(topology));
    let scalar = Cholesky::factor(scalar, &Laplacian(&mesh), &held(topology, 1)).unwrap();
    let analysis = Arc::new(Analysis::new(topology));
    let operator = Mixed {
        mesh: &mesh,
        weight,
    };
    let mixed = Cholesky::factor(analysis, &operator, &held(topology, 3)).unwrap();

    let load: Vec<[f64; 3]> = (0..mesh.nodes())
        .map(|n| [(n % 7) as f64, (n % 5) as f64 - 2.0, (n % 3) as f64])
        .collect();
    let u = plane
        .solve(&load.iter().map(|f| [f[0], f[1]]).collect::<Vec<_>>())
        .unwrap();
    let w = scalar
        .solve(&load.iter().map(|f| [f[2] / weight]).collect::<Vec<_>>())
        .unwrap();
    let expected: Vec<[f64; 3]> = u
        .iter()
        .zip(&w)
        .map(|(u, w)| turned([u[0], u[1], w[0]]))
        .collect();
    let load: Vec<[f64; 3]> = load.into_iter().map(turned).collect();
    let found = mixed.solve(&load).unwrap();
    assert!(apart(&found, &expected) < 1e-9);

    // partial solves, the compliance from reduced loads, and bodies side by side, against full solves
    let (n, m) = (mesh.node(10, 8), mesh.node(31, 0));
    let at = |node: usize, f: [f64; 3]| {
        let mut load = vec![[0.0; 3]; mesh.nodes()];
        load[node] = f;
        load
    };
    let (f, g) = ([1.0, -2.0, 0.5], [0.3, 0.7, -1.0]);
    let full = mixed.solve(&at(n, f)).unwrap();
    let mut work = Vec::new();
    let part = mixed.partial_solve(&[(n, f)], &mixed.wanted(&[m, n]), &mut work);
    assert!(apart(&part, &[full[m], full[n]]) < 1e-12);
    let compliance: f64 = (0..3).map(|c| g[c] * full[m][c]).sum();
    let reduced = mixed
        .reduce(&[(n, f)], &mut work)
        .dot(&mixed.reduce(&[(m, g)], &mut work));
    assert!((reduced - compliance).abs() < 1e-9 * compliance.abs());
    let both = BlockDiagonal::new([(&mixed as &dyn Factor<3>, mesh.nodes()); 2]);
    let second = both
        .solve(&[vec![[0.0; 3]; mesh.nodes()], at(n, f)].concat())
        .unwrap();
    assert_eq!(second[mesh.nodes()..], full);
}

/// Numeric factors share one analysis: of several operators, on several coordinates, with constraints of their own. Each has the
/// bits that it has alone.
#[test]
fn numeric_factors_share_an_analysis() {
    let (mesh, thicker) = (ring(50.0, 24), ring(40.0, 24));
    let topology = mesh.topology();
    let analysis = Arc::new(Analysis::new(topology));
    let load: Vec<[f64; 3]> = (0..mesh.nodes())
        .map(|n| [1.0, (n % 4) as f64, 2.0])
        .collect();
    let all = held(topology, 3);
    let cases = [
        (&mesh, 1.0, &all[..]),
        (&mesh, 4.0, &all[..]),
        (&thicker, 1.0, &all[3..]),
    ];
    let operator = |(mesh, weight, _): (_, f64, &[_])| Mixed { mesh, weight };
    let factors: Vec<Cholesky<3>> = cases
        .iter()
        .map(|&case| Cholesky::factor(Arc::clone(&analysis), &operator(case), case.2).unwrap())
        .collect();
    assert_eq!(Arc::strong_count(&analysis), 4);
    let mut answers = Vec::new();
    for (factor, case) in factors.iter().zip(cases) {
        let own = Arc::new(Analysis::new(topology));
        let alone = Cholesky::factor(own, &operator(case), case.2).unwrap();
        answers.push(factor.solve(&load).unwrap());
        assert_eq!(answers.last(), Some(&alone.solve(&load).unwrap()));
    }
    assert!(apart(&answers[0], &answers[1]) > 1e-3 && apart(&answers[0], &answers[2]) > 1e-3);
    // factored again in place: the first becomes the second
    let mut first = factors.into_iter().next().unwrap();
    first.refactor(&operator(cases[1])).unwrap();
    assert_eq!(first.solve(&load).unwrap(), answers[1]);
}
