//! The maximum inscribed circle of a profile.

use super::{OneSided, circumcentre};
use crate::metrology::search::{
    Extremes, GivenUp, LocalMinimum, Objective, ROUNDING, Search, Working, cross, least_support,
    length, minus, plus,
};
use crate::metrology::{Circle, MetrologyError, Profile, largest_gap, least_squares_circle};

/// Share of the radius within which two inscribed circles are as large.
const AS_LARGE: f64 = 1e-9;

/// Share of the radius by which two centres differ noticeably.
const ELSEWHERE: f64 = 1e-6;

/// A slope with which a circle is smaller by [`AS_LARGE`] at [`ELSEWHERE`]. The square of the radius less that of the shift is concave along every way from the
/// centre, so it is then smaller by more out to this share of the radius, and half as far again.
const SHARP: f64 = AS_LARGE / ELSEWHERE;

/// The maximum inscribed circle of the points: the plug gauge of a bore.
///
/// The largest circle with no reading inside it that is held by the readings it touches (its centre lies between three of them), and so
/// cannot move without one entering. In a closed profile that is the largest with its centre inside.
///
/// **Local.** With coordinates from the present centre, `|p - s|^2 = |s|^2 + (|p|^2 - 2 p . s)`. The least of the brackets is
/// concave in `s` and the first term is never negative, so the `s` that makes the former greatest, a linear programme with three readings
/// in its answer (dual simplex), gives a circle at least as large; it goes through these three exactly. Repeated until it grows no more, first on a few readings,
/// then with the nearest of all taken in until none is inside. Growing is what counts, not which three hold it: where four or more readings lie on the circle
/// to within rounding, as in an oval, several threes hold it equally well and take turns for ever.
///
/// **Global.** With `k` the slope with which the radius `r` falls at least, read off the three readings, no centre within
/// `k r / (1 + k)` has a larger circle, and none outside of it is reached if the readings, seen from the centre, lie all round and close to it. Otherwise a
/// branch and bound over the centre: a box of half diagonal `h` about a centre has circles of at most `sqrt(level + h^2)`, with the
/// level of the same linear programme. So the radius is the largest to within rounding (`1e-11 R`), however far the profile is from round. Derived
/// here.
///
/// **Whether the centre means anything** ([`OneSided::unique`]) is checked beside it first, on the circle of centres `1e-6 R` away: along the ridge of an oval one of
/// these has an inscribed circle as large to within `1e-9 R`. Where all are smaller by more, they stay so out to `1e-3 R` (the square of the radius less that of the shift is
/// concave), and what is farther is searched as above.
///
/// # Errors
/// [`MetrologyError::Open`] when the readings leave so wide a gap that no circle is held, [`MetrologyError::InscribedNotProven`] when the bounds
/// do not meet, [`MetrologyError::NotFinite`] for a reading that is not a number.
pub fn maximum_inscribed(profile: &Profile) -> Result<OneSided, MetrologyError> {
    maximum_inscribed_from(profile, &least_squares_circle(profile))
}

/// The same by one who has the least-squares circle already.
pub(in crate::metrology) fn maximum_inscribed_from(
    profile: &Profile,
    circle: &Circle,
) -> Result<OneSided, MetrologyError> {
    let points = profile.finite_points()?;
    let start = circle.centre;
    let mut objective = Inside {
        points: &points,
        working: Working::around(&points, start),
        hull: Vec::new(),
        found: Vec::new(),
    };
    let open = |centre| MetrologyError::Open {
        gap_deg: largest_gap(&points, centre).to_degrees(),
    };
    let minimum = objective.settle(start).ok_or_else(|| open(start))?;
    let scale = objective.found[0].extremes.outer;
    let gap = largest_gap(&points, minimum.centre);
    let reach = match objective.found[0].reach(gap) {
        Some(reach) => reach,
        None => {
            let (planes, longest) = hull(&points);
            if longest >= -2.0 * minimum.value {
                return Err(open(minimum.centre));
            }
            objective.hull = planes;
            scale
        }
    };
    let not_proven = |up: GivenUp| MetrologyError::InscribedNotProven {
        radius: -up.found,
        upper_bound: -up.bound,
    };
    let (mut best, mut minima) = (minimum, vec![minimum]);
    if minimum.free < reach {
        (best, minima) = Search::new(&mut objective, minima, minimum.centre, reach)
            .lowest(1e-11 * scale)
            .map_err(not_proven)?;
    }
    let free = if best.free >= 1.01 * SHARP * -best.value {
        Some(best.free)
    } else {
        objective.beside(&best, scale)
    };
    let unique = match free {
        _ if reach <= ELSEWHERE * scale => true,
        None => false,
        Some(free) if free >= reach => true,
        Some(free) => Search::new(&mut objective, minima, minimum.centre, reach)
            .unique(AS_LARGE * scale, ELSEWHERE * scale, free)
            .map_err(not_proven)?,
    };
    let radius = |c: &Touching| c.extremes.inner;
    let best = objective
        .found
        .iter()
        .max_by(|a, b| radius(a).total_cmp(&radius(b)))
        .ok_or_else(|| open(start))?;
    let readings = best.readings.to_vec();
    Ok(OneSided::new(
        &points,
        best.centre,
        radius(best),
        readings,
        unique,
    ))
}

/// The convex hull as half planes, and the length of its longest side, mm (monotone chain, common knowledge).
pub(super) fn hull(points: &[[f64; 2]]) -> (Vec<HalfPlane>, f64) {
    let mut sorted = points.to_vec();
    sorted.sort_by(|a, b| a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])));
    let chain = |points: &mut dyn Iterator<Item = [f64; 2]>| {
        let mut chain: Vec<[f64; 2]> = Vec::new();
        for p in points {
            while let [.., a, b] = chain[..]
                && cross(minus(b, a), minus(p, a)) <= 0.0
            {
                chain.pop();
            }
            chain.push(p);
        }
        chain
    };
    let chains = [
        chain(&mut sorted.iter().copied()),
        chain(&mut sorted.iter().rev().copied()),
    ];
    let mut longest = 0.0_f64;
    let mut planes = Vec::new();
    for side in chains.iter().flat_map(|c| c.windows(2)) {
        let edge = minus(side[1], side[0]);
        let size = length(edge);
        longest = longest.max(size);
        if size > 0.0 {
            let out = [edge[1] / size, -edge[0] / size];
            planes.push(HalfPlane {
                out,
                limit: out[0] * side[0][0] + out[1] * side[0][1],
            });
        }
    }
    (planes, longest)
}

/// The points `p` with `out . p <= limit`.
pub(super) struct HalfPlane {
    out: [f64; 2],
    pub(super) limit: f64,
}

/// The radius of the largest circle without a reading, with a minus, as a function of its centre.
struct Inside<'a> {
    points: &'a [[f64; 2]],
    working: Working,
    /// Empty when the search does not come near the edge of the profile.
    hull: Vec<HalfPlane>,
    found: Vec<Touching>,
}

/// A circle held by three readings.
struct Touching {
    centre: [f64; 2],
    readings: [usize; 3],
    extremes: Extremes,
    slope: f64,
}

impl Touching {
    fn minimum(&self) -> LocalMinimum {
        let slope = self.slope;
        LocalMinimum {
            centre: self.centre,
            value: -self.extremes.inner,
            // half of what the slope frees
            free: slope * self.extremes.inner / (1.0 + slope),
        }
    }

    /// How far away the centre of a circle as large can be, mm; `None` if the readings say nothing about it.
    ///
    /// With `R` the largest distance, `r` the radius and `c` the cosine of half the gap: some reading within half a gap ahead has a
    /// square distance of at most the larger of `r^2 - 2 r s c + s^2` and `R^2 - 2 R s c + s^2` from a centre moved by `s`, and it must not be below `r^2`.
    fn reach(&self, gap: f64) -> Option<f64> {
        let Extremes {
            outer: high,
            inner: low,
            ..
        } = self.extremes;
        let low = low - AS_LARGE * high;
        let across = high * (0.5 * gap).cos();
        let root = across * across - (high * high - low * low);
        let all_round = across > 0.0 && root > 0.0 && 2.0 * low * across >= high * high;
        (all_round && across + root.sqrt() >= high)
            .then(|| (high * high - low * low) / (across + root.sqrt()))
    }
}

impl Inside<'_> {
    fn settle(&mut self, from: [f64; 2]) -> Option<LocalMinimum> {
        let mut centre = from;
        for _ in 0..1000 {
            let (here, held) = local(&self.working.points, centre)?;
            centre = here;
            let extremes = Extremes::of(self.points, centre);
            let radius = length(minus(self.working.points[held.on[0]], centre));
            let inside = extremes.inner < radius - ROUNDING * extremes.outer;
            if inside && self.working.take(self.points, extremes.near) {
                continue;
            }
            let units = held.on.map(|k| {
                let d = minus(self.working.points[k], centre);
                [d[0] / length(d), d[1] / length(d)]
            });
            let touching = Touching {
                centre,
                readings: held.on.map(|k| self.working.readings[k]),
                extremes,
                // by rounding the centre may lie a little outside of the three: then they say nothing about its neighbours
                slope: if surround(units) {
                    least_support(&units)
                } else {
                    0.0
                },
            };
            let minimum = touching.minimum();
            self.found.push(touching);
            return Some(minimum);
        }
        None
    }
}

impl Inside<'_> {
    /// Whether the best centre stands alone among those beside it: `None` if one [`ELSEWHERE`] away has a circle as large ([`AS_LARGE`]), else the
    /// distance (mm) out to which none has.
    ///
    /// On the small circle of centres the least distance is largest where two readings are equally near, or straight away from one: all of these
    /// places are tried. Only readings that can be nearest there take part, of the working set first; one that all readings confirm is a rival, others bring theirs in.
    fn beside(&mut self, best: &LocalMinimum, scale: f64) -> Option<f64> {
        let step = ELSEWHERE * scale;
        let as_large = -best.value - AS_LARGE * scale;
        loop {
            let near: Vec<([f64; 2], f64)> = self
                .working
                .points
                .iter()
                .map(|&p| minus(p, best.centre))
                .map(|d| (d, length(d)))
                .filter(|(_, distance)| *distance <= step - best.value)
                .map(|(d, distance)| ([d[0] / distance, d[1] / distance], distance))
                .collect();
            let least = |way: [f64; 2]| {
                let after = |(u, d): &([f64; 2], f64)| d - step * (u[0] * way[0] + u[1] * way[1]);
                near.iter().map(after).fold(f64::INFINITY, f64::min)
            };
            let rival = ways(&near, step)
                .map(|way| (way, least(way)))
                .filter(|(_, value)| *value >= as_large)
                .max_by(|a, b| a.1.total_cmp(&b.1));
            let Some((way, _)) = rival else {
                return Some(SHARP * -best.value);
            };
            let beside = plus(best.centre, [step * way[0], step * way[1]]);
            let extremes = Extremes::of(self.points, beside);
            if extremes.inner >= as_large || !self.working.take(self.points, extremes.near) {
                return None;
            }
        }
    }
}

/// Directions in which two of the readings (direction, distance) are equally near after a small step, and those away from each.
fn ways(near: &[([f64; 2], f64)], step: f64) -> impl Iterator<Item = [f64; 2]> {
    let away = near.iter().map(|(u, _)| [-u[0], -u[1]]);
    let equal = near.iter().enumerate().flat_map(move |(i, a)| {
        near[..i].iter().flat_map(move |b| {
            // (u_a - u_b) . way = (d_a - d_b) / step
            let chord = minus(a.0, b.0);
            let size = length(chord);
            let along = (a.1 - b.1) / (step * size);
            let across = (1.0 - along * along).max(0.0).sqrt();
            let (c, s) = (chord[0] / size, chord[1] / size);
            let met = size > 0.0 && along.abs() <= 1.0;
            [across, -across]
                .map(|q| [along * c - q * s, along * s + q * c])
                .into_iter()
                .filter(move |_| met)
        })
    });
    away.chain(equal)
}

/// Whether the origin lies between three points.
fn surround([a, b, c]: [[f64; 2]; 3]) -> bool {
    let turns = [cross(a, b), cross(b, c), cross(c, a)];
    turns.iter().all(|&t| t >= 0.0) || turns.iter().all(|&t| t <= 0.0)
}

impl Objective for Inside<'_> {
    fn bound(&mut self, centre: [f64; 2], reach: f64) -> (f64, [f64; 2]) {
        let beyond = |h: &HalfPlane| h.out[0] * centre[0] + h.out[1] * centre[1] - reach > h.limit;
        if self.hull.iter().any(beyond) {
            return (f64::INFINITY, centre);
        }
        // no distance grows by more than the centre moves; far from the top of a ridge this says more than the model
        let nearest = Extremes::of(&self.working.points, centre).inner;
        let steepest = -nearest - reach;
        let Some(held) = Held::about(&self.working.points, centre) else {
            return (steepest, centre);
        };
        let fall = 2.0 * held.slope * (length(held.shift) - reach).max(0.0);
        let square = held.level - fall + reach * reach;
        let bound = steepest.max(-square.max(0.0).sqrt());
        (bound, plus(centre, held.shift))
    }

    fn evaluate(&mut self, centre: [f64; 2]) -> f64 {
        let extremes = Extremes::of(self.points, centre);
        self.working.take(self.points, extremes.near);
        -extremes.inner
    }

    fn descend(&mut self, from: [f64; 2]) -> Option<LocalMinimum> {
        self.settle(from)
    }
}

/// A circle inside a few points that is as large as any near it, by the three that hold it. `None` if the points do not surround the centre.
fn local(points: &[[f64; 2]], from: [f64; 2]) -> Option<([f64; 2], Held)> {
    let radius = |centre: [f64; 2]| Extremes::of(points, centre).inner;
    let (mut centre, mut reached) = (from, radius(from));
    let mut held = Held::about(points, centre)?;
    // each three is met once at most, since the circle grows; the bound is against surprises, and what is found is a circle all the same
    for _ in 0..1000 {
        centre = plus(centre, held.shift);
        let grown = radius(centre);
        if grown <= reached * (1.0 + ROUNDING) {
            break;
        }
        reached = grown;
        match Held::about(points, centre) {
            // the circle goes through the three: they are the end
            Some(next) if next.on == held.on => break,
            Some(next) => held = next,
            None => return None,
        }
    }
    Some((centre, held))
}

/// The greatest least bracket `|p|^2 - 2 p . s`, coordinates from a centre.
#[derive(Clone, Copy, Debug)]
struct Held {
    shift: [f64; 2],
    level: f64,
    /// The three points that hold it.
    on: [usize; 3],
    /// Half the slope with which it falls at least: distance of the centre from the triangle's sides.
    slope: f64,
}

impl Held {
    /// `None` if the points do not surround the centre.
    ///
    /// The simplex starts from three places far outside of everything, and exchanges one of three for the point with the least bracket, such that
    /// the three left surround the centre: its weights in them stay positive.
    fn about(points: &[[f64; 2]], centre: [f64; 2]) -> Option<Self> {
        let rows: Vec<[f64; 2]> = points.iter().map(|&p| minus(p, centre)).collect();
        let square = |p: [f64; 2]| p[0] * p[0] + p[1] * p[1];
        let most = rows.iter().map(|&p| square(p)).fold(0.0, f64::max).sqrt();
        let far = 16.0 * most;
        let mut on = [None; 3];
        let mut at = [
            [0.0, far],
            [-0.9 * far, -0.6 * far],
            [0.8 * far, -0.7 * far],
        ];
        for _ in 0..1000 {
            let shift = circumcentre(at)?;
            let bracket = |p: [f64; 2]| square(p) - 2.0 * (p[0] * shift[0] + p[1] * shift[1]);
            let level = bracket(at[0]);
            let (least, value) =
                rows.iter()
                    .enumerate()
                    .fold((0, f64::INFINITY), |(i, low), (j, &p)| {
                        if bracket(p) < low {
                            (j, bracket(p))
                        } else {
                            (i, low)
                        }
                    });
            if value >= level - 0.25 * ROUNDING * most * most || on.contains(&Some(least)) {
                let [Some(a), Some(b), Some(c)] = on else {
                    return None;
                };
                return Some(Self {
                    shift,
                    level,
                    on: [a, b, c],
                    slope: least_support(&at),
                });
            }
            let leaving = leaving(at, rows[least]);
            at[leaving] = rows[least];
            on[leaving] = Some(least);
        }
        None
    }
}

/// Which corner of a triangle round the origin a new point replaces, so that the origin stays inside.
fn leaving([a, b, c]: [[f64; 2]; 3], new: [f64; 2]) -> usize {
    let origin = [cross(b, c), cross(c, a), cross(a, b)];
    let (u, v) = (minus(b, a), minus(c, a));
    let area = cross(u, v);
    let from_a = minus(new, a);
    let (second, third) = (cross(from_a, v), cross(u, from_a));
    let point = [area - second - third, second, third];
    let sign = area.signum();
    (0..3)
        .filter(|&k| sign * point[k] > 0.0)
        .min_by(|&i, &j| (origin[i] / point[i]).total_cmp(&(origin[j] / point[j])))
        .unwrap_or(0)
}
