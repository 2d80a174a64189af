//! A hold set against a part, and closing it.

use std::ops::Range;

use super::clamped::{Clamped, settle};
use super::drive::{self, Given, Travel};
use super::face::first_touch;
use super::pads::{self, Against, Hat, Spread};
use super::programme::{Programme, UNBALANCED};
use super::search::Unsolved;
use super::sleeve::{Stands, Wall};
use super::{Clear, ContactError, Radius, Rounds};
use crate::linear::{Factor, Several};
use crate::mesh::Mesh;
use crate::scheme::{
    AfterClamping, Body, Face, PointForce, PressurePatch, Section, Sleeve, Supports,
};

/// Share of Young's modulus times the wall's own area below which a contact force is rounding: a steel wall of 5 mm, 20 mm long,
/// strained by a millionth of a millionth, which is 2e-5 N.
const ROUNDING: f64 = 1e-12;

/// Share of the dead loads below which their resultant is rounding.
const BALANCED: f64 = 1e-13;

/// Share of the greatest gap of a pad within which its middle or edges stand as near to the part as the nearest place does.
const NEAR: f64 = 1e-3;

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
    travels: Vec<Travel>,
    members: Vec<Member>,
    pub(super) section: Section,
    /// In-plane strain per axial force of an end clamp, 1/N.
    growth: f64,
}

/// What one scheme of the hold has in the lists of [`Clamp`].
#[derive(Clone, Debug)]
struct Member {
    bodies: Range<usize>,
    travels: Range<usize>,
    patches: Range<usize>,
    points: Range<usize>,
    /// Axial force on the ends, N.
    axial: f64,
    /// Whether its travels stay where they are once it is closed.
    locks: bool,
}

/// The body that a hold closes on.
struct Part<'a> {
    /// The part, and the sleeves after it.
    factor: &'a dyn Factor,
    mesh: &'a Mesh,
    /// Nodes of the part and the sleeves.
    nodes: usize,
    /// Nodal forces that balance among themselves, N.
    load: Option<&'a [[f64; 2]]>,
}

/// What loads the part beside contact.
struct Dead {
    load: Vec<[f64; 2]>,
    resultant: [f64; 2],
    /// Sum of the sizes of the forces, N.
    size: f64,
    /// Displacement under them alone, with the growth, mm.
    shape: Vec<[f64; 2]>,
    /// Even growth in the plane, strain.
    growth: f64,
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
        let mut clamp = Self {
            bodies: Vec::new(),
            stands: Vec::new(),
            sleeves: Vec::new(),
            positions: Vec::new(),
            patches: Vec::new(),
            points: Vec::new(),
            travels: Vec::new(),
            members: Vec::new(),
            section,
            growth: 0.0,
        };
        for support in supports {
            clamp.add(support, force_scale, free)?;
        }
        Ok(clamp)
    }

    /// The same hold on a part that grows in the plane by this strain per newton of axial force: Poisson's ratio over
    /// Young's modulus and area of the section.
    pub fn growing(self, growth: f64) -> Self {
        Self { growth, ..self }
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
            travels: extend(
                &mut self.travels,
                drive::travels(&support.drive, &support.bodies, first, scale),
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

    /// Strain by which the part has grown in the plane once all is closed.
    pub fn grown(&self) -> f64 {
        self.growth * self.axial_force()
    }

    /// Whether what a body carries is the integral of its pressure: full circles and sleeves have no axis.
    pub fn goes_round(&self, body: usize) -> bool {
        self.bodies[body].is_full_circle() || matches!(self.stands[body], Stands::AsSleeve(_))
    }

    /// Whether a body touches the part itself.
    pub fn touches_part(&self, body: usize) -> bool {
        !matches!(self.stands[body], Stands::OnSleeve(_))
    }

    /// Nominal radius of what a body stands on, mm.
    pub(super) fn nominal_radius(&self, body: usize) -> f64 {
        match self.stands[body] {
            Stands::OnSleeve(k) => self.sleeves[k].back(),
            Stands::OnPart | Stands::AsSleeve(_) => self.section.radius(self.bodies[body].surface),
        }
    }

    /// Refuses a state in which nothing presses on the part; a hold of nothing at all is not meant to. `stiffness` is Young's
    /// modulus, MPa: contact forces that are rounding to the part are none.
    ///
    /// # Errors
    /// [`ContactError::NothingPresses`].
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
        let driven = self.travels.iter().any(|t| {
            let moves = |b: usize| t.share(b) != 0.0;
            let bodies = 0..self.bodies.len();
            matches!(t.given, Given::Force(f) if f != 0.0) && bodies.filter(on_part).any(moves)
        });
        let given = self.axial_force() != 0.0 || driven || dead.into_iter().any(|f| f != 0.0);
        let bodies = 0..self.bodies.len();
        let contact: f64 = bodies
            .clone()
            .filter(on_part)
            .map(|b| state.pressure_integral(b))
            .sum();
        let wall = self.section.outer_radius - self.section.bore_radius;
        let rounding = ROUNDING * stiffness * wall * self.section.length;
        if !holds || given || contact > rounding {
            return Ok(());
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

    /// The hold after clamping: travels that keep their position are fixed where they are in `clamped`.
    pub fn after_clamping(&self, clamped: &Clamped) -> Self {
        let mut after = self.clone();
        for member in self.members.iter().filter(|m| m.locks) {
            after.lock(member.travels.clone(), &clamped.travels);
        }
        after
    }

    fn lock(&mut self, travels: Range<usize>, at: &[f64]) {
        for k in travels {
            self.travels[k].given = Given::Position(at[k]);
        }
    }

    /// Clamps the body behind `factor` and `mesh`.
    ///
    /// Bodies at fixed positions stand there from the start; schemes with forces close in the order of the list, and one that
    /// keeps its position is locked before the next closes. Forces alone have one answer whatever their order, so nothing is
    /// solved in between unless something is locked.
    ///
    /// `gap_surface` is what the gaps are measured from (mm over rad), `body_load` further nodal forces that balance
    /// among themselves (residual stress), `start` an earlier state of the same hold, on any mesh: what carried there is tried first.
    /// `rounds` hears of every round.
    ///
    /// # Errors
    /// See [`ContactError`].
    pub fn clamp(
        &self,
        factor: &dyn Factor,
        mesh: &Mesh,
        gap_surface: &Radius,
        body_load: Option<&[[f64; 2]]>,
        start: Option<&Clamped>,
        rounds: &Rounds,
    ) -> Result<Clamped, ContactError> {
        let walls = self.walls(mesh)?;
        let several = Several::new(
            std::iter::once((factor, mesh.nodes())).chain(
                walls
                    .iter()
                    .map(|w| (&w.factor as &dyn Factor, w.mesh.nodes())),
            ),
        );
        let hats = self.hats(mesh, &walls, gap_surface)?;
        let part = Part {
            factor: if walls.is_empty() { factor } else { &several },
            mesh,
            nodes: mesh.nodes() + walls.iter().map(|w| w.mesh.nodes()).sum::<usize>(),
            load: body_load,
        };
        let mut hold = self.clone();
        for member in self.locked_early() {
            let standing: Vec<Hat> = hats
                .iter()
                .filter(|h| hold.stands(h.body, member))
                .cloned()
                .collect();
            let closed = hold
                .close(&part, standing, member, None, rounds)
                .map_err(|e| e.at_scheme(member + 1))?;
            hold.lock(self.members[member].travels.clone(), &closed.travels);
        }
        let last = self.members.len().saturating_sub(1);
        hold.close(&part, hats, last, start, rounds)
    }

    /// Schemes that close by force, are then locked, and have a load after them in the list.
    fn locked_early(&self) -> Vec<usize> {
        let forced = |m: &Member| {
            self.travels[m.travels.clone()]
                .iter()
                .any(Travel::is_forced)
        };
        let loads = |m: &Member| {
            forced(m) || !m.patches.is_empty() || !m.points.is_empty() || m.axial != 0.0
        };
        (0..self.members.len())
            .filter(|&k| {
                let member = &self.members[k];
                member.locks && forced(member) && self.members[k + 1..].iter().any(loads)
            })
            .collect()
    }

    /// Whether a body is there once the scheme `last` of the list has closed: bodies of later schemes are if they are fixed.
    fn stands(&self, body: usize, last: usize) -> bool {
        self.members[..=last]
            .iter()
            .any(|m| m.bodies.contains(&body))
            || !self
                .travels
                .iter()
                .any(|t| t.is_forced() && t.share(body) != 0.0)
    }

    /// The equilibrium once the scheme `last` of the list has closed, on the hats of what stands by then.
    fn close(
        &self,
        part: &Part,
        hats: Vec<Hat>,
        last: usize,
        start: Option<&Clamped>,
        rounds: &Rounds,
    ) -> Result<Clamped, ContactError> {
        let members = &self.members[..self.members.len().min(last + 1)];
        let dead = self.dead(part, members)?;
        let driven = members.last().map_or(0, |m| m.travels.end);
        let travels: Vec<Travel> = self
            .travels
            .iter()
            .enumerate()
            .map(|(k, t)| match t.given {
                Given::Force(_) if k >= driven => Travel {
                    given: Given::Position(0.0),
                    ..t.clone()
                },
                _ => t.clone(),
            })
            .collect();
        let weighted: Vec<f64> = hats
            .iter()
            .map(|h| {
                h.load
                    .iter()
                    .map(|&(n, f)| f[0] * dead.shape[n][0] + f[1] * dead.shape[n][1])
                    .sum()
            })
            .collect();
        let springs: Vec<f64> = self.bodies.iter().map(spring).collect();
        let programme = Programme {
            factor: part.factor,
            hats: &hats,
            travels: &travels,
            springs: &springs,
            dead: &weighted,
            dead_resultant: dead.resultant,
            sleeves: self.sleeves.len(),
            watch: rounds,
        };
        let start = start.map_or_else(|| first_to_touch(&hats), |s| s.carrying(&hats));
        let solution = programme.solve(start).map_err(|unsolved| match unsolved {
            Unsolved::Stopped(stop) => ContactError::Stopped(stop),
            Unsolved::Cycled { rounds, hat } => ContactError::Cycled {
                rounds,
                body: hats[hat].body + 1,
                offset_deg: hats[hat].t.to_degrees(),
            },
            Unsolved::TooMany { carrying, most } => ContactError::TooLarge { carrying, most },
        })?;
        let forces: f64 = dead.size
            + hats
                .iter()
                .zip(&solution.pressures)
                .map(|(h, p)| h.along * p)
                .sum::<f64>()
            + driving_force(&travels);
        if solution.unbalanced > UNBALANCED * forces {
            return Err(ContactError::Loose {
                left: solution.unbalanced,
                scheme: None,
            });
        }
        let mut load = dead.load;
        for (node, f) in programme.load(&solution.pressures) {
            load[node][0] += f[0];
            load[node][1] += f[1];
        }
        let mut displacement = if hats.is_empty() {
            dead.shape
        } else {
            let mut u = part.factor.solve(&load)?;
            grow(part.mesh, dead.growth, &mut u);
            u
        };
        if dead.growth != 0.0 {
            let mut grown = vec![[0.0; 2]; part.nodes];
            grow(part.mesh, dead.growth, &mut grown);
            for (f, g) in load.iter_mut().zip(part.factor.forces(&grown)) {
                f[0] += g[0];
                f[1] += g[1];
            }
        }
        displacement.truncate(part.mesh.nodes());
        load.truncate(part.mesh.nodes());
        for u in &mut displacement {
            u[0] += solution.shift[0];
            u[1] += solution.shift[1];
        }
        let mut moved = solution.travels;
        let free_shifts = settle(part.mesh, &mut displacement, &mut moved, &solution.free);
        let of_body = |b| {
            travels
                .iter()
                .zip(&moved)
                .map(|(t, d)| t.share(b) * d)
                .sum()
        };
        Ok(Clamped {
            displacement,
            load,
            body_travels: (0..self.bodies.len()).map(of_body).collect(),
            travels: moved,
            bodies: self.bodies.clone(),
            free_shifts,
            rounds: solution.rounds,
            pressures: solution.pressures,
            gaps: solution.gaps,
            active: solution.active,
            hats,
        })
    }

    /// The dead loads of some schemes and what they do to the part.
    fn dead(&self, part: &Part, members: &[Member]) -> Result<Dead, ContactError> {
        let mut load = vec![[0.0; 2]; part.nodes];
        if let Some(body) = part.load {
            load[..body.len()].copy_from_slice(body);
        }
        let mut resultant = [0.0; 2];
        let mut size = 0.0;
        let mut add = |(node, f): (usize, [f64; 2])| {
            for axis in 0..2 {
                load[node][axis] += f[axis];
                resultant[axis] += f[axis];
            }
        };
        let no_line = |k: usize, angle: f64| ContactError::NoLine {
            index: k + 1,
            angle_deg: angle.to_degrees(),
        };
        for k in members.iter().flat_map(|m| m.patches.clone()) {
            let patch = &self.patches[k];
            let span = pads::span(
                part.mesh,
                patch.angle - patch.half_angle,
                patch.angle + patch.half_angle,
            )
            .ok_or(no_line(k, patch.angle))?;
            size += patch.force.abs();
            pads::patch_load(part.mesh, patch, span)
                .into_iter()
                .for_each(&mut add);
        }
        for k in members.iter().flat_map(|m| m.points.clone()) {
            let point = &self.points[k];
            size += point.force.abs();
            add(pads::point_load(part.mesh, point).ok_or(no_line(k, point.angle))?);
        }
        // loads that balance among themselves leave their rounding
        if resultant[0].hypot(resultant[1]) <= BALANCED * size {
            resultant = [0.0; 2];
        }
        let growth = self.growth * members.iter().map(|m| m.axial).sum::<f64>();
        let mut shape = if part.load.is_some() || size > 0.0 {
            part.factor.solve(&load)?
        } else {
            vec![[0.0; 2]; part.nodes]
        };
        grow(part.mesh, growth, &mut shape);
        Ok(Dead {
            load,
            resultant,
            size,
            shape,
            growth,
        })
    }

    /// The sleeves on the lines of a mesh of the part.
    fn walls(&self, mesh: &Mesh) -> Result<Vec<Wall>, ContactError> {
        let mut first = mesh.nodes();
        let mut walls = Vec::new();
        for sleeve in &self.sleeves {
            let wall = Wall::new(*sleeve, mesh, self.section.length, first)?;
            first += wall.mesh.nodes();
            walls.push(wall);
        }
        Ok(walls)
    }

    fn hats(
        &self,
        mesh: &Mesh,
        walls: &[Wall],
        gap_surface: &Radius,
    ) -> Result<Vec<Hat>, ContactError> {
        let mut hats = Vec::new();
        for (k, body) in self.bodies.iter().enumerate() {
            let outline = |theta: f64| gap_surface(body.surface, theta);
            let against = Against {
                outline: &outline,
                nominal_radius: self.section.radius(body.surface),
                length: self.section.length,
            };
            for piece in 0..body.pieces().len() {
                let place = pads::Place {
                    body: k,
                    piece,
                    position: self.positions[k],
                    round: self.goes_round(k),
                };
                let on_part = || pads::hats(mesh, body, place, &against);
                let pressed = match self.stands[k] {
                    Stands::OnPart => on_part(),
                    Stands::OnSleeve(s) => walls[s].back_hats(s, body, place, self.section.length),
                    Stands::AsSleeve(s) => on_part().and_then(|mut list| {
                        walls[s].push_back(s, &mut list, place, &against)?;
                        Some(list)
                    }),
                };
                hats.extend(pressed.ok_or(ContactError::NoLine {
                    index: k + 1,
                    angle_deg: body.angle.to_degrees(),
                })?);
            }
        }
        // where two pads meet their edge forces are one load and could not be told apart; the hats share it
        let edge_node = |h: &Hat| (h.spread == Spread::EdgeForce).then(|| h.load[0].0);
        let nodes: Vec<usize> = hats.iter().filter_map(edge_node).collect();
        hats.retain(|h| {
            edge_node(h).is_none_or(|n| nodes.iter().filter(|&&m| m == n).count() == 1)
        });
        Ok(hats)
    }
}

/// Appends to a list and says where.
fn extend<T>(list: &mut Vec<T>, more: impl IntoIterator<Item = T>) -> Range<usize> {
    let start = list.len();
    list.extend(more);
    start..list.len()
}

/// Adds an even growth to displacements.
fn grow(mesh: &Mesh, strain: f64, displacement: &mut [[f64; 2]]) {
    if strain != 0.0 {
        for (u, c) in displacement.iter_mut().zip(mesh.coords()) {
            u[0] += strain * c[0];
            u[1] += strain * c[1];
        }
    }
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

/// Give of what carries a body, mm/N. A full circle has no axis along which it could give.
fn spring(body: &Body) -> f64 {
    match body.stiffness {
        Some(stiffness) if !body.is_full_circle() => 1.0 / stiffness,
        _ => 0.0,
    }
}

fn driving_force(travels: &[Travel]) -> f64 {
    travels
        .iter()
        .map(|t| match t.given {
            Given::Force(f) => f.abs(),
            Given::Position(_) => 0.0,
        })
        .sum()
}

/// Starting guess: of each piece of a pad its place that stands nearest to the part, and of its middle and its two edge forces
/// those that stand no farther off. Those three where all touch: never everything at once.
fn first_to_touch(hats: &[Hat]) -> Vec<bool> {
    let mut active = vec![false; hats.len()];
    let same = |a: &Hat, b: &Hat| a.body == b.body && a.piece == b.piece;
    for piece in hats.chunk_by(same) {
        let first = hats.iter().position(|h| same(h, &piece[0])).unwrap_or(0);
        let gap = |k: usize| piece[k].gap / piece[k].area;
        let spread = |k: &usize| piece[*k].spread == Spread::Hat;
        let off = |k: usize| (piece[k].t - piece[k].middle).abs();
        let all = 0..piece.len();
        let middle = all
            .clone()
            .filter(spread)
            .min_by(|&a, &b| off(a).total_cmp(&off(b)));
        let nearest = all.clone().min_by(|&a, &b| gap(a).total_cmp(&gap(b)));
        let gaps = || all.clone().map(gap);
        let (least, most) = (
            gaps().fold(f64::INFINITY, f64::min),
            gaps().fold(f64::NEG_INFINITY, f64::max),
        );
        let near = |k: &usize| gap(*k) <= least + NEAR * (most - least);
        let edges = all.clone().filter(|k| !spread(k));
        let tied = middle.into_iter().chain(edges).filter(near);
        let found: Vec<usize> = tied.collect();
        let found = if found.is_empty() {
            nearest.into_iter().collect()
        } else {
            found
        };
        for k in found {
            active[first + k] = true;
        }
    }
    active
}
