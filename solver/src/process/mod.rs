//! Hold, cut, release, inspect: the main job. [`run`] takes a [`Case`] and gives an [`Outcome`].

mod adapt;
mod cut;
mod cutting;
mod outcome;
mod placing;
mod plan;
mod relief;
mod sample;
mod statics;
mod step;

pub use outcome::*;

use std::sync::Arc;

use crate::case::{Case, Step};
use crate::contact::Clamped;
use crate::element::von_mises_with_axial;
use crate::geometry::PerSurface;
use crate::mesh::Mesh;
use crate::metrology::{Profile, minimum_zone};
use crate::scheme::{EndClamp, EndCondition, Placing, Supports, ask};
use adapt::Adapted;
use step::{Body, Guess, Setting, Solved};

/// Above this share of the wall a displacement is large for a theory of small displacements.
const LARGE_FLEXING: f64 = 0.1;

/// Solves spent on finding a force that meets the limit.
const BACK_OFF_SOLVES: usize = 6;

/// Which states keep their fields for review.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum KeepFields {
    /// Every state of every step.
    #[default]
    All,
    /// The last step alone.
    Last,
    /// None.
    None,
}

/// How a case is run.
#[derive(Clone, Copy, Debug)]
pub struct Options {
    /// Which fields to keep.
    pub fields: KeepFields,
    /// Whether to judge a fixed mesh by a second, coarser one.
    pub estimate: bool,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            fields: KeepFields::All,
            estimate: true,
        }
    }
}

/// Why a case has no answer.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum ProcessError {
    /// The input is wrong, found while solving.
    #[error("{message}")]
    Input {
        /// Line of the case file, 0 if unknown.
        line: usize,
        /// Key at fault, e.g. `step[0].cut[0].diameter`.
        field: String,
        /// What is wrong and what would be right.
        message: String,
    },
    /// The input is right, but the outside program of a scheme failed on it.
    #[error("{message}")]
    Program {
        /// Line of the case file, 0 if unknown.
        line: usize,
        /// The scheme's place, e.g. `hold.soft[0]`.
        field: String,
        /// Which program, and what it did.
        message: String,
    },
    /// No trustworthy answer was reached.
    #[error("{message}")]
    NotTrustworthy {
        /// Why.
        message: String,
    },
}

/// Runs every step of a case.
///
/// # Errors
/// See [`ProcessError`].
pub fn run(case: &Case, options: &Options) -> Result<Outcome, ProcessError> {
    let mut body = Body::new(&case.part);
    let mut steps = Vec::new();
    let mut cautions = Vec::new();
    let mut back_off = None;
    for (index, step) in case.steps.iter().enumerate() {
        let last = index + 1 == case.steps.len();
        if step.stress_relieved {
            body.relieve(&case.part, case.accuracy, case.mesh, index)?;
        }
        let (names, hold) = supports(case, step, &body, index)?;
        let (supports, placing) = placing::laid(case, step, &body, index, hold)?;
        let setting = Setting {
            part: &case.part,
            body: &body,
            step,
            supports: &supports,
            accuracy: case.accuracy,
            index,
        };
        let adapted = adapt::solve(&setting, case.mesh, options.estimate)?;
        if adapted.solved.flexing > LARGE_FLEXING {
            cautions.push(format!(
                "step {}: the part moves by {:.2} of its wall while held; above 0.1 a theory of small displacements is \
                 no longer exact",
                index + 1,
                adapted.solved.flexing
            ));
        }
        match adapted.estimate.relative_error {
            None => cautions.push(format!(
                "step {}: no second mesh was solved, so the mesh error is not known",
                index + 1
            )),
            Some(error) if !adapted.estimate.converged => cautions.push(format!(
                "step {}: the fixed mesh does not reach the accuracy asked ({error:.1e}, asked for {:.1e})",
                index + 1,
                case.accuracy
            )),
            Some(_) => {}
        }
        cautions.extend(said_of_loads(&supports, index));
        if last {
            back_off = find_back_off(case, &setting, &adapted)?;
        }
        let keep = match options.fields {
            KeepFields::All => true,
            KeepFields::Last => last,
            KeepFields::None => false,
        };
        steps.push(outcome_of(&setting, &names, &adapted, placing, keep));
        body = adapted.solved.body;
    }
    Ok(Outcome {
        steps,
        assumed: Vec::new(),
        cautions,
        back_off,
    })
}

/// What the loads of a step leave out or let grow without bound, in the user's words.
fn said_of_loads(supports: &[Supports], index: usize) -> Vec<String> {
    let step = index + 1;
    let mut said = Vec::new();
    if supports
        .iter()
        .any(|s| s.points.iter().any(|p| p.force != 0.0))
    {
        said.push(format!(
            "step {step}: under a point force stress has no maximum, and the displacement right under it grows, slowly, with every \
             finer mesh; elsewhere both are sound"
        ));
    }
    let ends: Vec<EndClamp> = supports.iter().filter_map(|s| s.end_clamp).collect();
    if ends.iter().any(|e| e.ends != EndCondition::Sliding) {
        said.push(format!(
            "step {step}: the slice shows even growth only; ends that stick bulge between the plates"
        ));
    }
    if !ends.is_empty() {
        said.push(format!(
            "step {step}: stress fields are those in the plane; the axial stress of the end clamp is counted in the von Mises \
             figures of the held part, not in the fields"
        ));
    }
    said
}

/// The mesh on which the first step of a case starts: fixed if the case fixes it, else graded to where the pads carry.
///
/// # Errors
/// See [`ProcessError`].
pub fn starting_mesh(case: &Case) -> Result<Mesh, ProcessError> {
    let body = Body::new(&case.part);
    let Some(step) = case.steps.first() else {
        return Err(ProcessError::Input {
            line: 0,
            field: "step".into(),
            message: "the case has no step".into(),
        });
    };
    let (_, hold) = supports(case, step, &body, 0)?;
    let (supports, _) = placing::laid(case, step, &body, 0, hold)?;
    let (part, accuracy) = (&case.part, case.accuracy);
    let setting = Setting {
        part,
        body: &body,
        step,
        supports: &supports,
        accuracy,
        index: 0,
    };
    adapt::first_mesh(&setting, case.mesh)
}

/// What a scheme and one of its bodies are called.
struct Named {
    scheme: String,
    body: String,
}

/// The schemes of a step's hold and what they put against the part, in order.
fn supports(
    case: &Case,
    step: &Step,
    body: &Body,
    index: usize,
) -> Result<(Vec<Named>, Vec<Supports>), ProcessError> {
    let Some(hold) = case.holds.iter().find(|h| h.name == step.hold) else {
        if step.hold == "free" {
            return Ok((Vec::new(), Vec::new()));
        }
        return Err(ProcessError::Input {
            line: step.line,
            field: format!("step[{index}].hold"),
            message: format!("there is no hold \"{}\" in the case", step.hold),
        });
    };
    let section = body.section(case.part.length);
    let mut names = Vec::new();
    let mut all = Vec::new();
    for (k, member) in hold.members.iter().enumerate() {
        let supports = ask(member.scheme, &section, &member.values).map_err(|e| {
            let key = e
                .parameter
                .as_ref()
                .map_or(String::new(), |p| format!(".{p}"));
            let (line, message) = (member.line, e.to_string());
            let field = format!("hold.{}[{k}]{key}", hold.name);
            match member.scheme.program() {
                Some(_) => ProcessError::Program {
                    line,
                    field,
                    message,
                },
                None => ProcessError::Input {
                    line,
                    field,
                    message,
                },
            }
        })?;
        names.push(Named {
            scheme: member.scheme.name().to_owned(),
            body: member.scheme.body_name().to_owned(),
        });
        all.push(supports);
    }
    Ok((names, all))
}

fn outcome_of(
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
        sample::sample_angle(k).to_degrees()
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
            let edge = |force: f64| force / setting.part.length;
            let edge_force = strips
                .iter()
                .filter(|s| s.from_edge || s.to_edge)
                .map(|s| {
                    edge(if s.from_edge && s.to_edge {
                        0.5 * s.force
                    } else {
                        s.force
                    })
                })
                .reduce(f64::max);
            let called = if number < support.bodies.len() {
                name.body.clone()
            } else {
                "sleeve".to_owned()
            };
            let gap = if strips.is_empty() {
                solved.held.least_gap(k).0.max(0.0)
            } else {
                0.0
            };
            contacts.push(Contact {
                scheme: name.scheme.clone(),
                called,
                gap,
                round: body.is_full_circle() || number >= support.bodies.len(),
                body: number + 1,
                angle_deg: body.angle.to_degrees().rem_euclid(360.0),
                surface: body.surface,
                half_angle_deg: body.half_angle.to_degrees(),
                force: solved.held.force(k),
                approach: solved.held.travel(k),
                peak_pressure: edge_force.is_none().then(|| solved.held.peak_pressure(k)),
                edge_force_per_length: edge_force,
                arcs: strips
                    .iter()
                    .map(|s| {
                        let axis = body.angle.to_degrees().rem_euclid(360.0);
                        [axis + s.start.to_degrees(), axis + s.end.to_degrees()]
                    })
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

/// The worst minimum-zone roundness of the surfaces that a step cuts, mm.
fn worst_zone(solved: &Solved) -> Result<f64, ProcessError> {
    let mut worst = 0.0_f64;
    for &(surface, _) in &solved.driving {
        let zone = minimum_zone(&Profile::equal(solved.released.get(surface)))
            .map_err(step::not_trustworthy)?;
        worst = worst.max(zone.roundness);
    }
    Ok(worst)
}

/// If the roundness limit is missed: the largest whole percentage of the force that meets it, by solving again.
fn find_back_off(
    case: &Case,
    setting: &Setting,
    adapted: &Adapted,
) -> Result<Option<BackOff>, ProcessError> {
    let Some(limit) = case.tolerance.roundness else {
        return Ok(None);
    };
    let forced = setting
        .supports
        .iter()
        .any(|s| !s.bodies.is_empty() || !s.pressures.is_empty() || !s.points.is_empty());
    if setting.step.cuts.is_empty() || !forced {
        return Ok(None);
    }
    let full = worst_zone(&adapted.solved)?;
    if full <= limit {
        return Ok(None);
    }
    let at = |fraction: f64| -> Result<f64, ProcessError> {
        let step = Step {
            force_scale: setting.step.force_scale * fraction,
            ..setting.step.clone()
        };
        worst_zone(
            &Setting {
                step: &step,
                ..*setting
            }
            .solve(
                &adapted.coarse,
                Some(&Guess {
                    cuts: &adapted.solved.cut_outlines,
                    share: fraction,
                }),
            )?,
        )
    };
    // whole percentages: one that meets the limit below, one that misses it above; roundness is close to proportional
    // to force, so a secant between the two finds the gap in two or three solves
    let (mut meets, mut misses) = ((0, 0.0), (100, full));
    for _ in 0..BACK_OFF_SOLVES {
        if misses.0 - meets.0 <= 1 || meets.1 > 0.95 * limit {
            break;
        }
        let share = (0.99 * limit - meets.1) / (misses.1 - meets.1);
        let guess = meets.0 + (share * f64::from(misses.0 - meets.0)).floor() as i32;
        let percent = guess.clamp(meets.0 + 1, misses.0 - 1);
        let roundness = at(f64::from(percent) / 100.0)?;
        if roundness <= limit {
            meets = (percent, roundness);
        } else {
            misses = (percent, roundness);
        }
    }
    Ok((meets.0 > 0).then(|| BackOff {
        fraction: f64::from(meets.0) / 100.0,
        roundness: meets.1,
    }))
}
