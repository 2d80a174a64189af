//! Fills the document from an outcome, and lets no figure through that is not a number.

mod finite;

use super::assumed::assumed;
use super::gauge::{ReadDocument, lobes};
use super::{
    AfterCutDocument, BalanceDocument, CaseName, ContactDocument, CutDocument,
    DisplacementDocument, EstimateDocument, GRIP_CAUTION, GaugesDocument, GripDocument,
    HeldDocument, InspectionDocument, LoadDocument, LongTimeDocument, MaterialDocument,
    MeshDocument, PartDocument, PressureDocument, Program, ReadingsDocument, ReleasedDocument,
    ResultDocument, Shape, StepDocument, StressDocument, StressPlaceDocument, ToolDipDocument,
    ToolForceDocument, UnitNames, WallDocument, ZoneCircle,
};
use crate::case::quantity::UnitSystem;
use crate::case::{Case, FREE, Origin, Part, material};
use crate::geometry::{PerSurface, Surface};
use crate::judge::{judge_read, wanted};
use crate::metrology::{Circle, Harmonic, Profile, Sheet, Wanted};
use crate::process::{
    Contact, DeadLoad, Estimate, HeldState, Outcome, Radii, StepOutcome, StressSummary,
    WallExtremes,
};
use crate::report::json::to_digits;
use crate::report::units::{Units, units_in_doubt};
use crate::report::verdict::{caution_of_hold, no_strength, verdict};
use crate::report::{ReportError, along, grip};
use finite::check_finite;

/// Builds the document. `origin` tells what file the case came from, if it came from one, and in which units its words are.
///
/// # Errors
/// [`ReportError::NotFinite`] if a figure of the outcome is not finite, [`ReportError::Measure`] if a profile cannot be measured.
pub fn document(
    case: &Case,
    origin: &Origin,
    outcome: &Outcome,
    program: &Program,
) -> Result<ResultDocument, ReportError> {
    let mut steps = Vec::new();
    let mut finished = None;
    let shown = Units::new(origin.units == UnitSystem::Inch);
    for (n, step) in outcome.steps.iter().enumerate() {
        let (document, released) = step_document(case, n, step, shown)?;
        steps.push(document);
        finished = Some(released);
    }
    let judgement =
        judge_read(case, outcome, finished.as_ref()).map_err(|e| ReportError::Measure {
            what: "the finished part".into(),
            why: e.to_string(),
        })?;
    let long_time = LongTimeDocument::of(outcome)?;
    let verdict = verdict(
        case,
        outcome,
        &judgement,
        (&steps, long_time.as_ref()),
        shown,
    );
    let mut cautions: Vec<String> = outcome.cautions.iter().map(ToString::to_string).collect();
    cautions.extend(steps.iter().enumerate().flat_map(|(n, s)| unknown(n, s)));
    let along = |(n, s)| along::cautions(n, s, shown);
    cautions.extend(steps.iter().enumerate().flat_map(along));
    if judgement.yields() {
        cautions.push(
            "The stress passes yield: the part keeps a set that is not computed here, so the shapes are not to be trusted."
                .into(),
        );
    }
    cautions.extend(no_strength(verdict.worst_stress.as_ref(), shown));
    cautions.extend(material::caution(&case.part.material));
    let holds = judgement.holds.iter();
    cautions.extend(holds.map(|c| caution_of_hold(c, shown)));
    cautions.extend(units_in_doubt(2.0 * case.part.stock.outer.radius));
    let of_grip = |s: &StepOutcome| s.grip.is_told();
    if outcome.steps.iter().any(of_grip) {
        cautions.push(grip::CAUTIONS.into());
    } else if outcome.steps.iter().any(|s| s.hold != FREE) {
        cautions.push(GRIP_CAUTION.into());
    }
    let inspection = InspectionDocument::of(case, outcome);
    if !inspection.is_finite() {
        return Err(ReportError::NotFinite {
            what: "the flexing by the gauge".into(),
        });
    }
    Ok(ResultDocument {
        format: "ringwright-result-1",
        shown,
        program: program.clone(),
        case: CaseName {
            title: case.title.clone(),
            sha256: origin.sha256.clone(),
        },
        units: UnitNames::OURS,
        part: part_document(&case.part),
        assumed: assumed(case, outcome, shown),
        inspection,
        steps,
        long_time,
        verdict,
        cautions,
    })
}

/// What circles and gauges cannot say of the released part, in words.
fn unknown(n: usize, step: &StepDocument) -> Vec<String> {
    let on = |s: Surface| {
        let read = step.gauges.released.get(s);
        read.unknown.iter().map(move |u| {
            format!(
                "Step {}, {}: {} is not known, {}.",
                n + 1,
                s.in_words(),
                u.what.replace('_', " "),
                u.reason
            )
        })
    };
    Surface::BOTH.into_iter().flat_map(on).collect()
}

fn part_document(part: &Part) -> PartDocument {
    PartDocument {
        outer_diameter: 2.0 * part.stock.outer.radius,
        bore_diameter: 2.0 * part.stock.bore.radius,
        length: part.length,
        material: MaterialDocument {
            name: part.material.name.clone(),
            young_modulus: part.material.young_modulus,
            poisson_ratio: part.material.poisson_ratio,
            yield_strength: part.material.yield_strength,
            density: part.material.density,
        },
        residual_hoop_stress: part.residual.map(|r| PerSurface {
            outer: r.outer,
            bore: r.bore,
        }),
        readings: PerSurface::from_fn(|s| {
            let measured = part.measured.get(s).as_ref()?;
            Some(ReadingsDocument {
                source: measured.source.clone(),
                points: measured.readings,
                gauge: measured.gauge.to_string(),
                lobes: measured.lobes,
                unseen: measured.unseen.clone(),
                uncertainty: measured.uncertainty,
            })
        }),
    }
}

/// A step, and what was read off the surfaces that it leaves.
fn step_document(
    case: &Case,
    n: usize,
    step: &StepOutcome,
    units: Units,
) -> Result<(StepDocument, PerSurface<Sheet>), ReportError> {
    check_finite(n, step)?;
    let name = |state: &str, s: Surface| format!("the {} ({state}, step {})", s.name(), n + 1);
    let shapes = |state: &str, sheets: &PerSurface<Sheet>, displacement: Option<&Radii>| {
        let one = |s: Surface| {
            let displacement = displacement.map(|d| d.get(s).as_slice());
            shape(sheets.get(s), displacement, &name(state, s))
        };
        Ok::<_, ReportError>((one(Surface::Outer)?, one(Surface::Bore)?))
    };
    let read = |sheets: &PerSurface<Sheet>| {
        PerSurface::from_fn(|s| ReadDocument::of(sheets.get(s), |_| true))
    };
    let (held, stress_error) = (&step.held, step.estimate.stress_relative_error);
    let [held_sheets, released_sheets] = sheets(case, step, &name)?;
    let (held_outer, held_bore) = shapes("held", &held_sheets, Some(&held.displacement))?;
    let (outer, bore) = shapes("released", &released_sheets, None)?;
    let mut document = StepDocument {
        hold: step.hold.clone(),
        flipped: step.placing.flipped,
        turned: step.placing.turned.to_degrees(),
        spindle: step.spindle.map(|x| x + 0.0),
        held: held_document(step, held, held_outer, held_bore),
        cuts: cut_documents(step),
        after_cut: step.after_cut.as_ref().map(|after| AfterCutDocument {
            contacts: after.contacts.iter().map(contact_document).collect(),
            stress: StressDocument::of(&after.stress, stress_error),
        }),
        released: ReleasedDocument {
            average_diameter: PerSurface {
                outer: 2.0 * outer.mean_radius,
                bore: 2.0 * bore.mean_radius,
            },
            average_diameter_error: PerSurface::default(),
            runout_error: PerSurface::default(),
            runout: PerSurface::from_fn(|s| {
                let axis = released_sheets.get(s.other()).least_squares.centre;
                Profile::equal(step.released.get(s)).roundness_about(axis)
            }),
            outer,
            bore,
            wall: wall_document(&step.wall),
        },
        gauges: GaugesDocument {
            held: read(&held_sheets),
            released: read(&released_sheets),
        },
        grip: GripDocument::of(step, units),
        held_at_speed: held_at_speed(case, n, step)?,
        stations: None,
        tube: None,
        estimate: estimate_document(&step.estimate),
        mesh: MeshDocument {
            around: step.mesh_size[0],
            through: step.mesh_size[1],
        },
    };
    if let Some(errors) = &step.errors {
        document.put_errors(
            errors,
            [
                (&held_sheets, &held.shape),
                (&released_sheets, &step.released),
            ],
        );
    }
    if let Some(tube) = &step.tube {
        document.put_tube(n, tube)?;
    }
    Ok((document, released_sheets))
}

fn estimate_document(estimate: &Estimate) -> EstimateDocument {
    EstimateDocument {
        quantity: estimate.quantity.clone(),
        relative_error: estimate.relative_error,
        absolute_error: estimate.absolute_error,
        stress_relative_error: estimate.stress_relative_error,
        converged: estimate.converged,
    }
}

/// Measures both surfaces held and released.
fn sheets(
    case: &Case,
    step: &StepOutcome,
    name: &dyn Fn(&str, Surface) -> String,
) -> Result<[PerSurface<Sheet>; 2], ReportError> {
    let both = |state: &str, radii: &Radii| {
        let one = |s: Surface| sheet(radii.get(s), &wanted(case, s), &name(state, s));
        Ok::<_, ReportError>(PerSurface {
            outer: one(Surface::Outer)?,
            bore: one(Surface::Bore)?,
        })
    };
    Ok([
        both("held", &step.held.shape)?,
        both("released", &step.released)?,
    ])
}

fn cut_documents(step: &StepOutcome) -> Vec<CutDocument> {
    step.cuts
        .iter()
        .zip(step.stress_after_cuts())
        .enumerate()
        .map(|(k, (c, stress))| CutDocument {
            surface: c.surface,
            diameter: c.diameter,
            cleaned_up: c.cleaned_up,
            depth_min: c.depth_min + 0.0,
            depth_max: c.depth_max + 0.0,
            stock_to_clean_up: c.stock_to_clean_up + 0.0,
            error: None,
            tool_force: step
                .grip
                .tools
                .get(k)
                .and_then(|t| t.as_ref())
                .map(ToolForceDocument::of),
            stress: StressDocument::of(stress, step.estimate.stress_relative_error),
            tool_dip: c.tool_dip.as_ref().map(ToolDipDocument::of),
        })
        .collect()
}

fn wall_document(wall: &WallExtremes) -> WallDocument {
    WallDocument {
        min: wall.min,
        min_angle: wall.min_angle + 0.0,
        max: wall.max,
        max_angle: wall.max_angle + 0.0,
        error: None,
        min_angle_error: None,
        max_angle_error: None,
    }
}

/// The equilibrium at the speed of the step, where that is another than at rest.
fn held_at_speed(
    case: &Case,
    n: usize,
    step: &StepOutcome,
) -> Result<Option<HeldDocument>, ReportError> {
    let Some(held) = &step.held_at_speed else {
        return Ok(None);
    };
    let one = |s: Surface| {
        let name = format!("the {} (held at speed, step {})", s.name(), n + 1);
        let sheet = sheet(held.shape.get(s), &wanted(case, s), &name)?;
        shape(&sheet, Some(held.displacement.get(s)), &name)
    };
    let (outer, bore) = (one(Surface::Outer)?, one(Surface::Bore)?);
    Ok(Some(held_document(step, held, outer, bore)))
}

fn held_document(step: &StepOutcome, held: &HeldState, outer: Shape, bore: Shape) -> HeldDocument {
    HeldDocument {
        outer,
        bore,
        contacts: held.contacts.iter().map(contact_document).collect(),
        loads: held.loads.iter().map(load_document).collect(),
        axial_force: held.axial_force + 0.0,
        free_motions: held.rigid_body_modes.clone(),
        stress: StressDocument::of(&held.stress, step.estimate.stress_relative_error),
        balance: BalanceDocument {
            force: held.balance.force,
            moment: held.balance.moment,
        },
        energy: held.energy,
        energy_error: None,
    }
}

impl StressDocument {
    /// A stress as the document has it, with its relative error.
    pub(in crate::report) fn of(stress: &StressSummary, relative_error: Option<f64>) -> Self {
        Self {
            von_mises_max: stress.von_mises_max,
            von_mises_away: stress.von_mises_away,
            von_mises_at: StressPlaceDocument {
                angle: stress.at.angle_deg,
                angle_error: stress.at.within_deg,
                radius: stress.at.radius,
                z: stress.at.z,
            },
            von_mises_error: relative_error.map(|e| e * stress.von_mises_away),
            yield_margin: stress.yield_margin,
        }
    }
}

/// Significant digits of long lists: a figure of 0.1 mm to a ten-thousandth of a nanometre.
const SAMPLE_DIGITS: usize = 9;

/// A long list of figures, as many digits as anybody plots or integrates.
pub(super) fn samples(values: impl Iterator<Item = f64>) -> Vec<f64> {
    values.map(|x| to_digits(x, SAMPLE_DIGITS) + 0.0).collect()
}

fn contact_document(c: &Contact) -> ContactDocument {
    ContactDocument {
        scheme: c.scheme.clone(),
        body: c.body,
        angle: c.angle_deg + 0.0,
        force: c.force + 0.0,
        approach: c.approach + 0.0,
        pressure_integral: c.pressure_integral + 0.0,
        peak_pressure: c.peak_pressure,
        edge_force_per_length: c.edge_force_per_length,
        arcs: c.arcs.clone(),
        pressure: PressureDocument {
            angles_deg: c.pressure.iter().map(|p| p[0] + 0.0).collect(),
            mpa: samples(c.pressure.iter().map(|p| p[1])),
        },
        surface: c.surface,
        called: c.called.clone(),
        gap: c.gap + 0.0,
        round: c.round,
        set_force: c.set_force,
        error: None,
        along: None,
    }
}

fn load_document(load: &DeadLoad) -> LoadDocument {
    LoadDocument {
        scheme: load.scheme.clone(),
        called: load.called.clone(),
        number: load.number,
        surface: load.surface,
        angle: load.angle_deg + 0.0,
        half_angle: load.half_angle_deg,
        force: load.force,
    }
}

/// Measures one profile (mm, equal angles from 0).
fn sheet(radii: &[f64], wanted: &Wanted, what: &str) -> Result<Sheet, ReportError> {
    Sheet::of(&Profile::equal(radii), wanted).map_err(|e| ReportError::Measure {
        what: what.into(),
        why: e.to_string(),
    })
}

fn shape(sheet: &Sheet, displacement: Option<&[f64]>, what: &str) -> Result<Shape, ReportError> {
    let readings = sheet.readings.iter().chain([&sheet.two_point]);
    if !readings.flat_map(|r| r.limits).all(f64::is_finite) {
        return Err(ReportError::NotFinite { what: what.into() });
    }
    let measured = Measured {
        circle: &sheet.least_squares,
        zone: &sheet.minimum_zone.circle,
        harmonics: &sheet.harmonics,
    };
    shape_of(&measured, displacement, what)
}

/// What a shape is told by.
pub(super) struct Measured<'a> {
    /// Least-squares circle.
    pub circle: &'a Circle,
    /// Circle of the minimum zone.
    pub zone: &'a Circle,
    /// Lobes about the least-squares centre.
    pub harmonics: &'a [Harmonic],
}

/// The shape of a surface that was measured.
pub(super) fn shape_of(
    measured: &Measured,
    displacement: Option<&[f64]>,
    what: &str,
) -> Result<Shape, ReportError> {
    let (circle, zone) = (measured.circle, measured.zone);
    let shape = Shape {
        mean_radius: circle.radius,
        centre: circle.centre.map(|x| x + 0.0),
        roundness_least_squares: circle.roundness,
        roundness_minimum_zone: zone.roundness,
        harmonics: lobes(measured.harmonics),
        displacement: displacement.map(|d| DisplacementDocument {
            angles_deg: (0..d.len())
                .map(|k| 360.0 * k as f64 / d.len() as f64)
                .collect(),
            radial: samples(d.iter().copied()),
        }),
        error: None,
        minimum_zone: ZoneCircle {
            centre: zone.centre,
            radius: zone.radius,
        },
    };
    let figures = [
        shape.mean_radius,
        shape.centre[0],
        shape.centre[1],
        shape.roundness_least_squares,
        shape.roundness_minimum_zone,
    ];
    let finite = figures
        .into_iter()
        .chain(shape.harmonics.iter().flat_map(|h| [h.amplitude, h.angle]))
        .all(f64::is_finite);
    if finite {
        Ok(shape)
    } else {
        Err(ReportError::NotFinite { what: what.into() })
    }
}

#[cfg(test)]
mod tests;
