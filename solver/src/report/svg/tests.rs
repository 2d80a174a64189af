#![allow(clippy::unwrap_used)]
use super::super::document::{Program, document};
use super::super::sample::{LOBE, sample_case, sample_outcome};
use super::curves::round_down;
use super::*;

fn drawn(case: &Case, outcome: &Outcome) -> String {
    let document = document(case, outcome, &Program::default()).unwrap();
    shape(case, outcome, &document).unwrap()
}

/// Element names in order; fails on text that is not well-formed XML (tags, attributes, entities).
fn elements(svg: &str) -> Vec<String> {
    let (mut open, mut seen) = (Vec::new(), Vec::new());
    let mut rest = svg
        .strip_prefix("<?xml version=\"1.0\" encoding=\"UTF-8\"?>")
        .unwrap();
    while let Some(at) = rest.find('<') {
        let text = &rest[..at];
        assert!(!text.contains('>'), "a bare > in {text:?}");
        for piece in text.split('&').skip(1) {
            let entity = piece.split(';').next().unwrap();
            assert!(
                ["amp", "lt", "gt", "quot", "#39"].contains(&entity),
                "{entity}"
            );
        }
        let end = at + rest[at..].find('>').unwrap();
        let tag = &rest[at + 1..end];
        if let Some(name) = tag.strip_prefix('/') {
            assert_eq!(open.pop().as_deref(), Some(name));
        } else {
            assert_eq!(tag.matches('"').count() % 2, 0, "{tag}");
            let name: String = tag
                .chars()
                .take_while(|c| c.is_ascii_alphabetic())
                .collect();
            assert!(!name.is_empty(), "{tag}");
            seen.push(name.clone());
            if !tag.ends_with('/') {
                open.push(name);
            }
        }
        rest = &rest[end + 1..];
    }
    assert!(open.is_empty() && rest.trim().is_empty());
    seen
}

#[test]
fn the_drawing_is_well_formed_and_says_what_it_must() {
    let svg = drawn(&sample_case(), &sample_outcome());
    let seen = elements(&svg);
    assert!(!seen.contains(&"script".into()) && !seen.contains(&"x".into()));
    assert!(svg.contains("Spacer ring &lt;/script&gt;&lt;x&gt; &amp; &quot;co&quot;"));
    // lobes of 0.02 mm and a zone of +-0.01 on a ring of 60 mm
    assert!(
        svg.contains("drawn \u{d7}1000: 1 division = 0.010 mm (0.4 thou)"),
        "{}",
        &svg[..3000]
    );
    for words in [
        "P peak +0.022 mm (+0.9 thou) at 0.0 deg",
        "V valley -0.018 mm",
        "NOT MET",
        "counter-clockwise",
        "role=\"img\"",
        "<desc",
    ] {
        assert!(svg.contains(words), "{words}");
    }
    assert!(!svg.contains("NaN") && !svg.contains("inf"));
}

#[test]
fn numbers_of_the_jaws_stand_on_both_plots_of_both_surfaces() {
    let svg = drawn(&sample_case(), &sample_outcome());
    for body in 1..=3 {
        assert_eq!(svg.matches(&format!("bold\">{body}</text>")).count(), 4);
    }
    let mut outcome = sample_outcome();
    let mut screw = outcome.steps[0].held.contacts[0].clone();
    screw.scheme = "screws".into();
    screw.surface = Surface::Bore;
    screw.half_angle_deg = 0.1;
    outcome.steps[0].held.contacts.push(screw);
    let svg = drawn(&sample_case(), &outcome);
    elements(&svg);
    assert_eq!(svg.matches("bold\">B1</text>").count(), 3);
    assert!(svg.contains("A1 ... = jaws, B1 ... = screws"));
}

#[test]
fn the_released_curve_is_drawn_to_scale() {
    let outcome = sample_outcome();
    let case = sample_case();
    let figures = document(&case, &outcome, &Program::default()).unwrap();
    let columns = [Surface::Bore, Surface::Outer]
        .map(|s| Curves::new(s, &outcome.steps[0], &figures.steps[0], None));
    let scale = Scale::choose(&columns, Units::new(false));
    assert!((columns[0].peak.deviation - 1.1 * LOBE).abs() < 1e-5);
    assert!(scale.band() >= columns[0].peak.deviation * scale.pixels());
    assert!(scale.band() < 110.0);
    assert_eq!(columns[0].peak.degrees, 0.0);
}

#[test]
fn round_shapes_and_wide_zones_draw_too() {
    let (mut case, mut outcome) = (sample_case(), sample_outcome());
    case.tolerance.roundness = Some(5.0);
    assert!(drawn(&case, &outcome).contains("wider than the plot"));
    let step = &mut outcome.steps[0];
    for radii in [&mut step.held.shape, &mut step.released] {
        radii.outer.fill(60.0);
        radii.bore.fill(57.5);
    }
    outcome.steps[0].held.contacts.clear();
    let svg = drawn(&case, &outcome);
    elements(&svg);
    assert!(!svg.contains("NaN") && !svg.contains("inf"));
}

#[test]
fn round_numbers() {
    for (x, want) in [
        (0.0099, 0.005),
        (0.01, 0.01),
        (730.0, 500.0),
        (2.0, 2.0),
        (1.99, 1.0),
    ] {
        assert_eq!(round_down(x), want);
    }
}
