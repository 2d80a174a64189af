//! What the program says of a grip holds for every corner of what is known, and for the forces of its window when they are tried.

use ringwright_solver::process::{KeepFields, Method, Options};
use ringwright_solver::report::grip::NOT_SAFE;
use ringwright_solver::report::{Program, document};
use ringwright_tests::files::{self, Solved, number};
use ringwright_tests::random::Random;
use ringwright_tests::{PANICKED, generator, tried, whatever};

use crate::ring;

/// Corners of a case: friction, tangential, axial and radial force.
struct Known {
    friction: [f64; 2],
    forces: [[f64; 2]; 3],
    jaws: [f64; 2],
}

impl Known {
    /// The case with each number as `of` writes it.
    fn case(&self, head: &str, of: impl Fn(usize, [f64; 2]) -> String) -> String {
        let [tangential, axial, radial] = self.forces;
        format!(
            "{head}force = {}\nfriction = {}\n[[step]]\nhold = \"h\"\n[[step.cut]]\nsurface = \"bore\"\ndiameter = 95.6\n\
             tangential_force = {}\naxial_force = {}\nradial_force = {}\n[mesh]\naround = 120\nthrough = 2\n",
            of(4, self.jaws),
            of(0, self.friction),
            of(1, tangential),
            of(2, axial),
            of(3, radial)
        )
    }
}

fn safety(solved: &Solved) -> f64 {
    number(&solved.json, "/steps/0/grip/slip_safety")
}

/// The safety that is told of a case with bands is never better than that of any case at a corner of them, and the favourable one never worse, on 200 random holds.
/// Truth: invariance; the same case at every corner of its bands
#[test]
fn a_band_is_as_safe_as_its_worst_corner() {
    let mut random = Random::new(20_261_201);
    for case in 0..200 {
        let mut band = |low: f64, high: f64| {
            let a = random.between(low, high);
            [a, a * random.between(1.0, 3.0)]
        };
        let known = Known {
            friction: band(0.04, 0.2),
            forces: [band(1.0, 60.0), band(0.5, 40.0), band(0.0, 8.0)],
            jaws: band(50.0, 200.0),
        };
        // two jaws take no force across them
        let count = 3 + random.below(3);
        let inside = random.chance(0.3);
        let head = ring()
            + &format!(
                "[[hold.h]]\nscheme = \"jaws\"\ncount = {count}\nwidth = {:?}\nside = \"{}\"\n",
                random.between(6.0, 20.0),
                if inside { "inside" } else { "outside" }
            );
        let head = if inside {
            head.replace("95.6", "104.4")
        } else {
            head
        };
        let text = |of: &dyn Fn(usize, [f64; 2]) -> String| {
            let text = known.case(&head, of);
            match inside {
                true => text.replace(
                    "surface = \"bore\"\ndiameter = 95.6",
                    "surface = \"outer\"\ndiameter = 104.4",
                ),
                false => text,
            }
        };
        let whole = files::solve(&text(&|_, [a, b]| {
            format!("{{ low = {a:?}, high = {b:?} }}")
        }));
        let told = safety(&whole);
        let best = number(&whole.json, "/steps/0/grip/slip_safety_high");
        for corner in 0..32_usize {
            let end = |k: usize, ends: [f64; 2]| format!("{:?}", ends[corner >> k & 1]);
            let found = safety(&files::solve(&text(&end)));
            assert!(
                told <= found * (1.0 + 1e-9) && best >= found * (1.0 - 1e-9),
                "case {case}, corner {corner}: {told} to {best}, and {found}"
            );
        }
        assert!(told <= best);
    }
}

fn example(force: f64, more: &str) -> String {
    ring()
        + &format!(
            "[tolerance]\nroundness = 0.02\n[chuck]\nrated_force = 6000\nrated_speed = 2000\n[[hold.h]]\nscheme = \"jaws\"\ncount = 3\nforce = {force:?}\n\
             bored_diameter = 110.25\nwidth = 20.0\naxial_stop = true\n{more}[[step]]\nhold = \"h\"\n[[step.cut]]\nsurface = \"bore\"\ndiameter = 95.4\n\
             tangential_force = {{ low = 2.0, high = 3.0 }}\naxial_force = 2.0\nradial_force = 0.0\n"
        )
}

/// The forces of a window are true when they are tried: at the least the hold takes what the cut asks and little more, at the largest the zone is met and nearly used up.
/// Truth: invariance; the same case run with the force that is named
#[test]
fn the_ends_of_a_window_are_what_they_are_called() {
    let friction = "friction = { low = 0.1, high = 0.2 }\n";
    let first = files::solve(&example(120.0, friction));
    let window = &first.json["steps"][0]["grip"]["force_window"];
    let (low, high) = (number(window, "/low"), number(window, "/high"));
    assert_eq!(
        (&window["low_limited_by"], &window["high_limited_by"]),
        (&"slip".into(), &"roundness".into())
    );
    assert!(low < high, "{window}");
    let at_low = files::solve(&example(low, friction));
    let found = safety(&at_low);
    assert!((0.99..1.06).contains(&found), "{found}");
    let at_high = files::solve(&example(high, friction));
    let limit = &at_high.json["verdict"]["limits"][0];
    let share = number(limit, "/found/1") / 0.02;
    assert!((0.93..1.01).contains(&share), "{share}");
    // a window does not depend on the force that the case happens to set
    for solved in [&at_low, &at_high] {
        let again = &solved.json["steps"][0]["grip"]["force_window"];
        for (end, first) in [("/low", low), ("/high", high)] {
            let ratio = number(again, end) / first;
            assert!((0.94..1.06).contains(&ratio), "{end}: {ratio}");
        }
    }
    let below = files::solve(&example(0.8 * low, friction));
    assert_eq!(below.json["verdict"]["safe"], false);
    assert_eq!(
        below.json["verdict"]["headlines"][0],
        "NOT SAFE BY THIS ESTIMATE"
    );
    let says = below.json["verdict"]["says"][0].as_str().unwrap();
    assert!(says.starts_with("NOT SAFE BY THIS ESTIMATE: "), "{says}");
}

/// The same along a tube, whose ends are found on coarser divisions.
/// Truth: invariance; the same case run with the force that is named
#[test]
fn the_ends_of_a_window_along_a_tube() {
    let sleeve = |force: f64| {
        format!(
            "accuracy = 0.02\n[tolerance]\nroundness = 0.05\n[part]\nouter_diameter = 110\nbore_diameter = 100\nlength = 40\nmaterial = \"bronze C93200\"\n\
             [tube]\nstations = [0, 40]\n[[hold.h]]\nscheme = \"jaws\"\ncount = 3\nforce = {force:?}\nbored_diameter = 110.5\narc = 50\ngrip_length = 20\n\
             friction = {{ low = 0.15, high = 0.2 }}\naxial_stop = true\n[[step]]\nhold = \"h\"\n[[step.cut]]\nsurface = \"bore\"\ndiameter = 100.6\n\
             tangential_force = 8\naxial_force = 4\nradial_force = 2\n"
        )
    };
    let first = files::solve(&sleeve(500.0));
    let window = &first.json["steps"][0]["grip"]["force_window"];
    let (low, high) = (number(window, "/low"), number(window, "/high"));
    assert_eq!(
        (&window["low_limited_by"], &window["high_limited_by"]),
        (&"slip".into(), &"roundness".into())
    );
    assert!(low < high, "{window}");
    let found = safety(&files::solve(&sleeve(low)));
    assert!((0.95..1.08).contains(&found), "{found}");
    let at_high = files::solve(&sleeve(high));
    let share = number(&at_high.json["verdict"]["limits"][0], "/found/1") / 0.05;
    assert!((0.9..1.02).contains(&share), "{share}");
}

/// No friction is no grip, and it is said; friction that is not given is not zero, and nothing is told of it.
/// Truth: analytical; nothing but friction holds a round part
#[test]
fn without_friction_nothing_is_held() {
    let none = files::solve(&example(120.0, "friction = 0\n"));
    assert_eq!(safety(&none), 0.0);
    assert_eq!(none.json["verdict"]["safe"], false);
    let open = files::solve(&example(120.0, ""));
    let grip = &open.json["steps"][0]["grip"];
    assert!(grip["slip_safety"].is_null() && grip["torque_available"].is_null());
    assert!(grip["force_window"]["low"].is_null());
    assert!(open.json["verdict"]["safe"].is_null());
    let not_checked = grip["not_checked"].as_array().unwrap();
    let of_friction = |l: &serde_json::Value| l.as_str().unwrap().contains("`friction`");
    assert!(not_checked.iter().any(of_friction), "{grip}");
}

/// Jaws that turn press less outside and more in the bore, the cut is made at what is left, and both states are told.
/// Truth: analytical; `m r w^2` of every jaw
#[test]
fn turning_changes_what_the_jaws_press_with() {
    let (mass, radius, speed): (f64, f64, f64) = (0.05, 60.0, 400.0);
    let omega = std::f64::consts::TAU * speed / 60.0;
    let change = mass * radius * 1e-3 * omega * omega;
    for (side, cut, sign) in [
        ("outside", "surface = \"bore\"\ndiameter = 95.4", -1.0),
        ("inside", "surface = \"outer\"\ndiameter = 104.6", 1.0),
    ] {
        let text = ring()
            + &format!(
                "[[hold.h]]\nscheme = \"jaws\"\ncount = 3\nforce = 120\nwidth = 12\nside = \"{side}\"\nfriction = 0.15\njaw_mass = {mass:?}\n\
                 jaw_centroid_radius = {radius:?}\n[[step]]\nhold = \"h\"\nspeed = {speed:?}\n[[step.cut]]\n{cut}\n"
            );
        let solved = files::solve(&text);
        let step = &solved.json["steps"][0];
        let held = number(step, "/held/contacts/0/force");
        assert!((held - 120.0).abs() < 1e-6, "{held}");
        let expected = 120.0 + sign * change;
        for pointer in [
            "/grip/force_at_speed/1",
            "/held_at_speed/contacts/2/force",
            "/after_cut/contacts/0/force",
        ] {
            let found = number(step, pointer);
            assert!(
                (found / expected - 1.0).abs() < 1e-4,
                "{side} {pointer}: {found}"
            );
        }
        // the shape left is that of the force at speed
        let plain = text
            .replace(&format!("speed = {speed:?}\n"), "")
            .replace("force = 120", &format!("force = {expected:?}"));
        let plain = files::solve(&plain);
        let surface = if sign < 0.0 { "bore" } else { "outer" };
        let at = format!("/steps/0/released/{surface}/roundness_minimum_zone");
        let (a, b) = (number(&solved.json, &at), number(&plain.json, &at));
        assert!((a / b - 1.0).abs() < 1e-6, "{a} {b}");
    }
}

/// Random holds of every scheme on lobed rings that are cut, with friction, masses, speed and feed put in at random: nothing panics, no figure is not a number, the verdict agrees with the figures.
/// Truth: invariance; what is told in one place follows from what is told in another
#[test]
fn whatever_is_known_of_a_grip_the_verdict_follows_from_it() {
    let registry = ringwright_plugins::registry();
    let mut random = Random::new(31_122_026);
    let (mut solved, mut safe, mut not_safe, mut unknown) = (0, 0, 0, 0);
    let cases = tried([60, 600]);
    for _ in 0..4 * cases {
        if solved == cases {
            break;
        }
        let plain = generator::lobed_and_cut(&mut random, &registry);
        let mut text = String::new();
        for line in plain.lines() {
            text += line;
            text.push('\n');
            if line.starts_with("scheme = ") && !line.contains("end-clamp") {
                if random.chance(0.8) {
                    let low = random.between(0.0, 0.3);
                    text += &format!("friction = {{ low = {low:?}, high = {:?} }}\n", 2.0 * low);
                }
                if random.chance(0.5) {
                    text += &format!(
                        "jaw_mass = {:?}\njaw_centroid_radius = 60\n",
                        random.size(1e-3, 2.0)
                    );
                }
                if random.chance(0.3) {
                    text += "axial_stop = true\n";
                }
            }
            if line == "[[step]]" && random.chance(0.7) {
                text += &format!("speed = {:?}\n", random.between(0.0, 3000.0));
            }
            if line.starts_with("surface = ") && text.contains("[[step.cut]]") {
                text += &format!(
                    "tangential_force = {{ low = 1, high = {:?} }}\naxial_force = {:?}\nradial_force = {:?}\n",
                    random.size(1.0, 300.0),
                    random.size(0.1, 100.0),
                    if random.chance(0.5) {
                        0.0
                    } else {
                        random.size(0.01, 5.0)
                    }
                );
            }
        }
        let Ok((case, origin)) = ringwright_solver::case::read_with_origin(&text, &registry, None)
        else {
            continue;
        };
        let outcome = match whatever(&case, &QUICK, 8) {
            Ok(outcome) => outcome,
            Err(e) => {
                assert_ne!(e, PANICKED, "{text}");
                continue;
            }
        };
        solved += 1;
        let document = document(&case, &origin, &outcome, &Program::default()).unwrap();
        let written = document.to_json().unwrap();
        assert!(
            !written.contains("NaN") && !written.contains("inf"),
            "{text}"
        );
        let grip = &document.steps[0].grip;
        let verdict = &document.verdict;
        let headed = verdict.headlines.contains(&NOT_SAFE);
        assert_eq!(headed, verdict.safe == Some(false), "{text}");
        let (low, high) = (grip.slip_safety, grip.slip_safety_high);
        if let (Some(low), Some(high)) = (low, high) {
            assert!(low <= high, "{low} {high}\n{text}");
        }
        match verdict.safe {
            Some(true) => {
                safe += 1;
                assert!(
                    low.is_none_or(|l| l >= 1.5) && grip.not_checked.is_empty(),
                    "{text}"
                );
            }
            Some(false) => not_safe += 1,
            None => {
                unknown += 1;
                assert!(low.is_none_or(|l| l >= 1.0), "{low:?}\n{text}");
            }
        }
        if let Some(window) = &grip.force_window
            && let (true, Some(low), Some(high)) = (window.open, window.low, window.high)
        {
            assert!(low <= high, "{low} {high}\n{text}");
        }
    }
    println!("{solved} solved: {safe} safe, {not_safe} not, {unknown} not known");
    assert!(solved == cases && not_safe > 0 && unknown > 0);
}

const QUICK: Options = Options {
    fields: KeepFields::None,
    estimate: true,
    method: Method::MeanRing,
    advice: true,
};

/// Pads bored under size bear on their edges and close on the part as they are pressed, so that more force leaves it rounder: whatever force a case sets, it is in its window if and only if it
/// meets the zone, and a window that one force finds another finds too.
/// Truth: invariance; the same case at several forces
#[test]
fn a_window_holds_where_more_force_leaves_a_part_rounder() {
    let case = |force: f64| {
        format!(
            "[tolerance]\nroundness = 0.0152\n[part]\nouter_diameter = 127.0254\nbore_diameter = 114.3\nlength = 19\nmaterial = \"steel 1045 hot rolled\"\n\
             [[hold.h]]\nscheme = \"jaws\"\ncount = 3\nforce = {force:?}\nbored_diameter = 126.926\narc = 90\nfriction = 0.15\naxial_stop = true\n\
             [[step]]\nhold = \"h\"\n[[step.cut]]\nsurface = \"bore\"\ndiameter = 115.824\ntangential_force = 100\naxial_force = 50\nradial_force = 0\n\
             [chuck]\nrated_force = 40000\n"
        )
    };
    let mut met = [0, 0];
    for force in [900.0, 2200.0, 3100.0, 4200.0, 6700.0, 11000.0] {
        let solved = files::solve(&case(force));
        let limit = &solved.json["verdict"]["limits"][0];
        let meets = number(limit, "/found/1") <= 0.0152;
        met[usize::from(meets)] += 1;
        let window = &solved.json["steps"][0]["grip"]["force_window"];
        let (low, high) = (number(window, "/low"), number(window, "/high"));
        let inside = (low..=high).contains(&force);
        assert_eq!(inside, meets, "{force}: {window}");
        let at_low = files::solve(&case(1.01 * low));
        let found = number(&at_low.json["verdict"]["limits"][0], "/found/1");
        assert!(found <= 1.01 * 0.0152, "{force}: {found} at {low}");
    }
    assert!(met[0] > 0 && met[1] > 0, "{met:?}");
}
