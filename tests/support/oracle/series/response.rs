//! Radial patches and line loads.

use super::{Amplitudes, Annulus, HarmonicField, Traction};
use ringwright_solver::geometry::Surface;
use std::f64::consts::PI;

/// A dead radial load that presses on the metal: uniform per radian over an arc, or a line load.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RadialLoad {
    /// The surface it presses on.
    pub surface: Surface,
    /// Middle, rad.
    pub angle: f64,
    /// Half of the arc, rad; 0 for a line load.
    pub half_angle: f64,
    /// Resultant along its middle, N: `2 b r p sin(half_angle)`.
    pub force: f64,
}

impl RadialLoad {
    /// `count` equal loads at equal angles, the first at 0.
    pub fn ring_of(count: u32, surface: Surface, half_angle: f64, force: f64) -> Vec<Self> {
        (0..count)
            .map(|k| Self {
                surface,
                angle: 2.0 * PI * f64::from(k) / f64::from(count),
                half_angle,
                force,
            })
            .collect()
    }

    /// Pressure, MPa; infinite for a line load.
    pub fn pressure(&self, annulus: &Annulus) -> f64 {
        self.force / (2.0 * annulus.length * annulus.radius(self.surface) * self.half_angle.sin())
    }

    /// Fourier coefficient of the pressure about the middle of the load, MPa.
    fn coefficient(&self, annulus: &Annulus, n: u32) -> f64 {
        let per_radian = self.force / (PI * annulus.length * annulus.radius(self.surface));
        let h = self.half_angle;
        // h / sin h goes to 1 for a line load
        match (n, h == 0.0) {
            (0, true) => 0.5 * per_radian,
            (_, true) => per_radian,
            (0, false) => 0.5 * per_radian * h / h.sin(),
            (_, false) => per_radian * (f64::from(n) * h).sin() / (f64::from(n) * h.sin()),
        }
    }
}

/// State of one point, cylindrical components.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct PointState {
    /// Radial displacement, mm, positive outwards.
    pub radial_displacement: f64,
    /// Tangential displacement, mm, positive counter-clockwise.
    pub tangential_displacement: f64,
    /// `s_rr`, MPa.
    pub radial_stress: f64,
    /// `s_tt`, MPa.
    pub hoop_stress: f64,
    /// `s_rt`, MPa.
    pub shear_stress: f64,
}

/// The answer of the ring to a set of radial loads, as a sum over lobe counts.
///
/// On the loaded surface the displacement under a patch converges like `1 / n^2`, stress at its ends and everything at a line load does not;
/// elsewhere convergence is exponential.
#[derive(Clone, Debug)]
pub struct Response {
    /// A unit field and the complex amplitude that multiplies it: the term is the real part of `amplitude exp(i n theta)`.
    terms: Vec<(HarmonicField, [f64; 2])>,
}

impl Response {
    /// Solves for `loads`, lobe counts 0 to `max_count`. The loads must balance as a whole.
    pub fn new(annulus: &Annulus, loads: &[RadialLoad], max_count: u32) -> Self {
        let mut terms = Vec::new();
        for n in 0..=max_count {
            for surface in Surface::BOTH {
                let (mut re, mut im, mut size) = (0.0, 0.0, 0.0);
                for load in loads.iter().filter(|l| l.surface == surface) {
                    let a = load.coefficient(annulus, n);
                    let (s, c) = (f64::from(n) * load.angle).sin_cos();
                    re += a * c;
                    im -= a * s;
                    size += a.abs();
                }
                // loads that repeat round the ring have only their own multiples
                if re.hypot(im) <= 1e-12 * size {
                    continue;
                }
                let pressure = Traction {
                    radial: -1.0,
                    tangential: 0.0,
                };
                let (outer, bore) = match surface {
                    Surface::Outer => (pressure, Traction::default()),
                    Surface::Bore => (Traction::default(), pressure),
                };
                terms.push((HarmonicField::new(annulus, n, outer, bore), [re, im]));
            }
        }
        Self { terms }
    }

    /// State at radius `r` (mm) and angle `theta` (rad).
    pub fn at(&self, r: f64, theta: f64) -> PointState {
        self.circle(r).at(theta)
    }

    /// The response at one radius (mm), for many angles.
    pub fn circle(&self, r: f64) -> CircleResponse {
        CircleResponse {
            terms: self
                .terms
                .iter()
                .map(|(field, amplitude)| (field.count(), field.at(r), *amplitude))
                .collect(),
        }
    }
}

/// A [`Response`] at one radius.
#[derive(Clone, Debug)]
pub struct CircleResponse {
    terms: Vec<(u32, Amplitudes, [f64; 2])>,
}

impl CircleResponse {
    /// State at `theta` (rad).
    pub fn at(&self, theta: f64) -> PointState {
        let mut state = PointState::default();
        for (n, a, [re, im]) in &self.terms {
            let (s, c) = (f64::from(*n) * theta).sin_cos();
            let (cosine, sine) = (re * c - im * s, re * s + im * c);
            state.radial_displacement += a.radial_displacement * cosine;
            state.tangential_displacement += a.tangential_displacement * sine;
            state.radial_stress += a.radial_stress * cosine;
            state.hoop_stress += a.hoop_stress * cosine;
            state.shear_stress += a.shear_stress * sine;
        }
        state
    }

    /// Radial displacement of `count` lobes, mm: the coefficients of cosine and sine.
    pub fn radial_harmonic(&self, count: u32) -> [f64; 2] {
        let mut sum = [0.0, 0.0];
        for (_, a, [re, im]) in self.terms.iter().filter(|t| t.0 == count) {
            sum[0] += a.radial_displacement * re;
            sum[1] -= a.radial_displacement * im;
        }
        sum
    }
}
