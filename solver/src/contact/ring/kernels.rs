//! The kernels of a ring and what loads do by them: compliances between loads, displacements at a place.

use super::APART;
use super::integrals::{inner, logarithm, two_points};
use super::load::RingLoad;
use super::profiles::Piece;
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

/// Compliances of some pairs of loads, each put at its place of a row.
///
/// It is a type and no closure so that it is compiled for the processor's vector width.
pub(super) struct Row<'a> {
    pub kernels: &'a RingKernels,
    pub loads: &'a [RingLoad],
    pub pairs: &'a [(usize, [usize; 2])],
    pub row: &'a mut [f64],
}

impl pulp::NullaryFnOnce for Row<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        for &(place, [a, b]) in self.pairs {
            self.row[place] = self.kernels.pair(&self.loads[a], &self.loads[b]);
        }
    }
}

impl RingKernels {
    pub fn new(annulus: Annulus) -> Self {
        let kernel = |loaded, read| RingKernel::new(&annulus, loaded, read);
        let (outer, (bore, across)) = rayon::join(
            || kernel(Surface::Outer, Surface::Outer),
            || {
                rayon::join(
                    || kernel(Surface::Bore, Surface::Bore),
                    || kernel(Surface::Outer, Surface::Bore),
                )
            },
        );
        Self {
            own: PerSurface { outer, bore },
            across,
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
        self.pair(a, b)
    }

    /// [`Self::compliance`], compiled for whoever asks.
    #[inline(always)]
    fn pair(&self, a: &RingLoad, b: &RingLoad) -> f64 {
        let kernel = self.between(a.surface, b.surface);
        let sign = Self::sign(a.surface, b.surface);
        let distance = angle_between(a.centre, b.centre);
        let extent = a.reach + b.reach;
        let clear = distance.abs() - extent;
        let value = if clear > FAR * extent {
            a.area * b.area * kernel.local(distance)
        } else if clear > a.apart.max(b.apart) {
            match (a.points.as_slice(), b.points.as_slice()) {
                // of each the areas of its two points are equal
                (&[(s0, v), (s1, _)], &[(t0, w), (t1, _)]) => {
                    let at = [t0 - s0, t0 - s1, t1 - s0, t1 - s1];
                    v * w * kernel.local_sum(at.map(|t| distance + t))
                }
                (a, b) => kernel.local_between(distance, clear, a, b),
            }
        } else {
            self.close(kernel, a, b)
        };
        let lobes = [&a.bending, &b.bending].map(|l| l.as_flattened());
        sign * (value + bent(kernel.bending_twice(), lobes))
    }

    /// As [`Self::compliance`]: the logarithm over the segments as given, the rest piece by piece.
    #[inline(always)]
    fn close(&self, kernel: &RingKernel, a: &RingLoad, b: &RingLoad) -> f64 {
        let turn = b.centre - a.centre - angle_between(a.centre, b.centre);
        let mut sum = 0.0;
        for &(s, v) in &a.rule {
            let mut at = 0.0;
            for &(t, w) in &b.rule {
                at += w * kernel.regular(t - turn - s);
            }
            sum += v * at;
        }
        if kernel.logarithm() != 0.0 {
            for s in &a.given {
                for t in &b.given {
                    let t = Segment {
                        from: t.from - turn,
                        to: t.to - turn,
                        ..*t
                    };
                    sum -= kernel.logarithm() * logarithm(s, &t);
                }
            }
        }
        sum
    }

    /// The ring itself.
    pub fn annulus(&self) -> &Annulus {
        &self.annulus
    }

    /// Displacement outwards of a surface at an angle (rad) under a unit of a piece of a load, mm.
    pub(super) fn displacement(
        &self,
        loaded: Surface,
        piece: &Piece,
        read: Surface,
        theta: f64,
    ) -> f64 {
        let kernel = self.between(loaded, read);
        let inward = -loaded.outward();
        let at = piece.centre + angle_between(piece.centre, theta);
        let points = |list: &[(f64, f64)]| -> f64 {
            list.iter().map(|(t, w)| w * kernel.local(at - t)).sum()
        };
        if (at - piece.centre).abs() > piece.reach + APART * piece.widest {
            return inward * points(&piece.points);
        }
        let value = piece.segments.iter().map(|s| {
            let clear = (at - s.from).abs().min((at - s.to).abs());
            let two = two_points(s);
            if kernel.logarithm() == 0.0 || clear > APART * (s.to - s.from) {
                points(&two)
            } else {
                let rest: f64 = two.map(|(t, w)| w * kernel.regular(at - t)).iter().sum();
                rest - kernel.logarithm() * inner(s, at)
            }
        });
        inward * value.sum::<f64>()
    }
}

/// Sum of `c a b` over the lobes that bend, in sixteen partial sums: the order is fixed, whatever the width of the processor's registers.
#[inline(always)]
fn bent(c: &[f64], [a, b]: [&[f64]; 2]) -> f64 {
    let mut sums = [0.0; 16];
    let n = c.len().min(a.len()).min(b.len());
    let fast = n / 16 * 16;
    let parts = c[..fast].chunks_exact(16);
    let parts = parts.zip(a[..fast].chunks_exact(16).zip(b[..fast].chunks_exact(16)));
    for (c, (a, b)) in parts {
        for k in 0..16 {
            sums[k] += c[k] * (a[k] * b[k]);
        }
    }
    let mut rest = 0.0;
    for k in fast..n {
        rest += c[k] * (a[k] * b[k]);
    }
    sums.iter().sum::<f64>() + rest
}
