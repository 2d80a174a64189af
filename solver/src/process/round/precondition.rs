//! The mean ring's factor as preconditioner of the part with its true outline.

use super::stage::RoundStage;
use crate::contact::fix_rigid_body_modes;
use crate::linear::Factor;
use crate::mesh::Mesh;
use crate::process::statics::balance;

/// How the wall of a part differs from its mean ring's, line by line of their common lattice.
///
/// A wall that bends turns its lines across: a node moves along the surface by the turn times its distance from the middle of the wall. Moved
/// alike in a wall thicker by a share `d`, the nodes of a line turn it by `1 / (1 + d)` of that, and the rest is shear, which is stiffer than
/// bending by `(R / t)^2`: corrections `K0^-1 r` by the mean ring's factor would then grow instead of dying out once `d R / t` passes
/// about 1. So the displacement of a line is taken apart into that of its middle and the rest, and the rest is stretched as the wall is:
/// `T u = m + s (u - m)` with `s` the true wall over the mean one, and the correction is `T K0^-1 T' r` (derived here).
#[derive(Clone, Debug, Default)]
pub(super) struct Stretch {
    /// True wall over the mean ring's; empty where they are the same.
    lines: Vec<f64>,
}

impl Stretch {
    pub fn between(part: &Mesh, mean: &Mesh) -> Self {
        let wall = |mesh: &Mesh, line: usize| {
            let [a, b] = [0, 2 * mesh.through()].map(|j| mesh.coords()[mesh.node(line, j)]);
            (b[0] - a[0]).hypot(b[1] - a[1])
        };
        let lines = 0..part.topology().lines();
        Self {
            lines: lines.map(|i| wall(part, i) / wall(mean, i)).collect(),
        }
    }

    /// The nodes of each line, from the bore outwards, with its stretch.
    fn each<'a>(
        &'a self,
        nodes: &'a mut [[f64; 2]],
    ) -> impl Iterator<Item = (&'a mut [[f64; 2]], f64)> {
        // lines at element ends have a node at every half-step of the lattice, those between at every other
        let through = (2 * nodes.len() / self.lines.len().max(1) - 2) / 3;
        let mut rest = nodes;
        self.lines.iter().enumerate().map(move |(i, &s)| {
            let count = if i % 2 == 0 {
                2 * through + 1
            } else {
                through + 1
            };
            let (line, others) = std::mem::take(&mut rest).split_at_mut(count);
            rest = others;
            (line, s)
        })
    }

    /// `T u`, in place.
    fn apply(&self, displacement: &mut [[f64; 2]]) {
        for (line, s) in self.each(displacement) {
            let (a, b) = (line[0], line[line.len() - 1]);
            for axis in 0..2 {
                let middle = 0.5 * (a[axis] + b[axis]);
                for u in line.iter_mut() {
                    u[axis] = middle + s * (u[axis] - middle);
                }
            }
        }
    }

    /// `T' f`, in place.
    fn apply_transposed(&self, forces: &mut [[f64; 2]]) {
        for (line, s) in self.each(forces) {
            let last = line.len() - 1;
            for axis in 0..2 {
                let total: f64 = line.iter().map(|f| f[axis]).sum();
                for f in line.iter_mut() {
                    f[axis] *= s;
                }
                for end in [0, last] {
                    line[end][axis] += 0.5 * (1.0 - s) * total;
                }
            }
        }
    }

    /// What a residual of the part moves its nodes by, nearly: `T K0^-1 T' r` (mm of N), without rigid-body motion.
    pub fn correction(&self, stage: &RoundStage, mut residual: Vec<[f64; 2]>) -> Vec<[f64; 2]> {
        self.apply_transposed(&mut residual);
        balance(&stage.mesh, &mut residual);
        let mut correction = stage.factor.precondition(&residual);
        self.apply(&mut correction);
        fix_rigid_body_modes(&stage.mesh, &mut correction);
        correction
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::geometry::{Outline, PerSurface};

    /// `T'` is the transpose of `T`, and neither touches the wall of a mean ring.
    #[test]
    fn forces_do_the_work_of_what_they_stand_for() {
        let mesh = |wall: [f64; 2]| {
            let outlines = PerSurface {
                outer: Outline::round(wall[1]),
                bore: Outline::round(wall[0]),
            };
            Mesh::build(&outlines, &[0.0, 1.0, 2.5, 4.0], &[0.0, 0.3, 1.0], true).unwrap()
        };
        let (mean, part) = (mesh([40.0, 50.0]), mesh([41.0, 48.0]));
        let field = |seed: f64| -> Vec<[f64; 2]> {
            let value = |k: usize| (seed * (k as f64 + 1.0)).sin();
            (0..mean.nodes())
                .map(|n| [value(2 * n), value(2 * n + 1)])
                .collect()
        };
        let work = |a: &[[f64; 2]], b: &[[f64; 2]]| -> f64 {
            a.iter()
                .zip(b)
                .map(|(a, b)| a[0] * b[0] + a[1] * b[1])
                .sum()
        };
        let stretch = Stretch::between(&part, &mean);
        assert!(stretch.lines.iter().all(|s| (s - 0.7).abs() < 1e-12));
        let (u, f) = (field(1.3), field(0.7));
        let (mut moved, mut pulled) = (u.clone(), f.clone());
        stretch.apply(&mut moved);
        stretch.apply_transposed(&mut pulled);
        assert!((work(&moved, &f) - work(&u, &pulled)).abs() < 1e-12);
        assert!(moved != u);
        let none = Stretch::between(&mean, &mean);
        let mut same = u.clone();
        none.apply(&mut same);
        assert!(
            same.iter()
                .flatten()
                .zip(u.iter().flatten())
                .all(|(a, b)| (a - b).abs() < 1e-15)
        );
    }
}
