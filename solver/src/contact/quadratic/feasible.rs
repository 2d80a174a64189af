//! Pressures that balance the forces, to start a descent from.

use nalgebra::{DMatrix, DVector};

use super::programme::Programme;

/// Residual of the balance, as a share of the forces, up to which the pressures are taken to balance them.
const BALANCED: f64 = 1e-12;

impl Programme<'_> {
    /// Pressures, not negative, that meet the equalities as well as they can be met: non-negative least squares on the few
    /// equalities (Lawson and Hanson, *Solving Least Squares Problems*, 1974, ch. 23; from memory).
    pub(super) fn feasible(&self) -> Vec<f64> {
        let driven = self.driven();
        let rhs = self.equality_forces(&driven);
        let (m, n) = (rhs.len(), self.rows.len());
        let columns = DMatrix::from_fn(m, n, |k, h| self.equality(&driven, h, k));
        let lengths: Vec<f64> = (0..n).map(|h| columns.column(h).norm()).collect();
        let mut pressures = vec![0.0; n];
        let mut list: Vec<usize> = Vec::new();
        for _ in 0..4 * m {
            let residual = list.iter().fold(rhs.clone(), |residual, &h| {
                residual - columns.column(h) * pressures[h]
            });
            if residual.norm() <= BALANCED * rhs.norm() {
                break;
            }
            let gain = |h: usize| columns.column(h).dot(&residual) / lengths[h];
            let Some(best) = (0..n)
                .filter(|h| lengths[*h] > 0.0 && !list.contains(h))
                .max_by(|&a, &b| gain(a).total_cmp(&gain(b)).then(b.cmp(&a)))
                .filter(|&h| gain(h) > BALANCED * rhs.norm())
            else {
                break;
            };
            list.push(best);
            self.least_squares(&columns, &rhs, &mut list, &mut pressures);
        }
        pressures
    }

    /// Least squares over the pressures of a list, those left out of it whose pressure would become negative on the way.
    fn least_squares(
        &self,
        columns: &DMatrix<f64>,
        rhs: &DVector<f64>,
        list: &mut Vec<usize>,
        pressures: &mut [f64],
    ) {
        while !list.is_empty() {
            let Ok(x) = columns
                .select_columns(&*list)
                .svd(true, true)
                .solve(rhs, 1e-13)
            else {
                return;
            };
            let blocked = list
                .iter()
                .zip(x.iter())
                .filter(|(_, x)| **x <= 0.0)
                .map(|(&h, x)| {
                    let way = pressures[h] - x;
                    (if way > 0.0 { pressures[h] / way } else { 0.0 }, h)
                })
                .min_by(|a, b| a.0.total_cmp(&b.0));
            let step = blocked.map_or(1.0, |b| b.0);
            for (&h, x) in list.iter().zip(x.iter()) {
                pressures[h] += step * (x - pressures[h]);
            }
            let Some((_, stop)) = blocked else { return };
            pressures[stop] = 0.0;
            list.retain(|&h| h != stop);
        }
    }
}
