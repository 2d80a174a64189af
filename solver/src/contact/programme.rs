//! The contact problem as a convex quadratic programme, solved exactly.
//!
//! With pressures `p >= 0`, travels `d` and rigid shifts `q` the weighted gaps are
//! `g = g0 + C p - A d + T q >= 0`, `p . g = 0`, with `A' p = F` for driven travels and `T' p = -(dead resultant)`.
//! Travels and shifts are the multipliers of those two equalities in `min ½ p'Cp + g0'p` over `p >= 0`; `C` is positive
//! definite, so the pressures are unique, and the active set below ends at them or says that it did not.
//! Primal-dual active set: Hintermüller, Ito and Kunisch, SIAM J. Optim. 13 (2003) 865 (from memory); when a set comes back,
//! descent from a feasible set, which cannot come back.

use faer::dyn_stack::{MemBuffer, MemStack};
use faer::linalg::cholesky::llt;
use faer::{Mat, Par};
use nalgebra::{DMatrix, DVector, SymmetricEigen};

use super::Rounds;
use super::drive::{Given, Travel};
use super::pads::Hat;
use crate::linear::{Factor, NodeForce, Reduced, Wanted};
use crate::watch::Stop;

/// Sets tried before the search goes on by descent. Ordinary cases take 3 to 10.
const MOST_SETS: usize = 40;

/// Rounds before the search gives up. Descent takes at most a few a hat.
const MOST_ROUNDS: usize = 4000;

/// Directions of the travels and shifts that the contact resists less than this share of the stiffest are free.
const FREE: f64 = 1e-9;

/// Pressures below this share of the largest are none, while the search goes on by descent.
const NOTHING: f64 = 1e-10;

/// Gaps are taken as closed within this share of the largest term they are summed from: the rounding of that sum.
const ROUNDING: f64 = 1e-11;

/// Share of the forces that may be left over: a direction that the contact hardly resists is left free, and what the
/// rounding of a thin ring puts along it stays. A hold that is loose leaves a good part of its forces.
pub(super) const UNBALANCED: f64 = 1e-5;

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

/// Why there is no solution.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Unsolved {
    /// The active set kept changing.
    Cycled {
        rounds: usize,
        /// The hat that changed last.
        hat: usize,
    },
    /// Whoever watches ended the search.
    Stopped(Stop),
}

/// One trial with a given active set.
struct Trial {
    pressures: Vec<f64>,
    travels: Vec<f64>,
    /// Shift of the part, then of each sleeve, mm.
    shifts: Vec<[f64; 2]>,
    free: Vec<Motion>,
    unbalanced: f64,
}

/// Travels by entry, then shifts of the part and of each sleeve.
type Motion = (Vec<f64>, Vec<[f64; 2]>);

/// Compliance between hats, made when first asked for and kept.
struct Compliance<'a> {
    programme: &'a Programme<'a>,
    reduced: Vec<Option<(usize, Reduced)>>,
    /// Row `k`: the `k`-th hat made against those made before it and itself.
    rows: Vec<Vec<f64>>,
    made: Vec<usize>,
    work: Vec<f64>,
}

impl<'a> Compliance<'a> {
    fn new(programme: &'a Programme<'a>) -> Self {
        Self {
            programme,
            reduced: vec![None; programme.hats.len()],
            rows: Vec::new(),
            made: Vec::new(),
            work: Vec::new(),
        }
    }

    fn make(&mut self, hat: usize) {
        if self.reduced[hat].is_some() {
            return;
        }
        let Programme { factor, hats, .. } = self.programme;
        let new = factor.reduce(&hats[hat].load, &mut self.work);
        let mut row: Vec<f64> = self
            .made
            .iter()
            .map(|&other| {
                let made = self.reduced[other].as_ref().expect("listed as made");
                made.1.dot(&new) + self.programme.in_series(other, hat)
            })
            .collect();
        row.push(new.dot(&new) + self.programme.in_series(hat, hat));
        self.reduced[hat] = Some((self.made.len(), new));
        self.rows.push(row);
        self.made.push(hat);
    }

    fn between(&self, a: usize, b: usize) -> f64 {
        let at = |h: usize| self.reduced[h].as_ref().expect("made before use").0;
        let (i, j) = (at(a), at(b));
        self.rows[i.max(j)][i.min(j)]
    }
}

/// What makes a hat offend: its size relative to the worst of its kind.
struct Offences {
    gaps: Vec<f64>,
    /// Pressures below these are rounding: they move their own gap by less than its sum is exact to.
    least: Vec<f64>,
    /// Zero for hats that do not offend.
    size: Vec<f64>,
}

impl Offences {
    fn worst(&self) -> Option<usize> {
        (0..self.size.len())
            .filter(|&h| self.size[h] > 0.0)
            .max_by(|&a, &b| self.size[a].total_cmp(&self.size[b]).then(b.cmp(&a)))
    }
}

/// What a search needs beside the programme.
struct Search<'a> {
    programme: &'a Programme<'a>,
    compliance: Compliance<'a>,
    nodes: Vec<usize>,
    wanted: Wanted,
    work: Vec<f64>,
    rounds: usize,
    stopped: Option<Stop>,
}

impl<'a> Programme<'a> {
    /// Solves the programme, starting from a set of carrying hats.
    pub(super) fn solve(&'a self, start: Vec<bool>) -> Result<Solution, Unsolved> {
        let mut nodes: Vec<usize> = self
            .hats
            .iter()
            .flat_map(|h| h.load.iter().map(|l| l.0))
            .collect();
        nodes.sort_unstable();
        nodes.dedup();
        let mut search = Search {
            programme: self,
            compliance: Compliance::new(self),
            wanted: self.factor.wanted(&nodes),
            nodes,
            work: Vec::new(),
            rounds: 0,
            stopped: None,
        };
        let found = match search.by_sets(start) {
            Ok(solution) => Ok(solution),
            Err(last) => search.by_descent(last),
        };
        match search.stopped {
            Some(stop) => Err(Unsolved::Stopped(stop)),
            None => found,
        }
    }
}

impl Search<'_> {
    /// Takes in every hat that overlaps and lets go every one that pulls, until none does. Fast, but the sets can come
    /// back; then the last set is returned as an error.
    fn by_sets(&mut self, start: Vec<bool>) -> Result<Solution, Vec<bool>> {
        let mut active = start;
        let mut seen: Vec<Vec<bool>> = Vec::new();
        for _ in 0..MOST_SETS {
            self.programme.keep_drivable(&mut active);
            if seen.contains(&active) {
                break;
            }
            let Some(mut trial) = self.trial(&active) else {
                break;
            };
            let offences = self.offences(&mut trial, &active);
            if offences.worst().is_none() {
                // a set that has let go too much cannot balance the forces, and looks settled
                if trial.unbalanced > UNBALANCED * self.programme.forces(&trial) {
                    break;
                }
                return Ok(self.solution(trial, active, offences));
            }
            seen.push(active.clone());
            for (a, offence) in active.iter_mut().zip(&offences.size) {
                *a ^= *offence > 0.0;
            }
        }
        Err(active)
    }

    /// Goes down the energy from one feasible set of pressures to the next, as Lawson and Hanson do for least squares
    /// (*Solving Least Squares Problems*, 1974, ch. 23; from memory): hats are taken in by their overlap, and a step that would
    /// make a pressure negative stops where it reaches zero. The energy falls at every step, so no set comes back.
    fn by_descent(&mut self, hint: Vec<bool>) -> Result<Solution, Unsolved> {
        let n = self.programme.hats.len();
        let mut pressures = self.programme.feasible();
        let mut active: Vec<bool> = (0..n).map(|h| hint[h] || pressures[h] > 0.0).collect();
        let mut last = 0;
        // hats taken in together may all have to leave again; then only the worst is taken in, which always helps
        let mut single = false;
        let mut fresh: Vec<usize> = Vec::new();
        while self.rounds < MOST_ROUNDS {
            let Some(mut trial) = self.trial(&active) else {
                break;
            };
            // where the forces alone decide, a hat taken in carries nothing but rounding, of either sign
            let largest = trial.pressures.iter().fold(0.0_f64, |m, p| m.max(p.abs()));
            let pulls = |p: f64| p < -NOTHING * largest;
            let blocked = (0..n)
                .filter(|&h| active[h] && pulls(trial.pressures[h]))
                .map(|h| {
                    let from = pressures[h].max(0.0);
                    (from / (from - trial.pressures[h]), h)
                })
                .min_by(|a, b| a.0.total_cmp(&b.0));
            if let Some((step, stop)) = blocked {
                for h in 0..n {
                    pressures[h] += step * (trial.pressures[h] - pressures[h]);
                    if active[h]
                        && (h == stop || (pulls(trial.pressures[h]) && pressures[h] <= 0.0))
                    {
                        pressures[h] = 0.0;
                        active[h] = false;
                    }
                }
                last = stop;
                continue;
            }
            let progress = fresh.is_empty() || fresh.iter().any(|&h| active[h]);
            pressures.clone_from(&trial.pressures);
            let offences = self.offences(&mut trial, &active);
            let Some(worst) = offences.worst() else {
                return Ok(self.solution(trial, active, offences));
            };
            single = !progress || (single && fresh.len() > 1);
            fresh = if single {
                vec![worst]
            } else {
                (0..n).filter(|&h| offences.size[h] > 0.0).collect()
            };
            for &h in &fresh {
                active[h] = true;
            }
            last = worst;
        }
        Err(Unsolved::Cycled {
            rounds: self.rounds,
            hat: last,
        })
    }

    /// The equilibrium with these hats carrying; `None` if rounding has made their compliances dependent, or the search was ended.
    fn trial(&mut self, active: &[bool]) -> Option<Trial> {
        self.rounds += 1;
        self.stopped = (self.programme.watch)(self.rounds).err();
        if self.stopped.is_some() {
            return None;
        }
        let list: Vec<usize> = (0..active.len()).filter(|&h| active[h]).collect();
        for &h in &list {
            self.compliance.make(h);
        }
        self.programme.trial(&list, &self.compliance)
    }

    /// Which carrying hats pull and which open ones overlap, beyond what rounding can do.
    fn offences(&mut self, trial: &mut Trial, active: &[bool]) -> Offences {
        let hats = self.programme.hats;
        let (mut gaps, closed) =
            self.programme
                .gaps(trial, &self.nodes, &self.wanted, &mut self.work);
        self.programme.make_way(trial, active, &mut gaps, &closed);
        let largest = |values: &[f64]| values.iter().fold(f64::MIN_POSITIVE, |m, v| m.max(v.abs()));
        let (p_scale, g_scale) = (largest(&trial.pressures), largest(&gaps));
        let least: Vec<f64> = (0..hats.len())
            .map(|h| {
                if active[h] {
                    closed[h] * hats[h].area / self.compliance.between(h, h)
                } else {
                    0.0
                }
            })
            .collect();
        let size = (0..hats.len())
            .map(|h| {
                if active[h] {
                    let p = trial.pressures[h];
                    if p < -least[h] { -p / p_scale } else { 0.0 }
                } else if gaps[h] < -closed[h] {
                    -gaps[h] / g_scale
                } else {
                    0.0
                }
            })
            .collect();
        Offences { gaps, least, size }
    }

    fn solution(&self, trial: Trial, active: Vec<bool>, offences: Offences) -> Solution {
        Solution {
            pressures: trial
                .pressures
                .iter()
                .zip(&offences.least)
                .map(|(&p, &least)| if p > least { p } else { 0.0 })
                .collect(),
            gaps: offences.gaps,
            active,
            travels: trial.travels,
            shift: trial.shifts[0],
            free: trial.free.into_iter().map(|(d, q)| (d, q[0])).collect(),
            unbalanced: trial.unbalanced,
            rounds: self.rounds,
        }
    }
}

impl Programme<'_> {
    /// Driven travels, by entry.
    fn driven(&self) -> Vec<usize> {
        (0..self.travels.len())
            .filter(|&k| self.travels[k].is_forced())
            .collect()
    }

    /// Column of `H` for a hat: how its pressure drives each driven travel, then minus its resultant.
    fn drives(&self, driven: &[usize], hat: usize, col: usize) -> f64 {
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
    fn wanted_forces(&self, driven: &[usize]) -> DVector<f64> {
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

    /// Pressures, not negative, that meet the equalities as well as they can be met: non-negative least squares on the few
    /// equalities.
    fn feasible(&self) -> Vec<f64> {
        let driven = self.driven();
        let rhs = self.wanted_forces(&driven);
        let (m, n) = (rhs.len(), self.hats.len());
        let column = |h: usize| DVector::from_fn(m, |k, _| self.drives(&driven, h, k));
        let mut pressures = vec![0.0; n];
        let mut list: Vec<usize> = Vec::new();
        for _ in 0..4 * m {
            let left = list
                .iter()
                .fold(rhs.clone(), |left, &h| left - column(h) * pressures[h]);
            if left.norm() <= 1e-12 * rhs.norm() {
                break;
            }
            let gain = |h: usize| column(h).dot(&left) / column(h).norm().max(f64::MIN_POSITIVE);
            let Some(best) = (0..n)
                .filter(|h| !list.contains(h))
                .max_by(|&a, &b| gain(a).total_cmp(&gain(b)).then(b.cmp(&a)))
                .filter(|&h| gain(h) > 1e-12 * rhs.norm())
            else {
                break;
            };
            list.push(best);
            loop {
                let a = DMatrix::from_columns(&list.iter().map(|&h| column(h)).collect::<Vec<_>>());
                let Ok(x) = a.svd(true, true).solve(&rhs, 1e-13) else {
                    break;
                };
                let blocked = list
                    .iter()
                    .zip(x.iter())
                    .filter(|(_, x)| **x <= 0.0)
                    .map(|(&h, x)| (pressures[h] / (pressures[h] - x).max(f64::MIN_POSITIVE), h))
                    .min_by(|a, b| a.0.total_cmp(&b.0));
                let step = blocked.map_or(1.0, |b| b.0);
                for (&h, x) in list.iter().zip(x.iter()) {
                    pressures[h] += step * (x - pressures[h]);
                }
                let Some((_, stop)) = blocked else { break };
                pressures[stop] = 0.0;
                list.retain(|&h| h != stop);
                if list.is_empty() {
                    break;
                }
            }
        }
        pressures
    }

    /// Sum of the sizes of the forces at work, N.
    fn forces(&self, trial: &Trial) -> f64 {
        let carried = self.hats.iter().zip(&trial.pressures);
        let given = self.wanted_forces(&self.driven());
        carried.map(|(h, p)| (h.along * p).abs()).sum::<f64>() + given.abs().sum()
    }

    /// A travel driven by a force needs something to press with: its least open hat.
    fn keep_drivable(&self, active: &mut [bool]) {
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
    fn start_gap(&self, hat: usize) -> f64 {
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
    fn in_series(&self, a: usize, b: usize) -> f64 {
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

    fn trial(&self, list: &[usize], compliance: &Compliance) -> Option<Trial> {
        let n = list.len();
        let driven = self.driven();
        let rhs = self.wanted_forces(&driven);
        let m = rhs.len();
        let h_entry = |hat: usize, col: usize| self.drives(&driven, hat, col);
        let mut c = Mat::<f64>::from_fn(n, n, |i, j| compliance.between(list[i], list[j]));
        // right-hand sides C^-1 [H, g]
        let mut x = Mat::<f64>::from_fn(n, m + 1, |i, j| {
            if j < m {
                h_entry(list[i], j)
            } else {
                self.start_gap(list[i])
            }
        });
        solve_spd(&mut c, &mut x)?;
        let weigh =
            |a: usize, b: usize| -> f64 { (0..n).map(|i| h_entry(list[i], a) * x[(i, b)]).sum() };
        let s = DMatrix::from_fn(m, m, |a, b| 0.5 * (weigh(a, b) + weigh(b, a)));
        let load = DVector::from_fn(m, |a, _| rhs[a] + weigh(a, m));
        let eigen = SymmetricEigen::new(s);
        let stiffest = eigen.eigenvalues.iter().fold(0.0_f64, |a, &b| a.max(b));
        let mut z = DVector::zeros(m);
        let mut free = Vec::new();
        for k in 0..m {
            let v = eigen.eigenvectors.column(k);
            if eigen.eigenvalues[k] > FREE * stiffest {
                z += v * (v.dot(&load) / eigen.eigenvalues[k]);
            } else {
                free.push(self.spread(&driven, v.as_slice()));
            }
        }
        let mut pressures = vec![0.0; self.hats.len()];
        for (i, &hat) in list.iter().enumerate() {
            pressures[hat] = (0..m).map(|k| x[(i, k)] * z[k]).sum::<f64>() - x[(i, m)];
        }
        let unbalanced = (0..m)
            .map(|k| {
                (list
                    .iter()
                    .map(|&h| h_entry(h, k) * pressures[h])
                    .sum::<f64>()
                    - rhs[k])
                    .abs()
            })
            .fold(0.0, f64::max);
        let (mut travels, shifts) = self.spread(&driven, z.as_slice());
        for (t, travel) in travels.iter_mut().zip(self.travels) {
            if let Given::Position(d) = travel.given {
                *t = d;
            }
        }
        Some(Trial {
            pressures,
            travels,
            shifts,
            free,
            unbalanced,
        })
    }

    /// Unknowns of the reduced system as travels (0 where given) and shifts of the part and the sleeves.
    fn spread(&self, driven: &[usize], z: &[f64]) -> Motion {
        let mut travels = vec![0.0; self.travels.len()];
        for (&t, v) in driven.iter().zip(z) {
            travels[t] = *v;
        }
        let shifts = z[driven.len()..].chunks_exact(2).map(|q| [q[0], q[1]]);
        (travels, shifts.collect())
    }

    /// Gap of each hat (mm), and how far below zero rounding may take it.
    fn gaps(
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
    fn make_way(&self, trial: &mut Trial, active: &[bool], gaps: &mut [f64], closed: &[f64]) {
        if trial.free.is_empty() {
            return;
        }
        let opening = |hat: usize, (d, q): &Motion| {
            let h = &self.hats[hat];
            (h.shifted(q) - self.driven_by(h.body, d) * h.along) / h.area
        };
        for _ in 0..MOST_SETS {
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

/// Solves `C X = B` in place, serially; `None` if `C` is not positive definite, as compliances between independent loads are.
fn solve_spd(c: &mut Mat<f64>, x: &mut Mat<f64>) -> Option<()> {
    let n = c.nrows();
    let mut memory = MemBuffer::new(llt::factor::cholesky_in_place_scratch::<f64>(
        n,
        Par::Seq,
        Default::default(),
    ));
    llt::factor::cholesky_in_place(
        c.as_mut(),
        Default::default(),
        Par::Seq,
        MemStack::new(&mut memory),
        Default::default(),
    )
    .ok()?;
    let mut memory = MemBuffer::new(llt::solve::solve_in_place_scratch::<f64>(
        n,
        x.ncols(),
        Par::Seq,
    ));
    llt::solve::solve_in_place(c.as_ref(), x.as_mut(), Par::Seq, MemStack::new(&mut memory));
    Some(())
}
