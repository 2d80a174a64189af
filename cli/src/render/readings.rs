//! How the finished part reads on gauges, held and released, and how it is looked at: a part of the summary of `run`.

use ringwright_solver::geometry::Surface;
use ringwright_solver::metrology::{Gauge, Vee};
use ringwright_solver::report::document::{
    CircleDocument, InspectionDocument, ReadDocument, ReadingDocument, StepDocument,
};
use ringwright_solver::report::units::Units;

use super::summary::{NOTHING, wrapped};

/// Width of the column of names, and of one state.
const NAME: usize = 46;
const STATE: usize = 26;

/// Lines of one surface's table, its heading and last sentence included.
const LINES: usize = 9;

/// A nanometre, mm: no reading is shown closer than that.
const NANOMETRE: f64 = 1e-6;

/// Gauges in the order in which they are worth a row; others follow as they stand in the document.
const FIRST: [Gauge; 5] = [
    Gauge::TwoPoint,
    Gauge::ThreePoint,
    Gauge::Radius,
    Gauge::Vee(Vee::summit(90.0)),
    Gauge::Vee(Vee::summit(60.0)),
];

/// The tables of both surfaces.
pub(super) fn gauges(step: &StepDocument, units: Units) -> String {
    let mut text = String::new();
    for surface in Surface::BOTH {
        let (held, free) = (
            step.gauges.held.get(surface),
            step.gauges.released.get(surface),
        );
        // a table of zeros tells nothing; what the hold does to a surface that springs back round stands in the step
        if free.minimum_zone.roundness < NOTHING {
            continue;
        }
        text += &table(surface, held, free, units);
    }
    text
}

fn table(surface: Surface, held: &ReadDocument, free: &ReadDocument, units: Units) -> String {
    let mut text = format!(
        " Gauges on the {:<width$} {:<STATE$}released\n",
        match surface {
            Surface::Outer => "outside",
            Surface::Bore => "bore",
        },
        "held",
        width = NAME - 15
    );
    let shown = |mm: Option<f64>, error: Option<f64>| {
        mm.map_or("unknown".to_owned(), |mm| {
            units.small_in_column(if mm.abs() < NANOMETRE { 0.0 } else { mm }, error)
        })
    };
    let row = |name: &str, held: String, free: String| {
        format!("   {name:<width$} {held:<STATE$}{free}\n", width = NAME - 3)
    };
    let zone = |circle: &CircleDocument| shown(Some(circle.roundness), circle.error);
    text += &row(
        "roundness, minimum zone",
        zone(&held.minimum_zone),
        zone(&free.minimum_zone),
    );
    if let (Some(held), Some(free)) = (&held.filtered, &free.filtered) {
        text += &row(
            &format!("the same, filter {} per revolution", free.filter_upr),
            zone(&held.minimum_zone),
            zone(&free.minimum_zone),
        );
    }
    let ranked = ranked(free);
    // the last sentence may take two lines
    let kept = (LINES - 2).saturating_sub(text.lines().count());
    let kept = &ranked[..ranked.len().min(kept)];
    for free in kept {
        let in_chuck = held.readings.iter().find(|r| r.kind == free.kind);
        let in_chuck = in_chuck.filter(|r| r.kind.reaches_held());
        text += &row(
            &free.gauge,
            in_chuck.map_or("-".to_owned(), |r| shown(r.range, r.error)),
            shown(free.range, free.error),
        );
    }
    if free.minimum_zone.roundness >= NOTHING
        && let Some(best) = &free.shows_best
    {
        let blind: Vec<&str> = kept
            .iter()
            .map(|r| r.gauge.as_str())
            .filter(|g| free.blind.iter().any(|b| b == g))
            .collect();
        let blind = match blind.as_slice() {
            [] => String::new(),
            blind => format!(
                "; insensitive (shows under 20 percent): {}",
                blind.join("; ")
            ),
        };
        text += &wrapped("   ", &format!("Most sensitive, released: {best}{blind}."));
    }
    text
}

/// The readings of a surface, those worth a row first: the gauge that shows the part best and the common ones.
fn ranked(free: &ReadDocument) -> Vec<&ReadingDocument> {
    let mut readings: Vec<&ReadingDocument> = free.readings.iter().collect();
    readings.sort_by_key(|r| {
        let best = free.shows_best.as_ref() == Some(&r.gauge);
        // the case names it beside the usual ones, so it is wanted
        let named = !Gauge::USUAL.contains(&r.kind);
        let common = FIRST.iter().position(|g| *g == r.kind);
        match common {
            _ if best || named => 0,
            Some(place) => 1 + place,
            None => 1 + FIRST.len(),
        }
    });
    readings
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
            force.surface.in_words(),
            units.signed_within(force.change, force.error),
            units.small_within(force.variation, force.error),
        );
    }
    if let Some(weight) = &inspection.own_weight {
        words += &format!(
            " Its own weight, {}, makes it {} out of round as it stands: {} upright, {} across.",
            units.force(weight.weight),
            units.small_within(weight.out_of_roundness, weight.error),
            units.signed_within(weight.vertical, weight.error),
            units.signed_within(weight.horizontal, weight.error),
        );
    }
    for missing in &inspection.not_computed {
        words += &format!(" Not computed: {missing}.");
    }
    wrapped("", &words)
}
