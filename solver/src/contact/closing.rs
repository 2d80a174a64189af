//! Closing a hold on a body: scheme by scheme where one is locked before the next closes, else at once.

use super::clamp::{Clamp, Member};
use super::elastic::{Elastic, Subset};
use super::pressure::{PressureDof, Spread};
use super::quadratic::{
    DriveDof, Gram, Prescribed, Programme, RESIDUAL_TOLERANCE, Row, Solution, Unsolved,
};
use super::{ContactError, Rounds};

/// Share of the greatest gap of a pad within which its middle or edges stand as near to the part as the nearest place does.
const NEAR: f64 = 1e-3;

/// What the dead loads of a stage of closing do to the pressures.
pub(super) struct Dead {
    /// Weighted displacement under them alone, one a pressure, mm3.
    pub weighted: Vec<f64>,
    /// Resultant along each rigid-body mode, N.
    pub resultant: Vec<f64>,
    /// Sum of the sizes of the forces, N.
    pub size: f64,
}

/// A closed hold: the solution of its last stage, with what was prescribed in it.
pub(super) struct Closed {
    pub solution: Solution,
    pub drive_dofs: Vec<DriveDof>,
}

/// What closes on a body: its pressures and what makes the dead loads of a stage.
pub(super) struct Closing<'a> {
    pub body: &'a mut dyn Elastic,
    pub dofs: &'a [PressureDof],
    /// Compliances kept from earlier solves on the same body and pressures.
    pub gram: &'a mut Gram,
    /// Dead loads of the first so many schemes of the hold.
    pub dead: &'a mut dyn FnMut(usize) -> Result<Dead, ContactError>,
    pub rounds: &'a Rounds<'a>,
}

impl Clamp {
    /// Closes the hold on a body.
    ///
    /// Bodies at fixed positions stand there from the start; schemes with forces close in the order of the list, and one that
    /// keeps its position is locked before the next closes. Forces alone have one answer whatever their order, so nothing is
    /// solved in between unless something is locked.
    pub(super) fn close(
        &self,
        closing: Closing,
        start: Option<Vec<bool>>,
    ) -> Result<Closed, ContactError> {
        let mut hold = self.clone();
        for member in self.locked_early() {
            let list: Vec<usize> = (0..closing.dofs.len())
                .filter(|&k| hold.stands(closing.dofs[k].body, member))
                .collect();
            let dofs: Vec<PressureDof> = list.iter().map(|&k| closing.dofs[k].clone()).collect();
            let mut dead = |members: usize| {
                let mut all = (closing.dead)(members)?;
                all.weighted = list.iter().map(|&k| all.weighted[k]).collect();
                Ok(all)
            };
            let mut part = Subset::new(&mut *closing.body, list.clone());
            let stage = Closing {
                body: &mut part,
                dofs: &dofs,
                gram: &mut Gram::default(),
                dead: &mut dead,
                rounds: closing.rounds,
            };
            let start = start.as_ref().map(|s| list.iter().map(|&k| s[k]).collect());
            let closed = hold
                .stage(stage, member + 1, start)
                .map_err(|e| e.at_scheme(member + 1))?;
            hold.lock(
                self.members[member].drive_dofs.clone(),
                &closed.solution.drive_displacements,
            );
        }
        let members = self.members.len();
        let whole = Closing {
            body: &mut *closing.body,
            dofs: closing.dofs,
            gram: &mut *closing.gram,
            dead: &mut *closing.dead,
            rounds: closing.rounds,
        };
        hold.stage(whole, members, start)
    }

    /// Whether a scheme closes by force and is locked before another loads the part.
    pub(crate) fn locks_early(&self) -> bool {
        !self.locked_early().is_empty()
    }

    /// Schemes that close by force, are then locked, and have a load after them in the list.
    fn locked_early(&self) -> Vec<usize> {
        let forced = |m: &Member| {
            self.drive_dofs[m.drive_dofs.clone()]
                .iter()
                .any(DriveDof::is_forced)
        };
        let loads = |m: &Member| {
            forced(m) || !m.patches.is_empty() || !m.points.is_empty() || m.axial != 0.0
        };
        (0..self.members.len())
            .filter(|&k| {
                let member = &self.members[k];
                member.locks && forced(member) && self.members[k + 1..].iter().any(loads)
            })
            .collect()
    }

    /// Whether a body is there once the scheme `last` of the list has closed: bodies of later schemes are if they are fixed.
    fn stands(&self, body: usize, last: usize) -> bool {
        self.members[..=last]
            .iter()
            .any(|m| m.bodies.contains(&body))
            || !self.is_forced(body)
    }

    /// The equilibrium once the first so many schemes have closed, on the pressures of what stands by then.
    fn stage(
        &self,
        closing: Closing,
        members: usize,
        start: Option<Vec<bool>>,
    ) -> Result<Closed, ContactError> {
        let Closing {
            body,
            dofs,
            gram,
            dead,
            rounds,
        } = closing;
        let driven = members
            .checked_sub(1)
            .map_or(0, |k| self.members[k].drive_dofs.end);
        let drive_dofs: Vec<DriveDof> = self
            .drive_dofs
            .iter()
            .enumerate()
            .map(|(k, t)| match t.prescribed {
                Prescribed::Force(_) if k >= driven => DriveDof {
                    prescribed: Prescribed::Displacement(0.0),
                    ..t.clone()
                },
                _ => t.clone(),
            })
            .collect();
        let dead = dead(members)?;
        let rows: Vec<Row> = dofs
            .iter()
            .zip(&dead.weighted)
            .map(|(d, &dead)| Row {
                body: d.body,
                along: d.along,
                area: d.area,
                gap: d.gap,
                dead,
            })
            .collect();
        let programme = Programme::new(&*body, &rows, &drive_dofs, &dead.resultant, rounds);
        let start = start.unwrap_or_else(|| first_to_touch(dofs));
        let solution = programme
            .solve(body, gram, start)
            .map_err(|unsolved| match unsolved {
                Unsolved::Stopped(stop) => ContactError::Stopped(stop),
                Unsolved::Cycled { rounds, pressure } => ContactError::Cycled {
                    rounds,
                    body: dofs[pressure].body + 1,
                    offset_deg: dofs[pressure].t.to_degrees(),
                },
                Unsolved::TooMany { active, most } => ContactError::TooLarge { active, most },
            })?;
        let contact: f64 = rows
            .iter()
            .zip(&solution.pressures)
            .map(|(r, p)| r.along * p)
            .sum();
        if solution.residual
            > RESIDUAL_TOLERANCE * (dead.size + contact + driving_force(&drive_dofs))
        {
            return Err(ContactError::Loose {
                left: solution.residual,
                scheme: None,
            });
        }
        Ok(Closed {
            solution,
            drive_dofs,
        })
    }
}

fn driving_force(drive_dofs: &[DriveDof]) -> f64 {
    drive_dofs
        .iter()
        .map(|t| match t.prescribed {
            Prescribed::Force(f) => f.abs(),
            Prescribed::Displacement(_) => 0.0,
        })
        .sum()
}

/// Starting guess: of each piece of a pad its place that stands nearest to the part, and of its middle and its two edge forces
/// those that stand no farther off. Those three where all touch: never everything at once.
pub(super) fn first_to_touch(dofs: &[PressureDof]) -> Vec<bool> {
    let mut active = vec![false; dofs.len()];
    let same = |a: &PressureDof, b: &PressureDof| a.body == b.body && a.piece == b.piece;
    for piece in dofs.chunk_by(same) {
        let first = dofs.iter().position(|h| same(h, &piece[0])).unwrap_or(0);
        let gap = |k: usize| piece[k].gap / piece[k].area;
        let spread = |k: &usize| piece[*k].spread == Spread::Shape;
        let off = |k: usize| (piece[k].t - piece[k].middle).abs();
        let all = 0..piece.len();
        let middle = all
            .clone()
            .filter(spread)
            .min_by(|&a, &b| off(a).total_cmp(&off(b)));
        let nearest = all.clone().min_by(|&a, &b| gap(a).total_cmp(&gap(b)));
        let gaps = || all.clone().map(gap);
        let (least, most) = (
            gaps().fold(f64::INFINITY, f64::min),
            gaps().fold(f64::NEG_INFINITY, f64::max),
        );
        let near = |k: &usize| gap(*k) <= least + NEAR * (most - least);
        let edges = all.clone().filter(|k| !spread(k));
        let tied = middle.into_iter().chain(edges).filter(near);
        let found: Vec<usize> = tied.collect();
        let found = if found.is_empty() {
            nearest.into_iter().collect()
        } else {
            found
        };
        for k in found {
            active[first + k] = true;
        }
    }
    active
}
