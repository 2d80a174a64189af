//! One step on one mesh: hold, cut, release.

use std::sync::Arc;

use super::cut::Unsettled;
use super::guess::Guess;
use super::plan::Plan;
use super::round::{Added, Kept};
use super::sample::at_lines;
use super::statics::{ResidualStress, growth_stress};
use super::{CutOutcome, Method, ProcessError, Radii, StressSummary};
use crate::case::{Case, CentreOn, Part, ResidualHoopStress, Step, Tolerance};
use crate::contact::{Clamp, Clamped, ContactError, KeptCompliances, MeshedPart};
use crate::element::{self, PlaneStress};
use crate::geometry::{Outline, PerSurface, SampledOutline, Surface};
use crate::linear::{Factor, over_arcs};
use crate::mesh::Mesh;
use crate::metrology::{Circle, Profile, least_squares_circle};
use crate::scheme::{Section, Supports};
use crate::series::Annulus;
use crate::watch::{Aim, Progress, State, Watch};

/// The part between steps: one stress-free reference body serves all of them.
#[derive(Clone, Debug)]
pub(super) struct PartBody {
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

impl PartBody {
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
    /// What is kept from solve to solve.
    pub kept: &'a Kept,
    /// What steps are solved by.
    pub method: Method,
    /// Whether of a step that cuts nothing shapes and contacts alone are wanted, and no stress.
    pub shapes_alone: bool,
}

/// A round ring of a part's metal between two radii, mm.
pub(super) fn annulus(part: &Part, radii: &PerSurface<f64>) -> Annulus {
    Annulus {
        inner_radius: radii.bore,
        outer_radius: radii.outer,
        young_modulus: part.material.young_modulus,
        poisson_ratio: part.material.poisson_ratio,
        length: part.length,
    }
}

/// The shape that settles to the drawing's under the residual stress: the drawing is of the part as it lies there.
fn reference(part: &Part) -> PerSurface<Outline> {
    let settled = part.residual.map_or(PerSurface::default(), |stress| {
        let nominal = PerSurface::from_fn(|s| part.stock.get(s).radius);
        annulus(part, &nominal).settled(stress.outer, stress.bore)
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
    pub body: &'a PartBody,
    pub step: &'a Step,
    pub supports: &'a [Supports],
    pub accuracy: f64,
    /// The drawing's limits: what they allow bears on what accuracy is worth asking for.
    pub tolerance: &'a Tolerance,
    /// Index of the step, for messages.
    pub index: usize,
    pub watch: &'a dyn Watch,
    /// What is kept from solve to solve.
    pub kept: &'a Kept,
    pub method: Method,
    /// Whether of a hold without cuts shapes and contacts alone are wanted.
    pub shapes_alone: bool,
    /// Where a solve of this step starts; its mesh is not known yet.
    pub start: Progress,
}

/// The body that a hold closes on: its factor, the mesh it is of, and the nodal forces of its residual stress (N).
#[derive(Clone, Copy)]
pub(super) struct Against<'a> {
    pub factor: &'a dyn Factor,
    pub mesh: &'a Mesh,
    pub load: Option<&'a [[f64; 2]]>,
}

/// The part as a step finds it, on the plan of that step: whatever needs no hold.
pub(super) enum Start {
    /// On its mean ring.
    Ring(Box<super::round::Start>),
    /// On its mesh alone.
    Mesh(Box<super::meshed::Start>),
}

/// The part in a hold, before any cut.
pub(super) struct HeldPart {
    pub clamp: Clamp,
    /// The state of the contact; on a mean ring, and where the surfaces alone were asked for, without the displacement of a mesh.
    pub state: Clamped,
    /// Shape at [`PROFILE_POINTS`], mm.
    pub shape: Radii,
    /// What the outlines added, where a mean ring stood for the part.
    pub added: Option<Added>,
}

impl Start {
    /// By the series of a round ring where the plan says how its contact is divided, else on the mesh alone.
    pub fn new(setting: &Setting, plan: &Plan) -> Result<Self, ProcessError> {
        Ok(match &plan.pads {
            Some(_) => Self::Ring(Box::new(super::round::Start::new(setting, plan)?)),
            None => Self::Mesh(Box::new(super::meshed::Start::new(setting, plan)?)),
        })
    }

    /// Shape of the free part at [`PROFILE_POINTS`], mm.
    pub fn stock(&self) -> &Radii {
        match self {
            Self::Ring(start) => &start.stock,
            Self::Mesh(start) => &start.stock,
        }
    }

    /// Holds the part for its shape and its contact, and stops there.
    pub fn hold(
        &self,
        setting: &Setting,
        plan: &Plan,
        guess: Option<&Guess>,
    ) -> Result<HeldPart, ProcessError> {
        match self {
            Self::Ring(start) => start.hold(setting, plan, guess),
            Self::Mesh(start) => start.hold_surfaces(setting, plan, guess),
        }
    }

    /// Solves the whole step, its cuts from a guess if there is one.
    pub fn solve(
        &self,
        setting: &Setting,
        plan: &Plan,
        guess: Option<&Guess>,
    ) -> Result<Solved, ProcessError> {
        match self {
            Self::Ring(start) => start.solve(setting, plan, guess),
            Self::Mesh(start) => start.solve(setting, plan, guess),
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
    /// Share of a change that an iteration of each cut hands on to the next.
    pub cut_rates: Vec<f64>,
    pub cut: Option<(Clamped, Radii)>,
    /// What the outlines added, where a mean ring stood for the part.
    pub added: Option<Added>,
    /// The hold as it stands while metal goes: drives that keep their position are locked.
    pub clamp_after_clamping: Clamp,
    /// Stress after each cut but the last.
    pub stress_between_cuts: Vec<StressSummary>,
    /// Displacement from the stress-free shape after release; `None` when it is zero.
    pub relaxed: Option<Vec<[f64; 2]>>,
    pub released: Radii,
    /// The part after the step.
    pub body: PartBody,
    /// Out-of-roundness that drives the accuracy, one value a surface, with its name.
    pub driving: Vec<(Surface, f64)>,
    /// Least-squares circles of the held outside and bore, where shapes alone were asked for.
    pub held_circles: Option<[Circle; 2]>,
    /// What the iterations leave: those of the cuts or, of a part that is not cut, those of the hold.
    pub unsettled: Unsettled,
    /// What those of the hold leave of the part before it is cut, mm.
    pub unsettled_held: f64,
    /// By how much the driving out-of-roundness may be off because contact zones are unresolved, mm.
    pub unresolved_bound: f64,
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
        body: &'a PartBody,
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
            kept: job.kept,
            method: job.method,
            shapes_alone: job.shapes_alone && step.cuts.is_empty(),
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
    pub fn starts(&self, plan: &Plan) -> Progress {
        Progress {
            mesh: plan.size(),
            ..self.start
        }
    }

    /// Clamps a body, telling the watch of every round; compliances that are `kept` of it are used, and new ones kept.
    pub fn clamped(
        &self,
        clamp: &Clamp,
        against: Against,
        kept: &mut KeptCompliances,
        start: Option<&Clamped>,
        at: &Progress,
    ) -> Result<Clamped, ProcessError> {
        self.tell(at)?;
        let gap_surface = |s: Surface, t: f64| self.body.outlines.get(s).radius(t);
        let rounds = |round: usize| self.watch.at(&Progress { round, ..*at });
        let on = MeshedPart {
            factor: against.factor,
            mesh: against.mesh,
            gap_surface: &gap_surface,
            body_load: against.load,
        };
        clamp
            .clamp_again(on, kept, start, &rounds)
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

    pub fn residual(&self) -> Option<ResidualStress> {
        self.body.residual.map(|stress| ResidualStress {
            stress,
            nominal: self.body.stock_nominal.clone(),
        })
    }

    /// Solves the step on a plan, its cuts from a guess if there is one.
    pub fn solve(&self, plan: &Plan, guess: Option<&Guess>) -> Result<Solved, ProcessError> {
        if plan.pads.is_none()
            && let Some(start) = self.kept.meshed(self, plan)?
        {
            return start.solve(self, plan, guess);
        }
        match Start::new(self, plan)? {
            Start::Ring(start) => start.solve(self, plan, guess),
            Start::Mesh(start) => start.solve_once(self, plan, guess),
        }
    }

    /// The hold against the free shape of the part, which residual stress has moved a little off the reference: `relaxed` is that
    /// displacement of the nodes of a mesh, mm.
    pub fn clamp(&self, mesh: &Mesh, relaxed: Option<&[[f64; 2]]>) -> Result<Clamp, ProcessError> {
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
        self.clamp_on(free_shape.as_ref().unwrap_or(&self.body.outlines))
    }

    /// The hold against the part as it is without its residual stress: near enough to find where it touches.
    pub fn clamp_free(&self) -> Result<Clamp, ProcessError> {
        self.clamp_on(&self.body.outlines)
    }

    fn clamp_on(&self, outlines: &PerSurface<Outline>) -> Result<Clamp, ProcessError> {
        let surface = |s: Surface, t: f64| outlines.get(s).radius(t);
        let section = self.body.section(self.part.length);
        let growth =
            self.part.material.poisson_ratio / (self.part.material.young_modulus * section.area());
        Clamp::new(self.supports, self.step.force_scale, section, &surface)
            .map(|clamp| clamp.expanding(growth))
            .map_err(|e| self.contact(e, &self.start))
    }

    /// Where the spindle axis lies in the part's frame, mm: off the chuck's axis, or off the centre of the held surface that was
    /// set to run true.
    pub fn spindle(&self, held: &Radii) -> [f64; 2] {
        let [x, y] = match self.step.centre_on {
            CentreOn::Jaws => [0.0, 0.0],
            CentreOn::Surface(s) => least_squares_circle(&Profile::equal(held.get(s))).centre,
        };
        let [dx, dy] = self.step.spindle_offset;
        [x + dx, y + dy]
    }

    /// Refuses a hold in which nothing presses on the part, or the ends of a sleeve's slit meet.
    pub fn check_held(
        &self,
        clamp: &Clamp,
        state: &Clamped,
        cut: bool,
    ) -> Result<(), ProcessError> {
        let young = self.part.material.young_modulus;
        clamp
            .check_presses(state, young, cut)
            .and_then(|()| clamp.check_slits(state))
            .map_err(|e| self.contact(e, &self.start))
    }

    /// Refuses pads that would run into each other when closed.
    pub fn check_corners(&self, clamp: &Clamp, state: &Clamped) -> Result<(), ProcessError> {
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
        // three components and the number of elements that they come from
        let (sums, _) = over_arcs(
            mesh.topology(),
            |arc, sums| {
                for (column, layer) in arc.own.element_places() {
                    let own = arc.own.element_nodes(column, layer);
                    let nodes = own.map(|n| arc.in_whole(n));
                    let coords = nodes.map(|n| mesh.coords()[n]);
                    let u = nodes.map(|n| displacement.map_or([0.0; 2], |u| u[n]));
                    let stress = element::nodal_stress(&law, &coords, &u, &initial);
                    for (n, s) in own.into_iter().zip(stress) {
                        let sum: &mut [f64; 4] = sums.at(n);
                        for (sum, x) in sum.iter_mut().zip(s) {
                            *sum += x;
                        }
                        sum[3] += 1.0;
                    }
                }
            },
            |to, more| to.iter_mut().zip(more).for_each(|(t, m)| *t += m),
        );
        sums.iter()
            .map(|[x, y, xy, n]| [x / n, y / n, xy / n])
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
