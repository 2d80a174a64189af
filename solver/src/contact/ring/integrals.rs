//! Integrals over load segments: points for what is smooth, closed forms for the logarithm.

use crate::contact::pressure::Segment;

/// Ratio of widths from which the narrower of two segments is a few points to the wider: the closed form would cancel.
const UNLIKE: f64 = 300.0;

/// Two-point Gauss rule on `[0, 1]`.
const TWO: [f64; 2] = [0.211_324_865_405_187_13, 0.788_675_134_594_812_9];

/// Points and weights (mm2) of the two-point rule over a segment.
#[inline(always)]
pub(super) fn two_points(s: &Segment) -> [(f64, f64); 2] {
    let width = s.to - s.from;
    TWO.map(|x| (s.from + x * width, 0.5 * width * s.at(x)))
}

/// Integral of a segment's density times `ln |x - y|` over the segment, at `x`.
///
/// With `L1`, `L2` the first two integrals of `ln |u|` from 0, by parts: `-[g L1(x - y)] - g' [L2(x - y)]`.
#[inline]
pub(super) fn inner(s: &Segment, x: f64) -> f64 {
    let width = s.to - s.from;
    let slope = (s.density[1] - s.density[0]) / width;
    let at = |y: f64, g: f64| {
        let u = x - y;
        if u == 0.0 {
            return 0.0;
        }
        let l = u.abs().ln();
        -g * u * (l - 1.0) - slope * u * u * (0.5 * l - 0.75)
    };
    at(s.to, s.density[1]) - at(s.from, s.density[0])
}

/// Integral of two segments' densities times `ln |x - y|`.
///
/// By parts as in [`inner`], with the second to fourth integrals `L2`, `L3`, `L4` of `ln |u|`; derived here.
#[inline(always)]
pub(super) fn logarithm(a: &Segment, b: &Segment) -> f64 {
    let (wa, wb) = (a.to - a.from, b.to - b.from);
    if wa * UNLIKE < wb {
        return a.rule().map(|(x, w)| w * inner(b, x)).sum();
    }
    if wb * UNLIKE < wa {
        return b.rule().map(|(y, w)| w * inner(a, y)).sum();
    }
    let (fa, gb) = (
        (a.density[1] - a.density[0]) / wa,
        (b.density[1] - b.density[0]) / wb,
    );
    let mut sum = 0.0;
    for (h, g, s) in [(b.from, b.density[0], -1.0), (b.to, b.density[1], 1.0)] {
        for (e, f, r) in [(a.from, a.density[0], -1.0), (a.to, a.density[1], 1.0)] {
            let u: f64 = e - h;
            if u == 0.0 {
                continue;
            }
            let (l, u2) = (u.abs().ln(), u * u);
            let l2 = u2 * (0.5 * l - 0.75);
            let l3 = u2 * u * (l / 6.0 - 11.0 / 36.0);
            let l4 = u2 * u2 * (l / 24.0 - 25.0 / 288.0);
            sum -= s * r * (g * (f * l2 - fa * l3) + gb * (f * l3 - fa * l4));
        }
    }
    sum
}
