//! The numbers that the jaws of the best point are made to.
//!
//! They are read off the bodies that the schemes of the hold put against the part, whatever gave them: a key that was free, one that was
//! not, a default.

use super::blank;
use super::pad::Pad;
use super::search::{Search, SizeError, Tried};
use super::sheet::{
    BORED, BoredDocument, DrawingDocument, GROUND, GapDocument, MadeDocument, PreloadDocument, made,
};
use crate::case::{Case, HoldMember};
use crate::geometry::Surface;
use crate::process::Outcome;
use crate::report::units::MM_PER_INCH;
use crate::scheme::{Body, Drive, Face, Push, Section, Supports, Value, ask};

/// Forces of steps count as the same to within this share.
const SAME_FORCE: f64 = 0.01;

/// The first step of a case that takes a hold, and the section as it grips it.
pub(super) fn gripped(case: &Case, hold: &str) -> Option<(usize, Section)> {
    let first = case.steps.iter().position(|s| s.hold == hold)?;
    Some((first, case.section_at(first)))
}

/// The bodies of a hold in the first step that takes it.
fn bodies(case: &Case, hold: &str) -> Option<Vec<(Body, f64)>> {
    let (_, section) = gripped(case, hold)?;
    let mut all = Vec::new();
    for member in &case.hold(hold)?.members {
        let supports = ask(&*member.scheme, &section, &member.values).ok()?;
        let pressed = pressed(&supports, &section);
        let radius = |b: &Body| pressed.radius(b.surface);
        all.extend(supports.bodies.iter().map(|b| (*b, radius(b))));
    }
    Some(all)
}

/// What the bodies of a scheme press on.
fn pressed(supports: &Supports, section: &Section) -> Section {
    supports
        .sleeve
        .as_ref()
        .map_or(*section, |s| s.seen_by_bodies(section))
}

/// To what steps a free key is set that gives the diameter of bored faces, in its own unit; one entry a key.
pub(super) fn bored_steps(search: &Search, at: &[f64]) -> Vec<Option<f64>> {
    let none = search.none_off();
    let faces = |at: &[f64]| {
        let case = search.case(at, &none).ok()?;
        bodies(&case, &search.task.hold)
    };
    let here = faces(at);
    let step = |k: usize| {
        let free = &search.task.free[k];
        let h = 1e-6 * (free.bounds[1] - free.bounds[0]);
        let mut moved = at.to_vec();
        moved[k] += if moved[k] + h > free.bounds[1] { -h } else { h };
        let (here, there) = (here.as_ref()?, faces(&moved)?);
        let slope = here.iter().zip(&there).find_map(|((a, gripped), (b, _))| {
            let bored = Pad::of(a, *gripped).is_some_and(|p| p.is_bored());
            let change = 2.0 * (b.face.radius()? - a.face.radius()?) / (moved[k] - at[k]);
            (bored && change.abs() > 1e-3).then_some(change)
        })?;
        let is = |unit: f64| (slope / unit - 1.0).abs() < 1e-3;
        match () {
            () if is(1.0) => Some(BORED[0]),
            () if is(MM_PER_INCH) => Some(BORED[1]),
            () => None,
        }
    };
    let steps = (0..at.len()).map(|k| {
        if search.task.free[k].whole {
            None
        } else {
            step(k)
        }
    });
    steps.collect()
}

/// The jaws of a point that meets every limit.
///
/// # Errors
/// As [`Search::used`].
pub(super) fn drawn(search: &Search, best: &Tried) -> Result<Vec<DrawingDocument>, SizeError> {
    let hold = &search.task.hold;
    let none = search.none_off();
    let Ok(case) = search.case(&best.at, &none) else {
        return Ok(Vec::new());
    };
    let (Ok(outcome), Some((first, section)), Some(members)) = (
        search.outcome(&case)?,
        gripped(&case, hold),
        case.hold(hold).map(|h| &h.members),
    ) else {
        return Ok(Vec::new());
    };
    let mut all: Vec<DrawingDocument> = Vec::new();
    let mut before = 0;
    for (m, member) in members.iter().enumerate() {
        let Ok(supports) = ask(&*member.scheme, &section, &member.values) else {
            continue;
        };
        let jaws = Jaws {
            search,
            best,
            case: &case,
            outcome: &outcome,
            first,
            member: (m, member),
            section: &section,
            supports: &supports,
            before,
        };
        for numbers in alike(&supports.bodies) {
            let mut drawing = jaws.drawing(&numbers)?;
            let known = all.iter().find(|d| d.surface == drawing.surface);
            drawing.blank = match known {
                Some(known) => known.blank.clone(),
                None => blank::borne(search, &best.at, &case, drawing.surface)?,
            };
            all.push(drawing);
        }
        before += supports.faces().len();
    }
    Ok(all)
}

/// Bodies of one make, by their places in the list.
fn alike(bodies: &[Body]) -> Vec<Vec<usize>> {
    let same = |a: &Body, b: &Body| {
        let of = |x: &Body| Body { angle: 0.0, ..*x };
        of(a) == of(b)
    };
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for (k, body) in bodies.iter().enumerate() {
        match groups.iter_mut().find(|g| same(&bodies[g[0]], body)) {
            Some(group) => group.push(k),
            None => groups.push(vec![k]),
        }
    }
    groups
}

/// One scheme of the hold at the best point.
struct Jaws<'a> {
    search: &'a Search<'a>,
    best: &'a Tried,
    case: &'a Case,
    outcome: &'a Outcome,
    /// The first step that takes the hold.
    first: usize,
    member: (usize, &'a HoldMember),
    section: &'a Section,
    supports: &'a Supports,
    /// Faces of the hold before those of this scheme.
    before: usize,
}

impl Jaws<'_> {
    /// The drawing of some of its bodies that are alike, without the blank.
    fn drawing(&self, numbers: &[usize]) -> Result<DrawingDocument, SizeError> {
        let body = &self.supports.bodies[numbers[0]];
        let radius = pressed(self.supports, self.section).radius(body.surface);
        let pad = Pad::of(body, radius);
        let bored = pad.is_some_and(|p| p.is_bored());
        let shape = match (body.is_full_circle(), bored, body.face) {
            (true, ..) => "circle",
            (_, true, _) if body.surface == Surface::Outer => "bored",
            (_, true, _) => "turned",
            (.., Face::Flat) => "flat",
            // an arc so wide that it has no width across curves with the part
            (.., Face::Concave { .. }) => "bored",
            (.., Face::Convex { .. }) => "crowned",
        };
        let angle = |k: &usize| {
            let degrees = self.supports.bodies[*k]
                .angle
                .to_degrees()
                .rem_euclid(360.0);
            // neither 119.99999999999999 nor 360
            made(degrees, 1e-9).rem_euclid(360.0)
        };
        let preload = (shape == "bored" || shape == "turned").then(|| PreloadDocument {
            direction: match body.surface {
                Surface::Outer => "closing",
                Surface::Bore => "opening",
            },
            force: self.force(numbers, self.last()),
        });
        Ok(DrawingDocument {
            scheme: self.member.1.scheme.name().to_owned(),
            called: self.member.1.scheme.body_name().to_owned(),
            numbers: numbers.iter().map(|k| k + 1).collect(),
            surface: body.surface,
            gripped_diameter: 2.0 * radius,
            shape,
            face: self.face(numbers[0], shape == "circle")?,
            width: pad.map(|p| MadeDocument::milled(p.widths()[0])),
            arc: 2.0 * body.half_angle.to_degrees(),
            relief_width: pad
                .map(|p| p.widths()[1])
                .filter(|w| *w > 0.0)
                .map(MadeDocument::milled),
            angles: numbers.iter().map(angle).collect(),
            gaps: pad.map_or_else(Vec::new, |p| self.gaps(numbers, &p)),
            stands_off: self.stands_off(numbers).filter(|_| shape != "circle"),
            says: self.says(numbers, preload.is_some()),
            preload,
            blank: None,
        })
    }

    /// The last step that takes the hold.
    fn last(&self) -> usize {
        let steps = &self.case.steps;
        let takes = |k: &usize| steps[*k].hold == self.search.task.hold;
        (0..steps.len()).rev().find(takes).unwrap_or(self.first)
    }

    /// The mean force of some bodies in a step, N.
    fn force(&self, numbers: &[usize], step: usize) -> f64 {
        let contacts = self.outcome.steps.get(step).map(|s| &s.held.contacts);
        let force = |k: &usize| Some(contacts?.get(self.before + k)?.force);
        let forces: Vec<f64> = numbers.iter().filter_map(force).collect();
        forces.iter().sum::<f64>() / forces.len().max(1) as f64
    }

    /// How far bodies that stand at places of their own are from first touch, mm.
    fn stands_off(&self, numbers: &[usize]) -> Option<Vec<f64>> {
        let Drive::Each(pushes) = &self.supports.drive else {
            return None;
        };
        let gap = |k: &usize| match pushes.get(*k)? {
            Push::Gap(gap) => Some(*gap),
            Push::Force(_) => None,
        };
        numbers.iter().map(gap).collect()
    }

    /// The round face of a body, and whether its rounded diameters still meet every limit.
    fn face(&self, number: usize, circle: bool) -> Result<Option<BoredDocument>, SizeError> {
        let Some(radius) = self.supports.bodies[number].face.radius() else {
            return Ok(None);
        };
        let diameter = 2.0 * radius;
        let [mm, inch] = if circle { GROUND } else { BORED };
        let (diameter_mm, diameter_inch) = (made(diameter, mm), made(diameter / MM_PER_INCH, inch));
        let governed = self.governed(number);
        let meets = |made: f64| -> Result<Option<bool>, SizeError> {
            if (made - diameter).abs() < 1e-9 {
                return Ok(Some(true));
            }
            let Some((key, value, slope)) = &governed else {
                return Ok(None);
            };
            let value = value + 0.5 * (made - diameter) / slope;
            let with = |case: &mut Case| {
                let hold = case
                    .holds
                    .iter_mut()
                    .find(|h| h.name == self.search.task.hold);
                if let Some(member) = hold.and_then(|h| h.members.get_mut(self.member.0)) {
                    member.values.set(key, Value::Number(value));
                }
            };
            self.search.meets_with(&self.best.at, &with).map(Some)
        };
        Ok(Some(BoredDocument {
            diameter,
            diameter_mm,
            diameter_inch,
            radius_mm: 0.5 * diameter_mm,
            radius_inch: 0.5 * diameter_inch,
            mm_meets: meets(diameter_mm)?,
            inch_meets: meets(MM_PER_INCH * diameter_inch)?,
        }))
    }

    /// The parameter that gives the radius of a body's face: its key, its value, and the change of the radius with it.
    fn governed(&self, number: usize) -> Option<(String, f64, f64)> {
        let member = self.member.1;
        let body = self.supports.bodies[number];
        member.values.iter().find_map(|(key, value)| {
            let Value::Number(x) = *value else {
                return None;
            };
            let h = 1e-6 * x.abs().max(1.0);
            let mut values = member.values.clone();
            values.set(key, Value::Number(x + h));
            let moved = ask(&*member.scheme, self.section, &values).ok()?;
            let other = moved.bodies.get(number)?;
            let slope = (other.face.radius()? - body.face.radius()?) / h;
            // what else it changes, as the width of a crown that is given by its radius, comes along
            (slope > 0.1).then(|| (key.to_owned(), x, slope))
        })
    }

    /// Between each body and the next.
    fn gaps(&self, numbers: &[usize], pad: &Pad) -> Vec<GapDocument> {
        // a gap to another kind of jaw has no drawing of its own
        if numbers.len() < 2 || numbers.len() < self.supports.bodies.len() {
            return Vec::new();
        }
        let turn = |k: usize| {
            self.supports.bodies[k]
                .angle
                .rem_euclid(std::f64::consts::TAU)
        };
        let mut order = numbers.to_vec();
        order.sort_by(|a, b| turn(*a).total_cmp(&turn(*b)));
        let next = order.iter().cycle().skip(1);
        let between = |a: usize, b: usize, stands: f64| {
            let here = pad.corners(turn(a), stands)[1];
            let there = pad.corners(turn(b), stands)[0];
            let across = (there[0] - here[0]).hypot(there[1] - here[1]);
            let arc = there[1].atan2(there[0]) - here[1].atan2(here[0]);
            (across, arc.to_degrees().rem_euclid(360.0))
        };
        let gaps = order.iter().zip(next).map(|(&a, &b)| {
            let (closed, degrees) = between(a, b, pad.stands());
            GapDocument {
                between: [a + 1, b + 1],
                degrees,
                closed: MadeDocument::milled(closed),
                bored: pad
                    .is_bored()
                    .then(|| MadeDocument::milled(between(a, b, 0.0).0)),
            }
        });
        gaps.collect()
    }

    /// What has to be known beside the numbers of some bodies.
    fn says(&self, numbers: &[usize], bored: bool) -> Vec<String> {
        let body = &self.supports.bodies[numbers[0]];
        let mut all = Vec::new();
        if let Some(layer) = &body.layer {
            all.push(format!(
                "The face is that of a soft lining of {} mm, as the case has it, and not of the metal under it.",
                layer.thickness
            ));
        }
        if self.supports.sleeve.is_some() {
            all.push("These press on a sleeve, which has no drawing here.".to_owned());
        }
        let hold = &self.search.task.hold;
        let later = (self.first..self.case.steps.len())
            .filter(|&k| self.case.steps[k].hold == *hold && k != self.first);
        let last = self.force(numbers, self.last());
        for k in later {
            let section = self.case.section_at(k);
            let [now, then] = [self.section, &section].map(|s| 2.0 * s.radius(body.surface));
            if (now - then).abs() > 1e-9 {
                all.push(format!(
                    "Step {} grips {then} mm, which was cut by then: width and gaps are those of step {}, at {now} mm.",
                    k + 1,
                    self.first + 1
                ));
            }
        }
        let steps = self.first..self.last();
        for k in steps.filter(|&k| self.case.steps[k].hold == *hold) {
            let own = self.force(numbers, k);
            if bored && (own - last).abs() > SAME_FORCE * last {
                all.push(format!(
                    "Step {} holds with {own:.0} N each: bored for the last step, they give by another amount there.",
                    k + 1
                ));
            }
        }
        all
    }
}
