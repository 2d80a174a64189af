//! What is kept between solves on mean rings: nothing of it depends on forces, gaps or faces.

use std::sync::{Arc, Mutex};

use super::stage::RoundStage;
use crate::contact::{Clamp, ContactError, PadEnds, Radius, RoundBody, RoundContact, SleeveBody};
use crate::element::PlaneStress;
use crate::geometry::{PerSurface, Surface};
use crate::linear::Analysis;
use crate::mesh::Topology;
use crate::process::meshed;
use crate::process::plan::Plan;
use crate::process::step::{Setting, annulus};
use crate::process::{PROFILE_POINTS, ProcessError};
use crate::scheme::Sleeve;

/// Most of each kind that are kept: a step of a few cuts on two meshes takes some ten.
const MOST: usize = 16;

/// Most memory that kept meshes may take, bytes; what an element of a round ring takes in one, with its factor and what is kept of a hold, for each thread that
/// asks at once. Measured: 3 kB an element of a part that is held alone (`adapt::memory`).
const MOST_BYTES: usize = 256 << 20;
const BYTES_AN_ELEMENT: usize = 3 << 10;

/// What is kept from case to case: rings, their factors, the compliances of holds on them. Each is a pure function of what it is of, so answers do not depend on what was
/// asked before.
#[derive(Default)]
pub struct Kept {
    inner: Mutex<Inner>,
    /// Whether meshes are kept too.
    meshes: bool,
}

/// A round part on the mesh of a plan.
struct KeptMesh {
    radii: PerSurface<f64>,
    law: PlaneStress,
    plan: Plan,
    start: Arc<meshed::Start>,
}

#[derive(Default)]
struct Inner {
    rings: Vec<RoundBody>,
    stages: Vec<(Plan, Arc<RoundStage>)>,
    sleeves: Vec<SleeveBody>,
    contacts: Vec<RoundContact>,
    meshes: Vec<KeptMesh>,
    /// Of the one lattice of [`CoarseRings`](super::coarse::CoarseRings).
    analysis: Option<Arc<Analysis>>,
}

impl Kept {
    /// Of many cases that follow each other: meshes of round parts are kept too, which takes up to 256 MB.
    pub fn of_many() -> Self {
        Self {
            meshes: true,
            ..Self::default()
        }
    }

    fn with<T>(&self, ask: impl FnOnce(&mut Inner) -> T) -> T {
        // what a panicking thread left behind is whole: entries are added and removed at once
        let mut inner = self.inner.lock().unwrap_or_else(|e| e.into_inner());
        ask(&mut inner)
    }

    /// The part of a setting on the mesh of a plan, if it is round and such are kept.
    ///
    /// # Errors
    /// If its mesh cannot be built or factored.
    pub(in crate::process) fn meshed(
        &self,
        setting: &Setting,
        plan: &Plan,
    ) -> Result<Option<Arc<meshed::Start>>, ProcessError> {
        let bytes = |plan: &Plan| {
            let solvers = 1 + rayon::current_num_threads();
            plan.elements() * BYTES_AN_ELEMENT * solvers
        };
        if !self.meshes || setting.residual().is_some() || bytes(plan) > MOST_BYTES {
            return Ok(None);
        }
        let [outer, bore] = Surface::BOTH.map(|s| setting.body.outlines.get(s).as_round());
        let (Some(outer), Some(bore)) = (outer, bore) else {
            return Ok(None);
        };
        let (radii, law) = (PerSurface { outer, bore }, setting.law());
        let known = self.with(|k| {
            let same = |m: &&KeptMesh| m.radii == radii && m.law == law && m.plan == *plan;
            k.meshes.iter().find(same).map(|m| Arc::clone(&m.start))
        });
        if let Some(start) = known {
            return Ok(Some(start));
        }
        let start = Arc::new(meshed::Start::new(setting, plan)?);
        let kept = KeptMesh {
            radii,
            law,
            plan: plan.clone(),
            start: Arc::clone(&start),
        };
        self.with(|k| {
            add(&mut k.meshes, kept);
            let all = |meshes: &[KeptMesh]| meshes.iter().map(|m| bytes(&m.plan)).sum::<usize>();
            while all(&k.meshes) > MOST_BYTES {
                k.meshes.remove(0);
            }
        });
        Ok(Some(start))
    }

    /// The ring of these mean radii.
    pub(in crate::process) fn ring(&self, setting: &Setting, radii: &PerSurface<f64>) -> RoundBody {
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
    pub(in crate::process) fn stage(
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
    pub(in crate::process) fn analysis(&self, lattice: &Topology) -> Arc<Analysis> {
        let made = || Arc::new(Analysis::new(lattice));
        self.with(|k| Arc::clone(k.analysis.get_or_insert_with(made)))
    }

    /// A new contact of a hold on a ring, with the sleeves of the hold.
    ///
    /// # Errors
    /// See [`ContactError`].
    pub(in crate::process) fn contact(
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
    pub(in crate::process) fn take(
        &self,
        clamp: &Clamp,
        ring: &RoundBody,
        pads: &[PadEnds],
    ) -> Option<RoundContact> {
        self.with(|k| {
            let serves = |c: &RoundContact| c.serves(clamp, ring.annulus(), pads);
            let at = k.contacts.iter().position(serves)?;
            Some(k.contacts.remove(at))
        })
    }

    /// Puts a contact back, or a new one in.
    pub(in crate::process) fn put(&self, contact: RoundContact) {
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
