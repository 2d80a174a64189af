#![allow(clippy::unwrap_used)]
use super::*;
use crate::case::{Case, Origin};
use crate::process::Outcome;
use crate::process::{Advice, Recomputed, SetForce};
use crate::report::sample::{BORED, LOBE, OUTER, sample_case, sample_outcome};
use serde_json::Value;

fn built(case: &Case, outcome: &Outcome) -> (ResultDocument, Value) {
    let program = Program {
        version: "1.2.3".into(),
        commit: "unknown".into(),
    };
    let document = document(case, &Origin::default(), outcome, &program).unwrap();
    let value = serde_json::from_str(&document.to_json().unwrap()).unwrap();
    (document, value)
}

/// Keys of the fixed format, in its order.
fn keys_in_order(text: &str, keys: &[&str]) {
    let mut at = 0;
    for key in keys {
        let found = text[at..]
            .find(&format!("\"{key}\": "))
            .unwrap_or_else(|| panic!("{key} is missing or out of order"));
        at += found + 1;
    }
}

/// Keys of a result in the order in which they stand in the file; some stand there more than once.
const KEYS_IN_ORDER: &[&str] = &[
    "format",
    "program",
    "version",
    "commit",
    "case",
    "title",
    "sha256",
    "units",
    "length",
    "force",
    "stress",
    "angle",
    "assumed",
    "steps",
    "hold",
    "held",
    "outer",
    "mean_radius",
    "centre",
    "roundness_least_squares",
    "roundness_minimum_zone",
    "harmonics",
    "count",
    "amplitude",
    "angle",
    "displacement",
    "angles_deg",
    "radial",
    "bore",
    "contacts",
    "scheme",
    "body",
    "angle",
    "force",
    "approach",
    "peak_pressure",
    "edge_force_per_length",
    "arcs",
    "free_motions",
    "von_mises_max",
    "von_mises_away",
    "yield_margin",
    "balance",
    "energy",
    "cuts",
    "surface",
    "diameter",
    "cleaned_up",
    "depth_min",
    "depth_max",
    "stock_to_clean_up",
    "released",
    "outer",
    "bore",
    "average_diameter",
    "outer",
    "bore",
    "wall",
    "min",
    "min_angle",
    "max",
    "max_angle",
    "grip",
    "torque_available",
    "torque_needed",
    "axial_available",
    "axial_needed",
    "tilt_available",
    "tilt_needed",
    "slip_safety",
    "slip_safety_high",
    "force_at_speed",
    "speed_at_zero_force",
    "limits",
    "not_checked",
    "estimate",
    "quantity",
    "relative_error",
    "converged",
    "mesh",
    "verdict",
    "in_tolerance",
    "safe",
    "says",
    "cautions",
];

#[test]
fn every_key_of_the_format_is_there_in_order() {
    let (document, _) = built(&sample_case(), &sample_outcome());
    let text = document.to_json().unwrap();
    keys_in_order(&text, KEYS_IN_ORDER);
    assert!(!text.contains("stations") && !text.contains("NaN") && !text.contains("-0.0,"));
}

#[test]
fn figures_are_those_of_the_shapes() {
    let (_, value) = built(&sample_case(), &sample_outcome());
    let step = &value["steps"][0];
    let near = |v: &Value, x: f64, tol: f64| {
        let got = v.as_f64().unwrap();
        assert!((got - x).abs() < tol, "{got} is not {x}");
    };
    near(&step["held"]["outer"]["mean_radius"], OUTER, 1e-5);
    near(
        &step["held"]["outer"]["roundness_minimum_zone"],
        2.0 * LOBE,
        1e-6,
    );
    let third = &step["held"]["outer"]["harmonics"][2];
    assert_eq!(third["count"], 3);
    near(&third["amplitude"], LOBE, 1e-9);
    near(&third["angle"], 60.0, 1e-6);
    assert_eq!(
        step["held"]["outer"]["harmonics"].as_array().unwrap().len(),
        50
    );
    let d = &step["held"]["bore"]["displacement"];
    assert_eq!(d["angles_deg"].as_array().unwrap().len(), 360);
    near(&d["angles_deg"][359], 359.0, 1e-12);
    near(&d["radial"][0], -0.98 * LOBE, 1e-12);
    assert!(step["released"]["bore"].get("displacement").is_none());
    near(
        &step["released"]["average_diameter"]["bore"],
        2.0 * BORED,
        1e-4,
    );
    assert_eq!(step["cuts"][0]["surface"], "bore");
    assert!(step["grip"]["torque_available"].is_null());
    assert!(step["grip"]["limits"].as_array().unwrap().is_empty());
    assert!(step["grip"]["force_window"].is_null());
    assert!(value["verdict"]["safe"].is_null());
    assert_eq!(
        value["assumed"],
        serde_json::json!(["round blank", "rigid jaws"])
    );
    assert_eq!(value["cautions"].as_array().unwrap().len(), 2);
}

#[test]
fn the_verdict_follows_the_limit() {
    let (mut case, mut outcome) = (sample_case(), sample_outcome());
    outcome.advice = vec![Advice {
        step: 0,
        surface: Surface::Bore,
        by_force: true,
        whole_hold: Some(Recomputed {
            factor: 0.31,
            forces: vec![SetForce {
                called: "jaw".into(),
                count: 3,
                each: [46.5; 2],
            }],
            roundness: 0.0199,
            limit: 0.02,
            yields: false,
            left_after_cut: None,
        }),
        one_scheme: None,
        least: None,
    }];
    let (document, value) = built(&case, &outcome);
    assert_eq!(value["verdict"]["in_tolerance"], false);
    let says = document.verdict.says.join("\n");
    assert!(
        says.contains("OUT OF TOLERANCE") && says.contains("NOT CHECKED"),
        "{says}"
    );
    assert!(
        says.contains(
            "At 31 percent of this force (step 1, hold \"bare\": 46.5 N (10.5 lbf) a jaw, recomputed) the roundness of the bore is \
             0.0199 ±0.0002 mm (0.783 ±0.008 thou); whether that still grips is not checked."
        ),
        "{says}"
    );
    case.tolerance.roundness = Some(0.1);
    outcome.advice.clear();
    assert_eq!(built(&case, &outcome).1["verdict"]["in_tolerance"], true);
    case.tolerance.roundness = None;
    assert!(built(&case, &outcome).1["verdict"]["in_tolerance"].is_null());
    case.tolerance.roundness = Some(0.1);
    case.steps[0].cuts.clear();
    outcome.steps[0].cuts.clear();
    outcome.steps[0].cut = None;
    let (document, value) = built(&case, &outcome);
    assert!(value["verdict"]["in_tolerance"].is_null());
    assert!(document.verdict.says[0].contains("not judged"));
}

#[test]
fn a_limit_within_the_mesh_error_is_too_close_to_call() {
    let (mut case, outcome) = (sample_case(), sample_outcome());
    let roundness = built(&case, &outcome).0.steps[0]
        .released
        .bore
        .roundness_minimum_zone;
    case.tolerance.roundness = Some(roundness * 1.003);
    let (document, _) = built(&case, &outcome);
    assert_eq!(document.verdict.in_tolerance, Some(true));
    assert!(document.verdict.says[0].contains("too close to call"));
}

#[test]
fn a_figure_that_is_no_number_is_refused() {
    let case = sample_case();
    let break_it: [fn(&mut Outcome); 4] = [
        |o| o.steps[0].held.contacts[0].force = f64::NAN,
        |o| o.steps[0].held.stress.von_mises_away = f64::INFINITY,
        |o| o.steps[0].released.outer[5] = f64::NAN,
        |o| o.steps[0].estimate.relative_error = Some(f64::NAN),
    ];
    for f in break_it {
        let mut outcome = sample_outcome();
        f(&mut outcome);
        assert!(matches!(
            document(&case, &Origin::default(), &outcome, &Program::default()),
            Err(ReportError::NotFinite { .. })
        ));
    }
}
