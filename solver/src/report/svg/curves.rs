//! The deviations to draw, and the scale that fits them.

use std::f64::consts::TAU;

use super::super::document::{Shape, StepDocument};
use super::super::units::{MM_PER_INCH, Units};
use crate::geometry::Surface;
use crate::process::StepOutcome;

/// Points a drawn curve has: half a degree apart, a tenth of a stroke's width on paper.
const DRAWN: usize = 720;

/// A shape with less out-of-roundness than this (mm) is round: no instrument shows it.
const ROUND: f64 = 1e-6;

/// A marked point of a shape.
#[derive(Clone, Copy, Debug)]
pub(super) struct Mark {
    /// Angle, degrees.
    pub degrees: f64,
    /// Deviation from the least-squares circle, mm.
    pub deviation: f64,
}

/// The zone that the released shape must lie in.
#[derive(Clone, Debug)]
pub(super) struct Zone {
    /// Radial width, mm.
    pub width: f64,
    /// Whether the shape lies in it.
    pub met: bool,
    /// Whether it fits on the plot.
    pub drawn: bool,
    /// Inner and outer limit as deviations (mm) from the released least-squares circle, at equal angles from 0.
    pub limits: [Vec<f64>; 2],
}

/// What one column shows; deviations in mm at equal angles from 0, closed by the reader.
#[derive(Clone, Debug)]
pub(super) struct Curves {
    pub surface: Surface,
    /// Mean radius of the released shape, mm.
    pub radius: f64,
    pub held: Vec<f64>,
    pub released: Vec<f64>,
    /// Whether the marks are those of the held shape, because the released one is round.
    pub marks_held: bool,
    pub peak: Mark,
    pub valley: Mark,
    pub held_roundness: f64,
    pub released_roundness: f64,
    pub minimum_zone: f64,
    /// Count and amplitude (mm) of the strongest lobing.
    pub held_lobes: Option<(u32, f64)>,
    pub released_lobes: Option<(u32, f64)>,
    pub zone: Option<Zone>,
}

impl Curves {
    /// `limit`: the roundness limit of this surface, mm.
    pub fn new(
        surface: Surface,
        step: &StepOutcome,
        figures: &StepDocument,
        limit: Option<f64>,
    ) -> Self {
        let (held_shape, shape) = (figures.held_shape(surface), figures.released_shape(surface));
        let held = deviations(step.held.shape.get(surface), held_shape);
        let released = deviations(step.released.get(surface), shape);
        let marks_held = shape.roundness_least_squares < ROUND;
        let (valley, peak) = extremes(if marks_held { &held } else { &released });
        let mut curves = Self {
            surface,
            radius: shape.mean_radius,
            marks_held,
            peak,
            valley,
            held_roundness: held_shape.roundness_least_squares,
            released_roundness: shape.roundness_least_squares,
            minimum_zone: shape.roundness_minimum_zone,
            held_lobes: lobes(held_shape),
            released_lobes: lobes(shape),
            held: thinned(&held),
            released: thinned(&released),
            zone: None,
        };
        curves.zone = limit.map(|width| {
            let limits = [-0.5, 0.5].map(|side| zone_limit(shape, side * width));
            Zone {
                width,
                met: shape.roundness_minimum_zone <= width,
                // a zone many times as wide would flatten the lobes to a line
                drawn: width <= 6.0 * curves.largest(),
                limits,
            }
        });
        curves
    }

    /// Largest deviation of the shapes, either way, mm.
    fn largest(&self) -> f64 {
        largest(&self.held).max(largest(&self.released))
    }
}

fn largest(values: &[f64]) -> f64 {
    values.iter().fold(0.0, |m, d| f64::max(m, d.abs()))
}

/// Distance of each point from the least-squares centre, minus the circle's radius, mm.
fn deviations(radii: &[f64], shape: &Shape) -> Vec<f64> {
    radii
        .iter()
        .enumerate()
        .map(|(k, r)| {
            let (s, c) = (TAU * k as f64 / radii.len() as f64).sin_cos();
            (r * c - shape.centre[0]).hypot(r * s - shape.centre[1]) - shape.mean_radius
        })
        .collect()
}

/// A limit circle of the zone, seen from the least-squares circle. First order in the distance of the two
/// centres over the radius, which is far below a pixel.
fn zone_limit(shape: &Shape, offset: f64) -> Vec<f64> {
    let zone = shape.minimum_zone;
    let shift = [
        zone.centre[0] - shape.centre[0],
        zone.centre[1] - shape.centre[1],
    ];
    (0..DRAWN)
        .map(|k| {
            let (s, c) = (TAU * k as f64 / DRAWN as f64).sin_cos();
            zone.radius - shape.mean_radius + offset + shift[0] * c + shift[1] * s
        })
        .collect()
}

fn thinned(values: &[f64]) -> Vec<f64> {
    let step = (values.len() / DRAWN).max(1);
    values.iter().copied().step_by(step).collect()
}

fn lobes(shape: &Shape) -> Option<(u32, f64)> {
    shape
        .main_lobes()
        .filter(|h| h.amplitude > 1e-9 * shape.mean_radius)
        .map(|h| (h.count, h.amplitude))
}

/// Valley and peak; of extremes that are equal but for rounding, those at the smallest angles.
fn extremes(values: &[f64]) -> (Mark, Mark) {
    let low = values.iter().copied().fold(f64::INFINITY, f64::min);
    let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let slack = 1e-6 * (high - low);
    let mark = |found: Option<usize>| {
        let k = found.unwrap_or(0);
        Mark {
            degrees: 360.0 * k as f64 / values.len().max(1) as f64,
            deviation: values.get(k).copied().unwrap_or(0.0),
        }
    };
    (
        mark(values.iter().position(|&d| d <= low + slack)),
        mark(values.iter().position(|&d| d >= high - slack)),
    )
}

/// How the drawing is scaled: the same for both columns.
#[derive(Clone, Copy, Debug)]
pub(super) struct Scale {
    /// Pixels a millimetre of the ring.
    pub ring: f64,
    /// How much larger deviations are drawn than the ring: 1, 2 or 5 times a power of ten.
    pub factor: f64,
    /// Deviation between two grid circles, mm: 1, 2 or 5 times a power of ten in the drawing's unit.
    pub division: f64,
    /// Grid circles on either side of the reference.
    pub divisions: usize,
}

impl Scale {
    /// Radius of the outside on paper, pixels.
    const RING: f64 = 152.0;
    /// Room for deviations on either side of it, pixels.
    const BAND: f64 = 66.0;
    /// Least distance of grid circles, pixels.
    const LEAST: f64 = 13.0;

    pub fn choose(columns: &[Curves; 2], units: Units) -> Self {
        // a division is round in the drawing's own unit
        let unit = if units.inch { MM_PER_INCH } else { 1.0 };
        let radius = columns.iter().fold(0.0, |m, c| f64::max(m, c.radius));
        let least_radius = columns.iter().fold(f64::INFINITY, |m, c| m.min(c.radius));
        let ring = Self::RING / radius;
        // a thick ring's bore is small on paper: its lobes must not cross the centre
        let band = Self::BAND.min(0.6 * ring * least_radius);
        let mut shown = 1e-7 * radius;
        for c in columns {
            shown = shown.max(c.largest());
            if let Some(z) = c.zone.as_ref().filter(|z| z.drawn) {
                shown = shown.max(largest(&z.limits[0])).max(largest(&z.limits[1]));
            }
        }
        let factor = round_down(band / (ring * shown));
        let pixels = ring * factor;
        let least = Self::LEAST / (pixels * unit);
        let mut division = round_down(least);
        while division < least * (1.0 - 1e-9) {
            division = round_down(division * 2.6);
        }
        let division = division * unit;
        Self {
            ring,
            factor,
            division,
            divisions: (shown / division - 1e-9).ceil().max(1.0) as usize,
        }
    }

    /// Where the bodies outside begin in the polar plot, pixels from the centre.
    pub fn rim(&self) -> f64 {
        Self::RING + self.band() + 8.0
    }

    /// Pixels a millimetre of deviation in the polar plot.
    pub fn pixels(&self) -> f64 {
        self.ring * self.factor
    }

    /// Pixels from the reference to the outermost grid circle.
    pub fn band(&self) -> f64 {
        self.divisions as f64 * self.division * self.pixels()
    }

    pub fn factor_text(&self) -> String {
        if self.factor >= 1.0 {
            format!("{:.0}", self.factor)
        } else {
            format!("{}", self.factor)
        }
    }
}

/// The largest of 1, 2, 5 times a power of ten that is not above `x` (> 0).
pub(super) fn round_down(x: f64) -> f64 {
    let power = x.log10().floor();
    let unit = 10f64.powf(power);
    let digit = [5.0, 2.0, 1.0]
        .into_iter()
        .find(|d| d * unit <= x * (1.0 + 1e-9))
        .unwrap_or(1.0);
    // dividing keeps decimal fractions such as 0.005 exact
    if power < 0.0 {
        digit / 10f64.powf(-power)
    } else {
        digit * unit
    }
}
