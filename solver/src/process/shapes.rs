//! A hold of which shapes and contacts alone are wanted: what a study of holds is made of, a thousand times over.

use std::sync::Arc;

use super::asked::AskedStep;
use super::cut::Unsettled;
use super::inspect::contacts;
use super::round::Kept;
use super::sample::{difference, flexing_of};
use super::step::{HeldPart, Job, PartBody, Setting, Solved};
use super::{
    Caution, Contact, Estimate, MOST_WORK, Options, ProcessError, Radii, adapt, caution, grip,
    measuring,
};
use crate::case::{Case, FREE};
use crate::geometry::{PerSurface, Surface};
use crate::mesh::Mesh;
use crate::metrology::{Circle, Profile, least_squares_circle};
use crate::watch::{Bounded, Watch};

/// A part that is held once and not cut.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct HeldAlone {
    /// Its shape free of holds.
    pub stock: Radii,
    /// Its shape in the hold.
    pub held: Radii,
    /// The least-squares circles of that, outside and bore.
    pub circles: [Circle; 2],
    /// What each body of the hold does to it.
    pub contacts: Vec<Contact>,
    /// How far to trust the held shape.
    pub estimate: Estimate,
    /// What has to be known of it.
    pub cautions: Vec<Caution>,
}

/// Holds the part of a case for its shape and its contacts, as [`run`](super::run) does but without stress and fields; `None` of a case of which more has to be
/// known: one that cuts, has more steps or a yield strength, is solved along its length or turns.
///
/// # Errors
/// See [`ProcessError`].
pub fn hold_alone(
    case: &Case,
    options: &Options,
    watch: &dyn Watch,
    kept: &Kept,
) -> Result<Option<HeldAlone>, ProcessError> {
    let [step] = case.steps.as_slice() else {
        return Ok(None);
    };
    let material = &case.part.material;
    if case.tube.is_some()
        || !step.cuts.is_empty()
        || step.hold == FREE
        || material.yield_strength.is_some()
        || case.part.residual.is_some()
        || super::tube::of_slice(case)?.is_some()
    {
        return Ok(None);
    }
    let bounded = Bounded::new(watch, MOST_WORK);
    let job = Job {
        shapes_alone: true,
        ..super::job_of(case, &bounded, kept, options.method)
    };
    let mut body = PartBody::new(&case.part);
    let asked = AskedStep::of(job, &mut body, 0)?;
    if grip::turned(grip::members(case, step), &asked.supports, step).is_some() {
        return Ok(None);
    }
    let setting = Setting::new(job, &body, step, &asked.supports, 0);
    let adapted = adapt::solve(&setting, case.mesh, options.estimate).map_err(|e| e.in_step(0))?;
    let held = (asked.names.as_slice(), asked.supports.as_slice());
    let mut cautions = caution::of_step(&setting, case, held, &adapted);
    let flexed = measuring::measuring(case, &body)?;
    let flexed = flexed.iter();
    cautions.extend(flexed.flat_map(|flex| measuring::cautions(case, flex)));
    let solved = adapted.solved;
    Ok(Some(HeldAlone {
        contacts: contacts(&setting, &asked.names, &solved.clamp, &solved.held),
        stock: solved.stock,
        circles: match solved.held_circles {
            Some(circles) => circles,
            None => circles(&solved.held_shape),
        },
        held: solved.held_shape,
        estimate: adapted.estimate,
        cautions,
    }))
}

/// The least-squares circles of outside and bore.
pub(crate) fn circles(shape: &Radii) -> [Circle; 2] {
    Surface::BOTH.map(|s| least_squares_circle(&Profile::equal(shape.get(s))))
}

impl Solved {
    /// A step that cuts nothing by its shapes and contacts: without displacement of a mesh, energy and balance, which are not numbers. `bound` is how far the
    /// driving out-of-roundness may be off because contact zones are unresolved, mm.
    pub(super) fn of_shapes(
        setting: &Setting,
        part: HeldPart,
        (stock, mesh): (Radii, Arc<Mesh>),
        circles: [Circle; 2],
        bound: f64,
    ) -> Result<Self, ProcessError> {
        let HeldPart {
            clamp,
            state,
            shape,
            added,
        } = part;
        setting.check_corners(&clamp, &state)?;
        let displacement = PerSurface::from_fn(|s| difference(shape.get(s), stock.get(s)));
        Ok(Self {
            cut_mesh: Arc::clone(&mesh),
            mesh,
            clamp_after_clamping: clamp.after_clamping(&state),
            clamp,
            held: state,
            flexing: flexing_of(&displacement, &stock),
            held_displacement: displacement,
            spindle: setting.spindle(&shape),
            held_shape: shape,
            cuts: Vec::new(),
            cut_outlines: Vec::new(),
            cut_rates: Vec::new(),
            cut: None,
            added,
            stress_between_cuts: Vec::new(),
            relaxed: None,
            released: stock.clone(),
            stock,
            body: setting.body.clone(),
            driving: Surface::BOTH
                .into_iter()
                .zip(circles.iter().map(|c| c.roundness))
                .collect(),
            held_circles: Some(circles),
            unsettled: Unsettled::default(),
            unsettled_held: 0.0,
            unresolved_bound: bound,
            balance: [f64::NAN; 2],
            energy: f64::NAN,
        })
    }
}
