//! The Gaussian filter for closed profiles.

use std::f64::consts::{PI, TAU};

use super::harmonics::{fourier_sums, with_spectrum};
use super::{MetrologyError, Profile, distances};

/// Beyond `nc * TERMS` undulations the transmission is below `2^-56`.
const TERMS: f64 = 7.5;

/// Share of a wave of `count` undulations per revolution that a Gaussian filter of the given cut-off (undulations per revolution, above 0) lets through.
///
/// `exp(-pi (alpha n / nc)^2)` with `alpha = sqrt(ln 2 / pi)`, which is `2^-(n / nc)^2`: one half at the cut-off
/// (ISO 16610-21:2011, the filter for closed profiles; formula from memory).
pub fn transmission(count: u32, cut_off: f64) -> f64 {
    (-(f64::from(count) / cut_off).powi(2)).exp2()
}

/// Distances (mm) from `centre` (mm) at the reference angles, filtered long-wave (low-pass) with a Gaussian of the given cut-off in undulations per revolution.
///
/// Readings at equal angles are filtered in their discrete Fourier terms: every undulation is multiplied by its [`transmission`], exactly.
///
/// Uneven readings are averaged with the weighting function `exp(-pi (theta / (alpha 2 pi / nc))^2)`, wrapped round the turn, each weighted
/// besides with half the angle between its neighbours, and divided by the sum of the weights. That is the trapezoidal rule: a constant comes through exactly, a
/// wave with an error of the order of the square of the spacing over its length, or over the cut-off's length where that is shorter. Where
/// gaps are wider than half the cut-off's length, the answer in them hangs on few readings; see [`super::Resolution`].
///
/// # Errors
/// [`MetrologyError::CutOff`] unless the cut-off is a number above 0, [`MetrologyError::NotFinite`] for a reading that is not a number.
pub fn gaussian(
    profile: &Profile,
    centre: [f64; 2],
    cut_off: f64,
) -> Result<Vec<f64>, MetrologyError> {
    if !(cut_off > 0.0 && cut_off.is_finite()) {
        return Err(MetrologyError::CutOff { cut_off });
    }
    let values = distances(&profile.finite_points()?, centre);
    Ok(if profile.angles.is_none() {
        equal(values, cut_off)
    } else {
        uneven(profile, &values, cut_off)
    })
}

fn equal(mut values: Vec<f64>, cut_off: f64) -> Vec<f64> {
    let n = values.len() as f64;
    with_spectrum(&mut values, |spectrum| {
        for (x, count) in spectrum.iter_mut().zip(0..) {
            *x *= transmission(count, cut_off) / n;
        }
    });
    values
}

fn uneven(profile: &Profile, values: &[f64], cut_off: f64) -> Vec<f64> {
    let turn: Vec<f64> = (0..values.len())
        .map(|i| profile.angle(i).rem_euclid(TAU))
        .collect();
    let mut order: Vec<usize> = (0..values.len()).collect();
    order.sort_by(|&a, &b| turn[a].total_cmp(&turn[b]));
    let angles: Vec<f64> = order.iter().map(|&i| turn[i]).collect();
    let n = angles.len();
    let ahead = |k: usize| (angles[(k + 1) % n] - angles[k]).rem_euclid(TAU);
    let weights: Vec<f64> = (0..n).map(|k| ahead(k) + ahead((k + n - 1) % n)).collect();
    let weighted: Vec<f64> = (0..n).map(|k| weights[k] * values[order[k]]).collect();
    // the same average either way: few waves of a wide weighting function, or the few neighbours under a narrow one
    let filtered = if cut_off <= 64.0 || TERMS * cut_off <= n as f64 {
        by_waves(&angles, &weights, &weighted, cut_off)
    } else {
        by_neighbours(&angles, &weights, &weighted, cut_off)
    };
    let mut result = vec![0.0; n];
    for (&i, value) in order.iter().zip(filtered) {
        result[i] = value;
    }
    result
}

/// The weighting function as the sum of its waves, `1 + 2 sum transmission(k) cos(k theta)`.
fn by_waves(angles: &[f64], weights: &[f64], weighted: &[f64], cut_off: f64) -> Vec<f64> {
    let directions: Vec<[f64; 2]> = angles.iter().map(|t| [t.cos(), t.sin()]).collect();
    let count = (TERMS * cut_off).ceil() as usize;
    let waves = |values: &[f64]| {
        let mut sums = fourier_sums(&directions, values, count);
        for (sum, k) in sums.iter_mut().zip(1..) {
            *sum = sum.map(|s| 2.0 * transmission(k, cut_off) * s);
        }
        (values.iter().sum::<f64>(), sums)
    };
    let (top, bottom) = (waves(weighted), waves(weights));
    directions
        .iter()
        .map(|&[c, s]| {
            let (mut above, mut below) = (top.0, bottom.0);
            let (mut x, mut y) = (c, s);
            for (t, b) in top.1.iter().zip(&bottom.1) {
                above += t[0] * x + t[1] * y;
                below += b[0] * x + b[1] * y;
                (x, y) = (x * c - y * s, x * s + y * c);
            }
            above / below
        })
        .collect()
}

/// The weighting function itself, as far as it is above `2^-56`.
fn by_neighbours(angles: &[f64], weights: &[f64], weighted: &[f64], cut_off: f64) -> Vec<f64> {
    let n = angles.len();
    // exp(-pi (t / (alpha 2 pi / nc))^2) = exp(-(t nc)^2 / (4 ln 2))
    let kernel = |t: f64| (-(t * cut_off).powi(2) / (4.0 * 2.0_f64.ln())).exp();
    let support = 4.0 * 2.0_f64.ln() * 14.0_f64.sqrt() / cut_off;
    debug_assert!(support < PI);
    (0..n)
        .map(|k| {
            let (mut above, mut below) = (weighted[k], weights[k]);
            for step in [1, n - 1] {
                let mut j = (k + step) % n;
                while j != k {
                    let away = (angles[j] - angles[k]).abs();
                    let away = away.min(TAU - away);
                    if away > support {
                        break;
                    }
                    let share = kernel(away);
                    above += share * weighted[j];
                    below += share * weights[j];
                    j = (j + step) % n;
                }
            }
            above / below
        })
        .collect()
}
