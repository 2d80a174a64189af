//! What a hold takes before the part slips, tips or is pushed off: friction on all that presses, in closed form.
//!
//! The part is rigid here, and what presses on it was solved before: this is statics of the forces found. A hold at a limit of friction is taken as
//! a plastic hinge is: any set of forces that friction allows and that balances the tool is one that the hold can find, so that what is told
//! here is a lower bound for the forces as they are (the static theorem of limit analysis, W. Prager, *An Introduction to Plasticity*, 1959, from memory; with Coulomb friction it
//! holds as long as the pressures are given).

use std::f64::consts::{FRAC_1_PI, PI, TAU};

/// Directions across the axis that are tried for the least moment and the largest loss of force, evenly over half a turn.
const DIRECTIONS: usize = 90;

/// Coefficients of friction between a surface and what holds it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Friction {
    /// Round the part.
    pub around: f64,
    /// Along it.
    pub along: f64,
}

/// What a cut asks of a hold.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Demand {
    /// Torque about the axis, N mm.
    pub torque: f64,
    /// Force along the axis that nothing but friction takes, N.
    pub axial: f64,
    /// Moment across the axis, N mm.
    pub tilt: f64,
    /// Force across the axis, N.
    pub side: f64,
}

impl Demand {
    /// So many times as much.
    #[must_use]
    pub fn times(&self, factor: f64) -> Self {
        Self {
            torque: factor * self.torque,
            axial: factor * self.axial,
            tilt: factor * self.tilt,
            side: factor * self.side,
        }
    }
}

/// One place of a surface that is pressed: a pad, a patch, a whole turn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pressed {
    /// Integral of the pressure over all that touches, N: friction acts on it, not on the resultant of a pad.
    pub normal: f64,
    /// Resultant along its axis, N; of a whole turn the integral of its pressure.
    pub force: f64,
    /// Direction of its axis, rad; `None` of what presses all round.
    pub angle: Option<f64>,
    /// Radius of the surface, mm.
    pub radius: f64,
    /// Its friction; none, and it carries neither torque nor axial force.
    pub friction: Option<Friction>,
    /// How far its force may move along the part, either way, before it stands at an end of the grip, mm: what takes a moment across the axis. Zero where that
    /// is not known.
    pub reserve: f64,
    /// Whether a force across the axis that it cannot take lifts it off: a rigid body, not a dead load.
    pub yields_to_side: bool,
}

/// A flat end pressed on a plate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PressedEnd {
    /// Axial force, N.
    pub force: f64,
    /// Friction that is left for the tool, once what holds the end round has been taken off; `None` if it is not known.
    pub friction: Option<f64>,
    /// Outer radius of the face, mm.
    pub outer_radius: f64,
    /// Inner radius of the face, mm.
    pub bore_radius: f64,
}

impl PressedEnd {
    /// Moment across the axis that lifts the part off one side of the plate, N mm: `P (ro^2 + ri^2) / (4 ro)`, the kern of an annulus. Source: any textbook
    /// of strength of materials.
    pub fn tilt(&self) -> f64 {
        let (outer, bore) = (self.outer_radius, self.bore_radius);
        self.force * (outer * outer + bore * bore) / (4.0 * outer)
    }
}

/// Torque, N mm, that one flat end face pressed on a plate by a force (N) carries before it turns: radii of the face in mm.
///
/// The pressure is taken as even over the face: `friction * force * (2/3) (ro^3 - ri^3) / (ro^2 - ri^2)`. For a thin wall it hardly matters how the
/// pressure is spread, since no part of the face lies further from the axis than `ro` or nearer than `ri`. Source: the friction clutch of any
/// textbook of machine elements.
pub fn face_torque(friction: f64, force: f64, outer_radius: f64, bore_radius: f64) -> f64 {
    let pressure = force / (PI * (outer_radius.powi(2) - bore_radius.powi(2)));
    let arm = 2.0 / 3.0 * PI * (outer_radius.powi(3) - bore_radius.powi(3));
    friction * pressure * arm
}

/// Everything that holds a part, at one set of numbers out of their bands.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Holding {
    /// What presses across the axis.
    pub pressed: Vec<Pressed>,
    /// The end that is driven, of a part between plates.
    pub end: Option<PressedEnd>,
}

impl Holding {
    /// Torque that it takes where nothing else is asked of it, N mm: `sum mu N r`, and that of the driven end.
    pub fn torque(&self) -> f64 {
        let of_end = self.end.as_ref().map_or(0.0, |e| {
            let mu = e.friction.unwrap_or(0.0);
            face_torque(mu, e.force, e.outer_radius, e.bore_radius)
        });
        self.over(|p, f| f.around * p.normal * p.radius) + of_end
    }

    /// Axial force that it takes where nothing else is asked of it, N: `sum mu N`; plates take as much as they press with.
    pub fn axial(&self) -> f64 {
        self.over(|p, f| f.along * p.normal) + self.end.map_or(0.0, |e| e.force)
    }

    /// Moment across the axis that it takes where nothing else is asked of it, N mm, about the direction in which it takes least.
    pub fn tilt(&self) -> f64 {
        self.by_moving() + self.by_dragging()
    }

    /// Of [`Self::tilt`] what the forces take by moving along the part: `sum F d |sin|`, the angle between pad and axis of the moment.
    fn by_moving(&self) -> f64 {
        let of_end = self.end.map_or(0.0, |e| e.tilt());
        self.least(|p| p.force * p.reserve) + of_end
    }

    /// Of [`Self::tilt`] what friction takes: `sum N hypot(mu_along r sin, mu_around (d / 2) cos)`. As the part tips about an axis, a pad off it drags along the part at its radius `r`, and one on it
    /// turns in its own face, at half of its reserve `d` from its middle on average; the dissipation of both together is no less than by these means (derived here, Jensen's inequality).
    fn by_dragging(&self) -> f64 {
        self.least_of(|p, sin, cos| {
            let friction = p.friction.unwrap_or(Friction {
                around: 0.0,
                along: 0.0,
            });
            let off = friction.along * p.radius * sin;
            let on = friction.around * 0.5 * p.reserve * cos;
            p.normal * off.hypot(on)
        })
    }

    /// Force across the axis at which something that presses lets go, or a part that only its ends hold slides; infinite where nothing can. N.
    ///
    /// A rigid part in pads of equal stiffness under a force `S`: `F_k` falls by `e_k (sum e e^T)^-1 S`, with `e_k` the pad's direction; of three or more even pads
    /// by no more than `2 S / n` (derived here).
    pub fn side(&self) -> f64 {
        let pads = || self.pressed.iter().filter(|p| p.yields_to_side);
        if pads().any(|p| p.angle.is_none()) {
            // pressed all round: the sum of forces across is half the integral of pressure before it is gone on one side
            return pads().map(|p| 0.5 * p.force).sum();
        }
        let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
        for (sin, cos) in pads().filter_map(|p| p.angle).map(f64::sin_cos) {
            xx += cos * cos;
            xy += cos * sin;
            yy += sin * sin;
        }
        let determinant = xx * yy - xy * xy;
        if pads().next().is_none() {
            return match self.end {
                // nothing but friction at the ends locates it
                Some(end) => end.friction.unwrap_or(0.0) * end.force,
                None => f64::INFINITY,
            };
        }
        if determinant < 1e-9 * (xx + yy).powi(2) {
            // all along one line: across it friction alone holds
            return self.over(|p, f| f.around * p.normal);
        }
        let share = |p: &Pressed| {
            let (sin, cos) = p.angle.unwrap_or(0.0).sin_cos();
            let x = (yy * cos - xy * sin) / determinant;
            let y = (xx * sin - xy * cos) / determinant;
            x.hypot(y)
        };
        pads()
            .map(|p| p.force / share(p))
            .fold(f64::INFINITY, f64::min)
    }

    /// How many times a demand it takes before the part slips, tips or lets go of a pad, all that is asked growing together. Infinite for no demand, zero
    /// without friction against one that needs it.
    ///
    /// Torque and axial force use the same friction, so `(T / T_max)^2 + (A / A_max)^2 = 1` at slip: Coulomb's circle, an ellipse where the coefficients round and
    /// along the part differ. A moment across the axis is taken by the forces as they move along the part; what they cannot take drags along the part, and adds to the axial
    /// force. A part that only its ends locate uses their friction up across the axis too, share added to share.
    pub fn safety(&self, demand: &Demand) -> f64 {
        let (torque, axial) = (self.torque(), self.axial());
        let (moving, dragging) = (self.by_moving(), self.by_dragging());
        let side = self.side();
        let located = self.pressed.iter().any(|p| p.yields_to_side);
        let share = |asked: f64, most: f64| match asked <= 0.0 {
            true => 0.0,
            false => asked / most,
        };
        let used = |s: f64| {
            let along = share(s * demand.axial, axial) + share(s * demand.tilt - moving, dragging);
            let friction = share(s * demand.torque, torque).hypot(along);
            let across = share(s * demand.side, side);
            match located {
                true => friction.max(across),
                false => friction + across,
            }
        };
        if used(1e12) <= 1.0 {
            return f64::INFINITY;
        }
        // what is used grows with the demand, so the root is closed in on; first by powers of two
        let mut high = 1.0;
        while used(high) <= 1.0 {
            high *= 2.0;
        }
        let mut low = 0.0;
        for _ in 0..200 {
            let middle = 0.5 * (low + high);
            if used(middle) <= 1.0 {
                low = middle;
            } else {
                high = middle;
            }
            if high - low <= 1e-14 * high {
                break;
            }
        }
        low
    }

    /// Sum over what presses with friction.
    fn over(&self, of: impl Fn(&Pressed, Friction) -> f64) -> f64 {
        let pressed = self.pressed.iter();
        pressed.filter_map(|p| Some(of(p, p.friction?))).sum()
    }

    /// Least sum over what presses of a strength times how far it lies off the axis of the moment.
    fn least(&self, strength: impl Fn(&Pressed) -> f64) -> f64 {
        self.least_of(|p, sin, _| strength(p) * sin)
    }

    /// Least sum over what presses of what each takes, by the sine and the cosine, both without their sign, of the angle between it and the axis of the moment.
    fn least_of(&self, takes: impl Fn(&Pressed, f64, f64) -> f64) -> f64 {
        let about = |axis: f64| -> f64 {
            let own = |p: &Pressed| match p.angle {
                Some(angle) => {
                    let (sin, cos) = (angle - axis).sin_cos();
                    takes(p, sin.abs(), cos.abs())
                }
                // the mean of |sin| over a turn
                None => takes(p, 2.0 * FRAC_1_PI, 0.0),
            };
            self.pressed.iter().map(own).sum()
        };
        let directions = (0..DIRECTIONS).map(|k| 0.5 * TAU * k as f64 / DIRECTIONS as f64);
        // the sum has its sharp minima where a pad lies on the axis
        let pads = self.pressed.iter().filter_map(|p| p.angle);
        directions
            .chain(pads)
            .map(about)
            .fold(f64::INFINITY, f64::min)
    }
}
