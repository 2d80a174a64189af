//! What a step asks of its hold, and what the hold takes. Pairs are the least and the largest over all that is known within bands.

use super::SetForce;
use crate::geometry::Surface;
use crate::grip::{Band, ToolForce, TurningJaws};
use crate::scheme::SetBy;

/// The grip of a step.
#[derive(Clone, Debug, Default, PartialEq)]
#[non_exhaustive]
pub struct GripOutcome {
    /// What the tool does in each cut of the step, in their order; `None` where it is not known.
    pub tools: Vec<Option<CutForce>>,
    /// Friction of each scheme that it is known of, round the part and along it.
    pub friction: Vec<(String, [Band; 2])>,
    /// Torque about the axis, N mm.
    pub torque: Load,
    /// Force along the axis, N.
    pub axial: Load,
    /// Moment across the axis, N mm.
    pub tilt: Load,
    /// Force across the axis, N: what is available lets go of a pad or, of a part that its ends alone locate, lets it slide.
    pub side: Load,
    /// How many times what is asked the hold takes; `None` where something of it is not known. Infinite where nothing is asked.
    pub safety: Option<[f64; 2]>,
    /// What turning does.
    pub turning: Turning,
    /// What is not known, and for want of what.
    pub open: Vec<NotChecked>,
    /// Whether the part rests against a stop that takes the feed.
    pub stopped: bool,
    /// Whether its forces are not known: the step is solved with a unit force, and what depends on the force is told of the window alone.
    pub force_unknown: bool,
    /// What holds it at all: false of a step in which nothing presses.
    pub held: bool,
    /// The chuck's own limits that are passed.
    pub beyond: Vec<Beyond>,
    /// What both ends of the band leave that the forces are known within; `None` of forces that are known.
    pub band: Option<BandEnds>,
    /// How hard anything presses on the surface, of what marks it; `None` without a limit.
    pub marking: Option<Marking>,
    /// Between which forces it holds the part and leaves it sound; `None` where that was not looked for.
    pub window: Option<ForceWindow>,
}

impl GripOutcome {
    /// What is left of the grip of a step whose forces are not known: what the cuts ask, and the window.
    pub(in crate::process) fn forget_force(&mut self) {
        for load in [
            &mut self.torque,
            &mut self.axial,
            &mut self.tilt,
            &mut self.side,
        ] {
            load.available = None;
        }
        self.force_unknown = true;
        self.safety = None;
        self.band = None;
        self.marking = None;
        self.beyond
            .retain(|b| matches!(b, Beyond::RatedSpeed { .. }));
        self.turning = Turning {
            speed: self.turning.speed,
            needed: self.turning.needed,
            ..Turning::default()
        };
        self.open.insert(0, NotChecked::ForceUnknown);
    }

    /// Whether any figure of the grip is known.
    pub fn is_told(&self) -> bool {
        let loads = [&self.torque, &self.axial, &self.tilt];
        self.held
            && (loads.iter().any(|l| l.available.is_some())
                || !self.turning.at_rest.is_empty()
                || self.window.is_some())
    }
}

/// What is asked of a hold in one way, and what it takes.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Load {
    /// What it takes where nothing else is asked.
    pub available: Option<[f64; 2]>,
    /// What the cuts of the step ask of it, the most of them.
    pub needed: Option<[f64; 2]>,
}

impl NotChecked {
    /// Whether it has to be known before a grip may be called safe.
    pub fn bears_on_safety(&self) -> bool {
        !matches!(self, NotChecked::MarkingAlong)
    }
}

/// What the tool does in a cut.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CutForce {
    /// The least, and the largest: a worn edge at the largest depth. Zero where a component is not known.
    pub force: [ToolForce; 2],
    /// Whether the force along the axis is known.
    pub knows_axial: bool,
    /// Whether the force across the axis is known.
    pub knows_radial: bool,
    /// Radius at which it acts, mm.
    pub radius: f64,
    /// Depths along the radius that it is estimated from, mm; `None` of the user's own forces.
    pub depth: Option<[f64; 2]>,
    /// Thickness of the chip, mm.
    pub thickness: Option<f64>,
    /// Whether the constants are commonly trusted at that thickness.
    pub in_range: bool,
    /// Factor by which the largest is raised, since the tool leaves the metal and meets it again; 1 of a steady cut.
    pub interrupted: f64,
}

/// What turning does to the jaws.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Turning {
    /// Speed of the step, rev/min.
    pub speed: Option<f64>,
    /// Force of each jaw at rest, N, in the order of the contacts; of those whose mass is known.
    pub at_rest: Vec<f64>,
    /// The same at that speed; 0 of one that has let go. Empty where it is not known.
    pub at_speed: Vec<f64>,
    /// Whether jaws lose force as they turn: they grip inwards.
    pub loses: bool,
    /// Speed at which the first jaw lets go, rev/min.
    pub zero_force: Option<f64>,
    /// Speed up to which the force at rest leaves what the cut needs, by the guideline's factors, rev/min.
    pub permitted: Option<f64>,
    /// Whether jaws are set by their travel, so that what they press with at speed is not known.
    pub by_travel: bool,
    /// Whether stiffnesses were given and do not count, since the drive keeps its force.
    pub not_softened: bool,
    /// The jaws together, as far as they lose force.
    pub jaws: Option<TurningJaws>,
    /// What all of them grip with at rest, at the least that it may be, N.
    pub gripped: Option<f64>,
    /// What the cut needs of all of them, in the middle of what is known, N.
    pub needed: Option<f64>,
}

/// Between which forces a step holds the part and leaves it sound.
#[derive(Clone, Debug, PartialEq)]
pub struct ForceWindow {
    /// What the case sets; the bounds are factors on it, and on all forces of the step alike.
    pub set: SetForce,
    /// What those forces were worked out from, if not from a force.
    pub set_by: Option<SetBy>,
    /// The least force that holds; `None` where it is not known, or nothing that was tried does.
    pub low: Option<Bound>,
    /// The largest force that meets every limit; `None` where there is no limit, or no force that was tried meets it.
    pub high: Option<Bound>,
    /// Factor on the forces beyond which the chuck is not rated for them; infinite where no rating is known.
    pub most: f64,
    /// Whether several schemes press: the bounds are for all of their forces in proportion.
    pub several: bool,
    /// Least and largest share of the forces that the case sets that they may have; the bounds are for the worse of them.
    pub spread: [f64; 2],
    /// Where no force will do, what something else would.
    pub tried: Option<Alternative>,
}

/// Another setup that was tried where no force will do: the step solved again, once and roughly.
#[derive(Clone, Debug, PartialEq)]
pub struct Alternative {
    /// What was changed; `None` of the setup as the case has it.
    pub change: Option<Change>,
    /// Factor on the forces of the case at which it was tried: that at which those of the case hold.
    pub factor: f64,
    /// Share of the roundness zone that is used up.
    pub share: f64,
    /// What the hold then takes of what the cut asks, at the unfavourable ends; `None` where that is not known.
    pub safety: Option<f64>,
}

impl Alternative {
    /// Whether it is enough, as far as that is known.
    pub fn opens(&self) -> bool {
        self.share <= 1.0 && self.safety.is_none_or(|s| s >= 1.0)
    }
}

/// What may be changed of a hold or of a cut.
#[derive(Clone, Debug, PartialEq)]
pub enum Change {
    /// Other pads.
    Pads {
        /// What one is called.
        called: String,
        /// Diameter that they are bored or turned to, mm.
        diameter: f64,
        /// How wide they are, measured straight across, mm.
        width: f64,
    },
    /// A support on the other side of the wall behind every pad, set to touch the free part.
    Supported {
        /// What a pad is called.
        called: String,
        /// Radius of its crown, mm.
        crown: f64,
    },
    /// The cuts of both surfaces the other way round.
    Order {
        /// The surface that is then cut first.
        first: Surface,
    },
}

/// What both ends of the band leave that the forces of a step are known within, the worse of them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BandEnds {
    /// Least and largest factor on the forces.
    pub spread: [f64; 2],
    /// Share of the roundness zone that is used up, of surfaces that the step cuts last; `None` without a zone, and where neither end could be solved.
    pub roundness: Option<f64>,
    /// Share of yield; `None` without a yield strength.
    pub yields: Option<f64>,
}

/// The largest pressure of contact of a step, and what marks the surface.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Marking {
    /// Largest pressure, MPa: the peak or, beside a loaded edge, the mean over a tenth of the wall.
    pub pressure: f64,
    /// What counts as a mark, MPa.
    pub limit: f64,
    /// Whether the case gives that limit.
    pub given: bool,
}

/// An end of a window.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bound {
    /// Factor on the forces of the case.
    pub factor: f64,
    /// What limits them there.
    pub by: LimitedBy,
    /// Whether even this much, the most that was tried, does not hold; of a largest force, whether even this little, the least that was tried, is too much.
    pub not_enough: bool,
}

impl ForceWindow {
    /// Whether a force was found that holds, and meets every limit.
    pub fn is_open(&self) -> bool {
        match (&self.low, &self.high) {
            (Some(low), _) if low.not_enough => false,
            (_, Some(high)) if high.not_enough => false,
            (Some(low), Some(high)) => low.factor <= high.factor,
            _ => true,
        }
    }
}

impl Bound {
    /// A force that was found, and what limits it.
    pub(crate) const fn at(factor: f64, by: LimitedBy) -> Self {
        Self {
            factor,
            by,
            not_enough: false,
        }
    }

    /// The same with so many times the factor.
    #[must_use]
    pub(crate) fn times(self, factor: f64) -> Self {
        Self {
            factor: self.factor * factor,
            ..self
        }
    }
}

/// What limits a force.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum LimitedBy {
    /// The part slips, tips or lets go of a pad below it.
    Slip,
    /// A surface leaves its roundness zone above it.
    Roundness,
    /// The part yields above it.
    Yield,
    /// A pad marks the part above it.
    Marking,
    /// The guideline for turning jaws asks for it.
    Speed,
    /// The chuck is not rated for more, or holds no less steadily.
    Chuck,
}

impl LimitedBy {
    /// The word in `result.json`.
    pub const fn name(self) -> &'static str {
        match self {
            LimitedBy::Slip => "slip",
            LimitedBy::Roundness => "roundness",
            LimitedBy::Yield => "yield",
            LimitedBy::Marking => "marking",
            LimitedBy::Speed => "speed",
            LimitedBy::Chuck => "chuck",
        }
    }
}

impl Turning {
    /// Factor on the forces at rest at which the first jaw lets go at the speed of the step; 0 of jaws that lose nothing.
    pub fn let_go_at(&self) -> f64 {
        let speed = match (self.speed, self.zero_force) {
            (Some(speed), Some(zero)) => speed / zero,
            _ => return 0.0,
        };
        // what turning takes goes with the square of the speed, and so does the force that it takes all of
        speed * speed
    }

    /// Whether a jaw has let go at the speed of the step, at the least force that it may have.
    pub fn let_go(&self) -> bool {
        let both = self.at_rest.iter().zip(&self.at_speed);
        both.into_iter()
            .any(|(rest, left)| *rest > 0.0 && *left <= 0.0)
    }
}

/// A limit of the chuck that is passed.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub enum Beyond {
    /// All jaws together press harder than the chuck is rated for, N.
    RatedForce {
        /// What they press with.
        force: f64,
        /// What it is rated for.
        rated: f64,
    },
    /// All jaws together press less than the chuck holds steadily, N.
    LowestSteadyForce {
        /// What they press with.
        force: f64,
        /// The least that it holds.
        lowest: f64,
    },
    /// It turns faster than the chuck is rated for, rev/min.
    RatedSpeed {
        /// How fast.
        speed: f64,
        /// What it is rated for.
        rated: f64,
    },
    /// It turns faster than the guideline's factors permit, rev/min.
    PermittedSpeed {
        /// How fast.
        speed: f64,
        /// What they permit.
        permitted: f64,
    },
}

/// Something of a grip that is not checked. Schemes by their name, cuts by their index.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum NotChecked {
    /// Whatever depends on the force of the hold, which is not known.
    ForceUnknown,
    /// No friction is given for a scheme.
    Friction {
        /// The scheme.
        scheme: String,
    },
    /// A class of friction is given, and none is known for a plastic.
    FrictionOfPlastic {
        /// The scheme.
        scheme: String,
    },
    /// A cut has neither a feed nor forces.
    CuttingForce {
        /// The cut.
        cut: usize,
    },
    /// A cut has a feed, and the material no constants of the cutting force.
    CuttingConstants {
        /// The cut.
        cut: usize,
    },
    /// The user's own forces of a cut leave one out.
    ForceLeftOut {
        /// The cut.
        cut: usize,
        /// Its key.
        key: &'static str,
    },
    /// A slice does not tell how the pressure lies along a grip that is shorter than the part.
    TiltOfSlice,
    /// Along a tube nothing is told of marks: how the pressure lies round a pad is told at one section alone.
    MarkingAlong,
    /// The step has no speed.
    NoSpeed,
    /// The step has a speed, and a scheme that grips inwards no mass or centroid of its jaws.
    NoJawMass {
        /// The scheme.
        scheme: String,
    },
    /// Jaws are set by travel, and what turning leaves of their force is not known.
    SetByTravel {
        /// The scheme.
        scheme: String,
    },
    /// The force of the chuck is not held against its rating.
    NoRatedForce,
    /// The speed of the chuck is not held against its rating.
    NoRatedSpeed,
}
