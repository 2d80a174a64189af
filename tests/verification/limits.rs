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
        for (circle, words) in [
            (MinimumZone, "minimum zone"),
            (LeastSquares, "least-squares circle"),
            (MinimumCircumscribed, "minimum circumscribed circle"),
            (MaximumInscribed, "maximum inscribed circle"),
        ] {
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
            let filter = cut_off.map_or("unfiltered", |_| "Gaussian filter 10 undulations a turn");
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
                let missed = format!("It would have been missed on: {}.", small.join(", "));
                assert!(says.contains(&missed), "{says}");
            }
        }
    }
    // a check that can tell them apart
    for (k, a) in seen.iter().enumerate() {
        assert!(seen[..k].iter().all(|b| (a - b).abs() > 2e-5), "{seen:?}");
    }
}

/// The general zone is for what the last step cuts; a zone of the surface's own takes its place there, and holds for any surface.
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
