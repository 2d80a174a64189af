//! What measuring does to the finished part: a gauge's force and the part's own weight flex a thin ring.
//!
//! The part is free (released, held by nothing); forces act on lines of its surface, along its radius, without friction. Their
//! residual is balanced by the metal evenly by volume: that is the part's own weight where they are its supports, and
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

mod contacts;
mod ring;

use std::f64::consts::PI;

use super::outcome::{GaugeFlex, NotComputed};
use super::step::PartBody;
use super::{Caution, ProcessError};
use crate::case::{Case, Inspection, Support};
use crate::element::PlaneStress;
use crate::geometry::{Outline, PerSurface, Surface};
use contacts::{contacts, supports};
use ring::FinishedRing;

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
pub(super) fn measuring(case: &Case, body: &PartBody) -> Result<Option<GaugeFlex>, ProcessError> {
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
    let on = |mesh| gauge_flex(&body.outlines, &law, density, inspection, mesh);
    let mut flex = on([around, THROUGH])?;
    flex.judge(&on([
        (around / 2).next_multiple_of(ORIENTATIONS),
        THROUGH / 2,
    ])?);
    Ok(Some(flex))
}

impl GaugeFlex {
    /// States the errors: what a mesh half as fine both ways differs by.
    fn judge(&mut self, coarse: &Self) {
        for (a, b) in coarse.force.iter().zip(&mut self.force) {
            b.error = Some(
                (a.change - b.change)
                    .abs()
                    .max((a.variation - b.variation).abs()),
            );
        }
        if let (Some(a), Some(b)) = (&coarse.weight, &mut self.weight) {
            let off = [
                a.out_of_roundness - b.out_of_roundness,
                a.vertical - b.vertical,
                a.horizontal - b.horizontal,
            ];
            b.error = Some(off.iter().fold(0.0, |m, d| m.max(d.abs())));
        }
    }
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
/// [`super::Reason::NotConverged`] if the outlines leave no wall or the equations cannot be solved.
pub fn gauge_flex(
    outlines: &PerSurface<Outline>,
    law: &PlaneStress,
    density: Option<f64>,
    inspection: &Inspection,
    [around, through]: [usize; 2],
) -> Result<GaugeFlex, ProcessError> {
    let mut ring = FinishedRing::new(
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
        (Some(_), None) => out.not_computed.push(NotComputed::Weight),
        (None, _) => {}
    }
    out.balance = ring.residual_force;
    Ok(out)
}

/// Where measuring takes up more than a tenth of what is allowed.
pub(super) fn cautions(case: &Case, flex: &GaugeFlex) -> Vec<Caution> {
    let mut all = Vec::new();
    for f in &flex.force {
        let limits = case.tolerance.surfaces.get(f.surface);
        let roundness = case.roundness_limit(f.surface).map(|l| (l.most, false));
        let size = [limits.diameter, limits.average_diameter]
            .into_iter()
            .flatten()
            .map(|[low, high]| high - low)
            .reduce(f64::min)
            .map(|width| (width, true));
        let effects = [
            (f.change.abs(), size.or(roundness), false),
            (f.variation, roundness, true),
        ];
        for (effect, allowed, varies) in effects {
            if let Some((limit, of_diameters)) = allowed
                && effect > SHARE * limit
            {
                all.push(Caution::GaugeForce {
                    surface: f.surface,
                    force: f.force,
                    effect,
                    varies,
                    of_diameters,
                    limit,
                });
            }
        }
    }
    let Some(weight) = &flex.weight else {
        return all;
    };
    for surface in Surface::BOTH {
        if let Some(limit) = case.roundness_limit(surface).map(|l| l.most)
            && weight.out_of_roundness > SHARE * limit
        {
            all.push(Caution::OwnWeight {
                support: case.inspection.support,
                surface,
                out_of_roundness: weight.out_of_roundness,
                limit,
            });
        }
    }
    all
}
