//! The kernels of a ring and what loads do by them: compliances between loads, displacements at a place.

use super::APART;
use super::integrals::{inner, logarithm, regular, two_points};
use super::load::RingLoad;
use crate::contact::pressure::Segment;
use crate::geometry::{PerSurface, Surface, angle_between};
use crate::series::{Annulus, RingKernel, bending_lobes};

/// Distance in halves of their extents from which two loads are one point each.
const FAR: f64 = 100.0;

/// Widest segment as a share of half the wall (in the logarithm of the radius): the kernel's rest changes over the wall, and beside a load
/// like `t^2 ln t`. Where pads go all round, each shape function overlapping the next, they are divided further.
pub(super) const SMOOTH: f64 = 1.0;
pub(super) const SMOOTH_ALL_ROUND: f64 = 0.3;

/// The kernels of a ring's two surfaces, made once for its radii and material.
#[derive(Clone, Debug)]
pub(in crate::contact) struct RingKernels {
    pub(super) annulus: Annulus,
    /// On the loaded surface itself.
    pub(super) own: PerSurface<RingKernel>,
    /// Across the wall, either way.
    pub(super) across: RingKernel,
}

impl RingKernels {
    pub fn new(annulus: Annulus) -> Self {
        Self {
            own: PerSurface::from_fn(|s| RingKernel::new(&annulus, s, s)),
            across: RingKernel::new(&annulus, Surface::Outer, Surface::Bore),
            annulus,
        }
    }

    /// A load on this ring.
    pub fn load(&self, surface: Surface, segments: &[Segment]) -> RingLoad {
        self.load_in(surface, segments, SMOOTH)
    }

    /// The same, its segments no wider than a share of half the wall.
    pub(super) fn load_in(&self, surface: Surface, segments: &[Segment], share: f64) -> RingLoad {
        let widest = share * self.annulus.half_log_wall();
        RingLoad::new(surface, segments, widest, bending_lobes(&self.annulus))
    }

    pub(super) fn between(&self, a: Surface, b: Surface) -> &RingKernel {
        if a == b {
            self.own.get(a)
        } else {
            &self.across
        }
    }

    /// Sign of what loads on two surfaces do to each other: both press on the metal, outwards in the bore and inwards on the outside.
    fn sign(a: Surface, b: Surface) -> f64 {
        if a == b { 1.0 } else { -1.0 }
    }

    /// Work of a unit of one load on the displacement of a unit of another, mm N.
    pub fn compliance(&self, a: &RingLoad, b: &RingLoad) -> f64 {
        let kernel = self.between(a.surface, b.surface);
        let sign = Self::sign(a.surface, b.surface);
        let distance = angle_between(a.centre, b.centre);
        let extent = a.reach + b.reach;
        let clear = distance.abs() - extent;
        let value = if clear > FAR * extent {
            a.area * b.area * kernel.local(distance)
        } else if clear > a.apart.max(b.apart) {
            let mut sum = 0.0;
            for (s, v) in &a.points {
                for (t, w) in &b.points {
                    sum += v * w * kernel.local(distance + t - s);
                }
            }
            sum
        } else {
            self.close(kernel, a, b)
        };
        sign * (value + bent(kernel.bending(), &a.bending, &b.bending))
    }

    /// As [`Self::compliance`], segment by segment.
    fn close(&self, kernel: &RingKernel, a: &RingLoad, b: &RingLoad) -> f64 {
        let turn = b.centre - a.centre - angle_between(a.centre, b.centre);
        let mut sum = 0.0;
        for s in &a.segments {
            for t in &b.segments {
                let t = Segment {
                    from: t.from - turn,
                    to: t.to - turn,
                    ..*t
                };
                sum += regular(kernel, s, &t) - kernel.logarithm() * logarithm(s, &t);
            }
        }
        sum
    }

    /// The ring itself.
    pub fn annulus(&self) -> &Annulus {
        &self.annulus
    }

    /// Displacement outwards of a surface at an angle (rad) under a unit of a load, mm.
    pub(super) fn displacement(&self, load: &RingLoad, read: Surface, theta: f64) -> f64 {
        let kernel = self.between(load.surface, read);
        let inward = -load.surface.outward();
        let distance = angle_between(load.centre, theta);
        if distance.abs() > load.reach + APART * load.widest {
            let of = |(t, w): &(f64, f64)| w * kernel.local(distance - t);
            return inward * load.points.iter().map(of).sum::<f64>();
        }
        let at = distance + load.centre;
        let value: f64 = load
            .segments
            .iter()
            .map(|s| {
                let clear = (at - s.from).abs().min((at - s.to).abs());
                let points = two_points(s);
                if kernel.logarithm() == 0.0 || clear > APART * (s.to - s.from) {
                    points
                        .map(|(t, w)| w * kernel.local(at - t))
                        .iter()
                        .sum::<f64>()
                } else {
                    let rest: f64 = points.map(|(t, w)| w * kernel.regular(at - t)).iter().sum();
                    rest - kernel.logarithm() * inner(s, at)
                }
            })
            .sum();
        inward * value
    }
}

/// Sum of `c (a b)` over the lobes that bend, in eight partial sums: the order is fixed, whatever the width of the processor's registers.
fn bent(c: &[f64], a: &[[f64; 2]], b: &[[f64; 2]]) -> f64 {
    let of = |c: f64, a: [f64; 2], b: [f64; 2]| c * (a[0] * b[0] + a[1] * b[1]);
    let mut sums = [0.0; 8];
    let (fast, rest) = c.split_at(c.len() / 8 * 8);
    for ((c, a), b) in fast
        .chunks_exact(8)
        .zip(a.chunks_exact(8))
        .zip(b.chunks_exact(8))
    {
        for k in 0..8 {
            sums[k] += of(c[k], a[k], b[k]);
        }
    }
    let from = fast.len();
    let tail = rest.iter().zip(a[from..].iter().zip(&b[from..]));
    sums.iter().sum::<f64>() + tail.map(|(c, (a, b))| of(*c, *a, *b)).sum::<f64>()
}
