//! Values between boundary nodes, at equal reference angles.

use std::f64::consts::TAU;

use crate::geometry::Surface;
use crate::mesh::Mesh;

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
        for k in 0..count {
            let theta = TAU * k as f64 / count as f64;
            let at = start + (theta - start).rem_euclid(TAU);
            let line = angles.partition_point(|&a| a <= at) - 1;
            let edge = line - line % 2;
            let xi = (at - angles[edge]) / (angles[edge + 1] - angles[edge]) - 1.0;
            sampler.edge.push(edge as u32);
            sampler
                .shape
                .push([0.5 * xi * (xi - 1.0), 1.0 - xi * xi, 0.5 * xi * (xi + 1.0)]);
            let (s, c) = theta.sin_cos();
            sampler.direction.push([c, s]);
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
        self.edge
            .iter()
            .zip(&self.shape)
            .zip(&self.direction)
            .map(|((&e, n), [c, s])| {
                let mut v = [0.0; 2];
                for (k, weight) in n.iter().enumerate() {
                    let node = at_lines[(e as usize + k) % at_lines.len()];
                    v[0] += weight * node[0];
                    v[1] += weight * node[1];
                }
                [c * v[0] + s * v[1], c * v[1] - s * v[0]]
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
