//! Random small programmes.

use nalgebra::DMatrix;

use super::{DriveDof, Row};
use crate::contact::elastic::Elastic;
use crate::contact::quadratic::Prescribed;

/// A linear congruential generator (Knuth, *The Art of Computer Programming*, vol. 2, from memory; MMIX's constants).
pub(super) struct Numbers(pub u64);

impl Numbers {
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        low + (high - low) * (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    pub fn below(&mut self, end: usize) -> usize {
        (self.between(0.0, end as f64) as usize).min(end - 1)
    }
}

/// A body that is nothing but its compliances and its work on rigid-body modes.
#[derive(Clone)]
pub(super) struct Dense {
    pub compliance: DMatrix<f64>,
    pub work: DMatrix<f64>,
}

impl Elastic for Dense {
    fn pressures(&self) -> usize {
        self.compliance.nrows()
    }

    fn rigid_body_modes(&self) -> usize {
        self.work.ncols()
    }

    fn rigid_work(&self, pressure: usize, mode: usize) -> f64 {
        self.work[(pressure, mode)]
    }

    fn compliances(&mut self, pressure: usize, others: &[usize]) -> Vec<f64> {
        others
            .iter()
            .map(|&k| self.compliance[(pressure, k)])
            .collect()
    }

    fn weighted_displacements(&mut self, pressures: &[f64]) -> Vec<f64> {
        (&self.compliance * nalgebra::DVector::from_column_slice(pressures))
            .as_slice()
            .to_vec()
    }
}

/// A programme that has an answer: `equalities' p = forces` with the driven degrees of freedom first.
pub(super) struct Small {
    pub body: Dense,
    pub rows: Vec<Row>,
    pub drive_dofs: Vec<DriveDof>,
    pub dead_resultant: Vec<f64>,
    /// `H`, a row a pressure: pull of the driven degrees of freedom, then minus the work on the modes.
    pub equalities: DMatrix<f64>,
    /// `H' p`.
    pub forces: Vec<f64>,
    /// Weighted gaps with what stands at a place brought there.
    pub gaps: Vec<f64>,
}

/// Two to nine pressures, up to two degrees of freedom with a prescribed force beside one that stands at a place, up to two rigid-body modes, one of
/// either at least. Some pressures that are not negative meet the equalities, for the right-hand sides are made from such.
pub(super) fn small(numbers: &mut Numbers) -> Small {
    let n = 2 + numbers.below(8);
    let driven = numbers.below(3);
    // with no equality at all see `spring`
    let modes = numbers.below(3).max(usize::from(driven == 0));
    let factor = DMatrix::from_fn(n, n + 1, |_, _| numbers.between(-1.0, 1.0));
    let mut compliance = &factor * factor.transpose();
    for k in 0..n {
        compliance[(k, k)] += 0.02;
    }
    let work = DMatrix::from_fn(n, modes, |_, _| numbers.between(-1.0, 1.0));
    // body 0 stands at a place, the others are driven, each by one degree of freedom or by both
    let shares: Vec<Vec<(usize, f64)>> = (0..driven)
        .map(|k| {
            let own = (k + 1, numbers.between(0.3, 1.0));
            let other = (2 - k, numbers.between(-0.5, 0.5));
            if driven == 2 && numbers.between(0.0, 1.0) < 0.5 {
                vec![own, other]
            } else {
                vec![own]
            }
        })
        .collect();
    let at = numbers.between(-0.5, 1.5);
    let rows: Vec<Row> = (0..n)
        .map(|k| Row {
            // each driven body has a pressure at least
            body: if k < driven {
                k + 1
            } else {
                numbers.below(driven + 1)
            },
            along: numbers.between(0.5, 1.0),
            area: numbers.between(0.5, 2.0),
            gap: numbers.between(-0.2, 1.0),
            dead: numbers.between(-0.3, 0.3),
        })
        .collect();
    let share = |dof: usize, body: usize| -> f64 {
        shares[dof]
            .iter()
            .filter(|s| s.0 == body)
            .map(|s| s.1)
            .sum()
    };
    let equalities = DMatrix::from_fn(n, driven + modes, |k, c| {
        if c < driven {
            share(c, rows[k].body) * rows[k].along
        } else {
            -work[(k, c - driven)]
        }
    });
    let some: Vec<f64> = (0..n)
        .map(|_| numbers.between(-0.5, 1.0).max(0.0))
        .collect();
    let forces: Vec<f64> = (0..driven + modes)
        .map(|c| (0..n).map(|k| equalities[(k, c)] * some[k]).sum())
        .collect();
    let mut drive_dofs = vec![DriveDof {
        shares: vec![(0, 1.0)],
        prescribed: Prescribed::Displacement(at),
    }];
    for (shares, &force) in shares.into_iter().zip(&forces) {
        let prescribed = Prescribed::Force(force);
        drive_dofs.push(DriveDof { shares, prescribed });
    }
    let gap = |r: &Row| {
        let brought = if r.body == 0 { at * r.along } else { 0.0 };
        r.gap + r.dead - brought
    };
    Small {
        gaps: rows.iter().map(gap).collect(),
        body: Dense { compliance, work },
        dead_resultant: forces[driven..].to_vec(),
        rows,
        drive_dofs,
        equalities,
        forces,
    }
}
