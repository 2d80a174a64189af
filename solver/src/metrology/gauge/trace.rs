//! What the indicator shows while the true profile makes a turn.

use std::f64::consts::{PI, TAU};

use super::{Gauge, Vee};
use crate::metrology::Curve;
use crate::metrology::curve::{DIRECTIONS, STRIDE};

/// Steps in which a contact finds its place, or it has none; on a part within a percent of round a few do.
const MOST_STEPS: usize = 100;

/// A millionth of a micrometre: no reading is resolved further than that.
const NOTHING: f64 = 1e-9;

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
        [-1.0, 1.0].map(|sign| {
            let better = |a: usize, b: usize| self.readings[a] * sign > self.readings[b] * sign;
            let k = (1..n).fold(0, |best, k| if better(k, best) { k } else { best });
            let beside = [(k + n - 1) % n, k, (k + 1) % n].map(|k| self.readings[k]);
            extreme(beside, sign)
        })
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
        let mut turning = Turning::new(self, curve);
        Trace {
            readings: (0..DIRECTIONS).map(|k| turning.reading(k)).collect(),
        }
    }

    /// Smallest and largest reading of a turn, mm, as [`Trace::limits`] of the whole trace; `None` where the trace is not whole. On a smooth curve
    /// every fifth place is read, and all of them only where an extreme may be.
    pub fn limits(self, curve: &Curve) -> Option<[f64; 2]> {
        let mut turning = Turning::new(self, curve);
        // a round part reads alike all round, but for being off centre
        if curve.is_round() && self != Gauge::Radius {
            return Some([turning.reading(0); 2]);
        }
        if !curve.is_smooth() {
            let trace = self.trace(curve);
            return trace.is_whole().then(|| trace.limits());
        }
        let read: Vec<f64> = (0..DIRECTIONS)
            .step_by(STRIDE)
            .map(|k| turning.reading(k))
            .collect();
        if !read.iter().all(|r| r.is_finite()) {
            return None;
        }
        Some([-1.0, 1.0].map(|sign| turning.extreme(&read, sign)))
    }
}

/// The extreme of the parabola through three readings next to each other, the middle one the largest (`sign` 1) or smallest (-1).
fn extreme([a, b, c]: [f64; 3], sign: f64) -> f64 {
    let curvature = a + c - 2.0 * b;
    if sign * curvature >= 0.0 {
        return b;
    }
    b - (c - a).powi(2) / (8.0 * curvature)
}

/// A part that is turned on a gauge.
struct Turning<'a> {
    gauge: Gauge,
    curve: &'a Curve,
    /// In a V, from the first reading on.
    rest: Option<Rest>,
    /// Where a three-point gauge stood last: from one angle to the next it moves little, so that is a good guess.
    centre: [f64; 2],
    opening: f64,
}

impl<'a> Turning<'a> {
    fn new(gauge: Gauge, curve: &'a Curve) -> Self {
        Self {
            gauge,
            curve,
            rest: None,
            centre: [0.0, 0.0],
            opening: curve.radius(),
        }
    }

    /// The reading at one of [`DIRECTIONS`] part angles.
    fn reading(&mut self, k: usize) -> f64 {
        let curve = self.curve;
        let t = TAU * k as f64 / DIRECTIONS as f64;
        match self.gauge {
            Gauge::Radius => curve.from_origin(t),
            Gauge::TwoPoint => curve.radius_at(k) + curve.from_centre(t + PI),
            Gauge::Plate => curve.reach_at(k) + curve.reach_at(k + DIRECTIONS / 2),
            Gauge::Vee(vee) => {
                let rest = self.rest.get_or_insert_with(|| Rest::of(vee));
                rest.reading(curve, k, t)
            }
            Gauge::ThreePoint => self.three_point(t),
        }
    }

    /// The largest (`sign` 1) or smallest (-1) reading, from those at every [`STRIDE`]th place. Every place is evaluated beside each crest that
    /// could still be the highest: a reading is short of the crest beside it by no more than its neighbours are bent.
    fn extreme(&mut self, read: &[f64], sign: f64) -> f64 {
        let n = read.len();
        let at = |k: usize| sign * read[k % n];
        let bent = |k: usize| (at(k + 1) + at(k + n - 1) - 2.0 * at(k)).abs();
        let shortfall = (0..n).map(bent).fold(0.0, f64::max);
        let highest = (0..n).map(at).fold(f64::NEG_INFINITY, f64::max);
        if shortfall < NOTHING {
            return sign * highest;
        }
        let crest = |k: &usize| at(*k) >= at(k + 1) && at(*k) >= at(k + n - 1);
        let mut found = highest;
        for k in (0..n)
            .filter(crest)
            .filter(|&k| at(k) >= highest - shortfall)
        {
            let first = STRIDE * k + DIRECTIONS - STRIDE;
            let close: Vec<f64> = (first..=first + 2 * STRIDE)
                .map(|k| self.reading(k % DIRECTIONS))
                .collect();
            for three in close.windows(3) {
                let three = [three[0], three[1], three[2]];
                if sign * three[1] >= sign * three[0] && sign * three[1] >= sign * three[2] {
                    found = found.max(sign * extreme(three, sign));
                }
            }
        }
        sign * found
    }

    /// Twice the opening at which three contacts, 120 deg apart, all touch: the gauge finds its own centre.
    fn three_point(&mut self, t: f64) -> f64 {
        let contacts = [0.0, TAU / 3.0, 2.0 * TAU / 3.0].map(|k| {
            let (s, c) = (t + k).sin_cos();
            [c, s]
        });
        let ([mut x, mut y], mut opening) = (self.centre, self.opening);
        for _ in 0..MOST_STEPS {
            let (mut dx, mut dy, mut grown, mut worst) = (0.0, 0.0, 0.0, 0.0_f64);
            for [c, s] in contacts {
                let (px, py) = (x + opening * c, y + opening * s);
                let short = self.curve.from_centre(py.atan2(px)) - (px * px + py * py).sqrt();
                dx += short * c * 2.0 / 3.0;
                dy += short * s * 2.0 / 3.0;
                grown += short / 3.0;
                worst = worst.max(short.abs());
            }
            (x, y, opening) = (x + dx, y + dy, opening + grown);
            if worst < 1e-12 * opening {
                (self.centre, self.opening) = ([x, y], opening);
                return 2.0 * opening;
            }
        }
        f64::NAN
    }
}

/// How a part rests in a V: what is the same at every angle.
struct Rest {
    contacts: [FlankContact; 2],
    /// Share of a growth at each contact by which the part is lifted along the indicator.
    lift: [f64; 2],
    /// The same across it, to the left of its direction.
    across: [f64; 2],
}

/// Where a flank touches.
struct FlankContact {
    /// Direction, rad from the indicator.
    angle: f64,
    /// The same in steps of [`DIRECTIONS`], if they are whole.
    steps: Option<usize>,
}

impl FlankContact {
    fn at(angle: f64) -> Self {
        let steps = angle / TAU * DIRECTIONS as f64;
        let whole = steps.round();
        let kept = (steps - whole).abs() < 1e-9;
        Self {
            angle,
            steps: kept.then(|| whole.rem_euclid(DIRECTIONS as f64) as usize),
        }
    }

    /// How far the part reaches there while place `k` of it, at angle `t`, is under the indicator.
    fn reach(&self, curve: &Curve, k: usize, t: f64) -> f64 {
        match self.steps {
            Some(steps) => curve.reach_at(k + steps),
            None => curve.reach(t + self.angle),
        }
    }
}

impl Rest {
    fn of(vee: Vee) -> Self {
        let [a, b] = vee.contacts();
        let across = (b - a).sin();
        Self {
            contacts: [a, b].map(FlankContact::at),
            lift: vee.lift(),
            across: [-b.cos() / across, a.cos() / across],
        }
    }

    /// The part's centre lies where both flanks touch; the indicator moves on the line through where the centre of a round part of
    /// the same size would be.
    fn reading(&self, curve: &Curve, k: usize, t: f64) -> f64 {
        let size = curve.radius();
        let [a, b] = &self.contacts;
        let growth = [a.reach(curve, k, t) - size, b.reach(curve, k, t) - size];
        let ([wa, wb], [ca, cb]) = (self.lift, self.across);
        let along = -wa * growth[0] - wb * growth[1];
        let aside = -ca * growth[0] - cb * growth[1];
        // the place of the profile that has come onto the indicator's line
        let (mut angle, mut radius) = (t, curve.radius_at(k));
        for _ in 0..MOST_STEPS {
            let next = t - (aside / radius).asin();
            if (next - angle).abs() < 1e-13 {
                return along + radius * (angle - t).cos() - size;
            }
            angle = next;
            radius = curve.from_centre(angle);
        }
        f64::NAN
    }
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
        // the residual is what the slope of the lobes does, amplitude (count amplitude / radius) of second order
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

    /// A scan of every fifth place and a second one where an extreme may be give the limits of the whole trace.
    #[test]
    fn limits_are_those_of_the_whole_trace() {
        let shape = |t: f64, [a, b, c]: [f64; 3]| {
            40.0 + a * (2.0 * t).cos() + b * (3.0 * t - 1.0).cos() + c * (19.0 * t + 0.3).sin()
        };
        for terms in [
            [0.02, 0.0, 0.0],
            [0.0, 0.03, 0.002],
            [0.01, -0.01, 0.01],
            [0.0; 3],
        ] {
            let radii: Vec<f64> = (0..3600)
                .map(|k| shape(TAU * f64::from(k) / 3600.0, terms))
                .collect();
            let curve = Curve::through(&Profile::equal(&radii)).unwrap();
            assert!(curve.is_smooth());
            let odd = Gauge::Vee(Vee {
                included_angle_deg: 77.7,
                indicator_deg: 13.3,
            });
            for gauge in Gauge::USUAL.into_iter().chain([odd]) {
                let (quick, whole) = (gauge.limits(&curve).unwrap(), gauge.trace(&curve).limits());
                for (q, w) in quick.into_iter().zip(whole) {
                    // what the cubics between nodes leave in a reading that is constant has no crests to be seen
                    assert!((q - w).abs() < NOTHING, "{gauge} {terms:?}: {q} {w}");
                }
            }
        }
        // a nick in one reading is not passed over
        let mut radii = vec![40.0; 3600];
        radii[1003] = 39.9;
        let curve = Curve::through(&Profile::equal(&radii)).unwrap();
        assert!(!curve.is_smooth());
        let [low, _] = Gauge::Radius.limits(&curve).unwrap();
        assert!((low - 39.9).abs() < 1e-9, "{low}");
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
