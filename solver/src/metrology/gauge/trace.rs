//! What the indicator shows while the true profile makes a turn.

use std::f64::consts::{PI, TAU};

use super::{Gauge, Vee};
use crate::metrology::curve::DIRECTIONS;
use crate::metrology::{Curve, limits};

/// Steps in which a contact finds its place, or it has none; on a part within a percent of round a few do.
const MOST_STEPS: usize = 100;

/// The readings of one turn.
#[derive(Clone, Debug)]
pub struct Trace {
    /// Readings at equal part angles from 0 under the indicator, mm. Of a V and an axis a growth of the radius, of the others a
    /// diameter or height. Not a number where the gauge gives none, see [`Trace::is_whole`].
    pub readings: Vec<f64>,
}

impl Trace {
    /// Whether there is a reading all round. On a part far from round the indicator of a V may pass beside it, or no place be found
    /// where all contacts touch.
    pub fn is_whole(&self) -> bool {
        self.readings.iter().all(|r| r.is_finite())
    }

    /// Total reading: largest minus smallest over the turn (full indicator movement), mm. Between places that were read the
    /// extremes are those of the parabola through three readings.
    pub fn range(&self) -> f64 {
        let [low, high] = self.limits();
        high - low
    }

    /// Smallest and largest reading, mm.
    pub fn limits(&self) -> [f64; 2] {
        let n = self.readings.len();
        let (low, high) = limits(&self.readings);
        let extreme = |value: f64, sign: f64| {
            let k = (0..n).find(|&k| self.readings[k] == value).unwrap_or(0);
            let (a, c) = (self.readings[(k + n - 1) % n], self.readings[(k + 1) % n]);
            let curvature = a + c - 2.0 * value;
            if sign * curvature >= 0.0 {
                return value;
            }
            value - (c - a).powi(2) / (8.0 * curvature)
        };
        [extreme(low, -1.0), extreme(high, 1.0)]
    }

    /// Mean reading, mm.
    pub fn mean(&self) -> f64 {
        self.readings.iter().sum::<f64>() / self.readings.len() as f64
    }
}

impl Gauge {
    /// Turns the true profile under the indicator: contacts slide on the curve itself, nothing is linearised.
    ///
    /// The part is placed anew at every angle so that it touches what supports it. A V's flanks and the plate are flat and rest on
    /// the part's outermost points; indicators (but the plate's) and the contacts of two- and three-point gauges are points.
    /// A two-point diameter is a chord through the least-squares centre, as ISO 14405-1 defines a local size (from memory).
    pub fn trace(self, curve: &Curve) -> Trace {
        let angles = (0..DIRECTIONS).map(|k| TAU * k as f64 / DIRECTIONS as f64);
        let readings = match self {
            Gauge::Radius => angles.map(|t| curve.from_origin(t)).collect(),
            Gauge::TwoPoint => angles
                .map(|t| curve.from_centre(t) + curve.from_centre(t + PI))
                .collect(),
            Gauge::Plate => curve
                .reach(0.0)
                .zip(curve.reach(PI))
                .map(|(a, b)| a + b)
                .collect(),
            Gauge::Vee(vee) => turned_in(vee, curve, angles),
            Gauge::ThreePoint => three_point(curve, angles),
        };
        Trace { readings }
    }
}

/// The part's centre lies where both flanks touch; the indicator moves on the line through where the centre of a round part of
/// the same size would be.
fn turned_in(vee: Vee, curve: &Curve, angles: impl Iterator<Item = f64>) -> Vec<f64> {
    let ([a, b], [wa, wb]) = (vee.contacts(), vee.lift());
    let size = curve.radius();
    // how a growth at each contact moves the part across the indicator, to the left of its direction
    let across = (b - a).sin();
    let (ca, cb) = (-b.cos() / across, a.cos() / across);
    let rests = curve.reach(a).zip(curve.reach(b));
    angles
        .zip(rests)
        .map(|(t, (left, right))| {
            let (growth_a, growth_b) = (left - size, right - size);
            let along = -wa * growth_a - wb * growth_b;
            let aside = -ca * growth_a - cb * growth_b;
            // the place of the profile that has come onto the indicator's line
            let (mut angle, mut radius) = (t, curve.from_centre(t));
            for _ in 0..MOST_STEPS {
                let next = t - (aside / radius).asin();
                if (next - angle).abs() < 1e-13 {
                    return along + radius * (angle - t).cos() - size;
                }
                angle = next;
                radius = curve.from_centre(angle);
            }
            f64::NAN
        })
        .collect()
}

/// Twice the opening at which three contacts, 120 deg apart, all touch: the gauge finds its own centre.
fn three_point(curve: &Curve, angles: impl Iterator<Item = f64>) -> Vec<f64> {
    // from one angle to the next the gauge moves little, so its last place is a good guess
    let ([mut x, mut y], mut opening) = ([0.0, 0.0], curve.radius());
    angles
        .map(|t| {
            let contacts = [0.0, TAU / 3.0, 2.0 * TAU / 3.0].map(|k| {
                let (s, c) = (t + k).sin_cos();
                [c, s]
            });
            for _ in 0..MOST_STEPS {
                let (mut dx, mut dy, mut grown, mut worst) = (0.0, 0.0, 0.0, 0.0_f64);
                for [c, s] in contacts {
                    let (px, py) = (x + opening * c, y + opening * s);
                    let short = curve.from_centre(py.atan2(px)) - (px * px + py * py).sqrt();
                    dx += short * c * 2.0 / 3.0;
                    dy += short * s * 2.0 / 3.0;
                    grown += short / 3.0;
                    worst = worst.max(short.abs());
                }
                (x, y, opening) = (x + dx, y + dy, opening + grown);
                if worst < 1e-12 * opening {
                    return 2.0 * opening;
                }
            }
            f64::NAN
        })
        .collect()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::metrology::Profile;

    fn lobes(count: u32, amplitude: f64) -> Curve {
        let radii: Vec<f64> = (0..3600)
            .map(|k| 40.0 + amplitude * (f64::from(count) * TAU * f64::from(k) / 3600.0).cos())
            .collect();
        Curve::through(&Profile::equal(&radii)).unwrap()
    }

    #[test]
    fn small_lobes_read_as_the_factor_says() {
        // left over: what the slope of the lobes does, amplitude (count amplitude / radius) of second order
        let vees = [60.0, 72.0, 90.0, 108.0, 120.0];
        let summits = vees.map(|a| Gauge::Vee(Vee::summit(a)));
        let riders = vees.map(|a| Gauge::Vee(Vee::rider(a)));
        let rest = [Gauge::TwoPoint, Gauge::Plate, Gauge::ThreePoint];
        for gauge in summits.into_iter().chain(riders).chain(rest) {
            for count in 2..=22 {
                let amplitude = 1e-4;
                let read = gauge.trace(&lobes(count, amplitude)).range() / (2.0 * amplitude);
                let factor = gauge.factor(count);
                assert!(
                    (read - factor).abs() < 3e-3,
                    "{gauge:?} {count}: {read} {factor}"
                );
            }
        }
    }

    #[test]
    fn crests_between_two_places_are_met() {
        // a crest half a step from any place read: the nearest reading is short of it by a thousandth
        let radii: Vec<f64> = (0..3600)
            .map(|k| 40.0 + 1e-3 * (50.0 * TAU * (f64::from(k) + 0.5) / 3600.0).cos())
            .collect();
        let curve = Curve::through(&Profile::equal(&radii)).unwrap();
        let range = Gauge::Radius.trace(&curve).range();
        assert!((range - 2e-3).abs() < 1e-8, "{range}");
    }

    #[test]
    fn a_trace_is_turned_by_the_angle_of_the_response() {
        for gauge in [
            Gauge::Vee(Vee::summit(60.0)),
            Gauge::Vee(Vee::rider(90.0)),
            Gauge::Vee(Vee {
                included_angle_deg: 120.0,
                indicator_deg: 60.0,
            }),
        ] {
            for count in [2, 3, 5] {
                let amplitude = 1e-4;
                let trace = gauge.trace(&lobes(count, amplitude));
                let [re, im] = gauge.response(count);
                for (k, reading) in trace.readings.iter().enumerate().step_by(97) {
                    let t = f64::from(count) * TAU * k as f64 / 3600.0;
                    let want = amplitude * (re * t.cos() - im * t.sin());
                    assert!((reading - want).abs() < 3e-7, "{gauge:?} {count} {k}");
                }
            }
        }
    }
}
