//! Reference circles by a working set of few readings, and the search over all centres.
//!
//! A reference circle rests on two to four of the readings. So each is sought on a small working set, then every reading is checked
//! from the centre found, and the one that sticks out most is taken in, until none does: an exchange. A lower bound found on the working
//! set is one for all readings, because more readings can only make a zone wider or an inscribed circle smaller.

use std::f64::consts::SQRT_2;

/// Rounding of a distance, as a share of the radius.
pub(super) const ROUNDING: f64 = 64.0 * f64::EPSILON;

/// Boxes evaluated before the search gives up.
const MOST_BOXES: usize = 60_000;

pub(super) fn minus(a: [f64; 2], b: [f64; 2]) -> [f64; 2] {
    [a[0] - b[0], a[1] - b[1]]
}

pub(super) fn plus(a: [f64; 2], b: [f64; 2]) -> [f64; 2] {
    [a[0] + b[0], a[1] + b[1]]
}

pub(super) fn cross(a: [f64; 2], b: [f64; 2]) -> f64 {
    a[0] * b[1] - a[1] * b[0]
}

pub(super) fn length(a: [f64; 2]) -> f64 {
    (a[0] * a[0] + a[1] * a[1]).sqrt()
}

/// Distance of the origin from the edges of a polygon that holds it.
pub(super) fn least_support(corners: &[[f64; 2]]) -> f64 {
    let mut least = f64::INFINITY;
    for (k, &a) in corners.iter().enumerate() {
        let b = corners[(k + 1) % corners.len()];
        let edge = length(minus(b, a));
        if edge > 0.0 {
            least = least.min(cross(a, b).abs() / edge);
        } else {
            least = least.min(length(a));
        }
    }
    least
}

/// The farthest and the nearest reading from a centre.
#[derive(Clone, Copy, Debug)]
pub(super) struct Extremes {
    pub far: usize,
    pub near: usize,
    pub outer: f64,
    pub inner: f64,
}

impl Extremes {
    /// Of equals the first. Blocks first, so that the pass over all readings needs no indices and runs at the speed of memory.
    pub fn of(points: &[[f64; 2]], centre: [f64; 2]) -> Self {
        const BLOCK: usize = 256;
        let square = |p: &[f64; 2]| {
            let [x, y] = minus(*p, centre);
            x * x + y * y
        };
        let (mut far, mut near) = ((0, f64::NEG_INFINITY), (0, f64::INFINITY));
        for (k, block) in points.chunks(BLOCK).enumerate() {
            let (mut high, mut low) = ([f64::NEG_INFINITY; 4], [f64::INFINITY; 4]);
            let mut fours = block.chunks_exact(4);
            for four in &mut fours {
                for lane in 0..4 {
                    let s = square(&four[lane]);
                    high[lane] = if s > high[lane] { s } else { high[lane] };
                    low[lane] = if s < low[lane] { s } else { low[lane] };
                }
            }
            for p in fours.remainder() {
                high[0] = high[0].max(square(p));
                low[0] = low[0].min(square(p));
            }
            let (high, low) = (
                high.into_iter().fold(f64::NEG_INFINITY, f64::max),
                low.into_iter().fold(f64::INFINITY, f64::min),
            );
            if high > far.1 {
                far = (k, high);
            }
            if low < near.1 {
                near = (k, low);
            }
        }
        let find = |(block, value): (usize, f64)| {
            let start = block * BLOCK;
            let end = points.len().min(start + BLOCK);
            (start..end)
                .find(|&i| square(&points[i]) == value)
                .unwrap_or(start)
        };
        Self {
            far: find(far),
            near: find(near),
            outer: far.1.sqrt(),
            inner: near.1.sqrt(),
        }
    }

    pub fn width(&self) -> f64 {
        self.outer - self.inner
    }
}

/// The readings that have mattered so far.
#[derive(Clone, Debug)]
pub(super) struct Working {
    pub points: Vec<[f64; 2]>,
    pub readings: Vec<usize>,
}

impl Working {
    /// The farthest and nearest reading of each of sixteen sectors round a centre.
    pub fn around(points: &[[f64; 2]], centre: [f64; 2]) -> Self {
        const SECTORS: usize = 16;
        let mut extremes = [[None::<(usize, f64)>; 2]; SECTORS];
        for (i, p) in points.iter().enumerate() {
            let d = minus(*p, centre);
            let s = d[0] * d[0] + d[1] * d[1];
            let e = &mut extremes[sector(d)];
            if e[0].is_none_or(|(_, most)| s > most) {
                e[0] = Some((i, s));
            }
            if e[1].is_none_or(|(_, least)| s < least) {
                e[1] = Some((i, s));
            }
        }
        let mut working = Self {
            points: Vec::new(),
            readings: Vec::new(),
        };
        for (i, _) in extremes.into_iter().flatten().flatten() {
            working.take(points, i);
        }
        working
    }

    /// Takes a reading in; says whether it, or one at the same place, was not there yet.
    pub fn take(&mut self, points: &[[f64; 2]], reading: usize) -> bool {
        let new = !self.points.contains(&points[reading]);
        if new {
            self.points.push(points[reading]);
            self.readings.push(reading);
        }
        new
    }
}

/// One of sixteen sectors, by comparisons only: half planes, then diagonals.
fn sector([x, y]: [f64; 2]) -> usize {
    let (ax, ay) = (x.abs(), y.abs());
    let steep = usize::from(ay > ax);
    let (least, most) = if ay > ax { (ax, ay) } else { (ay, ax) };
    // tan(22.5 deg)
    let middle = usize::from(least > 0.414_213_562_373_095 * most);
    usize::from(x < 0.0) + 2 * usize::from(y < 0.0) + 4 * steep + 8 * middle
}

/// A certified local minimum: no neighbouring centre is better.
#[derive(Clone, Copy, Debug)]
pub(super) struct LocalMinimum {
    pub centre: [f64; 2],
    /// What is made least: the width of a zone, the radius of an inscribed circle with a minus.
    pub value: f64,
    /// No centre nearer than this is better: the value rises at least with the slope `k` of the certificate, and the distances
    /// fall behind their tangents by at most `s^2 / (2 (r - s))` at a distance `s`; so `s <= 2 k r / (1 + 2 k)`.
    pub free: f64,
}

/// The objective: what is made least over the centre.
pub(super) trait Objective {
    /// A number that no centre within `reach` of `centre` falls below, and where the lowest is expected.
    fn bound(&mut self, centre: [f64; 2], reach: f64) -> (f64, [f64; 2]);
    /// The value at a centre by all readings; the readings that decide are taken into the working set.
    fn evaluate(&mut self, centre: [f64; 2]) -> f64;
    /// Descends to the nearest local minimum.
    fn descend(&mut self, from: [f64; 2]) -> Option<LocalMinimum>;
}

/// The search was given up: the lowest value found and a lower bound of it in the boxes left.
#[derive(Clone, Copy, Debug)]
pub(super) struct GivenUp {
    pub found: f64,
    pub bound: f64,
}

/// Branch and bound over the square of half side `reach` round a start. Boxes whose bound is not below what is sought are dropped, boxes in the
/// free circle of a certified local minimum too, others are quartered. Only certified minima count as found.
pub(super) struct Search<'a, O> {
    objective: &'a mut O,
    minima: Vec<LocalMinimum>,
    middle: [f64; 2],
    reach: f64,
}

impl<'a, O: Objective> Search<'a, O> {
    /// From the certified local minima known, one at least, over a square round `middle`.
    pub fn new(
        objective: &'a mut O,
        minima: Vec<LocalMinimum>,
        middle: [f64; 2],
        reach: f64,
    ) -> Self {
        Self {
            objective,
            minima,
            middle,
            reach,
        }
    }

    /// The lowest certified minimum.
    fn best(&self) -> LocalMinimum {
        let first = self.minima[0];
        let lower = |a: LocalMinimum, b: &LocalMinimum| if b.value < a.value { *b } else { a };
        self.minima.iter().fold(first, lower)
    }

    /// The lowest minimum and all certified ones found: no centre is lower by more than `tolerance`.
    pub fn lowest(mut self, tolerance: f64) -> Result<(LocalMinimum, Vec<LocalMinimum>), GivenUp> {
        self.explore(-tolerance, |_, _, _| false, |_, _| false)?;
        Ok((self.best(), self.minima))
    }

    /// Whether the lowest minimum is unique: every centre farther than `distance` from it is higher by at least `margin`, where that is already
    /// known of those nearer than `free`.
    pub fn unique(mut self, margin: f64, distance: f64, free: f64) -> Result<bool, GivenUp> {
        let far =
            |best: &LocalMinimum, place: [f64; 2]| length(minus(place, best.centre)) > distance;
        let rival = move |best: &LocalMinimum, place: &LocalMinimum| {
            place.value <= best.value + margin && far(best, place.centre)
        };
        let best = self.best();
        if self.minima.iter().any(|m| rival(&best, m)) {
            return Ok(false);
        }
        // a minimum as low as the best lies beside it, and the circle that it certifies may hold rivals
        let level = best.value + margin;
        for minimum in self.minima.iter_mut().filter(|m| m.value <= level) {
            minimum.free = 0.0;
        }
        self.minima.push(LocalMinimum { free, ..best });
        self.explore(
            margin,
            |best, centre, radius| length(minus(centre, best.centre)) + radius <= distance,
            rival,
        )
        .map(|stopped| !stopped)
    }

    fn evaluate(&mut self, centre: [f64; 2]) -> LocalMinimum {
        LocalMinimum {
            centre,
            value: self.objective.evaluate(centre),
            free: 0.0,
        }
    }

    /// Evaluates boxes until none is left or `stop` is met at a place; says whether it was met. `skip`: boxes of no interest.
    fn explore(
        &mut self,
        above: f64,
        skip: impl Fn(&LocalMinimum, [f64; 2], f64) -> bool,
        stop: impl Fn(&LocalMinimum, &LocalMinimum) -> bool,
    ) -> Result<bool, GivenUp> {
        let mut boxes = vec![(self.middle, self.reach, f64::NEG_INFINITY)];
        let mut best = self.best();
        let mut evaluated = 0;
        while let Some((centre, half, _)) = boxes.pop() {
            let radius = half * SQRT_2;
            let free = |m: &LocalMinimum| length(minus(centre, m.centre)) + radius <= m.free;
            if self.minima.iter().any(free) || skip(&best, centre, radius) {
                continue;
            }
            let (bound, lowest) = self.objective.bound(centre, radius);
            if bound >= best.value + above {
                continue;
            }
            let holds = |p: [f64; 2]| length(minus(p, centre)) <= radius;
            let inside = holds(lowest);
            let place = self.evaluate(centre);
            let deepest = if inside { self.evaluate(lowest) } else { place };
            if stop(&best, &place) || stop(&best, &deepest) {
                return Ok(true);
            }
            let from = if place.value < best.value {
                Some(centre)
            } else {
                let known = self.minima.iter().any(|m| holds(m.centre));
                (inside && (!known || deepest.value < best.value)).then_some(lowest)
            };
            if let Some(minimum) = from.and_then(|from| self.objective.descend(from)) {
                self.minima.push(minimum);
                best = self.best();
                if stop(&best, &minimum) {
                    return Ok(true);
                }
            }
            evaluated += 1;
            if evaluated > MOST_BOXES {
                return Err(GivenUp {
                    found: best.value,
                    bound: boxes.iter().fold(bound, |low, b| low.min(b.2)),
                });
            }
            // readings taken into the working set just now may have raised the bound
            if self.objective.bound(centre, radius).0 >= best.value + above {
                continue;
            }
            let h = 0.5 * half;
            for (x, y) in [(-h, -h), (h, -h), (-h, h), (h, h)] {
                boxes.push((plus(centre, [x, y]), h, bound));
            }
        }
        Ok(false)
    }
}
