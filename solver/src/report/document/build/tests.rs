#![allow(clippy::unwrap_used)]
use super::*;
use crate::metrology::{MetrologyError, ReferenceCircle};
use crate::report::sample::{sample_case, sample_outcome};

/// A circle that cannot be had is null with its reason; the run stands, and a limit about that circle is left open.
#[test]
fn a_circle_that_is_not_known_costs_no_run() {
    let (mut case, outcome) = (sample_case(), sample_outcome());
    case.tolerance.surfaces.bore.roundness = Some(1.0);
    case.tolerance.surfaces.bore.circle = Some(ReferenceCircle::MaximumInscribed);
    let mut document = document(&case, &outcome, &Program::default()).unwrap();
    assert_eq!(document.verdict.in_tolerance, Some(true));
    let bore = Profile::equal(&outcome.steps[0].released.bore);
    let mut sheet = Sheet::of(&bore, &Wanted::default()).unwrap();
    sheet.inscribed = Err(MetrologyError::InscribedNotProven {
        radius: 1.0,
        upper_bound: 2.0,
    });
    let read = ReadDocument::of(&sheet, |_| true);
    assert!(read.maximum_inscribed.is_none() && read.minimum_circumscribed.is_some());
    assert_eq!(read.unknown.len(), 1);
    assert_eq!(read.unknown[0].what, "maximum_inscribed");
    assert!(read.unknown[0].reason.contains("not proven"));
    let last = document.steps.last_mut().unwrap();
    last.gauges.released.bore = read;
    assert!(unknown(0, last)[0].contains("maximum inscribed is not known"));
    let open = unjudged(&case, last);
    assert_eq!(open.len(), 1);
    leave_open(&mut document.verdict, &open);
    assert_eq!(document.verdict.in_tolerance, None);
    assert!(document.verdict.says[0].contains("NOT JUDGED"));
    // a limit that is missed stays missed
    document.verdict.in_tolerance = Some(false);
    leave_open(&mut document.verdict, &open);
    assert_eq!(document.verdict.in_tolerance, Some(false));
}
