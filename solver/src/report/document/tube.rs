//! A tube along its length: its sections, where it is gripped, what the cuts left, and what end plates do.
//!
//! Axial positions are mm from the end that is gripped in a step that is not turned end for end, so a place of the part keeps its number
//! from step to step.

mod fill;
#[cfg(test)]
mod tests;

use serde::Serialize;

use super::Shape;
use crate::geometry::{PerSurface, Surface};

/// A section of a tube; in a floor every figure of the bore is 0.
#[derive(Clone, Debug, Serialize)]
pub struct StationDocument {
    /// Where, mm from the end that is gripped in a step that is not turned end for end.
    pub z: f64,
    /// Equilibrium before the first cut.
    pub held: PerSurface<Shape>,
    /// After release.
    pub released: PerSurface<Shape>,
}

/// A tube along its length. Axial positions are mm from the end that is gripped in a step that is not turned end for end.
#[derive(Clone, Debug, Serialize)]
pub struct TubeDocument {
    /// Where the section lies that the shapes, the gauges and the wall of the step are of: of all sections the most out of
    /// round in what drives the accuracy.
    pub section: f64,
    /// Length of the part, mm.
    pub length: f64,
    /// Whether the part lay turned end for end: the end at `length` is then the gripped one.
    pub flipped: bool,
    /// Highest number of waves round the axis that was solved for by finite elements.
    pub harmonics: u32,
    /// The mesh in the plane through the axis.
    pub mesh: TubeMeshDocument,
    /// What each cut left along the length, after release.
    pub along: Vec<CutAlongDocument>,
    /// What end plates do; left out where there are none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub plates: Option<PlatesDocument>,
}

/// Elements of the mesh of a tube.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct TubeMeshDocument {
    /// Along the axis.
    pub along: usize,
    /// Through the wall.
    pub through: usize,
}

/// What a cut left along the length, after release.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct CutAlongDocument {
    /// The surface.
    pub surface: Surface,
    /// Where the cut begins, mm.
    pub from: f64,
    /// Where it ends, mm.
    pub to: f64,
    /// Mean diameter at `to` minus that at `from`, by the least-squares line through all sections, less what was turned on purpose, mm.
    pub taper: f64,
    /// How much larger the mean diameter is between the ends than on the line through its ends, mm; negative: smaller.
    pub barrel: f64,
    /// Largest minus smallest radius about the best coaxial cylinder (of a cone: the cone asked for), mm: lobes, taper and barrel together.
    pub range: f64,
    /// Estimated errors of these figures; null when no second mesh was asked for.
    pub error: Option<CutAlongErrorDocument>,
}

/// Estimated errors of what a cut left along the length, mm.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct CutAlongErrorDocument {
    /// Of the taper, on diameter.
    pub taper: f64,
    /// Of the barrel, on diameter.
    pub barrel: f64,
    /// Of the range, on radius.
    pub range: f64,
}

/// Where along a tube a body presses. Its back is towards the gripped end, its front away from it.
#[derive(Clone, Debug, Serialize)]
pub struct GripAlongDocument {
    /// Where its pad begins, mm.
    pub from: f64,
    /// Where it ends, mm.
    pub to: f64,
    /// Centroid of its force, mm; null where it does not press.
    pub centroid: Option<f64>,
    /// Share of its force in the front quarter of the pad.
    pub front_quarter: f64,
    /// Share of its force in the front tenth of the pad.
    pub front_tenth: f64,
    /// Share of its force in the back half of the pad.
    pub back_half: f64,
    /// Stretches over which it touches anywhere round its arc, mm.
    pub touching: Vec<[f64; 2]>,
    /// Force per length along the pad.
    pub line_force: LineForceDocument,
}

/// Force per length along a pad.
#[derive(Clone, Debug, Default, Serialize)]
pub struct LineForceDocument {
    /// Positions, rising, mm.
    pub z_mm: Vec<f64>,
    /// N/mm.
    pub n_per_mm: Vec<f64>,
}

/// What end plates do to a tube and what it does to them. Of two figures that of the gripped end stands first.
#[derive(Clone, Debug, Serialize)]
pub struct PlatesDocument {
    /// Axial force, N.
    pub force: f64,
    /// Friction coefficient given; null for none.
    pub friction: Option<f64>,
    /// Whether the ends are taken to slide without friction.
    pub sliding: bool,
    /// How much nearer the plates have come, mm.
    pub approach: f64,
    /// Radial displacement along the length before the first cut.
    pub bulge: PerSurface<BulgeDocument>,
    /// Mean pressure of each face, MPa.
    pub mean_pressure: [f64; 2],
    /// Net radial friction of each face over its force: what holding the ends uses up of the friction coefficient.
    pub friction_used: [f64; 2],
    /// Share of each face that slides.
    pub sliding_share: [f64; 2],
    /// Torque that one face can take before it slips, N mm, with what holding the ends uses up taken off unless they slide; null without a
    /// friction coefficient.
    pub torque: Option<f64>,
    /// Force at which the wall would buckle; null for a part that is no plain tube.
    pub buckling: Option<BucklingDocument>,
    /// Whether anything but friction at the ends locates the part across its axis.
    pub located: bool,
}

/// Radial displacement along the length.
#[derive(Clone, Debug, Serialize)]
pub struct BulgeDocument {
    /// Positions, rising, mm.
    pub z_mm: Vec<f64>,
    /// mm, positive outwards.
    pub radial: Vec<f64>,
}

/// Axial force at which the wall would buckle.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct BucklingDocument {
    /// Of a perfect tube, N.
    pub classical: f64,
    /// The same with the customary knock-down for imperfect ones, N.
    pub knocked_down: f64,
}
