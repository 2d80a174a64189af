//! What is kept between solves on mean rings: nothing of it depends on forces, gaps or faces.

use std::sync::{Arc, Mutex};

use super::stage::RoundStage;
use crate::contact::{Clamp, ContactError, PadEnds, Radius, RoundBody, RoundContact, SleeveBody};
use crate::geometry::PerSurface;
use crate::linear::Analysis;
use crate::mesh::Topology;
use crate::process::plan::Plan;
use crate::process::step::{Setting, annulus};
use crate::process::{PROFILE_POINTS, ProcessError};
use crate::scheme::Sleeve;

/// Most of each kind that are kept: a step of a few cuts on two meshes takes some ten.
const MOST: usize = 16;

/// Rings, their factors, and the compliances of holds on them. Each is a pure function of its key, so answers do not depend on what was
/// asked before.
#[derive(Default)]
pub(in crate::process) struct Kept {
    inner: Mutex<Inner>,
}

#[derive(Default)]
struct Inner {
    rings: Vec<RoundBody>,
    stages: Vec<(Plan, Arc<RoundStage>)>,
    sleeves: Vec<SleeveBody>,
    contacts: Vec<RoundContact>,
    /// Of the one lattice of [`CoarseRings`](super::coarse::CoarseRings).
    analysis: Option<Arc<Analysis>>,
}

impl Kept {
    fn with<T>(&self, ask: impl FnOnce(&mut Inner) -> T) -> T {
        // what a panicking thread left behind is whole: entries are added and removed at once
        let mut inner = self.inner.lock().unwrap_or_else(|e| e.into_inner());
        ask(&mut inner)
    }

    /// The ring of these mean radii.
    pub fn ring(&self, setting: &Setting, radii: &PerSurface<f64>) -> RoundBody {
        let annulus = annulus(setting.part, radii);
        let known = self.with(|k| k.rings.iter().find(|r| *r.annulus() == annulus).cloned());
        known.unwrap_or_else(|| {
            let ring = RoundBody::new(annulus, PROFILE_POINTS);
            self.with(|k| add(&mut k.rings, ring.clone()));
            ring
        })
    }

    /// The same with its factor on the lattice of a plan.
    ///
    /// # Errors
    /// If the ring cannot be factored.
    pub fn stage(
        &self,
        setting: &Setting,
        plan: &Plan,
        radii: &PerSurface<f64>,
    ) -> Result<Arc<RoundStage>, ProcessError> {
        let ring = self.ring(setting, radii);
        let known = self.with(|k| {
            let same = |(p, s): &&(Plan, Arc<RoundStage>)| {
                p.ends == plan.ends && p.layers == plan.layers && s.body.annulus() == ring.annulus()
            };
            k.stages.iter().find(same).map(|s| Arc::clone(&s.1))
        });
        if let Some(stage) = known {
            return Ok(stage);
        }
        let stage = Arc::new(RoundStage::new(setting, plan, ring)?);
        self.with(|k| add(&mut k.stages, (plan.clone(), Arc::clone(&stage))));
        Ok(stage)
    }

    /// The analysis of the lattice on which outlines are compared with their mean rings.
    pub fn analysis(&self, lattice: &Topology) -> Arc<Analysis> {
        let made = || Arc::new(Analysis::new(lattice));
        self.with(|k| Arc::clone(k.analysis.get_or_insert_with(made)))
    }

    /// A new contact of a hold on a ring, with the sleeves of the hold.
    ///
    /// # Errors
    /// See [`ContactError`].
    pub fn contact(
        &self,
        clamp: &Clamp,
        ring: &RoundBody,
        pads: &[PadEnds],
        gap_surface: &Radius,
    ) -> Result<RoundContact, ContactError> {
        let made = |sleeve: &Sleeve| -> Result<SleeveBody, ContactError> {
            let length = ring.annulus().length;
            let known = self.with(|k| k.sleeves.iter().find(|s| s.is(sleeve, length)).cloned());
            if let Some(known) = known {
                return Ok(known);
            }
            let sleeve = SleeveBody::new(*sleeve, length)?;
            self.with(|k| add(&mut k.sleeves, sleeve.clone()));
            Ok(sleeve)
        };
        let sleeves: Vec<SleeveBody> =
            clamp.sleeves().iter().map(made).collect::<Result<_, _>>()?;
        RoundContact::new(clamp, ring.clone(), &sleeves, pads, gap_surface)
    }

    /// Takes out a contact that serves a hold.
    pub fn take(&self, clamp: &Clamp, ring: &RoundBody, pads: &[PadEnds]) -> Option<RoundContact> {
        self.with(|k| {
            let serves = |c: &RoundContact| c.serves(clamp, ring.annulus(), pads);
            let at = k.contacts.iter().position(serves)?;
            Some(k.contacts.remove(at))
        })
    }

    /// Puts a contact back, or a new one in.
    pub fn put(&self, contact: RoundContact) {
        self.with(|k| add(&mut k.contacts, contact));
    }
}

/// Adds an entry, the oldest making way.
fn add<T>(list: &mut Vec<T>, entry: T) {
    if list.len() >= MOST {
        list.remove(0);
    }
    list.push(entry);
}
