//! A round ring behind contact, by its closed-form series: no mesh, any width of contact.
//!
//! The displacement at an angle from a unit line force is the series' kernel: a logarithm, and a rest that is smooth. Compliances
//! between pressures are double integrals of it over their shape functions. Where two are close the logarithm is integrated in closed
//! form, else both are replaced by two points with their area, centre and spread.

mod integrals;
mod kernels;
mod load;
mod profiles;
#[cfg(test)]
mod tests;

use std::f64::consts::TAU;
use std::sync::Arc;

use rayon::prelude::*;

pub(super) use kernels::RingKernels;
pub(super) use load::RingLoad;
pub(super) use profiles::Profiles;

use super::elastic::Elastic;
use super::pressure::{PressureDof, WallId};
use crate::geometry::{PerSurface, Surface, angle_between};
use kernels::{SMOOTH, SMOOTH_ALL_ROUND};
use profiles::Near;

/// Widths of a segment from which two points stand for it.
const APART: f64 = 4.0;

/// Compliances that are worth a thread.
const TOGETHER: usize = 64;

/// Angles that differ by less are one, rad.
const ALIKE: f64 = 1e-12;

/// A round ring under the pressures of a hold.
#[derive(Clone)]
pub(super) struct Ring {
    kernels: Arc<RingKernels>,
    loads: Vec<RingLoad>,
    resultants: Vec<[f64; 2]>,
    /// Compliances of a pressure with all, as they are asked for.
    columns: Vec<Option<Vec<f64>>>,
    /// Which pressure each becomes when the ring is turned by the least angle that leaves the hold as it is.
    turned: Option<Vec<usize>>,
    /// What each unit pressure adds to the profiles near it, as it is asked for.
    near: Vec<Option<Vec<Near>>>,
}

impl Ring {
    /// A wall as a ring under those of some pressures that act on it, in their order.
    pub fn new(kernels: Arc<RingKernels>, dofs: &[PressureDof], wall: WallId) -> Self {
        let pressed = || {
            let on = dofs.iter();
            on.filter_map(move |d| Some((d, d.on(wall)?)))
        };
        // a uniform pressure shows what the rules leave at every load alike
        let covered: f64 = pressed()
            .flat_map(|(d, _)| &d.segments)
            .map(|s| s.to - s.from)
            .sum();
        let share = if covered > 1.9 * TAU {
            SMOOTH_ALL_ROUND
        } else {
            SMOOTH
        };
        let loads: Vec<RingLoad> = pressed()
            .map(|(d, surface)| kernels.load_in(surface, &d.segments, share))
            .collect();
        Self {
            kernels,
            resultants: loads.iter().map(RingLoad::resultant).collect(),
            columns: vec![None; loads.len()],
            turned: turned(&loads),
            near: vec![None; loads.len()],
            loads,
        }
    }

    /// The pressures as loads.
    pub fn loads(&self) -> &[RingLoad] {
        &self.loads
    }

    fn column(&mut self, pressure: usize) {
        if self.columns[pressure].is_some() {
            return;
        }
        let own = &self.loads[pressure];
        let column: Vec<f64> = self
            .loads
            .par_iter()
            .enumerate()
            .with_min_len(TOGETHER)
            .map(|(k, other)| match k < pressure {
                // the same either way
                true => self.kernels.compliance(other, own),
                false => self.kernels.compliance(own, other),
            })
            .collect();
        if let Some(turned) = &self.turned {
            let (mut at, mut now) = (turned[pressure], column.clone());
            while at != pressure {
                let mut next = vec![0.0; now.len()];
                for (k, c) in turned.iter().zip(&now) {
                    next[*k] = *c;
                }
                now = next;
                self.columns[at] = Some(now.clone());
                at = turned[at];
            }
        }
        self.columns[pressure] = Some(column);
    }

    /// Displacement outwards (mm) of some surfaces at the angles of `profiles`, the others left empty: under these pressures (MPa), other loads, an even growth of
    /// each surface and a shift of the ring (mm).
    pub fn profile(
        &mut self,
        profiles: &Profiles,
        pressures: &[f64],
        others: &[&RingLoad],
        even: &PerSurface<f64>,
        shift: [f64; 2],
        surfaces: &[Surface],
    ) -> PerSurface<Vec<f64>> {
        let pressed = self.loads.iter().zip(pressures.iter().copied());
        let mut all: Vec<(&RingLoad, f64)> = pressed.filter(|l| l.1 != 0.0).collect();
        all.extend(others.iter().map(|l| (*l, 1.0)));
        let mut moved = profiles.far(&self.kernels, &all, even, shift, surfaces);
        for (k, &p) in pressures.iter().enumerate() {
            if p != 0.0 {
                self.make_near(profiles, k);
                let near = self.near[k].iter().flatten();
                near.filter(|n| surfaces.contains(&n.read))
                    .for_each(|n| n.add(p, &mut moved));
            }
        }
        for load in others {
            let near = profiles.near(&self.kernels, load);
            near.iter()
                .filter(|n| surfaces.contains(&n.read))
                .for_each(|n| n.add(1.0, &mut moved));
        }
        moved
    }

    /// Makes what a unit pressure adds near it, and with it the same of all that it becomes when the ring is turned, if the profiles'
    /// angles are turned into each other too.
    fn make_near(&mut self, profiles: &Profiles, pressure: usize) {
        if self.near[pressure].is_some() {
            return;
        }
        let near = profiles.near(&self.kernels, &self.loads[pressure]);
        if let Some(turned) = &self.turned {
            let cells = |k: usize| {
                let angle = angle_between(self.loads[pressure].centre, self.loads[k].centre);
                angle * profiles.count as f64 / TAU
            };
            let mut at = turned[pressure];
            while at != pressure {
                let by = cells(at);
                if (by - by.round()).abs() < 1e-9 * profiles.count as f64 {
                    let by = (by.round() as i64).rem_euclid(profiles.count as i64) as usize;
                    let there = near.iter().map(|n| Near {
                        first: (n.first + by) % profiles.count,
                        ..n.clone()
                    });
                    self.near[at] = Some(there.collect());
                }
                at = turned[at];
            }
        }
        self.near[pressure] = Some(near);
    }
}

/// Finds which load each becomes when the ring is turned by the least angle that leaves them all as they are; `None` if there is none.
fn turned(loads: &[RingLoad]) -> Option<Vec<usize>> {
    let place = |t: f64| t.rem_euclid(TAU);
    let mut order: Vec<usize> = (0..loads.len()).collect();
    let key = |k: usize| (loads[k].surface == Surface::Bore, place(loads[k].centre));
    order.sort_by(|&a, &b| key(a).0.cmp(&key(b).0).then(key(a).1.total_cmp(&key(b).1)));
    let outside = order.iter().take_while(|&&k| !key(k).0).count();
    let (outer, bore) = order.split_at(outside);
    let all = loads.len();
    (2..=all)
        .rev()
        .filter(|p| outer.len().is_multiple_of(*p) && bore.len().is_multiple_of(*p))
        .find_map(|p| {
            let mut to = vec![usize::MAX; all];
            for list in [outer, bore] {
                let shift = list.len() / p;
                for (i, &k) in list.iter().enumerate() {
                    let other = list[(i + shift) % list.len()];
                    let (a, b) = (&loads[k], &loads[other]);
                    if angle_between(a.centre + TAU / p as f64, b.centre).abs() > ALIKE
                        || !a.is_like(b)
                    {
                        return None;
                    }
                    to[k] = other;
                }
            }
            Some(to)
        })
}

impl Elastic for Ring {
    fn pressures(&self) -> usize {
        self.loads.len()
    }

    fn rigid_body_modes(&self) -> usize {
        2
    }

    fn rigid_work(&self, pressure: usize, mode: usize) -> f64 {
        self.resultants[pressure][mode]
    }

    fn compliances(&mut self, pressure: usize, others: &[usize]) -> Vec<f64> {
        self.column(pressure);
        let column = self.columns[pressure].as_ref().expect("made above");
        others.iter().map(|&k| column[k]).collect()
    }

    fn weighted_displacements(&mut self, pressures: &[f64]) -> Vec<f64> {
        let mut moved = vec![0.0; self.loads.len()];
        for (k, &p) in pressures.iter().enumerate() {
            if p != 0.0 {
                self.column(k);
                let column = self.columns[k].as_ref().expect("made above");
                for (m, c) in moved.iter_mut().zip(column) {
                    *m += p * c;
                }
            }
        }
        moved
    }
}
