//! Which pressures become each other when the ring is turned: equal jaws at equal angles are one jaw to it.

use std::f64::consts::TAU;

use super::ALIKE;
use super::load::RingLoad;
use crate::geometry::{Surface, angle_between};

/// The pressures of a hold in orbits: those that become each other when the ring is turned by the least angle that leaves the hold as it is.
#[derive(Clone)]
pub(super) struct Orbits {
    /// Orbit of each pressure, and by how many turns it is ahead of the first of the orbit.
    of: Vec<(u32, u32)>,
    /// Pressures of each orbit, each a turn ahead of the one before. An orbit's first is its lowest pressure.
    members: Vec<Vec<usize>>,
    /// By turns: the pressures that follow each other both here and turned, as `[here, turned, count]`.
    runs: Vec<Vec<[usize; 3]>>,
}

impl Orbits {
    pub fn new(loads: &[RingLoad]) -> Self {
        let all = loads.len();
        let turned = turned(loads).unwrap_or_else(|| (0..all).collect());
        let mut of = vec![(u32::MAX, 0); all];
        let mut members: Vec<Vec<usize>> = Vec::new();
        for k in 0..all {
            if of[k].0 != u32::MAX {
                continue;
            }
            let mut orbit = Vec::new();
            let mut at = k;
            while of[at].0 == u32::MAX {
                of[at] = (members.len() as u32, orbit.len() as u32);
                orbit.push(at);
                at = turned[at];
            }
            members.push(orbit);
        }
        let mut orbits = Self {
            of,
            members,
            runs: Vec::new(),
        };
        orbits.runs = (0..orbits.turns()).map(|s| orbits.runs_of(s)).collect();
        orbits
    }

    /// Orbits.
    pub fn len(&self) -> usize {
        self.members.len()
    }

    /// Turns that bring every pressure back to its own place.
    pub fn turns(&self) -> usize {
        self.members.first().map_or(1, Vec::len)
    }

    /// Orbit of a pressure, and by how many turns it is ahead of its first.
    pub fn of(&self, pressure: usize) -> (usize, usize) {
        let (orbit, turns) = self.of[pressure];
        (orbit as usize, turns as usize)
    }

    /// The pressures of an orbit, each a turn ahead of the one before.
    pub fn members(&self, orbit: usize) -> &[usize] {
        &self.members[orbit]
    }

    /// A pressure so many turns behind another.
    pub fn behind(&self, pressure: usize, turns: usize) -> usize {
        let (orbit, ahead) = self.of(pressure);
        let all = self.turns();
        self.members[orbit][(ahead + all - turns) % all]
    }

    /// Pressures that follow each other both here and so many turns ahead, as `[here, ahead, count]`.
    pub fn runs(&self, turns: usize) -> &[[usize; 3]] {
        &self.runs[turns]
    }

    fn runs_of(&self, turns: usize) -> Vec<[usize; 3]> {
        let mut runs: Vec<[usize; 3]> = Vec::new();
        for here in 0..self.of.len() {
            let (orbit, at) = self.of(here);
            let ahead = self.members[orbit][(at + turns) % self.turns()];
            match runs.last_mut() {
                Some([_, to, count]) if *to + *count == ahead => *count += 1,
                _ => runs.push([here, ahead, 1]),
            }
        }
        runs
    }
}

/// Finds which load each becomes when the ring is turned by the least angle that leaves them all as they are; `None` if there is none.
pub(super) fn turned(loads: &[RingLoad]) -> Option<Vec<usize>> {
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
