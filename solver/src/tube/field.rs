//! The displacement of both surfaces of a tube, as harmonics of any phase.
//!
//! `[u_r, u_z, u_theta] = [Re U, Re W, Im V]`, each summed over `e^(i n theta)`: a load that varies as `cos n (theta - a)` has the amplitudes of
//! `cos n theta` times `e^(-i n a)`.

use std::f64::consts::{PI, TAU};

use super::TubeBody;
use super::response::{Responses, Strip};
use crate::fourier::{self, Complex64};
use crate::geometry::Surface;
use crate::linear::{Cholesky, Factor, LinearError, collected};

/// Equal angles round at which a surface is looked at.
pub const GRID: usize = 720;

/// Complex amplitudes `[U, W, V]`, mm.
pub(crate) type Amplitudes = [Complex64; 3];

pub(super) const NOTHING: Amplitudes = [Complex64::new(0.0, 0.0); 3];

/// Displacement of the surface nodes of a body: by harmonic and node, mm.
#[derive(Clone, Debug)]
pub struct SurfaceField {
    harmonics: Vec<Vec<Amplitudes>>,
}

/// Values on a surface at three places a column and [`GRID`] angles.
pub type Grid<T> = Vec<[Vec<T>; 3]>;

impl SurfaceField {
    /// Nothing moved: harmonics from 0 to one less than their number, and so many surface nodes.
    pub fn zero(harmonics: usize, nodes: usize) -> Self {
        Self {
            harmonics: vec![vec![NOTHING; nodes]; harmonics],
        }
    }

    /// Number of harmonics, from 0.
    pub fn len(&self) -> usize {
        self.harmonics.len()
    }

    /// Whether it has none.
    pub fn is_empty(&self) -> bool {
        self.harmonics.is_empty()
    }

    /// Whether no harmonic but 0 moves.
    pub(crate) fn is_axisymmetric(&self) -> bool {
        let mut others = self.harmonics.iter().skip(1).flatten();
        others.all(|amplitudes| *amplitudes == NOTHING)
    }

    /// All harmonics, node by node.
    pub(super) fn all(&self) -> &[Vec<Amplitudes>] {
        &self.harmonics
    }

    /// A harmonic, node by node.
    pub(crate) fn harmonic(&self, n: usize) -> Option<&[Amplitudes]> {
        self.harmonics.get(n).map(Vec::as_slice)
    }

    /// A harmonic, node by node, to be set.
    pub(crate) fn harmonic_mut(&mut self, n: usize) -> &mut [Amplitudes] {
        &mut self.harmonics[n]
    }

    /// What strips do, each so many times: complex amplitudes (N per mm and radian) by harmonic and strip.
    pub(crate) fn of_strips(
        responses: &Responses,
        amplitudes: &[Vec<Complex64>],
        harmonics: usize,
    ) -> Self {
        let nodes = responses.nodes().len();
        let one = |n: usize| {
            let mut all = vec![NOTHING; nodes];
            let Some(amplitudes) = amplitudes.get(n) else {
                return all;
            };
            let (places, weights) = responses.ladder().weights(n as u32);
            for (strip, size) in amplitudes.iter().enumerate() {
                if *size == NOTHING[0] {
                    continue;
                }
                for (rung, weight) in places.into_iter().zip(weights).filter(|p| p.1 != 0.0) {
                    let size = size * weight;
                    for (sum, moved) in all.iter_mut().zip(responses.moved(strip, rung)) {
                        for (s, u) in sum.iter_mut().zip(moved) {
                            *s += size * u;
                        }
                    }
                }
            }
            all
        };
        Self {
            harmonics: (0..harmonics).map(one).collect(),
        }
    }

    /// Adds another, so many times.
    pub fn add(&mut self, other: &Self, times: f64) {
        for (mine, theirs) in self.harmonics.iter_mut().zip(&other.harmonics) {
            for (a, b) in mine.iter_mut().zip(theirs) {
                for (x, y) in a.iter_mut().zip(b) {
                    *x += y * times;
                }
            }
        }
    }

    /// Largest amplitude of any harmonic and component, mm.
    pub fn largest(&self) -> f64 {
        let all = self.harmonics.iter().flatten().flatten();
        all.map(|x| x.norm()).fold(0.0, f64::max)
    }

    /// Radial displacement of a strip in a harmonic, integrated over the strip, mm2.
    pub(crate) fn on_strip(&self, n: usize, load: &[(usize, f64)]) -> Complex64 {
        let Some(harmonic) = self.harmonics.get(n) else {
            return NOTHING[0];
        };
        load.iter().map(|&(node, w)| harmonic[node][0] * w).sum()
    }

    /// Displacement `[radial, axial, tangential]` of a surface at [`GRID`] angles, mm.
    pub fn on_grid(&self, responses: &Responses, surface: Surface) -> Grid<[f64; 3]> {
        let columns = responses.surface().nodes.get(surface).clone();
        collected(columns, true, |side| {
            side.map(|node| self.at_node(responses.place(node), GRID))
        })
    }

    /// Displacement of a surface node (by its place among them) at equal angles from 0, mm.
    pub fn at_node(&self, place: usize, angles: usize) -> Vec<[f64; 3]> {
        self.round_turn(angles, |n| self.harmonics[n][place])
    }

    /// Displacement at a position of a surface at equal angles from 0, mm.
    pub fn at(
        &self,
        responses: &Responses,
        surface: Surface,
        z: f64,
        angles: usize,
    ) -> Vec<[f64; 3]> {
        let (column, shape) = responses.surface().at(surface, z);
        let places = responses.surface().nodes.get(surface)[column].map(|n| responses.place(n));
        self.round_turn(angles, |n| {
            let mut sum = NOTHING;
            for (place, weight) in places.iter().zip(shape) {
                for (s, x) in sum.iter_mut().zip(self.harmonics[n][*place]) {
                    *s += x * weight;
                }
            }
            sum
        })
    }

    /// Sums harmonics round a turn.
    fn round_turn(&self, angles: usize, of: impl Fn(usize) -> Amplitudes) -> Vec<[f64; 3]> {
        let parts: Vec<Amplitudes> = (0..self.len().min(angles / 2)).map(of).collect();
        let [radial, axial, tangential] = [0, 1, 2].map(|c| {
            let terms = parts.iter().map(|p| match c {
                2 => sine(p[c]),
                _ => p[c],
            });
            summed(terms, angles)
        });
        (0..angles)
            .map(|k| [radial[k], axial[k], tangential[k]])
            .collect()
    }
}

/// What has the imaginary part of a term as its real part.
pub(super) fn sine(term: Complex64) -> Complex64 {
    Complex64::new(term.im, -term.re)
}

/// `Re sum c_n e^(i n t)` at equal angles from 0.
pub(crate) fn summed(terms: impl Iterator<Item = Complex64>, angles: usize) -> Vec<f64> {
    let mut spectrum = vec![Complex64::new(0.0, 0.0); angles / 2 + 1];
    let mut even = true;
    for (k, (to, term)) in spectrum.iter_mut().zip(terms).enumerate() {
        *to = if k == 0 { term } else { term * 0.5 };
        even &= k == 0 || term == Complex64::default();
    }
    if even {
        return vec![spectrum[0].re; angles];
    }
    fourier::values(&spectrum, angles)
}

/// Amplitudes `a - i b` of values at equal angles, as `sum a cos + b sin`, up to a harmonic.
pub(crate) fn amplitudes(values: &[f64], harmonics: usize) -> Vec<Complex64> {
    let n = values.len() as f64;
    let terms = fourier::spectrum(values).into_iter().take(harmonics);
    let scale = |k: usize| if k == 0 { 1.0 / n } else { 2.0 / n };
    terms.enumerate().map(|(k, c)| c * scale(k)).collect()
}

/// Factor of the amplitude of a harmonic of what is integrated round a turn against `e^(-i n theta)`.
pub(crate) fn share_of_turn(n: usize) -> f64 {
    if n == 0 { 1.0 / TAU } else { 1.0 / PI }
}

/// The strip loads of responses by the places of their nodes among the surface nodes.
pub(crate) fn placed(body: &TubeBody, responses: &Responses, strip: &Strip) -> Vec<(usize, f64)> {
    let load = body.strip_load(strip);
    load.iter()
        .map(|(node, f)| (responses.place(*node), f[0]))
        .collect()
}

impl SurfaceField {
    /// Adds a rigid motion: shifts along x and y (mm), then tilts by which the surface moves that far at `reach` from the middle of the part.
    pub(crate) fn add_rigid(
        &mut self,
        responses: &Responses,
        [x, y, tilt_x, tilt_y]: [f64; 4],
        [middle, reach]: [f64; 2],
    ) {
        let shift = Complex64::new(x, -y);
        let tilt = Complex64::new(tilt_x, -tilt_y);
        let surface = responses.surface();
        let mut moves = vec![NOTHING; responses.nodes().len()];
        for s in Surface::BOTH {
            for (nodes, places) in surface.nodes.get(s).iter().zip(surface.places.get(s)) {
                for (node, [r, z]) in nodes.iter().zip(places) {
                    let across = shift + tilt * ((z - middle) / reach);
                    moves[responses.place(*node)] = [across, -tilt * (r / reach), -across];
                }
            }
        }
        if let Some(first) = self.harmonics.get_mut(1) {
            for (to, add) in first.iter_mut().zip(moves) {
                for (t, a) in to.iter_mut().zip(add) {
                    *t += a;
                }
            }
        }
    }

    /// Mean rigid motion of the bore across the axis, in the form that [`SurfaceField::add_rigid`] takes.
    pub(crate) fn rigid_of_bore(
        &self,
        responses: &Responses,
        [middle, reach]: [f64; 2],
    ) -> [f64; 4] {
        let surface = responses.surface();
        let Some(first) = self.harmonics.get(1) else {
            return [0.0; 4];
        };
        // least squares of a straight line, Simpson's rule a column
        let (mut s0, mut s1, mut s2) = (0.0, 0.0, 0.0);
        let (mut m0, mut m1) = (Complex64::new(0.0, 0.0), Complex64::new(0.0, 0.0));
        let columns = surface.nodes.bore.iter().zip(&surface.places.bore);
        for (nodes, places) in columns {
            let length = places[2][1] - places[0][1];
            for ((node, place), weight) in nodes.iter().zip(places).zip([1.0, 4.0, 1.0]) {
                let w = weight * length / 6.0;
                let at = (place[1] - middle) / reach;
                let [u, _, v] = first[responses.place(*node)];
                let across = (u - v) * 0.5;
                s0 += w;
                s1 += w * at;
                s2 += w * at * at;
                m0 += across * w;
                m1 += across * (w * at);
            }
        }
        let det = s0 * s2 - s1 * s1;
        let shift = (m0 * s2 - m1 * s1) / det;
        let tilt = (m1 * s0 - m0 * s1) / det;
        [shift.re, -shift.im, tilt.re, -tilt.im]
    }
}

/// Radial displacement (mm, of every node) under a strip, integrated over it, mm2.
pub(crate) fn moved_on(body: &TubeBody, strip: &Strip, moved: &[[f64; 3]]) -> f64 {
    let load = body.strip_load(strip);
    load.iter().map(|(node, f)| f[0] * moved[*node][0]).sum()
}

/// Adds the nodal forces (N per radian) of loads on strips, amplitudes by harmonic and strip, to forces by harmonic and node.
pub(crate) fn add_strips(
    (body, responses): (&TubeBody, &Responses),
    loads: &[Vec<Complex64>],
    forces: &mut [Vec<Amplitudes>],
) {
    let strips = responses.strips().iter();
    let strips: Vec<_> = strips.map(|s| body.strip_load(s)).collect();
    for (to, sizes) in forces.iter_mut().zip(loads) {
        for (strip, size) in strips.iter().zip(sizes) {
            for (node, f) in strip {
                to[*node][0] += size * f[0];
            }
        }
    }
}

/// Displacement of every node by a harmonic's factor under forces on all of them.
///
/// # Errors
/// See [`LinearError`].
pub(crate) fn solved(
    factor: &Cholesky<3>,
    forces: &[Amplitudes],
) -> Result<Vec<Amplitudes>, LinearError> {
    let part = |of: &dyn Fn(Complex64) -> f64| -> Result<Vec<[f64; 3]>, LinearError> {
        let own: Vec<[f64; 3]> = forces.iter().map(|f| f.map(of)).collect();
        factor.solve(&own)
    };
    let (re, im) = (part(&|x| x.re)?, part(&|x| x.im)?);
    let joined = |(a, b): (&[f64; 3], &[f64; 3])| -> Amplitudes {
        std::array::from_fn(|c| Complex64::new(a[c], b[c]))
    };
    Ok(re.iter().zip(&im).map(joined).collect())
}
