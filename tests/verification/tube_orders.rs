//! How fast the r-z engine converges in elements and in harmonics.

use std::f64::consts::PI;

use ringwright_solver::element::meridian::Isotropic;
use ringwright_solver::geometry::Surface;
use ringwright_solver::linear::Factor;
use ringwright_solver::tube::TubeBody;
use ringwright_tests::reference;

use crate::tube::{mid_wall, patch_amplitude, tube};

const ALUMINIUM: Isotropic = Isotropic {
    young_modulus: 70e3,
    poisson_ratio: 0.33,
};

/// A tube of 40 outside, 30 bore and 20 length with so many layers, elements square.
fn squares(layers: u32) -> TubeBody {
    let size = 10.0 / f64::from(layers) * (1.0 + 1e-9);
    let body = tube([40.0, 30.0, 20.0], ALUMINIUM, &[], [size; 3]);
    assert_eq!(body.mesh().elements(), 2 * (layers * layers) as usize);
    body
}

/// Order of convergence between values on three meshes, each twice as fine as the one before.
fn order([a, b, c]: [f64; 3]) -> f64 {
    ((a - b) / (b - c)).abs().log2()
}

/// Under a load that is smooth along the tube, work and displacements converge with the fourth power of the elements' size, as theory has it for quadratic
/// elements.
/// Truth: own earlier run, analytical; orders of three meshes, the power from theory
#[test]
fn displacements_converge_with_the_fourth_power() {
    for n in [2, 3, 5] {
        let found = [4, 8, 16].map(|layers| {
            let body = squares(layers);
            let load = body.radial_load(Surface::Outer, [-1.0, 21.0], |z| {
                (PI * z / 20.0).sin().powi(2)
            });
            let load = body.spread(&load);
            let u = body.factor(n).unwrap().solve(&load).unwrap();
            let work: f64 = load.iter().zip(&u).map(|(f, u)| f[0] * u[0]).sum();
            let [middle, end] = [10.0, 0.0].map(|z| mid_wall(&body, z, &u));
            [work, middle, end]
        });
        let [work, middle, end] = [0, 1, 2].map(|k| order(found.map(|f| f[k])));
        assert!((3.8..4.2).contains(&work), "{n}: {work}");
        assert!((3.8..4.2).contains(&middle), "{n}: {middle}");
        assert!(end > 3.8, "{n}: {end}");
        let last = ((found[1][1] - found[2][1]) / found[2][1]).abs();
        assert!(last < 4e-5, "{n}: {last:e}");
    }
}

/// Patches over the first third of a tube: what the harmonics beyond one still add to its stations. Under the jaws they fall with the square of the last
/// one, as the edges of the patches ask; midway between them twenty times lower; on the overhang they are gone within a few.
/// Truth: own earlier run; four times as many harmonics
#[test]
fn stations_of_a_short_grip_converge_in_harmonics() {
    let case = reference::meridian("M3_A_N3");
    let [outer, bore, length, grip, force, count] =
        ["ro", "ri", "L", "Lg", "F", "N"].map(|k| case.input(k));
    let half_angle = case.input("al").to_radians();
    let stations = [0.0, 0.5 * grip, grip, 0.5 * (grip + length), length];
    let body = tube(
        [outer, bore, length],
        ALUMINIUM,
        &stations,
        [0.25, 3.0, 0.75],
    );
    let harmonics: Vec<(u32, [f64; 5])> = (0..=720)
        .step_by(3)
        .map(|k| {
            let size = -force / grip * patch_amplitude(count, half_angle, k);
            let load = body.radial_load(Surface::Outer, [0.0, grip], |_| size);
            let u = body.factor(k).unwrap().solve(&body.spread(&load)).unwrap();
            (k, stations.map(|z| body.at(Surface::Outer, z, &u)[0]))
        })
        .collect();
    let rest = |beyond: u32, station: usize, theta: f64| -> f64 {
        let late = harmonics.iter().filter(|h| h.0 > beyond);
        late.map(|(k, u)| u[station] * (f64::from(*k) * theta).cos())
            .sum::<f64>()
            .abs()
    };
    let most = harmonics[1].1[0].abs();
    for station in 0..3 {
        let under = [45, 90, 180].map(|k| rest(k, station, 0.0));
        assert!(under[0] < 3e-5 * most, "{station}: {under:?}");
        for pair in under.windows(2) {
            assert!(
                (3.5..5.5).contains(&(pair[0] / pair[1])),
                "{station}: {under:?}"
            );
        }
        let between = rest(180, station, PI / count);
        assert!(
            between < under[2] / 15.0,
            "{station}: {between:e} {under:?}"
        );
    }
    for (station, beyond) in [(3, 24), (4, 12)] {
        assert!(rest(beyond, station, 0.0) < 2e-8 * most);
        assert!(rest(beyond / 2, station, 0.0) > 1e-7 * most);
    }
}
