//! Cutting the held body, by iteration, until its outline agrees with its own equilibrium.

mod held_body;
mod turning;

use super::caution::LARGE_FLEXING;
use super::cut::{Mixing, ToolCircle, Unsettled};
use super::dip::{self, GivingWay};
use super::guess::Guess;
use super::sample::{mean, range, roundness, sample_angle};
use super::step::Setting;
use super::{CutOutcome, NotConverged, Open, ProcessError, Radii, Reason, Unfit};
use crate::case::{Cut, Place};
use crate::contact::LockedResponse;
use crate::geometry::Surface;
use crate::watch::{Progress, State};
pub(super) use held_body::{HeldBody, Patience};
use turning::{Aimed, Settled, Turning, largest_change, out_of_round, reached, rest};

/// Times smaller than is asked for that a first change may be and be the last: whatever it leaves is then no more than it was.
const UNTOLD: f64 = 50.0;

/// Share of its displacement that the held body may be off by: while nothing is known, and the least, that of the last digits; of what changes,
/// by the next outline; of the change that is allowed, once that is all that is left.
const ROUGHLY: f64 = 1e-3;
const EXACTLY: f64 = 3e-8;
const AHEAD: f64 = 1e-2;
const UNSEEN: f64 = 0.1;

/// Depth of a cut that takes nothing, as a share of its radius.
const NOTHING: f64 = 1e-9;

/// Range of the radii about the axis times which out-of-roundness about the least-squares centre never is. That centre lies off the axis by twice
/// the mean departure times a cosine, so by less than two thirds of the range, and adds at most twice that.
const OFF_CENTRE: f64 = 3.0;

/// Thinnest wall that an iteration may leave, as a share of the wall before.
const THINNEST: f64 = 0.02;

/// The part being cut, by iteration.
pub(super) struct Cutting<'a, 'b> {
    pub setting: &'a Setting<'b>,
    pub held: &'a mut dyn HeldBody,
    /// Where the solve is.
    pub at: Progress,
    /// Where the spindle axis lies in the part's frame, mm.
    pub spindle: [f64; 2],
    /// Radii of the reference at the held body's angles.
    pub lines: Radii,
    /// The same at [`super::PROFILE_POINTS`] angles, kinks not smeared over an element.
    pub sampled: Radii,
    pub unsettled: Unsettled,
    /// Share of a change that an iteration of the last cut handed on to the next.
    pub rate: f64,
    /// What the tool did to the part before the cut, where the cut has one.
    pub before: Option<LockedResponse>,
}

impl Cutting<'_, '_> {
    /// Cuts the held body to the circle of a cut (`index` from 0), from a guess if there is one: what the cut did, and the kinks of its
    /// outline, rad.
    ///
    /// # Errors
    /// A wall that is cut through or gets too thin, iterations that do not settle, a cut that reaches nothing.
    pub fn cut(
        &mut self,
        index: usize,
        cut: &Cut,
        guess: Option<&Guess>,
    ) -> Result<(CutOutcome, Vec<f64>), ProcessError> {
        let turning = Turning {
            index,
            cut,
            circle: ToolCircle {
                surface: cut.surface,
                radius: 0.5 * cut.diameter,
                centre: self.spindle,
            },
            stock: self.lines.get(cut.surface).clone(),
            other: self.lines.get(cut.surface.other()).clone(),
        };
        let start = self.first_outline(&turning, guess);
        // walls of all meshes flex alike, so a cut that settles at once does as it did before
        self.rate = guess.and_then(|g| g.rates.get(index)).map_or(1.0, |r| *r);
        let dip = guess.and_then(|g| g.dip(index));
        let gives = dip.map(|dip| GivingWay::like(dip, &self.held.angles()));
        let guessed = guess.is_some_and(|g| g.cuts.get(index).is_some());
        let settled = self.iterate(&turning, (start, guessed), gives)?;
        self.take(&turning, settled)
    }

    /// The outline to start from: a guess's, or the circle seen from the body as it will flex once the wall is thinner.
    fn first_outline(&self, turning: &Turning, guess: Option<&Guess>) -> Vec<f64> {
        let angles = self.held.angles();
        let circle = &turning.circle;
        let outline = match guess.and_then(|g| Some((g.cuts.get(turning.index)?, g.share))) {
            Some((outline, share)) => angles
                .iter()
                .map(|&t| {
                    let circle = circle.reference_radius(t, [0.0, 0.0]);
                    circle + share * (outline.radius(t) - circle)
                })
                .collect::<Vec<f64>>(),
            None => {
                // bending grows as the cube of the wall that is lost
                let held = self.held.displacement(turning.cut.surface);
                let target = |u: &[[f64; 2]]| turning.target(u, angles.iter().copied(), None);
                let rough = turning.leave(&target(&held));
                let before = turning.mean_wall();
                let left = mean(&turning.wall(&rough)).max(THINNEST * before);
                let growth = (before / left).powi(3).min(8.0);
                let larger: Vec<[f64; 2]> = held.iter().map(|u| u.map(|x| growth * x)).collect();
                target(&larger)
            }
        };
        turning.leave(&outline)
    }

    /// Iterates outline, contact and what the held body iterates on besides, until they agree. `guessed` says whether the outline begins as one that has
    /// settled before.
    ///
    /// While the outline still changes the held body is solved for no more closely than the next change will tell (inexact inner iterations, as of a
    /// Newton method: Dembo, Eisenstat and Steihaug, SIAM J. Numer. Anal. 19 (1982) 400; from memory), the last time closely enough for what is asked.
    fn iterate(
        &mut self,
        turning: &Turning,
        (start, guessed): (Vec<f64>, bool),
        mut gives: Option<GivingWay>,
    ) -> Result<Settled, ProcessError> {
        let before = turning.mean_wall();
        let mut x = start;
        self.check_wall(turning, &x)?;
        let mut mixing = Mixing::default();
        let mut change = f64::INFINITY;
        let mut last: Option<[Vec<f64>; 2]> = None;
        let mut left_before: Option<Vec<f64>> = None;
        let patience = self.held.patience();
        // an outline that begins near its own answer is solved for once
        let mut within = match guessed {
            true => (UNSEEN * patience.settled * self.setting.accuracy).max(EXACTLY),
            false => ROUGHLY,
        };
        for iteration in 1..=patience.most {
            self.held.solve_within(within);
            self.follow(turning, &x, iteration, change)?;
            if gives.is_none() {
                gives = self.gives_way(turning, &x)?;
            }
            let aimed = self.aim(turning, gives.as_ref());
            let (inner_before, inner) = (self.held.inner_before(), self.held.inner());
            change = largest_change(&aimed.lines, &x).max(largest_change(&inner, &inner_before));
            if change.is_nan() {
                return Err(NotConverged::CutWithoutNumber.into());
            }
            let now = [aimed.lines.as_slice(), &inner].concat();
            let lines = x.len();
            let from = [x.as_slice(), &inner_before].concat();
            if let Some([from_before, to_before]) = &last {
                self.rate = largest_change(&now, to_before) / largest_change(&from, from_before);
            }
            // what is left is told by how one iteration's change follows from the last one's
            let left = &aimed.left;
            let told =
                iteration >= patience.least || self.has_settled(turning, UNTOLD * change, left);
            let needed = self.share_needed(turning, left);
            if told && self.has_settled(turning, change, left) {
                // settled, but perhaps by a body that is known too roughly to say so; what is needed moves with the outline
                if self.held.left_out() > 2.0 * needed {
                    within = needed;
                    continue;
                }
                let rest = rest(self.rate);
                let moved = left_before.map_or(change, |before| out_of_round(left, &before));
                let Some((aimed, drift)) = self.agrees(turning, &mut gives, &x, aimed)? else {
                    // the same again with the wall as it gives way now
                    x = self.aim(turning, gives.as_ref()).lines;
                    (mixing, last, left_before) = (Mixing::default(), None, None);
                    self.held.set_inner(&inner);
                    self.check_wall(turning, &x)?;
                    continue;
                };
                return Ok(Settled {
                    aimed,
                    unsettled: Unsettled {
                        outline: rest * change + drift,
                        roundness: rest * moved + 2.0 * drift,
                    },
                    gave_way: gives,
                });
            }
            within = (AHEAD * change / self.largest_move(turning)).clamp(needed, ROUGHLY);
            left_before = Some(aimed.left);
            let mixed = mixing.next(&from, &now);
            last = Some([from, now]);
            x = turning.leave(&mixed[..lines]);
            self.held.set_inner(&mixed[lines..]);
            self.check_wall(turning, &x)?;
        }
        Err(self.unsettled_cut(change, before).into())
    }

    /// Has the held body follow an outline (mm), the `iteration`th, after which the last changed it by so much (mm).
    fn follow(
        &mut self,
        turning: &Turning,
        outline: &[f64],
        iteration: usize,
        change: f64,
    ) -> Result<(), ProcessError> {
        let Turning { index, cut, .. } = turning;
        self.at.state = State::Cut {
            cut: index + 1,
            cuts: self.setting.step.cuts.len(),
            iteration,
        };
        let mut lines = self.lines.clone();
        lines.get_mut(cut.surface).copy_from_slice(outline);
        let followed = self.held.follow(cut.surface, &lines, &self.at);
        followed.map_err(|e| match iteration {
            1 => e,
            _ => e.still(|| Open::Cut { change }),
        })
    }

    /// Largest displacement of the surface that is cut, mm.
    fn largest_move(&self, turning: &Turning) -> f64 {
        let moved = self.held.displacement(turning.cut.surface);
        let sizes = moved.as_flattened().iter().map(|u| u.abs());
        sizes.fold(f64::MIN_POSITIVE, f64::max)
    }

    /// Share of its displacement that the held body may be off by for what the tool leaves (mm, at the sampled angles) to be told from what is asked.
    fn share_needed(&self, turning: &Turning, left: &[f64]) -> f64 {
        // one that leaves out nothing is not asked
        if self.held.left_out() == 0.0 {
            return ROUGHLY;
        }
        let share = UNSEEN * self.allowed(turning, left) / self.largest_move(turning);
        share.clamp(EXACTLY, ROUGHLY)
    }

    /// Change of an outline (mm) that is small enough beside what it leaves (mm, at the sampled angles).
    fn allowed(&self, turning: &Turning, left: &[f64]) -> f64 {
        let least = self.setting.least_measured(turning.cut.surface);
        self.held.patience().settled * self.setting.accuracy * roundness(left).max(least)
    }

    /// Where the tool's circle lies in the reference of the body as it stands, and what it leaves there.
    fn aim(&self, turning: &Turning, gives: Option<&GivingWay>) -> Aimed {
        let surface = turning.cut.surface;
        let dip = gives.map(GivingWay::at_lines);
        let u = self.held.displacement(surface);
        let lines = turning.target(&u, self.held.angles().into_iter(), dip);
        let dip = gives.map(GivingWay::sampled);
        let u = self.held.sampled(surface);
        let targets = turning.target(&u, (0..u.len()).map(sample_angle), dip);
        let stock = self.sampled.get(surface).iter().zip(&targets);
        Aimed {
            lines: turning.leave(&lines),
            left: stock.map(|(&s, &t)| turning.circle.leave(s, t)).collect(),
            targets,
        }
    }

    /// How the body with an outline (mm), as it stands, gives way to the tool's force, if the cut has one.
    fn gives_way(
        &mut self,
        turning: &Turning,
        outline: &[f64],
    ) -> Result<Option<GivingWay>, ProcessError> {
        let cut = turning.cut;
        if cut.radial_force <= 0.0 {
            return Ok(None);
        }
        let response = dip::respond(self.setting, self.held, (turning.index, cut), &self.at)?;
        let angles = self.held.angles();
        Ok(Some(GivingWay::new(response, outline, &angles)))
    }

    /// Whether the wall of a settled outline (`x`, mm, and what is aimed at from it) gives way as was reckoned with: what is aimed at then, and by how much
    /// (mm) that may still be off. It is solved for again unless the outline has hardly moved since it was.
    fn agrees(
        &mut self,
        turning: &Turning,
        gives: &mut Option<GivingWay>,
        x: &[f64],
        aimed: Aimed,
    ) -> Result<Option<(Aimed, f64)>, ProcessError> {
        let Some(known) = &gives else {
            return Ok(Some((aimed, 0.0)));
        };
        let wall = turning.thinnest(&aimed.lines);
        let drift = known.drift(&aimed.lines, wall);
        if self.has_settled(turning, drift, &aimed.left) {
            return Ok(Some((aimed, drift)));
        }
        let Some(now) = self.gives_way(turning, x)? else {
            return Ok(None);
        };
        let moved = now.apart(known);
        let known = gives.insert(now);
        if !self.has_settled(turning, moved, &aimed.left) {
            return Ok(None);
        }
        let aimed = self.aim(turning, Some(known));
        let drift = known.drift(&aimed.lines, wall);
        Ok(Some((aimed, drift)))
    }

    /// Whether a change (mm) of an outline is small enough beside what it leaves (mm, at the sampled angles).
    fn has_settled(&self, turning: &Turning, change: f64, left: &[f64]) -> bool {
        let allowed = self.held.patience().settled * self.setting.accuracy;
        let least = self.setting.least_measured(turning.cut.surface);
        // the circle takes several times as long as the range about the axis, which is never so much less than the out-of-roundness
        if change > allowed * (OFF_CENTRE * range(left)).max(least) {
            return false;
        }
        change <= self.allowed(turning, left)
    }

    /// Takes over the outline that a cut has settled to; says what it did, and where its outline has kinks (rad).
    fn take(
        &mut self,
        turning: &Turning,
        settled: Settled,
    ) -> Result<(CutOutcome, Vec<f64>), ProcessError> {
        let Turning {
            index, cut, circle, ..
        } = turning;
        let Settled {
            aimed,
            unsettled,
            gave_way,
        } = settled;
        self.unsettled = self.unsettled.max(unsettled);
        let before_cut = std::mem::replace(self.sampled.get_mut(cut.surface), aimed.left);
        let depths: Vec<f64> = before_cut
            .iter()
            .zip(&aimed.targets)
            .map(|(&s, &t)| circle.depth(s, t))
            .collect();
        let deepest = depths.iter().copied().fold(0.0, f64::max);
        let spring_pass = self.setting.step.is_spring_pass(*index);
        // a spring pass follows a circle that is there to within what the iterations of both cuts left unsettled
        let nothing = if spring_pass {
            (NOTHING * circle.radius).max(2.0 * self.unsettled.outline)
        } else {
            NOTHING * circle.radius
        };
        let touched = if spring_pass { nothing } else { 0.0 };
        if deepest <= nothing && !spring_pass {
            let nothing = Unfit::CutsNothing {
                surface: cut.surface,
                diameter: cut.diameter,
            };
            return Err(self.refuse(Reason::Input(nothing), *index));
        }
        *self.lines.get_mut(cut.surface) = aimed.lines;
        let shallowest = depths.iter().copied().fold(f64::INFINITY, f64::min);
        let reach: Vec<f64> = depths.iter().map(|d| d + touched).collect();
        let (cleaned_up, kinks) = reached(&reach);
        let outcome = CutOutcome {
            surface: cut.surface,
            diameter: cut.diameter,
            cleaned_up,
            depth_min: shallowest.max(0.0),
            depth_max: if deepest > nothing { deepest } else { 0.0 },
            stock_to_clean_up: if shallowest < -touched {
                -2.0 * shallowest
            } else {
                0.0
            },
            tool_dip: gave_way
                .zip(self.before.take())
                .and_then(|(gave_way, before)| {
                    let left = self.sampled.get(cut.surface);
                    dip::outcome(
                        circle,
                        [&before_cut, left],
                        &aimed.targets,
                        &before,
                        &gave_way,
                    )
                }),
        };
        Ok((outcome, kinks))
    }

    /// Why the iterations of a cut did not settle, and what would help: less flexing, or less accuracy.
    fn unsettled_cut(&self, change: f64, wall: f64) -> NotConverged {
        let flexing = self.flexing(wall);
        NotConverged::Cut {
            iterations: self.held.patience().most,
            change,
            flexing,
            flexes_much: flexing > LARGE_FLEXING,
            accuracy: self.setting.accuracy,
        }
    }

    /// Refuses an outline that leaves next to no wall.
    fn check_wall(&self, turning: &Turning, radii: &[f64]) -> Result<(), ProcessError> {
        let Turning {
            index, cut, other, ..
        } = turning;
        let before = turning.mean_wall();
        let outward = cut.surface.outward();
        let thin = radii
            .iter()
            .zip(other)
            .zip(self.held.angles())
            .map(|((r, o), t)| (outward * (r - o), t))
            .min_by(|a, b| a.0.total_cmp(&b.0));
        let Some((wall, theta)) = thin else {
            return Ok(());
        };
        if wall > THINNEST * before {
            return Ok(());
        }
        let flexing = self.flexing(before);
        let angle_deg = theta.to_degrees().rem_euclid(360.0);
        if flexing > 0.3 {
            return Err(NotConverged::FlexesThroughCut {
                angle_deg,
                flexing,
                uneven_stock: self.unevenness() > before,
            }
            .into());
        }
        let through = Reason::CutThrough {
            diameter: cut.diameter,
            wall,
            angle_deg,
        };
        Err(self.refuse(through, *index))
    }

    /// Largest less smallest radius of a surface before this cut, mm.
    fn unevenness(&self) -> f64 {
        range(&self.lines.outer).max(range(&self.lines.bore))
    }

    fn flexing(&self, wall: f64) -> f64 {
        Surface::BOTH
            .into_iter()
            .flat_map(|s| self.held.displacement(s))
            .map(|u| u[0].abs())
            .fold(0.0, f64::max)
            / wall
    }

    fn refuse(&self, reason: Reason, cut: usize) -> ProcessError {
        let step = self.setting.index;
        reason.at(Place::CutDiameter { step, cut })
    }
}
