//! What a solved step comes to: contacts, stress, wall, fields.

use std::sync::Arc;

use super::adapt::Adapted;
use super::contact_stress::{LoadedArc, UnderZone};
use super::figures::{self, Carried};
use super::sample::sample_angle;
use super::step::{PartBody, Setting, Solved};
use super::{
    AfterCut, Balance, Contact, DeadLoad, FieldState, GripOutcome, HeldState, Radii, Stage,
    StepOutcome, StressPlace, StressSummary, WallExtremes,
};
use crate::contact::{Clamp, Clamped, ContactZone};
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
    carried: &Carried,
    keep: bool,
) -> StepOutcome {
    let solved = &adapted.solved;
    let before = solved.before_cuts(setting);
    let stress = before.stress(setting);
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
        contacts: contacts(setting, names, before.clamp, before.clamped),
        loads: dead_loads(names, &solved.clamp, setting.supports),
        axial_force: solved.clamp.axial_force(),
        rigid_body_modes: rigid_body_modes(&solved.held),
        stress: stress_summary(setting, &before, &stress),
        balance: Balance {
            force: solved.balance[0],
            moment: solved.balance[1],
        },
        energy: solved.energy,
    };
    let cut = solved.after_cuts().map(|after| {
        let stress = after.stress(setting);
        let summary = AfterCut {
            contacts: contacts(setting, names, after.clamp, after.clamped),
            stress: stress_summary(setting, &after, &stress),
        };
        (summary, stress)
    });
    let after_cut = cut.as_ref().map(|(summary, _)| summary.clone());
    let fields = if keep {
        fields(setting, solved, stress, cut.map(|(_, stress)| stress))
    } else {
        Vec::new()
    };
    let coarse = adapted
        .judge
        .as_ref()
        .map(|judge| stress_of_states(setting, &judge.solved));
    let after = after_cut.as_ref().map(|a| a.contacts.as_slice());
    let errors = figures::errors(setting, names, adapted, &held, after, carried);
    let mut outcome = StepOutcome {
        hold: setting.step.hold.clone(),
        placing,
        from_squeeze: None,
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
        errors,
        fields,
        mesh_size: adapted.plan.size(),
        tube: None,
        held_at_speed: None,
        grip: GripOutcome::default(),
    };
    if let (Some(coarse), Some(judge)) = (coarse, &adapted.judge) {
        figures::judge_stress(&mut outcome, &coarse, judge.stress_floor);
    }
    outcome
}

/// Fields of the held part, of the finished part while it is still held (with this stress), and of the
/// released part.
fn fields(
    setting: &Setting,
    solved: &Solved,
    held_stress: Vec<[f64; 3]>,
    stress_after_cuts: Option<Vec<[f64; 3]>>,
) -> Vec<FieldState> {
    let mut fields = vec![FieldState {
        stage: Stage::Held,
        mesh: Arc::clone(&solved.mesh),
        displacement: solved.held.displacement.clone(),
        stress: held_stress,
    }];
    if let Some((after, stress)) = solved.after_cuts().zip(stress_after_cuts) {
        fields.push(FieldState {
            stage: Stage::Cut,
            mesh: Arc::clone(&solved.cut_mesh),
            displacement: after.clamped.displacement.clone(),
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
    fields
}

/// A state of the held part: what holds it, where that has settled, and the part itself.
pub(super) struct StateOf<'a> {
    pub clamp: &'a Clamp,
    pub clamped: &'a Clamped,
    pub mesh: &'a Mesh,
    /// The part in this state, whose outlines carry the loads.
    pub body: &'a PartBody,
}

impl StateOf<'_> {
    /// Nodal stress, as [`Setting::stress`] gives it.
    fn stress(&self, setting: &Setting) -> Vec<[f64; 3]> {
        setting.stress(
            self.mesh,
            Some(&self.clamped.displacement),
            self.clamp.poisson_expansion(),
        )
    }

    /// Von Mises figures of the state.
    pub fn stress_summary(&self, setting: &Setting) -> StressSummary {
        stress_summary(setting, self, &self.stress(setting))
    }
}

impl Solved {
    pub(super) fn before_cuts<'a>(&'a self, setting: &Setting<'a>) -> StateOf<'a> {
        StateOf {
            clamp: &self.clamp,
            clamped: &self.held,
            mesh: &self.mesh,
            body: setting.body,
        }
    }

    pub(super) fn after_cuts(&self) -> Option<StateOf<'_>> {
        self.cut.as_ref().map(|(clamped, _)| StateOf {
            clamp: &self.clamp_after_clamping,
            clamped,
            mesh: &self.cut_mesh,
            body: &self.body,
        })
    }
}

/// Stress of every held state of a solved step: before the first cut, then after each.
pub(super) fn stress_of_states(setting: &Setting, solved: &Solved) -> Vec<StressSummary> {
    let before = solved.before_cuts(setting).stress_summary(setting);
    let after = solved.after_cuts().map(|s| s.stress_summary(setting));
    let between = solved.stress_between_cuts.iter().copied();
    std::iter::once(before)
        .chain(between)
        .chain(after)
        .collect()
}

/// Least and largest wall along the radius; of places that are equally thin, the one at the smallest angle.
pub(crate) fn wall(shape: &Radii) -> WallExtremes {
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
    let rounding = 1e-11 * shape.outer.first().copied().unwrap_or(0.0);
    let slack = 1e-3 * (max - min) + rounding;
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
pub(super) fn dead_loads(names: &[Named], clamp: &Clamp, supports: &[Supports]) -> Vec<DeadLoad> {
    let (mut patches, mut points) = (clamp.patches().iter(), clamp.points().iter());
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

/// How far from a pad's edge its force is counted to the edge, walls: as far as stress is not told there.
const EDGE: f64 = 0.1;

/// What each body of the hold does in a state.
pub(super) fn contacts(
    setting: &Setting,
    names: &[Named],
    clamp: &Clamp,
    clamped: &Clamped,
) -> Vec<Contact> {
    let mut contacts = Vec::new();
    let mut k = 0;
    let nominal = &setting.body.nominal;
    let wall = nominal.outer - nominal.bore;
    for (name, support) in names.iter().zip(setting.supports) {
        for (number, body) in support.faces().iter().enumerate() {
            let zones: Vec<_> = clamped
                .contact_zones(k)
                .into_iter()
                .filter(|s| s.force > 0.0)
                .collect();
            let on_edge = zones.iter().any(|s| s.from_edge || s.to_edge);
            let reach = EDGE * wall / clamp.nominal_radius(k);
            let edge_force = on_edge.then(|| clamped.edge_force(k, reach) / setting.part.length);
            let axis = body.angle.to_degrees().rem_euclid(360.0);
            let named = number < support.bodies.len();
            let arcs: Vec<_> = zones.iter().map(|s| in_part(axis, s)).collect();
            contacts.push(Contact {
                scheme: name.scheme.clone(),
                called: if named {
                    name.body.clone()
                } else {
                    "sleeve".to_owned()
                },
                gap: if zones.is_empty() {
                    clamped.least_gap(k).0.max(0.0)
                } else {
                    0.0
                },
                round: clamp.goes_round(k),
                set_force: support
                    .drive
                    .set_force(number)
                    .filter(|_| named)
                    .map(|force| force * setting.step.force_scale),
                body: number + 1,
                angle_deg: axis,
                surface: body.surface,
                half_angle_deg: body.half_angle.to_degrees(),
                force: clamped.force(k),
                approach: clamped.approach(k),
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

/// An arc from a body's axis (rad) as part angles, degrees; one that would end beyond the turn starts below 0 instead.
fn in_part(axis: f64, zone: &ContactZone) -> [f64; 2] {
    let (start, end) = (axis + zone.start.to_degrees(), axis + zone.end.to_degrees());
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

/// Where stress has no bound, mm: loaded pad edges, and point forces.
fn unbounded(state: &StateOf) -> Vec<[f64; 2]> {
    let mut places = Vec::new();
    let mut add = |surface, theta: f64| {
        let r = state.body.outlines.get(surface).radius(theta);
        places.push([r * theta.cos(), r * theta.sin()]);
    };
    for (k, body) in state.clamp.bodies().iter().enumerate() {
        for zone in state
            .clamped
            .contact_zones(k)
            .iter()
            .filter(|s| s.force > 0.0)
        {
            for (at, loaded) in [(zone.start, zone.from_edge), (zone.end, zone.to_edge)] {
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
fn stress_summary(setting: &Setting, state: &StateOf, stress: &[[f64; 3]]) -> StressSummary {
    let axial = -state.clamp.axial_force() / setting.body.section(setting.part.length).area();
    let edges = unbounded(state);
    let nominal = &state.body.nominal;
    let reach = 0.1 * (nominal.outer - nominal.bore);
    let values: Vec<f64> = stress
        .iter()
        .map(|s| von_mises_with_axial(*s, axial))
        .collect();
    let beyond = |a: &[f64; 2], b: &[f64; 2], reach: f64| {
        (a[0] - b[0]).powi(2) + (a[1] - b[1]).powi(2) > reach.powi(2)
    };
    let far = |c: &[f64; 2]| edges.iter().all(|e| beyond(c, e, reach));
    let mut zones = under_zones(state, stress, axial);
    zones.extend(near_points(
        state,
        stress,
        (axial, reach, setting.part.length),
    ));
    let shown = |c: &[f64; 2]| zones.iter().all(|z| beyond(c, &z.middle, z.reach));
    let mut places: Vec<(f64, [f64; 2])> = values
        .iter()
        .copied()
        .zip(state.mesh.coords().iter().copied())
        .filter(|(_, c)| far(c) && shown(c))
        .collect();
    places.extend(
        zones
            .iter()
            .map(|z| (z.largest, z.at))
            .filter(|z| far(&z.1)),
    );
    let away = places.iter().map(|p| p.0).fold(0.0, f64::max);
    let margin = |y: f64| (away > 0.0).then(|| y / away - 1.0);
    StressSummary {
        von_mises_max: edges.is_empty().then_some(away),
        von_mises_away: away,
        at: place_of(&places, away, state.mesh),
        yield_margin: setting
            .part
            .material
            .yield_strength
            .and_then(margin)
            .filter(|m| m.is_finite()),
    }
}

/// Stress under the zones that are narrow to the mesh and whose pressure ends at zero.
fn under_zones(state: &StateOf, stress: &[[f64; 3]], axial: f64) -> Vec<UnderZone> {
    let mut under = Vec::new();
    for (k, body) in state.clamp.bodies().iter().enumerate() {
        if !state.clamp.touches_part(k) {
            continue;
        }
        for run in state.clamped.loaded_pressures(k) {
            let bounded = [run.first(), run.last()]
                .iter()
                .flatten()
                .all(|p| p[1] <= 0.0);
            let pressure: Vec<[f64; 2]> = run.iter().map(|[t, p]| [body.angle + t, *p]).collect();
            let zone = LoadedArc {
                surface: body.surface,
                pressure: &pressure,
            };
            if bounded {
                under.extend(zone.under(state.mesh, stress, axial));
            }
        }
    }
    under
}

/// Stress as near to each point force as stress is told there.
fn near_points(
    state: &StateOf,
    stress: &[[f64; 3]],
    (axial, reach, length): (f64, f64, f64),
) -> Vec<UnderZone> {
    let loaded = state.clamp.points().iter().filter(|p| p.force != 0.0);
    loaded
        .filter_map(|p| {
            let radius = state.body.outlines.get(p.surface).radius(p.angle);
            // so narrow that the distance does not feel it
            let half = 1e-3 * reach;
            let pressure = p.force / (2.0 * half * length);
            let ends = [-half, half].map(|x| [p.angle + x / radius, pressure]);
            let arc = LoadedArc {
                surface: p.surface,
                pressure: &ends,
            };
            arc.at_distance(BEYOND * reach, state.mesh, stress, axial)
        })
        .collect()
}

/// Just beyond a distance.
const BEYOND: f64 = 1.0 + 1e-6;

/// Where the largest stress stands; of places that are equal by symmetry, which rounding parts by 1e-12 of it, the one at the
/// smallest angle.
fn place_of(places: &[(f64, [f64; 2])], largest: f64, mesh: &Mesh) -> StressPlace {
    places
        .iter()
        .filter(|p| p.0 >= (1.0 - 1e-6) * largest)
        .map(|(_, c)| {
            let angle = c[1].atan2(c[0]).to_degrees().rem_euclid(360.0);
            StressPlace {
                // a hair below the zero mark is at it
                angle_deg: if angle > 360.0 - 1e-6 { 0.0 } else { angle },
                radius: c[0].hypot(c[1]),
                z: None,
                within_deg: mesh.width_at(angle.to_radians()).to_degrees(),
            }
        })
        .min_by(|a, b| a.angle_deg.total_cmp(&b.angle_deg))
        .unwrap_or_default()
}

fn rigid_body_modes(held: &Clamped) -> Vec<String> {
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
