//! Whether the grip is safe, as far as that can be told.

use crate::process::{Beyond, GripOutcome, Load, NotChecked, Outcome};

/// Safety against slip that the guideline for lathe chucks asks of the cutting force: VDI 3106:2004, as quoted in manuals of lathes and chucks. What lies between 1 and this is
/// neither called safe nor unsafe.
pub const ENOUGH: f64 = 1.5;

/// Why a hold is not safe by the estimate. Steps are indices, from 0.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub enum Unsafe {
    /// It takes less than the cut asks at the unfavourable ends of what is known.
    Slips {
        /// The step.
        step: usize,
        /// How many times what is asked it takes, at the unfavourable ends and at the favourable.
        safety: [f64; 2],
        /// What gives way first.
        way: Way,
    },
    /// A jaw has let go at the speed of the step.
    LetsGo {
        /// The step.
        step: usize,
        /// Speed of the step, rev/min.
        speed: f64,
        /// Speed at which the first jaw lets go, rev/min.
        zero_force: f64,
    },
    /// A limit of the chuck is passed.
    Beyond {
        /// The step.
        step: usize,
        /// The limit.
        limit: Beyond,
    },
}

/// A way in which a hold is asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// It slips round the part.
    Torque,
    /// It slips along the part.
    Axial,
    /// The part tips.
    Tilt,
    /// A pad lets go, or the part slides sideways.
    Side,
}

impl Way {
    /// The way in which most of what a hold takes is asked, at the unfavourable ends; `None` where nothing is asked or known.
    pub fn first_to_give(grip: &GripOutcome) -> Option<Self> {
        let all = [
            (Way::Torque, &grip.torque),
            (Way::Axial, &grip.axial),
            (Way::Tilt, &grip.tilt),
            (Way::Side, &grip.side),
        ];
        let share = |(way, load): (Way, &Load)| {
            let (needed, available) = (load.needed?[1], load.available?[0]);
            (needed > 0.0).then(|| (way, needed / available))
        };
        all.into_iter()
            .filter_map(share)
            .max_by(|a, b| a.1.total_cmp(&b.1))
            .map(|(way, _)| way)
    }
}

/// The safety of the way that gives first, where not all of them are known: all together have no more.
fn alone(grip: &GripOutcome) -> Option<[f64; 2]> {
    let all = [&grip.torque, &grip.axial, &grip.tilt, &grip.side];
    let safety = |load: &Load| {
        let (needed, available) = (load.needed?, load.available?);
        (needed[1] > 0.0).then(|| [available[0] / needed[1], available[1] / needed[0]])
    };
    let each = all.into_iter().filter_map(safety);
    each.min_by(|a, b| a[0].total_cmp(&b[0]))
}

/// What is not safe, step by step.
pub(super) fn unsafe_steps(outcome: &Outcome) -> Vec<Unsafe> {
    let of_step = |(step, s): (usize, &crate::process::StepOutcome)| {
        let grip = &s.grip;
        let mut all = Vec::new();
        let let_go = grip.turning.let_go();
        if let (true, Some(speed), Some(zero_force)) =
            (let_go, grip.turning.speed, grip.turning.zero_force)
        {
            all.push(Unsafe::LetsGo {
                step,
                speed,
                zero_force,
            });
        } else if let Some(safety) = grip.safety.or(alone(grip)).filter(|s| s[0] < 1.0) {
            all.push(Unsafe::Slips {
                step,
                safety,
                way: Way::first_to_give(grip).unwrap_or(Way::Torque),
            });
        }
        // too little force for a steady chuck is no danger by itself: the slip tells that
        let limits = grip.beyond.iter();
        let dangerous = limits.filter(|b| !matches!(b, Beyond::LowestSteadyForce { .. }));
        all.extend(dangerous.map(|&limit| Unsafe::Beyond { step, limit }));
        all
    };
    outcome.steps.iter().enumerate().flat_map(of_step).collect()
}

/// Whether the grip is safe: false if anything is not, true only if every step was checked in every way and has enough, `None` if that is not known.
pub(super) fn safe(outcome: &Outcome, found: &[Unsafe]) -> Option<bool> {
    if !found.is_empty() {
        return Some(false);
    }
    let cutting = || outcome.steps.iter().filter(|s| !s.cuts.is_empty());
    let enough = |g: &GripOutcome| {
        let safe = g.safety.is_some_and(|s| s[0] >= ENOUGH);
        let open = g.open.iter().any(NotChecked::bears_on_safety);
        g.held && safe && !open && g.beyond.is_empty()
    };
    let all = cutting().next().is_some() && cutting().all(|s| enough(&s.grip));
    all.then_some(true)
}
