//! Cutting the held body, by iteration, until its outline agrees with its own equilibrium.

use super::caution::LARGE_FLEXING;
use super::cut::{Mixing, ToolCircle, Unsettled};
use super::sample::{difference, mean, range, roundness, sample_angle};
use super::step::{Guess, Setting};
use super::{CutOutcome, NotConverged, Open, ProcessError, Radii, Reason, Unfit};
use crate::case::{Cut, Place};
use crate::geometry::Surface;
use crate::metrology::ProfileError;
use crate::watch::{Progress, State};

/// How long a cut's iterations go on.
#[derive(Clone, Copy)]
pub(super) struct Patience {
    /// Iterations that are made even where the first changes little, and those before it is given up.
    pub least: usize,
    pub most: usize,
    /// It has settled when the outline changes by less than this share of the accuracy asked, times the roundness.
    pub settled: f64,
}

/// Times smaller than is asked for that a first change may be and be the last: whatever it leaves is then no more than it was.
const UNTOLD: f64 = 50.0;

/// Least share of the last change that another iteration, or another pass over the same circle, may take.
const LEAST_REST: f64 = 0.1;

/// Depth of a cut that takes nothing, as a share of its radius.
const NOTHING: f64 = 1e-9;

/// Range of the radii about the axis times which out-of-roundness about the least-squares centre never is. That centre lies off the axis by twice
/// the mean departure times a cosine, so by less than two thirds of the range, and adds at most twice that.
const OFF_CENTRE: f64 = 3.0;

/// Thinnest wall that an iteration may leave, as a share of the wall before.
const THINNEST: f64 = 0.02;

/// A held part under the tool, whatever it is solved with.
pub(super) trait HeldBody {
    /// Angles at which its outlines are given, rad, ends and middles of edges in turn.
    fn angles(&self) -> Vec<f64>;

    /// Radial and tangential displacement of a surface at those angles, mm.
    fn displacement(&self, surface: Surface) -> Vec<[f64; 2]>;

    /// The same at [`super::PROFILE_POINTS`] equal angles.
    fn sampled(&self, surface: Surface) -> Vec<[f64; 2]>;

    /// How long its iterations go on: one that solves the whole body again leaves a small part of what it changed.
    fn patience(&self) -> Patience {
        Patience {
            least: 1,
            most: 30,
            settled: 0.1,
        }
    }

    /// Hears of a cut before its first iteration, with the outlines as they are (mm, at the angles) and what a like step came to.
    ///
    /// # Errors
    /// See [`ProcessError`].
    fn begin(
        &mut self,
        _cut: &Cut,
        _lines: &Radii,
        _guess: Option<&Guess>,
    ) -> Result<(), ProcessError> {
        Ok(())
    }

    /// Takes over the outlines (mm, at the angles) of which one surface is new, and finds where the part lies now.
    ///
    /// # Errors
    /// See [`ProcessError`].
    fn follow(
        &mut self,
        surface: Surface,
        lines: &Radii,
        at: &Progress,
    ) -> Result<(), ProcessError>;

    /// What it iterates on beside the outline: as the last iteration began with it, and as it came out. Empty where an iteration leaves nothing
    /// open.
    fn inner_before(&self) -> Vec<f64> {
        Vec::new()
    }

    /// See [`HeldBody::inner_before`].
    fn inner(&self) -> Vec<f64> {
        Vec::new()
    }

    /// What it is to start the next iteration from.
    fn set_inner(&mut self, _inner: &[f64]) {}
}

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
}

/// A cut that is being taken: its circle, and the outlines before it at the held body's angles, mm.
struct Turning<'c> {
    /// Number in its step, from 0.
    index: usize,
    cut: &'c Cut,
    circle: ToolCircle,
    stock: Vec<f64>,
    /// Of the other surface.
    other: Vec<f64>,
}

impl Turning<'_> {
    /// Wall between an outline and the other surface, mm.
    fn wall(&self, outline: &[f64]) -> Vec<f64> {
        outline
            .iter()
            .zip(&self.other)
            .map(|(a, b)| (a - b).abs())
            .collect()
    }

    /// Mean wall before the cut, mm.
    fn mean_wall(&self) -> f64 {
        mean(&self.wall(&self.stock))
    }

    /// Reference radii (mm, at the angles) of the circle seen from a body that is displaced like this (mm).
    fn target(&self, displacement: &[[f64; 2]], angles: &[f64]) -> Vec<f64> {
        displacement
            .iter()
            .zip(angles)
            .map(|(&u, &t)| self.circle.reference_radius(t, u))
            .collect()
    }

    /// What the tool leaves of the stock where it aims at these radii, mm.
    fn leave(&self, targets: &[f64]) -> Vec<f64> {
        self.stock
            .iter()
            .zip(targets)
            .map(|(&s, &t)| self.circle.leave(s, t))
            .collect()
    }
}

/// An outline that agrees with its own equilibrium.
struct Settled {
    /// Radii at the held body's angles, mm.
    lines: Vec<f64>,
    /// Radii of the tool's circle at the sampled angles, in the reference, mm.
    targets: Vec<f64>,
    /// What it leaves there, mm.
    left: Vec<f64>,
    unsettled: Unsettled,
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
        let settled = self.iterate(&turning, start)?;
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
                let rough = turning.leave(&turning.target(&held, &angles));
                let before = turning.mean_wall();
                let left = mean(&turning.wall(&rough)).max(THINNEST * before);
                let growth = (before / left).powi(3).min(8.0);
                let larger: Vec<[f64; 2]> = held.iter().map(|u| u.map(|x| growth * x)).collect();
                turning.target(&larger, &angles)
            }
        };
        turning.leave(&outline)
    }

    /// Iterates outline, contact and what the held body iterates on besides, until they agree.
    fn iterate(&mut self, turning: &Turning, start: Vec<f64>) -> Result<Settled, ProcessError> {
        let Turning {
            index, cut, circle, ..
        } = turning;
        let before = turning.mean_wall();
        let angles = self.held.angles();
        let mut x = start;
        self.check_wall(turning, &x)?;
        let mut mixing = Mixing::default();
        let mut change = f64::INFINITY;
        let mut last: Option<[Vec<f64>; 2]> = None;
        let mut left_before: Option<Vec<f64>> = None;
        let patience = self.held.patience();
        for iteration in 1..=patience.most {
            self.at.state = State::Cut {
                cut: index + 1,
                cuts: self.setting.step.cuts.len(),
                iteration,
            };
            let mut lines = self.lines.clone();
            lines.get_mut(cut.surface).clone_from(&x);
            let followed = self.held.follow(cut.surface, &lines, &self.at);
            followed.map_err(|e| match iteration {
                1 => e,
                _ => e.still(|| Open::Cut { change }),
            })?;
            let u = self.held.displacement(cut.surface);
            let g = turning.leave(&turning.target(&u, &angles));
            let (inner_before, inner) = (self.held.inner_before(), self.held.inner());
            change = largest_change(&g, &x).max(largest_change(&inner, &inner_before));
            let targets: Vec<f64> = self
                .held
                .sampled(cut.surface)
                .iter()
                .enumerate()
                .map(|(k, &v)| circle.reference_radius(sample_angle(k), v))
                .collect();
            let left: Vec<f64> = self
                .sampled
                .get(cut.surface)
                .iter()
                .zip(&targets)
                .map(|(&s, &t)| circle.leave(s, t))
                .collect();
            if change.is_nan() {
                return Err(NotConverged::CutWithoutNumber.into());
            }
            let now = [g.as_slice(), &inner].concat();
            let lines = x.len();
            let from = [x, inner_before].concat();
            if let Some([from_before, to_before]) = &last {
                self.rate = largest_change(&now, to_before) / largest_change(&from, from_before);
            }
            // what is left is told by how one iteration's change follows from the last one's
            let told =
                iteration >= patience.least || self.has_settled(turning, UNTOLD * change, &left);
            if told && self.has_settled(turning, change, &left) {
                let rest = rest(self.rate);
                let moved = left_before.map_or(change, |before| out_of_round(&left, &before));
                return Ok(Settled {
                    lines: g,
                    targets,
                    left,
                    unsettled: Unsettled {
                        outline: rest * change,
                        roundness: rest * moved,
                    },
                });
            }
            left_before = Some(left);
            let mixed = mixing.next(&from, &now);
            last = Some([from, now]);
            x = turning.leave(&mixed[..lines]);
            self.held.set_inner(&mixed[lines..]);
            self.check_wall(turning, &x)?;
        }
        Err(self.unsettled_cut(change, before).into())
    }

    /// Whether a change (mm) of an outline is small enough beside what it leaves (mm, at the sampled angles).
    fn has_settled(&self, turning: &Turning, change: f64, left: &[f64]) -> bool {
        let allowed = self.held.patience().settled * self.setting.accuracy;
        let least = self.setting.least_measured(turning.cut.surface);
        // the circle takes several times as long as the range about the axis, which is never so much less than the out-of-roundness
        if change > allowed * (OFF_CENTRE * range(left)).max(least) {
            return false;
        }
        change <= allowed * roundness(left).max(least)
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
        self.unsettled = self.unsettled.max(settled.unsettled);
        let before_cut = std::mem::replace(self.sampled.get_mut(cut.surface), settled.left);
        let depths: Vec<f64> = before_cut
            .iter()
            .zip(&settled.targets)
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
        *self.lines.get_mut(cut.surface) = settled.lines;
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

/// What iterations leave, as a share of the last change: the sum of a geometric series that goes on by the share of a change that one hands
/// on. That is seen in where the last two began and ended, not in their changes, which mixing makes smaller; where only one was made it is that of the
/// same cut on another mesh, whose outline it began with. A tenth at least, and the whole where half is handed on or nothing is known.
fn rest(rate: f64) -> f64 {
    let rest = if rate < 0.5 { rate / (1.0 - rate) } else { 1.0 };
    rest.max(LEAST_REST)
}

/// By how much two outlines at equal angles differ out of round, mm.
fn out_of_round(a: &[f64], b: &[f64]) -> f64 {
    ProfileError::new(difference(a, b), 0.0).roundness()
}

/// Largest change of two lists that go together.
fn largest_change(a: &[f64], b: &[f64]) -> f64 {
    let size = |(x, y): (&f64, &f64)| (x - y).abs();
    a.iter().zip(b).map(size).fold(0.0, f64::max)
}

/// Share of the turn where the depth is positive, crossings interpolated, and the angles of the crossings, rad.
fn reached(depths: &[f64]) -> (f64, Vec<f64>) {
    let n = depths.len();
    let mut share = 0.0;
    let mut kinks = Vec::new();
    for k in 0..n {
        let (a, b) = (depths[k], depths[(k + 1) % n]);
        match (a > 0.0, b > 0.0) {
            (true, true) => share += 1.0,
            (false, false) => {}
            (inside, _) => {
                let at = a / (a - b);
                share += if inside { at } else { 1.0 - at };
                kinks.push(sample_angle(k) + at * std::f64::consts::TAU / n as f64);
            }
        }
    }
    (share / n as f64, kinks)
}
