//! The wall under a tool, whatever the part, the hold and the force.

use proptest::prelude::*;
use ringwright_solver::process::{Options, ToolDip, run};
use ringwright_tests::cases::OPTIONS;
use ringwright_tests::files;

use crate::{jaws, ring, step};

fn dip(text: &str) -> ToolDip {
    let outcome = run(&files::read(text), &Options { ..OPTIONS }).unwrap();
    outcome.steps[0].cuts[0].tool_dip.clone().unwrap()
}

fn cut(surface: &str, diameter: f64, force: f64) -> String {
    step(Some((surface, diameter))) + &format!("radial_force = {force:?}\n")
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 12, ..ProptestConfig::default() })]

    /// The wall never comes towards the tool, and gives way further to a larger force. Turned with its jaws by a place of the tool, the part gives way as it did, a place further on.
    /// Truth: invariance; energy and turning
    #[test]
    fn the_wall_gives_way_with_the_force(
        bore in proptest::bool::ANY,
        force in 1.0..60.0_f64,
        oversize in 1.0..4.0_f64,
        places in 1..20_usize,
    ) {
        let (surface, diameter) = if bore { ("bore", 95.8) } else { ("outer", 104.2) };
        let turned = |angle: f64, force: f64| {
            dip(&(ring() + &jaws(52.5 + oversize, 800.0, angle) + &cut(surface, diameter, force)))
        };
        let at = turned(0.0, force);
        let most = at.dip.iter().fold(0.0_f64, |m, d| m.max(*d));
        // right under a pad the outside stays where the pad is, but for what its elements do not show of the dent
        let nothing = 1e-3 * most;
        prop_assert!(at.dip.iter().chain(&at.finished).all(|d| *d > -nothing));
        let more = turned(0.0, 1.3 * force);
        prop_assert!(at.dip.iter().zip(&more.dip).all(|(a, b)| *a < b + nothing));
        let other = turned(5.0 * places as f64, force);
        for k in 0..72 {
            let apart = at.dip[k] - other.dip[(k + places) % 72];
            // both divide their elements for themselves
            prop_assert!(apart.abs() < 0.01 * most, "{k}: {apart}");
        }
    }
}

/// A force of nothing leaves the same bits as a cut that says nothing of a force.
/// Truth: own earlier run; the same case without the key
#[test]
fn no_force_changes_no_bit() {
    for (surface, diameter) in [("bore", 96.0), ("outer", 104.0)] {
        let bare = ring() + &jaws(55.0, 800.0, 0.0) + &step(Some((surface, diameter)));
        let zero = bare.clone() + "radial_force = 0\n";
        let [a, b] = [bare, zero].map(|text| {
            let case = files::read(&text);
            files::json(&case, &run(&case, &OPTIONS).unwrap())
        });
        assert_eq!(a, b);
    }
}
