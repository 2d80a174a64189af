//! The outline that a cut leaves, in the stress-free reference.
//!
//! In the held equilibrium of the already cut body every point that the tool reached lies on the tool's circle. With
//! `(ur, ut)` the displacement of the surface at reference angle `theta` and the spindle axis at `(a, b)` along and across that
//! direction, a point of radius `R` is on the circle when `(R + ur - a)^2 + (ut - b)^2 = Rc^2`. The displacement is
//! that of the body with outline `R`, so `R` is a fixed point; plain iterations contract by about 1.5 u/t, Anderson mixing over
//! five iterations (Walker and Ni, SIAM J. Numer. Anal. 49 (2011) 1715; from memory) halves their number.

use nalgebra::{DMatrix, DVector};

use crate::geometry::Surface;

/// Earlier iterations that mixing uses. Three cost an iteration or two more at large u/t, eight save none.
const MEMORY: usize = 5;

/// Where the tool's circle lies, seen from the part.
#[derive(Clone, Copy, Debug)]
pub(super) struct ToolCircle {
    pub surface: Surface,
    pub radius: f64,
    /// Spindle axis in the part's frame, mm.
    pub centre: [f64; 2],
}

impl ToolCircle {
    /// Radius in the reference at which a point displaced by `[ur, ut]` lies on the circle, mm.
    pub fn reference_radius(&self, theta: f64, [ur, ut]: [f64; 2]) -> f64 {
        if self.centre == [0.0, 0.0] {
            return (self.radius * self.radius - ut * ut).max(0.0).sqrt() - ur;
        }
        let (s, c) = theta.sin_cos();
        let along = self.centre[0] * c + self.centre[1] * s;
        let across = self.centre[1] * c - self.centre[0] * s;
        let side = ut - across;
        along - ur + (self.radius * self.radius - side * side).max(0.0).sqrt()
    }

    /// The circle on which a point stands once the tool has passed, if the wall gave way to it by so much (mm) there.
    pub fn sprung_back(&self, dip: f64) -> Self {
        Self {
            radius: self.radius + self.surface.outward() * dip,
            ..*self
        }
    }

    /// The radius left where the metal stood at `stock`: a tool takes away, it does not put on.
    pub fn leave(&self, stock: f64, target: f64) -> f64 {
        match self.surface {
            Surface::Outer => stock.min(target),
            Surface::Bore => stock.max(target),
        }
    }

    /// Depth from `stock` to `target` along the radius, mm; negative where the tool does not reach.
    pub fn depth(&self, stock: f64, target: f64) -> f64 {
        self.surface.outward() * (stock - target)
    }
}

/// Anderson mixing of `x -> g(x)`.
#[derive(Default)]
pub(super) struct Mixing {
    previous: Option<(Vec<f64>, Vec<f64>)>,
    /// Differences of iterates plus residuals, and of residuals, oldest first.
    steps: Vec<(Vec<f64>, Vec<f64>)>,
}

impl Mixing {
    /// The next iterate after `x` gave `g`.
    pub fn next(&mut self, x: &[f64], g: &[f64]) -> Vec<f64> {
        let residual: Vec<f64> = g.iter().zip(x).map(|(a, b)| a - b).collect();
        if let Some((px, pr)) = &self.previous {
            let dr: Vec<f64> = residual.iter().zip(pr).map(|(a, b)| a - b).collect();
            let dg = (0..x.len()).map(|k| x[k] - px[k] + dr[k]).collect();
            self.steps.push((dg, dr));
            if self.steps.len() > MEMORY {
                self.steps.remove(0);
            }
        }
        self.previous = Some((x.to_vec(), residual.clone()));
        let m = self.steps.len();
        if m == 0 {
            return g.to_vec();
        }
        let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(p, q)| p * q).sum::<f64>();
        let mut normal = DMatrix::from_fn(m, m, |i, j| dot(&self.steps[i].1, &self.steps[j].1));
        let rhs = DVector::from_fn(m, |i, _| dot(&self.steps[i].1, &residual));
        // a nearly repeated step must not blow the weights up
        let ridge = 1e-12 * normal.trace();
        for i in 0..m {
            normal[(i, i)] += ridge;
        }
        let Some(weights) = normal.cholesky().map(|c| c.solve(&rhs)) else {
            return g.to_vec();
        };
        let mut next = g.to_vec();
        for (w, (dg, _)) in weights.iter().zip(&self.steps) {
            for (n, d) in next.iter_mut().zip(dg) {
                *n -= w * d;
            }
        }
        next
    }
}

/// What iterations leave of a cut surface, mm.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Unsettled {
    /// Of any place on it.
    pub outline: f64,
    /// Of its out-of-roundness.
    pub roundness: f64,
}

impl Unsettled {
    /// As much everywhere, mm.
    pub fn everywhere(unsettled: f64) -> Self {
        Self {
            outline: unsettled,
            roundness: unsettled,
        }
    }

    /// The larger of both of each.
    pub fn max(self, other: Self) -> Self {
        Self {
            outline: self.outline.max(other.outline),
            roundness: self.roundness.max(other.roundness),
        }
    }
}
