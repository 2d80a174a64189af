//! One step on one mesh: hold, cut, release.

use std::sync::Arc;

use super::cutting::Cutting;
use super::inspect::StateOf;
use super::plan::Plan;
use super::sample::{Sampler, at_lines, difference, flexing_of, moved, profile, roundness};
use super::statics::{ResidualStress, doubt, energy, free, growth_stress, left_over, sparse};
use super::{CutOutcome, PROFILE_POINTS, ProcessError, Radii, StressSummary};
use crate::case::{Case, CentreOn, Part, ResidualHoopStress, Step, Tolerance};
use crate::contact::{Clamp, Clamped, ContactError};
use crate::element::{self, PlaneStress};
use crate::geometry::{Outline, PerSurface, SampledOutline, Surface};
use crate::linear::{Cholesky, Factor, Layout, LinearError, Repeated, rigid_pins};
use crate::mesh::Mesh;
use crate::metrology::{Profile, least_squares_circle};
use crate::scheme::{Section, Supports};
use crate::series::Annulus;
use crate::watch::{Aim, Progress, State, Watch};

/// The part between steps: one stress-free reference body serves all of them.
#[derive(Clone, Debug)]
pub(super) struct Body {
    /// Outlines of the stress-free reference.
    pub outlines: PerSurface<Outline>,
    /// Nominal radii: as drawn, or as last cut, mm.
    pub nominal: PerSurface<f64>,
    /// Nominal radii of the stock, between which the residual stress is linear.
    pub stock_nominal: PerSurface<f64>,
    /// Residual stress that is still in the metal.
    pub residual: Option<ResidualHoopStress>,
    /// Angles where an outline has a kink, rad.
    pub kinks: Vec<f64>,
}

impl Body {
    pub fn new(part: &Part) -> Self {
        let nominal = PerSurface::from_fn(|s| part.stock.get(s).radius);
        Self {
            outlines: reference(part),
            nominal: nominal.clone(),
            stock_nominal: nominal,
            residual: part.residual,
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

/// A case being run.
#[derive(Clone, Copy)]
pub(super) struct Job<'a> {
    pub case: &'a Case,
    /// Who hears how far the run is.
    pub watch: &'a dyn Watch,
    /// What steps are solved for.
    pub aim: Aim,
}

/// The shape that settles to the drawing's under the residual stress: the drawing is of the part as it lies there.
fn reference(part: &Part) -> PerSurface<Outline> {
    let settled = part.residual.map_or(PerSurface::default(), |stress| {
        let ring = Annulus {
            inner_radius: part.stock.bore.radius,
            outer_radius: part.stock.outer.radius,
            young_modulus: part.material.young_modulus,
            poisson_ratio: part.material.poisson_ratio,
            length: part.length,
        };
        ring.settled(stress.outer, stress.bore)
    });
    PerSurface::from_fn(|s| {
        let mut stock = part.stock.get(s).clone();
        stock.radius -= settled.get(s);
        Outline::Stock(stock)
    })
}

/// What a step is solved with, beside the mesh.
pub(super) struct Setting<'a> {
    pub part: &'a Part,
    pub body: &'a Body,
    pub step: &'a Step,
    pub supports: &'a [Supports],
    pub accuracy: f64,
    /// The drawing's limits: what they allow bears on what accuracy is worth asking for.
    pub tolerance: &'a Tolerance,
    /// Index of the step, for messages.
    pub index: usize,
    pub watch: &'a dyn Watch,
    /// Where a solve of this step starts; its mesh is not known yet.
    pub start: Progress,
}

/// Outlines to start the cuts from: those of a like step, scaled.
pub(super) struct Guess<'a> {
    /// One outline a cut.
    pub cuts: &'a [SampledOutline],
    /// Share of their deviation from the tool's circle.
    pub share: f64,
    /// What carried in the hold.
    pub held: Option<&'a Clamped>,
}

impl<'a> Guess<'a> {
    /// The outlines of the same step on another mesh.
    pub fn of(solved: &'a Solved) -> Self {
        Self {
            cuts: &solved.cut_outlines,
            share: 1.0,
            held: Some(&solved.held),
        }
    }
}

/// The body that a hold closes on: its factor and the mesh it is of.
#[derive(Clone, Copy)]
pub(super) struct Against<'a> {
    pub factor: &'a dyn Factor,
    pub mesh: &'a Mesh,
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
    /// The hold as it stands while metal goes: travels that keep their position are locked.
    pub clamp_after_clamping: Clamp,
    /// Stress after each cut but the last.
    pub stress_between_cuts: Vec<StressSummary>,
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
    /// Where the spindle axis lies in the part's frame, mm.
    pub spindle: [f64; 2],
}

impl<'a> Setting<'a> {
    /// A step of a case on the part as it stands.
    pub fn new(
        job: Job<'a>,
        body: &'a Body,
        step: &'a Step,
        supports: &'a [Supports],
        index: usize,
    ) -> Self {
        let case = job.case;
        Self {
            part: &case.part,
            body,
            step,
            supports,
            accuracy: case.accuracy,
            tolerance: &case.tolerance,
            index,
            watch: job.watch,
            start: Progress {
                step: index + 1,
                steps: case.steps.len(),
                aim: job.aim,
                state: State::Held,
                mesh: [0, 0],
                round: 0,
            },
        }
    }

    /// Tells the watch where the solve is. An error if it is to end here.
    pub fn tell(&self, at: &Progress) -> Result<(), ProcessError> {
        self.watch
            .at(at)
            .map_err(|stop| ProcessError::stopped(stop, at))
    }

    /// Where a solve on a mesh of this plan starts.
    fn starts(&self, plan: &Plan) -> Progress {
        Progress {
            mesh: [plan.ends.len(), plan.layers.len() - 1],
            ..self.start
        }
    }

    /// Clamps a body, telling the watch of every round.
    pub fn clamped(
        &self,
        clamp: &Clamp,
        against: Against,
        load: Option<&[[f64; 2]]>,
        start: Option<&Clamped>,
        at: &Progress,
    ) -> Result<Clamped, ProcessError> {
        self.tell(at)?;
        let gap_surface = |s: Surface, t: f64| self.body.outlines.get(s).radius(t);
        let rounds = |round: usize| self.watch.at(&Progress { round, ..*at });
        clamp
            .clamp(
                against.factor,
                against.mesh,
                &gap_surface,
                load,
                start,
                &rounds,
            )
            .map_err(|e| self.contact(e, at))
    }

    pub fn law(&self) -> PlaneStress {
        PlaneStress {
            young_modulus: self.part.material.young_modulus,
            poisson_ratio: self.part.material.poisson_ratio,
            thickness: self.part.length,
        }
    }

    /// Least out-of-roundness of a surface that the accuracy asked is measured against, mm. A surface that comes out round by
    /// construction has a value near zero, which no mesh gives to a relative accuracy, and which nobody could tell from zero.
    pub fn least_measured(&self, surface: Surface) -> f64 {
        let zones = [
            self.tolerance.roundness,
            self.tolerance.surfaces.get(surface).roundness,
        ];
        let zone = zones.into_iter().flatten().reduce(f64::min);
        (RADIUS_SHARE * self.body.nominal.get(surface)).max(ZONE_SHARE * zone.unwrap_or(0.0))
    }

    fn residual(&self) -> Option<ResidualStress> {
        self.body.residual.map(|stress| ResidualStress {
            stress,
            nominal: self.body.stock_nominal.clone(),
        })
    }

    /// Solves the step on a mesh, its cuts from a guess if there is one.
    pub fn solve(&self, plan: &Plan, guess: Option<&Guess>) -> Result<Solved, ProcessError> {
        let at = self.starts(plan);
        self.tell(&at)?;
        let law = self.law();
        let residual = self.residual();
        let mut mesh = Mesh::build(&self.body.outlines, &plan.ends, &plan.layers, true)?;
        let factor = self.factor(&mesh, &law)?;
        let factor = factor.as_ref();
        let sampler = Sampler::new(&mesh, PROFILE_POINTS);

        let reference = PerSurface::from_fn(|s| profile(self.body.outlines.get(s)));
        let load = residual.as_ref().map(|r| r.load(&mesh, &law));
        let relaxed = load.as_ref().map(|f| free(factor, &mesh, f)).transpose()?;
        let stock = moved(&sampler, &mesh, &reference, relaxed.as_deref());
        let clamp = self.clamp(&mesh, relaxed.as_deref())?;
        let against = Against {
            factor,
            mesh: &mesh,
        };
        let start = guess.and_then(|g| g.held);
        let held = self.clamped(&clamp, against, load.as_deref(), start, &at)?;
        self.check_presses(&clamp, &held, false)?;
        let held_shape = moved(&sampler, &mesh, &reference, Some(&held.displacement));
        let held_displacement =
            PerSurface::from_fn(|s| difference(held_shape.get(s), stock.get(s)));
        let balance = left_over(factor, &mesh, &held);
        let energy = energy(factor, &mesh, &held, clamp.grown());
        let stock_mesh = Arc::new(mesh.clone());
        let spindle = self.spindle(&held_shape);

        let mut flexing = flexing_of(&held_displacement, &stock);
        let mut cutting = Cutting {
            setting: self,
            at,
            spindle,
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
        let mut stress_between_cuts = Vec::new();
        for (k, cut) in self.step.cuts.iter().enumerate() {
            let (outcome, kinks) = cutting.cut(k, cut, guess)?;
            let radii = cutting.lines.get(cut.surface).clone();
            let outline = SampledOutline::new(stock_mesh.angles().to_vec(), radii);
            *body.outlines.get_mut(cut.surface) = Outline::Sampled(outline.clone());
            cut_outlines.push(outline);
            body.nominal
                .get_mut(cut.surface)
                .clone_from(&(0.5 * cut.diameter));
            body.kinks.extend(kinks);
            cuts.push(outcome);
            if k + 1 < self.step.cuts.len() {
                let state = StateOf {
                    clamp: &cutting.clamp,
                    clamped: &cutting.state,
                    mesh: cutting.mesh,
                    body: &body,
                };
                stress_between_cuts.push(state.stress_summary(self));
            }
        }
        let Cutting {
            state,
            lines,
            sampled,
            unsettled,
            factor: mut factor_of_cut,
            clamp: clamp_of_cut,
            ..
        } = cutting;
        // only now: a part that flexes past all sense has said so by then
        self.check_corners(&clamp, &held)?;
        self.check_corners(&clamp_of_cut, &state)?;
        self.check_presses(&clamp_of_cut, &state, true)?;

        let mut cut = None;
        let mut relaxed_cut = relaxed.clone();
        let mut released = stock.clone();
        if !cuts.is_empty() {
            let from_spindle =
                self.distances(spindle, &sampler, &mesh, &sampled, &state.displacement);
            mesh.fit_radii(&lines)?;
            if let Some(r) = &residual {
                let factor = sparse(&mut factor_of_cut, &mesh, &law)?;
                relaxed_cut = Some(free(factor, &mesh, &r.load(&mesh, &law))?);
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
        }?;
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
            clamp_after_clamping: clamp_of_cut,
            stress_between_cuts,
            relaxed: relaxed_cut,
            released,
            body,
            driving,
            unsettled,
            doubt,
            flexing,
            balance,
            energy,
            spindle,
        })
    }

    /// Solves the hold alone: where does it touch? What carried on another mesh is tried first.
    pub fn hold(&self, plan: &Plan, start: Option<&Clamped>) -> Result<Clamped, ProcessError> {
        let at = self.starts(plan);
        self.tell(&at)?;
        let law = self.law();
        let mesh = Mesh::build(&self.body.outlines, &plan.ends, &plan.layers, true)?;
        let factor = self.factor(&mesh, &law)?;
        let load = self.residual().map(|r| r.load(&mesh, &law));
        let against = Against {
            factor: factor.as_ref(),
            mesh: &mesh,
        };
        self.clamped(
            &self.clamp(&mesh, None)?,
            against,
            load.as_deref(),
            start,
            &at,
        )
    }

    /// Factors a mesh of the body as it stands: from repeated pieces if it is round, else the sparse way.
    fn factor(&self, mesh: &Mesh, law: &PlaneStress) -> Result<Box<dyn Factor>, ProcessError> {
        let round = Surface::BOTH
            .into_iter()
            .all(|s| self.body.outlines.get(s).as_round().is_some());
        if round {
            match Repeated::new(mesh, law) {
                Err(LinearError::ManyPieces) => {}
                made => return Ok(Box::new(made?)),
            }
        }
        let layout = Arc::new(Layout::new(mesh, &rigid_pins(mesh)));
        Ok(Box::new(Cholesky::new(layout, mesh, law)?))
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
        let section = self.body.section(self.part.length);
        let growth =
            self.part.material.poisson_ratio / (self.part.material.young_modulus * section.area());
        Clamp::new(self.supports, self.step.force_scale, section, &surface)
            .map(|clamp| clamp.growing(growth))
            .map_err(|e| self.contact(e, &self.start))
    }

    /// Where the spindle axis lies in the part's frame, mm: off the chuck's axis, or off the centre of the held surface that was
    /// set to run true.
    fn spindle(&self, held: &Radii) -> [f64; 2] {
        let [x, y] = match self.step.centre_on {
            CentreOn::Jaws => [0.0, 0.0],
            CentreOn::Surface(s) => least_squares_circle(&Profile::equal(held.get(s))).centre,
        };
        let [dx, dy] = self.step.spindle_offset;
        [x + dx, y + dy]
    }

    /// Distance of the moved surface points from the spindle axis.
    fn distances(
        &self,
        centre: [f64; 2],
        sampler: &Sampler,
        mesh: &Mesh,
        sampled: &Radii,
        u: &[[f64; 2]],
    ) -> Radii {
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

    /// Refuses a hold in which nothing presses on the part.
    fn check_presses(&self, clamp: &Clamp, state: &Clamped, cut: bool) -> Result<(), ProcessError> {
        let young = self.part.material.young_modulus;
        clamp
            .check_presses(state, young, cut)
            .map_err(|e| self.contact(e, &self.start))
    }

    /// Refuses pads that would run into each other when closed.
    fn check_corners(&self, clamp: &Clamp, state: &Clamped) -> Result<(), ProcessError> {
        clamp
            .corners(state)
            .map_err(|e| self.contact(e, &self.start))
    }

    /// What a contact that has no answer is to the user, met at this place.
    pub fn contact(&self, error: ContactError, at: &Progress) -> ProcessError {
        ProcessError::of_contact(error, at, self.index)
    }

    /// Nodal stress `[xx, yy, xy]`, MPa, averaged over the elements that meet at each node.
    /// `growth` is the strain by which the ends' clamp has made the part grow.
    pub fn stress(
        &self,
        mesh: &Mesh,
        displacement: Option<&[[f64; 2]]>,
        growth: f64,
    ) -> Vec<[f64; 3]> {
        let law = self.law();
        let residual = self.residual();
        let grown = growth_stress(&law, growth);
        let initial = |p: [f64; 2]| {
            let at = residual.as_ref().map_or([0.0; 3], |r| r.at(p));
            std::array::from_fn(|c| at[c] + grown[c])
        };
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

/// Share of a roundness tolerance below which no relative accuracy is asked for.
const ZONE_SHARE: f64 = 0.01;

/// Share of the radius below which none is: at the default accuracy that asks for a hundredth of a micrometre on a radius of 100 mm.
const RADIUS_SHARE: f64 = 1e-5;

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
