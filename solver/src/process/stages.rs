//! What every way of solving a step has in common once the part is held: its cuts one after the other, and what it leaves.

use super::cut::Unsettled;
use super::cutting::{Cutting, HeldBody};
use super::dip;
use super::guess::Guess;
use super::sample::{profile, roundness, sample_directions};
use super::step::{PartBody, Setting, cut_surfaces};
use super::{CutOutcome, ProcessError, Radii, StressSummary};
use crate::geometry::{Outline, PerSurface, SampledOutline, Surface};
use crate::watch::Progress;

/// The cuts of a step as they came out.
pub(super) struct CutStages {
    pub cuts: Vec<CutOutcome>,
    /// The outline that each cut left, in the stress-free reference.
    pub outlines: Vec<SampledOutline>,
    /// Share of a change that an iteration of each cut hands on to the next.
    pub rates: Vec<f64>,
    /// Radii of the reference after the last cut, at the held body's angles.
    pub lines: Radii,
    /// The same at [`super::PROFILE_POINTS`] angles.
    pub sampled: Radii,
    /// Bound of the error left by the iterations, mm.
    pub unsettled: Unsettled,
    /// The part after the cuts.
    pub body: PartBody,
    /// Stress after each cut but the last.
    pub stress_between_cuts: Vec<StressSummary>,
}

/// The part once its cuts are made and it is released.
pub(super) struct Release {
    /// Distance of the cut surfaces from the spindle axis while the part is still held, mm.
    pub from_spindle: Radii,
    /// Displacement of the nodes when residual stress comes to rest, mm.
    pub relaxed: Option<Vec<[f64; 2]>>,
    /// Shape released, mm.
    pub shape: Radii,
    /// How far the held part moves, share of the wall that is left.
    pub flexing: f64,
}

/// Makes all cuts of a step. `stress` gives the stress of the held part with a body's outlines.
pub(super) fn cut_all<H: HeldBody>(
    setting: &Setting,
    at: Progress,
    spindle: [f64; 2],
    held: &mut H,
    guess: Option<&Guess>,
    stress: impl Fn(&H, &PartBody) -> Result<StressSummary, ProcessError>,
) -> Result<CutStages, ProcessError> {
    let angles = held.angles();
    let mut stages = CutStages {
        cuts: Vec::new(),
        outlines: Vec::new(),
        rates: Vec::new(),
        lines: PerSurface::from_fn(|s| {
            let outline = setting.body.outlines.get(s);
            angles.iter().map(|&t| outline.radius(t)).collect()
        }),
        sampled: PerSurface::from_fn(|s| profile(setting.body.outlines.get(s))),
        unsettled: Unsettled::default(),
        body: setting.body.clone(),
        stress_between_cuts: Vec::new(),
    };
    for (k, cut) in setting.step.cuts.iter().enumerate() {
        let known = guess.is_some_and(|g| g.dip(k).is_some());
        let before = match cut.radial_force > 0.0 && !known {
            true => Some(dip::respond(setting, held, (k, cut), &at)?),
            false => None,
        };
        held.begin(cut, &stages.lines, guess)?;
        let mut cutting = Cutting {
            setting,
            held,
            at,
            spindle,
            lines: stages.lines,
            sampled: stages.sampled,
            unsettled: stages.unsettled,
            rate: 1.0,
            before,
        };
        let (outcome, kinks) = cutting.cut(k, cut, guess)?;
        stages.rates.push(cutting.rate);
        Cutting {
            lines: stages.lines,
            sampled: stages.sampled,
            unsettled: stages.unsettled,
            ..
        } = cutting;
        let radii = stages.lines.get(cut.surface).clone();
        let outline = SampledOutline::new(angles.clone(), radii);
        *stages.body.outlines.get_mut(cut.surface) = Outline::Sampled(outline.clone());
        stages.outlines.push(outline);
        *stages.body.nominal.get_mut(cut.surface) = 0.5 * cut.diameter;
        stages.body.kinks.extend(kinks);
        stages.cuts.push(outcome);
        if k + 1 < setting.step.cuts.len() {
            let summary = stress(held, &stages.body)?;
            stages.stress_between_cuts.push(summary);
        }
    }
    Ok(stages)
}

/// What drives the accuracy of a step: out-of-roundness of each surface that was cut, released, or of both, held.
pub(super) fn driving(setting: &Setting, held: &Radii, released: &Radii) -> Vec<(Surface, f64)> {
    if setting.step.cuts.is_empty() {
        let of = |s: Surface| (s, roundness(held.get(s)));
        Surface::BOTH.map(of).to_vec()
    } else {
        let surfaces = cut_surfaces(setting.step).into_iter();
        surfaces.map(|s| (s, roundness(released.get(s)))).collect()
    }
}

/// Distance of the moved surface points from the spindle axis, mm.
pub(super) fn distances(
    centre: [f64; 2],
    sampled: &Radii,
    moved: &dyn Fn(Surface) -> Vec<[f64; 2]>,
) -> Radii {
    PerSurface::from_fn(|s| {
        moved(s)
            .iter()
            .zip(sampled.get(s))
            .enumerate()
            .map(|(k, ([ur, ut], r))| {
                let [cos, sin] = sample_directions()[k];
                let along = r + ur - (centre[0] * cos + centre[1] * sin);
                let across = ut - (centre[1] * cos - centre[0] * sin);
                along.hypot(across)
            })
            .collect()
    })
}

/// Radial parts of displacements.
pub(super) fn radial(moved: &[[f64; 2]]) -> Vec<f64> {
    moved.iter().map(|u| u[0]).collect()
}
