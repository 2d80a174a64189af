//! The held part while it is cut: the mean ring follows the tool, what the outline adds is iterated with the outline.

use super::RoundHeld;
use crate::case::Cut;
use crate::contact::{LockedResponse, Tool};
use crate::geometry::{PerSurface, Surface};
use crate::process::cutting::{HeldBody, Patience};
use crate::process::guess::Guess;
use crate::process::round::coarse::CoarseRings;
use crate::process::round::fields::{flat, largest_change, pairs};
use crate::process::round::{MOST_UNEVEN, unevenness};
use crate::process::sample::{mean, sample_angle};
use crate::process::{NotConverged, PROFILE_POINTS, ProcessError, Radii};
use crate::watch::Progress;

impl HeldBody for RoundHeld<'_, '_> {
    fn angles(&self) -> Vec<f64> {
        (0..PROFILE_POINTS).map(sample_angle).collect()
    }

    fn displacement(&self, surface: Surface) -> Vec<[f64; 2]> {
        self.moved(surface)
    }

    fn sampled(&self, surface: Surface) -> Vec<[f64; 2]> {
        self.moved(surface)
    }

    /// What the outline adds comes out a part at a time, so the last change says less of what is left; an iteration is cheap.
    fn patience(&self) -> Patience {
        Patience {
            least: 2,
            most: 60,
            settled: 0.003,
        }
    }

    /// Another mean ring stands for the part from now on: as large as the tool leaves it.
    fn begin(
        &mut self,
        cut: &Cut,
        lines: &Radii,
        guess: Option<&Guess>,
    ) -> Result<(), ProcessError> {
        self.show_all();
        let radii = PerSurface::from_fn(|s| {
            let (stock, tool) = (mean(lines.get(s)), 0.5 * cut.diameter);
            match s {
                s if s != cut.surface => stock,
                Surface::Outer => stock.min(tool),
                Surface::Bore => stock.max(tool),
            }
        });
        let (setting, plan, kept) = (self.setting, self.plan, self.setting.kept);
        let ring = kept.ring(setting, &radii);
        let known = kept.take(&self.clamp, &ring, self.contact.pads());
        let (clamp, before) = (&self.clamp, &self.contact);
        let (stage, contact) = rayon::join(
            || kept.stage(setting, plan, &radii),
            || match known {
                Some(mut contact) => {
                    contact.face(clamp, before);
                    contact
                }
                None => before.on(clamp, ring),
            },
        );
        self.stage = stage?;
        self.initial_offset = self.stage.settled(self.residual);
        self.initial = None;
        kept.put(std::mem::replace(&mut self.contact, contact));
        self.stages.push(std::mem::take(&mut self.added_next));
        let nodes = self.mesh.nodes();
        let guessed = self.guessed(guess);
        self.added = guessed.unwrap_or_else(|| vec![[0.0; 2]; nodes]);
        self.added_next.clone_from(&self.added);
        Ok(())
    }

    fn follow(
        &mut self,
        surface: Surface,
        lines: &Radii,
        at: &Progress,
    ) -> Result<(), ProcessError> {
        if unevenness(lines) > MOST_UNEVEN {
            return Err(ProcessError::from(NotConverged::MeanRing));
        }
        self.fit(lines)?;
        self.fitted();
        self.iterate(None, &[surface], at)?;
        self.unsettled = largest_change(&self.added, &self.added_next);
        Ok(())
    }

    /// By the mean ring's series; what the outline adds to it by finite elements on a lattice of its own, coarse as that is smooth.
    fn locked(&mut self, tool: Tool, at: &Progress) -> Result<LockedResponse, ProcessError> {
        let setting = self.setting;
        let rings = match self.differs {
            true => Some(CoarseRings::new(
                setting,
                self.stage.body.annulus(),
                &self.lines,
            )?),
            false => None,
        };
        let state = self.state.as_ref().expect("an iteration was made");
        let outline = rings.as_ref().map(CoarseRings::factors);
        self.contact
            .locked(&self.clamp, state.pressed_by(), tool, outline)
            .map_err(|e| setting.contact(e, at))
    }

    fn inner_before(&self) -> Vec<f64> {
        flat(&self.added)
    }

    fn inner(&self) -> Vec<f64> {
        flat(&self.added_next)
    }

    fn set_inner(&mut self, inner: &[f64]) {
        self.added = pairs(inner);
    }
}
