//! Shapes at equal reference angles: values between boundary nodes, and what is read off a sampled shape.

use std::f64::consts::TAU;
use std::sync::OnceLock;

use super::{PROFILE_POINTS, Radii};
use crate::geometry::{Outline, PerSurface, Surface};
use crate::mesh::Mesh;
use crate::metrology::{Profile, least_squares_circle};

/// Places on a mesh's boundary at equal reference angles from 0, interpolated as the elements do.
#[derive(Clone, Debug)]
pub(super) struct Sampler {
    /// First lattice line of the edge each place lies on.
    edge: Vec<u32>,
    /// Quadratic shape functions of the edge's three nodes.
    shape: Vec<[f64; 3]>,
    /// Cosine and sine of the angle.
    direction: Vec<[f64; 2]>,
}

impl Sampler {
    /// `count` places.
    pub fn new(mesh: &Mesh, count: usize) -> Self {
        let angles = mesh.angles();
        let start = angles[0];
        let mut sampler = Self {
            edge: Vec::with_capacity(count),
            shape: Vec::with_capacity(count),
            direction: Vec::with_capacity(count),
        };
        let known = (count == PROFILE_POINTS).then(sample_directions);
        // places follow each other, so each edge is not far from the last
        let mut line = 0;
        for k in 0..count {
            let theta = TAU * k as f64 / count as f64;
            // within a turn a remainder is the number itself or a turn more
            let past = theta - start;
            let at = match past {
                past if past <= -TAU || past >= TAU => start + past.rem_euclid(TAU),
                past if past < 0.0 => start + (past + TAU),
                past => start + past,
            };
            if angles[line] > at {
                line = 0;
            }
            while angles.get(line + 1).is_some_and(|&a| a <= at) {
                line += 1;
            }
            let edge = line - line % 2;
            let xi = (at - angles[edge]) / (angles[edge + 1] - angles[edge]) - 1.0;
            sampler.edge.push(edge as u32);
            sampler
                .shape
                .push([0.5 * xi * (xi - 1.0), 1.0 - xi * xi, 0.5 * xi * (xi + 1.0)]);
            sampler.direction.push(match known {
                Some(directions) => directions[k],
                None => {
                    let (s, c) = theta.sin_cos();
                    [c, s]
                }
            });
        }
        sampler
    }

    /// Number of places.
    pub fn len(&self) -> usize {
        self.edge.len()
    }

    /// Radial and tangential displacement of a surface, mm.
    pub fn displacement(&self, mesh: &Mesh, surface: Surface, u: &[[f64; 2]]) -> Vec<[f64; 2]> {
        let at_lines: Vec<[f64; 2]> = mesh.boundary(surface).into_iter().map(|n| u[n]).collect();
        self.between(&at_lines)
    }

    /// The same of a surface whose displacement is known at the mesh's lines, mm.
    pub fn between(&self, at_lines: &[[f64; 2]]) -> Vec<[f64; 2]> {
        self.edge
            .iter()
            .zip(&self.shape)
            .zip(&self.direction)
            .map(|((&e, n), [c, s])| {
                let v = mixed(at_lines, e, n);
                [c * v[0] + s * v[1], c * v[1] - s * v[0]]
            })
            .collect()
    }

    /// The radial parts alone.
    pub fn radial_between(&self, at_lines: &[[f64; 2]]) -> Vec<f64> {
        let places = self.edge.iter().zip(&self.shape).zip(&self.direction);
        let radial = |((&e, n), [c, s]): ((&u32, _), &[f64; 2])| {
            let v = mixed(at_lines, e, n);
            c * v[0] + s * v[1]
        };
        places.map(radial).collect()
    }
}

/// What the shape functions of the edge that begins at a line make of values at the lines; the last edge ends on the first line.
#[inline]
fn mixed(at_lines: &[[f64; 2]], edge: u32, shape: &[f64; 3]) -> [f64; 2] {
    let edge = edge as usize;
    let end = if edge + 2 < at_lines.len() {
        edge + 2
    } else {
        0
    };
    let nodes = [at_lines[edge], at_lines[edge + 1], at_lines[end]];
    let mut v = [0.0; 2];
    for (weight, node) in shape.iter().zip(nodes) {
        v[0] += weight * node[0];
        v[1] += weight * node[1];
    }
    v
}

impl Sampler {
    /// Radial displacement of a surface by one field, tangential displacement by another, mm.
    pub fn radial_and_tangential(
        &self,
        mesh: &Mesh,
        surface: Surface,
        [radial, tangential]: [&[[f64; 2]]; 2],
    ) -> Vec<[f64; 2]> {
        let boundary = mesh.boundary(surface);
        let at_lines: Vec<[[f64; 2]; 2]> = boundary
            .into_iter()
            .map(|n| [radial[n], tangential[n]])
            .collect();
        let places = self.edge.iter().zip(&self.shape).zip(&self.direction);
        places
            .map(|((&e, n), [c, s])| {
                let (mut u, mut v) = ([0.0; 2], [0.0; 2]);
                for (k, weight) in n.iter().enumerate() {
                    let line = e as usize + k;
                    // the last edge ends on the first line
                    let line = if line < at_lines.len() {
                        line
                    } else {
                        line - at_lines.len()
                    };
                    let [a, b] = at_lines[line];
                    for axis in 0..2 {
                        u[axis] += weight * a[axis];
                        v[axis] += weight * b[axis];
                    }
                }
                [c * u[0] + s * u[1], c * v[1] - s * v[0]]
            })
            .collect()
    }
}

/// Radial and tangential components of the displacement at the lattice lines of a surface, mm.
pub(super) fn at_lines(mesh: &Mesh, surface: Surface, u: &[[f64; 2]]) -> Vec<[f64; 2]> {
    mesh.boundary(surface)
        .into_iter()
        .zip(mesh.angles())
        .map(|(n, t)| {
            let (s, c) = t.sin_cos();
            [c * u[n][0] + s * u[n][1], c * u[n][1] - s * u[n][0]]
        })
        .collect()
}

/// A sampled reference outline moved by a displacement, if there is one.
pub(super) fn moved(
    sampler: &Sampler,
    mesh: &Mesh,
    reference: &Radii,
    u: Option<&[[f64; 2]]>,
) -> Radii {
    match u {
        None => reference.clone(),
        Some(u) => PerSurface::from_fn(|s| {
            sampler
                .displacement(mesh, s, u)
                .iter()
                .zip(reference.get(s))
                .map(|(v, r)| r + v[0])
                .collect()
        }),
    }
}

/// Angle of a sample, rad.
pub(super) fn sample_angle(k: usize) -> f64 {
    std::f64::consts::TAU * k as f64 / PROFILE_POINTS as f64
}

/// Cosine and sine of every sampled angle.
pub(super) fn sample_directions() -> &'static [[f64; 2]] {
    static DIRECTIONS: OnceLock<Vec<[f64; 2]>> = OnceLock::new();
    DIRECTIONS.get_or_init(|| {
        let direction = |k: usize| {
            let (s, c) = sample_angle(k).sin_cos();
            [c, s]
        };
        (0..PROFILE_POINTS).map(direction).collect()
    })
}

/// An outline at the sampled angles.
pub(super) fn profile(outline: &Outline) -> Vec<f64> {
    match outline.as_round() {
        Some(r) => vec![r; PROFILE_POINTS],
        None => (0..PROFILE_POINTS)
            .map(|k| outline.radius(sample_angle(k)))
            .collect(),
    }
}

/// Out-of-roundness about the least-squares circle, mm.
pub(super) fn roundness(radii: &[f64]) -> f64 {
    least_squares_circle(&Profile::equal(radii)).roundness
}

pub(super) fn mean(x: &[f64]) -> f64 {
    x.iter().sum::<f64>() / x.len() as f64
}

pub(super) fn difference(a: &[f64], b: &[f64]) -> Vec<f64> {
    a.iter().zip(b).map(|(x, y)| x - y).collect()
}

/// Largest less smallest; nothing of none.
pub(super) fn range(values: &[f64]) -> f64 {
    let (low, high) = values
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), &v| {
            (a.min(v), b.max(v))
        });
    (high - low).max(0.0)
}

/// Largest radial displacement over the mean wall.
pub(super) fn flexing_of(displacement: &Radii, shape: &Radii) -> f64 {
    let wall = mean(&shape.outer) - mean(&shape.bore);
    let largest = displacement
        .outer
        .iter()
        .chain(&displacement.bore)
        .fold(0.0_f64, |m, u| m.max(u.abs()));
    largest / wall
}
