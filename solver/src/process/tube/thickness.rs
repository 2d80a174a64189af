//! How thick a slice must be to be squeezed into the lobes that a tube of some length has where it is gripped.

use super::plan::Fineness;
use crate::case::{Case, SectionThickness};
use crate::element::meridian::Isotropic;
use crate::geometry::{Meridian, Surface};
use crate::linear::{Factor, LinearError};
use crate::mesh::MeridianMesh;
use crate::process::{ProcessError, Unfit};
use crate::scheme::ask;
use crate::tube::TubeBody;
use crate::tube::field::moved_on;
use crate::tube::response::{Strip, strips};

/// A slice this short, in walls, is in plane stress to some parts in a thousand of a thousandth.
const SLICE: f64 = 0.05;

/// Thickness of the slice, mm, and the lobes that it is meant for; `None` where the slice is as long as the part.
pub(in crate::process) fn of_slice(
    case: &Case,
) -> Result<Option<(f64, Option<u32>)>, ProcessError> {
    match case.section_thickness {
        SectionThickness::WholeLength => return Ok(None),
        SectionThickness::Given(thickness) => return Ok(Some((thickness, None))),
        SectionThickness::FromTube => {}
    }
    let section = case.part.section();
    let members = case
        .steps
        .iter()
        .filter_map(|s| case.hold(&s.hold))
        .flat_map(|h| &h.members);
    for member in members {
        let Ok(supports) = ask(&*member.scheme, &section, &member.values) else {
            continue;
        };
        let bodies = supports.bodies.iter().map(|b| b.surface);
        let patches = supports.pressures.iter().map(|p| p.surface);
        let points = supports.points.iter().map(|p| p.surface);
        let pressed: Vec<Surface> = bodies.chain(patches).chain(points).collect();
        if let Some(&surface) = pressed.first() {
            let lobes = pressed.len().max(2) as u32;
            let reach = member.grip.on(case.part.length);
            let thickness = carrying(case, surface, reach, lobes)?;
            return Ok(Some((thickness, Some(lobes))));
        }
    }
    Ok(None)
}

/// The length of a slice that an even load over a stretch of a tube's surface, of so many lobes, moves as far as it moves the tube there in the mean, mm.
fn carrying(
    case: &Case,
    surface: Surface,
    reach: [f64; 2],
    lobes: u32,
) -> Result<f64, ProcessError> {
    let part = &case.part;
    let [outer, bore] = [Surface::Outer, Surface::Bore].map(|s| part.stock.get(s).radius);
    let tube = |length: f64| {
        Meridian::tube(outer, bore, length)
            .map_err(|_| ProcessError::from(crate::process::Reason::Input(Unfit::OtherPart)))
    };
    let law = Isotropic {
        young_modulus: part.material.young_modulus,
        poisson_ratio: part.material.poisson_ratio,
    };
    let slice = SLICE * (outer - bore);
    let compliance = |outline: Meridian, reach: [f64; 2]| -> Result<f64, LinearError> {
        let fineness = Fineness { halvings: 1 };
        let marks = reach.map(|z| fineness.mark(&outline, z));
        let mesh = MeridianMesh::build(&outline, &marks, &fineness.sizes(&outline, false));
        let body = TubeBody::new(mesh, law);
        let all = strips(body.mesh().heights(), surface, reach);
        let whole = Strip::joined(&all);
        let load = body.spread(&body.strip_load(&whole));
        let moved = body.factor(lobes)?.solve(&load)?;
        let length = reach[1] - reach[0];
        // mean displacement by one newton a radian in all
        Ok(moved_on(&body, &whole, &moved) / length / length)
    };
    let by_tube = compliance(tube(part.length)?, reach)?;
    let by_slice = compliance(tube(slice)?, [0.0, slice])?;
    Ok(slice * by_slice / by_tube)
}
