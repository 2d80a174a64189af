//! Plans from whose rows sensitivity indices are estimated.

use super::{MOST_ROWS, Plan, PlanError, Rows, distinct};
use crate::study::Typed;
use crate::study::design::{MOST_FACTORS, Saltelli, Sample};
use crate::study::file::{Vary, VarySet};
use crate::study::indices::LEAST_BASE;

impl Plan {
    /// The plan of indices ([`Saltelli`]): `count` points of the sequence, a power of two, and for each as many rows as keys vary and two more. A key with a single value is no factor and costs no rows.
    ///
    /// # Errors
    /// [`PlanError`].
    pub fn for_indices(varies: &[Vary], count: Option<u64>, seed: u64) -> Result<Self, PlanError> {
        let paths = distinct(varies)?;
        let factors = varies.iter().filter(|v| v.of.varies()).count();
        match factors {
            0 | 1 => return Err(PlanError::OneFactor),
            n if n > MOST_FACTORS => return Err(PlanError::IndexFactors(n)),
            _ => {}
        }
        let base = count.ok_or(PlanError::NoBase(factors as u64 + 2))?;
        let rows = u128::from(base) * (factors as u128 + 2);
        if rows > u128::from(MOST_ROWS) {
            return Err(PlanError::BaseRows(base, rows));
        }
        if !base.is_power_of_two() || base < LEAST_BASE {
            let above = base.next_power_of_two().max(2 * LEAST_BASE);
            return Err(PlanError::Base(base, above / 2, above));
        }
        let sets = varies.iter().map(|v| v.of.clone()).collect();
        Ok(Self {
            paths,
            rows: rows as u64,
            of: Rows::Saltelli(Saltelli::new(factors, seed), sets),
        })
    }

    /// The scheme of a plan of indices; `None` of other plans.
    pub fn scheme(&self) -> Option<&Saltelli> {
        match &self.of {
            Rows::Saltelli(scheme, _) => Some(scheme),
            _ => None,
        }
    }

    /// Paths of the factors of a plan of indices, in its order; empty of other plans.
    pub fn factors(&self) -> Vec<&str> {
        let Rows::Saltelli(_, sets) = &self.of else {
            return Vec::new();
        };
        let both = self.paths.iter().zip(sets);
        both.filter(|(_, set)| set.varies())
            .map(|(path, _)| path.as_str())
            .collect()
    }

    /// Whether a key is chosen from a list or a count, not held to a size.
    pub fn is_choice(&self, path: &str) -> bool {
        let Rows::Saltelli(_, sets) = &self.of else {
            return false;
        };
        let mut both = self.paths.iter().zip(sets);
        both.any(|(p, set)| p == path && matches!(set, VarySet::Values(_) | VarySet::Whole { .. }))
    }

    /// Whether a row (from 0) is drawn by itself: rows of a plan of indices that take values of two others are not, and tell nothing more of a chance.
    pub fn is_drawn(&self, row: u64) -> bool {
        let sample = self.scheme().map(|scheme| scheme.place(row).1);
        !matches!(sample, Some(Sample::Mixed(_)))
    }
}

impl VarySet {
    /// Whether it takes more than one value.
    pub fn varies(&self) -> bool {
        !matches!(self, VarySet::Values(values) if values.len() < 2)
    }
}

/// Values at a point that has a coordinate for every set that varies.
pub(super) fn at(point: &[f64], sets: &[VarySet]) -> Vec<Typed> {
    let mut coordinates = point.iter();
    let mut next = || coordinates.next().copied().unwrap_or(0.5);
    sets.iter()
        .map(|set| set.at(if set.varies() { next() } else { 0.5 }))
        .collect()
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::study::{Design, Range};

    fn even(path: &str) -> Vary {
        let (from, to, unit) = (0.0, 1.0, String::new());
        Vary {
            path: path.into(),
            of: VarySet::Even {
                range: Range { from, to, unit },
                count: None,
            },
        }
    }

    fn one(path: &str) -> Vary {
        Vary {
            path: path.into(),
            of: VarySet::Values(vec![Typed::Text("bare".into())]),
        }
    }

    #[test]
    fn a_key_with_one_value_is_no_factor() {
        let varies = [even("x"), one("hold"), even("y")];
        let plan = Plan::for_indices(&varies, Some(64), 3).unwrap();
        assert_eq!(plan.rows(), 64 * 4);
        assert_eq!(plan.factors(), ["x", "y"]);
        assert!(plan.is_choice("hold") && !plan.is_choice("x") && !plan.is_choice("z"));
        let scheme = Saltelli::new(2, 3);
        for row in [0, 1, 2, 3, 200] {
            let values = plan.values(row);
            assert_eq!(values[1], Typed::Text("bare".into()));
            let point = scheme.point(row);
            assert_eq!(values[2], Typed::Number(point[1]), "{row}");
        }
        let drawn: Vec<u64> = (0..8).filter(|&k| plan.is_drawn(k)).collect();
        assert_eq!(drawn, [0, 3, 4, 7]);
        let other = Plan::new(Design::Sobol, &varies, Some(8), 0).unwrap();
        assert!(other.scheme().is_none() && other.factors().is_empty() && other.is_drawn(1));
    }

    #[test]
    fn what_is_no_plan_of_indices_is_told() {
        let two = [even("x"), even("y")];
        let wrong = |varies: &[Vary], count| Plan::for_indices(varies, count, 0).unwrap_err();
        assert_eq!(wrong(&two, Some(100)), PlanError::Base(100, 64, 128));
        assert_eq!(wrong(&two, Some(1000)), PlanError::Base(1000, 512, 1024));
        for few in [0, 1, 16, 63] {
            assert_eq!(wrong(&two, Some(few)), PlanError::Base(few, 64, 128));
        }
        assert_eq!(wrong(&two, None), PlanError::NoBase(4));
        let rows = u128::from(u64::MAX) * 4;
        assert_eq!(
            wrong(&two, Some(u64::MAX)),
            PlanError::BaseRows(u64::MAX, rows)
        );
        assert_eq!(wrong(&[], Some(64)), PlanError::Nothing);
        assert_eq!(
            wrong(&[even("x"), one("y")], Some(64)),
            PlanError::OneFactor
        );
        assert_eq!(
            wrong(&[even("x"), even("x")], Some(64)),
            PlanError::Twice("x".into())
        );
        let many: Vec<Vary> = (0..21).map(|k| even(&format!("x{k}"))).collect();
        assert_eq!(wrong(&many, Some(64)), PlanError::IndexFactors(21));
        assert!(Plan::for_indices(&many[1..], Some(64), 0).is_ok());
        let plan = Plan::new(Design::Full, &two, None, 0).unwrap();
        assert!(plan.scheme().is_none());
    }
}
