//! What the tool asks of the hold: forces of each cut from feed, the depth it really takes and the material, or the user's own.

use std::f64::consts::FRAC_PI_2;

use super::Gripped;
use super::holding::Members;
use crate::case::{Case, Cut, Tool};
use crate::geometry::Surface;
use crate::grip::{Band, Chip, Demand, Kienzle, ToolForce};
use crate::process::{CutForce, CutOutcome, NotChecked};

/// Share of the tangential force that acts across the edge: of sharp edges, and of worn ones. Common practice, no source.
const ACROSS: [f64; 2] = [0.3, 0.6];

/// Least share of the tangential force that a worn edge pushes along the radius, whatever its entering angle, since its nose is round. Common practice, no source.
const NOSE: f64 = 0.2;

/// What a worn edge needs of a sharp one. From memory of the handbooks: 30 percent is the usual allowance.
const WORN: f64 = 1.3;

/// What a tool that leaves the metal and meets it again strikes with, of its steady force. Common practice, no source.
const INTERRUPTED: f64 = 1.5;

/// Least and largest of what is asked.
type Pair = Option<[f64; 2]>;

/// What all cuts of a step ask in each way.
pub(super) struct Needed {
    pub torque: Pair,
    pub axial: Pair,
    pub tilt: Pair,
    pub side: Pair,
}

/// What each cut of a step asks of its hold.
pub(super) struct Asked {
    pub tools: Vec<Option<CutForce>>,
    /// Lever from the grip to the farthest place that each cut runs over, mm.
    levers: Vec<f64>,
    stopped: bool,
}

impl Asked {
    pub fn of(gripped: &Gripped, members: &Members, open: &mut Vec<NotChecked>) -> Self {
        let cuts = &gripped.step.cuts;
        let mut asked = Self {
            tools: Vec::new(),
            levers: Vec::new(),
            stopped: members.stopped,
        };
        let grip = gripped.grip_middle();
        let length = gripped.case.part.length;
        for (k, (cut, done)) in cuts.iter().zip(gripped.found.cuts).enumerate() {
            asked.tools.push(tool_force(gripped, k, cut, done, open));
            let lever = |z: f64| (z - grip).abs();
            let [from, to] = cut.reach.on(length);
            asked.levers.push(lever(from).max(lever(to)));
        }
        asked
    }

    /// The most that any cut asks in each way; `None` where that is not known of one of them. A step without cuts asks for nothing that is told.
    pub fn needed(&self) -> Needed {
        let known: Option<Vec<&CutForce>> = self.tools.iter().map(Option::as_ref).collect();
        let most = |of: &dyn Fn(&CutForce, f64, usize) -> f64| -> Pair {
            let all = known.as_ref().filter(|all| !all.is_empty())?;
            let end = |e: usize| {
                let each = all.iter().zip(&self.levers);
                each.map(|(tool, lever)| of(tool, *lever, e))
                    .fold(0.0, f64::max)
            };
            Some([end(0), end(1)])
        };
        let demand = |t: &CutForce, lever: f64, e: usize| self.demand(t, lever, e);
        let all = |of: &dyn Fn(&CutForce) -> bool| self.tools.iter().flatten().all(of);
        let axial = all(&|t| t.knows_axial) || self.stopped;
        let radial = all(&|t| t.knows_radial);
        let whole = |known: bool, pair: Pair| pair.filter(|_| known);
        Needed {
            torque: most(&|t, l, e| demand(t, l, e).torque),
            axial: whole(axial, most(&|t, l, e| demand(t, l, e).axial)),
            tilt: whole(axial && radial, most(&|t, l, e| demand(t, l, e).tilt)),
            side: whole(radial, most(&|t, l, e| demand(t, l, e).side)),
        }
    }

    /// What each cut asks, at both ends of what is known of its force; `None` where that is not known, and where nothing is cut.
    pub fn demands(&self) -> Option<Vec<Demand>> {
        self.needed().tilt?;
        let each = self.tools.iter().zip(&self.levers);
        let both = each.filter_map(|(tool, lever)| {
            let tool = tool.as_ref()?;
            Some([0, 1].map(|e| self.demand(tool, *lever, e)))
        });
        Some(both.flatten().collect())
    }

    /// Largest torque of any cut in the middle of what is known, N mm; `None` where it is not known.
    pub fn torque(&self) -> Option<f64> {
        self.needed()
            .torque
            .map(|[least, most]| 0.5 * (least + most))
    }

    /// A stop takes the feed, and with it what the feed would tip the part by.
    fn demand(&self, tool: &CutForce, lever: f64, end: usize) -> Demand {
        let force = tool.force[end];
        let axial = if self.stopped { 0.0 } else { force.axial };
        Demand {
            torque: force.tangential * tool.radius,
            axial,
            tilt: (force.tangential * lever).hypot(force.radial * lever + axial * tool.radius),
            side: force.tangential.hypot(force.radial),
        }
    }
}

/// What the tool does in a cut; `None` if its tangential force is not known.
fn tool_force(
    gripped: &Gripped,
    index: usize,
    cut: &Cut,
    done: &CutOutcome,
    open: &mut Vec<NotChecked>,
) -> Option<CutForce> {
    let tool = &cut.tool;
    if gripped.step.is_spring_pass(index) && !tool.is_known() {
        // it takes what the wall gave way by, which is next to nothing
        return Some(CutForce {
            depth: Some([0.0; 2]),
            ..given([ToolForce::default(); 2])
        });
    }
    let estimate = match (tool.feed, gripped.case.part.material.cutting) {
        (Some(feed), Some(constants)) => Some(estimate(constants, tool, feed, done)),
        (Some(_), None) if tool.tangential_force.is_none() => {
            open.push(NotChecked::CuttingConstants { cut: index });
            return None;
        }
        _ => None,
    };
    let own = own_forces(tool);
    let Some(base) = estimate.or(own.map(given)) else {
        open.push(NotChecked::CuttingForce { cut: index });
        return None;
    };
    let mut force = base.force;
    let mut put = |key: &'static str, band: Option<Band>, of: fn(&mut ToolForce) -> &mut f64| {
        match band {
            Some(band) => {
                *of(&mut force[0]) = band.low;
                *of(&mut force[1]) = band.high;
            }
            None if estimate.is_none() => open.push(NotChecked::ForceLeftOut { cut: index, key }),
            None => {}
        }
        band.is_some() || estimate.is_some()
    };
    put("tangential_force", tool.tangential_force, |f| {
        &mut f.tangential
    });
    let knows_axial = put("axial_force", tool.axial_force, |f| &mut f.axial);
    let knows_radial = put("radial_force", tool.radial_force, |f| &mut f.radial);
    let radius = match cut.surface {
        Surface::Bore => 0.5 * done.diameter,
        Surface::Outer => 0.5 * done.diameter + done.depth_max,
    };
    Some(CutForce {
        force,
        knows_axial,
        knows_radial,
        radius,
        ..base
    })
}

/// Forces as given.
fn given(force: [ToolForce; 2]) -> CutForce {
    CutForce {
        force,
        knows_axial: true,
        knows_radial: true,
        radius: 0.0,
        depth: None,
        thickness: None,
        in_range: true,
        interrupted: 1.0,
    }
}

/// The user's own forces, nothing put in yet; `None` without the tangential one, which torque comes from.
fn own_forces(tool: &Tool) -> Option<[ToolForce; 2]> {
    tool.tangential_force.map(|_| [ToolForce::default(); 2])
}

/// The force of a cut by Kienzle: the least of a sharp edge at the least depth, the largest of a worn one at the largest.
fn estimate(constants: Kienzle, tool: &Tool, feed: f64, done: &CutOutcome) -> CutForce {
    let entering_angle = tool.entering_angle.unwrap_or(FRAC_PI_2);
    let chip = |depth: f64| Chip {
        feed,
        depth,
        entering_angle,
    };
    let depth = [done.depth_min, done.depth_max].map(|d| d.max(0.0));
    let leaves = done.cleaned_up < 1.0 || depth[0] <= 0.0;
    let interrupted = if leaves && depth[1] > 0.0 {
        INTERRUPTED
    } else {
        1.0
    };
    let light = constants.force(&chip(depth[0]), ACROSS[0]);
    // of a right angle the cosine is rounding, not a force
    let across = |force: f64| match force > 1e-9 * light.tangential {
        true => force,
        false => 0.0,
    };
    let steady = constants.force(&chip(depth[1]), ACROSS[1]);
    let by = WORN * interrupted;
    let heavy = ToolForce {
        tangential: by * steady.tangential,
        axial: by * steady.axial.max(0.0),
        radial: by * steady.radial.abs().max(NOSE * steady.tangential),
    };
    CutForce {
        force: [
            ToolForce {
                radial: across(light.radial),
                ..light
            },
            heavy,
        ],
        knows_axial: true,
        knows_radial: true,
        radius: 0.0,
        depth: Some(depth),
        thickness: Some(chip(depth[1]).thickness()),
        in_range: chip(depth[1]).is_in_range(),
        interrupted,
    }
}

/// The case with the wall pushed by the radial force that is estimated of every cut which has a feed, in a material of which the constants are known, and no radial force of
/// the user's: of an edge between sharp and worn at the depth drawn. `None` if there is no such cut, and along a tube, where the wall does not give way.
pub(in crate::process) fn with_estimates(case: &Case) -> Option<Case> {
    let constants = case.part.material.cutting?;
    if case.tube.is_some() {
        return None;
    }
    let mut all = case.clone();
    let mut any = false;
    for (index, step) in all.steps.iter_mut().enumerate() {
        let mut section = case.section_at(index);
        for cut in &mut step.cuts {
            let (radius, own) = (0.5 * cut.diameter, section.radius(cut.surface));
            let depth = cut.surface.outward() * (own - radius);
            match cut.surface {
                Surface::Outer => section.outer_radius = radius,
                Surface::Bore => section.bore_radius = radius,
            }
            let Some(feed) = cut.tool.feed.filter(|_| cut.tool.radial_force.is_none()) else {
                continue;
            };
            let entering_angle = cut.tool.entering_angle.unwrap_or(FRAC_PI_2);
            let chip = Chip {
                feed,
                depth,
                entering_angle,
            };
            let force = constants.force(&chip, 0.5 * (ACROSS[0] + ACROSS[1]));
            let least = 0.5 * NOSE * force.tangential;
            cut.radial_force = 0.5 * (1.0 + WORN) * force.radial.abs().max(least);
            any |= cut.radial_force > 0.0;
        }
    }
    any.then_some(all)
}
