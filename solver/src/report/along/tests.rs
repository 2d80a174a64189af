#![allow(clippy::unwrap_used)]
use super::*;
use crate::case::Origin;
use crate::process::Outcome;
use crate::report::document::{Program, ResultDocument, document};
use crate::report::sample::tube::{plates_outcome, tube_case, tube_outcome};
use crate::report::sample::{sample_case, sample_outcome};

const MM: Units = Units::new(false);

fn built(outcome: &Outcome) -> ResultDocument {
    document(
        &tube_case(),
        &Origin::default(),
        outcome,
        &Program::default(),
    )
    .unwrap()
}

fn said(outcome: &Outcome) -> Vec<String> {
    let case = tube_case();
    lines(&case, &case.steps[0], &built(outcome).steps[0], MM)
}

#[test]
fn stations_stand_in_a_table() {
    let document = built(&tube_outcome());
    let table = table(&document.steps[0], MM);
    assert_eq!(table.len(), 4 + 4, "{table:#?}");
    assert!(table[0].ends_with("positions from the gripped end"));
    assert_eq!(table[3].matches("mm (thou)").count(), 4);
    assert!(table[4].starts_with("0.0 (0.000)"), "{}", table[4]);
    assert!(table[4].contains("0.040 (1.6)"), "{}", table[4]);
    assert!(table[7].starts_with("60.0 (2.362)"), "{}", table[7]);
    assert!(table[7].contains("0.0080 (0.31)"), "{}", table[7]);
    assert!(table.iter().all(|l| l.chars().count() <= 96));
    let inch = super::table(&document.steps[0], Units::new(true));
    assert!(inch[3].starts_with("in (mm)") && inch[3].contains("thou (mm)"));
    assert!(inch[7].starts_with("2.362 (60.0)"), "{}", inch[7]);
    // more stations than rows: both ends stay
    let mut many = tube_outcome();
    let tube = many.steps[0].tube.as_mut().unwrap();
    for k in 1..20 {
        let mut next = tube.stations[0].clone();
        next.z = f64::from(k);
        tube.stations.insert(k as usize, next);
    }
    let long = super::table(&built(&many).steps[0], MM);
    assert_eq!(long.len(), 4 + 8 + 1);
    assert!(long[4].starts_with("0.0 ") && long[11].starts_with("60.0 "));
    assert_eq!(long[12], "and 15 more in result.json and stations.csv");
    // nothing of a slice
    let slice = document_of_slice();
    assert!(super::table(&slice.steps[0], MM).is_empty() && heading(&slice.steps[0], MM).is_none());
}

fn document_of_slice() -> ResultDocument {
    document(
        &sample_case(),
        &Origin::default(),
        &sample_outcome(),
        &Program::default(),
    )
    .unwrap()
}

#[test]
fn the_section_is_named() {
    let document = built(&tube_outcome());
    assert_eq!(
        heading(&document.steps[0], MM).unwrap(),
        "Shapes and wall below are of the section at 0.0 mm (0.000 in) from the gripped end, the most out of round in what \
         is cut; forces are of the whole part, and contact is told wherever along it"
    );
    let mut outcome = tube_outcome();
    outcome.steps[0].tube.as_mut().unwrap().flipped = true;
    let at = section(&built(&outcome).steps[0], MM).unwrap();
    assert!(at.ends_with("from the end away from the chuck"), "{at}");
    let at = section(&built(&plates_outcome()).steps[0], MM).unwrap();
    assert!(at.ends_with("from the headstock end"), "{at}");
    // the limit too says where
    let says = document.verdict.says.join("\n");
    assert!(
        says.contains("roundness at 0.0 mm (0.000 in) from the gripped end after release"),
        "{says}"
    );
}

#[test]
fn a_front_edge_grip_is_called_one() {
    let outcome = tube_outcome();
    let lines = said(&outcome);
    assert_eq!(
        lines[0],
        "jaws 1 to 3 grip with their front edge: 98 percent of the force in the front quarter of their length, the back 12.0 mm (0.472 in) \
         stands clear; such a grip pulls out easily"
    );
    assert!(lines[1].contains("not checked") && lines[1].contains("chuck maker's rules"));
    // the same after the cut: not told twice
    assert!(!lines.iter().any(|l| l.starts_with("after the cut")));
    let cautions = built(&outcome).cautions;
    let found = cautions.iter().filter(|c| c.contains("pulls out easily"));
    let found: Vec<_> = found.collect();
    assert_eq!(found.len(), 1, "{cautions:#?}");
    assert!(found[0].starts_with("step 1: jaws 1 to 3") && found[0].contains("competent practice"));
}

#[test]
fn other_grips_are_told_as_they_are() {
    let with = |change: fn(&mut crate::process::GripAlong)| {
        let mut outcome = tube_outcome();
        let tube = outcome.steps[0].tube.as_mut().unwrap();
        tube.grips.iter_mut().for_each(change);
        said(&outcome)
    };
    let whole = with(|g| {
        g.touching = vec![[0.0, 20.0]];
        g.front_quarter = 0.25;
    });
    assert_eq!(
        whole[0],
        "jaws 1 to 3 grip over their whole length: 25 percent of the force in the front quarter of their length"
    );
    assert!(whole[1].starts_with("after the cut, jaws 1 to 3 grip with their front edge"));
    let uneven = with(|g| {
        g.touching = vec![[0.0, 20.0]];
        g.front_quarter = 0.6;
    });
    assert!(
        uneven[0].contains("touch from end to end, but with 60 percent"),
        "{}",
        uneven[0]
    );
    let back = with(|g| {
        g.touching = vec![[0.0, 15.0]];
        g.front_quarter = 0.0;
    });
    assert!(
        back[0].contains("with a part of their length: 0 percent"),
        "{}",
        back[0]
    );
    assert!(
        back[0].ends_with("the front 5.0 mm (0.197 in) stands clear"),
        "{}",
        back[0]
    );
    let none = with(|g| {
        g.touching = Vec::new();
        g.centroid = None;
    });
    assert_eq!(
        none[0],
        "jaws 1 to 3 do not press anywhere along their length"
    );
}

/// Turned end for end the gripped end is the far one, and the front of the jaws the side of the lower numbers.
#[test]
fn the_front_of_a_part_turned_end_for_end_is_at_the_lower_numbers() {
    let mut outcome = tube_outcome();
    let tube = outcome.steps[0].tube.as_mut().unwrap();
    tube.flipped = true;
    for g in &mut tube.grips {
        g.reach = [40.0, 60.0];
        g.touching = vec![[40.0, 48.0]];
    }
    assert!(said(&outcome)[0].contains("with their front edge"));
    assert!(said(&outcome)[0].contains("the back 12.0 mm"));
}

#[test]
fn what_a_cut_left_is_told_on_diameter_and_radius() {
    let lines = said(&tube_outcome());
    let line = lines
        .iter()
        .find(|l| l.starts_with("the bore along"))
        .unwrap();
    for words in [
        "after release: taper 0.0040 mm (0.16 thou) on the diameter, larger at 0.0 mm (0.000 in) than at 60.0 mm (2.362 in)",
        "mean diameter 0.0012 mm",
        "larger in the middle than at the ends",
        "radius varies by 0.043 mm (1.7 thou) in all, lobes included, about the best coaxial cylinder",
    ] {
        assert!(line.contains(words), "{line}\n{words}");
    }
    let mut outcome = tube_outcome();
    let cut = &mut outcome.steps[0].tube.as_mut().unwrap().along[0];
    cut.reach = [0.0, 25.0];
    (cut.taper, cut.barrel) = (0.0, -0.002);
    let lines = said(&outcome);
    let line = lines
        .iter()
        .find(|l| l.starts_with("the bore along"))
        .unwrap();
    assert!(
        line.contains("from 0.0 mm (0.000 in) to 25.0 mm (0.984 in)"),
        "{line}"
    );
    assert!(line.contains("no taper; mean diameter 0.0020 mm"), "{line}");
    assert!(line.contains("smaller in the middle"), "{line}");
}

#[test]
fn plates_bulge_use_up_friction_and_are_cautioned_of() {
    let mut outcome = plates_outcome();
    let cut = said(&outcome).join("\n");
    assert!(
        cut.contains("between the plates the outside bulges: turned true there"),
        "{cut}"
    );
    outcome.steps[0].cuts.clear();
    let all = said(&outcome).join("\n");
    for words in [
        "between the plates outside and bore bulge: turned true there, the middle comes out 0.011 mm (0.4 thou) smaller than the ends on the \
         diameter, once released",
        "the plates press on the faces with 18.1 MPa (2.63 ksi) on average, and come 0.019 mm (0.7 thou) closer together",
        "holding the ends uses up 0.061 of the friction coefficient of 0.15 at each face",
        "one face takes a torque of 104 N m (76.7 ft-lb) before it slips, with what holding the ends uses up taken off; the cutting torque is \
         not checked against it",
        "caution: the wall could buckle from 310000 N (70000 lbf) on",
        "; yield comes first, at 140000 N (31000 lbf)",
        "nothing locates the part across its axis: it can shift sideways, nothing but friction at the ends holds it",
    ] {
        assert!(all.contains(words), "{all}\n{words}");
    }
    let mut used_up = plates_outcome();
    let plates = used_up.steps[0]
        .tube
        .as_mut()
        .and_then(|t| t.plates.as_mut());
    plates.unwrap().torque = Some(1e-10);
    let words =
        "holding the ends uses up all the friction of one face: it takes no torque before it slips";
    assert!(said(&used_up).iter().any(|l| l == words));
    let mut slippery = plates_outcome();
    slippery.steps[0].cuts.clear();
    let tube = slippery.steps[0].tube.as_mut().unwrap();
    let plates = tube.plates.as_mut().unwrap();
    (plates.sliding, plates.friction, plates.torque) = (true, None, None);
    (plates.located, plates.buckling) = (true, Some([1.1e5, 1.5e4]));
    for u in plates.bulge.outer.iter_mut().chain(&mut plates.bulge.bore) {
        u[1] = 0.003;
    }
    let all = said(&slippery).join("\n");
    for words in [
        "outside and bore grow evenly, by 0.0060 mm (0.24 thou) on the diameter: size, not shape",
        "the ends are taken to slide without friction",
        "not known without a friction coefficient",
        "THE FORCE ASKED FOR IS NO LESS; that is before it yields all through",
    ] {
        assert!(all.contains(words), "{all}\n{words}");
    }
    assert!(!all.contains("shift sideways"));
}
