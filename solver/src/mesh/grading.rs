//! Where the columns and layers end: equal between given angles, or graded towards some of them.

use std::f64::consts::TAU;

use crate::geometry::angle_between;

/// An angle that must be a column end, and how fine the columns beside it are.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Grading {
    /// The angle, rad.
    pub angle: f64,
    /// Size of the columns that touch it, rad; `f64::INFINITY` for no refinement.
    pub size: f64,
}

/// Angles closer than this (rad) are one: a column that thin would be lost in rounding.
const SAME_ANGLE: f64 = 1e-9;

/// Sorts angles into one turn starting at the smallest and drops repeats.
fn tidy(mut marks: Vec<Grading>) -> Vec<Grading> {
    for m in &mut marks {
        m.angle = m.angle.rem_euclid(TAU);
        if TAU - m.angle < SAME_ANGLE {
            m.angle = 0.0;
        }
    }
    marks.sort_by(|a, b| a.angle.total_cmp(&b.angle));
    marks.dedup_by(|later, kept| {
        let same = later.angle - kept.angle < SAME_ANGLE;
        if same {
            kept.size = kept.size.min(later.size);
        }
        same
    });
    if marks.is_empty() {
        marks.push(Grading {
            angle: 0.0,
            size: f64::INFINITY,
        });
    }
    marks
}

/// Ends of `around` columns, equal between neighbouring marks and shared out by length, at least one between each
/// pair. Returns more than `around` columns only if there are more marks.
pub fn equal_between(marks: &[f64], around: usize) -> Vec<f64> {
    let marks = tidy(
        marks
            .iter()
            .map(|&angle| Grading {
                angle,
                size: f64::INFINITY,
            })
            .collect(),
    );
    let spans = spans(&marks);
    // largest remainder: whole parts first, then one more each where the most is missing; ties to the first,
    // judged with a margin so that rounding does not break the symmetry of equal spans
    let exact: Vec<f64> = spans.iter().map(|s| s / TAU * around as f64).collect();
    let mut counts: Vec<usize> = exact.iter().map(|&x| (x.floor() as usize).max(1)).collect();
    while counts.iter().sum::<usize>() < around {
        let mut best = 0;
        for k in 1..counts.len() {
            if exact[k] - counts[k] as f64 > exact[best] - counts[best] as f64 + 1e-9 {
                best = k;
            }
        }
        counts[best] += 1;
    }
    let mut ends = Vec::with_capacity(around);
    for ((mark, span), count) in marks.iter().zip(&spans).zip(counts) {
        ends.extend((0..count).map(|k| mark.angle + span * k as f64 / count as f64));
    }
    ends
}

/// Ends of columns that are at most `largest` wide, start at each mark with its size and grow by at most the factor
/// `growth` from one to the next.
pub fn graded_between(marks: &[Grading], largest: f64, growth: f64) -> Vec<f64> {
    let marks = tidy(marks.to_vec());
    let spans = spans(&marks);
    let mut ends = Vec::new();
    for (k, (mark, &span)) in marks.iter().zip(&spans).enumerate() {
        let sizes = graded_sizes(
            span,
            mark.size,
            marks[(k + 1) % marks.len()].size,
            largest,
            growth,
        );
        let mut at = mark.angle;
        for size in sizes {
            ends.push(at);
            at += size;
        }
    }
    ends
}

/// Ends of layers as fractions of the wall, at most `largest` thick (fraction), starting with `bore` and `outer` at the
/// two surfaces.
pub fn graded_layers(bore: f64, outer: f64, largest: f64, growth: f64) -> Vec<f64> {
    let mut ends = vec![0.0];
    let mut at = 0.0;
    for size in graded_sizes(1.0, bore, outer, largest, growth) {
        at += size;
        ends.push(at);
    }
    if let Some(last) = ends.last_mut() {
        *last = 1.0;
    }
    ends
}

/// Ends of columns with one at each line (rad), at most `largest` wide and beside each mark at most its size, twice that one such column
/// further on, and so on. The arcs between lines are halved again and again, so equal arcs come out alike, of few widths.
pub fn bisected_between(lines: &[f64], marks: &[Grading], largest: f64) -> Vec<f64> {
    let lines: Vec<Grading> = lines
        .iter()
        .map(|&angle| Grading {
            angle,
            size: f64::INFINITY,
        })
        .collect();
    let lines = tidy(lines);
    let mut ends = Vec::new();
    for (line, span) in lines.iter().zip(spans(&lines)) {
        bisect([line.angle, line.angle + span], marks, largest, &mut ends);
    }
    ends
}

/// Appends the starts of the columns of an arc.
fn bisect([from, to]: [f64; 2], marks: &[Grading], largest: f64, ends: &mut Vec<f64>) {
    let (width, middle) = (to - from, 0.5 * (from + to));
    let allowed = marks.iter().fold(largest, |least, m| {
        let apart = angle_between(middle, m.angle).abs();
        least.min(m.size + (apart - 0.5 * width).max(0.0))
    });
    // widths that are equal but for rounding are treated alike
    if width > allowed * (1.0 + 1e-9) {
        bisect([from, middle], marks, largest, ends);
        bisect([middle, to], marks, largest, ends);
    } else {
        ends.push(from);
    }
}

fn spans(marks: &[Grading]) -> Vec<f64> {
    (0..marks.len())
        .map(|k| match marks.get(k + 1) {
            Some(next) => next.angle - marks[k].angle,
            None => marks[0].angle + TAU - marks[k].angle,
        })
        .collect()
}

/// Sizes that fill `span`, wanted size at a place being the smallest of `largest` and what growth from either end
/// allows. The sizes follow a continuous size function `h(x) = min(largest, first + g x, last + g (span - x))` with
/// `g = ln growth`, of which equal parts of `∫ dx / h` are taken: a whole number of columns, no sudden change.
pub fn graded_sizes(span: f64, first: f64, last: f64, largest: f64, growth: f64) -> Vec<f64> {
    let slope = growth.ln();
    let (first, last) = (first.min(largest).min(span), last.min(largest).min(span));
    // from an end, size s0 + slope * x up to the crossing or the largest: ∫ dx / (s0 + slope x) is a logarithm
    let meet = (0.5 * (span + (last - first) / slope)).clamp(0.0, span);
    let run = |s0: f64, to: f64| -> (f64, f64) { (to.min((largest - s0) / slope), s0) };
    let (left, right) = (run(first, meet), run(last, span - meet));
    let part = |(x, s0): (f64, f64)| (1.0 + slope * x / s0).ln() / slope;
    let flat = span - left.0 - right.0;
    let total = part(left) + flat / largest + part(right);
    let count = total.ceil().max(1.0) as usize;
    let place = |w: f64| -> f64 {
        if w <= part(left) {
            first * ((slope * w).exp() - 1.0) / slope
        } else if w <= part(left) + flat / largest {
            left.0 + (w - part(left)) * largest
        } else {
            span - last * ((slope * (total - w)).exp() - 1.0) / slope
        }
    };
    let mut sizes = Vec::with_capacity(count);
    let mut before = 0.0;
    for k in 1..=count {
        let at = if k == count {
            span
        } else {
            place(total * k as f64 / count as f64)
        };
        sizes.push(at - before);
        before = at;
    }
    sizes
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn graded_sizes_fill_the_span_and_respect_the_limits() {
        for (first, last) in [
            (0.01, 0.02),
            (0.3, 0.01),
            (5.0, 5.0),
            (0.01, f64::INFINITY),
            (1e-4, 1e-4),
        ] {
            let sizes = graded_sizes(2.0, first, last, 0.25, 1.4);
            assert!((sizes.iter().sum::<f64>() - 2.0).abs() < 1e-12);
            assert!(
                sizes.iter().all(|&s| s > 0.0 && s <= 0.25 + 1e-12),
                "{sizes:?}"
            );
            assert!(
                sizes[0] <= first.min(0.25) * 1.25
                    && *sizes.last().unwrap() <= last.min(0.25) * 1.25
            );
            for pair in sizes.windows(2) {
                assert!(
                    (pair[1] / pair[0]).ln().abs() < 1.3 * 1.4_f64.ln(),
                    "{sizes:?}"
                );
            }
        }
    }

    #[test]
    fn equal_columns_are_shared_out_by_length_with_an_end_on_every_mark() {
        let marks = [-0.1, 0.0, 0.1, 2.0];
        let ends = equal_between(&marks, 360);
        assert_eq!(ends.len(), 360);
        for m in marks {
            assert!(ends.iter().any(|e| (e - m.rem_euclid(TAU)).abs() < 1e-12));
        }
        assert!(ends.windows(2).all(|w| w[1] > w[0]));
    }
}
