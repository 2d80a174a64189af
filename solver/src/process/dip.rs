//! The wall under the tool: how far it gives way, and what of that is left on the part.
//!
//! The tool pushes the wall away while it cuts it to its circle, and the wall springs back behind it. In the held equilibrium without the tool
//! a point of the cut surface then stands off the circle by the dip there, on the side of the tool: at `R - dip` in a bore, `R + dip` on an
//! outside. The dip is that of the finished body (`contact::locked`), along the part's radius, as a function of the reference angle; between
//! the places where it is solved for it is the trigonometric polynomial through them.
//!
//! How far the iterations of a cut have to follow it: bending grows with the cube of the wall that is lost, so a change `d` of an outline
//! changes the dip by about `3 d / t` of itself, and a first outline that is a percent of the wall off leaves a dip that is a few percent off;
//! the next is off by the square of that.

use std::f64::consts::TAU;

use super::cut::ToolCircle;
use super::cutting::HeldBody;
use super::sample::{difference, roundness};
use super::step::Setting;
use super::{Looseness, PROFILE_POINTS, ProcessError, Reason, ToolDip};
use crate::case::{Cut, Place};
use crate::contact::{LockedResponse, Tool, ToolPlaces};
use crate::fourier::{Complex64, spectrum, values};
use crate::geometry::Surface;
use crate::metrology::{Profile, harmonics, least_squares_circle};
use crate::watch::Progress;

/// Equal angles at which the dip is solved for.
pub(super) const PLACES: usize = 72;

/// Half of the arc over which the tool's force is spread, degrees.
pub(super) const HALF_ANGLE_DEG: f64 = 1.0;

/// Times a change of the wall, as a share of it, by which the dip changes at most, as a share of it: the cube, and some.
const BY_THE_WALL: f64 = 4.0;

/// A tool that pushes on a surface with a force, N.
pub(super) fn tool(surface: Surface, force: f64) -> Tool {
    Tool {
        places: ToolPlaces {
            surface,
            count: PLACES,
            half_angle: HALF_ANGLE_DEG.to_radians(),
        },
        force,
    }
}

/// The trigonometric polynomial through values at equal angles from 0.
struct Wave {
    /// Complex coefficients from 0; the value is the real part of their sum, all but the first twice.
    terms: Vec<Complex64>,
}

impl Wave {
    fn through(of: &[f64]) -> Self {
        let n = of.len();
        let mut terms: Vec<Complex64> = spectrum(of).iter().map(|x| x / n as f64).collect();
        // the highest term of an even number of values stands for both of its signs
        if n.is_multiple_of(2)
            && let Some(last) = terms.last_mut()
        {
            *last *= 0.5;
        }
        Self { terms }
    }

    /// At so many equal angles from 0, more than it goes through.
    fn equal(&self, count: usize) -> Vec<f64> {
        let mut padded = self.terms.clone();
        padded.resize(count / 2 + 1, Complex64::new(0.0, 0.0));
        values(&padded, count)
    }

    /// At an angle, rad.
    fn at(&self, angle: f64) -> f64 {
        let turn = Complex64::from_polar(1.0, angle);
        let mut now = turn;
        let mut sum = self.terms[0].re;
        for term in &self.terms[1..] {
            sum += 2.0 * (term * now).re;
            now *= turn;
        }
        sum
    }
}

/// A wall that gives way to the force of a tool, its outline as it was when that was solved for.
#[derive(Clone)]
pub(super) struct GivingWay {
    /// What was solved for; `None` of a dip that is taken from a like step.
    response: Option<LockedResponse>,
    /// The dip at the held body's angles and at [`PROFILE_POINTS`], mm.
    at_lines: Vec<f64>,
    sampled: Vec<f64>,
    /// The outline, at the held body's angles, mm.
    outline: Vec<f64>,
}

impl GivingWay {
    /// As a response says, of an outline (mm) at these angles (rad).
    pub fn new(response: LockedResponse, outline: &[f64], angles: &[f64]) -> Self {
        let like = Self::like(&response.dip, angles);
        Self {
            response: Some(response),
            outline: outline.to_vec(),
            ..like
        }
    }

    /// As in a like step, whose dip (mm) is given at equal angles from 0: it is not solved for again.
    pub fn like(dip: &[f64], angles: &[f64]) -> Self {
        let wave = Wave::through(dip);
        Self {
            response: None,
            at_lines: angles.iter().map(|&t| wave.at(t)).collect(),
            sampled: wave.equal(PROFILE_POINTS),
            outline: Vec::new(),
        }
    }

    /// At the held body's angles, mm.
    pub fn at_lines(&self) -> &[f64] {
        &self.at_lines
    }

    /// At [`PROFILE_POINTS`] equal angles, mm.
    pub fn sampled(&self) -> &[f64] {
        &self.sampled
    }

    /// By how much the dip of another outline may differ, mm, where the thinnest wall is `wall` mm; none of a dip that is taken as it is.
    pub fn drift(&self, outline: &[f64], wall: f64) -> f64 {
        let Some(response) = &self.response else {
            return 0.0;
        };
        let moved = largest(&difference(outline, &self.outline));
        BY_THE_WALL * moved / wall * largest(&response.dip)
    }

    /// Largest difference of the dip from another's, mm.
    pub fn apart(&self, other: &Self) -> f64 {
        largest(&difference(&self.sampled, &other.sampled))
    }
}

fn largest(x: &[f64]) -> f64 {
    x.iter().fold(0.0, |m, v| m.max(v.abs()))
}

/// What the tool of a cut (and its index in the step) does to a held body.
///
/// # Errors
/// See [`ProcessError`]; what is not resisted is told at the force.
pub(super) fn respond<H: HeldBody + ?Sized>(
    setting: &Setting,
    held: &mut H,
    (index, cut): (usize, &Cut),
    at: &Progress,
) -> Result<LockedResponse, ProcessError> {
    setting.tell(at)?;
    let found = held.locked(tool(cut.surface, cut.radial_force), at);
    found.map_err(|e| match e.reason {
        Reason::Loose(Looseness::UnderTool { .. }) => e.reason.at(Place::CutForce {
            step: setting.index,
            cut: index,
        }),
        _ => e,
    })
}

/// What the tool's force did in a cut to a circle that aimed at radii `targets`: dips before it (by the response of the part as it was) and
/// of the finished body; `None` of a dip that was not solved for. The outline before and after, and the radii, are mm at [`PROFILE_POINTS`].
pub(super) fn outcome(
    circle: &ToolCircle,
    [stock, left]: [&[f64]; 2],
    targets: &[f64],
    before: &LockedResponse,
    finished: &GivingWay,
) -> Option<ToolDip> {
    let response = finished.response.as_ref()?;
    let outward = circle.surface.outward();
    let dips = || finished.sampled.iter();
    let alone: Vec<f64> = dips().map(|dip| circle.radius + outward * dip).collect();
    let aims = targets.iter().zip(dips()).map(|(t, dip)| t - outward * dip);
    let by_clamp: Vec<f64> = stock
        .iter()
        .zip(aims)
        .map(|(&s, t)| circle.leave(s, t))
        .collect();
    let profile = Profile::equal(&alone);
    let fitted = least_squares_circle(&profile);
    let most = (PLACES / 2 - 1) as u32;
    let comes_off = before.comes_off.or(response.comes_off);
    let reactions = before.reactions.row_iter();
    Some(ToolDip {
        force: response.force,
        angles: (0..PLACES)
            .map(|k| TAU * k as f64 / PLACES as f64)
            .collect(),
        dip: before.dip.clone(),
        finished: response.dip.clone(),
        reactions: reactions.map(|row| row.iter().copied().collect()).collect(),
        lobes: harmonics(&profile, fitted.centre, most),
        roundness: fitted.roundness,
        roundness_by_clamp: roundness(&by_clamp),
        roundness_left: roundness(left),
        comes_off: comes_off.map(|c| (c.body + 1, TAU * c.place as f64 / PLACES as f64)),
    })
}

/// Share of a dip by which what the outline adds to it may be off, beside what two solves differ by: they share the lattice that it is
/// solved on.
const SHARED: f64 = 1.5e-3;

/// Estimated error of the dips of a cut that was solved twice, mm.
pub(super) fn error((coarse, fine): (&ToolDip, &ToolDip)) -> f64 {
    let apart = |a: &[f64], b: &[f64]| largest(&difference(a, b));
    let differ = apart(&coarse.dip, &fine.dip).max(apart(&coarse.finished, &fine.finished));
    differ + SHARED * largest(&fine.finished)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A sum of lobes up to half the number of its values comes back at any angle; the highest lobe as its cosine.
    #[test]
    fn a_wave_goes_through_its_values_and_stays_the_same_between() {
        let f = |t: f64| 0.3 + (3.0 * t).cos() - 0.2 * (35.0 * t).sin() + 0.1 * (36.0 * t).cos();
        let angle = |k: usize, n: usize| TAU * k as f64 / n as f64;
        let at: Vec<f64> = (0..PLACES).map(|k| f(angle(k, PLACES))).collect();
        let wave = Wave::through(&at);
        for (k, value) in wave.equal(PROFILE_POINTS).into_iter().enumerate() {
            let t = angle(k, PROFILE_POINTS);
            assert!((value - f(t)).abs() < 1e-12 && (wave.at(t) - f(t)).abs() < 1e-12);
        }
    }
}
