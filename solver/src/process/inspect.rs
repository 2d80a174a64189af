//! What a solved step comes to: contacts, stress, wall, fields.

use std::sync::Arc;

use super::adapt::Adapted;
use super::sample::sample_angle;
use super::step::{Setting, Solved};
use super::{
    Balance, Contact, DeadLoad, FieldState, HeldState, Radii, Stage, StepOutcome, WallExtremes,
};
use crate::contact::Clamped;
use crate::element::von_mises_with_axial;
use crate::geometry::PerSurface;
use crate::mesh::Mesh;
use crate::scheme::{Placing, Supports};

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
    let stress = setting.stress(&solved.mesh, Some(&solved.held.displacement), grown);
    let edges = unbounded(setting, solved, &solved.held);
    let axial = -solved.clamp.axial_force() / setting.body.section(setting.part.length).area();
    let (von_mises_max, von_mises_away) =
        largest_stress(setting, &solved.mesh, &stress, axial, &edges);
    let yield_margin = setting
        .part
        .material
        .yield_strength
        .map(|y| y / von_mises_away.max(f64::MIN_POSITIVE) - 1.0);
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
        contacts: contacts(setting, names, solved),
        loads: dead_loads(names, solved, setting.supports),
        axial_force: solved.clamp.axial_force(),
        free_motions: free_motions(&solved.held),
        von_mises_max,
        von_mises_away,
        yield_margin: yield_margin.filter(|m| m.is_finite() && von_mises_away > 0.0),
        balance: Balance {
            force: solved.balance[0],
            moment: solved.balance[1],
        },
        energy: solved.energy,
    };
    let mut fields = Vec::new();
    if keep {
        fields.push(FieldState {
            stage: Stage::Held,
            mesh: Arc::clone(&solved.mesh),
            displacement: solved.held.displacement.clone(),
            stress,
        });
        if let Some((state, _)) = &solved.cut {
            fields.push(FieldState {
                stage: Stage::Cut,
                mesh: Arc::clone(&solved.cut_mesh),
                displacement: state.displacement.clone(),
                stress: setting.stress(&solved.cut_mesh, Some(&state.displacement), grown),
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
        cut: solved.cut.as_ref().map(|(_, shape)| shape.clone()),
        released: solved.released.clone(),
        wall: wall(&solved.released),
        estimate: adapted.estimate.clone(),
        fields,
        mesh_size: adapted.size,
    }
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

fn contacts(setting: &Setting, names: &[Named], solved: &Solved) -> Vec<Contact> {
    let mut contacts = Vec::new();
    let mut k = 0;
    for (name, support) in names.iter().zip(setting.supports) {
        for (number, body) in support.faces().iter().enumerate() {
            let strips: Vec<_> = solved
                .held
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
            contacts.push(Contact {
                scheme: name.scheme.clone(),
                called: if number < support.bodies.len() {
                    name.body.clone()
                } else {
                    "sleeve".to_owned()
                },
                gap: if strips.is_empty() {
                    solved.held.least_gap(k).0.max(0.0)
                } else {
                    0.0
                },
                round: solved.clamp.goes_round(k),
                body: number + 1,
                angle_deg: axis,
                surface: body.surface,
                half_angle_deg: body.half_angle.to_degrees(),
                force: solved.held.force(k),
                approach: solved.held.travel(k),
                peak_pressure: edge_force.is_none().then(|| solved.held.peak_pressure(k)),
                edge_force_per_length: edge_force,
                arcs: strips
                    .iter()
                    .map(|s| [axis + s.start.to_degrees(), axis + s.end.to_degrees()])
                    .collect(),
            });
            k += 1;
        }
    }
    contacts
}

/// Where stress has no bound, mm: pad edges that carry, and point forces.
fn unbounded(setting: &Setting, solved: &Solved, state: &Clamped) -> Vec<[f64; 2]> {
    let mut places = Vec::new();
    let mut add = |surface, theta: f64| {
        let r = setting.body.outlines.get(surface).radius(theta);
        places.push([r * theta.cos(), r * theta.sin()]);
    };
    for (k, body) in solved.clamp.bodies().iter().enumerate() {
        for strip in state.strips(k).iter().filter(|s| s.force > 0.0) {
            for (at, loaded) in [(strip.start, strip.from_edge), (strip.end, strip.to_edge)] {
                if loaded && solved.clamp.touches_part(k) {
                    add(body.surface, body.angle + at);
                }
            }
        }
    }
    for point in solved.clamp.points().iter().filter(|p| p.force != 0.0) {
        add(point.surface, point.angle);
    }
    places
}

/// Largest von Mises stress, if it has one, and the largest away from where it has no bound, MPa. `axial` stress is that of
/// the ends' clamp.
fn largest_stress(
    setting: &Setting,
    mesh: &Mesh,
    stress: &[[f64; 3]],
    axial: f64,
    edges: &[[f64; 2]],
) -> (Option<f64>, f64) {
    let nominal = &setting.body.nominal;
    let reach = 0.1 * (nominal.outer - nominal.bore);
    let (mut all, mut away) = (0.0_f64, 0.0_f64);
    for (s, c) in stress.iter().zip(mesh.coords()) {
        let v = von_mises_with_axial(*s, axial);
        all = all.max(v);
        if edges
            .iter()
            .all(|e| (c[0] - e[0]).hypot(c[1] - e[1]) > reach)
        {
            away = away.max(v);
        }
    }
    (edges.is_empty().then_some(all), away)
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
