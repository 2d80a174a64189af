//! A round ring behind contact, by its closed-form series: no mesh, any width of contact.
//!
//! The displacement at an angle from a unit line force is the series' kernel: a logarithm, and a rest that is smooth. Compliances
//! between pressures are double integrals of it over their shape functions. Where two are close the logarithm is integrated in closed
//! form, else both are replaced by two points with their area, centre and spread.

mod integrals;
mod kernels;
mod load;
mod orbits;
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
use kernels::{Row, SMOOTH, SMOOTH_ALL_ROUND};
use orbits::Orbits;
use profiles::Near;

/// Widths of a segment from which two points stand for it.
const APART: f64 = 4.0;

/// Compliances that are worth a thread.
const TOGETHER: usize = 512;

/// Loads that are worth one, to be made and to be seen nearby.
const LOADS_TOGETHER: usize = 32;
const NEAR_TOGETHER: usize = 16;

/// Angles that differ by less are one, rad.
const ALIKE: f64 = 1e-12;

/// A round ring under the pressures of a hold.
#[derive(Clone)]
pub(super) struct Ring {
    kernels: Arc<RingKernels>,
    loads: Vec<RingLoad>,
    resultants: Vec<[f64; 2]>,
    /// Pressures that the ring's turning makes of each other.
    orbits: Orbits,
    /// Compliances of the first pressure of each orbit with all, as they are asked for.
    rows: Vec<Option<Vec<f64>>>,
    arch: pulp::Arch,
    /// What each unit pressure adds to the profiles near it, as it is asked for.
    near: Vec<Option<Vec<Near>>>,
    /// Pressures of each pad that goes all round: equal ones are even.
    all_round: Vec<Vec<usize>>,
}

impl Ring {
    /// A wall as a ring under those of some pressures that act on it, in their order.
    pub fn new(kernels: Arc<RingKernels>, dofs: &[PressureDof], wall: WallId) -> Self {
        let pressed = || {
            let on = dofs.iter();
            on.filter_map(move |d| Some((d, d.on(wall)?)))
        };
        let pads: Vec<(&PressureDof, Surface)> = pressed().collect();
        // shape functions that go all round cover every place twice, each rising while its neighbour falls
        let (mut all_round, mut first, mut all) = (Vec::new(), 0, 0.0);
        for pad in pads.chunk_by(|(a, on), (b, also)| a.body == b.body && on == also) {
            let segments = pad.iter().flat_map(|(d, _)| &d.segments);
            let covered: f64 = segments.map(|s| s.to - s.from).sum();
            if (covered - 2.0 * TAU).abs() < 1e-9 {
                all_round.push((first..first + pad.len()).collect());
            }
            first += pad.len();
            all += covered;
        }
        // a uniform pressure shows what the rules leave at every load alike
        let share = if all > 1.9 * TAU {
            SMOOTH_ALL_ROUND
        } else {
            SMOOTH
        };
        let loads: Vec<RingLoad> = pads
            .into_par_iter()
            .with_min_len(LOADS_TOGETHER)
            .map(|(d, surface)| kernels.load_in(surface, &d.segments, share))
            .collect();
        let orbits = Orbits::new(&loads);
        Self {
            kernels,
            resultants: loads.iter().map(RingLoad::resultant).collect(),
            rows: vec![None; orbits.len()],
            orbits,
            arch: pulp::Arch::new(),
            near: vec![None; loads.len()],
            loads,
            all_round,
        }
    }

    /// Pressures without what is even in those that go all round, which goes into the growth of each surface (mm): no rule of integration then leaves
    /// its traces on a part that comes out round.
    fn without_even(&self, pressures: &[f64], even: &mut PerSurface<f64>) -> Vec<f64> {
        let mut uneven = pressures.to_vec();
        for pad in &self.all_round {
            let least = pad.iter().fold(f64::INFINITY, |m, &k| m.min(uneven[k]));
            let surface = self.loads[pad[0]].surface;
            let area: f64 = pad.iter().map(|&k| self.loads[k].bending[0][0]).sum();
            for read in Surface::BOTH {
                let grows = self.kernels.between(surface, read).bending()[0];
                *even.get_mut(read) -= surface.outward() * grows * area * least;
            }
            pad.iter().for_each(|&k| uneven[k] -= least);
        }
        uneven
    }

    /// The pressures as loads.
    pub fn loads(&self) -> &[RingLoad] {
        &self.loads
    }

    /// Makes the compliances of some orbits that are not there yet. The value of a pair of pressures is that of the first of the lower orbit with
    /// whatever turning makes of the other, whichever is asked for, so it does not depend on what was asked before.
    fn make(&mut self, mut asked: Vec<usize>) {
        asked.retain(|&o| self.rows[o].is_none());
        asked.sort_unstable();
        asked.dedup();
        if asked.is_empty() {
            return;
        }
        let mut place = vec![None; self.orbits.len()];
        for (k, &orbit) in asked.iter().enumerate() {
            place[orbit] = Some(k);
        }
        let together = TOGETHER.div_ceil(self.loads.len());
        let mut rows: Vec<Vec<f64>> = asked
            .par_iter()
            .with_min_len(together)
            .map(|&orbit| self.row(orbit, &place))
            .collect();
        // what a lower orbit of these has computed
        for (k, &orbit) in asked.iter().enumerate() {
            let (before, rest) = rows.split_at_mut(k);
            for (&other, row) in asked.iter().zip(before) {
                for (turns, &member) in self.orbits.members(other).iter().enumerate() {
                    rest[0][member] = row[self.first_behind(orbit, turns)];
                }
            }
        }
        for (&orbit, row) in asked.iter().zip(rows) {
            self.rows[orbit] = Some(row);
        }
    }

    /// The pressure that the first of an orbit becomes when it is turned back.
    fn first_behind(&self, orbit: usize, turns: usize) -> usize {
        self.orbits.behind(self.orbits.members(orbit)[0], turns)
    }

    /// Compliances of the first pressure of an orbit with all but those of lower orbits that are made besides (`place`), which are left zero.
    fn row(&self, orbit: usize, place: &[Option<usize>]) -> Vec<f64> {
        let first = self.orbits.members(orbit)[0];
        let all = self.orbits.turns();
        let mut row = vec![0.0; self.loads.len()];
        let mut pairs = Vec::with_capacity(row.len());
        for (k, value) in row.iter_mut().enumerate() {
            let (other, turns) = self.orbits.of(k);
            if other == orbit {
                // the same either way round
                let turned = self.orbits.members(orbit)[turns.min(all - turns)];
                pairs.push((k, [first, turned]));
            } else if let Some(known) = &self.rows[other] {
                *value = known[self.first_behind(orbit, turns)];
            } else if other > orbit {
                pairs.push((k, [first, k]));
            } else if place[other].is_none() {
                let lower = self.orbits.members(other)[0];
                pairs.push((k, [lower, self.first_behind(orbit, turns)]));
            }
        }
        self.arch.dispatch(Row {
            kernels: &self.kernels,
            loads: &self.loads,
            pairs: &pairs,
            row: &mut row,
        });
        row
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
        let mut even = even.clone();
        let pressures = self.without_even(pressures, &mut even);
        let pressed = self.loads.iter().zip(pressures.iter().copied());
        let mut all: Vec<(&RingLoad, f64)> = pressed.filter(|l| l.1 != 0.0).collect();
        all.extend(others.iter().map(|l| (*l, 1.0)));
        let mut moved = profiles.far(&self.kernels, &all, &even, shift, surfaces);
        let pressing = |k: &usize| pressures[*k] != 0.0;
        let pressing: Vec<usize> = (0..pressures.len()).filter(pressing).collect();
        self.make_near(profiles, &pressing);
        for k in pressing {
            let near = self.near[k].iter().flatten();
            near.filter(|n| surfaces.contains(&n.read))
                .for_each(|n| n.add(pressures[k], &mut moved));
        }
        for load in others {
            let near = profiles.near(&self.kernels, load);
            near.iter()
                .filter(|n| surfaces.contains(&n.read))
                .for_each(|n| n.add(1.0, &mut moved));
        }
        moved
    }

    /// Makes what a unit of each of some pressures adds near it. Those that the ring's turning makes of each other share it if the profiles' angles
    /// are turned into each other too: then it is that of the first of their orbit.
    fn make_near(&mut self, profiles: &Profiles, pressures: &[usize]) {
        let cells = |orbit: usize, k: usize| {
            let first = self.orbits.members(orbit)[0];
            let by = angle_between(self.loads[first].centre, self.loads[k].centre);
            let by = by * profiles.count as f64 / TAU;
            let whole = (by - by.round()).abs() < 1e-9 * profiles.count as f64;
            whole.then(|| (by.round() as i64).rem_euclid(profiles.count as i64) as usize)
        };
        // whose it is, and by how many angles on
        let missing = pressures.iter().filter(|&&k| self.near[k].is_none());
        let missing: Vec<(usize, usize, usize)> = missing
            .map(|&k| {
                let (orbit, _) = self.orbits.of(k);
                match cells(orbit, k) {
                    Some(by) => (k, self.orbits.members(orbit)[0], by),
                    None => (k, k, 0),
                }
            })
            .collect();
        let known = |k: usize| self.near[k].is_some();
        let mut own: Vec<usize> = missing.iter().map(|m| m.1).filter(|&k| !known(k)).collect();
        own.sort_unstable();
        own.dedup();
        let made: Vec<Vec<Near>> = own
            .par_iter()
            .with_min_len(NEAR_TOGETHER)
            .map(|&k| profiles.near(&self.kernels, &self.loads[k]))
            .collect();
        for (&k, near) in own.iter().zip(made) {
            self.near[k] = Some(near);
        }
        for (k, of, by) in missing.into_iter().filter(|(k, of, _)| k != of) {
            let there = self.near[of].iter().flatten().map(|n| Near {
                first: (n.first + by) % profiles.count,
                ..n.clone()
            });
            self.near[k] = Some(there.collect());
        }
    }

    /// Makes what some pressures' compliances take, all at once.
    fn prepare(&mut self, pressures: &[usize]) {
        self.make(pressures.iter().map(|&k| self.orbits.of(k).0).collect());
    }

    /// Compliances of a pressure that was prepared.
    fn with_others(&self, pressure: usize, others: &[usize]) -> Vec<f64> {
        let (orbit, turns) = self.orbits.of(pressure);
        let row = self.rows[orbit].as_ref().expect("prepared");
        let at = |&k: &usize| row[self.orbits.behind(k, turns)];
        others.iter().map(at).collect()
    }
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
        self.prepare(&[pressure]);
        self.with_others(pressure, others)
    }

    fn all_compliances(&mut self, asked: &[(usize, &[usize])]) -> Vec<Vec<f64>> {
        let pressures: Vec<usize> = asked.iter().map(|a| a.0).collect();
        self.prepare(&pressures);
        asked
            .iter()
            .map(|&(k, others)| self.with_others(k, others))
            .collect()
    }

    fn weighted_displacements(&mut self, pressures: &[f64]) -> Vec<f64> {
        let acting = |k: &usize| pressures[*k] != 0.0;
        let acting: Vec<usize> = (0..pressures.len()).filter(acting).collect();
        self.prepare(&acting);
        let mut moved = vec![0.0; self.loads.len()];
        self.arch.dispatch(Moved {
            ring: self,
            pressures,
            moved: &mut moved,
        });
        moved
    }
}

/// The displacements under pressures whose compliances are made; a type so that it is compiled for the processor's vector width.
struct Moved<'a> {
    ring: &'a Ring,
    pressures: &'a [f64],
    moved: &'a mut [f64],
}

impl pulp::NullaryFnOnce for Moved<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        let orbits = &self.ring.orbits;
        for (k, &p) in self.pressures.iter().enumerate() {
            if p == 0.0 {
                continue;
            }
            let (orbit, turns) = orbits.of(k);
            let Some(row) = &self.ring.rows[orbit] else {
                continue;
            };
            for &[here, ahead, count] in orbits.runs(turns) {
                let moved = &mut self.moved[ahead..ahead + count];
                for (m, c) in moved.iter_mut().zip(&row[here..here + count]) {
                    *m += p * c;
                }
            }
        }
    }
}
