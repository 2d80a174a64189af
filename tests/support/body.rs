//! Bodies solved straight through the mesh, the loads and the factor, without contact or process.

use ringwright_solver::element::{self, PlaneStress};
use ringwright_solver::geometry::{Outline, PerSurface, Surface};
use ringwright_solver::linear::{Cholesky, Factor};
use ringwright_solver::mesh::Mesh;

use crate::q8;

/// Round outlines, bore and outside radius in mm.
pub fn round(bore: f64, outer: f64) -> PerSurface<Outline> {
    PerSurface {
        outer: Outline::round(outer),
        bore: Outline::round(bore),
    }
}

/// `count + 1` equally spaced values, both ends included.
pub fn equal(from: f64, to: f64, count: usize) -> Vec<f64> {
    (0..=count)
        .map(|k| from + (to - from) * k as f64 / count as f64)
        .collect()
}

/// A closed ring of equal elements from angle 0.
///
/// # Panics
/// If there is no wall.
pub fn ring(outlines: &PerSurface<Outline>, around: usize, through: usize) -> Mesh {
    let mut ends = equal(0.0, std::f64::consts::TAU, around);
    ends.pop();
    Mesh::build(outlines, &ends, &equal(0.0, 1.0, through), true).expect("there is a wall")
}

/// Point constraints that hold a closed ring's rigid motions without straining it: a bore node at angle 0 and one on the other side of the ring, across.
///
/// The lattice line half way round must be at 180 degrees.
pub fn constraints(mesh: &Mesh) -> Vec<[usize; 2]> {
    let (a, b) = (mesh.node(0, 0), mesh.node(mesh.around(), 0));
    assert!(mesh.coords()[b][1].abs() < 1e-9 * mesh.coords()[a][0]);
    vec![[a, 0], [a, 1], [b, 1]]
}

/// Displacement under nodal loads with unknowns pinned at zero.
///
/// # Panics
/// If the body cannot be factored.
pub fn solve(
    mesh: &Mesh,
    law: &PlaneStress,
    pinned: &[[usize; 2]],
    load: &[[f64; 2]],
) -> Vec<[f64; 2]> {
    factor(mesh, law, pinned)
        .solve(load)
        .expect("the factor solves its own equations")
}

/// The factor of a body.
///
/// # Panics
/// If it cannot be factored.
pub fn factor(mesh: &Mesh, law: &PlaneStress, pinned: &[[usize; 2]]) -> Cholesky {
    Cholesky::new(mesh, law, pinned).expect("the body is held")
}

/// Adds the nodal forces of a traction `[tx, ty]` (MPa; a function of position and outward normal) on a surface.
pub fn add_traction(
    load: &mut [[f64; 2]],
    mesh: &Mesh,
    law: &PlaneStress,
    surface: Surface,
    traction: &dyn Fn([f64; 2], [f64; 2]) -> [f64; 2],
) {
    let boundary = mesh.boundary(surface);
    for column in 0..mesh.around() {
        let nodes = [0, 1, 2].map(|k| boundary[(2 * column + k) % boundary.len()]);
        add_edge(load, mesh, law, nodes, surface == Surface::Outer, traction);
    }
}

/// Adds the nodal forces of a traction on one edge, given by its three nodes in order; `outward_right` says on which hand of that way the outward
/// normal is.
fn add_edge(
    load: &mut [[f64; 2]],
    mesh: &Mesh,
    law: &PlaneStress,
    nodes: [usize; 3],
    outward_right: bool,
    traction: &dyn Fn([f64; 2], [f64; 2]) -> [f64; 2],
) {
    let side = if outward_right { 1.0 } else { -1.0 };
    for (x, w) in q8::gauss(4) {
        let shape = [0.5 * x * (x - 1.0), 1.0 - x * x, 0.5 * x * (x + 1.0)];
        let slope = [x - 0.5, -2.0 * x, x + 0.5];
        let (mut p, mut d) = ([0.0; 2], [0.0; 2]);
        for k in 0..3 {
            for a in 0..2 {
                p[a] += shape[k] * mesh.coords()[nodes[k]][a];
                d[a] += slope[k] * mesh.coords()[nodes[k]][a];
            }
        }
        let length = d[0].hypot(d[1]);
        let normal = [side * d[1] / length, -side * d[0] / length];
        let t = traction(p, normal);
        for k in 0..3 {
            for a in 0..2 {
                load[nodes[k]][a] += w * length * law.thickness * shape[k] * t[a];
            }
        }
    }
}

/// Adds the nodal forces of a traction on an end face (lattice line) of an open body.
pub fn add_end_traction(
    load: &mut [[f64; 2]],
    mesh: &Mesh,
    law: &PlaneStress,
    last: bool,
    traction: &dyn Fn([f64; 2], [f64; 2]) -> [f64; 2],
) {
    let line = if last { 2 * mesh.around() } else { 0 };
    for layer in 0..mesh.through() {
        let nodes = [0, 1, 2].map(|k| mesh.node(line, 2 * layer + k));
        // outwards along the face: the first face (angle least) has its outward normal to the right
        add_edge(load, mesh, law, nodes, !last, traction);
    }
}

/// Nodal stress `[xx, yy, xy]`, MPa, averaged over the elements that meet at a node.
pub fn stress(
    mesh: &Mesh,
    law: &PlaneStress,
    displacement: &[[f64; 2]],
    initial: &dyn Fn([f64; 2]) -> [f64; 3],
) -> Vec<[f64; 3]> {
    let mut sum = vec![[0.0; 3]; mesh.nodes()];
    let mut count = vec![0.0; mesh.nodes()];
    for (coords, nodes) in q8::elements(mesh) {
        let u = nodes.map(|n| displacement[n]);
        let s = element::nodal_stress(law, &coords, &u, initial);
        for (n, s) in nodes.into_iter().zip(s) {
            for c in 0..3 {
                sum[n][c] += s[c];
            }
            count[n] += 1.0;
        }
    }
    sum.iter()
        .zip(&count)
        .map(|(s, n)| s.map(|x| x / n))
        .collect()
}

/// Hoop stress of a stress state `[xx, yy, xy]` at an angle (rad).
pub fn hoop(s: [f64; 3], theta: f64) -> f64 {
    let (sin, cos) = theta.sin_cos();
    s[0] * sin * sin + s[1] * cos * cos - 2.0 * s[2] * sin * cos
}

/// Radial component of a displacement at an angle (rad).
pub fn radial(u: [f64; 2], theta: f64) -> f64 {
    u[0] * theta.cos() + u[1] * theta.sin()
}
