//! Gauges: factors, the simulation on true profiles, and what a shop makes of them.

use std::f64::consts::TAU;

use ringwright_solver::geometry::Surface;
use ringwright_solver::metrology::inversion::invert;
use ringwright_solver::metrology::readings::{Format, Kind, Readings};
use ringwright_solver::metrology::{
    Curve, Gauge, Harmonic, Print, Profile, Sheet, Vee, Wanted, causes, harmonics,
};
use ringwright_solver::report::document::usual_gauges;
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
            kind: Kind::Deviations,
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

/// Which set-up is blind and which is best: three lobes vanish on a diameter and show threefold in a V of 60 deg, six lobes vanish in a V
/// of 108 deg (the set's own consequence of the factors).
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
