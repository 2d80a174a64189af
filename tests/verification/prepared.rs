//! A step that is prepared and asked again against the same case solved anew.

use ringwright_solver::case::{Case, Place};
use ringwright_solver::geometry::Surface;
use ringwright_solver::metrology::{Profile, least_squares_circle};
use ringwright_solver::process::{Method, Options, Prepared, Radii, Reason, Unfit, run};
use ringwright_tests::files;

use crate::case_files::{lobes, ring, step};

/// Parts and holds of every way of solving: series, series with an outline, finite elements behind a sleeve, a soft lining, residual stress.
fn cases() -> [(&'static str, String, Method); 6] {
    let jaws = "[[hold.h]]\nscheme = \"jaws\"\ncount = 3\nforce = 400\nbored_diameter = 105.4\nwidth = 30\n";
    let bored = step(Some(("bore", 47.8)));
    let sleeve = "[[hold.h]]\nscheme = \"split-sleeve\"\ncount = 3\nforce = 400\nwidth = 25\nbored_diameter = 117\nsleeve_thickness = 6\nslit_width = 3\n";
    let lined = jaws.replace(
        "bored_diameter",
        "shim_thickness = 2\nshim_modulus = 50\nbored_diameter",
    );
    let stressed = ring() + "[part.residual_hoop_stress]\nouter = 20\nbore = -20\n";
    [
        ("series", ring() + jaws + &bored, Method::MeanRing),
        (
            "outline",
            ring() + &lobes("both", 2, 0.03) + jaws + &bored,
            Method::MeanRing,
        ),
        ("elements", ring() + jaws + &bored, Method::Mesh),
        ("sleeve", ring() + sleeve + &bored, Method::MeanRing),
        ("lining", ring() + &lined + &bored, Method::MeanRing),
        ("stressed", stressed + jaws + &bored, Method::MeanRing),
    ]
}

fn options(method: Method) -> Options {
    Options {
        method,
        ..ringwright_tests::cases::OPTIONS
    }
}

fn roundness(shape: &Radii, surface: Surface) -> f64 {
    least_squares_circle(&Profile::equal(shape.get(surface))).roundness
}

fn scaled(case: &Case, share: f64) -> Case {
    let mut other = case.clone();
    other.steps[0].force_scale = share;
    other
}

/// Asked again with more force and with less, a prepared step gives what the same case solved anew gives: held and released shapes within a
/// fifth of the accuracy asked of each, and forces of the bodies with them. Both divide their elements for themselves.
/// Truth: own earlier run; the same case solved from the start
#[test]
fn a_prepared_step_answers_as_one_solved_anew() {
    for (name, text, method) in cases() {
        let case = files::read(&text);
        let options = options(method);
        let prepared = Prepared::new(&case, 0, &options).unwrap();
        for share in [0.8, 1.0, 1.25] {
            let asked = scaled(&case, share);
            let anew = run(&asked, &options).unwrap();
            let held = prepared.hold(&asked).unwrap();
            assert!(held.is_resolved(), "{name} {share}");
            for (a, b) in held.contacts().iter().zip(&anew.steps[0].held.contacts) {
                let apart = (a.force - b.force).abs();
                assert!(
                    apart <= 2e-3 * b.force,
                    "{name} {share}: {} {}",
                    a.force,
                    b.force
                );
            }
            let cut = held.cut().unwrap();
            assert_eq!(cut.cuts().len(), 1);
            let found = [
                held.shape().clone(),
                cut.shape().unwrap().clone(),
                cut.release().shape().clone(),
            ];
            let [step] = anew.steps.as_slice() else {
                panic!("one step")
            };
            let wanted = [&step.held.shape, step.cut.as_ref().unwrap(), &step.released];
            for (stage, (a, b)) in found.iter().zip(wanted).enumerate() {
                for s in Surface::BOTH {
                    let (a, b) = (roundness(a, s), roundness(b, s));
                    let least = 1e-5 * case.part.stock.get(s).radius;
                    let off = (a - b).abs() / b.max(least);
                    assert!(
                        off <= 2e-3,
                        "{name} {share} stage {stage} {}: {a} {b}",
                        s.name()
                    );
                }
            }
        }
    }
}

/// On a fixed mesh, whose elements stay where they are, a prepared hold of which the surfaces alone are solved for has the shape and the contact of
/// the whole solution, to rounding: jaws that hold the part in every direction, two that leave it free to shift, soft linings, a jaw after a lock.
/// Truth: own earlier run; the same case solved from the start
#[test]
fn surfaces_alone_are_those_of_the_whole_solution() {
    let jaws = "[[hold.h]]\nscheme = \"jaws\"\ncount = 3\nforce = 400\nbored_diameter = 105.4\nwidth = 30\n";
    let two = jaws.replace("count = 3", "count = 2\nfirst_angle = 20");
    let lined = jaws.replace(
        "bored_diameter",
        "shim_thickness = 2\nshim_modulus = 50\nbored_diameter",
    );
    let locked = jaws.replace(
        "width = 30",
        "width = 30\nafter_clamping = \"keeps-position\"",
    ) + "[[hold.h]]\nscheme = \"screws\"\ncount = 3\nfirst_angle = 60\ncrown_radius = 10\nforce = 50\n";
    for (name, hold) in [
        ("three jaws", jaws),
        ("two", &two),
        ("lining", &lined),
        ("lock", &locked),
    ] {
        let text = ring() + hold + &step(None) + "[mesh]\naround = 360\nthrough = 4\n";
        let case = files::read(&text);
        let options = options(Method::MeanRing);
        let prepared = Prepared::new(&case, 0, &options).unwrap();
        for share in [0.7, 1.4] {
            let other = scaled(&case, share);
            let held = prepared.hold(&other).unwrap();
            let whole = &run(&other, &options).unwrap().steps[0].held;
            for s in Surface::BOTH {
                let moved = whole.displacement.get(s).iter();
                let size = moved.fold(0.0_f64, |m, u| m.max(u.abs()));
                let off = held.shape().get(s).iter().zip(whole.shape.get(s));
                let off = off.fold(0.0_f64, |m, (a, b)| m.max((a - b).abs()));
                assert!(size > 1e-4, "{name}: {size}");
                // rounding of the radius, and of a solution that is refined no further than contact needs
                assert!(
                    off < 1e-13 * 52.5 + 1e-8 * size,
                    "{name} {share}: {off} of {size}"
                );
            }
            for (a, b) in held.contacts().iter().zip(&whole.contacts) {
                let close = |a: f64, b: f64| (a - b).abs() < 1e-7 * b.abs().max(1e-3);
                assert!(close(a.force, b.force), "{name}: {} {}", a.force, b.force);
                assert!(
                    close(a.approach, b.approach),
                    "{name}: {} {}",
                    a.approach,
                    b.approach
                );
                assert_eq!(a.arcs.len(), b.arcs.len(), "{name}");
            }
        }
    }
}

/// What was asked before leaves no trace: not a bit differs.
/// Truth: invariance
#[test]
fn an_answer_does_not_depend_on_what_was_asked_before() {
    for (name, text, method) in cases() {
        let case = files::read(&text);
        let prepared = Prepared::new(&case, 0, &options(method)).unwrap();
        let ask = |share: f64| {
            let held = prepared.hold(&scaled(&case, share)).unwrap();
            let released = held.cut().unwrap().release();
            let both = [held.shape().clone(), released.shape().clone()];
            both.map(|r| {
                Surface::BOTH.map(|s| r.get(s).iter().map(|x| x.to_bits()).collect::<Vec<_>>())
            })
        };
        let first = ask(0.9);
        let _ = (ask(1.3), ask(0.4));
        assert!(ask(0.9) == first, "{name}");
    }
}

/// Other faces on the same pads, and another cut, are asked without preparing anew.
/// Truth: own earlier run; the same case solved from the start
#[test]
fn jaws_bored_otherwise_and_another_cut() {
    let (_, text, method) = &cases()[0];
    let options = options(*method);
    let prepared = Prepared::new(&files::read(text), 0, &options).unwrap();
    for (from, to) in [
        ("105.4", "105.2"),
        ("105.4", "105.6"),
        ("diameter = 95.6", "diameter = 96.2"),
    ] {
        assert!(text.contains(from));
        let other = files::read(&text.replace(from, to));
        let anew = run(&other, &options).unwrap();
        let released = prepared.hold(&other).unwrap().cut().unwrap().release();
        let [a, b] =
            [released.shape(), &anew.steps[0].released].map(|r| roundness(r, Surface::Bore));
        assert!((a / b - 1.0).abs() < 2e-3, "{to}: {a} {b}");
        let wall = released.wall();
        assert!((wall.min - anew.steps[0].wall.min).abs() < 1e-5);
    }
}

/// The second of two steps is prepared on what the first left.
/// Truth: own earlier run; the same case solved from the start
#[test]
fn a_later_step_is_prepared_on_what_earlier_ones_left() {
    let (_, text, method) = &cases()[1];
    let second = step(Some(("outer", 52.3)));
    let case = files::read(&(text.clone() + &second));
    let options = options(*method);
    let anew = run(&case, &options).unwrap();
    let prepared = Prepared::new(&case, 1, &options).unwrap();
    let stock = roundness(prepared.stock(), Surface::Bore);
    let left = roundness(&anew.steps[0].released, Surface::Bore);
    assert!((stock / left - 1.0).abs() < 1e-6, "{stock} {left}");
    let released = prepared.hold(&case).unwrap().cut().unwrap().release();
    for s in Surface::BOTH {
        let [a, b] = [released.shape(), &anew.steps[1].released].map(|r| roundness(r, s));
        assert!((a / b - 1.0).abs() < 2e-3, "{a} {b}");
    }
}

/// Another part, and a step that the case does not have, are refused in plain words.
/// Truth: invariance; refusals are the same on every machine
#[test]
fn another_part_is_refused() {
    let (_, text, method) = &cases()[0];
    let case = files::read(text);
    let options = options(*method);
    let prepared = Prepared::new(&case, 0, &options).unwrap();
    let mut thinner = case.clone();
    thinner.part.stock.bore.radius += 0.5;
    let error = prepared.hold(&thinner).err().unwrap();
    assert_eq!(error.at, Place::Part);
    assert_eq!(error.at.to_string(), "part");
    assert_eq!(error.reason, Reason::Input(Unfit::OtherPart));
    assert!(error.to_string().contains("another part"), "{error}");
    let mut none = case.clone();
    none.steps.clear();
    let error = prepared.hold(&none).err().unwrap();
    assert_eq!(error.reason, Reason::Input(Unfit::NoStep));
    let error = Prepared::new(&case, 1, &options).err().unwrap();
    assert_eq!(error.reason, Reason::Input(Unfit::NoStep));
}
