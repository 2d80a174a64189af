//! Errors that no case file shows easily: each is met by asking the library for it, and says what would be right.
//! `tests/architecture` wants every variant of every error met by some test; most are in the tests of bad input.

use std::f64::consts::{PI, TAU};

use ringwright_solver::case::quantity::{self, Dimension, QuantityError, UnitSystem};
use ringwright_solver::contact::{Clamp, ContactError, unwatched};
use ringwright_solver::element::PlaneStress;
use ringwright_solver::geometry::{Lobe, Outline, PerSurface, StockOutline, Surface};
use ringwright_solver::linear::{Cholesky, LinearError, rigid_body_constraints};
use ringwright_solver::mesh::{Mesh, MeshError, equal_between};
use ringwright_solver::metrology::inversion::{InversionError, invert, repeats};
use ringwright_solver::metrology::readings::{Fault, Format, ReadingKind, Readings};
use ringwright_solver::metrology::{Gauge, MetrologyError, Profile, gaussian, maximum_inscribed};
use ringwright_solver::scheme::{
    Absurd, Body, Drive, Face, Pairs, PressurePatch, Push, Section, Supports, Unsound,
};
use ringwright_solver::watch::Stop;

const SECTION: Section = Section {
    outer_radius: 60.0,
    bore_radius: 55.0,
    length: 20.0,
};

const LAW: PlaneStress = PlaneStress {
    young_modulus: 105e3,
    poisson_ratio: 0.34,
    thickness: 20.0,
};

fn round() -> PerSurface<Outline> {
    PerSurface {
        outer: Outline::round(60.0),
        bore: Outline::round(55.0),
    }
}

/// A mesh with lines at these angles, rad.
fn mesh(outlines: &PerSurface<Outline>, marks: &[f64]) -> Result<Mesh, MeshError> {
    Mesh::build(outlines, &equal_between(marks, 60), &[0.0, 0.5, 1.0], true)
}

fn factor(mesh: &Mesh) -> Result<Cholesky, LinearError> {
    Cholesky::new(mesh, &LAW, &rigid_body_constraints(mesh))
}

fn surface(outlines: &PerSurface<Outline>) -> impl Fn(Surface, f64) -> f64 {
    |s, t| outlines.get(s).radius(t)
}

fn pads(face: Face, angles: &[f64], drive: Drive) -> Supports {
    Supports {
        bodies: angles
            .iter()
            .map(|&t| Body::new(Surface::Outer, t, 0.2, face))
            .collect(),
        drive,
        ..Supports::default()
    }
}

fn three(face: Face, force: f64) -> Supports {
    let angles = [0.0, TAU / 3.0, 2.0 * TAU / 3.0];
    pads(face, &angles, Drive::SelfCentring { force })
}

/// The pad edges of [`three`], and their middles.
fn marks() -> Vec<f64> {
    let around = |t: f64| [t - 0.2, t, t + 0.2];
    let mut all: Vec<f64> = [0.0, TAU / 3.0, 2.0 * TAU / 3.0]
        .into_iter()
        .flat_map(around)
        .map(|t| t.rem_euclid(TAU))
        .collect();
    all.sort_by(f64::total_cmp);
    all
}

#[test]
fn contact_says_what_it_cannot_do() {
    let outlines = round();
    let free = surface(&outlines);
    let clamp = |supports: Supports| Clamp::new(&[supports], 1.0, SECTION, &free);
    // a crown of 5 mm cannot reach the edges of a pad 24 mm wide
    let narrow = clamp(three(Face::Convex { radius: 5.0 }, 100.0));
    let error = narrow.err().unwrap();
    assert!(
        matches!(error, ContactError::FaceTooNarrow { body: 1, .. }),
        "{error}"
    );

    let sound = clamp(three(Face::Flat, 100.0)).unwrap();
    let fitting = mesh(&outlines, &marks()).unwrap();
    let held = |mesh: &Mesh, rounds: &dyn Fn(usize) -> Result<(), Stop>| {
        sound.clamp(&factor(mesh).unwrap(), mesh, &free, None, None, rounds)
    };
    assert!(held(&fitting, &unwatched).is_ok());
    // pads that no force closes do not press
    let idle = clamp(three(Face::Flat, 0.0)).unwrap();
    let body = factor(&fitting).unwrap();
    let at_rest = idle.clamp(&body, &fitting, &free, None, None, &unwatched);
    let error = idle.check_presses(&at_rest.unwrap(), 70e3, false);
    assert!(
        matches!(error, Err(ContactError::NothingPresses { .. })),
        "{error:?}"
    );
    // whoever watches ends it in the first round
    let stopped = held(&fitting, &|_| Err(Stop::Interrupted));
    assert_eq!(
        stopped.err(),
        Some(ContactError::Stopped(Stop::Interrupted))
    );
    // a plug that presses on every element end all round, and there are more of these than can carry at once
    let plug = Supports {
        bodies: vec![Body::circle(Surface::Bore, 55.01)],
        drive: Drive::fixed(1, 0.0),
        ..Supports::default()
    };
    let fine = Mesh::build(&outlines, &equal_between(&[0.0], 8000), &[0.0, 1.0], true).unwrap();
    let error = clamp(plug)
        .and_then(|c| c.clamp(&factor(&fine)?, &fine, &free, None, None, &unwatched))
        .err()
        .unwrap();
    assert!(matches!(error, ContactError::TooLarge { .. }), "{error}");
    // a mesh that has no lines at the pad edges
    let other = mesh(&outlines, &[0.05]).unwrap();
    let error = held(&other, &unwatched).err().unwrap();
    assert!(
        matches!(error, ContactError::NoLine { index: 1, .. }),
        "{error}"
    );
    assert!(error.to_string().contains("no line at the edge of body"));
}

#[test]
fn pads_that_run_into_each_other_are_named() {
    let outlines = round();
    let free = surface(&outlines);
    // flat pads of 24 mm on a part of 120, 23 degrees apart: their corners meet before they are home
    let angles: Vec<f64> = (0..15).map(|k| TAU * f64::from(k) / 15.0).collect();
    let supports = Supports {
        bodies: angles
            .iter()
            .map(|&t| Body::new(Surface::Outer, t, 0.2094, Face::Flat))
            .collect(),
        drive: Drive::SelfCentring { force: 3e5 },
        ..Supports::default()
    };
    let clamp = Clamp::new(&[supports], 1.0, SECTION, &free).unwrap();
    let mut lines: Vec<f64> = angles
        .iter()
        .flat_map(|t| [t - 0.2094, *t, t + 0.2094])
        .map(|t| t.rem_euclid(TAU))
        .collect();
    lines.sort_by(f64::total_cmp);
    let mesh = mesh(&outlines, &lines).unwrap();
    let held = clamp
        .clamp(
            &factor(&mesh).unwrap(),
            &mesh,
            &free,
            None,
            None,
            &unwatched,
        )
        .unwrap();
    let error = clamp.corners(&held).unwrap_err();
    assert!(matches!(error, ContactError::PadsCollide { .. }), "{error}");
}

#[test]
fn outlines_that_leave_no_wall_are_refused() {
    let none = PerSurface {
        outer: Outline::round(55.0),
        bore: Outline::round(55.0),
    };
    let error = mesh(&none, &[0.0]).unwrap_err();
    assert!(matches!(error, MeshError::NoWall { .. }), "{error}");
    // forty lobes on sixty elements: at each third line of nodes the wall is three times as thick as drawn, at the two between a twentieth
    // of a millimetre, and the curve through the three runs through the outside
    let lobes = vec![Lobe {
        count: 40,
        amplitude: 9.9,
        phase: -1.5_f64.to_radians(),
    }];
    let bore = Outline::Stock(StockOutline {
        lobes,
        ..StockOutline::round(55.0)
    });
    let steep = PerSurface { bore, ..round() };
    let error = mesh(&steep, &[0.0]).map(|m| factor(&m).err());
    assert!(
        matches!(error, Ok(Some(LinearError::InvertedElement { .. }))),
        "{error:?}"
    );
}

#[test]
fn a_unit_of_another_kind_is_named() {
    let error = quantity::parse("5 N", Dimension::Length, UnitSystem::Millimetre).unwrap_err();
    assert!(matches!(error, QuantityError::WrongKind { .. }), "{error}");
}

#[test]
fn what_a_scheme_says_is_held_to_sense() {
    let check = |supports: Supports| supports.check(&SECTION).unwrap_err();
    let flat = |half: f64, relief: f64| Body {
        relief,
        ..Body::new(Surface::Outer, 0.0, half, Face::Flat)
    };
    let one = |body: Body| Supports {
        bodies: vec![body],
        drive: Drive::SelfCentring { force: 1.0 },
        ..Supports::default()
    };
    assert_eq!(check(Supports::default()), Unsound::Nothing);
    let patch = PressurePatch {
        surface: Surface::Outer,
        angle: 0.0,
        half_angle: 0.1,
        force: f64::NAN,
    };
    let pressed = |patch| Supports {
        pressures: vec![patch],
        ..Supports::default()
    };
    assert!(matches!(check(pressed(patch)), Unsound::Number { .. }));
    let wide = PressurePatch {
        half_angle: 4.0,
        force: 1.0,
        ..patch
    };
    assert!(matches!(check(pressed(wide)), Unsound::HalfAngle { .. }));
    assert!(matches!(
        check(one(flat(0.1, 0.1))),
        Unsound::Relief { body: 1, .. }
    ));
    let tight = Body::new(Surface::Outer, 0.0, 0.3, Face::Convex { radius: 5.0 });
    assert!(matches!(check(one(tight)), Unsound::Narrow { body: 1 }));
    let wrong_side = Body::circle(Surface::Outer, 30.0);
    let fixed = Supports {
        bodies: vec![wrong_side],
        drive: Drive::fixed(1, 0.0),
        ..Supports::default()
    };
    assert!(matches!(check(fixed), Unsound::InsideMetal { body: 1, .. }));
    let short = Supports {
        drive: Drive::Each(vec![Push::Force(1.0); 2]),
        ..one(flat(0.1, 0.0))
    };
    assert_eq!(
        check(short),
        Unsound::Pushes {
            pushes: 2,
            bodies: 1
        }
    );
    let odd = Supports {
        drive: Drive::EqualisedPairs {
            force: 1.0,
            pairs: Pairs::Neighbouring,
        },
        ..one(flat(0.1, 0.0))
    };
    assert_eq!(check(odd), Unsound::OddPairs { bodies: 1 });
    let many = Supports {
        bodies: vec![flat(0.01, 0.0); 101],
        drive: Drive::SelfCentring { force: 1.0 },
        ..Supports::default()
    };
    let error = many.check_magnitudes(&SECTION, "pad").unwrap_err();
    assert!(
        matches!(error, Absurd::TooMany { found: 101, .. }),
        "{error}"
    );
    let nobody = Supports {
        drive: Drive::SelfCentring { force: 1.0 },
        ..pressed(PressurePatch {
            half_angle: PI / 9.0,
            ..wide
        })
    };
    assert_eq!(check(nobody), Unsound::NoBody);
}

#[test]
fn profiles_that_fix_no_circle_are_refused() {
    let error = Profile::new(&[0.0, 1.0], &[1.0]).err().unwrap();
    assert!(
        matches!(error, MetrologyError::LengthsDiffer { .. }),
        "{error}"
    );
    let error = Profile::new(&[0.0, 1.0], &[1.0, 1.0]).err().unwrap();
    assert!(
        matches!(error, MetrologyError::TooFewPoints { points: 2 }),
        "{error}"
    );
    // readings over a quarter of the turn hold no inscribed circle
    let angles: Vec<f64> = (0..10).map(|k| 0.17 * f64::from(k)).collect();
    let radii = [50.0; 10];
    let quarter = Profile::new(&angles, &radii);
    let error = quarter
        .and_then(|p| maximum_inscribed(&p).map(|_| ()))
        .unwrap_err();
    assert!(matches!(error, MetrologyError::Open { .. }), "{error}");
    let radii = [50.0; 36];
    let error = gaussian(&Profile::equal(&radii), [0.0, 0.0], 0.0)
        .err()
        .unwrap();
    assert!(matches!(error, MetrologyError::CutOff { .. }), "{error}");
}

#[test]
fn readings_are_refused_in_words_of_their_own() {
    let read = |text: &[u8]| {
        Readings::read(text, &Format::default())
            .map(|_| ())
            .unwrap_err()
            .fault
    };
    assert!(matches!(
        read(b"angle_deg,radius_mm\n0,1\n\xff"),
        Fault::NotText { .. }
    ));
    let twice = read(b"angle_deg,radius_mm,radius_in\n0,1,2\n");
    assert!(matches!(twice, Fault::TwoColumns { .. }), "{twice}");
    let far = read(b"angle_deg,radius_mm\n0,1e9\n120,1\n240,1\n");
    assert!(matches!(far, Fault::TooLarge { .. }), "{far}");
    struct Broken;
    impl std::io::Read for Broken {
        fn read(&mut self, _: &mut [u8]) -> std::io::Result<usize> {
            Err(std::io::Error::other("no such luck"))
        }
    }
    let fault = Readings::read(std::io::BufReader::new(Broken), &Format::default())
        .map(|_| ())
        .unwrap_err()
        .fault;
    assert!(matches!(fault, Fault::Unreadable { .. }), "{fault}");
    // what repeats three times a turn shows two readings here, and a circle alone goes through any two
    let few = Readings::read(
        &b"angle_deg,deviation_mm\n0,0\n60,0.1\n120,0\n"[..],
        &Format {
            kind: ReadingKind::Deviations,
            repeats: repeats(Gauge::ThreePoint),
            ..Format::default()
        },
    );
    let error = few.map(|r| invert(&r, Gauge::ThreePoint, None).err());
    assert!(
        matches!(error, Ok(Some(InversionError::ShowsNone { .. }))),
        "{error:?}"
    );
}
