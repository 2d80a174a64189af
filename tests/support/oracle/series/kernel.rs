//! The boundary compliance of a round ring as a function of the angle difference.

use super::Annulus;
use ringwright_solver::geometry::Surface;
use std::f64::consts::{PI, TAU};

/// Radial displacement of one surface, mm, at an angle from a unit outward radial line force (1 N over the length) on one surface.
///
/// On the loaded surface itself the coefficients are those of a solid disc (outside) or of a hole in an endless plate (bore)
/// plus a rest that falls like `exp(-2 n L)`. Derived here from the two decaying exponentials of the series, with
/// `r s_rr = -(n^2 - 1) f`, `f' = 0`: `pi b E c_n = alpha / (n - 1) + beta / (n + 1)` for `n >= 2`, with
/// `alpha = (1 + nu)/2, beta = (3 - nu)/2` outside and the two exchanged in the bore. These are summed in closed form with
/// `sum cos(m t)/m = -ln(2 sin(t/2))` and `sum sin(m t)/m = (pi - t)/2`; the rest is cut where it is below rounding. Across the wall all
/// coefficients fall like `exp(-n L)`.
///
/// One lobe carries the self-balancing part only, and a shift along the force is left out (zero mean of the bore): sum forces that balance.
#[derive(Clone, Debug)]
pub struct BoundaryKernel {
    /// `1 / (pi b E)` if loaded and read surface are the same, else 0.
    scale: f64,
    alpha: f64,
    beta: f64,
    rest: Vec<f64>,
}

impl BoundaryKernel {
    /// The kernel from forces on `loaded` to displacements of `read`.
    pub fn new(annulus: &Annulus, loaded: Surface, read: Surface) -> Self {
        let nu = annulus.poisson_ratio;
        let same = loaded == read;
        let (alpha, beta) = match loaded {
            Surface::Outer => (0.5 * (1.0 + nu), 0.5 * (3.0 - nu)),
            Surface::Bore => (0.5 * (3.0 - nu), 0.5 * (1.0 + nu)),
        };
        let scale = if same {
            1.0 / (PI * annulus.length * annulus.young_modulus)
        } else {
            0.0
        };
        // exp(-45) is 3e-20: with the powers of n in front still below rounding
        let reach = if same { 22.5 } else { 45.0 };
        let last = (reach / annulus.half_log_wall())
            .ceil()
            .clamp(8.0, 200_000.0) as u32;
        let rest = (0..=last)
            .map(|n| {
                let local = if n < 2 {
                    0.0
                } else {
                    scale * (alpha / f64::from(n - 1) + beta / f64::from(n + 1))
                };
                annulus.radial_compliance(n, loaded, read) - local
            })
            .collect();
        Self {
            scale,
            alpha,
            beta,
            rest,
        }
    }

    /// Displacement at the angle difference `t` (rad), mm/N; infinite at 0 on the loaded surface.
    pub fn at(&self, t: f64) -> f64 {
        self.local(t) + self.rest_at(t)
    }

    /// The part in closed form, mm/N: singular like [`Self::logarithm`] times `ln |t|` and with a kink at 0.
    pub fn local(&self, t: f64) -> f64 {
        if self.scale == 0.0 {
            return 0.0;
        }
        // the difference in (-pi, pi], so that a small negative one loses nothing
        let t = (t - TAU * (t / TAU).round()).abs();
        let (s, c) = t.sin_cos();
        let x = -(2.0 * (0.5 * t).sin()).ln();
        let y = 0.5 * (PI - t);
        self.scale
            * ((self.alpha + self.beta) * c * x + (self.beta - self.alpha) * s * y
                - self.beta * (1.0 + 0.5 * c))
    }

    /// Factor of `ln |t|` as `t` goes to 0: `-2 / (pi b E)`, the half-plane's; 0 across the wall.
    pub fn logarithm(&self) -> f64 {
        -(self.alpha + self.beta) * self.scale
    }

    /// Cosine coefficients, from 0, of what the closed form leaves, mm/N.
    pub fn rest(&self) -> &[f64] {
        &self.rest
    }

    /// The whole coefficient of `cos(n t)`, mm/N.
    pub fn coefficient(&self, n: u32) -> f64 {
        let local = if n < 2 {
            0.0
        } else {
            self.scale * (self.alpha / f64::from(n - 1) + self.beta / f64::from(n + 1))
        };
        local + self.rest.get(n as usize).copied().unwrap_or(0.0)
    }

    fn rest_at(&self, t: f64) -> f64 {
        // Clenshaw
        let c = 2.0 * t.cos();
        let (mut one, mut two) = (0.0, 0.0);
        for &a in self.rest.iter().skip(1).rev() {
            (one, two) = (a + c * one - two, one);
        }
        self.rest[0] + 0.5 * c * one - two
    }
}
