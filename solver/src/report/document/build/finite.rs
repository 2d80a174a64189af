//! Lets no figure of a step through that is not a number.

use crate::process::{AfterCut, Contact, Radii, StepOutcome, StressSummary};
use crate::report::ReportError;

fn contact_is_finite(c: &Contact) -> bool {
    [
        c.angle_deg,
        c.half_angle_deg,
        c.force,
        c.approach,
        c.pressure_integral,
    ]
    .into_iter()
    .chain(c.arcs.iter().chain(&c.pressure).copied().flatten())
    .chain(
        [c.peak_pressure, c.set_force, c.edge_force_per_length]
            .into_iter()
            .flatten(),
    )
    .all(f64::is_finite)
}

/// JSON has no NaN, and a figure must never turn into `null` on the way: every number is checked first.
pub(super) fn check_finite(n: usize, step: &StepOutcome) -> Result<(), ReportError> {
    let held = &step.held;
    let radii = |r: &Radii| r.outer.iter().chain(&r.bore).all(|x| x.is_finite());
    let some = |x: Option<f64>| x.is_none_or(f64::is_finite);
    let stress = |s: &StressSummary| {
        s.von_mises_away.is_finite() && some(s.von_mises_max) && some(s.yield_margin)
    };
    let after_cut = |a: &AfterCut| a.contacts.iter().all(contact_is_finite);
    let checks = [
        ("the stock shape", radii(&step.stock)),
        ("the held shape", radii(&held.shape)),
        ("the held displacement", radii(&held.displacement)),
        ("the cut shape", step.cut.as_ref().is_none_or(radii)),
        ("the released shape", radii(&step.released)),
        ("a contact", held.contacts.iter().all(contact_is_finite)),
        (
            "a contact after the cut",
            step.after_cut.as_ref().is_none_or(after_cut),
        ),
        (
            "the stress",
            stress(&held.stress) && step.stress_after_cuts().all(stress),
        ),
        (
            "the balance or the energy",
            held.balance.force.is_finite()
                && held.balance.moment.is_finite()
                && held.energy.is_finite(),
        ),
        (
            "a cut",
            step.cuts.iter().all(|c| {
                [
                    c.diameter,
                    c.cleaned_up,
                    c.depth_min,
                    c.depth_max,
                    c.stock_to_clean_up,
                ]
                .into_iter()
                .chain(
                    c.tool_dip
                        .iter()
                        .flat_map(|t| t.dip.iter().chain(&t.finished).copied()),
                )
                .all(f64::is_finite)
            }),
        ),
        (
            "the wall",
            [
                step.wall.min,
                step.wall.min_angle,
                step.wall.max,
                step.wall.max_angle,
            ]
            .into_iter()
            .all(f64::is_finite),
        ),
        (
            "the estimate",
            some(step.estimate.relative_error)
                && some(step.estimate.absolute_error)
                && some(step.estimate.stress_relative_error),
        ),
    ];
    match checks.into_iter().find(|(_, finite)| !finite) {
        Some((what, _)) => Err(ReportError::NotFinite {
            what: format!("{what} of step {}", n + 1),
        }),
        None => Ok(()),
    }
}
