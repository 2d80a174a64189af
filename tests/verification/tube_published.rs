//! Tubes along their length against values that others have printed: pinched tubes, buckling and torque.
//!
//! Printed values of pinched tubes are thin shells', some of them coarse ones; shells worked out here (`ringwright_tests::shell`) stand between them and the
//! solid, so that each difference has one reason.

use std::f64::consts::PI;

use ringwright_solver::element::meridian::Isotropic;
use ringwright_solver::geometry::Surface;
use ringwright_solver::grip::{TurningJaw, face_torque};
use ringwright_solver::linear::{Factor, LinearError, PointConstraint};
use ringwright_solver::tube::buckling::buckling_forces;
use ringwright_tests::reference;
use ringwright_tests::shell::Shell;

use crate::tube::{Sizes, graded, mid_wall};

/// How the far end of a pinched tube is held.
#[derive(Clone, Copy, PartialEq)]
enum End {
    Free,
    /// By a rigid disc: along the radius and around, free along the axis.
    Disc,
}

/// Mid-wall displacements inwards under one of two opposite forces of 1 N on the outside, half-way along, of the even harmonics up to one (odd ones
/// vanish), by `E t / P`. The force is a point: half the wall lies between it and where the displacement is asked, so the sum converges without a patch.
/// By symmetry half of the tube is meshed, from its loaded middle.
fn pinched(shape: &Shell, far: End, most: u32, sizes: &Sizes) -> Result<Vec<f64>, LinearError> {
    let (r, t) = (shape.radius, shape.wall);
    let law = Isotropic {
        young_modulus: shape.young_modulus,
        poisson_ratio: shape.poisson_ratio,
    };
    let outline = [r + 0.5 * t, r - 0.5 * t, 0.5 * shape.length];
    let body = graded(outline, law, &[0.0], sizes);
    let [middle, end] = body.mesh().end_faces();
    let node = body.mesh().side(0, Surface::Outer)[0];
    let even = (0..=most).step_by(2);
    let solved = even.map(|k| {
        let mut held: Vec<PointConstraint> = middle.iter().map(|&n| [n, 1]).collect();
        if far == End::Disc {
            held.extend(end.iter().flat_map(|&n| [[n, 0], [n, 2]]));
        }
        if k == 0 {
            held.push([node, 2]);
        }
        // half of 1 N at 0 and at pi
        let force = if k == 0 { 0.5 / PI } else { 1.0 / PI };
        let load = body.spread(&[(node, [-force, 0.0, 0.0])]);
        let u = body.factor_held(k, &held)?.solve(&load)?;
        Ok(-mid_wall(&body, 0.0, &u) * shape.young_modulus * t)
    });
    solved.collect()
}

/// Sum of the even harmonics up to one.
fn sum(harmonics: &[f64], most: usize) -> f64 {
    harmonics[..=most / 2].iter().sum()
}

/// What a thin shell's harmonics come to: beyond the last they fall as `k^-3`, so their sum closes in as `k^-2`.
fn limit(harmonics: &[f64]) -> f64 {
    let most = 2 * (harmonics.len() - 1);
    let [half, whole] = [most / 2, most].map(|k| sum(harmonics, k));
    whole + (whole - half) / 3.0
}

/// Elements by the wall: columns of a quarter of it beside the force, two layers.
fn coarse(shape: &Shell) -> Sizes {
    Sizes {
        beside: 0.25 * shape.wall,
        along: 0.05 * shape.radius,
        through: 0.5 * shape.wall,
        growth: 1.4,
    }
}

/// A tube with free ends; its radius by its wall.
fn free(thin: f64) -> Shell {
    Shell {
        radius: 4.953,
        wall: 4.953 / thin,
        length: 10.35,
        young_modulus: 10.5e6,
        poisson_ratio: 0.3125,
    }
}

/// The thin shell's `c = delta E t^3 / (P R)`.
fn thin_shell(shape: &Shell) -> f64 {
    let one = |k| shape.pinched_with_free_ends(k, 60);
    let all: Vec<f64> = (0..=80).step_by(2).map(one).collect();
    limit(&all) * shape.young_modulus * shape.wall.powi(3) / shape.radius
}

/// The solid's.
fn solid(shape: &Shell, most: u32) -> Result<f64, LinearError> {
    let all = pinched(shape, End::Free, most, &coarse(shape))?;
    Ok(sum(&all, most as usize) * shape.wall.powi(2) / shape.radius)
}

/// Two opposite forces half-way along a free tube, R 4.953, L 10.35, nu 0.3125: `c = delta E t^3 / (P R)` by the wall.
///
/// Printed: 1.907 at R/t 1e6, 1.912 at 1e4 (series), 1.997 at 1e2 (a mesh of 25 by 35 shell elements). Inextensional bending alone comes to
/// `24 (1 - nu^2) (pi^2 - 8) R^2 / (16 pi L)`, 1.9092, and whoever stretches as well gives way by more, so the first lies 1.1e-3 below its own limit. The
/// second is the thin shell's. The third is neither the thin shell's, 1.9693, nor the solid's, 1.9700: 1.4 percent above both, it is what R/t 52.7 comes to
/// (the tube of wall 0.094 that the source sets out from).
///
/// A solid's stiffness through the wall is `(R/t)^4` times that of its bending, so rounding reaches 3e-4 at R/t 400 and one percent at 1000, by the mesh;
/// at 1e4 and beyond nothing of the answer is left, and only at times is the factor refused. Thin shells take over where that matters.
/// Truth: published; series and meshes of Briassoulis, 2005, as an open finite-element library quotes them, two of three not met as said; the thin shell
/// worked out here is the judge
#[test]
fn a_pinched_free_tube_follows_the_thin_shell() {
    let inextensional = 24.0 * (1.0 - 0.3125_f64.powi(2)) * (PI * PI - 8.0) * 4.953_f64.powi(2)
        / (16.0 * PI * 10.35);
    assert!((inextensional - 1.9092).abs() < 1e-4, "{inextensional}");
    let series = thin_shell(&free(1e4));
    assert!((series - 1.912).abs() < 5e-4, "{series}");
    let mut before = f64::INFINITY;
    for (thin, apart) in [(1e2, 4.5e-4), (2e2, 1e-4), (4e2, 6e-4)] {
        let shape = free(thin);
        let [shell, found] = [thin_shell(&shape), solid(&shape, 200).unwrap()];
        assert!(
            (found / shell - 1.0).abs() < apart,
            "R/t {thin}: {found} {shell}"
        );
        assert!(
            inextensional < found && found < before,
            "R/t {thin}: {found}"
        );
        before = found;
    }
    let found = solid(&free(1e2), 200).unwrap();
    assert!((found - 1.9700).abs() < 3e-4, "{found}");
    let thinner = solid(&free(1e3), 100).unwrap() / thin_shell(&free(1e3));
    assert!((thinner - 1.0).abs() < 3e-2, "{thinner}");
}

/// The same tube with a wall of 0.094, whose deflection of 0.1139 under 100 N is printed: `c = 2.0055` with the four digits that it has.
/// Truth: published; test ssls20 of an open finite-element program's validation suite (code_aster)
#[test]
fn a_point_force_on_a_free_tube_gives_way_as_published() {
    let shape = free(4.953 / 0.094);
    let printed = 0.1139 * 10.5e6 * 0.094_f64.powi(3) / (100.0 * 4.953);
    let found = solid(&shape, 400).unwrap();
    assert!((found / printed - 1.0).abs() < 1.0e-3, "{found} {printed}");
    // a shell that does not shear across its wall gives way by a little less
    let shell = thin_shell(&shape);
    assert!(
        (0.0..2e-3).contains(&(found / shell - 1.0)),
        "{found} {shell}"
    );
}

/// A tube between discs: radius 300, length 600; its wall.
fn between_discs(wall: f64) -> Shell {
    Shell {
        radius: 300.0,
        wall,
        length: 600.0,
        young_modulus: 3e6,
        poisson_ratio: 0.3,
    }
}

/// Its thin shell's even harmonics by `E t / P`.
fn disc_shell(shape: &Shell, most: u32) -> Vec<f64> {
    let one = |k| shape.pinched_between_discs(k) * shape.young_modulus * shape.wall;
    (0..=most).step_by(2).map(one).collect()
}

/// Two opposite forces half-way along a tube between rigid discs that leave the axis free, R/t 100, length 2 R, nu 0.3: the displacement under a force is
/// printed as 164.24 P/(E t). Sanders's shell comes to 164.49, summed; the printed figure lies between its sums up to 120 and up to 140 waves.
///
/// Harmonic by harmonic the solid is that shell in the limit of a thin wall. Under the point it shears across the wall besides, which high harmonics show:
/// 1.5 P/(E t) in all, 0.9 percent here, and hardly another share of P/(E t) for another wall. What the octaves of the sum add is halved from one to the next.
/// Truth: published, analytical; Lindberg, Olson and Cowper, 1969, as test ssls104 of an open finite-element program's validation suite (code_aster) quotes
/// it, met to 1.1 percent as said; Sanders's shell
#[test]
fn a_tube_pinched_between_discs_agrees() {
    let fine = |shape: &Shell| Sizes {
        beside: 0.125 * shape.wall,
        along: 0.05 * shape.radius,
        through: 0.25 * shape.wall,
        growth: 1.3,
    };
    let printed = 164.24;
    let shell = disc_shell(&between_discs(3.0), 160);
    assert!(
        sum(&shell, 120) < printed && printed < sum(&shell, 140),
        "{shell:?}"
    );
    let whole = limit(&shell);
    assert!((whole - 164.488).abs() < 2e-3, "{whole}");

    let mut before = f64::INFINITY;
    for (wall, most_apart) in [(6.0, 1.85e-2), (3.0, 4.1e-3), (1.5, 8.5e-4)] {
        let shape = between_discs(wall);
        let found = pinched(&shape, End::Disc, 10, &fine(&shape)).unwrap();
        let pairs = found.iter().zip(disc_shell(&shape, 10)).skip(1);
        let apart = pairs.fold(0.0, |m: f64, (a, b)| m.max((a / b - 1.0).abs()));
        assert!(apart < most_apart, "wall {wall}: {apart:e}");
        assert!(apart < before / 4.0, "wall {wall}: {apart:e} {before:e}");
        before = apart;
    }

    let thick = pinched(
        &between_discs(6.0),
        End::Disc,
        320,
        &fine(&between_discs(6.0)),
    )
    .unwrap();
    let sheared = sum(&thick, 320) - limit(&disc_shell(&between_discs(6.0), 160));
    let found = pinched(
        &between_discs(3.0),
        End::Disc,
        640,
        &fine(&between_discs(3.0)),
    )
    .unwrap();
    let octaves = [80, 160, 320, 640].map(|k| sum(&found, k));
    let added = [1, 2, 3].map(|k| octaves[k] - octaves[k - 1]);
    assert!(
        added[1] < 0.5 * added[0] && added[2] < 0.5 * added[1],
        "{added:?}"
    );
    for excess in [octaves[3] - whole, sheared] {
        assert!((1.4..1.6).contains(&excess), "{excess}");
    }
    assert!((octaves[3] / printed - 1.0).abs() < 1.2e-2, "{octaves:?}");
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

/// Torque of an end face under even pressure: the rings of the face added up, and the set, which states seven digits.
/// Truth: analytical, other program; the set's own arithmetic
#[test]
fn the_torque_of_an_end_face_agrees() {
    let case = reference::meridian("M6_torque_A_al_t3");
    let [mu, force, outer, bore] = ["mu", "P", "ro", "ri"].map(|k| case.input(k));
    let found = face_torque(mu, force, outer, bore);
    let stated = case.output("torque_per_face_uniform_pressure").value;
    assert!((found - stated).abs() < 0.05, "{found} {stated}");
    let rings = 2000;
    let width = (outer - bore) / f64::from(rings);
    let pressure = force / (PI * (outer * outer - bore * bore));
    let one = |k: i32| {
        let r = bore + (f64::from(k) + 0.5) * width;
        2.0 * PI * r * r * width * mu * pressure
    };
    let added: f64 = (0..rings).map(one).sum();
    assert!((found / added - 1.0).abs() < 1e-9, "{found} {added}");
    // a face that has worn in presses less the further out, and holds a little less
    let worn = case.output("torque_per_face_uniform_wear").value;
    assert!(worn < found && found < 1.001 * worn, "{found} {worn}");
}

/// The force of a jaw that the spindle carries round.
/// Truth: analytical, other program; mass times radius times the square of the speed, as the set works it out
#[test]
fn turning_takes_force_from_a_jaw() {
    for k in 0..4 {
        let case = reference::meridian(&format!("M6_spin_{k}"));
        let jaw = TurningJaw {
            force: case.input("F0"),
            mass: case.input("m_kg"),
            centroid_radius: case.input("r_mm"),
            inwards: true,
            softened: 1.0,
        };
        let speed = case.input("rpm");
        case.compare(|name| match name {
            "F_jaw" => jaw.force_at(speed),
            "F_centrifugal" => jaw.centrifugal(speed),
            "rpm_at_zero_force" => jaw.speed_at_zero_force().unwrap(),
            other => panic!("no output {other}"),
        });
        let inside = TurningJaw {
            inwards: false,
            ..jaw
        };
        assert!(inside.force_at(speed) > jaw.force);
        assert_eq!(inside.speed_at_zero_force(), None);
    }
}
