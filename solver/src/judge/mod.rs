//! Is the part good, by how much not, and what would help: decisions on a solved case, as data. The words are in `report`.
//!
//! Everything is judged on the finished part, after the last step, and on every state of the held part. Read [`judge`] and
//! [`Judgement`] first.

mod advice;
mod fit;
mod grip;
mod holds;
mod limits;
mod size;
mod stress;

pub use advice::{Lever, Remedy};
pub use fit::Fit;
pub use grip::{ENOUGH, Unsafe, Way};
pub use holds::{Group, HoldCaution};
pub use limits::{Limit, LimitKind, reads_diameters};
pub use size::{Aim, Misfit, Size, Target};
pub use stress::WorstStress;

use limits::Finished;

use crate::case::Case;
use crate::geometry::{PerSurface, Surface};
use crate::metrology::{
    Circle, Gauge, MetrologyError, Profile, ReferenceCircle, Roundness, Sheet, Wanted,
};
use crate::process::{Outcome, Radii, Station, StepOutcome, wall};

/// Whether the part is good, and what goes with that.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Judgement {
    /// Every limit of the case that could be held against the finished part, outside before bore.
    pub limits: Vec<Limit>,
    /// Roundness limits about a circle that is not known.
    pub unjudged: Vec<Unjudged>,
    /// What a roundness limit of the case says nothing about.
    pub unlimited: Unlimited,
    /// Diameters inside their limits across every two points that a plug or a ring would refuse.
    pub fits: Vec<Fit>,
    /// What to try about each roundness that is missed and that a step cuts, in the order of [`Outcome::advice`].
    pub remedies: Vec<Remedy>,
    /// What the last cuts leave on average, and what to cut to instead; none of a part that yields, whose size is not computed.
    pub sizes: Vec<Size>,
    /// The state of the held part that is stressed most; `None` for a part that is nowhere stressed.
    pub worst_stress: Option<WorstStress>,
    /// Steps (from 0) whose forces are known within a band at an end of which a roundness zone is missed, and the share of it that is then used up.
    pub band_misses: Vec<(usize, f64)>,
    /// Steps (from 0) whose forces are not known: they were solved with a unit force.
    pub force_unknown: Vec<usize>,
    /// What has to be known of what presses.
    pub holds: Vec<HoldCaution>,
    /// Why the grip is not safe by the estimate; empty where nothing says so.
    pub not_safe: Vec<Unsafe>,
    /// Whether the grip is safe: true only if it was checked in every way and has enough, `None` if that is not known.
    pub safe: Option<bool>,
    /// Whether the part meets its limits; `None` where there is none, where one could not be judged and the others are met, where they
    /// are met by a part that yields, and where a force is not known.
    pub in_tolerance: Option<bool>,
}

impl Judgement {
    /// Whether the held part passes yield in any state, as far as a yield strength is known.
    pub fn yields(&self) -> bool {
        self.worst_stress.is_some_and(|w| w.stress.yields())
    }
}

/// A roundness limit that is not judged, since its circle is not known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Unjudged {
    /// The surface.
    pub surface: Surface,
    /// The circle.
    pub circle: ReferenceCircle,
}

/// What a roundness limit says nothing about.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Unlimited {
    /// The case has a limit for surfaces that are cut, and cuts none.
    pub nothing_cut: bool,
    /// Surfaces that are cut and have no limit.
    pub surfaces: Vec<Surface>,
}

/// Judges the finished part.
///
/// # Errors
/// [`MetrologyError`] if a surface cannot be measured.
pub fn judge(case: &Case, outcome: &Outcome) -> Result<Judgement, MetrologyError> {
    let last = outcome.steps.last();
    let read = last
        .map(|l| read_off(&l.released, |s| wanted(case, s)))
        .transpose()?;
    judge_read(case, outcome, read.as_ref())
}

/// As [`judge`], for its verdicts and limits alone: which of the usual gauges would pass what a limit does not is left out.
///
/// # Errors
/// As [`judge`].
pub fn judge_limits(case: &Case, outcome: &Outcome) -> Result<Judgement, MetrologyError> {
    let own = |s| Wanted {
        gauges: own_gauge(case, s).into_iter().collect(),
        ..wanted(case, s)
    };
    let last = outcome.steps.last();
    let read = last.map(|l| read_off(&l.released, own)).transpose()?;
    judge_read(case, outcome, read.as_ref())
}

/// As [`judge`], with what was read off the finished part (see [`wanted`]) by who has done so already; `None` if there is no step.
///
/// # Errors
/// As [`judge`].
pub fn judge_read(
    case: &Case,
    outcome: &Outcome,
    read: Option<&PerSurface<Sheet>>,
) -> Result<Judgement, MetrologyError> {
    let worst_stress = stress::worst(outcome);
    let yields = worst_stress.is_some_and(|w| w.stress.yields());
    let not_safe = grip::unsafe_steps(outcome);
    let mut judgement = Judgement {
        limits: Vec::new(),
        unjudged: Vec::new(),
        unlimited: Unlimited::default(),
        fits: Vec::new(),
        remedies: Vec::new(),
        sizes: Vec::new(),
        worst_stress,
        band_misses: Vec::new(),
        force_unknown: force_unknown(outcome),
        holds: holds::cautions(outcome),
        safe: grip::safe(outcome, &not_safe),
        not_safe,
        in_tolerance: None,
    };
    let (Some(read), Some(last)) = (read, outcome.steps.last()) else {
        return Ok(judgement);
    };
    let along = along(case, last)?;
    let sections = sections(last, read, &along);
    let limits = limits::limits(case, &sections);
    judgement.unjudged = unjudged(case, &sections);
    judgement.unlimited = unlimited(case, &limits);
    judgement.fits = limits
        .iter()
        .filter_map(|l| {
            let mut own = sections.get(l.surface).iter();
            let section = own.find(|s| s.at.map(|at| at.0) == l.z)?;
            fit::fit(section.read, l)
        })
        .collect();
    judgement.remedies = advice::remedies(outcome, &limits);
    let force_known = judgement.force_unknown.is_empty();
    // the size of a part that keeps a set is not computed
    if !yields && force_known {
        let sized = Surface::BOTH.into_iter();
        judgement.sizes = sized
            .filter_map(|s| size::size(case, outcome, read, &limits, s))
            .collect();
    }
    judgement.band_misses = band_misses(outcome);
    let met = limits.iter().all(Limit::is_met) && judgement.band_misses.is_empty();
    // met as computed is not known to be met by a part that keeps a set, nor where a limit is not judged
    let open =
        limits.is_empty() || !force_known || (met && (yields || !judgement.unjudged.is_empty()));
    judgement.in_tolerance = (!open).then_some(met);
    judgement.limits = limits;
    Ok(judgement)
}

/// Steps whose forces are not known.
fn force_unknown(outcome: &Outcome) -> Vec<usize> {
    let steps = outcome.steps.iter().enumerate();
    let unknown = steps.filter(|(_, s)| s.grip.force_unknown);
    unknown.map(|(step, _)| step).collect()
}

/// Steps at an end of whose bands a roundness zone is missed.
fn band_misses(outcome: &Outcome) -> Vec<(usize, f64)> {
    let steps = outcome.steps.iter().enumerate();
    let share = |(step, s): (usize, &StepOutcome)| {
        let share = s.grip.band?.roundness?;
        (share > 1.0).then_some((step, share))
    };
    steps.filter_map(share).collect()
}

/// The sections that a tube's surfaces are judged by, with what is read off each; empty for a slice.
type Along<'a> = PerSurface<Vec<(&'a Station, PerSurface<Sheet>)>>;

fn along<'a>(case: &Case, last: &'a StepOutcome) -> Result<Along<'a>, MetrologyError> {
    let mut along = Along::default();
    for surface in Surface::BOTH {
        let stations = last.tube.iter().flat_map(|t| t.judged.get(surface));
        for station in stations {
            let read = read_off(&station.released, |s| wanted(case, s))?;
            along.get_mut(surface).push((station, read));
        }
    }
    Ok(along)
}

/// What is wanted of both surfaces of a section, read off it.
fn read_off(
    shape: &Radii,
    wanted: impl Fn(Surface) -> Wanted,
) -> Result<PerSurface<Sheet>, MetrologyError> {
    let on = |s: Surface| Sheet::of(&Profile::equal(shape.get(s)), &wanted(s));
    Ok(PerSurface {
        outer: on(Surface::Outer)?,
        bore: on(Surface::Bore)?,
    })
}

/// The sections that each surface is judged by: of a slice the one there is.
fn sections<'a>(
    last: &'a StepOutcome,
    read: &'a PerSurface<Sheet>,
    along: &'a Along,
) -> PerSurface<Vec<Finished<'a>>> {
    PerSurface::from_fn(|s| {
        let mut all: Vec<Finished> = along
            .get(s)
            .iter()
            .map(|(station, read)| Finished {
                released: &station.released,
                wall: wall(&station.released),
                read,
                at: Some((station.z, station.errors.as_ref().map(|e| &e[1]))),
            })
            .collect();
        if all.is_empty() {
            all.push(Finished {
                released: &last.released,
                wall: last.wall,
                read,
                at: last.tube.as_ref().map(|t| (t.section, None)),
            });
        }
        all
    })
}

/// The gauge that the case names, if it reaches a surface.
fn own_gauge(case: &Case, surface: Surface) -> Option<Gauge> {
    case.inspection.gauge.filter(|g| g.reaches(surface))
}

/// What is read off a surface of the part: every usual gauge that reaches it, and the one that the case names.
pub fn wanted(case: &Case, surface: Surface) -> Wanted {
    let mut gauges: Vec<Gauge> = Gauge::USUAL
        .into_iter()
        .filter(|g| g.reaches(surface))
        .collect();
    gauges.extend(own_gauge(case, surface).filter(|g| !gauges.contains(g)));
    let own = case.tolerance.surfaces.get(surface).filter_upr;
    Wanted {
        gauges,
        cut_off: own.or(case.inspection.filter_upr),
    }
}

/// The circle of a sheet that a roundness is told about; `None` if it is not known.
fn circle(sheet: &Sheet, about: Roundness) -> Option<&Circle> {
    let filtered = sheet.filtered.as_ref().filter(|_| about.cut_off.is_some());
    match (about.circle, filtered) {
        (ReferenceCircle::MinimumZone, None) => Some(&sheet.minimum_zone.circle),
        (ReferenceCircle::MinimumZone, Some(f)) => Some(&f.minimum_zone.circle),
        (ReferenceCircle::LeastSquares, None) => Some(&sheet.least_squares),
        (ReferenceCircle::LeastSquares, Some(f)) => Some(&f.least_squares),
        (ReferenceCircle::MinimumCircumscribed, None) => {
            sheet.circumscribed.as_ref().ok().map(|c| &c.circle)
        }
        (ReferenceCircle::MinimumCircumscribed, Some(f)) => {
            f.circumscribed.as_ref().ok().map(|c| &c.circle)
        }
        (ReferenceCircle::MaximumInscribed, None) => {
            sheet.inscribed.as_ref().ok().map(|c| &c.circle)
        }
        (ReferenceCircle::MaximumInscribed, Some(f)) => {
            f.inscribed.as_ref().ok().map(|c| &c.circle)
        }
    }
}

fn unjudged(case: &Case, sections: &PerSurface<Vec<Finished>>) -> Vec<Unjudged> {
    let open = |surface: Surface| {
        let about = case.roundness_limit(surface)?.about;
        let mut read = sections.get(surface).iter().map(|s| s.read.get(surface));
        let unknown = read.any(|sheet| circle(sheet, about).is_none());
        unknown.then_some(Unjudged {
            surface,
            circle: about.circle,
        })
    };
    Surface::BOTH.into_iter().filter_map(open).collect()
}

fn unlimited(case: &Case, limits: &[Limit]) -> Unlimited {
    let cut = |s: &Surface| case.last_to_cut(*s).is_some();
    if case.tolerance.roundness.is_some() && !Surface::BOTH.iter().any(cut) {
        return Unlimited {
            nothing_cut: true,
            surfaces: Vec::new(),
        };
    }
    let has_zone = |s: &Surface| {
        let mut zones = limits.iter().filter(|l| l.kind == LimitKind::Roundness);
        zones.any(|l| l.surface == *s)
    };
    let open = Surface::BOTH.into_iter().filter(cut);
    Unlimited {
        nothing_cut: false,
        surfaces: open.filter(|s| !has_zone(s)).collect(),
    }
}
