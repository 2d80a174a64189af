//! What a closed hold does to the part.

use std::f64::consts::TAU;

use super::Clamp;
use super::closing::Closed;
use super::locked::PressedBy;
use super::pressure::{PressureDof, Spread};
use super::slit::SlitClosing;
use super::surface::BoreMeans;
use super::zones::{ContactZone, PadLoad};
use crate::linear::NodeForce;
use crate::mesh::Mesh;
use crate::scheme::Body;

/// Fixes all three rigid-body modes of a body that nothing holds: no mean displacement of the bore in x and y, no mean tangential
/// displacement of the bore.
pub fn fix_rigid_body_modes(mesh: &Mesh, displacement: &mut [[f64; 2]]) {
    fix_free_modes(
        mesh,
        displacement,
        &mut [],
        &[(Vec::new(), [1.0, 0.0]), (Vec::new(), [0.0, 1.0])],
    );
}

/// Fixes the free rigid-body modes: no mean displacement of the bore along a free shift, no mean
/// tangential displacement of the bore. Returns the directions of the free shifts.
pub(super) fn fix_free_modes(
    mesh: &Mesh,
    displacement: &mut [[f64; 2]],
    drive_displacements: &mut [f64],
    free: &[(Vec<f64>, [f64; 2])],
) -> Vec<[f64; 2]> {
    let bore = BoreMeans::new(mesh);
    let points = Points {
        coords: mesh.coords(),
        means: &|u| bore.of(|line| u[mesh.node(line, 0)]),
    };
    points.fix_free_modes(displacement, drive_displacements, free)
}

/// Points of a part whose displacement is known: all of its nodes, or those of its surfaces.
pub(super) struct Points<'a> {
    /// Where they are, mm.
    pub coords: &'a [[f64; 2]],
    /// [`bore_means`] of a displacement of them.
    pub means: &'a dyn Fn(&[[f64; 2]]) -> [f64; 3],
}

impl Points<'_> {
    /// See [`fix_free_modes`].
    fn fix_free_modes(
        &self,
        displacement: &mut [[f64; 2]],
        drive_displacements: &mut [f64],
        free: &[(Vec<f64>, [f64; 2])],
    ) -> Vec<[f64; 2]> {
        let turning = (self.means)(displacement)[2];
        let spin: Vec<[f64; 2]> = self.coords.iter().map(|c| [-c[1], c[0]]).collect();
        let omega = -turning / (self.means)(&spin)[2];
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
            // directions are unit vectors of drive displacements and shift together; a tenth of a millionth in the shift is none
            let size = q[0].hypot(q[1]);
            if size > 1e-7 {
                let unit = |x: f64| x / size;
                kept.push((d.into_iter().map(unit).collect(), q.map(unit)));
            }
        }
        for (d, q) in &kept {
            let mean = (self.means)(displacement);
            let along = -(mean[0] * q[0] + mean[1] * q[1]);
            for u in displacement.iter_mut() {
                u[0] += along * q[0];
                u[1] += along * q[1];
            }
            for (t, v) in drive_displacements.iter_mut().zip(d) {
                *t += along * v;
            }
        }
        kept.into_iter().map(|(_, q)| q).collect()
    }

    /// The state of a closed hold with its rigid shifts put into a displacement of these points (mm); without displacement and nodal forces.
    pub fn settled(
        &self,
        clamp: &Clamp,
        dofs: Vec<PressureDof>,
        loads: Vec<Vec<NodeForce>>,
        closed: Closed,
        displacement: &mut [[f64; 2]],
    ) -> Clamped {
        let solution = closed.solution;
        for u in displacement.iter_mut() {
            u[0] += solution.modes[0];
            u[1] += solution.modes[1];
        }
        let mut moved = solution.drive_displacements;
        let free: Vec<(Vec<f64>, [f64; 2])> = solution
            .free
            .into_iter()
            .map(|(d, q)| (d, [q[0], q[1]]))
            .collect();
        let free_shifts = self.fix_free_modes(displacement, &mut moved, &free);
        Clamped {
            displacement: Vec::new(),
            load: Vec::new(),
            approaches: clamp.approaches(&closed.drive_dofs, &moved),
            drive_displacements: moved,
            bodies: clamp.bodies().to_vec(),
            free_shifts,
            rounds: solution.rounds,
            pressures: solution.pressures,
            gaps: solution.gaps,
            active: solution.active,
            dofs,
            loads,
            slits: Vec::new(),
        }
    }
}

/// Element edges that a contact zone must have to be resolved.
pub const RESOLVED: usize = 4;

/// A clamped body.
#[derive(Clone, Debug)]
pub struct Clamped {
    /// Nodal displacement from the stress-free shape, mm; rigid-body modes fixed as [`fix_rigid_body_modes`] says.
    pub displacement: Vec<[f64; 2]>,
    /// All nodal forces on the body, N.
    pub load: Vec<[f64; 2]>,
    /// Directions in which the part is free to shift.
    pub free_shifts: Vec<[f64; 2]>,
    /// Rounds of the active set.
    pub rounds: usize,
    /// Displacement of each degree of freedom of the drives, mm.
    pub(super) drive_displacements: Vec<f64>,
    /// Approach of each body, mm.
    pub(super) approaches: Vec<f64>,
    pub(super) bodies: Vec<Body>,
    pub(super) dofs: Vec<PressureDof>,
    /// Nodal forces on the part of each unit pressure, N per MPa.
    pub(super) loads: Vec<Vec<NodeForce>>,
    /// Which pressures are active, to start a similar problem from.
    pub active: Vec<bool>,
    pub(super) pressures: Vec<f64>,
    pub(super) gaps: Vec<f64>,
    /// How far the slits of sleeves close.
    pub(super) slits: Vec<SlitClosing>,
}

impl Clamped {
    /// Approach of a body, mm: how far what it is mounted on has moved past first touch; the body itself where its mount is rigid.
    pub fn approach(&self, body: usize) -> f64 {
        self.approaches[body]
    }

    /// Displacement of the face of a body past first touch, mm: its approach less the compression of its mount.
    pub fn face_approach(&self, body: usize) -> f64 {
        let compression = self.bodies[body]
            .stiffness
            .map_or(0.0, |k| self.force(body) / k);
        self.approach(body) - compression
    }

    /// Which of some pressures, of the same hold on any mesh, are active as this state's are: each as the nearest one here.
    pub(super) fn active_like(&self, dofs: &[PressureDof]) -> Vec<bool> {
        let key = |h: &PressureDof| (h.body, h.piece, h.spread == Spread::EdgeForce);
        let mut own: Vec<(_, f64, bool)> = self
            .dofs
            .iter()
            .zip(&self.active)
            .map(|(h, &active)| (key(h), h.t, active))
            .collect();
        own.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
        let nearest = |h: &PressureDof| {
            let of = own.partition_point(|o| o.0 < key(h))..own.partition_point(|o| o.0 <= key(h));
            let same = &own[of];
            let after = same.partition_point(|o| o.1 < h.t);
            same[after.saturating_sub(1)..(after + 1).min(same.len())]
                .iter()
                .min_by(|a, b| (a.1 - h.t).abs().total_cmp(&(b.1 - h.t).abs()))
        };
        dofs.iter()
            .map(|h| nearest(h).is_some_and(|o| o.2))
            .collect()
    }

    /// Pressures and gaps as a locked hold is solved from.
    pub(crate) fn pressed_by(&self) -> PressedBy<'_> {
        PressedBy {
            active: &self.active,
            pressures: &self.pressures,
            gaps: &self.gaps,
        }
    }

    /// Resultant of a body along its axis, N.
    pub fn force(&self, body: usize) -> f64 {
        self.of(body)
            .map(|h| self.dofs[h].along * self.pressures[h])
            .sum()
    }

    /// Sum of the forces of all bodies along their axes, N.
    pub fn total_force(&self) -> f64 {
        self.dofs
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
            .map(|h| [self.dofs[h].t, self.pressures[h]])
            .collect()
    }

    /// How unevenly what presses on the part is spread in direction: the share of its pressure (0 to a half) across the line along
    /// which most of it acts, and the direction (rad) across that line, along which the part is held least; `None` where nothing
    /// presses. The eigenvalues of the integral of `p n n' dA`, whose trace is the integral of pressure.
    pub fn weakest(&self) -> Option<(f64, f64)> {
        let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
        for (k, (dof, pressure)) in self.dofs.iter().zip(&self.pressures).enumerate() {
            if !dof.on_part() {
                continue;
            }
            let [fx, fy] = resultant(&self.loads[k]);
            let force = fx.hypot(fy);
            if force > 0.0 {
                let [x, y] = [fx / force, fy / force];
                xx += pressure * force * x * x;
                xy += pressure * force * x * y;
                yy += pressure * force * y * y;
            }
        }
        let (mean, half) = (0.5 * (xx + yy), (0.5 * (xx - yy)).hypot(xy));
        let along = 0.5 * xy.atan2(0.5 * (xx - yy));
        (mean > 0.0).then(|| {
            let across = along + std::f64::consts::FRAC_PI_2;
            ((mean - half).max(0.0) / (2.0 * mean), across)
        })
    }

    /// Integral of the pressure of a body over the area that it acts on, edge forces included, N.
    pub fn pressure_integral(&self, body: usize) -> f64 {
        self.of(body)
            .map(|h| self.dofs[h].area * self.pressures[h])
            .sum()
    }

    /// Pressure of a body where it is in contact, one list an arc: angle from its axis (rad, rising) and pressure (MPa), linear in
    /// between, from the last unloaded element end to the next; without the line forces at pad edges.
    pub fn loaded_pressures(&self, body: usize) -> Vec<Vec<[f64; 2]>> {
        let mut runs: Vec<Vec<[f64; 2]>> = Vec::new();
        for piece in self.pieces(body) {
            let mut places: Vec<[f64; 2]> = piece
                .iter()
                .map(|&h| [self.dofs[h].t, self.pressures[h]])
                .collect();
            if self.bodies[body].is_full_circle() {
                open_at_a_gap(&mut places);
            }
            runs.extend(loaded_runs(&places));
        }
        runs
    }

    /// Nodal forces of the contact of one body, N.
    pub fn body_load(&self, body: usize) -> Vec<NodeForce> {
        self.of(body)
            .flat_map(|h| self.loads[h].iter().map(move |&(n, f)| (n, f, h)))
            .map(|(n, f, h)| (n, f.map(|x| x * self.pressures[h])))
            .collect()
    }

    /// The contact zones of a body, from one pad edge to the other.
    pub fn contact_zones(&self, body: usize) -> Vec<ContactZone> {
        self.pieces(body)
            .iter()
            .flat_map(|piece| self.zones_of(body, piece))
            .collect()
    }

    pub(super) fn zones_of(&self, body: usize, piece: &[usize]) -> Vec<ContactZone> {
        self.pad_load(body, piece).zones()
    }

    /// Force along the axis of a body within so much (rad) of a loaded edge of its pad, the largest of all edges, N.
    pub fn edge_force(&self, body: usize, reach: f64) -> f64 {
        let mut most = 0.0_f64;
        for piece in self.pieces(body) {
            let load = self.pad_load(body, &piece);
            let along = |&h: &usize| self.dofs[h].along;
            let along: Vec<f64> = piece.iter().map(along).collect();
            for zone in load.clone().zones() {
                let ends = [zone.from_edge, zone.to_edge];
                for end in [0, 1].into_iter().filter(|&end| ends[end]) {
                    most = most.max(load.within(end, reach, &along));
                }
            }
        }
        most
    }

    fn pad_load(&self, body: usize, piece: &[usize]) -> PadLoad {
        let force = |h: usize| self.dofs[h].along * self.pressures[h];
        let (first, last) = (piece[0], piece[piece.len() - 1]);
        let at_edge = |end: usize| {
            self.of(body)
                .filter(|&h| {
                    self.dofs[h].spread == Spread::EdgeForce && self.dofs[h].t == self.dofs[end].t
                })
                .map(force)
                .sum()
        };
        PadLoad {
            angles: piece.iter().map(|&h| self.dofs[h].t).collect(),
            pressures: piece.iter().map(|&h| self.pressures[h]).collect(),
            forces: piece.iter().map(|&h| force(h)).collect(),
            edge_forces: (!self.bodies[body].is_full_circle())
                .then(|| [at_edge(first), at_edge(last)]),
            soft: self.bodies[body].layer.is_some(),
        }
    }

    /// Least gap of a body (mm), and where, rad from its axis.
    pub fn least_gap(&self, body: usize) -> (f64, f64) {
        self.of(body)
            .map(|h| (self.gaps[h], self.dofs[h].t))
            .min_by(|a, b| a.0.total_cmp(&b.0))
            .unwrap_or((f64::INFINITY, 0.0))
    }

    /// The pressures of a body from pad edge to pad edge, without its edge forces.
    fn spread(&self, body: usize) -> impl Iterator<Item = usize> + '_ {
        self.of(body)
            .filter(|&h| self.dofs[h].spread == Spread::Shape)
    }

    /// The pressures of each piece of a pad (two where its middle is relieved), from edge to edge.
    pub(super) fn pieces(&self, body: usize) -> Vec<Vec<usize>> {
        let mut pieces: Vec<Vec<usize>> = Vec::new();
        for h in self.spread(body) {
            match pieces.last_mut() {
                Some(piece) if self.dofs[piece[0]].piece == self.dofs[h].piece => piece.push(h),
                _ => pieces.push(vec![h]),
            }
        }
        pieces
    }

    fn of(&self, body: usize) -> impl Iterator<Item = usize> + '_ {
        (0..self.dofs.len()).filter(move |&h| self.dofs[h].body == body)
    }
}

/// Sum of nodal forces.
fn resultant(load: &[NodeForce]) -> [f64; 2] {
    load.iter()
        .fold([0.0; 2], |r, (_, f)| [r[0] + f[0], r[1] + f[1]])
}

/// Starts the places of a full circle, which have no first, at one without pressure, and repeats that at the end; where all
/// are loaded, at the first.
fn open_at_a_gap(places: &mut Vec<[f64; 2]>) {
    let first = places.iter().position(|p| p[1] <= 0.0).unwrap_or(0);
    places.rotate_left(first);
    let Some(&[start, _]) = places.first() else {
        return;
    };
    for p in places.iter_mut() {
        p[0] = start + (p[0] - start).rem_euclid(TAU);
    }
    places.push([start + TAU, places[0][1]]);
}

/// The runs of loaded places, each with the empty place before and after it, if there is one.
fn loaded_runs(places: &[[f64; 2]]) -> Vec<Vec<[f64; 2]>> {
    let mut runs = Vec::new();
    let mut k = 0;
    while k < places.len() {
        if places[k][1] <= 0.0 {
            k += 1;
            continue;
        }
        let end = k + places[k..].iter().take_while(|p| p[1] > 0.0).count();
        runs.push(places[k.saturating_sub(1)..(end + 1).min(places.len())].to_vec());
        k = end;
    }
    runs
}
