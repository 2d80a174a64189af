//! Whether what presses marks the part.

use super::{Contact, Marking, grip};
use crate::case::Case;

/// Pressure of contact beyond which a smooth surface is taken to be marked, of the yield strength: in a line contact metal first yields under 1.67 times its yield strength in simple
/// tension. Source: K. L. Johnson, *Contact Mechanics*, 1985, section 6.1 (from memory).
const MARKING: f64 = 1.67;

/// The largest pressure of these contacts of a step beside what marks the part; `None` without a yield strength or a limit of the case.
pub(super) fn of<'a>(
    case: &Case,
    step: usize,
    contacts: impl Iterator<Item = &'a Contact>,
) -> Option<Marking> {
    let given = case.tolerance.marking_pressure;
    let of_yield = || Some(MARKING * case.part.material.yield_strength?);
    let limit = given.or_else(of_yield)?;
    let section = case.section_at(step);
    let wall = section.outer_radius - section.bore_radius;
    if case.tube.is_some() {
        return None;
    }
    // a slice carries over the whole part what presses on less of it
    let length = case.part.length;
    let members = grip::members(case, &case.steps[step]).iter();
    let grips = members.map(|m| {
        let [from, to] = m.grip.on(length);
        (to - from) / length
    });
    let share = grips.fold(1.0, f64::min);
    let pressures = contacts.map(|c| pressed_most(c, wall) / share);
    let pressure = pressures.fold(0.0, f64::max);
    (pressure > 0.0).then_some(Marking {
        pressure,
        limit,
        given: given.is_some(),
    })
}

/// Largest pressure of a contact, MPa: the peak or, where an edge is loaded and there is none, the mean over a tenth of the wall beside it.
fn pressed_most(contact: &Contact, wall: f64) -> f64 {
    let at_edge = contact.edge_force_per_length.map(|f| f / (0.1 * wall));
    at_edge.or(contact.peak_pressure).unwrap_or(0.0)
}
