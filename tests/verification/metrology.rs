//! Lobes and filters against independent calculations. Reference circles: `circles.rs`.

use ringwright_solver::metrology::{Profile, harmonics, least_squares_circle};
use ringwright_tests::reference;
use std::f64::consts::TAU;

fn near(name: &str, found: f64, expected: f64, tolerance: f64) {
    assert!(
        (found - expected).abs() <= tolerance,
        "{name}: {found} instead of {expected}"
    );
}

/// The shortcut centre `(2/N) sum r cos t` of ISO 4291 (formula from memory) leaves `e^2 / (4 R)` in the second harmonic; about the true centre there is none.
#[test]
fn an_eccentric_circle_has_no_lobes_about_its_own_centre() {
    let set = |key: &str| {
        reference::metrology(&format!("/limacon/example/{key}"))
            .as_f64()
            .unwrap()
    };
    let (r, e) = (set("R"), set("e"));
    let radii: Vec<f64> = (0..3600)
        .map(|k| {
            let t = TAU * f64::from(k) / 3600.0;
            e * t.cos() + (r * r - (e * t.sin()).powi(2)).sqrt()
        })
        .collect();
    let profile = Profile::equal(&radii);
    let circle = least_squares_circle(&profile);
    near("centre", circle.centre[0], e, 1e-12);
    assert!(
        harmonics(&profile, circle.centre, 50)
            .iter()
            .all(|h| h.amplitude < 1e-13)
    );
    let about_origin = harmonics(&profile, [0.0, 0.0], 2);
    // independent calculation by a fast Fourier transform
    near(
        "apparent",
        about_origin[1].amplitude,
        set("from_fft"),
        1e-12,
    );
    near(
        "e^2 / (4 R)",
        about_origin[1].amplitude,
        set("apparent_second_harmonic"),
        1e-7,
    );
    near("eccentricity", about_origin[0].amplitude, e, 1e-12);
}

/// About the least-squares centre no one-lobe term is left beyond second order, and amplitudes come back as they were put in.
#[test]
fn lobes_of_a_chucked_ring() {
    let radii: Vec<f64> = (0..3600)
        .map(|k| {
            let t = TAU * f64::from(k) / 3600.0;
            47.5 + 0.02984 * (3.0 * (t - 0.1)).cos() + 0.001559 * (6.0 * t).cos()
        })
        .collect();
    let profile = Profile::equal(&radii);
    let found = harmonics(&profile, least_squares_circle(&profile).centre, 50);
    assert_eq!(found.len(), 50);
    near("one lobe", found[0].amplitude, 0.0, 1e-12);
    near("three lobes", found[2].amplitude, 0.02984, 1e-12);
    near("angle", found[2].angle_deg, 0.1_f64.to_degrees(), 1e-9);
    near("six lobes", found[5].amplitude, 0.001559, 1e-12);
    assert!(
        found
            .iter()
            .all(|h| (0.0..360.0 / f64::from(h.count)).contains(&h.angle_deg))
    );
}
