//! Displacement of both surfaces at equal angles: by convolution, put right near each load.

use std::f64::consts::TAU;

use super::APART;
use super::integrals::two_points;
use super::kernels::RingKernels;
use super::load::RingLoad;
use crate::contact::pressure::Segment;
use crate::fourier::{self, Complex64};
use crate::geometry::{PerSurface, Surface};

/// Cells on either side of a load within which its displacement is not taken from the grid.
const CELLS: f64 = 4.0;

/// Share of the wall (as an angle) up to which a load, or a few cells of the grid, are narrow to the other surface.
const ACROSS: f64 = 0.35;

/// Both surfaces at equal angles from 0: displacements of loads by convolution on that grid, and exactly near each load.
#[derive(Clone, Debug)]
pub(in crate::contact) struct Profiles {
    pub(super) count: usize,
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
    pub(super) fn far(
        &self,
        kernels: &RingKernels,
        loads: &[(&RingLoad, f64)],
        even: &PerSurface<f64>,
        [x, y]: [f64; 2],
        surfaces: &[Surface],
    ) -> PerSurface<Vec<f64>> {
        let n = self.count;
        let mut spectra: PerSurface<Option<Vec<Complex64>>> = PerSurface::default();
        // sums over all loads of each surface of what they bend
        let mut bending: PerSurface<Vec<[f64; 2]>> = PerSurface::default();
        for surface in Surface::BOTH {
            let mut grid = vec![0.0; n];
            let mut any = false;
            let lobes = bending.get_mut(surface);
            let here = |l: &&(&RingLoad, f64)| l.0.surface == surface && l.1 != 0.0;
            for &(load, size) in loads.iter().filter(here) {
                any = true;
                lobes.resize(load.bending.len(), [0.0; 2]);
                let sums = lobes.as_flattened_mut().iter_mut();
                for (sum, b) in sums.zip(load.bending.as_flattened()) {
                    *sum += size * b;
                }
                let mut add = |(k, w): (i64, f64)| {
                    grid[k.rem_euclid(n as i64) as usize] += w * size;
                };
                match self.is_wide(load) {
                    true => self.spread(surface, &load.rule).for_each(&mut add),
                    false => self.spread(surface, &load.far_points()).for_each(&mut add),
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
            for loaded in Surface::BOTH {
                let c = kernels.between(loaded, read).bending();
                let outward = -0.5 * loaded.outward();
                let lobes = sum.iter_mut().zip(c.iter().zip(bending.get(loaded)));
                for (k, (s, (c, [a, b]))) in lobes.enumerate() {
                    let both = if k == 0 { 2.0 } else { 1.0 };
                    *s += Complex64::new(*a, -b) * (both * outward * c);
                }
            }
            fourier::values(&sum, n)
        })
    }

    /// Whether a load is wide to the grid: its pieces are then spread one by one, so that each is put right close to itself.
    fn is_wide(&self, load: &RingLoad) -> bool {
        load.reach >= CELLS * TAU / self.count as f64 && load.segments.len() > 1
    }

    /// A load as the pieces that are spread on the grid.
    fn pieces<'l>(&self, load: &'l RingLoad) -> Vec<Piece<'l>> {
        if !self.is_wide(load) {
            return vec![Piece {
                segments: &load.segments,
                points: load.far_points(),
                centre: load.centre,
                reach: load.reach,
                widest: load.widest,
            }];
        }
        let of = |s: &'l Segment| Piece {
            segments: std::slice::from_ref(s),
            points: two_points(s).to_vec(),
            centre: 0.5 * (s.from + s.to),
            reach: 0.5 * (s.to - s.from),
            widest: s.to - s.from,
        };
        load.segments.iter().map(of).collect()
    }

    /// Points with areas on the grid: outward forces (N) on a few of its points with the same moments up to the third. Points may lie beyond the grid's ends.
    fn spread(&self, surface: Surface, points: &[(f64, f64)]) -> impl Iterator<Item = (i64, f64)> {
        let h = TAU / self.count as f64;
        let outward = -surface.outward();
        points.iter().flat_map(move |&(t, area)| {
            let x = t / h;
            let k = x.floor();
            let f = x - k;
            let (e, g, i) = (f + 1.0, f - 1.0, f - 2.0);
            let weights = [
                -f * g * i / 6.0,
                e * g * i / 2.0,
                -e * f * i / 2.0,
                e * f * g / 6.0,
            ];
            (k as i64 - 1..).zip(weights.map(|w| outward * area * w))
        })
    }

    /// What a unit of a load adds where the grid is not good enough: near it.
    pub(super) fn near(&self, kernels: &RingKernels, load: &RingLoad) -> Vec<Near> {
        let (n, h) = (self.count, TAU / self.count as f64);
        let wall = 2.0 * kernels.annulus.half_log_wall();
        let pieces = self.pieces(load);
        let reach = |p: &Piece| {
            let reach = CELLS * h + p.reach + (APART - 1.0) * p.widest;
            reach.min(0.5 * TAU - h)
        };
        let range = |p: &Piece| {
            let [from, to] = [p.centre - reach(p), p.centre + reach(p)];
            [(from / h).ceil() as i64, (to / h).floor() as i64]
        };
        let mut all = Vec::with_capacity(2);
        for read in Surface::BOTH {
            let across = |p: &Piece| p.reach.max(CELLS * h) > ACROSS * wall;
            let seen = |p: &&Piece| read == load.surface || across(p);
            let ranges = pieces.iter().filter(seen).map(range);
            let Some([first, last]) = ranges.reduce(|a, b| [a[0].min(b[0]), a[1].max(b[1])]) else {
                continue;
            };
            let grid = &self.grids[Self::index(load.surface, read)];
            // even about its first, so places are told from the piece's on, either way
            let at = |place: i64| {
                let away = place.unsigned_abs() as usize;
                grid[if away < n { away } else { away - n }]
            };
            let mut values = vec![0.0; (last - first + 1) as usize];
            for piece in pieces.iter().filter(seen) {
                let spread: Vec<(i64, f64)> = self.spread(load.surface, &piece.points).collect();
                let [from, to] = range(piece);
                for k in from..=to {
                    let on_grid: f64 = spread.iter().map(|&(m, w)| w * at(k - m)).sum();
                    let exact = kernels.displacement(load.surface, piece, read, k as f64 * h);
                    values[(k - first) as usize] += exact - on_grid;
                }
            }
            all.push(Near {
                read,
                first: first.rem_euclid(n as i64) as usize,
                values,
            });
        }
        all
    }
}

/// A load, or a part of it, as it is seen from some way off.
pub(super) struct Piece<'l> {
    pub(super) segments: &'l [Segment],
    /// Angles (rad) with areas (mm2) that stand for it.
    pub(super) points: Vec<(f64, f64)>,
    pub(super) centre: f64,
    /// Half of what it covers, and the width of its widest segment, rad.
    pub(super) reach: f64,
    pub(super) widest: f64,
}

/// What a unit load adds to a profile near it, from one point on, mm.
#[derive(Clone, Debug)]
pub(super) struct Near {
    pub(super) read: Surface,
    pub(super) first: usize,
    pub(super) values: Vec<f64>,
}

impl Near {
    pub(super) fn add(&self, size: f64, moved: &mut PerSurface<Vec<f64>>) {
        let profile = moved.get_mut(self.read);
        let n = profile.len();
        for (k, v) in self.values.iter().enumerate() {
            profile[(self.first + k) % n] += size * v;
        }
    }
}
