//! The part as received: sizes, material, residual stress, readings.

use serde::Serialize;

use crate::geometry::PerSurface;

/// The part as received: nominal sizes and material.
#[derive(Clone, Debug, Serialize)]
pub struct PartDocument {
    /// mm.
    pub outer_diameter: f64,
    /// mm.
    pub bore_diameter: f64,
    /// Along the axis, mm.
    pub length: f64,
    /// What it is made of.
    pub material: MaterialDocument,
    /// Hoop stress at the outside and the bore, MPa; null for none.
    pub residual_hoop_stress: Option<PerSurface<f64>>,
    /// Surfaces whose shape was measured, and how well it is known; null where it is as drawn.
    pub readings: PerSurface<Option<ReadingsDocument>>,
}

/// Readings that a surface of the stock was made from.
#[derive(Clone, Debug, Serialize)]
pub struct ReadingsDocument {
    /// File, or "the case".
    pub source: String,
    /// How many.
    pub points: usize,
    /// What they were read on, in words.
    pub gauge: String,
    /// Highest lobe count of the curve through them.
    pub lobes: u32,
    /// Counts up to that which the gauge does not show.
    pub unseen: Vec<u32>,
    /// Standard error of the curve, root mean square round the turn, mm; null when no reading is left to judge it by.
    pub uncertainty: Option<f64>,
}

/// Material as solved.
#[derive(Clone, Debug, Serialize)]
pub struct MaterialDocument {
    /// Name, or "as given".
    pub name: String,
    /// MPa.
    pub young_modulus: f64,
    /// No unit.
    pub poisson_ratio: f64,
    /// MPa.
    pub yield_strength: Option<f64>,
    /// kg/m3.
    pub density: Option<f64>,
}
