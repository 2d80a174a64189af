//! Answers that others have printed: a rigid punch, two rings with a harmonic through their interface, pipe rings and test rings under two loads.
//!
//! Only figures and formulas are taken over; each stands with where it was read.

use std::f64::consts::{PI, TAU};

use nalgebra::{SMatrix, SVector};
use ringwright_solver::contact::{Clamp, Clamped, unwatched};
use ringwright_solver::element::PlaneStress;
use ringwright_solver::geometry::Surface;
use ringwright_solver::linear::rigid_body_constraints;
use ringwright_solver::mesh::{Grading, Mesh, graded_between};
use ringwright_solver::scheme::{Body, Drive, Face, PressurePatch, Section, Sleeve, Supports};
use ringwright_tests::body;
use ringwright_tests::files::{self, number};

/// A round part in a hold.
fn close(mesh: &Mesh, law: &PlaneStress, radii: [f64; 2], supports: Supports) -> Clamped {
    let [bore_radius, outer_radius] = radii;
    let section = Section {
        outer_radius,
        bore_radius,
        length: law.thickness,
    };
    let surface = |s: Surface, _: f64| section.radius(s);
    let factor = body::factor(mesh, law, &rigid_body_constraints(mesh));
    Clamp::new(&[supports], 1.0, section, &surface)
        .unwrap()
        .clamp(&factor, mesh, &surface, None, None, &unwatched)
        .unwrap()
}

/// Depths (mm) of layers that begin with `first` and grow by about `growth`, up to each of `stops` exactly.
fn depths(first: f64, growth: f64, stops: &[f64]) -> Vec<f64> {
    let (mut ends, mut size) = (vec![0.0], first);
    for &stop in stops {
        let start = ends[ends.len() - 1];
        let mut steps = Vec::new();
        while steps.iter().sum::<f64>() < stop - start {
            steps.push(size);
            size *= growth;
        }
        // the last of them end at the stop
        let scale = (stop - start) / steps.iter().sum::<f64>();
        let mut at = start;
        for step in &steps {
            at += scale * step;
            ends.push(at);
        }
        size = scale * steps[steps.len() - 1] * growth;
    }
    ends
}

/// Force inside `x` (mm from the middle, both sides) of a pressure that is linear between places (rad from the axis), N a mm.
fn carried_within(pressures: &[[f64; 2]], radius: f64, x: f64) -> f64 {
    let mut force = 0.0;
    for pair in pressures.windows(2) {
        let ([a, p], [b, q]) = (pair[0], pair[1]);
        let (a, b) = (radius * a, radius * b);
        let (low, high) = (a.max(-x), b.min(x));
        if low < high {
            let at = |y: f64| p + (q - p) * (y - a) / (b - a);
            force += 0.5 * (at(low) + at(high)) * (high - low);
        }
    }
    force
}

/// A rigid flat punch on a half-plane, plane stress: E 200e3, nu 0.3, half width 10 mm, 10,000 N/mm: pressure `F / (pi sqrt(a^2 - x^2))`, and 0.0967 mm against a
/// point 200 mm deep (read in the case `flatEndedRigidIndenter` of an open solid-mechanics toolbox; `2 F / (pi E) (ln(2 d / a) - (1 + nu) / 2)` = 0.09673, derived).
///
/// It is the law at the edge of every pad. Here the half-plane is a disc of 4 m radius with a small bore, between two pads bored to it: over a pad's width its outline
/// and its bending are straight to `(a / R)^2`, 6e-6. The transverse tension `F / (pi R)` that a disc has and a half-plane has not adds `nu F d / (pi R E)`, 0.25 percent, to the
/// approach, hence half a percent there; the rest is the mesh, whose elements at the edge are a fiftieth of the half width.
/// Truth: published, analytical
#[test]
fn a_flat_punch_presses_by_the_law_of_the_pad_edge() {
    let (e, nu, a, force, depth) = (200e3, 0.3, 10.0_f64, 10_000.0, 200.0);
    let (bore, outer) = (400.0, 4000.0);
    let law = PlaneStress {
        young_modulus: e,
        poisson_ratio: nu,
        thickness: 1.0,
    };
    let half = f64::asin(a / outer);
    let mut marks: Vec<Grading> = [0.0, PI]
        .into_iter()
        .flat_map(|pad| [(-half, 0.02), (0.0, 0.1), (half, 0.02)].map(|(t, s)| (pad + t, s)))
        .map(|(angle, share)| Grading {
            angle: angle.rem_euclid(TAU),
            size: share * half,
        })
        .collect();
    marks.sort_by(|a, b| a.angle.total_cmp(&b.angle));
    let ends = graded_between(&marks, 0.1, 1.3);
    let wall = outer - bore;
    let mut layers: Vec<f64> = depths(0.2, 1.25, &[depth, wall])
        .iter()
        .map(|d| 1.0 - d / wall)
        .collect();
    layers.reverse();
    layers[0] = 0.0;
    let mesh = Mesh::build(&body::round(bore, outer), &ends, &layers, true).unwrap();
    let pads =
        [0.0, PI].map(|t| Body::new(Surface::Outer, t, half, Face::Concave { radius: outer }));
    let held = close(
        &mesh,
        &law,
        [bore, outer],
        Supports {
            bodies: pads.to_vec(),
            drive: Drive::equal_force(2, force),
            ..Supports::default()
        },
    );
    let pressures = held.pressures(0);
    for share in [0.2, 0.5, 0.8, 0.95] {
        let found = carried_within(&pressures, outer, share * a) / force;
        let law = 2.0 / PI * f64::asin(share);
        assert!(
            (found / law - 1.0).abs() < 0.01,
            "within {share}: {found} {law}"
        );
    }
    let mut compared = 0;
    for [t, p] in &pressures {
        let x = outer * t;
        if x.abs() < 0.9 * a {
            let law = force / (PI * (a * a - x * x).sqrt());
            assert!((p / law - 1.0).abs() < 0.02, "{x}: {p} {law}");
            compared += 1;
        }
    }
    assert!(compared >= 15, "{compared}");
    // the node under the pad's middle at the depth
    let row = 2 * layers
        .iter()
        .position(|l| (1.0 - l) * wall < depth * 1.001)
        .unwrap();
    let line = mesh.angles().iter().position(|t| t.abs() < 1e-12).unwrap();
    let node = mesh.node(line, row);
    assert!((outer - mesh.coords()[node][0] - depth).abs() < 1e-6);
    let approach = held.approach(0) + held.displacement[node][0];
    assert!((approach / 0.0967 - 1.0).abs() < 5e-3, "{approach}");
}

/// Amplitudes of `A r^2 + B r^4 + C / r^2 + D`, the stress function of two lobes (Michell), in radial stress, shear stress and `E` times the radial displacement at a
/// radius, plane stress: derived from it here, `e_r = (s_r - nu s_t) / E` integrated.
fn two_lobes(r: f64, nu: f64) -> [[f64; 4]; 3] {
    [
        [-2.0, 0.0, -6.0 / r.powi(4), -4.0 / (r * r)],
        [2.0, 6.0 * r * r, -6.0 / r.powi(4), -2.0 / (r * r)],
        [
            -2.0 * (1.0 + nu) * r,
            -4.0 * nu * r.powi(3),
            2.0 * (1.0 + nu) / r.powi(3),
            4.0 / r,
        ],
    ]
}

/// Pressure amplitude of two lobes between an inner body (radii `a` or solid, to `b`) and an outer ring (`b` to `c`), for a pressure of amplitude `at_bore` on the
/// bore or `at_back` on the outside: frictionless and closed. Young's moduli and Poisson's ratios inner, outer.
fn interface(radii: [f64; 3], e: [f64; 2], nu: [f64; 2], at_bore: f64, at_back: f64) -> f64 {
    let [a, b, c] = radii;
    let mut system = SMatrix::<f64, 8, 8>::zeros();
    let mut right = SVector::<f64, 8>::zeros();
    let mut put = |row: usize, body: usize, terms: [f64; 4], factor: f64| {
        for (k, t) in terms.into_iter().enumerate() {
            system[(row, 4 * body + k)] += factor * t;
        }
    };
    if a > 0.0 {
        let [radial, shear, _] = two_lobes(a, nu[0]);
        put(0, 0, radial, 1.0);
        put(1, 0, shear, 1.0);
    } else {
        // nothing singular in a solid body
        put(0, 0, [0.0, 0.0, 1.0, 0.0], 1.0);
        put(1, 0, [0.0, 0.0, 0.0, 1.0], 1.0);
    }
    let (inner, outer) = (two_lobes(b, nu[0]), two_lobes(b, nu[1]));
    put(2, 0, inner[1], 1.0);
    put(3, 1, outer[1], 1.0);
    put(4, 0, inner[0], 1.0);
    put(4, 1, outer[0], -1.0);
    put(5, 0, inner[2], 1.0 / e[0]);
    put(5, 1, outer[2], -1.0 / e[1]);
    let [radial, shear, _] = two_lobes(c, nu[1]);
    put(6, 1, radial, 1.0);
    put(7, 1, shear, 1.0);
    right[0] = -at_bore;
    right[6] = -at_back;
    // rows of very different size
    for row in 0..8 {
        let size = system.row(row).amax();
        system.row_mut(row).scale_mut(1.0 / size);
        right[row] /= size;
    }
    let found = system.lu().solve(&right).unwrap();
    -(0..4).map(|k| inner[0][k] * found[k]).sum::<f64>()
}

/// The formulas of the test SSNP169 of the code_aster suite (read: two bodies, the inner one solid, outer radii 0.6 and 1, E 1e9, nu 0.2, plane strain, `p0 + p1 cos 2 t`
/// outside) give 1.4793 `p1` between them (derived from those formulas, apart from the ones here). Plane strain is plane stress with
/// `E / (1 - nu^2)` and `nu / (1 - nu)`.
/// Truth: analytical; two derivations
#[test]
fn a_harmonic_between_two_bodies_by_two_derivations() {
    let e = 1e9 / (1.0 - 0.04);
    let found = interface([0.0, 0.6, 1.0], [e, e], [0.25, 0.25], 0.0, 1.0);
    assert!((found - 1.4793).abs() < 5e-5, "{found}");
}

/// Two rings under `p0 + p1 cos 2 t`: a ring in a whole sleeve that is shrunk on it, pressed in its bore. Between them stands Lame's pressure of the shrink fit and of
/// `p0`, and the two lobes of Michell's series through the interface; `p1` comes from 120 patches side by side, whose two-lobed part is `sin(1.5 deg * 2) / (1.5 deg * 2)`-fold (of a
/// stair), less than 1e-3 of it. Tolerance: 120 columns round, as for the shrink fit (2e-3 of the largest pressure).
/// Truth: analytical; Michell's series for two rings, the case after SSNP169
#[test]
fn a_harmonic_goes_through_the_interface_of_two_rings() {
    let (a, b, c, by) = (40.0_f64, 50.0_f64, 60.0_f64, 0.02);
    let part = PlaneStress {
        young_modulus: 105e3,
        poisson_ratio: 0.34,
        thickness: 20.0,
    };
    let (e, nu) = ([part.young_modulus, 210e3], [part.poisson_ratio, 0.3]);
    let (p0, p1) = (8.0, 7.5);
    let columns = 120;
    let half = PI / f64::from(columns);
    let patches: Vec<PressurePatch> = (0..columns)
        .map(|k| {
            // from the middle of one column to that of the next, so that a patch stands at 0
            let angle = TAU * f64::from(k) / f64::from(columns);
            let pressure = p0 + p1 * (2.0 * angle).cos();
            PressurePatch {
                surface: Surface::Bore,
                angle,
                half_angle: half,
                force: pressure * 2.0 * part.thickness * a * half.sin(),
            }
        })
        .collect();
    let mut ends: Vec<f64> = body::equal(0.0, TAU, columns as usize)
        .iter()
        .map(|t| t + half)
        .collect();
    ends.pop();
    let mesh = Mesh::build(&body::round(a, b), &ends, &body::equal(0.0, 1.0, 4), true).unwrap();
    let sleeve = Sleeve {
        surface: Surface::Outer,
        radius: b - by,
        thickness: c - b + by,
        slit: None,
        young_modulus: e[1],
        poisson_ratio: nu[1],
    };
    let held = close(
        &mesh,
        &part,
        [a, b],
        Supports {
            pressures: patches,
            sleeve: Some(sleeve),
            ..Supports::default()
        },
    );
    // Lame: the part grows by `2 p0 a^2 b / (E (b^2 - a^2))` under p0, both give way to what is between them
    let inner = b / e[0] * ((b * b + a * a) / (b * b - a * a) - nu[0]);
    let outer = b / e[1] * ((c * c + b * b) / (c * c - b * b) + nu[1]);
    let even = (by + 2.0 * p0 * a * a * b / (e[0] * (b * b - a * a))) / (inner + outer);
    let stair = (2.0 * half).sin() / (2.0 * half);
    let lobes = interface([a, b, c], e, nu, p1 * stair, 0.0);
    assert!(lobes.abs() > 0.2 * even && lobes.abs() < 0.9 * even);
    let mut compared = 0;
    for [t, p] in held.pressures(0) {
        let exact = even + lobes * (2.0 * t).cos();
        assert!(
            (p - exact).abs() < 2e-3 * (even + lobes.abs()),
            "{t}: {p} {exact}"
        );
        compared += 1;
    }
    assert!(compared >= 120, "{compared}");
}

/// The diameter lost (mm) between two flat plates that press on a ring with a force (N).
fn between_plates(mean_diameter: f64, wall: f64, length: f64, young: f64, force: f64) -> f64 {
    let (bore, outer) = (0.5 * (mean_diameter - wall), 0.5 * (mean_diameter + wall));
    let text = files::ring(bore, outer, young, 0.4, length)
        + &format!(
            "[[hold.plates]]\nscheme = \"jaws\"\ncount = 2\nforce = {force:?}\nwidth = {:?}\n[[step]]\nhold = \"plates\"\n",
            0.5 * mean_diameter
        );
    let json = files::solve(&text).json;
    2.0 * number(&json, "/steps/0/held/contacts/0/approach")
}

/// Pipe rings between parallel plates: ring stiffness `S = E / (12 (SDR - 1)^3)` and `S = 0.01863 PS`, with `PS` the force over length and deflection (both read on a pipe maker's
/// page). `SDR` is outside diameter over wall, so `SDR - 1` mean diameter over wall; 0.01863 is the thin ring's `(pi / 4 - 2 / pi) / 8` = 0.018597 with its first factor
/// rounded to 0.149, 0.2 percent too large. Stretch and shear make a ring softer than the thin one by 1.4 times `(t / R)^2` (exact series: 1.5 percent at t/R 0.105), 0.35 percent for SDR 41, and
/// the dents under the plates by some `2 (t / R)^3` (Hertz): so half a percent for the thinnest, and for all of them between 1.0 and 2.2 times `(t / R)^2` beyond the thin ring.
/// Truth: published, analytical
#[test]
fn pipe_rings_between_plates_have_the_published_stiffness() {
    let (outside, length, young) = (200.0, 100.0, 1200.0);
    let mut ran = 0;
    for sdr in [11.0, 17.0, 26.0, 41.0] {
        let wall = outside / sdr;
        let stiffness = young / (12.0 * f64::powi(sdr - 1.0, 3));
        // so that it gives by a thousandth of its diameter
        let force = 1e-3 * outside * length * stiffness / 0.01863;
        let lost = between_plates(outside - wall, wall, length, young, force);
        let over_pipe_stiffness = stiffness * length * lost / force;
        let thin = (PI / 4.0 - 2.0 / PI) / 8.0;
        let softer = (over_pipe_stiffness / thin - 1.0) / (2.0_f64 / (sdr - 1.0)).powi(2);
        assert!(softer > 1.0 && softer < 2.2, "SDR {sdr}: {softer}");
        if sdr > 40.0 {
            assert!(
                (over_pipe_stiffness / 0.01863 - 1.0).abs() < 5e-3,
                "{over_pipe_stiffness}"
            );
        }
        ran += 1;
    }
    assert_eq!(ran, 4);
}

/// Diameters (mm) along and across two opposite loads on lines of the outside: what the bore loses and gains.
fn between_points(bore: f64, outer: f64, length: f64, force: f64) -> [f64; 2] {
    let text = files::ring(bore, outer, 207e3, 0.3, length)
        + &format!(
            "[[hold.two]]\nscheme = \"points\"\ncount = 2\nforce = {force:?}\n[[step]]\nhold = \"two\"\n"
        );
    let json = files::solve(&text).json;
    let radial = json["steps"][0]["held"]["bore"]["displacement"]["radial"]
        .as_array()
        .unwrap();
    let at = |k: usize| radial[k].as_f64().unwrap();
    [-(at(0) + at(180)), at(90) + at(270)]
}

/// Rings that students load with weights (test sheets of two engineering schools, read). One of mean diameter 98.0, wall 2.85 and width 19.05 mm: 0.00230 mm a newton at 207 GPa (`0.149 F R^3 / (E I)`,
/// derived from their coefficients). One of mean radius 75, width 10, wall 2 mm: 1.364 mm under 30 N (derived from 0.1488; with their 0.149 it is 1.366), and across by 0.1366 in place of 0.149.
/// The figures have three digits, and the wall adds up to `1.2 (t / R)^2`, 0.4 percent in the first and 0.1 in the second: hence one percent and half a percent.
/// Truth: published, analytical
#[test]
fn test_rings_under_two_loads_give_as_their_sheets_say() {
    let [along, _] = between_points(49.0 - 1.425, 49.0 + 1.425, 19.05, 10.0);
    assert!((along / 10.0 / 0.00230 - 1.0).abs() < 0.01, "{along}");
    let [along, across] = between_points(74.0, 76.0, 10.0, 30.0);
    assert!((along / 1.364 - 1.0).abs() < 5e-3, "{along}");
    assert!(
        (across / along / (0.1366 / 0.149) - 1.0).abs() < 5e-3,
        "{across}"
    );
}
