//! Closed outlines: the radius of a surface as a function of the reference angle.

use std::f64::consts::TAU;

/// A lobed deviation of a surface: `amplitude * cos(count * (angle - phase))` on the radius.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lobe {
    /// Lobes a turn.
    pub count: u32,
    /// Radius deviation, mm.
    pub amplitude: f64,
    /// Angle of a crest, rad.
    pub phase: f64,
}

/// A surface as received: a circle, perhaps off the part's axis, with lobes on it.
#[derive(Clone, Debug, PartialEq)]
pub struct StockOutline {
    /// Radius of the circle, mm.
    pub radius: f64,
    /// Centre of the circle, mm.
    pub centre: [f64; 2],
    /// Deviations on top of the circle.
    pub lobes: Vec<Lobe>,
    /// Measured deviation on top of the circle, mm: the terms `[c, s]` of `c cos(n angle) + s sin(n angle)` from n = 0. Empty
    /// where nothing was measured.
    pub measured: Vec<[f64; 2]>,
}

/// A surface left by a cut: radii at strictly increasing angles, quadratic through each triple of one mesh edge.
///
/// Even positions are edge ends, odd positions the middles; the curve closes from the last middle to the first end.
#[derive(Clone, Debug, PartialEq)]
pub struct SampledOutline {
    angles: Vec<f64>,
    radii: Vec<f64>,
}

/// A closed outline about the part's axis.
#[derive(Clone, Debug, PartialEq)]
pub enum Outline {
    /// As received.
    Stock(StockOutline),
    /// As left by a cut.
    Sampled(SampledOutline),
}

impl StockOutline {
    /// A round outline about the part's axis.
    pub fn round(radius: f64) -> Self {
        Self {
            radius,
            centre: [0.0, 0.0],
            lobes: Vec::new(),
            measured: Vec::new(),
        }
    }

    /// Radius at angle `theta` (rad), mm: the far intersection of the ray with the circle, plus the lobes.
    pub fn radius(&self, theta: f64) -> f64 {
        let mut r = self.radius;
        if self.centre != [0.0, 0.0] {
            let (s, c) = theta.sin_cos();
            let along = self.centre[0] * c + self.centre[1] * s;
            let across = self.centre[1] * c - self.centre[0] * s;
            r = along + (r * r - across * across).max(0.0).sqrt();
        }
        let lobe = |l: &Lobe| l.amplitude * (f64::from(l.count) * (theta - l.phase)).cos();
        r + self.lobes.iter().map(lobe).sum::<f64>() + self.measured(theta)
    }

    /// The measured deviation, by Clenshaw's recurrence: one sine and one cosine however many terms.
    fn measured(&self, theta: f64) -> f64 {
        let Some(([mean, _], waves)) = self.measured.split_first() else {
            return 0.0;
        };
        let (sin, cos) = theta.sin_cos();
        let (mut c, mut s) = ([0.0; 2], [0.0; 2]);
        for [a, b] in waves.iter().rev() {
            c = [a + 2.0 * cos * c[0] - c[1], c[0]];
            s = [b + 2.0 * cos * s[0] - s[1], s[0]];
        }
        mean + c[0] * cos - c[1] + s[0] * sin
    }

    /// Whether the outline is a circle about the part's axis.
    pub fn is_round(&self) -> bool {
        self.centre == [0.0, 0.0]
            && self.lobes.iter().all(|l| l.amplitude == 0.0)
            && self.measured.is_empty()
    }
}

impl SampledOutline {
    /// An outline through `radii` (mm) at `angles` (rad, increasing, spanning less than a turn), ends and middles
    /// in turn, so an even number of both.
    ///
    /// # Panics
    /// If the lengths differ or are odd: a mesh edge always has an end and a middle.
    pub fn new(angles: Vec<f64>, radii: Vec<f64>) -> Self {
        assert!(
            angles.len() == radii.len() && angles.len().is_multiple_of(2) && !angles.is_empty()
        );
        Self { angles, radii }
    }

    /// Radius at angle `theta` (rad), mm.
    pub fn radius(&self, theta: f64) -> f64 {
        let n = self.angles.len();
        let start = self.angles[0];
        let t = start + (theta - start).rem_euclid(TAU);
        // the last end at or before t; the first angle is never beyond t
        let edge = (self.angles.partition_point(|&a| a <= t) - 1) / 2;
        let a = 2 * edge;
        let (t0, t1) = (
            self.angles[a],
            if a + 2 < n {
                self.angles[a + 2]
            } else {
                start + TAU
            },
        );
        let (r0, rm, r1) = (self.radii[a], self.radii[a + 1], self.radii[(a + 2) % n]);
        let x = 2.0 * (t - t0) / (t1 - t0) - 1.0;
        0.5 * x * (x - 1.0) * r0 + (1.0 - x * x) * rm + 0.5 * x * (x + 1.0) * r1
    }
}

impl Outline {
    /// A round outline about the part's axis.
    pub fn round(radius: f64) -> Self {
        Outline::Stock(StockOutline::round(radius))
    }

    /// Radius at angle `theta` (rad), mm.
    pub fn radius(&self, theta: f64) -> f64 {
        match self {
            Outline::Stock(s) => s.radius(theta),
            Outline::Sampled(s) => s.radius(theta),
        }
    }

    /// The radius if the outline is a circle about the part's axis.
    pub fn as_round(&self) -> Option<f64> {
        match self {
            Outline::Stock(s) if s.is_round() => Some(s.radius),
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn measured_terms_add_up() {
        let outline = StockOutline {
            measured: vec![[0.1, 0.0], [0.02, -0.01], [0.0, 0.03], [-0.005, 0.002]],
            ..StockOutline::round(20.0)
        };
        for k in 0..50 {
            let t = 0.31 * f64::from(k) - 4.0;
            let sum = 20.1 + 0.02 * t.cos() - 0.01 * t.sin() + 0.03 * (2.0 * t).sin()
                - 0.005 * (3.0 * t).cos()
                + 0.002 * (3.0 * t).sin();
            assert!((outline.radius(t) - sum).abs() < 1e-13);
        }
        assert!(!outline.is_round());
    }
}
