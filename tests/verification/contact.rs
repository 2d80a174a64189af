//! The contact oracle against independent calculations, closed forms and limits.
//!
//! "Independent calculation": values of a reference set, worked out with another exact-series contact solver and an own finite-element program;
//! the tolerances are the set's own.

use ringwright_solver::geometry::Surface;
use ringwright_solver::scheme::Face;
use ringwright_tests::oracle::series::Annulus;
use ringwright_tests::oracle::{Answer, Jaws};
use ringwright_tests::random::Random;
use ringwright_tests::reference::{self, Output, Reference};
use std::f64::consts::PI;

/// Cases of three rigid jaws: edge, middle, middle-and-edge and full contact.
pub(super) const JAWS: [&str; 4] = ["S3a", "S3c", "S3g", "S3l"];

/// The inputs of a case, in the order that [`jaws`] takes them.
fn inputs(case: &Reference) -> [f64; 8] {
    ["ri", "ro", "E", "nu", "b", "w", "rho", "F"].map(|key| case.input(key))
}

/// Three bored jaws from `[ri, ro, E, nu, b, width, rho, force]`.
fn jaws([ri, ro, e, nu, b, width, radius, force]: [f64; 8]) -> Jaws {
    Jaws {
        annulus: Annulus {
            inner_radius: ri,
            outer_radius: ro,
            young_modulus: e,
            poisson_ratio: nu,
            length: b,
        },
        count: 3,
        surface: Surface::Outer,
        half_angle: (width / (2.0 * ro)).asin(),
        face: Face::Concave { radius },
        force,
    }
}

fn read(answer: &Answer, name: &str, count: u32, ro: f64) -> f64 {
    let middle = PI / f64::from(count);
    let at = |surface, t: f64| answer.displacements(surface, &[t])[0];
    let arc = |name: &str, start: usize| -> usize { name[start..=start].parse().unwrap() };
    match name {
        "approach" => answer.approach,
        "ur_outer_at_jaw" => at(Surface::Outer, 0.0),
        "ur_outer_mid" => at(Surface::Outer, middle),
        "ur_inner_at_jaw" => at(Surface::Bore, 0.0),
        "ur_inner_mid" => at(Surface::Bore, middle),
        "oor_outer" => answer.roundness.outer,
        "oor_inner" => answer.roundness.bore,
        "outer_mean_ur" => answer.harmonic(Surface::Outer, 0),
        "hoop_bore_at_jaw" => answer.free_hoop_stress(&[0.0])[0],
        "hoop_bore_mid" => answer.free_hoop_stress(&[middle])[0],
        "peak_contact_pressure" => answer.peak_pressure,
        _ if name.ends_with("_start_deg") => answer.arcs[arc(name, 11)].start.to_degrees(),
        _ if name.ends_with("_end_deg") => answer.arcs[arc(name, 11)].end.to_degrees(),
        _ if name.ends_with("_length") => answer.arcs[arc(name, 11)].length() * ro,
        _ if name.ends_with("_force") => answer.arc_forces[arc(name, 3)],
        _ => {
            let (surface, n) = match name.split_once("_harm_").unwrap() {
                ("outer", n) => (Surface::Outer, n),
                (_, n) => (Surface::Bore, n),
            };
            answer.harmonic(surface, n.parse().unwrap())
        }
    }
}

/// Truth: other program; exact series and finite elements written apart from these
#[test]
fn rigid_jaws_on_round_rings() {
    for id in JAWS {
        // the largest stresses are the finite elements' to find
        let case =
            reference::section(id).only(|name| !matches!(name, "hoop_bore_absmax" | "mises_peak"));
        let problem = jaws(inputs(&case));
        let answer = problem.solve();
        assert!(answer.change < 1e-5, "{id}: {:.1e}", answer.change);
        let starts = |o: &&Output| o.name.ends_with("_start_deg");
        let arcs = case.outputs.iter().filter(starts).count();
        assert_eq!(answer.arcs.len(), arcs, "{id}: {:?}", answer.arcs);
        let found = |name: &str| read(&answer, name, problem.count, problem.annulus.outer_radius);
        case.compare(found);
        for Output { name, value, .. } in &case.outputs {
            let found = found(name);
            // what the ring does as a whole is known far better than the tolerance
            if matches!(
                name.as_str(),
                "approach" | "oor_outer" | "oor_inner" | "outer_mean_ur"
            ) {
                assert!(
                    (found / value - 1.0).abs() < 2e-5,
                    "{id} {name}: {found} {value}"
                );
            }
        }
    }
}

/// Three jaws bored to 121.2 on outside 120, width 20, 2000 N each, E 70000, nu 0.33: independent calculation, printed with four to five digits.
/// Truth: other program; exact series written apart from these
#[test]
fn heavily_squeezed_and_thicker_rings() {
    let thin = jaws([57.0, 60.0, 70e3, 0.33, 20.0, 20.0, 60.6, 2000.0]).solve();
    assert!((thin.roundness.outer.max(thin.roundness.bore) - 3.3845).abs() < 1e-4 * 3.3845);
    assert!((thin.approach - 1.566).abs() < 5e-4);
    let thick = jaws([50.0, 60.0, 70e3, 0.33, 20.0, 20.0, 60.6, 2000.0]).solve();
    let found = [thick.roundness.outer, thick.roundness.bore];
    assert!(
        found.iter().any(|r| (r - 0.09045).abs() < 1e-5),
        "{found:?}"
    );
}

/// A thin ring in jaws bored oversize wraps them (derived independently from bending theory; a second unilateral solve with a Fourier compliance gave
/// the same wrap). Centreline radius 50: jaws, jaw radius at the centreline, force per mm, wrap (deg), displacement at the jaw and midway.
#[rustfmt::skip]
const WRAP: &[(u32, f64, f64, f64, f64, f64)] = &[
    (3, 50.2, 0.5932527206, 8.077786532, -0.02286124559, 0.02118482695),
    (3, 50.2, 1.186505441, 19.22790868, -0.02993041226, 0.03099987681),
    (3, 50.2, 2.373010883, 27.84751024, -0.03435485916, 0.03966407254),
    (4, 50.2, 0.8197934901, 5.889225114, -0.01205533589, 0.01107451553),
    (4, 50.2, 1.63958698, 14.14120578, -0.01580215876, 0.01628691052),
    (4, 50.2, 3.27917396, 20.59651883, -0.01815417567, 0.02095443916),
    (6, 50.2, 1.259782226, 3.850455795, -0.005126546771, 0.00467971251),
    (6, 50.2, 2.519564453, 9.299081723, -0.006725050875, 0.006905595097),
    (6, 50.2, 5.039128905, 13.59633076, -0.007730502145, 0.008918475839),
];

/// The closed form is for a centreline without thickness: in the solid ring the contact goes on for about two thirds of the wall more, and displacements
/// differ by less and less. It also takes the curvature of the jaw to first order, so jaw offset and force (both enter linearly) are scaled down.
/// Truth: analytical
#[test]
fn a_thin_ring_wraps_an_oversize_jaw() {
    let small = 0.01;
    for &(count, jaw, force, wrap, at_jaw, midway) in WRAP {
        let mut last = f64::INFINITY;
        for wall in [1.0, 0.25] {
            // bending alone decides: keep E I
            let young_modulus = 70_000.0 * (2.0_f64 / wall).powi(3);
            let ro = 50.0 + 0.5 * wall;
            let middle = PI / f64::from(count);
            let answer = Jaws {
                annulus: Annulus {
                    inner_radius: 50.0 - 0.5 * wall,
                    outer_radius: ro,
                    young_modulus,
                    poisson_ratio: 0.3,
                    length: 1.0,
                },
                count,
                surface: Surface::Outer,
                half_angle: 0.99 * middle,
                face: Face::Concave {
                    radius: 50.0 + small * (jaw - 50.0) + 0.5 * wall,
                },
                force: small * force,
            }
            .solve();
            assert!(answer.change < 1e-5, "{:.1e}", answer.change);
            let more = 50.0 * (answer.arcs.last().unwrap().end - wrap.to_radians());
            assert!(
                more > 0.5 * wall && more < 0.85 * wall,
                "N {count} {wrap}: {more}"
            );
            let u = answer.displacements(Surface::Bore, &[0.0, middle]);
            let error = (u[0] / (small * at_jaw) - 1.0)
                .abs()
                .max((u[1] / (small * midway) - 1.0).abs());
            assert!(
                error < 0.1 * last,
                "N {count} wall {wall}: {error} after {last}"
            );
            last = error;
        }
        assert!(last < 0.005, "N {count} wrap {wrap}: {last}");
    }
}

/// Hertz's line contact (Johnson, *Contact Mechanics*; plane stress, rigid crown): half width `sqrt(4 P R* / (pi E))`, peak `2 P / (pi a)`, on a thick ring under a
/// load so light that the contact zone is small against everything.
/// Truth: analytical
#[test]
fn a_crowned_jaw_is_hertz() {
    let annulus = Annulus {
        inner_radius: 20.0,
        outer_radius: 60.0,
        young_modulus: 70e3,
        poisson_ratio: 0.33,
        length: 20.0,
    };
    for (face, effective) in [
        (
            Face::Convex { radius: 10.0 },
            1.0 / (1.0 / 60.0 + 1.0 / 10.0),
        ),
        (Face::Flat, 60.0),
    ] {
        let answer = Jaws {
            annulus,
            count: 3,
            surface: Surface::Outer,
            half_angle: 0.1,
            face,
            force: 100.0,
        }
        .solve();
        let per_length = 100.0 / 20.0;
        let a = (4.0 * per_length * effective / (PI * 70e3)).sqrt();
        let peak = 2.0 * per_length / (PI * a);
        assert_eq!(answer.arcs.len(), 1);
        let found = answer.arcs[0].end * 60.0;
        assert!((found / a - 1.0).abs() < 1e-3, "{found} {a}");
        assert!((answer.peak_pressure / peak - 1.0).abs() < 1e-3);
    }
}

/// The inside of a ring held by jaws that push outwards: the mirror image in sign of the light-load limit, Hertz in a bore.
/// Truth: analytical
#[test]
fn a_crown_in_the_bore_is_hertz_too() {
    let answer = Jaws {
        annulus: Annulus {
            inner_radius: 40.0,
            outer_radius: 80.0,
            young_modulus: 70e3,
            poisson_ratio: 0.33,
            length: 20.0,
        },
        count: 4,
        surface: Surface::Bore,
        half_angle: 0.1,
        face: Face::Convex { radius: 10.0 },
        force: 100.0,
    }
    .solve();
    let effective = 1.0 / (1.0 / 10.0 - 1.0 / 40.0);
    let a = (4.0 * 5.0 * effective / (PI * 70e3)).sqrt();
    assert!((answer.arcs[0].end * 40.0 / a - 1.0).abs() < 1e-3);
    // the ring opens at the jaws
    let u = answer.displacements(Surface::Outer, &[0.0, PI / 4.0]);
    assert!(u[0] > 0.0 && u[0] > u[1]);
}

/// Doubling the force doubles the answer while only the pad edges are loaded over fixed zones, and does not once the arcs change.
/// Truth: invariance
#[test]
fn exact_jaws_are_linear_in_force_and_oversize_ones_are_not() {
    let exact = [47.5, 52.5, 70e3, 0.33, 20.0, 20.0, 52.5, 500.0];
    let mut doubled = exact;
    doubled[7] *= 2.0;
    let ratio = |a: [f64; 8], b: [f64; 8]| jaws(b).solve().approach / jaws(a).solve().approach;
    assert!((ratio(exact, doubled) - 2.0).abs() < 1e-6);
    let mut oversize = exact;
    oversize[6] = 55.125;
    let mut twice = oversize;
    twice[7] *= 2.0;
    assert!((ratio(oversize, twice) - 2.0).abs() > 1e-3);
}

/// Rings of all proportions and every contact pattern settle, with the error that the answer itself states.
/// Truth: invariance; the oracle on two finenesses, force in balance
#[test]
fn random_rings_settle() {
    let mut numbers = Random::new(7);
    let mut random = |low: f64, high: f64| numbers.between(low, high);
    let mut patterns = [0; 4];
    for _ in 0..40 {
        let ro = random(20.0, 150.0);
        let wall = ro * 10_f64.powf(random(-1.8, -0.5));
        let count = [2, 3, 4, 6][random(0.0, 3.999) as usize];
        let half_angle = random(0.1, 0.9) * PI / f64::from(count);
        let rho = ro
            * [
                0.99,
                1.0,
                1.0 + random(0.001, 0.05),
                1.0 + random(0.0001, 0.01),
            ][random(0.0, 3.999) as usize];
        // a load that bends the ring by about a thousandth of its radius
        let n = f64::from(count);
        let stiff = 105e3 * 10.0 * wall.powi(3) / 12.0 / ro.powi(3) * (n * n - 1.0).powi(2) / n;
        let force = stiff * ro * 10_f64.powf(random(-4.0, -2.5));
        let problem = Jaws {
            annulus: Annulus {
                inner_radius: ro - wall,
                outer_radius: ro,
                young_modulus: 105e3,
                poisson_ratio: 0.34,
                length: 10.0,
            },
            count,
            surface: Surface::Outer,
            half_angle: half_angle.min(1.4),
            face: Face::Concave { radius: rho },
            force,
        };
        let answer = problem.solve();
        assert!(answer.change < 2e-5, "{problem:?}: {:.1e}", answer.change);
        let total: f64 = answer.arc_forces.iter().sum();
        assert!((total / force - 1.0).abs() < 1e-9);
        let edge = answer.arcs.last().unwrap().end >= problem.half_angle;
        let middle = answer.arcs[0].start == 0.0;
        patterns[usize::from(edge) + 2 * usize::from(middle)] += 1;
    }
    // edges alone, middle alone, and both must all have come up
    assert!(
        patterns[1] > 0 && patterns[2] > 0 && patterns[3] > 0,
        "{patterns:?}"
    );
}
