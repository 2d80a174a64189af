//! Holding, cutting and releasing in sequence.

use std::f64::consts::TAU;

use ringwright_solver::geometry::Surface;
use ringwright_solver::process::{Outcome, PROFILE_POINTS, Stage};
use ringwright_tests::files::{self, harmonic, number};

use crate::{jaws, ring, roundness, step};

fn solve(text: &str) -> Outcome {
    files::solve(text).outcome
}

/// A power chuck keeps its force: the ring gives way as metal goes, and more of it springs back. A scroll keeps its position: the ring keeps the shape it was squeezed to
/// and what springs back is the held out-of-roundness, to a few percent.
/// Truth: invariance; released against held
#[test]
fn a_scroll_chuck_leaves_what_it_squeezed_in() {
    let case = |after: &str| {
        ring()
            + &jaws(55.125, 1000.0, 0.0)
            + &format!("after_clamping = \"{after}\"\n")
            + &step(Some(("bore", 95.6)))
    };
    let (force, position) = (solve(&case("keeps-force")), solve(&case("keeps-position")));
    let [_, held, _, by_force] = roundness(&force.steps[0]);
    let [_, same, _, by_position] = roundness(&position.steps[0]);
    // the meshes follow the contact on the cut part, which differs
    assert!((held / same - 1.0).abs() < 1e-4);
    // independent calculation of the same cut: 0.26359 held, 0.32360 released by force
    assert!((by_force / 0.323_595_12 - 1.0).abs() < 2e-3, "{by_force}");
    assert!(
        (by_position / held - 1.0).abs() < 0.03,
        "{by_position} {held}"
    );
}

/// In the held equilibrium of the cut part everything that the tool reached lies on its circle about the spindle axis, also when that is off the part's axis and only some
/// is reached; what it did not reach is as it was.
/// Truth: analytical
#[test]
fn the_cut_surface_lies_on_the_tool_s_circle() {
    let mut ran = 0;
    for (offset, diameter, whole) in [(0.0, 95.6, true), (0.1, 95.8, true), (0.2, 95.2, false)] {
        let text = ring()
            + &jaws(55.125, 1000.0, 0.0)
            + &format!(
                "[[step]]\nhold = \"h\"\nspindle_offset = {{ distance = {offset:?}, angle = 40.0 }}\n\
                 [[step.cut]]\nsurface = \"bore\"\ndiameter = {diameter:?}\n"
            );
        let outcome = solve(&text);
        let step = &outcome.steps[0];
        let cut = &step.cuts[0];
        assert_eq!(cut.cleaned_up == 1.0, whole, "{cut:?}");
        let distances = &step.cut.as_ref().unwrap().bore;
        let mut reached = 0;
        for (k, distance) in distances.iter().enumerate() {
            let taken = step.released.bore[k] - step.stock.bore[k];
            assert!(taken >= -1e-9);
            // the outline is stopped at a thousandth of its out-of-roundness, and curved between nodes
            if taken > 1e-6 {
                reached += 1;
                assert!((distance - 0.5 * diameter).abs() < 5e-4, "{k}: {distance}");
            } else {
                assert!(*distance > 0.5 * diameter - 5e-4, "{k}: {distance}");
            }
        }
        // the profile lies on the nodes of the body that is left; a kink between two readings it cannot show
        let left = step.fields.iter().find(|f| f.stage == Stage::Released);
        let left = &left.filter(|_| whole).map(|f| &f.mesh);
        for n in left.iter().flat_map(|m| m.boundary(Surface::Bore)) {
            let [x, y] = left.unwrap().coords()[n];
            let at = y.atan2(x).rem_euclid(TAU) / TAU * PROFILE_POINTS as f64;
            let (k, part) = (at.floor() as usize, at.fract());
            let radius = |k: usize| step.released.bore[k % PROFILE_POINTS];
            let between = (1.0 - part) * radius(k) + part * radius(k + 1);
            assert!((x.hypot(y) - between).abs() < 2e-5, "{at}: {between}");
        }
        let share = f64::from(reached) / PROFILE_POINTS as f64;
        assert!((share - cut.cleaned_up).abs() < 3e-3, "{share} {cut:?}");
        ran += 1;
    }
    assert_eq!(ran, 3);
}

/// The second clamping starts from what the first one left, and clamping again without a cut changes nothing.
/// Truth: invariance
#[test]
fn a_step_starts_from_what_the_last_one_left() {
    let text = ring()
        + &jaws(55.125, 1000.0, 0.0)
        + &step(Some(("outer", 104.4)))
        + &step(None)
        + &step(Some(("bore", 95.6)));
    let outcome = solve(&text);
    assert_eq!(outcome.steps.len(), 3);
    for pair in outcome.steps.windows(2) {
        for (a, b) in [
            (&pair[0].released.outer, &pair[1].stock.outer),
            (&pair[0].released.bore, &pair[1].stock.bore),
        ] {
            // each step has a mesh of its own, on which the outline before is sampled
            for (x, y) in a.iter().zip(b) {
                assert!((x - y).abs() < 1e-6, "{x} {y}");
            }
        }
    }
    assert_eq!(outcome.steps[1].released, outcome.steps[1].stock);
}

/// What is left depends on the last circle alone where it cleans up everything, not on how many passes led there; a pass to the same circle again finds nothing.
/// Truth: invariance
#[test]
fn passes_to_one_circle_leave_one_shape() {
    let cut =
        |diameter: f64| format!("[[step.cut]]\nsurface = \"bore\"\ndiameter = {diameter:?}\n");
    let start = ring() + &jaws(55.125, 1000.0, 0.0) + &step(None);
    let one = solve(&(start.clone() + &cut(95.9)));
    let three = solve(&(start + &cut(95.5) + &cut(95.7) + &cut(95.9)));
    assert_eq!(three.steps[0].cuts.len(), 3);
    for (x, y) in one.steps[0]
        .released
        .bore
        .iter()
        .zip(&three.steps[0].released.bore)
    {
        assert!((x - y).abs() < 5e-4, "{x} {y}");
    }
    let (a, b) = (roundness(&one.steps[0])[3], roundness(&three.steps[0])[3]);
    assert!((a / b - 1.0).abs() < 2e-3, "{a} {b}");
}

/// The force that is said to meet the limit does so when the case is run with it, and gives the roundness stated; one percent more misses the limit. Jaws bored
/// oversize, so the roundness is not in proportion to the force.
/// Truth: own earlier run; the advice against a run that follows it
#[test]
fn the_backed_off_force_meets_the_limit() {
    let limit = 0.1;
    let at = |scale: f64| {
        let text = ring()
            + &format!("[tolerance]\nroundness = {limit:?}\n")
            + &jaws(55.125, 1000.0, 0.0)
            + &format!(
                "[[step]]\nhold = \"h\"\nforce_scale = {scale:?}\n[[step.cut]]\nsurface = \"bore\"\ndiameter = 95.6\n"
            );
        let solved = files::solve(&text);
        let zone = number(
            &solved.json,
            "/steps/0/released/bore/roundness_minimum_zone",
        );
        (solved.outcome, zone)
    };
    let (full, zone) = at(1.0);
    let [advice] = full.advice.as_slice() else {
        panic!("{:?}", full.advice);
    };
    let back = advice.whole_hold.as_ref().unwrap();
    assert!((back.forces[0].each[1] / (1000.0 * back.factor) - 1.0).abs() < 1e-12);
    let (good, met) = at(back.factor);
    // the coarser of the two meshes is good enough to look for a force
    assert!((met / back.roundness - 1.0).abs() < 2e-3, "{met} {back:?}");
    assert!(back.roundness <= limit && met <= limit, "{met} {back:?}");
    assert!(good.advice.is_empty());
    assert!(at(back.factor + 0.02).1 > limit);
    assert!(
        (zone * back.factor / met - 1.0).abs() > 5e-3,
        "{zone} {met} {back:?}"
    );
}

/// Six loads leave a thin ring 9.55 times rounder than three of the same force (thin-ring formulas: Timoshenko, *Strength of Materials*, part II, from memory; 0.030195 and 0.0031616 of
/// `W R^3 / (E I)` from least to largest radius).
/// Truth: analytical
#[test]
fn six_loads_leave_a_thin_ring_rounder_than_three() {
    let spread = |count: u32, force: f64| {
        let text = files::ring(49.75, 50.25, 70_000.0, 0.33, 20.0)
            + &format!(
                "[[hold.h]]\nscheme = \"pressure-patches\"\ncount = {count}\nhalf_angle = 0.2\nforce = {force}\n"
            )
            + &step(None);
        roundness(&solve(&text).steps[0])[1]
    };
    let (three, six) = (spread(3, 0.2), spread(6, 0.2));
    assert!((three / six / 9.55 - 1.0).abs() < 0.01, "{three} {six}");
    // at the same total force each of the six presses half as hard
    let halved = spread(6, 0.1);
    assert!(
        (three / halved / 19.1 - 1.0).abs() < 0.01,
        "{three} {halved}"
    );
    let unit = 0.2 * 50_f64.powi(3) / (70_000.0 * 20.0 * 0.5_f64.powi(3) / 12.0);
    assert!((three / (0.030_195 * unit) - 1.0).abs() < 0.005, "{three}");
}

/// Pads that carry on edges 60 degrees apart leave no third lobe at all (load shape `cos(3 * 30 deg) = 0` of the thin ring; derived), where pads of 20 mm leave a
/// tenth of a millimetre.
/// Truth: analytical
#[test]
fn bearing_lines_sixty_degrees_apart_leave_no_third_lobe() {
    let lobes = |arc: f64| {
        let text = ring()
            + &format!(
                "[[hold.h]]\nscheme = \"jaws\"\ncount = 3\nforce = 1000.0\nbored_diameter = 104.0\narc = {arc:?}\n"
            )
            + &step(None);
        let solved = files::solve(&text);
        let held = &solved.json["steps"][0]["held"];
        assert_eq!(held["contacts"][0]["arcs"].as_array().unwrap().len(), 2);
        // the edge that carries more has half of the jaw's force or a little over, on 20 mm
        let edge = number(held, "/contacts/0/edge_force_per_length") * 20.0 / 500.0;
        assert!((edge - 1.0).abs() < 1e-2, "{edge}");
        harmonic(&held["bore"], 3)
    };
    let (narrow, wide) = (lobes(21.96), lobes(60.0));
    assert!(narrow < -0.1, "{narrow}");
    assert!(wide.abs() < 0.01 * narrow.abs(), "{wide} {narrow}");
}
