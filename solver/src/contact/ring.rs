//! A round ring behind contact, by its closed-form series: no mesh, any width of contact.
//!
//! The displacement at an angle from a unit line force is the series' kernel: a logarithm, and a rest that is smooth. Compliances
//! between pressures are double integrals of it over their shape functions. Where two are close the logarithm is integrated in closed
//! form, else both are replaced by two points with their area, centre and spread.

use std::f64::consts::TAU;
use std::sync::Arc;

use super::elastic::Elastic;
use super::pressure::{PressureDof, Segment};
use crate::fourier::{self, Complex64};
use crate::geometry::{PerSurface, Surface, angle_between};
use crate::series::{Annulus, RingKernel, bending_lobes};

/// Distance in halves of their extents up to which two loads are integrated exactly, and from which each is one point.
const NEAR: f64 = 6.0;
const FAR: f64 = 100.0;

/// Ratio of widths from which the narrower of two segments is a few points to the wider: the closed form would cancel.
const UNLIKE: f64 = 30.0;

/// Loads that are wider, rad, are more than two points from afar.
const WIDE: f64 = 0.03;

/// Widths of a segment from which two points stand for it.
const APART: f64 = 4.0;

/// Cells on either side of a load within which its displacement is not taken from the grid.
const CELLS: f64 = 4.0;

/// Widest segment as a share of half the wall (in the logarithm of the radius): the kernel's rest changes over the wall, and beside a load
/// like `t^2 ln t`. Where pads go all round, each shape function overlapping the next, they are divided further.
const SMOOTH: f64 = 1.0;
const SMOOTH_ALL_ROUND: f64 = 0.3;

/// Angles that differ by less are one, rad.
const ALIKE: f64 = 1e-12;

/// Share of the wall (as an angle) up to which a load, or a few cells of the grid, are narrow to the other surface.
const ACROSS: f64 = 0.35;

/// Two-point Gauss rule on `[0, 1]`.
const TWO: [f64; 2] = [0.211_324_865_405_187_13, 0.788_675_134_594_812_9];

/// The kernels of a ring's two surfaces, made once for its radii and material.
#[derive(Clone, Debug)]
pub(super) struct RingKernels {
    annulus: Annulus,
    /// On the loaded surface itself.
    own: PerSurface<RingKernel>,
    /// Across the wall, either way.
    across: RingKernel,
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
    fn load_in(&self, surface: Surface, segments: &[Segment], share: f64) -> RingLoad {
        let widest = share * self.annulus.half_log_wall();
        RingLoad::new(surface, segments, widest, bending_lobes(&self.annulus))
    }

    fn between(&self, a: Surface, b: Surface) -> &RingKernel {
        if a == b {
            self.own.get(a)
        } else {
            &self.across
        }
    }
}

/// A load on one surface: segments whose unit is a pressure or a whole force, pressing on the metal.
#[derive(Clone, Debug)]
pub(super) struct RingLoad {
    pub surface: Surface,
    segments: Vec<Segment>,
    area: f64,
    centre: f64,
    /// Points about the centre (rad) with areas (mm2) that stand for it from afar.
    points: Vec<(f64, f64)>,
    /// Half of what it covers, rad.
    reach: f64,
    /// Width of its widest segment, or half of its own if that is more, rad.
    widest: f64,
    /// Its sums of `cos(n theta)` and `sin(n theta)` over the area, mm2, for the lobes that bend the ring.
    bending: Vec<[f64; 2]>,
}

impl RingLoad {
    /// A load whose segments are halved until none is wider than `widest` (rad), within which the rest of the kernel is smooth.
    fn new(surface: Surface, segments: &[Segment], widest: f64, lobes: usize) -> Self {
        let segments: Vec<Segment> = segments.iter().flat_map(|s| s.split(widest)).collect();
        let area: f64 = segments.iter().map(Segment::area).sum();
        // segments of a closed pad's first shape function lie on both sides of the seam
        let first = segments[0].from;
        let near = |s: &Segment| {
            let turn = ((s.from - first) / TAU).round() * TAU;
            Segment {
                from: s.from - turn,
                to: s.to - turn,
                ..*s
            }
        };
        let mut segments: Vec<Segment> = segments.iter().map(near).collect();
        // loads that are alike have their segments in one order
        segments.sort_by(|a, b| a.from.total_cmp(&b.from));
        let moment = |about: f64, power: i32| -> f64 {
            let of =
                |s: &Segment| -> f64 { s.rule().map(|(t, w)| w * (t - about).powi(power)).sum() };
            segments.iter().map(of).sum::<f64>() / area
        };
        let centre = first + moment(first, 1);
        let mut bending = vec![[0.0; 2]; lobes + 1];
        for (t, w) in segments.iter().flat_map(Segment::rule) {
            let (s, c) = t.sin_cos();
            let mut now = [w, 0.0];
            for sum in &mut bending {
                sum[0] += now[0];
                sum[1] += now[1];
                now = [now[0] * c - now[1] * s, now[0] * s + now[1] * c];
            }
        }
        let from = segments.iter().fold(f64::INFINITY, |m, s| m.min(s.from));
        let to = segments.iter().fold(f64::NEG_INFINITY, |m, s| m.max(s.to));
        let points = if to - from > WIDE {
            let all = segments.iter().flat_map(two_points);
            all.map(|(t, w)| (t - centre, w)).collect()
        } else {
            // two halves at the root of its second moment have the same moments up to the third, but for its skewness
            let spread = moment(centre, 2).max(0.0).sqrt();
            [-spread, spread].map(|t| (t, 0.5 * area)).to_vec()
        };
        Self {
            surface,
            area,
            centre,
            bending,
            points,
            reach: 0.5 * (to - from),
            widest: segments
                .iter()
                .fold(0.5 * (to - from), |m, s| m.max(s.to - s.from)),
            segments,
        }
    }

    /// Whether another is the same somewhere else round the ring.
    fn is_like(&self, other: &Self) -> bool {
        let same = |a: &Segment, b: &Segment| {
            let size = a.density[0].abs() + a.density[1].abs();
            let off = (a.from - self.centre) - (b.from - other.centre);
            let wide = (a.to - a.from) - (b.to - b.from);
            off.abs() < ALIKE
                && wide.abs() < ALIKE
                && (a.density[0] - b.density[0]).abs() <= 1e-12 * size
                && (a.density[1] - b.density[1]).abs() <= 1e-12 * size
        };
        self.surface == other.surface
            && self.segments.len() == other.segments.len()
            && self
                .segments
                .iter()
                .zip(&other.segments)
                .all(|(a, b)| same(a, b))
    }

    /// Resultant of a unit along x and y, N.
    pub fn resultant(&self) -> [f64; 2] {
        let inward = -self.surface.outward();
        let mut sum = [0.0; 2];
        for (t, w) in self.segments.iter().flat_map(Segment::rule) {
            sum[0] += inward * w * t.cos();
            sum[1] += inward * w * t.sin();
        }
        sum
    }
}

impl RingKernels {
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
        } else if clear > NEAR * a.widest.max(b.widest) {
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
        let bending: f64 = kernel
            .bending()
            .iter()
            .zip(a.bending.iter().zip(&b.bending))
            .map(|(c, (a, b))| c * (a[0] * b[0] + a[1] * b[1]))
            .sum();
        sign * (value + bending)
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
    fn displacement(&self, load: &RingLoad, read: Surface, theta: f64) -> f64 {
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

/// Points and weights (mm2) of the two-point rule over a segment.
fn two_points(s: &Segment) -> [(f64, f64); 2] {
    let width = s.to - s.from;
    TWO.map(|x| (s.from + x * width, 0.5 * width * s.at(x)))
}

/// Double integral of the kernel without its logarithm over two segments.
fn regular(kernel: &RingKernel, a: &Segment, b: &Segment) -> f64 {
    let mut sum = 0.0;
    for (x, wx) in two_points(a) {
        for (y, wy) in two_points(b) {
            sum += wx * wy * kernel.regular(x - y);
        }
    }
    sum
}

/// Integral of a segment's density times `ln |x - y|` over the segment, at `x`.
///
/// With `L1`, `L2` the first two integrals of `ln |u|` from 0, by parts: `-[g L1(x - y)] - g' [L2(x - y)]`.
fn inner(s: &Segment, x: f64) -> f64 {
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
fn logarithm(a: &Segment, b: &Segment) -> f64 {
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

/// A round ring under the pressures of a hold.
pub(super) struct Ring {
    kernels: Arc<RingKernels>,
    loads: Vec<RingLoad>,
    resultants: Vec<[f64; 2]>,
    /// Compliances of a pressure with all, as they are asked for.
    columns: Vec<Option<Vec<f64>>>,
    /// Which pressure each becomes when the ring is turned by the least angle that leaves the hold as it is.
    turned: Option<Vec<usize>>,
    /// What each unit pressure adds to the profiles near it, as it is asked for.
    near: Vec<Option<Vec<Near>>>,
}

impl Ring {
    /// Of each pressure only what it does to the part counts.
    pub fn new(kernels: Arc<RingKernels>, dofs: &[PressureDof]) -> Self {
        // a uniform pressure shows what the rules leave at every load alike
        let covered: f64 = dofs
            .iter()
            .flat_map(|d| &d.segments)
            .map(|s| s.to - s.from)
            .sum();
        let share = if covered > 1.9 * TAU {
            SMOOTH_ALL_ROUND
        } else {
            SMOOTH
        };
        let load = |d: &PressureDof| {
            let on_part = d.presses.iter().find(|p| p.wall == 0);
            let surface = on_part.map_or(Surface::Outer, |p| p.surface);
            kernels.load_in(surface, &d.segments, share)
        };
        let loads: Vec<RingLoad> = dofs.iter().map(load).collect();
        Self {
            kernels,
            resultants: loads.iter().map(RingLoad::resultant).collect(),
            columns: vec![None; loads.len()],
            turned: turned(&loads),
            near: vec![None; loads.len()],
            loads,
        }
    }

    /// The pressures as loads.
    pub fn loads(&self) -> &[RingLoad] {
        &self.loads
    }

    fn column(&mut self, pressure: usize) {
        if self.columns[pressure].is_some() {
            return;
        }
        let own = &self.loads[pressure];
        let column: Vec<f64> = self
            .loads
            .iter()
            .enumerate()
            .map(|(k, other)| match k < pressure {
                // the same either way
                true => self.kernels.compliance(other, own),
                false => self.kernels.compliance(own, other),
            })
            .collect();
        if let Some(turned) = &self.turned {
            let (mut at, mut now) = (turned[pressure], column.clone());
            while at != pressure {
                let mut next = vec![0.0; now.len()];
                for (k, c) in turned.iter().zip(&now) {
                    next[*k] = *c;
                }
                now = next;
                self.columns[at] = Some(now.clone());
                at = turned[at];
            }
        }
        self.columns[pressure] = Some(column);
    }

    /// Displacement outwards (mm) of some surfaces at the angles of `profiles`, the others left empty: under these pressures (MPa), other loads, an even growth of
    /// each surface and a shift of the ring (mm).
    pub fn profile(
        &mut self,
        profiles: &Profiles,
        pressures: &[f64],
        others: &[&RingLoad],
        even: &PerSurface<f64>,
        shift: [f64; 2],
        surfaces: &[Surface],
    ) -> PerSurface<Vec<f64>> {
        let pressed = self.loads.iter().zip(pressures.iter().copied());
        let mut all: Vec<(&RingLoad, f64)> = pressed.filter(|l| l.1 != 0.0).collect();
        all.extend(others.iter().map(|l| (*l, 1.0)));
        let mut moved = profiles.far(&self.kernels, &all, even, shift, surfaces);
        for (k, &p) in pressures.iter().enumerate() {
            if p != 0.0 {
                self.make_near(profiles, k);
                let near = self.near[k].iter().flatten();
                near.filter(|n| surfaces.contains(&n.read))
                    .for_each(|n| n.add(p, &mut moved));
            }
        }
        for load in others {
            let near = profiles.near(&self.kernels, load);
            near.iter()
                .filter(|n| surfaces.contains(&n.read))
                .for_each(|n| n.add(1.0, &mut moved));
        }
        moved
    }

    /// Makes what a unit pressure adds near it, and with it the same of all that it becomes when the ring is turned, if the profiles'
    /// angles are turned into each other too.
    fn make_near(&mut self, profiles: &Profiles, pressure: usize) {
        if self.near[pressure].is_some() {
            return;
        }
        let near = profiles.near(&self.kernels, &self.loads[pressure]);
        if let Some(turned) = &self.turned {
            let cells = |k: usize| {
                let angle = angle_between(self.loads[pressure].centre, self.loads[k].centre);
                angle * profiles.count as f64 / TAU
            };
            let mut at = turned[pressure];
            while at != pressure {
                let by = cells(at);
                if (by - by.round()).abs() < 1e-9 * profiles.count as f64 {
                    let by = (by.round() as i64).rem_euclid(profiles.count as i64) as usize;
                    let there = near.iter().map(|n| Near {
                        first: (n.first + by) % profiles.count,
                        ..n.clone()
                    });
                    self.near[at] = Some(there.collect());
                }
                at = turned[at];
            }
        }
        self.near[pressure] = Some(near);
    }
}

/// Finds which load each becomes when the ring is turned by the least angle that leaves them all as they are; `None` if there is none.
fn turned(loads: &[RingLoad]) -> Option<Vec<usize>> {
    let place = |t: f64| t.rem_euclid(TAU);
    let mut order: Vec<usize> = (0..loads.len()).collect();
    let key = |k: usize| (loads[k].surface == Surface::Bore, place(loads[k].centre));
    order.sort_by(|&a, &b| key(a).0.cmp(&key(b).0).then(key(a).1.total_cmp(&key(b).1)));
    let outside = order.iter().take_while(|&&k| !key(k).0).count();
    let (outer, bore) = order.split_at(outside);
    let all = loads.len();
    (2..=all)
        .rev()
        .filter(|p| outer.len().is_multiple_of(*p) && bore.len().is_multiple_of(*p))
        .find_map(|p| {
            let mut to = vec![usize::MAX; all];
            for list in [outer, bore] {
                let shift = list.len() / p;
                for (i, &k) in list.iter().enumerate() {
                    let other = list[(i + shift) % list.len()];
                    let (a, b) = (&loads[k], &loads[other]);
                    if angle_between(a.centre + TAU / p as f64, b.centre).abs() > ALIKE
                        || !a.is_like(b)
                    {
                        return None;
                    }
                    to[k] = other;
                }
            }
            Some(to)
        })
}

impl Elastic for Ring {
    fn pressures(&self) -> usize {
        self.loads.len()
    }

    fn rigid_body_modes(&self) -> usize {
        2
    }

    fn rigid_work(&self, pressure: usize, mode: usize) -> f64 {
        self.resultants[pressure][mode]
    }

    fn compliances(&mut self, pressure: usize, others: &[usize]) -> Vec<f64> {
        self.column(pressure);
        let column = self.columns[pressure].as_ref().expect("made above");
        others.iter().map(|&k| column[k]).collect()
    }

    fn weighted_displacements(&mut self, pressures: &[f64]) -> Vec<f64> {
        let mut moved = vec![0.0; self.loads.len()];
        for (k, &p) in pressures.iter().enumerate() {
            if p != 0.0 {
                self.column(k);
                let column = self.columns[k].as_ref().expect("made above");
                for (m, c) in moved.iter_mut().zip(column) {
                    *m += p * c;
                }
            }
        }
        moved
    }
}

/// Both surfaces at equal angles from 0: displacements of loads by convolution on that grid, and exactly near each load.
#[derive(Clone, Debug)]
pub(super) struct Profiles {
    count: usize,
    /// Kernels at the grid's angles without the lobes that bend, and their spectra: outside, bore, across.
    grids: [Vec<f64>; 3],
    spectra: [Vec<f64>; 3],
}

impl Profiles {
    /// Profiles of `count` points.
    pub fn new(kernels: &RingKernels, count: usize) -> Self {
        let list = [&kernels.own.outer, &kernels.own.bore, &kernels.across];
        let grids = list.map(|kernel| {
            let h = TAU / count as f64;
            let at = |k: usize| kernel.local(if k == 0 { 0.5 * h } else { h * k as f64 });
            let half: Vec<f64> = (0..=count / 2).map(at).collect();
            (0..count)
                .map(|k| half[k.min(count - k)])
                .collect::<Vec<f64>>()
        });
        // an even function has a real spectrum
        let spectra = grids.each_ref().map(|grid| {
            let terms = fourier::spectrum(grid);
            terms.iter().map(|t| t.re / count as f64).collect()
        });
        Self {
            count,
            grids,
            spectra,
        }
    }

    fn index(a: Surface, b: Surface) -> usize {
        match (a, b) {
            (Surface::Outer, Surface::Outer) => 0,
            (Surface::Bore, Surface::Bore) => 1,
            _ => 2,
        }
    }

    /// Displacement outwards (mm) of both surfaces under so many units of each load, right but near the loads.
    fn far(
        &self,
        kernels: &RingKernels,
        loads: &[(&RingLoad, f64)],
        even: &PerSurface<f64>,
        [x, y]: [f64; 2],
        surfaces: &[Surface],
    ) -> PerSurface<Vec<f64>> {
        let n = self.count;
        let mut spectra: PerSurface<Option<Vec<Complex64>>> = PerSurface::default();
        for surface in Surface::BOTH {
            let mut grid = vec![0.0; n];
            let mut any = false;
            let here = |l: &&(&RingLoad, f64)| l.0.surface == surface && l.1 != 0.0;
            for &(load, size) in loads.iter().filter(here) {
                any = true;
                for (k, w) in self.spread(load) {
                    grid[k] += w * size;
                }
            }
            if any {
                *spectra.get_mut(surface) = Some(fourier::spectrum(&grid));
            }
        }
        PerSurface::from_fn(|read| {
            if !surfaces.contains(&read) {
                return Vec::new();
            }
            let mut sum = vec![Complex64::default(); n / 2 + 1];
            for loaded in Surface::BOTH {
                if let Some(spectrum) = spectra.get(loaded) {
                    let kernel = &self.spectra[Self::index(loaded, read)];
                    for ((s, f), k) in sum.iter_mut().zip(spectrum).zip(kernel) {
                        *s += f * k;
                    }
                }
            }
            sum[0] += even.get(read);
            sum[1] += Complex64::new(0.5 * x, -0.5 * y);
            for &(load, size) in loads {
                let c = kernels.between(load.surface, read).bending();
                let outward = -0.5 * load.surface.outward() * size;
                for (k, (s, (c, [a, b]))) in
                    sum.iter_mut().zip(c.iter().zip(&load.bending)).enumerate()
                {
                    let both = if k == 0 { 2.0 } else { 1.0 };
                    *s += Complex64::new(*a, -b) * (both * outward * c);
                }
            }
            fourier::values(&sum, n)
        })
    }

    /// A load on the grid: outward forces (N) on a few of its points with the same moments up to the third.
    fn spread<'l>(&self, load: &'l RingLoad) -> impl Iterator<Item = (usize, f64)> + use<'l> {
        let (n, h) = (self.count as i64, TAU / self.count as f64);
        let outward = -load.surface.outward();
        load.points.iter().flat_map(move |&(t, area)| {
            let x = (load.centre + t) / h;
            let k = x.floor();
            let f = x - k;
            let (e, g, i) = (f + 1.0, f - 1.0, f - 2.0);
            let weights = [
                -f * g * i / 6.0,
                e * g * i / 2.0,
                -e * f * i / 2.0,
                e * f * g / 6.0,
            ];
            (0..4).map(move |m| {
                let at = (k as i64 + m - 1).rem_euclid(n) as usize;
                (at, outward * area * weights[m as usize])
            })
        })
    }

    /// What a unit of a load adds where the grid is not good enough: near it.
    fn near(&self, kernels: &RingKernels, load: &RingLoad) -> Vec<Near> {
        let (n, h) = (self.count, TAU / self.count as f64);
        let wall = 2.0 * kernels.annulus.half_log_wall();
        let across = load.reach.max(CELLS * h) > ACROSS * wall;
        let reach = CELLS * h + load.reach + (APART - 1.0) * load.widest;
        let reach = reach.min(0.5 * TAU - h);
        let from = ((load.centre - reach) / h).ceil() as i64;
        let to = ((load.centre + reach) / h).floor() as i64;
        let spread: Vec<(usize, f64)> = self.spread(load).collect();
        Surface::BOTH
            .into_iter()
            .filter(|&read| read == load.surface || across)
            .map(|read| {
                let grid = &self.grids[Self::index(load.surface, read)];
                let values = (from..=to).map(|k| {
                    let at = k.rem_euclid(n as i64) as usize;
                    let on_grid: f64 = spread
                        .iter()
                        .map(|&(m, w)| w * grid[(at + n - m) % n])
                        .sum();
                    kernels.displacement(load, read, k as f64 * h) - on_grid
                });
                Near {
                    read,
                    first: from.rem_euclid(n as i64) as usize,
                    values: values.collect(),
                }
            })
            .collect()
    }
}

/// What a unit load adds to a profile near it, from one point on, mm.
#[derive(Clone, Debug)]
struct Near {
    read: Surface,
    first: usize,
    values: Vec<f64>,
}

impl Near {
    fn add(&self, size: f64, moved: &mut PerSurface<Vec<f64>>) {
        let profile = moved.get_mut(self.read);
        let n = profile.len();
        for (k, v) in self.values.iter().enumerate() {
            profile[(self.first + k) % n] += size * v;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::series::{RadialLoad, Response};

    fn ring(wall: f64) -> Annulus {
        Annulus {
            inner_radius: 50.0 - wall,
            outer_radius: 50.0,
            young_modulus: 70_000.0,
            poisson_ratio: 0.33,
            length: 20.0,
        }
    }

    /// The same by halving: pieces far from each other by two points, touching ones halved on.
    fn by_halving(a: Segment, b: Segment, depth: u32) -> f64 {
        let halves = |s: Segment| {
            let middle = 0.5 * (s.from + s.to);
            let value = 0.5 * (s.density[0] + s.density[1]);
            [
                Segment {
                    to: middle,
                    density: [s.density[0], value],
                    ..s
                },
                Segment {
                    from: middle,
                    density: [value, s.density[1]],
                    ..s
                },
            ]
        };
        let clear = (b.from - a.to).max(a.from - b.to);
        if clear > 2.0 * (a.to - a.from).max(b.to - b.from) || depth == 0 {
            let rule = |s: Segment| s.rule().collect::<Vec<_>>();
            let mut sum = 0.0;
            for (x, v) in rule(a) {
                for (y, w) in rule(b) {
                    sum += v * w * if x == y { 0.0 } else { (x - y).abs().ln() };
                }
            }
            return sum;
        }
        let mut sum = 0.0;
        for p in halves(a) {
            for q in halves(b) {
                sum += by_halving(p, q, depth - 1);
            }
        }
        sum
    }

    #[test]
    fn the_logarithm_in_closed_form() {
        let segment = |from: f64, to: f64, density: [f64; 2]| Segment { from, to, density };
        let a = segment(0.1, 0.3, [1.0, 0.2]);
        for b in [
            a,
            segment(0.3, 0.4, [0.5, 2.0]),
            segment(0.05, 0.1, [0.0, 1.0]),
            segment(0.3, 0.301, [1.0, 1.0]),
            segment(0.3, 0.30001, [0.0, 1.0]),
            segment(0.6, 0.8, [0.0, 1.0]),
        ] {
            let (exact, numeric) = (logarithm(&a, &b), by_halving(a, b, 11));
            assert!(
                (exact - numeric).abs() < 1e-3 * numeric.abs(),
                "{b:?}: {exact} {numeric}"
            );
            assert!((logarithm(&b, &a) - exact).abs() < 1e-9 * exact.abs());
        }
    }

    #[test]
    fn the_logarithm_over_one_square() {
        let a = Segment {
            from: 0.1,
            to: 0.3,
            density: [1.0, 1.0],
        };
        // the integral of ln |x - y| over the unit square is -3/2
        let exact = 0.04 * (0.2_f64.ln() - 1.5);
        assert!((logarithm(&a, &a) - exact).abs() < 1e-12);
    }

    /// A linear pressure shape function between three angles.
    fn shape_function(kernels: &RingKernels, surface: Surface, [a, b, c]: [f64; 3]) -> RingLoad {
        let up = Segment {
            from: a,
            to: b,
            density: [0.0, 1000.0],
        };
        let down = Segment {
            from: b,
            to: c,
            density: [1000.0, 0.0],
        };
        kernels.load(surface, &[up, down])
    }

    /// Loads of all widths beside each other, over the seam and at three equal places: compliances are positive definite, and turning
    /// does not matter.
    #[test]
    fn compliances_are_those_of_an_elastic_body() {
        for wall in [0.3, 1.5, 5.0, 20.0] {
            let kernels = Arc::new(RingKernels::new(ring(wall)));
            let mut ends = vec![-0.2];
            for k in 0..14 {
                ends.push(-0.2 + 1e-5 * 2.0_f64.powi(k));
            }
            let mut loads = Vec::new();
            for axis in [0.3, 0.3 + TAU / 3.0, 0.3 + 2.0 * TAU / 3.0] {
                for w in ends.windows(3) {
                    loads.push(shape_function(
                        &kernels,
                        Surface::Outer,
                        [w[0], w[1], w[2]].map(|t| t + axis),
                    ));
                }
            }
            let n = loads.len();
            let whole = nalgebra::DMatrix::from_fn(n, n, |i, j| {
                kernels.compliance(&loads[i.min(j)], &loads[i.max(j)])
            });
            let turned = turned(&loads).expect("three equal groups");
            for i in 0..n {
                for j in 0..n {
                    let (a, b) = (whole[(i, j)], whole[(turned[i], turned[j])]);
                    let scale = (whole[(i, i)] * whole[(j, j)]).sqrt();
                    assert!((a - b).abs() < 1e-8 * scale, "{wall} {i} {j}: {a} {b}");
                }
            }
            let unit = nalgebra::DMatrix::from_fn(n, n, |i, j| {
                whole[(i, j)] / (whole[(i, i)] * whole[(j, j)]).sqrt()
            });
            let least = nalgebra::SymmetricEigen::new(unit).eigenvalues.min();
            assert!(least > 0.0, "{wall}: {least:e}");
        }
    }

    /// Equal loads all round: their compliances, which are not balanced alone, are positive definite too.
    #[test]
    fn compliances_all_round_are_positive_definite() {
        for (wall, count) in [(0.5, 120), (5.0, 72), (5.0, 240), (20.0, 120)] {
            let kernels = RingKernels::new(ring(wall));
            let end = |k: usize| TAU * k as f64 / count as f64;
            for surface in Surface::BOTH {
                let loads: Vec<RingLoad> = (0..count)
                    .map(|k| shape_function(&kernels, surface, [end(k), end(k + 1), end(k + 2)]))
                    .collect();
                let row: Vec<f64> = loads
                    .iter()
                    .map(|l| kernels.compliance(&loads[0], l))
                    .collect();
                let all =
                    nalgebra::DMatrix::from_fn(count, count, |i, j| row[(j + count - i) % count]);
                let least = nalgebra::SymmetricEigen::new(all).eigenvalues.min();
                assert!(least > 0.0, "{wall} {surface:?} {count}: {least:e}");
            }
        }
    }

    /// Dead patches of uniform pressure have a plain Fourier series.
    #[test]
    fn patches_are_those_of_the_series() {
        for (wall, half_angle) in [(5.0, 0.1), (0.5, 0.03), (15.0, 0.02)] {
            let annulus = ring(wall);
            let kernels = RingKernels::new(annulus);
            let profiles = Profiles::new(&kernels, 3600);
            for surface in Surface::BOTH {
                let dead = RadialLoad::ring_of(3, surface, half_angle, 100.0);
                let loads: Vec<RingLoad> = dead
                    .iter()
                    .map(|d| {
                        let density = d.force / (2.0 * half_angle.sin());
                        let segment = Segment {
                            from: d.angle - half_angle,
                            to: d.angle + half_angle,
                            density: [density, density],
                        };
                        kernels.load(surface, &[segment])
                    })
                    .collect();
                let all: Vec<&RingLoad> = loads.iter().collect();
                let mut ring = Ring::new(Arc::new(kernels.clone()), &[]);
                let u = ring.profile(
                    &profiles,
                    &[],
                    &all,
                    &PerSurface::default(),
                    [0.0; 2],
                    &Surface::BOTH,
                );
                let series = Response::new(&annulus, &dead, 6000);
                for read in Surface::BOTH {
                    let exact = series.circle(annulus.radius(read));
                    let u = u.get(read);
                    let size = u.iter().fold(0.0_f64, |m, x| m.max(x.abs()));
                    for k in (0..3600).step_by(7) {
                        let theta = TAU * k as f64 / 3600.0;
                        let e = exact.at(theta).radial_displacement;
                        assert!(
                            (u[k] - e).abs() < 1e-4 * size,
                            "{wall} {surface:?} {read:?} {k}: {} {e}",
                            u[k]
                        );
                    }
                }
            }
        }
    }
}
