//! Cut, pads, force and speed that a case is proposed with. All are rules of this file, set by what came out sensible when the program ran them over
//! rings of 20 to 1000 mm: no source, and no rating.

use ringwright_solver::case::material::Class;
use ringwright_solver::report::units::MM_PER_INCH;

use super::blank::{Blank, nearest};
use super::text::Writer;
use crate::args::{ChuckKind, Job};

/// Share of the tightened force that is counted on, of a scroll and of a cylinder: what the bands in the file leave at their low ends.
pub(super) const SPREAD: (f64, f64) = (0.2, 0.1);
/// How many times the torque of the cut the hold is meant to take at the unfavourable ends; the guideline asks for 1.5.
const TIMES: f64 = 1.9;
/// The same for a tube, whose short grip has to take tipping too.
const TIMES_TUBE: f64 = 2.6;
/// What the program reckons with of smooth pads at the least: 0.8 of 0.06.
const LEAST_FRICTION: f64 = 0.8 * 0.06;
/// The same of a plastic, for which no class of friction is known: 0.8 of the low end of the band that the case assumes.
const LEAST_ON_PLASTIC: f64 = 0.8 * PLASTIC_FRICTION.0;
/// Friction of pads on a plastic, low and high; assumed, no source.
pub(super) const PLASTIC_FRICTION: (f64, f64) = (0.1, 0.3);
/// Jaws of the chuck.
pub(super) const JAWS: f64 = 3.0;
/// Degrees that a pad covers: soft jaws that wrap most of the ring.
pub(super) const ARC: f64 = 100.0;
/// A worn edge's share more of cutting force.
const WORN: f64 = 1.3;
/// Specific cutting force of a plastic, low and high, MPa; from memory, no source.
const PLASTIC: (f64, f64) = (100.0, 200.0);
/// The same of a metal for which the table has no constants.
const METAL: (f64, f64) = (2500.0, 5000.0);
/// Force of a jaw for a torque on the key of a scroll, assumed: N at N mm.
pub(super) const KEY_MM: (f64, f64) = (1800.0, 20_000.0);
/// The same in inches: lbf at lbf in.
pub(super) const KEY_INCH: (f64, f64) = (400.0, 180.0);

/// Lengths in mm, forces in N.
pub(super) struct Proposal {
    /// Of one cut, along the radius.
    pub(super) depth: f64,
    /// Along the part in a turn.
    pub(super) feed: f64,
    /// Forces round, along and across the part, low and high, where the material has no constants of its own.
    pub(super) forces: Option<[(f64, f64); 3]>,
    pub(super) roundness: f64,
    /// How much larger or smaller than the part the pads are cut, on the diameter.
    pub(super) clearance: f64,
    /// Of a tube, how much of its length is gripped.
    pub(super) grip: f64,
    /// Of a jaw, kg.
    pub(super) jaw_mass: f64,
    /// Whether the part is a plastic.
    pub(super) plastic: bool,
}

/// One clamping.
pub(super) struct Clamping {
    /// Whether the jaws open in the bore.
    pub(super) inside: bool,
    /// Diameter that is gripped.
    pub(super) gripped: f64,
    /// Diameter that is cut to.
    pub(super) cut_to: f64,
    /// Of each jaw, what is aimed at.
    pub(super) force: f64,
    /// Of the jaws' centre of mass from the spindle axis.
    pub(super) jaw_radius: f64,
    /// rev/min.
    pub(super) speed: f64,
}

impl Proposal {
    pub(super) fn of(blank: &Blank) -> Self {
        let write = Writer { inch: blank.inch };
        let plastic = blank.material.class != Class::Metal;
        let step = if blank.inch {
            0.002 * MM_PER_INCH
        } else {
            0.05
        };
        let most = (0.1 * blank.wall()).min(0.005 * blank.outside);
        let depth = nearest(most.min(0.5), step).max(step);
        let feed = if blank.inch { 0.004 * MM_PER_INCH } else { 0.1 };
        let forces = blank.material.cutting.is_none().then(|| {
            let (low, high) = if plastic { PLASTIC } else { METAL };
            let band = |least: f64, most: f64| {
                let chip = feed * depth;
                (
                    write.force_up(least * low * chip),
                    write.force_up(most * high * chip),
                )
            };
            [band(1.0, 1.0), band(0.3, 0.5), band(0.1, 0.3)]
        });
        let thin = blank.wall() < 0.02 * blank.outside;
        let soft = blank.material.young_modulus.value < 1000.0;
        let roundness = match () {
            () if soft => (0.1, 0.004),
            () if plastic || blank.outside > 250.0 => (0.05, 0.002),
            () if thin => (0.03, 0.001_2),
            () => (0.02, 0.000_8),
        };
        let clearance = (0.000_3 * blank.outside).clamp(0.02, 0.05);
        let clearance = if blank.inch {
            nearest(clearance, 0.000_5 * MM_PER_INCH).max(0.001 * MM_PER_INCH)
        } else {
            nearest(clearance, 0.005)
        };
        let grip = (0.2 * blank.outside).max(blank.length / 5.0);
        let grip = grip.min(0.5 * blank.length);
        let grip = nearest(grip, if blank.inch { MM_PER_INCH / 16.0 } else { 0.5 });
        Self {
            depth,
            feed,
            forces,
            roundness: if blank.inch {
                roundness.1 * MM_PER_INCH
            } else {
                roundness.0
            },
            clearance,
            grip,
            jaw_mass: nearest((0.5 * blank.outside / 120.0).clamp(0.2, 3.0), 0.1),
            plastic,
        }
    }

    /// Largest force round the part, N: by the material's constants, kc11 h^(1-mc) b (Kienzle), with a worn edge.
    fn tangential(&self, blank: &Blank) -> f64 {
        match (&self.forces, &blank.material.cutting) {
            (None, Some(c)) => WORN * c.kc11 * self.feed.powf(1.0 - c.mc) * self.depth,
            (forces, _) => forces.map_or(0.0, |[round, ..]| round.1),
        }
    }

    /// The clampings of a job, in order.
    pub(super) fn clampings(&self, blank: &Blank, job: Job, chuck: ChuckKind) -> Vec<Clamping> {
        let (bored, turned) = (
            blank.bore + 2.0 * self.depth,
            blank.outside - 2.0 * self.depth,
        );
        let one = |inside: bool, gripped: f64, cut_to: f64| {
            self.clamping(blank, (job, chuck), inside, (gripped, cut_to))
        };
        match job {
            Job::Outside => vec![one(true, blank.bore, turned)],
            Job::Bore | Job::Tube => vec![one(false, blank.outside, bored)],
            Job::SecondSide => vec![one(false, blank.outside, bored), one(true, bored, turned)],
        }
    }

    fn clamping(
        &self,
        blank: &Blank,
        (job, chuck): (Job, ChuckKind),
        inside: bool,
        (gripped, cut_to): (f64, f64),
    ) -> Clamping {
        // the tool works on the stock: the larger of what it starts from and what it leaves
        let reach = if inside { blank.outside } else { cut_to };
        let torque = self.tangential(blank) * reach / 2.0;
        let (times, spread) = (
            if job == Job::Tube { TIMES_TUBE } else { TIMES },
            if chuck == ChuckKind::Hand {
                SPREAD.0
            } else {
                SPREAD.1
            },
        );
        let friction = if self.plastic {
            LEAST_ON_PLASTIC
        } else {
            LEAST_FRICTION
        };
        let force = times / (1.0 - spread) * torque / (friction * gripped / 2.0) / JAWS;
        let force = Writer { inch: blank.inch }.force_up(force);
        let jaw_radius = nearest(
            gripped / 2.0 + if inside { 0.0 } else { 20.0 },
            if blank.inch { MM_PER_INCH / 4.0 } else { 5.0 },
        );
        Clamping {
            inside,
            gripped,
            cut_to,
            force,
            jaw_radius,
            speed: self.speed(blank, force, jaw_radius),
        }
    }

    /// A moderate surface speed, and no more than takes a tenth of the force from jaws that grip inwards.
    fn speed(&self, blank: &Blank, force: f64, jaw_radius: f64) -> f64 {
        let hard = blank.material.cutting.is_some_and(|c| c.kc11 > 1000.0);
        let surface = if hard { 60e3 } else { 100e3 };
        let by_surface = surface / (std::f64::consts::PI * blank.outside);
        let omega = (0.1 * force / (self.jaw_mass * jaw_radius / 1e3)).sqrt();
        let by_force = omega * 60.0 / std::f64::consts::TAU;
        let speed = by_surface.min(by_force).min(1000.0);
        let step = if speed < 100.0 { 5.0 } else { 10.0 };
        ((speed / step).floor() * step).max(step)
    }
}
