//! What stands along a tube: where its pads press, and what its cuts leave.

use super::cutting::ToolPath;
use super::setting::TubeSetting;
use super::step::{HeldTube, TubeSolved};
use crate::contact::{AlongPad, Clamp};
use crate::fourier;
use crate::process::sample::range;
use crate::process::{CutAlong, GripAlong};
use crate::tube::field::GRID;

/// Share of a pad's force below which a line of it does not press.
const NO_FORCE: f64 = 1e-9;

/// Times that what two divisions differ by is stated of taper, barrel and range: 1 in 5 of some random tubes were off by up to 1.2 times that.
const MARGIN: f64 = 1.5;

/// Where each body presses.
pub(super) fn grips(setting: &TubeSetting, clamp: &Clamp, held: &HeldTube) -> Vec<GripAlong> {
    let mut bodies = 0..clamp.bodies().len();
    let mut grips = Vec::new();
    for (support, &reach) in setting.step.supports.iter().zip(&setting.reaches) {
        for body in bodies.by_ref().take(support.bodies.len()) {
            let lines = held.contact.along(&held.rest.contact, body);
            grips.push(grip(&lines, reach, setting.step.step.flipped));
        }
    }
    grips
}

/// What a pad does along the part, line by line.
fn grip(lines: &[AlongPad], reach: [f64; 2], flipped: bool) -> GripAlong {
    let line_force: Vec<[f64; 2]> = lines.iter().map(|l| [l.z, l.force / l.length]).collect();
    let total: f64 = lines.iter().map(|l| l.force).sum();
    let mut grip = GripAlong {
        reach,
        line_force,
        ..GripAlong::default()
    };
    let most = lines.iter().map(|l| l.force).fold(0.0, f64::max);
    if most <= 0.0 {
        return grip;
    }
    let within = |window: [f64; 2], of: &dyn Fn(f64) -> f64| integral(&grip.line_force, window, of);
    let length = reach[1] - reach[0];
    // the front of a jaw is its end that is farther from the gripped end of the part
    let front = |share: f64| match flipped {
        false => [reach[1] - share * length, reach[1]],
        true => [reach[0], reach[0] + share * length],
    };
    let back = match flipped {
        false => [reach[0], reach[0] + 0.5 * length],
        true => [reach[1] - 0.5 * length, reach[1]],
    };
    let one = |_: f64| 1.0;
    let centroid = within(reach, &|z| z) / total;
    let [quarter, tenth, rear] = [front(0.25), front(0.1), back].map(|w| within(w, &one) / total);
    let presses = |l: &AlongPad| l.force > NO_FORCE * most;
    let mut touching: Vec<[f64; 2]> = Vec::new();
    for (k, line) in lines.iter().enumerate().filter(|(_, l)| presses(l)) {
        // half way to the next line, which does not press
        let half = |other: Option<&AlongPad>| other.map_or(line.z, |o| 0.5 * (o.z + line.z));
        let from = half(k.checked_sub(1).map(|m| &lines[m]));
        let to = half(lines.get(k + 1));
        match touching.last_mut() {
            Some(last) if last[1] >= from => last[1] = to,
            _ => touching.push([from, to]),
        }
    }
    grip.centroid = Some(centroid);
    grip.front_quarter = quarter;
    grip.front_tenth = tenth;
    grip.back_half = rear;
    grip.touching = touching;
    grip
}

/// Integral over a window of what is linear between places, times a linear function.
fn integral(line: &[[f64; 2]], [from, to]: [f64; 2], of: &dyn Fn(f64) -> f64) -> f64 {
    line.windows(2)
        .map(|pair| {
            let ([a, qa], [b, qb]) = (pair[0], pair[1]);
            let (start, end) = (a.max(from), b.min(to));
            if end <= start {
                return 0.0;
            }
            let at = |z: f64| (qa + (qb - qa) * (z - a) / (b - a)) * of(z);
            let middle = 0.5 * (start + end);
            (end - start) / 6.0 * (at(start) + 4.0 * at(middle) + at(end))
        })
        .sum()
}

/// What the cuts of a step left along the part.
pub(super) fn cuts(coarse: &TubeSolved, fine: &TubeSolved) -> Vec<CutAlong> {
    let both = fine.paths.iter().map(|path| {
        let [rough, sharp] = [coarse, fine].map(|solved| figures(solved, path));
        let floor = 2.0 * fine.left;
        let errors = std::array::from_fn(|k| MARGIN * (rough[k] - sharp[k]).abs() + floor);
        let [taper, barrel, range] = sharp;
        CutAlong {
            surface: path.surface,
            reach: path.reach,
            taper,
            barrel,
            range,
            errors: Some(errors),
        }
    });
    both.collect()
}

/// Taper and barrel on diameter, range on radius, mm.
fn figures(solved: &TubeSolved, path: &ToolPath) -> [f64; 3] {
    let Some(rows) = solved.part.rows(path.surface) else {
        return [0.0; 3];
    };
    // places, weights, and what each section is off the tool's path by
    let mut sections: Vec<(f64, f64, Vec<f64>)> = Vec::new();
    for (places, radii) in &rows.columns {
        if path.reaches(places[1]) {
            for (k, weight) in [1.0, 4.0, 1.0].into_iter().enumerate() {
                let tool = path.radius(places[k]);
                let off = radii[k].iter().map(|r| r - tool).collect();
                sections.push((places[k], weight * (places[2] - places[0]), off));
            }
        }
    }
    let [from, to] = path.reach;
    let (middle, reach) = (0.5 * (from + to), 0.5 * (to - from));
    let mut sums = [0.0; 3];
    let mut moments = [[0.0; 2]; 3];
    for (z, weight, off) in &sections {
        let at = (z - middle) / reach;
        let terms = fourier::spectrum(off);
        let n = off.len() as f64;
        let parts = [
            terms[0].re / n,
            2.0 * terms[1].re / n,
            -2.0 * terms[1].im / n,
        ];
        for (k, power) in [1.0, at, at * at].into_iter().enumerate() {
            sums[k] += weight * power;
        }
        for (moment, part) in moments.iter_mut().zip(parts) {
            moment[0] += weight * part;
            moment[1] += weight * at * part;
        }
    }
    let det = sums[0] * sums[2] - sums[1] * sums[1];
    let lines = moments.map(|[m0, m1]| {
        let constant = (m0 * sums[2] - m1 * sums[1]) / det;
        [constant, (m1 * sums[0] - m0 * sums[1]) / det]
    });
    let taper = 2.0 * lines[0][1] * 2.0;
    let mean = |off: &Vec<f64>| off.iter().sum::<f64>() / off.len() as f64;
    let (first, last) = (&sections[0], &sections[sections.len() - 1]);
    let chord = |z: f64| {
        let (a, b) = (mean(&first.2), mean(&last.2));
        a + (b - a) * (z - first.0) / (last.0 - first.0)
    };
    let bulges = sections.iter().map(|(z, _, off)| mean(off) - chord(*z));
    let barrel = bulges.fold(0.0, |m: f64, b| if b.abs() > m.abs() { b } else { m });
    let rest: Vec<f64> = sections
        .iter()
        .flat_map(|(z, _, off)| {
            let at = (z - middle) / reach;
            let [x, y] = [1, 2].map(|k| lines[k][0] + lines[k][1] * at);
            off.iter().enumerate().map(move |(k, d)| {
                let (sin, cos) = (std::f64::consts::TAU * k as f64 / GRID as f64).sin_cos();
                d - x * cos - y * sin
            })
        })
        .collect();
    [taper, 2.0 * barrel, range(&rest)]
}
