//! The held part: contacts, loads, stress and balance.

use serde::Serialize;

use super::{GripAlongDocument, Shape};
use crate::geometry::Surface;

/// The held part.
#[derive(Clone, Debug, Serialize)]
pub struct HeldDocument {
    /// Outside.
    pub outer: Shape,
    /// Bore.
    pub bore: Shape,
    /// One entry a body.
    pub contacts: Vec<ContactDocument>,
    /// Dead loads.
    pub loads: Vec<LoadDocument>,
    /// Axial force of end plates, N.
    pub axial_force: f64,
    /// Motions that nothing resists.
    pub free_motions: Vec<String>,
    /// Von Mises stress.
    #[serde(flatten)]
    pub stress: StressDocument,
    /// Residual force (N) and moment (N mm).
    pub balance: BalanceDocument,
    /// Strain energy, N mm.
    pub energy: f64,
    /// Estimated error of it; null when no second mesh was asked for.
    pub energy_error: Option<f64>,
}

/// The finished part, still held, after the last cut of a step.
#[derive(Clone, Debug, Serialize)]
pub struct AfterCutDocument {
    /// One entry a body.
    pub contacts: Vec<ContactDocument>,
    /// Von Mises stress.
    #[serde(flatten)]
    pub stress: StressDocument,
}

/// Von Mises stress of a state of the held part.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct StressDocument {
    /// Largest, MPa; null where an edge or a point carries load.
    pub von_mises_max: Option<f64>,
    /// The same away from such places, MPa.
    pub von_mises_away: f64,
    /// Where that stands.
    pub von_mises_at: StressPlaceDocument,
    /// Estimated error of these figures, MPa; null when no second mesh was asked for.
    pub von_mises_error: Option<f64>,
    /// Yield strength over `von_mises_away`, minus 1; null without a yield strength, and where there is no stress.
    pub yield_margin: Option<f64>,
}

/// A place in the section, in the stress-free shape.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct StressPlaceDocument {
    /// Part angle, degrees.
    pub angle: f64,
    /// Estimated error of that angle, degrees: of the order of an element of the mesh there. Places elsewhere may be stressed as much within the
    /// error of stress.
    pub angle_error: f64,
    /// Distance from the part's axis, mm.
    pub radius: f64,
    /// Where along a tube, mm from the end that is gripped in a step that is not turned end for end; absent in a slice.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub z: Option<f64>,
}

/// Residual force and moment on the held body.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct BalanceDocument {
    /// N.
    pub force: f64,
    /// N mm.
    pub moment: f64,
}

/// What one body does.
#[derive(Clone, Debug, Serialize)]
pub struct ContactDocument {
    /// Scheme.
    pub scheme: String,
    /// Number from 1 within it.
    pub body: usize,
    /// Direction of its axis, degrees.
    pub angle: f64,
    /// Resultant along the axis, N.
    pub force: f64,
    /// Travel after first touch, mm.
    pub approach: f64,
    /// Integral of the pressure over the area, edge forces included, N: what friction acts on.
    pub pressure_integral: f64,
    /// Largest pressure, MPa; null where an edge carries.
    pub peak_pressure: Option<f64>,
    /// Force a length of what presses within a tenth of the part's wall of a loaded pad edge, the largest of all edges, N/mm. The line
    /// force in the edge itself is a part of it. Null when no edge carries.
    pub edge_force_per_length: Option<f64>,
    /// Loaded arcs, degrees; of a tube wherever along it.
    pub arcs: Vec<[f64; 2]>,
    /// Pressure along them, without the line forces at pad edges; of a tube the mean over the length of the part, as is what edges carry.
    pub pressure: PressureDocument,
    /// Surface it presses on.
    pub surface: Surface,
    /// What a body of its scheme is called.
    pub called: String,
    /// Least gap to what it faces, mm; zero where it touches.
    pub gap: f64,
    /// Whether it goes round the part: its force is then the integral of its pressure.
    pub round: bool,
    /// Force that the case sets it to, N; the mean of those that share a travel; null for what stands at a place of its own.
    pub set_force: Option<f64>,
    /// Estimated errors of these figures, the largest among the bodies of the scheme; null when no second mesh was asked for.
    pub error: Option<ContactErrorDocument>,
    /// Where along a tube it presses; left out of a slice.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub along: Option<GripAlongDocument>,
}

/// Estimated errors of the figures of a contact.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct ContactErrorDocument {
    /// N.
    pub force: f64,
    /// mm.
    pub approach: f64,
    /// N.
    pub pressure_integral: f64,
    /// MPa; null with the figure.
    pub peak_pressure: Option<f64>,
    /// N/mm; null with the figure.
    pub edge_force_per_length: Option<f64>,
    /// Of each end of a loaded arc, degrees.
    pub arcs: f64,
    /// mm.
    pub gap: f64,
}

/// Contact pressure, linear between the places and zero between two arcs.
#[derive(Clone, Debug, Default, Serialize)]
pub struct PressureDocument {
    /// Part angles, rising, degrees.
    pub angles_deg: Vec<f64>,
    /// MPa.
    pub mpa: Vec<f64>,
}

/// A load that stays as it is whatever the part does.
#[derive(Clone, Debug, Serialize)]
pub struct LoadDocument {
    /// Scheme.
    pub scheme: String,
    /// Patch or point.
    pub called: String,
    /// Number from 1 among those of its kind in its scheme.
    pub number: usize,
    /// Surface it presses on.
    pub surface: Surface,
    /// Direction of its middle, degrees.
    pub angle: f64,
    /// Half of the arc it covers, degrees; zero at a point.
    pub half_angle: f64,
    /// Resultant along its middle, N.
    pub force: f64,
}

impl StressDocument {
    /// Whether it passes yield, as far as a yield strength is known.
    pub fn yields(&self) -> bool {
        self.yield_margin.is_some_and(|margin| margin < 0.0)
    }
}
