//! Whatever a text of readings says, it ends in checked readings or in an error that points into it; and what readings say of a part
//! turns and scales with them.

use proptest::prelude::*;
use ringwright_solver::metrology::Gauge;
use ringwright_solver::metrology::inversion::{Recovered, invert, most_lobes, repeats};
use ringwright_solver::metrology::readings::{Format, ReadingKind, Readings};
use ringwright_tests::generator::readings::{GAUGES, format, lines_of, mutated, sound};

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
        kind: ReadingKind::Deviations,
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
