//! The force of a scheme, found from what the ring shows once it is held: the ring is its own force gauge.
//!
//! Somebody reads the surface that is not gripped, free and clamped, over the jaws and midway between them. What the two differ by grows
//! with the force, very nearly in proportion, so a few solves of the hold alone find the force, on any wall and beside any other scheme.

use std::f64::consts::{PI, TAU};

use super::forces::scaled;
use super::guess::Guess;
use super::inspect::Named;
use super::plan::Plan;
use super::step::{HeldPart, Job, PartBody, Setting, Start};
use super::{FromSqueeze, Method, ProcessError, Radii, Reason, Squeeze, Unfit, adapt};
use crate::case::{Case, FixedMesh, Place, Step};
use crate::grip::Band;
use crate::scheme::{SQUEEZE, Supports, squeezed};
use crate::watch::Aim;

/// How near to what was read the ring shows it under the force found, as a share.
const NEAR: f64 = 1e-5;

/// Share by which a force may outgrow the elements that were made for another: zones of contact grow no faster than the force.
const OUTGROWN: f64 = 0.1;

/// Divisions made for forces on the way; two or three are the rule.
const MOST_PLANS: usize = 8;

/// Solves on each; three or four are the rule.
const MOST_SOLVES: usize = 16;

/// By how much a force grows or falls from one solve to the next at most, and how far it grows in all from the first guess.
const STRIDE: f64 = 10.0;
const REACH: f64 = 1e6;

/// Share of the first guess that is as good as no force.
const LEAST: f64 = 0.01;

/// Share of what was read that the force must make by itself: where more force makes less than that, something bears against the ring.
const OWN_SHARE: f64 = 0.01;

/// The scheme of a hold whose force is to be found.
///
/// # Errors
/// [`Squeeze::Readings`] if there are two, or the part is solved along its length.
pub(super) fn member(
    case: &Case,
    hold: &str,
    supports: &[Supports],
) -> Result<Option<usize>, ProcessError> {
    squeezed(supports, case.tube.is_some())
        .map_err(|(member, why)| refused(Squeeze::Readings(why), hold, member))
}

fn refused(why: Squeeze, hold: &str, member: usize) -> ProcessError {
    Reason::Input(Unfit::Squeeze(why)).at(Place::Scheme {
        hold: hold.to_owned(),
        scheme: member,
        parameter: Some(SQUEEZE.to_owned()),
    })
}

/// Finds the force of one scheme, laid against the part of a step with the rest of its hold: the nominal one and, of a reading within a
/// band, those at its ends. The scheme's own forces are set to what was found.
///
/// # Errors
/// [`Unfit::Squeeze`] if the ring shows more without this force, or no force gives the reading; else as a solution of the hold.
pub(super) fn find(
    job: Job,
    (step, body, index): (&Step, &PartBody, usize),
    (names, supports): (&[Named], &mut [Supports]),
    member: usize,
) -> Result<Option<FromSqueeze>, ProcessError> {
    let Some(read) = supports[member].squeeze else {
        return Ok(None);
    };
    let count = supports[member].bodies.len();
    let set = (0..count).filter_map(|k| supports[member].drive.set_force(k));
    // above zero: the reply of the scheme was checked
    let unit = set.sum::<f64>() / count as f64;
    let search = Search {
        job: Job {
            aim: Aim::Squeeze,
            ..job
        },
        // the reading is taken at the whole force, whatever share of it the step then takes
        step: &Step {
            force_scale: 1.0,
            ..step.clone()
        },
        body,
        index,
        supports,
        member,
        unit,
    };
    let (nominal, division) = search.force(read.nominal)?;
    let [low, high] = [read.low, read.high].map(|end| match end == read.nominal {
        true => Ok(nominal),
        false => search.beside(end, nominal * end / read.nominal, &division),
    });
    let factors = Band {
        low: low?,
        nominal,
        high: high?,
    };
    supports[member] = Supports {
        force_spread: factors.spread(),
        ..scaled(&supports[member], nominal)
    };
    Ok(Some(FromSqueeze {
        called: names[member].body.clone(),
        count,
        squeeze: read,
        force: factors.map(|f| f * unit),
    }))
}

/// What the ring shows: over the bodies of a scheme and midway between neighbours, on the surface that they do not press on, mm, positive
/// where they squeeze it.
fn shown(scheme: &Supports, stock: &Radii, held: &Radii) -> f64 {
    let Some(first) = scheme.bodies.first() else {
        return 0.0;
    };
    let surface = first.surface.other();
    let (free, clamped) = (stock.get(surface), held.get(surface));
    let points = free.len();
    let at = |angle: f64| {
        let place = angle.rem_euclid(TAU) / TAU * points as f64;
        let (k, share) = (place.floor() as usize, place.fract());
        let moved = |k: usize| clamped[k % points] - free[k % points];
        (1.0 - share) * moved(k) + share * moved(k + 1)
    };
    let mut over: Vec<f64> = scheme
        .bodies
        .iter()
        .map(|b| b.angle.rem_euclid(TAU))
        .collect();
    over.sort_by(f64::total_cmp);
    let next = over.iter().skip(1).copied().chain([over[0] + TAU]);
    let midway: f64 = over.iter().zip(next).map(|(a, b)| at(0.5 * (a + b))).sum();
    let over: f64 = over.iter().map(|&a| at(a)).sum();
    // bodies outside push the wall inwards, bodies in the bore outwards
    first.surface.outward() * (midway - over) / scheme.bodies.len() as f64
}

/// One division of the part and its contact, on which forces are tried.
struct Division {
    start: Start,
    plan: Plan,
    /// The factor on the forces that it was made for.
    made_for: f64,
}

impl Division {
    /// Whether a force is near enough to the one that this was made for.
    fn serves(&self, factor: f64) -> bool {
        (factor / self.made_for).max(self.made_for / factor) <= 1.0 + OUTGROWN
    }
}

/// What makes a division of a hold.
type Planner = fn(&Setting, Option<FixedMesh>) -> Result<Plan, ProcessError>;

struct Search<'a> {
    job: Job<'a>,
    step: &'a Step,
    body: &'a PartBody,
    index: usize,
    supports: &'a [Supports],
    member: usize,
    /// Mean force of a body, N, that the factors are of.
    unit: f64,
}

impl Search<'_> {
    fn scheme(&self) -> &Supports {
        &self.supports[self.member]
    }

    fn refused(&self, why: Squeeze) -> ProcessError {
        refused(why, &self.step.hold, self.member)
    }

    /// Solves something of the hold with the forces of the scheme times a factor.
    fn with<T>(
        &self,
        factor: f64,
        solve: impl FnOnce(&Setting) -> Result<T, ProcessError>,
    ) -> Result<T, ProcessError> {
        let mut supports = self.supports.to_vec();
        supports[self.member] = scaled(self.scheme(), factor);
        let setting = Setting::new(self.job, self.body, self.step, &supports, self.index);
        solve(&setting).map_err(|e| e.in_step(self.index))
    }

    /// A first guess of the force of one body, N, under which an even thin ring shows so much, mm.
    ///
    /// Derived here. `n` equal forces `F` on lines, evenly spaced, are the pressures `n F / (pi R) cos(k n t)` a length of the ring, `k` = 1, 2,
    /// ..., beside an even one; a thin ring that does not stretch gives way to `p cos(m t)` by `p R^4 / (E I (m^2 - 1)^2)` (Timoshenko, *Strength of
    /// Materials*, from memory). Over a force and midway between two these differ by twice the terms of odd `k`, and even ones cancel.
    fn guess(&self, shown: f64) -> f64 {
        let (part, nominal) = (&self.job.case.part, &self.body.nominal);
        let wall = nominal.outer - nominal.bore;
        let radius = 0.5 * (nominal.outer + nominal.bore);
        let bending = part.material.young_modulus * part.length * wall.powi(3) / 12.0;
        let count = self.scheme().bodies.len().max(2) as f64;
        let lobes = (0..4).map(|k| count * f64::from(2 * k + 1));
        let sum: f64 = lobes.map(|m| (m * m - 1.0).powi(-2)).sum();
        shown * PI * bending / (2.0 * count * radius.powi(3) * sum)
    }

    /// The factor on the forces at which the held ring shows so much, mm, and the division that it was found on.
    fn force(&self, wanted: f64) -> Result<(f64, Division), ProcessError> {
        let guess = self.guess(wanted) / self.unit;
        if self.job.method != Method::MeanRing {
            return self.on_divisions(wanted, guess, adapt::mesh_of_hold);
        }
        match self.on_divisions(wanted, guess, adapt::plan_of_hold) {
            // too far from round for its mean ring after all
            Err(e) if matches!(e.reason, Reason::NotConverged(_)) => {
                self.on_divisions(wanted, guess, adapt::mesh_of_hold)
            }
            found => found,
        }
    }

    /// The same for another reading, on a division that is known where that serves.
    fn beside(&self, wanted: f64, guess: f64, known: &Division) -> Result<f64, ProcessError> {
        if known.serves(guess) {
            let found = self.on_one(known, wanted, guess)?;
            if known.serves(found) {
                return Ok(found);
            }
        }
        Ok(self.force(wanted)?.0)
    }

    /// On divisions of one kind: each is made for the force that was found on the last.
    fn on_divisions(
        &self,
        wanted: f64,
        guess: f64,
        plan: Planner,
    ) -> Result<(f64, Division), ProcessError> {
        let mut factor = guess;
        let divide = |made_for: f64| {
            self.with(made_for, |setting| {
                let plan = plan(setting, self.job.case.mesh)?;
                let start = Start::new(setting, &plan)?;
                Ok(Division {
                    start,
                    plan,
                    made_for,
                })
            })
        };
        for _ in 0..MOST_PLANS {
            let division = divide(factor)?;
            factor = self.on_one(&division, wanted, factor)?;
            if division.serves(factor) {
                return Ok((factor, division));
            }
        }
        Err(self.no_force(wanted, factor, wanted))
    }

    fn no_force(&self, read: f64, factor: f64, shown: f64) -> ProcessError {
        let force = factor * self.unit;
        self.refused(Squeeze::NoForce { read, force, shown })
    }

    /// On one division, by secants.
    fn on_one(&self, division: &Division, wanted: f64, first: f64) -> Result<f64, ProcessError> {
        let near = |shown: f64| (shown - wanted).abs() <= NEAR * wanted;
        let part = self.held(division, first, None)?;
        let mut last = (first, self.shown(division, &part));
        if near(last.1) {
            return Ok(first);
        }
        let share = if last.1 > 0.0 { wanted / last.1 } else { 2.0 };
        let mut factor = first * share.clamp(1.0 / STRIDE, STRIDE);
        let mut part = Some(part);
        for _ in 0..MOST_SOLVES {
            let held = self.held(division, factor, part.as_ref())?;
            let now = (factor, self.shown(division, &held));
            part = Some(held);
            if near(now.1) {
                return Ok(factor);
            }
            let slope = (now.1 - last.1) / (now.0 - last.0);
            let next = now.0 + (wanted - now.1) / slope;
            if now.1 < wanted {
                if slope * now.0 < OWN_SHARE * wanted || now.0 > first * REACH {
                    return Err(self.no_force(wanted, now.0, now.1));
                }
                factor = next.min(now.0 * STRIDE);
            } else if slope > 0.0 && next > 0.0 {
                factor = next.max(now.0 / STRIDE);
            } else if now.0 > LEAST * first {
                factor = now.0 / STRIDE;
            } else {
                let (read, without) = (wanted, now.1);
                return Err(self.refused(Squeeze::Shown { read, without }));
            }
            last = now;
        }
        Err(self.no_force(wanted, last.0, last.1))
    }

    /// The part in its hold with the forces of the scheme times a factor; the search for what touches starts from a state that is like it.
    fn held(
        &self,
        division: &Division,
        factor: f64,
        like: Option<&HeldPart>,
    ) -> Result<HeldPart, ProcessError> {
        let guess = like.map(|part| Guess {
            held: Some(&part.state),
            added: part.added.as_ref(),
            ..Guess::NOTHING
        });
        self.with(factor, |setting| {
            division.start.hold(setting, &division.plan, guess.as_ref())
        })
    }

    fn shown(&self, division: &Division, part: &HeldPart) -> f64 {
        shown(self.scheme(), division.start.stock(), &part.shape)
    }
}
