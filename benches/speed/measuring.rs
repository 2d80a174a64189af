//! Reading a profile: each reference circle, lobes and filter, on the profiles that cost most.

use std::f64::consts::TAU;
use std::fmt::Display;
use std::io::{self, Error, Write};

use ringwright_solver::metrology::{
    Curve, Gauge, MetrologyError, Profile, gaussian, harmonics, maximum_inscribed,
    minimum_circumscribed, minimum_zone,
};

use crate::phases::time;

/// Readings, and the milliseconds wanted for a minimum zone.
const SIZES: [(usize, f64); 2] = [(3_600, 5.0), (100_000, 200.0)];

/// Shape of a profile: amplitude of three and five lobes, of two lobes, and height of the noise, all as shares of the radius.
const SHAPES: [(&str, [f64; 3]); 6] = [
    ("lobed, 0.2 percent", [1e-3, 0.0, 0.0]),
    ("noisy, 0.1 percent", [0.0, 0.0, 1e-3]),
    ("lobed and noisy, 10 percent", [0.03, 0.01, 0.03]),
    ("noisy, 30 percent", [0.0, 0.0, 0.3]),
    ("lobed, 30 percent", [0.13, 0.03, 0.0]),
    ("two-lobed, 30 percent", [0.0, 0.15, 0.0]),
];

fn radii(angles: &[f64], [lobes, two, noise]: [f64; 3]) -> Vec<f64> {
    let mut state = 1_u64;
    let mut random = || {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (state >> 11) as f64 / (1_u64 << 53) as f64
    };
    let shape =
        |t: f64| lobes * ((3.0 * t).cos() + 0.3 * (5.0 * t + 1.0).cos()) + two * (2.0 * t).cos();
    angles
        .iter()
        .map(|&t| 50.0 * (1.0 + shape(t) + noise * random()))
        .collect()
}

/// Median milliseconds.
fn cost<T, E: Display>(work: impl FnMut() -> Result<T, E>) -> io::Result<f64> {
    time(work).map(|(seconds, _)| 1e3 * seconds)
}

/// Total readings of every usual gauge, from the bare profile.
fn gauges(profile: &Profile) -> Result<f64, MetrologyError> {
    let curve = Curve::through(profile)?;
    Ok(Gauge::USUAL.map(|g| g.trace(&curve).range()).iter().sum())
}

/// Writes the table.
pub fn table(out: &mut dyn Write) -> io::Result<()> {
    writeln!(
        out,
        "\n## Measuring\n\nMilliseconds, one thread; uneven steps. Wanted of a minimum zone: 5 at 3,600 readings, 200 at 100,000; of \
         all ten gauges: 20 at 3,600.\n\n\
         | profile | minimum zone | circumscribed | inscribed | 50 lobes | 50 lobes, equal steps | filter, equal steps | ten gauges, equal steps |\n\
         | --- | --- | --- | --- | --- | --- | --- | --- |"
    )?;
    for (count, wanted) in SIZES {
        let step = |k: usize| TAU * (k as f64 + 0.4 * (k as f64).sin()) / count as f64;
        let angles: Vec<f64> = (0..count).map(step).collect();
        for (name, shape) in SHAPES {
            let radii = radii(&angles, shape);
            let uneven = Profile::new(&angles, &radii).map_err(|e| Error::other(e.to_string()))?;
            let equal = Profile::equal(&radii);
            let lobes = |p: &Profile| Ok::<_, Error>(harmonics(p, [0.0; 2], 50));
            let zone = cost(|| minimum_zone(&uneven))?;
            let others = [
                cost(|| minimum_circumscribed(&uneven))?,
                cost(|| maximum_inscribed(&uneven))?,
                cost(|| lobes(&uneven))?,
                cost(|| lobes(&equal))?,
                cost(|| gaussian(&equal, [0.0; 2], 50.0))?,
                cost(|| gauges(&equal))?,
            ];
            let missed = if zone > wanted { " (too slow)" } else { "" };
            write!(out, "| {count}, {name} | {zone:.2}{missed} |")?;
            for other in others {
                write!(out, " {other:.2} |")?;
            }
            writeln!(out)?;
        }
    }
    Ok(())
}
