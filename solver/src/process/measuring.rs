//! What measuring does to the finished part: a gauge's force and the part's own weight flex a thin ring.
//!
//! The part is free (released, held by nothing); forces act on lines of its surface, along its radius, without friction. What
//! their sum leaves over is carried by the metal evenly by volume: that is the part's own weight where they are its supports, and
//! the friction under its face where a single indicator presses on a part that lies flat. Frictionless reactions share a force as
//! the reading shares a growth (virtual work), so a gauge's forces are in the proportion of its weights: facing contacts alike,
//! the flanks of a V by [`Vee::lift`]. A V that rides on the part is seated by a force of its own, which is not known and not
//! counted: its flanks are relieved.
//!
//! Displacement is read in the middle of the wall. Right under a line force the surface's own displacement has no bound, and a
//! real contact dents it by an amount that depends on the contact's shape, much alike on part and master; what is left is the flexing
//! of the ring, which does not depend on the mesh.
//!
//! The mesh is one of its own, even round the turn: the flexing needs none of the grading that contact needs, and stays the same
//! whatever mesh the steps were solved on.

use std::f64::consts::{PI, TAU};
use std::sync::Arc;

use super::ProcessError;
use super::outcome::{ForceFlex, GaugeFlex, WeightFlex};
use super::sample::mean;
use super::step::{Body, cut_surfaces, not_trustworthy, wall_error};
use crate::case::{Case, Inspection, Support};
use crate::element::{self, PlaneStress};
use crate::geometry::{Outline, PerSurface, Surface};
use crate::linear::{Cholesky, Factor, Layout, rigid_pins};
use crate::mesh::Mesh;
use crate::metrology::{Gauge, Profile, Vee, least_squares_circle};

/// Ways the part is turned against gauge and support.
const ORIENTATIONS: usize = 24;
/// Elements round: at least this many, and no longer than a wall up to the most. Multiples of the orientations.
const AROUND: [usize; 2] = [10 * ORIENTATIONS, 100 * ORIENTATIONS];
/// Elements through the wall; even, so that every lattice line has a node in the middle.
const THROUGH: usize = 4;
/// Standard acceleration of free fall, m/s2 (3rd CGPM 1901).
const GRAVITY: f64 = 9.806_65;
/// Share of a tolerance above which a gauge's own effect is worth a caution: common practice, no source.
const SHARE: f64 = 0.1;

/// What measuring does to the part that a case leaves; `None` if its inspection names neither a measuring force nor a support that
/// flexes.
pub(super) fn measuring(case: &Case, body: &Body) -> Result<Option<GaugeFlex>, ProcessError> {
    let inspection = &case.inspection;
    let presses = inspection.measuring_force.is_some_and(|f| f > 0.0);
    if !(presses || inspection.support != Support::Flat) {
        return Ok(None);
    }
    let law = PlaneStress {
        young_modulus: case.part.material.young_modulus,
        poisson_ratio: case.part.material.poisson_ratio,
        thickness: case.part.length,
    };
    let density = case.part.material.density;
    let around = around(&body.nominal);
    gauge_flex(&body.outlines, &law, density, inspection, [around, THROUGH]).map(Some)
}

/// Elements round for nominal radii, mm.
fn around(nominal: &PerSurface<f64>) -> usize {
    let wall = nominal.outer - nominal.bore;
    let wanted = PI * (nominal.outer + nominal.bore) / wall;
    let [least, most] = AROUND;
    // a wall of no thickness wants more than there are numbers: the cast stops at the largest
    (wanted.ceil() as usize)
        .clamp(least, most)
        .next_multiple_of(ORIENTATIONS)
}

/// Flexing of a free ring of these outlines by the measuring force and the support of an inspection, on a mesh of so many equal
/// elements round (at least 12) and through (an odd number is made even, so that there are nodes in the middle of the wall).
/// `density` in kg/m3.
///
/// # Errors
/// [`ProcessError::NotTrustworthy`] if the outlines leave no wall or the equations cannot be solved.
pub fn gauge_flex(
    outlines: &PerSurface<Outline>,
    law: &PlaneStress,
    density: Option<f64>,
    inspection: &Inspection,
    [around, through]: [usize; 2],
) -> Result<GaugeFlex, ProcessError> {
    let mut ring = Ring::new(
        outlines,
        law,
        around.max(12),
        through.max(2).next_multiple_of(2),
    )?;
    let mut out = GaugeFlex::default();
    if let (Some(gauge), Some(force)) = (inspection.gauge, inspection.measuring_force)
        && force > 0.0
    {
        for surface in Surface::BOTH {
            if let Some(contacts) = contacts(gauge, surface) {
                out.force
                    .push(ring.pressed(gauge, surface, &contacts, force)?);
            }
        }
    }
    match (supports(inspection.support), density) {
        (Some(supports), Some(density)) => {
            // kg/m3 to kg/mm3
            let weight = ring.volume * density * 1e-9 * GRAVITY;
            out.weight = Some(ring.standing(&supports, inspection.support, weight)?);
        }
        (Some(_), None) => out
            .not_computed
            .push("own weight: the material has no density".to_owned()),
        (None, _) => {}
    }
    out.balance = ring.left_over;
    Ok(out)
}

/// A line on which something presses.
#[derive(Clone, Copy)]
struct Contact {
    /// Direction from the indicator, or from the top of a standing part, rad.
    angle: f64,
    /// Share of its radial displacement in the reading.
    reads: f64,
    /// Force into the metal over the force asked about.
    presses: f64,
}

impl Contact {
    fn alike(angle: f64, share: f64) -> Self {
        Self {
            angle,
            reads: share,
            presses: share,
        }
    }
}

/// The contacts of a gauge on a surface; `None` if it does not reach it.
fn contacts(gauge: Gauge, surface: Surface) -> Option<Vec<Contact>> {
    let outer = surface == Surface::Outer;
    match gauge {
        Gauge::Radius => Some(vec![Contact::alike(0.0, 1.0)]),
        Gauge::TwoPoint => Some(facing()),
        Gauge::Plate if outer => Some(facing()),
        Gauge::Vee(vee) if outer => {
            let mut all = vec![Contact::alike(0.0, 1.0)];
            all.extend(flanks(&vee));
            Some(all)
        }
        // every contact presses with the force asked about and gives two thirds of a radius to the diameter read
        Gauge::ThreePoint if !outer => Some(
            (0..3)
                .map(|k| Contact {
                    angle: TAU * f64::from(k) / 3.0,
                    reads: 2.0 / 3.0,
                    presses: 1.0,
                })
                .collect(),
        ),
        Gauge::Plate | Gauge::Vee(_) | Gauge::ThreePoint => None,
    }
}

fn facing() -> Vec<Contact> {
    vec![Contact::alike(0.0, 1.0), Contact::alike(PI, 1.0)]
}

/// The flanks of a V under a force at its indicator.
fn flanks(vee: &Vee) -> impl Iterator<Item = Contact> {
    let shares = vee.lift();
    vee.contacts()
        .into_iter()
        .zip(shares)
        .map(|(angle, lift)| Contact::alike(angle, -lift))
}

/// What carries a part that stands, by direction from its top; `None` where its face carries it.
fn supports(support: Support) -> Option<Vec<Contact>> {
    match support {
        Support::Flat => None,
        Support::Edge => Some(vec![Contact::alike(PI, 1.0)]),
        Support::Vee { included_angle_deg } => {
            Some(flanks(&Vee::summit(included_angle_deg)).collect())
        }
    }
}

/// The free ring with what its solves need.
struct Ring {
    mesh: Mesh,
    factor: Cholesky,
    /// Volume that goes with each node, mm3.
    share: Vec<f64>,
    volume: f64,
    /// Middle of the metal, mm, and its second moment about it, mm5.
    centre: [f64; 2],
    inertia: f64,
    /// Largest left-over of `K u - f` so far, N.
    left_over: f64,
}

impl Ring {
    fn new(
        outlines: &PerSurface<Outline>,
        law: &PlaneStress,
        around: usize,
        through: usize,
    ) -> Result<Self, ProcessError> {
        let ends: Vec<f64> = (0..around)
            .map(|k| TAU * k as f64 / around as f64)
            .collect();
        let layers: Vec<f64> = (0..=through).map(|k| k as f64 / through as f64).collect();
        let mesh = Mesh::build(outlines, &ends, &layers, true).map_err(wall_error)?;
        let layout = Arc::new(Layout::new(&mesh, &rigid_pins(&mesh)));
        let factor = Cholesky::new(layout, &mesh, law).map_err(not_trustworthy)?;
        let mut share = vec![0.0; mesh.nodes()];
        for column in 0..around {
            for layer in 0..through {
                let nodes = mesh.element_nodes(column, layer);
                let coords = nodes.map(|n| mesh.coords()[n]);
                for (n, v) in nodes.into_iter().zip(element::volumes(law, &coords)) {
                    share[n] += v;
                }
            }
        }
        let volume: f64 = share.iter().sum();
        let middle = |axis: usize| {
            let sum: f64 = share
                .iter()
                .zip(mesh.coords())
                .map(|(m, c)| m * c[axis])
                .sum();
            sum / volume
        };
        let centre = [middle(0), middle(1)];
        let inertia = share
            .iter()
            .zip(mesh.coords())
            .map(|(m, c)| m * ((c[0] - centre[0]).powi(2) + (c[1] - centre[1]).powi(2)))
            .sum();
        Ok(Self {
            mesh,
            factor,
            share,
            volume,
            centre,
            inertia,
            left_over: 0.0,
        })
    }

    /// The three lattice lines round an angle (rad) and the share of each in a value there.
    fn lines(&self, angle: f64) -> [(usize, f64); 3] {
        let around = self.mesh.around();
        let at = angle.rem_euclid(TAU) / TAU * around as f64;
        let column = (at as usize).min(around - 1);
        let xi = 2.0 * (at - column as f64) - 1.0;
        let shape = [0.5 * xi * (xi - 1.0), 1.0 - xi * xi, 0.5 * xi * (xi + 1.0)];
        [0, 1, 2].map(|k| ((2 * column + k) % (2 * around), shape[k]))
    }

    /// Radial displacement (mm) of the middle of the wall at every lattice line, where forces (N, into the metal) press on lines
    /// of a surface. Free motions: no mean displacement of the metal.
    fn flexed(
        &mut self,
        surface: Surface,
        forces: &[(f64, f64)],
    ) -> Result<Vec<f64>, ProcessError> {
        let boundary = self.mesh.boundary(surface);
        let mut load = vec![[0.0; 2]; self.mesh.nodes()];
        for &(angle, force) in forces {
            let (sin, cos) = angle.sin_cos();
            for (line, share) in self.lines(angle) {
                let f = &mut load[boundary[line]];
                f[0] -= surface.outward() * force * share * cos;
                f[1] -= surface.outward() * force * share * sin;
            }
        }
        self.carry(&mut load);
        let u = self.factor.solve(&load).map_err(not_trustworthy)?;
        for (k, f) in self.factor.forces(&u).iter().zip(&load) {
            let left = (k[0] - f[0]).abs().max((k[1] - f[1]).abs());
            self.left_over = self.left_over.max(left);
        }
        let drift = |axis: usize| {
            let sum: f64 = self.share.iter().zip(&u).map(|(m, u)| m * u[axis]).sum();
            sum / self.volume
        };
        let shift = [drift(0), drift(1)];
        let middle = self.mesh.through();
        Ok(self
            .mesh
            .angles()
            .iter()
            .enumerate()
            .map(|(line, t)| {
                let v = u[self.mesh.node(line, middle)];
                (v[0] - shift[0]) * t.cos() + (v[1] - shift[1]) * t.sin()
            })
            .collect())
    }

    /// Spreads what a load leaves over, as a force and a moment, evenly over the metal.
    fn carry(&self, load: &mut [[f64; 2]]) {
        let [x, y] = self.centre;
        let (mut force, mut moment) = ([0.0; 2], 0.0);
        for (f, c) in load.iter().zip(self.mesh.coords()) {
            force[0] += f[0];
            force[1] += f[1];
            moment += (c[0] - x) * f[1] - (c[1] - y) * f[0];
        }
        let (along, about) = (force.map(|f| f / self.volume), moment / self.inertia);
        for ((f, c), m) in load.iter_mut().zip(self.mesh.coords()).zip(&self.share) {
            f[0] -= m * (along[0] - about * (c[1] - y));
            f[1] -= m * (along[1] + about * (c[0] - x));
        }
    }

    /// A value between lattice lines.
    fn at(&self, values: &[f64], angle: f64) -> f64 {
        self.lines(angle)
            .iter()
            .map(|&(line, share)| share * values[line])
            .sum()
    }

    /// The reading of a gauge pressed on with a force, all round.
    fn pressed(
        &mut self,
        gauge: Gauge,
        surface: Surface,
        contacts: &[Contact],
        force: f64,
    ) -> Result<ForceFlex, ProcessError> {
        let (mut sum, mut low, mut high) = (0.0, f64::INFINITY, f64::NEG_INFINITY);
        for k in 0..ORIENTATIONS {
            let turned = orientation(k);
            let forces: Vec<_> = contacts
                .iter()
                .map(|c| (turned + c.angle, force * c.presses))
                .collect();
            let u = self.flexed(surface, &forces)?;
            let change: f64 = contacts
                .iter()
                .map(|c| c.reads * self.at(&u, turned + c.angle))
                .sum();
            sum += change;
            low = low.min(change);
            high = high.max(change);
        }
        Ok(ForceFlex {
            gauge,
            surface,
            force,
            change: sum / ORIENTATIONS as f64,
            variation: high - low,
        })
    }

    /// The part standing on supports, the worst way up.
    fn standing(
        &mut self,
        supports: &[Contact],
        support: Support,
        weight: f64,
    ) -> Result<WeightFlex, ProcessError> {
        let mut worst: Option<WeightFlex> = None;
        let coords = self.mesh.coords();
        let radii: Vec<f64> = (0..2 * self.mesh.around())
            .map(|line| self.mesh.node(line, self.mesh.through()))
            .map(|n| coords[n][0].hypot(coords[n][1]))
            .collect();
        let radius = mean(&radii);
        for k in 0..ORIENTATIONS {
            let up = orientation(k);
            let forces: Vec<_> = supports
                .iter()
                .map(|c| (up + c.angle, weight * c.presses))
                .collect();
            let u = self.flexed(Surface::Outer, &forces)?;
            // on a round part: what the part's own shape is has nothing to do with how it stands
            let flexed: Vec<f64> = u.iter().map(|u| radius + u).collect();
            let out_of_roundness = least_squares_circle(&Profile::equal(&flexed)).roundness;
            // alike but for rounding is alike: the first is kept
            if worst.is_none_or(|w| out_of_roundness > w.out_of_roundness * (1.0 + 1e-6)) {
                let across = |angle: f64| self.at(&u, angle) + self.at(&u, angle + PI);
                worst = Some(WeightFlex {
                    support,
                    weight,
                    up_deg: up.to_degrees(),
                    out_of_roundness,
                    vertical: across(up),
                    horizontal: across(up + 0.5 * PI),
                });
            }
        }
        Ok(worst.expect("there is an orientation"))
    }
}

fn orientation(k: usize) -> f64 {
    TAU * k as f64 / ORIENTATIONS as f64
}

/// Where measuring takes up more than a tenth of what is allowed, in the user's words.
pub(super) fn cautions(case: &Case, flex: &GaugeFlex) -> Vec<String> {
    let cut = case.steps.last().map(cut_surfaces).unwrap_or_default();
    let mut said = Vec::new();
    for f in &flex.force {
        let name = f.surface.name();
        let limits = case.tolerance.surfaces.get(f.surface);
        let roundness = roundness(case, &cut, f.surface);
        let size = [limits.diameter, limits.average_diameter]
            .into_iter()
            .flatten()
            .map(|[low, high]| high - low)
            .reduce(f64::min);
        let evenly = size
            .map(|w| (w, "range of diameters"))
            .or(roundness.map(|r| (r, "roundness")));
        for (effect, limit, how) in [
            (f.change.abs(), evenly, "changes what it reads by"),
            (
                f.variation,
                roundness.map(|r| (r, "roundness")),
                "changes what it reads, differently round the turn, by up to",
            ),
        ] {
            if let Some((limit, what)) = limit.filter(|(l, _)| effect > SHARE * l) {
                said.push(format!(
                    "measuring: the gauge's {:.3} N flexes the part and {how} {effect:.5} mm ({name}), more than a tenth of the \
                     {what} wanted, {limit:.4} mm; measure with less force",
                    f.force
                ));
            }
        }
    }
    let Some(weight) = &flex.weight else {
        return said;
    };
    for surface in Surface::BOTH {
        if let Some(limit) = roundness(case, &cut, surface)
            && weight.out_of_roundness > SHARE * limit
        {
            said.push(format!(
                "measuring: {}, the part's own weight puts it out of round by {:.5} mm ({}), more than a tenth of the roundness \
                 wanted, {limit:.4} mm; measure it lying on its face",
                case.inspection.orientation(),
                weight.out_of_roundness,
                surface.name()
            ));
        }
    }
    said
}

/// Roundness wanted of a surface, mm: its own, or that of all surfaces cut in the last step.
fn roundness(case: &Case, cut: &[Surface], surface: Surface) -> Option<f64> {
    let general = case.tolerance.roundness.filter(|_| cut.contains(&surface));
    case.tolerance.surfaces.get(surface).roundness.or(general)
}
