//! Holds of the trade against small independent models and independent answers.

use ringwright_tests::files::{self, number};

use crate::case_files::{lobes, ring, step};

fn jaw_forces(count: usize, force: f64) -> Vec<f64> {
    let text = format!(
        "{}{}[[hold.h]]\nscheme = \"jaws\"\ncount = {count}\nforce = {force:?}\nbored_diameter = 110.25\nwidth = 20\n{}",
        ring(),
        lobes("both", 2, 0.05).replace("angle = 0", "angle = 20"),
        step(None)
    );
    let json = files::solve(&text).json;
    (0..count)
        .map(|k| number(&json["steps"][0]["held"]["contacts"][k], "/force"))
        .collect()
}

/// A scroll closes all jaws alike, so a two-lobed blank, its lobe 20 degrees off jaw 1, loads them unevenly. Four jaws feel the lobe
/// itself, three only what the blank's shift to its place leaves of it. Forces by an independent small model (thin lobed ring,
/// point contacts, one displacement), which gives whole newtons.
/// Truth: other program; a small model of a thin ring on points
#[test]
fn self_centring_jaws_share_a_two_lobed_blank_unevenly() {
    for (found, wanted) in [
        (jaw_forces(4, 300.0), vec![331.0, 269.0, 331.0, 269.0]),
        (jaw_forces(3, 300.0), vec![310.0, 288.0, 302.0]),
    ] {
        for (f, w) in found.iter().zip(&wanted) {
            assert!((f - w).abs() <= 1.0, "{found:?} {wanted:?}");
        }
        let mean = found.iter().sum::<f64>() / found.len() as f64;
        assert!((mean - 300.0).abs() < 1e-6, "{mean}");
    }
}

/// A wall cut from 3 to 2.5 mm in flat pads, which touch on a line, so lightly that the cut leaves an even wall. A power chuck goes on pressing while the wall gives: what springs back is what its force
/// does to the finished wall, `(R' / R)^3 (t / t')^3` times what it did to the stock (bending of a thin ring; mean radii 58.5 and 58.75). A scroll keeps
/// its position, so what springs back is what was squeezed in. The two results check each other.
/// Truth: analytical
#[test]
fn what_a_chuck_keeps_decides_what_springs_back() {
    let released_over_held = |after: &str| {
        let text = format!(
            "{}[[hold.h]]\nscheme = \"jaws\"\ncount = 3\nforce = 10\nwidth = 20\nafter_clamping = \"{after}\"\n{}",
            files::ring(57.0, 60.0, 70_000.0, 0.33, 20.0),
            step(Some(("bore", 57.5)))
        );
        let json = files::solve(&text).json;
        let step = &json["steps"][0];
        number(step, "/released/bore/roundness_least_squares")
            / number(step, "/held/bore/roundness_least_squares")
    };
    let (force, position) = (
        released_over_held("keeps-force"),
        released_over_held("keeps-position"),
    );
    let thin = (58.75_f64 / 58.5 * 3.0 / 2.5).powi(3);
    assert!((force / thin - 1.0).abs() < 0.02, "{force} {thin}");
    assert!((position - 1.0).abs() < 0.02, "{position}");
}

/// Crowned jaws on a lobed blank, on an equal mesh so coarse that each jaw touches in one node: the search for what touches passes a set that has let one jaw go, which
/// cannot balance the forces and must not be taken for a loose part.
/// Truth: analytical; by construction of the input
#[test]
fn a_sound_hold_on_a_coarse_mesh_is_not_called_loose() {
    for force in [0.1, 1.0, 10.0, 100.0] {
        let text = format!(
            "{}{}[mesh]\naround = 720\nthrough = 4\n[[hold.h]]\nscheme = \"jaws\"\ncount = 3\nforce = {force:?}\ncrown_radius = 20\nwidth = 10\n{}",
            ring(),
            lobes("outer", 2, 0.05).replace("angle = 0", "angle = 10"),
            step(None)
        );
        let json = files::solve(&text).json;
        for k in 0..3 {
            let found = number(&json["steps"][0]["held"]["contacts"][k], "/force");
            assert!((found / force - 1.0).abs() < 0.1, "{force}: {found}");
        }
    }
}

/// Jaws in the bore whose edges stand on the first line of the mesh: no pin may stand where a pad presses.
/// Truth: analytical; equal jaws, each with the force asked
#[test]
fn jaws_in_the_bore_press_wherever_they_stand() {
    for first in [0.0, 53.130_102_354, 160.221] {
        let text = format!(
            "{}[[hold.h]]\nscheme = \"jaws\"\ncount = 2\nforce = 250\narc = 106.260204708\nside = \"inside\"\ncrown_radius = 170\nfirst_angle = {first:?}\n{}",
            ring(),
            step(None)
        );
        let json = files::solve(&text).json;
        for k in 0..2 {
            let found = number(&json["steps"][0]["held"]["contacts"][k], "/force");
            assert!((found - 250.0).abs() < 0.1, "{first}: {found}");
        }
    }
}

/// One hold by what each shop knows of its chuck, in the units it has: 450 lbf a jaw, 2001.7 N, from half the torque at which 900 lbf were measured, from a
/// drawbar of 675 lbf that is doubled, from 100 psi on a piston of 6.75 in2 doubled, and by the scroll: 180 in-lb, a fifth of it at the
/// jaws, the key three times for a turn of half an inch, `180 * 0.2 * 2 pi * 3 / 0.5 = 1357` lbf together. A plain torque in a file of inches is in pound-force inches.
/// Truth: analytical; each force worked out by hand
#[test]
fn a_chuck_by_what_the_shop_knows_of_it() {
    let lbf = 4.448_221_615_260_5;
    let bore = (4.0 * 6.75 / std::f64::consts::PI).sqrt();
    let by_scroll = 180.0 * 0.2 * std::f64::consts::TAU * 3.0 / 0.5 / 3.0;
    for (grip, wanted) in [
        (
            "key_torque = \"15 ft-lb\"\ncalibration_torque = \"30 ft-lb\"\ncalibration_force = 900"
                .to_owned(),
            450.0,
        ),
        (
            "key_torque = 180\ncalibration_torque = \"30 ft-lb\"\ncalibration_force = 900"
                .to_owned(),
            450.0,
        ),
        ("drawbar_force = 675\ndrawbar_ratio = 2".to_owned(), 450.0),
        (
            format!("air_pressure = 100\ncylinder_diameter = {bore:?}\ndrawbar_ratio = 2"),
            450.0,
        ),
        (
            "key_torque = 180\nscroll_lead = 0.5\nkey_gear_ratio = 3\nscroll_efficiency = 0.2"
                .to_owned(),
            by_scroll,
        ),
    ] {
        let text = format!(
            "units = \"inch\"\n[part]\nouter_diameter = 5\nbore_diameter = 4.5\nlength = 1\n\
             material = {{ young_modulus = 15e6, poisson_ratio = 0.34 }}\n\
             [[hold.h]]\nscheme = \"jaws\"\ncount = 3\nwidth = 0.5\nbored_diameter = 5.05\n{grip}\n{}",
            step(None)
        );
        let json = files::solve(&text).json;
        let force = number(&json["steps"][0]["held"]["contacts"][0], "/force");
        assert!(
            (force / (wanted * lbf) - 1.0).abs() < 1e-6,
            "{grip}: {force}"
        );
        let assumed = json["assumed"].to_string();
        assert!(assumed.contains("force worked out from"), "{assumed}");
    }
}
