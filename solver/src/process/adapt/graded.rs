//! Any part on the mesh alone: graded to the contact zones, then refined both ways until two meshes agree.

use super::difference::{Difference, Weights, difference, judged, quantity, unresolved};
use super::marks::{MOST_REGRADES, MeshMarks, scale};
use super::memory::{MOST_BYTES, bytes, sized};
use super::{Adapted, Judge};
use crate::contact::Clamped;
use crate::process::guess::Guess;
use crate::process::step::Setting;
use crate::process::{NotConverged, Open, ProcessError, Unresolved};

pub(super) fn on_graded_meshes(setting: &Setting) -> Result<Adapted, ProcessError> {
    let scale = scale(setting);
    let mut marks = MeshMarks::find(setting, scale)?;
    let mut refine = 1.0;
    let mut coarse_plan = sized(setting, marks.plan(scale, refine))?;
    let mut coarse = setting.solve(&coarse_plan, None)?;
    for _ in 0..MOST_REGRADES {
        let states: Vec<&Clamped> = std::iter::once(&coarse.held)
            .chain(coarse.cut.iter().map(|c| &c.0))
            .collect();
        let kinks = coarse.body.kinks.clone();
        let moved = marks.regrade(&states, setting, scale);
        if !marks.add_kinks(&kinks, scale) && !moved {
            break;
        }
        coarse_plan = sized(setting, marks.plan(scale, refine))?;
        coarse = setting.solve(&coarse_plan, Some(&Guess::of(&coarse)))?;
    }
    let mut last = None;
    loop {
        refine *= 2.0;
        let plan = sized(setting, marks.plan(scale, refine))?;
        let elements = plan.elements();
        let fine = setting
            .solve(&plan, Some(&Guess::of(&coarse)))
            .map_err(|e| e.still(|| open(last, setting)))?;
        let error = difference(&coarse, &fine, setting, Weights::WHOLE);
        let unresolved = unresolved(setting, &fine);
        if error.relative <= setting.accuracy && unresolved.is_none() {
            return Ok(Adapted {
                solved: fine,
                estimate: judged(setting, Some(error)),
                judge: Some(Judge::on_mesh(coarse, setting)),
                unresolved: false,
                plan,
                coarse: coarse_plan,
            });
        }
        // twice as fine both ways
        let next = bytes(setting, 4 * elements, 2 * (plan.layers.len() - 1));
        if next > MOST_BYTES {
            let open = match unresolved {
                Some(zone) => Unresolved::Zone {
                    width_deg: (zone.end - zone.start).to_degrees(),
                },
                None => Unresolved::Meshes {
                    quantity: quantity(setting),
                    absolute: error.absolute,
                    relative: error.relative,
                    accuracy: setting.accuracy,
                    next_bytes: next,
                },
            };
            return Err(NotConverged::Accuracy {
                step: setting.index,
                elements,
                open: Box::new(open),
            }
            .into());
        }
        last = Some(error);
        coarse = fine;
        coarse_plan = plan;
    }
}

/// What the meshes solved so far leave open.
fn open(last: Option<Difference>, setting: &Setting) -> Open {
    match last {
        None => Open::OneMesh,
        Some(error) => Open::Meshes {
            quantity: quantity(setting),
            relative: error.relative,
            accuracy: setting.accuracy,
        },
    }
}
