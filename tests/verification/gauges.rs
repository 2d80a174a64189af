//! Gauges: factors, the simulation on true profiles, and what a shop makes of them.

use std::f64::consts::TAU;

use ringwright_solver::geometry::Surface;
use ringwright_solver::metrology::inversion::invert;
use ringwright_solver::metrology::readings::{Format, ReadingKind, Readings};
use ringwright_solver::metrology::{
    Circle, Curve, Gauge, Harmonic, MetrologyError, OneSided, Print, Profile, Sheet, Vee, Wanted,
    causes, harmonics, least_squares_circle,
};
use ringwright_solver::report::document::{
    CircleDocument, GaugeDocument, cause_documents, usual_gauges,
};
use ringwright_tests::files;
use ringwright_tests::random::Random;
use ringwright_tests::reference;

/// `radius + sum a cos(n t - phase)`.
#[derive(Clone, Debug)]
struct Lobed {
    radius: f64,
    terms: Vec<(u32, f64, f64)>,
}

impl Lobed {
    fn single(count: u32, amplitude: f64) -> Self {
        Self {
            radius: 40.0,
            terms: vec![(count, amplitude, 0.0)],
        }
    }

    fn at(&self, t: f64) -> f64 {
        let wave = |(n, a, phase): &(u32, f64, f64)| a * (f64::from(*n) * t - phase).cos();
        self.radius + self.terms.iter().map(wave).sum::<f64>()
    }

    fn radii(&self, points: usize) -> Vec<f64> {
        (0..points)
            .map(|k| self.at(TAU * k as f64 / points as f64))
            .collect()
    }

    fn curve(&self) -> Curve {
        Curve::through(&Profile::equal(&self.radii(3600))).unwrap()
    }

    fn range(&self, gauge: Gauge) -> f64 {
        gauge.trace(&self.curve()).range()
    }
}

/// The set's name of a gauge.
fn gauge_named(name: &str) -> Gauge {
    let angle = |text: &str| text.parse::<f64>().unwrap();
    match name.split('_').collect::<Vec<_>>()[..] {
        ["two", "point"] | ["diameter", "two", "point"] => Gauge::TwoPoint,
        ["summit", a] => Gauge::Vee(Vee::summit(angle(a))),
        ["rider", a] => Gauge::Vee(Vee::rider(angle(a))),
        ["asym", a, b] => Gauge::Vee(Vee {
            included_angle_deg: angle(a),
            indicator_deg: angle(b),
        }),
        _ => panic!("{name}"),
    }
}

/// Factors of 2 to 22 lobes on every gauge of the set (derived there and checked by turning an exact profile in an exact V; ISO 4292:1985
/// prints such a table, which was not read), by formula and by turning.
/// Truth: analytical, other program; derived, and turned in an exact V by a program written apart from this
#[test]
fn factors_of_two_and_three_point_gauges() {
    let table = reference::metrology("/two_three_point/table");
    let mut compared = 0;
    for (name, factors) in table.as_object().unwrap() {
        let gauge = gauge_named(name);
        for (count, factor) in factors.as_object().unwrap() {
            let (count, factor) = (count.parse().unwrap(), factor.as_f64().unwrap().abs());
            // the table has six decimals
            let formula = gauge.factor(count);
            assert!((formula - factor).abs() < 1e-6, "{name} {count}: {formula}");
            // what turning adds is of second order: contacts slide down the flank of a lobe by count * amplitude, which shows
            // as that times the slope over the radius, once a contact
            let amplitude = 2e-5;
            let turned = Lobed::single(count, amplitude).range(gauge) / (2.0 * amplitude);
            assert!(
                (turned - factor).abs() < 1e-3,
                "{name} {count}: {turned} {factor}"
            );
            compared += 1;
        }
    }
    assert!(compared >= 13 * 21, "{compared}");
}

/// The set's mixed profile through every gauge. The set adds up responses of first order; amplitudes are scaled down a
/// thousand times so that the true profile obeys them, and readings scaled up again.
/// Truth: analytical
#[test]
fn a_mixed_profile_on_every_gauge() {
    let example = reference::metrology("/two_three_point/mixed_example");
    let radius = example["R"].as_f64().unwrap();
    let profile = |scale: f64| Lobed {
        radius,
        terms: example["amplitudes"]
            .as_object()
            .unwrap()
            .iter()
            .map(|(n, a)| (n.parse().unwrap(), scale * a.as_f64().unwrap(), 0.0))
            .collect(),
    };
    let small = profile(1e-3);
    for (name, reading) in example["readings"].as_object().unwrap() {
        let (gauge, reading) = (gauge_named(name), reading.as_f64().unwrap());
        let range = 1e3 * small.range(gauge);
        assert!(
            (range / reading - 1.0).abs() < 2e-4,
            "{name}: {range} {reading}"
        );
        // and as large as it is: the slope of the lobes, 0.09 mm a radian, squared over the diameter is 0.8 um a contact
        let true_range = profile(1.0).range(gauge);
        assert!(
            (true_range - reading).abs() < 3e-4,
            "{name}: {true_range} {reading}"
        );
    }
    let peak_to_valley = example["radial_peak_to_valley"].as_f64().unwrap();
    let radial = profile(1.0).range(Gauge::Radius);
    assert!((radial / peak_to_valley - 1.0).abs() < 1e-6, "{radial}");
}

/// Between centres: a true circle out by e reads 2 e exactly; three lobes with a valley on the high side hide a part of it.
/// Truth: analytical
#[test]
fn between_centres() {
    for case in reference::metrology("/between_centres/cases")
        .as_array()
        .unwrap()
    {
        let number = |key: &str| case[key].as_f64().unwrap_or(0.0);
        let (e, a, n) = (number("e"), number("a"), number("n"));
        // the set's reading is e cos t + r(t); on the true circle the distance differs by e^2 / 2R, which a large one hides
        let radius = 1e5;
        let radii: Vec<f64> = (0..36_000)
            .map(|k| {
                let t = TAU * f64::from(k) / 36_000.0;
                e * t.cos() + (radius * radius - (e * t.sin()).powi(2)).sqrt() - a * (n * t).cos()
            })
            .collect();
        let sheet = Sheet::of(&Profile::equal(&radii), &Wanted::default()).unwrap();
        let want = number("TIR");
        let found = sheet.about_origin;
        // the set's digits are good to 5e-9: exactly it is 2 (0.016 c - 0.008 c^3) with c^2 = 2/3
        assert!((found - want).abs() < 1e-8, "{found} {want}");
    }
}

/// Turned, moved, grown and mirrored profiles read as they must.
/// Truth: invariance
#[test]
fn readings_follow_the_profile() {
    let mut random = Random::new(11);
    for _ in 0..20 {
        let terms: Vec<(u32, f64, f64)> = (2..=9)
            .map(|n| {
                (
                    n,
                    0.01 * random.between(0.0, 1.0) / f64::from(n),
                    TAU * random.between(0.0, 1.0),
                )
            })
            .collect();
        let lobed = Lobed {
            radius: 30.0,
            terms,
        };
        let turned: Vec<f64> = {
            let mut radii = lobed.radii(3600);
            radii.rotate_left(777);
            radii
        };
        let mirrored: Vec<f64> = lobed.radii(3600).into_iter().rev().collect();
        let grown: Vec<f64> = lobed.radii(3600).iter().map(|r| 2.5 * r).collect();
        let moved: Vec<(f64, f64)> = (0..3600)
            .map(|k| {
                let t = TAU * f64::from(k) / 3600.0;
                let (x, y) = (lobed.at(t) * t.cos() + 0.2, lobed.at(t) * t.sin() - 0.1);
                (y.atan2(x), x.hypot(y))
            })
            .collect();
        let (angles, radii): (Vec<f64>, Vec<f64>) = moved.into_iter().unzip();
        let range = |gauge: Gauge, radii: &[f64]| {
            gauge
                .trace(&Curve::through(&Profile::equal(radii)).unwrap())
                .range()
        };
        for gauge in Gauge::USUAL.into_iter().filter(|g| *g != Gauge::Radius) {
            let as_it_is = lobed.range(gauge);
            let close = |other: f64, what: &str| {
                assert!(
                    (other - as_it_is).abs() < 1e-8,
                    "{gauge} {what}: {other} {as_it_is}"
                );
            };
            close(range(gauge, &turned), "turned");
            close(range(gauge, &mirrored), "mirrored");
            close(range(gauge, &grown) / 2.5, "grown");
            let moved = Curve::through(&Profile::new(&angles, &radii).unwrap()).unwrap();
            close(gauge.trace(&moved).range(), "moved");
        }
    }
}

/// Profile, simulated trace with noise, inverted: every lobe the gauge sees comes back within five of its stated standard errors (the
/// chance that one of these 200 does not is below 1 in 5,000), the others are named as unseen.
/// Truth: analytical; by construction of the input
#[test]
fn a_trace_gives_its_lobes_back() {
    let mut random = Random::new(5);
    let truth = Lobed {
        radius: 45.0,
        terms: vec![
            (2, 0.006, 0.4),
            (3, 0.012, 1.9),
            (5, 0.003, 5.0),
            (6, 0.002, 2.0),
            (7, 0.0015, 0.3),
        ],
    };
    let curve = truth.curve();
    let noise = 2e-4;
    let vees = [60.0, 90.0, 120.0].map(Vee::summit);
    let riders = [60.0, 90.0].map(Vee::rider);
    let gauges = vees.into_iter().chain(riders).map(Gauge::Vee);
    for gauge in gauges.chain([Gauge::TwoPoint, Gauge::ThreePoint, Gauge::Radius]) {
        let trace = gauge.trace(&curve);
        // one reading in fifty, with even noise of the stated standard deviation
        let list: String = (0..72)
            .map(|k| {
                let reading = trace.readings[50 * k] - trace.mean();
                let noise = noise * 12.0_f64.sqrt() * (random.between(0.0, 1.0) - 0.5);
                format!("{}:{:+.7} ", 5 * k, reading + noise)
            })
            .collect();
        let format = Format {
            kind: ReadingKind::Deviations,
            ..Format::default()
        };
        let readings = Readings::parse(&list, &format).unwrap();
        let found = invert(&readings, gauge, Some(12)).unwrap();
        for n in 2..=12 {
            let seen = found.lobes.iter().find(|l| l.count == n);
            assert_eq!(seen.is_none(), gauge.factor(n) < 0.2, "{gauge} {n}");
            assert_eq!(found.unseen.contains(&n), seen.is_none(), "{gauge} {n}");
            let Some(lobe) = seen else { continue };
            let (amplitude, phase) = truth
                .terms
                .iter()
                .find(|t| t.0 == n)
                .map_or((0.0, 0.0), |t| (t.1, t.2));
            let [c, s] = lobe.harmonic().terms();
            let miss = (c - amplitude * phase.cos()).hypot(s - amplitude * phase.sin());
            // beside the noise: what turning adds at second order, 0.036^2 / 45 a contact
            let allowed = 5.0 * lobe.uncertainty.unwrap() + 3e-5;
            assert!(miss < allowed, "{gauge} {n}: {miss} {allowed}");
        }
        let sigma = found.noise.unwrap();
        assert!(
            (0.6 * noise..1.5 * noise).contains(&sigma),
            "{gauge}: {sigma}"
        );
    }
}

/// What readings on one gauge say of another at least is never more than the truth, whatever lobes the first one hides; where both show the same lobes it is the truth.
/// The true part and its traces are sums of lobes turned by the factors, and its zone is read off the whole profile.
/// Truth: analytical
#[test]
fn lower_bounds_hold_whatever_is_unseen() {
    let mut random = Random::new(23);
    let mut known = 0;
    for k in 0..60 {
        let part = Lobed {
            radius: 40.0,
            terms: (2..=12)
                .map(|n| {
                    let amplitude = 1e-3 * random.between(0.0, 1.0) / f64::from(n);
                    (n, amplitude, random.between(0.0, TAU))
                })
                .collect(),
        };
        let trace = |gauge: Gauge, t: f64| -> f64 {
            let wave = |&(n, a, phase): &(u32, f64, f64)| {
                let ([re, im], (s, c)) = (gauge.response(n), (f64::from(n) * t - phase).sin_cos());
                a * (re * c - im * s)
            };
            part.terms.iter().map(wave).sum()
        };
        let turn = |points: u32| (0..points).map(move |k| TAU * f64::from(k) / f64::from(points));
        let range = |gauge: Gauge| {
            let read = turn(720).map(|t| trace(gauge, t));
            read.clone().fold(f64::MIN, f64::max) - read.fold(f64::MAX, f64::min)
        };
        let taken_with = [
            Gauge::TwoPoint,
            Gauge::ThreePoint,
            Gauge::Vee(Vee::summit(60.0)),
            Gauge::Vee(Vee::summit(90.0)),
            Gauge::Vee(Vee::summit(108.0)),
            Gauge::Vee(Vee::rider(60.0)),
        ][k % 6];
        let list: String = turn(72)
            .map(|t| format!("{}\n", trace(taken_with, t)))
            .collect();
        let format = Format {
            kind: ReadingKind::Deviations,
            keep_jumps: true,
            ..Format::default()
        };
        let readings = Readings::parse(&list, &format).unwrap();
        let found = invert(&readings, taken_with, Some(12)).unwrap();
        let least = |gauge: Gauge| found.at_least(gauge, |_| 1.0);
        for gauge in Gauge::USUAL.into_iter().filter(|g| *g != Gauge::Radius) {
            let (bound, truth) = (least(gauge), range(gauge));
            assert!(
                bound <= truth + 1e-9,
                "{taken_with}, {gauge}: {bound} {truth}"
            );
            // these three show the multiples of one number, so what they tell of another is exact
            if k % 6 < 3 && found.tells(gauge) {
                known += 1;
                assert!(
                    (bound - truth).abs() < 1e-9,
                    "{taken_with}, {gauge}: {bound} {truth}"
                );
            }
        }
        let sheet = Sheet::of(&Profile::equal(&part.radii(720)), &Wanted::default()).unwrap();
        // left over: second order, lobe height squared over the radius
        let (bound, truth) = (least(Gauge::Radius), sheet.minimum_zone.circle.roundness);
        assert!(
            bound <= truth + 1e-7 && bound > 0.0,
            "{taken_with}: {bound} {truth}"
        );
        assert!(!found.tells(Gauge::Radius));
    }
    assert!(known >= 60, "{known}");
}

/// Which set-up is blind and which is best: three lobes vanish on a diameter and show threefold in a V of 60 deg, six lobes vanish in a V
/// of 108 deg (the set's own consequence of the factors).
/// Truth: analytical
#[test]
fn the_blind_and_the_best_set_up_are_named() {
    let sheet = |count: u32, surface: Surface| {
        let wanted = Wanted {
            gauges: usual_gauges(Some(surface)),
            ..Wanted::default()
        };
        Sheet::of(
            &Profile::equal(&Lobed::single(count, 0.002).radii(3600)),
            &wanted,
        )
        .unwrap()
    };
    let blind = |sheet: &Sheet| sheet.blind().map(|r| r.gauge).collect::<Vec<_>>();
    let three = sheet(3, Surface::Outer);
    assert_eq!(blind(&three), [Gauge::TwoPoint, Gauge::Plate]);
    let best = three.best().unwrap();
    assert!((three.magnifies(best).unwrap() - 3.0).abs() < 1e-3);
    let six = sheet(6, Surface::Outer);
    assert!(blind(&six).contains(&Gauge::Vee(Vee::summit(108.0))));
    assert!(blind(&six).contains(&Gauge::Vee(Vee::summit(120.0))));
    let bore = sheet(2, Surface::Bore);
    assert_eq!(blind(&bore), [Gauge::ThreePoint]);
    assert_eq!(bore.best().unwrap().gauge, Gauge::TwoPoint);
    assert!(bore.readings.iter().all(|r| r.gauge.reaches(Surface::Bore)));
}

/// A part made of what two holds print and something of its own.
/// Truth: analytical; by construction of the input
#[test]
fn causes_add_up_on_a_profile() {
    let lobes = |terms: &[(u32, f64, f64)]| {
        let lobed = Lobed {
            radius: 50.0,
            terms: terms.to_vec(),
        };
        harmonics(&Profile::equal(&lobed.radii(720)), [0.0, 0.0], 12)
    };
    let first = [(3, 0.02, 0.5), (6, 0.002, 1.0)];
    let second = [(3, 0.008, -0.4), (4, 0.003, 0.0)];
    let own = [(2, 0.004, 0.7)];
    let all: Vec<_> = first.iter().chain(&second).chain(&own).copied().collect();
    let print = |name: &str, terms: &[(u32, f64, f64)]| Print {
        name: name.into(),
        lobes: lobes(terms),
    };
    let prints = [print("first", &first), print("second", &second)];
    let seen: Vec<Harmonic> = lobes(&all)
        .into_iter()
        .filter(|h| h.amplitude > 1e-9)
        .collect();
    let found = causes(&seen, &prints, true);
    assert_eq!(
        found.iter().map(|c| c.measured.count).collect::<Vec<_>>(),
        [2, 3, 4, 6]
    );
    for cause in &found {
        let shares: f64 = cause.parts.iter().map(|p| p.share).sum();
        assert!((shares + cause.left.share - 1.0).abs() < 1e-9);
        let left = cause.left.lobe.amplitude;
        let want = if cause.measured.count == 2 {
            0.004
        } else {
            0.0
        };
        assert!((left - want).abs() < 1e-9, "{cause:?}");
    }
}

/// An oval turned in a V against its exact place: the flanks touch where the support function `sqrt(a^2 cos^2 + b^2 sin^2)` of an ellipse
/// says (textbook), and the indicator's line meets it where a quadratic equation says. Here the part moves sideways by a hundredth of its
/// radius, which the factors leave out.
/// Truth: analytical
#[test]
fn an_ellipse_in_a_v_reads_as_its_equation_says() {
    let (a, b) = (42.0_f64, 38.0_f64);
    let points = 36_000;
    let radii: Vec<f64> = (0..points)
        .map(|k| {
            let (s, c) = (TAU * f64::from(k) / f64::from(points)).sin_cos();
            a * b / (b * c).hypot(a * s)
        })
        .collect();
    let profile = Profile::equal(&radii);
    let curve = Curve::through(&profile).unwrap();
    for vee in [
        Vee::summit(90.0),
        Vee::rider(60.0),
        Vee {
            included_angle_deg: 90.0,
            indicator_deg: 30.0,
        },
    ] {
        // the V opens upwards, its indicator turned counter-clockwise from straight up
        let slant = (0.5 * vee.included_angle_deg).to_radians();
        let flanks = [-0.5 * TAU + slant, -slant];
        let indicator = 0.25 * TAU + vee.indicator_deg.to_radians();
        let trace = Gauge::Vee(vee).trace(&curve);
        let exact = |k: usize| {
            // the part's own axis when its angle is under the indicator
            let turned = indicator - TAU * k as f64 / 3600.0;
            let support = |direction: f64| {
                let (s, c) = (direction - turned).sin_cos();
                (a * c).hypot(b * s)
            };
            // flanks at a distance of 0 from the V's corner: -u . centre = support
            let [(s0, c0), (s1, c1)] = flanks.map(f64::sin_cos);
            let (h0, h1) = (-support(flanks[0]), -support(flanks[1]));
            let det = c0 * s1 - c1 * s0;
            let own = |h0: f64, h1: f64| [(h0 * s1 - h1 * s0) / det, (c0 * h1 - c1 * h0) / det];
            let (centre, round) = (own(h0, h1), own(-curve.radius(), -curve.radius()));
            // from the centre of a round part along the indicator to the far side of the ellipse, in the ellipse's axes
            let into = |x: f64, y: f64| {
                let (s, c) = turned.sin_cos();
                [(c * x + s * y) / a, (c * y - s * x) / b]
            };
            let (s, c) = indicator.sin_cos();
            let (p, d) = (into(round[0] - centre[0], round[1] - centre[1]), into(c, s));
            let (dd, pd, pp) = (
                d[0] * d[0] + d[1] * d[1],
                p[0] * d[0] + p[1] * d[1],
                p[0] * p[0] + p[1] * p[1],
            );
            (-pd + (pd * pd - dd * (pp - 1.0)).sqrt()) / dd - curve.radius()
        };
        for k in (0..3600).step_by(37) {
            let (found, want) = (trace.readings[k], exact(k));
            assert!((found - want).abs() < 1e-6, "{vee:?} {k}: {found} {want}");
        }
    }
}

/// An indicator about the axis shows the part off its axis, once and no more.
/// Truth: analytical
#[test]
fn an_axis_shows_what_is_off_it() {
    let out = 0.3;
    let radii: Vec<f64> = (0..720)
        .map(|k| {
            let (s, c) = (TAU * f64::from(k) / 720.0).sin_cos();
            out * c + (1600.0 - (out * s) * (out * s)).sqrt()
        })
        .collect();
    let wanted = Wanted {
        gauges: vec![Gauge::Radius, Gauge::TwoPoint],
        cut_off: None,
    };
    let sheet = Sheet::of(&Profile::equal(&radii), &wanted).unwrap();
    let shown = |gauge| sheet.reading(gauge).unwrap().range;
    assert!((shown(Gauge::Radius) - 2.0 * out).abs() < 1e-9);
    assert!((sheet.about_origin - 2.0 * out).abs() < 1e-9);
    assert!(shown(Gauge::TwoPoint) < 1e-7);
}

/// The curve goes through the readings, also where neighbours go up and down by turns, and two readings in one place leave it a curve.
/// Truth: analytical; by construction of the input
#[test]
fn the_curve_goes_through_its_readings() {
    let radii = [40.1, 39.9, 40.2, 39.8, 40.1, 39.9, 40.0, 39.7];
    let curve = Curve::through(&Profile::equal(&radii)).unwrap();
    for (k, r) in radii.iter().enumerate() {
        let found = curve.from_origin(TAU * k as f64 / 8.0);
        assert!((found - r).abs() < 1e-9, "{k}: {found}");
    }
    let angle = |k: i32| TAU * f64::from(k - i32::from(k == 300)) / 500.0;
    let angles: Vec<f64> = (0..500).map(angle).collect();
    let radii: Vec<f64> = angles.iter().map(|t| 40.0 + 0.1 * t.cos()).collect();
    let curve = Curve::through(&Profile::new(&angles, &radii).unwrap()).unwrap();
    for k in 0..7200 {
        let t = TAU * f64::from(k) / 7200.0;
        assert!(
            (curve.from_origin(t) - 40.0 - 0.1 * t.cos()).abs() < 1e-5,
            "{k}"
        );
    }
}

/// The lobes that make the shape are named by size, those below a fifth of the strongest not at all.
/// Truth: analytical; by construction of the input
#[test]
fn the_main_lobes_are_the_strongest() {
    let part = Lobed {
        radius: 40.0,
        terms: vec![
            (1, 0.2, 0.0),
            (2, 0.004, 0.0),
            (3, 0.0019, 0.0),
            (5, 0.01, 0.3),
        ],
    };
    let wanted = Wanted {
        gauges: vec![
            Gauge::Radius,
            Gauge::TwoPoint,
            Gauge::Vee(Vee::summit(90.0)),
        ],
        cut_off: None,
    };
    let sheet = Sheet::of(&Profile::equal(&part.radii(360)), &wanted).unwrap();
    // about the axis it shows most, but that is the part off its centre
    assert!(sheet.reading(Gauge::Radius).unwrap().range > 0.3);
    assert_ne!(sheet.best().unwrap().gauge, Gauge::Radius);
    let counts: Vec<u32> = sheet.main_lobes().iter().map(|h| h.count).collect();
    assert_eq!(counts, [5, 2]);
}

/// An outside that was turned in one hold and sprang when the bore was cut in the next: each put in its own, and together they are all of it.
/// Truth: invariance; the shares of the steps add up to the shape that is left
#[test]
fn what_later_steps_add_is_added() {
    let text = format!(
        "{}residual_hoop_stress = {{ outer = 60.0, bore = -60.0 }}\n[[part.lobes]]\nsurface = \"outer\"\ncount = 2\namplitude = 0.02\n[mesh]\naround = 360\nthrough = 4\n\
         [[hold.bare]]\nscheme = \"jaws\"\ncount = 3\nforce = 2000.0\nbored_diameter = 111.0\nwidth = 22.0\n\
         [[step]]\nhold = \"bare\"\n[[step.cut]]\nsurface = \"outer\"\ndiameter = 109.5\n\
         [[step]]\nhold = \"bare\"\n[[step.cut]]\nsurface = \"bore\"\ndiameter = 93.0\n",
        files::ring(46.0, 55.0, 100_000.0, 0.34, 30.0)
    );
    let outcome = files::solve(&text).outcome;
    let released = |step: usize| {
        let radii = &outcome.steps[step].released.outer;
        let centre = least_squares_circle(&Profile::equal(radii)).centre;
        harmonics(&Profile::equal(radii), centre, 12)
    };
    let (first, last) = (released(0), released(1));
    let causes = cause_documents(&outcome, Surface::Outer, &last, true);
    let three = causes.iter().find(|c| c.measured.count == 3).unwrap();
    let [own, later] = &three.parts[..] else {
        panic!("{:?}", three.parts);
    };
    assert_eq!(
        (&*own.by, &*later.by),
        ("step 1, hold \"bare\"", "step 2, hold \"bare\"")
    );
    assert!((own.amplitude - first[2].amplitude).abs() < 1e-9);
    let added = Harmonic {
        count: 3,
        amplitude: later.amplitude,
        angle_deg: later.angle.unwrap(),
    };
    for k in 0..2 {
        let sum = first[2].terms()[k] + added.terms()[k];
        assert!((sum - last[2].terms()[k]).abs() < 1e-9, "{three:?}");
    }
    assert!(
        later.amplitude > 1e-6 && three.unexplained.amplitude < 1e-9,
        "{three:?}"
    );
    assert!(
        causes
            .iter()
            .all(|c| c.measured.amplitude >= 0.02 * last[2].amplitude)
    );
}

/// The document writes each circle and each gauge down under its own name, and says where a centre means nothing: two lobes let a plug slide.
/// Truth: invariance; two ways to read one figure
#[test]
fn the_document_is_the_sheet() {
    let oval = Lobed {
        radius: 40.0,
        terms: vec![(2, 1.0, 0.0)],
    };
    let wanted = Wanted {
        gauges: usual_gauges(None),
        cut_off: Some(15.0),
    };
    let sheet = Sheet::of(&Profile::equal(&oval.radii(720)), &wanted).unwrap();
    let read = GaugeDocument::of(&sheet, &[90.0], Vec::new()).read;
    let inscribed = sheet.inscribed.as_ref().unwrap();
    let circumscribed = sheet.circumscribed.as_ref().unwrap();
    let same = |document: &CircleDocument, circle: &Circle, unique: bool| {
        assert_eq!(document.radius, circle.radius);
        assert_eq!(document.roundness, circle.roundness);
        assert_eq!(document.unique, unique);
    };
    assert!(!inscribed.unique && read.unknown.is_empty());
    same(&read.least_squares, &sheet.least_squares, true);
    same(&read.minimum_zone, &sheet.minimum_zone.circle, true);
    same(
        read.maximum_inscribed.as_ref().unwrap(),
        &inscribed.circle,
        false,
    );
    same(
        read.minimum_circumscribed.as_ref().unwrap(),
        &circumscribed.circle,
        true,
    );
    let (f, filtered) = (read.filtered.unwrap(), sheet.filtered.as_ref().unwrap());
    let inscribed = filtered.inscribed.as_ref().unwrap();
    let circumscribed = filtered.circumscribed.as_ref().unwrap();
    assert!(!inscribed.unique);
    let sizes = [
        inscribed.circle,
        filtered.least_squares,
        circumscribed.circle,
    ];
    assert!(sizes.map(|c| c.radius).is_sorted(), "{sizes:?}");
    same(&f.least_squares, &filtered.least_squares, true);
    same(&f.minimum_zone, &filtered.minimum_zone.circle, true);
    same(
        f.maximum_inscribed.as_ref().unwrap(),
        &inscribed.circle,
        false,
    );
    same(
        f.minimum_circumscribed.as_ref().unwrap(),
        &circumscribed.circle,
        true,
    );
    let range = |gauge| sheet.reading(gauge).unwrap().range;
    let vees: Vec<_> = read.vee.iter().map(|v| (v.angle, v.range)).collect();
    assert_eq!(vees, [(90.0, Some(range(Gauge::Vee(Vee::summit(90.0)))))]);
    for v in &read.rider {
        assert_eq!(v.range, Some(range(Gauge::Vee(Vee::rider(v.angle)))));
    }
    let three = read.three_point.unwrap();
    assert_eq!(
        [three.min, three.max],
        sheet.reading(Gauge::ThreePoint).unwrap().limits.map(Some)
    );
    assert_eq!(read.plate.unwrap().range, Some(range(Gauge::Plate)));
    assert_eq!(
        [read.two_point.min, read.two_point.max],
        sheet.two_point.limits.map(Some)
    );
    let factors = &read.factors[0];
    assert_eq!(
        (factors.count, factors.gauges.len()),
        (2, wanted.gauges.len())
    );
    for (written, gauge) in factors.gauges.iter().zip(&wanted.gauges) {
        assert_eq!(
            (&written.gauge, written.factor),
            (&gauge.to_string(), gauge.factor(2))
        );
    }
}

/// Behind a filter that lets everything through all circles stay where they were, off centre, whatever the steps; a wave far beyond another's
/// cut-off is gone.
/// Truth: invariance
#[test]
fn circles_behind_a_filter_keep_their_place() {
    let part = Lobed {
        radius: 40.0,
        terms: vec![(1, 0.05, 0.7), (3, 0.01, 0.0), (60, 0.002, 0.0)],
    };
    let mut random = Random::new(21);
    let angles: Vec<f64> = (0..900)
        .map(|k| TAU * (f64::from(k) + random.between(0.0, 0.3)) / 900.0)
        .map(|t| t + 0.3 * t.sin())
        .collect();
    let uneven: Vec<f64> = angles.iter().map(|&t| part.at(t)).collect();
    let even = part.radii(900);
    for profile in [
        Profile::equal(&even),
        Profile::new(&angles, &uneven).unwrap(),
    ] {
        let behind = |cut_off: f64| {
            let wanted = Wanted {
                gauges: Vec::new(),
                cut_off: Some(cut_off),
            };
            Sheet::of(&profile, &wanted).unwrap()
        };
        let open = behind(5000.0);
        let circle = |c: &Result<OneSided, MetrologyError>| c.as_ref().unwrap().circle;
        let f = open.filtered.as_ref().unwrap();
        for (found, plain) in [
            (f.least_squares, open.least_squares),
            (f.minimum_zone.circle, open.minimum_zone.circle),
            (circle(&f.inscribed), circle(&open.inscribed)),
            (circle(&f.circumscribed), circle(&open.circumscribed)),
        ] {
            let off = |k: usize| (found.centre[k] - plain.centre[k]).abs();
            assert!(off(0) < 1e-4 && off(1) < 1e-4, "{found:?} {plain:?}");
            assert!(
                (found.roundness - plain.roundness).abs() < 1e-4,
                "{found:?} {plain:?}"
            );
        }
        let smooth = behind(15.0).filtered.unwrap();
        // three lobes through a Gaussian at a fifth of its cut-off: 2^-(1/25)
        let left = 0.02 * (-0.04_f64).exp2();
        assert!(
            (smooth.minimum_zone.circle.roundness - left).abs() < 2e-4,
            "{smooth:?}"
        );
    }
}

/// A tool that misses the low spots leaves what was there before in them.
/// Truth: invariance; shares add up
#[test]
fn a_surface_cut_in_part_keeps_what_it_was() {
    let text = format!(
        "{}[[part.lobes]]\nsurface = \"bore\"\ncount = 2\namplitude = 0.3\n[mesh]\naround = 360\nthrough = 4\n\
         [[step]]\nhold = \"free\"\n[[step.cut]]\nsurface = \"bore\"\ndiameter = 94.2\n",
        files::ring(47.0, 55.0, 100_000.0, 0.34, 30.0)
    );
    let outcome = files::solve(&text).outcome;
    let radii = &outcome.steps[0].released.bore;
    let left = harmonics(&Profile::equal(radii), [0.0; 2], 12);
    let causes = cause_documents(&outcome, Surface::Bore, &left, true);
    let by: Vec<_> = causes[0]
        .parts
        .iter()
        .map(|p| (&*p.by, p.amplitude))
        .collect();
    assert_eq!((by.len(), by[0].0), (2, "the stock as received"));
    // the tool took off the inner half of the wave
    assert!((by[0].1 - 0.3).abs() < 1e-3 && by[1].1 > 0.1, "{by:?}");
}
