//! The finished ring, free, on a mesh of its own.

use std::f64::consts::{PI, TAU};

use super::ORIENTATIONS;
use super::contacts::GaugeContact;
use crate::case::Support;
use crate::element::{self, PlaneStress};
use crate::geometry::{Outline, PerSurface, Surface};
use crate::linear::{Cholesky, Factor, rigid_body_constraints};
use crate::mesh::Mesh;
use crate::metrology::{Gauge, Profile, least_squares_circle};
use crate::process::ProcessError;
use crate::process::outcome::{ForceFlex, WeightFlex};
use crate::process::sample::mean;

/// The free ring with what its solves need.
pub(super) struct FinishedRing {
    mesh: Mesh,
    factor: Cholesky,
    /// Volume that goes with each node, mm3.
    share: Vec<f64>,
    pub volume: f64,
    /// Middle of the metal, mm, and its second moment about it, mm5.
    centre: [f64; 2],
    inertia: f64,
    /// Largest residual of `K u - f` so far, N.
    pub residual_force: f64,
}

impl FinishedRing {
    pub fn new(
        outlines: &PerSurface<Outline>,
        law: &PlaneStress,
        around: usize,
        through: usize,
    ) -> Result<Self, ProcessError> {
        let ends: Vec<f64> = (0..around)
            .map(|k| TAU * k as f64 / around as f64)
            .collect();
        let layers: Vec<f64> = (0..=through).map(|k| k as f64 / through as f64).collect();
        let mesh = Mesh::build(outlines, &ends, &layers, true)?;
        let factor = Cholesky::new(&mesh, law, &rigid_body_constraints(&mesh))?;
        let mut share = vec![0.0; mesh.nodes()];
        for column in 0..around {
            for layer in 0..through {
                let nodes = mesh.element_nodes(column, layer);
                let coords = nodes.map(|n| mesh.coords()[n]);
                for (n, v) in nodes.into_iter().zip(element::volumes(law, &coords)) {
                    share[n] += v;
                }
            }
        }
        let volume: f64 = share.iter().sum();
        let middle = |axis: usize| {
            let sum: f64 = share
                .iter()
                .zip(mesh.coords())
                .map(|(m, c)| m * c[axis])
                .sum();
            sum / volume
        };
        let centre = [middle(0), middle(1)];
        let inertia = share
            .iter()
            .zip(mesh.coords())
            .map(|(m, c)| m * ((c[0] - centre[0]).powi(2) + (c[1] - centre[1]).powi(2)))
            .sum();
        Ok(Self {
            mesh,
            factor,
            share,
            volume,
            centre,
            inertia,
            residual_force: 0.0,
        })
    }

    /// The three lattice lines round an angle (rad) and the share of each in a value there.
    fn lines(&self, angle: f64) -> [(usize, f64); 3] {
        let around = self.mesh.around();
        let at = angle.rem_euclid(TAU) / TAU * around as f64;
        let column = (at as usize).min(around - 1);
        let xi = 2.0 * (at - column as f64) - 1.0;
        let shape = [0.5 * xi * (xi - 1.0), 1.0 - xi * xi, 0.5 * xi * (xi + 1.0)];
        [0, 1, 2].map(|k| ((2 * column + k) % (2 * around), shape[k]))
    }

    /// Radial displacement (mm) of the middle of the wall at every lattice line, where forces (N, into the metal) press on lines
    /// of a surface. Rigid-body modes are fixed by no mean displacement of the metal.
    fn flexed(
        &mut self,
        surface: Surface,
        forces: &[(f64, f64)],
    ) -> Result<Vec<f64>, ProcessError> {
        let boundary = self.mesh.boundary(surface);
        let mut load = vec![[0.0; 2]; self.mesh.nodes()];
        for &(angle, force) in forces {
            let (sin, cos) = angle.sin_cos();
            for (line, share) in self.lines(angle) {
                let f = &mut load[boundary[line]];
                f[0] -= surface.outward() * force * share * cos;
                f[1] -= surface.outward() * force * share * sin;
            }
        }
        self.balance(&mut load);
        let u = self.factor.solve(&load)?;
        for (k, f) in self.factor.forces(&u).iter().zip(&load) {
            let left = (k[0] - f[0]).abs().max((k[1] - f[1]).abs());
            self.residual_force = self.residual_force.max(left);
        }
        let drift = |axis: usize| {
            let sum: f64 = self.share.iter().zip(&u).map(|(m, u)| m * u[axis]).sum();
            sum / self.volume
        };
        let shift = [drift(0), drift(1)];
        let middle = self.mesh.through();
        Ok(self
            .mesh
            .angles()
            .iter()
            .enumerate()
            .map(|(line, t)| {
                let v = u[self.mesh.node(line, middle)];
                (v[0] - shift[0]) * t.cos() + (v[1] - shift[1]) * t.sin()
            })
            .collect())
    }

    /// Balances a load: its resultant force and moment are taken up by a body force spread evenly over the metal.
    fn balance(&self, load: &mut [[f64; 2]]) {
        let [x, y] = self.centre;
        let (mut force, mut moment) = ([0.0; 2], 0.0);
        for (f, c) in load.iter().zip(self.mesh.coords()) {
            force[0] += f[0];
            force[1] += f[1];
            moment += (c[0] - x) * f[1] - (c[1] - y) * f[0];
        }
        let (along, about) = (force.map(|f| f / self.volume), moment / self.inertia);
        for ((f, c), m) in load.iter_mut().zip(self.mesh.coords()).zip(&self.share) {
            f[0] -= m * (along[0] - about * (c[1] - y));
            f[1] -= m * (along[1] + about * (c[0] - x));
        }
    }

    /// A value between lattice lines.
    fn at(&self, values: &[f64], angle: f64) -> f64 {
        self.lines(angle)
            .iter()
            .map(|&(line, share)| share * values[line])
            .sum()
    }

    /// The reading of a gauge pressed on with a force, all round.
    pub fn pressed(
        &mut self,
        gauge: Gauge,
        surface: Surface,
        contacts: &[GaugeContact],
        force: f64,
    ) -> Result<ForceFlex, ProcessError> {
        let (mut sum, mut low, mut high) = (0.0, f64::INFINITY, f64::NEG_INFINITY);
        for k in 0..ORIENTATIONS {
            let turned = orientation(k);
            let forces: Vec<_> = contacts
                .iter()
                .map(|c| (turned + c.angle, force * c.presses))
                .collect();
            let u = self.flexed(surface, &forces)?;
            let change: f64 = contacts
                .iter()
                .map(|c| c.reads * self.at(&u, turned + c.angle))
                .sum();
            sum += change;
            low = low.min(change);
            high = high.max(change);
        }
        Ok(ForceFlex {
            gauge,
            surface,
            force,
            change: sum / ORIENTATIONS as f64,
            variation: high - low,
            error: None,
        })
    }

    /// The part standing on supports, the worst way up.
    pub fn standing(
        &mut self,
        supports: &[GaugeContact],
        support: Support,
        weight: f64,
    ) -> Result<WeightFlex, ProcessError> {
        let mut worst: Option<WeightFlex> = None;
        let coords = self.mesh.coords();
        let radii: Vec<f64> = (0..2 * self.mesh.around())
            .map(|line| self.mesh.node(line, self.mesh.through()))
            .map(|n| coords[n][0].hypot(coords[n][1]))
            .collect();
        let radius = mean(&radii);
        for k in 0..ORIENTATIONS {
            let up = orientation(k);
            let forces: Vec<_> = supports
                .iter()
                .map(|c| (up + c.angle, weight * c.presses))
                .collect();
            let u = self.flexed(Surface::Outer, &forces)?;
            // on a round part: what the part's own shape is has nothing to do with how it stands
            let flexed: Vec<f64> = u.iter().map(|u| radius + u).collect();
            let out_of_roundness = least_squares_circle(&Profile::equal(&flexed)).roundness;
            // alike but for rounding is alike: the first is kept
            if worst.is_none_or(|w| out_of_roundness > w.out_of_roundness * (1.0 + 1e-6)) {
                let across = |angle: f64| self.at(&u, angle) + self.at(&u, angle + PI);
                worst = Some(WeightFlex {
                    support,
                    weight,
                    up_deg: up.to_degrees(),
                    out_of_roundness,
                    vertical: across(up),
                    horizontal: across(up + 0.5 * PI),
                    error: None,
                });
            }
        }
        Ok(worst.expect("there is an orientation"))
    }
}

fn orientation(k: usize) -> f64 {
    TAU * k as f64 / ORIENTATIONS as f64
}
