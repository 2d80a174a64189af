//! Lobes and filters against independent calculations. Reference circles: `circles.rs`.

use std::f64::consts::TAU;

use ringwright_solver::metrology::{
    Harmonic, Profile, Resolution, gaussian, harmonics, highest_lobe, least_squares_circle,
    transmission,
};
use ringwright_tests::random::Random;
use ringwright_tests::reference;

fn near(name: &str, found: f64, expected: f64, tolerance: f64) {
    assert!(
        (found - expected).abs() <= tolerance,
        "{name}: {found} instead of {expected}"
    );
}

/// The shortcut centre `(2/N) sum r cos t` of ISO 4291 (formula from memory) leaves `e^2 / (4 R)` in the second harmonic; about the true centre there is none.
/// Truth: analytical
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
/// Truth: analytical; by construction of the input
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

/// Table computed from the formula of ISO 16610-21 (from memory), printed with ten digits.
/// Truth: analytical; the formula of the standard, from memory
#[test]
fn gaussian_transmission_is_that_of_the_table() {
    let table = reference::metrology("/gaussian_filter/transmission");
    let mut figures = 0;
    for (cut_off, row) in table.as_object().unwrap() {
        for (count, share) in row.as_object().unwrap() {
            let share = share.as_f64().unwrap();
            let found = transmission(count.parse().unwrap(), cut_off.parse().unwrap());
            near("transmission", found, share, 1e-9 * share + 1e-300);
            figures += 1;
        }
    }
    assert_eq!(figures, 52);
}

/// Every wave comes through with its share, whatever the angles: exactly for equal steps, else as well as the trapezoidal rule does.
/// Truth: analytical
#[test]
fn the_filter_lets_each_wave_through_with_its_share() {
    let mut random = Random::new(11);
    for (count, cut_off) in [
        (2, 15.0),
        (3, 15.0),
        (15, 15.0),
        (30, 50.0),
        (50, 50.0),
        (20, 150.0),
        (7, 2.5),
    ] {
        let wave = |t: f64| 40.0 + 0.01 * (f64::from(count) * t - 0.4).cos();
        let share = transmission(count, cut_off);
        let n = 1440;
        let equal: Vec<f64> = (0..n).map(|k| TAU * f64::from(k) / f64::from(n)).collect();
        let off = |angles: &[f64], filtered: &[f64]| {
            let expected = |t: f64| 40.0 + share * (wave(t) - 40.0);
            let off = angles
                .iter()
                .zip(filtered)
                .map(|(t, f)| (f - expected(*t)).abs());
            off.fold(0.0, f64::max) / 0.01
        };
        let radii: Vec<f64> = equal.iter().map(|&t| wave(t)).collect();
        let filtered = gaussian(&Profile::equal(&radii), [0.0; 2], cut_off).unwrap();
        near("equal steps", off(&equal, &filtered), 0.0, 1e-10);
        let again = Profile::new(&equal, &radii).unwrap();
        near(
            "the same as a list",
            off(&equal, &gaussian(&again, [0.0; 2], cut_off).unwrap()),
            0.0,
            1e-10,
        );
        // more than twice as dense on one side as on the other, besides a jitter
        let n = 7200;
        let uneven: Vec<f64> = (0..n)
            .map(|k| {
                let t = TAU * (f64::from(k) + random.between(0.0, 0.5)) / f64::from(n);
                t + 0.4 * t.sin()
            })
            .collect();
        let radii: Vec<f64> = uneven.iter().map(|&t| wave(t)).collect();
        let filtered =
            gaussian(&Profile::new(&uneven, &radii).unwrap(), [0.0; 2], cut_off).unwrap();
        let longest_step = TAU * 1.5 * 1.4 / f64::from(n) * f64::from(count).max(cut_off);
        near(
            "uneven steps",
            off(&uneven, &filtered),
            0.0,
            longest_step.powi(2),
        );
    }
}

/// Where the angles are counted from makes no difference to the filter: the places beside zero are averaged over both of their sides.
/// Truth: invariance
#[test]
fn the_filter_does_not_know_where_zero_is() {
    let mut random = Random::new(12);
    let angles: Vec<f64> = (0..900)
        .map(|k| TAU * (f64::from(k) + random.between(0.0, 0.5)) / 900.0)
        .collect();
    let radii: Vec<f64> = angles.iter().map(|_| random.between(39.9, 40.1)).collect();
    let turned: Vec<f64> = angles.iter().map(|t| t + 1.0).collect();
    // by the waves of the weighting function, and by the neighbours under it
    for cut_off in [15.0, 200.0] {
        let filtered = |angles| gaussian(&Profile::new(angles, &radii).unwrap(), [0.0; 2], cut_off);
        let (as_is, turned) = (filtered(&angles).unwrap(), filtered(&turned).unwrap());
        for (a, b) in as_is.iter().zip(&turned) {
            near("turned", *b, *a, 1e-12);
        }
    }
}

/// Both ways to average uneven readings are one filter: a cut-off just below and above where one takes over.
/// Truth: invariance
#[test]
fn the_filter_goes_steadily_with_its_cut_off() {
    let mut random = Random::new(12);
    let angles: Vec<f64> = (0..200).map(|_| random.between(-9.0, 9.0)).collect();
    let radii: Vec<f64> = (0..200).map(|_| random.between(10.0, 11.0)).collect();
    let profile = Profile::new(&angles, &radii).unwrap();
    let at = |cut_off| gaussian(&profile, [0.1, 0.0], cut_off).unwrap();
    for (a, b) in at(64.0).iter().zip(at(64.0 + 1e-9)) {
        near("filtered", *a, b, 1e-8);
    }
    let wide_open = at(1e12);
    let d = |k: usize| (radii[k] * angles[k].cos() - 0.1).hypot(radii[k] * angles[k].sin());
    for (k, f) in wide_open.iter().enumerate() {
        near("nothing filtered", *f, d(k), 1e-12);
    }
    for bad in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert!(gaussian(&profile, [0.0; 2], bad).is_err());
    }
}

/// The transform against sums written out, for counts of readings that are even, odd, prime.
/// Truth: analytical; the sums written out
#[test]
fn lobes_of_equal_steps_are_the_fourier_sums() {
    let mut random = Random::new(13);
    for n in [8_u32, 9, 37, 360, 1009] {
        let radii: Vec<f64> = (0..n).map(|_| random.between(20.0, 21.0)).collect();
        let found = harmonics(&Profile::equal(&radii), [0.0; 2], 50);
        assert_eq!(found.len() as u32, 50.min((n - 1) / 2));
        for Harmonic {
            count,
            amplitude,
            angle_deg,
        } in found
        {
            let sum = |f: fn(f64) -> f64| {
                let terms = (0..n)
                    .map(|k| radii[k as usize] * f(TAU * f64::from(k * count % n) / f64::from(n)));
                2.0 * terms.sum::<f64>() / f64::from(n)
            };
            let turned = f64::from(count) * angle_deg.to_radians();
            near("cosine", amplitude * turned.cos(), sum(f64::cos), 1e-12);
            near("sine", amplitude * turned.sin(), sum(f64::sin), 1e-12);
        }
    }
}

/// Truth: analytical
#[test]
fn gaps_and_repeats_limit_the_lobes_that_show() {
    let shows =
        |angles: &[f64]| highest_lobe(&Profile::new(angles, &vec![1.0; angles.len()]).unwrap());
    let steps = |n: u32| (0..n).map(move |k| TAU * f64::from(k) / f64::from(n));
    for n in [7, 8, 12, 361] {
        assert_eq!(shows(&steps(n).collect::<Vec<_>>()), (n - 1) / 2);
    }
    // each given three times, they show no more
    let thrice: Vec<f64> = steps(12).flat_map(|t| [t, t, t]).collect();
    assert!(matches!(shows(&thrice), 5 | 6), "{}", shows(&thrice));
    // a sixth of the turn missing leaves few, all on one half hardly any
    let sixth = shows(&steps(360).take(300).collect::<Vec<_>>());
    assert!((3..12).contains(&sixth), "{sixth}");
    let half = shows(&steps(360).take(180).collect::<Vec<_>>());
    assert!((1..5).contains(&half), "{half}");
    // and what is left out is not given a number
    let angles: Vec<f64> = steps(360).take(300).collect();
    let listed = harmonics(
        &Profile::new(&angles, &vec![1.0; 300]).unwrap(),
        [0.0; 2],
        50,
    );
    assert_eq!(listed.len() as u32, sixth);
}

/// By the theory of aliases, common knowledge: with `n` equal steps a wave of `m` lobes reads like one of `|m - n|`; 0 and 1 are size and off-centre.
/// Truth: analytical
#[test]
fn what_few_equal_steps_show() {
    let radii = [1.0; 12];
    let resolution = Resolution::of(&Profile::equal(&radii));
    assert_eq!((resolution.points, resolution.highest_lobe), (12, 5));
    near("gap", resolution.largest_gap_deg, 30.0, 1e-12);
    for hidden in [1, 11, 12, 13, 23, 24, 25] {
        let shown = resolution.shown(hidden);
        near("hidden", shown.most, 0.0, 1e-9);
    }
    for shown in resolution.up_to(24) {
        let alias = resolution.shown(shown.count.abs_diff(12).max(1));
        if shown.count > 13 && shown.count < 23 {
            near("least", shown.least, alias.least, 1e-9);
            near("most", shown.most, alias.most, 1e-9);
        }
        assert!(0.0 <= shown.least && shown.least <= shown.most && shown.most <= 1.0);
    }
    // three lobes on twelve steps: phases 0 and 45 deg of the wave, crest read or crest halved by the steps beside it
    let three = resolution.shown(3);
    near("best", three.most, 1.0, 1e-9);
    near("worst", three.least, 0.5_f64.sqrt(), 1e-9);
    // six lobes: read fully or not at all
    let six = resolution.shown(6);
    near("best", six.most, 1.0, 1e-9);
    near("worst", six.least, 0.0, 1e-9);
}

/// Uneven readings against the minimum zone of the wave itself, put on a large circle, phase by phase.
/// Truth: invariance; the same zones, phase by phase
#[test]
fn what_uneven_readings_show_lies_between_least_and_most() {
    let mut random = Random::new(14);
    let angles: Vec<f64> = (0..17)
        .map(|k| TAU * (f64::from(k) + random.between(0.0, 0.8)) / 17.0)
        .collect();
    let resolution = Resolution::of(&Profile::new(&angles, &[1.0; 17]).unwrap());
    for count in [2_u32, 5, 9, 16, 17, 30] {
        let shown = resolution.shown(count);
        let (mut low, mut high) = (f64::INFINITY, 0.0_f64);
        for k in 0..720 {
            let phase = TAU * f64::from(k) / 720.0;
            let radii: Vec<f64> = angles
                .iter()
                .map(|t| 1e5 + 0.5e-2 * (f64::from(count) * t - phase).cos())
                .collect();
            let zone =
                ringwright_solver::metrology::minimum_zone(&Profile::new(&angles, &radii).unwrap());
            let share = zone.unwrap().circle.roundness / 1e-2;
            (low, high) = (low.min(share), high.max(share));
        }
        near("least", shown.least, low, 0.01);
        near("most", shown.most, high, 0.001);
        assert!(
            shown.least <= low + 1e-6 && shown.most >= high - 1e-6,
            "{shown:?} {low} {high}"
        );
    }
}
