//! Limits of a drawing held against a part whose shape is known: the outside as received with lobes typed in, the bore turned true.

use std::f64::consts::TAU;

use ringwright_solver::case::{Case, SurfaceTolerance};
use ringwright_solver::geometry::Surface;
use ringwright_solver::metrology::{Circle, Profile, ReferenceCircle, Sheet, Wanted};
use ringwright_solver::report::document::usual_gauges;
use ringwright_tests::files::{self, Solved};
use serde_json::Value;

const LOBES: [(u32, f64, f64); 3] = [(2, 0.002, 10.0), (3, 0.01, 40.0), (12, 0.001, 0.0)];

/// The part: 100 mm outside with [`LOBES`], bored to 95 mm while nothing holds it.
fn part() -> Solved {
    let lobe = |(count, amplitude, angle): (u32, f64, f64)| {
        format!(
            "[[part.lobes]]\nsurface = \"outer\"\ncount = {count}\namplitude = {amplitude}\nangle = {angle}\n"
        )
    };
    let lobes: String = LOBES.into_iter().map(lobe).collect();
    files::solve(&format!(
        "{}{lobes}[[step]]\nhold = \"free\"\n[[step.cut]]\nsurface = \"bore\"\ndiameter = 95.0\n",
        files::ring(47.0, 50.0, 200_000.0, 0.3, 20.0)
    ))
}

fn radius(t: f64) -> f64 {
    let wave = |(n, a, angle): (u32, f64, f64)| a * (f64::from(n) * (t - angle.to_radians())).cos();
    50.0 + LOBES.into_iter().map(wave).sum::<f64>()
}

/// What the outside as typed in shows.
fn sheet(cut_off: Option<f64>) -> Sheet {
    let radii: Vec<f64> = (0..3600)
        .map(|k| radius(TAU * f64::from(k) / 3600.0))
        .collect();
    let wanted = Wanted {
        gauges: usual_gauges(Some(Surface::Outer)),
        cut_off,
    };
    Sheet::of(&Profile::equal(&radii), &wanted).unwrap()
}

/// The verdict with these limits on the outside and in the bore.
fn judge(part: &Solved, outer: SurfaceTolerance, bore: SurfaceTolerance) -> Value {
    judge_as(part, |case| {
        case.tolerance.surfaces.outer = outer;
        case.tolerance.surfaces.bore = bore;
    })
}

fn judge_as(part: &Solved, change: impl FnOnce(&mut Case)) -> Value {
    let mut case = part.case.clone();
    change(&mut case);
    files::json(&case, &part.outcome)["verdict"].clone()
}

/// The one limit of a verdict: what was found, and by how much it is outside.
fn only(verdict: &Value) -> ([f64; 2], f64) {
    let limits = verdict["limits"].as_array().unwrap();
    assert_eq!(limits.len(), 1, "{verdict}");
    let number = |pointer: &str| files::number(&limits[0], pointer);
    let over = number("/over");
    assert_eq!(verdict["in_tolerance"], over <= 0.0, "{verdict}");
    ([number("/found/0"), number("/found/1")], over)
}

fn near(found: f64, wanted: f64) {
    // the mesh takes the typed lobes to a few nanometres
    assert!((found - wanted).abs() < 2e-5, "{found} {wanted}");
}

/// Truth: analytical; by construction of the input
#[test]
fn every_limit_is_about_its_own_figure() {
    let part = part();
    let plain = sheet(None);
    let none = SurfaceTolerance::default;
    let outer = |limits: SurfaceTolerance| judge(&part, limits, none());

    // sizes: too large, too small, and both at once
    let [low, high] = plain.two_point.limits;
    assert!(high - low > 0.005);
    for (allowed, over) in [
        ([low - 1e-3, high + 1e-3], 0.0),
        ([low - 1e-3, high - 1e-3], 1e-3),
        ([low + 2e-3, high + 1e-3], 2e-3),
        ([low + 2e-3, high - 3e-3], 3e-3),
    ] {
        let (found, beyond) = only(&outer(SurfaceTolerance {
            diameter: Some(allowed),
            ..none()
        }));
        near(found[0], low);
        near(found[1], high);
        near(beyond, over);
    }
    let average = |d: [f64; 2]| SurfaceTolerance {
        average_diameter: Some(d),
        ..none()
    };
    let (found, over) = only(&outer(average([99.99, 99.998])));
    near(found[0], 100.0);
    near(found[1], 100.0);
    near(over, 0.002);
    let (found, over) = only(&judge(&part, none(), average([95.001, 95.1])));
    near(found[0], 95.0);
    near(over, 0.001);

    // as it is let go, bored, and not as it was held before
    let sized = SurfaceTolerance {
        diameter: Some([94.99, 95.01]),
        ..none()
    };
    let (found, over) = only(&judge(&part, none(), sized));
    near(found[0], 95.0);
    near(found[1], 95.0);
    near(over, 0.0);

    // the bore is true about the axis, so the wall varies as the outside's radius, and so does the outside while it turns on the bore
    let about_axis = plain.about_origin;
    let wall = SurfaceTolerance {
        wall_variation: Some(0.01),
        ..none()
    };
    let (found, over) = only(&outer(wall));
    near(found[1], about_axis);
    near(over, about_axis - 0.01);
    let runout = || SurfaceTolerance {
        runout: Some(0.01),
        ..none()
    };
    let verdict = outer(runout());
    near(only(&verdict).0[1], about_axis);
    let says = verdict["says"][0].as_str().unwrap();
    assert!(says.contains("runout about the axis of the bore"), "{says}");
    near(only(&judge(&part, none(), runout())).0[1], 0.0);
}

/// Truth: invariance; two ways to read one figure
#[test]
fn a_zone_is_about_the_circle_and_the_filter_that_were_asked_for() {
    use ReferenceCircle::{LeastSquares, MaximumInscribed, MinimumCircumscribed, MinimumZone};
    let part = part();
    let mut seen = Vec::new();
    for cut_off in [None, Some(10.0)] {
        let sheet = sheet(cut_off);
        let of = |circle: ReferenceCircle| -> Circle {
            match (&sheet.filtered, circle) {
                (None, MinimumZone) => sheet.minimum_zone.circle,
                (None, LeastSquares) => sheet.least_squares,
                (None, MinimumCircumscribed) => sheet.circumscribed.as_ref().unwrap().circle,
                (None, MaximumInscribed) => sheet.inscribed.as_ref().unwrap().circle,
                (Some(f), MinimumZone) => f.minimum_zone.circle,
                (Some(f), LeastSquares) => f.least_squares,
                (Some(f), MinimumCircumscribed) => f.circumscribed.as_ref().unwrap().circle,
                (Some(f), MaximumInscribed) => f.inscribed.as_ref().unwrap().circle,
            }
        };
        for circle in [
            MinimumZone,
            LeastSquares,
            MinimumCircumscribed,
            MaximumInscribed,
        ] {
            let words = circle.name();
            let wanted = of(circle).roundness;
            seen.push(wanted);
            let zone = |circle, filter_upr| SurfaceTolerance {
                roundness: Some(0.015),
                circle,
                filter_upr,
                ..SurfaceTolerance::default()
            };
            // said for the surface, against the inspection's own; or for the inspection alone
            let own = judge_as(&part, |case| {
                case.inspection.circle = match circle {
                    LeastSquares => MinimumZone,
                    _ => LeastSquares,
                };
                case.inspection.filter_upr = cut_off.map(|_| 100.0);
                case.tolerance.surfaces.outer = zone(Some(circle), cut_off);
            });
            let general = judge_as(&part, |case| {
                case.inspection.circle = circle;
                case.inspection.filter_upr = cut_off;
                case.tolerance.surfaces.outer = zone(None, None);
            });
            let filter = cut_off.map_or(
                "unfiltered",
                |_| "Gaussian filter 10 undulations per revolution",
            );
            for verdict in [own, general] {
                let (found, over) = only(&verdict);
                assert!(
                    (found[1] - wanted).abs() < 5e-6,
                    "{circle:?} {found:?} {wanted}"
                );
                near(over, wanted - 0.015);
                let says = verdict["says"][0].as_str().unwrap();
                assert!(
                    says.contains(&format!("roundness ({words}, {filter})")),
                    "{says}"
                );
                // the gauges whose whole reading stays within the zone
                let small = sheet.readings.iter().filter(|r| r.range <= 0.015);
                let small: Vec<String> = small.map(|r| r.gauge.to_string()).collect();
                assert!(
                    small.contains(&"two-point gauge".to_owned())
                        && small.len() < sheet.readings.len()
                );
                assert_eq!(
                    verdict["limits"][0]["missed_on"],
                    Value::from(small.clone())
                );
                let missed = format!("These gauges would have passed it: {}.", small.join(", "));
                assert!(says.contains(&missed), "{says}");
            }
        }
    }
    // a check that can tell them apart
    for (k, a) in seen.iter().enumerate() {
        assert!(seen[..k].iter().all(|b| (a - b).abs() > 2e-5), "{seen:?}");
    }
}

/// The general zone is for what any step cuts; a zone of the surface's own takes its place there, and holds for any surface.
/// Truth: analytical; by construction of the input
#[test]
fn the_general_zone_is_for_what_was_cut() {
    let part = part();
    let general = judge_as(&part, |case| case.tolerance.roundness = Some(0.005));
    let (found, over) = only(&general);
    assert_eq!(general["limits"][0]["surface"], "bore");
    assert!(found[1] < 1e-5 && over == 0.0, "{general}");
    assert_eq!(general["limits"][0]["missed_on"], Value::Array(Vec::new()));
    let both = judge_as(&part, |case| {
        case.tolerance.roundness = Some(0.005);
        case.tolerance.surfaces.outer.roundness = Some(0.004);
        case.tolerance.surfaces.bore.roundness = Some(0.003);
    });
    let limits = both["limits"].as_array().unwrap();
    let allowed: Vec<f64> = limits
        .iter()
        .map(|l| files::number(l, "/allowed/1"))
        .collect();
    assert_eq!(allowed, [0.004, 0.003]);
    assert_eq!(both["in_tolerance"], false);
}

/// Cut-to advice aims at the middle of what the drawing allows, says which way a size misses, and whether metal is left to put it right.
/// Truth: analytical; a bore turned true while nothing holds it comes out as cut
#[test]
fn advice_on_size_aims_at_the_middle_of_the_limits() {
    let part = part();
    let bore = |limits: SurfaceTolerance| judge(&part, SurfaceTolerance::default(), limits);
    let says = |verdict: &Value| {
        let lines = verdict["says"].as_array().unwrap();
        let lines: Vec<&str> = lines.iter().map(|l| l.as_str().unwrap()).collect();
        lines.join("\n")
    };
    let diameters = |d: [f64; 2]| SurfaceTolerance {
        diameter: Some(d),
        ..SurfaceTolerance::default()
    };
    let average = |d: [f64; 2]| SurfaceTolerance {
        average_diameter: Some(d),
        ..SurfaceTolerance::default()
    };
    // limits, by how much it is under, what is cut to, what is said
    for (limits, under, to, words) in [
        (
            diameters([95.03, 95.05]),
            0.03,
            "95.040",
            ["under by 0.030 mm", "It is too small: metal is left"],
        ),
        (
            average([95.01, 95.03]),
            0.01,
            "95.020",
            ["under by 0.010 mm", "It is too small: metal is left"],
        ),
        (
            diameters([94.95, 94.97]),
            0.0,
            "94.960",
            ["over by 0.030 mm", "It is too large: no metal is left"],
        ),
    ] {
        let verdict = bore(limits);
        let told = says(&verdict);
        near(files::number(&verdict["limits"][0], "/under"), under);
        let cut_to = format!("the middle of the limits, cut to {to} mm");
        for words in words.into_iter().chain([cut_to.as_str()]) {
            assert!(told.contains(words), "{words}: {told}");
        }
    }
    let met = says(&bore(diameters([94.99, 95.02])));
    assert!(met.contains("for 95.005 mm"), "{met}");
    assert!(!met.contains("It is too"), "{met}");
    let none = says(&bore(SurfaceTolerance::default()));
    assert!(
        !none.contains("cut to 95.000 mm (3.7402 in).") && none.contains("cut to 95.000 mm"),
        "{none}"
    );
    // an outside that no step cuts is judged, and nothing is said of cutting it
    let outer = says(&judge(
        &part,
        diameters([100.05, 100.2]),
        SurfaceTolerance::default(),
    ));
    assert!(
        outer.contains("The outside is OUT OF TOLERANCE: two-point diameter"),
        "{outer}"
    );
    assert!(!outer.contains("The outside: cut to"), "{outer}");
    let zone = judge_as(&part, |case| {
        case.tolerance.surfaces.outer.roundness = Some(0.001)
    });
    let told = says(&zone);
    assert!(
        told.contains("No step cuts the outside: it stays as it was received."),
        "{told}"
    );
    assert_eq!(zone["limits"][0]["cut_in_step"], Value::Null);
}

/// Three jaws 14 wide on a steel ring, outside 100, bored from 90 to 94 and so to six tenths of its wall.
fn bored_in_a_chuck(after_clamping: &str) -> Solved {
    files::solve(&format!(
        "{}[[hold.chuck]]\nscheme = \"jaws\"\ncount = 3\nforce = 800.0\nbored_diameter = 101.0\nwidth = 14.0\n\
         after_clamping = \"{after_clamping}\"\n[[step]]\nhold = \"chuck\"\n[[step.cut]]\nsurface = \"bore\"\ndiameter = 94.0\n",
        files::ring(45.0, 50.0, 205_000.0, 0.29, 18.0)
    ))
}

/// A scroll that keeps its place carries after the cut what the thinner ring pushes back with: the stiffness of a thin ring goes with (wall / mean
/// radius)^3 (Timoshenko, *Strength of Materials*, part II, from memory). Shear and stretch of the thicker ring make it up to a tenth softer than that. A
/// power chuck keeps its force.
/// Truth: analytical
#[test]
fn a_locked_chuck_loses_the_force_that_the_metal_carried() {
    let locked = bored_in_a_chuck("keeps-position");
    let force = |part: &Solved, of: &str| {
        files::number(&part.json["steps"][0][of]["contacts"][1], "/force")
    };
    let left = force(&locked, "after_cut") / force(&locked, "held");
    let thin = ((3.0 / 48.5) / (5.0 / 47.5_f64)).powi(3);
    assert!(left > thin && left < 1.12 * thin, "{left} {thin}");
    let about = |part: &Solved| {
        let lines = part.json["cautions"].as_array().unwrap();
        let said = |l: &&Value| {
            l.as_str()
                .unwrap()
                .contains("most of the force goes with the metal")
        };
        lines.iter().filter(said).count()
    };
    assert_eq!(about(&locked), 1, "{}", locked.json["cautions"]);
    let kept = bored_in_a_chuck("keeps-force");
    assert!((force(&kept, "after_cut") / force(&kept, "held") - 1.0).abs() < 1e-6);
    assert_eq!(about(&kept), 0);
}

/// The verdict takes the worst state of the held part, and that is after the cut: bending stress of a thin ring goes with load times mean radius over the
/// square of the wall (as above), so under a force that stays it grows by 2.8 while the wall goes to six tenths; less, as the jaws touch over more.
/// Truth: analytical
#[test]
fn the_worst_stress_is_that_of_the_thinner_ring() {
    let part = bored_in_a_chuck("keeps-force");
    let worst = &part.json["verdict"]["worst_stress"];
    let held = files::number(&part.json["steps"][0]["held"], "/von_mises_away");
    let after = files::number(worst, "/von_mises_away");
    assert_eq!((&worst["step"], &worst["cut"]), (&1.into(), &1.into()));
    let thin = (48.5 / 47.5) * (5.0_f64 / 3.0).powi(2);
    let grown = after / held;
    assert!(grown > 0.6 * thin && grown < 1.05 * thin, "{grown} {thin}");
    // the same part of a metal that yields between the two: the cut alone passes yield
    let strength = 0.5 * (held + after);
    let mut case = part.case.clone();
    case.part.material.yield_strength = Some(strength);
    let outcome = ringwright_solver::process::run(&case, &Default::default()).unwrap();
    let json = files::json(&case, &outcome);
    assert!(files::number(&json["steps"][0]["held"], "/yield_margin") > 0.0);
    assert!(files::number(&json["verdict"]["worst_stress"], "/yield_margin") < 0.0);
    let says = json["verdict"]["says"].to_string();
    assert!(
        says.contains("of yield: YIELDS, after cut 1, at "),
        "{says}"
    );
}
