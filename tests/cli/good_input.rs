//! What a good file turns into.

use std::f64::consts::PI;

use ringwright_solver::case::quantity::UnitSystem;
use ringwright_solver::case::{self, Case, Origin, Place, read_with_origin};
use ringwright_solver::geometry::Surface;
use ringwright_solver::scheme::{Drive, Supports};

use crate::CASE;

fn case(text: &str) -> Case {
    with_origin(text).0
}

fn with_origin(text: &str) -> (Case, Origin) {
    read_with_origin(text, &ringwright_plugins::registry(), None)
        .unwrap_or_else(|p| panic!("{p:?}"))
}

fn supports(case: &Case, hold: usize) -> Supports {
    let member = &case.holds[hold].members[0];
    member
        .scheme
        .supports(&case.section_at(0), &member.values)
        .unwrap()
}

#[test]
fn everything_arrives_in_our_units() {
    let (c, origin) = with_origin(CASE);
    assert_eq!(c.title, "Ring");
    assert_eq!(origin.sha256.len(), 64);
    assert_eq!(c.part.stock.outer.radius, 60.0);
    assert_eq!(c.part.stock.bore.lobes.len(), 1);
    assert!((c.part.stock.outer.lobes[0].phase - PI / 18.0).abs() < 1e-15);
    assert_eq!(c.part.material.young_modulus, 100e3);
    assert_eq!(c.tolerance.roundness, Some(0.02));
    let names: Vec<_> = c.holds.iter().map(|h| h.name.as_str()).collect();
    assert_eq!(names, ["bare", "soft"]);
    assert_eq!(c.steps[0].cuts[0].diameter, 111.0);
    let half = case(&CASE.replace("force_scale = 1.0", "force_scale = 0.5"));
    assert_eq!(half.steps[0].force_scale, 0.5);
    // lines count from 1
    let scheme = Place::Scheme {
        hold: "bare".into(),
        scheme: 0,
        parameter: Some("count".into()),
    };
    assert_eq!(origin.line_of(&scheme), Some(16));
    let cut = Place::CutDiameter { step: 0, cut: 0 };
    assert_eq!(origin.line_of(&cut), Some(32));
    assert_eq!(
        origin.line_of(&Place::CutDiameter { step: 0, cut: 7 }),
        None
    );
    assert_eq!(supports(&c, 0).drive, Drive::SelfCentring { force: 150.0 });
}

/// An offset points along its angle, counter-clockwise from +x.
#[test]
fn offsets_point_along_their_angle() {
    let text = CASE
        .replace("distance = 0.0, angle = 0.0", "distance = 0.2, angle = 30")
        .replace(
            "[[part.lobes]]",
            "[part.bore_offset]\ndistance = 0.4\nangle = 120\n[[part.lobes]]",
        );
    let c = case(&text);
    let half_root = 0.5 * 3_f64.sqrt();
    for (found, exact) in [
        (c.steps[0].spindle_offset, [0.2 * half_root, 0.1]),
        (c.part.stock.bore.centre, [-0.2, 0.4 * half_root]),
        (c.part.stock.outer.centre, [0.0, 0.0]),
    ] {
        for k in 0..2 {
            assert!((found[k] - exact[k]).abs() < 1e-15, "{found:?} {exact:?}");
        }
    }
}

/// Tension is positive, and each surface has its own stress.
#[test]
fn residual_stress_keeps_its_surface_and_sign() {
    let text = CASE.replace(
        "[[part.lobes]]",
        "[part.residual_hoop_stress]\nouter = -30\nbore = \"0.03 GPa\"\n[[part.lobes]]",
    );
    let residual = case(&text).part.residual.unwrap();
    assert_eq!((residual.outer, residual.bore), (-30.0, 30.0));
}

#[test]
fn the_section_follows_earlier_cuts() {
    let text = CASE.replace(
        "[mesh]",
        "[[step.cut]]\nsurface = \"outer\"\ndiameter = 119\n[[step]]\nhold = \"free\"\n[mesh]",
    );
    let c = case(&text);
    assert_eq!(c.section_at(0).outer_radius, 60.0);
    assert_eq!(c.section_at(1).outer_radius, 59.5);
    assert_eq!(c.section_at(1).bore_radius, 55.5);
}

/// Exact factors (NIST SP 811): what is left is rounding of the typed numbers.
#[test]
fn inch_and_millimetre_files_agree() {
    let inch = |mm: f64| format!("{:.17}", mm / 25.4);
    let lbf = |n: f64| format!("{:.17}", n / 4.4482216152605);
    let mut text = CASE.replace("units = \"mm\"", "units = \"inch\"");
    for (key, mm) in [
        ("outer_diameter", "120.0"),
        ("bore_diameter", "110.0"),
        ("length", "20.0"),
        ("amplitude", "0.05"),
        ("roundness", "0.02"),
        ("bored_diameter", "121.2"),
        ("width", "20.0"),
        ("diameter", "111.0"),
    ] {
        text = text.replace(
            &format!("\n{key} = {mm}\n"),
            &format!("\n{key} = {}\n", inch(mm.parse().unwrap())),
        );
    }
    text = text.replace("force = 150.0", &format!("force = {}", lbf(150.0)));
    let ((a, of_a), (b, of_b)) = (with_origin(CASE), with_origin(&text));
    assert_eq!(of_a.units, UnitSystem::Millimetre);
    assert_eq!(of_b.units, UnitSystem::Inch);
    let near = |x: f64, y: f64| assert!((x - y).abs() <= 1e-12 * x.abs(), "{x} {y}");
    near(a.part.stock.outer.radius, b.part.stock.outer.radius);
    near(a.part.stock.bore.radius, b.part.stock.bore.radius);
    near(a.part.length, b.part.length);
    near(
        a.part.stock.bore.lobes[0].amplitude,
        b.part.stock.bore.lobes[0].amplitude,
    );
    near(
        a.tolerance.roundness.unwrap(),
        b.tolerance.roundness.unwrap(),
    );
    near(a.steps[0].cuts[0].diameter, b.steps[0].cuts[0].diameter);
    near(a.part.material.young_modulus, b.part.material.young_modulus);
    let (s, t) = (supports(&a, 0), supports(&b, 0));
    near(s.bodies[0].half_angle, t.bodies[0].half_angle);
    let (Drive::SelfCentring { force: f }, Drive::SelfCentring { force: g }) = (s.drive, t.drive)
    else {
        panic!("both are self-centring");
    };
    near(f, g);
}

#[test]
fn a_value_may_carry_its_own_unit() {
    let text = CASE
        .replace("units = \"mm\"", "units = \"inch\"")
        .replace("= 120.0", "= \"12 cm\"")
        .replace("= 110.0", "= \"110 mm\"")
        .replace("length = 20.0", "length = \"20mm\"")
        .replace("amplitude = 0.05", "amplitude = \"5 thou\"")
        .replace("= 121.2", "= \"121.2 mm\"")
        .replace("width = 20.0", "width = \"20 mm\"")
        .replace("diameter = 111.0", "diameter = \"111 mm\"")
        .replace(
            "\"bronze C93200\"",
            "{ young_modulus = \"100 GPa\", poisson_ratio = 0.34, density = 8930 }",
        );
    let c = case(&text);
    assert_eq!(c.part.stock.outer.radius, 60.0);
    assert!((c.part.stock.outer.lobes[0].amplitude - 0.127).abs() < 1e-15);
    assert_eq!(c.part.material.young_modulus, 100e3);
    // a density is kg/m3 whatever the file's units
    assert_eq!(c.part.material.density, Some(8930.0));
    // a plain force of an inch file is lbf
    let Drive::SelfCentring { force } = supports(&c, 0).drive else {
        panic!("self-centring");
    };
    assert!((force - 150.0 * 4.4482216152605).abs() < 1e-9);
}

/// Sizes as a drawing in inches has them: 4 3/4 in is 120.65 mm, 1 lbf 4.4482216152605 N (exact by definition, NIST SP 811).
#[test]
fn fractions_and_pounds_are_read() {
    let typed = |outer: &str, length: &str, force: &str| {
        let text = CASE
            .replace(
                "outer_diameter = 120.0",
                &format!("outer_diameter = {outer}"),
            )
            .replace("length = 20.0", &format!("length = {length}"))
            .replace("force = 150.0\nbored", &format!("force = {force}\nbored"))
            .replace("bored_diameter = 121.2", "bored_diameter = 122");
        let c = case(&text);
        let Drive::SelfCentring { force } = supports(&c, 0).drive else {
            panic!("self-centring");
        };
        [2.0 * c.part.stock.outer.radius, c.part.length, force]
    };
    let near = |found: [f64; 3], exact: [f64; 3]| {
        for (a, b) in found.iter().zip(exact) {
            assert!((a - b).abs() < 1e-12 * b, "{found:?} {exact:?}");
        }
    };
    let force = 35.0 * 4.4482216152605;
    for (outer, length, pounds) in [
        ("\"4 3/4 in\"", "\"13/16 in\"", "\"35 lbs\""),
        ("'4-3/4\"'", "'13/16\"'", "\"35 pounds\""),
        ("\"4¾ inches\"", "\"0.8125 IN\"", "\"35 lb\""),
    ] {
        near(typed(outer, length, pounds), [120.65, 20.6375, force]);
    }
}

/// A wall of which one surface was measured is bent as a whole, unless the case says that the other is round.
#[test]
fn the_other_surface_follows_the_one_that_was_measured() {
    const LOBED: &str =
        "[[part.lobes]]\nsurface = \"both\"\ncount = 2\namplitude = 0.05\nangle = 10\n";
    // 0.06 cos(2 t) at every 30 degrees, read 0.1 over size
    let list = "{ readings = \"0:0.16 30:0.13 60:0.07 90:0.04 120:0.07 150:0.13 180:0.16 210:0.13 240:0.07 270:0.04 300:0.07 \
                330:0.13\", reads = \"deviation\", lobes = 4 }";
    let with =
        |readings: String| case(&CASE.replace(LOBED, &format!("[part.readings]\n{readings}\n")));
    let second = |c: &Case, s: Surface| {
        let outline = c.part.stock.get(s);
        let at = |deg: f64| outline.radius(deg.to_radians());
        // amplitude of the second lobe, and the mean of four radii
        [
            0.5 * (at(0.0) - at(90.0)),
            0.25 * (at(0.0) + at(90.0) + at(180.0) + at(270.0)),
        ]
    };
    for (measured, other) in [
        (Surface::Outer, Surface::Bore),
        (Surface::Bore, Surface::Outer),
    ] {
        let nominal = |s| if s == Surface::Outer { 60.0 } else { 55.0 };
        let (a, b) = (measured.name(), other.name());
        let c = with(format!("{a} = {list}"));
        let [amplitude, mean] = second(&c, other);
        assert!((amplitude - 0.06).abs() < 1e-6, "{a}: {amplitude}");
        assert!((mean - nominal(other)).abs() < 1e-6, "{a}: {mean}");
        assert!(c.part.measured.get(other).is_none());
        assert!(
            c.assumed
                .iter()
                .any(|l| l.contains("bent wall of even thickness")),
            "{:?}",
            c.assumed
        );
        let c = with(format!("{a} = {list}\n{b} = \"round\""));
        assert!(c.part.stock.get(other).is_round());
        assert!((second(&c, measured)[0] - 0.06).abs() < 1e-6);
        assert!(
            c.assumed
                .iter()
                .any(|l| l.contains("round about the centre of")),
            "{:?}",
            c.assumed
        );
    }
    // lobes that the case gives the other surface are its own
    let own = LOBED.replace("both", "bore");
    let c = case(&CASE.replace(LOBED, &format!("{own}[part.readings]\nouter = {list}\n")));
    assert!((second(&c, Surface::Bore)[0] - 0.05 * 20_f64.to_radians().cos()).abs() < 1e-6);
    let none = CASE.replace(
        LOBED,
        "[part.readings]\nouter = \"round\"\nbore = \"round\"\n",
    );
    let problems = case::read(&none, &ringwright_plugins::registry())
        .err()
        .unwrap();
    assert!(
        problems[0].message.contains("neither surface was measured"),
        "{problems:?}"
    );
}

#[test]
fn what_is_taken_for_granted_is_said() {
    let round = CASE.replace("amplitude = 0.05", "amplitude = 0.0");
    let c = case(&round);
    for line in [
        "round blank",
        "no residual stress",
        "rigid jaws",
        "no tool force",
        "grip over the full length",
        "jaws: drive self-centring (default)",
        "jaws: after_clamping keeps-force (default)",
    ] {
        assert!(
            c.assumed.iter().any(|a| a == line),
            "{line} is not in {:?}",
            c.assumed
        );
    }
    assert!(!c.assumed.iter().any(|a| a.contains("flat pad")));
    let flat = case(&CASE.replace("bored_diameter = 121.2\n", ""));
    assert!(
        flat.assumed
            .iter()
            .any(|a| a == "flat pad: no bored_diameter given")
    );
    assert!(!flat.assumed.iter().any(|a| a == "round blank"));
    let with =
        |more: &str| case(&CASE.replace("width = 20.0\n", &format!("width = 20.0\n{more}\n")));
    let soft = with("shim_thickness = 1\nshim_modulus = 50");
    assert!(!soft.assumed.iter().any(|a| a == "rigid jaws"));
    let plugged = with("[[hold.bare]]\nscheme = \"plug\"\ndiameter = 110");
    assert!(plugged.assumed.iter().any(|a| a == "rigid plug"));
    // jaws that no step uses take nothing for granted, and patches are not jaws
    for hold in ["free", "soft"] {
        let other = case(&CASE.replace("hold = \"bare\"", &format!("hold = \"{hold}\"")));
        assert!(!other.assumed.iter().any(|a| a == "rigid jaws"), "{hold}");
    }
}

#[test]
fn pads_may_meet_but_not_overlap() {
    let meet = CASE.replace("width = 20.0", "arc = 120");
    case(&meet);
    let two = CASE.replace(
        "count = 3\nfirst_angle = 0",
        "count = 2\ndrive = \"equal-force\"",
    );
    case(&two);
}

/// A relieved pad leaves room for what stands in its middle; a hold may be balanced in more ways than by jaws.
#[test]
fn what_holds_may_be_mixed() {
    for more in [
        "relief_width = 12\n[[hold.bare]]\nscheme = \"screws\"\nside = \"outside\"\ncount = 3\ncrown_radius = 10\nforce = 20",
        // one force more than balances is taken by jaws that share a travel
        "[[hold.bare]]\nscheme = \"points\"\ncount = 1\nforce = 5\nfirst_angle = 60",
        "[[hold.bare]]\nscheme = \"end-clamp\"\naxial_force = 100",
        // one screw by itself stops nothing, and need not
        "[[hold.bare]]\nscheme = \"screws\"\ncount = 1\ncrown_radius = 10\ngap = 0",
    ] {
        case(&CASE.replace("width = 20.0\n", &format!("width = 20.0\n{more}\n")));
    }
    let alone = |scheme: &str| {
        let start = CASE.find("scheme = \"pressure").unwrap();
        let end = CASE.find("[[step]]").unwrap();
        format!("{}{scheme}\n{}", &CASE[..start], &CASE[end..])
    };
    for scheme in [
        "scheme = \"end-clamp\"\naxial_force = 100",
        "scheme = \"plug\"\ndiameter = 110",
        "scheme = \"screws\"\ncount = 3\ncrown_radius = 10\ngap = -0.01",
        "scheme = \"mandrel\"\nsegments = 4\ndiameter = 110\narc = 60\ntravel = 0.02",
    ] {
        case(&alone(scheme));
    }
}
