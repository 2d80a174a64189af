//! Where a nearly round part's contact and mesh are fine.
//!
//! The contact has elements of its own, on a line, and they cost little: they follow the contact zones, however narrow. The mesh shows
//! stress and what the outline adds, which is smooth: it is fine where something presses, to a share of the wall.

use std::f64::consts::TAU;

use super::mean_radii;
use crate::contact::{Clamped, ContactZone, PadEnds, joined};
use crate::geometry::{PerSurface, Surface};
use crate::mesh::{Grading, bisected_between, graded_layers, graded_sizes};
use crate::process::ProcessError;
use crate::process::plan::{Plan, Scale};
use crate::process::sample::profile;
use crate::process::step::Setting;
use crate::scheme::{Body, Supports};
use crate::watch::Progress;

/// Elements of the contact before anything is known: at a pad's edges and middle, as a share of its arc, and at most.
const FIRST: f64 = 1.0 / 64.0;
const LARGEST: f64 = 1.0 / 8.0;

/// Widest element of the contact, rad: four degrees show ninety lobes.
const WIDEST: f64 = 0.03;

/// Widest element of a pad that goes more than half round, as a sleeve does, rad; what their number is a multiple of on a full circle that is loaded all round, so that lobes of most counts find
/// themselves alike. They are wider than the mesh's: narrower ones would answer its last digits with pressure.
const ROUND: f64 = 0.055;
const EVEN: usize = 24;

/// From one element of the contact to the next.
const GROWTH: f64 = 1.6;

/// Elements in a contact zone, as shares of its width: in its middle, at a free end, at a pad edge, where the pressure grows like
/// `distance^-1/2`.
const MIDDLE: f64 = 0.1;
const FREE_END: f64 = 0.012;
const PAD_EDGE: f64 = 0.001;

/// Largest element at the end of a zone, walls: a thin ring that wraps a pad presses at the ends of the zone alone, over about a wall.
const END: f64 = 0.05;

/// Narrowest zone that is divided by its width, as a share of its arc.
const NARROWEST: f64 = 1e-6;

/// Element edges that a zone must have before it is taken as found: while zones are found, and when a step is solved.
const FOUND: usize = 6;
pub(in crate::process) const TOLD: usize = 2;

/// Share of the width by which zones of equal pads differ through rounding alone.
const SAME: f64 = 1e-4;

/// Width of the elements where a pad may touch between wide ones, as a share of those, and most such places of a piece.
const CLOSER: f64 = 1.0 / 32.0;
const MOST_APPROACHES: usize = 16;

/// Regradings before the zones found are taken as they are.
const MOST_REGRADES: usize = 12;

/// Element of the mesh where something presses, and where a zone that is wider than that ends: in walls, and in walls of a sleeve that it presses
/// through.
const SPOT: f64 = 0.12;
const SPOT_IN_SLEEVE: f64 = 0.25;

/// Layer of the mesh at a surface that something presses on, and at one that it does not, as shares of the wall.
const PRESSED_LAYER: f64 = 0.08;
const FREE_LAYER: f64 = 0.12;

/// A zone narrower than this (walls) is a line to the ring, whatever the pressure over it: it is divided evenly.
const LINE: f64 = 3e-3;

/// From one layer to the next, and the thickest, as a share of the wall.
const LAYER_GROWTH: f64 = 2.0;
const THICKEST: f64 = 0.25;

/// Regradings after which zones nearer to each other than [`JOINED`] walls are one: a thin wall that lies on a pad presses on it so lightly that
/// rounding decides where. Before that only splinters narrower than [`LINE`] are part of their neighbours.
const SEEN_APART: usize = 4;
const JOINED: f64 = 1.0;

/// What is known of where a part is pressed.
pub(in crate::process) struct RoundMarks {
    /// Zones of each piece of each pad, from its body's axis.
    zones: Vec<Vec<ContactZone>>,
    /// Where each piece may touch between wide elements, and how wide they are to be there, rad.
    approaches: Vec<Vec<[f64; 2]>>,
    bodies: Vec<Body>,
    /// Element of the mesh where each body presses, walls.
    spots: Vec<f64>,
    scale: Scale,
    /// Mesh lines that the hold asks for.
    fixed: Vec<Grading>,
    /// Whether zones that are nearer to each other than the wall is thick count as one.
    join: bool,
}

impl RoundMarks {
    /// Before anything is known.
    pub fn new(setting: &Setting, scale: Scale, fixed: Vec<Grading>) -> Self {
        let bodies: Vec<Body> = setting.supports.iter().flat_map(Supports::faces).collect();
        let pieces = bodies.iter().map(|b| b.pieces().len()).sum();
        let spots = setting.supports.iter().flat_map(|s| {
            let through = s.sleeve.map_or(f64::INFINITY, |s| s.thickness / scale.wall);
            s.faces()
                .into_iter()
                .map(move |_| SPOT.min(SPOT_IN_SLEEVE * through))
        });
        Self {
            zones: vec![Vec::new(); pieces],
            approaches: vec![Vec::new(); pieces],
            spots: spots.collect(),
            bodies,
            scale,
            fixed,
            join: false,
        }
    }

    /// The pieces of all pads with the numbers of their bodies and their zones.
    fn pieces(&self) -> impl Iterator<Item = (usize, [f64; 2], &Vec<ContactZone>)> {
        let bodies = self.bodies.iter().enumerate();
        let arcs = bodies.flat_map(|(k, b)| b.pieces().into_iter().map(move |p| (k, p)));
        arcs.zip(&self.zones).map(|((k, p), z)| (k, p, z))
    }

    /// Element ends of the contact; `refine` divides every size.
    pub fn pads(&self, refine: f64) -> Vec<PadEnds> {
        self.pieces()
            .zip(&self.approaches)
            .map(|((_, arc, zones), approaches)| PadEnds {
                angles: ends(arc, (zones, approaches), &self.scale, refine),
            })
            .collect()
    }

    /// The mesh and the contact's elements; `refine` divides every size.
    pub fn plan(&self, refine: f64) -> Plan {
        let mut marks = self.fixed.clone();
        let mut pressed = PerSurface::from_fn(|_| FREE_LAYER);
        for (k, _, zones) in self.pieces() {
            let body = &self.bodies[k];
            let spot = self.scale.angle(self.spots[k]);
            for zone in zones {
                let layer = pressed.get_mut(body.surface);
                *layer = layer.min(PRESSED_LAYER * self.spots[k] / SPOT);
                let width = zone.end - zone.start;
                let at = [zone.start, zone.end, 0.5 * (zone.start + zone.end)];
                let places = if width > 2.0 * spot {
                    &at[..2]
                } else {
                    &at[2..]
                };
                for t in places {
                    marks.push(Grading {
                        angle: body.angle + t,
                        size: spot,
                    });
                }
            }
        }
        for m in &mut marks {
            m.size /= refine;
        }
        let lines: Vec<f64> = self.fixed.iter().map(|m| m.angle).collect();
        let growth = LAYER_GROWTH.powf(1.0 / refine);
        Plan {
            ends: bisected_between(&lines, &marks, self.scale.largest_column() / refine),
            layers: graded_layers(
                pressed.bore / refine,
                pressed.outer / refine,
                self.scale.largest_layer().min(THICKEST) / refine,
                growth,
            ),
            pads: Some(self.pads(refine)),
            rough: refine < 1.0,
            judged: true,
        }
    }

    /// Takes over where pads of some states may touch between wide elements; says whether any of that is new.
    fn look_closer<'s>(&mut self, states: impl Iterator<Item = &'s dyn Zones> + Clone) -> bool {
        let mut new = false;
        let mut piece = 0;
        for (k, body) in self.bodies.iter().enumerate() {
            let hidden = states.clone().flat_map(|state| {
                let of = state.hidden_approaches(k).into_iter().enumerate();
                of.flat_map(|(n, places)| places.into_iter().map(move |p| (n, p)))
            });
            for (n, [t, width]) in hidden {
                let known = &mut self.approaches[piece + n];
                let size = CLOSER * width;
                let near = |[at, of]: &[f64; 2]| (at - t).abs() < 4.0 * of && *of <= 2.0 * size;
                if known.len() < MOST_APPROACHES && !known.iter().any(near) {
                    known.push([t, size]);
                    new = true;
                }
            }
            piece += body.pieces().len();
        }
        new
    }

    /// Takes over the zones of some states, each told by at least so many element edges; says whether the elements must be made anew.
    pub fn regrade<'s>(
        &mut self,
        states: impl Iterator<Item = &'s dyn Zones> + Clone,
        edges: usize,
    ) -> bool {
        let mut found = !self.look_closer(states.clone());
        let mut piece = 0;
        let mut taken = vec![Vec::new(); self.zones.len()];
        for (k, body) in self.bodies.iter().enumerate() {
            let arcs = body.pieces();
            for state in states.clone() {
                let least = 1e-9 * state.total_force();
                let zones = state.zones(k);
                let line = self.scale.angle(LINE);
                let (near, splinter) = match self.join {
                    true => (self.scale.angle(JOINED), f64::INFINITY),
                    false => (line, line),
                };
                let of = |z: &ContactZone| {
                    let middle = 0.5 * (z.start + z.end);
                    let of = arcs.iter().position(|a| middle <= a[1]);
                    of.unwrap_or(arcs.len() - 1)
                };
                // what lies on either side of a relief stays apart
                for n in 0..arcs.len() {
                    let own = zones.iter().filter(|z| z.force > least && of(z) == n);
                    for zone in joined(own.cloned(), near, splinter) {
                        found &= zone.edges >= edges;
                        taken[piece + n].push(zone);
                    }
                }
            }
            piece += arcs.len();
        }
        let mut zones = taken;
        let like = |a: &ContactZone, b: &ContactZone| {
            let width = (b.end - b.start).max(a.end - a.start);
            (a.start - b.start).abs().max((a.end - b.end).abs()) < 0.04 * width
                && a.from_edge == b.from_edge
                && a.to_edge == b.to_edge
        };
        let known = zones
            .iter()
            .zip(&self.zones)
            .all(|(new, old)| new.iter().all(|z| old.iter().any(|o| like(z, o))));
        if found && known {
            return false;
        }
        // equal pads that are loaded alike are divided alike, whatever rounding makes of their zones
        let arcs: Vec<[f64; 2]> = self.pieces().map(|(_, arc, _)| arc).collect();
        let same = |a: &ContactZone, b: &ContactZone| {
            let off = (a.start - b.start).abs().max((a.end - b.end).abs());
            off < SAME * (b.end - b.start) && (a.from_edge, a.to_edge) == (b.from_edge, b.to_edge)
        };
        for k in 1..zones.len() {
            let twin = (0..k).find(|&j| {
                arcs[j] == arcs[k]
                    && zones[j].len() == zones[k].len()
                    && zones[j].iter().zip(&zones[k]).all(|(a, b)| same(a, b))
            });
            if let Some(twin) = twin {
                zones[k] = zones[twin].clone();
                self.approaches[k] = self.approaches[twin].clone();
            }
        }
        self.zones = zones;
        true
    }
}

/// A state that says where its pads touch.
pub(in crate::process) trait Zones {
    fn zones(&self, body: usize) -> Vec<ContactZone>;
    fn hidden_approaches(&self, body: usize) -> Vec<Vec<[f64; 2]>>;
    fn total_force(&self) -> f64;
}

impl Zones for Clamped {
    fn zones(&self, body: usize) -> Vec<ContactZone> {
        self.contact_zones(body)
    }

    fn hidden_approaches(&self, body: usize) -> Vec<Vec<[f64; 2]>> {
        self.hidden_approaches(body)
    }

    fn total_force(&self) -> f64 {
        self.total_force()
    }
}

/// Element ends of one arc whose zones are known, and where it may touch besides, rad.
fn ends(
    [from, to]: [f64; 2],
    (zones, approaches): (&[ContactZone], &[[f64; 2]]),
    scale: &Scale,
    refine: f64,
) -> Vec<f64> {
    let (end, line) = (scale.angle(END), scale.angle(LINE));
    let arc = to - from;
    let widest = if arc > 0.5 * TAU { ROUND } else { WIDEST };
    let largest = (LARGEST * arc).min(widest);
    let whole = |z: &ContactZone| z.end - z.start >= TAU - NARROWEST;
    let closed = arc >= TAU - NARROWEST;
    if closed && approaches.is_empty() && zones.iter().all(whole) {
        // no place of a full circle that is loaded all round is another than the next
        let count = EVEN * (arc / (EVEN as f64 * ROUND / refine)).ceil() as usize;
        return (0..=count)
            .map(|k| from + arc * k as f64 / count as f64)
            .collect();
    }
    let mut marks: Vec<(f64, f64)> = Vec::new();
    if zones.is_empty() {
        let first = (FIRST * arc).min(largest);
        marks.extend([from, 0.5 * (from + to), to].map(|t| (t, first)));
    } else {
        marks.extend([(from, largest), (to, largest)]);
    }
    for zone in zones {
        // a zone of one pressure has no width to divide
        let width = (zone.end - zone.start).max(NARROWEST * arc);
        if width < line {
            marks.extend([zone.start, zone.end].map(|t| (t, width * MIDDLE)));
            continue;
        }
        let size = |edge: bool| (width * if edge { PAD_EDGE } else { FREE_END }).min(end);
        marks.extend([
            (zone.start, size(zone.from_edge)),
            (0.5 * (zone.start + zone.end), width * MIDDLE),
            (zone.end, size(zone.to_edge)),
        ]);
    }
    marks.extend(approaches.iter().map(|[t, size]| (*t, *size)));
    if closed {
        close(&mut marks, [from, to], largest);
    }
    // an end at the pad's edge can lie beyond it by rounding
    for m in &mut marks {
        m.0 = m.0.clamp(from, to);
    }
    marks.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    // two states that put an end nearly at one place share a mark
    marks.dedup_by(|later, kept| {
        let same = later.0 - kept.0 <= 0.5 * kept.1.min(later.1) && later.0 != to;
        if same {
            kept.1 = kept.1.min(later.1);
        }
        same
    });
    graded(from, &marks, largest, refine)
}

/// Element ends between marks, each with the size of the elements beside it.
fn graded(from: f64, marks: &[(f64, f64)], largest: f64, refine: f64) -> Vec<f64> {
    let mut ends = vec![from];
    for pair in marks.windows(2) {
        let span = pair[1].0 - pair[0].0;
        if span <= 1e-12 {
            continue;
        }
        let sizes = graded_sizes(
            span,
            pair[0].1 / refine,
            pair[1].1 / refine,
            largest / refine,
            GROWTH.powf(1.0 / refine),
        );
        let mut at = pair[0].0;
        for size in sizes {
            at += size;
            ends.push(at);
        }
        if let Some(last) = ends.last_mut() {
            *last = pair[1].0;
        }
    }
    ends
}

/// Marks of a full circle: those of a zone that goes over its seam lie where they are within the turn, and elements at the seam are as wide as what lies near it on
/// either side has them.
fn close(marks: &mut [(f64, f64)], [from, to]: [f64; 2], largest: f64) {
    for m in marks.iter_mut().filter(|m| m.0 < from || m.0 > to) {
        m.0 = from + (m.0 - from).rem_euclid(TAU);
    }
    let away = |t: f64| (t - from).min(to - t);
    let graded = marks.iter().map(|m| m.1 + GROWTH.ln() * away(m.0));
    let seam = graded.fold(largest, f64::min);
    for m in marks.iter_mut().filter(|m| away(m.0) <= 0.0) {
        m.1 = m.1.min(seam);
    }
}

/// Finds where the held part touches its mean ring, until every zone is told by enough elements.
pub(in crate::process) fn find_zones(
    setting: &Setting,
    mut marks: RoundMarks,
    at: &Progress,
) -> Result<RoundMarks, ProcessError> {
    if marks.bodies.is_empty() {
        return Ok(marks);
    }
    let reference = PerSurface::from_fn(|s| profile(setting.body.outlines.get(s)));
    let radii = mean_radii(&reference);
    let ring = setting.kept.ring(setting, &radii);
    let clamp = setting.clamp_free()?;
    let gap_surface = |s: Surface, t: f64| setting.body.outlines.get(s).radius(t);
    let rounds = |round: usize| setting.watch.at(&Progress { round, ..*at });
    let none = PerSurface::default();
    let mut last: Option<Clamped> = None;
    for scan in 0..MOST_REGRADES {
        marks.join = scan >= SEEN_APART;
        setting.tell(at)?;
        let pads = marks.pads(1.0);
        let mut contact = setting
            .kept
            .contact(&clamp, &ring, &pads, &gap_surface)
            .map_err(|e| setting.contact(e, at))?;
        let start = last.as_ref().map(|zones| contact.active_like(zones));
        let state = contact
            .close(&clamp, None, &none, start, &rounds)
            .map_err(|e| setting.contact(e, at))?;
        let zones = contact.zones(&clamp, &state);
        if !marks.regrade(std::iter::once(&zones as &dyn Zones), FOUND) {
            setting.kept.put(contact);
            break;
        }
        last = Some(zones);
    }
    Ok(marks)
}
