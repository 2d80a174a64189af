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
                // a gauge that reads a diameter is judged on half its movement, others on all of it: common practice, no source
                let diameters = ["two-point gauge", "rolled on a surface plate"];
                let of_all = sheet
                    .readings
                    .iter()
                    .map(|r| (r.gauge.to_string(), r.range));
                let small: Vec<String> = of_all
                    .filter(|(gauge, range)| match diameters.contains(&gauge.as_str()) {
                        true => *range <= 0.03,
                        false => *range <= 0.015,
                    })
                    .map(|(gauge, _)| gauge)
                    .collect();
                assert!(
                    small.contains(&"two-point gauge".to_owned())
                        && small.len() < sheet.readings.len()
                );
                assert_eq!(
                    verdict["limits"][0]["missed_on"],
                    Value::from(small.clone())
                );
                let told: Vec<String> = small
                    .iter()
                    .map(|g| match diameters.contains(&g.as_str()) {
                        true => format!("{g} (half its movement)"),
                        false => g.clone(),
                    })
                    .collect();
                let missed = format!("Would pass on: {}.", told.join(", "));
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
            [
                "under by 0.030 mm",
                "It is too small: metal is left, so it can be bored again in the same hold, put back at the same jaw marks.",
            ],
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
            ["over by 0.030 mm", "on the next part, for 94.960 mm"],
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
    case.tolerance.surfaces.bore.average_diameter = Some([93.0, 95.0]);
    let outcome = ringwright_solver::process::run(&case, &Default::default()).unwrap();
    let json = files::json(&case, &outcome);
    assert!(files::number(&json["steps"][0]["held"], "/yield_margin") > 0.0);
    assert!(files::number(&json["verdict"]["worst_stress"], "/yield_margin") < 0.0);
    let says = json["verdict"]["says"].to_string();
    assert!(
        says.contains("of yield: YIELDS, after cut 1, at "),
        "{says}"
    );
    // met as computed, of a part that keeps a set, is not met; and no size is advised
    assert!(json["verdict"]["in_tolerance"].is_null());
    assert!(
        says.contains("only as computed, as if it did not yield") && !says.contains("cut to"),
        "{says}"
    );
    case.tolerance.surfaces.bore.average_diameter = Some([93.0, 93.1]);
    let missed = files::json(&case, &outcome);
    assert_eq!(missed["verdict"]["in_tolerance"], false);
}

fn said(solved: &Solved, key: &str) -> String {
    let lines = match key {
        "says" => &solved.json["verdict"]["says"],
        _ => &solved.json[key],
    };
    lines.to_string()
}

/// Three lobes are the same across everywhere, so the two-point diameter is that of the mean circle and the smallest ring that goes over the outside is wider
/// by twice their height (to their height squared over the radius): 100.02 over an outside that reads 100.
/// Truth: analytical
#[test]
fn a_ring_gauge_tells_what_two_points_do_not() {
    let with = |allowed: [f64; 2]| {
        let text = format!(
            "{}[[part.lobes]]\nsurface = \"outer\"\ncount = 3\namplitude = 0.01\n[tolerance.outer]\ndiameter = {allowed:?}\n\
             [[step]]\nhold = \"free\"\n[[step.cut]]\nsurface = \"bore\"\ndiameter = 91.0\n",
            files::ring(45.0, 50.0, 200_000.0, 0.3, 20.0)
        );
        files::solve(&text)
    };
    let tight = with([99.99, 100.01]);
    assert_eq!(tight.json["verdict"]["in_tolerance"], true);
    let words = "The smallest ring that goes over the outside is 100.020 mm (3.9378 in): over the upper limit";
    assert!(
        said(&tight, "says").contains(words),
        "{}",
        said(&tight, "says")
    );
    assert!(!said(&with([99.97, 100.03]), "says").contains("goes over"));
}

/// An oval that is wider one way than the limits are apart has no size that mends it; where later steps have cut what a hold gripped, the part
/// does not go back into it.
/// Truth: analytical; of the words to the input
#[test]
fn what_no_size_and_no_old_hold_mends_is_said() {
    let part = |tolerance: &str, cuts: &str| {
        let text = format!(
            "{}[[part.lobes]]\nsurface = \"outer\"\ncount = 2\namplitude = 0.05\n{tolerance}\n{cuts}",
            files::ring(45.0, 50.0, 200_000.0, 0.3, 20.0)
        );
        files::solve(&text)
    };
    let cut = |surface: &str, to: f64| {
        format!(
            "[[step]]\nhold = \"free\"\n[[step.cut]]\nsurface = \"{surface}\"\ndiameter = {to:?}\n"
        )
    };
    // the tool takes 0.02 off the crests and leaves the rest of the oval
    let oval = part(
        "[tolerance.outer]\ndiameter = [99.99, 100.01]",
        &cut("outer", 100.06),
    );
    let says = said(&oval, "says");
    for words in [
        "The outside DID NOT CLEAN UP: ",
        " percent of the way round untouched, low by up to 0.160 mm",
    ] {
        assert!(says.contains(words), "{says}");
    }
    // limits half as far apart as the diameters that the jaws leave
    let lobed = bored_in_a_chuck("keeps-force");
    let across = &lobed.json["steps"][0]["gauges"]["released"]["bore"]["two_point"];
    let (least, most) = (files::number(across, "/min"), files::number(across, "/max"));
    assert!(most - least > 1e-4, "{across}");
    let quarter = 0.25 * (most - least);
    let bore = SurfaceTolerance {
        diameter: Some([least + quarter, most - quarter]),
        ..SurfaceTolerance::default()
    };
    let says = judge(&lobed, SurfaceTolerance::default(), bore)["says"].to_string();
    assert!(says.contains("No one size mends that"), "{says}");
    assert!(!says.contains("the middle of the limits"), "{says}");
    let early = part(
        "[tolerance.bore]\ndiameter = [91.1, 91.2]",
        &(cut("bore", 91.0) + &cut("outer", 99.0)),
    );
    let words =
        "metal is left, so it can be bored again: the hold of step 1 no longer fits as it did.";
    assert!(
        said(&early, "says").contains(words),
        "{}",
        said(&early, "says")
    );
}

/// A cut that leaves a third of an oval black is enlarged by what solving it again shows to be enough, unless the drawing's diameter ends
/// before; unheld, a tool at 99.9 just reaches the lowest point of an outside of 100 with two lobes of 0.05.
/// Truth: analytical
#[test]
fn a_larger_cut_is_advised_where_it_cleans_up() {
    let with = |tolerance: &str| {
        let text = format!(
            "{}[[part.lobes]]\nsurface = \"outer\"\ncount = 2\namplitude = 0.05\n{tolerance}[[step]]\nhold = \"free\"\n\
             [[step.cut]]\nsurface = \"outer\"\ndiameter = 99.95\n",
            files::ring(45.0, 50.0, 200_000.0, 0.3, 20.0)
        );
        files::solve(&text)
    };
    let free = with("");
    let [found] = free.outcome.clean_up.as_slice() else {
        panic!("{:?}", free.outcome.clean_up);
    };
    let to = found.cut_to.unwrap();
    assert!((99.88..=99.9).contains(&to), "{to}");
    let says = said(&free, "says");
    assert!(
        says.contains("it cleans up in this hold (recomputed)"),
        "{says}"
    );
    let bound = with("[tolerance.outer]\ndiameter = [99.93, 100.0]\n");
    assert_eq!(bound.outcome.clean_up[0].cut_to, None);
    let says = said(&bound, "says");
    assert!(says.contains("No size cleans it up in this hold"), "{says}");
}

/// Bending stress of the ring of the grey iron is held against no yield strength, so a caution asks for the tensile strength.
/// Truth: invariance; of the words to the material
#[test]
fn a_brittle_metal_is_to_be_held_against_its_tensile_strength() {
    let part = bored_in_a_chuck("keeps-force");
    let after = files::number(&part.json["verdict"]["worst_stress"], "/von_mises_away");
    let said = |strength: Option<f64>| {
        let mut case = part.case.clone();
        case.part.material.yield_strength = strength;
        files::json(&case, &part.outcome)["cautions"]
            .to_string()
            .contains("compare it with the tensile strength")
    };
    assert_eq!(said(None), after > 100.0, "{after}");
}
