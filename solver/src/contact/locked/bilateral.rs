//! A locked hold as long as nothing opens and nothing closes.

use nalgebra::{Cholesky, DMatrix, Dyn, SymmetricEigen};

use super::not_resisted;
use crate::contact::ContactError;
use crate::linear::LinearError;

/// Share of the stiffest direction below which nothing resists the part's shift.
const FREE: f64 = 1e-9;

/// Share of a tool force that may be left without a reaction.
const BALANCED: f64 = 1e-6;

/// What the rest of the loads (in their order) does while the active pressures keep their gaps, as if they could pull.
pub(super) struct Bilateral {
    factor: Cholesky<f64, Dyn>,
    /// Changes of the active pressures (row) by a unit of each of the rest.
    pub pressed: DMatrix<f64>,
    /// Displacement of each of the rest by a unit of each.
    pub moved: DMatrix<f64>,
    /// Work of the active pressures on the rigid-body modes, that by the factor, and the modes' own compliance.
    sides: DMatrix<f64>,
    eased: DMatrix<f64>,
    inverse: DMatrix<f64>,
    /// What is left of the balance, a row a mode.
    left: DMatrix<f64>,
}

impl Bilateral {
    pub fn new(
        all: &DMatrix<f64>,
        work: &DMatrix<f64>,
        active: usize,
    ) -> Result<Self, ContactError> {
        let (n, modes) = (active, work.ncols());
        let rest = all.nrows() - n;
        let own = all.view((0, 0), (n, n)).into_owned();
        let factor = own
            .cholesky()
            .ok_or(LinearError::NotPositive { unknown: 0 })?;
        let sides = work.rows(0, n).into_owned();
        let eased = factor.solve(&sides);
        let stiffness = sides.transpose() * &eased;
        let eigen = SymmetricEigen::new(0.5 * (&stiffness + stiffness.transpose()));
        let stiffest = eigen.eigenvalues.max();
        let mut inverse = DMatrix::zeros(modes, modes);
        let vectors = eigen.eigenvectors.column_iter();
        for (value, v) in eigen.eigenvalues.iter().zip(vectors) {
            if *value > FREE * stiffest {
                inverse += v * v.transpose() / *value;
            }
        }
        let on_rest = all.view((0, n), (n, rest)).into_owned();
        let by_rest = work.rows(n, rest).transpose();
        let alone = factor.solve(&on_rest);
        // T' p = -t with p = -C^-1 c - C^-1 T q
        let motion = &inverse * (&by_rest - sides.transpose() * &alone);
        let pressed = -(alone + &eased * &motion);
        let moved = all.view((n, n), (rest, rest))
            + on_rest.transpose() * &pressed
            + by_rest.transpose() * &motion;
        let left = sides.transpose() * &pressed + by_rest;
        Ok(Self {
            factor,
            pressed,
            moved,
            sides,
            eased,
            inverse,
            left,
        })
    }

    /// Refuses tool forces (so many of the rest, from a first) that have no reaction.
    pub fn check_balance(&self, first: usize, count: usize) -> Result<(), ContactError> {
        for column in self.left.columns(first, count).column_iter() {
            let size = column.norm();
            if size.is_nan() || size > BALANCED {
                return Err(not_resisted(Some(column[1].atan2(column[0]))));
            }
        }
        Ok(())
    }

    /// Changes of the active pressures (row) by a unit gap of some of them.
    pub fn opened(&self, of: &[usize]) -> DMatrix<f64> {
        let n = self.sides.nrows();
        let mut unit = DMatrix::zeros(n, of.len());
        for (j, &k) in of.iter().enumerate() {
            unit[(k, j)] = 1.0;
        }
        let alone = self.factor.solve(&unit);
        let motion = &self.inverse * (self.sides.transpose() * &alone);
        alone - &self.eased * motion
    }
}
