//! The deviations to draw, about the circle midway between the two of the minimum zone.

use std::f64::consts::TAU;

use super::super::document::{
    CutDocument, ResultDocument, Shape, ShapeErrorDocument, StepDocument,
};
use super::stress::Yielding;
use crate::case::Case;
use crate::geometry::Surface;
use crate::metrology::Roundness;
use crate::process::StepOutcome;

/// A shape with less out-of-roundness than this (mm) is round: no instrument shows it.
const ROUND: f64 = 1e-6;

/// A marked point of a shape.
#[derive(Clone, Copy, Debug)]
pub(super) struct Mark {
    /// Part angle, degrees.
    pub degrees: f64,
    /// Estimated error of that angle, degrees: out to where the shape comes as far within its error.
    pub within: Option<f64>,
    /// Deviation, mm.
    pub deviation: f64,
}

/// The roundness limit of a surface of the finished part.
#[derive(Clone, Debug)]
pub(super) struct Limit {
    /// Radial width of the zone, mm.
    pub width: f64,
    /// What is held against it, mm.
    pub found: f64,
    /// Estimated error of that, mm.
    pub error: Option<f64>,
    pub met: bool,
    /// What the limit is told about, in words; empty for the minimum zone of the whole profile.
    pub about: String,
    /// Whether its two circles are on the plot.
    pub drawn: bool,
}

/// What one column shows; deviations in mm at equal part angles from 0, closed by the reader.
#[derive(Clone, Debug)]
pub(super) struct Curves {
    pub surface: Surface,
    /// Radius of the circle midway between the two of the released shape's minimum zone, mm.
    pub radius: f64,
    pub held: Vec<f64>,
    pub released: Vec<f64>,
    /// Whether marks and circles are those of the held shape, because the released one is round.
    pub marks_held: bool,
    pub peak: Mark,
    pub valley: Mark,
    /// Roundness, mm: the width of the minimum zone.
    pub held_roundness: f64,
    pub released_roundness: f64,
    /// Estimated errors of the figures of both shapes.
    pub held_error: Option<ShapeErrorDocument>,
    pub released_error: Option<ShapeErrorDocument>,
    /// Count and amplitude (mm) of the strongest lobing.
    pub held_lobes: Option<(u32, f64)>,
    pub released_lobes: Option<(u32, f64)>,
    pub limit: Option<Limit>,
    /// The last cut of this surface.
    pub cut: Option<CutDocument>,
    /// Part angles between which that cut did not reach the metal, rising from 0 to 360 degrees.
    pub low_spots: Vec<[f64; 2]>,
    /// Where the part yields, if that is nearest to this surface.
    pub yields: Option<(Mark, String)>,
}

impl Curves {
    /// `limit`: the roundness limit that the verdict holds against this surface as this step leaves it.
    pub fn new(
        surface: Surface,
        step: &StepOutcome,
        figures: &StepDocument,
        limit: Option<Limit>,
        yielding: Option<&Yielding>,
    ) -> Self {
        let (held_shape, shape) = (figures.held_shape(surface), figures.released_shape(surface));
        let held = deviations(step.held.shape.get(surface), held_shape);
        let released = deviations(step.released.get(surface), shape);
        let marks_held = shape.roundness_minimum_zone < ROUND;
        let (marked, error) = if marks_held {
            (&held, held_shape.error)
        } else {
            (&released, shape.error)
        };
        let (valley, peak) = extremes(marked, error.map(|e| e.roundness));
        let cut = figures.cuts.iter().rev().find(|c| c.surface == surface);
        let mut curves = Self {
            surface,
            radius: shape.minimum_zone.radius,
            marks_held,
            peak,
            valley,
            held_roundness: held_shape.roundness_minimum_zone,
            released_roundness: shape.roundness_minimum_zone,
            held_error: held_shape.error,
            released_error: shape.error,
            held_lobes: lobes(held_shape),
            released_lobes: lobes(shape),
            limit,
            cut: cut.cloned(),
            low_spots: cut
                .filter(|c| c.cleaned_up < 1.0)
                .zip(step.cut.as_ref())
                .map_or_else(Vec::new, |(c, radii)| low_spots(radii.get(surface), c)),
            yields: yielding.filter(|y| y.surface == surface).map(|y| {
                let deviation = at(&held, y.degrees);
                let mark = Mark {
                    degrees: y.degrees,
                    within: None,
                    deviation,
                };
                (mark, y.words.clone())
            }),
            held,
            released,
        };
        let largest = curves.largest();
        if let Some(limit) = &mut curves.limit {
            // a zone many times as wide would flatten the lobes to a line
            limit.drawn &= limit.width <= 6.0 * largest;
        }
        curves
    }

    /// Largest deviation that the plot must have room for, either way, mm.
    pub fn shown(&self) -> f64 {
        let zone = self.limit.as_ref().filter(|l| l.drawn);
        self.largest().max(zone.map_or(0.0, |l| 0.5 * l.width))
    }

    /// Half the width of the minimum zone that is drawn, mm.
    pub fn half_zone(&self) -> f64 {
        0.5 * if self.marks_held {
            self.held_roundness
        } else {
            self.released_roundness
        }
    }

    /// Estimated error of the deviation of the marked extremes, mm: each is half the roundness.
    pub fn mark_error(&self) -> Option<f64> {
        let error = if self.marks_held {
            self.held_error
        } else {
            self.released_error
        };
        error.map(|e| 0.5 * e.roundness)
    }

    /// Whether there is anything to mark: neither shape is round.
    pub fn is_marked(&self) -> bool {
        2.0 * self.half_zone() >= ROUND
    }

    fn largest(&self) -> f64 {
        largest(&self.held).max(largest(&self.released))
    }
}

impl Limit {
    /// The verdict's limit of a surface, ready to draw.
    pub fn of(case: &Case, document: &ResultDocument, surface: Surface) -> Option<Self> {
        let limits = &document.verdict.limits;
        let judged = limits
            .iter()
            .find(|l| l.surface == surface && l.limit == "roundness")?;
        let about = case
            .roundness_limit(surface)
            .map_or_else(Roundness::default, |wanted| wanted.about);
        let plain = about == Roundness::default();
        let filter = about.cut_off.map_or(String::new(), |f| {
            format!(", Gaussian filter {f} undulations per revolution")
        });
        Some(Self {
            width: judged.allowed[1],
            found: judged.found[1],
            error: document
                .steps
                .last()
                .and_then(|s| s.gauges.released.get(surface).about(about)?.error),
            met: judged.is_met(),
            about: if plain {
                String::new()
            } else {
                format!("{}{filter}", about.circle.name())
            },
            drawn: plain,
        })
    }
}

fn largest(values: &[f64]) -> f64 {
    values.iter().fold(0.0, |m, d| f64::max(m, d.abs()))
}

fn at(values: &[f64], degrees: f64) -> f64 {
    let n = values.len().max(1);
    let k = (degrees.rem_euclid(360.0) / 360.0 * n as f64).round() as usize % n;
    values.get(k).copied().unwrap_or(0.0)
}

/// Distance of each point from the centre of the minimum zone, minus the radius midway between its circles, mm.
pub(super) fn deviations(radii: &[f64], shape: &Shape) -> Vec<f64> {
    let zone = &shape.minimum_zone;
    radii
        .iter()
        .enumerate()
        .map(|(k, r)| {
            let (s, c) = (TAU * k as f64 / radii.len() as f64).sin_cos();
            // lengths of a part neither overflow nor vanish
            let (x, y) = (r * c - zone.centre[0], r * s - zone.centre[1]);
            (x * x + y * y).sqrt() - zone.radius
        })
        .collect()
}

/// Where a cut surface lies beyond the tool's circle. What lies within a fiftieth of the farthest is on it but for rounding.
fn low_spots(radii: &[f64], cut: &CutDocument) -> Vec<[f64; 2]> {
    let away = |r: f64| cut.surface.outward() * (0.5 * cut.diameter - r);
    let least = 0.02 * radii.iter().fold(0.0, |m, r| f64::max(m, away(*r)));
    let step = 360.0 / radii.len().max(1) as f64;
    let mut spots: Vec<[f64; 2]> = Vec::new();
    for (k, _) in radii.iter().enumerate().filter(|(_, r)| away(**r) > least) {
        let (from, to) = (k as f64 * step, (k + 1) as f64 * step);
        match spots.last_mut() {
            Some(last) if last[1] == from => last[1] = to,
            _ => spots.push([from, to]),
        }
    }
    spots
}

fn lobes(shape: &Shape) -> Option<(u32, f64)> {
    shape
        .main_lobes()
        .filter(|h| h.amplitude > ROUND)
        .map(|h| (h.count, h.amplitude))
}

/// Valley and peak of deviations (mm) whose range is known to an error (mm); of extremes that are equal but for rounding, those at the
/// smallest angles.
fn extremes(values: &[f64], error: Option<f64>) -> (Mark, Mark) {
    let low = values.iter().copied().fold(f64::INFINITY, f64::min);
    let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let slack = 1e-6 * (high - low);
    let n = values.len().max(1);
    let step = 360.0 / n as f64;
    let mark = |found: Option<usize>, sign: f64| {
        let k = found.unwrap_or(0);
        let value = |k: usize| values.get(k % n).copied().unwrap_or(0.0);
        // two divisions that differ by the error may have the extreme wherever the shape comes as near to it
        let as_far = |error: f64| {
            let near = |j: usize| sign * value(j) >= sign * value(k) - error;
            let after = (1..n).take_while(|d| near(k + d)).count();
            let before = (1..n).take_while(|d| near(k + n - d)).count();
            (step * (after.max(before) as f64 + 0.5)).min(180.0)
        };
        Mark {
            degrees: step * k as f64,
            within: error.map(as_far),
            deviation: value(k),
        }
    };
    (
        mark(values.iter().position(|&d| d <= low + slack), -1.0),
        mark(values.iter().position(|&d| d >= high - slack), 1.0),
    )
}
