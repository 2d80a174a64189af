//! An uneven wall against the stiffness of an even one, and rigid motions.
#![allow(clippy::unwrap_used)]

use super::*;
use crate::element::NODE_PAIRS;
use crate::element::meridian::harmonic_stiffness;
use crate::geometry::Meridian;
use crate::mesh::MeridianSizes;
use crate::tube::field::GRID;

const LAW: Isotropic = Isotropic {
    young_modulus: 70e3,
    poisson_ratio: 0.33,
};

fn body() -> TubeBody {
    let outline = Meridian::tube(60.0, 56.0, 12.0).unwrap();
    let sizes = MeridianSizes {
        along: 4.0,
        through: 2.0,
        growth: 1.5,
    };
    TubeBody::new(MeridianMesh::build(&outline, &[], &sizes), LAW)
}

/// Deviations of every column, mm over angle and position.
fn off(body: &TubeBody, at: impl Fn(Surface, f64, f64) -> f64) -> PerSurface<Vec<ColumnOff>> {
    let mesh = body.mesh();
    PerSurface::from_fn(|s| {
        let columns = 0..mesh.topology().around();
        let row = |z: f64| -> Vec<f64> {
            let angle = |k: usize| std::f64::consts::TAU * k as f64 / GRID as f64;
            (0..GRID).map(|k| at(s, angle(k), z)).collect()
        };
        columns
            .map(|c| [0, 1, 2].map(|k| row(mesh.heights()[2 * c + k])))
            .collect()
    })
}

fn field(body: &TubeBody, at: impl Fn(usize, [f64; 2]) -> Amplitudes) -> NodalField {
    let mut field = NodalField::zero(body);
    for (n, harmonic) in field.harmonics.iter_mut().enumerate() {
        for (to, &c) in harmonic.iter_mut().zip(body.mesh().coords()) {
            *to = at(n, c);
        }
    }
    field
}

/// Where the wall is even the forces are those of the stiffness.
#[test]
fn an_even_wall_is_held_by_its_stiffness() {
    let body = body();
    let mesh = body.mesh();
    let moved = field(&body, |n, [r, z]| match n {
        0 | 3 | 5 => {
            let x = 0.1 * (r - 58.0) + 0.03 * z * z + n as f64;
            let parts = [[x, 0.2 * z], [z * x, 1.0], [r * 0.01 - x, 0.5 * x]];
            parts.map(|[a, b]| {
                if n == 0 {
                    Complex64::new(a, 0.0)
                } else {
                    Complex64::new(a, b)
                }
            })
        }
        _ => NOTHING,
    });
    let nowhere = off(&body, |_, _, _| 0.0);
    let found = Uneven::new(mesh, &nowhere, 1).forces(&body, &moved);
    for n in [0_usize, 3, 5] {
        let mut want = vec![NOTHING; mesh.coords().len()];
        for (column, layer) in mesh.topology().element_places() {
            let nodes = mesh.topology().element_nodes(column, layer);
            let coords = nodes.map(|k| mesh.coords()[k]);
            let mut blocks = [[[0.0; 3]; 3]; NODE_PAIRS];
            harmonic_stiffness(&LAW, n as u32, &coords, &mut blocks).unwrap();
            let mut k = 0;
            for a in 0..8 {
                for b in 0..=a {
                    for i in 0..3 {
                        for j in 0..3 {
                            let entry = blocks[k][i][j];
                            want[nodes[a]][i] += moved.harmonics[n][nodes[b]][j] * entry;
                            if a != b {
                                want[nodes[b]][j] += moved.harmonics[n][nodes[a]][i] * entry;
                            }
                        }
                    }
                    k += 1;
                }
            }
        }
        let largest = want.iter().flatten().map(|x| x.norm()).fold(0.0, f64::max);
        for (a, b) in found[n].iter().zip(&want) {
            for (c, (x, y)) in a.iter().zip(b).enumerate() {
                // of harmonic 0 the turn about the axis is not followed
                if n > 0 || c < 2 {
                    assert!((x - y).norm() < 1e-10 * largest, "{n} {c} {x} {y}");
                }
            }
        }
    }
}

/// A rigid motion takes no force, however uneven the wall.
#[test]
fn rigid_motions_take_no_force() {
    let body = body();
    let one = Complex64::new(1.0, 0.0);
    let shift = |n: usize, [_, z]: [f64; 2]| match n {
        1 => [one, NOTHING[0], -one],
        0 => [NOTHING[0], one * (0.0 * z), NOTHING[0]],
        _ => NOTHING,
    };
    let tall = |s: Surface, t: f64, z: f64| match s {
        Surface::Outer => 0.2 * (3.0 * t).cos() + 0.01 * z,
        Surface::Bore => 0.3 * (2.0 * t + 1.0).sin() - 0.02 * z * t.cos(),
    };
    let uneven = Uneven::new(body.mesh(), &off(&body, tall), 1);
    let stretched = field(&body, |n, _| match n {
        2 => [one, NOTHING[0], NOTHING[0]],
        _ => NOTHING,
    });
    let size = |field: &NodalField| {
        let forces = uneven.forces(&body, field);
        forces
            .iter()
            .flatten()
            .flatten()
            .map(|x| x.norm())
            .fold(0.0, f64::max)
    };
    let (rigid, not) = (size(&field(&body, shift)), size(&stretched));
    // the rule round the part is exact for neither: what it leaves falls with its angles
    assert!(rigid < 1e-7 * not, "{rigid} {not}");
}
