//! The tube behind the pressures of pads: their compliances from the harmonics.

use std::f64::consts::TAU;
use std::sync::Arc;

use crate::contact::elastic::Elastic;
use crate::contact::pressure::{PressureDof, Segment};
use crate::fourier::Complex64;
use crate::tube::TubeBody;
use crate::tube::field::{placed, share_of_turn};
use crate::tube::response::Responses;

/// Harmonics up to which the denting under the narrowest shape function is followed, times its width in radians.
const NARROWEST: f64 = 5.0;

/// The most harmonics that are followed; beyond, a shape function of a few thousandths of a radian is as good as a line.
const MOST_HARMONICS: f64 = 2000.0;

/// Rigid-body modes: shifts along x and y, tilts along them.
const MODES: usize = 4;

/// A tube behind pressures round and along it.
pub(super) struct TubeElastic {
    pub responses: Arc<Responses>,
    /// Fourier coefficients `integral e^(-i n theta)` of the densities of the pressures round the part, mm2: of the whole length.
    pub transforms: Vec<Vec<Complex64>>,
    /// Minus one where a pressure round the part pushes inwards.
    pushes: Vec<f64>,
    /// Of each pressure, the one round the part and the strip.
    pub places: Vec<(usize, usize)>,
    /// Length of each strip, mm, and its first moment about the middle of the part, as a share of half the length.
    pub sizes: Vec<[f64; 2]>,
    /// Strips by their nodes' places, mm.
    pub loads: Vec<Vec<(usize, f64)>>,
    /// What each harmonic takes of the rungs of the ladder up to the highest, and of that alone beyond it.
    weights: Vec<([usize; 4], [f64; 4])>,
    beyond: Vec<f64>,
    /// What each pair of pressures round the part shares, a number a rung; lower triangle, row by row.
    shared: Vec<Option<Vec<f64>>>,
    /// Harmonics that are followed, from 0.
    harmonics: usize,
    /// Length of the part, mm.
    pub length: f64,
    /// Middle of the part and half its length, mm.
    pub lever: [f64; 2],
}

/// Which way out of the metal is at the surface of a pressure: 1 outside, -1 in the bore.
pub(super) fn outward(dof: &PressureDof) -> f64 {
    dof.presses.first().map_or(1.0, |p| p.surface.outward())
}

/// `integral e^(-i n theta)` of segments, for harmonics from 0 to the highest. Of a linear density by parts: derived here.
pub(super) fn transform(segments: &[Segment], highest: usize) -> Vec<Complex64> {
    let term = |n: usize| -> Complex64 {
        let order = n as f64;
        segments
            .iter()
            .map(|s| {
                let (half, middle) = (0.5 * (s.to - s.from), 0.5 * (s.to + s.from));
                let mean = 0.5 * (s.density[0] + s.density[1]);
                let slope = 0.5 * (s.density[1] - s.density[0]);
                let x = order * half;
                // even part: sin x / x; odd part: integral of s sin(x s) over [-1, 1] halved
                let (even, odd) = if x.abs() < 1e-3 {
                    (1.0 - x * x / 6.0, x / 3.0)
                } else {
                    (x.sin() / x, (x.sin() - x * x.cos()) / (x * x))
                };
                let inner = Complex64::new(mean * even, -slope * odd);
                inner * Complex64::from_polar(2.0 * half, -order * middle)
            })
            .sum()
    };
    (0..=highest).map(term).collect()
}

impl TubeElastic {
    /// A body behind pressures round it, none of them laid along it yet.
    pub fn new(
        body: &TubeBody,
        responses: &Arc<Responses>,
        round: &[PressureDof],
        length: f64,
    ) -> Self {
        let heights = body.mesh().heights();
        let (start, end) = (heights[0], heights[heights.len() - 1]);
        let lever = [0.5 * (start + end), 0.5 * (end - start)];
        let strips = responses.strips();
        let size = |s: &crate::tube::response::Strip| {
            let moment: f64 = s.rule().map(|(z, w)| w * (z - lever[0]) / lever[1]).sum();
            [s.length(), moment]
        };
        let widths = round.iter().flat_map(|d| &d.segments);
        let narrowest = widths.map(|s| s.to - s.from).fold(TAU, f64::min);
        let followed = (NARROWEST / narrowest).min(MOST_HARMONICS).ceil() as usize;
        let ladder = responses.ladder();
        let top = ladder.highest() as usize;
        let highest = followed.max(top);
        let weights = |n: usize| ladder.weights(n as u32);
        Self {
            weights: (0..=top).map(weights).collect(),
            beyond: (top + 1..=highest).map(|n| weights(n).1[0]).collect(),
            shared: vec![None; round.len() * (round.len() + 1) / 2],
            transforms: round
                .iter()
                .map(|d| transform(&d.segments, highest))
                .collect(),
            pushes: round.iter().map(|d| -outward(d)).collect(),
            places: Vec::new(),
            sizes: strips.iter().map(size).collect(),
            loads: strips.iter().map(|s| placed(body, responses, s)).collect(),
            responses: Arc::clone(responses),
            harmonics: highest + 1,
            length,
            lever,
        }
    }

    /// Harmonics that are followed, from 0.
    pub fn harmonics(&self) -> usize {
        self.harmonics
    }

    /// No load, by harmonic and strip.
    pub fn no_amplitudes(&self) -> Vec<Vec<Complex64>> {
        vec![vec![Complex64::default(); self.loads.len()]; self.harmonics]
    }

    /// Amplitudes of pressures (MPa) by harmonic and strip, N per mm and radian, outwards.
    pub fn amplitudes(&self, pressures: &[f64]) -> Vec<Vec<Complex64>> {
        let mut all = self.no_amplitudes();
        for (&(round, strip), &p) in self.places.iter().zip(pressures) {
            if p != 0.0 {
                let size = self.pushes[round] * p / self.length;
                for (n, (to, f)) in all.iter_mut().zip(&self.transforms[round]).enumerate() {
                    to[strip] += f * (size * share_of_turn(n));
                }
            }
        }
        all
    }

    /// Displacement of strips (mm2) by amplitudes on strips, by strip and harmonic.
    pub fn moved_strips(&self, amplitudes: &[Vec<Complex64>]) -> Vec<Vec<Complex64>> {
        let strips = self.loads.len();
        let mut moved = vec![vec![Complex64::default(); amplitudes.len()]; strips];
        let top = self.weights.len();
        for a in 0..strips {
            let loaded: Vec<usize> = (0..amplitudes.len())
                .filter(|&n| amplitudes[n][a] != Complex64::default())
                .collect();
            for (b, to) in moved.iter_mut().enumerate() {
                let between = self.responses.between(a, b);
                let last = between[between.len() - 1];
                for &n in &loaded {
                    let each = match n.checked_sub(top) {
                        Some(beyond) => self.beyond[beyond] * last,
                        None => {
                            let (places, weights) = &self.weights[n];
                            let pairs = places.iter().zip(weights);
                            pairs.map(|(&p, w)| w * between[p]).sum()
                        }
                    };
                    to[n] += amplitudes[n][a] * each;
                }
            }
        }
        moved
    }

    /// Displacement along the pressures, integrated over each shape function (mm3), of displacements given on strips by harmonic (mm2).
    pub fn against(&self, on_strips: &[Vec<Complex64>]) -> Vec<f64> {
        self.places
            .iter()
            .map(|&(round, strip)| {
                let terms = self.transforms[round].iter().zip(&on_strips[strip]);
                let work: f64 = terms.map(|(f, u)| f.re * u.re + f.im * u.im).sum();
                self.pushes[round] * work / self.length
            })
            .collect()
    }

    /// Resultant of amplitudes along each rigid-body mode, N.
    pub fn resultant(&self, amplitudes: &[Vec<Complex64>]) -> [f64; MODES] {
        let Some(first) = amplitudes.get(1) else {
            return [0.0; MODES];
        };
        let mut sum = [0.0; MODES];
        for (a, [length, moment]) in first.iter().zip(&self.sizes) {
            let turn = std::f64::consts::PI;
            let parts = [a.re * length, -a.im * length, a.re * moment, -a.im * moment];
            sum.iter_mut().zip(parts).for_each(|(s, p)| *s += turn * p);
        }
        sum
    }

    /// Makes what a pair of pressures round the part shares, and says where it is kept.
    fn share(&mut self, a: usize, b: usize) -> usize {
        let (high, low) = (a.max(b), a.min(b));
        let at = high * (high + 1) / 2 + low;
        if self.shared[at].is_none() {
            let mut sum = vec![0.0; self.responses.ladder().rungs().len()];
            let top = self.weights.len();
            let [f, g] = [high, low].map(|k| self.transforms[k].split_at(top));
            let pairs = f.0.iter().zip(g.0).enumerate();
            for ((n, (f, g)), (places, weights)) in pairs.zip(&self.weights) {
                let product = share_of_turn(n) * (f.re * g.re + f.im * g.im);
                for (&place, weight) in places.iter().zip(weights) {
                    sum[place] += weight * product;
                }
            }
            let tail = f.1.iter().zip(g.1).zip(&self.beyond);
            let tail: f64 = tail
                .map(|((f, g), w)| w * (f.re * g.re + f.im * g.im))
                .sum();
            if let Some(last) = sum.last_mut() {
                *last += share_of_turn(top) * tail;
            }
            let scale = self.pushes[high] * self.pushes[low] / (self.length * self.length);
            self.shared[at] = Some(sum.into_iter().map(|s| s * scale).collect());
        }
        at
    }
}

impl Elastic for TubeElastic {
    fn pressures(&self) -> usize {
        self.places.len()
    }

    fn rigid_body_modes(&self) -> usize {
        MODES
    }

    fn rigid_work(&self, pressure: usize, mode: usize) -> f64 {
        let (round, strip) = self.places[pressure];
        let first = self.transforms[round].get(1).copied().unwrap_or_default();
        let around = if mode.is_multiple_of(2) {
            first.re
        } else {
            -first.im
        };
        self.pushes[round] * around * self.sizes[strip][mode / 2] / self.length
    }

    fn compliances(&mut self, pressure: usize, others: &[usize]) -> Vec<f64> {
        let (round, strip) = self.places[pressure];
        others
            .iter()
            .map(|&other| {
                let (other_round, other_strip) = self.places[other];
                let shared = self.share(round, other_round);
                let shared = self.shared[shared].as_deref().unwrap_or_default();
                let between = self.responses.between(strip, other_strip);
                shared.iter().zip(between).map(|(s, c)| s * c).sum()
            })
            .collect()
    }

    fn weighted_displacements(&mut self, pressures: &[f64]) -> Vec<f64> {
        let moved = self.moved_strips(&self.amplitudes(pressures));
        self.against(&moved)
    }
}
