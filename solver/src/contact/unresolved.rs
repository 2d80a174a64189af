//! What elements that are wide beside a contact zone leave unknown.

use std::f64::consts::PI;

use super::clamped::{Clamped, RESOLVED};
use crate::element::PlaneStress;
use crate::linear::NodeForce;

/// What the dent of a force spread over an element differs by from that of one spread over as much beside the place of its middle, in units of `2 F / (pi E L)`.
const SPREAD: f64 = 0.5;

/// Shares of what gaps differ by from one place to the next by which their mean over a shape function may be more than their least: of a parabola, and at
/// the edge of a pad (see [`Clamped::hidden_approaches`]).
const HIDDEN: f64 = 0.21;
const HIDDEN_AT_EDGE: f64 = 0.5;

impl Clamped {
    /// Bound of the unresolved contact: by how much the load may be misplaced where a zone has fewer than [`RESOLVED`] element edges, as
    /// nodal forces (N). A sixth of the force of each such zone is moved to the next element end, away from a pad edge or apart from the middle.
    ///
    /// In such a zone the mesh cannot tell where in the element the force lies. The centre of a shape function is a third of an element
    /// off its node, and the zone lies anywhere between, so half of that third is taken as the bound (derived here).
    pub fn unresolved_forces(&self) -> Vec<NodeForce> {
        let mut forces: Vec<NodeForce> = Vec::new();
        let mut add = |h: usize, force: f64| {
            let dof = &self.dofs[h];
            forces.extend(
                self.loads[h]
                    .iter()
                    .map(|&(n, f)| (n, f.map(|x| x * force / dof.along))),
            );
        };
        let pieces = (0..self.bodies.len()).flat_map(|body| {
            self.pieces(body)
                .into_iter()
                .map(move |piece| (body, piece))
        });
        for (body, piece) in pieces {
            let last = piece.len() - 1;
            for zone in self
                .zones_of(body, &piece)
                .iter()
                .filter(|s| s.force > 0.0 && s.edges < RESOLVED)
            {
                let sixth = zone.force / 6.0;
                let middle = 0.5 * (zone.start + zone.end);
                let at = match (zone.from_edge, zone.to_edge) {
                    (true, false) => 0,
                    (false, true) => last,
                    _ if last < 2 => 0,
                    _ => piece
                        .partition_point(|&h| self.dofs[h].t < middle)
                        .clamp(1, last - 1),
                };
                add(piece[at], -sixth);
                match at {
                    0 => add(piece[1], sixth),
                    k if k == last => add(piece[last - 1], sixth),
                    k => {
                        add(piece[k - 1], 0.5 * sixth);
                        add(piece[k + 1], 0.5 * sixth);
                    }
                }
            }
        }
        forces
    }

    /// How much deeper a body may lie in the part than its unresolved zones show, mm: by how much deeper a force dents a half-plane when it is spread over less
    /// than an element, `d = 2 F / (pi E L)` for every factor of e (Johnson, *Contact Mechanics*, ch. 2, from memory), and by what their gaps hide.
    /// The first alone is what the surface under the body is off by.
    ///
    /// How much narrower the zone is the gap at the next place `h` away says (derived here): at the edge of a pad, where it rises by `s h`, a zone of about `d / s`
    /// carries the force, so `h` is `s h / d` times as wide; a crown that stands `h^2 / 2R` clear there has Hertz's half width `sqrt(2 R d)`, the root of that.
    pub fn unresolved_approach(&self, body: usize, law: &PlaneStress) -> [f64; 2] {
        let (mut dent, mut hidden) = (0.0_f64, 0.0_f64);
        for piece in self.pieces(body) {
            let last = piece.len() - 1;
            for zone in self
                .zones_of(body, &piece)
                .iter()
                .filter(|z| z.force > 0.0 && z.edges < RESOLVED)
            {
                let from = piece.partition_point(|&h| self.dofs[h].t < zone.start);
                let to = piece.partition_point(|&h| self.dofs[h].t <= zone.end);
                let gap = |k: usize| self.gaps[piece[k]].max(0.0);
                let beside = gap(from.saturating_sub(1)).max(gap(to.min(last)));
                let (power, share) = match zone.from_edge || zone.to_edge {
                    true => (1.0, HIDDEN_AT_EDGE),
                    false => (0.5, HIDDEN),
                };
                let local = 2.0 * zone.force / (PI * law.young_modulus * law.thickness);
                let narrower = (power * (beside / local).ln()).max(0.0);
                dent = dent.max((SPREAD + narrower) * local);
                hidden = hidden.max(share * beside);
            }
        }
        [dent, dent + hidden]
    }
}
