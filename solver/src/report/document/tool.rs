//! What the force of a tool did in a cut.

use serde::Serialize;

use super::HarmonicDocument;
use crate::process::ToolDip;

/// How the wall gives way to the force of the tool, and what of the roundness left is its doing.
#[derive(Clone, Debug, Serialize)]
pub struct ToolDipDocument {
    /// Angles of the tool, degrees: 72 equal ones from 0.
    pub angles_deg: Vec<f64>,
    /// How far the wall moves along the force, at the tool, with the bodies of the hold locked, on the part as held before this cut, mm.
    pub dip: Vec<f64>,
    /// The same on the finished body, mm: the cut surface stands off the tool's circle by that.
    pub dip_finished: Vec<f64>,
    /// Estimated error of any of them, mm; null when no second mesh was asked for.
    pub error: Option<f64>,
    /// Force of the tool, N.
    pub force: f64,
    /// Change of the force of each body of the hold, in the order of its contacts, with the tool at each of the angles, before this cut, N.
    pub contact_force_changes: Vec<Vec<f64>>,
    /// Lobes that the tool alone leaves.
    pub lobes: Vec<HarmonicDocument>,
    /// Out-of-roundness that the tool alone leaves, mm.
    pub roundness_by_tool: f64,
    /// Out-of-roundness that the clamp alone leaves, mm.
    pub roundness_by_clamp: f64,
    /// Out-of-roundness that the two leave together, mm: their lobes may add up or take from each other.
    pub roundness_left: f64,
    /// A body of the hold that the tool takes all load off; null if there is none.
    pub lifts_off: Option<LiftsOffDocument>,
}

/// A body that the tool takes all load off.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct LiftsOffDocument {
    /// Its number among the contacts, from 1.
    pub contact: usize,
    /// Angle of the tool, degrees.
    pub angle: f64,
}

impl ToolDipDocument {
    /// Of a cut, with the estimated error of its dips, mm.
    pub(super) fn of(tool: &ToolDip) -> Self {
        Self {
            angles_deg: tool.angles.iter().map(|a| a.to_degrees()).collect(),
            dip: tool.dip.clone(),
            dip_finished: tool.finished.clone(),
            error: None,
            force: tool.force,
            contact_force_changes: tool.reactions.clone(),
            lobes: tool
                .lobes
                .iter()
                .map(|h| HarmonicDocument {
                    count: h.count,
                    amplitude: h.amplitude,
                    angle: h.angle_deg,
                })
                .collect(),
            roundness_by_tool: tool.roundness,
            roundness_by_clamp: tool.roundness_by_clamp,
            roundness_left: tool.roundness_left,
            lifts_off: tool.comes_off.map(|(contact, angle)| LiftsOffDocument {
                contact,
                angle: angle.to_degrees(),
            }),
        }
    }

    /// The strongest lobing from two lobes up.
    pub fn main_lobes(&self) -> Option<HarmonicDocument> {
        let lobes = self.lobes.iter().filter(|h| h.count >= 2).copied();
        lobes.reduce(|a, b| if b.amplitude > a.amplitude { b } else { a })
    }
}
