//! Every limit of the case held against the finished part, as the last step leaves it.

use super::circle;
use crate::case::Case;
use crate::geometry::{PerSurface, Surface};
use crate::metrology::{Gauge, Profile, ProfileError, Sheet};
use crate::process::{Radii, WallExtremes};

/// What a limit limits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum LimitKind {
    /// A radial zone.
    Roundness,
    /// Every two-point diameter.
    Diameter,
    /// The mean of the two-point diameters.
    AverageDiameter,
    /// Largest wall less smallest.
    WallVariation,
    /// Full indicator movement about the axis of the other surface.
    Runout,
}

impl LimitKind {
    /// Its key in a case file and in `result.json`.
    pub const fn name(self) -> &'static str {
        match self {
            LimitKind::Roundness => "roundness",
            LimitKind::Diameter => "diameter",
            LimitKind::AverageDiameter => "average_diameter",
            LimitKind::WallVariation => "wall_variation",
            LimitKind::Runout => "runout",
        }
    }

    /// Whether it limits a size, and not a form.
    pub const fn is_size(self) -> bool {
        matches!(self, LimitKind::Diameter | LimitKind::AverageDiameter)
    }
}

/// One limit held against the finished part, mm.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Limit {
    /// The surface.
    pub surface: Surface,
    /// What it limits.
    pub kind: LimitKind,
    /// Lowest and highest allowed; zones start at 0.
    pub allowed: [f64; 2],
    /// Lowest and highest found; the same twice for a single figure.
    pub found: [f64; 2],
    /// Index of the last step that cuts the surface, the one at fault if a limit is missed; `None` where no step cuts it.
    pub cut_in_step: Option<usize>,
    /// Gauges that would have passed a roundness that fails: what is judged of their reading (half the movement of one that reads diameters,
    /// else all of it) stays within the zone.
    pub passed_by: Vec<Gauge>,
    /// Position of the section it is held against along a tube, mm; `None` of a slice.
    pub z: Option<f64>,
    /// Estimated error of what was found there, mm; `None` of a slice, whose steps tell it, and where no second mesh was asked for.
    pub error: Option<f64>,
}

impl Limit {
    /// Share of it that is used up: 1 at the limit; of a size 0 in the middle of its limits.
    pub fn used(&self) -> f64 {
        let [low, high] = self.allowed;
        match self.kind.is_size() {
            true => {
                let (middle, half) = (0.5 * (low + high), 0.5 * (high - low));
                let off = |x: f64| (x - middle).abs() / half;
                off(self.found[0]).max(off(self.found[1]))
            }
            false => self.found[1] / high,
        }
    }

    /// How far the worst figure is beyond its limit, mm; negative inside.
    fn excess(&self) -> f64 {
        (self.found[1] - self.allowed[1]).max(self.floor_excess())
    }

    /// The same on the lower side, which a zone has not.
    fn floor_excess(&self) -> f64 {
        match self.kind.is_size() {
            true => self.allowed[0] - self.found[0],
            false => f64::NEG_INFINITY,
        }
    }

    /// Whether it is met.
    pub fn is_met(&self) -> bool {
        self.over() <= 0.0
    }

    /// By how much the worst figure is outside, on whichever side, mm; 0 when the limit is met.
    pub fn over(&self) -> f64 {
        let under = self.allowed[0] - self.found[0];
        (self.found[1] - self.allowed[1]).max(under).max(0.0)
    }

    /// By how much the lowest figure is below the lowest allowed, mm; 0 when it is not.
    pub fn under(&self) -> f64 {
        (self.allowed[0] - self.found[0]).max(0.0)
    }

    /// By how much the highest figure is above the highest allowed, mm; 0 when it is not.
    pub fn above(&self) -> f64 {
        (self.found[1] - self.allowed[1]).max(0.0)
    }
}

/// A section of the finished part.
pub(super) struct Finished<'a> {
    pub released: &'a Radii,
    pub wall: WallExtremes,
    pub read: &'a PerSurface<Sheet>,
    /// Position along a tube (mm) and the errors of its shape; `None` of a slice.
    pub at: Option<(f64, Option<&'a PerSurface<ProfileError>>)>,
}

/// Every limit held against the sections that a surface is judged by, outside before bore: of each the section that is farthest beyond it or, inside it, nearest
/// to it.
pub(super) fn limits(case: &Case, sections: &PerSurface<Vec<Finished>>) -> Vec<Limit> {
    let mut worst: Vec<Limit> = Vec::new();
    for surface in Surface::BOTH {
        for section in sections.get(surface) {
            for limit in on_surface(case, section, surface) {
                let same = |l: &&mut Limit| l.surface == surface && l.kind == limit.kind;
                match worst.iter_mut().find(same) {
                    Some(found) if limit.excess() > found.excess() => *found = limit,
                    Some(_) => {}
                    None => worst.push(limit),
                }
            }
        }
    }
    worst
}

fn on_surface(case: &Case, section: &Finished, surface: Surface) -> Vec<Limit> {
    let own = case.tolerance.surfaces.get(surface);
    let sheet = section.read.get(surface);
    let cut_in_step = case.last_to_cut(surface);
    let errors = section.at.and_then(|at| at.1).map(|e| e.get(surface));
    let other = section
        .at
        .and_then(|at| at.1)
        .map(|e| e.get(surface.other()));
    let error = |kind| match kind {
        LimitKind::Roundness => errors.map(ProfileError::roundness),
        // a diameter moves by what both its ends do
        LimitKind::Diameter => errors.map(|e| 2.0 * (e.mean_radius() + e.roundness())),
        LimitKind::AverageDiameter => errors.map(|e| 2.0 * e.mean_radius()),
        LimitKind::WallVariation => errors
            .zip(other)
            .map(|(a, b)| a.roundness() + b.roundness()),
        LimitKind::Runout => errors
            .zip(other)
            .map(|(a, b)| a.roundness() + 2.0 * (a.centre() + b.centre())),
    };
    let limit = |kind, allowed: [f64; 2], found: [f64; 2]| Limit {
        surface,
        kind,
        allowed,
        found,
        cut_in_step,
        passed_by: Vec::new(),
        z: section.at.map(|at| at.0),
        error: error(kind),
    };
    let zone = |kind, found: f64, most: f64| limit(kind, [0.0, most], [found; 2]);
    let mut limits = Vec::new();
    // a circle that is not known judges nothing
    if let Some(wanted) = case.roundness_limit(surface)
        && let Some(circle) = circle(sheet, wanted.about)
    {
        let mut limit = zone(LimitKind::Roundness, circle.roundness, wanted.most);
        if !limit.is_met() {
            let passes = sheet
                .readings
                .iter()
                .filter(|r| judged_on(r.gauge, r.range) <= wanted.most);
            limit.passed_by = passes.map(|r| r.gauge).collect();
        }
        limits.push(limit);
    }
    if let Some(allowed) = own.diameter {
        limits.push(limit(LimitKind::Diameter, allowed, sheet.two_point.limits));
    }
    if let Some(allowed) = own.average_diameter {
        let found = 2.0 * sheet.least_squares.radius;
        limits.push(limit(LimitKind::AverageDiameter, allowed, [found; 2]));
    }
    if let Some(most) = own.wall_variation {
        let found = section.wall.max - section.wall.min;
        limits.push(zone(LimitKind::WallVariation, found, most));
    }
    if let Some(most) = own.runout {
        limits.push(zone(LimitKind::Runout, runout(section, surface), most));
    }
    limits
}

/// Full indicator movement of a released surface while the part turns about the axis of the other, mm.
fn runout(section: &Finished, surface: Surface) -> f64 {
    let axis = section.read.get(surface.other()).least_squares.centre;
    Profile::equal(section.released.get(surface)).roundness_about(axis)
}

/// What a shop holds against a radial zone: half the movement of a gauge that reads diameters, the whole movement of an indicator about
/// the axis or in a V-block. Common practice, no source.
fn judged_on(gauge: Gauge, movement: f64) -> f64 {
    if reads_diameters(gauge) {
        0.5 * movement
    } else {
        movement
    }
}

/// Whether a gauge reads a diameter.
pub fn reads_diameters(gauge: Gauge) -> bool {
    matches!(gauge, Gauge::TwoPoint | Gauge::ThreePoint | Gauge::Plate)
}
