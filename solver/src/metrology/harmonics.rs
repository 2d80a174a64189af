//! Lobes: the Fourier terms of the distance from a centre.

use std::f64::consts::{PI, TAU};

use nalgebra::{DMatrix, DVector};

use super::{Profile, distances, gap_of_sorted};
use crate::fourier::{self, Complex64, spectrum};

/// One lobe term, `amplitude * cos(count * (theta - angle))`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Harmonic {
    /// Lobes per revolution.
    pub count: u32,
    /// Amplitude, mm, never negative.
    pub amplitude: f64,
    /// Angle of the first crest, degrees, in `[0, 360 / count)`; 0 for a vanishing amplitude.
    pub angle_deg: f64,
}

impl Harmonic {
    /// The lobe `c cos(count * theta) + s sin(count * theta)`.
    pub fn of(count: u32, [c, s]: [f64; 2]) -> Self {
        Self {
            count,
            amplitude: c.hypot(s),
            angle_deg: crest(c, s, count),
        }
    }

    /// The `[c, s]` of [`Harmonic::of`].
    pub fn terms(&self) -> [f64; 2] {
        let (s, c) = (f64::from(self.count) * self.angle_deg.to_radians()).sin_cos();
        [self.amplitude * c, self.amplitude * s]
    }
}

/// Harmonics 1 to `max_count` of the distance from `centre` (mm) as a function of the reference angle.
///
/// Readings at equal angles give the discrete Fourier transform; others the least-squares fit of all terms together, which is the
/// same thing where both apply. The list is cut at the highest lobe that the readings can show, see [`highest_lobe`].
pub fn harmonics(profile: &Profile, centre: [f64; 2], max_count: u32) -> Vec<Harmonic> {
    let n = profile.len() as f64;
    let count = lobes_shown(profile, max_count) as usize;
    let directions = profile.directions();
    let mut departures = distances(&profile.points(), centre);
    let mean = departures.iter().sum::<f64>() / n;
    for d in &mut departures {
        *d -= mean;
    }
    let terms: Vec<[f64; 2]> = match profile.angles {
        None => spectrum(&departures)[1..=count]
            .iter()
            .map(|x| [2.0 * x.re / n, -2.0 * x.im / n])
            .collect(),
        Some(_) => least_squares_terms(&directions, &departures, count),
    };
    terms
        .into_iter()
        .zip(1..)
        .map(|(terms, count)| Harmonic::of(count, terms))
        .collect()
}

/// The highest lobe count that the readings can show.
///
/// `n` readings at equal angles show `(n - 1) / 2` lobes. Uneven ones show them up to half a turn divided by the largest gap;
/// beyond that, up to 50, as long as their fit makes the readings' errors at most ten times as large as the fit to as few equally spaced readings as it has unknowns would.
pub fn highest_lobe(profile: &Profile) -> u32 {
    lobes_shown(profile, u32::MAX)
}

/// Lobes tried one after the other when gaps are wide.
const TRIED: u32 = 50;

/// The same, as far as asked for: what is not asked for costs nothing.
fn lobes_shown(profile: &Profile, asked: u32) -> u32 {
    let most = u32::try_from((profile.len() - 1) / 2).unwrap_or(u32::MAX);
    let asked = asked.min(most);
    let Some(angles) = profile.angles else {
        return asked;
    };
    let mut turn: Vec<f64> = angles.iter().map(|a| a.rem_euclid(TAU)).collect();
    turn.sort_by(f64::total_cmp);
    // rounding must not take the last lobe from equal steps
    let dense = (PI / gap_of_sorted(&turn) * (1.0 + 1e-9)) as u32;
    if asked <= dense {
        return asked;
    }
    let (mut low, mut high) = (dense, asked.min(TRIED).max(dense));
    while low < high {
        let middle = (low + high).div_ceil(2);
        if well_conditioned(profile, middle) {
            low = middle;
        } else {
            high = middle - 1;
        }
    }
    low
}

/// Whether the fit of so many lobes can be relied on: its least eigenvalue, `(2 count + 1) / 2` for as few equally spaced readings, may be a hundredth
/// of that, which makes errors ten times as large.
fn well_conditioned(profile: &Profile, count: u32) -> bool {
    let mut matrix = normal_matrix(&profile.directions(), count as usize);
    // the mean is a term of twice the square of a wave
    matrix.row_mut(0).scale_mut(0.5_f64.sqrt());
    matrix.column_mut(0).scale_mut(0.5_f64.sqrt());
    let unknowns = matrix.nrows() as f64;
    matrix.symmetric_eigenvalues().min() >= 0.01 * 0.5 * unknowns
}

/// Changes values at equal angles through their spectrum. The transform back is not scaled: it gives `n` times the values.
pub(super) fn with_spectrum(values: &mut [f64], change: impl FnOnce(&mut [Complex64])) {
    let mut terms = spectrum(values);
    change(&mut terms);
    // rounding must not make them complex
    terms[0].im = 0.0;
    if values.len().is_multiple_of(2)
        && let Some(last) = terms.last_mut()
    {
        last.im = 0.0;
    }
    values.copy_from_slice(&fourier::values(&terms, values.len()));
}

/// Angle of the first crest of `c cos(n t) + s sin(n t)`, degrees in `[0, 360 / n)`.
fn crest(c: f64, s: f64, count: u32) -> f64 {
    let period = 360.0 / f64::from(count);
    let angle = s.atan2(c).rem_euclid(TAU).to_degrees() / f64::from(count);
    // a tiny negative angle rounds up to the whole period
    if angle >= period { 0.0 } else { angle }
}

/// `sum v cos(k t)` and `sum v sin(k t)` for k from 1 to `count`.
///
/// Eight points at a time are turned together from harmonic to harmonic by one complex product each; the error grows like
/// `k` times the rounding unit, which for thousands of lobes is still below 1e-12 of the profile.
pub(super) fn fourier_sums(directions: &[[f64; 2]], values: &[f64], count: usize) -> Vec<[f64; 2]> {
    const LANES: usize = 8;
    let mut sums = vec![[[0.0; LANES]; 2]; count];
    for (block, values) in directions.chunks(LANES).zip(values.chunks(LANES)) {
        let (mut c, mut s, mut x, mut y) = ([0.0; LANES], [0.0; LANES], [0.0; LANES], [0.0; LANES]);
        for (k, (d, v)) in block.iter().zip(values).enumerate() {
            (c[k], s[k]) = (d[0], d[1]);
            (x[k], y[k]) = (v * d[0], v * d[1]);
        }
        for sum in &mut sums {
            for k in 0..LANES {
                sum[0][k] += x[k];
                sum[1][k] += y[k];
                (x[k], y[k]) = (x[k] * c[k] - y[k] * s[k], x[k] * s[k] + y[k] * c[k]);
            }
        }
    }
    sums.iter()
        .map(|s| s.map(|lanes| lanes.iter().sum()))
        .collect()
}

/// The normal matrix of a trigonometric fit, unknowns the mean, then cosine and sine of each count. It is made of the sums of `cos(m t)` and
/// `sin(m t)` for m up to twice the highest count.
fn normal_matrix(directions: &[[f64; 2]], count: usize) -> DMatrix<f64> {
    let n = directions.len();
    let ones = vec![1.0; n];
    let mut powers = vec![[n as f64, 0.0]];
    powers.extend(fourier_sums(directions, &ones, 2 * count));
    let order = 2 * count + 1;
    DMatrix::from_fn(order, order, |i, j| {
        let (a, b) = (i.div_ceil(2), j.div_ceil(2));
        let sine = |i: usize| i > 0 && i.is_multiple_of(2);
        let (sum, difference) = (powers[a + b], powers[a.abs_diff(b)]);
        let turned = if a >= b {
            difference[1]
        } else {
            -difference[1]
        };
        0.5 * match (sine(i), sine(j)) {
            (false, false) => difference[0] + sum[0],
            (true, true) => difference[0] - sum[0],
            (true, false) => sum[1] + turned,
            (false, true) => sum[1] - turned,
        }
    })
}

/// All terms together by least squares.
fn least_squares_terms(directions: &[[f64; 2]], departures: &[f64], count: usize) -> Vec<[f64; 2]> {
    let sums = fourier_sums(directions, departures, count);
    let matrix = normal_matrix(directions, count);
    let order = matrix.nrows();
    let total: f64 = departures.iter().sum();
    let right = DVector::from_iterator(
        order,
        std::iter::once(total).chain(sums.iter().flatten().copied()),
    );
    let solution = match matrix.clone().cholesky() {
        Some(factor) => factor.solve(&right),
        // Readings too uneven to show every lobe: the smallest of the fits that are equally good.
        None => {
            let eigen = matrix.symmetric_eigen();
            let floor = 1e-12 * eigen.eigenvalues.amax();
            let mut y = eigen.eigenvectors.tr_mul(&right);
            for (y, value) in y.iter_mut().zip(eigen.eigenvalues.iter()) {
                *y = if *value > floor { *y / value } else { 0.0 };
            }
            eigen.eigenvectors * y
        }
    };
    (0..count)
        .map(|k| [solution[2 * k + 1], solution[2 * k + 2]])
        .collect()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn three_terms(t: f64) -> f64 {
        30.0 + 0.01 * (3.0 * t - 0.7).cos() + 0.002 * (7.0 * (t - 0.2)).cos() + 0.003 * t.sin()
    }

    fn check(found: &[Harmonic]) {
        for h in found {
            let (amplitude, angle) = match h.count {
                1 => (0.003, 90.0),
                3 => (0.01, (0.7_f64 / 3.0).to_degrees()),
                7 => (0.002, 0.2_f64.to_degrees()),
                _ => (0.0, h.angle_deg),
            };
            assert!((h.amplitude - amplitude).abs() < 1e-13, "{h:?}");
            assert!((h.angle_deg - angle).abs() < 1e-8, "{h:?}");
            assert!((0.0..360.0 / f64::from(h.count)).contains(&h.angle_deg));
        }
    }

    #[test]
    fn terms_come_back_from_equal_and_unequal_angles() {
        for n in [57, 360, 721] {
            let radii: Vec<f64> = (0..n)
                .map(|k| three_terms(TAU * f64::from(k) / f64::from(n)))
                .collect();
            let found = harmonics(&Profile::equal(&radii), [0.0, 0.0], 20);
            assert_eq!(found.len(), 20);
            check(&found);
            let angles: Vec<f64> = (0..n)
                .map(|k| TAU * (f64::from(k) + 0.3 * f64::from(k * 7 % 5)) / f64::from(n))
                .collect();
            let radii: Vec<f64> = angles.iter().map(|&t| three_terms(t)).collect();
            check(&harmonics(
                &Profile::new(&angles, &radii).unwrap(),
                [0.0, 0.0],
                20,
            ));
        }
    }

    #[test]
    fn few_readings_show_few_lobes() {
        assert_eq!(harmonics(&Profile::equal(&[1.0; 9]), [0.0; 2], 50).len(), 4);
    }
}
