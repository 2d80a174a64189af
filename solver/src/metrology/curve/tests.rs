#![allow(clippy::unwrap_used)]
use super::*;

/// Radius at an angle about its own centre.
fn lobed(t: f64) -> f64 {
    30.0 + 0.02 * (3.0 * t).cos() + 0.004 * (8.0 * t - 1.0).sin()
}

fn error(angles: &[f64]) -> f64 {
    let radii: Vec<f64> = angles.iter().map(|&t| lobed(t)).collect();
    let curve = Curve::through(&Profile::new(angles, &radii).unwrap()).unwrap();
    (0..777)
        .map(|k| f64::from(k) * TAU / 777.0)
        .map(|t| (curve.from_origin(t) - lobed(t)).abs())
        .fold(0.0, f64::max)
}

#[test]
fn few_even_readings_show_their_lobes_exactly() {
    for n in [24_u32, 25, 360, 3600] {
        let radii: Vec<f64> = (0..n)
            .map(|k| lobed(TAU * f64::from(k) / f64::from(n)))
            .collect();
        let curve = Curve::through(&Profile::equal(&radii)).unwrap();
        for k in 0..777 {
            let t = TAU * f64::from(k) / 777.0;
            // left over between 3,600 nodes: (8 * 2 pi / 3600)^3 / 60 of the lobe, from the slopes at the nodes
            let error = curve.from_origin(t) - lobed(t);
            assert!(error.abs() < 3e-10, "{n} {t} {error}");
        }
    }
}

#[test]
fn uneven_readings_show_the_lobes_that_their_gaps_allow() {
    let uneven = |n: u32| -> Vec<f64> {
        let jitter = |k: u32| 0.3 * f64::from(k * 7 % 5) / 5.0;
        (0..n)
            .map(|k| TAU * (f64::from(k) + jitter(k)) / f64::from(n))
            .collect()
    };
    // as above, with gaps of up to 1.24 thousandths of a turn for the many
    assert!(error(&uneven(40)) < 3e-10);
    assert!(error(&uneven(1000)) < 2e-8);
}

#[test]
fn a_circle_reaches_as_far_everywhere() {
    // 36 points of a circle off the origin: a polygon through them would fall short by 0.11
    let radii: Vec<f64> = (0..36)
        .map(|k| {
            let t = TAU * f64::from(k) / 36.0;
            0.3 * t.cos() + (900.0 - (0.3 * t.sin()).powi(2)).sqrt()
        })
        .collect();
    let curve = Curve::through(&Profile::equal(&radii)).unwrap();
    assert!((curve.centre()[0] - 0.3).abs() < 1e-12);
    for k in 0..3600 {
        for reach in [
            curve.reach(0.0917 * f64::from(k) - 7.0),
            curve.reach_at(k as usize),
        ] {
            assert!((reach - 30.0).abs() < 1e-11, "{reach}");
        }
    }
}

#[test]
fn flats_are_bridged() {
    // an oval so long that its waist is hollow
    let radii: Vec<f64> = (0..720)
        .map(|k| 10.0 + 3.0 * (2.0 * TAU * f64::from(k) / 720.0).cos())
        .collect();
    let curve = Curve::through(&Profile::equal(&radii)).unwrap();
    for k in 0..90 {
        let direction = 0.1 + TAU * f64::from(k) / 90.0;
        let reach = curve.reach(direction);
        let by_search = (0..72_000)
            .map(|j| TAU * f64::from(j) / 72_000.0)
            .map(|t| curve.from_centre(t) * (t - direction).cos())
            .fold(f64::NEG_INFINITY, f64::max);
        assert!(
            (reach - by_search).abs() < 1e-7,
            "{direction} {reach} {by_search}"
        );
    }
}

#[test]
fn readings_on_one_side_make_no_curve() {
    let angles = [0.0, 0.1, 0.2, 0.3];
    assert!(Curve::through(&Profile::new(&angles, &[10.0, 11.0, 10.0, 11.0]).unwrap()).is_err());
    assert!(Curve::through(&Profile::equal(&[1.0, f64::NAN, 1.0])).is_err());
}
