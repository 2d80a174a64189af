//! What a scheme puts against the part: rigid bodies and how they are driven, dead loads, what clamps the ends.

use std::f64::consts::PI;

use crate::geometry::Surface;
use crate::grip::Band;

/// Nominal section at the start of a step. mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Section {
    /// Nominal outside radius.
    pub outer_radius: f64,
    /// Nominal bore radius.
    pub bore_radius: f64,
    /// Axial length.
    pub length: f64,
}

impl Section {
    /// Area, mm2.
    pub fn area(&self) -> f64 {
        PI * (self.outer_radius * self.outer_radius - self.bore_radius * self.bore_radius)
    }

    /// Nominal radius of a surface.
    pub fn radius(&self, surface: Surface) -> f64 {
        match surface {
            Surface::Outer => self.outer_radius,
            Surface::Bore => self.bore_radius,
        }
    }
}

/// Outline of a rigid face in the section.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Face {
    /// Bored to this radius: the arc curves round the part (mm).
    Concave {
        /// Radius of the bore of the pad.
        radius: f64,
    },
    /// Straight across.
    Flat,
    /// A crown of this radius, curving away from the part (mm).
    Convex {
        /// Radius of the crown.
        radius: f64,
    },
}

impl Face {
    /// Its radius, mm; `None` if it is straight.
    pub fn radius(&self) -> Option<f64> {
        match *self {
            Face::Flat => None,
            Face::Concave { radius } | Face::Convex { radius } => Some(radius),
        }
    }
}

/// A rigid body that may touch the part over an arc of one surface.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Body {
    /// The surface it faces: `Outer` bodies push inwards, `Bore` bodies outwards.
    pub surface: Surface,
    /// Direction of its axis, rad.
    pub angle: f64,
    /// Half of the arc it covers, rad; pi for a full circle, which stands about the part's axis.
    pub half_angle: f64,
    /// Half of the relieved middle part, which never touches, rad; zero for a pad that is whole.
    pub relief: f64,
    /// Outline of its face.
    pub face: Face,
    /// An elastic layer on the face.
    pub layer: Option<WinklerLayer>,
    /// Stiffness of the mount of the body along its axis, N/mm; `None` is rigid.
    pub stiffness: Option<f64>,
    /// Friction coefficient between body and part, for the grip alone: the mechanics is frictionless.
    pub friction: Option<f64>,
}

impl Body {
    /// A rigid pad without relief, layer or friction.
    pub const fn new(surface: Surface, angle: f64, half_angle: f64, face: Face) -> Self {
        Self {
            surface,
            angle,
            half_angle,
            relief: 0.0,
            face,
            layer: None,
            stiffness: None,
            friction: None,
        }
    }

    /// A rigid circle about the part's axis that touches all round: a plug in the bore, a ring round the outside.
    pub const fn circle(surface: Surface, radius: f64) -> Self {
        let face = match surface {
            Surface::Outer => Face::Concave { radius },
            Surface::Bore => Face::Convex { radius },
        };
        Self::new(surface, 0.0, PI, face)
    }

    /// The arcs that may touch, rad from its axis: one, or two where the middle is relieved.
    pub fn pieces(&self) -> Vec<[f64; 2]> {
        let half = self.half_angle;
        if self.relief > 0.0 && !self.is_full_circle() {
            vec![[-half, -self.relief], [self.relief, half]]
        } else {
            vec![[-half, half]]
        }
    }

    /// Whether the body goes all round.
    pub fn is_full_circle(&self) -> bool {
        self.half_angle >= PI
    }
}

/// An elastic layer (shim, soft pad) of Winkler's kind: at each place it is compressed by `pressure * thickness / modulus`, whatever its neighbours are.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WinklerLayer {
    /// Modulus in compression through the thickness, MPa.
    pub modulus: f64,
    /// Thickness, mm.
    pub thickness: f64,
}

impl WinklerLayer {
    /// Compliance: displacement under a unit pressure, mm per MPa.
    pub fn compliance(&self) -> f64 {
        self.thickness / self.modulus
    }
}

/// How the bodies of one scheme are driven while clamping.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum Drive {
    /// Each body by itself, one entry a body.
    Each(Vec<Push>),
    /// All bodies move alike; this is the mean of their forces (N).
    SelfCentring {
        /// Mean force.
        force: f64,
    },
    /// The bodies form pairs that share their force evenly (N).
    EqualisedPairs {
        /// Mean force.
        force: f64,
        /// Which bodies form a pair.
        pairs: Pairs,
    },
}

impl Drive {
    /// Every one of `count` bodies pushes with this force along its axis (N) and moves as far as it needs.
    pub fn equal_force(count: usize, force: f64) -> Self {
        Self::Each(vec![Push::Force(force); count])
    }

    /// Force that one of its bodies is set to, N: the mean of those that move together; `None` for what stands at a place of its own.
    pub(crate) fn set_force(&self, body: usize) -> Option<f64> {
        match self {
            Self::Each(pushes) => match pushes.get(body)? {
                Push::Force(force) => Some(*force),
                Push::Gap(_) => None,
            },
            Self::SelfCentring { force } | Self::EqualisedPairs { force, .. } => Some(*force),
        }
    }

    /// The same with every force as `of` has it (N); `None` where it has none. What stands at a place of its own stays.
    pub(crate) fn with_forces(&self, of: &dyn Fn(f64) -> Option<f64>) -> Option<Self> {
        Some(match self {
            Self::Each(pushes) => {
                let push = |push: &Push| match push {
                    Push::Force(force) => of(*force).map(Push::Force),
                    Push::Gap(gap) => Some(Push::Gap(*gap)),
                };
                Self::Each(pushes.iter().map(push).collect::<Option<_>>()?)
            }
            Self::SelfCentring { force } => Self::SelfCentring { force: of(*force)? },
            Self::EqualisedPairs { force, pairs } => Self::EqualisedPairs {
                force: of(*force)?,
                pairs: *pairs,
            },
        })
    }

    /// Every one of `count` bodies stands still, this far from first touch (mm).
    pub fn fixed(count: usize, gap: f64) -> Self {
        Self::Each(vec![Push::Gap(gap); count])
    }
}

/// What is given of a body driven by itself.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub enum Push {
    /// Its force along its axis, N; it moves as far as it needs.
    Force(f64),
    /// Its distance from first touch with the free part, mm; negative: set past it. It stands there from the start. A full
    /// circle does not move: its radius alone says how it fits.
    Gap(f64),
}

/// Which bodies form the pairs of [`Drive::EqualisedPairs`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pairs {
    /// 1 and 2, 3 and 4, ...: each pair hangs on a rocker, whose pivots move alike. The number of bodies is even.
    Neighbouring,
    /// Each body with the one half the count further on: a pair moves together, all pairs press alike. The number of bodies
    /// is even.
    Opposite,
}

/// What stays once the bodies have been driven home.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum AfterClamping {
    /// The drive's force stays while metal goes (a power chuck).
    KeepsForce,
    /// Displacements stay (a hand-operated scroll).
    KeepsPosition,
}

/// A dead radial load, uniform per radian of reference angle on the nominal surface.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PressurePatch {
    /// The surface it acts on, always towards the metal.
    pub surface: Surface,
    /// Middle of the patch, rad.
    pub angle: f64,
    /// Half of the arc, rad.
    pub half_angle: f64,
    /// Resultant along the axis of the patch, N: `force / (2 sin half_angle)` per radian.
    pub force: f64,
}

/// A dead radial force on a line along the part.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PointForce {
    /// The surface it acts on, always towards the metal.
    pub surface: Surface,
    /// Where, rad.
    pub angle: f64,
    /// Force, N.
    pub force: f64,
}

/// Clamping between two plates that press on the ends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EndClamp {
    /// Axial force, N.
    pub force: f64,
    /// Friction coefficient between end and plate: the mechanics takes the nominal one.
    pub friction: Option<Band>,
    /// What the ends do on the plates.
    pub ends: EndCondition,
}

/// What a clamped end does on its plate.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum EndCondition {
    /// It slides freely.
    Sliding,
    /// It sticks.
    Stuck,
    /// It slides where friction cannot hold it.
    Friction,
}

/// An elastic ring between the bodies of a scheme and the part, as long as the part: the bodies press on it, it presses on the part, and
/// it may leave either.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sleeve {
    /// The surface of the part that it lies on.
    pub surface: Surface,
    /// Radius of its face towards the part, unstressed, mm.
    pub radius: f64,
    /// Its wall, mm.
    pub thickness: f64,
    /// Where it is slit right through, if it is: middle and half of the arc that is open, rad.
    pub slit: Option<[f64; 2]>,
    /// Young's modulus, MPa.
    pub young_modulus: f64,
    /// Poisson's ratio.
    pub poisson_ratio: f64,
}

impl Sleeve {
    /// Its face towards the part.
    pub fn face(&self) -> Body {
        let circle = Body::circle(self.surface, self.radius);
        match self.slit {
            Some([middle, half]) => Body {
                angle: middle + PI,
                half_angle: PI - half,
                ..circle
            },
            None => circle,
        }
    }

    /// What its bodies stand against: a section that ends at the sleeve's back.
    pub fn seen_by_bodies(&self, part: &Section) -> Section {
        let mut section = *part;
        match self.surface {
            Surface::Outer => section.outer_radius = self.back(),
            Surface::Bore => section.bore_radius = self.back(),
        }
        section
    }

    /// Radius of its other face, on which the bodies press, mm.
    pub fn back(&self) -> f64 {
        self.radius + self.surface.outward() * self.thickness
    }
}

/// What one scheme puts against the part. Schemes fill in what they have and leave the rest to `..Supports::default()`.
#[derive(Clone, Debug, PartialEq)]
pub struct Supports {
    /// Rigid bodies, numbered from 1 in this order, counter-clockwise from the first.
    pub bodies: Vec<Body>,
    /// How the bodies are driven.
    pub drive: Drive,
    /// What stays once this scheme is closed: also while later schemes of the hold close.
    pub after_clamping: AfterClamping,
    /// Dead loads over an arc.
    pub pressures: Vec<PressurePatch>,
    /// Dead loads at a point of the section.
    pub points: Vec<PointForce>,
    /// Plates on the ends.
    pub end_clamp: Option<EndClamp>,
    /// A sleeve between the bodies and the part.
    pub sleeve: Option<Sleeve>,
    /// The least and the largest that its forces may be, as shares of those given here.
    pub force_spread: [f64; 2],
    /// What its forces were worked out from, where that is not a force.
    pub set_by: Option<SetBy>,
    /// What the ring shows under its forces, by which they are to be found; `None` where they are known.
    ///
    /// Radial readings on the surface that the bodies do not press on, each clamped minus free: the mean over the bodies less the mean
    /// midway between neighbours, without its sign, mm. The forces given here are then unit ones: they keep their proportions.
    pub squeeze: Option<Band>,
    /// What the scheme took for granted, in the user's words.
    pub assumed: Vec<String>,
}

/// A quantity that the forces of a scheme are proportional to: a torque on a key, a pressure of air.
#[derive(Clone, Debug, PartialEq)]
pub struct SetBy {
    /// Its key in a case file.
    pub key: String,
    /// What it is called, to be read after a value: "on the key".
    pub called: String,
    /// What it measures.
    pub kind: SetByKind,
    /// What it is set to, in N, N mm or MPa.
    pub value: f64,
}

/// What a quantity measures that forces are worked out from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SetByKind {
    /// A force, N.
    Force,
    /// A torque, N mm.
    Torque,
    /// A pressure, MPa.
    Pressure,
}

impl Default for Supports {
    fn default() -> Self {
        Self {
            bodies: Vec::new(),
            drive: Drive::Each(Vec::new()),
            after_clamping: AfterClamping::KeepsForce,
            pressures: Vec::new(),
            points: Vec::new(),
            end_clamp: None,
            sleeve: None,
            force_spread: [1.0; 2],
            set_by: None,
            squeeze: None,
            assumed: Vec::new(),
        }
    }
}

impl Supports {
    /// Every face that may touch: the bodies, then the sleeve's face towards the part. Results number them in this order.
    pub fn faces(&self) -> Vec<Body> {
        let sleeve = self.sleeve.as_ref().map(Sleeve::face);
        self.bodies.iter().copied().chain(sleeve).collect()
    }
}
