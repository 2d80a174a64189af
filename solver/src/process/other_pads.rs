//! What other pads would do where no force will: the step solved again, once roughly, with pads of another radius and width at the force that holds.

use std::f64::consts::TAU;

use super::back_off::roundness;
use super::forces::scaled;
use super::grip::{self, AtSpeed, Found, Gripped};
use super::rerun::{Again, Pressing};
use super::step::{Job, Setting};
use super::{ForceWindow, LimitedBy, OtherPads, ProcessError, adapt};
use crate::geometry::Surface;
use crate::scheme::{Body, Face, Supports};

/// Radii that pads are tried at, over that of the surface they grip; in a bore under it.
const OVER: [f64; 2] = [1.0, 1.05];

/// Widths that are tried, over that of the pads.
const WIDER: [f64; 3] = [1.0, 2.0, 3.0];

/// Margin against slip at which they are tried.
const MARGIN: f64 = 1.5;

/// Share of the turn that pads may cover together.
const COVERED: f64 = 0.92;

/// The best of the pads that were tried, if they are better than those of the case.
///
/// # Errors
/// [`ProcessError`] if a surface cannot be measured.
pub(super) fn tried(
    job: Job,
    chain: &[Again],
    (step, window): (usize, &ForceWindow),
) -> Result<Option<OtherPads>, ProcessError> {
    let again = &chain[step];
    // what later steps do to the surface is not tried
    let last = |s: &Surface| job.case.last_to_cut(*s) == Some(step);
    let Some(low) = window.low.as_ref().filter(|l| !l.not_enough) else {
        return Ok(None);
    };
    // with a margin against slip, as the guideline for chucks asks for, as far as the chuck may press
    let factor = match low.by {
        LimitedBy::Slip => MARGIN * low.factor,
        _ => low.factor,
    };
    if factor > window.most {
        return Ok(None);
    }
    let member = again.supports.iter().position(has_pads);
    let (Some(member), true) = (member, Surface::BOTH.iter().any(last)) else {
        return Ok(None);
    };
    let nominal = &again.body.nominal;
    let own = again.supports[member].bodies[0];
    let gripped = *nominal.get(own.surface);
    let mut best: Option<OtherPads> = None;
    for wider in WIDER {
        for over in OVER {
            let radius = gripped
                * if own.surface == Surface::Outer {
                    over
                } else {
                    1.0 / over
                };
            let Some(body) = pad(&own, radius, wider, again.supports[member].bodies.len()) else {
                continue;
            };
            let mut supports = again.supports.clone();
            for each in &mut supports[member].bodies {
                *each = Body {
                    angle: each.angle,
                    ..body
                };
            }
            let found = solve(job, again, step, &supports, factor)?;
            let Some((share, safety)) = found else {
                continue;
            };
            let better = best.as_ref().is_none_or(|b| share < b.share);
            if better {
                best = Some(OtherPads {
                    called: again.names[member].body.clone(),
                    diameter: 2.0 * radius,
                    width: 2.0 * gripped * body.half_angle.sin(),
                    factor,
                    share,
                    safety,
                });
            }
            if share <= 1.0 && safety.is_none_or(|s| s >= 1.0) {
                return Ok(best);
            }
        }
    }
    Ok(best)
}

/// Pads that a force drives and that are not full circles.
fn has_pads(supports: &Supports) -> bool {
    let bodies = &supports.bodies;
    let driven = (0..bodies.len()).all(|k| supports.drive.set_force(k).is_some());
    let first = bodies.first();
    driven
        && supports.sleeve.is_none()
        && first.is_some_and(|b| !b.is_full_circle() && b.relief == 0.0)
        && bodies
            .iter()
            .all(|b| Some(b.surface) == first.map(|f| f.surface))
}

/// A pad that follows the part, so wide; `None` where they would meet, or reach no farther than the pads do already.
fn pad(own: &Body, radius: f64, wider: f64, count: usize) -> Option<Body> {
    let half = (wider * own.half_angle.sin()).clamp(0.0, 0.999).asin();
    if 2.0 * half * count as f64 > COVERED * TAU {
        return None;
    }
    let face = match own.surface {
        Surface::Outer => Face::Concave { radius },
        Surface::Bore => Face::Convex { radius },
    };
    Some(Body {
        half_angle: half,
        face,
        ..*own
    })
}

/// Share of the roundness that pads use up at a factor on the forces, and the safety against slip; `None` for what cannot be solved so.
fn solve(
    job: Job,
    again: &Again,
    index: usize,
    supports: &[Supports],
    factor: f64,
) -> Result<Option<(f64, Option<f64>)>, ProcessError> {
    let case = job.case;
    let step = &case.steps[index];
    let pushed: Vec<Supports> = supports.iter().map(|s| scaled(s, factor)).collect();
    let members = grip::members(case, step);
    let turning = match grip::at_speed(members, &pushed, step) {
        AtSpeed::Changed(all) => Some(all),
        AtSpeed::Same => None,
        AtSpeed::LetGo => return Ok(None),
    };
    let pressing = turning.as_deref().unwrap_or(&pushed);
    let setting = Setting::new(job, &again.body, step, pressing, index);
    let Ok(solved) = adapt::rough(&setting, case.mesh) else {
        return Ok(None);
    };
    let mut share: f64 = 0.0;
    for surface in Surface::BOTH {
        if case.last_to_cut(surface) != Some(index) {
            continue;
        }
        if let Some(found) = roundness(case, &solved.released, surface)? {
            share = share.max(found.roundness / found.limit);
        }
    }
    let first = Pressing::of(&setting, &again.names, &solved);
    let grip = grip::of_step(&Gripped {
        case,
        step,
        index,
        members,
        supports: &pushed,
        found: Found::again(&first, &solved.cuts),
    });
    Ok(Some((share, grip.safety.map(|s| s[0]))))
}
