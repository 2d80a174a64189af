use super::integrals::logarithm;
use super::orbits::turned;
use super::*;
use crate::contact::pressure::Segment;
use crate::series::{Annulus, RadialLoad, Response};

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
            let all = nalgebra::DMatrix::from_fn(count, count, |i, j| row[(j + count - i) % count]);
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
            let mut ring = Ring::new(Arc::new(kernels.clone()), &[], WallId::PART);
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
