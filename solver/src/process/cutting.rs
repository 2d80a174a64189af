//! Cutting the held body, pass by pass, until its outline agrees with its own equilibrium.

use super::cut::{Mixing, ToolCircle};
use super::sample::{Sampler, at_lines, mean, roundness, sample_angle};
use super::statics::{ResidualStress, sparse};
use super::step::{Guess, Setting, not_trustworthy, wall_error};
use super::{CutOutcome, LARGE_FLEXING, ProcessError, Radii};
use crate::case::Cut;
use crate::contact::{Clamp, Clamped};
use crate::element::PlaneStress;
use crate::geometry::Surface;
use crate::linear::Cholesky;
use crate::mesh::Mesh;

/// Passes of a cut before it is given up.
const MOST_PASSES: usize = 30;

/// A cut stops when the outline changes by less than this share of the accuracy asked, times the roundness.
const SETTLED: f64 = 0.1;

/// Thinnest wall that a pass may leave, as a share of the wall before.
const THINNEST: f64 = 0.02;

/// The part being cut, pass by pass.
pub(super) struct Cutting<'a, 'b> {
    pub setting: &'a Setting<'b>,
    /// Where the spindle axis lies in the part's frame, mm.
    pub spindle: [f64; 2],
    pub law: PlaneStress,
    pub residual: Option<&'a ResidualStress>,
    pub sampler: &'a Sampler,
    /// Made for the first pass; later passes reuse its analysis.
    pub factor: Option<Cholesky>,
    pub mesh: &'a mut Mesh,
    pub clamp: Clamp,
    pub state: Clamped,
    /// Radii of the reference at the lattice lines.
    pub lines: Radii,
    /// The same at [`PROFILE_POINTS`] angles, kinks not smeared over an element.
    pub sampled: Radii,
    pub unsettled: f64,
}

impl Cutting<'_, '_> {
    pub fn cut(
        &mut self,
        index: usize,
        cut: &Cut,
        guess: Option<&Guess>,
    ) -> Result<(CutOutcome, Vec<f64>), ProcessError> {
        let circle = ToolCircle {
            surface: cut.surface,
            radius: 0.5 * cut.diameter,
            centre: self.spindle,
        };
        let stock = self.lines.get(cut.surface).clone();
        let other = self.lines.get(opposite(cut.surface)).clone();
        let wall =
            |r: &[f64]| -> Vec<f64> { r.iter().zip(&other).map(|(a, b)| (a - b).abs()).collect() };
        let before = mean(&wall(&stock));
        let target = |at: &[[f64; 2]], angles: &[f64]| -> Vec<f64> {
            at.iter()
                .zip(angles)
                .map(|(&u, &t)| circle.reference_radius(t, u))
                .collect()
        };
        let leave = |t: &[f64]| -> Vec<f64> {
            stock
                .iter()
                .zip(t)
                .map(|(&s, &t)| circle.leave(s, t))
                .collect()
        };

        let angles = self.mesh.angles().to_vec();
        let mut x = leave(
            &match guess.and_then(|g| Some((g.cuts.get(index)?, g.share))) {
                Some((outline, share)) => angles
                    .iter()
                    .map(|&t| {
                        let circle = circle.reference_radius(t, [0.0, 0.0]);
                        circle + share * (outline.radius(t) - circle)
                    })
                    .collect::<Vec<f64>>(),
                None => {
                    // bending grows as the cube of the wall that is lost
                    let held = at_lines(self.mesh, cut.surface, &self.state.displacement);
                    let rough = leave(&target(&held, &angles));
                    let left = mean(&wall(&rough)).max(THINNEST * before);
                    let growth = (before / left).powi(3).min(8.0);
                    let grown: Vec<[f64; 2]> = held.iter().map(|u| u.map(|x| growth * x)).collect();
                    target(&grown, &angles)
                }
            },
        );
        self.check_wall(index, cut, &x, &other, before)?;

        let mut mixing = Mixing::default();
        let mut settled = None;
        let mut change = f64::INFINITY;
        for _ in 0..MOST_PASSES {
            self.pass(cut.surface, &x)?;
            let u = at_lines(self.mesh, cut.surface, &self.state.displacement);
            let g = leave(&target(&u, &angles));
            change = g
                .iter()
                .zip(&x)
                .map(|(a, b)| (a - b).abs())
                .fold(0.0, f64::max);
            let targets: Vec<f64> = self
                .sampler
                .displacement(self.mesh, cut.surface, &self.state.displacement)
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
                return Err(not_trustworthy("the cut's passes gave no number"));
            }
            let scale = roundness(&left).max(self.setting.least_measured(cut.surface));
            if change <= SETTLED * self.setting.accuracy * scale {
                settled = Some((g, targets, left));
                break;
            }
            x = leave(&mixing.next(&x, &g));
            self.check_wall(index, cut, &x, &other, before)?;
        }
        let Some((lines, targets, left)) = settled else {
            return Err(not_trustworthy(self.unsettled_cut(change, before)));
        };
        self.unsettled = self.unsettled.max(change);

        let before_cut = std::mem::replace(self.sampled.get_mut(cut.surface), left);
        let depths: Vec<f64> = before_cut
            .iter()
            .zip(&targets)
            .map(|(&s, &t)| circle.depth(s, t))
            .collect();
        let deepest = depths.iter().copied().fold(0.0, f64::max);
        if deepest <= 1e-9 * circle.radius {
            return Err(self.input(
                index,
                cut,
                format!(
                    "this cut removes nothing: held, the {} already lies {} {:.3} mm everywhere",
                    cut.surface.name(),
                    if cut.surface == Surface::Outer {
                        "inside diameter"
                    } else {
                        "outside diameter"
                    },
                    cut.diameter
                ),
            ));
        }
        *self.lines.get_mut(cut.surface) = lines;
        let shallowest = depths.iter().copied().fold(f64::INFINITY, f64::min);
        let (cleaned_up, kinks) = reached(&depths);
        let outcome = CutOutcome {
            surface: cut.surface,
            diameter: cut.diameter,
            cleaned_up,
            depth_min: shallowest.max(0.0),
            depth_max: deepest,
            stock_to_clean_up: 2.0 * (-shallowest).max(0.0),
        };
        Ok((outcome, kinks))
    }

    /// Why the passes of a cut did not settle, and what would help: less flexing, or less accuracy.
    fn unsettled_cut(&self, change: f64, wall: f64) -> String {
        let flexing = self.flexing(wall);
        let cure = if flexing > LARGE_FLEXING {
            format!("the part flexes by {flexing:.2} of its wall: use less force or better support")
        } else {
            format!(
                "accuracy {:.1e} is more than the arithmetic gives here: ask for less",
                self.setting.accuracy
            )
        };
        format!(
            "the cut did not settle in {MOST_PASSES} passes (last change {change:.1e} mm); {cure}"
        )
    }

    /// Moves the outline, factors again, clamps again.
    fn pass(&mut self, surface: Surface, radii: &[f64]) -> Result<(), ProcessError> {
        let mut lines = self.lines.clone();
        *lines.get_mut(surface) = radii.to_vec();
        self.mesh.fit_radii(&lines).map_err(wall_error)?;
        let factor = sparse(&mut self.factor, self.mesh, &self.law)?;
        let load = self.residual.map(|r| r.load(self.mesh, &self.law));
        let gap_surface = |s: Surface, t: f64| self.setting.body.outlines.get(s).radius(t);
        self.state = self
            .clamp
            .clamp(
                factor,
                self.mesh,
                &gap_surface,
                load.as_deref(),
                Some(&self.state),
            )
            .map_err(|e| self.setting.contact(e))?;
        Ok(())
    }

    fn check_wall(
        &self,
        index: usize,
        cut: &Cut,
        radii: &[f64],
        other: &[f64],
        before: f64,
    ) -> Result<(), ProcessError> {
        let outward = cut.surface.outward();
        let thin = radii
            .iter()
            .zip(other)
            .zip(self.mesh.angles())
            .map(|((r, o), t)| (outward * (r - o), *t))
            .min_by(|a, b| a.0.total_cmp(&b.0));
        let Some((wall, theta)) = thin else {
            return Ok(());
        };
        if wall > THINNEST * before {
            return Ok(());
        }
        let flexing = self.flexing(before);
        let place = theta.to_degrees().rem_euclid(360.0);
        if flexing > 0.3 {
            return Err(ProcessError::NotTrustworthy {
                message: format!(
                    "the tool runs through the wall at {place:.1} deg while the part flexes by {flexing:.2} of its wall: \
                     use less force or better support"
                ),
            });
        }
        Err(self.input(
            index,
            cut,
            format!(
                "a cut to {:.3} mm leaves a wall of {wall:.3} mm at {place:.1} deg: it goes through the wall",
                cut.diameter
            ),
        ))
    }

    fn flexing(&self, wall: f64) -> f64 {
        Surface::BOTH
            .into_iter()
            .flat_map(|s| at_lines(self.mesh, s, &self.state.displacement))
            .map(|u| u[0].abs())
            .fold(0.0, f64::max)
            / wall
    }

    fn input(&self, index: usize, cut: &Cut, message: String) -> ProcessError {
        ProcessError::Input {
            line: cut.line,
            field: format!("step[{}].cut[{index}].diameter", self.setting.index),
            message,
        }
    }
}

fn opposite(surface: Surface) -> Surface {
    match surface {
        Surface::Outer => Surface::Bore,
        Surface::Bore => Surface::Outer,
    }
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
