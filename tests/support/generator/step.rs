//! Steps: what is held, how it lies, what is cut.

use super::part::{Ring, quoted};
use super::text::{Lines, Units};
use crate::random::Random;

pub(super) fn write(random: &mut Random, units: Units, ring: &Ring, holds: &[&str]) -> String {
    let mut lines = Lines::default();
    let mut size = [ring.outer, ring.bore];
    let steps = match random.below(20) {
        0 => 4,
        1..=4 => 2,
        _ => 1,
    };
    for k in 0..steps {
        // every hold is used where there are steps enough
        let hold = holds.get(k).copied();
        let hold = hold.unwrap_or_else(|| holds[random.below(holds.len())]);
        lines.head("[[step]]");
        lines.set(
            "hold",
            quoted(if random.chance(0.04) { "free" } else { hold }),
        );
        placing(&mut lines, random, units, ring);
        let cuts = match random.below(60) {
            0 => 12,
            1..=8 => 2,
            9..=20 => 0,
            _ => 1,
        };
        for _ in 0..cuts {
            cut(&mut lines, random, units, &mut size);
        }
    }
    lines.into_text()
}

fn placing(lines: &mut Lines, random: &mut Random, units: Units, ring: &Ring) {
    if random.chance(0.1) {
        lines.set("force_scale", random.size(0.01, 2.0));
    }
    if random.chance(0.1) {
        lines.set("flipped", random.chance(0.8));
    }
    if random.chance(0.02) {
        lines.set("turned", "\"any\"");
    } else if random.chance(0.1) {
        let angle = random.between(-400.0, 400.0);
        lines.set("turned", units.angle(random, angle));
    }
    if random.chance(0.08) {
        lines.set("centre_on", quoted(random.pick(&["jaws", "outer", "bore"])));
    }
    if random.chance(0.05) {
        lines.set("stress_relieved", random.chance(0.8));
    }
    if random.chance(0.15) {
        let distance = ring.wall() * random.size(1e-5, 0.2);
        let distance = units.length(random, distance);
        let angle = random.between(-400.0, 400.0);
        lines.set(
            "spindle_offset",
            format!("{{ distance = {distance}, angle = {angle} }}"),
        );
    }
}

/// One cut of either surface by a little, often by nearly nothing, now and then to the same diameter again.
fn cut(lines: &mut Lines, random: &mut Random, units: Units, size: &mut [f64; 2]) {
    let wall = 0.5 * (size[0] - size[1]);
    let (k, surface) = if random.chance(0.3) {
        (0, "outer")
    } else {
        (1, "bore")
    };
    let depth = if random.chance(0.05) {
        0.0
    } else {
        wall * random.size(1e-3, 0.3)
    };
    size[k] += if k == 0 { -depth } else { depth };
    lines.head("[[step.cut]]");
    lines.set("surface", quoted(surface));
    lines.set("diameter", units.length(random, size[k]));
}

/// One or two cuts of 1 to 20 percent of the wall each.
pub(super) fn shallow_cuts(random: &mut Random, ring: &Ring) -> String {
    let mut lines = Lines::default();
    let mut size = [ring.outer, ring.bore];
    for _ in 0..=random.below(2) {
        let k = usize::from(random.chance(0.7));
        let depth = ring.wall() * random.size(0.01, 0.2);
        size[k] += if k == 0 { -2.0 * depth } else { 2.0 * depth };
        lines.head("[[step.cut]]");
        lines.set("surface", quoted(["outer", "bore"][k]));
        lines.set("diameter", format!("{:?}", size[k]));
    }
    lines.into_text()
}
