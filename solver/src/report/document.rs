//! `result.json`: the figures of a solved case, and the verdict in words.
//!
//! Lengths mm, forces N, stresses MPa, angles degrees. Key order is part of the format: scripts read it by eye too.

use serde::Serialize;

use super::ReportError;
use super::standin as metrology;
use crate::case::Case;
use crate::geometry::{PerSurface, Surface};
use crate::process::{Contact, HeldState, Outcome, Radii, StepOutcome};
use metrology::{Circle, Profile};

/// Lobe counts listed for every shape: 1 to this.
pub const HARMONICS: u32 = 50;

/// Stands wherever a clamping force or a grip is reported.
pub const GRIP_CAUTION: &str = "A part that leaves the chuck can kill. Forces here are computed for distortion and do not say that \
     the grip is safe: keep to the chuck maker's ratings, local rules and competent practice.";

/// Which program gave the answer.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Program {
    /// Version.
    pub version: String,
    /// Commit it was built from, or "unknown".
    pub commit: String,
}

/// The whole document.
#[derive(Clone, Debug, Serialize)]
pub struct ResultDocument {
    /// Always `ringwright-result-1`.
    pub format: &'static str,
    /// What wrote it.
    pub program: Program,
    /// What was solved.
    pub case: CaseName,
    /// Units of every number.
    pub units: UnitNames,
    /// What was taken for granted.
    pub assumed: Vec<String>,
    /// One entry a step.
    pub steps: Vec<StepDocument>,
    /// Whether the part is good.
    pub verdict: Verdict,
    /// Warnings.
    pub cautions: Vec<String>,
}

/// Title and fingerprint of the case file.
#[derive(Clone, Debug, Serialize)]
pub struct CaseName {
    /// Title.
    pub title: String,
    /// SHA-256 of its text, lower-case hex.
    pub sha256: String,
}

/// Unit of each kind of number.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct UnitNames {
    /// mm.
    pub length: &'static str,
    /// N.
    pub force: &'static str,
    /// MPa.
    pub stress: &'static str,
    /// deg.
    pub angle: &'static str,
}

/// One clamping.
#[derive(Clone, Debug, Serialize)]
pub struct StepDocument {
    /// Name of the hold.
    pub hold: String,
    /// Equilibrium before the first cut.
    pub held: HeldDocument,
    /// What each cut did.
    pub cuts: Vec<CutDocument>,
    /// What is left.
    pub released: ReleasedDocument,
    /// Grip.
    pub grip: GripDocument,
    /// How far to trust the driving quantity.
    pub estimate: EstimateDocument,
    /// The mesh that gave the answer.
    pub mesh: MeshDocument,
}

/// The held part.
#[derive(Clone, Debug, Serialize)]
pub struct HeldDocument {
    /// Outside.
    pub outer: Shape,
    /// Bore.
    pub bore: Shape,
    /// One entry a body.
    pub contacts: Vec<ContactDocument>,
    /// Motions that nothing resists.
    pub free_motions: Vec<String>,
    /// Largest von Mises stress, MPa; null where an edge carries load.
    pub von_mises_max: Option<f64>,
    /// The same away from loaded edges, MPa.
    pub von_mises_away: f64,
    /// Yield strength over `von_mises_away`, minus 1.
    pub yield_margin: Option<f64>,
    /// Force (N) and moment (N mm) left over.
    pub balance: BalanceDocument,
}

/// Force and moment left over on the held body.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct BalanceDocument {
    /// N.
    pub force: f64,
    /// N mm.
    pub moment: f64,
}

/// The shape of one surface.
#[derive(Clone, Debug, Serialize)]
pub struct Shape {
    /// Radius of the least-squares circle: the mean distance from its centre, mm.
    pub mean_radius: f64,
    /// Its centre, mm.
    pub centre: [f64; 2],
    /// Largest minus smallest distance from that centre, mm.
    pub roundness_least_squares: f64,
    /// Width of the narrowest ring between two concentric circles that holds the profile, mm.
    pub roundness_minimum_zone: f64,
    /// Lobes about the least-squares centre.
    pub harmonics: Vec<HarmonicDocument>,
    /// Radial displacement from the stock shape; held states only.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub displacement: Option<DisplacementDocument>,
    /// The minimum zone's circle, for drawing.
    #[serde(skip)]
    pub minimum_zone: ZoneCircle,
}

/// The circle midway between the two of a minimum zone, mm.
#[derive(Clone, Copy, Debug)]
pub struct ZoneCircle {
    /// Centre.
    pub centre: [f64; 2],
    /// Radius.
    pub radius: f64,
}

/// `amplitude * cos(count * (theta - angle))`.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct HarmonicDocument {
    /// Lobes a turn.
    pub count: u32,
    /// mm, never negative.
    pub amplitude: f64,
    /// Of a crest, degrees.
    pub angle: f64,
}

/// Radial displacement at equal reference angles.
#[derive(Clone, Debug, Serialize)]
pub struct DisplacementDocument {
    /// Degrees from 0.
    pub angles_deg: Vec<f64>,
    /// mm, positive outwards.
    pub radial: Vec<f64>,
}

/// What one body does.
#[derive(Clone, Debug, Serialize)]
pub struct ContactDocument {
    /// Scheme.
    pub scheme: String,
    /// Number from 1 within it.
    pub body: usize,
    /// Direction of its axis, degrees.
    pub angle: f64,
    /// Resultant along the axis, N.
    pub force: f64,
    /// Travel after first touch, mm.
    pub approach: f64,
    /// Largest pressure, MPa; null where an edge carries.
    pub peak_pressure: Option<f64>,
    /// Force a length at a loaded pad edge, N/mm.
    pub edge_force_per_length: Option<f64>,
    /// Loaded arcs, degrees.
    pub arcs: Vec<[f64; 2]>,
    /// Surface it presses on.
    pub surface: Surface,
}

/// What one cut did.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct CutDocument {
    /// Surface cut.
    pub surface: Surface,
    /// Diameter of the tool's circle, mm.
    pub diameter: f64,
    /// Share of the reference angle that the tool reached.
    pub cleaned_up: f64,
    /// Least depth, mm.
    pub depth_min: f64,
    /// Largest depth, mm.
    pub depth_max: f64,
    /// Further diameter change that would clean up the rest, mm.
    pub stock_to_clean_up: f64,
}

/// The part let go.
#[derive(Clone, Debug, Serialize)]
pub struct ReleasedDocument {
    /// Outside.
    pub outer: Shape,
    /// Bore.
    pub bore: Shape,
    /// Twice the mean radii, mm.
    pub average_diameter: PerSurface<f64>,
    /// Wall along the radius.
    pub wall: WallDocument,
}

/// Least and largest wall, mm, and where, degrees.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct WallDocument {
    /// Least.
    pub min: f64,
    /// Where.
    pub min_angle: f64,
    /// Largest.
    pub max: f64,
    /// Where.
    pub max_angle: f64,
}

/// Grip: a figure whose inputs are missing is null, and `not_checked` says which.
#[derive(Clone, Debug, Default, Serialize)]
pub struct GripDocument {
    /// N mm.
    pub torque_available: Option<f64>,
    /// N mm.
    pub torque_needed: Option<f64>,
    /// N.
    pub axial_available: Option<f64>,
    /// N.
    pub axial_needed: Option<f64>,
    /// N mm.
    pub tilt_available: Option<f64>,
    /// N mm.
    pub tilt_needed: Option<f64>,
    /// Unfavourable end.
    pub slip_safety: Option<f64>,
    /// Favourable end.
    pub slip_safety_high: Option<f64>,
    /// N, one a jaw.
    pub force_at_speed: Option<Vec<f64>>,
    /// rev/min.
    pub speed_at_zero_force: Option<f64>,
    /// What limits the hold.
    pub limits: Vec<String>,
    /// What was not checked, and for want of which input.
    pub not_checked: Vec<String>,
}

impl GripDocument {
    /// No grip figure can be given: neither friction, cutting force, speed nor jaw mass is taken in.
    pub fn not_checked() -> Self {
        Self {
            not_checked: [
                "slip under the cutting torque: no friction and no cutting force taken in",
                "axial push-out: no friction and no axial cutting force taken in",
                "tilting out of the jaws: no friction and no overhang taken in",
                "jaw force at speed: no speed, jaw mass and jaw centroid radius taken in",
                "the chuck's own limits: no rated force and rated speed taken in",
            ]
            .map(str::to_owned)
            .to_vec(),
            ..Self::default()
        }
    }
}

/// How far to trust the driving quantity.
#[derive(Clone, Debug, Serialize)]
pub struct EstimateDocument {
    /// Its name.
    pub quantity: String,
    /// Estimated relative error; null when no second mesh was asked for.
    pub relative_error: Option<f64>,
    /// Whether the asked accuracy was reached.
    pub converged: bool,
}

/// Elements of the mesh.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct MeshDocument {
    /// Round.
    pub around: usize,
    /// Through the wall.
    pub through: usize,
}

/// Whether the part is good.
#[derive(Clone, Debug, Serialize)]
pub struct Verdict {
    /// Every surface cut in the last step within the roundness limit; null without a limit or a cut.
    pub in_tolerance: Option<bool>,
    /// Grip safety; null while it is not checked.
    pub safe: Option<bool>,
    /// The same in words.
    pub says: Vec<String>,
}

/// Builds the document.
///
/// # Errors
/// [`ReportError::NotFinite`] if a figure of the outcome is not finite, [`ReportError::Measure`] if a profile cannot be measured.
pub fn document(
    case: &Case,
    outcome: &Outcome,
    program: &Program,
) -> Result<ResultDocument, ReportError> {
    let steps = outcome
        .steps
        .iter()
        .enumerate()
        .map(|(n, step)| step_document(n, step))
        .collect::<Result<Vec<_>, _>>()?;
    let verdict = super::verdict::verdict(case, outcome, &steps);
    let mut cautions = outcome.cautions.clone();
    if steps
        .iter()
        .any(|s| s.held.yield_margin.is_some_and(|m| m < 0.0))
    {
        cautions.push(
            "The stress passes yield: the part keeps a set that is not computed here, so the shapes are not to be trusted."
                .into(),
        );
    }
    if outcome.steps.iter().any(|s| !s.held.contacts.is_empty()) {
        cautions.push(GRIP_CAUTION.into());
    }
    let mut assumed = case.assumed.clone();
    for line in &outcome.assumed {
        if !assumed.contains(line) {
            assumed.push(line.clone());
        }
    }
    Ok(ResultDocument {
        format: "ringwright-result-1",
        program: program.clone(),
        case: CaseName {
            title: case.title.clone(),
            sha256: case.sha256.clone(),
        },
        units: UnitNames {
            length: "mm",
            force: "N",
            stress: "MPa",
            angle: "deg",
        },
        assumed,
        steps,
        verdict,
        cautions,
    })
}

fn step_document(n: usize, step: &StepOutcome) -> Result<StepDocument, ReportError> {
    check_finite(n, step)?;
    let name = |state: &str, s: Surface| format!("the {} ({state}, step {})", s.name(), n + 1);
    let shapes = |state: &str, radii: &Radii, displacement: Option<&Radii>| {
        let one = |s: Surface| {
            shape(
                radii.get(s),
                displacement.map(|d| d.get(s).as_slice()),
                &name(state, s),
            )
        };
        Ok::<_, ReportError>((one(Surface::Outer)?, one(Surface::Bore)?))
    };
    let held = &step.held;
    let (held_outer, held_bore) = shapes("held", &held.shape, Some(&held.displacement))?;
    let (outer, bore) = shapes("released", &step.released, None)?;
    Ok(StepDocument {
        hold: step.hold.clone(),
        held: held_document(held, held_outer, held_bore),
        cuts: step
            .cuts
            .iter()
            .map(|c| CutDocument {
                surface: c.surface,
                diameter: c.diameter,
                cleaned_up: c.cleaned_up,
                depth_min: c.depth_min + 0.0,
                depth_max: c.depth_max + 0.0,
                stock_to_clean_up: c.stock_to_clean_up + 0.0,
            })
            .collect(),
        released: ReleasedDocument {
            average_diameter: PerSurface {
                outer: 2.0 * outer.mean_radius,
                bore: 2.0 * bore.mean_radius,
            },
            outer,
            bore,
            wall: WallDocument {
                min: step.wall.min,
                min_angle: step.wall.min_angle + 0.0,
                max: step.wall.max,
                max_angle: step.wall.max_angle + 0.0,
            },
        },
        grip: GripDocument::not_checked(),
        estimate: EstimateDocument {
            quantity: step.estimate.quantity.clone(),
            relative_error: step.estimate.relative_error,
            converged: step.estimate.converged,
        },
        mesh: MeshDocument {
            around: step.mesh_size[0],
            through: step.mesh_size[1],
        },
    })
}

fn held_document(held: &HeldState, outer: Shape, bore: Shape) -> HeldDocument {
    HeldDocument {
        outer,
        bore,
        contacts: held.contacts.iter().map(contact_document).collect(),
        free_motions: held.free_motions.clone(),
        von_mises_max: held.von_mises_max,
        von_mises_away: held.von_mises_away,
        yield_margin: held.yield_margin,
        balance: BalanceDocument {
            force: held.balance.force,
            moment: held.balance.moment,
        },
    }
}

fn contact_document(c: &Contact) -> ContactDocument {
    ContactDocument {
        scheme: c.scheme.clone(),
        body: c.body,
        angle: c.angle_deg + 0.0,
        force: c.force + 0.0,
        approach: c.approach + 0.0,
        peak_pressure: c.peak_pressure,
        edge_force_per_length: c.edge_force_per_length,
        arcs: c.arcs.clone(),
        surface: c.surface,
    }
}

/// Measures one profile (mm, equal angles from 0).
fn shape(radii: &[f64], displacement: Option<&[f64]>, what: &str) -> Result<Shape, ReportError> {
    let profile = Profile::equal(radii);
    let circle: Circle = metrology::least_squares_circle(&profile);
    let zone = metrology::minimum_zone(&profile).map_err(|e| ReportError::Measure {
        what: what.into(),
        why: e.to_string(),
    })?;
    let harmonics = metrology::harmonics(&profile, circle.centre, HARMONICS)
        .into_iter()
        .map(|h| HarmonicDocument {
            count: h.count,
            amplitude: h.amplitude,
            angle: h.angle_deg + 0.0,
        })
        .collect();
    let shape = Shape {
        mean_radius: circle.radius,
        centre: circle.centre.map(|x| x + 0.0),
        roundness_least_squares: circle.roundness,
        roundness_minimum_zone: zone.roundness,
        harmonics,
        displacement: displacement.map(|d| DisplacementDocument {
            angles_deg: (0..d.len())
                .map(|k| 360.0 * k as f64 / d.len() as f64)
                .collect(),
            radial: d.iter().map(|u| u + 0.0).collect(),
        }),
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

/// JSON has no NaN, and a figure must never turn into `null` on the way: every number is looked at first.
fn check_finite(n: usize, step: &StepOutcome) -> Result<(), ReportError> {
    let held = &step.held;
    let radii = |r: &Radii| r.outer.iter().chain(&r.bore).all(|x| x.is_finite());
    let some = |x: Option<f64>| x.is_none_or(f64::is_finite);
    let contact = |c: &Contact| {
        [c.angle_deg, c.half_angle_deg, c.force, c.approach]
            .into_iter()
            .chain(c.arcs.iter().copied().flatten())
            .all(f64::is_finite)
            && some(c.peak_pressure)
            && some(c.edge_force_per_length)
    };
    let checks = [
        ("the stock shape", radii(&step.stock)),
        ("the held shape", radii(&held.shape)),
        ("the held displacement", radii(&held.displacement)),
        ("the cut shape", step.cut.as_ref().is_none_or(radii)),
        ("the released shape", radii(&step.released)),
        ("a contact", held.contacts.iter().all(contact)),
        (
            "the stress",
            held.von_mises_away.is_finite() && some(held.von_mises_max) && some(held.yield_margin),
        ),
        (
            "the balance",
            held.balance.force.is_finite() && held.balance.moment.is_finite(),
        ),
        (
            "a cut",
            step.cuts.iter().all(|c| {
                [
                    c.diameter,
                    c.cleaned_up,
                    c.depth_min,
                    c.depth_max,
                    c.stock_to_clean_up,
                ]
                .into_iter()
                .all(f64::is_finite)
            }),
        ),
        (
            "the wall",
            [
                step.wall.min,
                step.wall.min_angle,
                step.wall.max,
                step.wall.max_angle,
            ]
            .into_iter()
            .all(f64::is_finite),
        ),
        ("the estimate", some(step.estimate.relative_error)),
    ];
    match checks.into_iter().find(|(_, finite)| !finite) {
        Some((what, _)) => Err(ReportError::NotFinite {
            what: format!("{what} of step {}", n + 1),
        }),
        None => Ok(()),
    }
}

impl StepDocument {
    /// The held shape of a surface.
    pub fn held_shape(&self, surface: Surface) -> &Shape {
        match surface {
            Surface::Outer => &self.held.outer,
            Surface::Bore => &self.held.bore,
        }
    }

    /// The released shape of a surface.
    pub fn released_shape(&self, surface: Surface) -> &Shape {
        match surface {
            Surface::Outer => &self.released.outer,
            Surface::Bore => &self.released.bore,
        }
    }

    /// Surfaces that the step cuts, outside first.
    pub fn surfaces_cut(&self) -> Vec<Surface> {
        Surface::BOTH
            .into_iter()
            .filter(|&s| self.cuts.iter().any(|c| c.surface == s))
            .collect()
    }
}

impl Shape {
    /// The strongest lobing from two lobes up.
    pub fn main_lobes(&self) -> Option<HarmonicDocument> {
        self.harmonics
            .iter()
            .filter(|h| h.count >= 2)
            .copied()
            .reduce(|a, b| if b.amplitude > a.amplitude { b } else { a })
    }
}

impl ResultDocument {
    /// The document as JSON text, ending in a line break: one key a line down to shapes, lists on one line.
    ///
    /// # Errors
    /// [`ReportError::Encode`] if the encoder fails; it has no reason to.
    pub fn to_json(&self) -> Result<String, ReportError> {
        super::json::to_text(self)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::super::sample::{BORED, LOBE, OUTER, sample_case, sample_outcome};
    use super::*;
    use crate::process::BackOff;
    use serde_json::Value;

    fn built(case: &Case, outcome: &Outcome) -> (ResultDocument, Value) {
        let program = Program {
            version: "1.2.3".into(),
            commit: "unknown".into(),
        };
        let document = document(case, outcome, &program).unwrap();
        let value = serde_json::from_str(&document.to_json().unwrap()).unwrap();
        (document, value)
    }

    /// Keys of the fixed format, in its order.
    fn keys_in_order(text: &str, keys: &[&str]) {
        let mut at = 0;
        for key in keys {
            let found = text[at..]
                .find(&format!("\"{key}\": "))
                .unwrap_or_else(|| panic!("{key} is missing or out of order"));
            at += found + 1;
        }
    }

    #[test]
    fn every_key_of_the_format_is_there_in_order() {
        let (document, _) = built(&sample_case(), &sample_outcome());
        let text = document.to_json().unwrap();
        keys_in_order(
            &text,
            &[
                "format",
                "program",
                "version",
                "commit",
                "case",
                "title",
                "sha256",
                "units",
                "length",
                "force",
                "stress",
                "angle",
                "assumed",
                "steps",
                "hold",
                "held",
                "outer",
                "mean_radius",
                "centre",
                "roundness_least_squares",
                "roundness_minimum_zone",
                "harmonics",
                "count",
                "amplitude",
                "angle",
                "displacement",
                "angles_deg",
                "radial",
                "bore",
                "contacts",
                "scheme",
                "body",
                "angle",
                "force",
                "approach",
                "peak_pressure",
                "edge_force_per_length",
                "arcs",
                "free_motions",
                "von_mises_max",
                "von_mises_away",
                "yield_margin",
                "balance",
                "cuts",
                "surface",
                "diameter",
                "cleaned_up",
                "depth_min",
                "depth_max",
                "stock_to_clean_up",
                "released",
                "outer",
                "bore",
                "average_diameter",
                "outer",
                "bore",
                "wall",
                "min",
                "min_angle",
                "max",
                "max_angle",
                "grip",
                "torque_available",
                "torque_needed",
                "axial_available",
                "axial_needed",
                "tilt_available",
                "tilt_needed",
                "slip_safety",
                "slip_safety_high",
                "force_at_speed",
                "speed_at_zero_force",
                "limits",
                "not_checked",
                "estimate",
                "quantity",
                "relative_error",
                "converged",
                "mesh",
                "verdict",
                "in_tolerance",
                "safe",
                "says",
                "cautions",
            ],
        );
        assert!(!text.contains("stations") && !text.contains("NaN") && !text.contains("-0.0,"));
    }

    #[test]
    fn figures_are_those_of_the_shapes() {
        let (_, value) = built(&sample_case(), &sample_outcome());
        let step = &value["steps"][0];
        let near = |v: &Value, x: f64, tol: f64| {
            let got = v.as_f64().unwrap();
            assert!((got - x).abs() < tol, "{got} is not {x}");
        };
        near(&step["held"]["outer"]["mean_radius"], OUTER, 1e-5);
        near(
            &step["held"]["outer"]["roundness_minimum_zone"],
            2.0 * LOBE,
            1e-6,
        );
        let third = &step["held"]["outer"]["harmonics"][2];
        assert_eq!(third["count"], 3);
        near(&third["amplitude"], LOBE, 1e-9);
        near(&third["angle"], 60.0, 1e-6);
        assert_eq!(
            step["held"]["outer"]["harmonics"].as_array().unwrap().len(),
            50
        );
        let d = &step["held"]["bore"]["displacement"];
        assert_eq!(d["angles_deg"].as_array().unwrap().len(), 360);
        near(&d["angles_deg"][359], 359.0, 1e-12);
        near(&d["radial"][0], -0.98 * LOBE, 1e-12);
        assert!(step["released"]["bore"].get("displacement").is_none());
        near(
            &step["released"]["average_diameter"]["bore"],
            2.0 * BORED,
            1e-4,
        );
        assert_eq!(step["cuts"][0]["surface"], "bore");
        assert!(step["grip"]["torque_available"].is_null());
        assert!(step["grip"]["limits"].as_array().unwrap().is_empty());
        assert!(!step["grip"]["not_checked"].as_array().unwrap().is_empty());
        assert!(value["verdict"]["safe"].is_null());
        assert_eq!(
            value["assumed"],
            serde_json::json!(["round blank", "rigid jaws"])
        );
        assert_eq!(value["cautions"].as_array().unwrap().len(), 2);
    }

    #[test]
    fn the_verdict_follows_the_limit() {
        let (mut case, mut outcome) = (sample_case(), sample_outcome());
        outcome.back_off = Some(BackOff {
            fraction: 0.31,
            roundness: 0.0199,
        });
        let (document, value) = built(&case, &outcome);
        assert_eq!(value["verdict"]["in_tolerance"], false);
        let says = document.verdict.says.join("\n");
        assert!(
            says.contains("OUT OF TOLERANCE") && says.contains("NOT CHECKED"),
            "{says}"
        );
        assert!(
            says.contains("For 0.020 mm (0.8 thou) hold at 31 percent of this force"),
            "{says}"
        );
        case.tolerance.roundness = Some(0.1);
        outcome.back_off = None;
        assert_eq!(built(&case, &outcome).1["verdict"]["in_tolerance"], true);
        case.tolerance.roundness = None;
        assert!(built(&case, &outcome).1["verdict"]["in_tolerance"].is_null());
        case.tolerance.roundness = Some(0.1);
        outcome.steps[0].cuts.clear();
        outcome.steps[0].cut = None;
        let (document, value) = built(&case, &outcome);
        assert!(value["verdict"]["in_tolerance"].is_null());
        assert!(document.verdict.says[0].contains("not judged"));
    }

    #[test]
    fn a_limit_within_the_mesh_error_is_too_close_to_call() {
        let (mut case, outcome) = (sample_case(), sample_outcome());
        let roundness = built(&case, &outcome).0.steps[0]
            .released
            .bore
            .roundness_minimum_zone;
        case.tolerance.roundness = Some(roundness * 1.003);
        let (document, _) = built(&case, &outcome);
        assert_eq!(document.verdict.in_tolerance, Some(true));
        assert!(document.verdict.says[0].contains("too close to call"));
    }

    #[test]
    fn a_figure_that_is_no_number_is_refused() {
        let case = sample_case();
        let break_it: [fn(&mut Outcome); 4] = [
            |o| o.steps[0].held.contacts[0].force = f64::NAN,
            |o| o.steps[0].held.von_mises_away = f64::INFINITY,
            |o| o.steps[0].released.outer[5] = f64::NAN,
            |o| o.steps[0].estimate.relative_error = Some(f64::NAN),
        ];
        for f in break_it {
            let mut outcome = sample_outcome();
            f(&mut outcome);
            assert!(matches!(
                document(&case, &outcome, &Program::default()),
                Err(ReportError::NotFinite { .. })
            ));
        }
    }
}
