//! Equal rigid jaws with equal forces on a round ring.

use super::complementarity::Problem;
use super::compliance::{Compliance, cosine_sum, moments};
use super::nodes::{Arc, Fineness, first_scan, graded};
use super::series::{Annulus, HarmonicField, Traction};
use ringwright_solver::geometry::{PerSurface, Surface};
use ringwright_solver::scheme::Face;
use std::f64::consts::{PI, TAU};

/// `count` equal bodies at equal angles, the first at 0, each pressed on with `force`. Two at least.
#[derive(Clone, Copy, Debug)]
pub struct Jaws {
    /// The round ring.
    pub annulus: Annulus,
    /// Number of bodies.
    pub count: u32,
    /// The surface they press on.
    pub surface: Surface,
    /// Half of the arc a body covers, rad.
    pub half_angle: f64,
    /// Outline of a body.
    pub face: Face,
    /// Force of a body along its axis, N.
    pub force: f64,
}

/// The held ring.
#[derive(Clone, Debug)]
pub struct Answer {
    /// Approach: displacement of a body past first touch, mm.
    pub approach: f64,
    /// Arcs of contact on the positive half of a pad, rad from its axis; a start of 0 spans the axis.
    pub arcs: Vec<Arc>,
    /// Force of each of these arcs together with its mirror image, N.
    pub arc_forces: Vec<f64>,
    /// Out-of-roundness, mm.
    pub roundness: PerSurface<f64>,
    /// Largest pressure at a node, MPa; means nothing where a pad edge is loaded.
    pub peak_pressure: f64,
    /// Change of out-of-roundness and approach, relative, when the nodes were doubled: the error of the coarser of the two; this answer is
    /// the finer one.
    pub change: f64,
    /// Pressure nodes used.
    pub nodes: usize,
    jaws: Jaws,
    at: Vec<f64>,
    pressure: Vec<f64>,
}

impl Jaws {
    /// Gap at first touch, mm, at `t` (rad) from the body's axis, along the radius.
    pub fn gap(&self, t: f64) -> f64 {
        let r = self.annulus.radius(self.surface);
        let (s, c) = t.sin_cos();
        let edge = self.half_angle;
        // distance of the axis of a circular outline from the far side, such that the pad's edge just touches
        let edge_touch = |rho: f64| r * edge.cos() - (rho * rho - (r * edge.sin()).powi(2)).sqrt();
        let drop = 2.0 * (0.5 * t).sin().powi(2);
        match (self.surface, self.face) {
            // the parts that cancel are taken out first: rho - r may be a thousandth of r
            (Surface::Outer, Face::Concave { radius }) if radius >= r => {
                let x = r - radius;
                -x * drop - x * x * s * s / ((radius * radius - x * x * s * s).sqrt() + radius)
            }
            (Surface::Outer, Face::Concave { radius }) => {
                let x = edge_touch(radius);
                x * c + (radius * radius - x * x * s * s).sqrt() - r
            }
            (Surface::Outer, Face::Flat) => r * drop / c,
            (Surface::Outer, Face::Convex { radius }) => {
                let x = r + radius;
                let root = (radius * radius - x * x * s * s).sqrt();
                -x * drop + x * x * s * s / (root + radius)
            }
            (Surface::Bore, Face::Convex { radius }) if radius <= r => {
                let x = r - radius;
                x * drop + x * x * s * s / ((radius * radius - x * x * s * s).sqrt() + radius)
            }
            (Surface::Bore, Face::Convex { radius }) => {
                let x = edge_touch(radius);
                r - (x * c + (radius * radius - x * x * s * s).sqrt())
            }
            (Surface::Bore, Face::Flat) => r * (1.0 - edge.cos() / c),
            (Surface::Bore, Face::Concave { radius }) => {
                // curves away from the bore: only its edges can touch
                let depth = |t: f64| {
                    let y = r * t.sin();
                    radius - (radius * radius - y * y).sqrt()
                };
                r * c - r * edge.cos() + depth(t) - depth(edge)
            }
        }
    }

    /// Solves, regrades to the ends found, and solves again until they stay; then with twice the nodes.
    ///
    /// # Panics
    /// If the contact does not settle: this is a test's oracle.
    pub fn solve(&self) -> Answer {
        let compliance = Compliance::new(self.annulus, self.surface, self.count);
        let coarse = Fineness {
            elements: 24.0,
            growth: 1.3,
        };
        let fine = Fineness {
            elements: 48.0,
            growth: 1.14,
        };
        let mut nodes = first_scan(self.half_angle, coarse);
        let mut arcs: Vec<Arc> = Vec::new();
        let mut answer = None;
        for _ in 0..12 {
            let found = self.once(&compliance, &nodes, &arcs);
            let same = found.arcs.len() == arcs.len()
                && found.arcs.iter().zip(&arcs).all(|(a, b)| {
                    (a.start - b.start).abs().max((a.end - b.end).abs()) < 2e-3 * b.length()
                });
            arcs.clone_from(&found.arcs);
            nodes = graded(self.half_angle, &arcs, coarse);
            answer = Some(found);
            if same {
                break;
            }
        }
        let mut coarse = answer.expect("at least one pass was made");
        coarse.measure_roundness(&compliance);
        let nodes = graded(self.half_angle, &arcs, fine);
        let mut answer = self.once(&compliance, &nodes, &arcs);
        answer.measure_roundness(&compliance);
        let change = |a: f64, b: f64| (a / b - 1.0).abs();
        answer.change = change(coarse.approach, answer.approach)
            .max(change(coarse.roundness.outer, answer.roundness.outer))
            .max(change(coarse.roundness.bore, answer.roundness.bore));
        answer
    }

    fn once(&self, compliance: &Compliance, nodes: &[f64], arcs: &[Arc]) -> Answer {
        let rows = compliance.rows(nodes, nodes);
        let gap: Vec<f64> = nodes.iter().map(|&t| self.gap(t)).collect();
        let axis: Vec<f64> = nodes.iter().map(|t| t.cos()).collect();
        let both = 2.0 * compliance.force_density();
        let weights: Vec<f64> = moments(nodes, 1).iter().map(|m| both * m).collect();
        let start = nodes
            .iter()
            .map(|&t| {
                if arcs.is_empty() {
                    t < 0.02 * self.half_angle || t > 0.98 * self.half_angle
                } else {
                    arcs.iter().any(|a| a.start <= t && t <= a.end)
                }
            })
            .collect();
        let problem = Problem {
            compliance: &rows,
            gap: &gap,
            axis: &axis,
            weights: &weights,
            force: self.force,
        };
        let solved = problem.solve(start).expect("the contact set settles");
        let (arcs, arc_forces) = find_arcs(nodes, &solved.pressure, &solved.touching, &weights);
        Answer {
            approach: solved.approach,
            arcs,
            arc_forces,
            roundness: PerSurface::default(),
            peak_pressure: solved.pressure.iter().copied().fold(0.0, f64::max),
            change: f64::NAN,
            nodes: nodes.len(),
            jaws: *self,
            at: nodes.to_vec(),
            pressure: solved.pressure,
        }
    }
}

/// Runs of touching nodes; a free end lies where the square of the pressure, which falls like the distance, would be zero.
fn find_arcs(
    nodes: &[f64],
    pressure: &[f64],
    touching: &[bool],
    weights: &[f64],
) -> (Vec<Arc>, Vec<f64>) {
    let n = nodes.len();
    let vanish = |last: usize, before: Option<usize>, beyond: usize| {
        let Some(before) = before else {
            return 0.5 * (nodes[last] + nodes[beyond]);
        };
        let (p, q) = (pressure[last].powi(2), pressure[before].powi(2));
        let at = nodes[last] + p / (q - p) * (nodes[last] - nodes[before]);
        let (low, high) = (
            nodes[last].min(nodes[beyond]),
            nodes[last].max(nodes[beyond]),
        );
        if q > p {
            at.clamp(low, high)
        } else {
            nodes[beyond]
        }
    };
    let (mut arcs, mut forces) = (Vec::new(), Vec::new());
    let mut i = 0;
    while i < n {
        if !touching[i] {
            i += 1;
            continue;
        }
        let first = i;
        while i < n && touching[i] {
            i += 1;
        }
        let last = i - 1;
        let several = last > first;
        arcs.push(Arc {
            start: if first == 0 {
                0.0
            } else {
                vanish(first, several.then_some(first + 1), first - 1)
            },
            end: if last == n - 1 {
                nodes[n - 1]
            } else {
                vanish(last, several.then(|| last - 1), last + 1)
            },
        });
        forces.push((first..=last).map(|k| weights[k] * pressure[k]).sum());
    }
    (arcs, forces)
}

impl Answer {
    /// Mirror and N-fold symmetry put the least-squares centre on the axis, so half a pitch of readings tells: every tenth and all beside the ends of
    /// contact (a loaded edge leaves a dent narrower than ten readings), then all near the extremes.
    fn measure_roundness(&mut self, compliance: &Compliance) {
        let pitch = PI / f64::from(self.jaws.count);
        let samples = super::READINGS / (2 * self.jaws.count);
        let angle = |k: u32| (TAU * f64::from(k) / f64::from(super::READINGS)).min(pitch);
        self.roundness = PerSurface::from_fn(|surface| {
            let read = |readings: &[u32]| {
                let angles: Vec<f64> = readings.iter().map(|&k| angle(k)).collect();
                self.displacements_with(compliance, surface, &angles)
            };
            let dent = TAU / 360.0;
            let beside = |k: &u32| {
                let ends = self.arcs.iter().flat_map(|a| [a.start, a.end]);
                ends.into_iter().any(|end| (angle(*k) - end).abs() < dent)
            };
            let few: Vec<u32> = (0..=samples)
                .filter(|k| k % 10 == 0 || beside(k))
                .chain([samples + 1])
                .collect();
            let u = read(&few);
            let extreme = |sign: f64| {
                let best = (0..few.len())
                    .max_by(|&a, &b| (sign * u[a]).total_cmp(&(sign * u[b])))
                    .map_or(0, |k| few[k]);
                let near: Vec<u32> =
                    (best.saturating_sub(10)..=(best + 10).min(samples + 1)).collect();
                let u = read(&near);
                sign * u.iter().map(|u| sign * u).fold(f64::NEG_INFINITY, f64::max)
            };
            extreme(1.0) - extreme(-1.0)
        });
    }

    /// Radial displacement of a surface at angles (rad), mm, positive outwards.
    pub fn displacements(&self, surface: Surface, angles: &[f64]) -> Vec<f64> {
        let j = &self.jaws;
        let compliance = Compliance::new(j.annulus, j.surface, j.count);
        self.displacements_with(&compliance, surface, angles)
    }

    fn displacements_with(
        &self,
        compliance: &Compliance,
        surface: Surface,
        angles: &[f64],
    ) -> Vec<f64> {
        let j = &self.jaws;
        if surface == j.surface {
            // towards the metal is inwards outside and outwards in the bore
            return compliance
                .displacements(angles, &self.at, &self.pressure)
                .iter()
                .map(|v| -surface.outward() * v)
                .collect();
        }
        let terms = self.terms(45.0, |field| {
            field.at(j.annulus.radius(surface)).radial_displacement
        });
        self.sum(&terms, angles)
    }

    /// Hoop stress of the surface that is not gripped, MPa.
    pub fn free_hoop_stress(&self, angles: &[f64]) -> Vec<f64> {
        let j = &self.jaws;
        let free = match j.surface {
            Surface::Outer => Surface::Bore,
            Surface::Bore => Surface::Outer,
        };
        let terms = self.terms(60.0, |field| field.at(j.annulus.radius(free)).hoop_stress);
        self.sum(&terms, angles)
    }

    /// Signed cosine amplitude of `n` lobes (0: the mean) of a surface's radial displacement, mm; `n` a multiple of the number of bodies.
    pub fn harmonic(&self, surface: Surface, n: u32) -> f64 {
        let j = &self.jaws;
        self.pressure_harmonic(n)
            * unit_field(j, n)
                .at(j.annulus.radius(surface))
                .radial_displacement
    }

    /// Cosine coefficient of the pressure round the whole ring, MPa.
    fn pressure_harmonic(&self, n: u32) -> f64 {
        let j = &self.jaws;
        let sum: f64 = moments(&self.at, n)
            .iter()
            .zip(&self.pressure)
            .map(|(m, p)| m * p)
            .sum();
        let share = if n == 0 { 1.0 } else { 2.0 };
        share * f64::from(j.count) / PI * sum
    }

    fn sum(&self, terms: &[f64], angles: &[f64]) -> Vec<f64> {
        let n = f64::from(self.jaws.count);
        angles.iter().map(|t| cosine_sum(terms, n * t)).collect()
    }

    /// Cosine terms (multiples of the number of bodies) of a quantity that falls like `exp(-n L)`, cut where that is `exp(-reach)`.
    fn terms(&self, reach: f64, quantity: impl Fn(&HarmonicField) -> f64) -> Vec<f64> {
        let j = &self.jaws;
        let last = (reach / j.annulus.half_log_wall()) as u32;
        (0..=last)
            .step_by(j.count as usize)
            .map(|n| self.pressure_harmonic(n) * quantity(&unit_field(j, n)))
            .collect()
    }
}

fn unit_field(jaws: &Jaws, n: u32) -> HarmonicField {
    let pressure = Traction {
        radial: -1.0,
        tangential: 0.0,
    };
    match jaws.surface {
        Surface::Outer => HarmonicField::new(&jaws.annulus, n, pressure, Traction::default()),
        Surface::Bore => HarmonicField::new(&jaws.annulus, n, Traction::default(), pressure),
    }
}
