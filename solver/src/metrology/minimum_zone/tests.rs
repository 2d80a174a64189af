#![allow(clippy::unwrap_used)]
use super::chebyshev::{ChebyshevFit, Levelled};
use super::*;
use crate::metrology::least_squares::circle_through;
use std::f64::consts::TAU;

/// The zone of the model by trying every set of four points: the largest levelled error is the answer of a Chebyshev
/// fit (de la Vallee Poussin, common knowledge), repeated about the moved centre.
fn by_all_fours(points: &[[f64; 2]]) -> f64 {
    let mut centre = circle_through(points).centre;
    let n = points.len();
    for _ in 0..40 {
        let fit = ChebyshevFit::about(points, centre);
        let mut best: Option<Levelled> = None;
        for a in 0..n {
            for b in a + 1..n {
                for c in b + 1..n {
                    for d in c + 1..n {
                        if let Some(l) = fit.level([a, b, c, d])
                            && best.as_ref().is_none_or(|best| l.level > best.level)
                        {
                            best = Some(l);
                        }
                    }
                }
            }
        }
        let best = best.unwrap();
        centre = [centre[0] + best.shift[0], centre[1] + best.shift[1]];
    }
    ChebyshevFit::about(points, centre).width()
}

#[test]
fn agrees_with_every_set_of_four_points_on_random_profiles() {
    let mut state = 12345_u64;
    let mut random = || {
        state = state
            .wrapping_mul(6364136223846793005)
            .wrapping_add(1442695040888963407);
        (state >> 11) as f64 / (1_u64 << 53) as f64
    };
    for _ in 0..12 {
        let n = 16;
        let angles: Vec<f64> = (0..n)
            .map(|k| TAU * (f64::from(k) + 0.8 * random()) / f64::from(n))
            .collect();
        let radii: Vec<f64> = (0..n).map(|_| 20.0 + 0.1 * random()).collect();
        let profile = Profile::new(&angles, &radii).unwrap();
        let zone = minimum_zone(&profile).unwrap();
        let brute = by_all_fours(&profile.points());
        assert!(
            (zone.circle.roundness - brute).abs() < 1e-12,
            "{zone:?} {brute}"
        );
        // and no centre of a fine grid round it does better
        for i in -20..=20 {
            for j in -20..=20 {
                let c = [
                    zone.circle.centre[0] + 1e-3 * f64::from(i),
                    zone.circle.centre[1] + 1e-3 * f64::from(j),
                ];
                assert!(profile.roundness_about(c) >= zone.circle.roundness - 1e-13);
            }
        }
    }
}

/// A zone that nothing proves narrowest holds the profile all the same, and says why it is a bound; other errors stay errors.
#[test]
fn a_zone_that_is_not_proven_is_a_bound() {
    let radii: Vec<f64> = (0..36).map(|k| 20.0 + 0.01 * f64::from(k % 3)).collect();
    let points = Profile::equal(&radii).points();
    let error = MetrologyError::NotProven {
        width: 0.02,
        lower_bound: 0.01,
    };
    let (zone, why) = bounded(Err(error.clone()), &points, [0.0; 2]).unwrap();
    assert_eq!(why, Some(error));
    assert!((zone.outer - 20.02).abs() < 1e-12 && (zone.inner - 20.0).abs() < 1e-12);
    assert!((zone.circle.roundness - 0.02).abs() < 1e-12 && zone.controlling.is_empty());
    assert!(bounded(Err(MetrologyError::Degenerate), &points, [0.0; 2]).is_err());
}

#[test]
fn a_perfect_circle_has_no_width() {
    let radii = vec![25.0; 360];
    let zone = minimum_zone(&Profile::equal(&radii)).unwrap();
    assert!(zone.circle.roundness < 1e-13 && (zone.circle.radius - 25.0).abs() < 1e-13);
}

#[test]
fn bad_readings_are_errors() {
    let radii = [1.0, f64::NAN, 1.0, 1.0];
    assert!(matches!(
        minimum_zone(&Profile::equal(&radii)),
        Err(MetrologyError::NotFinite { index: 1 })
    ));
    let (angles, radii) = ([0.3; 5], [1.0, 1.1, 1.2, 1.3, 1.4]);
    assert!(minimum_zone(&Profile::new(&angles, &radii).unwrap()).is_err());
}
