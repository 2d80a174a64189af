//! Tubes along their length: the r-z engine, harmonic by harmonic, against independent answers, published ones and shell theory.

use std::f64::consts::{PI, TAU};

use ringwright_solver::element::meridian::Isotropic;
use ringwright_solver::element::stiffness_rule;
use ringwright_solver::geometry::{Meridian, MeridianPoint, Surface};
use ringwright_solver::linear::Factor;
use ringwright_solver::mesh::{AxialGrading, MeridianMesh, MeridianSizes};
use ringwright_solver::tube::TubeBody;
use ringwright_solver::tube::plates::EndFriction;
use ringwright_tests::reference::{self, Reference};

/// Lengths of elements, mm.
pub(crate) struct Sizes {
    /// Columns beside the lines asked for.
    pub(crate) beside: f64,
    /// Longest column.
    pub(crate) along: f64,
    /// Thickest layer.
    pub(crate) through: f64,
    /// Factor from column to column.
    pub(crate) growth: f64,
}

/// A plain tube with lines at these positions.
pub(crate) fn graded(
    [outer, bore, length]: [f64; 3],
    law: Isotropic,
    lines: &[f64],
    sizes: &Sizes,
) -> TubeBody {
    let outline = Meridian::tube(outer, bore, length).unwrap();
    let size = sizes.beside;
    let marks: Vec<AxialGrading> = lines.iter().map(|&z| AxialGrading { z, size }).collect();
    let sizes = MeridianSizes {
        along: sizes.along,
        through: sizes.through,
        growth: sizes.growth,
    };
    TubeBody::new(MeridianMesh::build(&outline, &marks, &sizes), law)
}

/// A plain tube with lines at these positions, columns of a given length beside them, layers of a given thickness.
pub(crate) fn tube(
    outline: [f64; 3],
    law: Isotropic,
    lines: &[f64],
    [beside, along, through]: [f64; 3],
) -> TubeBody {
    let sizes = Sizes {
        beside,
        along,
        through,
        growth: 1.5,
    };
    graded(outline, law, lines, &sizes)
}

fn law(case: &Reference) -> Isotropic {
    Isotropic {
        young_modulus: case.input("E"),
        poisson_ratio: case.input("nu"),
    }
}

/// Radial displacement amplitude in the middle of the wall at a line of the mesh, for an even number of layers.
pub(crate) fn mid_wall(body: &TubeBody, z: f64, displacement: &[[f64; 3]]) -> f64 {
    let mesh = body.mesh();
    let near = |h: &&f64| (**h - z).abs();
    let closest = mesh
        .heights()
        .iter()
        .min_by(|a, b| near(a).total_cmp(&near(b)));
    let line = mesh
        .heights()
        .iter()
        .position(|h| Some(h) == closest)
        .unwrap();
    assert!(line.is_multiple_of(2) && near(&&mesh.heights()[line]) < 1e-9);
    let node = mesh.topology().node(line, mesh.topology().through());
    displacement[node][0]
}

/// Position as the references name it.
fn place(name: &str, length: f64) -> f64 {
    let inside = name.split('[').nth(1).unwrap().trim_end_matches(']');
    match inside {
        "0" => 0.0,
        "L/8" => length / 8.0,
        "L/4" => length / 4.0,
        "L/2" => length / 2.0,
        "3L/4" => 0.75 * length,
        "L" => length,
        other => panic!("no position {other}"),
    }
}

/// A force on a line round the outside at one end, `cos n theta`, N per mm of the outside's circumference.
/// Truth: other program; the set's own finite elements and a second program, kept in the set
#[test]
fn line_loads_on_an_end_agree() {
    for (ratio, length) in [("0.25", 15.0), ("1.0", 60.0), ("3.0", 180.0)] {
        for n in 2..=4_u32 {
            let case = reference::meridian(&format!("M2_al_t3_LR{ratio}_n{n}"));
            let [outer, bore] = ["ro", "ri"].map(|k| case.input(k));
            let quarters = [0.0, 0.25, 0.5, 0.75, 1.0].map(|q| q * length);
            let body = tube(
                [outer, bore, length],
                law(&case),
                &quarters,
                [0.2, 4.0, 0.5],
            );
            let node = body.mesh().side(0, Surface::Outer)[0];
            let force = outer * case.input("p_line");
            let load = body.spread(&[(node, [force, 0.0, 0.0])]);
            let u = body.factor(n).unwrap().solve(&load).unwrap();
            case.compare(|name| match name.starts_with("u_od") {
                true => body.at(Surface::Outer, place(name, length), &u)[0],
                false => mid_wall(&body, place(name, length), &u),
            });
        }
    }
}

/// Amplitudes of `count` equal patches at equal angles, N per radian of each harmonic of unit force a patch.
pub(crate) fn patch_amplitude(count: f64, half_angle: f64, k: u32) -> f64 {
    let size = count / (2.0 * half_angle.sin());
    match k {
        0 => size * half_angle / PI,
        _ => size * 2.0 * (f64::from(k) * half_angle).sin() / (PI * f64::from(k)),
    }
}

/// Patches over the first third of a tube: displacement at five stations, over the jaws and between them.
/// Truth: other program; the set's own finite elements and its three-dimensional models
#[test]
fn patches_on_a_short_grip_agree() {
    for id in ["M3_A_N3", "M3_A_N6"] {
        let case = reference::meridian(id);
        let [outer, bore, length, grip, force, count] =
            ["ro", "ri", "L", "Lg", "F", "N"].map(|k| case.input(k));
        let half_angle = case.input("al").to_radians();
        let stations = [
            ("z0", 0.0),
            ("Lg_2", 0.5 * grip),
            ("Lg", grip),
            ("mid_overhang", 0.5 * (grip + length)),
            ("L", length),
        ];
        let lines = stations.map(|s| s.1);
        let body = tube([outer, bore, length], law(&case), &lines, [0.25, 3.0, 0.75]);
        let harmonics: Vec<(u32, [f64; 5])> = (0..=360)
            .step_by(count as usize)
            .map(|k| {
                let size = -force / grip * patch_amplitude(count, half_angle, k);
                let load = body.radial_load(Surface::Outer, [0.0, grip], |_| size);
                let solved = body.factor(k).unwrap().solve(&body.spread(&load)).unwrap();
                (k, lines.map(|z| body.at(Surface::Outer, z, &solved)[0]))
            })
            .collect();
        let at = |s: usize, theta: f64| -> f64 {
            let terms = harmonics.iter();
            terms
                .map(|(k, u)| u[s] * (f64::from(*k) * theta).cos())
                .sum()
        };
        case.compare(|name| {
            let s = stations
                .iter()
                .position(|(place, _)| name.ends_with(&format!("[{place}]")))
                .unwrap();
            match name.split('[').next().unwrap() {
                "u_od_jaw_line" => at(s, 0.0),
                "u_od_midway" => at(s, PI / count),
                "oor_od" => at(s, PI / count) - at(s, 0.0),
                _ => harmonics[1].1[s],
            }
        });
    }
}

/// Between flat plates: ends that slide, stick, and rub.
/// Truth: other program; the set's own finite elements and a second program
#[test]
fn an_end_clamp_agrees() {
    let case = reference::meridian("M1_A_al_t3");
    let [outer, bore, length, force] = ["ro", "ri", "L", "P"].map(|k| case.input(k));
    let eighths: Vec<f64> = [0.0, 0.125, 0.25, 0.5, 1.0].map(|q| q * length).to_vec();
    let body = tube(
        [outer, bore, length],
        law(&case),
        &eighths,
        [0.05, 2.0, 0.1],
    );
    let [sliding, stuck, rubbing] = [
        EndFriction::Sliding,
        EndFriction::Stuck,
        EndFriction::Coulomb(case.input("mu")),
    ]
    .map(|ends| body.between_plates(force, ends).unwrap());
    case.only(|name| !name.starts_with("buckling"))
        .compare(|name| {
            let plated = match name.split('.').next().unwrap() {
                "stuck" => &stuck,
                "mu015" => &rubbing,
                _ => &sliding,
            };
            let u = |z: f64| body.at(Surface::Outer, z, &plated.displacement)[0];
            match name.split('.').next_back().unwrap() {
                "u_od_free_slide" => u(0.3 * length),
                "mean_radial_friction_over_P" => -plated.radial_friction[0] / force,
                // an end that sticks stays where it is; between the points at which that is asked its edge moves by some nanometres
                other if other.starts_with("released_low_spot") => {
                    match name.starts_with("stuck") {
                        true => -u(0.5 * length),
                        false => u(0.0) - u(0.5 * length),
                    }
                }
                other => u(place(other, length)),
            }
        });
    for plated in [&stuck, &rubbing] {
        // both ends do the same, and carry the force
        for face in &plated.faces {
            let mut carried = 0.0;
            for pair in face.windows(2) {
                let [a, b] = [pair[0], pair[1]];
                let middle = 0.5 * (a.radius + b.radius);
                carried += TAU * middle * (b.radius - a.radius) * 0.5 * (a.pressure + b.pressure);
            }
            assert!((carried / force - 1.0).abs() < 1e-3, "{carried}");
        }
        let apart = plated.radial_friction[0] - plated.radial_friction[1];
        assert!(apart.abs() < 1e-5 * force, "{apart:e}");
    }
    // friction is never more than it can be
    for point in rubbing.faces.iter().flatten() {
        assert!(point.shear.abs() <= case.input("mu") * point.pressure * (1.0 + 1e-9));
    }
}

/// A solid bar bent by `r cos theta` on its ends: a quadratic field that the elements have among theirs.
/// E 72, nu 0.3, radius 1, length 12, from the middle: `u_r(0.5, 6) = 0.2505208`, `u_z(0.5, 6) = -0.0416667`,
/// energy 0.02083333.
/// Truth: published; test sslv109 of an open finite-element program's validation suite (code_aster)
#[test]
fn a_bent_bar_is_met_to_rounding() {
    let law = Isotropic {
        young_modulus: 72.0,
        poisson_ratio: 0.3,
    };
    let body = tube([1.0, 0.0, 6.0], law, &[0.0, 6.0], [1.0, 1.5, 0.5]);
    let mesh = body.mesh();
    // the middle of the bar stays plane and in place
    let [middle, end] = mesh.end_faces();
    let mut held: Vec<[usize; 2]> = middle.iter().map(|&n| [n, 1]).collect();
    held.push([middle[middle.len() / 2], 0]);
    let mut load = vec![[0.0; 3]; mesh.coords().len()];
    for e in 0..end.len() / 2 {
        let nodes = [0, 1, 2].map(|k| end[2 * e + k]);
        let [a, _, b] = nodes.map(|n| mesh.coords()[n][0]);
        // Gauss's rule of four points: the traction r, the shape functions and r make a polynomial of degree four
        for (x, w) in [
            (-0.861_136_311_594_052_6, 0.347_854_845_137_453_85),
            (-0.339_981_043_584_856_26, 0.652_145_154_862_546_1),
            (0.339_981_043_584_856_26, 0.652_145_154_862_546_1),
            (0.861_136_311_594_052_6, 0.347_854_845_137_453_85),
        ] {
            let r = 0.5 * (a + b) + 0.5 * (b - a) * x;
            let shape = [0.5 * x * (x - 1.0), 1.0 - x * x, 0.5 * x * (x + 1.0)];
            for (node, s) in nodes.iter().zip(shape) {
                load[*node][1] -= 0.5 * (b - a) * w * s * r * r;
            }
        }
    }
    let u = body.factor_held(1, &held).unwrap().solve(&load).unwrap();
    // the work on both halves, half of it energy: 1/48 where the square of the cosine around is left out
    let energy: f64 = load.iter().zip(&u).map(|(f, u)| f[1] * u[1]).sum();
    assert!((energy - 0.020_833_33).abs() < 1e-8, "{energy}");
    let moved = u[middle[middle.len() / 2]][0];
    let at = |r: f64| {
        let near = |n: &&usize| (mesh.coords()[**n][0] - r).abs();
        let node = end
            .iter()
            .min_by(|a, b| near(a).total_cmp(&near(b)))
            .unwrap();
        assert!(near(&node) < 1e-12);
        u[*node]
    };
    // the held point lies half a radius out, where the field has a part of its own
    let own = 0.3 * 0.25 / (2.0 * 72.0);
    assert!(
        (at(0.5)[0] - moved - (0.2505208 - own)).abs() < 1e-7,
        "{:?}",
        at(0.5)
    );
    assert!((at(0.5)[1] + 0.0416667).abs() < 1e-7, "{:?}", at(0.5));
    let exact = |[r, z]: [f64; 2]| {
        let own = 0.3 * r * r / (2.0 * 72.0);
        [z * z / (2.0 * 72.0) + own, -r * z / 72.0]
    };
    let shift = exact([0.5, 0.0])[0];
    for (c, u) in mesh.coords().iter().zip(&u) {
        let want = exact(*c);
        assert!(
            (u[0] - (want[0] - shift)).abs() < 1e-11,
            "{c:?} {u:?} {want:?}"
        );
        assert!((u[1] - want[1]).abs() < 1e-11, "{c:?} {u:?} {want:?}");
    }
}

/// Deflection under two opposite forces on a free tube, each spread over a small patch around its middle, mm: how far the loaded places move together.
fn two_forces([radius, wall, length]: [f64; 3], law: Isotropic, force: f64) -> f64 {
    let patch = 0.25 * wall.max(0.01 * radius);
    let middle = 0.5 * length;
    let lines = [0.0, middle - patch, middle, middle + patch, length];
    let beside = 0.5 * patch;
    let along = 0.05 * radius;
    let body = tube(
        [radius + 0.5 * wall, radius - 0.5 * wall, length],
        law,
        &lines,
        [beside, along, 0.5 * wall],
    );
    let half_angle = patch / radius;
    let pressed = [middle - patch, middle + patch];
    let mut deflection = 0.0;
    for k in (0..=600).step_by(2) {
        let size = -force / (2.0 * patch) * patch_amplitude(2.0, half_angle, k);
        let load = body.radial_load(Surface::Outer, pressed, |_| size);
        let u = body.factor(k).unwrap().solve(&body.spread(&load)).unwrap();
        deflection -= 2.0 * mid_wall(&body, middle, &u);
    }
    deflection
}

/// Two opposite forces in the middle of a free tube: E 10.5e6, nu 0.3125, R 4.953, t 0.094, L 10.35, P 100: each force moves by 0.1139.
/// Truth: published; test ssls20 of an open finite-element program's validation suite (code_aster), whose programs give 0.11328 to 0.11360
#[test]
fn a_pinched_tube_gives_way_as_published() {
    let law = Isotropic {
        young_modulus: 10.5e6,
        poisson_ratio: 0.3125,
    };
    let found = 0.5 * two_forces([4.953, 0.094, 10.35], law, 100.0);
    assert!((found / 0.1139 - 1.0).abs() < 6e-3, "{found}");
}

/// Volume of a mesh per radian, mm3, by the rule of the stiffness: exact where sides are straight.
fn volume(mesh: &MeridianMesh) -> f64 {
    let mut volume = 0.0;
    for column in 0..mesh.topology().around() {
        for layer in mesh.filled(column) {
            let nodes = mesh.topology().element_nodes(column, layer);
            for point in stiffness_rule() {
                let (mut j, mut r) = ([[0.0; 2]; 2], 0.0);
                for (k, n) in nodes.iter().enumerate() {
                    let at = mesh.coords()[*n];
                    r += point.shape[k] * at[0];
                    for (row, g) in j.iter_mut().zip(point.gradient[k]) {
                        row[0] += g * at[0];
                        row[1] += g * at[1];
                    }
                }
                let det = j[0][0] * j[1][1] - j[0][1] * j[1][0];
                assert!(det > 0.0, "column {column}, layer {layer}");
                volume += det * point.weight * r;
            }
        }
    }
    volume
}

/// Flange, floor, groove from both sides and taper: every element is laid the right way round, and together they are the body.
/// Truth: analytical; cylinders and frusta
#[test]
fn steps_and_tapers_have_their_volume() {
    let laid = |rows: &[[f64; 3]]| {
        let point = |&[z, outer, bore]: &[f64; 3]| MeridianPoint { z, outer, bore };
        let outline = Meridian::through(&rows.iter().map(point).collect::<Vec<_>>()).unwrap();
        let sizes = MeridianSizes {
            along: 2.0,
            through: 1.0,
            growth: 1.4,
        };
        volume(&MeridianMesh::build(&outline, &[], &sizes))
    };
    let frustum = |z: f64, [a, b]: [f64; 2]| z * (a * a + a * b + b * b) / 6.0;
    let plain = |z: f64, outer: f64, bore: f64| z * (outer * outer - bore * bore) / 2.0;
    let flange = laid(&[
        [0.0, 80.0, 57.0],
        [10.0, 80.0, 57.0],
        [10.0, 60.0, 57.0],
        [40.0, 62.0, 58.0],
    ]);
    let want = plain(10.0, 80.0, 57.0) + frustum(30.0, [60.0, 62.0]) - frustum(30.0, [57.0, 58.0]);
    assert!((flange / want - 1.0).abs() < 1e-9, "{flange} {want}");
    let cup = laid(&[
        [0.0, 30.0, 0.0],
        [5.0, 30.0, 0.0],
        [5.0, 30.0, 27.0],
        [25.0, 30.0, 27.0],
        [25.0, 33.0, 26.0],
        [28.0, 33.0, 26.0],
        [28.0, 29.0, 27.5],
        [40.0, 29.0, 27.5],
    ]);
    let want = plain(5.0, 30.0, 0.0)
        + plain(20.0, 30.0, 27.0)
        + plain(3.0, 33.0, 26.0)
        + plain(12.0, 29.0, 27.5);
    assert!((cup / want - 1.0).abs() < 1e-9, "{cup} {want}");
}
