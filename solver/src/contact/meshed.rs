//! A hold closed on a meshed section.

use super::clamped::{Clamped, Points};
use super::closing::{Closed, Closing, Dead};
use super::elastic::{Elastic, Sum};
use super::locked::{LockedDofs, LockedResponse, Tool};
use super::pressure::{Ends, PressureDof};
use super::quadratic::Gram;
use super::section::{MeshedWall, Section};
use super::sleeve::Wall;
use super::slit::{self, SlitClosing};
use super::surface;
use super::winkler::Winkler;
use super::{Clamp, ContactError, Radius, Rounds};
use crate::linear::{BlockDiagonal, Factor, NodeForce, Reduced};
use crate::mesh::Mesh;

/// Share of the dead loads below which their resultant is rounding.
const BALANCED: f64 = 1e-13;

/// What a hold closes on: the factor of part and sleeves, and the mesh of the part.
struct Part<'a> {
    factor: &'a dyn Factor,
    mesh: &'a Mesh,
    /// Nodes of the part and the sleeves.
    nodes: usize,
    /// Nodal forces that balance among themselves, N.
    load: Option<&'a [[f64; 2]]>,
    /// Rigid-body modes of the part and the sleeves.
    modes: usize,
}

/// Dead loads of a stage as nodal forces.
pub(super) struct DeadForces {
    pub load: Vec<[f64; 2]>,
    pub resultant: [f64; 2],
    /// Sum of the sizes of the forces, N.
    pub size: f64,
    /// Even in-plane Poisson expansion, strain.
    pub expansion: f64,
}

/// Dead loads of a stage, and the displacement under them alone, with the expansion, mm.
struct DeadLoad {
    forces: DeadForces,
    shape: Vec<[f64; 2]>,
}

/// The part that a hold closes on.
#[derive(Clone, Copy)]
pub struct MeshedPart<'a> {
    /// Its factor.
    pub factor: &'a dyn Factor,
    /// Its mesh.
    pub mesh: &'a Mesh,
    /// What the gaps are measured from, mm over rad.
    pub gap_surface: &'a Radius<'a>,
    /// Further nodal forces that balance among themselves (residual stress), N.
    pub body_load: Option<&'a [[f64; 2]]>,
}

/// Compliances of the pressures of a hold on a meshed part, as far as they were asked for: they serve other forces, gaps and faces on the
/// same part, and are dropped when pressures act at other places.
#[derive(Clone, Debug, Default)]
pub struct KeptCompliances {
    of: Option<Clamp>,
    gram: Gram,
    reduced: Vec<Option<Reduced>>,
}

impl KeptCompliances {
    /// Drops what is of another hold.
    fn serve(&mut self, clamp: &Clamp) {
        if !self.of.as_ref().is_some_and(|of| of.presses_alike(clamp)) {
            *self = Self {
                of: Some(clamp.clone()),
                ..Self::default()
            };
        }
    }
}

impl Clamp {
    /// Clamps the body behind `factor` and `mesh`.
    ///
    /// `gap_surface` is what the gaps are measured from (mm over rad), `body_load` further nodal forces that balance
    /// among themselves (residual stress), `start` an earlier state of the same hold, on any mesh: what is active there is tried first.
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
        let on = MeshedPart {
            factor,
            mesh,
            gap_surface,
            body_load,
        };
        self.clamp_again(on, &mut KeptCompliances::default(), start, rounds)
    }

    /// The same with compliances that were kept of the same part: the caller's are dropped where they are of another hold.
    ///
    /// # Errors
    /// See [`ContactError`].
    pub fn clamp_again(
        &self,
        on: MeshedPart,
        kept: &mut KeptCompliances,
        start: Option<&Clamped>,
        rounds: &Rounds,
    ) -> Result<Clamped, ContactError> {
        let MeshedPart {
            factor,
            mesh,
            gap_surface,
            body_load,
        } = on;
        let walls = self.walls(mesh)?;
        let walled = BlockDiagonal::new(
            std::iter::once((factor, mesh.nodes())).chain(
                walls
                    .iter()
                    .map(|w| (&w.factor as &dyn Factor, w.mesh.nodes())),
            ),
        );
        let part = Part {
            factor: if walls.is_empty() { factor } else { &walled },
            mesh,
            nodes: mesh.nodes() + walls.iter().map(|w| w.mesh.nodes()).sum::<usize>(),
            load: body_load,
            modes: 2 + 2 * walls.len(),
        };
        let mut meshed = vec![MeshedWall { mesh, first: 0 }];
        meshed.extend(walls.iter().map(|w| MeshedWall {
            mesh: &w.mesh,
            first: w.first,
        }));
        let dofs = self.dofs_on(mesh, gap_surface)?;
        kept.serve(self);
        let reduced = std::mem::take(&mut kept.reduced);
        let mut section = Section::new(part.factor, &meshed, &dofs, reduced);
        let loads = section.loads().to_vec();
        let mut dead = |members: usize| {
            let dead = self.dead_on(&part, members)?;
            let mut resultant = vec![0.0; part.modes];
            resultant[..2].copy_from_slice(&dead.forces.resultant);
            Ok(Dead {
                weighted: surface::weighted(&loads, &dead.shape),
                resultant,
                size: dead.forces.size,
            })
        };
        let closed = {
            let mut layer = Winkler::new(&dofs, &self.bodies);
            let mut bodies: Vec<&mut dyn Elastic> = vec![&mut section];
            bodies.extend(layer.as_mut().map(|l| l as &mut dyn Elastic));
            let closing = Closing {
                body: &mut Sum::new(bodies),
                dofs: &dofs,
                gram: &mut kept.gram,
                dead: &mut dead,
                rounds,
            };
            self.close(closing, start.map(|s| s.active_like(&dofs)))?
        };
        kept.reduced = section.into_reduced();
        self.state(&part, &walls, dofs, loads, closed)
    }

    /// What a tool does to the part behind `factor` and `mesh` in a state of it whose bodies are locked.
    ///
    /// # Errors
    /// [`ContactError::ToolNotResisted`], [`ContactError::Cycled`], [`ContactError::Linear`]; those of the sleeves.
    pub fn locked(
        &self,
        factor: &dyn Factor,
        mesh: &Mesh,
        state: &Clamped,
        tool: Tool,
    ) -> Result<LockedResponse, ContactError> {
        let walls = self.walls(mesh)?;
        let own = walls
            .iter()
            .map(|w| (&w.factor as &dyn Factor, w.mesh.nodes()));
        let walled = BlockDiagonal::new(std::iter::once((factor, mesh.nodes())).chain(own));
        let factor: &dyn Factor = if walls.is_empty() { factor } else { &walled };
        let mut meshed = vec![MeshedWall { mesh, first: 0 }];
        meshed.extend(walls.iter().map(|w| MeshedWall {
            mesh: &w.mesh,
            first: w.first,
        }));
        let locked = LockedDofs::new(&state.dofs, state.pressed_by(), tool, f64::INFINITY);
        let mut section = Section::new(factor, &meshed, &locked.all, Vec::new());
        let mut layer = locked.layer(self);
        let mut behind = layer
            .as_mut()
            .map(|l| locked.under_hold(l as &mut dyn Elastic));
        let mut bodies: Vec<&mut dyn Elastic> = vec![&mut section];
        bodies.extend(behind.as_mut().map(|l| l as &mut dyn Elastic));
        locked.respond(&mut Sum::new(bodies), false, self.bodies.len())
    }

    /// The state of the part under a solution.
    fn state(
        &self,
        part: &Part,
        walls: &[Wall],
        dofs: Vec<PressureDof>,
        mut loads: Vec<Vec<NodeForce>>,
        closed: Closed,
    ) -> Result<Clamped, ContactError> {
        let DeadLoad { forces, shape } = self.dead_on(part, self.members())?;
        let mut load = forces.load;
        for (on, &p) in loads.iter().zip(&closed.solution.pressures) {
            if p != 0.0 {
                surface::add(&mut load, on, p);
            }
        }
        let mut displacement = if dofs.is_empty() {
            shape
        } else {
            let mut u = part.factor.solve(&load)?;
            add_expansion(part.mesh, forces.expansion, &mut u);
            u
        };
        if forces.expansion != 0.0 {
            let mut expanded = vec![[0.0; 2]; part.nodes];
            add_expansion(part.mesh, forces.expansion, &mut expanded);
            for (f, g) in load.iter_mut().zip(part.factor.forces(&expanded)) {
                f[0] += g[0];
                f[1] += g[1];
            }
        }
        let slits = walls
            .iter()
            .enumerate()
            .filter_map(|(sleeve, wall)| {
                let moved = &displacement[wall.first..][..wall.mesh.nodes()];
                let closes = slit::closes(&self.sleeves()[sleeve], &wall.mesh, moved)?;
                Some(SlitClosing { sleeve, closes })
            })
            .collect();
        let nodes = part.mesh.nodes();
        displacement.truncate(nodes);
        load.truncate(nodes);
        for on in &mut loads {
            on.retain(|l| l.0 < nodes);
        }
        Ok(Clamped {
            slits,
            ..self.at_rest(part.mesh, dofs, loads, closed, displacement, load)
        })
    }

    /// A state on a mesh of the part: the solution of the contact with the nodal forces of its unit pressures, the displacement of the nodes
    /// before rigid shifts (mm), and all nodal forces (N).
    pub(super) fn at_rest(
        &self,
        mesh: &Mesh,
        dofs: Vec<PressureDof>,
        loads: Vec<Vec<NodeForce>>,
        closed: Closed,
        mut displacement: Vec<[f64; 2]>,
        load: Vec<[f64; 2]>,
    ) -> Clamped {
        let points = Points {
            coords: mesh.coords(),
            means: &|u| surface::bore_means(mesh, u),
        };
        let state = points.settled(self, dofs, loads, closed, &mut displacement);
        Clamped {
            displacement,
            load,
            ..state
        }
    }

    /// The pressure degrees of freedom on the lines of a mesh.
    pub(super) fn dofs_on(
        &self,
        mesh: &Mesh,
        gap_surface: &Radius,
    ) -> Result<Vec<PressureDof>, ContactError> {
        self.pressure_dofs(gap_surface, &mut |body, [from, to]| {
            let axis = self.bodies[body].angle;
            let span = surface::span(mesh, axis + from, axis + to).ok_or(ContactError::NoLine {
                index: body + 1,
                angle_deg: axis.to_degrees(),
            })?;
            Ok(Ends {
                angles: span.ends(mesh),
                closed: span.closed,
                edge_forces: true,
            })
        })
    }

    /// The dead loads of the first so many schemes and what they do to the part.
    fn dead_on(&self, part: &Part, members: usize) -> Result<DeadLoad, ContactError> {
        let mut forces = self.dead_forces_on(part.mesh, part.load, members)?;
        forces.load.resize(part.nodes, [0.0; 2]);
        let mut shape = if part.load.is_some() || forces.size > 0.0 {
            part.factor.solve(&forces.load)?
        } else {
            vec![[0.0; 2]; part.nodes]
        };
        add_expansion(part.mesh, forces.expansion, &mut shape);
        Ok(DeadLoad { forces, shape })
    }

    /// The dead loads of the first so many schemes on a mesh of the part, with nodal forces that balance among themselves (N).
    pub(super) fn dead_forces_on(
        &self,
        mesh: &Mesh,
        body_load: Option<&[[f64; 2]]>,
        members: usize,
    ) -> Result<DeadForces, ContactError> {
        let mut load = vec![[0.0; 2]; mesh.nodes()];
        if let Some(body) = body_load {
            load[..body.len()].copy_from_slice(body);
        }
        let mut resultant = [0.0; 2];
        let mut size = 0.0;
        let mut add = |(node, f): NodeForce| {
            for axis in 0..2 {
                load[node][axis] += f[axis];
                resultant[axis] += f[axis];
            }
        };
        let no_line = |k: usize, angle: f64| ContactError::NoLine {
            index: k + 1,
            angle_deg: angle.to_degrees(),
        };
        let (patches, points) = self.dead_loads(members);
        for k in patches {
            let patch = &self.patches()[k];
            size += patch.force.abs();
            surface::patch_load(mesh, patch)
                .ok_or(no_line(k, patch.angle))?
                .into_iter()
                .for_each(&mut add);
        }
        for k in points {
            let point = &self.points()[k];
            size += point.force.abs();
            add(surface::point_load(mesh, point).ok_or(no_line(k, point.angle))?);
        }
        // loads that balance among themselves leave their rounding
        if resultant[0].hypot(resultant[1]) <= BALANCED * size {
            resultant = [0.0; 2];
        }
        Ok(DeadForces {
            load,
            resultant,
            size,
            expansion: self.poisson_expansion_of(members),
        })
    }

    /// The sleeves on the lines of a mesh of the part.
    fn walls(&self, mesh: &Mesh) -> Result<Vec<Wall>, ContactError> {
        let mut first = mesh.nodes();
        let mut walls = Vec::new();
        for sleeve in self.sleeves() {
            let wall = Wall::new(*sleeve, mesh, self.section.length, first)?;
            first += wall.mesh.nodes();
            walls.push(wall);
        }
        Ok(walls)
    }
}

/// Adds an even in-plane expansion (strain) to displacements (mm).
pub(super) fn add_expansion(mesh: &Mesh, strain: f64, displacement: &mut [[f64; 2]]) {
    if strain != 0.0 {
        for (u, c) in displacement.iter_mut().zip(mesh.coords()) {
            u[0] += strain * c[0];
            u[1] += strain * c[1];
        }
    }
}
