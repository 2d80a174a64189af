//! A cut along a tube: the tool leaves a cylinder or a cone about the spindle axis in the held state, where it meets metal.
//!
//! The cut body is meshed as the body of revolution of the tool's own outline, its wall uneven by what the true surface lies off that. Contact, displacement and
//! outline are iterated together, as a section's are.

use super::part::{Rows, TubePart};
use super::plan::Fineness;
use super::setting::{TubeSetting, in_part};
use super::stage::{AtRest, Stage, total};
use crate::case::{Cut, Place, Step};
use crate::contact::{Clamp, PadEnds, TubeContact};
use crate::geometry::{MeridianFault, Surface};
use crate::process::sample::range;
use crate::process::{CutOutcome, NotConverged, ProcessError, Reason, Unfit};
use crate::tube::field::{GRID, SurfaceField};
use crate::tube::response::SurfaceNodes;
use crate::tube::uneven::NodalField;
use crate::watch::{Progress, State};

/// Iterations of a cut, at most.
const MOST_ITERATIONS: usize = 30;

/// Share of the accuracy asked within which the outline of a cut settles, of what it is out of the tool's circle by.
const SETTLED: f64 = 0.02;

/// A part that moves by more than this share of its wall and seems cut through may have been by the iterations alone.
const FLEXES: f64 = 0.15;

/// Share of the wall before a cut below which next to nothing is left.
const THINNEST: f64 = 0.02;

/// What a step says of a cut, in the part's frame.
#[derive(Clone, Copy, Debug)]
pub(super) struct ToolPath {
    pub surface: Surface,
    /// Where it begins and ends, mm.
    pub reach: [f64; 2],
    /// Radii there, mm.
    pub radii: [f64; 2],
    /// Where the spindle axis lies, mm.
    pub spindle: [f64; 2],
}

impl ToolPath {
    pub fn of(step: &Step, cut: &Cut, length: f64, spindle: [f64; 2]) -> Self {
        let to = cut.reach.to.unwrap_or(length);
        let reach = in_part(step, [cut.reach.from, to], length);
        let start = 0.5 * cut.diameter;
        let end = 0.5 * cut.reach.end_diameter.unwrap_or(cut.diameter);
        Self {
            surface: cut.surface,
            reach,
            radii: if step.flipped {
                [end, start]
            } else {
                [start, end]
            },
            spindle,
        }
    }

    /// Radius of the tool's path at a position, mm.
    pub fn radius(&self, z: f64) -> f64 {
        let [from, to] = self.reach;
        let [start, end] = self.radii;
        start + (end - start) * (z - from) / (to - from)
    }

    /// Whether it runs over a position.
    pub fn reaches(&self, z: f64) -> bool {
        let [from, to] = self.reach;
        z > from && z < to
    }

    /// Radius in the reference that a displacement carries to the tool's path, mm, at [`GRID`] angles.
    fn seen(&self, z: f64, moved: &[[f64; 3]]) -> Vec<f64> {
        let tool = self.radius(z);
        let [x, y] = self.spindle;
        let step = std::f64::consts::TAU / moved.len() as f64;
        let one = |(k, [radial, _, tangential]): (usize, &[f64; 3])| {
            let (sin, cos) = (k as f64 * step).sin_cos();
            let across = tangential - (y * cos - x * sin);
            x * cos + y * sin - radial + (tool * tool - across * across).max(0.0).sqrt()
        };
        moved.iter().enumerate().map(one).collect()
    }
}

/// A cut made.
pub(super) struct CutPart {
    pub part: TubePart,
    pub stage: Stage,
    pub contact: TubeContact,
    pub rest: AtRest,
    pub outcome: CutOutcome,
    /// What the iterations leave, mm.
    pub left: f64,
}

/// What a cut is made of.
pub(super) struct Turning<'a> {
    pub setting: &'a TubeSetting<'a>,
    pub clamp: &'a Clamp,
    pub pads: &'a [PadEnds],
    pub fineness: Fineness,
    /// The cut's number in the step.
    pub index: usize,
    pub path: ToolPath,
}

/// Depths that a cut takes, mm.
#[derive(Clone, Copy)]
struct Depths {
    least: f64,
    most: f64,
    /// Area that the tool reached, and of all that it ran over.
    reached: [f64; 2],
}

impl Turning<'_> {
    /// Cuts a part that is at rest on a body.
    pub fn cut(
        &self,
        part: &TubePart,
        (before, held): (&Stage, &AtRest),
    ) -> Result<CutPart, ProcessError> {
        let path = &self.path;
        let nominal = part
            .nominal
            .turned(path.surface, path.reach, path.radii)
            .map_err(|fault| self.cut_through(part, &fault))?;
        let blank = part.outlined(nominal);
        let stage = Stage::new(self.setting, &blank, self.fineness)?;
        let mut contact = stage.contact(self.setting, self.clamp, self.pads, self.setting.part)?;
        let surface = stage.responses.surface().clone();
        let guess = |s: Surface, _: usize, z: f64| held.field.at(&before.responses, s, z, GRID);
        let (mut rows, _) = self.outline(part, &surface, &guess);
        let plates = stage.plates(self.setting, self.clamp.axial_force())?;
        let by_plates = stage.by_plates(plates.as_ref());
        let mut field: Option<SurfaceField> = None;
        let mut added = by_plates.clone();
        let mut whole = NodalField::zero(&stage.body);
        let mut active = None;
        let mut last: Option<f64> = None;
        for iteration in 1..=MOST_ITERATIONS {
            self.tell(iteration)?;
            let now_rows = rows;
            let now = blank.with(blank.nominal.clone(), path.surface, now_rows.clone());
            let pair = (self.clamp, &mut contact);
            let state = stage.close(self.setting, pair, &added, active.as_deref())?;
            added = by_plates.clone();
            if let Some(off) = stage.deviations(&now) {
                added.add(&stage.towards(&off, &state, &mut whole)?, 1.0);
            }
            let moved = total(&state, &added);
            let on_grid = moved.on_grid(&stage.responses, path.surface);
            let at = |_: Surface, place: usize, _: f64| on_grid[place / 3][place % 3].clone();
            let (next, depths) = self.outline(part, &surface, &at);
            self.check_wall(part, &next, moved.largest())?;
            let change = largest_change(&now_rows, &next);
            if !change.is_finite() {
                return Err(NotConverged::CutWithoutNumber.into());
            }
            let rate = last.map_or(1.0, |before| change / before);
            let wanted = SETTLED * self.setting.step.accuracy * self.out_of_circle(&next);
            if iteration > 3 && change <= wanted {
                let rest = if rate < 0.5 { rate / (1.0 - rate) } else { 1.0 };
                return Ok(CutPart {
                    part: blank.with(blank.nominal.clone(), path.surface, next),
                    outcome: self.outcome(depths)?,
                    rest: AtRest {
                        field: moved,
                        contact: state,
                        plates,
                        whole: Some(whole),
                    },
                    stage,
                    contact,
                    left: change * rest.max(0.1),
                });
            }
            rows = next;
            active = Some(state.active.clone());
            field = Some(moved);
            last = Some(change);
        }
        Err(NotConverged::Cut {
            iterations: MOST_ITERATIONS,
            change: last.unwrap_or(f64::INFINITY),
            flexing: field.map_or(0.0, |f| f.largest()) / self.setting.wall(),
            flexes_much: true,
            accuracy: self.setting.step.accuracy,
        }
        .into())
    }

    /// The surface that the tool leaves of a part that is moved so, and what it takes.
    fn outline(
        &self,
        part: &TubePart,
        surface: &SurfaceNodes,
        moved: &dyn Fn(Surface, usize, f64) -> Vec<[f64; 3]>,
    ) -> (Rows, Depths) {
        let path = &self.path;
        let outward = path.surface.outward();
        let mut depths = Depths {
            least: f64::INFINITY,
            most: f64::NEG_INFINITY,
            reached: [0.0; 2],
        };
        let columns = surface.places.get(path.surface).iter().enumerate();
        let columns = columns
            .map(|(column, places)| {
                let middle = 0.5 * (places[0][1] + places[2][1]);
                let length = places[2][1] - places[0][1];
                let one = |k: usize| -> (Vec<f64>, Option<Vec<f64>>) {
                    let z = places[k][1];
                    let stock = part.row(path.surface, z, middle);
                    if !path.reaches(middle) {
                        return (stock, None);
                    }
                    let seen = path.seen(z, &moved(path.surface, 3 * column + k, z));
                    let depth: Vec<f64> = stock
                        .iter()
                        .zip(&seen)
                        .map(|(stock, seen)| outward * (stock - seen))
                        .collect();
                    let left = stock.iter().zip(&depth);
                    let left = left.map(|(r, d)| r - outward * d.max(0.0)).collect();
                    (left, Some(depth))
                };
                let rows = [0, 1, 2].map(one);
                for ((_, depth), weight) in rows.iter().zip([1.0, 4.0, 1.0]) {
                    for d in depth.iter().flatten() {
                        depths.least = depths.least.min(*d);
                        depths.most = depths.most.max(*d);
                        depths.reached[1] += weight * length;
                        depths.reached[0] += if *d > 0.0 { weight * length } else { 0.0 };
                    }
                }
                let at = places.map(|p| p[1]);
                (at, rows.map(|r| r.0))
            })
            .collect();
        (Rows { columns }, depths)
    }

    fn outcome(&self, depths: Depths) -> Result<CutOutcome, ProcessError> {
        let path = &self.path;
        let diameter = self.setting.step.step.cuts[self.index].diameter;
        if depths.most <= 0.0 {
            let nothing = Unfit::CutsNothing {
                surface: path.surface,
                diameter,
            };
            return Err(self.refuse(Reason::Input(nothing)));
        }
        Ok(CutOutcome {
            surface: path.surface,
            diameter,
            cleaned_up: depths.reached[0] / depths.reached[1],
            depth_min: depths.least.max(0.0),
            depth_max: depths.most,
            stock_to_clean_up: 2.0 * (-depths.least).max(0.0),
            tool_dip: None,
        })
    }

    /// How far the outline is off the tool's path, largest less smallest over all that it runs over, mm.
    fn out_of_circle(&self, rows: &Rows) -> f64 {
        let path = &self.path;
        let least = self.setting.step.least_measured(path.surface);
        let mut off = Vec::new();
        for (places, radii) in &rows.columns {
            if path.reaches(places[1]) {
                for (z, row) in places.iter().zip(radii) {
                    off.extend(row.iter().map(|r| r - path.radius(*z)));
                }
            }
        }
        range(&off).max(least)
    }

    fn check_wall(&self, part: &TubePart, rows: &Rows, moved: f64) -> Result<(), ProcessError> {
        let surface = self.path.surface;
        let flexing = moved / self.setting.wall();
        let least = THINNEST * self.setting.wall();
        for (places, radii) in &rows.columns {
            for (z, row) in places.iter().zip(radii) {
                let other = part.row(surface.other(), *z, places[1]);
                for (k, (r, o)) in row.iter().zip(&other).enumerate() {
                    let wall = surface.outward() * (r - o);
                    let angle_deg = 360.0 * k as f64 / GRID as f64;
                    // iterations that run away are no geometry
                    if wall <= least && flexing > FLEXES {
                        return Err(NotConverged::FlexesThroughCut {
                            angle_deg,
                            flexing,
                            uneven_stock: false,
                        }
                        .into());
                    }
                    if wall <= least {
                        return Err(self.refuse(Reason::CutThrough {
                            diameter: self.setting.step.step.cuts[self.index].diameter,
                            wall,
                            angle_deg,
                        }));
                    }
                }
            }
        }
        Ok(())
    }

    fn cut_through(&self, part: &TubePart, _: &MeridianFault) -> ProcessError {
        let path = &self.path;
        let other = |z: f64| part.nominal.radius(path.surface.other(), z);
        let walls = path
            .reach
            .map(|z| path.surface.outward() * (path.radius(z) - other(z)));
        self.refuse(Reason::CutThrough {
            diameter: self.setting.step.step.cuts[self.index].diameter,
            wall: walls[0].min(walls[1]),
            angle_deg: 0.0,
        })
    }

    fn refuse(&self, reason: Reason) -> ProcessError {
        reason.at(Place::CutDiameter {
            step: self.setting.step.index,
            cut: self.index,
        })
    }

    fn tell(&self, iteration: usize) -> Result<(), ProcessError> {
        let step = &self.setting.step;
        step.tell(&Progress {
            state: State::Cut {
                cut: self.index + 1,
                cuts: step.step.cuts.len(),
                iteration,
            },
            ..step.start
        })
    }
}

/// All radii of an outline, in order, mm.
fn values(rows: &Rows) -> impl Iterator<Item = f64> + '_ {
    let all = rows.columns.iter().flat_map(|c| c.1.iter().flatten());
    all.copied()
}

fn largest_change(before: &Rows, after: &Rows) -> f64 {
    let off = values(before)
        .zip(values(after))
        .map(|(x, y)| (x - y).abs());
    off.fold(0.0, f64::max)
}
