//! What pads do along a tube.

use super::{TubeContact, TubeState};
use crate::tube::response::Strip;

impl TubeContact {
    /// What a body presses with along the part: the line of each strip, force a mm of length there by its shape function (N), and least gap (mm).
    pub fn along(&self, state: &TubeState, body: usize) -> Vec<AlongPad> {
        let strips = self.elastic.responses.strips();
        let mut found: Vec<(usize, AlongPad)> = Vec::new();
        for (k, dof) in self.dofs.iter().enumerate().filter(|(_, d)| d.body == body) {
            let strip = self.elastic.places[k].1;
            let at = match found.iter().position(|f| f.0 == strip) {
                Some(at) => at,
                None => {
                    found.push((strip, AlongPad::on(&strips[strip])));
                    found.len() - 1
                }
            };
            let pad = &mut found[at].1;
            pad.force += dof.along * state.pressures[k];
            pad.gap = pad.gap.min(state.gaps[k]);
            pad.pressure = pad.pressure.max(state.pressures[k]);
        }
        found.into_iter().map(|f| f.1).collect()
    }
}

/// What a body does at one line of the mesh.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AlongPad {
    /// Where, mm.
    pub z: f64,
    /// Length that its shape function stands for, mm.
    pub length: f64,
    /// Force of that shape function along the body's axis, N.
    pub force: f64,
    /// Least gap round the pad, mm.
    pub gap: f64,
    /// Largest pressure round the pad, MPa.
    pub pressure: f64,
}

impl AlongPad {
    fn on(strip: &Strip) -> Self {
        let full = strip.ends.iter().find(|e| e.1 == 1.0);
        Self {
            z: full.map_or(strip.ends[0].0, |e| e.0),
            length: strip.length(),
            force: 0.0,
            gap: f64::INFINITY,
            pressure: 0.0,
        }
    }
}
