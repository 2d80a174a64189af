//! What has to be known of an answer, as data. The words are in `report::caution`.

use super::inspect::Named;
use super::step::Setting;
use super::{CutOutcome, adapt};
use crate::case::{Case, SectionThickness, Step, Support, Turned};
use crate::contact::{Clamped, HARDLY_HELD};
use crate::geometry::Surface;
use crate::scheme::{EndCondition, Supports};

/// Above this share of the wall a displacement is large for a theory of small displacements.
pub(super) const LARGE_FLEXING: f64 = 0.1;

/// Something that has to be known of an answer. Steps and cuts are indices, from 0.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum Caution {
    /// The part moves by so much of its wall while held that a theory of small displacements is no longer exact.
    LargeFlexing {
        /// The step.
        step: usize,
        /// Largest displacement over the wall.
        share: f64,
    },
    /// No second mesh was solved, so the mesh error is not known.
    NoSecondMesh {
        /// The step.
        step: usize,
    },
    /// A fixed mesh does not reach the accuracy asked, or a step does not with what those before it leave.
    AccuracyNotReached {
        /// The step.
        step: usize,
        /// Estimated relative error.
        error: f64,
        /// Relative error asked.
        accuracy: f64,
    },
    /// On a fixed mesh a contact has too few element edges for its details.
    ContactUnresolved {
        /// The step.
        step: usize,
    },
    /// The worst way to turn the part was searched for by out-of-roundness, and other limits are stated.
    WorstByRoundness {
        /// The step.
        step: usize,
    },
    /// Under a point force stress has no maximum.
    PointForce {
        /// The step.
        step: usize,
    },
    /// Ends that stick to their plates bulge between them, which a slice does not show.
    EndsStick {
        /// The step.
        step: usize,
    },
    /// A part between plates that nothing locates across its axis can shift sideways.
    ShiftsSideways {
        /// The step.
        step: usize,
    },
    /// Along a tube the wall's giving way under the tool is not computed.
    NoToolAlong {
        /// The step.
        step: usize,
    },
    /// Plates on which the ends stick hold them round too, which is left out where other bodies press.
    EndsHeldRound {
        /// The step.
        step: usize,
    },
    /// A slice carries a load over the whole part that acts on less of its length.
    GripShorterThanSlice {
        /// The step.
        step: usize,
        /// The scheme.
        scheme: String,
        /// Length of its grip, mm.
        grip: f64,
        /// Length of the part, mm.
        part: f64,
    },
    /// The slice is not as thick as the part is long.
    SliceThickness {
        /// How thick it is, mm.
        thickness: f64,
        /// The lobes that it was made as stiff for as the part along its length; `None` where the case gives its thickness.
        lobes: Option<u32>,
    },
    /// The axial stress of an end clamp is in the von Mises figures and not in the fields.
    AxialStressNotInFields {
        /// The step.
        step: usize,
    },
    /// The axial stress of an end clamp is that before the first cut.
    AxialStressBeforeCuts {
        /// The step.
        step: usize,
    },
    /// A cut goes over a surface again at the same diameter.
    SpringPass {
        /// The step.
        step: usize,
        /// The cut.
        cut: usize,
        /// Its surface.
        surface: Surface,
        /// The most that it takes, mm on the radius; 0 where it finds nothing.
        depth: f64,
        /// Whether the wall gave way to a tool force in this pass or the one before.
        pushed: bool,
    },
    /// The tool takes all load off a body that presses in the hold.
    ToolLiftsOff {
        /// The step.
        step: usize,
        /// The cut.
        cut: usize,
        /// The body, from 1 over the whole hold.
        body: usize,
        /// Angle of the tool, degrees.
        angle_deg: f64,
    },
    /// Everything presses along one line, so across it friction alone would keep the part.
    OneLine {
        /// The step.
        step: usize,
        /// Direction in which nothing restrains it, degrees from 0 to 180.
        across_deg: f64,
    },
    /// The step cuts the surface by which a scheme holds.
    CutsWhereItGrips {
        /// The step.
        step: usize,
        /// The surface.
        surface: Surface,
        /// The scheme.
        scheme: String,
        /// Whether the cut meets the grip along the part, where that is known.
        along: bool,
    },
    /// The limit of time or work passed while other forces and cuts were tried.
    AdviceCutShort,
    /// A gauge's force changes its reading by much of what is allowed.
    GaugeForce {
        /// Surface measured.
        surface: Surface,
        /// Force of the gauge, N.
        force: f64,
        /// By how much it changes the reading, mm.
        effect: f64,
        /// Whether that is what changes round the turn, and not the mean.
        varies: bool,
        /// Whether it is held against a range of diameters, and not against a roundness.
        of_diameters: bool,
        /// What is allowed, mm.
        limit: f64,
    },
    /// The part's own weight puts it out of round by much of what is allowed.
    OwnWeight {
        /// How the part stands.
        support: Support,
        /// Surface with the limit.
        surface: Surface,
        /// Out-of-roundness by the weight, mm.
        out_of_roundness: f64,
        /// Roundness allowed, mm.
        limit: f64,
    },
}

/// What has to be known of a solved step.
pub(super) fn of_step(
    setting: &Setting,
    case: &Case,
    (names, supports): (&[Named], &[Supports]),
    adapted: &adapt::Adapted,
) -> Vec<Caution> {
    let (step, index) = (setting.step, setting.index);
    let mut all = Vec::new();
    if adapted.solved.flexing > LARGE_FLEXING {
        all.push(Caution::LargeFlexing {
            step: index,
            share: adapted.solved.flexing,
        });
    }
    match adapted.estimate.relative_error {
        None => all.push(Caution::NoSecondMesh { step: index }),
        Some(error) if !adapted.estimate.converged => all.push(Caution::AccuracyNotReached {
            step: index,
            error,
            accuracy: case.accuracy,
        }),
        Some(_) => {}
    }
    if adapted.unresolved {
        all.push(Caution::ContactUnresolved { step: index });
    }
    if step.turned == Turned::Any && case.tolerance.limits_more_than_roundness() {
        all.push(Caution::WorstByRoundness { step: index });
    }
    all.extend(of_loads(supports, index));
    all.extend(shorter_than_slice(case, step, names, index));
    if !step.cuts.is_empty() && supports.iter().any(|s| s.end_clamp.is_some()) {
        all.push(Caution::AxialStressBeforeCuts { step: index });
    }
    all.extend(spring_passes(step, &adapted.solved.cuts, index));
    all.extend(lifted_off(&adapted.solved.cuts, index));
    all.extend(hardly_held(&adapted.solved.held, index));
    all.extend(cuts_where_it_grips(step, names, supports, index));
    all
}

/// Grips that are shorter than the part whose whole length the slice carries them over.
fn shorter_than_slice(case: &Case, step: &Step, names: &[Named], index: usize) -> Vec<Caution> {
    let part = case.part.length;
    if case.section_thickness != SectionThickness::WholeLength {
        return Vec::new();
    }
    let members = case.hold(&step.hold).map_or(&[][..], |h| &h.members);
    let short = members.iter().zip(names).filter_map(|(member, name)| {
        let [from, to] = member.grip.on(part);
        let grip = to - from;
        (grip < part * (1.0 - 1e-9)).then(|| Caution::GripShorterThanSlice {
            step: index,
            scheme: name.scheme.clone(),
            grip,
            part,
        })
    });
    short.collect()
}

/// What the loads of a step leave out or let grow without bound.
fn of_loads(supports: &[Supports], step: usize) -> Vec<Caution> {
    let mut all = Vec::new();
    let mut points = supports.iter().flat_map(|s| &s.points);
    if points.any(|p| p.force != 0.0) {
        all.push(Caution::PointForce { step });
    }
    let mut ends = supports.iter().filter_map(|s| s.end_clamp).peekable();
    let clamped = ends.peek().is_some();
    if ends.any(|e| e.ends != EndCondition::Sliding) {
        all.push(Caution::EndsStick { step });
    }
    if clamped {
        all.push(Caution::AxialStressNotInFields { step });
    }
    all
}

/// Cuts that go over a surface again at the same diameter, and what they find there.
pub(super) fn spring_passes(step: &Step, cuts: &[CutOutcome], index: usize) -> Vec<Caution> {
    let passes = cuts
        .iter()
        .enumerate()
        .filter(|(k, _)| step.is_spring_pass(*k));
    passes
        .map(|(k, cut)| Caution::SpringPass {
            step: index,
            cut: k,
            surface: cut.surface,
            depth: cut.depth_max,
            pushed: step.cuts[..=k]
                .iter()
                .rev()
                .filter(|c| c.surface == cut.surface)
                .take(2)
                .any(|c| c.radial_force > 0.0),
        })
        .collect()
}

/// Bodies that tools take all load off.
fn lifted_off(cuts: &[CutOutcome], step: usize) -> impl Iterator<Item = Caution> {
    cuts.iter().enumerate().filter_map(move |(cut, c)| {
        let (body, angle) = c.tool_dip.as_ref()?.comes_off?;
        Some(Caution::ToolLiftsOff {
            step,
            cut,
            body,
            angle_deg: angle.to_degrees(),
        })
    })
}

/// A hold on the surface that the step cuts: the tool cannot be where it sits.
pub(super) fn cuts_where_it_grips(
    step: &Step,
    names: &[Named],
    supports: &[Supports],
    index: usize,
) -> Option<Caution> {
    let cut = |s: Surface| step.cuts.iter().any(|c| c.surface == s);
    let grips = |s: &Supports| s.faces().iter().map(|b| b.surface).find(|&s| cut(s));
    names.iter().zip(supports).find_map(|(name, s)| {
        grips(s).map(|surface| Caution::CutsWhereItGrips {
            step: index,
            surface,
            scheme: name.scheme.clone(),
            along: false,
        })
    })
}

/// A hold that presses along one line alone, like two flat jaws: sideways the part can roll along them.
pub(super) fn hardly_held(held: &Clamped, step: usize) -> Option<Caution> {
    let (share, across) = held.weakest()?;
    (share < HARDLY_HELD && held.free_shifts.is_empty()).then(|| Caution::OneLine {
        step,
        across_deg: (10.0 * across.to_degrees()).round().rem_euclid(1800.0) / 10.0,
    })
}
