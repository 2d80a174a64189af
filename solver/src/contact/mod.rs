//! Unilateral contact between rigid faces and the part: what touches, how hard, and where the part then lies.
//!
//! Bodies are rigid, there is no friction and no adhesion, pressure acts along the part's radius. Nothing is assumed
//! about symmetry or about how many arcs of a pad carry. No penalty enters: contact is exact on the mesh. Read [`Clamp`] and
//! [`Clamped`] first; `programme` holds the algorithm.

mod face;
mod pads;
mod programme;
mod strips;

pub use face::{face_radius, first_touch};
pub use pads::bore_means;
pub use strips::Strip;

use crate::linear::{Factor, LinearError, NodeForce};
use crate::mesh::Mesh;
use crate::scheme::{AfterClamping, Body, Drive, PressurePatch, Push, Section, Supports};
use pads::{Against, Hat, Spread};
use programme::{Given, Programme, Travel};

/// Contact that has no trustworthy answer.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum ContactError {
    /// The active set did not settle.
    #[error(
        "contact did not settle in {rounds} rounds: body {body} keeps opening and closing {offset_deg:.2} deg from its \
         middle; refine the mesh there"
    )]
    Cycled {
        /// Rounds taken.
        rounds: usize,
        /// Body, numbered from 1 over the whole hold.
        body: usize,
        /// Where on it, degrees from its axis.
        offset_deg: f64,
    },
    /// The forces have no equilibrium with what touches.
    #[error("nothing stops the part: the forces leave {left:.3} N without a reaction")]
    Loose {
        /// What is left over, N.
        left: f64,
    },
    /// The factor of the body is not good enough.
    #[error(transparent)]
    Linear(#[from] LinearError),
    /// A face is narrower than its pad.
    #[error(
        "body {body}: its arc of radius {radius:.3} mm does not reach the edges of the pad; make the pad narrower or the radius larger"
    )]
    FaceTooNarrow {
        /// Body, numbered from 1 over the whole hold.
        body: usize,
        /// Radius of the face, mm.
        radius: f64,
    },
    /// The mesh has no line where a pad or patch ends.
    #[error("the mesh has no line at the edge of body or patch {index} ({angle_deg:.4} deg)")]
    NoLine {
        /// Body or patch, numbered from 1.
        index: usize,
        /// Its axis, degrees.
        angle_deg: f64,
    },
}

/// A hold set against a part: faces at first touch, drives, dead loads.
#[derive(Clone, Debug)]
pub struct Clamp {
    bodies: Vec<Body>,
    /// Position of each face at first touch, mm.
    positions: Vec<f64>,
    patches: Vec<PressurePatch>,
    travels: Vec<Travel>,
    /// For each travel, whether it stays where it is once clamped.
    locks: Vec<bool>,
    section: Section,
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
        free: &dyn Fn(crate::geometry::Surface, f64) -> f64,
    ) -> Result<Self, ContactError> {
        let mut clamp = Self {
            bodies: Vec::new(),
            positions: Vec::new(),
            patches: Vec::new(),
            travels: Vec::new(),
            locks: Vec::new(),
            section,
        };
        for support in supports {
            let first = clamp.bodies.len();
            clamp.bodies.extend(&support.bodies);
            clamp
                .patches
                .extend(support.pressures.iter().map(|p| PressurePatch {
                    force: p.force * force_scale,
                    ..*p
                }));
            let mut touch = Vec::new();
            for (k, body) in support.bodies.iter().enumerate() {
                if body.is_full_circle() {
                    // centred on the axis: an interference fit is past any first touch
                    touch.push(0.0);
                    continue;
                }
                let radius = |t: f64| free(body.surface, body.angle + t);
                let position = first_touch(body.face, body.surface, body.half_angle, radius)
                    .ok_or(ContactError::FaceTooNarrow {
                        body: first + k + 1,
                        radius: face_arc(body),
                    })?;
                touch.push(position);
            }
            let all: Vec<usize> = (first..clamp.bodies.len()).collect();
            match &support.drive {
                Drive::Each(pushes) => {
                    for (&b, push) in all.iter().zip(pushes) {
                        let given = match push {
                            Push::Force(force) => Given::Force(force * force_scale),
                            Push::Gap(_) if clamp.bodies[b].is_full_circle() => {
                                Given::Position(0.0)
                            }
                            Push::Gap(gap) => Given::Position(-gap),
                        };
                        clamp.travels.push(Travel {
                            bodies: vec![b],
                            given,
                        });
                    }
                }
                Drive::SelfCentring { force } if !all.is_empty() => {
                    // one position for all: the first touch of any of them
                    let outside = support.bodies[0].surface.outward();
                    let first_of_all = touch
                        .iter()
                        .fold(f64::NEG_INFINITY, |m, &c| m.max(outside * c))
                        * outside;
                    touch.fill(first_of_all);
                    let total = force * force_scale * all.len() as f64;
                    clamp.travels.push(Travel {
                        bodies: all,
                        given: Given::Force(total),
                    });
                }
                Drive::SelfCentring { .. } => {}
                Drive::EqualisedPairs { .. } => todo!("rockers"),
            }
            let lock = support.after_clamping == AfterClamping::KeepsPosition;
            clamp.locks.resize(clamp.travels.len(), lock);
            clamp.positions.extend(touch);
        }
        Ok(clamp)
    }

    /// The bodies, over all schemes of the hold.
    pub fn bodies(&self) -> &[Body] {
        &self.bodies
    }

    /// The dead loads.
    pub fn patches(&self) -> &[PressurePatch] {
        &self.patches
    }

    /// The hold after clamping: travels that keep their position are fixed where they are in `clamped`.
    pub fn after_clamping(&self, clamped: &Clamped) -> Self {
        let mut after = self.clone();
        for (k, travel) in after.travels.iter_mut().enumerate() {
            if self.locks[k] {
                travel.given = Given::Position(clamped.travels[k]);
            }
        }
        after
    }

    /// Clamps the body behind `factor` and `mesh`.
    ///
    /// `gap_surface` is what the gaps are measured from (mm over rad), `body_load` further nodal forces that balance
    /// among themselves (residual stress), `start` the carrying hats of an earlier answer on the same lattice.
    ///
    /// # Errors
    /// See [`ContactError`].
    pub fn clamp(
        &self,
        factor: &dyn Factor,
        mesh: &Mesh,
        gap_surface: &dyn Fn(crate::geometry::Surface, f64) -> f64,
        body_load: Option<&[[f64; 2]]>,
        start: Option<&[bool]>,
    ) -> Result<Clamped, ContactError> {
        let hats = self.hats(mesh, gap_surface)?;
        let mut dead = vec![[0.0; 2]; mesh.nodes()];
        if let Some(load) = body_load {
            dead.copy_from_slice(load);
        }
        let mut dead_resultant = [0.0; 2];
        for (k, patch) in self.patches.iter().enumerate() {
            let span =
                pads::span(mesh, patch.angle, patch.half_angle).ok_or(ContactError::NoLine {
                    index: k + 1,
                    angle_deg: patch.angle.to_degrees(),
                })?;
            for (node, f) in pads::patch_load(mesh, patch, span) {
                for axis in 0..2 {
                    dead[node][axis] += f[axis];
                    dead_resultant[axis] += f[axis];
                }
            }
        }
        let has_dead = body_load.is_some() || !self.patches.is_empty();
        let dead_shape = if has_dead {
            factor.solve(&dead)?
        } else {
            vec![[0.0; 2]; mesh.nodes()]
        };
        let weighted: Vec<f64> = hats
            .iter()
            .map(|h| {
                h.load
                    .iter()
                    .map(|&(n, f)| f[0] * dead_shape[n][0] + f[1] * dead_shape[n][1])
                    .sum()
            })
            .collect();
        let programme = Programme {
            factor,
            hats: &hats,
            travels: &self.travels,
            dead: &weighted,
            dead_resultant,
        };
        let start = match start {
            Some(s) if s.len() == hats.len() => s.to_vec(),
            _ => middle_and_edges(&hats),
        };
        let solution = programme.solve(start).map_err(|c| ContactError::Cycled {
            rounds: c.rounds,
            body: hats[c.hat].body + 1,
            offset_deg: hats[c.hat].t.to_degrees(),
        })?;
        let forces: f64 = self.patches.iter().map(|p| p.force.abs()).sum::<f64>()
            + hats
                .iter()
                .zip(&solution.pressures)
                .map(|(h, p)| h.along * p)
                .sum::<f64>()
            + self.driving_force();
        // rounding leaves a part of the forces, or next to nothing where there are none
        if solution.unbalanced > UNBALANCED * forces + 1e-9 {
            return Err(ContactError::Loose {
                left: solution.unbalanced,
            });
        }
        let contact_load = programme.load(&solution.pressures);
        let mut load = dead;
        for &(node, f) in &contact_load {
            load[node][0] += f[0];
            load[node][1] += f[1];
        }
        let mut displacement = if hats.is_empty() {
            dead_shape
        } else {
            factor.solve(&load)?
        };
        for u in &mut displacement {
            u[0] += solution.shift[0];
            u[1] += solution.shift[1];
        }
        let mut travels = solution.travels.clone();
        let free_shifts = settle(mesh, &mut displacement, &mut travels, &solution.free);
        Ok(Clamped {
            displacement,
            load,
            travels,
            travel_of: self.travel_of(),
            full_circle: self.bodies.iter().map(Body::is_full_circle).collect(),
            free_shifts,
            rounds: solution.rounds,
            pressures: solution.pressures,
            gaps: solution.gaps,
            active: solution.active,
            hats,
        })
    }

    fn driving_force(&self) -> f64 {
        self.travels
            .iter()
            .map(|t| match t.given {
                Given::Force(f) => f.abs(),
                Given::Position(_) => 0.0,
            })
            .sum()
    }

    fn travel_of(&self) -> Vec<usize> {
        (0..self.bodies.len())
            .map(|b| {
                self.travels
                    .iter()
                    .position(|t| t.bodies.contains(&b))
                    .expect("every body is driven")
            })
            .collect()
    }

    fn hats(
        &self,
        mesh: &Mesh,
        gap_surface: &dyn Fn(crate::geometry::Surface, f64) -> f64,
    ) -> Result<Vec<Hat>, ContactError> {
        let mut hats = Vec::new();
        for (k, body) in self.bodies.iter().enumerate() {
            let span =
                pads::span(mesh, body.angle, body.half_angle).ok_or(ContactError::NoLine {
                    index: k + 1,
                    angle_deg: body.angle.to_degrees(),
                })?;
            let outline = |theta: f64| gap_surface(body.surface, theta);
            let against = Against {
                outline: &outline,
                nominal_radius: self.section.radius(body.surface),
                length: self.section.length,
            };
            hats.extend(pads::hats(mesh, k, body, span, self.positions[k], &against));
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

fn face_arc(body: &Body) -> f64 {
    match body.face {
        crate::scheme::Face::Concave { radius } | crate::scheme::Face::Convex { radius } => radius,
        crate::scheme::Face::Flat => f64::INFINITY,
    }
}

/// Starting guess: the middle of each pad and its two edge forces.
fn middle_and_edges(hats: &[Hat]) -> Vec<bool> {
    let mut active: Vec<bool> = hats.iter().map(|h| h.spread == Spread::EdgeForce).collect();
    let bodies = hats.last().map_or(0, |h| h.body + 1);
    for body in 0..bodies {
        let spread =
            (0..hats.len()).filter(|&h| hats[h].body == body && hats[h].spread == Spread::Hat);
        if let Some(middle) = spread.min_by(|&a, &b| hats[a].t.abs().total_cmp(&hats[b].t.abs())) {
            active[middle] = true;
        }
    }
    active
}

/// Fixes all three rigid motions of a body that nothing holds by the contract's rule.
pub fn settle_free(mesh: &Mesh, displacement: &mut [[f64; 2]]) {
    settle(
        mesh,
        displacement,
        &mut [],
        &[(Vec::new(), [1.0, 0.0]), (Vec::new(), [0.0, 1.0])],
    );
}

/// Fixes the free rigid motions by the contract's rule: no mean displacement of the bore along a free shift, no mean
/// tangential displacement of the bore. Returns the directions of the free shifts.
fn settle(
    mesh: &Mesh,
    displacement: &mut [[f64; 2]],
    travels: &mut [f64],
    free: &[(Vec<f64>, [f64; 2])],
) -> Vec<[f64; 2]> {
    let turning = bore_means(mesh, displacement)[2];
    let spin: Vec<[f64; 2]> = mesh.coords().iter().map(|c| [-c[1], c[0]]).collect();
    let omega = -turning / bore_means(mesh, &spin)[2];
    for (u, s) in displacement.iter_mut().zip(&spin) {
        u[0] += omega * s[0];
        u[1] += omega * s[1];
    }
    let mut kept: Vec<(Vec<f64>, [f64; 2])> = Vec::new();
    for (d, q) in free {
        let (mut d, mut q) = (d.clone(), *q);
        for (kd, kq) in &kept {
            let along = q[0] * kq[0] + q[1] * kq[1];
            for k in 0..2 {
                q[k] -= along * kq[k];
            }
            for (x, y) in d.iter_mut().zip(kd) {
                *x -= along * y;
            }
        }
        // directions are unit vectors of travels and shift together; a tenth of a millionth in the shift is none
        let size = q[0].hypot(q[1]);
        if size > 1e-7 {
            let unit = |x: f64| x / size;
            kept.push((d.into_iter().map(unit).collect(), q.map(unit)));
        }
    }
    for (d, q) in &kept {
        let mean = bore_means(mesh, displacement);
        let along = -(mean[0] * q[0] + mean[1] * q[1]);
        for u in displacement.iter_mut() {
            u[0] += along * q[0];
            u[1] += along * q[1];
        }
        for (t, v) in travels.iter_mut().zip(d) {
            *t += along * v;
        }
    }
    kept.into_iter().map(|(_, q)| q).collect()
}

/// Share of the forces that may be left over: a direction that the contact hardly resists is left free, and what the
/// rounding of a thin ring puts along it stays. A hold that is loose leaves a good part of its forces.
const UNBALANCED: f64 = 1e-5;

/// Element edges that must carry a strip for it to be resolved.
pub const RESOLVED: usize = 4;

/// A clamped body.
#[derive(Clone, Debug)]
pub struct Clamped {
    /// Nodal displacement from the stress-free shape, mm; free motions fixed by the contract's rule.
    pub displacement: Vec<[f64; 2]>,
    /// All nodal forces on the body, N.
    pub load: Vec<[f64; 2]>,
    /// Carrying hats, to start a similar problem from.
    pub active: Vec<bool>,
    /// Directions in which the part is free to shift.
    pub free_shifts: Vec<[f64; 2]>,
    /// Rounds of the active set.
    pub rounds: usize,
    travels: Vec<f64>,
    travel_of: Vec<usize>,
    full_circle: Vec<bool>,
    hats: Vec<Hat>,
    pressures: Vec<f64>,
    gaps: Vec<f64>,
}

impl Clamped {
    /// Travel of a body after first touch, mm.
    pub fn travel(&self, body: usize) -> f64 {
        self.travels[self.travel_of[body]]
    }

    /// Resultant of a body along its axis, N.
    pub fn force(&self, body: usize) -> f64 {
        self.of(body)
            .map(|h| self.hats[h].along * self.pressures[h])
            .sum()
    }

    /// Sum of the forces of all bodies along their axes, N.
    pub fn total_force(&self) -> f64 {
        self.hats
            .iter()
            .zip(&self.pressures)
            .map(|(h, p)| h.along * p)
            .sum()
    }

    /// Largest pressure on a body, MPa.
    pub fn peak_pressure(&self, body: usize) -> f64 {
        self.spread(body)
            .map(|h| self.pressures[h])
            .fold(0.0, f64::max)
    }

    /// Pressure over a body: angle from its axis (rad) and pressure (MPa) at each element end, pad edge to pad edge, without
    /// the line forces at the edges.
    pub fn pressures(&self, body: usize) -> Vec<[f64; 2]> {
        self.spread(body)
            .map(|h| [self.hats[h].t, self.pressures[h]])
            .collect()
    }

    /// Nodal forces of the contact of one body, N.
    pub fn body_load(&self, body: usize) -> Vec<NodeForce> {
        self.of(body)
            .flat_map(|h| self.hats[h].load.iter().map(move |&(n, f)| (n, f, h)))
            .map(|(n, f, h)| (n, f.map(|x| x * self.pressures[h])))
            .collect()
    }

    /// The loaded strips of a body, from one pad edge to the other.
    pub fn strips(&self, body: usize) -> Vec<Strip> {
        let hats: Vec<usize> = self.spread(body).collect();
        let forces = |h: &usize| self.hats[*h].along * self.pressures[*h];
        let load = strips::PadLoad {
            angles: hats.iter().map(|&h| self.hats[h].t).collect(),
            pressures: hats.iter().map(|&h| self.pressures[h]).collect(),
            forces: hats.iter().map(forces).collect(),
            edge_forces: (!self.full_circle[body]).then(|| {
                let at = |first: bool| {
                    self.of(body)
                        .filter(|&h| {
                            self.hats[h].spread == Spread::EdgeForce
                                && (self.hats[h].t < 0.0) == first
                        })
                        .map(|h| forces(&h))
                        .sum()
                };
                [at(true), at(false)]
            }),
        };
        load.strips()
    }

    /// By how much the load may be misplaced where a strip is carried by fewer than [`RESOLVED`] elements: nodal forces (N)
    /// of a sixth of each such strip moved to the next element end, off a pad edge or apart from the middle.
    ///
    /// On such a strip the mesh cannot tell where in the element the force lies. A hat's own centre is a third of an element
    /// off its node, and the strip lies anywhere between, so half of that third is the fair doubt (derived here).
    pub fn doubt(&self) -> Vec<NodeForce> {
        let mut doubt: Vec<NodeForce> = Vec::new();
        let mut add = |h: usize, force: f64| {
            let hat = &self.hats[h];
            doubt.extend(
                hat.load
                    .iter()
                    .map(|&(n, f)| (n, f.map(|x| x * force / hat.along))),
            );
        };
        for body in 0..self.full_circle.len() {
            let hats: Vec<usize> = self.spread(body).collect();
            let last = hats.len() - 1;
            for strip in self
                .strips(body)
                .iter()
                .filter(|s| s.force > 0.0 && s.edges < RESOLVED)
            {
                let sixth = strip.force / 6.0;
                let middle = 0.5 * (strip.start + strip.end);
                let at = match (strip.from_edge, strip.to_edge) {
                    (true, false) => 0,
                    (false, true) => last,
                    _ => hats
                        .partition_point(|&h| self.hats[h].t < middle)
                        .clamp(1, last - 1),
                };
                add(hats[at], -sixth);
                match at {
                    0 => add(hats[1], sixth),
                    k if k == last => add(hats[last - 1], sixth),
                    k => {
                        add(hats[k - 1], 0.5 * sixth);
                        add(hats[k + 1], 0.5 * sixth);
                    }
                }
            }
        }
        doubt
    }

    /// Least gap of a body (mm), and where, rad from its axis.
    pub fn least_gap(&self, body: usize) -> (f64, f64) {
        self.of(body)
            .map(|h| (self.gaps[h], self.hats[h].t))
            .min_by(|a, b| a.0.total_cmp(&b.0))
            .unwrap_or((f64::INFINITY, 0.0))
    }

    /// The hats of a body from pad edge to pad edge, without its edge forces.
    fn spread(&self, body: usize) -> impl Iterator<Item = usize> + '_ {
        self.of(body)
            .filter(|&h| self.hats[h].spread == Spread::Hat)
    }

    fn of(&self, body: usize) -> impl Iterator<Item = usize> + '_ {
        (0..self.hats.len()).filter(move |&h| self.hats[h].body == body)
    }
}
