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
    let origin = Origin::default();
    let found = document(&case, &origin, &outcome, &Program::default()).unwrap();
    assert_eq!(found.verdict.in_tolerance, Some(true));
    let released = &outcome.steps[0].released;
    let mut sheets = PerSurface::from_fn(|s| {
        Sheet::of(&Profile::equal(released.get(s)), &Wanted::default()).unwrap()
    });
    sheets.bore.inscribed = Err(MetrologyError::InscribedNotProven {
        radius: 1.0,
        upper_bound: 2.0,
    });
    let read = ReadDocument::of(&sheets.bore, |_| true);
    assert!(read.maximum_inscribed.is_none() && read.minimum_circumscribed.is_some());
    assert_eq!(read.unknown.len(), 1);
    assert_eq!(read.unknown[0].what, "maximum_inscribed");
    assert!(read.unknown[0].reason.contains("not proven"));
    let mut steps = found.steps;
    steps[0].gauges.released.bore = read;
    assert!(unknown(0, &steps[0])[0].contains("maximum inscribed is not known"));
    let judged = |case: &Case| {
        let judgement = judge_read(case, &outcome, Some(&sheets)).unwrap();
        assert_eq!(judgement.unjudged.len(), 1);
        verdict(case, &outcome, &judgement, (&steps, None), Units::default())
    };
    let open = judged(&case);
    assert_eq!(open.in_tolerance, None);
    assert!(open.says[0].contains("NOT JUDGED"));
    // a limit that is missed makes the part bad, whatever is left open
    case.tolerance.surfaces.bore.wall_variation = Some(1e-12);
    assert_eq!(judged(&case).in_tolerance, Some(false));
}
