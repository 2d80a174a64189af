use super::*;
use crate::process::Stage;
use crate::report::sample::tube::{GRIP, plates_outcome, tube_case, tube_outcome};

/// Left, top, width, height of the first rectangle or the box of a path that follows a text in the drawing.
fn after<'a>(svg: &'a str, text: &str) -> &'a str {
    let at = svg.find(text).unwrap_or_else(|| panic!("no {text}"));
    &svg[at..]
}

#[test]
fn a_tube_is_drawn_along_its_length_too() {
    let svg = drawn(&tube_case(), &tube_outcome());
    elements(&svg);
    let said = said(&svg);
    for words in [
        "Step 1, hold &quot;bare&quot;: section at 0.0 mm (0.000 in) from the gripped end",
        "Jaws 1 to 3 grip with their front edge: 98 percent of the force in the front quarter of their length, the back 12.0 mm",
        "chuck maker&#39;s rules",
        "Outside unrolled, held, before the cut: out-of-roundness along the length",
        "Bore unrolled, released: out-of-roundness along the length",
        "angle and length are not to one scale",
        "0.0050 mm (0.20 thou) from one figure of the key to the next",
        "Dashed: what a face may cover; heavy: the area within which it touches.",
        "Wall at 0.0 deg from end to end, the chuck on the left: there the bore is farthest from round",
        "deviations drawn \u{d7}",
        "force per length of jaw 1, over each twentieth of it, 23.0 N/mm",
        "jaw 1: up to 23.0 N/mm (131 lbf/in)",
    ] {
        assert!(said.contains(words), "{words}");
    }
    assert!(!svg.contains("NaN") && !svg.contains("inf"));
    assert!(svg.len() < 180_000, "{} bytes", svg.len());
    // the description says how it is gripped
    let about = svg
        .split("<desc")
        .nth(1)
        .unwrap()
        .split("</desc>")
        .next()
        .unwrap();
    assert!(about.contains("grip with their front edge"));
    assert_eq!(svg, drawn(&tube_case(), &tube_outcome()));
}

/// The pad of the wall's view ends where the jaws do, and the strip of force is high at that end alone.
#[test]
fn the_pad_and_its_force_stand_where_the_jaw_grips() {
    for flipped in [false, true] {
        let mut outcome = tube_outcome();
        let step = &mut outcome.steps[0];
        step.placing.flipped = flipped;
        let tube = step.tube.as_mut().unwrap();
        tube.flipped = flipped;
        if flipped {
            for g in &mut tube.grips {
                g.reach = g.reach.map(|z| 60.0 - z);
                g.reach.sort_by(f64::total_cmp);
                g.touching = g
                    .touching
                    .iter()
                    .map(|t| [60.0 - t[1], 60.0 - t[0]])
                    .collect();
                g.line_force.reverse();
                for p in &mut g.line_force {
                    p[0] = 60.0 - p[0];
                }
            }
        }
        let svg = drawn(&tube_case(), &outcome);
        elements(&svg);
        let wall = after(&svg, "from end to end, the chuck on the left");
        let pad = wall
            .split("<rect")
            .find(|r| attribute(r, "height") == Some("12"))
            .unwrap();
        // 1000 pixels the length, the chuck on the left whichever way the part lies
        assert!((number(pad, "x") - 124.0).abs() < 0.1);
        assert!((number(pad, "width") - 1000.0 * GRIP / 60.0).abs() < 0.1);
        let strip = wall
            .split("<path d=\"")
            .find(|p| p.contains("fill=\"#6b6256\""))
            .unwrap();
        let (mut at, mut top) = ([0.0, 0.0], [0.0, f64::INFINITY]);
        for step in strip
            .split('"')
            .next()
            .unwrap()
            .trim_end_matches('Z')
            .split(['M', 'l'])
            .skip(1)
        {
            let mut parts = step.split(' ').map(|v| v.parse::<f64>().unwrap());
            at = at.map(|v| v + parts.next().unwrap());
            if at[1] < top[1] {
                top = at;
            }
        }
        assert!(top[0] > 124.0 + 1000.0 * 17.0 / 60.0, "{top:?} {flipped}");
    }
}

#[test]
fn no_text_of_a_tube_stands_on_another_or_off_the_page() {
    let mut many = tube_outcome();
    let jaws = (0..36).map(|k| Contact {
        body: k + 1,
        angle_deg: 10.0 * k as f64,
        half_angle_deg: 3.0,
        ..tube_outcome().steps[0].held.contacts[0].clone()
    });
    many.steps[0].held.contacts = jaws.collect();
    let tube = many.steps[0].tube.as_mut().unwrap();
    tube.grips = vec![tube.grips[0].clone(); 36];
    let mut screws = tube_outcome();
    for k in 0..3 {
        let mut behind = screw(120.0 * f64::from(k));
        behind.body = k as usize + 1;
        screws.steps[0].held.contacts.push(behind);
    }
    let tube = screws.steps[0].tube.as_mut().unwrap();
    tube.grips = vec![tube.grips[0].clone(); 6];
    let mut uncut = tube_outcome();
    uncut.steps[0].cuts.clear();
    uncut.steps[0].cut = None;
    uncut.steps[0].after_cut = None;
    assert!(said(&drawn(&tube_case(), &screws)).contains("screw B1: up to 23.0 N/mm"));
    for outcome in [tube_outcome(), plates_outcome(), many, screws, uncut] {
        let mut case = tube_case();
        if outcome.steps[0].cuts.is_empty() {
            case.steps[0].cuts.clear();
        }
        nothing_overlaps(&drawn(&case, &outcome));
    }
}

#[test]
fn without_states_there_are_no_views() {
    let mut outcome = tube_outcome();
    let tube = outcome.steps[0].tube.as_mut().unwrap();
    tube.states.retain(|s| s.stage == Stage::Cut);
    let svg = drawn(&tube_case(), &outcome);
    elements(&svg);
    assert!(!svg.contains("unrolled, released"));
    // a part that comes out round has no scale to choose, and is drawn all the same
    let mut outcome = tube_outcome();
    for state in &mut outcome.steps[0].tube.as_mut().unwrap().states {
        for s in Surface::BOTH {
            state.displacement.get_mut(s).fill([0.0; 3]);
        }
    }
    let svg = drawn(&tube_case(), &outcome);
    elements(&svg);
    assert!(!svg.contains("NaN") && !svg.contains("inf"));
    assert!(!svg.contains("is farthest from round"));
}
