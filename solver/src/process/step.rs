//! One step on one mesh: hold, cut, release.

use std::sync::Arc;

use super::cut::{Mixing, ToolCircle};
use super::plan::Plan;
use super::sample::{Sampler, at_lines};
use super::{CutOutcome, PROFILE_POINTS, ProcessError, Radii};
use crate::case::{Cut, Part, ResidualHoopStress, Step};
use crate::contact::{Clamp, Clamped, ContactError, bore_means};
use crate::element::{self, PlaneStress};
use crate::geometry::{Outline, PerSurface, SampledOutline, Surface};
use crate::linear::{Cholesky, Factor, Layout, Repeated};
use crate::mesh::{Mesh, MeshError};
use crate::metrology::{Profile, least_squares_circle};
use crate::scheme::{Section, Supports};

/// Passes of a cut before it is given up.
const MOST_PASSES: usize = 30;

/// A cut stops when the outline changes by less than this share of the accuracy asked, times the roundness.
const SETTLED: f64 = 0.1;

/// Thinnest wall that a pass may leave, as a share of the wall before.
const THINNEST: f64 = 0.02;

/// The part between steps: one stress-free reference body serves all of them.
#[derive(Clone, Debug)]
pub(super) struct Body {
    /// Outlines of the stress-free reference.
    pub outlines: PerSurface<Outline>,
    /// Nominal radii: as drawn, or as last cut, mm.
    pub nominal: PerSurface<f64>,
    /// Nominal radii of the stock, between which the residual stress is linear.
    pub stock_nominal: PerSurface<f64>,
    /// Angles where an outline has a kink, rad.
    pub kinks: Vec<f64>,
}

impl Body {
    pub fn new(part: &Part) -> Self {
        let nominal = PerSurface::from_fn(|s| part.stock.get(s).radius);
        Self {
            outlines: part.outlines(),
            nominal: nominal.clone(),
            stock_nominal: nominal,
            kinks: Vec::new(),
        }
    }

    pub fn section(&self, length: f64) -> Section {
        Section {
            outer_radius: self.nominal.outer,
            bore_radius: self.nominal.bore,
            length,
        }
    }
}

/// What a step is solved with, beside the mesh.
pub(super) struct Setting<'a> {
    pub part: &'a Part,
    pub body: &'a Body,
    pub step: &'a Step,
    pub supports: &'a [Supports],
    pub accuracy: f64,
    /// Index of the step, for messages.
    pub index: usize,
}

/// Outlines to start the cuts from: those of a like step, scaled.
pub(super) struct Guess<'a> {
    /// One outline a cut.
    pub cuts: &'a [SampledOutline],
    /// Share of their deviation from the tool's circle.
    pub share: f64,
}

impl<'a> Guess<'a> {
    /// The outlines of the same step on another mesh.
    pub fn of(solved: &'a Solved) -> Self {
        Self {
            cuts: &solved.cut_outlines,
            share: 1.0,
        }
    }
}

/// A step solved on one mesh.
pub(super) struct Solved {
    /// Mesh of the body before the first cut, and after the last.
    pub mesh: Arc<Mesh>,
    pub cut_mesh: Arc<Mesh>,
    pub stock: Radii,
    pub clamp: Clamp,
    pub held: Clamped,
    pub held_shape: Radii,
    /// Radial displacement from the free stock shape, at [`PROFILE_POINTS`].
    pub held_displacement: Radii,
    pub cuts: Vec<CutOutcome>,
    /// The outline that each cut left, in the stress-free reference.
    pub cut_outlines: Vec<SampledOutline>,
    pub cut: Option<(Clamped, Radii)>,
    /// Displacement from the stress-free shape after release; `None` when it is zero.
    pub relaxed: Option<Vec<[f64; 2]>>,
    pub released: Radii,
    /// The part after the step.
    pub body: Body,
    /// Out-of-roundness that drives the accuracy, one value a surface, with its name.
    pub driving: Vec<(Surface, f64)>,
    /// Bound of the error left by the cut's iteration, mm.
    pub unsettled: f64,
    /// By how much the driving out-of-roundness may be off because strips are unresolved, mm.
    pub doubt: f64,
    /// Largest held radial displacement over the wall, before and after the cuts.
    pub flexing: f64,
    /// Largest left-over of `K u - f` on the held body: force, N, and moment, N mm.
    pub balance: [f64; 2],
    /// Strain energy of the held body, N mm.
    pub energy: f64,
}

impl Setting<'_> {
    fn law(&self) -> PlaneStress {
        PlaneStress {
            young_modulus: self.part.material.young_modulus,
            poisson_ratio: self.part.material.poisson_ratio,
            thickness: self.part.length,
        }
    }

    fn residual(&self) -> Option<ResidualStress> {
        self.part.residual.map(|stress| ResidualStress {
            stress,
            nominal: self.body.stock_nominal.clone(),
        })
    }

    /// Solves the step on a mesh, its cuts from a guess if there is one.
    pub fn solve(&self, plan: &Plan, guess: Option<&Guess>) -> Result<Solved, ProcessError> {
        let law = self.law();
        let residual = self.residual();
        let mut mesh =
            Mesh::build(&self.body.outlines, &plan.ends, &plan.layers, true).map_err(wall_error)?;
        let factor = self.factor(&mesh, &law)?;
        let factor = factor.as_ref();
        let sampler = Sampler::new(&mesh, PROFILE_POINTS);

        let reference = PerSurface::from_fn(|s| profile(self.body.outlines.get(s)));
        let load = residual.as_ref().map(|r| r.load(&mesh, &law));
        let relaxed = load.as_ref().map(|f| free(factor, &mesh, f));
        let stock = moved(&sampler, &mesh, &reference, relaxed.as_deref());
        let clamp = self.clamp(&mesh, relaxed.as_deref())?;
        let gap_surface = |s: Surface, t: f64| self.body.outlines.get(s).radius(t);
        let held = clamp
            .clamp(factor, &mesh, &gap_surface, load.as_deref(), None)
            .map_err(|e| self.contact(e))?;
        let held_shape = moved(&sampler, &mesh, &reference, Some(&held.displacement));
        let held_displacement =
            PerSurface::from_fn(|s| difference(held_shape.get(s), stock.get(s)));
        let balance = left_over(factor, &mesh, &held);
        let energy = 0.5 * work(&held.load, &held.displacement);
        let stock_mesh = Arc::new(mesh.clone());

        let mut flexing = flexing_of(&held_displacement, &stock);
        let mut cutting = Cutting {
            setting: self,
            law,
            residual: residual.as_ref(),
            sampler: &sampler,
            factor: None,
            mesh: &mut mesh,
            clamp: clamp.after_clamping(&held),
            state: held.clone(),
            lines: PerSurface::from_fn(|s| {
                stock_mesh
                    .angles()
                    .iter()
                    .map(|&t| self.body.outlines.get(s).radius(t))
                    .collect()
            }),
            sampled: reference.clone(),
            unsettled: 0.0,
        };
        let mut body = self.body.clone();
        let mut cuts = Vec::new();
        let mut cut_outlines = Vec::new();
        for (k, cut) in self.step.cuts.iter().enumerate() {
            let (outcome, kinks) = cutting.cut(k, cut, guess)?;
            let radii = cutting.lines.get(cut.surface).clone();
            cut_outlines.push(SampledOutline::new(stock_mesh.angles().to_vec(), radii));
            body.nominal
                .get_mut(cut.surface)
                .clone_from(&(0.5 * cut.diameter));
            body.kinks.extend(kinks);
            cuts.push(outcome);
        }
        let Cutting {
            state,
            lines,
            sampled,
            unsettled,
            factor: mut factor_of_cut,
            ..
        } = cutting;

        let mut cut = None;
        let mut relaxed_cut = relaxed.clone();
        let mut released = stock.clone();
        if !cuts.is_empty() {
            for surface in cut_surfaces(self.step) {
                *body.outlines.get_mut(surface) = Outline::Sampled(SampledOutline::new(
                    mesh.angles().to_vec(),
                    lines.get(surface).clone(),
                ));
            }
            let from_spindle = self.distances(&sampler, &mesh, &sampled, &state.displacement);
            mesh.fit_radii(&lines).map_err(wall_error)?;
            if let Some(r) = &residual {
                let factor = sparse(&mut factor_of_cut, &mesh, &law)?;
                relaxed_cut = Some(free(factor, &mesh, &r.load(&mesh, &law)));
            }
            released = moved(&sampler, &mesh, &sampled, relaxed_cut.as_deref());
            let flexed = PerSurface::from_fn(|s| {
                sampler
                    .displacement(&mesh, s, &state.displacement)
                    .iter()
                    .map(|u| u[0])
                    .collect::<Vec<_>>()
            });
            flexing = flexing.max(flexing_of(&flexed, &released));
            cut = Some((state, from_spindle));
        }
        let driving = if cuts.is_empty() {
            Surface::BOTH
                .map(|s| (s, roundness(held_shape.get(s))))
                .to_vec()
        } else {
            cut_surfaces(self.step)
                .into_iter()
                .map(|s| (s, roundness(released.get(s))))
                .collect::<Vec<_>>()
        };
        // a cut prints the finished body's displacement with its sign changed
        let doubt = match (&cut, &factor_of_cut) {
            (Some((state, _)), Some(factor)) => {
                doubt(factor, &mesh, &sampler, state, &released, -1.0, &driving)
            }
            _ => doubt(
                factor,
                &stock_mesh,
                &sampler,
                &held,
                &held_shape,
                1.0,
                &driving,
            ),
        };
        Ok(Solved {
            mesh: stock_mesh,
            cut_mesh: Arc::new(mesh),
            stock,
            clamp,
            held,
            held_shape,
            held_displacement,
            cuts,
            cut_outlines,
            cut,
            relaxed: relaxed_cut,
            released,
            body,
            driving,
            unsettled,
            doubt,
            flexing,
            balance,
            energy,
        })
    }

    /// Solves the hold alone: where does it touch?
    pub fn hold(&self, plan: &Plan) -> Result<Clamped, ProcessError> {
        let law = self.law();
        let mesh =
            Mesh::build(&self.body.outlines, &plan.ends, &plan.layers, true).map_err(wall_error)?;
        let factor = self.factor(&mesh, &law)?;
        let load = self.residual().map(|r| r.load(&mesh, &law));
        let gap_surface = |s: Surface, t: f64| self.body.outlines.get(s).radius(t);
        self.clamp(&mesh, None)?
            .clamp(factor.as_ref(), &mesh, &gap_surface, load.as_deref(), None)
            .map_err(|e| self.contact(e))
    }

    /// Factors a mesh of the body as it stands: from repeated pieces if it is round, else the sparse way.
    fn factor(&self, mesh: &Mesh, law: &PlaneStress) -> Result<Box<dyn Factor>, ProcessError> {
        let round = Surface::BOTH
            .into_iter()
            .all(|s| self.body.outlines.get(s).as_round().is_some());
        Ok(if round {
            Box::new(Repeated::new(mesh, law).map_err(not_trustworthy)?)
        } else {
            let layout = Arc::new(Layout::new(mesh, &rigid_pins(mesh)));
            Box::new(Cholesky::new(layout, mesh, law).map_err(not_trustworthy)?)
        })
    }

    fn clamp(&self, mesh: &Mesh, relaxed: Option<&[[f64; 2]]>) -> Result<Clamp, ProcessError> {
        // jaws first touch the free shape, which residual stress has moved a little off the reference
        let free_shape = relaxed.map(|u| {
            PerSurface::from_fn(|s| {
                let radii = at_lines(mesh, s, u)
                    .iter()
                    .zip(mesh.angles())
                    .map(|(v, &t)| self.body.outlines.get(s).radius(t) + v[0])
                    .collect();
                Outline::Sampled(SampledOutline::new(mesh.angles().to_vec(), radii))
            })
        });
        let outlines = free_shape.as_ref().unwrap_or(&self.body.outlines);
        let surface = |s: Surface, t: f64| outlines.get(s).radius(t);
        Clamp::new(
            self.supports,
            self.step.force_scale,
            self.body.section(self.part.length),
            &surface,
        )
        .map_err(|e| self.contact(e))
    }

    /// Distance of the moved surface points from the spindle axis.
    fn distances(&self, sampler: &Sampler, mesh: &Mesh, sampled: &Radii, u: &[[f64; 2]]) -> Radii {
        let centre = self.step.spindle_offset;
        PerSurface::from_fn(|s| {
            sampler
                .displacement(mesh, s, u)
                .iter()
                .zip(sampled.get(s))
                .enumerate()
                .map(|(k, ([ur, ut], r))| {
                    let theta = std::f64::consts::TAU * k as f64 / sampler.len() as f64;
                    let (sin, cos) = theta.sin_cos();
                    let along = r + ur - (centre[0] * cos + centre[1] * sin);
                    let across = ut - (centre[1] * cos - centre[0] * sin);
                    along.hypot(across)
                })
                .collect()
        })
    }

    pub fn contact(&self, error: ContactError) -> ProcessError {
        let input = |message: String| ProcessError::Input {
            line: self.step.line,
            field: format!("step[{}].hold", self.index),
            message,
        };
        match error {
            ContactError::Loose { .. } | ContactError::FaceTooNarrow { .. } => {
                input(error.to_string())
            }
            _ => not_trustworthy(error),
        }
    }
}

/// The part being cut, pass by pass.
struct Cutting<'a, 'b> {
    setting: &'a Setting<'b>,
    law: PlaneStress,
    residual: Option<&'a ResidualStress>,
    sampler: &'a Sampler,
    /// Made for the first pass; later passes reuse its analysis.
    factor: Option<Cholesky>,
    mesh: &'a mut Mesh,
    clamp: Clamp,
    state: Clamped,
    /// Radii of the reference at the lattice lines.
    lines: Radii,
    /// The same at [`PROFILE_POINTS`] angles, kinks not smeared over an element.
    sampled: Radii,
    unsettled: f64,
}

impl Cutting<'_, '_> {
    fn cut(
        &mut self,
        index: usize,
        cut: &Cut,
        guess: Option<&Guess>,
    ) -> Result<(CutOutcome, Vec<f64>), ProcessError> {
        let circle = ToolCircle {
            surface: cut.surface,
            radius: 0.5 * cut.diameter,
            centre: self.setting.step.spindle_offset,
        };
        let stock = self.lines.get(cut.surface).clone();
        let other = self.lines.get(opposite(cut.surface)).clone();
        let wall =
            |r: &[f64]| -> Vec<f64> { r.iter().zip(&other).map(|(a, b)| (a - b).abs()).collect() };
        let before = mean(&wall(&stock));
        let target = |at: &[[f64; 2]], angles: &[f64]| -> Vec<f64> {
            at.iter()
                .zip(angles)
                .map(|(&u, &t)| circle.reference_radius(t, u))
                .collect()
        };
        let leave = |t: &[f64]| -> Vec<f64> {
            stock
                .iter()
                .zip(t)
                .map(|(&s, &t)| circle.leave(s, t))
                .collect()
        };

        let angles = self.mesh.angles().to_vec();
        let mut x = leave(
            &match guess.and_then(|g| Some((g.cuts.get(index)?, g.share))) {
                Some((outline, share)) => angles
                    .iter()
                    .map(|&t| {
                        let circle = circle.reference_radius(t, [0.0, 0.0]);
                        circle + share * (outline.radius(t) - circle)
                    })
                    .collect::<Vec<f64>>(),
                None => {
                    // bending grows as the cube of the wall that is lost
                    let held = at_lines(self.mesh, cut.surface, &self.state.displacement);
                    let rough = leave(&target(&held, &angles));
                    let left = mean(&wall(&rough)).max(THINNEST * before);
                    let growth = (before / left).powi(3).min(8.0);
                    let grown: Vec<[f64; 2]> = held.iter().map(|u| u.map(|x| growth * x)).collect();
                    target(&grown, &angles)
                }
            },
        );
        self.check_wall(index, cut, &x, &other, before)?;

        let mut mixing = Mixing::default();
        let mut settled = None;
        let mut change = f64::INFINITY;
        for _ in 0..MOST_PASSES {
            self.pass(cut.surface, &x)?;
            let u = at_lines(self.mesh, cut.surface, &self.state.displacement);
            let g = leave(&target(&u, &angles));
            change = g
                .iter()
                .zip(&x)
                .map(|(a, b)| (a - b).abs())
                .fold(0.0, f64::max);
            let targets: Vec<f64> = self
                .sampler
                .displacement(self.mesh, cut.surface, &self.state.displacement)
                .iter()
                .enumerate()
                .map(|(k, &v)| circle.reference_radius(sample_angle(k), v))
                .collect();
            let left: Vec<f64> = self
                .sampled
                .get(cut.surface)
                .iter()
                .zip(&targets)
                .map(|(&s, &t)| circle.leave(s, t))
                .collect();
            if change.is_nan() {
                return Err(not_trustworthy("the cut's passes gave no number"));
            }
            let scale = roundness(&left).max(1e-6 * circle.radius);
            if change <= SETTLED * self.setting.accuracy * scale {
                settled = Some((g, targets, left));
                break;
            }
            x = leave(&mixing.next(&x, &g));
            self.check_wall(index, cut, &x, &other, before)?;
        }
        let Some((lines, targets, left)) = settled else {
            return Err(ProcessError::NotTrustworthy {
                message: format!(
                    "the cut did not settle in {MOST_PASSES} passes (last change {change:.2e} mm): the part flexes by \
                     {:.2} of its wall; use less force or better support",
                    self.flexing(before)
                ),
            });
        };
        self.unsettled = self.unsettled.max(change);

        let before_cut = std::mem::replace(self.sampled.get_mut(cut.surface), left);
        let depths: Vec<f64> = before_cut
            .iter()
            .zip(&targets)
            .map(|(&s, &t)| circle.depth(s, t))
            .collect();
        let deepest = depths.iter().copied().fold(0.0, f64::max);
        if deepest <= 1e-9 * circle.radius {
            return Err(self.input(
                index,
                cut,
                format!(
                    "this cut removes nothing: held, the {} already lies {} {:.3} mm everywhere",
                    cut.surface.name(),
                    if cut.surface == Surface::Outer {
                        "inside diameter"
                    } else {
                        "outside diameter"
                    },
                    cut.diameter
                ),
            ));
        }
        *self.lines.get_mut(cut.surface) = lines;
        let shallowest = depths.iter().copied().fold(f64::INFINITY, f64::min);
        let (cleaned_up, kinks) = reached(&depths);
        let outcome = CutOutcome {
            surface: cut.surface,
            diameter: cut.diameter,
            cleaned_up,
            depth_min: shallowest.max(0.0),
            depth_max: deepest,
            stock_to_clean_up: 2.0 * (-shallowest).max(0.0),
        };
        Ok((outcome, kinks))
    }

    /// Moves the outline, factors again, clamps again.
    fn pass(&mut self, surface: Surface, radii: &[f64]) -> Result<(), ProcessError> {
        let mut lines = self.lines.clone();
        *lines.get_mut(surface) = radii.to_vec();
        self.mesh.fit_radii(&lines).map_err(wall_error)?;
        let factor = sparse(&mut self.factor, self.mesh, &self.law)?;
        let load = self.residual.map(|r| r.load(self.mesh, &self.law));
        let gap_surface = |s: Surface, t: f64| self.setting.body.outlines.get(s).radius(t);
        self.state = self
            .clamp
            .clamp(
                factor,
                self.mesh,
                &gap_surface,
                load.as_deref(),
                Some(&self.state.active),
            )
            .map_err(|e| self.setting.contact(e))?;
        Ok(())
    }

    fn check_wall(
        &self,
        index: usize,
        cut: &Cut,
        radii: &[f64],
        other: &[f64],
        before: f64,
    ) -> Result<(), ProcessError> {
        let outward = cut.surface.outward();
        let thin = radii
            .iter()
            .zip(other)
            .zip(self.mesh.angles())
            .map(|((r, o), t)| (outward * (r - o), *t))
            .min_by(|a, b| a.0.total_cmp(&b.0));
        let Some((wall, theta)) = thin else {
            return Ok(());
        };
        if wall > THINNEST * before {
            return Ok(());
        }
        let flexing = self.flexing(before);
        let place = theta.to_degrees().rem_euclid(360.0);
        if flexing > 0.3 {
            return Err(ProcessError::NotTrustworthy {
                message: format!(
                    "the tool runs through the wall at {place:.1} deg while the part flexes by {flexing:.2} of its wall: \
                     use less force or better support"
                ),
            });
        }
        Err(self.input(
            index,
            cut,
            format!(
                "a cut to {:.3} mm leaves a wall of {wall:.3} mm at {place:.1} deg: it goes through the wall",
                cut.diameter
            ),
        ))
    }

    fn flexing(&self, wall: f64) -> f64 {
        Surface::BOTH
            .into_iter()
            .flat_map(|s| at_lines(self.mesh, s, &self.state.displacement))
            .map(|u| u[0].abs())
            .fold(0.0, f64::max)
            / wall
    }

    fn input(&self, index: usize, cut: &Cut, message: String) -> ProcessError {
        ProcessError::Input {
            line: cut.line,
            field: format!("step[{}].cut[{index}].diameter", self.setting.index),
            message,
        }
    }
}

/// Residual hoop stress of the stock, linear between its nominal radii.
struct ResidualStress {
    stress: ResidualHoopStress,
    nominal: PerSurface<f64>,
}

impl ResidualStress {
    /// Cartesian stress at a point of the reference, MPa.
    fn at(&self, [x, y]: [f64; 2]) -> [f64; 3] {
        let r = x.hypot(y);
        let f = (r - self.nominal.bore) / (self.nominal.outer - self.nominal.bore);
        let hoop = self.stress.bore + f * (self.stress.outer - self.stress.bore);
        let (c, s) = (x / r, y / r);
        [hoop * s * s, hoop * c * c, -hoop * s * c]
    }

    /// Nodal forces that let it relax, N.
    fn load(&self, mesh: &Mesh, law: &PlaneStress) -> Vec<[f64; 2]> {
        let mut load = vec![[0.0; 2]; mesh.nodes()];
        for column in 0..mesh.around() {
            for layer in 0..mesh.through() {
                let nodes = mesh.element_nodes(column, layer);
                let coords = nodes.map(|n| mesh.coords()[n]);
                let f = element::initial_stress_load(law, &coords, &|p| self.at(p));
                for (n, f) in nodes.into_iter().zip(f) {
                    load[n][0] += f[0];
                    load[n][1] += f[1];
                }
            }
        }
        load
    }
}

/// The sparse factor of a lattice whose nodes may have moved since it was last made.
fn sparse<'a>(
    factor: &'a mut Option<Cholesky>,
    mesh: &Mesh,
    law: &PlaneStress,
) -> Result<&'a Cholesky, ProcessError> {
    match factor {
        Some(made) => made.refactor(mesh, law),
        None => Cholesky::new(Arc::new(Layout::new(mesh, &rigid_pins(mesh))), mesh, law)
            .map(|f| *factor = Some(f)),
    }
    .map_err(not_trustworthy)?;
    Ok(factor.as_ref().expect("made above"))
}

/// Unknowns that hold a ring's three rigid motions without straining it: both of a bore node, and of the node
/// opposite the one across the line between them.
pub(super) fn rigid_pins(mesh: &Mesh) -> Vec<[usize; 2]> {
    let (a, b) = (mesh.node(0, 0), mesh.node(2 * (mesh.around() / 2), 0));
    let (ca, cb) = (mesh.coords()[a], mesh.coords()[b]);
    let across = usize::from((cb[0] - ca[0]).abs() > (cb[1] - ca[1]).abs());
    vec![[a, 0], [a, 1], [b, across]]
}

/// Displacement of the body without holds, free motions fixed by the contract's rule.
fn free(factor: &dyn Factor, mesh: &Mesh, load: &[[f64; 2]]) -> Vec<[f64; 2]> {
    let mut u = factor.solve(load);
    let spin: Vec<[f64; 2]> = mesh.coords().iter().map(|c| [-c[1], c[0]]).collect();
    let omega = -bore_means(mesh, &u)[2] / bore_means(mesh, &spin)[2];
    for (v, s) in u.iter_mut().zip(&spin) {
        v[0] += omega * s[0];
        v[1] += omega * s[1];
    }
    let mean = bore_means(mesh, &u);
    for v in &mut u {
        v[0] -= mean[0];
        v[1] -= mean[1];
    }
    u
}

/// Largest force left over at a node between `K u` and the loads, and the moment of all left-overs about the axis.
fn left_over(factor: &dyn Factor, mesh: &Mesh, held: &Clamped) -> [f64; 2] {
    let mut sum = [0.0; 2];
    let mut moment = 0.0;
    let mut worst = 0.0_f64;
    for ((k, f), c) in factor
        .forces(&held.displacement)
        .iter()
        .zip(&held.load)
        .zip(mesh.coords())
    {
        let d = [k[0] - f[0], k[1] - f[1]];
        sum[0] += d[0];
        sum[1] += d[1];
        moment += c[0] * d[1] - c[1] * d[0];
        worst = worst.max(d[0].abs()).max(d[1].abs());
    }
    [worst.max(sum[0].abs()).max(sum[1].abs()), moment.abs()]
}

/// Change of the driving out-of-roundness when the loads of unresolved strips are moved as far as the mesh leaves them in
/// doubt, mm. `sign` is how the shape follows the displacement.
fn doubt(
    factor: &dyn Factor,
    mesh: &Mesh,
    sampler: &Sampler,
    state: &Clamped,
    shape: &Radii,
    sign: f64,
    driving: &[(Surface, f64)],
) -> f64 {
    let moved = state.doubt();
    if moved.is_empty() {
        return 0.0;
    }
    let mut load = vec![[0.0; 2]; mesh.nodes()];
    for (node, f) in moved {
        load[node][0] += f[0];
        load[node][1] += f[1];
    }
    balance(mesh, &mut load);
    let u = factor.solve(&load);
    driving
        .iter()
        .map(|&(surface, before)| {
            let radii: Vec<f64> = sampler
                .displacement(mesh, surface, &u)
                .iter()
                .zip(shape.get(surface))
                .map(|(u, r)| r + sign * u[0])
                .collect();
            (roundness(&radii) - before).abs()
        })
        .fold(0.0, f64::max)
}

/// Spreads what a load leaves over as a force and a moment evenly over all nodes, so that no pin answers for it.
fn balance(mesh: &Mesh, load: &mut [[f64; 2]]) {
    let (mut force, mut moment, mut inertia) = ([0.0; 2], 0.0, 0.0);
    for (f, c) in load.iter().zip(mesh.coords()) {
        force[0] += f[0];
        force[1] += f[1];
        moment += c[0] * f[1] - c[1] * f[0];
        inertia += c[0] * c[0] + c[1] * c[1];
    }
    let n = load.len() as f64;
    for (f, c) in load.iter_mut().zip(mesh.coords()) {
        f[0] -= force[0] / n - moment / inertia * c[1];
        f[1] -= force[1] / n + moment / inertia * c[0];
    }
}

fn work(f: &[[f64; 2]], u: &[[f64; 2]]) -> f64 {
    f.iter()
        .zip(u)
        .map(|(a, b)| a[0] * b[0] + a[1] * b[1])
        .sum()
}

fn moved(sampler: &Sampler, mesh: &Mesh, reference: &Radii, u: Option<&[[f64; 2]]>) -> Radii {
    match u {
        None => reference.clone(),
        Some(u) => PerSurface::from_fn(|s| {
            sampler
                .displacement(mesh, s, u)
                .iter()
                .zip(reference.get(s))
                .map(|(v, r)| r + v[0])
                .collect()
        }),
    }
}

/// Surfaces cut in a step, each once, in order of their first cut.
pub(super) fn cut_surfaces(step: &Step) -> Vec<Surface> {
    let mut surfaces: Vec<Surface> = Vec::new();
    for cut in &step.cuts {
        if !surfaces.contains(&cut.surface) {
            surfaces.push(cut.surface);
        }
    }
    surfaces
}

fn opposite(surface: Surface) -> Surface {
    match surface {
        Surface::Outer => Surface::Bore,
        Surface::Bore => Surface::Outer,
    }
}

pub(super) fn sample_angle(k: usize) -> f64 {
    std::f64::consts::TAU * k as f64 / PROFILE_POINTS as f64
}

/// An outline at the sampled angles.
fn profile(outline: &Outline) -> Vec<f64> {
    match outline.as_round() {
        Some(r) => vec![r; PROFILE_POINTS],
        None => (0..PROFILE_POINTS)
            .map(|k| outline.radius(sample_angle(k)))
            .collect(),
    }
}

/// Out-of-roundness about the least-squares circle, mm.
pub(super) fn roundness(radii: &[f64]) -> f64 {
    least_squares_circle(&Profile::equal(radii)).roundness
}

fn mean(x: &[f64]) -> f64 {
    x.iter().sum::<f64>() / x.len() as f64
}

fn difference(a: &[f64], b: &[f64]) -> Vec<f64> {
    a.iter().zip(b).map(|(x, y)| x - y).collect()
}

/// Largest radial displacement over the mean wall.
fn flexing_of(displacement: &Radii, shape: &Radii) -> f64 {
    let wall = mean(&shape.outer) - mean(&shape.bore);
    let largest = displacement
        .outer
        .iter()
        .chain(&displacement.bore)
        .fold(0.0_f64, |m, u| m.max(u.abs()));
    largest / wall
}

/// Share of the turn where the depth is positive, crossings interpolated, and the angles of the crossings, rad.
fn reached(depths: &[f64]) -> (f64, Vec<f64>) {
    let n = depths.len();
    let mut share = 0.0;
    let mut kinks = Vec::new();
    for k in 0..n {
        let (a, b) = (depths[k], depths[(k + 1) % n]);
        match (a > 0.0, b > 0.0) {
            (true, true) => share += 1.0,
            (false, false) => {}
            (inside, _) => {
                let at = a / (a - b);
                share += if inside { at } else { 1.0 - at };
                kinks.push(sample_angle(k) + at * std::f64::consts::TAU / n as f64);
            }
        }
    }
    (share / n as f64, kinks)
}

fn wall_error(error: MeshError) -> ProcessError {
    not_trustworthy(error)
}

pub(super) fn not_trustworthy(error: impl std::fmt::Display) -> ProcessError {
    ProcessError::NotTrustworthy {
        message: error.to_string(),
    }
}

impl Setting<'_> {
    /// Nodal stress `[xx, yy, xy]`, MPa, averaged over the elements that meet at each node.
    pub fn stress(&self, mesh: &Mesh, displacement: Option<&[[f64; 2]]>) -> Vec<[f64; 3]> {
        let law = self.law();
        let residual = self.residual();
        let initial = |p: [f64; 2]| residual.as_ref().map_or([0.0; 3], |r| r.at(p));
        let mut sum = vec![[0.0; 3]; mesh.nodes()];
        let mut count = vec![0.0; mesh.nodes()];
        for column in 0..mesh.around() {
            for layer in 0..mesh.through() {
                let nodes = mesh.element_nodes(column, layer);
                let coords = nodes.map(|n| mesh.coords()[n]);
                let u = nodes.map(|n| displacement.map_or([0.0; 2], |u| u[n]));
                for (n, s) in nodes
                    .into_iter()
                    .zip(element::nodal_stress(&law, &coords, &u, &initial))
                {
                    for c in 0..3 {
                        sum[n][c] += s[c];
                    }
                    count[n] += 1.0;
                }
            }
        }
        sum.iter()
            .zip(&count)
            .map(|(s, n)| s.map(|x| x / n))
            .collect()
    }
}
