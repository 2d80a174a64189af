//! What pads do along a tube.

use super::{TubeContact, TubeState};
use crate::contact::pressure::PressureDof;
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

    /// Which pressures are active where the same hold touched on another division: each as the nearest of its pad was, round the part and then along it.
    pub fn active_as(&self, other: &Self, state: &TubeState) -> Vec<bool> {
        let mut active = Vec::with_capacity(self.dofs.len());
        for (own, theirs) in self.pads().zip(other.pads()) {
            for dof in own.round {
                let alike = |d: &PressureDof| match d.spread == dof.spread {
                    true => d.t,
                    false => f64::INFINITY,
                };
                let round = nearest(dof.t, theirs.round.iter().map(alike));
                for &z in &own.heights {
                    let along = nearest(z, theirs.heights.iter().copied());
                    active.push(state.active[theirs.first + round * theirs.heights.len() + along]);
                }
            }
        }
        active
    }

    /// The pads one by one, as their pressures are laid out: for each place round the part all lines along it.
    fn pads(&self) -> impl Iterator<Item = Pad<'_>> {
        let same = |a: &PressureDof, b: &PressureDof| a.body == b.body && a.piece == b.piece;
        let strips = self.elastic.responses.strips();
        let mut first = 0;
        self.round.chunk_by(same).map(move |round| {
            let all = &self.dofs[first..];
            let count = all.iter().take_while(|d| same(d, &round[0])).count();
            let lines = &self.elastic.places[first..first + count / round.len()];
            let pad = Pad {
                first,
                round,
                heights: lines.iter().map(|l| AlongPad::on(&strips[l.1]).z).collect(),
            };
            first += count;
            pad
        })
    }
}

/// The pressures of a piece of a pad.
struct Pad<'a> {
    first: usize,
    round: &'a [PressureDof],
    /// Positions along the part, mm.
    heights: Vec<f64>,
}

/// Which of some places is nearest to another.
fn nearest(to: f64, places: impl Iterator<Item = f64>) -> usize {
    let off = places.map(|x| (x - to).abs()).enumerate();
    off.min_by(|a, b| a.1.total_cmp(&b.1))
        .map_or(0, |best| best.0)
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
