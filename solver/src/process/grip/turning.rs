//! What turning does to the jaws of a step, and how fast they may turn.

use super::Gripped;
use super::demand::Asked;
use crate::case::{HoldMember, Restraint, Step};
use crate::geometry::Surface;
use crate::grip::{SpeedFactors, TurningJaw, TurningJaws};
use crate::process::{Contact, NotChecked, Turning};
use crate::scheme::{AfterClamping, Supports};

/// A jaw of a scheme whose mass and centroid are known, at a force (N) at rest.
pub(in crate::process) fn jaw(
    restraint: &Restraint,
    supports: &Supports,
    surface: Surface,
    force: f64,
) -> Option<TurningJaw> {
    Some(TurningJaw {
        force,
        mass: restraint.jaw_mass?,
        centroid_radius: restraint.jaw_centroid_radius?,
        inwards: surface == Surface::Outer,
        softened: softened(restraint, supports),
    })
}

/// Share of the centrifugal force that changes the grip: all of it, unless both stiffnesses are measured and the drive holds its position: one that keeps its force
/// follows the jaw out, however stiff it is.
fn softened(restraint: &Restraint, supports: &Supports) -> f64 {
    match (restraint.stiffness, supports.after_clamping) {
        (Some(k), AfterClamping::KeepsPosition) => k.part / (k.jaw + k.part),
        _ => 1.0,
    }
}

/// Whether bodies at places of their own are jaws that fly outwards: they have a mass, or nothing else drives the hold. Screws and plugs beside jaws are carried by the part or a fixture.
fn flies(gripped: &Gripped, restraint: &Restraint, supports: &Supports) -> bool {
    let any_driven = gripped.found.at_rest.iter().any(|c| c.set_force.is_some());
    let pads = supports.bodies.iter().any(|b| !b.is_full_circle());
    restraint.jaw_mass.is_some() || (!any_driven && pads)
}

/// By how much turning changes what one body of a scheme (by its index in the hold) presses with in the contacts of a step, N; 0 where they were solved at rest.
pub(super) fn changed_by_turning(gripped: &Gripped, member: usize, surface: Surface) -> f64 {
    let solved = matches!(
        at_speed(gripped.members, gripped.supports, gripped.step),
        AtSpeed::Changed(_)
    );
    let (restraint, supports) = (
        &gripped.members[member].restraint,
        &gripped.supports[member],
    );
    let driven = (0..supports.bodies.len()).any(|k| supports.drive.set_force(k).is_some());
    match (jaw(restraint, supports, surface, 0.0), gripped.step.speed) {
        (Some(jaw), Some(speed)) if solved && driven => jaw.change_at(speed),
        _ => 0.0,
    }
}

/// The jaws of one scheme.
struct Jaws {
    /// At the least force that they may have at rest; `None` where their mass or centroid is not known.
    jaws: Option<Vec<TurningJaw>>,
    /// Whether they are set by travel and turn.
    by_travel: bool,
}

/// The jaws of a scheme by its index in the hold, with what is not known of them; `None` of bodies that do not fly.
fn jaws_of(
    gripped: &Gripped,
    index: usize,
    contacts: &[Contact],
    open: &mut Vec<NotChecked>,
) -> Option<Jaws> {
    let (member, supports) = (&gripped.members[index], &gripped.supports[index]);
    let restraint = &member.restraint;
    let scheme = || member.scheme.name().to_owned();
    let driven = contacts.iter().any(|c| c.set_force.is_some());
    if !(driven || flies(gripped, restraint, supports)) {
        return None;
    }
    let turns = gripped.step.speed.is_some_and(|s| s > 0.0);
    if turns && !driven {
        // what they press with at speed follows from how part and jaws give way, which nobody has measured
        open.push(NotChecked::SetByTravel { scheme: scheme() });
    }
    let jaw_of = |c: &Contact| {
        let turned = match gripped.found.turning {
            true => changed_by_turning(gripped, index, c.surface),
            false => 0.0,
        };
        let least = supports.force_spread[0] * (c.force - turned);
        jaw(restraint, supports, c.surface, least)
    };
    let jaws: Option<Vec<TurningJaw>> = contacts.iter().map(jaw_of).collect();
    if turns && jaws.is_none() {
        open.push(NotChecked::NoJawMass { scheme: scheme() });
    }
    Some(Jaws {
        jaws,
        by_travel: turns && !driven,
    })
}

/// What turning does to the jaws of a step.
pub(super) fn turning(gripped: &Gripped, asked: &Asked, open: &mut Vec<NotChecked>) -> Turning {
    let mut turning = Turning {
        speed: gripped.step.speed,
        ..Turning::default()
    };
    let mut all_known = true;
    let (mut first, mut moment, mut gripped_with) = (0, 0.0, 0.0);
    let mut friction: Option<f64> = None;
    let both = gripped.members.iter().zip(gripped.supports);
    for (index, (member, supports)) in both.enumerate() {
        let faces = supports.faces().len();
        let bodies = supports.bodies.len();
        let contacts = &gripped.found.at_rest[first..first + bodies];
        first += faces;
        let Some(found) = jaws_of(gripped, index, contacts, open) else {
            continue;
        };
        let inwards = contacts.iter().all(|c| c.surface == Surface::Outer);
        turning.loses |= inwards;
        turning.by_travel |= found.by_travel;
        turning.not_softened |= member.restraint.stiffness.is_some()
            && supports.after_clamping == AfterClamping::KeepsForce;
        let Some(jaws) = found.jaws else {
            all_known = false;
            continue;
        };
        let material = &gripped.case.part.material;
        let own = member.restraint.friction.and_then(|f| f.band(material));
        let mu = own.map(|band| band.nominal);
        friction = match (friction, mu) {
            (Some(a), Some(b)) => Some(f64::min(a, b)),
            (a, b) => a.or(b),
        };
        for jaw in &jaws {
            turning.at_rest.push(jaw.force);
            if jaw.inwards {
                moment += jaw.softened * jaw.mass * jaw.centroid_radius;
                gripped_with += jaw.force;
            }
            if let Some(zero) = jaw.speed_at_zero_force() {
                let first = turning.zero_force.unwrap_or(f64::INFINITY);
                turning.zero_force = Some(first.min(zero));
            }
            if let Some(speed) = gripped.step.speed {
                turning.at_speed.push(jaw.force_at(speed));
            }
        }
    }
    if !all_known {
        turning.at_speed.clear();
    }
    let mut pressing = gripped.found.at_rest.iter();
    if gripped.step.speed.is_none() && pressing.any(|c| c.force > 0.0 && !c.round) {
        open.push(NotChecked::NoSpeed);
    }
    // the guideline's relation is of forces of all jaws: what the torque of the cut needs at the gripped radius. Its factors are for what friction and cutting force scatter, so the middle
    // of what is known goes in
    if let (Some(mu), Some(torque), true) = (
        friction.filter(|mu| *mu > 0.0),
        asked.torque(),
        all_known && moment > 0.0,
    ) {
        let jaws = TurningJaws {
            moment,
            inwards: true,
        };
        let needed = torque / (mu * gripped.section()(Surface::Outer));
        turning.permitted = jaws.permitted_speed(gripped_with, needed, SpeedFactors::default());
        turning.needed = Some(needed);
        turning.jaws = Some(jaws);
        turning.gripped = Some(gripped_with);
    }
    turning
}

/// What the drives of a hold press with at the speed of a step.
pub(in crate::process) enum AtSpeed {
    /// What they press with at rest, as far as is known.
    Same,
    /// Another force than at rest.
    Changed(Vec<Supports>),
    /// Nothing: a jaw has let go, and there is no hold to speak of.
    LetGo,
}

/// The hold of a step as its cuts are made in it, where turning changes what its drives press with. A hold that has let go is solved as it stands at rest.
pub(in crate::process) fn turned(
    members: &[HoldMember],
    supports: &[Supports],
    step: &Step,
) -> Option<Vec<Supports>> {
    match at_speed(members, supports, step) {
        AtSpeed::Changed(all) => Some(all),
        AtSpeed::Same | AtSpeed::LetGo => None,
    }
}

/// The hold of a step as its drives press at the speed of the step.
pub(in crate::process) fn at_speed(
    members: &[HoldMember],
    supports: &[Supports],
    step: &Step,
) -> AtSpeed {
    let Some(speed) = step.speed.filter(|s| *s > 0.0 && step.force_scale > 0.0) else {
        return AtSpeed::Same;
    };
    let mut any = false;
    let mut all = supports.to_vec();
    for (member, turned) in members.iter().zip(&mut all) {
        let own = turned.clone();
        let driven = |k: usize| own.drive.set_force(k).is_some();
        let Some(surface) = own.bodies.first().map(|b| b.surface) else {
            continue;
        };
        let jaw_at = |force: f64| jaw(&member.restraint, &own, surface, force);
        if jaw_at(0.0).is_none() || !(0..own.bodies.len()).any(driven) {
            continue;
        }
        let force = |set: f64| {
            let left = jaw_at(set * step.force_scale)?.force_at(speed);
            (left > 0.0).then_some(left / step.force_scale)
        };
        match own.drive.with_forces(&force) {
            Some(drive) => turned.drive = drive,
            None => return AtSpeed::LetGo,
        }
        any = true;
    }
    match any {
        true => AtSpeed::Changed(all),
        false => AtSpeed::Same,
    }
}
