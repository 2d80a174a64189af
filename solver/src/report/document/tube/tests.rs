#![allow(clippy::unwrap_used)]
use crate::case::Origin;
use crate::process::Outcome;
use crate::report::ReportError;
use crate::report::document::{Program, document};
use crate::report::sample::tube::{CLEAR, GRIP, LENGTH, plates_outcome, tube_case, tube_outcome};
use crate::report::sample::{LOBE, sample_case, sample_outcome};
use serde_json::{Value, json};

fn built(outcome: &Outcome) -> Value {
    let origin = Origin::default();
    let document = document(&tube_case(), &origin, outcome, &Program::default()).unwrap();
    serde_json::from_str(&document.to_json().unwrap()).unwrap()
}

#[test]
fn stations_have_the_shapes_of_their_sections() {
    let value = built(&tube_outcome());
    let stations = value["steps"][0]["stations"].as_array().unwrap();
    assert_eq!(stations.len(), 4);
    for (station, share) in stations.iter().zip([1.0, 0.6, 0.2, -0.2]) {
        let held = &station["held"]["outer"];
        let third = &held["harmonics"][2];
        assert_eq!(third["count"], 3);
        let amplitude = third["amplitude"].as_f64().unwrap();
        assert!((amplitude - LOBE * f64::abs(share)).abs() < 1e-9, "{share}");
        // the lobes change sign along the length
        let crest = third["angle"].as_f64().unwrap();
        let wanted = if share > 0.0 { 60.0 } else { 0.0 };
        assert!((crest - wanted).abs() < 1e-6, "{crest} at {share}");
        let moved = &station["held"]["bore"]["displacement"];
        assert_eq!(moved["angles_deg"].as_array().unwrap().len(), 360);
        let at_jaw = moved["radial"][0].as_f64().unwrap();
        assert!((at_jaw + 0.98 * share * LOBE).abs() < 1e-9, "{at_jaw}");
        let zone = held["roundness_minimum_zone"].as_f64().unwrap();
        assert!((zone - 2.0 * LOBE * f64::abs(share)).abs() < 1e-6);
        assert!(station["released"]["bore"].get("displacement").is_none());
        assert!(station["released"]["bore"]["error"].is_null());
    }
    assert_eq!(stations[1]["z"], 20.0);
}

#[test]
fn the_grip_and_the_cuts_are_told_along_the_length() {
    let value = built(&tube_outcome());
    let step = &value["steps"][0];
    let tube = &step["tube"];
    assert_eq!(tube["section"], 0.0);
    assert_eq!(tube["length"], LENGTH);
    assert_eq!(tube["flipped"], false);
    assert_eq!(tube["harmonics"], 30);
    assert_eq!(tube["mesh"], json!({"along": 24, "through": 4}));
    assert_eq!(step["mesh"], json!({"around": 0, "through": 4}));
    assert!(tube.get("plates").is_none());
    assert_eq!(
        tube["along"],
        json!([{"surface": "bore", "from": 0.0, "to": LENGTH, "taper": -0.004, "barrel": 0.0012, "range": 0.043,
            "error": {"taper": 3e-5, "barrel": 1e-5, "range": 3e-4}}])
    );
    for state in ["held", "after_cut"] {
        for contact in step[state]["contacts"].as_array().unwrap() {
            let along = &contact["along"];
            assert_eq!(along["from"], 0.0);
            assert_eq!(along["to"], GRIP);
            assert_eq!(along["centroid"], 18.8);
            assert_eq!(along["front_quarter"], 0.98);
            assert_eq!(along["front_tenth"], 0.71);
            assert_eq!(along["back_half"], 0.0);
            assert_eq!(along["touching"], json!([[CLEAR, GRIP]]));
            let line = &along["line_force"];
            assert_eq!(line["z_mm"].as_array().unwrap().len(), 10);
            assert_eq!(line["n_per_mm"].as_array().unwrap().len(), 10);
        }
    }
    assert!(step["grip"]["torque_available"].is_null());
}

#[test]
fn a_section_in_a_floor_has_no_bore() {
    let mut outcome = tube_outcome();
    let station = &mut outcome.steps[0].tube.as_mut().unwrap().stations[3];
    station.stock.bore.fill(0.0);
    // a shift sideways makes no bore
    for (k, r) in station.held.bore.iter_mut().enumerate() {
        *r = 1e-3 * (k as f64 / 3600.0 * std::f64::consts::TAU).cos();
    }
    let value = built(&outcome);
    let bore = &value["steps"][0]["stations"][3]["held"]["bore"];
    assert_eq!(bore["mean_radius"], 0.0);
    assert_eq!(bore["harmonics"].as_array().unwrap().len(), 50);
    assert_eq!(
        bore["displacement"]["radial"].as_array().unwrap().len(),
        360
    );
}

#[test]
fn plates_have_their_own_figures_and_a_torque() {
    let value = built(&plates_outcome());
    let step = &value["steps"][0];
    let plates = &step["tube"]["plates"];
    assert_eq!(plates["force"], 20e3);
    assert_eq!(plates["friction_used"], json!([0.061, 0.061]));
    assert_eq!(
        plates["buckling"],
        json!({"classical": 1.1e6, "knocked_down": 310e3})
    );
    assert_eq!(plates["located"], false);
    assert_eq!(
        plates["bulge"]["outer"]["z_mm"].as_array().unwrap().len(),
        13
    );
    assert_eq!(step["grip"]["torque_available"], 104e3);
    let open = step["grip"]["not_checked"][0].as_str().unwrap();
    assert!(open.starts_with("what cut 1 asks of the hold: "), "{open}");
}

#[test]
fn a_slice_has_none_of_it() {
    let origin = Origin::default();
    let (case, outcome) = (sample_case(), sample_outcome());
    let document = document(&case, &origin, &outcome, &Program::default()).unwrap();
    let text = document.to_json().unwrap();
    for key in ["stations", "tube", "along"] {
        assert!(!text.contains(&format!("\"{key}\"")), "{key}");
    }
}

#[test]
fn a_figure_along_the_length_that_is_no_number_is_refused() {
    let break_it: [fn(&mut Outcome); 4] = [
        |o| o.steps[0].tube.as_mut().unwrap().stations[1].released.bore[3] = f64::NAN,
        |o| o.steps[0].tube.as_mut().unwrap().grips[0].front_tenth = f64::NAN,
        |o| o.steps[0].tube.as_mut().unwrap().along[0].taper = f64::INFINITY,
        |o| {
            o.steps[0].tube.as_mut().unwrap().states[0]
                .displacement
                .bore[9][1] = f64::NAN
        },
    ];
    for f in break_it {
        let mut outcome = tube_outcome();
        f(&mut outcome);
        let origin = Origin::default();
        assert!(matches!(
            document(&tube_case(), &origin, &outcome, &Program::default()),
            Err(ReportError::NotFinite { .. })
        ));
    }
}
