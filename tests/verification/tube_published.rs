//! Tubes along their length against values that others have printed: pinched tubes, fields that quadratic elements hold, buckling and torque.

use std::f64::consts::PI;

use ringwright_solver::element::meridian::Isotropic;
use ringwright_solver::geometry::Surface;
use ringwright_solver::linear::{Factor, PointConstraint};
use ringwright_solver::tube::buckling::buckling_forces;
use ringwright_solver::tube::plates::face_torque;
use ringwright_tests::reference;
use ringwright_tests::shell::Shell;

use crate::tube::{mid_wall, tube};

/// How the far end of a pinched tube is held.
#[derive(Clone, Copy, PartialEq)]
enum End {
    Free,
    /// By a rigid disc: along the radius and around, free along the axis.
    Disc,
}

/// Mid-wall displacements inwards under one of two opposite forces of 1 N on the outside, half-way along, harmonic by harmonic (those named; odd ones
/// vanish). The wall keeps half its thickness between the point and where it is asked, so the sum is finite without spreading the force. By symmetry half
/// of the tube is meshed, from its loaded middle.
fn pinched(
    [r, t, length]: [f64; 3],
    law: Isotropic,
    far: End,
    harmonics: &[u32],
    [beside, growth, layer]: [f64; 3],
) -> Vec<f64> {
    let half = 0.5 * length;
    let sizes = [beside * t, 0.05 * r, layer * t];
    let body = graded([r + 0.5 * t, r - 0.5 * t, half], law, sizes, growth);
    let [middle, end] = body.mesh().end_faces();
    let node = body.mesh().side(0, Surface::Outer)[0];
    let solved = harmonics.iter().map(|&k| {
        let mut held: Vec<PointConstraint> = middle.iter().map(|&n| [n, 1]).collect();
        if far == End::Disc {
            held.extend(end.iter().flat_map(|&n| [[n, 0], [n, 2]]));
        }
        if k == 0 {
            held.push([node, 2]);
        }
        // half of 1 N at 0 and at pi: 1 / pi in every even harmonic but the first
        let force = if k == 0 { 0.5 / PI } else { 1.0 / PI };
        let load = body.spread(&[(node, [-force, 0.0, 0.0])]);
        let u = body.factor_held(k, &held).unwrap().solve(&load).unwrap();
        -mid_wall(&body, 0.0, &u)
    });
    solved.collect()
}

fn graded(
    [ro, ri, length]: [f64; 3],
    law: Isotropic,
    [beside, along, through]: [f64; 3],
    growth: f64,
) -> ringwright_solver::tube::TubeBody {
    use ringwright_solver::geometry::Meridian;
    use ringwright_solver::mesh::*;
    let outline = Meridian::tube(ro, ri, length).unwrap();
    let marks = [AxialGrading { z: 0.0, size: beside }, AxialGrading { z: length, size: 10.0 * beside }];
    let sizes = MeridianSizes { along, through, growth };
    ringwright_solver::tube::TubeBody::new(MeridianMesh::build(&outline, &marks, &sizes), law)
}

#[test]
fn a_pinched_tube_explore() {
    let law = Isotropic { young_modulus: 10.5e6, poisson_ratio: 0.3125 };
    let (r, length) = (4.953_f64, 10.35);
    for thin in [52.7, 1e2, 2e2, 4e2, 1e3, 1e4] {
        let t = r / thin;
        let c = law.young_modulus * t.powi(3) / r;
        let shell = Shell { radius: r, wall: t, length, young_modulus: 10.5e6, poisson_ratio: 0.3125 };
        for degree in [30, 60] {
            let all: Vec<f64> = (1..=40).map(|k| c * shell.pinched_with_free_ends(2 * k, degree)).collect();
            println!("shell {thin:e} {degree} u0 {:.2e} u2 {:.6} u4 {:.6} u20 {:.3e} 40 {:.6} 80 {:.6}", c * shell.pinched_with_free_ends(0, degree), all[0], all[1], all[9], all[..20].iter().sum::<f64>(), all.iter().sum::<f64>());
        }
        if thin > 2e3 { continue; }
        for mesh in [[0.25, 1.4, 0.5], [0.125, 1.2, 0.25]] {
            let harmonics: Vec<u32> = (0..=100).map(|k| 2 * k).collect();
            let found = pinched([r, t, length], law, End::Free, &harmonics, mesh);
            let s = |n: usize| c * found[..=n].iter().sum::<f64>();
            println!("pinch {thin:e} {mesh:?} u0 {:.2e} u2 {:.6} u4 {:.6} u20 {:.3e} K40 {:.6} 80 {:.6} 200 {:.6}", c * found[0], c * found[1], c * found[2], c * found[10], s(20), s(40), s(100));
        }
    }
}

#[test]
fn a_disc_explore() {
    let law = Isotropic { young_modulus: 3e6, poisson_ratio: 0.3 };
    let shape = [300.0, 3.0, 600.0];
    let scale = law.young_modulus * 3.0;
    let harmonics: Vec<u32> = (0..=80).map(|k| 2 * k).collect();
    let shell = Shell { radius: 300.0, wall: 3.0, length: 600.0, young_modulus: 3e6, poisson_ratio: 0.3 };
    let shell: Vec<f64> = harmonics.iter().map(|&k| shell.pinched_between_discs(k)).collect();
    for mesh in [[0.25, 1.4, 0.5], [0.125, 1.2, 0.25]] {
        let found = pinched(shape, law, End::Disc, &harmonics, mesh);
        for n in [1, 2, 3, 5, 10, 20, 40, 60, 70, 80] {
            let s = |v: &[f64]| scale * v[..=n].iter().sum::<f64>();
            println!("disc {mesh:?} k {} u/shell {:.5} ({:.3e}) sum {:.4} shell {:.4}", 2 * n, found[n] / shell[n], scale * shell[n], s(&found), s(&shell));
        }
    }
}

/// Classical buckling of a thin tube under an axial force, and what is to be reckoned with.
/// Source of the formulas: NASA SP-8007 (from memory); the kept set has the figures.
/// Truth: other program; the set's own arithmetic
#[test]
fn buckling_forces_agree() {
    let case = reference::meridian("M1_A_al_t3");
    let [outer, bore, e, nu] = ["ro", "ri", "E", "nu"].map(|k| case.input(k));
    let found = buckling_forces(0.5 * (outer + bore), outer - bore, e, nu);
    case.only(|name| name.starts_with("buckling"))
        .compare(|name| match name {
            "buckling.P_classical" => found[0],
            _ => found[1],
        });
}

/// Torque of an end face under even pressure.
/// Truth: other program; the set's own arithmetic, checked there by integration
#[test]
fn the_torque_of_an_end_face_agrees() {
    let case = reference::meridian("M6_torque_A_al_t3");
    let [mu, force, outer, bore] = ["mu", "P", "ro", "ri"].map(|k| case.input(k));
    case.only(|name| name.ends_with("uniform_pressure"))
        .compare(|_| face_torque(mu, force, outer, bore));
}
