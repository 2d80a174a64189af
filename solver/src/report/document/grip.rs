//! Grip: what each step asks of its hold and what the hold takes, and what was not checked.

use serde::Serialize;

use crate::grip::ToolForce;
use crate::process::{CutForce, ForceWindow, Load, StepOutcome};
use crate::report::grip as grip_words;
use crate::report::units::Units;

/// Grip of a step: a figure whose inputs are missing is null, and `not_checked` says which. Single figures are at the unfavourable end of what is known.
#[derive(Clone, Debug, Default, Serialize)]
pub struct GripDocument {
    /// N mm; of end plates that of one face, the driven one.
    pub torque_available: Option<f64>,
    /// N mm.
    pub torque_needed: Option<f64>,
    /// N.
    pub axial_available: Option<f64>,
    /// N.
    pub axial_needed: Option<f64>,
    /// N mm.
    pub tilt_available: Option<f64>,
    /// N mm.
    pub tilt_needed: Option<f64>,
    /// N: what lets go of a pad, or of a part located by its ends alone lets it slide.
    pub side_available: Option<f64>,
    /// N.
    pub side_needed: Option<f64>,
    /// Unfavourable end.
    pub slip_safety: Option<f64>,
    /// Favourable end.
    pub slip_safety_high: Option<f64>,
    /// N, one a jaw.
    pub force_at_speed: Option<Vec<f64>>,
    /// rev/min.
    pub speed_at_zero_force: Option<f64>,
    /// rev/min: by the guideline's factors.
    pub permitted_speed: Option<f64>,
    /// Largest pressure of contact, MPa: the peak or, beside a loaded edge, the mean over a tenth of the wall.
    pub marking_pressure: Option<f64>,
    /// What counts as a mark, MPa; null without a yield strength or a limit of the case.
    pub marking_limit: Option<f64>,
    /// Between which forces it holds the part and leaves it sound; null where that was not looked for.
    pub force_window: Option<WindowDocument>,
    /// Least and largest of what is told above at one end.
    pub ranges: RangesDocument,
    /// What limits the hold.
    pub limits: Vec<String>,
    /// What was not checked, and for want of which input.
    pub not_checked: Vec<String>,
    /// The same figures in words, line by line.
    pub says: Vec<String>,
    /// What has to be known beside every one of these figures.
    pub cautions: Vec<&'static str>,
}

/// Between which forces a step holds the part and leaves it sound, N for each of what is set: low above high where no force will do. An end that is not known is null.
#[derive(Clone, Debug, Serialize)]
pub struct WindowDocument {
    /// Whether a force was found that holds and meets every limit, as far as both are known.
    pub open: bool,
    /// The least that holds; null too where nothing that was tried does.
    pub low: Option<f64>,
    /// The largest that meets every limit.
    pub high: Option<f64>,
    /// `slip`, `speed` or `chuck`.
    pub low_limited_by: Option<&'static str>,
    /// `roundness`, `yield`, `marking` or `chuck`.
    pub high_limited_by: Option<&'static str>,
    /// What is set: jaw, screw, patch, end plate.
    pub each: String,
    /// What the case sets, N; null where that is not known.
    pub set: Option<f64>,
    /// The quantity that the forces were worked out from, at low and high, in N, N mm or MPa; null where they are given.
    pub set_by: Option<SetByDocument>,
}

/// A quantity that forces were worked out from.
#[derive(Clone, Debug, Serialize)]
pub struct SetByDocument {
    /// Its key in the case.
    pub key: String,
    /// At the least force that holds.
    pub low: Option<f64>,
    /// At the largest that meets every limit.
    pub high: Option<f64>,
}

impl WindowDocument {
    fn of(window: &ForceWindow, force_unknown: bool) -> Self {
        let set = window.set.each[1];
        let found = window.low.as_ref().filter(|b| !b.not_enough);
        let (low, high) = (window.low.as_ref(), window.high.as_ref());
        Self {
            open: window.is_open(),
            low: found.map(|b| b.factor * set),
            high: high.map(|b| b.factor * set),
            low_limited_by: low.map(|b| b.by.name()),
            high_limited_by: high.map(|b| b.by.name()),
            each: window.set.called.clone(),
            set: (!force_unknown).then_some(set),
            set_by: window.set_by.as_ref().map(|s| SetByDocument {
                key: s.key.clone(),
                low: low.map(|b| b.factor * s.value),
                high: high.map(|b| b.factor * s.value),
            }),
        }
    }
}

/// Least and largest over all that is known within bands.
#[derive(Clone, Copy, Debug, Default, Serialize)]
pub struct RangesDocument {
    /// N mm.
    pub torque_available: Option<[f64; 2]>,
    /// N mm.
    pub torque_needed: Option<[f64; 2]>,
    /// N.
    pub axial_available: Option<[f64; 2]>,
    /// N.
    pub axial_needed: Option<[f64; 2]>,
    /// N mm.
    pub tilt_available: Option<[f64; 2]>,
    /// N mm.
    pub tilt_needed: Option<[f64; 2]>,
    /// N.
    pub side_available: Option<[f64; 2]>,
    /// N.
    pub side_needed: Option<[f64; 2]>,
}

/// Force of the tool in a cut: least and largest, N.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct ToolForceDocument {
    /// Along the turning surface.
    pub tangential: [f64; 2],
    /// Along the axis.
    pub axial: [f64; 2],
    /// Across the axis.
    pub radial: [f64; 2],
    /// Depths that it is estimated from, mm; null for the user's own forces.
    pub depth: Option<[f64; 2]>,
    /// Thickness of the chip, mm; null for the user's own forces.
    pub chip_thickness: Option<f64>,
    /// Factor on the largest force for a tool that leaves the metal and meets it again.
    pub interrupted: f64,
}

impl ToolForceDocument {
    pub(super) fn of(cut: &CutForce) -> Self {
        let pair = |of: fn(&ToolForce) -> f64| [of(&cut.force[0]), of(&cut.force[1])];
        Self {
            tangential: pair(|f| f.tangential),
            axial: pair(|f| f.axial),
            radial: pair(|f| f.radial),
            depth: cut.depth,
            chip_thickness: cut.thickness,
            interrupted: cut.interrupted,
        }
    }
}

/// A pair as JSON can hold it: an end without a bound is left out with its pair.
fn finite(pair: Option<[f64; 2]>) -> Option<[f64; 2]> {
    pair.filter(|p| p.iter().all(|x| x.is_finite()))
}

impl GripDocument {
    /// The grip of a step. `units` are those that its words are in.
    pub(super) fn of(step: &StepOutcome, units: Units) -> Self {
        let grip = &step.grip;
        let low = |load: &Load| finite(load.available).map(|p| p[0]);
        let high = |load: &Load| finite(load.needed).map(|p| p[1]);
        let at_speed = &grip.turning.at_speed;
        let ends = |at: usize| grip.safety.map(|s| s[at]).filter(|s| s.is_finite());
        Self {
            torque_available: low(&grip.torque),
            torque_needed: high(&grip.torque),
            axial_available: low(&grip.axial),
            axial_needed: high(&grip.axial),
            tilt_available: low(&grip.tilt),
            tilt_needed: high(&grip.tilt),
            side_available: low(&grip.side),
            side_needed: high(&grip.side),
            slip_safety: ends(0),
            slip_safety_high: ends(1),
            force_at_speed: (!at_speed.is_empty()).then(|| at_speed.clone()),
            speed_at_zero_force: grip.turning.zero_force,
            permitted_speed: grip.turning.permitted,
            marking_pressure: grip.marking.map(|m| m.pressure),
            marking_limit: grip.marking.map(|m| m.limit),
            force_window: grip
                .window
                .as_ref()
                .map(|w| WindowDocument::of(w, grip.force_unknown)),
            ranges: RangesDocument {
                torque_available: finite(grip.torque.available),
                torque_needed: finite(grip.torque.needed),
                axial_available: finite(grip.axial.available),
                axial_needed: finite(grip.axial.needed),
                tilt_available: finite(grip.tilt.available),
                tilt_needed: finite(grip.tilt.needed),
                side_available: finite(grip.side.available),
                side_needed: finite(grip.side.needed),
            },
            limits: grip_words::limits(grip, units),
            not_checked: grip.open.iter().map(grip_words::not_checked).collect(),
            says: grip_words::lines(step, units),
            cautions: grip
                .held
                .then_some(grip_words::CAUTIONS)
                .into_iter()
                .collect(),
        }
    }
}
