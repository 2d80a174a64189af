//! How far figures read off a profile may be off when the profile itself may be.

use super::{Gauge, OneSided, Profile, limits};

/// The estimated error of a profile of equal angles from 0: one at each angle, whose sign counts, and beside it what any part of the
/// profile may be off.
///
/// To first order a figure changes by what it reads off the error alone. A largest less a smallest reading is bounded here by the range of
/// those changes over the turn, wherever on the turn its extremes lie.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ProfileError {
    /// Error at each angle, mm; empty where it vanishes.
    off: Vec<f64>,
    /// What the width of any part of the profile may be off beside it, mm.
    floor: f64,
}

/// How far the figures of a circle that a profile touches from one side may be off, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OneSidedError {
    /// Its radius.
    pub radius: f64,
    /// Its centre, in any direction.
    pub centre: f64,
    /// The roundness about that centre.
    pub roundness: f64,
}

impl ProfileError {
    /// Of an error at each of equal angles (mm) and what the profile's width may be off beside it (mm, not negative).
    pub fn new(mut off: Vec<f64>, floor: f64) -> Self {
        if off.len() < 3 || off.iter().all(|d| *d == 0.0) {
            off.clear();
        }
        Self { off, floor }
    }

    /// The same with so much more that the width may be off, mm.
    #[must_use]
    pub fn and(self, more: f64) -> Self {
        Self {
            floor: self.floor + more,
            ..self
        }
    }

    /// Error at each angle, mm; empty where it vanishes.
    pub fn off(&self) -> &[f64] {
        &self.off
    }

    /// What the width of any part of the profile may be off beside [`ProfileError::off`], mm.
    pub fn floor(&self) -> f64 {
        self.floor
    }

    /// Of the mean radius, mm.
    pub fn mean_radius(&self) -> f64 {
        self.mean().abs() + 0.5 * self.floor
    }

    /// Of the least-squares centre, mm: twice the shift, since two divisions differ less in where a part comes to rest than either is off.
    pub fn centre(&self) -> f64 {
        let [c, s] = self.first_lobe();
        2.0 * c.hypot(s) + self.floor
    }

    /// Of the out-of-roundness about the least-squares circle and the minimum zone, behind a filter or not: what is off by a shift and in
    /// the mean is not out of round, and a filter widens nothing.
    pub fn roundness(&self) -> f64 {
        range(&self.out_of_round()) + self.floor
    }

    /// Of the amplitude of any lobe from two per revolution up, mm: no term of a Fourier series is larger than twice the mean of the size
    /// of what it is taken of.
    pub fn lobes(&self) -> f64 {
        let rest = self.out_of_round();
        let sum: f64 = rest.iter().map(|d| d.abs()).sum();
        2.0 * sum / rest.len().max(1) as f64 + 0.5 * self.floor
    }

    /// Of what a gauge shows over a turn, mm.
    pub fn reading(&self, gauge: Gauge) -> f64 {
        let weights = gauge.weights();
        let gain: f64 = weights.iter().map(|w| w[1].abs()).sum();
        let n = self.off.len();
        let at: Vec<(usize, f64)> = weights
            .iter()
            .map(|[angle, weight]| {
                let turns = (angle / std::f64::consts::TAU).rem_euclid(1.0);
                ((turns * n as f64).round() as usize, *weight)
            })
            .collect();
        let change = |k: usize| -> f64 {
            at.iter()
                .map(|(apart, weight)| weight * self.off[(k + apart) % n])
                .sum()
        };
        let changes: Vec<f64> = (0..n).map(change).collect();
        range(&changes) + gain * self.floor
    }

    /// Of a circle that the profile touches from one side: its radius, its centre and the roundness about that, mm.
    ///
    /// `fitted` is the circle on `profile`, the curve that it touches (behind a filter or not: one widens nothing). Such a radius never falls
    /// when the profile grows, grows by as much as the profile does evenly, and is not changed by a shift; so what the error is off beside a shift bounds it,
    /// whichever readings the circle comes to rest on. The other division's circle fits this profile to within twice that, which bounds how far
    /// apart the centres are ([`OneSided::centre_within`]); the roundness changes by that and by the error at the farthest reading and at the
    /// circle.
    pub fn one_sided(&self, fitted: &OneSided, profile: &Profile) -> OneSidedError {
        let (mean, rest) = (self.mean(), self.out_of_round());
        let most = rest.iter().fold(0.0_f64, |m, d| m.max((mean + d).abs()));
        let radius = most + 0.5 * self.floor;
        let apart = fitted.centre_within(profile, 2.0 * radius);
        OneSidedError {
            radius,
            centre: self.centre() + apart,
            roundness: 2.0 * radius + apart,
        }
    }

    /// Of the largest less the smallest distance from a fixed axis, mm.
    pub fn about_origin(&self) -> f64 {
        range(&self.off) + self.floor
    }

    fn mean(&self) -> f64 {
        self.off.iter().sum::<f64>() / self.off.len().max(1) as f64
    }

    /// Cosine and sine of what is a shift.
    fn first_lobe(&self) -> [f64; 2] {
        if self.off.is_empty() {
            return [0.0; 2];
        }
        let directions = Profile::equal(&self.off).directions();
        let mut sum = [0.0; 2];
        for (d, [c, s]) in self.off.iter().zip(directions.iter()) {
            sum[0] += d * c;
            sum[1] += d * s;
        }
        sum.map(|x| 2.0 * x / self.off.len() as f64)
    }

    /// The error at each angle less its mean and what shifts the profile, mm; empty where it vanishes.
    pub(crate) fn out_of_round(&self) -> Vec<f64> {
        if self.off.is_empty() {
            return Vec::new();
        }
        let (mean, [x, y]) = (self.mean(), self.first_lobe());
        let directions = Profile::equal(&self.off).directions();
        let all = self.off.iter().zip(directions.iter());
        all.map(|(d, [c, s])| d - mean - x * c - y * s).collect()
    }
}

/// Largest less smallest; nothing of none.
fn range(values: &[f64]) -> f64 {
    let (low, high) = limits(values);
    if values.is_empty() { 0.0 } else { high - low }
}

#[cfg(test)]
mod tests {
    use std::f64::consts::TAU;

    use super::*;
    use crate::metrology::{
        Curve, Sheet, Vee, Wanted, least_squares_circle, maximum_inscribed, minimum_circumscribed,
    };

    fn profile(of: impl Fn(f64) -> f64) -> Vec<f64> {
        (0..3600).map(|k| of(TAU * f64::from(k) / 3600.0)).collect()
    }

    /// Every gauge, both zones and the lobes of a profile that is off by lobes and a shift change by no more than is said, and by a fair
    /// share of it.
    #[test]
    fn figures_change_by_no_more_than_is_said() {
        let right = |t: f64| 50.0 + 0.03 * (3.0 * t).cos() + 0.01 * (2.0 * t - 0.4).cos();
        let off = |t: f64| 1e-4 * (3.0 * t - 0.3).cos() + 2e-4 * t.sin() + 5e-5 * (2.0 * t).cos();
        let (a, b) = (profile(right), profile(|t| right(t) + off(t)));
        let error = ProfileError::new(profile(off), 0.0);
        let gauges = Gauge::USUAL;
        let wanted = Wanted {
            gauges: gauges.to_vec(),
            cut_off: None,
        };
        let sheets = [&a, &b].map(|r| Sheet::of(&Profile::equal(r), &wanted).ok());
        let [Some(x), Some(y)] = sheets else {
            panic!("no sheet")
        };
        let said = [
            (x.least_squares.roundness, y.least_squares.roundness),
            (
                x.minimum_zone.circle.roundness,
                y.minimum_zone.circle.roundness,
            ),
        ];
        for (a, b) in said {
            assert!((a - b).abs() <= error.roundness() && (a - b).abs() > 0.1 * error.roundness());
        }
        for (h, k) in x.harmonics.iter().zip(&y.harmonics).skip(1) {
            assert!((h.amplitude - k.amplitude).abs() <= error.lobes());
        }
        for (a, b) in x.readings.iter().zip(&y.readings) {
            // a thousandth for what is not of first order
            let said = 1.001 * error.reading(a.gauge) + 1e-9;
            assert!((a.range - b.range).abs() <= said, "{}", a.gauge);
        }
        let moved = least_squares_circle(&Profile::equal(&b)).centre[1];
        assert!((moved - 2e-4).abs() <= 1e-6 && (error.centre() - 4e-4).abs() <= 1e-12);
    }

    /// One-sided circles of profiles that are off by lobes, a shift and in size: of three lobes, on three readings; of six, whose circles may rest on
    /// others; of two, whose inscribed circle slides and whose circumscribed one rests on two. All change by no more than is said, and the radius on three readings that are
    /// off alike by a fair share of it.
    #[test]
    fn one_sided_circles_change_by_no_more_than_is_said() {
        let off = |t: f64| {
            2e-5 + 1e-4 * (3.0 * t - 0.3).cos() + 2e-4 * t.sin() + 5e-5 * (2.0 * t - 1.0).cos()
        };
        for lobes in [2.0, 3.0, 6.0] {
            let right = |t: f64| 50.0 + 0.03 * (lobes * t).cos();
            let [a, b] = [profile(right), profile(|t| right(t) + off(t))];
            let error = ProfileError::new(profile(off), 0.0);
            let [a, b] = [Profile::equal(&a), Profile::equal(&b)];
            for fit in [maximum_inscribed, minimum_circumscribed] {
                let [x, y] = [&a, &b].map(|p| fit(p).expect("it closes"));
                let said = error.one_sided(&x, &a);
                let radius = (x.circle.radius - y.circle.radius).abs();
                // a thousandth for what is not of first order
                assert!(radius <= 1.001 * said.radius, "{lobes}: {radius} {said:?}");
                assert!(
                    lobes != 3.0 || radius > 0.3 * said.radius,
                    "{radius} {said:?}"
                );
                let width = (x.circle.roundness - y.circle.roundness).abs();
                assert!(width <= 1.001 * said.roundness, "{lobes}: {width} {said:?}");
                let [dx, dy] = [0, 1].map(|k| x.circle.centre[k] - y.circle.centre[k]);
                let moved = dx.hypot(dy);
                assert!(moved <= 1.001 * said.centre, "{lobes}: {moved} {said:?}");
            }
            let none = ProfileError::default();
            let fitted = maximum_inscribed(&a).expect("it closes");
            assert_eq!(none.one_sided(&fitted, &a).roundness, 0.0);
        }
        // three lobes: twice the error over the slope of a half with which the circle shrinks
        let three = profile(|t| 50.0 + 0.03 * (3.0 * t).cos());
        let three = Profile::equal(&three);
        let fitted = maximum_inscribed(&three).expect("it closes");
        assert!((fitted.centre_within(&three, 1e-6) / 2e-6 - 1.0).abs() < 0.01);
    }

    /// What a gauge does to a lobe is the sum of its weights at its contacts.
    #[test]
    fn weights_are_what_a_gauge_responds_by() {
        let mut gauges = Gauge::USUAL.to_vec();
        gauges.push(Gauge::Vee(Vee {
            included_angle_deg: 72.0,
            indicator_deg: 30.0,
        }));
        for gauge in gauges {
            for count in 2..40 {
                let mut sum = [0.0; 2];
                for [angle, weight] in gauge.weights() {
                    let (s, c) = (f64::from(count) * angle).sin_cos();
                    sum[0] += weight * c;
                    sum[1] += weight * s;
                }
                let response = gauge.response(count);
                for c in 0..2 {
                    assert!((sum[c] - response[c]).abs() < 1e-12, "{gauge} {count}");
                }
            }
        }
    }

    #[test]
    fn nothing_off_is_nothing() {
        let error = ProfileError::new(vec![0.0; 3600], 0.0);
        let curve = profile(|_| 50.0);
        let circle = least_squares_circle(&Profile::equal(&curve));
        assert!(Curve::about(&Profile::equal(&curve), &circle).is_ok());
        assert_eq!(error.roundness() + error.lobes() + error.centre(), 0.0);
        assert_eq!(error.reading(Gauge::TwoPoint), 0.0);
        assert_eq!(error.and(1e-6).reading(Gauge::TwoPoint), 2e-6);
    }
}
