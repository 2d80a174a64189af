//! What a step asks of its hold, and whether the hold takes it: statics of the contacts that were found.

mod demand;
mod holding;
mod turning;

pub(super) use demand::with_estimates;
pub(super) use turning::{AtSpeed, at_speed, turned};

use super::marking;
use super::rerun::Pressing;
use super::{
    Beyond, Contact, CutOutcome, DeadLoad, GripOutcome, Load, NotChecked, StepOutcome, TubeOutcome,
    Turning,
};
use crate::case::{Case, HoldMember, Step};
use crate::geometry::Surface;
use crate::scheme::Supports;
use demand::Asked;
use holding::{Corner, Members};

/// A step whose grip is looked at.
#[derive(Clone, Copy)]
pub(super) struct Gripped<'a> {
    pub case: &'a Case,
    pub step: &'a Step,
    /// Index of the step.
    pub index: usize,
    /// Its schemes and what they put against the part, in order; none of the hold in which nothing touches it.
    pub members: &'a [HoldMember],
    pub supports: &'a [Supports],
    pub found: Found<'a>,
}

/// What was found of a step, as far as its grip depends on it.
#[derive(Clone, Copy)]
pub(super) struct Found<'a> {
    /// Contacts at rest, before the first cut.
    pub at_rest: &'a [Contact],
    /// Whether those are contacts at the speed of the step instead, as the step was not solved at rest.
    turning: bool,
    /// Contacts at the speed of the step, before the first cut.
    pub cut_in: &'a [Contact],
    /// The same after the last cut.
    pub after: Option<&'a [Contact]>,
    pub loads: &'a [DeadLoad],
    /// Axial force of end plates, N.
    pub axial_force: f64,
    pub cuts: &'a [CutOutcome],
    pub tube: Option<&'a TubeOutcome>,
}

impl<'a> Found<'a> {
    /// Of a step that was solved.
    pub fn of(outcome: &'a StepOutcome) -> Self {
        Self {
            at_rest: &outcome.held.contacts,
            turning: false,
            cut_in: &outcome.cut_in().contacts,
            after: outcome.after_cut.as_ref().map(|a| a.contacts.as_slice()),
            loads: &outcome.held.loads,
            axial_force: outcome.held.axial_force,
            cuts: &outcome.cuts,
            tube: outcome.tube.as_ref(),
        }
    }

    /// Of a step that was solved again.
    pub fn again(pressing: &'a Pressing, cuts: &'a [CutOutcome]) -> Self {
        Self {
            at_rest: &pressing.before,
            turning: true,
            cut_in: &pressing.before,
            after: pressing.after.as_deref(),
            loads: &pressing.loads,
            axial_force: pressing.axial_force,
            cuts,
            tube: None,
        }
    }

    /// Contacts in every state while the tool cuts.
    fn states(&self) -> impl Iterator<Item = &'a [Contact]> {
        std::iter::once(self.cut_in).chain(self.after)
    }
}

impl Gripped<'_> {
    /// Nominal radius of a surface when the step starts, mm.
    fn section(&self) -> impl Fn(Surface) -> f64 {
        let index = self.index;
        let section = self.case.section_at(index);
        move |s| section.radius(s)
    }

    /// Where a body presses along the part and where the middle of its force lies, mm from the end gripped in the step, as long as a tube tells it.
    fn grip_along(&self, contact: usize) -> Option<([f64; 2], f64)> {
        let tube = self.found.tube?;
        let after = tube.grips_after_cut.get(contact);
        let own = after.or(tube.grips.get(contact))?;
        let from_grip = |z: f64| match tube.flipped {
            true => tube.length - z,
            false => z,
        };
        let [a, b] = own.reach.map(from_grip);
        Some(([a.min(b), a.max(b)], from_grip(own.centroid?)))
    }

    /// Middle of all that presses along the part, mm from the end gripped in the step.
    fn grip_middle(&self) -> f64 {
        let contacts = self.found.at_rest.iter().enumerate();
        let (mut force, mut moment) = (0.0, 0.0);
        for (k, contact) in contacts {
            if let Some((_, centroid)) = self.grip_along(k) {
                force += contact.force;
                moment += contact.force * centroid;
            }
        }
        match force > 0.0 {
            true => moment / force,
            false => 0.5 * self.case.part.length,
        }
    }
}

/// The schemes of a step's hold.
pub(super) fn members<'a>(case: &'a Case, step: &Step) -> &'a [HoldMember] {
    case.hold(&step.hold).map_or(&[], |h| &h.members)
}

/// The grip of a step.
pub(super) fn of_step(gripped: &Gripped) -> GripOutcome {
    let found = &gripped.found;
    let mut open = Vec::new();
    let members = Members::of(gripped, &mut open);
    let asked = Asked::of(gripped, &members, &mut open);
    let turning = turning::turning(gripped, &asked, &mut open);
    let mut grip = GripOutcome {
        tools: asked.tools.clone(),
        stopped: members.stopped,
        friction: members.friction.clone(),
        held: members.presses(found),
        ..GripOutcome::default()
    };
    let corners: Vec<Corner> = found
        .states()
        .flat_map(|contacts| members.corners(gripped, contacts))
        .collect();
    let let_go = turning.let_go();
    let over = |of: &dyn Fn(&Corner) -> f64| {
        if let_go {
            return Some([0.0; 2]);
        }
        let all = corners.iter().map(of);
        let ends = all.fold([f64::INFINITY, f64::NEG_INFINITY], |[a, b], x| {
            [a.min(x), b.max(x)]
        });
        grip.held.then_some(ends)
    };
    let friction = members.has_friction;
    // what presses at speed is not known: what it takes at rest would reassure
    let turns = turning.speed.is_some_and(|s| s > 0.0);
    let lost = turns && (turning.by_travel || (turning.loses && turning.at_speed.is_empty()));
    let known = |known: bool, pair: Option<[f64; 2]>| pair.filter(|_| known && !lost);
    let torque = known(friction, over(&|c| c.holding.torque()));
    let axial = known(friction, over(&|c| c.holding.axial()));
    let tilt = known(friction && members.knows_tilt, over(&|c| c.holding.tilt()));
    let side = known(true, over(&|c| c.holding.side())).filter(|[least, _]| least.is_finite());
    let needed = asked.needed();
    grip.torque = Load {
        available: torque,
        needed: needed.torque,
    };
    grip.axial = Load {
        available: axial,
        needed: needed.axial,
    };
    grip.tilt = Load {
        available: tilt,
        needed: needed.tilt,
    };
    grip.side = Load {
        available: side,
        needed: needed.side,
    };
    let all_known = friction && members.knows_tilt && grip.held;
    if let Some(demands) = asked.demands().filter(|_| all_known && !lost) {
        let safeties = corners
            .iter()
            .flat_map(|c| demands.iter().map(|d| c.holding.safety(d)));
        let ends = safeties.fold([f64::INFINITY, 0.0_f64], |[a, b], x| [a.min(x), b.max(x)]);
        grip.safety = Some(ends);
    }
    if let_go {
        grip.safety = Some([0.0; 2]);
    }
    grip.beyond = beyond(gripped, &turning, &mut open);
    grip.turning = turning;
    let contacts = [found.at_rest].into_iter().chain(found.states());
    grip.marking = marking::of(gripped.case, gripped.index, contacts.flatten());
    if found.tube.is_some() && grip.held {
        open.push(NotChecked::MarkingAlong);
    }
    open.dedup();
    grip.open = open;
    grip
}

/// The limits of the chuck that are passed.
fn beyond(gripped: &Gripped, turning: &Turning, open: &mut Vec<NotChecked>) -> Vec<Beyond> {
    let Gripped { case, step, .. } = *gripped;
    let mut beyond = Vec::new();
    // what a drive presses with: bodies at places of their own are no jaws of the chuck
    let all = gripped.found.at_rest.iter();
    let driven = all.filter(|c| c.set_force.is_some());
    let force: f64 = driven.clone().map(|c| c.force).sum();
    let spread = gripped.supports.iter().map(|s| s.force_spread);
    let [least, most] = spread.fold([1.0_f64; 2], |[a, b], [c, d]| [a.min(c), b.max(d)]);
    let chuck = &case.chuck;
    if driven.clone().next().is_some() {
        match chuck.rated_force {
            Some(rated) if force * most > rated => beyond.push(Beyond::RatedForce {
                force: force * most,
                rated,
            }),
            Some(_) => {}
            None => open.push(NotChecked::NoRatedForce),
        }
        if let Some(lowest) = chuck.lowest_steady_force.filter(|l| force * least < *l) {
            beyond.push(Beyond::LowestSteadyForce {
                force: force * least,
                lowest,
            });
        }
        match (chuck.rated_speed, step.speed) {
            (Some(rated), Some(speed)) if speed > rated => {
                beyond.push(Beyond::RatedSpeed { speed, rated });
            }
            (None, _) => open.push(NotChecked::NoRatedSpeed),
            _ => {}
        }
    }
    if let (Some(permitted), Some(speed)) = (turning.permitted, step.speed)
        && speed > permitted
    {
        beyond.push(Beyond::PermittedSpeed { speed, permitted });
    }
    beyond
}
