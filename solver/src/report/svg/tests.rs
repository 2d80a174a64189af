#![allow(clippy::unwrap_used)]

mod tube;

use super::super::document::{Program, document};
use super::super::sample::{BORED, LOBE, OUTER, sample_case, sample_outcome};
use super::scale::RING;
use super::*;
use crate::case::Origin;
use crate::process::{Contact, DeadLoad};
use crate::scheme::Placing;

fn drawn(case: &Case, outcome: &Outcome) -> String {
    let document = document(case, &Origin::default(), outcome, &Program::default()).unwrap();
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

/// A text of the drawing and where it stands.
#[derive(Clone, Debug)]
struct Words {
    x: f64,
    y: f64,
    anchor: String,
    size: f64,
    bold: bool,
    text: String,
}

fn attribute<'a>(tag: &'a str, name: &str) -> Option<&'a str> {
    let from = tag.find(&format!(" {name}=\""))? + name.len() + 3;
    tag[from..].split('"').next()
}

fn number(tag: &str, name: &str) -> f64 {
    attribute(tag, name).unwrap().parse().unwrap()
}

fn texts(svg: &str) -> Vec<Words> {
    svg.split("<text")
        .skip(1)
        .map(|piece| {
            let (tag, rest) = piece.split_once('>').unwrap();
            Words {
                x: number(tag, "x"),
                y: number(tag, "y"),
                anchor: attribute(tag, "text-anchor").unwrap().to_owned(),
                size: number(tag, "font-size"),
                bold: tag.contains("bold"),
                text: rest.split("</text>").next().unwrap().to_owned(),
            }
        })
        .collect()
}

/// All texts one after the other: a long one stands in several lines.
fn said(svg: &str) -> String {
    let words: Vec<String> = texts(svg).into_iter().map(|w| w.text).collect();
    words.join(" ")
}

/// Numbers of bodies: bold, 14 high, centred; the drawing writes nothing else so.
fn badges(svg: &str) -> Vec<Words> {
    let mut all = texts(svg);
    all.retain(|w| w.bold && w.size == 14.0 && w.anchor == "middle");
    all
}

/// Centres of the polar plots, from their dashed circles.
fn centres(svg: &str) -> Vec<[f64; 2]> {
    let ring = format!(" r=\"{RING:.2}\" ");
    svg.split("<circle")
        .skip(1)
        .filter(|c| c.contains(&ring) && c.contains("stroke-dasharray=\"6 4\""))
        .map(|c| [number(c, "cx"), number(c, "cy")])
        .collect()
}

/// Where a text is seen from a centre, degrees counter-clockwise from the right; its letters' middle is a third of the size above their foot.
fn seen_at(words: &Words, centre: [f64; 2]) -> f64 {
    let up = centre[1] - (words.y - 5.0);
    up.atan2(words.x - centre[0]).to_degrees().rem_euclid(360.0)
}

fn near(words: &Words, centre: [f64; 2]) -> bool {
    (words.x - centre[0]).hypot(words.y - centre[1]) < 310.0
}

#[test]
fn the_drawing_is_well_formed_and_says_what_it_must() {
    let svg = drawn(&sample_case(), &sample_outcome());
    let seen = elements(&svg);
    assert!(!seen.contains(&"script".into()) && !seen.contains(&"x".into()));
    assert!(svg.contains("Spacer ring &lt;/script&gt;&lt;x&gt; &amp; &quot;co&quot;"));
    for words in [
        "One division: 0.0050 mm (0.20 thou); deviations drawn \u{d7}",
        "Step 1, hold &quot;bare&quot;",
        "Held, before the cut: roundness",
        "strongest: 3 lobes, \u{b1}0.020 mm (0.8 thou)",
        "Roundness zone of 0.020 mm (0.8 thou) radial: NOT MET",
        "the part&#39;s angles run counter-clockwise from its zero mark",
        "Held by jaws 1 to 3 on the outside. Black: where they press",
    ] {
        assert!(said(&svg).contains(words), "{words}");
    }
    assert!(svg.contains("role=\"img\"") && svg.contains("<desc"));
    assert!(!svg.contains("NaN") && !svg.contains("inf"));
    assert!(svg.len() < 60_000, "{} bytes", svg.len());
    assert_eq!(svg, drawn(&sample_case(), &sample_outcome()));
}

#[test]
fn numbers_of_the_jaws_stand_on_both_plots_of_both_surfaces() {
    let svg = drawn(&sample_case(), &sample_outcome());
    for body in 1..=3 {
        let label = body.to_string();
        assert_eq!(badges(&svg).iter().filter(|w| w.text == label).count(), 4);
    }
    let mut outcome = sample_outcome();
    outcome.steps[0].held.contacts.push(screw(60.0));
    let svg = drawn(&sample_case(), &outcome);
    elements(&svg);
    assert_eq!(badges(&svg).iter().filter(|w| w.text == "B1").count(), 4);
    assert!(said(&svg).contains("jaws A1 to A3 on the outside; screw B1 in the bore"));
}

fn screw(degrees: f64) -> Contact {
    Contact {
        scheme: "screws".into(),
        called: "screw".into(),
        body: 1,
        surface: Surface::Bore,
        angle_deg: degrees,
        half_angle_deg: 0.1,
        arcs: vec![[degrees - 0.1, degrees + 0.1]],
        ..sample_outcome().steps[0].held.contacts[0].clone()
    }
}

/// Jaws of a hold stand at 0, 120 and 240 degrees counter-clockwise seen from the tailstock. Turning the part end for end does not
/// move them, so the drawing must show them there, and the part's own angles the other way round.
#[test]
fn a_part_turned_end_for_end_is_drawn_as_it_is_seen_at_the_lathe() {
    for flipped in [false, true] {
        let mut outcome = sample_outcome();
        let placing = Placing {
            flipped,
            turned: 0.0,
        };
        outcome.steps[0].placing = placing;
        for (k, jaw) in outcome.steps[0].held.contacts.iter_mut().enumerate() {
            let direction = (120.0 * k as f64 + 40.0).to_radians();
            jaw.angle_deg = placing.on_part(direction).to_degrees();
            jaw.arcs = vec![[jaw.angle_deg - 9.0, jaw.angle_deg + 9.0]];
        }
        let svg = drawn(&sample_case(), &outcome);
        let centres = centres(&svg);
        assert_eq!(centres.len(), 2);
        for centre in centres {
            for jaw in badges(&svg).iter().filter(|w| near(w, centre)) {
                let k: f64 = jaw.text.parse().unwrap();
                let want = 120.0 * (k - 1.0) + 40.0;
                let at = seen_at(jaw, centre);
                assert!((at - want).abs() < 1.0, "jaw {k} at {at}, {flipped}");
            }
            let texts = texts(&svg);
            let thirty = texts
                .iter()
                .find(|w| w.text == "30\u{b0}" && near(w, centre))
                .unwrap();
            let want = if flipped { 330.0 } else { 30.0 };
            assert!((seen_at(thirty, centre) - want).abs() < 1.0);
        }
        // unrolled the same way round: numbers rise from left to right, and the angles say what they do
        let mut row: Vec<Words> = badges(&svg);
        row.retain(|w| centres_below(&svg, w) && w.x < COLUMN);
        let labels: Vec<&str> = row.iter().map(|w| w.text.as_str()).collect();
        assert_eq!(labels, ["1", "2", "3"]);
        assert!(row.windows(2).all(|w| w[0].x < w[1].x));
        let mut ticks = texts(&svg);
        ticks.retain(|w| w.size == 13.0 && w.text.ends_with('\u{b0}') && w.x < COLUMN);
        let first = if flipped { "360\u{b0}" } else { "0\u{b0}" };
        assert_eq!(ticks[0].text, first);
        assert_eq!(svg.contains("Part turned end for end."), flipped);
        assert_eq!(svg.contains("angles run clockwise"), flipped);
        assert_eq!(svg.contains("as seen above, angles fall"), flipped);
    }
}

fn centres_below(svg: &str, words: &Words) -> bool {
    centres(svg).iter().all(|c| words.y > c[1] + 310.0)
}

/// The peak of a lobe at the part angle 30 of a part turned over is seen at 330 degrees.
#[test]
fn the_shape_turns_with_the_part() {
    let view = |flipped| {
        View::new(&Placing {
            flipped,
            turned: 0.3,
        })
    };
    assert_eq!(view(false).seen(30.0), 30.0);
    assert_eq!(view(true).unrolled(30.0), 330.0);
    assert_eq!(view(true).along(0.0), 360.0);
    let words = view(true).words();
    assert!(
        words.contains("17.2 deg counter-clockwise against the hold"),
        "{words}"
    );
}

/// Two and three lobes together have no common centre of both circles: the minimum zone (the definition of roundness in ISO 12181-1, from
/// memory) is narrower than about the least-squares circle, and it alone is told and drawn.
#[test]
fn roundness_is_the_minimum_zone_in_words_and_circles() {
    let (case, mut outcome) = (sample_case(), sample_outcome());
    for (k, r) in outcome.steps[0].released.bore.iter_mut().enumerate() {
        let t = std::f64::consts::TAU * k as f64 / 3600.0;
        *r = BORED + LOBE * ((2.0 * t).cos() + 0.7 * (3.0 * t - 1.0).cos());
    }
    let figures = document(&case, &Origin::default(), &outcome, &Program::default()).unwrap();
    let shape = figures.steps[0].released_shape(Surface::Bore);
    let (zone, squares) = (shape.roundness_minimum_zone, shape.roundness_least_squares);
    assert!(squares > 1.02 * zone, "{squares} {zone}");
    let svg = drawn(&case, &outcome);
    let units = Units::new(false);
    assert!(svg.contains(&format!("Released: roundness {}", units.small(zone))));
    assert!(!svg.contains(&units.small(squares)));
    let columns = [Surface::Bore, Surface::Outer]
        .map(|s| Curves::new(s, &outcome.steps[0], &figures.steps[0], None, None));
    let bore = &columns[0];
    assert!((bore.peak.deviation - bore.valley.deviation - zone).abs() < 1e-6);
    assert!((bore.peak.deviation - 0.5 * zone).abs() < 1e-6);
    let scale = Scale::choose(bore, units);
    for side in [-0.5, 0.5] {
        let radius = RING + side * zone * scale.pixels();
        assert!(svg.contains(&format!(
            " r=\"{radius:.2}\" fill=\"none\" stroke=\"{RELEASED}\""
        )));
    }
}

#[test]
fn every_step_is_drawn() {
    let (mut case, mut outcome) = (sample_case(), sample_outcome());
    let second = outcome.steps[0].clone();
    outcome.steps.push(second);
    case.steps.push(case.steps[0].clone());
    outcome.steps[1].placing.flipped = true;
    let svg = drawn(&case, &outcome);
    elements(&svg);
    assert_eq!(centres(&svg).len(), 4);
    for words in ["Step 1 of 2", "Step 2 of 2", "run clockwise"] {
        assert!(svg.contains(words), "{words}");
    }
    // the zone is for the finished part
    assert_eq!(svg.matches("Roundness zone").count(), 1);
}

#[test]
fn the_place_that_yields_is_marked_once_it_does() {
    let (case, mut outcome) = (sample_case(), sample_outcome());
    assert!(!drawn(&case, &outcome).contains("Yields here"));
    let after = outcome.steps[0].after_cut.as_mut().unwrap();
    after.stress.von_mises_away = 150.0;
    after.stress.yield_margin = Some(125.0 / 150.0 - 1.0);
    let svg = drawn(&case, &outcome);
    elements(&svg);
    let words = "Yields here, and wherever it is loaded alike: 150 MPa (22 ksi) at 60.0 deg, held, after the cut; yield strength 125 MPa";
    assert_eq!(said(&svg).matches(words).count(), 1);
    // polar plot, unrolled plot, caption: each a cross on white
    assert_eq!(svg.matches("stroke=\"#b00020\"").count(), 3);
}

#[test]
fn a_cut_that_leaves_low_spots_says_so() {
    let (case, mut outcome) = (sample_case(), sample_outcome());
    outcome.steps[0].cuts[0].cleaned_up = 0.999;
    outcome.steps[0].cuts[0].stock_to_clean_up = 0.12;
    // the tool missed from 40 to 70 degrees
    for r in &mut outcome.steps[0].cut.as_mut().unwrap().bore[400..700] {
        *r = BORED + 0.06;
    }
    let svg = drawn(&case, &outcome);
    // both plots and the caption
    assert_eq!(svg.matches(LOW_SPOT).count(), 3);
    let bar = svg
        .lines()
        .rfind(|l| l.contains(LOW_SPOT))
        .unwrap()
        .to_owned();
    // 470 pixels a turn, from 84
    let (from, long) = (84.0 + 470.0 * 40.0 / 360.0, 470.0 * 30.0 / 360.0);
    assert!(
        bar.contains(&format!("<path d=\"M{from:.1} ")) && bar.contains(&format!("l{long:.1} 0")),
        "{bar}"
    );
    assert!(said(&svg).contains(
        "DID NOT CLEAN UP: 1 percent of the way round untouched (grey), low by up to 0.120 mm (4.7 thou) on the diameter"
    ));
}

/// Sideways extent of a path about the horizontal through its first plot's centre.
fn heights(path: &str) -> [f64; 2] {
    let d = path.split('"').next().unwrap();
    let mut y = 0.0_f64;
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for step in d.trim_end_matches('Z').split(['M', 'l']).skip(1) {
        y += step.split(' ').nth(1).unwrap().parse::<f64>().unwrap();
        (low, high) = (low.min(y), high.max(y));
    }
    [low, high]
}

#[test]
fn narrow_bodies_have_sides_and_no_spike() {
    let mut outcome = sample_outcome();
    let mut jaw = screw(0.0);
    jaw.called = "jaw".into();
    for body in [jaw, screw(0.0)] {
        outcome.steps[0].held.contacts = vec![body];
        let svg = drawn(&sample_case(), &outcome);
        elements(&svg);
        let outline = svg
            .split("<path d=\"")
            .find(|p| p.contains("fill=\"#e9e4da\""))
            .unwrap();
        let [low, high] = heights(outline);
        assert!((11.5..=20.0).contains(&(high - low)), "{}", high - low);
    }
}

#[test]
fn whatever_holds_the_part_is_named() {
    let (case, mut outcome) = (sample_case(), sample_outcome());
    let held = &mut outcome.steps[0].held;
    held.axial_force = 12e3;
    held.contacts.clear();
    held.loads = vec![DeadLoad {
        scheme: "pressure-patches".into(),
        called: "patch".into(),
        number: 1,
        surface: Surface::Outer,
        angle_deg: 10.0,
        half_angle_deg: 20.0,
        force: 100.0,
    }];
    let svg = drawn(&case, &outcome);
    elements(&svg);
    assert!(said(&svg).contains(
        "Held by constant load, patch 1 on the outside; plates on both end faces (hatched)."
    ));
    outcome.steps[0].held.axial_force = 0.0;
    outcome.steps[0].held.loads.clear();
    assert!(drawn(&case, &outcome).contains("Nothing presses on the part."));
}

/// Left, top, right, bottom of a text, from rough widths of letters that are no part of the drawing's own reckoning.
fn area(words: &Words) -> [f64; 4] {
    let wide = words.text.replace("&quot;", "\"").replace("&amp;", "&");
    let wide = 0.55 * words.size * wide.chars().count() as f64;
    let left = match words.anchor.as_str() {
        "start" => words.x,
        "middle" => words.x - 0.5 * wide,
        _ => words.x - wide,
    };
    let top = words.y - 0.72 * words.size;
    [left, top, left + wide, words.y + 0.2 * words.size]
}

#[test]
fn no_text_stands_on_another_or_off_the_page() {
    let mut outcomes = vec![sample_outcome(); 3];
    // screws in line with the jaws, and a jaw at the zero mark
    for k in 0..3 {
        let mut behind = screw(120.0 * f64::from(k));
        behind.body = k as usize + 1;
        outcomes[1].steps[0].held.contacts.push(behind);
    }
    // more jaws than there is room for numbers
    outcomes[2].steps[0].held.contacts = (0..60)
        .map(|k| Contact {
            body: k + 1,
            angle_deg: 6.0 * k as f64,
            half_angle_deg: 2.0,
            ..sample_outcome().steps[0].held.contacts[0].clone()
        })
        .collect();
    for mut outcome in outcomes {
        let mut case = sample_case();
        case.title = "A long title, with a long tail ".repeat(20);
        outcome.steps.push(outcome.steps[0].clone());
        outcome.steps[1].placing.flipped = true;
        case.steps.push(case.steps[0].clone());
        nothing_overlaps(&drawn(&case, &outcome));
    }
}

fn nothing_overlaps(svg: &str) {
    let height = number(svg, "height");
    let texts = texts(svg);
    for (k, a) in texts.iter().enumerate() {
        let at = area(a);
        assert!(
            at[0] >= 0.0 && at[1] >= 0.0 && at[2] <= WIDTH && at[3] <= height,
            "{a:?}"
        );
        for b in &texts[k + 1..] {
            let other = area(b);
            let apart =
                at[2] <= other[0] || other[2] <= at[0] || at[3] <= other[1] || other[3] <= at[1];
            assert!(apart, "{a:?} {b:?}");
        }
    }
}

#[test]
fn round_shapes_and_wide_zones_draw_too() {
    let (mut case, mut outcome) = (sample_case(), sample_outcome());
    case.tolerance.roundness = Some(5.0);
    assert!(said(&drawn(&case, &outcome)).contains("wider than the plot"));
    let step = &mut outcome.steps[0];
    for radii in [&mut step.held.shape, &mut step.released] {
        radii.outer.fill(OUTER);
        radii.bore.fill(BORED);
    }
    outcome.steps[0].held.contacts.clear();
    let svg = drawn(&case, &outcome);
    elements(&svg);
    assert!(!svg.contains("NaN") && !svg.contains("inf"));
}
