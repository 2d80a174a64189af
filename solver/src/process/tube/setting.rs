//! What a step of a tube is solved with.

use super::part::TubePart;
use crate::case::{Case, Step};
use crate::contact::Clamp;
use crate::geometry::{PerSurface, Surface};
use crate::process::ProcessError;
use crate::process::step::Setting;
use crate::scheme::EndClamp;

/// Places along a stretch at which the first touch of a face is looked for.
const TOUCHES: usize = 9;

/// What a step is solved with: the section's setting, and where along the part each scheme presses.
pub(super) struct TubeSetting<'a> {
    pub step: Setting<'a>,
    pub part: &'a TubePart,
    /// Where each scheme of the hold presses, in the part's frame, mm.
    pub reaches: Vec<[f64; 2]>,
}

impl<'a> TubeSetting<'a> {
    pub fn new(step: Setting<'a>, case: &Case, part: &'a TubePart) -> Self {
        let length = case.part.length;
        let hold = case.hold(&step.step.hold);
        let members = hold.map_or(&[][..], |h| &h.members);
        let reaches = members
            .iter()
            .map(|m| in_part(step.step, m.grip.on(length), length))
            .collect();
        Self {
            step,
            part,
            reaches,
        }
    }

    /// The stretches that the step presses on, each once.
    pub fn stretches(&self) -> Vec<(Surface, [f64; 2])> {
        let mut all: Vec<(Surface, [f64; 2])> = Vec::new();
        for (support, &reach) in self.step.supports.iter().zip(&self.reaches) {
            let bodies = support.bodies.iter().map(|b| b.surface);
            let patches = support.pressures.iter().map(|p| p.surface);
            let points = support.points.iter().map(|p| p.surface);
            for surface in bodies.chain(patches).chain(points) {
                if !all.contains(&(surface, reach)) {
                    all.push((surface, reach));
                }
            }
        }
        all
    }

    /// The hold against the part as the step finds it: each face touches first where the part stands out most along its stretch.
    pub fn clamp(&self) -> Result<Clamp, ProcessError> {
        let free = |member: usize, s: Surface, theta: f64| {
            let [from, to] = self.reaches[member];
            let at = (0..TOUCHES).map(|k| {
                let z = from + (to - from) * (k as f64 + 0.5) / TOUCHES as f64;
                s.outward() * self.part.radius(s, theta, z)
            });
            s.outward() * at.fold(f64::NEG_INFINITY, f64::max)
        };
        let section = self.step.body.section(self.step.part.length);
        Clamp::along(
            self.step.supports,
            self.step.step.force_scale,
            section,
            &free,
        )
        .map_err(|e| self.step.contact(e, &self.step.start))
    }

    /// The plates on its ends, if there are any.
    pub fn plates(&self) -> Option<EndClamp> {
        self.step.supports.iter().find_map(|s| s.end_clamp)
    }

    /// The wall where it is thinnest, mm.
    pub fn wall(&self) -> f64 {
        self.part.nominal.least_wall()
    }

    /// Nominal radii at the middle of the part, mm.
    pub fn radii(&self) -> PerSurface<f64> {
        self.step.body.nominal.clone()
    }
}

/// A stretch given from the end that a step grips, in the part's frame.
pub(super) fn in_part(step: &Step, [from, to]: [f64; 2], length: f64) -> [f64; 2] {
    if step.flipped {
        [length - to, length - from]
    } else {
        [from, to]
    }
}
