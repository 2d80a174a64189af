//! Readings: those of a lobed part, good texts broken in a few places, and what must be true of whatever is read from them.

use std::f64::consts::TAU;

use proptest::prelude::*;
use ringwright_solver::metrology::inversion::invert;
use ringwright_solver::metrology::readings::{
    Format, LengthUnit, ReadingKind, Readings, ReadingsError,
};
use ringwright_solver::metrology::{Gauge, Vee};

use crate::random::Random;

/// Deviations of a part with a few lobes, at equal or uneven angles.
pub struct Deviations {
    /// Angle (degrees) and deviation (um) of each.
    pairs: Vec<[f64; 2]>,
}

/// Readings of a part with lobes of about `amplitude` (mm).
pub fn deviations(random: &mut Random, amplitude: f64) -> Deviations {
    let count = 12 + random.below(60);
    let lobes: Vec<[f64; 3]> = (0..3)
        .map(|_| {
            let lobes = (2 + random.below(4)) as f64;
            [lobes, random.between(0.0, 1.0), random.between(0.0, TAU)]
        })
        .collect();
    let uneven = if random.chance(0.3) { 0.4 } else { 0.0 };
    let pairs = (0..count)
        .map(|k| {
            let at = (k as f64 + random.between(0.0, uneven)) / count as f64;
            let height: f64 = lobes
                .iter()
                .map(|[n, share, phase]| share * (n * TAU * at + phase).cos())
                .sum();
            [360.0 * at, 1e3 * amplitude * height]
        })
        .collect();
    Deviations { pairs }
}

impl Deviations {
    /// `angle:um`, as typed into a case.
    pub fn typed(&self) -> String {
        let pairs: Vec<String> = self.pairs.iter().map(|[a, d]| format!("{a}:{d}")).collect();
        pairs.join(" ")
    }

    /// A file with columns of degrees and mm.
    pub fn csv(&self) -> String {
        let mut text = "angle_deg,deviation_mm\n".to_owned();
        for [angle, deviation] in &self.pairs {
            text += &format!("{angle},{}\n", 1e-3 * deviation);
        }
        text
    }
}

/// Texts in every way that readings may be written.
pub const GOOD: [&str; 6] = [
    "angle_deg,radius_mm\n0,60.01\n60,60.02\n120,59.99\n180,60\n240,60.01\n300,59.98\n",
    "# ring 7\r\nAngle (deg);Deviation [thou]\r\n0;0,4\r\n90;-0,1\r\n180;-0,9\r\n270;0,2\r\n",
    "0:+0.4 30:-0.1 60:-0.9 90:-0.4 120:0.3 150:0.5 180:0 210:-0.2 240:0.1 270:0 300:-.3 330:0 360:0.4",
    "0.4 -0.1 -0.9 -0.4 0.3 0.5 0 -0.2 0.1",
    "diameter_in\n2.3601\n2.3602\n2.3599\n2.3600\n",
    "0\t60,01\n72\t60,02\n144\t60\n216\t60,01\n288\t59,99\n",
];

/// What upsets readers of numbers.
pub const PIECES: [&str; 26] = [
    "nan",
    "inf",
    "-1",
    "1e308",
    "1e-320",
    "\n",
    "\r\n",
    "\r",
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
    "diameter_um",
    "\u{0}",
    "\u{b5}",
];

/// The gauges that readings are taken with.
pub const GAUGES: [Gauge; 6] = [
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

/// Any format, mad ones too.
pub fn format() -> impl Strategy<Value = Format> {
    let kind = prop_oneof![
        Just(ReadingKind::Radii),
        Just(ReadingKind::Deviations),
        Just(ReadingKind::Diameters)
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
pub fn mutated() -> impl Strategy<Value = String> {
    let change = (
        0usize..2000,
        0usize..6,
        prop::option::of(prop::sample::select(PIECES.to_vec())),
    );
    let good = prop_oneof![
        prop::sample::select(GOOD.to_vec()).prop_map(str::to_owned),
        any::<u64>()
            .prop_map(|seed| deviations(&mut Random::new(seed), 0.02).csv())
            .no_shrink(),
    ];
    (good, prop::collection::vec(change, 0..6)).prop_map(|(good, changes)| {
        let mut text: Vec<char> = good.chars().collect();
        for (at, out, piece) in changes {
            let at = at % (text.len() + 1);
            let end = (at + out).min(text.len());
            text.splice(at..end, piece.unwrap_or("").chars());
        }
        text.into_iter().collect()
    })
}

/// What must be true of any answer to a text of so many lines; the readings, if there are any.
///
/// # Panics
/// If it is not.
pub fn sound(answer: Result<Readings, ReadingsError>, lines: usize) -> Option<Readings> {
    let readings = match answer {
        Ok(readings) => readings,
        Err(e) => {
            let message = e.to_string();
            assert!(e.line <= lines.max(1), "{message}");
            assert!(!message.contains('\n'), "{message}");
            assert!(!message.is_empty() && message.len() < 2000, "{message}");
            return None;
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
    Some(readings)
}

/// Lines of a text, which end with a line feed, a carriage return or both; a part of a line after the last end of line counts.
pub fn lines_of(bytes: &[u8]) -> usize {
    let pairs = bytes.windows(2).filter(|pair| pair == b"\r\n").count();
    let ends = bytes.iter().filter(|b| matches!(b, b'\n' | b'\r'));
    ends.count() - pairs + 1
}
