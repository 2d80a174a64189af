//! The whole program's contact against closed forms: Lame, Hertz, and a thin ring that wraps its jaws.

use std::f64::consts::{PI, TAU};

use ringwright_solver::case::Case;
use ringwright_solver::geometry::Surface;
use ringwright_solver::process::{KeepFields, Method, Options, Outcome, run};
use ringwright_solver::scheme::{
    Body, Drive, Face, HoldingScheme, Parameter, ParameterKind, SchemeError, Section, Supports,
    Value, Values,
};
use ringwright_tests::oracle::series::Annulus;
use ringwright_tests::{body, cases, oracle};

const OPTIONS: Options = Options {
    fields: KeepFields::All,
    estimate: true,
    method: Method::MeanRing,
    advice: true,
};

/// A rigid full circle that is too small for the outside, or too large for the bore, by `interference` (mm on the radius).
struct FullCircle(Surface);

const INTERFERENCE: &[Parameter] = &[Parameter::required(
    "interference",
    ParameterKind::Length,
    "on the radius",
)];

impl HoldingScheme for FullCircle {
    fn name(&self) -> &str {
        "full-circle"
    }

    fn summary(&self) -> &str {
        "a rigid circle"
    }

    fn parameters(&self) -> &[Parameter] {
        INTERFERENCE
    }

    fn example(&self) -> &str {
        ""
    }

    fn supports(&self, section: &Section, values: &Values) -> Result<Supports, SchemeError> {
        let by = values.number("interference").unwrap();
        let radius = section.radius(self.0) - by * self.0.outward();
        Ok(Supports {
            bodies: vec![Body::circle(self.0, radius)],
            drive: Drive::fixed(1, 0.0),
            ..Supports::default()
        })
    }
}

const RING: Annulus = Annulus {
    inner_radius: 45.0,
    outer_radius: 50.0,
    young_modulus: 70_000.0,
    poisson_ratio: 0.33,
    length: 20.0,
};

/// A rigid ring shrunk on, and a rigid plug forced in, by 0.05 mm on the radius: pressure `E d / (r ((ro^2 + ri^2) / (ro^2 - ri^2) -+ nu))`, hoop stress and
/// displacement of the free surface (Lame; Timoshenko and Goodier, art. 28, from memory).
/// Truth: analytical
#[test]
fn a_rigid_circle_with_interference_is_lame_s() {
    let by = 0.05;
    let (ri, ro, e, nu) = (45.0_f64, 50.0_f64, 70_000.0, 0.33);
    let across = ro * ro - ri * ri;
    let shape = (ro * ro + ri * ri) / across;
    let mut ran = 0;
    for surface in Surface::BOTH {
        let values = Values::from([("interference", Value::Number(by))]);
        let case = cases::hold(cases::ring(&RING), FullCircle(surface), values);
        let outcome = run(&case, &OPTIONS).unwrap();
        let held = &outcome.steps[0].held;
        let (r, p, u_free, hoop_free, free) = match surface {
            Surface::Outer => {
                let p = e * by / (ro * (shape - nu));
                let u = -p * 2.0 * ro * ro * ri / (e * across);
                (ro, p, u, -2.0 * p * ro * ro / across, Surface::Bore)
            }
            Surface::Bore => {
                let p = e * by / (ri * (shape + nu));
                let u = p * 2.0 * ri * ri * ro / (e * across);
                (ri, p, u, 2.0 * p * ri * ri / across, Surface::Outer)
            }
        };
        let contact = &held.contacts[0];
        // a full circle's force is the integral of its pressure
        let force = p * TAU * r * RING.length;
        assert!(
            (contact.force / force - 1.0).abs() < 1e-4,
            "{} {force}",
            contact.force
        );
        let peak = contact.peak_pressure.unwrap();
        assert!((peak / p - 1.0).abs() < 1e-3, "{peak} {p}");
        let [start, end] = contact.arcs[0];
        assert!(contact.arcs.len() == 1 && (end - start - 360.0).abs() < 1e-9);
        for u in held.displacement.get(free) {
            assert!((u / u_free - 1.0).abs() < 1e-4, "{u} {u_free}");
        }
        for u in held.displacement.get(surface) {
            assert!((u.abs() / by - 1.0).abs() < 1e-6, "{u}");
        }
        let field = &outcome.steps[0].fields[0];
        for (n, &t) in field.mesh.boundary(free).iter().zip(field.mesh.angles()) {
            let hoop = body::hoop(field.stress[*n], t);
            assert!((hoop / hoop_free - 1.0).abs() < 2e-3, "{hoop} {hoop_free}");
        }
        ran += 1;
    }
    assert_eq!(ran, 2);
}

/// A crowned jaw and a flat one on a thick ring under a light load: half width `sqrt(4 P R / (pi E))` and peak `2 P / (pi a)` of Hertz's line contact (Johnson, *Contact
/// Mechanics*, ch. 4, from memory; plane stress, rigid jaw, `1/R` the sum of the curvatures). The zone is a hundredth of the wall.
/// Truth: analytical
#[test]
fn crowned_and_flat_jaws_are_hertz() {
    let mut ran = 0;
    for (face, effective) in [
        (Face::Convex { radius: 10.0 }, 60.0 * 10.0 / 70.0),
        (Face::Flat, 60.0),
    ] {
        let force = 1000.0;
        let set_up = oracle::Jaws {
            annulus: Annulus {
                inner_radius: 40.0,
                outer_radius: 60.0,
                young_modulus: 70e3,
                poisson_ratio: 0.33,
                length: 20.0,
            },
            count: 3,
            surface: Surface::Outer,
            half_angle: 0.1,
            face,
            force,
        };
        let mut case = cases::jaws(&set_up);
        case.accuracy = 3e-3;
        let outcome = solve(&case);
        let per_length = force / 20.0;
        let a = (4.0 * per_length * effective / (PI * 70e3)).sqrt();
        let peak = 2.0 * per_length / (PI * a);
        for contact in &outcome.steps[0].held.contacts {
            assert_eq!(contact.arcs.len(), 1);
            let [start, end] = contact.arcs[0];
            let found = 0.5 * (end - start).to_radians() * 60.0;
            // ends are interpolated between nodes; 5 percent is what the width of a zone is known to elsewhere
            assert!((found / a - 1.0).abs() < 0.05, "{face:?}: {found} {a}");
            let p = contact.peak_pressure.unwrap();
            assert!((p / peak - 1.0).abs() < 0.01, "{face:?}: {p} {peak}");
            ran += 1;
        }
    }
    assert_eq!(ran, 6);
}

fn solve(case: &Case) -> Outcome {
    run(case, &OPTIONS).unwrap()
}

/// Jaws, jaw radius at the centreline (mm), force per length (N/mm), half wrap (deg), displacement of the centreline at the jaw and midway (mm): a ring of centreline
/// radius 50, wall 2, E 70000 in jaws bored oversize. Derived independently from bending theory; a second unilateral solve with a Fourier compliance gave the
/// same wrap.
#[rustfmt::skip]
const WRAP: &[(f64, f64, f64, f64, f64)] = &[
    (50.2, 0.5932527206, 8.077786532, -0.02286124559, 0.02118482695),
    (50.2, 1.186505441, 19.22790868, -0.02993041226, 0.03099987681),
    (50.2, 2.373010883, 27.84751024, -0.03435485916, 0.03966407254),
];

/// Below a certain force the ring touches in the middle of a pad; above it, it wraps the pad. The closed form is for a centreline: in a solid ring contact goes on for
/// about two thirds of the wall (`0.67 t / R`, 1.5 deg at t/R = 1/25), so the arc is compared with that much added, to a quarter of it.
/// Truth: analytical
#[test]
fn a_thin_ring_wraps_an_oversize_jaw() {
    let mut ran = 0;
    for wall in [2.0, 1.0] {
        for &(jaw, force, wrap, at_jaw, midway) in WRAP {
            let set_up = oracle::Jaws {
                annulus: Annulus {
                    inner_radius: 50.0 - 0.5 * wall,
                    outer_radius: 50.0 + 0.5 * wall,
                    // bending alone decides: keep E I
                    young_modulus: 70_000.0 * (2.0_f64 / wall).powi(3),
                    poisson_ratio: 0.3,
                    length: 1.0,
                },
                count: 3,
                surface: Surface::Outer,
                half_angle: 0.99 * PI / 3.0,
                face: Face::Concave {
                    radius: jaw + 0.5 * wall,
                },
                force,
            };
            let outcome = solve(&cases::jaws(&set_up));
            let held = &outcome.steps[0].held;
            let [start, end] = held.contacts[0].arcs[0];
            assert_eq!(held.contacts[0].arcs.len(), 1);
            let thick = (0.67 * wall / 50.0).to_degrees();
            let found = 0.5 * (end - start);
            assert!(
                (found - wrap - thick).abs() < 0.25 * thick + 0.1,
                "wall {wall}: {found} {wrap} + {thick}"
            );
            for (k, exact) in [(0, at_jaw), (60, midway)] {
                let u = held.displacement.bore[k];
                assert!(
                    (u / exact - 1.0).abs() < 0.02,
                    "wall {wall}, wrap {wrap}: {u} {exact}"
                );
            }
            ran += 1;
        }
    }
    assert_eq!(ran, 6);
}
