//! What a solved step comes to: contacts, stress, wall, fields.

use std::sync::Arc;

use super::adapt::Adapted;
use super::sample::sample_angle;
use super::step::{Body, Setting, Solved};
use super::{
    AfterCut, Balance, Contact, DeadLoad, FieldState, HeldState, Radii, Stage, StepOutcome,
    StressPlace, StressSummary, WallExtremes,
};
use crate::contact::{Clamp, Clamped, Strip};
use crate::element::von_mises_with_axial;
use crate::geometry::PerSurface;
use crate::mesh::Mesh;
use crate::scheme::{Drive, Placing, Push, Supports};

/// What a scheme and one of its bodies are called.
pub(super) struct Named {
    pub scheme: String,
    pub body: String,
}

/// What a solved step comes to; fields are kept if asked for.
pub(super) fn outcome_of(
    setting: &Setting,
    names: &[Named],
    adapted: &Adapted,
    placing: Placing,
    keep: bool,
) -> StepOutcome {
    let solved = &adapted.solved;
    let grown = solved.clamp.grown();
    let before = StateOf {
        clamp: &solved.clamp,
        clamped: &solved.held,
        mesh: &solved.mesh,
        body: setting.body,
    };
    let stress = setting.stress(&solved.mesh, Some(&solved.held.displacement), grown);
    let held = HeldState {
        shape: solved.held_shape.clone(),
        displacement: PerSurface::from_fn(|s| {
            solved
                .held_displacement
                .get(s)
                .iter()
                .step_by(10)
                .copied()
                .collect()
        }),
        contacts: contacts(setting, names, &before),
        loads: dead_loads(names, solved, setting.supports),
        axial_force: solved.clamp.axial_force(),
        free_motions: free_motions(&solved.held),
        stress: stress_summary(setting, &before, &stress),
        balance: Balance {
            force: solved.balance[0],
            moment: solved.balance[1],
        },
        energy: solved.energy,
    };
    let cut = solved.cut.as_ref().map(|(clamped, _)| {
        let after = StateOf {
            clamp: &solved.clamp_after_clamping,
            clamped,
            mesh: &solved.cut_mesh,
            body: &solved.body,
        };
        let stress = setting.stress(&solved.cut_mesh, Some(&clamped.displacement), grown);
        let summary = AfterCut {
            contacts: contacts(setting, names, &after),
            stress: stress_summary(setting, &after, &stress),
        };
        (summary, &clamped.displacement, stress)
    });
    let after_cut = cut.as_ref().map(|(summary, ..)| summary.clone());
    let mut fields = Vec::new();
    if keep {
        fields.push(FieldState {
            stage: Stage::Held,
            mesh: Arc::clone(&solved.mesh),
            displacement: solved.held.displacement.clone(),
            stress,
        });
        if let Some((_, displacement, stress)) = cut {
            fields.push(FieldState {
                stage: Stage::Cut,
                mesh: Arc::clone(&solved.cut_mesh),
                displacement: displacement.clone(),
                stress,
            });
        }
        fields.push(FieldState {
            stage: Stage::Released,
            mesh: Arc::clone(&solved.cut_mesh),
            displacement: solved
                .relaxed
                .clone()
                .unwrap_or_else(|| vec![[0.0; 2]; solved.cut_mesh.nodes()]),
            stress: setting.stress(&solved.cut_mesh, solved.relaxed.as_deref(), 0.0),
        });
    }
    StepOutcome {
        hold: setting.step.hold.clone(),
        placing,
        spindle: solved.spindle,
        stock: solved.stock.clone(),
        held,
        cuts: solved.cuts.clone(),
        stress_between_cuts: solved.stress_between_cuts.clone(),
        after_cut,
        cut: solved.cut.as_ref().map(|(_, shape)| shape.clone()),
        released: solved.released.clone(),
        wall: wall(&solved.released),
        estimate: adapted.estimate.clone(),
        fields,
        mesh_size: adapted.size,
    }
}

/// A state of the held part: what holds it, where that has settled, and the part itself.
pub(super) struct StateOf<'a> {
    pub clamp: &'a Clamp,
    pub clamped: &'a Clamped,
    pub mesh: &'a Mesh,
    /// The part in this state, whose outlines carry the loads.
    pub body: &'a Body,
}

/// Least and largest wall along the radius; of places that are equally thin, the one at the smallest angle.
fn wall(shape: &Radii) -> WallExtremes {
    let wall: Vec<f64> = shape
        .outer
        .iter()
        .zip(&shape.bore)
        .map(|(a, b)| a - b)
        .collect();
    let n = wall.len();
    let (min, max) = wall
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), &w| {
            (a.min(w), b.max(w))
        });
    // equal by symmetry is equal to a thousandth of the variation, as the mesh need not be symmetric
    let slack = 1e-3 * (max - min) + 1e-9;
    let first = |sign: f64, extreme: f64| -> f64 {
        let turning = |k: usize| {
            let at = |i: usize| sign * wall[i % n];
            at(k) >= at(k + 1) && at(k) >= at(k + n - 1) && (wall[k] - extreme).abs() <= slack
        };
        let k = (0..n).find(|&k| turning(k)).unwrap_or(0);
        sample_angle(k).to_degrees()
    };
    WallExtremes {
        min,
        min_angle: first(-1.0, min),
        max,
        max_angle: first(1.0, max),
    }
}

/// The dead loads as they act, scaled and laid against the part.
fn dead_loads(names: &[Named], solved: &Solved, supports: &[Supports]) -> Vec<DeadLoad> {
    let (mut patches, mut points) = (solved.clamp.patches().iter(), solved.clamp.points().iter());
    let mut loads = Vec::new();
    for (named, support) in names.iter().zip(supports) {
        let mut add = |called: &str, number: usize, surface, angle: f64, half: f64, force| {
            loads.push(DeadLoad {
                scheme: named.scheme.clone(),
                called: called.to_owned(),
                number,
                surface,
                angle_deg: angle.to_degrees().rem_euclid(360.0),
                half_angle_deg: half.to_degrees(),
                force,
            });
        };
        for (k, p) in patches.by_ref().take(support.pressures.len()).enumerate() {
            add("patch", k + 1, p.surface, p.angle, p.half_angle, p.force);
        }
        for (k, p) in points.by_ref().take(support.points.len()).enumerate() {
            add("point", k + 1, p.surface, p.angle, 0.0, p.force);
        }
    }
    loads
}

fn contacts(setting: &Setting, names: &[Named], state: &StateOf) -> Vec<Contact> {
    let clamped = state.clamped;
    let mut contacts = Vec::new();
    let mut k = 0;
    for (name, support) in names.iter().zip(setting.supports) {
        for (number, body) in support.faces().iter().enumerate() {
            let strips: Vec<_> = clamped
                .strips(k)
                .into_iter()
                .filter(|s| s.force > 0.0)
                .collect();
            let edge_force = strips
                .iter()
                .filter(|s| s.from_edge || s.to_edge)
                .map(|s| {
                    let both = s.from_edge && s.to_edge;
                    let at_one = if both { 0.5 * s.force } else { s.force };
                    at_one / setting.part.length
                })
                .reduce(f64::max);
            let axis = body.angle.to_degrees().rem_euclid(360.0);
            let named = number < support.bodies.len();
            let arcs: Vec<_> = strips.iter().map(|s| in_part(axis, s)).collect();
            contacts.push(Contact {
                scheme: name.scheme.clone(),
                called: if named {
                    name.body.clone()
                } else {
                    "sleeve".to_owned()
                },
                gap: if strips.is_empty() {
                    clamped.least_gap(k).0.max(0.0)
                } else {
                    0.0
                },
                round: state.clamp.goes_round(k),
                set_force: set_force(&support.drive, number)
                    .filter(|_| named)
                    .map(|force| force * setting.step.force_scale),
                body: number + 1,
                angle_deg: axis,
                surface: body.surface,
                half_angle_deg: body.half_angle.to_degrees(),
                force: clamped.force(k),
                approach: clamped.travel(k),
                pressure_integral: clamped.pressure_integral(k),
                peak_pressure: edge_force.is_none().then(|| clamped.peak_pressure(k)),
                edge_force_per_length: edge_force,
                pressure: pressure_in_part(axis, &arcs, clamped, k),
                arcs,
            });
            k += 1;
        }
    }
    contacts
}

/// Force that a drive sets one of its bodies to, N: the mean of those that share a travel; `None` for what stands at a place of its
/// own.
pub(super) fn set_force(drive: &Drive, body: usize) -> Option<f64> {
    match drive {
        Drive::Each(pushes) => match pushes.get(body)? {
            Push::Force(force) => Some(*force),
            Push::Gap(_) => None,
        },
        Drive::SelfCentring { force } | Drive::EqualisedPairs { force, .. } => Some(*force),
    }
}

/// An arc from a body's axis (rad) as part angles, degrees: it starts within the turn, or below 0 if it passes over 0.
fn in_part(axis: f64, strip: &Strip) -> [f64; 2] {
    let start = (axis + strip.start.to_degrees()).rem_euclid(360.0);
    let end = start + (strip.end - strip.start).to_degrees();
    // an end at 360 to rounding does not pass over it
    let turns = if end > 360.0 + 1e-9 { 360.0 } else { 0.0 };
    [start - turns, end - turns]
}

/// Pressure of a body over part angles, rising: each run of places beside the arc that it belongs to.
fn pressure_in_part(axis: f64, arcs: &[[f64; 2]], clamped: &Clamped, body: usize) -> Vec<[f64; 2]> {
    let mut places = Vec::new();
    for run in clamped.loaded_pressures(body) {
        let middle = axis + 0.5 * (run[0][0] + run[run.len() - 1][0]).to_degrees();
        let shift = |arc: &[f64; 2]| ((0.5 * (arc[0] + arc[1]) - middle) / 360.0).round() * 360.0;
        let off = |arc: &[f64; 2]| (0.5 * (arc[0] + arc[1]) - middle - shift(arc)).abs();
        let nearest = arcs.iter().min_by(|a, b| off(a).total_cmp(&off(b)));
        let turns = nearest.map_or(0.0, shift);
        places.extend(run.iter().map(|[t, p]| [axis + turns + t.to_degrees(), *p]));
    }
    places.sort_by(|a: &[f64; 2], b| a[0].total_cmp(&b[0]));
    places
}

/// Where stress has no bound, mm: pad edges that carry, and point forces.
fn unbounded(state: &StateOf) -> Vec<[f64; 2]> {
    let mut places = Vec::new();
    let mut add = |surface, theta: f64| {
        let r = state.body.outlines.get(surface).radius(theta);
        places.push([r * theta.cos(), r * theta.sin()]);
    };
    for (k, body) in state.clamp.bodies().iter().enumerate() {
        for strip in state.clamped.strips(k).iter().filter(|s| s.force > 0.0) {
            for (at, loaded) in [(strip.start, strip.from_edge), (strip.end, strip.to_edge)] {
                if loaded && state.clamp.touches_part(k) {
                    add(body.surface, body.angle + at);
                }
            }
        }
    }
    for point in state.clamp.points().iter().filter(|p| p.force != 0.0) {
        add(point.surface, point.angle);
    }
    places
}

/// Von Mises figures of a state: the largest, if it has one, and the largest away from where it has no bound. The axial stress of
/// an end clamp acts on the section as it stood when the step began.
pub(super) fn stress_summary(
    setting: &Setting,
    state: &StateOf,
    stress: &[[f64; 3]],
) -> StressSummary {
    let axial = -state.clamp.axial_force() / setting.body.section(setting.part.length).area();
    let edges = unbounded(state);
    let nominal = &state.body.nominal;
    let reach = 0.1 * (nominal.outer - nominal.bore);
    let (mut all, mut away, mut at) = (0.0_f64, 0.0_f64, [1.0, 0.0]);
    for (s, c) in stress.iter().zip(state.mesh.coords()) {
        let v = von_mises_with_axial(*s, axial);
        all = all.max(v);
        let far = |e: &[f64; 2]| (c[0] - e[0]).hypot(c[1] - e[1]) > reach;
        if v > away && edges.iter().all(far) {
            (away, at) = (v, *c);
        }
    }
    let margin = |y: f64| (away > 0.0).then(|| y / away - 1.0);
    StressSummary {
        von_mises_max: edges.is_empty().then_some(all),
        von_mises_away: away,
        at: StressPlace {
            angle_deg: at[1].atan2(at[0]).to_degrees().rem_euclid(360.0),
            radius: at[0].hypot(at[1]),
        },
        yield_margin: setting
            .part
            .material
            .yield_strength
            .and_then(margin)
            .filter(|m| m.is_finite()),
    }
}

fn free_motions(held: &Clamped) -> Vec<String> {
    let mut motions = vec!["turning about the axis".to_owned()];
    match held.free_shifts.as_slice() {
        [] => {}
        [q] => motions.push(format!(
            "sliding along {:.0} deg",
            q[1].atan2(q[0]).to_degrees().rem_euclid(180.0)
        )),
        _ => motions.extend(["sliding along x".to_owned(), "sliding along y".to_owned()]),
    }
    motions
}
