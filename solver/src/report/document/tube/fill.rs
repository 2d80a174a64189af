//! Fills the document of a tube from its outcome, and lets no figure through that is not a number.

use super::{
    BucklingDocument, BulgeDocument, CutAlongDocument, CutAlongErrorDocument, GripAlongDocument,
    LineForceDocument, PlatesDocument, StationDocument, TubeDocument, TubeMeshDocument,
};
use crate::geometry::{PerSurface, Surface};
use crate::metrology::{
    MOST_LOBES, MetrologyError, Profile, Sheet, Wanted, harmonics, least_squares_circle,
    minimum_zone,
};
use crate::process::{CutAlong, GripAlong, PlatesOutcome, Radii, Station, TubeOutcome, TubeState};
use crate::report::ReportError;
use crate::report::document::build::{Measured, samples, shape_of};
use crate::report::document::errors::put_shape;
use crate::report::document::{
    ContactDocument, DisplacementDocument, HarmonicDocument, MeshDocument, Shape, StepDocument,
    ZoneCircle,
};

impl StepDocument {
    /// Puts what a step of a tube (from 0) comes to along its length beside the figures of its section.
    pub(in crate::report::document) fn put_tube(
        &mut self,
        n: usize,
        tube: &TubeOutcome,
    ) -> Result<(), ReportError> {
        if !is_finite(tube) {
            return Err(ReportError::NotFinite {
                what: format!("a figure along the length of step {}", n + 1),
            });
        }
        let stations = tube.stations.iter().map(|s| station(n, s));
        self.stations = Some(stations.collect::<Result<_, _>>()?);
        put_grips(&mut self.held.contacts, &tube.grips);
        if let Some(after) = &mut self.after_cut {
            put_grips(&mut after.contacts, &tube.grips_after_cut);
        }
        self.mesh = MeshDocument {
            around: 0,
            through: tube.mesh_size[1],
        };
        self.tube = Some(TubeDocument {
            section: tube.section + 0.0,
            length: tube.length,
            flipped: tube.flipped,
            harmonics: tube.harmonics,
            mesh: TubeMeshDocument {
                along: tube.mesh_size[0],
                through: tube.mesh_size[1],
            },
            along: tube.along.iter().map(cut_along).collect(),
            plates: tube.plates.as_ref().map(plates),
        });
        Ok(())
    }
}

fn station(n: usize, station: &Station) -> Result<StationDocument, ReportError> {
    let shapes = |state: &str, radii: &Radii, displacement: Option<&Radii>, error: usize| {
        let one = |s: Surface| {
            let what = format!(
                "the {} ({state}, step {}, at {} mm)",
                s.name(),
                n + 1,
                station.z
            );
            if station.stock.get(s).iter().all(|r| r.abs() < NO_RADIUS) {
                return Ok(floor(displacement.is_some()));
            }
            let mut shape = measured(
                radii.get(s),
                displacement.map(|d| d.get(s).as_slice()),
                &what,
            )?;
            if let Some(errors) = &station.errors {
                put_shape(&mut shape, errors[error].get(s));
            }
            Ok::<_, ReportError>(shape)
        };
        Ok::<_, ReportError>(PerSurface {
            outer: one(Surface::Outer)?,
            bore: one(Surface::Bore)?,
        })
    };
    Ok(StationDocument {
        z: station.z + 0.0,
        held: shapes("held", &station.held, Some(&station.held_displacement), 0)?,
        released: shapes("released", &station.released, None, 1)?,
    })
}

/// A bore within this of the axis is none: the section lies in a floor, mm.
const NO_RADIUS: f64 = 1e-9;

/// What is told of the bore in a floor: nothing but zeros.
fn floor(held: bool) -> Shape {
    Shape {
        mean_radius: 0.0,
        centre: [0.0; 2],
        roundness_least_squares: 0.0,
        roundness_minimum_zone: 0.0,
        harmonics: (1..=MOST_LOBES)
            .map(|count| HarmonicDocument {
                count,
                amplitude: 0.0,
                angle: 0.0,
            })
            .collect(),
        displacement: held.then(|| DisplacementDocument {
            angles_deg: (0..360).map(f64::from).collect(),
            radial: vec![0.0; 360],
        }),
        error: None,
        minimum_zone: ZoneCircle {
            centre: [0.0; 2],
            radius: 0.0,
        },
    }
}

/// Circles and lobes of a profile; nothing else is told of a station, so no gauge is put to it.
fn measured(radii: &[f64], displacement: Option<&[f64]>, what: &str) -> Result<Shape, ReportError> {
    let profile = Profile::equal(radii);
    let fail = |e: MetrologyError| ReportError::Measure {
        what: what.into(),
        why: e.to_string(),
    };
    let circle = least_squares_circle(&profile);
    let zone = match minimum_zone(&profile) {
        Ok(zone) => zone.circle,
        // not proven to be the narrowest: what a sheet takes then
        Err(_) => {
            Sheet::of(&profile, &Wanted::default())
                .map_err(fail)?
                .minimum_zone
                .circle
        }
    };
    let lobes = harmonics(&profile, circle.centre, MOST_LOBES);
    let measured = Measured {
        circle: &circle,
        zone: &zone,
        harmonics: &lobes,
    };
    shape_of(&measured, displacement, what)
}

fn put_grips(contacts: &mut [ContactDocument], grips: &[GripAlong]) {
    for (contact, grip) in contacts.iter_mut().zip(grips) {
        contact.along = Some(GripAlongDocument {
            from: grip.reach[0] + 0.0,
            to: grip.reach[1],
            centroid: grip.centroid,
            front_quarter: grip.front_quarter + 0.0,
            front_tenth: grip.front_tenth + 0.0,
            back_half: grip.back_half + 0.0,
            touching: grip.touching.clone(),
            line_force: LineForceDocument {
                z_mm: grip.line_force.iter().map(|p| p[0] + 0.0).collect(),
                n_per_mm: samples(grip.line_force.iter().map(|p| p[1])),
            },
        });
    }
}

fn cut_along(cut: &CutAlong) -> CutAlongDocument {
    CutAlongDocument {
        surface: cut.surface,
        from: cut.reach[0] + 0.0,
        to: cut.reach[1],
        taper: cut.taper + 0.0,
        barrel: cut.barrel + 0.0,
        range: cut.range + 0.0,
        error: cut
            .errors
            .map(|[taper, barrel, range]| CutAlongErrorDocument {
                taper,
                barrel,
                range,
            }),
    }
}

fn plates(plates: &PlatesOutcome) -> PlatesDocument {
    PlatesDocument {
        force: plates.force,
        friction: plates.friction,
        sliding: plates.sliding,
        approach: plates.approach + 0.0,
        bulge: PerSurface::from_fn(|s| {
            let bulge = plates.bulge.get(s);
            BulgeDocument {
                z_mm: bulge.iter().map(|p| p[0] + 0.0).collect(),
                radial: samples(bulge.iter().map(|p| p[1])),
            }
        }),
        mean_pressure: plates.mean_pressure,
        friction_used: plates.friction_used.map(|x| x + 0.0),
        sliding_share: plates.sliding_share.map(|x| x + 0.0),
        torque: plates.torque.map(|x| x + 0.0),
        buckling: plates
            .buckling
            .map(|[classical, knocked_down]| BucklingDocument {
                classical,
                knocked_down,
            }),
        located: plates.located,
    }
}

fn all_finite(values: impl IntoIterator<Item = f64>) -> bool {
    values.into_iter().all(f64::is_finite)
}

/// Whether every figure along the length is a number.
fn is_finite(tube: &TubeOutcome) -> bool {
    let pairs = |list: &[[f64; 2]]| all_finite(list.iter().flatten().copied());
    let radii = |r: &Radii| {
        Surface::BOTH
            .into_iter()
            .all(|s| all_finite(r.get(s).iter().copied()))
    };
    let station = |s: &Station| {
        let cut = s.cut.as_ref().is_none_or(radii);
        let shapes = [&s.stock, &s.held, &s.held_displacement, &s.released];
        s.z.is_finite() && cut && shapes.into_iter().all(radii)
    };
    let grip = |g: &GripAlong| {
        let own = [g.front_quarter, g.front_tenth, g.back_half];
        all_finite(own.into_iter().chain(g.reach).chain(g.centroid))
            && pairs(&g.touching)
            && pairs(&g.line_force)
    };
    let along = |c: &CutAlong| {
        let own = [c.taper, c.barrel, c.range];
        let errors = c.errors.into_iter().flatten();
        all_finite(own.into_iter().chain(c.reach).chain(errors))
    };
    let plates = |p: &PlatesOutcome| {
        let own = [p.force, p.approach].into_iter().chain(p.friction);
        let faces = [p.mean_pressure, p.friction_used, p.sliding_share];
        let more = p.torque.into_iter().chain(p.buckling.into_iter().flatten());
        all_finite(own.chain(faces.into_iter().flatten()).chain(more))
            && pairs(&p.bulge.outer)
            && pairs(&p.bulge.bore)
    };
    let state = |s: &TubeState| {
        let surface = |of: Surface| {
            all_finite(s.reference.get(of).iter().copied())
                && all_finite(s.displacement.get(of).iter().flatten().copied())
        };
        all_finite(s.z.iter().copied()) && Surface::BOTH.into_iter().all(surface)
    };
    all_finite([tube.length, tube.section])
        && tube.stations.iter().all(station)
        && tube.grips.iter().chain(&tube.grips_after_cut).all(grip)
        && tube.along.iter().all(along)
        && tube.plates.iter().all(plates)
        && tube.states.iter().all(state)
}
