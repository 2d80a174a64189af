//! The answer of an elastic body scales: with all lengths, with forces and stiffness together, and with forces alone where all
//! contact is closed from the start.

use std::f64::consts::TAU;

use ringwright_solver::contact::{Clamp, Clamped, unwatched};
use ringwright_solver::element::PlaneStress;
use ringwright_solver::geometry::{Outline, PerSurface, Surface};
use ringwright_solver::linear::Substructured;
use ringwright_solver::mesh::{Mesh, equal_between};
use ringwright_solver::process::{KeepFields, Options, StepOutcome, run};
use ringwright_solver::scheme::{Body, Drive, Face, PressurePatch, Push, Section, Supports};
use ringwright_tests::{body, files};

/// Factors of forces.
const FACTORS: [f64; 6] = [1e-9, 1e-6, 1e-3, 1e3, 1e6, 1e9];

/// A ring of bore 95 and outside 104.74 times `size`.
fn section(size: f64) -> Section {
    Section {
        outer_radius: 52.37 * size,
        bore_radius: 47.5 * size,
        length: 20.0 * size,
    }
}

/// Three pads of 12 degrees whose faces are of one kind, self-centring.
fn pads(face: Face, force: f64) -> Supports {
    let at = |k: u32| 0.3 + TAU * f64::from(k) / 3.0;
    Supports {
        bodies: (0..3)
            .map(|k| Body::new(Surface::Outer, at(k), HALF_PAD, face))
            .collect(),
        drive: Drive::SelfCentring { force },
        ..Supports::default()
    }
}

/// Half of a pad, rad.
const HALF_PAD: f64 = 0.105;

/// What rounding leaves of the displacement where contact is a narrow zone: the stiffness of this ring multiplies errors by some ten
/// million, and factors of ten round its numbers anew. Seen: 1.3e-9.
const ZONE_ROUNDING: f64 = 5e-9;

/// Closes a hold on a round ring.
fn held(supports: &[Supports], size: f64, young_modulus: f64) -> (Mesh, Clamped) {
    let section = section(size);
    let law = PlaneStress {
        young_modulus,
        poisson_ratio: 0.33,
        thickness: section.length,
    };
    let mut marks: Vec<f64> = Vec::new();
    for support in supports {
        for b in &support.bodies {
            marks.extend([b.angle - b.half_angle, b.angle, b.angle + b.half_angle]);
        }
        for p in &support.pressures {
            marks.extend([p.angle - p.half_angle, p.angle + p.half_angle]);
        }
    }
    let outlines = body::round(section.bore_radius, section.outer_radius);
    let ends = equal_between(&marks, 240);
    let mesh = Mesh::build(&outlines, &ends, &[0.0, 0.3, 0.7, 1.0], true).unwrap();
    let surface = |s: Surface, t: f64| -> f64 {
        let outlines: &PerSurface<Outline> = &outlines;
        outlines.get(s).radius(t)
    };
    let clamp = Clamp::new(supports, 1.0, section, &surface).unwrap();
    let factor = Substructured::new(&mesh, &law).unwrap();
    let clamped = clamp
        .clamp(&factor, &mesh, &surface, None, None, &unwatched)
        .unwrap();
    (mesh, clamped)
}

/// Largest difference of two displacement fields, the second divided by `factor`, as a share of the largest displacement.
fn apart(a: &[[f64; 2]], b: &[[f64; 2]], factor: f64) -> f64 {
    let largest = a.iter().flatten().fold(0.0_f64, |m, u| m.max(u.abs()));
    assert!(largest > 0.0);
    a.iter()
        .flatten()
        .zip(b.iter().flatten())
        .map(|(u, v)| (u - v / factor).abs())
        .fold(0.0, f64::max)
        / largest
}

/// Pads bored to the part and dead loads touch from the start, so the displacement is proportional to the force, from a billionth of a newton to
/// a billion. It is compared as it is: added to the radius it would be lost in its digits.
/// Truth: invariance
#[test]
fn forces_scale_where_all_is_closed_from_the_start() {
    let bored = |force: f64| vec![pads(Face::Concave { radius: 52.37 }, force)];
    let independent = |force: f64| {
        vec![Supports {
            drive: Drive::Each(vec![Push::Force(force); 3]),
            ..bored(force).remove(0)
        }]
    };
    let dead = |force: f64| {
        let patch = |k: u32| PressurePatch {
            surface: Surface::Outer,
            angle: TAU * f64::from(k) / 3.0,
            half_angle: 0.1,
            force,
        };
        vec![Supports {
            pressures: (0..3).map(patch).collect(),
            ..Supports::default()
        }]
    };
    let holds: [&dyn Fn(f64) -> Vec<Supports>; 3] = [&bored, &independent, &dead];
    for (k, hold) in holds.into_iter().enumerate() {
        let (_, unit) = held(&hold(1.0), 1.0, 70e3);
        for factor in FACTORS {
            let (_, other) = held(&hold(factor), 1.0, 70e3);
            let apart = apart(&unit.displacement, &other.displacement, factor);
            assert!(apart < 1e-9, "hold {k}, times {factor:e}: {apart:e}");
            assert_eq!(unit.active, other.active, "hold {k}, times {factor:e}");
        }
    }
}

/// Where gaps matter the answer is the same if stiffness grows with the force: flat pads, and pads bored over and under the part.
/// Truth: invariance
#[test]
fn forces_and_stiffness_scale_together() {
    let faces = [
        Face::Flat,
        Face::Concave { radius: 54.0 },
        Face::Concave { radius: 51.0 },
        Face::Convex { radius: 15.0 },
    ];
    for face in faces {
        let (_, unit) = held(&[pads(face, 300.0)], 1.0, 70e3);
        for factor in FACTORS {
            let (_, other) = held(&[pads(face, 300.0 * factor)], 1.0, 70e3 * factor);
            let apart = apart(&unit.displacement, &other.displacement, 1.0);
            assert!(
                apart < ZONE_ROUNDING,
                "{face:?} times {factor:e}: {apart:e}"
            );
            for b in 0..3 {
                let ratio = other.force(b) / unit.force(b) / factor;
                assert!(
                    (ratio - 1.0).abs() < 1e-9,
                    "{face:?} times {factor:e}: {ratio}"
                );
            }
        }
    }
}

/// All lengths times a thousand and a thousandth, forces with their square: the displacement goes with the lengths.
/// Truth: invariance
#[test]
fn lengths_scale() {
    let faces = |size: f64| {
        [
            Face::Flat,
            Face::Concave {
                radius: 52.37 * size,
            },
            Face::Concave {
                radius: 54.0 * size,
            },
            Face::Convex {
                radius: 15.0 * size,
            },
        ]
    };
    for (k, unit_face) in faces(1.0).into_iter().enumerate() {
        let (_, unit) = held(&[pads(unit_face, 300.0)], 1.0, 70e3);
        for size in [1e-3, 1e3] {
            let (_, other) = held(&[pads(faces(size)[k], 300.0 * size * size)], size, 70e3);
            let apart = apart(&unit.displacement, &other.displacement, size);
            assert!(
                apart < ZONE_ROUNDING,
                "{unit_face:?} times {size:e}: {apart:e}"
            );
        }
    }
}

/// A step that holds a lobed blank, cuts and releases it, on a mesh that it grades itself.
fn step_at(size: f64, stiffness: f64) -> StepOutcome {
    let text = format!(
        "title = \"t\"\n[part]\nouter_diameter = {:?}\nbore_diameter = {:?}\nlength = {:?}\n\
         material = {{ young_modulus = 70e3, poisson_ratio = 0.33 }}\n\
         [[part.lobes]]\nsurface = \"both\"\ncount = 2\namplitude = {:?}\n\
         [[hold.h]]\nscheme = \"jaws\"\ncount = 3\nforce = {:?}\nbored_diameter = {:?}\nwidth = {:?}\n\
         [[step]]\nhold = \"h\"\n[[step.cut]]\nsurface = \"bore\"\ndiameter = {:?}\n",
        105.0 * size,
        95.0 * size,
        20.0 * size,
        0.02 * size,
        300.0 * size * size * stiffness,
        106.0 * size,
        20.0 * size,
        95.7 * size
    );
    let mut case = files::read(&text);
    // beyond what a case file takes
    case.part.material.young_modulus *= stiffness;
    let options = Options {
        fields: KeepFields::None,
        estimate: true,
        ..Options::default()
    };
    run(&case, &options).unwrap().steps.remove(0)
}

/// The whole job scales, mesh, cut and release in it. Its shapes carry the rounding of the radius, 1e-16 of 50 mm beside a tenth of a millimetre, and
/// the cut stops within a tenth of the accuracy asked at the same pass.
/// Truth: invariance
#[test]
fn a_whole_step_scales() {
    let unit = step_at(1.0, 1.0);
    for (size, stiffness) in [(1e-3, 1.0), (1e3, 1.0), (1.0, 1e-9), (1.0, 1e9)] {
        let other = step_at(size, stiffness);
        for surface in Surface::BOTH {
            let shapes = [
                (unit.held.shape.get(surface), other.held.shape.get(surface)),
                (unit.released.get(surface), other.released.get(surface)),
            ];
            for (a, b) in shapes {
                let deviation = a.iter().fold(0.0_f64, |m, r| m.max((r - a[0]).abs()));
                for (x, y) in a.iter().zip(b) {
                    let apart = (x - y / size).abs() / deviation;
                    assert!(apart < 1e-9, "times {size:e} {stiffness:e}: {apart:e}");
                }
            }
        }
    }
}
