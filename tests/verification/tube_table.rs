//! x

use ringwright_solver::element::meridian::Isotropic;
use ringwright_solver::geometry::{Meridian, Surface};
use ringwright_solver::linear::Factor;
use ringwright_solver::mesh::{AxialGrading, MeridianMesh, MeridianSizes};
use ringwright_solver::tube::TubeBody;

use crate::tube::mid_wall;

/// `u E t^3 / (q R^3)` in the middle of the wall at both ends and half-way.
fn row(n: u32, thin: f64, long: f64, fineness: f64) -> [f64; 3] {
    let (r, t, length) = (1.0, 1.0 / thin, long);
    let [ro, ri] = [r + 0.5 * t, r - 0.5 * t];
    let outline = Meridian::tube(ro, ri, length).unwrap();
    let marks = [(0.0, 0.02), (0.5 * length, 100.0), (length, 0.25)].map(|(z, size)| AxialGrading { z, size: size * t / fineness });
    let sizes = MeridianSizes { along: (0.05 * r).min(length / 8.0) / fineness, through: t / (4.0 * fineness), growth: 1.4_f64.powf(1.0 / fineness) };
    let law = Isotropic { young_modulus: 1.0, poisson_ratio: 0.3 };
    let body = TubeBody::new(MeridianMesh::build(&outline, &marks, &sizes), law);
    let node = body.mesh().side(0, Surface::Outer)[0];
    let load = body.spread(&[(node, [ro, 0.0, 0.0])]);
    let u = body.factor(n).unwrap().solve(&load).unwrap();
    [0.0, 0.5 * length, length].map(|z| mid_wall(&body, z, &u) * t.powi(3))
}

#[test]
fn table_explore() {
    for thin in [10.0, 20.0, 50.0] {
        for long in [0.25, 1.0, 3.0] {
            for n in [2, 4, 6] {
                let fs = [1.0, 2.0, 4.0, 8.0];
                let rows = fs.map(|f| row(n, thin, long, f));
                let ex: Vec<[f64; 3]> = rows.windows(2).map(|w| [0, 1, 2].map(|i| (4.0 * w[1][i] - w[0][i]) / 3.0)).collect();
                let d = |a: [f64; 3], b: [f64; 3]| -> Vec<String> { (0..3).map(|i| format!("{:.1e}", (a[i] - b[i]) / b[0])).collect() };
                println!("table {thin} {long} {n} {:?} plain {:?} {:?} ex {:?} {:?}", ex[2], d(rows[2], ex[2]), d(rows[3], ex[2]), d(ex[0], ex[2]), d(ex[1], ex[2]));
            }
        }
    }
}
