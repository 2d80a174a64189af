//! The contact problem as a convex quadratic programme.
//!
//! With pressures `p >= 0`, travels `d` and rigid shifts `q` the weighted gaps are
//! `g = g0 + C p - A d + T q >= 0`, `p . g = 0`, with `A' p = F` for driven travels and `T' p = -(dead resultant)`.
//! Travels and shifts are the multipliers of those two equalities in `min ½ p'Cp + g0'p` over `p >= 0`; `C` is positive
//! definite, so the pressures are unique. `search` looks for the hats that carry, `equilibrium` solves with them.

use nalgebra::{DMatrix, DVector};

use super::Rounds;
use super::drive::{Given, Travel};
use super::equilibrium::{Motion, Trial};
use super::pads::Hat;
use crate::linear::{Factor, NodeForce, Wanted};

/// Gaps are taken as closed within this share of the largest term they are summed from: the rounding of that sum.
pub(super) const ROUNDING: f64 = 1e-11;

/// Share of the forces that may be left over: a direction that the contact hardly resists is left free, and what the
/// rounding of a thin ring puts along it stays. A hold that is loose leaves a good part of its forces.
pub(super) const UNBALANCED: f64 = 1e-5;

/// Steps in which free motions make way for open hats.
const MOST_STEPS: usize = 40;

/// What the programme is made of.
pub(super) struct Programme<'a> {
    pub factor: &'a dyn Factor,
    pub hats: &'a [Hat],
    pub travels: &'a [Travel],
    /// Give of what carries each body, mm/N.
    pub springs: &'a [f64],
    /// Displacement under dead loads, weighted with each hat's load: mm N per MPa, as `Hat::gap`.
    pub dead: &'a [f64],
    /// Resultant of the dead loads, N.
    pub dead_resultant: [f64; 2],
    /// Number of sleeves; each finds its place as the part does.
    pub sleeves: usize,
    /// Hears of every round.
    pub watch: &'a Rounds<'a>,
}

/// Its solution.
#[derive(Clone, Debug)]
pub(super) struct Solution {
    /// Pressure of each hat, MPa.
    pub pressures: Vec<f64>,
    /// Gap of each hat, mm, weighted mean over the hat.
    pub gaps: Vec<f64>,
    /// Which hats carry.
    pub active: Vec<bool>,
    /// Travel of each entry of `travels`, mm.
    pub travels: Vec<f64>,
    /// Shift of the part beside its pinned place, mm.
    pub shift: [f64; 2],
    /// Directions (travels by entry, then shift) that nothing resists.
    pub free: Vec<(Vec<f64>, [f64; 2])>,
    /// Left-over of the equalities, N.
    pub unbalanced: f64,
    /// Rounds taken.
    pub rounds: usize,
}

impl Programme<'_> {
    /// Driven travels, by entry.
    pub(super) fn driven(&self) -> Vec<usize> {
        (0..self.travels.len())
            .filter(|&k| self.travels[k].is_forced())
            .collect()
    }

    /// Column of `H` for a hat: how its pressure drives each driven travel, then minus its resultant.
    pub(super) fn drives(&self, driven: &[usize], hat: usize, col: usize) -> f64 {
        let h = &self.hats[hat];
        match driven.get(col) {
            Some(&travel) => self.travels[travel].share(h.body) * h.along,
            None => {
                let row = col - driven.len();
                -h.on(row / 2)[row % 2]
            }
        }
    }

    /// Right-hand side of the equalities: forces of driven travels, then the resultant of the dead loads on the part and on each
    /// sleeve.
    pub(super) fn wanted_forces(&self, driven: &[usize]) -> DVector<f64> {
        DVector::from_fn(driven.len() + 2 + 2 * self.sleeves, |k, _| {
            match driven.get(k).map(|&t| self.travels[t].given) {
                Some(Given::Force(f)) => f,
                _ => {
                    let row = k - driven.len();
                    self.dead_resultant.get(row).copied().unwrap_or(0.0)
                }
            }
        })
    }

    /// Sum of the sizes of the forces at work, N.
    pub(super) fn forces(&self, trial: &Trial) -> f64 {
        let carried = self.hats.iter().zip(&trial.pressures);
        let given = self.wanted_forces(&self.driven());
        carried.map(|(h, p)| (h.along * p).abs()).sum::<f64>() + given.abs().sum()
    }

    /// A travel driven by a force needs something to press with: its least open hat.
    pub(super) fn keep_drivable(&self, active: &mut [bool]) {
        for travel in self.travels {
            let belongs = |h: &usize| travel.share(self.hats[*h].body) != 0.0;
            if travel.is_forced() && !(0..active.len()).filter(belongs).any(|h| active[h]) {
                let gap = |h: &usize| self.hats[*h].gap / self.hats[*h].area;
                if let Some(h) = (0..active.len())
                    .filter(belongs)
                    .min_by(|a, b| gap(a).total_cmp(&gap(b)))
                {
                    active[h] = true;
                }
            }
        }
    }

    /// Weighted gap before pressures, driven travels and shift act.
    pub(super) fn start_gap(&self, hat: usize) -> f64 {
        let h = &self.hats[hat];
        let fixed: f64 = self
            .travels
            .iter()
            .map(|t| match t.given {
                Given::Position(d) => d * t.share(h.body),
                Given::Force(_) => 0.0,
            })
            .sum();
        h.gap + self.dead[hat] - fixed * h.along
    }

    /// How far driven travels (mm, one an entry of `travels`) move a body; those given as positions are in the gap to start with.
    fn driven_by(&self, body: usize, travels: &[f64]) -> f64 {
        self.travels
            .iter()
            .zip(travels)
            .filter(|(t, _)| t.is_forced())
            .map(|(t, d)| t.share(body) * d)
            .sum()
    }

    /// Weighted gap of a hat per pressure of another from what gives in series with the part: the layer on their face and
    /// what carries their body.
    pub(super) fn in_series(&self, a: usize, b: usize) -> f64 {
        let (a, b) = (&self.hats[a], &self.hats[b]);
        if a.body != b.body {
            return 0.0;
        }
        let layer = a
            .layer
            .iter()
            .find(|l| a.piece == b.piece && l.0 == b.place);
        layer.map_or(0.0, |l| l.1) + self.springs[a.body] * a.along * b.along
    }

    /// What gives in series with the part adds this to the weighted gap of a hat; `carried` is the force of its body, N.
    fn given_way(&self, hat: usize, pressures: &[f64], carried: f64) -> f64 {
        let h = &self.hats[hat];
        let layer: f64 = h
            .layer
            .iter()
            .map(|&(place, give)| give * pressures[hat + place - h.place])
            .sum();
        layer + self.springs[h.body] * carried * h.along
    }

    /// Unknowns of the reduced system as travels (0 where given) and shifts of the part and the sleeves.
    pub(super) fn spread(&self, driven: &[usize], z: &[f64]) -> Motion {
        let mut travels = vec![0.0; self.travels.len()];
        for (&t, v) in driven.iter().zip(z) {
            travels[t] = *v;
        }
        let shifts = z[driven.len()..].chunks_exact(2).map(|q| [q[0], q[1]]);
        (travels, shifts.collect())
    }

    /// Gap of each hat (mm), and how far below zero rounding may take it.
    pub(super) fn gaps(
        &self,
        trial: &Trial,
        nodes: &[usize],
        wanted: &Wanted,
        work: &mut Vec<f64>,
    ) -> (Vec<f64>, Vec<f64>) {
        let load = self.load(&trial.pressures);
        let moved = self.factor.respond(&load, wanted, work);
        let at = |node: usize| {
            moved[nodes
                .binary_search(&node)
                .expect("every loaded node is wanted")]
        };
        let mut carried = vec![0.0; self.springs.len()];
        for (h, p) in self.hats.iter().zip(&trial.pressures) {
            carried[h.body] += h.along * p;
        }
        let mut closed = Vec::with_capacity(self.hats.len());
        let gaps = self
            .hats
            .iter()
            .enumerate()
            .map(|(k, hat)| {
                let travel = self.driven_by(hat.body, &trial.travels);
                let elastic: f64 = hat
                    .load
                    .iter()
                    .map(|&(n, f)| f[0] * at(n)[0] + f[1] * at(n)[1])
                    .sum();
                let terms = [
                    self.start_gap(k),
                    elastic,
                    -travel * hat.along,
                    hat.shifted(&trial.shifts),
                    self.given_way(k, &trial.pressures, carried[hat.body]),
                ];
                let size = terms.iter().fold(hat.gap.abs(), |m, t| m.max(t.abs()));
                closed.push(ROUNDING * size / hat.area);
                terms.iter().sum::<f64>() / hat.area
            })
            .collect();
        (gaps, closed)
    }

    /// Moves along the free directions until open hats overlap as little as they can (least squares of the overlaps, by Newton's
    /// method): what a free motion can undo is no reason for a hat to carry, and would come back in every set.
    pub(super) fn make_way(
        &self,
        trial: &mut Trial,
        active: &[bool],
        gaps: &mut [f64],
        closed: &[f64],
    ) {
        if trial.free.is_empty() {
            return;
        }
        let opening = |hat: usize, (d, q): &Motion| {
            let h = &self.hats[hat];
            (h.shifted(q) - self.driven_by(h.body, d) * h.along) / h.area
        };
        for _ in 0..MOST_STEPS {
            let over: Vec<usize> = (0..gaps.len())
                .filter(|&h| !active[h] && gaps[h] < -closed[h])
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
                for (t, d) in trial.travels.iter_mut().zip(&direction.0) {
                    *t += a * d;
                }
                for (s, q) in trial.shifts.iter_mut().zip(&direction.1) {
                    s[0] += a * q[0];
                    s[1] += a * q[1];
                }
                for (h, gap) in gaps.iter_mut().enumerate() {
                    // carrying hats stay closed: that is what makes the direction free
                    if !active[h] {
                        *gap += a * opening(h, direction);
                    }
                }
            }
        }
    }

    /// Nodal forces of pressures on the hats.
    pub(super) fn load(&self, pressures: &[f64]) -> Vec<NodeForce> {
        let mut load: Vec<NodeForce> = Vec::new();
        for (hat, &p) in self.hats.iter().zip(pressures) {
            if p != 0.0 {
                load.extend(hat.load.iter().map(|&(n, f)| (n, [p * f[0], p * f[1]])));
            }
        }
        load
    }
}
