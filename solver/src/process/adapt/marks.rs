//! Where a mesh is fine: lines that the step asks for, and contact zones as they are found.

use std::f64::consts::TAU;

use super::memory::sized;
use crate::contact::{Clamped, RESOLVED, joined};
use crate::geometry::{PerSurface, Surface};
use crate::mesh::Grading;
use crate::process::ProcessError;
use crate::process::meshed;
use crate::process::plan::{Plan, Scale};
use crate::process::step::Setting;
use crate::scheme::{Body, PressurePatch, Supports};

/// Columns aimed at in a zone on the first mesh: eight, so that regrading at a zone half as wide as thought still
/// leaves four, and the ends of contact come out to a percent of its width.
const COLUMNS_PER_ZONE: f64 = 8.0;

/// Element edges a zone must have on the first mesh before it is taken as found: with fewer its width, and so the next
/// mesh, is still off.
const FOUND: usize = RESOLVED + 2;

/// Zones narrower than this are not resolved, walls: a zone of five microns on a wall of 5 mm is a line to the ring, and
/// its place within such columns is in the estimate. Columns for a zone ten times narrower are so much stiffer than a thin
/// ring that rounding spoils its factor.
pub(super) const NARROW: f64 = 1e-3;

/// Column at a loaded pad edge or a free end of contact, in walls, at most.
const EDGE_COLUMN: f64 = 0.02;
const END_COLUMN: f64 = 0.025;

/// Column at the edge of a pressure patch, in walls: the load jumps there, the stress does not.
const PATCH_COLUMN: f64 = 0.25;

/// Column and layer at a point force, in walls: stress goes like `1 / distance` there and displacement like its logarithm.
const POINT_COLUMN: f64 = 0.03;

/// Column at a kink of an outline, in walls.
const KINK_COLUMN: f64 = 0.1;

/// Loads closer than this (rad) are not taken apart when lobes are counted: twenty degrees, eighteen loads a turn.
const LEAST_SPACING: f64 = 0.35;

/// Regradings before a zone is given up as unresolvable.
pub(super) const MOST_REGRADES: usize = 12;

pub(super) fn scale(setting: &Setting) -> Scale {
    let nominal = &setting.body.nominal;
    let wall = setting
        .step
        .cuts
        .iter()
        .fold(nominal.outer - nominal.bore, |w, cut| {
            let r = 0.5 * cut.diameter;
            match cut.surface {
                Surface::Outer => w.min(r - nominal.bore),
                Surface::Bore => w.min(nominal.outer - r),
            }
        })
        .max(0.02 * (nominal.outer - nominal.bore));
    let mut axes: Vec<f64> = setting
        .supports
        .iter()
        .flat_map(Supports::angles)
        .map(|a| a.rem_euclid(TAU))
        .collect();
    axes.sort_by(f64::total_cmp);
    // loads closer than a pad's width to each other, on the two surfaces say, are one load as lobes go
    let spacing = (0..axes.len())
        .map(|k| {
            if k + 1 < axes.len() {
                axes[k + 1] - axes[k]
            } else {
                axes[0] + TAU - axes[k]
            }
        })
        .filter(|&d| d > LEAST_SPACING)
        .fold(TAU, f64::min);
    Scale {
        wall,
        radius: 0.5 * (nominal.outer + nominal.bore),
        spacing,
    }
}

/// Column at the edges of a patch, rad.
pub(super) fn patch_column(patch: &PressurePatch, scale: Scale) -> f64 {
    scale.angle(PATCH_COLUMN).min(0.5 * patch.half_angle)
}

/// Finest layer that the dead loads want at each surface, walls: about as thick as their columns are wide.
fn dead_layers(setting: &Setting, scale: Scale) -> PerSurface<f64> {
    let mut layers = PerSurface {
        outer: f64::INFINITY,
        bore: f64::INFINITY,
    };
    for patch in setting.supports.iter().flat_map(|s| &s.pressures) {
        let layer = layers.get_mut(patch.surface);
        *layer = layer.min(patch_column(patch, scale) / scale.angle(1.0));
    }
    for point in setting.supports.iter().flat_map(|s| &s.points) {
        let layer = layers.get_mut(point.surface);
        *layer = layer.min(POINT_COLUMN);
    }
    layers
}

/// Pads, which have edges: bodies that do not go all round.
fn pads(setting: &Setting) -> impl Iterator<Item = Body> {
    let bodies = setting.supports.iter().flat_map(Supports::faces);
    bodies.filter(|b| !b.is_full_circle())
}

/// Lines that any mesh of the step has: edges and middles of pads and patches, points, kinks of the outlines.
pub(super) fn marks(setting: &Setting) -> Vec<Grading> {
    let mut marks = Vec::new();
    let mut add = |angle: f64| {
        marks.push(Grading {
            angle,
            size: f64::INFINITY,
        })
    };
    for b in pads(setting) {
        add(b.angle);
        let edges = b.pieces().into_iter().flatten();
        edges.for_each(|t| add(b.angle + t));
    }
    for support in setting.supports {
        for p in &support.pressures {
            [p.angle - p.half_angle, p.angle, p.angle + p.half_angle]
                .into_iter()
                .for_each(&mut add);
        }
        support.points.iter().for_each(|p| add(p.angle));
    }
    setting.body.kinks.iter().copied().for_each(add);
    marks
}

/// Marks of the mesh as they are learnt.
pub(super) struct MeshMarks {
    fixed: Vec<Grading>,
    /// Found contact ends, by body and by what they are near to.
    contact: Vec<Grading>,
    kinks: Vec<f64>,
    /// Finest layer wanted at each surface, walls.
    layers: PerSurface<f64>,
    bodies: usize,
}

impl MeshMarks {
    /// Finds where the held part touches, regrading until every zone is resolved. The held state alone answers that, and
    /// costs a fraction of a cut.
    pub(super) fn find(setting: &Setting, scale: Scale) -> Result<Self, ProcessError> {
        let mut marks = Self::first(setting, scale);
        let mut held: Option<Clamped> = None;
        for _ in 0..MOST_REGRADES {
            if marks.bodies == 0 {
                break;
            }
            let plan = sized(setting, marks.plan(scale, 1.0))?;
            let found = held.insert(meshed::hold(setting, &plan, held.as_ref())?);
            if !marks.regrade(&[&*found], setting, scale) {
                break;
            }
        }
        Ok(marks)
    }

    /// Before anything is known: the mesh is fine at the edges of pads and in the middle between them.
    fn first(setting: &Setting, scale: Scale) -> Self {
        let mut marks = Self {
            fixed: marks(setting),
            contact: Vec::new(),
            kinks: Vec::new(),
            layers: dead_layers(setting, scale),
            bodies: setting.supports.iter().map(|s| s.faces().len()).sum(),
        };
        for b in pads(setting) {
            for [from, to] in b.pieces() {
                let size = scale.angle(2.0 * EDGE_COLUMN).min(0.125 * (to - from));
                for t in [from, 0.5 * (from + to), to] {
                    let angle = b.angle + t;
                    marks.contact.push(Grading { angle, size });
                }
            }
            let layer = marks.layers.get_mut(b.surface);
            *layer = layer.min(4.0 * EDGE_COLUMN);
        }
        for support in setting.supports {
            for p in &support.pressures {
                for angle in [p.angle - p.half_angle, p.angle + p.half_angle] {
                    marks.fixed.push(Grading {
                        angle,
                        size: patch_column(p, scale),
                    });
                }
            }
            for p in &support.points {
                let (angle, size) = (p.angle, scale.angle(POINT_COLUMN));
                marks.fixed.push(Grading { angle, size });
            }
        }
        marks
    }

    pub(super) fn plan(&self, scale: Scale, refine: f64) -> Plan {
        let kinks = self.kinks.iter().map(|&angle| Grading {
            angle,
            size: scale.angle(KINK_COLUMN),
        });
        let all: Vec<Grading> = self
            .fixed
            .iter()
            .chain(&self.contact)
            .copied()
            .chain(kinks)
            .collect();
        Plan::graded(&all, scale, &self.layers, refine)
    }

    /// Takes over the zones found; says whether the mesh must be built again.
    pub(super) fn regrade(&mut self, states: &[&Clamped], setting: &Setting, scale: Scale) -> bool {
        let mut contact = Vec::new();
        let mut layers = dead_layers(setting, scale);
        let mut resolved = true;
        let bodies: Vec<_> = setting.supports.iter().flat_map(Supports::faces).collect();
        for (k, body) in bodies.iter().enumerate() {
            for state in states {
                let narrow = NARROW * scale.angle(1.0);
                let least = 1e-9 * state.total_force();
                let zones = state.contact_zones(k).into_iter();
                for zone in joined(zones.filter(|z| z.force > least), narrow, f64::INFINITY) {
                    let width = zone.end - zone.start;
                    resolved &= zone.edges >= FOUND || width < narrow;
                    let column = width.max(narrow) / COLUMNS_PER_ZONE;
                    contact.push(Grading {
                        angle: body.angle + 0.5 * (zone.start + zone.end),
                        size: column,
                    });
                    for (at, edge) in [(zone.start, zone.from_edge), (zone.end, zone.to_edge)] {
                        let largest = scale.angle(if edge { EDGE_COLUMN } else { END_COLUMN });
                        // pressure falls steepest at a free end
                        let size = if edge { column } else { 0.5 * column }.min(largest);
                        contact.push(Grading {
                            angle: body.angle + at,
                            size,
                        });
                        let layer = layers.get_mut(body.surface);
                        *layer = layer.min((2.0 * size / scale.angle(1.0)).max(1e-4));
                    }
                }
            }
        }
        if resolved && self.close_to(&contact) {
            return false;
        }
        self.contact = contact;
        self.layers = layers;
        true
    }

    /// Whether the mesh already has lines near all of these that are about as fine.
    fn close_to(&self, wanted: &[Grading]) -> bool {
        wanted.iter().all(|w| {
            self.contact.iter().any(|have| {
                let apart = (w.angle - have.angle).abs();
                apart < w.size.max(have.size) && have.size < 1.25 * w.size
            })
        })
    }

    /// Adds kinks that the mesh has no line near; says whether there were any.
    pub(super) fn add_kinks(&mut self, kinks: &[f64], scale: Scale) -> bool {
        let near = scale.angle(KINK_COLUMN);
        let new = kinks
            .iter()
            .any(|k| !self.kinks.iter().any(|have| (k - have).abs() < near));
        if new {
            self.kinks = kinks.to_vec();
        }
        new
    }
}
