//! A step of a tube on one division: hold, cut, release.

use super::cutting::{ToolPath, Turning};
use super::part::TubePart;
use super::plan::Fineness;
use super::setting::TubeSetting;
use super::stage::{AtRest, Stage};
use crate::contact::{Clamp, PadEnds, TubeContact};
use crate::geometry::{PerSurface, Surface};
use crate::process::sample::roundness;
use crate::process::step::cut_surfaces;
use crate::process::{CutOutcome, PROFILE_POINTS, ProcessError, Radii};
use crate::tube::field::{GRID, SurfaceField};

/// Share of the accuracy asked within which an uneven wall settles.
pub(super) const SETTLED: f64 = 0.02;

/// A state of the held part: the body that stands for it, and where it is at rest.
pub(super) struct HeldTube {
    pub part: TubePart,
    pub stage: Stage,
    pub contact: TubeContact,
    pub rest: AtRest,
}

/// A step solved on one division.
pub(super) struct TubeSolved {
    /// Where each scheme presses, mm, and the element ends of each piece of its pads.
    pub reaches: Vec<[f64; 2]>,
    pub pads: Vec<PadEnds>,
    pub clamp: Clamp,
    pub clamp_after_clamping: Clamp,
    pub held: HeldTube,
    /// The finished part still held; `None` without a cut.
    pub after: Option<HeldTube>,
    pub cuts: Vec<CutOutcome>,
    pub paths: Vec<ToolPath>,
    pub spindle: [f64; 2],
    /// The part after the step.
    pub part: TubePart,
    /// What iterations leave, mm.
    pub left: f64,
}

/// Solves a step; what a coarser division found says where pads are divided finely, and where they touch to begin with.
pub(super) fn solve(
    setting: &TubeSetting,
    fineness: Fineness,
    coarse: Option<&TubeSolved>,
) -> Result<TubeSolved, ProcessError> {
    setting.step.tell(&setting.step.start)?;
    let clamp = setting.clamp()?;
    let nominal = setting.radii();
    let radius = |k: usize| *nominal.get(clamp.bodies()[k].surface);
    let zones = coarse.map_or(Vec::new(), TubeSolved::contact_zones);
    let pads = fineness.pads(clamp.bodies(), &zones, setting.wall(), radius);
    let held = hold(setting, (&clamp, &pads), fineness, coarse.map(|c| &c.held))?;
    setting
        .step
        .check_held(&clamp, &held.rest.contact.section, false)?;
    // pads that stand at one place along the part may run into each other round it
    if setting.reaches.windows(2).all(|w| w[0] == w[1]) {
        let state = &held.rest.contact.section;
        setting.step.check_corners(&clamp, state)?;
    }
    let clamp_after_clamping = clamp.after_clamping(&held.rest.contact.section);
    let [start, end] = setting.part.nominal.ends();
    let middle = held.shape(0.5 * (start + end), PROFILE_POINTS);
    let spindle = setting.step.spindle(&middle);
    let mut solved = TubeSolved {
        reaches: setting.reaches.clone(),
        pads,
        clamp,
        clamp_after_clamping,
        part: setting.part.clone(),
        held,
        after: None,
        cuts: Vec::new(),
        paths: Vec::new(),
        spindle,
        left: 0.0,
    };
    for (index, cut) in setting.step.step.cuts.iter().enumerate() {
        let path = ToolPath::of(setting.step.step, cut, end - start, spindle);
        let turning = Turning {
            setting,
            clamp: &solved.clamp_after_clamping,
            pads: &solved.pads,
            fineness,
            index,
            path,
        };
        let from = solved.after.as_ref().unwrap_or(&solved.held);
        let cut = turning.cut(&solved.part, (&from.stage, &from.rest))?;
        solved.part = cut.part.clone();
        solved.left += cut.left;
        solved.cuts.push(cut.outcome);
        solved.paths.push(path);
        solved.after = Some(HeldTube {
            part: cut.part,
            stage: cut.stage,
            contact: cut.contact,
            rest: cut.rest,
        });
    }
    if let Some(after) = &solved.after {
        let state = &after.rest.contact.section;
        let clamp = &solved.clamp_after_clamping;
        setting.step.check_held(clamp, state, true)?;
    }
    Ok(solved)
}

fn hold(
    setting: &TubeSetting,
    (clamp, pads): (&Clamp, &[PadEnds]),
    fineness: Fineness,
    coarse: Option<&HeldTube>,
) -> Result<HeldTube, ProcessError> {
    let part = setting.part;
    let stage = Stage::new(setting, part, fineness)?;
    let off = stage.deviations(part);
    let mut contact = stage.contact(setting, clamp, pads, part)?;
    let start = coarse.map(|c| contact.active_as(&c.contact, &c.rest.contact));
    let settled = SETTLED * setting.step.accuracy;
    let pair = (clamp, &mut contact);
    let rest = stage.settle(setting, pair, off.as_ref(), start.as_deref(), settled)?;
    Ok(HeldTube {
        part: part.clone(),
        stage,
        contact,
        rest,
    })
}

impl HeldTube {
    /// Displacement of the surfaces, mm.
    pub fn field(&self) -> &SurfaceField {
        &self.rest.field
    }

    /// Displacement of a surface at a position, `[radial, axial, tangential]` at so many equal angles, mm.
    pub fn moved(&self, surface: Surface, z: f64, angles: usize) -> Vec<[f64; 3]> {
        self.field().at(&self.stage.responses, surface, z, angles)
    }

    /// Radius plus radial displacement at a position and so many equal angles, mm.
    pub fn shape(&self, z: f64, angles: usize) -> Radii {
        PerSurface::from_fn(|s| {
            let radii = self.part.profile(s, z, angles);
            let moved = self.moved(s, z, angles);
            radii.iter().zip(moved).map(|(r, u)| r + u[0]).collect()
        })
    }

    /// Distance of the moved surface from an axis at a position and so many equal angles, mm.
    pub fn distances(&self, [x, y]: [f64; 2], z: f64, angles: usize) -> Radii {
        let step = std::f64::consts::TAU / angles as f64;
        PerSurface::from_fn(|s| {
            let radii = self.part.profile(s, z, angles);
            let moved = self.moved(s, z, angles).into_iter().zip(radii).enumerate();
            moved
                .map(|(k, ([ur, _, ut], r))| {
                    let (sin, cos) = (k as f64 * step).sin_cos();
                    let along = r + ur - (x * cos + y * sin);
                    along.hypot(ut - (y * cos - x * sin))
                })
                .collect()
        })
    }

    /// Positions of the mesh's lines, column ends and middles, mm.
    pub fn lines(&self) -> &[f64] {
        self.stage.body.mesh().heights()
    }
}

impl TubeSolved {
    /// Between which angles contact was found, from each body's axis, rad.
    fn contact_zones(&self) -> Vec<Vec<[f64; 2]>> {
        let states = std::iter::once(&self.held).chain(&self.after);
        let states: Vec<_> = states.map(|h| &h.rest.contact.section).collect();
        (0..self.clamp.bodies().len())
            .map(|body| {
                let zones = states.iter().flat_map(|s| s.contact_zones(body));
                let loaded = zones.filter(|z| z.force > 0.0);
                loaded.map(|z| [z.start, z.end]).collect()
            })
            .collect()
    }

    /// Shape after release at a position and so many equal angles, mm.
    pub fn released(&self, z: f64, angles: usize) -> Radii {
        PerSurface::from_fn(|s| self.part.profile(s, z, angles))
    }

    /// What drives the accuracy at a position: out-of-roundness of each surface that is cut there, released, or of both, held.
    pub fn driving(&self, setting: &TubeSetting, z: f64, angles: usize) -> Vec<(Surface, f64)> {
        if self.cuts.is_empty() {
            let shape = self.held.shape(z, angles);
            let of = |s: Surface| (s, roundness(shape.get(s)));
            return Surface::BOTH.map(of).to_vec();
        }
        cut_surfaces(setting.step.step)
            .into_iter()
            .filter(|s| self.paths.iter().any(|p| p.surface == *s && p.reaches(z)))
            .map(|s| (s, roundness(&self.part.profile(s, z, angles))))
            .collect()
    }

    /// The section that is most out of round in what drives the accuracy: its position, mm, and the surface.
    pub fn worst(&self, setting: &TubeSetting) -> (f64, Surface) {
        let held = self.after.as_ref().unwrap_or(&self.held);
        let [start, end] = self.part.nominal.ends();
        let mut best = (f64::NEG_INFINITY, 0.5 * (start + end), Surface::Outer);
        for &z in held.lines() {
            // at the end of a cut the section of the side that was cut
            let z = self.inside(z);
            for (surface, value) in self.driving(setting, z, GRID) {
                // of sections that are alike to rounding the one nearest to the gripped end
                if value > best.0 * (1.0 + 1e-9) {
                    best = (value, z, surface);
                }
            }
        }
        (best.1, best.2)
    }

    /// A position moved off the end of a cut by a hair, into it.
    fn inside(&self, z: f64) -> f64 {
        let hair = 1e-9 * (self.part.nominal.ends()[1] - self.part.nominal.ends()[0]);
        for path in &self.paths {
            if z == path.reach[0] {
                return z + hair;
            }
            if z == path.reach[1] {
                return z - hair;
            }
        }
        z
    }
}
