//! The section engine against the exact series: nothing in common but the material and the gap's definition.

use std::f64::consts::{PI, TAU};

use ringwright_plugins::PressurePatches;
use ringwright_solver::case::FixedMesh;
use ringwright_solver::geometry::Surface;
use ringwright_solver::metrology::{Profile, least_squares_circle};
use ringwright_solver::process::{Outcome, run};
use ringwright_solver::scheme::{Face, Value, Values};
use ringwright_tests::cases::{self, OPTIONS, RING};
use ringwright_tests::oracle;
use ringwright_tests::oracle::series::{Annulus, RadialLoad, Response};

fn held(outcome: &Outcome, surface: Surface) -> f64 {
    let radii = outcome.steps[0].held.shape.get(surface);
    least_squares_circle(&Profile::equal(radii)).roundness
}

/// Truth: analytical; the series, summed
#[test]
fn patches_agree_with_the_series() {
    for (count, half_angle) in [(2, 0.1), (3, 0.08), (6, 0.15)] {
        let mut case = cases::patches(&RING, count, half_angle, 500.0);
        case.accuracy = 1e-4;
        let outcome = run(&case, &OPTIONS).unwrap();
        let exact = oracle::patches(&RING, count, half_angle, 500.0);
        for surface in Surface::BOTH {
            let (found, exact) = (held(&outcome, surface), *exact.get(surface));
            assert!(
                (found / exact - 1.0).abs() < 1e-4,
                "{count} {surface:?}: {found} {exact}"
            );
        }
    }
}

/// Patches in the bore press outwards on the metal; both surfaces against the series.
/// Truth: analytical; the series, summed
#[test]
fn patches_in_the_bore_agree_with_the_series() {
    let (half_angle, force) = (0.2_f64, 500.0);
    let mut values = Values::from([
        ("count", Value::Number(3.0)),
        ("force", Value::Number(force)),
        ("half_angle", Value::Number(half_angle.to_degrees())),
    ]);
    values.set("surface", Value::Text("bore".to_owned()));
    let case = cases::hold(cases::ring(&RING), PressurePatches, values);
    let held = &run(&case, &OPTIONS).unwrap().steps[0].held;
    let loads = RadialLoad::ring_of(3, Surface::Bore, half_angle, force);
    let response = Response::new(&RING, &loads, 2000);
    for surface in Surface::BOTH {
        let circle = response.circle(RING.radius(surface));
        let exact = |k: usize| circle.at(TAU * k as f64 / 360.0).radial_displacement;
        let largest = (0..360).map(|k| exact(k).abs()).fold(0.0, f64::max);
        assert!(exact(0) > 0.0);
        for (k, u) in held.displacement.get(surface).iter().enumerate() {
            assert!(
                (u - exact(k)).abs() < 2e-3 * largest,
                "{surface:?} {k}: {u} {}",
                exact(k)
            );
        }
    }
}

/// Edge contact, middle contact, both at once, full contact and a flat pad: out-of-roundness and approach inside the engine's own estimate or 1e-4,
/// arcs to a tenth of their length.
/// Truth: other program; the series oracle of the tests
#[test]
fn jaws_agree_with_the_series() {
    let mut patterns = Vec::new();
    for (ri, half_angle, face, force) in [
        (47.5, 0.1916, Face::Concave { radius: 52.5 }, 1000.0),
        (47.5, 0.1916, Face::Concave { radius: 55.125 }, 1000.0),
        (49.8, 0.2970, Face::Concave { radius: 53.0 }, 130.0),
        (47.5, 0.9600, Face::Concave { radius: 52.5 }, 2000.0),
        (47.5, 0.1916, Face::Flat, 1000.0),
    ] {
        let set_up = oracle::Jaws {
            annulus: Annulus {
                inner_radius: ri,
                ..RING
            },
            count: 3,
            surface: Surface::Outer,
            half_angle,
            face,
            force,
        };
        let exact = set_up.solve();
        let mut case = cases::jaws(&set_up);
        case.accuracy = 1e-3;
        let outcome = run(&case, &OPTIONS).unwrap();
        let estimate = outcome.steps[0].estimate.relative_error.unwrap().max(1e-4);
        for surface in Surface::BOTH {
            let (found, exact) = (held(&outcome, surface), *exact.roundness.get(surface));
            assert!(
                (found / exact - 1.0).abs() < estimate,
                "{face:?} {surface:?}: {found} {exact}, estimate {estimate}"
            );
        }
        let contact = &outcome.steps[0].held.contacts[0];
        assert!(
            (contact.approach / exact.approach - 1.0).abs() < 3e-3,
            "{face:?}: {} {}",
            contact.approach,
            exact.approach
        );
        // the same arcs on the positive half
        let found: Vec<[f64; 2]> = contact
            .arcs
            .iter()
            .filter(|a| a[1] > 0.0)
            .map(|a| [a[0].max(0.0) * PI / 180.0, a[1] * PI / 180.0])
            .collect();
        assert_eq!(
            found.len(),
            exact.arcs.len(),
            "{face:?}: {found:?} {:?}",
            exact.arcs
        );
        for (found, exact) in found.iter().zip(&exact.arcs) {
            let length = found[1] - found[0];
            assert!(
                (length / exact.length() - 1.0).abs() < 0.1,
                "{face:?}: {found:?} {exact:?}"
            );
        }
        patterns.push((exact.arcs.len(), exact.arcs[0].start == 0.0));
    }
    // the set covers what it says
    assert!(
        patterns.contains(&(1, false))
            && patterns.contains(&(1, true))
            && patterns.iter().any(|p| p.0 == 2),
        "{patterns:?}"
    );
}

/// Three jaws 20 wide, bored to a radius (mm), on the ring.
fn bored_jaws(radius: f64, force: f64) -> oracle::Jaws {
    oracle::Jaws {
        annulus: RING,
        count: 3,
        surface: Surface::Outer,
        half_angle: 0.1916,
        face: Face::Concave { radius },
        force,
    }
}

/// On elements ten times as wide as the zone at a pad's edge the line force there still puts the load where it belongs: out-of-roundness to 0.3 percent, approach to
/// 0.8 percent of the series. Pressure alone would lie a third of an element off the edge, and miss by three times as much.
/// Truth: other program; the series oracle of the tests
#[test]
fn coarse_meshes_carry_at_pad_edges() {
    for radius in [52.5, 52.0] {
        let set_up = bored_jaws(radius, 1000.0);
        let exact = set_up.solve();
        let mut case = cases::jaws(&set_up);
        case.mesh = Some(FixedMesh {
            around: 360,
            through: 4,
        });
        let outcome = run(&case, &OPTIONS).unwrap();
        for surface in Surface::BOTH {
            let (found, exact) = (held(&outcome, surface), *exact.roundness.get(surface));
            assert!(
                (found / exact - 1.0).abs() < 3e-3,
                "{radius}: {found} {exact}"
            );
        }
        let found = outcome.steps[0].held.contacts[0].approach;
        assert!(
            (found / exact.approach - 1.0).abs() < 8e-3,
            "{radius}: {found}"
        );
    }
}

/// Jaws bored to the part and ever smaller touch in zones of 3 percent down to 0.2 percent of the wall: their *widths* agree with the series to 5 percent, and
/// with them the approach, at the default accuracy. A tolerance on where a zone ends would accept a zone of no width.
/// Truth: other program; the series oracle of the tests
#[test]
fn zones_at_pad_edges_have_the_width_of_the_series() {
    let mut widths = Vec::new();
    for (radius, force) in [(52.5, 1000.0), (52.0, 1000.0), (50.0, 200.0)] {
        let set_up = bored_jaws(radius, force);
        let exact = set_up.solve();
        let outcome = run(&cases::jaws(&set_up), &OPTIONS).unwrap();
        assert_eq!(exact.arcs.len(), 1);
        for contact in &outcome.steps[0].held.contacts {
            assert_eq!(contact.arcs.len(), 2);
            for [start, end] in &contact.arcs {
                let (found, exact) = ((end - start).to_radians(), exact.arcs[0].length());
                assert!(
                    (found / exact - 1.0).abs() < 0.05,
                    "{radius}: {found} {exact}"
                );
            }
            let (found, exact) = (contact.approach, exact.approach);
            assert!(
                (found / exact - 1.0).abs() < 5e-4,
                "{radius}: {found} {exact}"
            );
        }
        widths.push(exact.arcs[0].length() * 52.5 / 5.0);
    }
    assert!(
        widths[0] > 0.02 && widths[2] < 0.002 && widths.len() == 3,
        "{widths:?}"
    );
}
