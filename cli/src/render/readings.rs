//! How the finished part reads on gauges, before and after it is let go, and how it is looked at: a part of the summary of `run`.

use ringwright_solver::geometry::Surface;
use ringwright_solver::report::document::{InspectionDocument, ReadDocument, StepDocument};
use ringwright_solver::report::units::Units;

use super::summary::{NOTHING, wrapped};

/// Width of the column of names, and of one state.
const NAME: usize = 44;
const STATE: usize = 26;

/// The tables of both surfaces.
pub(super) fn gauges(step: &StepDocument, units: Units) -> String {
    let mut text = String::new();
    for surface in Surface::BOTH {
        let (held, free) = (
            step.gauges.held.get(surface),
            step.gauges.released.get(surface),
        );
        if held.minimum_zone.roundness < NOTHING && free.minimum_zone.roundness < NOTHING {
            continue;
        }
        text += &table(surface, held, free, units);
    }
    text
}

fn table(surface: Surface, held: &ReadDocument, free: &ReadDocument, units: Units) -> String {
    let mut text = format!(
        " Gauges on the {:<width$} {:<STATE$}{}\n",
        surface.name(),
        "held",
        "let go",
        width = NAME - 15
    );
    let mut row = |name: &str, held: f64, free: f64| {
        text += &format!(
            "   {name:<width$} {:<STATE$}{}\n",
            units.small(held),
            units.small(free),
            width = NAME - 3
        );
    };
    row(
        "roundness, minimum zone",
        held.minimum_zone.roundness,
        free.minimum_zone.roundness,
    );
    if let (Some(held), Some(free)) = (&held.filtered, &free.filtered) {
        row(
            &format!("the same behind a filter of {} a turn", free.filter_upr),
            held.minimum_zone.roundness,
            free.minimum_zone.roundness,
        );
    }
    for held in &held.readings {
        if let Some(free) = free.readings.iter().find(|r| r.gauge == held.gauge) {
            row(&free.gauge, held.range, free.range);
        }
    }
    if free.minimum_zone.roundness >= NOTHING
        && let Some(best) = &free.shows_best
    {
        let blind = match free.blind.as_slice() {
            [] => String::new(),
            blind => format!("; blind to it: {}", blind.join(", ")),
        };
        text += &wrapped("   ", &format!("Let go, shows it best: {best}{blind}."));
    }
    text
}

/// The state that the figures are about, and what measuring does to it.
pub(super) fn inspection(inspection: &InspectionDocument, units: Units) -> String {
    let mut words = format!(
        "Figures after release are those of the {}, {}, {} deg C.",
        inspection.state, inspection.orientation, inspection.temperature
    );
    let gauge = inspection.gauge.as_deref().unwrap_or_default();
    for force in &inspection.measuring_force {
        words += &format!(
            " {} of the {gauge} on the {} changes its reading by {}, and that varies by {} round the turn.",
            units.force(force.force),
            force.surface.name(),
            units.signed(force.change),
            units.small(force.variation),
        );
    }
    if let Some(weight) = &inspection.own_weight {
        words += &format!(
            " Its own weight, {}, makes it {} out of round as it stands: {} upright, {} across.",
            units.force(weight.weight),
            units.small(weight.out_of_roundness),
            units.signed(weight.vertical),
            units.signed(weight.horizontal),
        );
    }
    for missing in &inspection.not_computed {
        words += &format!(" Not computed: {missing}.");
    }
    wrapped("", &words)
}
