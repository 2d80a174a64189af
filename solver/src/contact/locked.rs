//! A hold whose bodies are locked, and what a tool does to the part between them: linear about the held state.
//!
//! Once the part is clamped nothing drives a body any further. Pressures that are active stay so whatever sign their change has, the others
//! stay at zero, layers and mounts keep their springs, and dead loads, being constant, change nothing. With `C` the compliances between
//! active pressures, `T` their work on the rigid-body modes, `c` what a unit tool force does to them and `t` its own work on the modes, no
//! active gap changes and the forces balance when
//!
//! `C p + T q = -c`, `T' p = -t`
//!
//! for the changes `p` of the pressures and the motion `q` of the part (derived here: the equilibrium of `quadratic`, differentiated). The
//! part then moves by `u = C_u + C_ua p + T_u q` wherever it is read. A motion that nothing restrains and no tool force drives, turning about
//! the axis among them, does not come into it: pressures act along the radius.
//!
//! A tool force is a uniform pressure over a narrow arc, whose resultant is the force (`2 b R p sin(half angle)`). It pushes the metal away:
//! outwards in a bore, inwards on the outside.

use std::f64::consts::TAU;

use nalgebra::{DMatrix, DVector, SymmetricEigen};

use super::ContactError;
use super::elastic::{Among, Elastic};
use super::pressure::{Pressed, PressureDof, Segment, Spread, WallId};
use super::section::{MeshedWall, Section};
use super::surface::patch_segment;
use super::winkler::Winkler;
use crate::geometry::Surface;
use crate::linear::{Factor, LinearError};
use crate::mesh::Mesh;
use crate::scheme::{Body, PressurePatch};

/// Share of the stiffest direction below which nothing resists the part's shift.
const FREE: f64 = 1e-9;

/// Share of the pressure that must act across the line of the rest for a hold to take a tool force that way: pads that touch over three
/// degrees either side of one diameter have 0.0009.
pub(crate) const HARDLY_HELD: f64 = 1e-3;

/// Share of a tool force that may be left without a reaction.
const BALANCED: f64 = 1e-6;

/// Times the largest compliance of a pressure by which a shift in proportion to the resultant is added where finite elements correct a series:
/// it changes nothing of loads that balance.
const SHIFT: f64 = 4.0;

/// Where a tool pushes: equal places on one surface.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ToolPlaces {
    /// The surface under the tool.
    pub surface: Surface,
    /// How many equal angles from 0.
    pub count: usize,
    /// Half of the arc that the force is spread over, rad.
    pub half_angle: f64,
}

impl ToolPlaces {
    /// Angle of a place, rad.
    pub fn angle(&self, place: usize) -> f64 {
        TAU * place as f64 / self.count as f64
    }

    /// A unit force at each place, then a reading of the displacement at the middle of each, as pressures whose unit is 1 N.
    fn dofs(&self) -> Vec<PressureDof> {
        let force = |place: usize| {
            patch_segment(&PressurePatch {
                surface: self.surface,
                angle: self.angle(place),
                half_angle: self.half_angle,
                force: 1.0,
            })
        };
        let reading = |place: usize| Segment {
            from: self.angle(place),
            to: self.angle(place),
            density: [1.0, 1.0],
        };
        let dof = |segment: Segment| PressureDof {
            spread: Spread::Shape,
            body: usize::MAX,
            piece: 0,
            middle: 0.0,
            place: 0,
            layer: Vec::new(),
            t: 0.0,
            segments: vec![segment],
            presses: vec![Pressed {
                wall: WallId::PART,
                surface: self.surface,
            }],
            along: 0.0,
            area: segment.area(),
            gap: 0.0,
        };
        let places = 0..self.count;
        let all = places.clone().map(force).chain(places.map(reading));
        all.map(dof).collect()
    }
}

/// What unit tool forces do to a part whose hold is locked.
#[derive(Clone, Debug)]
pub struct LockedResponse {
    /// Displacement along the force at the middle of each place (row) under 1 N at each (column), mm/N.
    pub middles: DMatrix<f64>,
    /// The same as the work of 1 N spread as the tool's over each place: symmetric, by Betti's reciprocity.
    pub works: DMatrix<f64>,
    /// Change of the force of each body along its axis (row) under 1 N at each place (column), N/N.
    pub forces: DMatrix<f64>,
    /// The contact zones and how tool forces unload them.
    pub(super) zones: Vec<ZoneUnder>,
}

/// A contact zone under tool forces.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct ZoneUnder {
    pub body: usize,
    /// Force that it carries in the hold, N.
    pub held: f64,
    /// The most that 1 N at any place unloads it by, N, and the place.
    pub unloaded: f64,
    pub place: usize,
}

/// A body that would come off the part somewhere.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ComesOff {
    /// The body, from 0 over the whole hold.
    pub body: usize,
    /// Where the tool is when it does, by place.
    pub place: usize,
}

impl LockedResponse {
    /// Displacement along the force under it at each place, mm/N.
    pub fn dip(&self) -> Vec<f64> {
        (0..self.middles.nrows())
            .map(|k| self.middles[(k, k)])
            .collect()
    }

    /// The contact zone that a tool force (N) lifts off first, if it lifts one.
    pub fn comes_off(&self, force: f64) -> Option<ComesOff> {
        let left = |z: &ZoneUnder| z.held - force * z.unloaded;
        let worst = self
            .zones
            .iter()
            .filter(|z| left(z) < 0.0)
            .min_by(|a, b| (left(a) / a.held).total_cmp(&(left(b) / b.held)))?;
        Some(ComesOff {
            body: worst.body,
            place: worst.place,
        })
    }
}

/// What stays active of a hold, with the tool's places behind it: the pressures that a locked part is solved with.
pub(super) struct LockedDofs {
    /// The active pressures, then the tool's.
    pub all: Vec<PressureDof>,
    active: usize,
    /// Pressures of the active ones in the hold, MPa.
    pressures: Vec<f64>,
    places: usize,
    /// The contact zones: active pressures that follow each other on a pad.
    zones: Vec<Vec<usize>>,
}

impl LockedDofs {
    pub fn new(
        dofs: &[PressureDof],
        active: &[bool],
        pressures: &[f64],
        places: &ToolPlaces,
    ) -> Self {
        let list: Vec<usize> = (0..dofs.len()).filter(|&k| active[k]).collect();
        let mut all: Vec<PressureDof> = list.iter().map(|&k| dofs[k].clone()).collect();
        let zones = zones(&all, dofs);
        let count = all.len();
        all.extend(places.dofs());
        Self {
            all,
            active: count,
            pressures: list.iter().map(|&k| pressures[k]).collect(),
            places: places.count,
            zones,
        }
    }

    /// The layers and springs behind the active pressures.
    pub fn layer<'a>(&'a self, bodies: &[Body]) -> Option<Winkler<'a>> {
        Winkler::new(&self.all[..self.active], bodies)
    }

    /// A body that the active pressures alone act on.
    pub fn under_active<'a>(&self, body: &'a mut dyn Elastic) -> Among<'a> {
        let list: Vec<usize> = (0..self.active).collect();
        Among::new(body, &list, self.all.len())
    }

    /// Those that act on the part itself.
    pub fn on_part(&self) -> Vec<usize> {
        (0..self.all.len())
            .filter(|&k| self.all[k].on_part())
            .collect()
    }

    /// Refuses a hold whose pressures hold the part along one line or not at all; the part's own modes are the first two.
    fn check_held(&self, body: &dyn Elastic) -> Result<(), ContactError> {
        let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
        for (k, pressure) in self.pressures.iter().enumerate() {
            let [fx, fy] = [0, 1].map(|mode| body.rigid_work(k, mode));
            let force = fx.hypot(fy);
            if force > 0.0 {
                xx += pressure * fx * fx / force;
                xy += pressure * fx * fy / force;
                yy += pressure * fy * fy / force;
            }
        }
        let (mean, half) = (0.5 * (xx + yy), (0.5 * (xx - yy)).hypot(xy));
        let across = 0.5 * xy.atan2(0.5 * (xx - yy)) + 0.25 * TAU;
        if mean - half > HARDLY_HELD * 2.0 * mean {
            return Ok(());
        }
        Err(not_resisted((mean > 0.0).then_some(across)))
    }

    /// Solves for all places at once on a body behind these pressures. `corrected`: whether finite elements correct a series in it.
    ///
    /// # Errors
    /// [`ContactError::ToolNotResisted`], [`ContactError::Linear`].
    pub fn respond(
        &self,
        body: &mut dyn Elastic,
        corrected: bool,
        bodies: usize,
    ) -> Result<LockedResponse, ContactError> {
        self.check_held(&*body)?;
        let (n, m, modes) = (self.active, self.places, body.rigid_body_modes());
        let work = DMatrix::from_fn(n + 2 * m, modes, |k, mode| body.rigid_work(k, mode));
        let mut all = self.compliances(body);
        if corrected {
            let size = |k: usize| all[(k, k)] / work.row(k).norm_squared();
            let on_part = (0..n).filter(|&k| work.row(k).columns(0, 2).norm_squared() > 0.0);
            let shift = SHIFT * on_part.map(size).fold(0.0, f64::max);
            let part = work.columns(0, 2).into_owned();
            all += shift * &part * part.transpose();
        }
        let factor = all.view((0, 0), (n, n)).into_owned().cholesky();
        let factor = factor.ok_or(LinearError::NotPositive { unknown: 0 })?;
        let sides = work.rows(0, n).into_owned();
        let eased = factor.solve(&sides);
        let stiffness = sides.transpose() * &eased;
        let eigen = SymmetricEigen::new(0.5 * (&stiffness + stiffness.transpose()));
        let stiffest = eigen.eigenvalues.max();
        let mut inverse = DMatrix::zeros(modes, modes);
        for (value, v) in eigen
            .eigenvalues
            .iter()
            .zip(eigen.eigenvectors.column_iter())
        {
            if *value > FREE * stiffest {
                inverse += v * v.transpose() / *value;
            }
        }
        let on_tool = all.view((0, n), (n, m)).into_owned();
        let own = work.rows(n, m).transpose();
        let alone = factor.solve(&on_tool);
        // T' p = -t with p = -C^-1 c - C^-1 T q
        let motion = &inverse * (&own - sides.transpose() * &alone);
        let pressures = -(alone + eased * &motion);
        let left = sides.transpose() * &pressures + own;
        if left.iter().any(|x| x.is_nan() || x.abs() > BALANCED) {
            let worst = left.column(
                left.column_iter()
                    .map(|c| c.norm())
                    .enumerate()
                    .fold(
                        (0, 0.0),
                        |most, (k, size)| if size > most.1 { (k, size) } else { most },
                    )
                    .0,
            );
            return Err(not_resisted(Some(worst[1].atan2(worst[0]))));
        }
        let read = |first: usize| {
            all.view((first, n), (m, m))
                + all.view((first, 0), (m, n)) * &pressures
                + work.rows(first, m) * &motion
        };
        let works: DMatrix<f64> = read(n);
        Ok(LockedResponse {
            middles: read(n + m),
            works: 0.5 * (&works + works.transpose()),
            forces: self.forces(&pressures, bodies),
            zones: self.unloaded(&pressures),
        })
    }

    /// Compliances between all but two readings; those are left zero, as no force acts there.
    fn compliances(&self, body: &mut dyn Elastic) -> DMatrix<f64> {
        let (n, all) = (self.active, self.all.len());
        let forces = n + self.places;
        let others: Vec<Vec<usize>> = (0..forces).map(|k| (k..all).collect()).collect();
        let asked: Vec<(usize, &[usize])> = others
            .iter()
            .enumerate()
            .map(|(k, o)| (k, o.as_slice()))
            .collect();
        let mut whole = DMatrix::zeros(all, all);
        for ((k, others), row) in asked.iter().zip(body.all_compliances(&asked)) {
            for (&other, c) in others.iter().zip(row) {
                whole[(*k, other)] = c;
                whole[(other, *k)] = c;
            }
        }
        whole
    }

    /// Changes of the forces of the bodies along their axes.
    fn forces(&self, pressures: &DMatrix<f64>, bodies: usize) -> DMatrix<f64> {
        let mut forces = DMatrix::zeros(bodies, self.places);
        for (k, row) in pressures.row_iter().enumerate() {
            let dof = &self.all[k];
            let mut force = forces.row_mut(dof.body);
            force += row * dof.along;
        }
        forces
    }

    fn unloaded(&self, pressures: &DMatrix<f64>) -> Vec<ZoneUnder> {
        let of = |zone: &Vec<usize>| {
            let area = |k: usize| self.all[k].area;
            let held = zone.iter().map(|&k| area(k) * self.pressures[k]).sum();
            let mut change = DVector::zeros(self.places);
            for &k in zone {
                change += area(k) * pressures.row(k).transpose();
            }
            let (place, least) = change.argmin();
            ZoneUnder {
                body: self.all[zone[0]].body,
                held,
                unloaded: -least,
                place,
            }
        };
        self.zones.iter().map(of).collect()
    }
}

fn not_resisted(across: Option<f64>) -> ContactError {
    let deg = |a: f64| (10.0 * a.to_degrees()).round().rem_euclid(1800.0) / 10.0;
    ContactError::ToolNotResisted {
        across_deg: across.map(deg),
    }
}

/// The active pressures that follow each other on a piece of a pad, an edge force with those at its edge. `all` are those of the hold.
fn zones(active: &[PressureDof], all: &[PressureDof]) -> Vec<Vec<usize>> {
    let key = |d: &PressureDof| (d.body, d.piece);
    let mut zones: Vec<Vec<usize>> = Vec::new();
    let mut order: Vec<usize> = (0..active.len()).collect();
    order.sort_by_key(|&k| (key(&active[k]), active[k].place));
    for k in order {
        let follows = |z: &&mut Vec<usize>| {
            z.last().is_some_and(|&l| {
                key(&active[l]) == key(&active[k]) && active[k].place <= active[l].place + 1
            })
        };
        match zones.last_mut().filter(follows) {
            Some(zone) => zone.push(k),
            None => zones.push(vec![k]),
        }
    }
    // a pad that goes all round begins where it ends: its first shape function reaches over the seam
    let of = |k: usize| all.iter().filter(move |d| key(d) == key(&active[k]));
    let closed = |k: usize| of(k).all(|d| d.segments.len() == 2);
    let ends = |z: &[usize]| [active[z[0]].place, active[z[z.len() - 1]].place];
    let mut joined: Vec<Vec<usize>> = Vec::new();
    for zone in zones {
        let first = joined
            .iter()
            .position(|z| key(&active[z[0]]) == key(&active[zone[0]]));
        match first {
            Some(f)
                if closed(zone[0])
                    && ends(&joined[f])[0] == 0
                    && ends(&zone)[1] + 1 == of(zone[0]).count() =>
            {
                joined[f].extend(zone);
            }
            _ => joined.push(zone),
        }
    }
    joined
}

/// A lattice laid through the true outline and through its mean ring, both factored.
#[derive(Clone, Copy)]
pub struct OutlineFactors<'a> {
    /// The true outline.
    pub own: (&'a dyn Factor, &'a Mesh),
    /// Its mean ring.
    pub mean: (&'a dyn Factor, &'a Mesh),
}

/// What an outline adds to the compliances of its mean ring, by finite elements on one lattice: `C_own - C_mean`. Dents are alike on both, so
/// what elements do not show of them cancels.
pub(super) struct OutlineAdds<'a> {
    own: Section<&'a dyn Factor>,
    mean: Section<&'a dyn Factor>,
}

impl<'a> OutlineAdds<'a> {
    /// Under pressures that act on the part, what they press besides left out.
    pub fn new(factors: OutlineFactors<'a>, dofs: &[PressureDof]) -> Self {
        let on_part: Vec<PressureDof> = dofs
            .iter()
            .map(|d| PressureDof {
                presses: d
                    .presses
                    .iter()
                    .filter(|p| p.wall == WallId::PART)
                    .copied()
                    .collect(),
                ..d.clone()
            })
            .collect();
        let section = |(factor, mesh): (&'a dyn Factor, &'a Mesh)| {
            Section::new(
                factor,
                &[MeshedWall { mesh, first: 0 }],
                &on_part,
                Vec::new(),
            )
        };
        Self {
            own: section(factors.own),
            mean: section(factors.mean),
        }
    }
}

impl Elastic for OutlineAdds<'_> {
    fn pressures(&self) -> usize {
        self.own.pressures()
    }

    fn rigid_body_modes(&self) -> usize {
        0
    }

    fn rigid_work(&self, _: usize, _: usize) -> f64 {
        0.0
    }

    fn compliances(&mut self, pressure: usize, others: &[usize]) -> Vec<f64> {
        let mut all = self.all_compliances(&[(pressure, others)]);
        all.swap_remove(0)
    }

    fn all_compliances(&mut self, asked: &[(usize, &[usize])]) -> Vec<Vec<f64>> {
        let mut adds = self.own.all_compliances(asked);
        for (row, mean) in adds.iter_mut().zip(self.mean.all_compliances(asked)) {
            row.iter_mut().zip(mean).for_each(|(a, m)| *a -= m);
        }
        adds
    }

    fn weighted_displacements(&mut self, pressures: &[f64]) -> Vec<f64> {
        let mut adds = self.own.weighted_displacements(pressures);
        let mean = self.mean.weighted_displacements(pressures);
        adds.iter_mut().zip(mean).for_each(|(a, m)| *a -= m);
        adds
    }
}
