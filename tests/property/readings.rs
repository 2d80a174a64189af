//! Whatever a text of readings says, it ends in checked readings or in an error that points into it; and what readings say of a part
//! turns and scales with them.

use std::f64::consts::TAU;

use proptest::prelude::*;
use ringwright_solver::metrology::inversion::{Recovered, invert, most_lobes, repeats};
use ringwright_solver::metrology::readings::{Format, Kind, LengthUnit, Readings, ReadingsError};
use ringwright_solver::metrology::{Gauge, Vee};

const GOOD: [&str; 6] = [
    "angle_deg,radius_mm\n0,60.01\n60,60.02\n120,59.99\n180,60\n240,60.01\n300,59.98\n",
    "# ring 7\r\nAngle (deg);Deviation [thou]\r\n0;0,4\r\n90;-0,1\r\n180;-0,9\r\n270;0,2\r\n",
    "0:+0.4 30:-0.1 60:-0.9 90:-0.4 120:0.3 150:0.5 180:0 210:-0.2 240:0.1 270:0 300:-.3 330:0 360:0.4",
    "0.4 -0.1 -0.9 -0.4 0.3 0.5 0 -0.2 0.1",
    "diameter_in\n2.3601\n2.3602\n2.3599\n2.3600\n",
    "0\t60,01\n72\t60,02\n144\t60\n216\t60,01\n288\t59,99\n",
];

const PIECES: [&str; 24] = [
    "nan",
    "inf",
    "-1",
    "1e308",
    "1e-320",
    "\n",
    "\r\n",
    ":",
    ",",
    ";",
    "\t",
    " ",
    "#",
    "\u{feff}",
    "\u{2212}",
    "\"",
    "360",
    "720",
    "0.0254",
    "mm",
    "radius_in",
    "angle_deg",
    "\u{0}",
    "\u{b5}",
];

const GAUGES: [Gauge; 6] = [
    Gauge::Radius,
    Gauge::TwoPoint,
    Gauge::Plate,
    Gauge::ThreePoint,
    Gauge::Vee(Vee::summit(90.0)),
    Gauge::Vee(Vee {
        included_angle_deg: 60.0,
        indicator_deg: 30.0,
    }),
];

fn format() -> impl Strategy<Value = Format> {
    let kind = prop_oneof![
        Just(Kind::Radii),
        Just(Kind::Deviations),
        Just(Kind::Diameters)
    ];
    let unit = prop::option::of(prop::sample::select(
        LengthUnit::ALL.map(|(unit, _)| unit).to_vec(),
    ));
    let zero = prop_oneof![Just(0.0), -1e3..1e3, Just(f64::NAN), Just(1e300)];
    let lobes = prop::option::of(0u32..100);
    (kind, unit, zero, any::<[bool; 2]>(), lobes, 0u32..4).prop_map(
        |(kind, unit, zero_at_deg, [clockwise, keep_jumps], lobes, repeats)| Format {
            kind,
            unit,
            zero_at_deg,
            clockwise,
            keep_jumps,
            lobes,
            repeats,
            ..Format::default()
        },
    )
}

/// Good texts with pieces put in and characters taken out.
fn mutated() -> impl Strategy<Value = String> {
    let change = (
        0usize..2000,
        0usize..6,
        prop::option::of(prop::sample::select(PIECES.to_vec())),
    );
    (
        prop::sample::select(GOOD.to_vec()),
        prop::collection::vec(change, 0..6),
    )
        .prop_map(|(good, changes)| {
            let mut text: Vec<char> = good.chars().collect();
            for (at, out, piece) in changes {
                let at = at % (text.len() + 1);
                let end = (at + out).min(text.len());
                text.splice(at..end, piece.unwrap_or("").chars());
            }
            text.into_iter().collect()
        })
}

/// What must be true of any answer.
fn sound(answer: Result<Readings, ReadingsError>, lines: usize) {
    let readings = match answer {
        Ok(readings) => readings,
        Err(e) => {
            assert!(e.line <= lines.max(1), "{e}");
            assert!(!e.to_string().contains('\n'), "{e}");
            return;
        }
    };
    let (angles, values) = (readings.angles(), readings.values());
    assert!(angles.len() >= 3 && angles.len() == values.len());
    assert!(angles.iter().all(|a| (0.0..TAU).contains(a)), "{angles:?}");
    assert!(angles.windows(2).all(|w| w[0] < w[1]), "{angles:?}");
    assert!(values.iter().all(|v| v.is_finite()));
    assert!(readings.lines().iter().all(|&l| (1..=lines).contains(&l)));
    for radius in [None, Some(60.0), Some(1e-3)] {
        if let Ok(measured) = readings.profile(radius) {
            let profile = measured.profile();
            assert_eq!(profile.len(), values.len());
            assert!(profile.radii().iter().all(|r| *r > 0.0));
        }
    }
    for gauge in GAUGES {
        for limit in [None, Some(0), Some(2), Some(9)] {
            if let Ok(found) = invert(&readings, gauge, limit) {
                assert!(
                    found.lobes.iter().all(|l| l.amplitude.is_finite()),
                    "{found:?}"
                );
            }
        }
    }
}

/// Lines end with a line feed, a carriage return or both.
fn lines_of(bytes: &[u8]) -> usize {
    let pairs = bytes.windows(2).filter(|pair| pair == b"\r\n").count();
    let ends = bytes.iter().filter(|b| matches!(b, b'\n' | b'\r'));
    ends.count() - pairs + 1
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    /// Truth: invariance; what is true of any answer
    #[test]
    fn any_bytes_end_in_an_answer(bytes in prop::collection::vec(any::<u8>(), 0..200), format in format()) {
        sound(Readings::read(&bytes[..], &format), lines_of(&bytes));
    }

    /// Truth: invariance; what is true of any answer
    #[test]
    fn any_text_of_number_like_pieces_ends_in_an_answer(text in "[-+0-9.,;:e# \t\nanr_\u{2212}]{0,120}", format in format()) {
        sound(Readings::parse(&text, &format), lines_of(text.as_bytes()));
    }

    /// Truth: invariance; what is true of any answer
    #[test]
    fn any_broken_list_ends_in_an_answer(text in mutated(), format in format()) {
        sound(Readings::parse(&text, &format), lines_of(text.as_bytes()));
    }
}

/// A trace of random lobes and some noise, as a list of pairs.
fn list(values: &[f64], angles: &[f64]) -> String {
    angles
        .iter()
        .zip(values)
        .map(|(a, v)| format!("{a}:{v}\n"))
        .collect()
}

fn recovered(text: &str, gauge: Gauge, zero_at_deg: f64, clockwise: bool) -> Recovered {
    let format = Format {
        kind: Kind::Deviations,
        zero_at_deg,
        clockwise,
        keep_jumps: true,
        repeats: repeats(gauge),
        ..Format::default()
    };
    let readings = Readings::parse(text, &format).unwrap();
    let limit = most_lobes(&readings, gauge).min(8);
    invert(&readings, gauge, Some(limit)).unwrap()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(100))]

    /// Truth: invariance
    #[test]
    fn lobes_turn_and_scale_with_the_readings(
        values in prop::collection::vec(-1.0..1.0f64, 36),
        turn in -180.0..180.0f64,
        scale in 0.01..100.0f64,
        which in 0usize..6,
    ) {
        let gauge = GAUGES[which];
        let angles: Vec<f64> = (0..36).map(|k| 10.0 * f64::from(k)).collect();
        let plain = recovered(&list(&values, &angles), gauge, 0.0, false);
        let scaled: Vec<f64> = values.iter().map(|v| 5.0 + scale * v).collect();
        let turned = recovered(&list(&scaled, &angles), gauge, turn, false);
        prop_assert_eq!(&plain.unseen, &turned.unseen);
        for k in 0..50 {
            let t = 0.13 * f64::from(k);
            let (a, b) = (plain.departure(t), turned.departure(t + turn.to_radians()));
            prop_assert!((scale * a - b).abs() < 1e-9 * scale, "{} {}", scale * a, b);
        }
        // read the other way round on a gauge that looks the same from both sides, the part is its mirror image
        if which < 5 {
            let mirrored = recovered(&list(&values, &angles), gauge, 0.0, true);
            for k in 0..50 {
                let t = 0.13 * f64::from(k);
                prop_assert!((plain.departure(t) - mirrored.departure(-t)).abs() < 1e-9);
            }
        }
    }
}
