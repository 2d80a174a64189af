//! A hold set against a part: faces at first touch, drives, dead loads. [`closing`](super::closing) closes it.

use std::f64::consts::TAU;
use std::ops::Range;

use super::clamped::Clamped;
use super::drive;
use super::face::first_touch;
use super::pressure::{Against, Ends, PadPosition, PressureDof, Spread, pressure_dofs};
use super::quadratic::{DriveDof, Prescribed};
use super::sleeve::Stands;
use super::{Clear, ContactError, Radius};
use crate::geometry::{PerSurface, Surface};
use crate::scheme::{
    AfterClamping, Body, Face, PointForce, PressurePatch, Section, Sleeve, Supports,
};

/// Share of Young's modulus times the wall's own area below which a contact force is rounding: a steel wall of 5 mm, 20 mm long,
/// strained by a millionth of a millionth, which is 2e-5 N.
const ROUNDING: f64 = 1e-12;

/// Pad edges nearer to each other than this are one place, rad.
const SAME_PLACE: f64 = 1e-9;

/// A hold set against a part: faces at first touch, drives, dead loads.
#[derive(Clone, Debug)]
pub struct Clamp {
    pub(super) bodies: Vec<Body>,
    /// What each body stands against.
    pub(super) stands: Vec<Stands>,
    sleeves: Vec<Sleeve>,
    /// Position of each face at first touch, mm.
    pub(super) positions: Vec<f64>,
    patches: Vec<PressurePatch>,
    points: Vec<PointForce>,
    pub(super) drive_dofs: Vec<DriveDof>,
    pub(super) members: Vec<Member>,
    pub(super) section: Section,
    /// In-plane Poisson expansion per axial force of an end clamp, strain per N.
    expansion: f64,
}

/// What one scheme of the hold has in the lists of [`Clamp`].
#[derive(Clone, Debug)]
pub(super) struct Member {
    pub bodies: Range<usize>,
    pub drive_dofs: Range<usize>,
    pub patches: Range<usize>,
    pub points: Range<usize>,
    /// Axial force on the ends, N.
    pub axial: f64,
    /// Whether its drives stay where they are once it is closed.
    pub locks: bool,
}

impl Clamp {
    /// Sets the supports of a hold, forces scaled by `force_scale`, against a part whose free surface is `free`
    /// (mm over rad, outside then bore).
    ///
    /// # Errors
    /// [`ContactError::FaceTooNarrow`].
    pub fn new(
        supports: &[Supports],
        force_scale: f64,
        section: Section,
        free: &Radius,
    ) -> Result<Self, ContactError> {
        Self::along(supports, force_scale, section, &|_, s, t| free(s, t))
    }

    /// The same where each scheme (by its number from 0) stands against surfaces of its own, as along a tube.
    ///
    /// # Errors
    /// [`ContactError::FaceTooNarrow`].
    pub(crate) fn along(
        supports: &[Supports],
        force_scale: f64,
        section: Section,
        free: &dyn Fn(usize, Surface, f64) -> f64,
    ) -> Result<Self, ContactError> {
        let mut clamp = Self {
            bodies: Vec::new(),
            stands: Vec::new(),
            sleeves: Vec::new(),
            positions: Vec::new(),
            patches: Vec::new(),
            points: Vec::new(),
            drive_dofs: Vec::new(),
            members: Vec::new(),
            section,
            expansion: 0.0,
        };
        for (member, support) in supports.iter().enumerate() {
            clamp.add(support, force_scale, &|s, t| free(member, s, t))?;
        }
        Ok(clamp)
    }

    /// The same hold on a part that expands in the plane by this strain per newton of axial force: Poisson's ratio over
    /// Young's modulus and area of the section.
    pub fn expanding(self, expansion: f64) -> Self {
        Self { expansion, ..self }
    }

    fn add(&mut self, support: &Supports, scale: f64, free: &Radius) -> Result<(), ContactError> {
        let first = self.bodies.len();
        let mut touch = Vec::new();
        for (k, body) in support.bodies.iter().enumerate() {
            let position = match support.sleeve {
                Some(sleeve) => touching(body, &|_, _| sleeve.back()),
                None => touching(body, free),
            };
            touch.push(position.ok_or(ContactError::FaceTooNarrow {
                body: first + k + 1,
                radius: face_arc(body),
            })?);
        }
        drive::touch_together(&support.drive, &support.bodies, &mut touch);
        self.members.push(Member {
            bodies: extend(&mut self.bodies, support.faces()),
            drive_dofs: extend(
                &mut self.drive_dofs,
                drive::drive_dofs(&support.drive, &support.bodies, first, scale),
            ),
            patches: extend(
                &mut self.patches,
                support.pressures.iter().map(|p| PressurePatch {
                    force: p.force * scale,
                    ..*p
                }),
            ),
            points: extend(
                &mut self.points,
                support.points.iter().map(|p| PointForce {
                    force: p.force * scale,
                    ..*p
                }),
            ),
            axial: support.end_clamp.map_or(0.0, |e| e.force * scale),
            locks: support.after_clamping == AfterClamping::KeepsPosition,
        });
        self.positions.extend(touch);
        let number = self.sleeves.len();
        let stands = match support.sleeve {
            Some(_) => Stands::OnSleeve(number),
            None => Stands::OnPart,
        };
        self.stands.resize(first + support.bodies.len(), stands);
        if let Some(sleeve) = support.sleeve {
            // a sleeve lies about the axis until something pushes it
            self.positions.push(0.0);
            self.stands.push(Stands::AsSleeve(number));
            self.sleeves.push(sleeve);
        }
        Ok(())
    }

    /// Whether pressures of both holds act at the same places of the same parts, whatever forces, gaps and faces they have: compliances
    /// of one are then those of the other.
    pub(crate) fn presses_alike(&self, other: &Self) -> bool {
        let same = |(a, b): (&Body, &Body)| {
            a.surface == b.surface
                && a.angle == b.angle
                && a.half_angle == b.half_angle
                && a.relief == b.relief
                && a.layer == b.layer
                && a.stiffness == b.stiffness
        };
        self.bodies.len() == other.bodies.len()
            && self.bodies.iter().zip(&other.bodies).all(same)
            && self.sleeves == other.sleeves
            && self.gripped() == other.gripped()
    }

    /// Whether a body is moved by what is set to a force.
    pub fn is_forced(&self, body: usize) -> bool {
        let mut all = self.drive_dofs.iter();
        all.any(|t| t.is_forced() && t.share(body) != 0.0)
    }

    /// The bodies, over all schemes of the hold.
    pub fn bodies(&self) -> &[Body] {
        &self.bodies
    }

    /// The dead loads over an arc.
    pub fn patches(&self) -> &[PressurePatch] {
        &self.patches
    }

    /// The forces on single lines.
    pub fn points(&self) -> &[PointForce] {
        &self.points
    }

    /// Axial force on the ends once all is closed, N.
    pub fn axial_force(&self) -> f64 {
        self.members.iter().map(|m| m.axial).sum()
    }

    /// In-plane Poisson expansion of the part once all is closed, strain.
    pub fn poisson_expansion(&self) -> f64 {
        self.expansion * self.axial_force()
    }

    /// Whether the force of a body is the integral of its pressure: full circles and sleeves have no axis.
    pub fn goes_round(&self, body: usize) -> bool {
        self.bodies[body].is_full_circle() || matches!(self.stands[body], Stands::AsSleeve(_))
    }

    /// Whether a body touches the part itself.
    pub fn touches_part(&self, body: usize) -> bool {
        !matches!(self.stands[body], Stands::OnSleeve(_))
    }

    /// Nominal radius of what a body stands on, mm.
    pub(crate) fn nominal_radius(&self, body: usize) -> f64 {
        match self.stands[body] {
            Stands::OnSleeve(k) => self.sleeves[k].back(),
            Stands::OnPart | Stands::AsSleeve(_) => self.section.radius(self.bodies[body].surface),
        }
    }

    /// Refuses a state in which nothing presses on the part; a hold of nothing at all is not meant to. `stiffness` is Young's
    /// modulus, MPa: contact forces that are rounding to the part are none.
    ///
    /// # Errors
    /// [`ContactError::NothingPresses`]; [`ContactError::TooCoarse`] where that may be the elements' fault.
    pub fn check_presses(
        &self,
        state: &Clamped,
        stiffness: f64,
        cut: bool,
    ) -> Result<(), ContactError> {
        let holds = !self.members.is_empty();
        let on_part = |b: &usize| self.touches_part(*b);
        let dead = self.patches.iter().map(|p| p.force);
        let dead = dead.chain(self.points.iter().map(|p| p.force));
        // what drives a body home against the part presses on it, however lightly; against a sleeve it may not
        let driven = self.drive_dofs.iter().any(|t| {
            let moves = |b: usize| t.share(b) != 0.0;
            let bodies = 0..self.bodies.len();
            matches!(t.prescribed, Prescribed::Force(f) if f != 0.0)
                && bodies.filter(on_part).any(moves)
        });
        let prescribed = self.axial_force() != 0.0 || driven || dead.into_iter().any(|f| f != 0.0);
        let bodies = 0..self.bodies.len();
        let contact: f64 = bodies
            .clone()
            .filter(on_part)
            .map(|b| state.pressure_integral(b))
            .sum();
        let wall = self.section.outer_radius - self.section.bore_radius;
        let rounding = ROUNDING * stiffness * wall * self.section.length;
        if !holds || prescribed || contact > rounding {
            return Ok(());
        }
        // what is set past first contact should press, if the part has not moved out of its way
        let may_touch = |b: &usize| {
            let hidden = || state.hidden_approaches(*b).iter().any(|p| !p.is_empty());
            on_part(b) && state.approach(*b) > 0.0 && hidden()
        };
        if let Some(body) = bodies.clone().find(may_touch) {
            return Err(ContactError::TooCoarse { body: body + 1 });
        }
        let nearest = bodies
            .filter(|&b| self.touches_part(b))
            .map(|b| self.clear(b, state))
            .min_by(|a, b| a.gap.total_cmp(&b.gap));
        Err(ContactError::NothingPresses { nearest, cut })
    }

    /// How far a body stands clear.
    fn clear(&self, body: usize, state: &Clamped) -> Clear {
        let b = &self.bodies[body];
        let outside = b.surface.outward() * (face_arc(b) - self.section.radius(b.surface));
        let round = b.is_full_circle();
        Clear {
            body: body + 1,
            gap: if round {
                outside
            } else {
                state.least_gap(body).0
            }
            .max(0.0),
            round,
        }
    }

    /// The hold after clamping: drives that keep their position are fixed where they are in `clamped`.
    pub fn after_clamping(&self, clamped: &Clamped) -> Self {
        let mut after = self.clone();
        for member in self.members.iter().filter(|m| m.locks) {
            after.lock(member.drive_dofs.clone(), &clamped.drive_displacements);
        }
        after
    }

    pub(super) fn lock(&mut self, drive_dofs: Range<usize>, at: &[f64]) {
        for k in drive_dofs {
            self.drive_dofs[k].prescribed = Prescribed::Displacement(at[k]);
        }
    }

    /// Patches and point forces of the first so many schemes, by their places in the lists.
    pub(super) fn dead_loads(&self, members: usize) -> (Vec<usize>, Vec<usize>) {
        let members = &self.members[..members];
        (
            members.iter().flat_map(|m| m.patches.clone()).collect(),
            members.iter().flat_map(|m| m.points.clone()).collect(),
        )
    }

    /// In-plane Poisson expansion of the part once the first so many schemes have closed, strain.
    pub(super) fn poisson_expansion_of(&self, members: usize) -> f64 {
        self.expansion * self.members[..members].iter().map(|m| m.axial).sum::<f64>()
    }

    /// Number of schemes.
    pub(super) fn members(&self) -> usize {
        self.members.len()
    }

    /// Approach of each body (mm), from the displacements of the drives.
    pub(super) fn approaches(&self, drive_dofs: &[DriveDof], displacements: &[f64]) -> Vec<f64> {
        let of_body = |b| {
            drive_dofs
                .iter()
                .zip(displacements)
                .map(|(t, d)| t.share(b) * d)
                .sum()
        };
        (0..self.bodies.len()).map(of_body).collect()
    }

    /// The pressure degrees of freedom of all bodies, with the element ends that `ends` gives for each piece of a body.
    pub(super) fn pressure_dofs(
        &self,
        gap_surface: &Radius,
        ends: &mut dyn FnMut(usize, [f64; 2]) -> Result<Ends, ContactError>,
    ) -> Result<Vec<PressureDof>, ContactError> {
        let mut dofs = Vec::new();
        for (k, body) in self.bodies.iter().enumerate() {
            let back = match self.stands[k] {
                Stands::OnSleeve(s) => Some(self.sleeves[s].back()),
                Stands::OnPart | Stands::AsSleeve(_) => None,
            };
            let outline = |theta: f64| match back {
                Some(radius) => radius,
                None => gap_surface(body.surface, theta),
            };
            let against = Against {
                outline: &outline,
                nominal_radius: self.nominal_radius(k),
                length: self.section.length,
            };
            for (piece, arc) in body.pieces().into_iter().enumerate() {
                let place = PadPosition {
                    body: k,
                    piece,
                    position: self.positions[k],
                    round: self.goes_round(k),
                    presses: self.stands[k].presses(body.surface),
                };
                let ends = ends(k, arc)?;
                dofs.extend(pressure_dofs(&ends, body, &place, &against));
            }
        }
        // where two pads meet their edge forces are one load and could not be told apart; the shape functions share it
        let edge = |d: &PressureDof| {
            let place = (d.segments[0].from / SAME_PLACE).round() as i64;
            (d.spread == Spread::EdgeForce).then(|| {
                (
                    place.rem_euclid((TAU / SAME_PLACE).round() as i64),
                    d.presses.clone(),
                )
            })
        };
        let edges: Vec<_> = dofs.iter().filter_map(edge).collect();
        dofs.retain(|d| edge(d).is_none_or(|e| edges.iter().filter(|&f| *f == e).count() == 1));
        Ok(dofs)
    }

    /// Nominal radii of the part's surfaces, mm.
    pub(super) fn gripped(&self) -> PerSurface<f64> {
        PerSurface::from_fn(|s| self.section.radius(s))
    }

    /// The sleeves of the hold.
    pub(crate) fn sleeves(&self) -> &[Sleeve] {
        &self.sleeves
    }
}

/// Appends to a list and says where.
fn extend<T>(list: &mut Vec<T>, more: impl IntoIterator<Item = T>) -> Range<usize> {
    let start = list.len();
    list.extend(more);
    start..list.len()
}

/// Where a face first touches the free part, mm; `None` if it does not reach the edges of its pad. A full circle is centred on
/// the axis: an interference fit is past any first touch.
fn touching(body: &Body, free: &Radius) -> Option<f64> {
    if body.is_full_circle() {
        return Some(0.0);
    }
    let outside = body.surface.outward();
    let radius = |t: f64| free(body.surface, body.angle + t);
    let mut first = f64::NEG_INFINITY;
    for piece in body.pieces() {
        let position = first_touch(body.face, body.surface, piece, radius)?;
        first = first.max(outside * position);
    }
    Some(outside * first)
}

fn face_arc(body: &Body) -> f64 {
    match body.face {
        Face::Concave { radius } | Face::Convex { radius } => radius,
        Face::Flat => f64::INFINITY,
    }
}
