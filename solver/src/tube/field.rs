//! The displacement of both surfaces of a tube, as harmonics of any phase.
//!
//! `[u_r, u_z, u_theta] = [Re U, Re W, Im V]`, each summed over `e^(i n theta)`: a load that varies as `cos n (theta - a)` has the amplitudes of
//! `cos n theta` times `e^(-i n a)`.

use std::f64::consts::{PI, TAU};

use super::TubeBody;
use super::response::{Responses, Strip};
use crate::element::meridian::Isotropic;
use crate::fourier::{self, Complex64};
use crate::geometry::Surface;
use crate::linear::{Cholesky, Factor, LinearError, NodeForce, collected};

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
fn sine(term: Complex64) -> Complex64 {
    Complex64::new(term.im, -term.re)
}

/// `Re sum c_n e^(i n t)` at equal angles from 0.
pub(crate) fn summed(terms: impl Iterator<Item = Complex64>, angles: usize) -> Vec<f64> {
    let mut spectrum = vec![Complex64::new(0.0, 0.0); angles / 2 + 1];
    for (k, (to, term)) in spectrum.iter_mut().zip(terms).enumerate() {
        *to = if k == 0 { term } else { term * 0.5 };
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

/// Share of a force below which a harmonic of it is not solved for.
const NO_LOAD: f64 = 1e-14;

/// Strains and forces of a column's side at one of its Gauss points.
pub(super) struct SidePoint {
    pub shape: [f64; 3],
    /// Derivatives along the axis, 1/mm.
    pub slope: [f64; 3],
    pub radius: f64,
    /// Length that it stands for, mm.
    pub weight: f64,
}

pub(super) fn side_points(places: &[[f64; 2]; 3]) -> [SidePoint; 3] {
    let half = 0.5 * (places[2][1] - places[0][1]);
    super::GAUSS.map(|(x, w)| {
        let shape = super::side_shape(x);
        let slope = [x - 0.5, -2.0 * x, x + 0.5].map(|d| d / half);
        SidePoint {
            radius: shape.iter().zip(places).map(|(n, p)| n * p[0]).sum(),
            shape,
            slope,
            weight: w * half,
        }
    })
}

/// Strains `[hoop, axial, shear]` of a surface at a point of a column's side: terms whose real parts are summed over the harmonics.
pub(super) fn strain_terms(
    field: &SurfaceField,
    places: [usize; 3],
    point: &SidePoint,
) -> [Vec<Complex64>; 3] {
    let (mut hoop, mut axial, mut shear) = (Vec::new(), Vec::new(), Vec::new());
    for (n, harmonic) in field.harmonics.iter().enumerate() {
        let order = n as f64;
        let (mut h, mut a, mut g) = (NOTHING[0], NOTHING[0], NOTHING[0]);
        for (k, &place) in places.iter().enumerate() {
            let [u, w, v] = harmonic[place];
            h += (u + v * order) * (point.shape[k] / point.radius);
            a += w * point.slope[k];
            g += v * point.slope[k] - w * (order * point.shape[k] / point.radius);
        }
        hoop.push(h);
        axial.push(a);
        shear.push(sine(g));
    }
    [hoop, axial, shear]
}

/// A position, the radius there (mm) and in-plane stress `[hoop, axial, shear]` at [`GRID`] angles, MPa.
pub(crate) type StressRow = (f64, f64, Vec<[f64; 3]>);

impl SurfaceField {
    /// Stress of a surface in its own plane, with no load on it, at the Gauss points of every column.
    pub(crate) fn surface_stress(
        &self,
        responses: &Responses,
        law: &Isotropic,
        surface: Surface,
    ) -> Vec<StressRow> {
        let nodes = responses.surface().nodes.get(surface);
        let places = responses.surface().places.get(surface);
        let nu = law.poisson_ratio;
        let plane = law.young_modulus / (1.0 - nu * nu);
        let modulus = law.lame()[1];
        let columns: Vec<usize> = (0..nodes.len()).collect();
        collected(columns, true, |c| {
            let own = nodes[c].map(|n| responses.place(n));
            let points = side_points(&places[c]);
            points.map(|point| {
                let terms = strain_terms(self, own, &point);
                let [hoop, axial, shear] = terms.map(|c| summed(c.into_iter(), GRID));
                let z = point
                    .shape
                    .iter()
                    .zip(&places[c])
                    .map(|(n, p)| n * p[1])
                    .sum();
                let stress = (0..GRID).map(|k| {
                    let (h, a) = (hoop[k], axial[k]);
                    [
                        plane * (h + nu * a),
                        plane * (a + nu * h),
                        modulus * shear[k],
                    ]
                });
                (z, point.radius, stress.collect())
            })
        })
        .concat()
    }
}

/// Solves a body under loads on its surfaces, by harmonic, with the factors of the harmonics that are loaded, and gives the displacement of the surface
/// nodes.
///
/// # Errors
/// As `factor`.
pub(crate) fn under<'a>(
    responses: &Responses,
    loads: &[Vec<(usize, Amplitudes)>],
    factor: &(dyn Fn(usize) -> Result<&'a Cholesky<3>, LinearError> + Sync),
) -> Result<SurfaceField, LinearError> {
    let size = |load: &Vec<(usize, Amplitudes)>| -> f64 {
        let all = load.iter().flat_map(|(_, f)| f);
        all.map(|x| x.norm()).fold(0.0, f64::max)
    };
    let largest = loads.iter().map(size).fold(0.0, f64::max);
    let mut field = SurfaceField::zero(loads.len(), responses.nodes().len());
    let worth: Vec<usize> = (0..loads.len())
        .filter(|&n| size(&loads[n]) > NO_LOAD * largest)
        .collect();
    let solved = collected(worth.clone(), true, |n| -> Result<_, LinearError> {
        let factor = factor(n)?;
        let wanted = factor.wanted(responses.nodes());
        let mut work = Vec::new();
        let part = |of: &dyn Fn(Complex64) -> f64| -> Vec<NodeForce<3>> {
            let forces = loads[n].iter();
            forces.map(|(node, f)| (*node, f.map(of))).collect()
        };
        let [re, im] = [part(&|x| x.re), part(&|x| x.im)]
            .map(|load| factor.partial_solve(&load, &wanted, &mut work));
        let both = re.iter().zip(&im);
        let joined = |(a, b): (&[f64; 3], &[f64; 3])| -> Amplitudes {
            std::array::from_fn(|c| Complex64::new(a[c], b[c]))
        };
        Ok(both.map(joined).collect::<Vec<_>>())
    });
    for (n, harmonic) in worth.into_iter().zip(solved) {
        field.harmonics[n] = harmonic?;
    }
    Ok(field)
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
