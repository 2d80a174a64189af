//! Stress relief between steps.

use super::sample::at_lines;
use super::step::{Job, PartBody, Setting};
use super::{ProcessError, adapt};
use crate::case::{FREE, Step};
use crate::geometry::{Outline, PerSurface, SampledOutline};

impl PartBody {
    /// Takes the residual stress out of the metal. The part keeps the shape it had relaxed to, which is stress-free from now on.
    ///
    /// # Errors
    /// If that shape cannot be found to the accuracy asked.
    pub fn relieve(&mut self, job: Job, index: usize) -> Result<(), ProcessError> {
        if self.residual.is_none() {
            return Ok(());
        }
        let step = Step::new(FREE, Vec::new());
        let setting = Setting::new(job, self, &step, &[], index);
        let solved = adapt::solve(&setting, job.case.mesh, true)?.solved;
        if let Some(u) = &solved.relaxed {
            let outlines = PerSurface::from_fn(|s| {
                let (angles, radii) = at_lines(&solved.mesh, s, u)
                    .iter()
                    .zip(solved.mesh.angles())
                    .map(|([ur, ut], &t)| {
                        let along = self.outlines.get(s).radius(t) + ur;
                        (t + ut.atan2(along), along.hypot(*ut))
                    })
                    .unzip();
                Outline::Sampled(SampledOutline::new(angles, radii))
            });
            self.outlines = outlines;
        }
        self.residual = None;
        Ok(())
    }
}
