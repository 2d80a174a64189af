//! What elements that are wide beside a contact zone leave unknown.

use std::f64::consts::PI;

use super::clamped::{Clamped, RESOLVED};
use super::zones::ContactZone;
use crate::element::PlaneStress;
use crate::geometry::angle_between;
use crate::linear::NodeForce;

/// Depth that is allowed for in any case, in units of `2 F / (pi E L)`: how the pressure is spread over the element is not known either.
const SPREAD: f64 = 0.5;

/// Shares of what gaps differ by from one place to the next by which their mean over a shape function may be more than their least: of a parabola, and at
/// the edge of a pad (see [`Clamped::hidden_approaches`]).
const HIDDEN: f64 = 0.21;
const HIDDEN_AT_EDGE: f64 = 0.5;

/// The same with a margin: gaps below these shares may hide a touch.
const MAY_HIDE: f64 = 0.3;
const MAY_HIDE_AT_EDGE: f64 = 0.7;

impl Clamped {
    /// Where each piece of a pad comes nearest to the surface without a pressure there, but may touch it between the places at which gaps are told: angle from
    /// the body's axis and width of the elements there, rad.
    ///
    /// A gap is told as its mean over a pressure's shape function. Of a parabola, whose least is up to half an element off, that is more than its least by
    /// at most 0.21 of what it differs by from one place to the next (derived here: `h^2 / 12 + d^2 / 2` of `h^2 / 2 + h d`, `d <= h / 2`). At the edge
    /// of a pad, where it falls straight to the edge, by half of that: the mean over the last shape function is `s h / 3` above the edge, the next one
    /// `s h`.
    pub fn hidden_approaches(&self, body: usize) -> Vec<Vec<[f64; 2]>> {
        let closed = self.bodies[body].is_full_circle();
        let of = |piece: Vec<usize>| {
            let n = piece.len();
            let beside = |k: usize| {
                let before = (k > 0 || closed).then(|| piece[(k + n - 1) % n]);
                let after = (k + 1 < n || closed).then(|| piece[(k + 1) % n]);
                before.into_iter().chain(after)
            };
            let place = |k: usize| {
                let here = piece[k];
                let least = beside(k).all(|h| self.gaps[h] >= self.gaps[here]);
                let open = beside(k).chain([here]).all(|h| !self.active[h]);
                let shown = |h: usize| self.gaps[h] - self.gaps[here];
                let most = beside(k).map(shown).fold(0.0, f64::max);
                let width = |h: usize| angle_between(self.dofs[here].t, self.dofs[h].t).abs();
                let widest = beside(k).map(width).fold(0.0, f64::max);
                let at_edge = !closed && (k == 0 || k + 1 == n);
                let share = if at_edge { MAY_HIDE_AT_EDGE } else { MAY_HIDE };
                let hidden = least && open && self.gaps[here] < share * most;
                hidden.then_some([self.dofs[here].t, widest])
            };
            (0..n).filter_map(place).collect()
        };
        self.pieces(body).into_iter().map(of).collect()
    }

    /// The zones of a body that have too few elements, each with the pressures of its piece.
    fn unresolved_zones(&self, body: usize) -> impl Iterator<Item = (Vec<usize>, ContactZone)> {
        let of = move |piece: Vec<usize>| {
            let zones = self.zones_of(body, &piece).into_iter();
            let own = zones.filter(|z| z.force > 0.0 && z.edges < RESOLVED);
            own.map(move |zone| (piece.clone(), zone))
        };
        self.pieces(body).into_iter().flat_map(of)
    }

    /// Bound of the unresolved contact: by how much the load may be misplaced where a zone has fewer than [`RESOLVED`] element edges, as
    /// nodal forces (N). A sixth of the force of each such zone is moved to the next element end, away from a pad edge or apart from the middle.
    ///
    /// In such a zone the mesh cannot tell where in the element the force lies. The centre of a shape function is a third of an element
    /// off its node, and the zone lies anywhere between, so half of that third is taken as the bound (derived here).
    pub fn unresolved_forces(&self) -> Vec<NodeForce> {
        let nodal = |(h, p): (usize, f64)| {
            let load = self.loads[h].iter();
            load.map(move |&(n, f)| (n, f.map(|x| x * p)))
        };
        self.unresolved_pressures()
            .into_iter()
            .flat_map(nodal)
            .collect()
    }

    /// The same as pressures (MPa) by their numbers; one may stand there twice.
    pub(crate) fn unresolved_pressures(&self) -> Vec<(usize, f64)> {
        let mut pressures: Vec<(usize, f64)> = Vec::new();
        let mut add = |h: usize, force: f64| pressures.push((h, force / self.dofs[h].along));
        for (piece, zone) in (0..self.bodies.len()).flat_map(|b| self.unresolved_zones(b)) {
            let last = piece.len() - 1;
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
        pressures
    }

    /// How much deeper a body may lie in the part than its unresolved zones show, mm: by how much deeper a force dents a half-plane when it is spread over less
    /// than an element, `d = 2 F / (pi E L)` for every factor of e (Johnson, *Contact Mechanics*, ch. 2, from memory), and by what their gaps hide.
    /// The first alone is what the surface under the body is off by.
    ///
    /// How much narrower the zone is the gap at the next place `h` away says (derived here): at the edge of a pad, where it rises by `s h`, a zone of about `d / s`
    /// carries the force, so `h` is `s h / d` times as wide; a crown that stands `h^2 / 2R` clear there has Hertz's half width `sqrt(2 R d)`, the root of that.
    pub fn unresolved_approach(&self, body: usize, law: &PlaneStress) -> [f64; 2] {
        let (mut dent, mut hidden) = (0.0_f64, 0.0_f64);
        for (piece, zone) in self.unresolved_zones(body) {
            let last = piece.len() - 1;
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
        [dent, dent + hidden]
    }
}
