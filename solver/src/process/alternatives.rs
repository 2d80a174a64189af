//! What would help where no force will do: the step solved again, once and roughly, with its cuts in another order, with other pads, with supports behind the pads,
//! each at the force that holds.

use std::f64::consts::TAU;

use super::back_off::roundness;
use super::forces::scaled;
use super::grip::{self, AtSpeed, Found, Gripped};
use super::inspect::Named;
use super::rerun::{Again, Pressing};
use super::step::{Job, Setting};
use super::{Alternative, Change, ForceWindow, LimitedBy, ProcessError, adapt};
use crate::case::{Friction, HoldMember, Restraint, Step};
use crate::geometry::Surface;
use crate::grip::Band;
use crate::scheme::{AfterClamping, Body, Drive, Face, Push, Supports};

/// Radii that pads are tried at, over that of the surface they grip; in a bore under it.
const OVER: [f64; 2] = [1.0, 1.05];

/// Widths that are tried, over that of the pads.
const WIDER: [f64; 3] = [1.0, 2.0, 3.0];

/// Radius of the crown of a support, mm, that of a common jack screw; in a narrow bore half the bore's radius. It may touch over as much of itself.
const CROWN: f64 = 10.0;

/// Margin against slip at which they are tried.
const MARGIN: f64 = 1.5;

/// Margin over a force that has its own: what is told is rounded.
const ROUNDED: f64 = 1.05;

/// Share of the turn that pads may cover together.
const COVERED: f64 = 0.92;

/// The first that was tried and opens the window or, where none does, the best that is better than what the case has.
///
/// # Errors
/// [`ProcessError`] if a surface cannot be measured.
pub(super) fn tried(
    job: Job,
    chain: &[Again],
    (step, window): (usize, &ForceWindow),
) -> Result<Option<Alternative>, ProcessError> {
    // what later steps do to the surface is not tried
    let last = |s: &Surface| job.case.last_to_cut(*s) == Some(step);
    let Some(low) = window.low.as_ref().filter(|l| !l.not_enough) else {
        return Ok(None);
    };
    // with a margin against slip, as the guideline for chucks asks for, as far as the chuck may press
    let factor = match low.by {
        LimitedBy::Slip => MARGIN * low.factor,
        _ => ROUNDED * low.factor,
    };
    if factor > window.most || !Surface::BOTH.iter().any(last) {
        return Ok(None);
    }
    let trial = Trial {
        job,
        again: &chain[step],
        index: step,
        factor,
    };
    let mut best: Option<Alternative> = trial.as_it_is()?;
    for setup in trial.setups() {
        let Some(found) = trial.solve(setup)? else {
            continue;
        };
        let opens = found.opens();
        if best.as_ref().is_none_or(|b| found.share < b.share) {
            best = Some(found);
        }
        if opens {
            break;
        }
    }
    Ok(best.filter(|b| b.change.is_some()))
}

/// What is tried: a step as it might be.
struct Setup {
    change: Option<Change>,
    step: Step,
    members: Vec<HoldMember>,
    names: Vec<Named>,
    supports: Vec<Supports>,
}

/// A step whose window is empty.
struct Trial<'a> {
    job: Job<'a>,
    again: &'a Again,
    index: usize,
    /// On the forces of the case: that at which it holds.
    factor: f64,
}

impl Trial<'_> {
    fn unchanged(&self) -> Setup {
        let step = self.job.case.steps[self.index].clone();
        let members = grip::members(self.job.case, &step).to_vec();
        Setup {
            change: None,
            step,
            members,
            names: self.again.names.iter().map(same).collect(),
            supports: self.again.supports.clone(),
        }
    }

    /// What the case's own hold leaves at that force.
    fn as_it_is(&self) -> Result<Option<Alternative>, ProcessError> {
        self.solve(self.unchanged())
    }

    /// What is tried, the cheapest for whoever holds the part first.
    fn setups(&self) -> Vec<Setup> {
        let mut all = Vec::new();
        all.extend(self.other_order());
        let pads = self.again.supports.iter().position(has_pads);
        if let Some(member) = pads {
            for wider in WIDER {
                all.extend(OVER.iter().filter_map(|&o| self.pads(member, wider, o)));
            }
            all.extend(self.supported(member));
        }
        all
    }

    /// The cuts of both surfaces the other way round.
    fn other_order(&self) -> Option<Setup> {
        let mut setup = self.unchanged();
        let first = setup.step.cuts.first()?.surface;
        let other = setup.step.cuts.iter().position(|c| c.surface != first)?;
        // all of one surface, then all of the other: else what comes first is no plain matter
        if setup.step.cuts[other..].iter().any(|c| c.surface == first) {
            return None;
        }
        setup.step.cuts.rotate_left(other);
        setup.change = Some(Change::Order {
            first: first.other(),
        });
        Some(setup)
    }

    /// Pads cut to another radius and so much wider; `None` where they would meet.
    fn pads(&self, member: usize, wider: f64, over: f64) -> Option<Setup> {
        let mut setup = self.unchanged();
        let bodies = &mut setup.supports[member].bodies;
        let own = *bodies.first()?;
        let gripped = *self.again.body.nominal.get(own.surface);
        let radius = match own.surface {
            Surface::Outer => gripped * over,
            Surface::Bore => gripped / over,
        };
        let body = pad(&own, radius, wider, bodies.len())?;
        for each in bodies {
            *each = Body {
                angle: each.angle,
                ..body
            };
        }
        setup.change = Some(Change::Pads {
            called: setup.names[member].body.clone(),
            diameter: 2.0 * radius,
            width: 2.0 * gripped * body.half_angle.sin(),
        });
        Some(setup)
    }

    /// A crowned support behind every pad, set to touch; `None` where something stands on that side already, or the tool turns it.
    fn supported(&self, member: usize) -> Option<Setup> {
        let mut setup = self.unchanged();
        let pads = &setup.supports[member];
        let surface = pads.bodies.first()?.surface.other();
        // a screw may stand in a bore beside the tool, never where the outside is turned
        let turned = setup.step.cuts.iter().any(|c| c.surface == surface);
        if turned && surface == Surface::Outer {
            return None;
        }
        let mut taken = setup.supports.iter().flat_map(|s| &s.bodies);
        if taken.any(|b| b.surface == surface) {
            return None;
        }
        let against = *self.again.body.nominal.get(surface);
        let radius = CROWN.min(0.5 * against);
        let half = (0.5 * radius / against).asin();
        let stand = |pad: &Body| {
            let face = Face::Convex { radius };
            Body::new(surface, pad.angle, half, face)
        };
        let bodies: Vec<Body> = pads.bodies.iter().map(stand).collect();
        setup.change = Some(Change::Supported {
            called: setup.names[member].body.clone(),
            crown: radius,
        });
        let support = Supports {
            drive: Drive::Each(vec![Push::Gap(0.0); bodies.len()]),
            after_clamping: AfterClamping::KeepsPosition,
            bodies,
            ..Supports::default()
        };
        // what its faces carry is not counted on
        let restraint = Restraint {
            friction: Some(Friction::Given(Band::exact(0.0))),
            ..Restraint::default()
        };
        setup.members.insert(
            0,
            HoldMember {
                restraint,
                ..setup.members[member].clone()
            },
        );
        setup.names.insert(0, same(&setup.names[member]));
        // set against the free part, then gripped
        setup.supports.insert(0, support);
        Some(setup)
    }

    /// What a setup leaves; `None` for what cannot be solved so.
    fn solve(&self, setup: Setup) -> Result<Option<Alternative>, ProcessError> {
        let case = self.job.case;
        let step = &setup.step;
        let push = |s: &Supports| scaled(s, self.factor);
        let pushed: Vec<Supports> = setup.supports.iter().map(push).collect();
        let turning = match grip::at_speed(&setup.members, &pushed, step) {
            AtSpeed::Changed(all) => Some(all),
            AtSpeed::Same => None,
            AtSpeed::LetGo => return Ok(None),
        };
        let pressing = turning.as_deref().unwrap_or(&pushed);
        let setting = Setting::new(self.job, &self.again.body, step, pressing, self.index);
        let dips = self.again.dips.nearest(self.factor);
        let dips = dips.as_ref().map_or(&[][..], |(_, dips)| dips);
        let dips = if setup.step.cuts == case.steps[self.index].cuts {
            dips
        } else {
            &[]
        };
        let Ok(solved) = adapt::rough(&setting, case.mesh, dips) else {
            return Ok(None);
        };
        let mut share: f64 = 0.0;
        for surface in Surface::BOTH {
            if case.last_to_cut(surface) != Some(self.index) {
                continue;
            }
            if let Some(found) = roundness(case, &solved.released, surface)? {
                share = share.max(found.roundness / found.limit);
            }
        }
        let first = Pressing::of(&setting, &setup.names, &solved);
        let grip = grip::of_step(&Gripped {
            case,
            step,
            index: self.index,
            members: &setup.members,
            supports: &pushed,
            found: Found::again(&first, &solved.cuts),
        });
        Ok(Some(Alternative {
            change: setup.change,
            factor: self.factor,
            share,
            safety: grip.safety.map(|s| s[0]),
        }))
    }
}

fn same(named: &Named) -> Named {
    Named {
        scheme: named.scheme.clone(),
        body: named.body.clone(),
    }
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
