//! Tubes along their length against thick cylinders, edge bending of thin shells and inextensional bending.

use ringwright_solver::element::meridian::{Isotropic, harmonic_nodal_stress};
use ringwright_solver::geometry::Surface;
use ringwright_solver::linear::Factor;
use ringwright_solver::tube::TubeBody;
use ringwright_tests::reference;

use crate::tube::{mid_wall, tube};

const STEEL: Isotropic = Isotropic {
    young_modulus: 205e3,
    poisson_ratio: 0.29,
};

/// Displacement amplitudes under a force on a line round the outside of the first end, N per radian.
fn pushed_at_its_end(body: &TubeBody, harmonic: u32, force: f64) -> Vec<[f64; 3]> {
    let node = body.mesh().side(0, Surface::Outer)[0];
    let load = body.spread(&[(node, [force, 0.0, 0.0])]);
    body.factor(harmonic).unwrap().solve(&load).unwrap()
}

/// Largest departure of every node's displacement and of every element's nodal stress from Lame's, each as a share of the largest value.
fn apart_from_lame(layers: f64, [inside, outside]: [f64; 2]) -> [f64; 2] {
    let [ro, ri, length] = [60.0, 40.0, 100.0];
    let [e, nu] = [STEEL.young_modulus, STEEL.poisson_ratio];
    let size = (ro - ri) / layers;
    let body = tube([ro, ri, length], STEEL, &[], [size, 10.0, size]);
    let mesh = body.mesh();
    let all = [-1.0, length + 1.0];
    let mut load = body.radial_load(Surface::Bore, all, |_| inside * ri);
    load.extend(body.radial_load(Surface::Outer, all, |_| -outside * ro));
    let u = body.factor(0).unwrap().solve(&body.spread(&load)).unwrap();
    let square = ro * ro - ri * ri;
    let even = (inside * ri * ri - outside * ro * ro) / square;
    let fall = (inside - outside) * ri * ri * ro * ro / square;
    let want = |r: f64| ((1.0 - nu) * even * r + (1.0 + nu) * fall / r) / e;
    let largest = want(ri).abs().max(want(ro).abs());
    // one node is held along the axis: what is asked there is the strain
    let from = mesh.end_faces()[0][0];
    let mut moved: f64 = 0.0;
    for (c, u_node) in mesh.coords().iter().zip(&u) {
        moved = moved.max((u_node[0] - want(c[0])).abs() / largest);
        let along = -2.0 * nu * even / e * (c[1] - mesh.coords()[from][1]);
        moved = moved.max((u_node[1] - u[from][1] - along).abs() / largest);
        assert!(u_node[2].abs() < 1e-12 * largest);
    }
    let mut stress: f64 = 0.0;
    let top = even.abs() + fall.abs() / (ri * ri);
    for (column, layer) in mesh.topology().element_places() {
        let nodes = mesh.topology().element_nodes(column, layer);
        let coords = nodes.map(|n| mesh.coords()[n]);
        let found = harmonic_nodal_stress(&STEEL, 0, &coords, &nodes.map(|n| u[n]));
        for (s, [r, _]) in found.iter().zip(coords) {
            let want = [even - fall / (r * r), 0.0, even + fall / (r * r)];
            for (s, want) in s.iter().zip(want.into_iter().chain([0.0; 3])) {
                stress = stress.max((s - want).abs() / top);
            }
        }
    }
    [moved, stress]
}

/// A thick tube with free ends under pressure in its bore, on its outside, and on both: plane stress, whatever its length.
/// Displacement is off by the fourth power of the elements' size, stress at the nodes by the second.
/// Source: Lame's solution; Timoshenko and Goodier, *Theory of Elasticity* (from memory).
/// Truth: analytical
#[test]
fn a_thick_tube_under_pressure_is_lames() {
    for pressures in [[30.0, 0.0], [0.0, 30.0], [30.0, 12.0]] {
        let found = [4.0, 8.0, 16.0].map(|layers| apart_from_lame(layers, pressures));
        let order = |k: usize| (found[1][k] / found[2][k]).log2();
        assert!(order(0) > 3.9 && order(1) > 1.9, "{found:?}");
        assert!(found[2][0] < 5.1e-7 && found[2][1] < 4.5e-4, "{found:?}");
    }
}

/// What mid-wall displacements of a long tube miss of a thin shell's, as shares of the shell's largest: under a force on the end, and under a band of
/// pressure in the middle, at places `0, 1/beta, 2/beta` from it.
fn apart_from_thin_shell(ratio: f64) -> [f64; 2] {
    let (r, [e, nu]) = (60.0, [STEEL.young_modulus, STEEL.poisson_ratio]);
    let t = r / ratio;
    let beta = beta(r, t, nu);
    let stiffness = e * t.powi(3) / (12.0 * (1.0 - nu * nu));
    let length = 14.0 / beta;
    let [ro, ri] = [r + 0.5 * t, r - 0.5 * t];
    let places = [0.0, 1.0, 2.0].map(|x| x / beta);
    let sizes = [0.05 * t, 0.1 / beta, 0.25 * t];
    let body = tube([ro, ri, length], STEEL, &places, sizes);
    let u = pushed_at_its_end(&body, 0, r);
    let shell = |z: f64| (-beta * z).exp() * (beta * z).cos() / (2.0 * beta.powi(3) * stiffness);
    let edge = places.map(|z| (mid_wall(&body, z, &u) - shell(z)).abs() / shell(0.0));
    // a band as wide as 2/beta in the middle: half of it each side
    let middle = 0.5 * length;
    let lines = [-1.0, 0.0, 1.0, 3.0].map(|x| middle + x / beta);
    let body = tube([ro, ri, length], STEEL, &lines, sizes);
    let load = body.radial_load(Surface::Outer, [lines[0], lines[2]], |_| r);
    let u = body.factor(0).unwrap().solve(&body.spread(&load)).unwrap();
    let shell = |z: f64| {
        let decay = |x: f64| (-beta * x).exp() * (beta * x).cos();
        let [near, far] = [(1.0 / beta - z).abs(), 1.0 / beta + z];
        match z < 1.0 / beta {
            true => r * r / (2.0 * e * t) * (2.0 - decay(near) - decay(far)),
            false => r * r / (2.0 * e * t) * (decay(near) - decay(far)),
        }
    };
    let band =
        [0.0, 3.0 / beta].map(|z| (mid_wall(&body, middle + z, &u) - shell(z)).abs() / shell(0.0));
    [edge, [band[0], band[1], 0.0]].map(|all| all.into_iter().fold(0.0, f64::max))
}

/// Edge bending of a long tube: a force round its end, `w = Q e^(-beta z) cos(beta z) / (2 beta^3 D)`, and a band of pressure, with
/// `beta = (3 (1 - nu^2))^(1/4) / sqrt(R t)`. The solid departs from the thin shell by a share that falls as its wall: 0.13 t/R under the force, no more than
/// 0.024 t/R under the band.
/// Source: Timoshenko and Woinowsky-Krieger, *Theory of Plates and Shells*, circular cylindrical shells loaded symmetrically (from memory).
/// Truth: analytical
#[test]
fn an_edge_bends_as_a_beam_on_an_elastic_foundation() {
    for ratio in [20.0, 80.0, 320.0] {
        let [edge, band] = apart_from_thin_shell(ratio).map(|share| share * ratio);
        assert!((0.12..0.14).contains(&edge), "R/t {ratio}: {edge}");
        assert!(band < 0.024, "R/t {ratio}: {band}");
    }
}

/// `[w(0), its slope]` of inextensional bending under `cos(n theta)` of 1 N per mm of mid-surface on the end `z = 0`, without and with what the free
/// edges release.
///
/// `w = (a + b z) cos n theta`. Without strain of the middle surface, `v = -(a + b z) sin(n theta) / n` and `u = -(b R / n^2) cos n theta`; curvatures are
/// `k = (n^2 - 1)(a + b z) / R^2` around and `b (n^2 - 1) / (n R)` of twist, so the energy is
/// `pi R D / 2 (n^2 - 1)^2 (integral of (a + b z)^2 dz / R^4 + 2 (1 - nu) b^2 L / (n R)^2)` and the work `pi R a`. Both derivatives vanish.
///
/// The moment `nu D k` that goes with it along the axis must vanish at a free edge: an edge bends by itself over `1 / beta` and releases
/// `nu^2 D k^2 / (2 beta)` for each mm around.
fn inextensional(n: u32, [r, t, length]: [f64; 3], law: &Isotropic, edges: bool) -> [f64; 2] {
    let [e, nu] = [law.young_modulus, law.poisson_ratio];
    let stiffness = e * t.powi(3) / (12.0 * (1.0 - nu * nu));
    let n2 = f64::from(n).powi(2);
    let twist = 2.0 * (1.0 - nu) * r * r * length / n2;
    let edge = if edges { nu * nu / beta(r, t, nu) } else { 0.0 };
    let shorter = length - 2.0 * edge;
    let tilted = length.powi(3) / 3.0 - edge * length * length + twist;
    let ratio = -0.5 * shorter * length / tilted;
    let around = stiffness * (n2 - 1.0).powi(2) / r.powi(4);
    let a = 1.0 / (around * shorter * (1.0 + 0.5 * ratio * length));
    [a, ratio * a]
}

/// How far an edge bends by itself, as the inverse of a length.
fn beta(r: f64, t: f64, nu: f64) -> f64 {
    (3.0 * (1.0 - nu * nu)).powf(0.25) / (r * t).sqrt()
}

/// Largest excess of mid-wall displacements at both ends and in the middle over inextensional bending, without and with its edges, as a share of that
/// at the loaded end.
fn apart_from_inextensional(n: u32, [r, t, length]: [f64; 3]) -> [f64; 2] {
    let lines = [0.0, 0.5 * length, length];
    let sizes = [0.1 * t, (0.2 * (r * t).sqrt()).min(length / 12.0), 0.5 * t];
    let body = tube([r + 0.5 * t, r - 0.5 * t, length], STEEL, &lines, sizes);
    let u = pushed_at_its_end(&body, n, r);
    [false, true].map(|edges| {
        let [a, b] = inextensional(n, [r, t, length], &STEEL, edges);
        let apart = lines.map(|z| (mid_wall(&body, z, &u) - (a + b * z)).abs() / a);
        apart.into_iter().fold(0.0, f64::max)
    })
}

/// A force round the end of a thin, short tube, `cos n theta`: inextensional bending in its limit. Plain, it is missed by some `nu^2 sqrt(R t) / L` for the free
/// edges; with them the rest falls faster.
/// Source: Rayleigh's inextensional deformation, Timoshenko and Woinowsky-Krieger (from memory), worked out at `inextensional`.
/// Truth: analytical
#[test]
fn thin_short_tubes_bend_without_stretching() {
    for (ratio, n, plain, edged) in [
        (0.25, 2, 0.028, 0.0016),
        (0.25, 3, 0.029, 0.0039),
        (1.0, 2, 0.0071, 0.0015),
        (1.0, 3, 0.0100, 0.0032),
        (1.0, 4, 0.0150, 0.0065),
    ] {
        let r = 60.0_f64;
        let found =
            [25.0, 100.0, 400.0].map(|thin| apart_from_inextensional(n, [r, r / thin, ratio * r]));
        let [_, before, last] = found;
        assert!(
            last[0] < plain && last[1] < edged,
            "L/R {ratio}, {n}: {found:?}"
        );
        assert!(
            last[0] < before[0] / 2.0 && last[1] < before[1] / 3.5,
            "L/R {ratio}, {n}: {found:?}"
        );
        assert!(before[1] < found[0][1], "L/R {ratio}, {n}: {found:?}");
    }
}

/// Three radii long, R/t 20 and four waves: the tube stretches near its loaded end, where it gives way 2.30 times as far as without stretching, and its far
/// end, which would move by 0.46 of the loaded one, hardly moves.
/// Truth: other program; the set's own finite elements, and its figures of inextensional bending
#[test]
fn a_long_tube_stretches() {
    let case = reference::meridian("M2_al_t3_LR3.0_n4");
    let [r, t, length, nu] = ["R", "t", "L", "nu"].map(|k| case.input(k));
    let law = Isotropic {
        young_modulus: case.input("E"),
        poisson_ratio: nu,
    };
    let [ro, ri] = ["ro", "ri"].map(|k| case.input(k));
    let body = tube([ro, ri, length], law, &[0.0, length], [0.2, 4.0, 0.5]);
    let u = pushed_at_its_end(&body, 4, ro * case.input("p_line"));
    let [a, b] = inextensional(4, [r, t, length], &law, false).map(|x| x * ro / r);
    let share = mid_wall(&body, 0.0, &u) / a;
    let wanted = case.output("u_mid_wall[0]").value / 0.006_863_78;
    assert!((share - wanted).abs() < 1e-4 * wanted, "{share} {wanted}");
    assert!((wanted - 2.3016).abs() < 1e-4, "{wanted}");
    let far = mid_wall(&body, length, &u) / a;
    let wanted = case.output("u_mid_wall[L]").value / 0.006_863_78;
    assert!((far - wanted).abs() < 1e-5, "{far} {wanted}");
    assert!(((a + b * length) / a + 0.4593).abs() < 1e-4, "{a} {b}");
}
