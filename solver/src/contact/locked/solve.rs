//! The equations of a locked hold.

use faer::Mat;
use nalgebra::{DMatrix, DVector};
use rayon::prelude::*;

use super::bilateral::Bilateral;
use super::pivots::{NoPivot, pivoted};
use super::{ComesOff, HARDLY_HELD, LockedResponse, Tool, not_resisted};
use crate::contact::elastic::{Among, Elastic};
use crate::contact::pressure::PressureDof;
use crate::contact::winkler::Winkler;
use crate::contact::{Clamp, ContactError};

/// Share of the largest force below which a body presses no more.
const NOTHING: f64 = 1e-6;

/// Times the largest compliance of a pressure by which a shift in proportion to the resultant is added where finite elements correct a series:
/// it changes nothing of loads that balance, and with it those that do not are resisted on either lattice.
const SHIFT: f64 = 4.0;

/// Share of its pressure below which a pressure may fall, as if it could pull, before it is among those that may open.
const MAY_OPEN: f64 = 0.5;

/// Places that are solved for one after the other.
const RUN: usize = 12;

/// Which pressures of a hold are active, all of them (MPa), and the gap of each (mm).
#[derive(Clone, Copy)]
pub(crate) struct PressedBy<'a> {
    pub active: &'a [bool],
    pub pressures: &'a [f64],
    pub gaps: &'a [f64],
}

/// The pressures that a locked part is solved with: what is active in the hold, what is open and may close, then the tool at its places and what is read there.
pub(in crate::contact) struct LockedDofs {
    pub all: Vec<PressureDof>,
    active: usize,
    /// Active ones and those that may close.
    contact: usize,
    /// Pressures of the active ones in the hold, MPa, then weighted gaps of the others, mm3.
    held: Vec<f64>,
    tool: Tool,
}

impl LockedDofs {
    /// Of a hold's pressures; gaps beyond `reach` (mm) stay open.
    pub fn new(dofs: &[PressureDof], by: PressedBy, tool: Tool, reach: f64) -> Self {
        let active = (0..dofs.len()).filter(|&k| by.active[k]);
        let mut list: Vec<usize> = active.collect();
        let count = list.len();
        list.extend((0..dofs.len()).filter(|&k| !by.active[k] && by.gaps[k] < reach));
        let held = list.iter().map(|&k| match by.active[k] {
            true => by.pressures[k],
            false => by.gaps[k].max(0.0) * dofs[k].area,
        });
        let mut all: Vec<PressureDof> = list.iter().map(|&k| dofs[k].clone()).collect();
        let contact = all.len();
        let held = held.collect();
        all.extend(tool.places.dofs());
        Self {
            all,
            active: count,
            contact,
            held,
            tool,
        }
    }

    /// The layers and springs behind the pressures of the hold.
    pub fn layer<'a>(&'a self, clamp: &Clamp) -> Option<Winkler<'a>> {
        Winkler::new(&self.all[..self.contact], clamp.bodies())
    }

    /// A body that the pressures of the hold alone act on.
    pub fn under_hold<'a>(&self, body: &'a mut dyn Elastic) -> Among<'a> {
        let list: Vec<usize> = (0..self.contact).collect();
        Among::new(body, &list, self.all.len())
    }

    /// Those that act on the part itself.
    pub fn on_part(&self) -> Vec<usize> {
        let all = 0..self.all.len();
        all.filter(|&k| self.all[k].on_part()).collect()
    }

    /// Refuses a hold whose pressures hold the part along one line or not at all; the part's own modes are the first two.
    fn check_held(&self, work: &DMatrix<f64>) -> Result<(), ContactError> {
        let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
        for (k, pressure) in self.held[..self.active].iter().enumerate() {
            let [fx, fy] = [work[(k, 0)], work[(k, 1)]];
            let force = fx.hypot(fy);
            if force > 0.0 {
                xx += pressure * fx * fx / force;
                xy += pressure * fx * fy / force;
                yy += pressure * fy * fy / force;
            }
        }
        let (mean, half) = (0.5 * (xx + yy), (0.5 * (xx - yy)).hypot(xy));
        let across = 0.5 * xy.atan2(0.5 * (xx - yy)) + std::f64::consts::FRAC_PI_2;
        if mean - half > HARDLY_HELD * 2.0 * mean {
            return Ok(());
        }
        Err(not_resisted((mean > 0.0).then_some(across)))
    }

    /// Solves for all places on a body behind these pressures. `corrected`: whether finite elements correct a series in it.
    ///
    /// # Errors
    /// [`ContactError::ToolNotResisted`], [`ContactError::Cycled`], [`ContactError::Linear`].
    pub fn respond(
        &self,
        body: &mut dyn Elastic,
        corrected: bool,
        bodies: usize,
    ) -> Result<LockedResponse, ContactError> {
        let modes = body.rigid_body_modes();
        let work = DMatrix::from_fn(self.all.len(), modes, |k, mode| body.rigid_work(k, mode));
        self.check_held(&work)?;
        let mut all = self.compliances(body);
        if corrected {
            let size = |k: usize| all[(k, k)] / work.row(k).norm_squared();
            let on_part = (0..self.active).filter(|&k| self.all[k].on_part());
            let shift = SHIFT * on_part.map(size).fold(0.0, f64::max);
            let part = work.columns(0, 2).into_owned();
            all += shift * &part * part.transpose();
        }
        let held = Bilateral::new(&all, &work, self.active)?;
        let (n, m) = (self.contact, self.tool.places.count);
        held.check_balance(n - self.active, m)?;
        let first = n - self.active;
        let block = |row: usize| held.moved.view((row, first), (m, m)).into_owned();
        let works = block(first);
        let by_bodies = self.by_bodies(bodies);
        let pressed = held.pressed.columns(first, m).into_owned();
        let under = self.under(&held)?;
        let mut response = LockedResponse {
            force: self.tool.force,
            dip: under.iter().map(|u| u.dip).collect(),
            reactions: DMatrix::zeros(bodies, m),
            middles: block(first + m),
            works: 0.5 * (&works + works.transpose()),
            forces: by_bodies.columns(0, self.active) * pressed,
            comes_off: None,
        };
        for (place, at) in under.iter().enumerate() {
            let change = &by_bodies * &at.changes;
            response.reactions.column_mut(place).copy_from(&change);
        }
        response.comes_off = self.comes_off(&by_bodies, &response.reactions);
        Ok(response)
    }

    /// Compliances between all but two readings; those are left zero, as no force acts there.
    fn compliances(&self, body: &mut dyn Elastic) -> DMatrix<f64> {
        let all = self.all.len();
        let forces = self.contact + self.tool.places.count;
        let numbers: Vec<usize> = (0..all).collect();
        let asked: Vec<(usize, &[usize])> = (0..forces).map(|k| (k, &numbers[k..])).collect();
        let mut whole = DMatrix::zeros(all, all);
        for (&(k, others), row) in asked.iter().zip(body.all_compliances(&asked)) {
            for (&other, c) in others.iter().zip(row) {
                whole[(k, other)] = c;
                whole[(other, k)] = c;
            }
        }
        whole
    }

    /// What the pressures of the hold add to the forces of the bodies along their axes, N/MPa.
    fn by_bodies(&self, bodies: usize) -> DMatrix<f64> {
        DMatrix::from_fn(bodies, self.contact, |body, k| {
            let dof = &self.all[k];
            if dof.body == body { dof.along } else { 0.0 }
        })
    }

    /// The part under the tool at each place.
    fn under(&self, held: &Bilateral) -> Result<Vec<UnderTool>, ContactError> {
        let (first, force) = (self.contact - self.active, self.tool.force);
        let places = 0..self.tool.places.count;
        let pressures = &held.pressed;
        let may_open = |k: &usize| {
            let p = self.held[*k];
            places
                .clone()
                .any(|j| p + force * pressures[(*k, first + j)] < MAY_OPEN * p)
        };
        let mut opening: Vec<usize> = (0..self.active).filter(may_open).collect();
        loop {
            let opened = held.opened(&opening);
            let states = self.states(held, &opening, &opened);
            // zones move on with the tool, so each place begins as the last one ended
            let run = |run: &[usize]| -> Result<Vec<UnderTool>, ContactError> {
                let mut changed = vec![false; opening.len() + first];
                let may = MayChange {
                    opening: &opening,
                    opened: &opened,
                    states: &states,
                };
                let at = |&place: &usize| self.at(held, may, place, &mut changed);
                run.iter().map(at).collect()
            };
            let all: Vec<usize> = places.clone().collect();
            let runs: Vec<Vec<UnderTool>> =
                all.par_chunks(RUN).map(run).collect::<Result<_, _>>()?;
            let found: Vec<UnderTool> = runs.into_iter().flatten().collect();
            let pulls = |k: &usize| {
                let pulls = |u: &UnderTool| self.held[*k] + u.changes[*k] < 0.0;
                !opening.contains(k) && found.iter().any(pulls)
            };
            let more: Vec<usize> = (0..self.active).filter(pulls).collect();
            if more.is_empty() {
                return Ok(found);
            }
            opening.extend(more);
            opening.sort_unstable();
        }
    }

    /// What each state that may change does to the others: see [`pivoted`].
    fn states(&self, held: &Bilateral, opening: &[usize], opened: &DMatrix<f64>) -> Mat<f64> {
        let (pressed, moved, v) = (&held.pressed, &held.moved, opening.len());
        let n = v + self.contact - self.active;
        Mat::from_fn(n, n, |i, j| match (i < v, j < v) {
            (true, true) => opened[(opening[i], j)],
            (true, false) => pressed[(opening[i], j - v)],
            (false, true) => -pressed[(opening[j], i - v)],
            (false, false) => moved[(i - v, j - v)],
        })
    }

    /// The part with the tool at one place; `changed` are the states that are tried first and come back as they are.
    fn at(
        &self,
        held: &Bilateral,
        may: MayChange,
        place: usize,
        changed: &mut [bool],
    ) -> Result<UnderTool, ContactError> {
        let MayChange {
            opening,
            opened,
            states,
        } = may;
        let (force, v) = (self.tool.force, opening.len());
        let closing = self.contact - self.active;
        let [tool, reading] = [0, self.tool.places.count].map(|more| closing + more + place);
        let (pressed, moved) = (&held.pressed, &held.moved);
        let start = |k: usize| match opening.get(k) {
            Some(&a) => self.held[a] + force * pressed[(a, tool)],
            None => self.held[self.active + k - v] + force * moved[(k - v, tool)],
        };
        let q: Vec<f64> = (0..v + closing).map(start).collect();
        let most = self.held[..self.active]
            .iter()
            .fold(0.0_f64, |m, p| m.max(*p));
        let gap = |k: usize| force * moved[(k, tool)].abs() + self.held[self.active + k];
        let scale = |k: usize| if k < v { most } else { gap(k - v) };
        let scales: Vec<f64> = (0..v + closing).map(scale).collect();
        let x =
            pivoted(&q, &scales, states, changed).map_err(|e| self.unsolved(e, opening, place))?;
        let (gaps, closed) = x.split_at(v);
        let mut changes = DVector::zeros(self.contact);
        let mut dip = force * moved[(reading, tool)];
        for k in 0..self.active {
            let by_gaps = gaps.iter().enumerate().map(|(j, s)| s * opened[(k, j)]);
            let by_closed = closed.iter().enumerate().map(|(j, p)| p * pressed[(k, j)]);
            changes[k] = force * pressed[(k, tool)] + by_gaps.sum::<f64>() + by_closed.sum::<f64>();
        }
        for (j, p) in closed.iter().enumerate() {
            changes[self.active + j] = *p;
            dip += p * moved[(reading, j)];
        }
        for (&a, s) in opening.iter().zip(gaps) {
            dip -= s * pressed[(a, reading)];
        }
        Ok(UnderTool { dip, changes })
    }

    fn unsolved(&self, error: NoPivot, opening: &[usize], place: usize) -> ContactError {
        match error {
            NoPivot::Unbounded => not_resisted(Some(self.tool.places.angle(place))),
            NoPivot::Cycled(k) => {
                let own = |k: usize| self.active + k - opening.len();
                let dof = &self.all[opening.get(k).copied().unwrap_or_else(|| own(k))];
                ContactError::Cycled {
                    rounds: 0,
                    body: dof.body + 1,
                    offset_deg: dof.t.to_degrees(),
                }
            }
        }
    }

    /// The first body that pressed and no longer does.
    fn comes_off(&self, by_bodies: &DMatrix<f64>, changes: &DMatrix<f64>) -> Option<ComesOff> {
        let mut held = DVector::zeros(self.contact);
        for (k, p) in self.held[..self.active].iter().enumerate() {
            held[k] = *p;
        }
        let held = by_bodies * held;
        let most = held.amax();
        (0..held.len())
            .filter(|&body| held[body] > NOTHING * most)
            .find_map(|body| {
                let left = |place: &usize| held[body] + changes[(body, *place)];
                let place = (0..changes.ncols()).find(|p| left(p) <= NOTHING * most)?;
                Some(ComesOff { body, place })
            })
    }
}

/// What may change its state under the tool.
#[derive(Clone, Copy)]
struct MayChange<'a> {
    /// Active pressures that may open.
    opening: &'a [usize],
    /// What a unit gap of each does to all active pressures.
    opened: &'a DMatrix<f64>,
    /// What each that may open, then each that may close, does to the others.
    states: &'a Mat<f64>,
}

/// The part under the tool at one place.
struct UnderTool {
    /// Displacement along the force at the middle of the tool, mm.
    dip: f64,
    /// Changes of the pressures of the hold, MPa.
    changes: DVector<f64>,
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::contact::ToolPlaces;
    use crate::geometry::Surface;

    /// A part that is as stiff to each pressure as to the next, each by itself.
    struct Stiff {
        loads: Vec<[f64; 2]>,
    }

    impl Elastic for Stiff {
        fn pressures(&self) -> usize {
            self.loads.len()
        }

        fn rigid_body_modes(&self) -> usize {
            2
        }

        fn rigid_work(&self, pressure: usize, mode: usize) -> f64 {
            self.loads[pressure][mode]
        }

        fn compliances(&mut self, pressure: usize, others: &[usize]) -> Vec<f64> {
            let own = |o: &usize| f64::from(u8::from(*o == pressure));
            others.iter().map(own).collect()
        }

        fn weighted_displacements(&mut self, pressures: &[f64]) -> Vec<f64> {
            pressures.to_vec()
        }
    }

    /// So many jaws at equal angles, each of one pressure of 10 N, under a tool at as many places inside.
    fn held(jaws: usize, force: f64) -> Result<LockedResponse, ContactError> {
        let outside = |surface| ToolPlaces {
            surface,
            count: jaws,
            half_angle: 0.02,
        };
        let mut dofs = outside(Surface::Outer).forces();
        for (body, dof) in dofs.iter_mut().enumerate() {
            (dof.body, dof.along) = (body, 1.0);
        }
        let by = PressedBy {
            active: &vec![true; jaws],
            pressures: &vec![10.0; jaws],
            gaps: &vec![0.0; jaws],
        };
        let places = outside(Surface::Bore);
        let tool = Tool { places, force };
        let locked = LockedDofs::new(&dofs, by, tool, 1.0);
        let load = |k: usize| {
            let (s, c) = places.angle(k % jaws).sin_cos();
            let outward = if k < jaws { -1.0 } else { 1.0 };
            [outward * c, outward * s]
        };
        let loads = (0..3 * jaws).map(load).collect();
        locked.respond(&mut Stiff { loads }, false, jaws)
    }

    /// A tool on the jaw takes from the others what balances it, until one of them has no more to give.
    #[test]
    fn what_presses_is_let_go_of_and_never_pulls() {
        let even = held(4, 6.0).unwrap();
        // along a diameter: half is added to the jaw under the tool, half taken from the one across
        for (body, change) in [3.0, 0.0, -3.0, 0.0].into_iter().enumerate() {
            assert!((even.reactions[(body, 0)] - change).abs() < 1e-9);
        }
        assert!(even.comes_off.is_none());
        let off = held(4, 30.0).unwrap();
        for (body, change) in [20.0, 0.0, -10.0, 0.0].into_iter().enumerate() {
            assert!((off.reactions[(body, 0)] - change).abs() < 1e-9);
        }
        assert_eq!(off.comes_off, Some(ComesOff { body: 0, place: 2 }));
    }

    /// Two jaws across leave one line open.
    #[test]
    fn a_line_that_nothing_holds_is_told() {
        let refused = held(2, 1.0).err();
        let across_deg = Some(90.0);
        assert_eq!(refused, Some(ContactError::ToolNotResisted { across_deg }));
    }
}
