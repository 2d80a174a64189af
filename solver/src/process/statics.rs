//! Factors, loads and balances of one body: what hold, cut and release have in common.

use super::sample::{Sampler, roundness};
use super::{ProcessError, Radii};
use crate::case::ResidualHoopStress;
use crate::contact::{Clamped, fix_rigid_body_modes};
use crate::element::{self, PlaneStress};
use crate::geometry::{PerSurface, Surface};
use crate::linear::{Cholesky, Factor, Stiffness, rigid_body_constraints};
use crate::mesh::Mesh;

/// Residual hoop stress of the stock, linear between its nominal radii.
pub(super) struct ResidualStress {
    pub stress: ResidualHoopStress,
    pub nominal: PerSurface<f64>,
}

/// Stress `[xx, yy, xy]` (MPa) of a body kept from growing evenly in the plane by this strain: what initial stress a grown body
/// starts from.
pub(super) fn growth_stress(law: &PlaneStress, strain: f64) -> [f64; 3] {
    law.stress([[-strain, 0.0], [0.0, -strain]])
}

/// Values of every node made from values of every node, as `K u` from `u`.
type Nodal<'a> = dyn Fn(&[[f64; 2]]) -> Result<Vec<[f64; 2]>, ProcessError> + 'a;

/// Energy of the strain beyond an even growth, N mm; `forces` gives `K u`.
pub(super) fn energy(
    forces: &Nodal,
    mesh: &Mesh,
    held: &Clamped,
    growth: f64,
) -> Result<f64, ProcessError> {
    if growth == 0.0 {
        return Ok(0.5 * work(&held.load, &held.displacement));
    }
    let elastic: Vec<[f64; 2]> = held
        .displacement
        .iter()
        .zip(mesh.coords())
        .map(|(u, c)| [u[0] - growth * c[0], u[1] - growth * c[1]])
        .collect();
    Ok(0.5 * work(&forces(&elastic)?, &elastic))
}

impl ResidualStress {
    /// Hoop stress at a radius (mm), MPa.
    pub fn hoop(&self, r: f64) -> f64 {
        let f = (r - self.nominal.bore) / (self.nominal.outer - self.nominal.bore);
        self.stress.bore + f * (self.stress.outer - self.stress.bore)
    }

    /// Cartesian stress at a point of the reference, MPa.
    pub fn at(&self, [x, y]: [f64; 2]) -> [f64; 3] {
        let r = x.hypot(y);
        let hoop = self.hoop(r);
        let (c, s) = (x / r, y / r);
        [hoop * s * s, hoop * c * c, -hoop * s * c]
    }

    /// Nodal forces that let it relax, N.
    pub fn load(&self, mesh: &Mesh, law: &PlaneStress) -> Vec<[f64; 2]> {
        let mut load = vec![[0.0; 2]; mesh.nodes()];
        for column in 0..mesh.around() {
            for layer in 0..mesh.through() {
                let nodes = mesh.element_nodes(column, layer);
                let coords = nodes.map(|n| mesh.coords()[n]);
                let f = element::initial_stress_load(law, &coords, &|p| self.at(p));
                for (n, f) in nodes.into_iter().zip(f) {
                    load[n][0] += f[0];
                    load[n][1] += f[1];
                }
            }
        }
        load
    }
}

/// The sparse factor of a lattice whose nodes may have moved since it was last made.
pub(super) fn sparse<'a>(
    factor: &'a mut Option<Cholesky>,
    mesh: &Mesh,
    law: &PlaneStress,
) -> Result<&'a Cholesky, ProcessError> {
    match factor {
        Some(made) => made.refactor(&Stiffness { mesh, law }),
        None => Cholesky::new(mesh, law, &rigid_body_constraints(mesh)).map(|f| *factor = Some(f)),
    }?;
    Ok(factor.as_ref().expect("made above"))
}

/// Displacement of the body without holds, rigid-body modes fixed by the rule of [`fix_rigid_body_modes`].
pub(super) fn free(
    factor: &dyn Factor,
    mesh: &Mesh,
    load: &[[f64; 2]],
) -> Result<Vec<[f64; 2]>, ProcessError> {
    let mut u = factor.solve(load)?;
    fix_rigid_body_modes(mesh, &mut u);
    Ok(u)
}

/// Residual of the balance: largest nodal force between `K u` (`forces`) and the loads, N, and the moment of all of them about the axis, N mm.
pub(super) fn residual_force(mesh: &Mesh, forces: &[[f64; 2]], held: &Clamped) -> [f64; 2] {
    let mut sum = [0.0; 2];
    let mut moment = 0.0;
    let mut worst = 0.0_f64;
    for ((k, f), c) in forces.iter().zip(&held.load).zip(mesh.coords()) {
        let d = [k[0] - f[0], k[1] - f[1]];
        sum[0] += d[0];
        sum[1] += d[1];
        moment += c[0] * d[1] - c[1] * d[0];
        worst = worst.max(d[0].abs()).max(d[1].abs());
    }
    [worst.max(sum[0].abs()).max(sum[1].abs()), moment.abs()]
}

/// Bound of the unresolved contact: change of the driving out-of-roundness (mm) when the loads of zones that the mesh does not resolve are
/// moved as far as they may be off. `sign` is how the shape follows the displacement; `solve` gives the displacement under a load that balances.
pub(super) fn unresolved_bound(
    solve: impl FnOnce(&[[f64; 2]]) -> Result<Vec<[f64; 2]>, ProcessError>,
    mesh: &Mesh,
    sampler: &Sampler,
    state: &Clamped,
    shape: &Radii,
    sign: f64,
    driving: &[(Surface, f64)],
) -> Result<f64, ProcessError> {
    let moved = state.unresolved_forces();
    if moved.is_empty() {
        return Ok(0.0);
    }
    let mut load = vec![[0.0; 2]; mesh.nodes()];
    for (node, f) in moved {
        load[node][0] += f[0];
        load[node][1] += f[1];
    }
    balance(mesh, &mut load);
    let u = solve(&load)?;
    let change = driving
        .iter()
        .map(|&(surface, before)| {
            let radii: Vec<f64> = sampler
                .displacement(mesh, surface, &u)
                .iter()
                .zip(shape.get(surface))
                .map(|(u, r)| r + sign * u[0])
                .collect();
            (roundness(&radii) - before).abs()
        })
        .fold(0.0, f64::max);
    Ok(change)
}

/// Spreads what a load leaves over as a force and a moment evenly over all nodes, so that no pin answers for it.
pub(super) fn balance(mesh: &Mesh, load: &mut [[f64; 2]]) {
    let (mut force, mut moment, mut inertia) = ([0.0; 2], 0.0, 0.0);
    for (f, c) in load.iter().zip(mesh.coords()) {
        force[0] += f[0];
        force[1] += f[1];
        moment += c[0] * f[1] - c[1] * f[0];
        inertia += c[0] * c[0] + c[1] * c[1];
    }
    let n = load.len() as f64;
    for (f, c) in load.iter_mut().zip(mesh.coords()) {
        f[0] -= force[0] / n - moment / inertia * c[1];
        f[1] -= force[1] / n + moment / inertia * c[0];
    }
}

pub(super) fn work(f: &[[f64; 2]], u: &[[f64; 2]]) -> f64 {
    f.iter()
        .zip(u)
        .map(|(a, b)| a[0] * b[0] + a[1] * b[1])
        .sum()
}
