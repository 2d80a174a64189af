//! The equilibrium with a given set of active pressures: compliance between them, and the equalities on top.

use std::sync::Arc;

use nalgebra::{DMatrix, DVector, SymmetricEigen};

use super::dense::Factor;
use super::gram::Gram;
use super::programme::{Prescribed, Programme};

/// Displacements of the drives by entry (mm), then rigid-body modes.
pub(in crate::contact) type Motion = (Vec<f64>, Vec<f64>);

/// The equations of one set of active pressures, factored: `C p - H z = -g`, `H' p = b`, with `z` the driven degrees of freedom and the modes.
struct Equations {
    /// Factor of `C`.
    factor: Arc<Factor>,
    /// `H`, a column an equality, and `C^-1 H`.
    sides: DMatrix<f64>,
    eased: DMatrix<f64>,
    eigen: SymmetricEigen<f64, nalgebra::Dyn>,
    /// Directions of the drives and modes that the contact resists less than this share of the stiffest are free.
    free: f64,
}

impl Equations {
    /// `None` if rounding has made the compliances dependent.
    fn new(programme: &Programme, list: &[usize], gram: &mut Gram, free: f64) -> Option<Self> {
        let n = list.len();
        let driven = programme.driven();
        let m = programme.equality_forces(&driven).len();
        let factor = gram.factor(list)?;
        let sides = DMatrix::from_fn(n, m, |i, k| programme.equality(&driven, list[i], k));
        let mut eased = sides.clone();
        factor.solve(eased.as_mut_slice());
        let weigh = |a: usize, b: usize| -> f64 {
            let both = column(&sides, a).iter().zip(column(&eased, b));
            both.map(|(s, e)| s * e).sum()
        };
        let stiffness = DMatrix::from_fn(m, m, |a, b| 0.5 * (weigh(a, b) + weigh(b, a)));
        Some(Self {
            factor,
            sides,
            eased,
            // without equalities there is nothing to decompose
            eigen: match m {
                0 => SymmetricEigen {
                    eigenvectors: DMatrix::zeros(0, 0),
                    eigenvalues: DVector::zeros(0),
                },
                _ => SymmetricEigen::new(stiffness),
            },
            free,
        })
    }

    /// Which eigenvectors are directions that something resists.
    fn resisted(&self) -> impl Iterator<Item = (usize, bool)> {
        let values = &self.eigen.eigenvalues;
        let stiffest = values.iter().fold(0.0_f64, |a, &b| a.max(b));
        let least = self.free * stiffest;
        (0..values.len()).map(move |k| (k, values[k] > least))
    }

    /// `p` and `z` for gaps `g` and a right-hand side `b`.
    fn solve(&self, gaps: &[f64], rhs: &DVector<f64>) -> (Vec<f64>, DVector<f64>) {
        let (n, m) = (gaps.len(), rhs.len());
        let mut y = gaps.to_vec();
        self.factor.solve(&mut y);
        let load = DVector::from_fn(m, |k, _| {
            let on = column(&self.sides, k).iter().zip(&y);
            rhs[k] + on.map(|(s, y)| s * y).sum::<f64>()
        });
        let mut z = DVector::zeros(m);
        for (k, _) in self.resisted().filter(|r| r.1) {
            let v = self.eigen.eigenvectors.column(k);
            z += v * (v.dot(&load) / self.eigen.eigenvalues[k]);
        }
        let pressures = (0..n)
            .map(|i| (0..m).map(|k| self.eased[(i, k)] * z[k]).sum::<f64>() - y[i])
            .collect();
        (pressures, z)
    }
}

/// The equilibrium with some pressures active.
pub(super) struct Trial {
    list: Vec<usize>,
    equations: Equations,
    z: DVector<f64>,
    /// Pressures, MPa.
    pub pressures: Vec<f64>,
    /// Displacements of the drives, mm.
    pub drive_displacements: Vec<f64>,
    /// Rigid-body modes.
    pub modes: Vec<f64>,
    pub free: Vec<Motion>,
    pub residual: f64,
}

impl Trial {
    /// The equilibrium with the pressures of `list` active; directions that they resist less than the share `free` of the stiffest are
    /// left free. `None` if rounding has made their compliances dependent.
    pub fn new(
        programme: &Programme,
        list: Vec<usize>,
        gram: &mut Gram,
        free: f64,
    ) -> Option<Self> {
        let driven = programme.driven();
        let rhs = programme.equality_forces(&driven);
        let equations = Equations::new(programme, &list, gram, free)?;
        let gaps: Vec<f64> = list.iter().map(|&h| programme.start_gap(h)).collect();
        let (pressures, z) = equations.solve(&gaps, &rhs);
        let mut trial = Self {
            free: equations
                .resisted()
                .filter(|r| !r.1)
                .map(|(k, _)| {
                    programme.motion(&driven, equations.eigen.eigenvectors.column(k).as_slice())
                })
                .collect(),
            pressures: vec![0.0; programme.rows.len()],
            drive_displacements: Vec::new(),
            modes: Vec::new(),
            residual: 0.0,
            list,
            equations,
            z,
        };
        for (&h, p) in trial.list.iter().zip(pressures) {
            trial.pressures[h] = p;
        }
        trial.update(programme);
        Some(trial)
    }

    /// Displacements of the drives, rigid-body modes and the residual, from `z` and the pressures.
    fn update(&mut self, programme: &Programme) {
        let driven = programme.driven();
        let (mut displacements, modes) = programme.motion(&driven, self.z.as_slice());
        for (d, dof) in displacements.iter_mut().zip(programme.drive_dofs) {
            if let Prescribed::Displacement(prescribed) = dof.prescribed {
                *d = prescribed;
            }
        }
        self.drive_displacements = displacements;
        self.modes = modes;
        self.residual = self.residual_of(programme).amax();
    }

    /// Residual of the equalities, N.
    fn residual_of(&self, programme: &Programme) -> DVector<f64> {
        let mut residual = programme.equality_forces(&programme.driven());
        for (k, residual) in residual.iter_mut().enumerate() {
            for (s, &h) in column(&self.equations.sides, k).iter().zip(&self.list) {
                *residual -= s * self.pressures[h];
            }
        }
        residual
    }

    /// One step of iterative refinement: takes off what the gaps (mm, over all pressures) of the active pressures and the equalities still lack.
    pub fn refine(&self, programme: &Programme, gaps: &[f64]) -> (Vec<f64>, DVector<f64>) {
        let weighted: Vec<f64> = self
            .list
            .iter()
            .map(|&h| gaps[h] * programme.rows[h].area)
            .collect();
        self.equations
            .solve(&weighted, &self.residual_of(programme))
    }

    /// Adds a correction of pressures and `z`, `sign` times.
    pub fn correct(
        &mut self,
        programme: &Programme,
        (pressures, z): &(Vec<f64>, DVector<f64>),
        sign: f64,
    ) {
        for (&h, p) in self.list.iter().zip(pressures) {
            self.pressures[h] += sign * p;
        }
        self.z += sign * z;
        self.update(programme);
    }

    /// Pressures that errors of these sizes (mm, over all pressures) in the gaps of the active pressures make, if they change sign from each
    /// to the next: what rounding puts onto each, MPa.
    pub fn stirred(&self, programme: &Programme, closed: &[f64]) -> Vec<f64> {
        let mut x: Vec<f64> = self
            .list
            .iter()
            .enumerate()
            .map(|(i, &h)| {
                let sign = if i % 2 == 0 { 1.0 } else { -1.0 };
                sign * closed[h] * programme.rows[h].area
            })
            .collect();
        self.equations.factor.solve(&mut x);
        let mut stirred = vec![0.0; programme.rows.len()];
        for (&h, x) in self.list.iter().zip(x) {
            stirred[h] = x.abs();
        }
        stirred
    }

    /// The active pressures.
    pub fn list(&self) -> &[usize] {
        &self.list
    }

    /// Energy of the equilibrium, N mm, and the size of the terms it is summed from.
    pub fn energy(&self, programme: &Programme) -> (f64, f64) {
        let rhs = programme.equality_forces(&programme.driven());
        let driven = rhs.dot(&self.z);
        let gaps: f64 = self
            .list
            .iter()
            .map(|&h| programme.start_gap(h) * self.pressures[h])
            .sum();
        (0.5 * (driven + gaps), driven.abs() + gaps.abs())
    }
}

/// A column of a matrix.
fn column(matrix: &DMatrix<f64>, k: usize) -> &[f64] {
    let n = matrix.nrows();
    &matrix.as_slice()[k * n..(k + 1) * n]
}
