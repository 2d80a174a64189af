//! A hold closed on a nearly round ring: the ring's series behind contact, and what differs from it as an offset of the gaps.

mod locked;

use std::sync::Arc;

use super::clamped::{Clamped, fix_free_modes};
use super::closing::{Closing, Dead};
use super::elastic::{Among, Elastic, Sum};
use super::locked::PressedBy;
use super::pressure::{Ends, PressureDof, Segment, WallId};
use super::quadratic::{DriveDof, Gram, Solution};
use super::ring::{Profiles, Ring, RingKernels, RingLoad};
use super::round_sleeve::{RoundSleeve, SleeveBody};
use super::slit::SlitClosing;
use super::surface;
use super::winkler::Winkler;
use super::{Clamp, ContactError, Radius, Rounds};
use crate::geometry::{PerSurface, Surface};
use crate::linear::NodeForce;
use crate::mesh::Mesh;
use crate::series::Annulus;

/// Half of the arc over which a force on a single line is spread, walls: as wide as the elements that it would load.
const POINT_REACH: f64 = 0.015;

/// Widest piece of a dead load, as a share of half the wall (of its logarithm).
const PIECE: f64 = 0.06;

/// Share of the dead loads below which their resultant is rounding.
const BALANCED: f64 = 1e-12;

/// A round ring, whose answers to any loads are known: made once for its radii and material.
#[derive(Clone, Debug)]
pub struct RoundBody {
    kernels: Arc<RingKernels>,
    profiles: Arc<Profiles>,
}

impl RoundBody {
    /// The ring, its profiles given at so many equal angles from 0.
    pub fn new(annulus: Annulus, points: usize) -> Self {
        let kernels = RingKernels::new(annulus);
        Self {
            profiles: Arc::new(Profiles::new(&kernels, points)),
            kernels: Arc::new(kernels),
        }
    }

    /// The ring itself.
    pub fn annulus(&self) -> &Annulus {
        self.kernels.annulus()
    }
}

/// Element ends of one piece of a pad, from its body's axis, rad.
#[derive(Clone, Debug, PartialEq)]
pub struct PadEnds {
    /// From edge to edge; round a full circle, with the first end a turn on at the end.
    pub angles: Vec<f64>,
}

/// The pressures of every pad on elements with these ends, with their gaps to a surface; for bodies whose compliance to a line force has no bound.
pub(super) fn pad_dofs(
    clamp: &Clamp,
    pads: &[PadEnds],
    gap_surface: &Radius,
) -> Result<Vec<PressureDof>, ContactError> {
    let mut pads = pads.iter();
    clamp.pressure_dofs(gap_surface, &mut |body, _| {
        let axis = clamp.bodies[body].angle;
        let ends = &pads.next().expect("ends for every piece").angles;
        Ok(Ends {
            angles: ends.iter().map(|t| axis + t).collect(),
            closed: clamp.bodies[body].is_full_circle(),
            edge_forces: false,
        })
    })
}

/// A hold against a round ring: pressures, and their compliances as far as they were asked for. They depend on the ring and on where
/// the pads are alone, so the same one serves other forces, gaps and faces.
pub struct RoundContact {
    body: RoundBody,
    ring: Ring,
    /// The pressures that act on the ring itself, as it numbers them.
    on_ring: Vec<usize>,
    sleeves: Vec<RoundSleeve>,
    gram: Gram,
    pads: Vec<PadEnds>,
    /// The hold that it was made for.
    of: Clamp,
    dofs: Vec<PressureDof>,
    /// Dead loads of the hold, patches then points, each in pieces.
    dead: Vec<Vec<RingLoad>>,
    /// Compliances of each dead load with each pressure on the ring.
    dead_on: Vec<Vec<f64>>,
}

/// Where a hold has come to rest on a nearly round ring.
#[derive(Clone, Debug)]
pub struct RoundState {
    solution: Solution,
    drive_dofs: Vec<DriveDof>,
}

impl RoundContact {
    /// A hold on a ring, with the sleeves of the hold and the element ends of each piece of each pad, in order.
    ///
    /// # Errors
    /// See [`ContactError`].
    pub fn new(
        clamp: &Clamp,
        body: RoundBody,
        sleeves: &[SleeveBody],
        pads: &[PadEnds],
        gap_surface: &Radius,
    ) -> Result<Self, ContactError> {
        let dofs = pad_dofs(clamp, pads, gap_surface)?;
        let sleeves = sleeves
            .iter()
            .enumerate()
            .map(|(k, s)| RoundSleeve::new(s, &dofs, WallId::sleeve(k)))
            .collect();
        Ok(Self::with(clamp, body, sleeves, pads.to_vec(), dofs))
    }

    fn with(
        clamp: &Clamp,
        body: RoundBody,
        sleeves: Vec<RoundSleeve>,
        pads: Vec<PadEnds>,
        dofs: Vec<PressureDof>,
    ) -> Self {
        let mut contact = Self {
            ring: Ring::new(Arc::clone(&body.kernels), &dofs, WallId::PART),
            on_ring: (0..dofs.len()).filter(|&k| dofs[k].on_part()).collect(),
            sleeves,
            gram: Gram::default(),
            pads,
            of: clamp.clone(),
            dofs,
            dead: Vec::new(),
            dead_on: Vec::new(),
            body,
        };
        contact.set_dead(clamp);
        contact
    }

    /// Whether its compliances are those of the same hold with these pads on a ring, whatever forces, gaps and faces it has.
    pub fn serves(&self, clamp: &Clamp, annulus: &Annulus, pads: &[PadEnds]) -> bool {
        self.body.annulus() == annulus && self.pads == pads && self.of.presses_alike(clamp)
    }

    /// Sets the same pads with other faces, gaps or places along their axes against the ring; compliances are kept.
    ///
    /// # Errors
    /// See [`ContactError`].
    pub fn set(&mut self, clamp: &Clamp, gap_surface: &Radius) -> Result<(), ContactError> {
        self.dofs = pad_dofs(clamp, &self.pads, gap_surface)?;
        self.set_dead(clamp);
        Ok(())
    }

    /// Takes over the dead loads of a hold.
    fn set_dead(&mut self, clamp: &Clamp) {
        let kernels = &self.body.kernels;
        self.dead = dead_loads(clamp, kernels);
        let on = |pieces: &Vec<RingLoad>| -> Vec<f64> {
            let of = |l: &RingLoad| pieces.iter().map(|d| kernels.compliance(d, l)).sum();
            self.ring.loads().iter().map(of).collect()
        };
        self.dead_on = self.dead.iter().map(on).collect();
    }

    /// The same pads with the same faces on another ring.
    pub fn on(&self, clamp: &Clamp, body: RoundBody) -> Self {
        let (sleeves, pads) = (self.sleeves.clone(), self.pads.clone());
        Self::with(clamp, body, sleeves, pads, self.dofs.clone())
    }

    /// Takes over another's pads with their faces: the hold as it stood when the step began, on this ring.
    pub fn face(&mut self, clamp: &Clamp, other: &Self) {
        self.dofs.clone_from(&other.dofs);
        self.set_dead(clamp);
    }

    /// The element ends of its pads.
    pub fn pads(&self) -> &[PadEnds] {
        &self.pads
    }

    /// Closes the hold. `offset` is what each pressure's weighted displacement has beside the round ring's own under these loads (mm3),
    /// `initial_offset` how far each surface has moved outwards evenly before any load (mm), `start` an earlier state of the same hold.
    ///
    /// # Errors
    /// See [`ContactError`].
    pub fn close(
        &mut self,
        clamp: &Clamp,
        offset: Option<&[f64]>,
        initial_offset: &PerSurface<f64>,
        start: Option<Vec<bool>>,
        rounds: &Rounds,
    ) -> Result<RoundState, ContactError> {
        let Self {
            body,
            ring,
            on_ring,
            sleeves,
            gram,
            dofs,
            dead,
            dead_on,
            ..
        } = self;
        // each wall can move by itself
        let modes = 2 + 2 * sleeves.len();
        let annulus = *body.kernels.annulus();
        let even = |members: usize, surface: Surface| {
            initial_offset.get(surface)
                + clamp.poisson_expansion_of(members) * annulus.radius(surface)
        };
        let mut dead_stage = |members: usize| {
            let mut weighted: Vec<f64> = dofs
                .iter()
                .map(|d| {
                    d.on(WallId::PART)
                        .map_or(0.0, |s| -s.outward() * even(members, s) * d.area)
                })
                .collect();
            if let Some(offset) = offset {
                weighted.iter_mut().zip(offset).for_each(|(w, o)| *w += o);
            }
            let mut resultant = vec![0.0; modes];
            let mut size = 0.0;
            for (k, force) in dead_forces(clamp, members) {
                for (&on, c) in on_ring.iter().zip(&dead_on[k]) {
                    weighted[on] += c;
                }
                for [x, y] in dead[k].iter().map(RingLoad::resultant) {
                    resultant[0] += x;
                    resultant[1] += y;
                }
                size += force.abs();
            }
            if resultant[0].hypot(resultant[1]) <= BALANCED * size {
                resultant = vec![0.0; modes];
            }
            Ok(Dead {
                weighted,
                resultant,
                size,
            })
        };
        let closed = {
            let mut layer = Winkler::new(dofs, &clamp.bodies);
            let mut part = Among::new(ring, on_ring, dofs.len());
            let mut around: Vec<Among> = sleeves.iter_mut().map(|s| s.among(dofs.len())).collect();
            let mut bodies: Vec<&mut dyn Elastic> = vec![&mut part];
            bodies.extend(around.iter_mut().map(|s| s as &mut dyn Elastic));
            bodies.extend(layer.as_mut().map(|l| l as &mut dyn Elastic));
            let closing = Closing {
                body: &mut Sum::new(bodies),
                dofs,
                gram,
                dead: &mut dead_stage,
                rounds,
            };
            clamp.close(closing, start)?
        };
        let solution = closed.solution;
        Ok(RoundState {
            drive_dofs: closed.drive_dofs,
            solution,
        })
    }

    /// Radial displacement of some surfaces in a state (the others are left empty), at equal angles from 0, as the series of the round ring gives it: Poisson expansion and
    /// rigid shift with it, and the even `initial_offset` outwards of each surface before any load (mm).
    pub fn profile(
        &mut self,
        clamp: &Clamp,
        state: &RoundState,
        initial_offset: &PerSurface<f64>,
        surfaces: &[Surface],
    ) -> PerSurface<Vec<f64>> {
        let Self {
            body,
            ring,
            on_ring,
            dead,
            ..
        } = self;
        let annulus = body.kernels.annulus();
        let dead_loads: Vec<&RingLoad> = dead_forces(clamp, clamp.members())
            .flat_map(|(k, _)| &dead[k])
            .collect();
        let solution = &state.solution;
        let even = PerSurface::from_fn(|s| {
            initial_offset.get(s) + clamp.poisson_expansion() * annulus.radius(s)
        });
        let pressures: Vec<f64> = on_ring.iter().map(|&k| solution.pressures[k]).collect();
        ring.profile(
            &body.profiles,
            &pressures,
            &dead_loads,
            &even,
            state.shift(),
            surfaces,
        )
    }

    /// Nodal forces on a mesh of the part of each unit pressure, N per MPa.
    pub fn loads_on(&self, mesh: &Mesh) -> Vec<Vec<NodeForce>> {
        self.dofs
            .iter()
            .map(|d| {
                let mut load = Vec::with_capacity(6);
                if let Some(surface) = d.on(WallId::PART) {
                    for segment in &d.segments {
                        surface::add_load(mesh, surface, segment, &mut load);
                    }
                }
                load
            })
            .collect()
    }

    /// Nodal forces on a mesh of the part of all dead loads, N.
    pub fn dead_load_on(&self, clamp: &Clamp, mesh: &Mesh) -> Vec<NodeForce> {
        let mut load = Vec::new();
        for (surface, segments) in dead_segments(clamp, self.body.annulus()) {
            for segment in &segments {
                surface::add_load(mesh, surface, segment, &mut load);
            }
        }
        load
    }

    /// The state as one of the part on a mesh, with the displacement of its nodes (mm), rigid-body modes fixed, and all nodal forces (N).
    pub fn clamped(
        &self,
        clamp: &Clamp,
        state: &RoundState,
        mesh: &Mesh,
        loads: Vec<Vec<NodeForce>>,
        mut displacement: Vec<[f64; 2]>,
        load: Vec<[f64; 2]>,
    ) -> Clamped {
        let free: Vec<(Vec<f64>, [f64; 2])> = state
            .solution
            .free
            .iter()
            .map(|(d, q)| (d.clone(), [q[0], q[1]]))
            .collect();
        let mut drive_displacements = state.solution.drive_displacements.clone();
        let free_shifts = fix_free_modes(mesh, &mut displacement, &mut drive_displacements, &free);
        Clamped {
            displacement,
            load,
            approaches: clamp.approaches(&state.drive_dofs, &drive_displacements),
            drive_displacements,
            free_shifts,
            loads,
            ..self.zones(clamp, state)
        }
    }

    /// A state's contact without the part: enough to say where pads touch.
    pub fn zones(&self, clamp: &Clamp, state: &RoundState) -> Clamped {
        let solution = state.solution.clone();
        Clamped {
            displacement: Vec::new(),
            load: Vec::new(),
            approaches: clamp.approaches(&state.drive_dofs, &solution.drive_displacements),
            drive_displacements: solution.drive_displacements,
            bodies: clamp.bodies.clone(),
            free_shifts: Vec::new(),
            rounds: solution.rounds,
            pressures: solution.pressures,
            gaps: solution.gaps,
            active: solution.active,
            dofs: self.dofs.clone(),
            loads: vec![Vec::new(); self.dofs.len()],
            slits: self.slits(&state.solution.pressures),
        }
    }

    /// How far pressures (MPa) close the slits of the sleeves.
    fn slits(&self, pressures: &[f64]) -> Vec<SlitClosing> {
        let sleeves = self.sleeves.iter().enumerate();
        sleeves
            .filter_map(|(sleeve, s)| {
                let closes = s.closes(pressures)?;
                Some(SlitClosing { sleeve, closes })
            })
            .collect()
    }

    /// Which pressures are active where another state of the hold has them, whatever its element ends.
    pub fn active_like(&self, state: &Clamped) -> Vec<bool> {
        state.active_like(&self.dofs)
    }
}

impl RoundState {
    /// Pressures, MPa.
    pub fn pressures(&self) -> &[f64] {
        &self.solution.pressures
    }

    /// Which pressures are active.
    pub fn active(&self) -> &[bool] {
        &self.solution.active
    }

    /// Pressures and gaps as a locked hold is solved from.
    pub fn pressed_by(&self) -> PressedBy<'_> {
        PressedBy {
            active: &self.solution.active,
            pressures: &self.solution.pressures,
            gaps: &self.solution.gaps,
        }
    }

    /// Shift of the part, mm.
    pub fn shift(&self) -> [f64; 2] {
        [self.solution.modes[0], self.solution.modes[1]]
    }
}

/// The dead loads of the first so many schemes: their places among all patches, then all points, and their forces, N.
fn dead_forces(clamp: &Clamp, members: usize) -> impl Iterator<Item = (usize, f64)> {
    let (patches, points) = clamp.dead_loads(members);
    let first = clamp.patches().len();
    let patches = patches.into_iter().map(|k| (k, clamp.patches()[k].force));
    let points = points
        .into_iter()
        .map(move |k| (first + k, clamp.points()[k].force));
    patches.chain(points)
}

/// All dead loads as segments whose unit is their whole force: patches, then points.
fn dead_segments(clamp: &Clamp, annulus: &Annulus) -> Vec<(Surface, Vec<Segment>)> {
    let patches = clamp
        .patches()
        .iter()
        .map(|p| (p.surface, vec![surface::patch_segment(p)]));
    let points = clamp.points().iter().map(|p| {
        let reach = POINT_REACH * 2.0 * annulus.half_log_wall();
        let density = p.force / (2.0 * reach);
        let segment = Segment {
            from: p.angle - reach,
            to: p.angle + reach,
            density: [density, density],
        };
        (p.surface, vec![segment])
    });
    patches.chain(points).collect()
}

/// All dead loads on a ring, each in pieces that are narrow to its wall.
fn dead_loads(clamp: &Clamp, kernels: &RingKernels) -> Vec<Vec<RingLoad>> {
    let annulus = kernels.annulus();
    dead_segments(clamp, annulus)
        .into_iter()
        .map(|(surface, segments)| {
            let pieces = segments
                .iter()
                .flat_map(|s| s.split(PIECE * annulus.half_log_wall()));
            pieces.map(|s| kernels.load(surface, &[s])).collect()
        })
        .collect()
}
