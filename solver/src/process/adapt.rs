//! Choosing the mesh of a step, and judging the answer by a second one.
//!
//! A first look finds where pads carry; the mesh is regraded there until every loaded strip is carried by enough
//! elements. Then the step is solved on that mesh and on one twice as fine, round and through together. The whole
//! difference of the two is the estimate, undivided: where a pad edge carries, the error falls no faster than the mesh size.
//! A strip carried by fewer than four elements is unresolved, and two such meshes can agree on a wrong answer.

use std::f64::consts::{PI, TAU};

use super::inspect::stress_of_states;
use super::plan::{Plan, Scale};
use super::round::{self, RoundMarks, Zones};
use super::step::{Guess, Setting, Solved};
use super::{
    Estimate, Method, NotConverged, Open, PROFILE_POINTS, ProcessError, Reason, StressSummary,
    TooLarge, Unresolved,
};
use crate::case::FixedMesh;
use crate::contact::{Clamped, RESOLVED, Strip};
use crate::geometry::{PerSurface, Surface};
use crate::mesh::{Grading, Mesh};
use crate::scheme::{Body, PressurePatch, Supports};

/// Columns aimed at in a strip on the first mesh: eight, so that regrading at a strip half as wide as thought still
/// leaves four, and the ends of contact come out to a percent of its width.
const COLUMNS_A_STRIP: f64 = 8.0;

/// Element edges a strip must have on the first mesh before it is taken as found: with fewer its width, and so the next
/// mesh, is still off.
const LOOKED_FOR: usize = RESOLVED + 2;

/// Strips narrower than this are not resolved, walls: a strip of five microns on a wall of 5 mm is a line to the ring, and
/// its place within such columns is in the estimate. Columns for a strip ten times narrower are so much stiffer than a thin
/// ring that its factor drowns in rounding.
const NARROW: f64 = 1e-3;

/// Column at a carrying pad edge or a free end of contact, in walls, at most.
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

/// Regradings before a strip is given up as unresolvable.
const MOST_LOOKS: usize = 12;

/// The first mesh on a mean ring has elements twice as wide as those that tell a zone of contact by sight; its answer is judged by the
/// next, which has these.
const FIRST_REFINEMENT: f64 = 0.5;

/// What the difference of two divisions on a mean ring is taken times. Where zones end freely the error falls with the square of the
/// elements, and the second is off by a third of the difference. Where an edge of a pad carries the pressure grows like `distance^-1/2` and it
/// falls more slowly. With these and [`SERIES`] 7 of the 200 random rings of the tests are off from the exact series by more than is stated,
/// and 5 and 10 of two other two hundreds that they were not fitted to; in the median it is stated 19, 22 and 24 times too high, at errors
/// of a few millionths.
const EDGE_MARGIN: f64 = 1.6;
const MARGIN: f64 = 0.5;

/// What the series and its tables leave of an answer, as a share.
const SERIES: f64 = 2e-6;

/// The same under forces on lines, by what they are spread over.
const LINE_SERIES: f64 = 2e-5;

/// Share by which stress on a mean ring's elements may be off beside their difference: of 60 random rings under patches half were off by
/// more than 0.002, and with this added 1 by more than is stated.
const STRESS_FLOOR: f64 = 6e-3;

/// Times that a mean ring's elements follow the zones found with the part cut.
const MOST_REGRADES: usize = 2;

/// Times that the elements on a mean ring are halved for the accuracy asked.
const MOST_REFINEMENTS: usize = 4;

/// Most memory that a graded mesh may take, bytes.
const MOST_BYTES: f64 = 2e9;

/// Memory of a run, bytes; of each element; and of the sparse factors of the stock and of the cut part, whose fill grows with the layers
/// through the wall, for each element and layer. Measured: 1.12 GB at 192,294 elements in 27 layers, 2.19 at 116,144 in 122, 2.48 at
/// 140,590 in 85; 0.38 at 87,516 of a round ring that is held alone.
const BYTES_OF_A_RUN: f64 = 200e6;
const BYTES_AN_ELEMENT: f64 = 4e3;
const BYTES_A_LAYER: f64 = 130.0;
const BYTES_A_ROUND_ELEMENT: f64 = 3e3;

/// Share by which a shape's out-of-roundness is missed at its sampled angles, for each lobe squared: a crest half a sample off is lower by
/// `(n pi / samples)^2 / 2`, one a third of a sample off by half of that.
const SAMPLING: f64 = 0.25 * (PI / PROFILE_POINTS as f64) * (PI / PROFILE_POINTS as f64);

/// A step solved to the accuracy asked.
pub(super) struct Adapted {
    pub solved: Solved,
    pub estimate: Estimate,
    /// Whether a fixed mesh carries a contact on too few elements to tell its width.
    pub unresolved: bool,
    /// What stress may be off beside the difference of the two meshes, as a share.
    pub stress_floor: f64,
    /// Stress of each held state on the coarser mesh, to judge that on the finer by; `None` if none was solved.
    pub coarse_stress: Option<Vec<StressSummary>>,
    pub size: [usize; 2],
    /// The coarser plan: good enough to look for another force.
    pub coarse: Plan,
}

/// Solves a step.
pub(super) fn solve(
    setting: &Setting,
    fixed: Option<FixedMesh>,
    estimate: bool,
) -> Result<Adapted, ProcessError> {
    if let Some(mesh) = fixed {
        return on_fixed_mesh(setting, mesh, estimate);
    }
    let nearly_round = || round::is_nearly_round(setting);
    if setting.method == Method::MeanRing && nearly_round() {
        match on_mean_ring(setting) {
            // too far from round after all: the mesh alone decides
            Err(e) if matches!(e.reason, Reason::NotConverged(_)) => {}
            solved => return solved,
        }
    }
    on_graded_meshes(setting).or_else(|e| match e.reason {
        // columns narrow enough for the contact have drowned a thin wall in rounding; the series has none
        Reason::NotConverged(NotConverged::Accuracy { .. }) if nearly_round() => {
            on_mean_ring(setting).map_err(|_| e)
        }
        _ => Err(e),
    })
}

/// What the difference of two divisions on a mean ring is taken times.
fn margin(fine: &Solved) -> f64 {
    if carrying(fine).any(|s| s.from_edge || s.to_edge) {
        EDGE_MARGIN
    } else {
        MARGIN
    }
}

/// Solves a nearly round part by the series of its mean ring: on elements found by looking, then on ones twice as fine.
fn on_mean_ring(setting: &Setting) -> Result<Adapted, ProcessError> {
    let mut fixed = marks(setting);
    let scale = scale(setting);
    for support in setting.supports {
        for p in &support.pressures {
            for angle in [p.angle - p.half_angle, p.angle + p.half_angle] {
                let size = patch_column(p, scale);
                fixed.push(Grading { angle, size });
            }
        }
        for p in &support.points {
            let (angle, size) = (p.angle, scale.angle(PATCH_COLUMN));
            fixed.push(Grading { angle, size });
        }
    }
    let on_lines = setting.supports.iter().any(|s| !s.points.is_empty());
    let series = if on_lines { LINE_SERIES } else { SERIES };
    let marks = RoundMarks::new(setting, scale, fixed);
    let mut marks = round::looked(setting, marks, &setting.start)?;
    let mut refine = FIRST_REFINEMENT;
    let mut plan = marks.plan(refine);
    let mut coarse = setting.solve(&plan, None)?;
    for _ in 0..MOST_REGRADES {
        let states = std::iter::once(&coarse.held).chain(coarse.cut.iter().map(|c| &c.0));
        if !marks.regrade(states.map(|s| s as &dyn Zones), round::TOLD) {
            break;
        }
        plan = marks.plan(refine);
        coarse = setting.solve(&plan, Some(&Guess::of(&coarse)))?;
    }
    for _ in 0..MOST_REFINEMENTS {
        refine *= 2.0;
        let fine_plan = marks.plan(refine);
        let fine = setting.solve(&fine_plan, Some(&Guess::of(&coarse)))?;
        let error = difference(&coarse, &fine, setting).on_mean_ring(margin(&fine), series);
        if error.relative <= setting.accuracy {
            return Ok(Adapted {
                size: [fine_plan.ends.len(), fine_plan.layers.len() - 1],
                solved: fine,
                estimate: judged(setting, Some(error)),
                stress_floor: STRESS_FLOOR,
                coarse_stress: Some(stress_of_states(setting, &coarse)),
                unresolved: false,
                coarse: plan,
            });
        }
        (coarse, plan) = (fine, fine_plan);
    }
    Err(ProcessError::from(NotConverged::MeanRing))
}

/// The mesh on which a step is first solved: the user's, or the finer of the first graded pair.
pub(super) fn first_mesh(
    setting: &Setting,
    fixed: Option<FixedMesh>,
) -> Result<Mesh, ProcessError> {
    let plan = match fixed {
        Some(mesh) => fixed_plan(setting, mesh),
        None => {
            let scale = scale(setting);
            sized(setting, MeshMarks::look(setting, scale)?.plan(scale, 2.0))?
        }
    };
    Ok(Mesh::build(
        &setting.body.outlines,
        &plan.ends,
        &plan.layers,
        true,
    )?)
}

/// Solves a step once, on the first mesh that resolves its contact: good enough to compare like steps by.
pub(super) fn rough(setting: &Setting, fixed: Option<FixedMesh>) -> Result<Solved, ProcessError> {
    let plan = match fixed {
        Some(mesh) => fixed_plan(setting, mesh),
        None => {
            let scale = scale(setting);
            sized(setting, MeshMarks::look(setting, scale)?.plan(scale, 1.0))?
        }
    };
    setting.solve(&plan, None)
}

fn fixed_plan(setting: &Setting, mesh: FixedMesh) -> Plan {
    let marks: Vec<f64> = marks(setting).iter().map(|m| m.angle).collect();
    Plan::fixed(&marks, mesh)
}

fn on_fixed_mesh(
    setting: &Setting,
    mesh: FixedMesh,
    estimate: bool,
) -> Result<Adapted, ProcessError> {
    let mut plan = fixed_plan(setting, mesh);
    plan.judged = estimate;
    let solved = setting.solve(&plan, None)?;
    let coarse = if estimate {
        let half = FixedMesh {
            around: (mesh.around / 2).max(12),
            through: (mesh.through / 2).max(1),
        };
        Some(setting.solve(&fixed_plan(setting, half), Some(&Guess::of(&solved)))?)
    } else {
        None
    };
    let error = coarse.as_ref().map(|c| difference(c, &solved, setting));
    Ok(Adapted {
        size: [plan.ends.len(), plan.layers.len() - 1],
        estimate: judged(setting, error),
        stress_floor: 0.0,
        coarse_stress: coarse.map(|c| stress_of_states(setting, &c)),
        unresolved: unresolved(setting, &solved).is_some(),
        solved,
        coarse: plan,
    })
}

/// What the difference of two meshes says of the driving quantity.
fn judged(setting: &Setting, error: Option<Difference>) -> Estimate {
    Estimate {
        quantity: quantity(setting),
        relative_error: error.map(|e| e.relative),
        absolute_error: error.map(|e| e.absolute),
        stress_relative_error: None,
        converged: error.is_some_and(|e| e.relative <= setting.accuracy),
    }
}

fn on_graded_meshes(setting: &Setting) -> Result<Adapted, ProcessError> {
    let scale = scale(setting);
    let mut layout = MeshMarks::look(setting, scale)?;
    let mut refine = 1.0;
    let mut coarse_plan = sized(setting, layout.plan(scale, refine))?;
    let mut coarse = setting.solve(&coarse_plan, None)?;
    for _ in 0..MOST_LOOKS {
        let states: Vec<&Clamped> = std::iter::once(&coarse.held)
            .chain(coarse.cut.iter().map(|c| &c.0))
            .collect();
        let kinks = coarse.body.kinks.clone();
        let moved = layout.regrade(&states, setting, scale);
        if !layout.add_kinks(&kinks, scale) && !moved {
            break;
        }
        coarse_plan = sized(setting, layout.plan(scale, refine))?;
        coarse = setting.solve(&coarse_plan, Some(&Guess::of(&coarse)))?;
    }
    let mut last = None;
    loop {
        refine *= 2.0;
        let plan = sized(setting, layout.plan(scale, refine))?;
        let elements = plan.elements();
        let fine = setting
            .solve(&plan, Some(&Guess::of(&coarse)))
            .map_err(|e| e.still(|| open(last, setting)))?;
        let error = difference(&coarse, &fine, setting);
        let unresolved = unresolved(setting, &fine);
        if error.relative <= setting.accuracy && unresolved.is_none() {
            let size = [plan.ends.len(), plan.layers.len() - 1];
            return Ok(Adapted {
                solved: fine,
                estimate: judged(setting, Some(error)),
                stress_floor: 0.0,
                coarse_stress: Some(stress_of_states(setting, &coarse)),
                unresolved: false,
                size,
                coarse: coarse_plan,
            });
        }
        // twice as fine both ways
        let next = bytes(setting, 4 * elements, 2 * (plan.layers.len() - 1));
        if next > MOST_BYTES {
            let open = match unresolved {
                Some(strip) => Unresolved::Strip {
                    width_deg: (strip.end - strip.start).to_degrees(),
                },
                None => Unresolved::Meshes {
                    quantity: quantity(setting),
                    absolute: error.absolute,
                    relative: error.relative,
                    accuracy: setting.accuracy,
                    next_bytes: next,
                },
            };
            return Err(NotConverged::Accuracy {
                step: setting.index,
                elements,
                open: Box::new(open),
            }
            .into());
        }
        last = Some(error);
        coarse = fine;
        coarse_plan = plan;
    }
}

/// What the meshes solved so far leave open.
fn open(last: Option<Difference>, setting: &Setting) -> Open {
    match last {
        None => Open::OneMesh,
        Some(error) => Open::Meshes {
            quantity: quantity(setting),
            relative: error.relative,
            accuracy: setting.accuracy,
        },
    }
}

/// Memory that a step takes on so many elements in so many layers, bytes.
fn bytes(setting: &Setting, elements: usize, through: usize) -> f64 {
    let outlines = &setting.body.outlines;
    let stays_round = setting.step.cuts.is_empty()
        && Surface::BOTH
            .into_iter()
            .all(|s| outlines.get(s).as_round().is_some());
    let each = if stays_round {
        BYTES_A_ROUND_ELEMENT
    } else {
        BYTES_AN_ELEMENT + BYTES_A_LAYER * through as f64
    };
    BYTES_OF_A_RUN + each * elements as f64
}

/// Refuses a plan that takes more memory than a run may, with the figures, before any is taken for it.
fn sized(setting: &Setting, plan: Plan) -> Result<Plan, ProcessError> {
    let elements = plan.elements();
    let through = plan.layers.len() - 1;
    let needed = bytes(setting, elements, through);
    if needed <= MOST_BYTES {
        return Ok(plan);
    }
    let share = ((MOST_BYTES - BYTES_OF_A_RUN) / (needed - BYTES_OF_A_RUN)).sqrt();
    let fits = |n: usize| (n as f64 * share).floor().max(1.0) as usize;
    Err(Reason::TooLarge(TooLarge::Mesh {
        elements,
        bytes: needed,
        most_bytes: MOST_BYTES,
        fits: [fits(plan.ends.len()), fits(through)],
    })
    .into())
}

/// The name of what drives the accuracy.
fn quantity(setting: &Setting) -> String {
    if setting.step.cuts.is_empty() {
        "held out-of-roundness of outside and bore".into()
    } else {
        let names: Vec<&str> = super::step::cut_surfaces(setting.step)
            .into_iter()
            .map(|s| s.name())
            .collect();
        format!("released out-of-roundness of {}", names.join(" and "))
    }
}

/// How far two meshes differ in the driving quantity.
#[derive(Clone, Copy)]
struct Difference {
    /// Share of the value, or of the least that accuracy is measured against.
    relative: f64,
    /// mm.
    absolute: f64,
    /// What of the share the sampling leaves.
    sampling: f64,
}

impl Difference {
    /// Of two divisions on a mean ring, with what its series leaves.
    fn on_mean_ring(self, margin: f64, series: f64) -> Self {
        let measure = self.absolute / self.relative.max(f64::MIN_POSITIVE);
        let relative = margin * (self.relative - self.sampling) + self.sampling + series;
        Self {
            relative,
            absolute: relative * measure,
            ..self
        }
    }
}

/// Difference of the driving quantity between two meshes, with what the cut's passes, unresolved strips and the sampling leave:
/// of the surface that is worst.
fn difference(coarse: &Solved, fine: &Solved, setting: &Setting) -> Difference {
    let lobes = TAU / scale(setting).spacing;
    let sampling = SAMPLING * lobes.max(2.0).powi(2);
    let of = |surface: Surface, a: f64, b: f64| {
        let measure = b.max(setting.least_measured(surface));
        let absolute = (a - b).abs() + fine.unsettled + fine.doubt + sampling * measure;
        Difference {
            relative: absolute / measure,
            absolute,
            sampling,
        }
    };
    coarse
        .driving
        .iter()
        .zip(&fine.driving)
        .map(|(&(s, a), &(_, b))| of(s, a, b))
        .max_by(|a, b| a.relative.total_cmp(&b.relative))
        .unwrap_or(Difference {
            relative: sampling,
            absolute: 0.0,
            sampling,
        })
}

/// The strips that carry, held and cut.
fn carrying(solved: &Solved) -> impl Iterator<Item = Strip> {
    std::iter::once(&solved.held)
        .chain(solved.cut.iter().map(|c| &c.0))
        .flat_map(|state| {
            let bodies = 0..solved.clamp.bodies().len();
            let least = 1e-9 * state.total_force();
            bodies
                .flat_map(|b| state.strips(b))
                .filter(move |strip| strip.force > least)
        })
}

/// A strip that wants more elements. One narrower than [`NARROW`] is a line for all that the ring feels of it; what its place
/// leaves in doubt is in the estimate.
fn unresolved(setting: &Setting, solved: &Solved) -> Option<Strip> {
    carrying(solved).find(|strip| {
        strip.edges < RESOLVED && strip.end - strip.start > NARROW * scale(setting).angle(1.0)
    })
}

fn scale(setting: &Setting) -> Scale {
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
fn patch_column(patch: &PressurePatch, scale: Scale) -> f64 {
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
fn marks(setting: &Setting) -> Vec<Grading> {
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
struct MeshMarks {
    fixed: Vec<Grading>,
    /// Found contact ends, by body and by what they are near to.
    contact: Vec<Grading>,
    kinks: Vec<f64>,
    /// Finest layer wanted at each surface, walls.
    layers: PerSurface<f64>,
    bodies: usize,
}

impl MeshMarks {
    /// Finds where the held part touches, regrading until every strip is resolved. The held state alone answers that, and
    /// costs a fraction of a cut.
    fn look(setting: &Setting, scale: Scale) -> Result<Self, ProcessError> {
        let mut marks = Self::first(setting, scale);
        let mut held: Option<Clamped> = None;
        for _ in 0..MOST_LOOKS {
            if marks.bodies == 0 {
                break;
            }
            let plan = sized(setting, marks.plan(scale, 1.0))?;
            let found = held.insert(super::meshed::hold(setting, &plan, held.as_ref())?);
            if !marks.regrade(&[&*found], setting, scale) {
                break;
            }
        }
        Ok(marks)
    }

    /// Before anything is known: pads are looked at closely at their edges and in the middle between them.
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

    fn plan(&self, scale: Scale, refine: f64) -> Plan {
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

    /// Takes over the strips found; says whether the mesh must be built again.
    fn regrade(&mut self, states: &[&Clamped], setting: &Setting, scale: Scale) -> bool {
        let mut contact = Vec::new();
        let mut layers = dead_layers(setting, scale);
        let mut resolved = true;
        let bodies: Vec<_> = setting.supports.iter().flat_map(Supports::faces).collect();
        for (k, body) in bodies.iter().enumerate() {
            for state in states {
                for strip in state.strips(k) {
                    if strip.force <= 1e-9 * state.total_force() {
                        continue;
                    }
                    let width = strip.end - strip.start;
                    let narrow = NARROW * scale.angle(1.0);
                    resolved &= strip.edges >= LOOKED_FOR || width < narrow;
                    let column = width.max(narrow) / COLUMNS_A_STRIP;
                    contact.push(Grading {
                        angle: body.angle + 0.5 * (strip.start + strip.end),
                        size: column,
                    });
                    for (at, edge) in [(strip.start, strip.from_edge), (strip.end, strip.to_edge)] {
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
    fn add_kinks(&mut self, kinks: &[f64], scale: Scale) -> bool {
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
