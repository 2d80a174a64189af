//! How fast the r-z engine converges in elements and in harmonics.

use std::f64::consts::PI;

use ringwright_solver::element::meridian::{Isotropic, harmonic_nodal_stress};
use ringwright_solver::geometry::{Meridian, Surface};
use ringwright_solver::linear::Factor;
use ringwright_solver::mesh::{MeridianMesh, MeridianSizes};
use ringwright_solver::tube::TubeBody;
use ringwright_tests::reference;

use crate::tube::{mid_wall, patch_amplitude, tube};
use crate::tube_shells::pushed_at_its_end;

const ALUMINIUM: Isotropic = Isotropic {
    young_modulus: 70e3,
    poisson_ratio: 0.33,
};

/// A tube of 40 outside, 30 bore and 20 length with so many layers, elements square.
fn squares(layers: u32) -> TubeBody {
    let size = 10.0 / f64::from(layers);
    let outline = Meridian::tube(40.0, 30.0, 20.0).unwrap();
    let sizes = MeridianSizes {
        along: size * (1.0 + 1e-9),
        through: size * (1.0 + 1e-9),
        growth: 1.5,
    };
    let body = TubeBody::new(MeridianMesh::build(&outline, &[], &sizes), ALUMINIUM);
    assert_eq!(body.mesh().elements(), 2 * (layers * layers) as usize);
    body
}

/// Orders between values on meshes each twice as fine as the one before: three in a row give one.
fn orders(values: &[f64]) -> Vec<f64> {
    let change: Vec<f64> = values.windows(2).map(|v| v[0] - v[1]).collect();
    change.windows(2).map(|d| (d[0] / d[1]).abs().log2()).collect()
}

#[test]
fn orders_explore() {
    for n in [0, 1, 2, 5] {
        let mut all: [Vec<f64>; 5] = Default::default();
        for layers in [2, 4, 8, 16] {
            let body = squares(layers);
            let load = body.radial_load(Surface::Outer, [-1.0, 21.0], |z| {
                // of one sign in harmonic 1 would not balance
                let wave = (PI * z / 20.0).sin().powi(2);
                if n == 1 { wave * (PI * z / 10.0).cos() + 0.0 } else { wave }
            });
            let factor = body.factor(n).unwrap();
            let full = body.spread(&load);
            let u = factor.solve(&full).unwrap();
            let work: f64 = full.iter().zip(&u).map(|(f, u)| f[0] * u[0]).sum();
            let values = [work, mid_wall(&body, 10.0, &u), mid_wall(&body, 0.0, &u), body.at(Surface::Outer, 20.0, &u)[0]];
            for (list, v) in all.iter_mut().zip(values) {
                list.push(v);
            }
            let u = pushed_at_its_end(&body, n.max(2), 1.0);
            all[4].push(mid_wall(&body, 20.0, &u));
        }
        for list in &all {
            println!("order n {n} {:?} {list:?}", orders(list));
        }
    }
    // M3
    let case = reference::meridian("M3_A_N3");
    let [outer, bore, length, grip, force, count] =
        ["ro", "ri", "L", "Lg", "F", "N"].map(|k| case.input(k));
    let half_angle = case.input("al").to_radians();
    let lines = [0.0, 0.5 * grip, grip, 0.5 * (grip + length), length];
    let law = Isotropic { young_modulus: case.input("E"), poisson_ratio: case.input("nu") };
    let body = tube([outer, bore, length], law, &lines, [0.25, 3.0, 0.75]);
    let harmonics: Vec<(u32, [f64; 5])> = (0..=1440).step_by(3).map(|k| {
        let size = -force / grip * patch_amplitude(count, half_angle, k);
        let load = body.radial_load(Surface::Outer, [0.0, grip], |_| size);
        let solved = body.factor(k).unwrap().solve(&body.spread(&load)).unwrap();
        (k, lines.map(|z| body.at(Surface::Outer, z, &solved)[0]))
    }).collect();
    for most in [6, 12, 24, 45, 90, 180, 360, 720, 1440] {
        for theta in [0.0, PI / 3.0] {
            let s: Vec<String> = (0..5).map(|s| {
                let f = |most: u32| -> f64 { harmonics.iter().filter(|h| h.0 <= most).map(|(k, u)| u[s] * (f64::from(*k) * theta).cos()).sum() };
                format!("{:.2e}", f(most) - f(1440))
            }).collect();
            println!("M3 {most} {theta:.2} {s:?}");
        }
    }
}

#[test]
fn quadratic_explore() {
    let _ = harmonic_nodal_stress;
}
