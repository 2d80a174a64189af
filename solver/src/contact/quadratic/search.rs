//! Which pressures are active: the search for the set whose equilibrium has neither overlap nor pull.
//!
//! First by whole sets (primal-dual active set: Hintermüller, Ito and Kunisch, SIAM J. Optim. 13 (2003) 865; from memory): every pressure that
//! overlaps is made active, every active one that pulls is dropped. That takes a few rounds, but has no proof that sets don't come back. When one
//! does, descent from a feasible set: the energy falls from each equilibrium to the next, so none comes back. Rounding may hide
//! whether it falls; a pressure that lowers it by less than rounding when it alone is made active stays inactive for good, so the descent ends
//! whatever the arithmetic does. Both ways are held to a budget of arithmetic besides.

use super::equilibrium::Trial;
use super::gram::Gram;
use super::programme::{Programme, RESIDUAL_TOLERANCE, ROUNDING, Solution};
use crate::contact::elastic::Elastic;
use crate::watch::Stop;

/// Sets tried before the search goes on by descent. Ordinary cases take 3 to 10, a full circle that opens up to 35.
const MOST_SETS: usize = 60;

/// Rounds before a search is given up, sets and descent together; the longest seen took 140. Each costs a response of the whole boundary,
/// on the largest meshes a tenth of a second.
const MOST_ROUNDS: usize = 300;

/// Pressures that are made active at once without counting what it costs; beyond, a set grows no more than twofold in a round, so that a few
/// wide pads that turn out to touch along a line do not cost a factorisation of all that they cover.
const AT_ONCE: usize = 400;

/// Most pressures that may be active at once: their compliances take `n²` numbers and each round `n³ / 3` multiplications, here 150 MB
/// and a second.
const MOST_ACTIVE: usize = 3000;

/// Most multiplications spent on the equilibria of one search: some twenty seconds.
const MOST_WORK: f64 = 1.5e11;

/// Directions of the drives and rigid-body modes that the contact resists less than this share of the stiffest are free.
const FREE: f64 = 1e-9;

/// The same while the search goes on by descent, which must keep the balance of the forces all the way.
const FREE_IN_DESCENT: f64 = 1e-13;

/// Share of the largest term of a gap up to which the arithmetic may be off before an answer is not to be trusted.
const MOST_NOISE: f64 = 1e-7;

/// Steps of iterative refinement at most: what one leaves is the rounding of the gaps themselves.
const REFINEMENTS: usize = 1;

/// Violations that differ by less than this factor are taken alike, as those of equal jaws are but for rounding.
const ALIKE: f64 = 1.0 - 1e-6;

/// Share of its terms by which an energy must fall to have fallen.
const FALL: f64 = 1e-13;

/// No set of active pressures was found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::contact) enum Unsolved {
    /// The set kept changing.
    Cycled {
        rounds: usize,
        /// The pressure that changed last.
        pressure: usize,
    },
    /// More pressures would be active at once than can be solved for.
    TooMany { active: usize, most: usize },
    /// Whoever watches ended the search.
    Stopped(Stop),
}

/// Gaps of all pressures at a trial, and which are rounding, mm.
struct Gaps {
    gaps: Vec<f64>,
    /// Gaps within these are none.
    closed: Vec<f64>,
    /// Most that the arithmetic may be off.
    most_noise: f64,
}

/// What makes a pressure violate the conditions: its size relative to the worst of its kind.
struct Violations {
    /// Gap of each pressure, mm.
    gaps: Vec<f64>,
    /// Most that the arithmetic may be off, mm.
    most_noise: f64,
    /// Pressures below these are rounding, MPa.
    least: Vec<f64>,
    /// Zero for pressures that do not.
    size: Vec<f64>,
}

impl Violations {
    fn worst(&self) -> Option<usize> {
        (0..self.size.len())
            .filter(|&h| self.size[h] > 0.0)
            .max_by(|&a, &b| self.size[a].total_cmp(&self.size[b]).then(b.cmp(&a)))
    }

    /// The least violation among the `most` worst of some pressures, and of those that are worse by rounding only.
    fn least_of(&self, most: usize, of: impl Fn(usize) -> bool) -> f64 {
        let violates = |h: &usize| self.size[*h] > 0.0 && of(*h);
        let mut sizes: Vec<f64> = (0..self.size.len())
            .filter(violates)
            .map(|h| self.size[h])
            .collect();
        sizes.sort_by(|a, b| b.total_cmp(a));
        sizes.get(most - 1).map_or(0.0, |last| ALIKE * last)
    }

    /// Makes active what overlaps, within what a round may cost, and drops what pulls.
    fn exchange(&self, active: &mut [bool], count: usize) {
        let least = self.least_of(count.max(AT_ONCE), |h| !active[h]);
        for (a, &violation) in active.iter_mut().zip(&self.size) {
            *a ^= violation > 0.0 && (*a || violation >= least);
        }
    }
}

/// Where a descent stands.
struct Descent {
    /// Pressures that balance the forces and are not negative, MPa.
    pressures: Vec<f64>,
    active: Vec<bool>,
    /// Energy of the last equilibrium, N mm.
    energy: f64,
    /// Most pressures made active at once.
    reach: usize,
    /// The pressures made active last.
    fresh: Vec<usize>,
    /// Pressures whose overlap is rounding: they stay inactive.
    out: Vec<bool>,
}

/// What a search needs beside the programme.
struct Search<'a> {
    programme: &'a Programme<'a>,
    body: &'a mut dyn Elastic,
    gram: &'a mut Gram,
    rounds: usize,
    /// Multiplications so far.
    work: f64,
    /// The pressure that changed last.
    last: usize,
    /// Whether the active pressures of the solution close their gaps as far as the arithmetic can.
    closes: bool,
}

impl Programme<'_> {
    /// Solves the programme on a body, starting from a set of active pressures; compliances are taken from `gram` and added to it.
    ///
    /// The body says what the gaps are, so kept compliances that are no longer its own do not close them: then they are dropped, and the
    /// search begins again.
    pub fn solve(
        &self,
        body: &mut dyn Elastic,
        gram: &mut Gram,
        start: Vec<bool>,
    ) -> Result<Solution, Unsolved> {
        let kept = !gram.is_empty();
        let (found, closes) = self.search(&mut *body, &mut *gram, start.clone());
        let untrusted = !closes || matches!(found, Err(Unsolved::Cycled { .. }));
        if kept && untrusted {
            *gram = Gram::default();
            return self.search(body, gram, start).0;
        }
        found
    }

    /// Searches, and says whether the active pressures close their gaps as far as the arithmetic can.
    fn search(
        &self,
        body: &mut dyn Elastic,
        gram: &mut Gram,
        start: Vec<bool>,
    ) -> (Result<Solution, Unsolved>, bool) {
        let mut search = Search {
            programme: self,
            body,
            gram,
            rounds: 0,
            work: 0.0,
            last: 0,
            closes: true,
        };
        let found = match search.primal_dual_active_set(start) {
            Ok(None) => search.feasible_descent(),
            Ok(Some(solution)) => Ok(solution),
            Err(unsolved) => Err(unsolved),
        };
        (found, search.closes)
    }
}

impl Search<'_> {
    /// Makes every pressure active that overlaps and drops every one that pulls, until none does. The sets can come back; then there is no
    /// answer this way.
    fn primal_dual_active_set(&mut self, start: Vec<bool>) -> Result<Option<Solution>, Unsolved> {
        let mut active = start;
        let mut seen: Vec<Vec<bool>> = Vec::new();
        for _ in 0..MOST_SETS {
            self.programme.activate_driven(&mut active);
            if seen.contains(&active) {
                break;
            }
            let Some(mut trial) = self.trial(&active, FREE)? else {
                break;
            };
            let violations = self.violations(&mut trial, &active);
            if violations.worst().is_none() {
                // a set from which too much was dropped cannot balance the forces, though it violates no condition
                if trial.residual > RESIDUAL_TOLERANCE * self.programme.forces(&trial) {
                    break;
                }
                return Ok(Some(self.solution(trial, active, violations)));
            }
            seen.push(active.clone());
            violations.exchange(&mut active, trial.list().len());
        }
        Ok(None)
    }

    /// Goes down the energy from one feasible set of pressures to the next, as Lawson and Hanson do for least squares: pressures are made active
    /// by their overlap, and a step that would make a pressure negative stops where it reaches zero.
    fn feasible_descent(&mut self) -> Result<Solution, Unsolved> {
        let n = self.programme.rows.len();
        let pressures = self.programme.feasible();
        let mut at = Descent {
            active: pressures.iter().map(|&p| p > 0.0).collect(),
            pressures,
            energy: f64::INFINITY,
            reach: n,
            fresh: Vec::new(),
            out: vec![false; n],
        };
        while self.rounds < MOST_ROUNDS {
            let Some(mut trial) = self.trial(&at.active, FREE_IN_DESCENT)? else {
                if at.drop_fresh() {
                    continue;
                }
                break;
            };
            let violations = self.violations(&mut trial, &at.active);
            if let Some(stop) = at.step(&trial, &violations.least) {
                self.last = stop;
                continue;
            }
            let (energy, terms) = trial.energy(self.programme);
            at.learn(energy, terms);
            at.energy = at.energy.min(energy);
            let Some(worst) = at.activate(&violations) else {
                if !at.is_sound(&violations) {
                    break;
                }
                return Ok(self.solution(trial, at.active, violations));
            };
            self.last = worst;
        }
        Err(self.cycled())
    }

    fn cycled(&self) -> Unsolved {
        Unsolved::Cycled {
            rounds: self.rounds,
            pressure: self.last,
        }
    }

    /// The equilibrium with these pressures active; `None` if rounding has made their compliances dependent.
    fn trial(&mut self, active: &[bool], free: f64) -> Result<Option<Trial>, Unsolved> {
        self.rounds += 1;
        (self.programme.watch)(self.rounds).map_err(Unsolved::Stopped)?;
        let list: Vec<usize> = (0..active.len()).filter(|&h| active[h]).collect();
        let count = list.len();
        if count > MOST_ACTIVE {
            let most = MOST_ACTIVE;
            return Err(Unsolved::TooMany {
                active: count,
                most,
            });
        }
        self.work += (count as f64).powi(3) / 3.0;
        if self.work > MOST_WORK {
            return Err(self.cycled());
        }
        self.gram.make(self.body, &list);
        Ok(Trial::new(self.programme, list, self.gram, free))
    }

    /// Gap of each pressure, and what of it is rounding; the pressures refined until the active pressures are as closed as the arithmetic can
    /// tell, or as they get.
    fn gaps(&mut self, trial: &mut Trial) -> Gaps {
        let programme = self.programme;
        let body = &mut *self.body;
        let mut gaps =
            |trial: &Trial| programme.gaps(trial, &body.weighted_displacements(&trial.pressures));
        let ajar = |trial: &Trial, (gaps, closed): &(Vec<f64>, Vec<f64>)| {
            let shares = trial.list().iter().map(|&h| gaps[h].abs() / closed[h]);
            shares.fold(0.0_f64, |m, x| m.max(x))
        };
        let mut found = gaps(trial);
        let mut worst = ajar(trial, &found);
        for _ in 0..REFINEMENTS {
            if worst <= 1.0 {
                break;
            }
            let correction = trial.refine(programme, &found.0);
            trial.correct(programme, &correction, 1.0);
            let again = gaps(trial);
            let better = ajar(trial, &again);
            if better >= worst || better.is_nan() {
                trial.correct(programme, &correction, -1.0);
                break;
            }
            (found, worst) = (again, better);
        }
        // how far from closed the active pressures come out is how far from zero any gap may
        let (gaps, mut closed) = found;
        let largest = |values: &[f64]| {
            trial
                .list()
                .iter()
                .fold(0.0_f64, |m, &h| m.max(values[h].abs()))
        };
        let most_noise = MOST_NOISE / ROUNDING * largest(&closed);
        let noise = (2.0 * largest(&gaps)).min(most_noise);
        for c in &mut closed {
            *c = c.max(noise);
        }
        Gaps {
            gaps,
            closed,
            most_noise,
        }
    }

    /// Which active pressures pull and which open ones overlap, beyond what rounding can do.
    fn violations(&mut self, trial: &mut Trial, active: &[bool]) -> Violations {
        let rows = self.programme.rows;
        let Gaps {
            mut gaps,
            closed,
            most_noise,
        } = self.gaps(trial);
        self.programme
            .drop_singular_modes(trial, active, &mut gaps, &closed);
        let largest = |values: &[f64]| values.iter().fold(f64::MIN_POSITIVE, |m, v| m.max(v.abs()));
        let (p_scale, g_scale) = (largest(&trial.pressures), largest(&gaps));
        let mut least = trial.stirred(self.programme, &closed);
        for &h in trial.list() {
            let own = closed[h] * rows[h].area / self.gram.own(h);
            least[h] = least[h].max(own);
        }
        let size = (0..rows.len())
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
        Violations {
            gaps,
            most_noise,
            least,
            size,
        }
    }

    fn solution(&mut self, trial: Trial, active: Vec<bool>, violations: Violations) -> Solution {
        let ajar = |&h: &usize| violations.gaps[h].abs() > violations.most_noise;
        self.closes = !trial.list().iter().any(ajar);
        Solution {
            pressures: trial
                .pressures
                .iter()
                .zip(&violations.least)
                .map(|(&p, &least)| if p > least { p } else { 0.0 })
                .collect(),
            gaps: violations.gaps,
            active,
            drive_displacements: trial.drive_displacements,
            modes: trial.modes,
            free: trial.free,
            residual: trial.residual,
            rounds: self.rounds,
        }
    }
}

impl Descent {
    /// Goes towards an equilibrium as far as no pressure gets negative; returns the pressure that stopped it short, which is dropped.
    fn step(&mut self, trial: &Trial, least: &[f64]) -> Option<usize> {
        let pulls = |h: usize| trial.pressures[h] < -least[h];
        let way = |h: usize| {
            let from = self.pressures[h].max(0.0);
            from / (from - trial.pressures[h])
        };
        let blocked = trial
            .list()
            .iter()
            .filter(|&&h| pulls(h))
            .map(|&h| (way(h), h))
            .min_by(|a, b| a.0.total_cmp(&b.0));
        let Some((step, stop)) = blocked else {
            self.pressures.clone_from(&trial.pressures);
            return None;
        };
        for (h, p) in self.pressures.iter_mut().enumerate() {
            *p += step * (trial.pressures[h] - *p);
        }
        for &h in trial.list() {
            if h == stop || (pulls(h) && self.pressures[h] <= 0.0) {
                self.pressures[h] = 0.0;
                self.active[h] = false;
            }
        }
        Some(stop)
    }

    /// What an equilibrium says of the pressures made active before it: if the energy has not fallen, fewer are made active next; a single one
    /// lowers it unless its overlap is rounding.
    fn learn(&mut self, energy: f64, terms: f64) {
        let fell = energy < self.energy - FALL * terms;
        if fell {
            self.reach = self.reach.saturating_mul(2);
        } else if let [single] = self.fresh[..] {
            self.out[single] = true;
        } else {
            self.reach = (self.fresh.len() / 4).max(1);
        }
    }

    /// Drops again the pressures made active last, whose compliances rounding has made dependent on the others; says whether there were any.
    fn drop_fresh(&mut self) -> bool {
        for &h in &self.fresh {
            self.active[h] = false;
            self.pressures[h] = 0.0;
        }
        if let [single] = self.fresh[..] {
            self.out[single] = true;
        }
        self.reach = (self.fresh.len() / 4).max(1);
        !std::mem::take(&mut self.fresh).is_empty()
    }

    /// Makes the pressures active that overlap most; returns the worst, `None` if none overlaps.
    fn activate(&mut self, violations: &Violations) -> Option<usize> {
        let n = self.active.len();
        let mut over: Vec<usize> = (0..n)
            .filter(|&h| !self.active[h] && !self.out[h] && violations.size[h] > 0.0)
            .collect();
        over.sort_by(|&a, &b| {
            violations.size[b]
                .total_cmp(&violations.size[a])
                .then(a.cmp(&b))
        });
        over.truncate(self.reach.min(n));
        for &h in &over {
            self.active[h] = true;
        }
        self.fresh = over;
        self.fresh.first().copied()
    }

    /// Whether the pressures that stayed inactive for the rounding of their overlap overlap by no more than that.
    fn is_sound(&self, violations: &Violations) -> bool {
        (0..self.out.len()).all(|h| !self.out[h] || violations.gaps[h] >= -violations.most_noise)
    }
}
