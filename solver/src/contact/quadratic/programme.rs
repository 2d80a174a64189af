//! The statement of the convex programme of a contact, and of its solution.

use nalgebra::{DMatrix, DVector};

use super::equilibrium::{Motion, Trial};
use crate::contact::Rounds;
use crate::contact::elastic::Elastic;

/// Gaps are taken as closed within this share of the largest term they are summed from: the rounding of that sum.
pub(in crate::contact) const ROUNDING: f64 = 1e-11;

/// Share of the forces that may stay as a residual of the balance: a direction that the contact hardly resists is left free, and what the
/// rounding of a thin ring puts along it stays. A hold that is loose leaves a good part of its forces.
pub(in crate::contact) const RESIDUAL_TOLERANCE: f64 = 1e-5;

/// Newton steps in which singular modes are dropped from the overlaps.
const MOST_STEPS: usize = 40;

/// One degree of freedom of a drive: what a jaw, a chuck or a rocker moves by.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::contact) struct DriveDof {
    /// Bodies that it moves, and by how much of it each.
    pub shares: Vec<(usize, f64)>,
    /// What is prescribed.
    pub prescribed: Prescribed,
}

/// What is prescribed of a degree of freedom of a drive.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::contact) enum Prescribed {
    /// Its force, N: the sum of the bodies' forces, each times its share.
    Force(f64),
    /// The displacement, mm.
    Displacement(f64),
}

impl DriveDof {
    /// How far a unit of it moves a body.
    pub fn share(&self, body: usize) -> f64 {
        self.shares
            .iter()
            .filter(|s| s.0 == body)
            .map(|s| s.1)
            .sum()
    }

    pub fn is_forced(&self) -> bool {
        matches!(self.prescribed, Prescribed::Force(_))
    }
}

/// What the programme knows of a pressure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::contact) struct Row {
    /// The rigid body that it belongs to.
    pub body: usize,
    /// Its resultant along that body's axis, N per MPa.
    pub along: f64,
    /// Area that turns its weighted gap into a gap, mm2.
    pub area: f64,
    /// Weighted gap before anything moves, dead loads apart, mm3.
    pub gap: f64,
    /// Weighted displacement under the dead loads, mm3.
    pub dead: f64,
}

/// What the programme is made of.
pub(in crate::contact) struct Programme<'a> {
    pub rows: &'a [Row],
    pub drive_dofs: &'a [DriveDof],
    /// Resultant of the dead loads along each rigid-body mode, N.
    pub dead_resultant: &'a [f64],
    /// Work of each pressure on each rigid-body mode, a row a pressure.
    pub rigid_work: DMatrix<f64>,
    /// Hears of every round.
    pub watch: &'a Rounds<'a>,
}

/// Its solution.
#[derive(Clone, Debug)]
pub(in crate::contact) struct Solution {
    /// Pressures, MPa.
    pub pressures: Vec<f64>,
    /// Gap of each, mm, weighted mean over its shape function.
    pub gaps: Vec<f64>,
    /// Which are active.
    pub active: Vec<bool>,
    /// Displacements of the drives, mm.
    pub drive_displacements: Vec<f64>,
    /// Rigid-body modes.
    pub modes: Vec<f64>,
    /// Directions (drives by entry, then rigid-body modes) that nothing resists.
    pub free: Vec<Motion>,
    /// Residual of the equalities, N.
    pub residual: f64,
    /// Rounds taken.
    pub rounds: usize,
}

impl<'a> Programme<'a> {
    /// A programme on a body.
    pub fn new(
        body: &dyn Elastic,
        rows: &'a [Row],
        drive_dofs: &'a [DriveDof],
        dead_resultant: &'a [f64],
        watch: &'a Rounds<'a>,
    ) -> Self {
        let rigid_work = DMatrix::from_fn(rows.len(), body.rigid_body_modes(), |k, mode| {
            body.rigid_work(k, mode)
        });
        Self {
            rows,
            drive_dofs,
            dead_resultant,
            rigid_work,
            watch,
        }
    }

    /// Degrees of freedom with a prescribed force, by entry.
    pub(super) fn driven(&self) -> Vec<usize> {
        (0..self.drive_dofs.len())
            .filter(|&k| self.drive_dofs[k].is_forced())
            .collect()
    }

    /// Entry of `H`: how a pressure works on a driven degree of freedom, then minus its work on a rigid-body mode.
    pub(super) fn equality(&self, driven: &[usize], pressure: usize, col: usize) -> f64 {
        let row = &self.rows[pressure];
        match driven.get(col) {
            Some(&dof) => self.drive_dofs[dof].share(row.body) * row.along,
            None => -self.rigid_work[(pressure, col - driven.len())],
        }
    }

    /// Right-hand side of the equalities: prescribed forces of the drives, then the resultant of the dead loads along each mode.
    pub(super) fn equality_forces(&self, driven: &[usize]) -> DVector<f64> {
        let force = |&t: &usize| match self.drive_dofs[t].prescribed {
            Prescribed::Force(f) => f,
            Prescribed::Displacement(_) => 0.0,
        };
        let forces = driven.iter().map(force);
        let all: Vec<f64> = forces.chain(self.dead_resultant.iter().copied()).collect();
        DVector::from_vec(all)
    }

    /// Sum of the sizes of the forces at work, N.
    pub(super) fn forces(&self, trial: &Trial) -> f64 {
        let contact = self.rows.iter().zip(&trial.pressures);
        let prescribed = self.equality_forces(&self.driven());
        contact.map(|(r, p)| (r.along * p).abs()).sum::<f64>() + prescribed.abs().sum()
    }

    /// A drive with a prescribed force needs something to press with: at least its least open pressure is active.
    pub(super) fn activate_driven(&self, active: &mut [bool]) {
        for dof in self.drive_dofs {
            let belongs = |k: &usize| dof.share(self.rows[*k].body) != 0.0;
            if dof.is_forced() && !(0..active.len()).filter(belongs).any(|k| active[k]) {
                let gap = |k: &usize| self.rows[*k].gap / self.rows[*k].area;
                if let Some(k) = (0..active.len())
                    .filter(belongs)
                    .min_by(|a, b| gap(a).total_cmp(&gap(b)))
                {
                    active[k] = true;
                }
            }
        }
    }

    /// Weighted gap before pressures, driven degrees of freedom and rigid-body modes act.
    pub(super) fn start_gap(&self, pressure: usize) -> f64 {
        let row = &self.rows[pressure];
        let fixed: f64 = self
            .drive_dofs
            .iter()
            .map(|t| match t.prescribed {
                Prescribed::Displacement(d) => d * t.share(row.body),
                Prescribed::Force(_) => 0.0,
            })
            .sum();
        row.gap + row.dead - fixed * row.along
    }

    /// How far the driven degrees of freedom (displacements in mm, one an entry of `drive_dofs`) move a body; prescribed displacements are in the gap to start with.
    fn driven_by(&self, body: usize, displacements: &[f64]) -> f64 {
        self.drive_dofs
            .iter()
            .zip(displacements)
            .filter(|(t, _)| t.is_forced())
            .map(|(t, d)| t.share(body) * d)
            .sum()
    }

    /// Work of a unit pressure on rigid-body modes of these sizes.
    fn on_modes(&self, pressure: usize, modes: &[f64]) -> f64 {
        modes
            .iter()
            .enumerate()
            .map(|(k, q)| self.rigid_work[(pressure, k)] * q)
            .sum()
    }

    /// Unknowns of the reduced system as displacements of the drives (mm, 0 where prescribed) and rigid-body modes.
    pub(super) fn motion(&self, driven: &[usize], z: &[f64]) -> Motion {
        let mut displacements = vec![0.0; self.drive_dofs.len()];
        for (&t, v) in driven.iter().zip(z) {
            displacements[t] = *v;
        }
        (displacements, z[driven.len()..].to_vec())
    }

    /// Gap of each pressure (mm), and how far below zero rounding may take it, with the elastic displacements that the trial's pressures
    /// make.
    pub(super) fn gaps(&self, trial: &Trial, elastic: &[f64]) -> (Vec<f64>, Vec<f64>) {
        let mut closed = Vec::with_capacity(self.rows.len());
        let gaps = self
            .rows
            .iter()
            .enumerate()
            .map(|(k, row)| {
                let moved = self.driven_by(row.body, &trial.drive_displacements);
                let terms = [
                    self.start_gap(k),
                    elastic[k],
                    -moved * row.along,
                    self.on_modes(k, &trial.modes),
                ];
                let size = terms.iter().fold(row.gap.abs(), |m, t| m.max(t.abs()));
                closed.push(ROUNDING * size / row.area);
                terms.iter().sum::<f64>() / row.area
            })
            .collect();
        (gaps, closed)
    }

    /// Moves along the singular modes until open pressures overlap as little as they can (least squares of the overlaps, by Newton's
    /// method): an overlap that a free rigid-body mode can undo is no reason for a pressure to be active, and would come back in every set.
    pub(super) fn drop_singular_modes(
        &self,
        trial: &mut Trial,
        active: &[bool],
        gaps: &mut [f64],
        closed: &[f64],
    ) {
        if trial.free.is_empty() {
            return;
        }
        let opening = |k: usize, (d, q): &Motion| {
            let row = &self.rows[k];
            (self.on_modes(k, q) - self.driven_by(row.body, d) * row.along) / row.area
        };
        for _ in 0..MOST_STEPS {
            let over: Vec<usize> = (0..gaps.len())
                .filter(|&k| !active[k] && gaps[k] < -closed[k])
                .collect();
            if over.is_empty() {
                break;
            }
            let slopes = DMatrix::from_fn(over.len(), trial.free.len(), |i, k| {
                opening(over[i], &trial.free[k])
            });
            let wanted = DVector::from_fn(over.len(), |i, _| -gaps[over[i]]);
            let Ok(step) = slopes.svd(true, true).solve(&wanted, 1e-9) else {
                break;
            };
            let largest = gaps.iter().fold(0.0_f64, |m, g| m.max(g.abs()));
            if step.norm() <= ROUNDING * largest {
                break;
            }
            for (a, direction) in step.iter().zip(&trial.free) {
                for (t, d) in trial.drive_displacements.iter_mut().zip(&direction.0) {
                    *t += a * d;
                }
                for (s, q) in trial.modes.iter_mut().zip(&direction.1) {
                    *s += a * q;
                }
                for (k, gap) in gaps.iter_mut().enumerate() {
                    // active pressures stay closed: that is what makes the direction singular
                    if !active[k] {
                        *gap += a * opening(k, direction);
                    }
                }
            }
        }
    }
}
