//! A body of revolution that stands for the part in one state of its outline, and the rest of a hold on it.

use std::ops::Range;
use std::sync::{Arc, OnceLock};

use super::part::TubePart;
use super::plan::Fineness;
use super::setting::TubeSetting;
use crate::contact::{Clamp, ContactError, PadEnds, Standing, TubeContact, TubeState};
use crate::element::meridian::Isotropic;
use crate::fourier::Complex64;
use crate::geometry::{PerSurface, Surface};
use crate::linear::{Cholesky, LinearError};
use crate::mesh::MeridianMesh;
use crate::process::{NotConverged, ProcessError};
use crate::scheme::EndCondition;
use crate::tube::TubeBody;
use crate::tube::field::SurfaceField;
use crate::tube::ladder::Ladder;
use crate::tube::plates::{EndFriction, Plated};
use crate::tube::response::{Responses, Strip, strips};
use crate::tube::uneven::{self, ColumnOff, NodalField, Uneven};

/// Surfaces that lie off their outline by less than this share of the wall run along it, but for rounding.
const EVEN: f64 = 1e-10;

/// The most harmonics in which displacements are told: as many as a grid round the part shows.
const MOST_TOLD: usize = 300;

/// Share of the energy that is left over when an uneven wall has been brought nearer to equilibrium: a hundredth of the displacement. Contact and outline then see
/// a part that has all but followed them.
const APPROACHED: f64 = 1e-4;

/// Iterations of an uneven wall.
const MOST_ITERATIONS: usize = 30;

/// Strips of a surface between two positions.
type Stretch = (Surface, [f64; 2]);

/// A body of revolution and what loads on its stretches do to it: all that depends on its outline and on where it is held, and on no force.
pub(super) struct Stage {
    pub body: TubeBody,
    pub responses: Arc<Responses>,
    /// Strips of each stretch that is pressed on.
    stretches: Vec<(Stretch, Range<usize>)>,
    /// Factors of the harmonics in which an uneven wall is followed, made when they are first asked for.
    factors: Vec<OnceLock<Cholesky<3>>>,
    /// Harmonics that displacements are told in.
    pub harmonics: usize,
}

/// A part at rest in a hold.
pub(super) struct AtRest {
    pub contact: TubeState,
    /// All of it.
    pub field: SurfaceField,
    pub plates: Option<Plated>,
    /// Displacement of every node of an uneven part, without rigid motions and plates.
    pub whole: Option<NodalField>,
}

impl Stage {
    /// Divides a part's body and solves for all stretches that the step presses on.
    pub fn new(
        setting: &TubeSetting,
        part: &TubePart,
        fineness: Fineness,
    ) -> Result<Self, ProcessError> {
        let outline = &part.nominal;
        let law = Isotropic {
            young_modulus: setting.step.part.material.young_modulus,
            poisson_ratio: setting.step.part.material.poisson_ratio,
        };
        let mesh = mesh(setting, part, fineness);
        let body = TubeBody::new(mesh, law);
        let mut all: Vec<Strip> = Vec::new();
        let mut stretches = Vec::new();
        for (surface, reach) in setting.stretches() {
            let first = all.len();
            all.extend(strips(body.mesh().heights(), surface, reach));
            stretches.push(((surface, reach), first..all.len()));
        }
        let ladder = Ladder::up_to(fineness.harmonics(outline));
        // end plates alone move the part alike all round
        let harmonics = match all.is_empty() {
            true => 1,
            false => (ladder.highest() as usize + 1).min(MOST_TOLD),
        };
        let responses = Responses::new(&body, all, ladder)?;
        Ok(Self {
            harmonics,
            responses: Arc::new(responses),
            body,
            stretches,
            factors: (0..uneven::HARMONICS).map(|_| OnceLock::new()).collect(),
        })
    }

    /// The factor of a harmonic in which an uneven wall is followed.
    fn factor(&self, harmonic: usize) -> Result<&Cholesky<3>, LinearError> {
        let kept = &self.factors[harmonic];
        if let Some(factor) = kept.get() {
            return Ok(factor);
        }
        let made = self.body.factor(harmonic as u32)?;
        Ok(kept.get_or_init(|| made))
    }

    /// How far the part's surfaces lie off the body's outline, mm; `None` where they run along it.
    pub fn deviations(&self, part: &TubePart) -> Option<PerSurface<Vec<ColumnOff>>> {
        if part.is_nominal() {
            return None;
        }
        let places = &self.responses.surface().places;
        let off = PerSurface::from_fn(|s| {
            let columns = places.get(s).iter();
            let column = |side: &[[f64; 2]; 3]| -> ColumnOff {
                side.map(|[radius, z]| {
                    let row = part.row(s, z, side[1][1]);
                    row.iter().map(|r| r - radius).collect()
                })
            };
            columns.map(column).collect::<Vec<_>>()
        });
        let all = Surface::BOTH
            .into_iter()
            .flat_map(|s| off.get(s).iter().flatten().flatten());
        let largest = all.fold(0.0, |m: f64, d| d.abs().max(m));
        (largest > EVEN * part.nominal.least_wall()).then_some(off)
    }

    /// Goes nearer to the equilibrium of the part whose surfaces lie off the body's outline so, and gives what that adds to the body's own displacement.
    pub fn towards(
        &self,
        off: &PerSurface<Vec<ColumnOff>>,
        state: &TubeState,
        whole: &mut NodalField,
    ) -> Result<SurfaceField, LinearError> {
        let loads = &state.amplitudes;
        let uneven = Uneven::new(self.body.mesh(), off, Uneven::fold(off, loads));
        let factor = |n: usize| self.factor(n);
        let pair = (&self.body, &*self.responses);
        uneven::approach(pair, &uneven, loads, whole, APPROACHED, &factor)?;
        let mut added = whole.on_surfaces(&self.responses);
        let own = SurfaceField::of_strips(&self.responses, loads, uneven::HARMONICS);
        added.add(&own, -1.0);
        Ok(added)
    }

    fn strips_of(&self, surface: Surface, reach: [f64; 2]) -> Range<usize> {
        let found = self.stretches.iter().find(|s| s.0 == (surface, reach));
        found.map_or(0..0, |s| s.1.clone())
    }

    /// A hold against the body; gaps are measured to the surfaces of `seen`.
    pub fn contact(
        &self,
        setting: &TubeSetting,
        clamp: &Clamp,
        pads: &[PadEnds],
        seen: &TubePart,
    ) -> Result<TubeContact, ProcessError> {
        self.standing(setting, pads, seen, |standing| {
            TubeContact::new(clamp, &self.body, &self.responses, standing)
        })
    }

    /// Sets another hold with the same pads against the body; compliances are kept.
    pub fn set(
        &self,
        setting: &TubeSetting,
        (clamp, contact): (&Clamp, &mut TubeContact),
        pads: &[PadEnds],
        seen: &TubePart,
    ) -> Result<(), ProcessError> {
        self.standing(setting, pads, seen, |standing| contact.set(clamp, standing))
    }

    /// Does something with what stands along the part.
    fn standing<T>(
        &self,
        setting: &TubeSetting,
        pads: &[PadEnds],
        seen: &TubePart,
        with: impl FnOnce(&Standing) -> Result<T, ContactError>,
    ) -> Result<T, ProcessError> {
        let mut spans = Vec::new();
        let mut dead = Vec::new();
        for (support, &reach) in setting.step.supports.iter().zip(&setting.reaches) {
            for body in &support.bodies {
                spans.push(self.strips_of(body.surface, reach));
            }
            dead.push([Surface::Outer, Surface::Bore].map(|s| self.strips_of(s, reach)));
        }
        let standing = Standing {
            spans,
            dead,
            pads,
            radius: &|s, t, z| seen.radius(s, t, z),
            alike_along: seen.is_alike_along(),
        };
        with(&standing).map_err(|e| setting.step.contact(e, &setting.step.start))
    }

    /// What end plates do to the body; `None` without plates.
    pub fn plates(
        &self,
        setting: &TubeSetting,
        force: f64,
    ) -> Result<Option<Plated>, ProcessError> {
        let Some(plates) = setting.plates() else {
            return Ok(None);
        };
        let ends = match (plates.ends, plates.friction.map(|f| f.nominal)) {
            (EndCondition::Sliding, _) => EndFriction::Sliding,
            (EndCondition::Friction, Some(mu)) => EndFriction::Coulomb(mu),
            _ => EndFriction::Stuck,
        };
        Ok(Some(self.body.between_plates(force, ends)?))
    }

    /// Displacement of the surfaces by plates, mm.
    pub fn by_plates(&self, plated: Option<&Plated>) -> SurfaceField {
        let nodes = self.responses.nodes();
        let mut field = SurfaceField::zero(self.harmonics, nodes.len());
        if let Some(plated) = plated {
            let even = field.harmonic_mut(0);
            for (to, &node) in even.iter_mut().zip(nodes) {
                let [u, w, _] = plated.displacement[node];
                *to = [u, w, 0.0].map(|x| Complex64::new(x, 0.0));
            }
        }
        field
    }

    /// Closes the hold, and again with what an uneven wall adds, until that has settled to a share of the largest displacement.
    pub fn settle(
        &self,
        setting: &TubeSetting,
        (clamp, contact): (&Clamp, &mut TubeContact),
        off: Option<&PerSurface<Vec<ColumnOff>>>,
        start: Option<&[bool]>,
        settled: f64,
    ) -> Result<AtRest, ProcessError> {
        let plates = self.plates(setting, clamp.axial_force())?;
        let by_plates = self.by_plates(plates.as_ref());
        let mut added = by_plates.clone();
        let mut whole = off.map(|_| NodalField::zero(&self.body));
        let mut active: Option<Vec<bool>> = start.map(<[bool]>::to_vec);
        let mut change = f64::INFINITY;
        for iteration in 1..=MOST_ITERATIONS {
            let state = self.close(setting, (clamp, &mut *contact), &added, active.as_deref())?;
            let mut next = by_plates.clone();
            if let (Some(off), Some(whole)) = (off, &mut whole) {
                next.add(&self.towards(off, &state, whole)?, 1.0);
            }
            let field = total(&state, &next);
            let mut moved = next.clone();
            moved.add(&added, -1.0);
            change = moved.largest() / field.largest().max(f64::MIN_POSITIVE);
            // the first step of an uneven wall is that of the body itself
            if change <= settled && (whole.is_none() || iteration > 2) {
                return Ok(AtRest {
                    contact: state,
                    field,
                    plates,
                    whole,
                });
            }
            added = next;
            active = Some(state.active);
        }
        Err(NotConverged::UnevenWall {
            iterations: MOST_ITERATIONS,
            change,
        }
        .into())
    }

    /// Closes the hold once, with what is added to the body's own displacement.
    pub fn close(
        &self,
        setting: &TubeSetting,
        (clamp, contact): (&Clamp, &mut TubeContact),
        added: &SurfaceField,
        active: Option<&[bool]>,
    ) -> Result<TubeState, ProcessError> {
        contact.set_offset(added);
        let step = &setting.step;
        let at = |round| {
            step.watch.at(&crate::watch::Progress {
                round,
                ..step.start
            })
        };
        contact
            .close(clamp, self.harmonics, active, &at)
            .map_err(|e| step.contact(e, &step.start))
    }
}

/// The r-z mesh of a part, with lines where the step presses on it.
pub(super) fn mesh(setting: &TubeSetting, part: &TubePart, fineness: Fineness) -> MeridianMesh {
    let outline = &part.nominal;
    let plates = setting.plates().is_some();
    let mut marks: Vec<f64> = setting.stretches().iter().flat_map(|s| s.1).collect();
    marks.sort_by(f64::total_cmp);
    marks.dedup();
    let mut marks: Vec<_> = marks
        .into_iter()
        .map(|z| fineness.mark(outline, z))
        .collect();
    if plates {
        marks.extend(outline.ends().map(|z| fineness.face(outline, z)));
    }
    MeridianMesh::build(outline, &marks, &fineness.sizes(outline, plates))
}

/// Displacement by the contact and what is added to it.
pub(super) fn total(state: &TubeState, added: &SurfaceField) -> SurfaceField {
    let mut field = state.field.clone();
    field.add(added, 1.0);
    field
}
