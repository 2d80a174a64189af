//! The four reference circles against published answers, independent calculations and their own certificates.

use std::f64::consts::TAU;

use microlp::{ComparisonOp, OptimizationDirection, Problem};
use ringwright_solver::metrology::{
    Circle, MetrologyError, OneSided, Profile, Side, Zone, least_squares_circle, maximum_inscribed,
    minimum_circumscribed, minimum_zone,
};
use ringwright_tests::random::Random;
use ringwright_tests::reference;
use serde_json::Value;

/// Readings as they are handed in.
struct Readings {
    angles: Vec<f64>,
    radii: Vec<f64>,
}

impl Readings {
    fn new(readings: impl Iterator<Item = (f64, f64)>) -> Self {
        let (angles, radii) = readings.unzip();
        Self { angles, radii }
    }

    fn through(points: impl Iterator<Item = [f64; 2]>) -> Self {
        Self::new(points.map(|[x, y]| (y.atan2(x), x.hypot(y))))
    }

    fn profile(&self) -> Profile<'_> {
        Profile::new(&self.angles, &self.radii).unwrap()
    }

    fn points(&self) -> Vec<[f64; 2]> {
        let polar = self.angles.iter().zip(&self.radii);
        polar.map(|(t, r)| [r * t.cos(), r * t.sin()]).collect()
    }

    fn distances(&self, centre: [f64; 2]) -> Vec<f64> {
        let d = |p: &[f64; 2]| (p[0] - centre[0]).hypot(p[1] - centre[1]);
        self.points().iter().map(d).collect()
    }

    /// The zone, with its certificate checked from outside.
    fn zone(&self) -> Zone {
        let zone = minimum_zone(&self.profile()).unwrap();
        self.assert_zone(&zone);
        zone
    }

    fn assert_zone(&self, zone: &Zone) {
        let centre = zone.circle.centre;
        let d = self.distances(centre);
        let rounding = 1e-13 * zone.outer;
        for d in &d {
            assert!(*d <= zone.outer + rounding && *d >= zone.inner - rounding);
        }
        near(
            "width",
            zone.circle.roundness,
            zone.outer - zone.inner,
            rounding,
        );
        let mean = 0.5 * (zone.outer + zone.inner);
        near("radius", zone.circle.radius, mean, rounding);
        assert_eq!(zone.controlling.len(), 4, "{zone:?}");
        for (k, control) in zone.controlling.iter().enumerate() {
            let next = zone.controlling[(k + 1) % 4];
            assert_ne!(control.side, next.side, "they alternate: {zone:?}");
            let expected = match control.side {
                Side::Outer => zone.outer,
                Side::Inner => zone.inner,
            };
            // the exchange stops at a relative 1e-12 of the width
            near(
                "control",
                d[control.reading],
                expected,
                rounding + 1e-11 * zone.circle.roundness,
            );
        }
        let angles = self.angles_about(centre, zone.controlling.iter().map(|c| c.reading));
        assert!(angles.is_sorted(), "{angles:?}");
        // chords that cross: the directions of the outer two and of the inner two share a weighted mean, so that no shift
        // brings the outer in and the inner out
        let [a, b, c, e] = [0, 1, 2, 3].map(|k| [angles[k].cos(), angles[k].sin()]);
        let side = |p: [f64; 2], q: [f64; 2], r: [f64; 2]| {
            (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])
        };
        assert!(side(a, c, b) * side(a, c, e) <= 0.0 && side(b, e, a) * side(b, e, c) <= 0.0);
    }

    fn angles_about(&self, centre: [f64; 2], readings: impl Iterator<Item = usize>) -> Vec<f64> {
        let points = self.points();
        readings
            .map(|i| (points[i][1] - centre[1]).atan2(points[i][0] - centre[0]))
            .collect()
    }

    fn circumscribed(&self) -> OneSided {
        let circle = minimum_circumscribed(&self.profile()).unwrap();
        let d = self.distances(circle.circle.centre);
        let high = d.iter().fold(0.0_f64, |a, b| a.max(*b));
        near("circumscribed", circle.circle.radius, high, 1e-13 * high);
        assert!(circle.unique);
        self.assert_held(&circle);
        circle
    }

    fn inscribed(&self) -> OneSided {
        let circle = maximum_inscribed(&self.profile()).unwrap();
        let d = self.distances(circle.circle.centre);
        let low = d.iter().fold(f64::INFINITY, |a, b| a.min(*b));
        near("inscribed", circle.circle.radius, low, 1e-13 * low);
        assert_eq!(circle.controlling.len(), 3);
        self.assert_held(&circle);
        circle
    }

    /// The readings named lie on the circle and leave no half turn free.
    fn assert_held(&self, circle: &OneSided) {
        let Circle { centre, radius, .. } = circle.circle;
        let d = self.distances(centre);
        for &i in &circle.controlling {
            near("on the circle", d[i], radius, 1e-12 * radius);
        }
        let angles = self.angles_about(centre, circle.controlling.iter().copied());
        let count = angles.len();
        assert!(angles.is_sorted() && (2..=3).contains(&count));
        for k in 0..count {
            let gap = (angles[(k + 1) % count] - angles[k]).rem_euclid(TAU);
            assert!(gap <= 0.5 * TAU + 1e-7, "{angles:?}");
        }
    }
}

fn near(name: &str, found: f64, expected: f64, tolerance: f64) {
    assert!(
        (found - expected).abs() <= tolerance,
        "{name}: {found} instead of {expected}, allowed {tolerance:e}"
    );
}

/// The points of a case: listed, or `r_k = R + sum a cos(n t_k - phase)` shifted.
fn points_of(case: &Value) -> Vec<[f64; 2]> {
    let number = |v: &Value| v.as_f64().unwrap();
    if let Some(points) = case["points"].as_array() {
        return points
            .iter()
            .map(|p| [number(&p[0]), number(&p[1])])
            .collect();
    }
    let g = &case["generator"];
    let count = g["N"].as_u64().unwrap();
    (0..count)
        .map(|k| {
            let t = TAU * k as f64 / count as f64;
            let lobes = g["terms"].as_array().unwrap().iter().map(|term| {
                let phase = number(&term["phase_deg"]).to_radians();
                number(&term["amplitude"]) * (number(&term["n"]) * t - phase).cos()
            });
            let r = number(&g["R"]) + lobes.sum::<f64>();
            [
                r * t.cos() + number(&g["ex"]),
                r * t.sin() + number(&g["ey"]),
            ]
        })
        .collect()
}

/// Published, where the case says so (Gander, Golub, Strebel 1994, BIT 34:558-578; Gass, Witzgall, Harary 1998, Int. J. Flexible
/// Manufacturing Systems 10:5-25); beyond the published digits and for the other circles an independent calculation (support enumeration
/// and successive linear programming, which agree to 1e-8). Printed with ten digits.
/// Truth: published, other program
#[test]
fn the_four_circles_of_the_reference_sets() {
    let cases = reference::metrology("/reference_circles/cases");
    let (mut sets, mut circles) = (0, 0);
    for case in cases.as_array().unwrap() {
        let points = points_of(case);
        let n = points.len() as f64;
        let origin = points
            .iter()
            .fold([0.0, 0.0], |c, p| [c[0] + p[0] / n, c[1] + p[1] / n]);
        let readings =
            Readings::through(points.iter().map(|p| [p[0] - origin[0], p[1] - origin[1]]));
        let check = |kind: &str, found: &dyn Fn() -> (Circle, bool)| {
            let expected = &case[kind];
            if expected.is_null() {
                return 0;
            }
            let name = format!("{} {kind}", case["id"]);
            let get = |key: &str| expected[key].as_f64();
            let radius =
                get("R").unwrap_or_else(|| 0.5 * (get("rmax").unwrap() + get("rmin").unwrap()));
            let tolerance = 1e-9 * radius;
            let (circle, unique) = found();
            near(&name, circle.radius, radius, tolerance);
            assert!(unique, "{name}");
            near(
                &name,
                circle.centre[0] + origin[0],
                get("cx").unwrap(),
                tolerance,
            );
            near(
                &name,
                circle.centre[1] + origin[1],
                get("cy").unwrap(),
                tolerance,
            );
            if let Some(width) = get("rt") {
                near(&name, circle.roundness, width, tolerance);
            }
            1
        };
        sets += 1;
        circles += check("LSC", &|| (least_squares_circle(&readings.profile()), true));
        circles += check("MZC", &|| (readings.zone().circle, true));
        circles += check("MCC", &|| (readings.circumscribed().circle, true));
        circles += check("MIC", &|| {
            let inscribed = readings.inscribed();
            (inscribed.circle, inscribed.unique)
        });
    }
    assert_eq!(
        (sets, circles),
        (11, 40),
        "every set and every circle in it"
    );
}

/// A two-lobed bore: the inscribed circle slides along the ridge. Its radius is that of the short axis (exact here, since readings lie
/// on it); the reference set leaves its centre out.
/// Truth: analytical
#[test]
fn a_two_lobed_bore_has_an_inscribed_radius_but_no_inscribed_centre() {
    let cases = reference::metrology("/reference_circles/cases");
    let case = cases
        .as_array()
        .unwrap()
        .iter()
        .find(|c| c["id"] == "cos2")
        .unwrap();
    let points = points_of(case);
    let readings = Readings::through(points.iter().map(|p| [p[0] - 0.02, p[1] + 0.013]));
    let inscribed = readings.inscribed();
    near("radius", inscribed.circle.radius, 49.99, 1e-9 * 50.0);
    assert!(!inscribed.unique);
}

/// Lobes, each `[count, amplitude, phase]`, on a mean radius, read at equal steps.
fn lobed(radius: f64, points: usize, lobes: &[[f64; 3]]) -> Vec<f64> {
    (0..points)
        .map(|k| {
            let t = TAU * k as f64 / points as f64;
            let wave = |[n, a, p]: &[f64; 3]| a * (n * t - p).cos();
            radius + lobes.iter().map(wave).sum::<f64>()
        })
        .collect()
}

/// Ovals read at equal steps: the four readings beside the short axis lie on one circle to within rounding, and three of them hold it as well as three others.
/// The certified radius is held against [`one_sided_by_all_triples`] of the readings that can touch the circle, those near the short axis.
/// Truth: analytical; all triples
#[test]
fn an_oval_has_an_inscribed_circle_and_seldom_one_alone() {
    let quarter = 0.25 * TAU;
    for (radius, points, amplitude, phase) in [
        (40.0, 360, 0.023_200_000_000_000_002, 0.0),
        (25.0, 360, 0.028_625, 0.0),
        (25.0, 360, 0.046_25, 0.0),
        (47.0, 180, 0.085_305, quarter),
        (47.0, 180, 0.004_935, quarter),
        (45.0, 720, 0.029_925_000_000_000_004, quarter),
        (45.0, 720, 0.042_75, 0.0),
        (20.0, 360, 0.014_3, quarter),
    ] {
        let radii = lobed(radius, points, &[[2.0, amplitude, phase]]);
        let found = maximum_inscribed(&Profile::equal(&radii)).unwrap();
        let readings = Readings::new(
            radii
                .iter()
                .enumerate()
                .map(|(k, r)| (TAU * k as f64 / points as f64, *r)),
        );
        readings.assert_held(&found);
        let near_axis: Vec<[f64; 2]> = readings
            .points()
            .into_iter()
            .zip(&radii)
            .filter(|(_, r)| **r < radius - 0.97 * amplitude)
            .map(|(p, _)| p)
            .collect();
        let (_, held) = one_sided_by_all_triples(&near_axis);
        near("inscribed", found.circle.radius, held, 1e-11 * radius);
        let centre = found.circle.centre;
        let rival = |share: f64| as_large_elsewhere(&near_axis, centre, held, [radius, share]);
        // a reading on either end of the short axis lets the circle slide; where the axis falls between readings, four of them keep it
        assert_eq!(found.unique, points == 180, "{radius} {points} {amplitude}");
        assert!(if found.unique {
            !rival(0.9)
        } else {
            rival(1.2)
        });
    }
}

/// Every lobed part that a chuck may leave has four circles: 2 to 12 lobes, alone and mixed, from a millionth to three percent of the radius, with symmetry to
/// the last bit and without, off centre and with the last digits noisy. Of each fortieth, read at few places, the one-sided circles and the zone are held
/// against every set of readings, and so is whether another centre does as well.
/// Truth: analytical; all pairs and triples
#[test]
fn every_lobed_profile_has_four_circles() {
    let mut random = Random::new(17);
    let mut ovals = 0;
    for k in 0..5000 {
        let sampled = k % 40 == 0;
        let points = if sampled {
            [9, 12, 16, 20, 24][k / 40 % 5]
        } else {
            [36, 72, 90, 97, 180, 360, 360, 720][k % 8]
        };
        let radius = 10.0_f64.powf(random.between(1.0, 2.5));
        let mut lobe = |count: usize| {
            let amplitude = radius * 10.0_f64.powf(random.between(-6.0, 0.03_f64.log10()));
            let phase = match k % 3 {
                0 => 0.0,
                1 => 0.25 * TAU,
                _ => random.between(0.0, TAU),
            };
            [count as f64, amplitude, phase]
        };
        // every other part is a pure oval, the rest of one lobe count or more
        let first = if k % 2 == 0 { 2 } else { 2 + k / 2 % 11 };
        let mut lobes = vec![lobe(first)];
        for more in 0..[0, 0, 1, 2][k / 8 % 4] {
            lobes.push(lobe(2 + (k / 3 + 5 * more) % 11));
        }
        if k % 5 == 0 {
            lobes.push([1.0, 1e-3 * radius, random.between(0.0, TAU)]);
        }
        let mut radii = lobed(radius, points, &lobes);
        if k % 7 == 0 {
            for r in &mut radii {
                *r += 1e-12 * radius * random.between(-0.5, 0.5);
            }
        }
        let profile = Profile::equal(&radii);
        let what = format!("{k}: radius {radius}, {points} readings, {lobes:?}");
        let zone = minimum_zone(&profile).unwrap_or_else(|e| panic!("{what}: {e}"));
        let round = minimum_circumscribed(&profile).unwrap_or_else(|e| panic!("{what}: {e}"));
        let inside = maximum_inscribed(&profile).unwrap_or_else(|e| panic!("{what}: {e}"));
        let mean = least_squares_circle(&profile);
        assert!(
            inside.circle.radius <= mean.radius + 1e-12 * radius
                && mean.radius <= round.circle.radius + 1e-12 * radius,
            "{what}"
        );
        for other in [mean, inside.circle, round.circle] {
            assert!(
                zone.circle.roundness <= other.roundness + 1e-12 * radius,
                "{what}"
            );
        }
        ovals += usize::from(!inside.unique);
        if sampled {
            let readings =
                Readings::new((0..points).map(|j| (TAU * j as f64 / points as f64, radii[j])));
            let at = readings.points();
            let (outer, inner) = one_sided_by_all_triples(&at);
            near(&what, round.circle.radius, outer, 1e-11 * radius);
            near(&what, inside.circle.radius, inner, 1e-11 * radius);
            near(
                &what,
                zone.circle.roundness,
                zone_by_all_pairs(&at),
                1e-11 * radius,
            );
            readings.assert_held(&inside);
            // at the border of the definition both answers will do, and the ring of centres that are tried has gaps
            let rival =
                |share: f64| as_large_elsewhere(&at, inside.circle.centre, inner, [radius, share]);
            if inside.unique {
                assert!(!rival(0.9), "{what}");
            } else {
                assert!(rival(1.2), "{what}");
            }
        }
    }
    assert!((100..4000).contains(&ovals), "{ovals}");
}

/// Whether a centre more than a millionth of `size` away has an empty circle as large as `best` to within `share` of `1e-9 size`: tried are a fine ring of centres beside
/// the one found, and every other circle that three readings hold.
fn as_large_elsewhere(
    points: &[[f64; 2]],
    centre: [f64; 2],
    best: f64,
    [size, share]: [f64; 2],
) -> bool {
    let least = |c: [f64; 2]| {
        let far = |p: &[f64; 2]| (p[0] - c[0]).hypot(p[1] - c[1]);
        points.iter().map(far).fold(f64::INFINITY, f64::min)
    };
    let as_large = |c: [f64; 2]| least(c) >= best - share * 1e-9 * size;
    let step = 1e-6 * size;
    let beside = (0..40_000)
        .map(|k| (TAU * f64::from(k) / 40_000.0).sin_cos())
        .any(|(s, c)| as_large([centre[0] + step * c, centre[1] + step * s]));
    let elsewhere = |c: [f64; 2]| (c[0] - centre[0]).hypot(c[1] - centre[1]) > step;
    beside
        || pairs(points).into_iter().any(|(a, b)| {
            points.iter().filter(|&&p| p != a && p != b).any(|&p| {
                let c = meet(bisector(a, b), bisector(a, p));
                let inside = (c[0] - centre[0]).hypot(c[1] - centre[1]) < best;
                inside && elsewhere(c) && as_large(c)
            })
        })
}

/// A profile of any roundness, angles uneven unless said otherwise, in random order.
fn random_profile(random: &mut Random, count: usize, roundness: f64) -> Readings {
    let lobes: Vec<[f64; 3]> = (2..9)
        .map(|n| {
            [
                f64::from(n),
                random.between(0.0, 1.0),
                random.between(0.0, TAU),
            ]
        })
        .collect();
    let mut readings: Vec<(f64, f64)> = (0..count)
        .map(|k| {
            let t = TAU * (k as f64 + random.between(0.0, 0.9)) / count as f64;
            let smooth: f64 = lobes
                .iter()
                .map(|[n, a, p]| a * (n * t - p).cos() / n)
                .sum();
            (t, smooth + random.between(-0.5, 0.5))
        })
        .collect();
    let low = readings.iter().map(|r| r.1).fold(f64::INFINITY, f64::min);
    let high = readings
        .iter()
        .map(|r| r.1)
        .fold(f64::NEG_INFINITY, f64::max);
    for (_, r) in &mut readings {
        *r = 20.0 * (1.0 + roundness * (*r - low) / (high - low));
    }
    for k in (1..count).rev() {
        readings.swap(k, random.between(0.0, k as f64 + 1.0) as usize);
    }
    Readings::new(readings.into_iter())
}

/// Width of the zone about a centre, from the definition.
fn width(points: &[[f64; 2]], centre: [f64; 2]) -> f64 {
    let (low, high) = points
        .iter()
        .fold((f64::INFINITY, 0.0_f64), |(low, high), p| {
            let d = (p[0] - centre[0]).hypot(p[1] - centre[1]);
            (low.min(d), high.max(d))
        });
    high - low
}

/// Centres equally far from both points of a pair: `n . c = k`.
fn bisector(a: [f64; 2], b: [f64; 2]) -> ([f64; 2], f64) {
    let n = [b[0] - a[0], b[1] - a[1]];
    (
        n,
        0.5 * (b[0] * b[0] + b[1] * b[1] - a[0] * a[0] - a[1] * a[1]),
    )
}

fn meet((n, k): ([f64; 2], f64), (m, l): ([f64; 2], f64)) -> [f64; 2] {
    let det = n[0] * m[1] - n[1] * m[0];
    [(k * m[1] - l * n[1]) / det, (n[0] * l - m[0] * k) / det]
}

fn pairs(points: &[[f64; 2]]) -> Vec<([f64; 2], [f64; 2])> {
    let n = points.len();
    (0..n)
        .flat_map(|i| (0..i).map(move |j| (i, j)))
        .map(|(i, j)| (points[i], points[j]))
        .collect()
}

/// The narrowest zone by trying everything: two readings on either circle put the centre where two bisectors meet.
fn zone_by_all_pairs(points: &[[f64; 2]]) -> f64 {
    let bisectors: Vec<_> = pairs(points).iter().map(|&(a, b)| bisector(a, b)).collect();
    let mut least = f64::INFINITY;
    for (i, &a) in bisectors.iter().enumerate() {
        for &b in &bisectors[..i] {
            let w = width(points, meet(a, b));
            least = if w < least { w } else { least };
        }
    }
    least
}

/// Radii of the smallest circle round all points, and of the largest circle that is empty and held, by trying every pair and triple.
fn one_sided_by_all_triples(points: &[[f64; 2]]) -> (f64, f64) {
    let (mut round, mut inside) = (f64::INFINITY, 0.0_f64);
    let limits = |c: [f64; 2]| {
        points
            .iter()
            .fold((f64::INFINITY, 0.0_f64), |(low, high), p| {
                let d = (p[0] - c[0]).hypot(p[1] - c[1]);
                (low.min(d), high.max(d))
            })
    };
    for (a, b) in pairs(points) {
        round = round.min(limits([0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])]).1);
        for &c in points.iter().filter(|&&c| c != a && c != b) {
            let centre = meet(bisector(a, b), bisector(a, c));
            let r = (a[0] - centre[0]).hypot(a[1] - centre[1]);
            let (low, high) = limits(centre);
            round = round.min(high);
            let cosine = |p: [f64; 2], q: [f64; 2], s: [f64; 2]| {
                (q[0] - p[0]) * (s[0] - p[0]) + (q[1] - p[1]) * (s[1] - p[1])
            };
            // two readings at opposite ends of a diameter hold a circle too, whatever rounding makes of the right angle
            let acute = [cosine(a, b, c), cosine(b, c, a), cosine(c, a, b)];
            if acute.iter().all(|&x| x > -1e-12 * r * r) && low >= r * (1.0 - 1e-12) {
                inside = inside.max(low);
            }
        }
    }
    (round, inside)
}

/// Profiles 2 to 30 percent out of round, where one place from which every neighbour is worse need not be the best.
/// Truth: other program; every set of readings tried, in this file
#[test]
fn no_set_of_readings_gives_a_better_circle_far_from_round() {
    let mut random = Random::new(4);
    for k in 0..120 {
        let count = 8 + k % 13;
        let readings = random_profile(&mut random, count, 0.02 + 0.28 * k as f64 / 119.0);
        let points = readings.points();
        let zone = readings.zone();
        near(
            "zone",
            zone.circle.roundness,
            zone_by_all_pairs(&points),
            1e-11,
        );
        let (round, inside) = one_sided_by_all_triples(&points);
        near(
            "circumscribed",
            readings.circumscribed().circle.radius,
            round,
            1e-11,
        );
        near(
            "inscribed",
            readings.inscribed().circle.radius,
            inside,
            1e-11,
        );
    }
}

/// A profile with two zones that no neighbour betters; the one met first is wider, 8.0487.
/// Truth: other program; every set of readings tried, in this file
#[test]
fn the_first_narrow_zone_need_not_be_the_narrowest() {
    let typed = [
        (5, 47.0),
        (39, 46.1),
        (53, 47.3),
        (82, 45.8),
        (83, 54.0),
        (139, 51.5),
        (232, 46.8),
        (233, 54.8),
        (258, 48.9),
        (276, 47.3),
    ];
    let readings = Readings::new(
        typed
            .iter()
            .map(|&(degrees, r)| (f64::from(degrees).to_radians(), r)),
    );
    let found = readings.zone().circle.roundness;
    near("zone", found, zone_by_all_pairs(&readings.points()), 1e-9);
    assert!(found < 8.048, "{found}");
}

/// The same with many readings, against a fine grid of centres, each improved by steps to the four sides.
/// Truth: other program; a grid of centres, in this file
#[test]
fn no_centre_of_a_fine_grid_is_better_far_from_round() {
    let mut random = Random::new(5);
    for k in 0..24 {
        let readings = random_profile(&mut random, 150 + k, 0.02 + 0.28 * k as f64 / 23.0);
        let points = readings.points();
        let inner = |c: [f64; 2]| {
            let d = points.iter().map(|p| (p[0] - c[0]).hypot(p[1] - c[1]));
            -d.fold(f64::INFINITY, f64::min)
        };
        let zone = readings.zone().circle.roundness;
        let inscribed = readings.inscribed().circle.radius;
        let start = least_squares_circle(&readings.profile());
        let found = best_of_grid(&|c| width(&points, c), start);
        assert!(
            zone <= found + 1e-12 && zone > 0.98 * found,
            "{zone} {found}"
        );
        let found = -best_of_grid(&inner, start);
        assert!(
            inscribed >= found - 1e-12 && inscribed < 1.01 * found,
            "{inscribed} {found}"
        );
    }
}

fn best_of_grid(value: &dyn Fn([f64; 2]) -> f64, start: Circle) -> f64 {
    let step = start.roundness / 16.0;
    let mut grid: Vec<([f64; 2], f64)> = (-20..=20)
        .flat_map(|i| (-20..=20).map(move |j| (i, j)))
        .map(|(i, j)| {
            let [x, y] = start.centre;
            [x + step * f64::from(i), y + step * f64::from(j)]
        })
        .map(|c| (c, value(c)))
        .collect();
    grid.sort_by(|a, b| a.1.total_cmp(&b.1));
    grid[..40]
        .iter()
        .map(|&(mut c, mut v)| {
            let mut h = step;
            while h > 1e-9 * step {
                let sides = [
                    [h, 0.0],
                    [-h, 0.0],
                    [0.0, h],
                    [0.0, -h],
                    [h, h],
                    [-h, -h],
                    [h, -h],
                    [-h, h],
                ];
                let moved = sides.map(|s| [c[0] + s[0], c[1] + s[1]]);
                match moved.into_iter().find(|&c| value(c) < v) {
                    Some(better) => (c, v) = (better, value(better)),
                    None => h *= 0.5,
                }
            }
            v
        })
        .fold(f64::INFINITY, f64::min)
}

/// The zone as a linear programme solved by somebody else's simplex: with the directions `u_i` from a trial centre, the least `h` such that
/// every `|d_i - u_i . x - R| <= h`; repeated about the moved centre until it stays.
fn zone_by_linear_programming(points: &[[f64; 2]], mut centre: [f64; 2]) -> f64 {
    for _ in 0..30 {
        let unit = width(points, centre);
        let distances: Vec<f64> = points
            .iter()
            .map(|p| (p[0] - centre[0]).hypot(p[1] - centre[1]))
            .collect();
        let mean = distances.iter().sum::<f64>() / distances.len() as f64;
        let mut programme = Problem::new(OptimizationDirection::Minimize);
        let free = (f64::NEG_INFINITY, f64::INFINITY);
        let [x, y, r] = [0.0; 3].map(|cost| programme.add_var(cost, free));
        let h = programme.add_var(1.0, (0.0, f64::INFINITY));
        for (p, d) in points.iter().zip(&distances) {
            let (ux, uy) = ((p[0] - centre[0]) / d, (p[1] - centre[1]) / d);
            // in units of the width, as simplex tolerances want it
            let departure = (d - mean) / unit;
            let row = |sign: f64| [(x, ux), (y, uy), (r, 1.0), (h, sign)];
            programme.add_constraint(row(1.0), ComparisonOp::Ge, departure);
            programme.add_constraint(row(-1.0), ComparisonOp::Le, departure);
        }
        let solution = programme.solve().unwrap();
        let solution = solution.solution().expect("it has a solution");
        let shift = [unit * solution[x], unit * solution[y]];
        centre = [centre[0] + shift[0], centre[1] + shift[1]];
        if shift[0].hypot(shift[1]) < 1e-12 {
            break;
        }
    }
    width(points, centre)
}

/// Truth: other program; the linear programmes of `microlp`
#[test]
fn minimum_zone_agrees_with_linear_programming() {
    let mut random = Random::new(6);
    for k in 0..200 {
        let readings = random_profile(&mut random, 8 + k % 57, 10.0_f64.powf(random_share(k)));
        let start = least_squares_circle(&readings.profile()).centre;
        let expected = zone_by_linear_programming(&readings.points(), start);
        let zone = readings.zone();
        near(
            "zone",
            zone.circle.roundness,
            expected,
            1e-9 * zone.circle.radius,
        );
    }
}

/// Roundness from 1e-5 to 1e-2 of the radius.
fn random_share(k: usize) -> f64 {
    -5.0 + 3.0 * k as f64 / 199.0
}

/// What a profile's circles are, apart from where they stand: widths and radii of all four.
fn figures(readings: &Readings) -> [f64; 7] {
    let lsc = least_squares_circle(&readings.profile());
    let zone = readings.zone();
    let (round, inside) = (readings.circumscribed(), readings.inscribed());
    for other in [&lsc, &round.circle, &inside.circle] {
        assert!(zone.circle.roundness <= other.roundness * (1.0 + 1e-12));
    }
    assert!(inside.circle.radius <= lsc.radius && lsc.radius <= round.circle.radius);
    let radii = [
        lsc.radius,
        zone.circle.radius,
        round.circle.radius,
        inside.circle.radius,
    ];
    [
        radii[0],
        radii[1],
        radii[2],
        radii[3],
        lsc.roundness,
        zone.circle.roundness,
        round.circle.roundness,
    ]
}

fn centres(readings: &Readings) -> [[f64; 2]; 4] {
    [
        least_squares_circle(&readings.profile()).centre,
        readings.zone().circle.centre,
        readings.circumscribed().circle.centre,
        readings.inscribed().circle.centre,
    ]
}

/// Turning, mirroring, shifting, scaling and reordering a profile moves the circles with it and changes nothing else.
/// Truth: invariance
#[test]
fn circles_go_with_the_profile() {
    let mut random = Random::new(7);
    for k in 0..60 {
        let share = [1e-4, 1e-3, 0.02, 0.1, 0.3][k % 5];
        let readings = random_profile(&mut random, 12 + 5 * k, share);
        let (angle, scale) = (random.between(0.0, TAU), random.between(0.01, 100.0));
        let shift = [random.between(-3.0, 3.0), random.between(-3.0, 3.0)];
        let (s, c) = angle.sin_cos();
        type Map<'a> = (&'a str, f64, &'a dyn Fn([f64; 2]) -> [f64; 2]);
        let maps: [Map; 5] = [
            ("turned", 1.0, &|[x, y]| [c * x - s * y, s * x + c * y]),
            ("mirrored", 1.0, &|[x, y]| [x, -y]),
            ("shifted", 1.0, &|[x, y]| [x + shift[0], y + shift[1]]),
            ("scaled", scale, &|[x, y]| [scale * x, scale * y]),
            ("as it was", 1.0, &|p| p),
        ];
        let (before, stood) = (figures(&readings), centres(&readings));
        for (name, scale, map) in maps {
            let moved = Readings::through(readings.points().into_iter().rev().map(map));
            let after = figures(&moved);
            for (a, b) in after.iter().zip(before) {
                near(name, *a, b * scale, 1e-11 * before[0] * scale);
            }
            for (after, before) in centres(&moved).into_iter().zip(stood) {
                let expected = map(before);
                let off = (after[0] - expected[0]).hypot(after[1] - expected[1]);
                // the centre hangs on directions that can be nearly parallel
                assert!(off <= 1e-8 * 20.0 * scale, "{name}: {off:e}");
            }
        }
    }
}

/// A reading given twice, three readings, readings all alike, and what has no circle.
/// Truth: analytical, invariance
#[test]
fn odd_profiles_get_a_circle_or_a_reason() {
    let mut random = Random::new(8);
    let readings = random_profile(&mut random, 40, 0.05);
    let twice = readings
        .angles
        .iter()
        .zip(&readings.radii)
        .flat_map(|(t, r)| [(*t, *r), (*t, *r)]);
    let doubled = Readings::new(twice);
    for (a, b) in figures(&doubled).iter().zip(figures(&readings)) {
        // the least-squares circle weighs all alike, so it stays too
        near("doubled", *a, b, 1e-12);
    }

    let three = Readings::through([[3.0, 0.0], [-1.0, 2.0], [-2.0, -2.5]].into_iter());
    let zone = minimum_zone(&three.profile()).unwrap();
    assert!(zone.circle.roundness < 1e-14 && zone.controlling.len() == 3);
    let (round, inside) = (three.circumscribed().circle, three.inscribed().circle);
    near("through three", round.radius, inside.radius, 1e-14);
    near("through three", zone.circle.radius, inside.radius, 1e-14);

    let row = Readings::through((0..3).map(|k| [f64::from(k), 1.0]));
    assert!(minimum_zone(&row.profile()).is_err());
    assert_eq!(
        Profile::new(&[0.0, 1.0, f64::NAN, 3.0], &[1.0; 4]).unwrap_err(),
        MetrologyError::NotFinite { index: 2 }
    );
    // a trough with its mouth as wide as the circle that lies in it, and a little narrower just below
    let side = |k: i32| [if k == 35 { 9.9 } else { 10.0 }, f64::from(k) - 20.0];
    let trough = (0..=40)
        .flat_map(|k| [side(k), [-side(k)[0], side(k)[1]]])
        .chain((-9..10).map(|k| [f64::from(k), -20.0]));
    let words = maximum_inscribed(&Readings::through(trough).profile())
        .unwrap_err()
        .to_string();
    assert!(words.contains("gap"), "{words}");

    let line = Readings::through((0..9).map(|k| [f64::from(k) - 4.0, 1.0]));
    assert!(maximum_inscribed(&line.profile()).is_err());
    near("a line", line.circumscribed().circle.radius, 4.0, 1e-14);
    let half = Readings::new((0..20).map(|k| (0.1 * f64::from(k), 10.0 + 0.01 * f64::from(k % 3))));
    let words = maximum_inscribed(&half.profile()).unwrap_err().to_string();
    assert!(words.contains("gap"), "{words}");
    let point = Readings::new((0..9).map(|_| (1.0, 2.0)));
    assert!(minimum_zone(&point.profile()).is_err());
    assert!(minimum_circumscribed(&point.profile()).is_err());
    assert!(maximum_inscribed(&point.profile()).is_err());
    let radii = [1.0, 1.0, f64::INFINITY, 1.0];
    assert!(minimum_circumscribed(&Profile::equal(&radii)).is_err());
    assert!(maximum_inscribed(&Profile::equal(&radii)).is_err());
}

/// Many readings, dense lobes and noise: certificates and order of the widths hold, equal steps or not.
/// Truth: invariance; the circles certify themselves, order of the widths, equal steps or not
#[test]
fn hundred_thousand_readings() {
    let mut random = Random::new(9);
    for share in [1e-4, 0.3] {
        let readings = random_profile(&mut random, 100_000, share);
        figures(&readings);
        let equal = minimum_zone(&Profile::equal(&readings.radii)).unwrap();
        assert_eq!(equal.controlling.len(), 4);
    }
}
