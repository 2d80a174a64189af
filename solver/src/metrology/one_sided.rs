//! The circles that a profile touches from one side: the minimum circumscribed one here, the maximum inscribed one in a file of its own.

mod inscribed;

use super::search::{Extremes, ROUNDING, cross, length, minus, plus};
use super::{Circle, MetrologyError, Profile, sort_by_angle};
use inscribed::hull;

pub use inscribed::maximum_inscribed;
pub(super) use inscribed::maximum_inscribed_from;

/// A circle that the profile touches from one side.
#[derive(Clone, Debug, PartialEq)]
pub struct OneSided {
    /// The circle, and the profile's roundness about its centre.
    pub circle: Circle,
    /// The readings it touches, in order of angle about its centre: three, or two at opposite ends of a diameter of a circumscribed
    /// circle. The centre lies between them, which is the certificate: whichever way it moves, one of them stops it.
    pub controlling: Vec<usize>,
    /// Whether the centre means anything. False when a centre more than 1e-6 of the radius away has a circle as large to within
    /// 1e-9 of the radius, as in two-lobed profiles. A circumscribed circle is always unique.
    pub unique: bool,
}

impl OneSided {
    fn new(
        points: &[[f64; 2]],
        centre: [f64; 2],
        radius: f64,
        mut controlling: Vec<usize>,
        unique: bool,
    ) -> Self {
        sort_by_angle(&mut controlling, |&i| minus(points[i], centre));
        Self {
            circle: Circle {
                centre,
                radius,
                roundness: Extremes::of(points, centre).width(),
            },
            controlling,
            unique,
        }
    }

    /// How far at most the centre of a circle may lie from this one's that fits the profile as closely to within `by` (mm): one with no reading
    /// farther inside it, or farther outside it, than that. To first order, mm; infinite where readings leave half a turn open.
    ///
    /// A shift `s` changes the distance of a reading in direction `n` by `n . s`, so such shifts make up the polygon of all `n . s <= b`, with `b`
    /// the reading's distance from the circle and `by` besides. It is the polar of the hull of the points `n / b`, so its farthest corner is as far away as the
    /// nearest side of the hull is near, inverted (polar duality, common knowledge).
    #[must_use]
    pub fn centre_within(&self, profile: &Profile, by: f64) -> f64 {
        if by <= 0.0 {
            return 0.0;
        }
        let Circle { centre, radius, .. } = self.circle;
        let turned = |p: &[f64; 2]| {
            let from = minus(*p, centre);
            let away = length(from);
            let room = (away - radius).abs() + by;
            from.map(|x| x / (away * room))
        };
        let points: Vec<[f64; 2]> = profile.points().iter().map(turned).collect();
        let (sides, _) = hull(&points);
        let nearest = sides.iter().fold(f64::INFINITY, |m, s| m.min(s.limit));
        if nearest > 0.0 {
            1.0 / nearest
        } else {
            f64::INFINITY
        }
    }
}

/// The minimum circumscribed circle of the points: the ring gauge of a shaft.
///
/// The largest distance is convex in the centre, so there is one answer. The smallest circle of two or three readings is found; while a
/// reading lies outside, it is taken in and the smallest circle of these four takes the place. The radius grows every time, so
/// no two or three come back and the exchange ends (smallest enclosing circle, common knowledge).
///
/// # Errors
/// [`MetrologyError::NotFinite`] for a reading that is not a number, [`MetrologyError::Degenerate`] when all lie at one place.
pub fn minimum_circumscribed(profile: &Profile) -> Result<OneSided, MetrologyError> {
    let points = profile.finite_points()?;
    let first = Extremes::of(&points, points[0]).far;
    let second = Extremes::of(&points, points[first]).far;
    let mut round = Enclosing::of(&points, &[first, second]).ok_or(MetrologyError::Degenerate)?;
    for _ in 0..1000 {
        let extremes = Extremes::of(&points, round.centre);
        if extremes.outer <= round.radius * (1.0 + 4.0 * ROUNDING) {
            let radius = extremes.outer;
            return Ok(OneSided::new(&points, round.centre, radius, round.on, true));
        }
        round = round
            .with(&points, extremes.far)
            .ok_or(MetrologyError::Degenerate)?;
    }
    Err(MetrologyError::Degenerate)
}

/// The smallest circle round two or three points that it touches.
struct Enclosing {
    centre: [f64; 2],
    radius: f64,
    on: Vec<usize>,
}

impl Enclosing {
    /// `None` when the points are one, or do not hold the centre between them.
    fn of(points: &[[f64; 2]], on: &[usize]) -> Option<Self> {
        let p: Vec<[f64; 2]> = on.iter().map(|&i| points[i]).collect();
        let centre = match p[..] {
            [a, b] => [0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])],
            [a, b, c] => {
                let centre = circumcentre([a, b, c])?;
                let [a, b, c] = [minus(a, centre), minus(b, centre), minus(c, centre)];
                let turns = [cross(a, b), cross(b, c), cross(c, a)];
                // a right angle may be a little more by rounding
                let none = 1e-13 * (a[0] * a[0] + a[1] * a[1]);
                let one_way = turns.iter().all(|&t| t >= -none) || turns.iter().all(|&t| t <= none);
                if !one_way {
                    return None;
                }
                centre
            }
            _ => return None,
        };
        let radius = p
            .iter()
            .map(|&p| length(minus(p, centre)))
            .fold(0.0, f64::max);
        (radius > 0.0).then(|| Self {
            centre,
            radius,
            on: on.to_vec(),
        })
    }

    /// The smallest circle round these points and one more.
    fn with(&self, points: &[[f64; 2]], more: usize) -> Option<Self> {
        let pairs = self.on.iter().map(|&a| vec![a, more]);
        let triples = (0..self.on.len())
            .flat_map(|i| (0..i).map(move |j| (i, j)))
            .map(|(i, j)| vec![self.on[i], self.on[j], more]);
        let holds = |c: &Self| {
            let limit = c.radius * (1.0 + ROUNDING);
            self.on
                .iter()
                .all(|&i| length(minus(points[i], c.centre)) <= limit)
        };
        pairs
            .chain(triples)
            .filter_map(|on| Self::of(points, &on))
            .filter(holds)
            .min_by(|a, b| a.radius.total_cmp(&b.radius))
    }
}

/// Centre of the circle through three points.
fn circumcentre([a, b, c]: [[f64; 2]; 3]) -> Option<[f64; 2]> {
    let (u, v) = (minus(b, a), minus(c, a));
    let twice = 2.0 * cross(u, v);
    let (uu, vv) = (u[0] * u[0] + u[1] * u[1], v[0] * v[0] + v[1] * v[1]);
    let centre = plus(
        a,
        [
            (v[1] * uu - u[1] * vv) / twice,
            (u[0] * vv - v[0] * uu) / twice,
        ],
    );
    (centre[0] + centre[1]).is_finite().then_some(centre)
}
