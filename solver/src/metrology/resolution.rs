//! What the readings can show of a lobed form, and what slips between them.

use std::f64::consts::PI;

use super::minimum_zone::ChebyshevFit;
use super::{Profile, gap_of_sorted, highest_lobe};

/// Phases tried over half a turn of a wave's phase; the extremes are refined from there.
const PHASES: usize = 48;

/// What a profile's readings can show, whatever they say.
#[derive(Clone, Debug)]
pub struct Resolution {
    /// Number of readings.
    pub points: usize,
    /// The highest lobe count that they can show, see [`highest_lobe`].
    pub highest_lobe: u32,
    /// The largest angle without a reading, degrees.
    pub largest_gap_deg: f64,
    /// Reference angles, rad.
    angles: Vec<f64>,
}

/// How much of a pure wave the readings show: shares of its peak-to-valley height, over all angles that it may stand at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shown {
    /// Lobes per revolution.
    pub count: u32,
    /// Share shown when the wave stands at its worst for these readings.
    pub least: f64,
    /// Share shown when it stands at its best.
    pub most: f64,
}

impl Resolution {
    /// What the readings of a profile can show; only their angles matter.
    pub fn of(profile: &Profile) -> Self {
        let angles: Vec<f64> = (0..profile.len()).map(|i| profile.angle(i)).collect();
        Self {
            points: angles.len(),
            highest_lobe: highest_lobe(profile),
            largest_gap_deg: largest_gap(profile).to_degrees(),
            angles,
        }
    }

    /// What is shown of a wave of `count` lobes: the minimum zone of its readings, to first order in its height, so with size and off-centre
    /// taken out.
    ///
    /// Twelve equal steps show nothing of 11, 12 or 13 lobes, which look like off-centre, size and off-centre. A wave of one lobe is
    /// off-centre alone: nothing. Over the phase the share is a largest of `|A cos(p - q)|`, one for each four readings; its extremes are
    /// sought from 48 phases by golden section.
    pub fn shown(&self, count: u32) -> Shown {
        let mut wave = Wave::new(&self.angles, count);
        let step = PI / PHASES as f64;
        let tried: Vec<f64> = (0..PHASES).map(|k| wave.share(step * k as f64)).collect();
        let at = |better: fn(f64, f64) -> bool| {
            let first = (0..PHASES).fold(0, |b, k| if better(tried[k], tried[b]) { k } else { b });
            step * first as f64
        };
        let (least, most) = (at(|new, old| new < old), at(|new, old| new > old));
        Shown {
            count,
            least: golden(&mut |p| wave.share(p), least, step),
            most: -golden(&mut |p| -wave.share(p), most, step),
        }
    }

    /// What is shown of every count from 2 to `last`.
    pub fn up_to(&self, last: u32) -> Vec<Shown> {
        (2..=last).map(|count| self.shown(count)).collect()
    }
}

/// The largest angle between two readings, rad.
fn largest_gap(profile: &Profile) -> f64 {
    let Some(angles) = profile.angles else {
        return 2.0 * PI / profile.len() as f64;
    };
    let mut turn: Vec<f64> = angles.iter().map(|a| a.rem_euclid(2.0 * PI)).collect();
    turn.sort_by(f64::total_cmp);
    gap_of_sorted(&turn)
}

/// A wave of unit amplitude at the readings.
struct Wave {
    fit: ChebyshevFit,
    /// Its cosine and sine.
    parts: Vec<[f64; 2]>,
    /// The four readings that carried the zone of the last phase, a good start for the next.
    reference: [usize; 4],
}

impl Wave {
    fn new(angles: &[f64], count: u32) -> Self {
        let part = |t: &f64| {
            let (s, c) = (f64::from(count) * t).sin_cos();
            [c, s]
        };
        Self {
            fit: ChebyshevFit::of(angles.iter().map(|t| [t.cos(), t.sin(), 0.0]).collect()),
            parts: angles.iter().map(part).collect(),
            reference: [0, 1, 2, 3],
        }
    }

    /// Width of the zone over the wave's height, both halved.
    fn share(&mut self, phase: f64) -> f64 {
        // three readings lie on a circle whatever they say
        if self.parts.len() < 4 {
            return 0.0;
        }
        let (sin, cos) = phase.sin_cos();
        let parts = &self.parts;
        self.fit.depart(|i| parts[i][0] * cos + parts[i][1] * sin);
        // readings in fewer than four directions show no form either
        match self.fit.solve(&mut self.reference) {
            Ok(levelled) if levelled.level > 1e-12 => levelled.level.min(1.0),
            _ => 0.0,
        }
    }
}

/// The least value within a step of a place, or at it.
fn golden(value: &mut dyn FnMut(f64) -> f64, place: f64, step: f64) -> f64 {
    const SECTION: f64 = 0.618_033_988_749_895;
    let (mut a, mut b) = (place - step, place + step);
    let mut best = value(place);
    let (mut c, mut d) = (b - SECTION * (b - a), a + SECTION * (b - a));
    let (mut at_c, mut at_d) = (value(c), value(d));
    for _ in 0..30 {
        best = best.min(at_c).min(at_d);
        if at_c < at_d {
            (b, d, at_d) = (d, c, at_c);
            c = b - SECTION * (b - a);
            at_c = value(c);
        } else {
            (a, c, at_c) = (c, d, at_d);
            d = a + SECTION * (b - a);
            at_d = value(d);
        }
    }
    best
}
